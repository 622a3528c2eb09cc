"""Pairs of folds that roll without lift change, and those that roll with the least yaw.

Both are followed outward from the base fold, so that a small roll takes a small swing of the tips:
the pairs without lift change along their own curve from the base, those of least yaw along rays
from it, out to where the roll wanted is first reached.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from vlm.constants import Floats
from vlm.description.folds import FoldAngles
from vlm.errors import FoldspanError
from vlm.flight.craft.crossing import brackets_zero, crossing
from vlm.flight.craft.folding_craft import FoldingCraft
from vlm.flight.craft.level import LevelFlight
from vlm.flight.motion.roll_authority import (
    Air,
    RollMap,
    interpolated,
    lift_at,
    setting_moment,
    setting_point,
)

SHARES = (0.25, 0.5, 0.75, 0.95)
APART_STEP = 2.5
"""Step of the branch without lift change, in half the difference of the folds [deg]."""
MEAN_REACH = 2.5
"""Furthest that the mean fold moves in one step of the branch [deg]."""
RAYS = 144
RAY_STEPS = 60
FURTHER = 4.0 / 3.0
"""Pairs of least yaw swing a tip by at most this multiple of the shortest swing [1]."""
ALONG_EDGE = 1e-9
"""A part of a direction smaller than this is rounding [1]."""


@dataclass(frozen=True)
class RollPair:
    """One pair of folds, solved for itself.

    Attributes
    ----------
    folds : the pair
    travel_deg : furthest swing of a tip from the base [deg]
    values : as :data:`vlm.flight.motion.roll_authority.FIELDS`
    """

    folds: FoldAngles
    travel_deg: float
    values: dict[str, float]


def pure_roll_pairs(craft: FoldingCraft, grid: RollMap, air: Air, count: int = 4) -> list[RollPair]:
    """Pairs whose lift at the base's angle of attack equals the base's, rolling to starboard.

    They lie on the branch that leaves the base, solved directly step by step: with the folds apart
    by 2 d about a mean m, m(d) follows from m(0) = base. They are spread evenly over the rolling
    moments of that branch up to its highest. Empty where no branch leaves the base (as from flat
    tips: up and down both lose lift).
    """
    branch = _branch(craft, grid, air)
    pairs = [pair for pair in (_pair(craft, grid, air, *at) for at in branch) if pair is not None]
    rolling = np.array([pair.values["rolling_moment_N_m"] for pair in pairs])
    if not pairs:
        return []
    top = int(np.argmax(rolling))
    wanted = rolling[top] * np.arange(1, count + 1) / count
    chosen = dict.fromkeys(int(np.argmin(np.abs(rolling[: top + 1] - level))) for level in wanted)
    return [pairs[index] for index in chosen if rolling[index] > 0.0]


def _branch(craft: FoldingCraft, grid: RollMap, air: Air) -> list[tuple[float, float]]:
    """Places (port, starboard) along the branch, the side that rolls to starboard [deg]."""
    low, high = craft.range_deg
    change = _lift_change(craft, grid.base, air)
    found: list[tuple[float, float]] = []
    sense = _sense(craft, grid, air)
    if sense == 0.0:
        return found
    mean, apart = grid.base_deg, 0.0
    while True:
        apart += APART_STEP

        def excess(m: float, d: float = apart) -> float:
            return change(m + sense * d, m - sense * d)

        ends = max(low + apart, mean - MEAN_REACH), min(high - apart, mean + MEAN_REACH)
        if ends[0] >= ends[1]:
            return found
        if not brackets_zero(excess(ends[0]), excess(ends[1])):
            return found
        root = crossing(excess, *ends, 1e-3)
        if root is None:
            return found
        mean = root
        found.append((mean + sense * apart, mean - sense * apart))


def _sense(craft: FoldingCraft, grid: RollMap, air: Air) -> float:
    """+1 where port up and starboard down rolls to starboard near the base, -1 the other way."""
    for apart in (1.0, -1.0):
        folds = FoldAngles(grid.base_deg + apart, grid.base_deg - apart)
        moment = setting_moment(craft, folds, air)
        if np.isfinite(moment):
            return float(np.sign(apart * moment))
    return 0.0


def _lift_change(
    craft: FoldingCraft, base: LevelFlight, air: Air
) -> Callable[[float, float], float]:
    """Lift at the base's angle of attack less the base's; NaN where a pair cannot be built."""

    def change(left: float, right: float) -> float:
        try:
            folded = craft.at(FoldAngles(left, right))
        except FoldspanError:
            return float("nan")
        return lift_at(folded, air, base.alpha) - base.lift

    return change


def least_yaw_pairs(craft: FoldingCraft, grid: RollMap, air: Air) -> list[RollPair]:
    """For shares of the largest rolling moment, the pair that yaws least while rolling so.

    Chosen among the pairs that first reach that moment on a ray from the base, with a swing no
    more than a third longer than the shortest; made exact along the ray.
    """
    field = grid.values["rolling_moment_N_m"]
    if not np.isfinite(field).any():
        return []
    pairs = []
    for share in SHARES:
        level = share * float(np.nanmax(field))
        places = _first_on_rays(grid, level)
        if not places:
            continue
        shortest = min(_travel(grid, *place) for place in places)
        near = [p for p in places if _travel(grid, *p) <= FURTHER * shortest]
        yawing = np.abs(interpolated(grid, "yawing_moment_N_m", *np.array(near).T))
        for index in np.argsort(yawing):
            pair = _on_ray(craft, grid, air, near[int(index)], level)
            if pair is not None:
                pairs.append(pair)
                break
    return pairs


def _travel(grid: RollMap, left: float, right: float) -> float:
    return max(abs(left - grid.base_deg), abs(right - grid.base_deg))


def _first_on_rays(grid: RollMap, level: float) -> list[tuple[float, float]]:
    """Where rays from the base first reach a rolling moment on the map."""
    base = grid.base_deg
    found = []
    for angle in np.linspace(0.0, 2.0 * np.pi, RAYS, endpoint=False):
        direction = np.array([np.cos(angle), np.sin(angle)])
        # Along an edge of the map a ray stays on it.
        direction[np.abs(direction) < ALONG_EDGE] = 0.0
        reach = _reach(grid, direction)
        if reach <= 0.0:
            continue
        steps = np.linspace(0.0, reach, RAY_STEPS + 1)
        along = interpolated(grid, "rolling_moment_N_m", *(base + np.outer(direction, steps)))
        crossing = _first_crossing(steps, along - level)
        if crossing is not None:
            found.append(tuple(float(v) for v in base + crossing * direction))
    return [(left, right) for left, right in found]


def _reach(grid: RollMap, direction: Floats) -> float:
    """How far a ray from the base stays on the map [deg]."""
    reach = np.inf
    for part, folds in zip(direction, (grid.left_deg, grid.right_deg), strict=True):
        if part != 0.0:
            end = folds[-1] if part > 0.0 else folds[0]
            reach = min(reach, (float(end) - grid.base_deg) / part)
    return float(reach * (1.0 - 1e-12))


def _first_crossing(at: Floats, values: Floats) -> float | None:
    """First zero of values that start below it, linear in between."""
    with np.errstate(invalid="ignore"):
        beyond = np.flatnonzero(values >= 0.0)
    if not len(beyond) or beyond[0] == 0:
        return None
    first = int(beyond[0])
    before, after = values[first - 1], values[first]
    if not np.isfinite(before):
        return None
    return float(at[first - 1] + (at[first] - at[first - 1]) * before / (before - after))


def _on_ray(
    craft: FoldingCraft, grid: RollMap, air: Air, place: tuple[float, float], level: float
) -> RollPair | None:
    """The pair on the ray through a place that rolls by exactly the moment wanted."""
    base = grid.base_deg
    away = np.array(place) - base

    def moment(scale: float) -> float:
        folds = FoldAngles(*(float(v) for v in base + scale * away))
        return setting_moment(craft, folds, air) - level

    try:
        for ends in ((0.95, 1.0), (1.0, 1.05), (0.85, 1.0), (1.0, 1.15)):
            if brackets_zero(moment(ends[0]), moment(ends[1])):
                scale = crossing(moment, *ends, 1e-5)
                if scale is None:
                    continue
                left, right = (float(v) for v in base + scale * away)
                return _pair(craft, grid, air, left, right)
    except FoldspanError:
        return None
    return _pair(craft, grid, air, *place)


def _pair(
    craft: FoldingCraft, grid: RollMap, air: Air, left: float, right: float
) -> RollPair | None:
    point = setting_point(craft, FoldAngles(left, right), air, grid.base)
    if isinstance(point, str):
        return None
    return RollPair(FoldAngles(left, right), _travel(grid, left, right), point)
