"""A schedule that a controller can fly: straight pieces between few breakpoints, confirmed.

Breakpoints are chosen on rows that are read between solved settings. Then every airspeed of the
schedule and every one half-way between two is solved directly at the fold that is commanded there,
slowing down and speeding up. Where a constraint is passed, those settings join the rows, the
constraint is asked for with that much more room, and the breakpoints are chosen again.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from scipy.optimize import minimize

from vlm.constants import Floats
from vlm.description.schedule import Schedule
from vlm.flight.craft.crossing import sign_changes
from vlm.flight.plan.barred import middles
from vlm.flight.plan.constraints import ROLL_MOMENT, Setting
from vlm.flight.plan.fold_search import FoldTable
from vlm.flight.plan.loss_table import LossTable
from vlm.flight.plan.schedule import SchedulePoint

LEAST_GAIN = 1e-4
"""Least gain in mean loss for which a breakpoint is added, in shares of the power [1]."""
TRIED = 4
"""Places tried for each breakpoint [1]."""
ROUNDS = 6
"""How often breakpoints are chosen again with more room to the constraints [1]."""
MORE = 1.25
"""Room that is added, over the amount by which a constraint was passed [1]."""
TURN_DEG = 5.0
"""Largest change of fold from one airspeed that is solved to the next [deg]."""


@dataclass(frozen=True)
class FlownState:
    """One airspeed of a schedule as flown, solved directly.

    Attributes
    ----------
    speed : [m/s]
    slowing, speeding : settings at the folds commanded slowing down and speeding up
    is_between : whether the airspeed lies between those of the schedule: half-way, and more often
        where the fold changes by much
    ideal_power : of the best fold, as :func:`_best_between` finds it half-way; NaN elsewhere
        between, and where no fold is allowed [W]
    """

    speed: float
    slowing: Setting
    speeding: Setting
    is_between: bool
    ideal_power: float

    @property
    def settings(self) -> tuple[Setting, ...]:
        """Both ways, once if they are alike."""
        alike = self.slowing.fold_deg == self.speeding.fold_deg
        return (self.slowing,) if alike else (self.slowing, self.speeding)

    @property
    def passed(self) -> tuple[str, ...]:
        """Constraints that are passed on either way."""
        return tuple(dict.fromkeys(name for one in self.settings for name in one.passed))

    @property
    def margins(self) -> Mapping[str, float]:
        """The least margin of both ways, by constraint."""
        names = [name for one in self.settings for name in one.margins]
        nan = float("nan")
        return {n: min(one.margins.get(n, nan) for one in self.settings) for n in names}

    @property
    def power(self) -> float:
        """Mean of both ways [W]."""
        return 0.5 * (self.slowing.power + self.speeding.power)

    @property
    def loss(self) -> float:
        """Power above the ideal [W]."""
        return self.power - self.ideal_power


@dataclass(frozen=True)
class FlownSchedule:
    """A schedule of straight pieces between breakpoints.

    Attributes
    ----------
    speeds, folds_deg : shape (breakpoints,), growing in speed [m/s], [deg]
    hysteresis : speeding up, the fold of a speed this much lower is commanded [m/s]
    states : every airspeed of the schedule and those between, solved directly, growing
    valid : lowest and highest airspeed at which any fold is allowed [m/s]
    """

    speeds: Floats
    folds_deg: Floats
    hysteresis: float
    states: tuple[FlownState, ...]
    valid: tuple[float, float]

    def fold(self, speed: float, *, rising: bool = False) -> float:
        """Commanded fold at an airspeed [deg]."""
        return commanded(self.speeds, self.folds_deg, speed - self.hysteresis * rising)

    @property
    def outside(self) -> tuple[FlownState, ...]:
        """States within the valid airspeeds that pass a constraint."""
        low, high = self.valid
        return tuple(s for s in self.states if low <= s.speed <= high and s.passed)

    def state(self, speed: float) -> FlownState:
        """The state of an airspeed of the schedule."""
        return min(self.states, key=lambda s: abs(s.speed - speed))

    @property
    def losses(self) -> Floats:
        """Power over the ideal at every airspeed that has one, none between, outside or not [1]."""
        return self._losses([s for s in self.states if not s.is_between])

    @property
    def worst(self) -> tuple[float, float]:
        """The greatest of the losses, those between included, and its airspeed [1], [m/s]."""
        known = [s for s in self.states if np.isfinite(s.ideal_power)]
        losses = self._losses(known)
        place = int(np.argmax(losses))
        return float(losses[place]), known[place].speed

    @staticmethod
    def _losses(states: Sequence[FlownState]) -> Floats:
        return np.array([s.loss / s.ideal_power for s in states if np.isfinite(s.ideal_power)])

    @property
    def roll_reversals(self) -> tuple[tuple[float, float], ...]:
        """Airspeeds between which the rolling moment of the reserve turns its sign [m/s].

        Or twice the same, where it does between slowing down and speeding up alone.
        """
        low, high = self.valid
        within = [s for s in self.states if low <= s.speed <= high]
        signed = [(s.speed, _roll_moments(s)) for s in within]
        signed = [(speed, moments) for speed, moments in signed if moments]
        turns = {
            change
            for end in (min, max)
            for change in sign_changes(end(moments) for _, moments in signed)
        }
        found = [(signed[before][0], signed[after][0]) for before, after in turns]
        ends = {end for pair in found for end in pair}
        found += [
            (speed, speed)
            for speed, moments in signed
            if min(moments) < 0.0 < max(moments) and speed not in ends
        ]
        return tuple(sorted(found))


def _roll_moments(state: FlownState) -> list[float]:
    known = [one.quantities.get(ROLL_MOMENT, float("nan")) for one in state.settings]
    return [moment for moment in known if np.isfinite(moment)]


def commanded(speeds: Floats, folds: Floats, speed: float) -> float:
    """Fold between breakpoints, rounded to what is handed on [deg]."""
    return round(float(np.interp(speed, speeds, folds)), 2)


def flown_schedule(
    table: FoldTable, ideal: Sequence[SchedulePoint], schedule: Schedule
) -> FlownSchedule | None:
    """Few breakpoints, a limited slope and hysteresis, at the least mean loss of power.

    Breakpoints are added one by one where they win most, each time with all folds moved for the
    least mean loss, until the wanted number stands or nothing is left to win. None where fewer
    than two airspeeds allow any fold.
    """
    usable = [point for point in ideal if point.setting is not None]
    if len(usable) < 2:
        return None
    room: dict[str, float] = {}
    best: FlownSchedule | None = None
    for _ in range(ROUNDS):
        speeds, folds = _chosen(LossTable(table, ideal, schedule, room), usable, schedule)
        found = _confirmed(table, ideal, speeds, folds, schedule.hysteresis_m_s)
        if best is None or _badness(found) < _badness(best):
            best = found
        if not found.outside:
            break
        for state in found.outside:
            for name in state.passed:
                short = -state.margins.get(name, 0.0)
                if np.isfinite(short):
                    room[name] = max(room.get(name, 0.0), 0.0) + MORE * max(short, 1e-6)
    return best


def _badness(flown: FlownSchedule) -> tuple[int, float]:
    losses = flown.losses
    return len(flown.outside), float(losses.mean()) if len(losses) else float("inf")


def _chosen(
    loss_of: "LossTable", usable: Sequence[SchedulePoint], schedule: Schedule
) -> tuple[Floats, Floats]:
    """Airspeeds and folds of the breakpoints.

    From the best folds at both ends, and from the best single fold: where best folds lie to both
    sides of what is not allowed, a schedule that follows them would cross it.
    """
    chosen = [0, len(usable) - 1]
    ideal = np.array([usable[i].fold_deg for i in chosen])
    starts = ideal, np.full(2, loss_of.single_fold)
    folds = _least(loss_of, [(chosen, _moved(loss_of, chosen, start)) for start in starts])[1]
    while len(chosen) < min(schedule.breakpoints, len(usable)):
        grown, moved = _one_more(loss_of, chosen, folds, usable)
        if loss_of(grown, moved) > loss_of(chosen, folds) - LEAST_GAIN:
            break
        chosen, folds = grown, moved
    return loss_of.speeds[chosen], np.round(folds, 2)


def _confirmed(
    table: FoldTable,
    ideal: Sequence[SchedulePoint],
    speeds: Floats,
    folds: Floats,
    hysteresis: float,
) -> FlownSchedule:
    """Every airspeed and every one between solved at the commanded folds."""
    powers = {point.speed: point.power for point in ideal}
    between = {0.5 * (a.speed + b.speed): (a, b) for a, b in pairwise(ideal)}
    allowed = [point.speed for point in ideal if point.setting is not None]
    valid = min(allowed), max(allowed)
    states = []
    pairs = [
        pair
        for speed, (a, b) in between.items() if a.setting is not None and b.setting is not None
        for pair in ((a.speed, speed), (speed, b.speed))
    ]  # fmt: skip
    ranges = table.constraints.schedule.forbidden_deg
    further = [
        speed
        for one, two in pairs
        for speed in (
            *_where_it_turns(one, two, speeds, folds, hysteresis),
            *_within_ranges(one, two, speeds, folds, hysteresis, ranges),
        )
    ]
    for speed in sorted([*powers, *between, *further]):
        slowing = table.setting(commanded(speeds, folds, speed), speed)
        speeding = table.setting(commanded(speeds, folds, speed - hysteresis), speed)
        power = powers.get(speed, float("nan"))
        if speed in between and valid[0] < speed < valid[1]:
            power = _best_between(table, speed, between[speed], [slowing, speeding])
        states.append(FlownState(speed, slowing, speeding, speed not in powers, power))
    return FlownSchedule(speeds, folds, hysteresis, tuple(states), valid)


def _where_it_turns(
    one: float, two: float, speeds: Floats, folds: Floats, late: float
) -> list[float]:
    """Airspeeds on the way, so that a steep piece is not flown across unseen folds [m/s]."""
    turns = [
        commanded(speeds, folds, two - shift) - commanded(speeds, folds, one - shift)
        for shift in (0.0, late)
    ]
    count = int(np.ceil(max(map(abs, turns)) / TURN_DEG))
    return [float(speed) for speed in np.linspace(one, two, count + 1)[1:-1]]


def _within_ranges(
    one: float,
    two: float,
    speeds: Floats,
    folds: Floats,
    late: float,
    ranges: Sequence[tuple[float, float]],
) -> list[float]:
    """Airspeeds on the way at which the middle of what is flown of each range is held [m/s].

    However narrow a range of folds that must not be held, it is seen.
    """
    found = []
    for shift in {0.0, late}:
        knots = [one, *(v for v in speeds + shift if one < v < two), two]
        for (a, at_a), (b, at_b) in pairwise(
            (v, float(np.interp(v - shift, speeds, folds))) for v in knots
        ):
            found += [
                a + (fold - at_a) / (at_b - at_a) * (b - a) for fold in middles(at_a, at_b, ranges)
            ]
    return found


def _best_between(
    table: FoldTable, speed: float, ends: Sequence[SchedulePoint], flown: Sequence[Setting]
) -> float:
    """Least power of any fold at an airspeed between two; NaN where none is allowed [W].

    Where both best folds of the airspeeds beside it are allowed, the best one moves with the power
    alone, and theirs draw hardly more. Where one is not, the best lies at a constraint, and is
    searched for.
    """
    beside = [table.setting(end.fold_deg, speed) for end in ends if end.setting is not None]
    if len(beside) < len(ends) or any(one.passed for one in beside):
        found = table.searched(speed)
        beside = [] if found is None else [found]
    allowed = [one.power for one in [*beside, *flown] if not one.passed]
    return min(allowed, default=float("nan"))


def _least(
    loss_of: LossTable, options: Sequence[tuple[list[int], Floats]]
) -> tuple[list[int], Floats]:
    """The breakpoints and folds of least mean loss."""
    return min(options, key=lambda pair: loss_of(*pair))


def _one_more(
    loss_of: LossTable, chosen: list[int], folds: Floats, usable: Sequence[SchedulePoint]
) -> tuple[list[int], Floats]:
    """The best of the likeliest places for one more breakpoint."""
    trials = []
    for i in range(len(usable)):
        if i in chosen:
            continue
        grown = sorted([*chosen, i])
        start = loss_of.limited(grown, np.array([usable[k].fold_deg for k in grown]))
        trials.append((loss_of(grown, start), grown, start))
    trials.sort(key=lambda trial: trial[0])
    moved = []
    for _, grown, start in trials[:TRIED]:
        as_it_is = np.interp(loss_of.speeds[grown], loss_of.speeds[chosen], folds)
        moved += [(grown, _moved(loss_of, grown, one)) for one in (start, as_it_is)]
    return _least(loss_of, moved)


def _moved(loss_of: LossTable, chosen: list[int], folds: Floats) -> Floats:
    """Folds of the breakpoints moved for the least mean loss."""

    def mean(trial: Floats) -> float:
        return loss_of(chosen, loss_of.limited(chosen, trial))

    start = loss_of.limited(chosen, folds)
    found = minimize(mean, start, method="Nelder-Mead", options={"xatol": 0.05, "fatol": 1e-6})
    best = loss_of.limited(chosen, found.x)
    return best if mean(best) <= mean(start) else start
