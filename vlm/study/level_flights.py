"""Level flight at a fold setting, as studies ask for it and tell it."""

from collections.abc import Mapping
from typing import Any, TypedDict

import numpy as np

from vlm.description.folds import FoldAngles
from vlm.errors import ComputationFailed
from vlm.findings import Finding
from vlm.flight.craft.folded_craft import FoldedCraft
from vlm.flight.craft.folding_craft import FoldingCraft
from vlm.flight.craft.level import (
    LevelFlight,
    airspeed_to_ask_for,
    carrying_airspeed,
    level_flight,
)
from vlm.flight.motion.roll_authority import Air


class LevelDocument(TypedDict):
    """Level flight at one setting: the trimmed state at a level of modelling.

    Attributes
    ----------
    thrust_N : that holds the drag along the flight path [N]
    rolling_moment_body_N_m, pitching_moment_N_m, yawing_moment_body_N_m : that control must hold
    centre_of_gravity_m : geometry axes [m]
    inertia_body_kg_m2 : rows of the tensor, body axes
    """

    airspeed_m_s: float
    modelling: str
    load_factor: float
    alpha_deg: float
    lift_N: float
    thrust_N: float
    stall_margin_deg: float
    rolling_moment_body_N_m: float
    pitching_moment_N_m: float
    yawing_moment_body_N_m: float
    mass_kg: float
    centre_of_gravity_m: list[float]
    inertia_body_kg_m2: list[list[float]]


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
            f" {airspeed_to_ask_for(craft.at(folds), air.airspeed, air.density)}"
        )
    return flight


def too_slow_findings(slow: Mapping[str, FoldedCraft], air: Air) -> list[Finding]:
    """The warning that settings have no level flight, with an airspeed that all of them have.

    Parameters
    ----------
    slow : by setting, in words, the craft that the wings cannot carry at this airspeed
    """
    if not slow:
        return []
    speeds = [carrying_airspeed(craft, air.airspeed, air.density) for craft in slow.values()]
    known = [speed for speed in speeds if speed is not None]
    enough = max(known) if len(known) == len(speeds) else None
    remedy = f"ask for --airspeed {enough:g}" if enough is not None else (
        "ask for a higher --airspeed; which is enough is not known"
    )  # fmt: skip
    return [
        Finding(
            "too_slow",
            f"the wings cannot carry the craft: {', '.join(slow)}; airspeed",
            air.airspeed,
            enough,
            "m/s",
            "level flight",
            remedy,
        )
    ]


def stalled_findings(margins_deg: Mapping[str, float | None]) -> list[Finding]:
    """The warning that level flight has strips past their stall; none where it has none.

    Parameters
    ----------
    margins_deg : by setting, in words, angle left to stall in the strip nearest to it; None where
        it is not known
    """
    past = {name: m for name, m in margins_deg.items() if m is not None and m < 0.0}
    if not past:
        return []
    return [
        Finding(
            "level_flight_stalled",
            f"level flight with strips past their stall: {', '.join(past)}; the farthest past it",
            -min(past.values()),
            None,
            "deg",
            "the file's sections",
            "fly faster, or fold less; forces past stall are those of a model, hardly measured",
        )
    ]


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
