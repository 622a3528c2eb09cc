"""Power against airspeed of one fold setting: the trim at every speed, or why there is none."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from vlm.constants import Floats
from vlm.errors import ComputationFailed
from vlm.flight.trim.continuation import PathPoint, crossings, followed
from vlm.flight.trim.powered import PoweredCraft
from vlm.flight.trim.trim import Trim, TrimProblem, trim_problem, trimmed
from vlm.flight.trim.trim_measures import TrimMeasures, limits_in_words, measured

BEYOND = 1.05
SLOW = 0.5
"""Where a branch from hover is taken up that turns at once, in a descent [m/s]."""
STALL_KNOWN_DEG = 12.0
"""Angle of attack beyond which only a section tells whether a wing is stalled (common practice:
sections of electric craft stall at 12 to 16 degrees) [deg]."""
SAME_TRIM = 1e-3
NO_BALANCE = "no body angle and thrust balance the craft"


@dataclass(frozen=True)
class PowerPoint:
    """One speed of a power curve.

    Attributes
    ----------
    speed : [m/s]
    trim : the trim of least power, those within all limits before others; None without any
    measures : its numbers; None without a trim
    trims : how many trims there are at this speed
    limit : the limits that forbid it, in words; empty where it may be flown
    """

    speed: float
    trim: Trim | None
    measures: TrimMeasures | None
    trims: int
    limit: str

    @property
    def is_allowed(self) -> bool:
        """Whether there is a trim within all limits."""
        return self.trim is not None and not self.limit

    def value(self, key: str) -> float:
        """One number by its key; NaN without a trim."""
        return float("nan") if self.measures is None else self.measures.values[key]

    @property
    def margin(self) -> float:
        """Distance to the nearest limit, negative beyond it; NaN without a trim [1]."""
        return float("nan") if self.measures is None else self.measures.least_margin


@dataclass(frozen=True)
class PowerCurve:
    """Power of one fold setting against airspeed.

    Attributes
    ----------
    problem : the craft and its balances
    climb_angle : [rad]
    branches : the branches of trims that were followed
    points : one a speed
    """

    problem: TrimProblem
    climb_angle: float
    branches: tuple[tuple[PathPoint, ...], ...]
    points: tuple[PowerPoint, ...]

    @property
    def speeds(self) -> Floats:
        """Airspeeds, shape (speeds,) [m/s]."""
        return np.array([point.speed for point in self.points])

    def values(self, key: str) -> Floats:
        """One quantity at every speed, NaN where there is no trim, shape (speeds,)."""
        return np.array([point.value(key) for point in self.points])

    @cached_property
    def allowed(self) -> NDArray[np.bool_]:
        """Where the craft may be flown, shape (speeds,)."""
        return np.array([point.is_allowed for point in self.points])

    def is_stall_known(self, point: PowerPoint) -> bool:
        """Whether a trim's wings are known to be stalled or not: in hover nothing is asked."""
        if self.problem.craft.model.tells_stall or point.speed == 0.0:
            return True
        return not abs(point.value("alpha_deg")) > STALL_KNOWN_DEG

    @cached_property
    def stall_known(self) -> NDArray[np.bool_]:
        """:meth:`is_stall_known` at every speed, shape (speeds,)."""
        return np.array([self.is_stall_known(point) for point in self.points])

    @cached_property
    def decided(self) -> NDArray[np.bool_]:
        """Where the craft may be flown, as far as is known, shape (speeds,)."""
        return self.allowed & self.stall_known

    def at(self, speed: float) -> PowerPoint:
        """The trim at any speed, solved again from the branches."""
        return chosen_point(self.problem, self.branches, speed, self.climb_angle)


def power_curve(
    craft: PoweredCraft,
    speeds: Sequence[float] | Floats,
    *,
    climb_angle: float = 0.0,
    report: Callable[[int, int], None] | None = None,
) -> PowerCurve:
    """Trim a craft at every speed.

    The branch of trims is followed from hover up; where it does not lead to the wing-borne trim at
    the highest speed, that one's branch is followed down as well.

    Parameters
    ----------
    speeds : airspeeds, growing, from 0 [m/s]
    climb_angle : of the flight path [rad]
    report : called with the trims done, and all there are

    Raises
    ------
    ComputationFailed : the craft can be trimmed neither in hover nor at the highest speed
    """
    problem = trim_problem(craft)
    fastest = float(np.max(speeds)) * BEYOND + 0.5
    branches = _branches(problem, fastest, climb_angle)
    points = []
    for index, speed in enumerate(speeds):
        points.append(chosen_point(problem, branches, float(speed), climb_angle))
        if report is not None:
            report(index + 1, len(speeds))
    return PowerCurve(problem, climb_angle, branches, tuple(points))


def _branches(
    problem: TrimProblem, fastest: float, climb_angle: float
) -> tuple[tuple[PathPoint, ...], ...]:
    hover = trimmed(problem, 0.0, climb_angle)
    quick = trimmed(problem, fastest, climb_angle)
    found: list[tuple[PathPoint, ...]] = []
    if hover.is_converged:
        found.append(_from_hover(problem, hover, fastest))
    if quick.is_converged and not any(_passes(problem, branch, quick) for branch in found):
        found.append(tuple(followed(problem, quick, 0.0, fastest, upward=False)))
    if not found:
        raise ComputationFailed(
            f"{problem.craft.craft.source_name}: {NO_BALANCE}, neither in hover nor at"
            f" {fastest:.3g} m/s; check masses, rotors and sections"
        )
    return tuple(found)


def _from_hover(problem: TrimProblem, hover: Trim, fastest: float) -> tuple[PathPoint, ...]:
    """The branch from hover up.

    In a descent the air meets the wings from behind as soon as there is any, so that the balance
    jumps there: where the branch turns at once, it is followed from a low speed.
    """
    branch = followed(problem, hover, 0.0, fastest, upward=True)
    if branch[-1].speed < 0.0:
        slow = trimmed(problem, SLOW, hover.climb_angle, hover.unknown)
        if slow.is_converged:
            branch = [branch[0], *followed(problem, slow, 0.0, fastest, upward=True)]
    return tuple(branch)


def _passes(problem: TrimProblem, branch: tuple[PathPoint, ...], trim: Trim) -> bool:
    """Whether a branch runs through a trim."""
    found = crossings(problem, list(branch), trim.speed, trim.climb_angle)
    last = abs(branch[-1].speed - trim.speed) < 3.0
    near = last and abs(branch[-1].unknown[0] - trim.theta) < np.radians(3.0)
    return near or any(abs(other.theta - trim.theta) < SAME_TRIM for other in found)


def chosen_point(
    problem: TrimProblem,
    branches: tuple[tuple[PathPoint, ...], ...],
    speed: float,
    climb_angle: float = 0.0,
) -> PowerPoint:
    """The trim of least power among all at a speed, those within limits before others."""
    found: list[Trim] = []
    for branch in branches:
        for trim in crossings(problem, list(branch), speed, climb_angle):
            if all(abs(trim.theta - other.theta) > SAME_TRIM for other in found):
                found.append(trim)
    if not found:
        return PowerPoint(speed, None, None, 0, NO_BALANCE)
    rated = [(measured(problem, trim), trim) for trim in found]
    measures, trim = min(
        rated, key=lambda pair: (bool(pair[0].limit), pair[0].values["electrical_power_W"])
    )
    return PowerPoint(speed, trim, measures, len(found), limits_in_words(measures.margins))
