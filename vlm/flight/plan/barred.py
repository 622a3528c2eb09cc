"""What stands between the best folds of neighbouring airspeeds: folds that are not allowed.

A schedule of straight pieces cannot follow best folds to both sides of them.
"""

from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from vlm.constants import Floats
from vlm.flight.plan.constraints import TOUCH
from vlm.flight.plan.fold_row import STEP_DEG
from vlm.flight.plan.fold_search import FoldTable
from vlm.flight.plan.schedule import SchedulePoint


def barred_between(
    table: FoldTable, ideal: Sequence[SchedulePoint]
) -> dict[str, list[tuple[float, float]]]:
    """Constraints that some fold between two best ones keeps at neither of their airspeeds.

    Returns
    -------
    Pairs of neighbouring airspeeds, by constraint [m/s].
    """
    found: dict[str, list[tuple[float, float]]] = {}
    for one, two in pairwise(ideal):
        if one.setting is None or two.setting is None:
            continue
        folds = _folds_between(table, one.fold_deg, two.fold_deg)
        first, second = (table.reading(point.speed, folds).margins for point in (one, two))
        for name in [key for key in first if key in second]:
            margin = np.maximum(first[name], second[name])
            if (margin[np.isfinite(margin)] < -TOUCH).any():
                found.setdefault(name, []).append((one.speed, two.speed))
    return found


def middles(one: float, two: float, ranges: Sequence[tuple[float, float]]) -> list[float]:
    """The middle of what lies between two folds of each range; none of one beside them [deg]."""
    low, high = min(one, two), max(one, two)
    inside = [(max(low, start), min(high, end)) for start, end in ranges]
    return [0.5 * (start + end) for start, end in inside if start < end]


def _folds_between(table: FoldTable, one: float, two: float) -> Floats:
    """Folds of a way, the middle of what it has of every forbidden range among them [deg]."""
    low, high = min(one, two), max(one, two)
    parts = middles(low, high, table.constraints.schedule.forbidden_deg)
    evenly = np.linspace(low, high, 2 + int((high - low) / STEP_DEG))
    return np.unique(np.concatenate([evenly, parts]))
