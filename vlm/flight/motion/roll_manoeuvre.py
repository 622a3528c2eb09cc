"""A roll command flown: the tips' travel by the file's own drive, and the craft along it."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from vlm.description.actuator import Actuator
from vlm.description.folds import FoldAngles
from vlm.errors import ComputationFailed
from vlm.flight.craft.folding_craft import FoldingCraft
from vlm.flight.craft.level import LevelFlight, level_flight
from vlm.flight.mechanism.fold_path import FoldPath, Load, fold_path
from vlm.flight.mechanism.hinge_moments import most_against, servo_dampings, servo_loads
from vlm.flight.motion.passage import Passage
from vlm.flight.motion.roll_authority import TOO_SLOW, Air
from vlm.sides import Side

SAMPLES = 13


@dataclass(frozen=True)
class Manoeuvre:
    """A command and what was passed on the way.

    Attributes
    ----------
    start, end : commanded folds
    path : folds against time
    passages : the craft at instants of the path
    """

    start: FoldAngles
    end: FoldAngles
    path: FoldPath
    passages: tuple[Passage, ...]


def _flown(craft: FoldingCraft, folds: FoldAngles, air: Air) -> LevelFlight:
    flight = level_flight(craft.at(folds), air.airspeed, air.density)
    if flight is None:
        raise ComputationFailed(
            f"fold {folds.left_deg:g}, {folds.right_deg:g} degrees at {air.airspeed:g} m/s:"
            f" {TOO_SLOW}"
        )
    return flight


def _radians(folds: FoldAngles) -> dict[Side, float]:
    return {
        Side.PORT: float(np.radians(folds.left_deg)),
        Side.STARBOARD: float(np.radians(folds.right_deg)),
    }


def _loads_on_the_way(
    craft: FoldingCraft, start: FoldAngles, end: FoldAngles, air: Air, serves: str
) -> tuple[Mapping[Side, Load], Mapping[Side, Load]]:
    """Moment on each side's servo against its fold, both sides moving together, and damping.

    Where every tip has its own servo, a side is as slow as the one with most against it.
    """
    shares = np.linspace(0.0, 1.0, SAMPLES // 2 + 1)
    left = start.left_deg + shares * (end.left_deg - start.left_deg)
    right = start.right_deg + shares * (end.right_deg - start.right_deg)
    senses = {
        Side.PORT: end.left_deg - start.left_deg,
        Side.STARBOARD: end.right_deg - start.right_deg,
    }
    found: dict[Side, list[float]] = {side: [] for side in Side}
    damping: dict[Side, list[float]] = {side: [] for side in Side}
    for pair in zip(left, right, strict=True):
        folds = FoldAngles(float(pair[0]), float(pair[1]))
        flight = _flown(craft, folds, air)
        moments = servo_loads(craft.at(folds), flight, serves)
        for side, resist in servo_dampings(craft.at(folds), flight, serves).items():
            damping[side].append(max(resist))
        for side, each in moments.items():
            found[side].append(most_against(each, senses[side]))

    def law(folds_deg: np.ndarray, moments: list[float]) -> Load:
        order = np.argsort(folds_deg)
        at, values = np.radians(folds_deg[order]), np.array(moments)[order]
        return lambda fold: float(np.interp(fold, at, values))

    return (
        {side: law(folds, found[side]) for side, folds in zip(Side, (left, right), strict=True)},
        {side: law(folds, damping[side]) for side, folds in zip(Side, (left, right), strict=True)},
    )


def manoeuvre(
    craft: FoldingCraft, actuator: Actuator, start: FoldAngles, end: FoldAngles, air: Air
) -> Manoeuvre:
    """Fold from one setting to another, as fast as the drive does with its highest friction.

    Raises
    ------
    ComputationFailed : a servo stalls on the way, or the wings cannot carry the craft
    InputRefused : a fold beyond its limits, or surfaces cross on the way
    """
    loads, damping = _loads_on_the_way(craft, start, end, air, actuator.serves)
    ends = _radians(start), _radians(end)
    path = fold_path(actuator, *ends, loads, actuator.friction[1], damping)
    if path is None:
        raise ComputationFailed(
            f"the servo stalls between fold {start.left_deg:g}, {start.right_deg:g} and"
            f" {end.left_deg:g}, {end.right_deg:g} degrees at {air.airspeed:g} m/s"
        )
    times = np.unique(
        np.append(np.linspace(0.0, path.duration, SAMPLES), list(path.stops.values()))
    )
    passages = []
    for time in times:
        folds = FoldAngles(*(float(np.degrees(path.fold(side, time))) for side in Side))
        passages.append(Passage(float(time), craft.at(folds), _flown(craft, folds, air)))
    return Manoeuvre(start, end, path, tuple(passages))
