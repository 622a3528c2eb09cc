"""Where a craft has several trims at one speed: which it flies from hover, and which from cruise.

A branch of trims that turns back in speed ends there for a craft that changes its speed slowly:
past the turn it must find another trim. Coming from hover it keeps to the branch that begins there
up to the first turn; coming from cruise it keeps to the one that it is on, down to the first turn.
Between the two turns both are there.
"""

from dataclasses import dataclass

import numpy as np

from vlm.flight.trim.continuation import PathPoint, crossings, turn_between
from vlm.flight.trim.power_curve import PowerCurve, PowerPoint
from vlm.flight.trim.trim import Trim, trimmed
from vlm.flight.trim.trim_measures import limits_in_words, measured

NEAR = 0.2
"""Share of the speed on either side of the turns within which the branches are drawn [1]."""


@dataclass(frozen=True)
class FlownBranches:
    """Two branches that overlap in speed, or leave a gap.

    Attributes
    ----------
    highest : speed up to which the branch from hover goes [m/s]
    lowest : speed down to which the branch from cruise goes [m/s]
    from_hover, from_cruise : trims on them near the turns, growing in speed
    up : trims before and after the jump at ``highest``; None without one after it
    down : trims before and after the jump at ``lowest``; None without one after it
    """

    highest: float
    lowest: float
    from_hover: tuple[PowerPoint, ...]
    from_cruise: tuple[PowerPoint, ...]
    up: tuple[PowerPoint, PowerPoint] | None
    down: tuple[PowerPoint, PowerPoint] | None


def flown_branches(curve: PowerCurve) -> FlownBranches | None:
    """The branches of a curve; None where one leads from hover to the highest speed by itself."""
    if not curve.branches:
        return None
    upward = _until_turn(curve, curve.branches[0], rising=True)
    last = curve.branches[-1]
    # The branch from hover runs toward cruise; one of its own for cruise runs down.
    backward = last[::-1] if len(curve.branches) == 1 else last
    if len(curve.branches) == 1 and upward is last:
        return None
    downward = _until_turn(curve, backward, rising=False)
    first, end = upward[-1].speed, downward[-1].speed
    slow, fast = (1.0 - NEAR) * min(first, end), (1.0 + NEAR) * max(first, end)
    hover = [p for p in (_at(curve, q) for q in upward if q.speed >= slow) if p is not None]
    cruise = [p for p in (_at(curve, q) for q in downward if q.speed <= fast) if p is not None]
    if not hover or not cruise:
        return None
    hover.sort(key=lambda p: p.speed)
    cruise.sort(key=lambda p: p.speed)
    return FlownBranches(
        first, end, tuple(hover), tuple(cruise),
        _jump(curve, hover[-1], downward, first), _jump(curve, cruise[0], upward, end),
    )  # fmt: skip


def _until_turn(
    curve: PowerCurve, points: tuple[PathPoint, ...], *, rising: bool
) -> tuple[PathPoint, ...]:
    """Points up to the first turn in speed, which is the last of them."""
    sense = 1.0 if rising else -1.0
    back = np.flatnonzero(sense * np.diff([p.speed for p in points]) < 0.0)
    if len(back) == 0:
        return points
    top = int(back[0])
    if top == 0:
        return points[:1]
    around = points[top - 1 : top + 2]
    turn = turn_between(curve.problem, around[0], around[2], curve.climb_angle, rising=rising)
    return (*points[:top], max(turn, around[1], key=lambda point: sense * point.speed))


def _at(curve: PowerCurve, point: PathPoint) -> PowerPoint | None:
    """The trim at a point of a branch."""
    trim = trimmed(curve.problem, point.speed, curve.climb_angle, point.unknown, point.offset)
    return _as_point(curve, trim) if trim.is_converged else None


def _as_point(curve: PowerCurve, trim: Trim) -> PowerPoint:
    numbers = measured(curve.problem, trim)
    return PowerPoint(trim.speed, trim, numbers, 1, limits_in_words(numbers.margins))


def _jump(
    curve: PowerCurve, before: PowerPoint, other: tuple[PathPoint, ...], speed: float
) -> tuple[PowerPoint, PowerPoint] | None:
    found = crossings(curve.problem, list(other), speed, curve.climb_angle)
    return (before, _as_point(curve, found[0])) if found else None
