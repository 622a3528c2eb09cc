"""Where a craft has several trims at one speed: which it flies from hover, and which from cruise.

A branch of trims that turns back in speed ends there for a craft that changes its speed slowly:
past the turn it must find another trim. Coming from hover it keeps to the branch that begins there
up to the first turn; coming from cruise it keeps to the one that it is on, down to the first turn.
Between the two turns both are there.
"""

from dataclasses import dataclass

import numpy as np

from vlm.constants import Floats
from vlm.flight.trim.continuation import PathPoint, crossings
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
    upward, first = _until_turn(curve.branches[0], rising=True)
    last = curve.branches[-1]
    # The branch from hover runs toward cruise; one of its own for cruise runs down.
    backward = last[::-1] if len(curve.branches) == 1 else last
    downward, end = _until_turn(backward, rising=False)
    if len(curve.branches) == 1 and len(upward) == len(last):
        return None
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
    points: tuple[PathPoint, ...], *, rising: bool
) -> tuple[tuple[PathPoint, ...], float]:
    """Points up to the first turn in speed, and the speed of the turn."""
    speeds = np.array([p.speed for p in points]) * (1.0 if rising else -1.0)
    back = np.flatnonzero(np.diff(speeds) < 0.0)
    if len(back) == 0:
        return points, points[-1].speed
    top = int(back[0])
    kept = points[: top + 1]
    if top == 0:
        return kept, kept[-1].speed
    around = speeds[top - 1 : top + 2]
    return kept, _vertex(points[top - 1 : top + 2], around) * (1.0 if rising else -1.0)


def _vertex(points: tuple[PathPoint, ...], speeds: Floats) -> float:
    """Highest speed of the parabola through three points over the body angle."""
    angles = np.array([p.unknown[0] for p in points])
    if len(points) < 3 or np.any(np.diff(angles) == 0.0):
        return float(speeds.max())
    square, slope, level = np.polyfit(angles - angles[1], speeds, 2)
    if square >= 0.0:
        return float(speeds.max())
    return float(level - 0.25 * slope**2 / square)


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
