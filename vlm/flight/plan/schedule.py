"""The fold of least power at every airspeed, within the constraints of a schedule.

Power and margins printed at the best fold are those of a trim solved at that very fold; see
:mod:`vlm.flight.plan.fold_search`.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vlm.constants import Floats
from vlm.flight.plan.constraints import NO_TRIM, Setting
from vlm.flight.plan.fold_row import STEP_DEG, RowReading
from vlm.flight.plan.fold_search import GAIN, FoldTable

FLAT = 0.01
"""Share of the least power within which folds count as equally good [1]."""
BESIDE_DEG = 0.5
"""A constraint is active where a fold so far beyond it costs less and passes it [deg]."""
NEAR = 0.02
"""Margin over its spread along the fold below which a constraint is asked whether it is active."""


@dataclass(frozen=True)
class SchedulePoint:
    """The best fold at one airspeed.

    Attributes
    ----------
    speed : [m/s]
    setting : the trim at the best fold, solved directly; None where no fold is allowed
    flat_deg : lowest and highest allowed fold within a hundredth of the least power [deg]
    ties : folds of other, separate minima within that hundredth [deg]
    active : constraints without which another fold would be better
    forbidden : constraints that forbid every fold, where none is allowed
    """

    speed: float
    setting: Setting | None
    flat_deg: tuple[float, float] = (float("nan"), float("nan"))
    ties: tuple[float, ...] = ()
    active: tuple[str, ...] = ()
    forbidden: tuple[str, ...] = ()

    @property
    def reason(self) -> str:
        """What forbids every fold, in words; empty where one is allowed."""
        return " and ".join(self.forbidden)

    @property
    def fold_deg(self) -> float:
        """The best fold; NaN where none is allowed [deg]."""
        return float("nan") if self.setting is None else self.setting.fold_deg

    @property
    def power(self) -> float:
        """Electrical power there; NaN where no fold is allowed [W]."""
        return float("nan") if self.setting is None else self.setting.power

    @property
    def margins(self) -> Mapping[str, float]:
        """Margin of every constraint there, in its own unit."""
        return {} if self.setting is None else self.setting.margins


def ideal_schedule(
    table: FoldTable,
    speeds: Sequence[float] | Floats | None = None,
    report: Callable[[int, int], None] | None = None,
) -> list[SchedulePoint]:
    """Best fold at every airspeed.

    Parameters
    ----------
    speeds : those of the table's book if None [m/s]
    report : called with the speeds done, and all there are
    """
    wanted = table.book.speeds if speeds is None else speeds
    found = []
    for index, speed in enumerate(wanted):
        found.append(best_fold(table, float(speed)))
        if report is not None:
            report(index + 1, len(wanted))
    return found


def best_fold(table: FoldTable, speed: float) -> SchedulePoint:
    """Best fold at one airspeed."""
    best = table.searched(speed)
    if best is None:
        return SchedulePoint(speed, None, forbidden=forbidding(table, speed))
    read = table.reading(speed)
    good = read.inside & (read.power <= best.power * (1.0 + FLAT))
    runs = _runs(read.folds, good)
    own = [r for r in runs if r[0] - STEP_DEG <= best.fold_deg <= r[1] + STEP_DEG]
    flat = (
        min([best.fold_deg, *(r[0] for r in own)]),
        max([best.fold_deg, *(r[1] for r in own)]),
    )
    ties = tuple(0.5 * (a + b) for a, b in runs if (a, b) not in own)
    return SchedulePoint(speed, best, flat, ties, active_constraints(read, best))


def _runs(folds: Floats, good: NDArray[np.bool_]) -> list[tuple[float, float]]:
    """Unbroken runs of folds."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], good.astype(int), [0]])))
    pairs = zip(edges[::2], edges[1::2], strict=True)
    return [(float(folds[a]), float(folds[b - 1])) for a, b in pairs]


def active_constraints(read: RowReading, best: Setting) -> tuple[str, ...]:
    """Constraints without which another fold would be better.

    Those next to their limit at the best fold and passed where it would cost less; and those that
    alone forbid a better fold farther away, which may be parted from the best one by folds that
    cost more.
    """
    beside = np.abs(read.folds - best.fold_deg) <= BESIDE_DEG
    cheaper = beside & (read.power < best.power)
    freed = read.power + read.room < best.power * (1.0 - GAIN)
    found = []
    for name, values in read.margins.items():
        known = values[np.isfinite(values)]
        spread = float(np.ptp(known)) if known.size else 0.0
        near = best.margins.get(name, np.inf) <= NEAR * spread
        at_limit = spread > 0.0 and near and bool(np.any(values[cheaper] < 0.0))
        if at_limit or bool(np.any(freed & read.inside_but(name))):
            found.append(name)
    ends = float(read.folds[0]), float(read.folds[-1])
    if not found and min(abs(best.fold_deg - end) for end in ends) < 1e-6:
        found.append("fold limits")
    return tuple(found)


def forbidding(table: FoldTable, speed: float) -> tuple[str, ...]:
    """What forbids every fold at an airspeed: what is passed at the nearest to being allowed."""
    least = nearest_setting(table, speed)
    return ("no fold gives a trim",) if least is None else least.passed or (NO_TRIM,)


def nearest_setting(table: FoldTable, speed: float) -> Setting | None:
    """The setting that passes the fewest constraints at an airspeed; None where none has a trim.

    Were they not asked for, its fold would be allowed; of several, the one of least power.
    """
    if not any(np.isfinite(s.power) for s in table.row(speed)):
        return None
    read = table.reading(speed)
    passed = np.sum([margin < 0.0 for margin in read.margins.values()], axis=0)
    nearest = np.lexsort((read.power, np.where(np.isfinite(read.power), passed, np.inf)))[0]
    table.setting(float(read.folds[nearest]), speed)
    found = [s for s in table.row(speed) if np.isfinite(s.power)]
    return min(found, key=lambda s: (len(s.passed), s.power))
