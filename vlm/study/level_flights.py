"""Level flight at a fold setting, as studies ask for it and tell it."""

from typing import Any

import numpy as np

from vlm.description.folds import FoldAngles
from vlm.description.models import Biplane
from vlm.errors import ComputationFailed
from vlm.flight.craft.folded_craft import FoldedCraft, FoldingCraft
from vlm.flight.craft.level import LevelFlight, level_flight
from vlm.flight.motion.roll_authority import Air
from vlm.study.roll_results import LevelDocument

FASTER = (1.05, 1.1, 1.2, 1.35, 1.5, 1.75, 2.0, 2.5, 3.0, 4.0)
"""Airspeeds tried where one is too low, over that one [1]."""


def drag_area(craft: Biplane) -> float:
    """Sum of the file's drag areas along x [m^2]."""
    return sum(part.area_m2 for part in craft.all_drag_areas)


def flown(craft: FoldingCraft, folds: FoldAngles, air: Air) -> LevelFlight:
    """Level flight at a setting.

    Raises
    ------
    ComputationFailed : the wings cannot carry the craft
    """
    flight = level_flight(craft.at(folds), air.airspeed, air.density)
    if flight is None:
        raise ComputationFailed(
            f"--airspeed = {air.airspeed:g} m/s: the wings cannot carry the craft with its tips at"
            f" {folds.left_deg:g} (port) and {folds.right_deg:g} deg;"
            f" {_fast_enough(craft.at(folds), air)}"
        )
    return flight


def _fast_enough(craft: FoldedCraft, air: Air) -> str:
    """What to ask for instead of an airspeed at which the wings cannot carry the craft."""
    for factor in FASTER:
        speed = float(f"{factor * air.airspeed:.3g}")
        if level_flight(craft, speed, air.density) is not None:
            return f"at {speed:g} m/s they can"
    return "ask for a higher airspeed"


def flight_document(craft: Any, flight: LevelFlight) -> LevelDocument:
    """Trim, masses and what the rotors hold in level flight."""
    inertia = craft.masses.inertia
    return {
        "airspeed_m_s": flight.airspeed,
        "modelling": str(flight.modelling),
        "load_factor": flight.load_factor,
        "alpha_deg": float(np.degrees(flight.alpha)),
        "lift_N": flight.lift,
        "thrust_N": flight.thrust,
        "stall_margin_deg": float(np.degrees(flight.stall_margin)),
        "rolling_moment_body_N_m": float(flight.wrench[3]),
        "pitching_moment_N_m": float(flight.wrench[4]),
        "yawing_moment_body_N_m": float(flight.wrench[5]),
        "mass_kg": craft.masses.mass,
        "centre_of_gravity_m": [float(v) for v in craft.masses.centre],
        "inertia_body_kg_m2": [[float(v) for v in row] for row in inertia],
    }
