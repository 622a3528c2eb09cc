"""The plant of a described craft for one task: tables over the folds it passes, drives, rotors."""

from dataclasses import dataclass, replace

import numpy as np

from vlm.constants import GRAVITY, SEA_LEVEL_DENSITY, Floats
from vlm.description.folds import ROUNDING_DEG, FoldAngles
from vlm.description.models import Biplane
from vlm.description.motion import Motion
from vlm.errors import ComputationFailed, InputRefused
from vlm.flight.craft.folding_craft import FoldingCraft
from vlm.flight.craft.level import LevelFlight, airspeed_to_ask_for, level_flight
from vlm.flight.mechanism.hinge_moments import servo_inertias
from vlm.flight.simulation.air_table import AirTable, FoldRange, air_table, closes, fold_range
from vlm.flight.simulation.bodies import bodies_of
from vlm.flight.simulation.drive import SideDrive, side_drive
from vlm.flight.simulation.lag import LAG_GRID, craft_lag
from vlm.flight.simulation.plant import WEIGHT, Plant
from vlm.flight.simulation.rotor_set import RotorSet, rotor_set
from vlm.flight.simulation.section_table import section_table
from vlm.flight.simulation.task import Task
from vlm.frames import GEOMETRY_TO_BODY, wind_direction
from vlm.lattice.cellule import Grid, build_cellule
from vlm.lattice.lattice import resolved
from vlm.progress import Progress, silent
from vlm.sides import Side, on_side
from vlm.unsteady.apparent_mass import apparent_mass

LEAST_BLOWING = 0.02
"""Thrust at which the slipstream is worked out at least, over the weight [1]."""


@dataclass(frozen=True)
class Modelled:
    """How a plant is modelled.

    Attributes
    ----------
    grid : of the lattice
    density : of the air [kg/m^3]
    sections : whether the file's sections act
    lagged : whether loads follow late
    apparent : whether the air that the craft sets in motion counts
    slipstream : whether the rotors blow over the wings, where the file has it so
    friction : of the worm's mesh: 0 lowest, 1 highest expected
    """

    grid: Grid
    density: float = SEA_LEVEL_DENSITY
    sections: bool = True
    lagged: bool = True
    apparent: bool = True
    slipstream: bool = True
    friction: int = 1


def motion_of(craft: Biplane) -> Motion:
    """The file's [motion], or its defaults."""
    return craft.motion or Motion()


def folding_craft(craft: Biplane, modelled: Modelled) -> FoldingCraft:
    """The craft at any fold, with its drag areas.

    Raises
    ------
    InputRefused : no [mass], no [actuator], or no tips
    """
    if craft.actuator is None:
        raise InputRefused(
            f"{craft.source_name}: [actuator] is missing; this needs what folds the tips"
        )
    found = FoldingCraft(craft, modelled.grid, sections=modelled.sections)
    found.range_deg  # noqa: B018  refuses a craft without tips
    return found


def plant_of(
    folding: FoldingCraft, task: Task, modelled: Modelled, progress: Progress = silent
) -> Plant:
    """Everything a task needs.

    Raises
    ------
    InputRefused : a fold beyond its limits, or a block or key that is missing
    ComputationFailed : the wings cannot carry the craft at the start
    """
    craft, settings = folding.craft, motion_of(folding.craft)
    left, right = _ranges(folding, task)
    air = air_table(folding, left, right, progress)
    flight = _level(folding, task, modelled)
    weight = GRAVITY * folding.symmetric_masses.mass
    blowing = np.zeros(0)
    if modelled.slipstream:
        blowing = blowing_thrusts(folding.craft, max(flight.thrust, LEAST_BLOWING * weight))
    sections = section_table(folding, air, task.airspeed, modelled.density, blowing, progress)
    flat = folding.engine.cellule
    reference = folding.at(task.start).loads.reference
    linkages = {body: folding.at(task.start).loads.lattice.fold_rates[body] for body in air.bodies}
    lag = craft_lag(craft, task.start, air.wide) if modelled.lagged else None
    return Plant(
        bodies=bodies_of(folding.symmetric_masses, flat.hinges, linkages, reference.moment_point),
        air=air,
        sections=sections,
        apparent=apparent_masses(folding, air) if modelled.apparent else None,
        lag=lag,
        drives=_drives(folding, task, (left, right), modelled, linkages),
        rotors=rotors_at(folding, task, modelled, reference.moment_point),
        rotor_lag=settings.rotor_time_constant_s,
        density=modelled.density,
        drag_areas=folding.drag.seen_from(reference.moment_point),
        gravity=WEIGHT,
    )


def apparent_masses(folding: FoldingCraft, air: AirTable) -> Floats:
    """Apparent mass at unit density at the settings of an air table, in its motions.

    Returns
    -------
    shape (settings, motions, motions)
    """
    taken = np.eye(air.motions)
    taken[:3, :3] = -GEOMETRY_TO_BODY
    flat, found = build_cellule(folding.craft, LAG_GRID), []
    for port in np.degrees(air.points[0]):
        for starboard in np.degrees(air.points[1]):
            lattice = resolved(flat, folding.craft, FoldAngles(float(port), float(starboard)))
            found.append(taken.T @ apparent_mass(lattice) @ taken)
    return np.array(found)


def _ranges(folding: FoldingCraft, task: Task) -> tuple[FoldRange, FoldRange]:
    limits = folding.range_deg
    folds = [list(limits) if task.frees(side) else task.passed_folds(side) for side in (0, 1)]
    for side in folds:
        for fold in side:
            if not limits[0] - ROUNDING_DEG <= fold <= limits[1] + ROUNDING_DEG:
                raise InputRefused(
                    f"{folding.craft.source_name}: fold {fold:g} deg is beyond what the tips can"
                    f" do, {limits[0]:g} to {limits[1]:g} deg"
                )
    ranges = [fold_range(side, limits) for side in folds]
    if folding.is_symmetric and _alike(ranges):
        low, high = min(r.low for r in ranges), max(r.high for r in ranges)
        ranges = [FoldRange(low, high)] * 2
    return ranges[0], ranges[1]


def _alike(ranges: list[FoldRange]) -> bool:
    """Whether one range for both sides, half of whose settings are mirror images, costs less."""
    counts = [len(r.points()) for r in ranges]
    both = len(FoldRange(min(r.low for r in ranges), max(r.high for r in ranges)).points())
    return both * (both + 1) // 2 <= counts[0] * counts[1]


def _drives(
    folding: FoldingCraft,
    task: Task,
    ranges: tuple[FoldRange, FoldRange],
    modelled: Modelled,
    linkages: dict[str, float],
) -> tuple[SideDrive, SideDrive]:
    """Drives of both sides; stops stand at the file's limits, and where a joint closes."""
    craft, settings = folding.craft, motion_of(folding.craft)
    assert craft.actuator is not None
    own = np.array([linkages[body] for body in on_side(linkages, Side.STARBOARD)])
    drive = side_drive(
        craft.actuator,
        craft.source_name,
        own,
        servo_inertias(folding.at(task.start), "side")[0],
        craft.actuator.friction[modelled.friction],
        (0.0, 0.0),
        float(np.radians(settings.servo_band_deg)),
        settings.hinge_damping_ratio,
    )
    left, right = (replace(drive, limits=_stops(folding, one)) for one in ranges)
    return left, right


def _stops(folding: FoldingCraft, passed: FoldRange) -> tuple[float, float]:
    """Lowest and highest fold that a side can reach [rad]."""
    low, high = folding.range_deg
    low = passed.low if closes(folding, passed.low) else low
    high = passed.high if closes(folding, passed.high) else high
    return float(np.radians(low)), float(np.radians(high))


def rotors_at(
    folding: FoldingCraft, task: Task, modelled: Modelled, moment_point: Floats
) -> RotorSet | None:
    """The rotors in the wind of a task's start.

    Raises
    ------
    ComputationFailed : the wings cannot carry the craft there
    """
    start, flight = folding.at(task.start), _level(folding, task, modelled)
    wind = task.airspeed * np.asarray(wind_direction(flight.alpha, 0.0))
    return rotor_set(
        folding.craft, wind, modelled.density, flight.thrust, -float(flight.wrench[4]),
        start.masses.mass * GRAVITY, start.masses.centre, moment_point,
    )  # fmt: skip


def blowing_thrusts(craft: Biplane, thrust: float) -> Floats:
    """Thrusts at which the slipstream is worked out; none where the file's rotors do not blow.

    Parameters
    ----------
    thrust : of all rotors at the start [N]

    Returns
    -------
    shape (rotors,) [N]
    """
    if not craft.rotors or craft.propulsion is None or not craft.propulsion.slipstream:
        return np.zeros(0)
    most = [rotor.thrust_max_N or np.inf for rotor in craft.rotors]
    return np.minimum(thrust / len(craft.rotors), most)


def _level(folding: FoldingCraft, task: Task, modelled: Modelled) -> LevelFlight:
    craft = folding.at(task.start)
    flight = level_flight(craft, task.airspeed, modelled.density)
    if flight is None:
        raise ComputationFailed(
            f"the wings cannot carry the craft at {task.airspeed:g} m/s with folds"
            f" {task.start.left_deg:g}, {task.start.right_deg:g} deg;"
            f" {airspeed_to_ask_for(craft, task.airspeed, modelled.density)}"
        )
    return flight
