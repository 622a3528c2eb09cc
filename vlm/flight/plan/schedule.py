"""The fold of least power at every airspeed, and a schedule of it that can be flown.

At each airspeed the power is a curve over fold, cut where a constraint is passed. Its least value
is looked for on a fine grid of the interpolated curve, refined between the neighbours, and
confirmed by a direct trim at that fold.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize, minimize_scalar

from vlm.constants import Floats
from vlm.description.folds import FoldAngles
from vlm.description.schedule import Schedule
from vlm.flight.plan.schedule_limits import ScheduleLimits
from vlm.flight.trim.power_book import POWER, FoldCurve, PowerBook, direct_trim, nearest_curve
from vlm.flight.trim.powered import powered_craft

STEP_DEG = 0.5
FLAT = 0.01
"""Share of the least power within which folds count as equally good [1]."""
NEAR = 0.02
"""Margin over its spread along the fold below which a constraint counts as active [1]."""
LEAST_GAIN = 1e-4
"""Least gain in mean loss for which a breakpoint is added, in shares of the power [1]."""
HALVINGS = 8
"""Halvings of half a degree with which the edge of a constraint is found [1]."""
TRIED = 4
"""Places tried for each breakpoint [1]."""
OUTSIDE = 0.5
"""Loss counted at a speed where a schedule leaves the allowed folds, in shares of the power."""


@dataclass(frozen=True)
class SchedulePoint:
    """The best fold at one airspeed.

    Attributes
    ----------
    speed : [m/s]
    fold_deg : [deg]; NaN where no fold is allowed
    power : electrical power there, interpolated [W]
    direct_power : the same from a direct trim [W]; NaN if it was not asked for
    flat_deg : lowest and highest fold within a hundredth of the least power [deg]
    ties : folds of other, separate minima within that hundredth [deg]
    active : constraints that hold the fold back
    reason : what forbids every fold, where none is allowed
    """

    speed: float
    fold_deg: float
    power: float
    direct_power: float
    flat_deg: tuple[float, float]
    ties: tuple[float, ...]
    active: tuple[str, ...]
    reason: str = ""


def ideal_schedule(
    book: PowerBook,
    limits: ScheduleLimits,
    *,
    confirm: bool = True,
    report: Callable[[int, int], None] | None = None,
) -> list[SchedulePoint]:
    """Best fold at every airspeed of a book.

    Parameters
    ----------
    confirm : whether each is confirmed by a direct trim
    report : told the speeds done, and all there are
    """
    found = []
    for index in range(len(book.speeds)):
        point = best_fold(book, limits, index)
        if confirm and np.isfinite(point.fold_deg):
            point = confirmed(book, point)
        found.append(point)
        if report is not None:
            report(index + 1, len(book.speeds))
    return found


def confirmed(book: PowerBook, point: SchedulePoint) -> SchedulePoint:
    """The same best fold with the power of a direct trim there."""
    folds = FoldAngles.symmetric(point.fold_deg)
    made = powered_craft(book.craft, folds, air=book.air, grid=book.grid)
    curve = nearest_curve(book, point.fold_deg)
    near = curve.at(point.speed) if curve is not None else None
    return replace(point, direct_power=direct_trim(made, point.speed, near=near).value(POWER))


def fine_folds(book: PowerBook) -> Floats:
    """Folds of the search: half a degree apart, the tabulated ones among them [deg]."""
    low, high = float(book.folds_deg[0]), float(book.folds_deg[-1])
    return np.unique(np.concatenate([np.arange(low, high, STEP_DEG), book.folds_deg]))


def best_fold(book: PowerBook, limits: ScheduleLimits, index: int) -> SchedulePoint:
    """Best fold at one tabulated airspeed."""
    curve = book.over_fold(book.power, index)
    folds = fine_folds(book)
    power = np.array([curve(f) for f in folds])
    margins = _margins_over(limits, folds, index)
    inside = np.isfinite(power)
    for values in margins.values():
        inside &= values >= 0.0
    speed = float(book.speeds[index])
    if not inside.any():
        return _none_allowed(speed, power, margins)
    cost = np.where(inside, power, np.inf)
    best = _refined(curve, limits, folds, cost, index)
    least = curve(best)
    good = inside & (power <= least * (1.0 + FLAT))
    runs = _runs(folds, good)
    own = next(run for run in runs if run[0] - STEP_DEG <= best <= run[1] + STEP_DEG)
    flat = (min(own[0], best), max(own[1], best))
    ties = tuple(0.5 * (a + b) for a, b in runs if (a, b) != own)
    active = _active(margins, folds, best, (float(folds[0]), float(folds[-1])))
    return SchedulePoint(speed, best, least, float("nan"), flat, ties, active)


def _margins_over(limits: ScheduleLimits, folds: Floats, index: int) -> dict[str, Floats]:
    """Margins of every constraint over many folds at one airspeed."""
    found = {}
    for name, table in limits.tables.items():
        curve = FoldCurve(limits.folds_deg, table[:, index])
        found[name] = np.array([curve(f) for f in folds])
    alone = [limits.of_fold(float(f)) for f in folds]
    for name in alone[0]:
        found[name] = np.array([values[name] for values in alone])
    return found


def _refined(
    curve: FoldCurve, limits: ScheduleLimits, folds: Floats, cost: Floats, index: int
) -> float:
    """Least of the interpolated curve between a grid's best fold and what bounds it either side."""
    best = int(np.argmin(cost))
    start = float(folds[best])

    def allowed(fold: float) -> bool:
        margins = limits.margins(fold, index).values()
        return bool(np.isfinite(curve(fold))) and all(m >= 0.0 for m in margins)

    low = _edge(allowed, start, float(folds[max(0, best - 1)]))
    high = _edge(allowed, start, float(folds[min(len(folds) - 1, best + 1)]))
    ends = [fold for fold in (low, high) if curve(fold) < cost[best]]
    if high > low:
        inner = minimize_scalar(
            curve, bounds=(low, high), method="bounded", options={"xatol": 1e-4}
        )
        if inner.fun < cost[best] and allowed(float(inner.x)):
            ends.append(float(inner.x))
    return min(ends, key=curve, default=start)


def _edge(allowed: Callable[[float], bool], inside: float, beyond: float) -> float:
    """The fold between an allowed one and its neighbour up to which all is allowed [deg]."""
    if allowed(beyond):
        return beyond
    for _ in range(HALVINGS):
        middle = 0.5 * (inside + beyond)
        inside, beyond = (middle, beyond) if allowed(middle) else (inside, middle)
    return inside


def _runs(folds: Floats, good: Floats) -> list[tuple[float, float]]:
    """Unbroken runs of folds."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], good.astype(int), [0]])))
    pairs = zip(edges[::2], edges[1::2], strict=True)
    return [(float(folds[a]), float(folds[b - 1])) for a, b in pairs]


def _active(
    margins: dict[str, Floats], folds: Floats, best: float, ends: tuple[float, float]
) -> tuple[str, ...]:
    """Constraints next to their limit at a fold, and the ends of the fold's range."""
    place = int(np.argmin(np.abs(folds - best)))
    found = []
    for name, values in margins.items():
        counted = values[np.isfinite(values) & (values < 1e8)]
        spread = float(np.ptp(counted)) if counted.size else 0.0
        if spread > 0.0 and values[place] <= NEAR * spread:
            found.append(name)
    if not found and min(abs(best - end) for end in ends) < 1e-6:
        found.append("fold limits")
    return tuple(found)


def _none_allowed(speed: float, power: Floats, margins: dict[str, Floats]) -> SchedulePoint:
    """A speed at which no fold is allowed, with the constraint that forbids most folds."""
    nan = float("nan")
    if not np.isfinite(power).any():
        reason = "no fold gives a trim within the limits of rotors and battery"
    else:
        trimmed = np.isfinite(power)
        shares = {name: int(np.sum(~(v >= 0.0) & trimmed)) for name, v in margins.items()}
        reason = max(shares, key=lambda name: shares[name])
    return SchedulePoint(speed, nan, nan, nan, (nan, nan), (), (), reason)


@dataclass(frozen=True)
class FlownSchedule:
    """A schedule of straight pieces between breakpoints.

    Attributes
    ----------
    speeds, folds_deg : shape (breakpoints,), growing in speed [m/s], [deg]
    hysteresis : speeding up, the fold of a speed this much lower is commanded [m/s]
    losses : shape (speeds,), power above the ideal at every speed of the book, mean of speeding
        up and slowing down; NaN where no fold is allowed or the schedule is outside [W]
    outside : shape (speeds,), where the schedule passes a constraint, speeding up or slowing down
    mean_loss, worst_loss : over the ideal power, where the schedule is inside [1]
    """

    speeds: Floats
    folds_deg: Floats
    hysteresis: float
    losses: Floats
    outside: NDArray[np.bool_]
    mean_loss: float
    worst_loss: float

    def fold(self, speed: float, *, rising: bool = False) -> float:
        """Commanded fold at an airspeed [deg]."""
        shift = self.hysteresis if rising else 0.0
        return float(np.interp(speed - shift, self.speeds, self.folds_deg))


def flown_schedule(
    book: PowerBook, limits: ScheduleLimits, ideal: list[SchedulePoint], schedule: Schedule
) -> FlownSchedule | None:
    """Few breakpoints, a limited slope and hysteresis, at the least mean loss of power.

    Breakpoints are added one by one where they win most, each time with all folds moved for the
    least mean loss, until the wanted number stands or nothing is left to win. None where fewer
    than two speeds allow any fold.
    """
    usable = [i for i, p in enumerate(ideal) if np.isfinite(p.fold_deg)]
    if len(usable) < 2:
        return None
    loss_of = _LossTable(book, limits, ideal, usable, schedule)
    chosen = [usable[0], usable[-1]]
    folds = _moved(loss_of, chosen, np.array([ideal[i].fold_deg for i in chosen]))
    while len(chosen) < min(schedule.breakpoints, len(usable)):
        grown, moved = _one_more(loss_of, chosen, ideal)
        if loss_of(grown, moved).mean() > loss_of(chosen, folds).mean() - LEAST_GAIN:
            break
        chosen, folds = grown, moved
    losses = loss_of(chosen, folds)
    inside = losses < 0.5 * OUTSIDE / 2.0
    powers = np.array([ideal[i].power for i in usable])
    whole = np.full(len(ideal), np.nan)
    whole[usable] = np.where(inside, losses * powers, np.nan)
    outside = np.zeros(len(ideal), dtype=bool)
    outside[usable] = ~inside
    kept = losses[inside] if inside.any() else np.array([np.nan])
    return FlownSchedule(
        book.speeds[chosen], folds, schedule.hysteresis_m_s, whole, outside,
        float(kept.mean()), float(kept.max()),
    )  # fmt: skip


class _LossTable:
    """Loss of a piecewise schedule over the ideal at every usable speed, in shares of the power."""

    def __init__(
        self,
        book: PowerBook,
        limits: ScheduleLimits,
        ideal: list[SchedulePoint],
        usable: list[int],
        schedule: Schedule,
    ) -> None:
        self.speeds, self.usable = book.speeds, usable
        self.folds = fine_folds(book)
        self.shift = schedule.hysteresis_m_s
        self.slope = schedule.rate_limit_deg_per_speed
        rows = []
        for i in usable:
            curve = book.over_fold(book.power, i)
            row = np.array([curve(f) for f in self.folds]) / ideal[i].power - 1.0
            outside = ~np.isfinite(row)
            for values in _margins_over(limits, self.folds, i).values():
                outside |= ~(values >= -1e-9)
            rows.append(np.where(outside, OUTSIDE, np.maximum(row, 0.0)))
        self.table = np.array(rows)

    def __call__(self, chosen: list[int], folds: Floats) -> Floats:
        """Loss at every usable speed, mean of slowing down and speeding up."""
        at = self.speeds[self.usable]
        total = np.zeros(len(at))
        shifts = (0.0, self.shift) if self.shift else (0.0,)
        for shift in shifts:
            flown = np.interp(at - shift, self.speeds[chosen], folds)
            total += [
                np.interp(f, self.folds, row) for f, row in zip(flown, self.table, strict=True)
            ]
        return np.asarray(total / len(shifts))

    def limited(self, chosen: list[int], folds: Floats) -> Floats:
        """Folds with their change from breakpoint to breakpoint cut to the steepest slope."""
        kept = np.clip(folds, self.folds[0], self.folds[-1])
        if self.slope is None:
            return kept
        for i in range(1, len(kept)):
            room = self.slope * (self.speeds[chosen[i]] - self.speeds[chosen[i - 1]])
            kept[i] = np.clip(kept[i], kept[i - 1] - room, kept[i - 1] + room)
        return kept


def _one_more(
    loss_of: _LossTable, chosen: list[int], ideal: list[SchedulePoint]
) -> tuple[list[int], Floats]:
    """The best of the likeliest places for one more breakpoint."""
    best = {i: ideal[i].fold_deg for i in loss_of.usable}
    trials = []
    for i in loss_of.usable:
        if i in chosen:
            continue
        grown = sorted([*chosen, i])
        start = loss_of.limited(grown, np.array([best[k] for k in grown]))
        trials.append((float(loss_of(grown, start).mean()), grown, start))
    trials.sort(key=lambda trial: trial[0])
    moved = [(grown, _moved(loss_of, grown, start)) for _, grown, start in trials[:TRIED]]
    return min(moved, key=lambda pair: float(loss_of(*pair).mean()))


def _moved(loss_of: _LossTable, chosen: list[int], folds: Floats) -> Floats:
    """Folds of the breakpoints moved for the least mean loss."""

    def mean(trial: Floats) -> float:
        return float(loss_of(chosen, loss_of.limited(chosen, trial)).mean())

    found = minimize(mean, folds, method="Nelder-Mead", options={"xatol": 0.05, "fatol": 1e-6})
    best = loss_of.limited(chosen, found.x)
    return best if mean(best) <= mean(folds) else folds
