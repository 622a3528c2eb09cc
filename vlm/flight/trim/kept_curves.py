"""Power curves as plain arrays, and back: what a stopped study is taken up from.

A trim is kept as its unknowns. Taken up, it is solved again from them, which takes one evaluation
instead of the way there, so that every number is that of the trim and not of the file.
"""

from typing import Protocol

import numpy as np

from vlm.constants import Floats
from vlm.flight.trim.continuation import PathPoint
from vlm.flight.trim.power_curve import NO_BALANCE, PowerCurve, PowerPoint
from vlm.flight.trim.trim import TrimProblem, trimmed
from vlm.flight.trim.trim_measures import limits_in_words, measured

Arrays = dict[str, Floats]
BRANCH = "branch"


class CurveKeeper(Protocol):
    """Where curves are kept, by name."""

    def load(self, name: str) -> Arrays | None:
        """Arrays kept under a name; None where there are none."""

    def keep(self, name: str, arrays: Arrays) -> None:
        """Keep arrays under a name."""


def arrays_of(curve: PowerCurve) -> Arrays:
    """A curve as arrays: speeds, unknowns, offsets of strips, numbers of trims, branches."""
    width = curve.problem.unknowns
    strips = curve.problem.craft.model.strips.count
    found: Arrays = {
        "speeds": curve.speeds,
        "counts": np.array([float(point.trims) for point in curve.points]),
        "unknowns": np.full((len(curve.points), width), np.nan),
        "offsets": np.full((len(curve.points), strips), np.nan),
    }
    for index, point in enumerate(curve.points):
        if point.trim is not None:
            found["unknowns"][index] = point.trim.unknown
            found["offsets"][index] = point.trim.loads.coupled.offset[0]
    for index, branch in enumerate(curve.branches):
        rows = [np.concatenate([[p.speed], p.unknown, p.offset[0]]) for p in branch]
        found[f"{BRANCH} {index}"] = np.array(rows)
    return found


def points_of(problem: TrimProblem, climb_angle: float, kept: Arrays) -> tuple[PowerPoint, ...]:
    """The points of a kept curve, each solved again from where it ended."""
    points = []
    for index, speed in enumerate(kept["speeds"]):
        count, unknown = int(kept["counts"][index]), kept["unknowns"][index]
        if np.isnan(unknown).any():
            points.append(PowerPoint(float(speed), None, None, count, NO_BALANCE))
            continue
        trim = trimmed(problem, float(speed), climb_angle, unknown, kept["offsets"][index][None])
        numbers = measured(problem, trim)
        words = limits_in_words(numbers.margins)
        points.append(PowerPoint(float(speed), trim, numbers, count, words))
    return tuple(points)


def branches_of(problem: TrimProblem, kept: Arrays) -> tuple[tuple[PathPoint, ...], ...]:
    """The branches of a kept curve."""
    width = problem.unknowns
    branches: list[tuple[PathPoint, ...]] = []
    while (name := f"{BRANCH} {len(branches)}") in kept:
        rows = kept[name]
        branches.append(
            tuple(PathPoint(float(r[0]), r[1 : 1 + width], r[None, 1 + width :]) for r in rows)
        )
    return tuple(branches)
