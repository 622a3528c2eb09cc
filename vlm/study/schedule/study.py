"""The study behind ``foldspan schedule``: from a file to its schedule, all solved directly."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from vlm.air import Air
from vlm.description.models import Biplane
from vlm.description.schedule import Schedule
from vlm.errors import ComputationFailed, InputRefused
from vlm.findings import Finding, gathered
from vlm.flight.plan.barred import barred_between
from vlm.flight.plan.constraints import ROLL_MOMENT, Setting, keep_words
from vlm.flight.plan.flown_schedule import FlownSchedule, flown_schedule
from vlm.flight.plan.fold_search import FoldTable
from vlm.flight.plan.remedies import why_none
from vlm.flight.plan.schedule import SchedulePoint, ideal_schedule
from vlm.flight.trim.power_book import PowerBook, fold_grid, power_book
from vlm.flight.trim.power_warnings import flown_doubts
from vlm.lattice.cellule import Grid
from vlm.progress import Progress
from vlm.study.asked import SCHEDULE_FOLDS
from vlm.study.kept_trims import kept_trims
from vlm.study.schedule.saving import SAME, Saving, largest_saving, with_causes, with_interval
from vlm.study.schedule.unsure import Unsure, unsure


@dataclass(frozen=True)
class ScheduleStudy:
    """A schedule with the settings it was made from.

    Attributes
    ----------
    table : every setting that was solved
    ideal : the best fold at every airspeed
    flown : the schedule as flown; None where fewer than two airspeeds allow any fold
    schedule : what was asked
    saving : the largest, against flat tips; None where these fly nowhere
    unsure : constraints that are kept by less than their half-width
    unsure_flat : those that flat tips keep by less, where folding saves nothing against them
    """

    table: FoldTable
    ideal: list[SchedulePoint]
    flown: FlownSchedule | None
    schedule: Schedule
    saving: Saving | None
    unsure: tuple[Unsure, ...] = ()
    unsure_flat: tuple[Unsure, ...] = ()

    @property
    def book(self) -> PowerBook:
        """Trims that the search started from."""
        return self.table.book

    @property
    def barred(self) -> dict[str, list[tuple[float, float]]]:
        """Constraints between neighbouring best folds: :func:`barred_between`."""
        return barred_between(self.table, self.ideal)

    @property
    def findings(self) -> tuple[Finding, ...]:
        """What a user must know before the schedule is handed on."""
        found = [*_gaps(self.ideal)]
        if self.flown is not None:
            found += [*_outside(self.flown, self.table), *_reversals(self.flown)]
        found += [_not_known(one) for one in self.unsure]
        return tuple(found + self._of_trims())

    def _of_trims(self) -> list[Finding]:
        """Warnings about the trims that are named."""
        settings = named_settings(self.ideal, self.flown)
        flown = {(one.fold_deg, one.speed): one for one in settings}
        made = {fold: self.table.craft_at(fold) for fold, _ in flown}
        pairs = [(made[fold], one.point) for (fold, _), one in flown.items()]
        return gathered(flown_doubts((craft, point) for craft, point in pairs if craft is not None))


def schedule_study(
    craft: Biplane,
    *,
    folds: int = SCHEDULE_FOLDS,
    air: Air | None = None,
    grid: Grid | None = None,
    report: Progress | None = None,
    keep: Path | None = None,
) -> ScheduleStudy:
    """Best fold at every airspeed of the file's [schedule], and the schedule as flown.

    Parameters
    ----------
    folds : number of folds in the table of trims
    report : called with the stage, what is done of it, and all there is
    keep : folder that keeps every finished fold, so that a stopped study goes on from there

    Raises
    ------
    InputRefused : the file has no [schedule], no tips, or lacks a block that is needed; or the
        folder belongs to another study
    ComputationFailed : no airspeed allows any fold
    """
    schedule = craft.schedule
    if schedule is None:
        raise InputRefused(f"{craft.source_name}: [schedule] is missing; it names the airspeeds")
    if not craft.tips:
        raise InputRefused(f"{craft.source_name}: neither wing has tips to fold ([upper.tips])")

    def stage(name: str) -> Callable[[int, int], None]:
        return lambda done, total: report(name, done, total) if report is not None else None

    speeds = np.linspace(schedule.airspeed_min_m_s, schedule.airspeed_max_m_s, schedule.speeds)
    book = power_book(
        craft, fold_grid(craft, folds), speeds, air=air, grid=grid, report=stage("trims by fold"),
        keeper=kept_trims(keep, craft, air, grid),
    )  # fmt: skip
    table = FoldTable.of(book, schedule)
    ideal = ideal_schedule(table, report=stage("best folds"))
    if not any(np.isfinite(point.fold_deg) for point in ideal):
        raise ComputationFailed(f"no airspeed of the schedule allows any fold; {why_none(table)}")
    flown = flown_schedule(table, ideal, schedule)
    low, high = flown.valid if flown is not None else (speeds[0], speeds[-1])
    named = [one for one in named_settings(ideal, flown) if low <= one.speed <= high]
    saving = largest_saving(ideal, table)
    if saving is not None:
        saving = with_causes(with_interval(saving, table), table)
    flat = [] if saving is None or saving.share >= SAME else flat_settings(table, ideal)
    return ScheduleStudy(
        table, ideal, flown, schedule, saving, unsure(table, named), unsure(table, flat)
    )


def flat_settings(table: FoldTable, ideal: Sequence[SchedulePoint]) -> list[Setting]:
    """Flat tips at the airspeeds that allow a fold."""
    return [table.setting(0.0, point.speed) for point in ideal if point.setting is not None]


def named_settings(ideal: list[SchedulePoint], flown: FlownSchedule | None) -> list[Setting]:
    """The settings that are named: the best ones, and those as flown."""
    found = [point.setting for point in ideal if point.setting is not None]
    if flown is not None:
        found += [one for state in flown.states for one in state.settings]
    return found


def _not_known(one: Unsure) -> Finding:
    """A constraint that is kept by less than its half-width, as a warning."""
    return Finding(
        "margin_not_known", f"{one.words}; its margin less its ±", one.margin - one.half_width,
        None, one.unit, "the lattice's error, the wake, and what sections change",
        "ask for more of it in [schedule]", len(one.speeds),
    )  # fmt: skip


def _gaps(ideal: list[SchedulePoint]) -> list[Finding]:
    """Airspeeds that allow no fold between others that do."""
    allowed = [point.speed for point in ideal if point.setting is not None]
    found = []
    for point in ideal:
        if point.setting is None and min(allowed) < point.speed < max(allowed):
            what = f"no fold is allowed at {point.speed:.4g} m/s ({point.reason})"
            remedy = "change the constraint, or split the schedule there"
            found.append(Finding("no_fold", what, None, None, "1", "[schedule]", remedy))
    return found


def _outside(flown: FlownSchedule, table: FoldTable) -> list[Finding]:
    """Constraints that the schedule as flown passes, each at its worst airspeed."""
    worst: dict[str, Finding] = {}
    least: dict[str, float] = {}
    units = table.constraints.units
    for state in flown.outside:
        for name in state.passed:
            margin = state.margins.get(name, float("nan"))
            if name in worst and not margin < least[name]:
                continue
            least[name] = margin
            worst[name] = Finding(
                "schedule_outside",
                f"the schedule as flown does not keep {keep_words(name)} at {state.speed:.4g} m/s;"
                f" {'its margin is not known' if np.isnan(margin) else 'short by'}",
                -margin, None, units.get(name, "1"), "[schedule]",
                "allow more breakpoints, or less hysteresis, or ask for less",
            )  # fmt: skip
    return list(worst.values())


def stretch_words(low: float, high: float) -> str:
    """A stretch of airspeeds, or one, in words."""
    return f"at {low:.4g} m/s" if low == high else f"between {low:.4g} and {high:.4g} m/s"


def _reversals(flown: FlownSchedule) -> list[Finding]:
    """Airspeeds between which folding the sides apart rolls the craft the other way."""
    found = []
    for before, after in flown.roll_reversals:
        state = flown.state(after)
        moment = state.slowing.quantities[ROLL_MOMENT]
        side = "to starboard" if moment > 0.0 else "to port"
        found.append(
            Finding(
                "roll_reversal",
                f"the roll command reverses {stretch_words(before, after)} along the schedule: with"
                f" the starboard tips folded up the craft then rolls {side}; rolling moment",
                abs(moment),
                None,
                "N m",
                "direct solves",
                "keep to one side of the reversal with forbidden_deg",
            )
        )
    return found
