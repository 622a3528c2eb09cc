"""Power curves from trims found on their own, with the branch from hover followed where needed.

Following the branch of trims from hover costs more than all the trims that are wanted of it. In a
hover, and where the wings carry the craft well below stall, there is one trim only, and it can be
solved from that of the next speed. Elsewhere, around stall and between hover and wing-borne flight,
a craft may have several; there the branch is followed, once.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from vlm.constants import Floats
from vlm.flight.trim.continuation import PathPoint
from vlm.flight.trim.kept_curves import CurveKeeper, arrays_of, branches_of, points_of
from vlm.flight.trim.power_curve import PowerCurve, PowerPoint, power_curve
from vlm.flight.trim.powered import PoweredCraft
from vlm.flight.trim.trim import TrimProblem, trim_problem, trimmed
from vlm.flight.trim.trim_measures import limits_in_words, measured

ON_WINGS = 0.5
"""Share of the weight on the wings above which a trim counts as wing-borne [1]."""
CLEAR_OF_STALL = 1.0
"""Margin to the stall above which a wing-borne trim counts as the only one [deg]."""

CLOSE = 0.95
"""Share of a known trim's speed down to which others are solved from it [1]."""


@dataclass(frozen=True)
class SpotCurve(PowerCurve):
    """A power curve that follows the branch from hover only when it has to.

    Attributes
    ----------
    keeper, name : where the followed branch is kept, and under which name; None keeps nothing
    """

    keeper: CurveKeeper | None = None
    name: str = ""

    @cached_property
    def _followed(self) -> dict[float, PowerCurve]:
        return {}

    def followed(self, fastest: float) -> PowerCurve:
        """The curve along the branch from hover to a speed, followed once.

        Raises
        ------
        ComputationFailed : the craft can be trimmed neither in hover nor at that speed
        """
        if fastest not in self._followed:
            self._followed[fastest] = self._kept(fastest)
        return self._followed[fastest]

    def _kept(self, fastest: float) -> PowerCurve:
        name = f"{self.name} followed to {fastest:.9g}"
        kept = None if self.keeper is None else self.keeper.load(name)
        if kept is not None:
            points = points_of(self.problem, self.climb_angle, kept)
            branches = branches_of(self.problem, kept)
            return PowerCurve(self.problem, self.climb_angle, branches, points)
        curve = power_curve(self.problem.craft, [fastest], climb_angle=self.climb_angle)
        if self.keeper is not None:
            self.keeper.keep(name, arrays_of(curve))
        return curve

    @cached_property
    def _known(self) -> dict[float, PowerPoint]:
        return {point.speed: point for point in self.points}

    def at(self, speed: float) -> PowerPoint:
        """The trim at any speed, solved once: from the nearest of the curve, or from the branch."""
        if speed not in self._known:
            self._known[speed] = self._solved(speed)
        return self._known[speed]

    def _solved(self, speed: float) -> PowerPoint:
        near = min(self.points, key=lambda point: abs(point.speed - speed))
        found = None
        if near.speed > 0.0 and near.trim is not None and speed > CLOSE * near.speed:
            found = _spot(self.problem, speed, near.trim.unknown, self.climb_angle)
        if found is not None:
            return found
        # Below the slowest known speed but hover the branch is needed more often than above it.
        ends = [point.speed for point in self.points if point.speed > 0.0] or [speed]
        fastest = next((end for end in (ends[0], ends[-1]) if speed <= end), speed)
        return self.followed(fastest).at(speed)


def spot_curve(
    craft: PoweredCraft,
    speeds: Sequence[float] | Floats,
    *,
    keeper: CurveKeeper | None = None,
    name: str = "",
) -> PowerCurve:
    """Trim a craft at every speed, from the highest down; see :func:`power_curve`.

    Parameters
    ----------
    speeds : airspeeds, growing, from 0 [m/s]
    keeper, name : where the finished curve is kept, and under which name; it is taken from there
        if it stands there already

    Raises
    ------
    ComputationFailed : the branch is needed, and the craft can be trimmed neither in hover nor at
        the highest speed
    """
    problem = trim_problem(craft)
    kept = None if keeper is None else keeper.load(name)
    if kept is not None:
        points, branches = points_of(problem, 0.0, kept), branches_of(problem, kept)
    else:
        points, branches = _trimmed_all(problem, [float(speed) for speed in speeds])
    if branches:
        curve = PowerCurve(problem, 0.0, branches, points)
    else:
        curve = SpotCurve(problem, 0.0, (), points, keeper, name)
    if keeper is not None and kept is None:
        keeper.keep(name, arrays_of(curve))
    return curve


def _trimmed_all(
    problem: TrimProblem, speeds: list[float]
) -> tuple[tuple[PowerPoint, ...], tuple[tuple[PathPoint, ...], ...]]:
    """Trims at all speeds, and the branches, if they were needed."""
    known: dict[float, PowerPoint] = {}
    guess: Floats | None = None
    slowest = 0.0
    for speed in reversed(speeds):
        # Once the trims come near stall, slower ones only come nearer; but a hover is one more.
        point = _spot(problem, speed, guess) if speed == 0.0 or not slowest else None
        slowest = slowest or (speed if point is None else 0.0)
        if point is not None and point.trim is not None:
            known[speed], guess = point, point.trim.unknown
    lost = [speed for speed in speeds if speed not in known]
    branches: tuple[tuple[PathPoint, ...], ...] = ()
    if lost:
        followed = power_curve(problem.craft, np.unique([*lost, speeds[-1]]))
        branches = followed.branches
        known |= {point.speed: point for point in followed.points if point.speed in lost}
    return tuple(known[speed] for speed in speeds), branches


def _spot(
    problem: TrimProblem, speed: float, guess: Floats | None, climb_angle: float = 0.0
) -> PowerPoint | None:
    """The only trim at a speed; None where there may be others, or none was found."""
    trim = trimmed(problem, speed, climb_angle, None if speed == 0.0 else guess)
    if not trim.is_converged:
        return None
    numbers = measured(problem, trim)
    values = numbers.values
    clear = values["stall_margin_deg"] > CLEAR_OF_STALL and values["wing_share"] > ON_WINGS
    if speed > 0.0 and not clear:
        return None
    return PowerPoint(speed, trim, numbers, 1, limits_in_words(numbers.margins))
