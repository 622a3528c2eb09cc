"""What a schedule of straight pieces loses, and where it is not allowed: read between solved rows.

For the choice of breakpoints alone: what is chosen is solved directly afterwards.
"""

from collections.abc import Iterable, Mapping, Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from vlm.constants import Floats
from vlm.description.schedule import Schedule
from vlm.flight.plan.constraints import TOUCH
from vlm.flight.plan.fold_row import STEP_DEG
from vlm.flight.plan.fold_search import BESIDE_CONTACT_DEG, FoldTable
from vlm.flight.plan.schedule import SchedulePoint

OUTSIDE = 0.5
"""Loss counted while breakpoints are chosen where a fold is not allowed, in shares of the power."""
OUTSIDE_BY = 0.02
"""The same more for every degree from the nearest allowed fold [1/deg]."""
BETWEEN = np.arange(1, 8) / 8.0
"""Where between two airspeeds the constraints are read, in shares of the way [1]."""


class LossTable:
    """Mean loss of a piecewise schedule over the ideal, in shares of the power.

    Between two airspeeds a fold costs nothing more, unless it is not allowed there: the margins of
    both are read straight between them.

    Attributes
    ----------
    speeds : shape (speeds,), usable ones [m/s]
    folds : shape (folds,), evenly spaced [deg]
    rows : shape (speeds, folds), loss at every usable airspeed [1]
    crossings : shape (pairs, places, folds), what counts between the airspeeds [1]
    """

    def __init__(
        self,
        table: FoldTable,
        ideal: Sequence[SchedulePoint],
        schedule: Schedule,
        room: Mapping[str, float],
    ) -> None:
        usable = [point for point in ideal if point.setting is not None]
        self.speeds = np.array([point.speed for point in usable])
        low, high = (float(table.book.folds_deg[i]) for i in (0, -1))
        self.folds = np.linspace(low, high, 1 + int(np.ceil((high - low) / STEP_DEG)))
        self.shift = schedule.hysteresis_m_s
        self.slope = schedule.rate_limit_deg_per_speed
        reads = [table.reading(point.speed, self.folds) for point in usable]
        spare = [self._spare(read.margins, room) for read in reads]
        rows = []
        for point, read, own in zip(usable, reads, spare, strict=True):
            power = _bridged(self.folds, read.power)
            inside = np.isfinite(power) & self._kept(own.values())
            rows.append(self._with_outside(np.maximum(power / point.power - 1.0, 0.0), inside))
        self.rows = np.array(rows)
        # Beside an airspeed that allows no fold, nothing can be kept.
        known = {point.speed: own for point, own in zip(usable, spare, strict=True)}
        beside = {a.speed: known.get(b.speed, {}) for a, b in pairwise(ideal)}
        self.crossings = np.array(
            [self._crossing(known[point.speed], beside[point.speed]) for point in usable[:-1]]
        )

    def _spare(self, margins: Mapping[str, Floats], room: Mapping[str, float]) -> dict[str, Floats]:
        """Margins of all constraints less the room asked for, each of shape (folds,)."""
        return {n: _bridged(self.folds, m) - room.get(n, -TOUCH) for n, m in margins.items()}

    def _kept(self, spare: Iterable[Floats]) -> NDArray[np.bool_]:
        inside = np.full(len(self.folds), True)
        for margin in spare:
            inside &= margin >= 0.0
        return inside

    def _crossing(self, one: Mapping[str, Floats], two: Mapping[str, Floats]) -> Floats:
        """What counts between two airspeeds, by the constraints of both, shape (places, folds)."""
        both = [(one[name], two[name]) for name in one if name in two]
        free = np.zeros(len(self.folds))
        return np.array([
            self._with_outside(free, self._kept((1.0 - x) * a + x * b for a, b in both))
            for x in BETWEEN
        ])  # fmt: skip

    def _with_outside(self, loss: Floats, inside: NDArray[np.bool_]) -> Floats:
        """Losses, and what counts instead where a fold is not allowed: the more, the farther from
        the nearest that is, so that a search finds its way back."""
        away = np.zeros(len(self.folds))
        if inside.any():
            allowed = self.folds[inside]
            place = np.clip(np.searchsorted(allowed, self.folds), 1, max(1, len(allowed) - 1))
            near = [np.abs(self.folds - allowed[np.minimum(place - k, len(allowed) - 1)])
                    for k in (0, 1)]  # fmt: skip
            away = np.minimum(*near)
        return np.where(inside, loss, OUTSIDE + OUTSIDE_BY * away)

    @property
    def single_fold(self) -> float:
        """The one fold of least mean loss [deg]."""
        between = self.crossings.sum(axis=0).mean(axis=0)
        return float(self.folds[np.argmin(self.rows.sum(axis=0) + between)])

    def __call__(self, chosen: list[int], folds: Floats) -> float:
        """Mean over the usable airspeeds, slowing down and speeding up; with what counts between
        them, every pair of neighbours like one airspeed.

        Parameters
        ----------
        chosen : indices of the breakpoints' airspeeds
        folds : shape (breakpoints,) [deg]
        """
        low, high = self.speeds[:-1, None], self.speeds[1:, None]
        between = low + BETWEEN * (high - low)
        total = 0.0
        shifts = (0.0, self.shift) if self.shift else (0.0,)
        for shift in shifts:
            flown, crossed = (
                np.interp(at - shift, self.speeds[chosen], folds) for at in (self.speeds, between)
            )
            total += self._read(self.rows, flown).sum()
            total += self._read(self.crossings, crossed).sum() / len(BETWEEN)
        return float(total / (len(shifts) * len(self.speeds)))

    def _read(self, rows: Floats, folds: Floats) -> Floats:
        """Rows between folds, shape (...) of both."""
        place = (folds - self.folds[0]) / (self.folds[1] - self.folds[0])
        below = np.clip(place.astype(int), 0, len(self.folds) - 2)
        share = np.clip(place - below, 0.0, 1.0)
        one, two = (np.take_along_axis(rows, (below + k)[..., None], -1)[..., 0] for k in (0, 1))
        return np.asarray(one + share * (two - one))

    def limited(self, chosen: list[int], folds: Floats) -> Floats:
        """Folds with their change from breakpoint to breakpoint cut to the steepest slope."""
        kept = np.clip(folds, self.folds[0], self.folds[-1])
        if self.slope is None:
            return kept
        for i in range(1, len(kept)):
            room = self.slope * (self.speeds[chosen[i]] - self.speeds[chosen[i - 1]])
            kept[i] = np.clip(kept[i], kept[i - 1] - room, kept[i - 1] + room)
        return kept


def _bridged(folds: Floats, values: Floats) -> Floats:
    """Values with the short gaps beside a contact filled straight, for the choice alone."""
    known = np.isfinite(values)
    if not known.any():
        return values
    filled = np.interp(folds, folds[known], values[known])
    nearest = np.min(np.abs(folds[:, None] - folds[known]), axis=1)
    ends = (folds >= folds[known][0]) & (folds <= folds[known][-1])
    return np.where(ends & (nearest <= 0.5 * BESIDE_CONTACT_DEG), filled, values)
