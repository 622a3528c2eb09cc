"""What the best folds save against flat tips, and the interval of it."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from vlm.constants import Floats
from vlm.flight.plan.constraints import Setting
from vlm.flight.plan.fold_search import FoldTable
from vlm.flight.plan.mission_samples import trim_powers
from vlm.flight.plan.schedule import SchedulePoint
from vlm.flight.trim.trim import trim_problem
from vlm.flight.trim.uncertain_keys import MovedCraft
from vlm.study.power.best import difference_interval
from vlm.study.schedule.saving_causes import Causes, causes_of
from vlm.study.sensitivity import Draws, draws_of

SAME = 0.002
"""Saving below which folds are said to draw the same: what the search leaves open [1]."""
LEAST_SHARE = 0.95
"""Least share of samples with a trim from which there is an interval [1]."""


@dataclass(frozen=True)
class Saving:
    """The largest saving of all airspeeds.

    Attributes
    ----------
    point : the best fold there
    flat : flat tips there, whatever they pass
    interval : of the saving, from what the file states as uncertain; None where it states nothing,
        or samples have no trim [W]
    percent : probability of the interval [%]
    causes : what is saved by cause; None where nothing is
    """

    point: SchedulePoint
    flat: Setting
    interval: tuple[float, float] | None = None
    percent: float = 90.0
    causes: Causes | None = None

    @property
    def share(self) -> float:
        """Over the power of flat tips [1]."""
        return 1.0 - self.point.power / self.flat.power


def largest_saving(ideal: Sequence[SchedulePoint], table: FoldTable) -> Saving | None:
    """The largest saving, without its interval; None where flat tips fly at no airspeed."""
    both = [
        Saving(point, table.setting(0.0, point.speed))
        for point in ideal
        if point.setting is not None
    ]
    return max(
        (one for one in both if np.isfinite(one.flat.power)),
        key=lambda one: one.share,
        default=None,
    )


def with_causes(saving: Saving, table: FoldTable) -> Saving:
    """The same taken apart; a saving that is none is not."""
    best = saving.point.setting
    if best is None or saving.share < SAME:
        return saving
    return replace(saving, causes=causes_of(table, saving.flat).less(causes_of(table, best)))


def with_interval(saving: Saving, table: FoldTable) -> Saving:
    """The same with the interval of what it saves, both folds drawn with the same samples.

    A saving that is none has no interval.
    """
    craft, best = table.book.craft, saving.point.setting
    if craft.uncertainty is None or best is None or saving.share < SAME:
        return saving
    draws = draws_of(craft)
    drawn = _powers(table, saving.flat, draws) - _powers(table, best, draws)
    if np.mean(np.isfinite(drawn)) < LEAST_SHARE:
        return saving
    found = difference_interval(drawn, saving.flat.power - best.power, draws.percent)
    return replace(saving, interval=found, percent=draws.percent)


def _powers(table: FoldTable, setting: Setting, draws: Draws) -> Floats:
    """Electrical power of a setting in every sample, shape (samples,) [W]."""
    made = table.craft_at(setting.fold_deg)
    assert made is not None
    power = trim_powers(trim_problem(made), setting.point, draws.factors)
    if draws.keys:
        moved = MovedCraft(made, draws.keys, table.book.grid)
        power = power + moved.response(setting.point).at(draws.shifts)[:, 0]
    return np.asarray(power)
