"""Pairs of folds that roll without lift change, and those that roll with the least yaw."""

from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq

from vlm.description.folds import FoldAngles
from vlm.errors import FoldspanError
from vlm.flight.craft.folded_craft import FoldingCraft
from vlm.flight.craft.level import LevelFlight
from vlm.flight.motion.roll_authority import (
    Air,
    RollMap,
    interpolated,
    level_points,
    lift_at,
    setting_point,
)

SHARES = (0.25, 0.5, 0.75, 0.95)
SAME_SETTING_DEG = 0.5


@dataclass(frozen=True)
class RollPair:
    """One pair of folds, solved for itself.

    Attributes
    ----------
    folds : the pair
    values : as :data:`vlm.flight.motion.roll_authority.FIELDS`
    """

    folds: FoldAngles
    values: dict[str, float]


def pure_roll_pairs(craft: FoldingCraft, grid: RollMap, air: Air, count: int = 4) -> list[RollPair]:
    """Pairs whose lift at the base's angle of attack equals the base's, rolling to starboard.

    They are read from the map's zero line of lift change and made exact by direct solves; spread
    over the rolling moments that can be had so, weakest first. Empty where every roll command
    from this base costs lift (as from flat tips: up and down both lose it).
    """
    places = level_points(grid.values["lift_change_N"], grid.left_deg, grid.right_deg, 0.0)
    rolling = [(interpolated(grid, "rolling_moment_N_m", *place), place) for place in places]
    useful = sorted(
        (moment, place)
        for moment, place in rolling
        if np.isfinite(moment) and moment > 0.0 and abs(place[0] - place[1]) > SAME_SETTING_DEG
    )
    if not useful:
        return []
    wanted = np.linspace(useful[-1][0] / count, useful[-1][0], count)
    moments = np.array([moment for moment, _ in useful])
    chosen = dict.fromkeys(int(np.argmin(np.abs(moments - level))) for level in wanted)
    pairs = []
    for index in chosen:
        folds = _without_lift_change(craft, air, grid.base, useful[index][1])
        pair = None if folds is None else _solved(craft, folds, air, grid.base)
        if pair is not None and pair.values["rolling_moment_N_m"] > 0.0:
            pairs.append(pair)
    return pairs


def _without_lift_change(
    craft: FoldingCraft, air: Air, base: LevelFlight, place: tuple[float, float]
) -> FoldAngles | None:
    """Move the starboard fold until the lift is the base's."""
    left, right = place
    low, high = craft.range_deg

    def change(starboard: float) -> float:
        folded = craft.at(FoldAngles(left, starboard))
        return lift_at(folded, air, base.alpha) - base.lift

    try:
        for reach in (1.0, 3.0, 8.0):
            ends = max(low, right - reach), min(high, right + reach)
            if change(ends[0]) * change(ends[1]) < 0.0:
                return FoldAngles(left, float(brentq(change, *ends, xtol=1e-3)))
    except FoldspanError:
        return None
    return None


def least_yaw_pairs(craft: FoldingCraft, grid: RollMap, air: Air) -> list[RollPair]:
    """For shares of the largest rolling moment, the pair that yaws least while rolling so."""
    field = grid.values["rolling_moment_N_m"]
    if not np.isfinite(field).any():
        return []
    pairs = []
    for share in SHARES:
        level = share * float(np.nanmax(field))
        places = level_points(field, grid.left_deg, grid.right_deg, level)
        yawing = [abs(interpolated(grid, "yawing_moment_N_m", *place)) for place in places]
        known = [(yaw, place) for yaw, place in zip(yawing, places, strict=True) if yaw == yaw]
        if not known:
            continue
        pair = _solved(craft, FoldAngles(*min(known)[1]), air, grid.base)
        if pair is not None:
            pairs.append(pair)
    return pairs


def _solved(craft: FoldingCraft, folds: FoldAngles, air: Air, base: LevelFlight) -> RollPair | None:
    point = setting_point(craft, folds, air, base)
    return None if isinstance(point, str) else RollPair(folds, point)
