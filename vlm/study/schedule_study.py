"""The study behind ``foldspan schedule``: from a file to its schedule, as one document."""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from vlm.air import Air
from vlm.cautions import SHORT_CAUTION
from vlm.description.models import Biplane
from vlm.description.schedule import Schedule
from vlm.errors import ComputationFailed, InputRefused
from vlm.flight.plan.schedule import FlownSchedule, SchedulePoint, flown_schedule, ideal_schedule
from vlm.flight.plan.schedule_limits import schedule_limits
from vlm.flight.trim.power_book import PowerBook, fold_grid, power_book
from vlm.lattice.cellule import Grid
from vlm.plain import without_nan
from vlm.study.kept_trims import kept_trims

FOLDS = 11
ASSUMED = (
    "steady, level, straight flight; both sides folded alike; stability, rolling moment and folding"
    " rate from the lattice in the free stream at each trim's angle of attack"
)
Report = Callable[[str, int, int], None]


@dataclass(frozen=True)
class ScheduleStudy:
    """A schedule with the trims it was made from."""

    book: PowerBook
    ideal: list[SchedulePoint]
    flown: FlownSchedule | None
    schedule: Schedule


def schedule_study(
    craft: Biplane,
    *,
    folds: int = FOLDS,
    air: Air | None = None,
    grid: Grid | None = None,
    report: Report | None = None,
    keep: Path | None = None,
) -> ScheduleStudy:
    """Best fold at every airspeed of the file's [schedule], and the schedule as flown.

    Parameters
    ----------
    folds : number of folds in the table of trims
    report : told the stage, what is done of it, and all there is
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
    limits = schedule_limits(book, schedule)
    ideal = ideal_schedule(book, limits, report=stage("direct trims"))
    if not any(np.isfinite(point.fold_deg) for point in ideal):
        raise ComputationFailed(
            f"no airspeed of the schedule allows any fold; at {ideal[-1].speed:g} m/s:"
            f" {ideal[-1].reason}"
        )
    return ScheduleStudy(book, ideal, flown_schedule(book, limits, ideal, schedule), schedule)


def schedule_document(study: ScheduleStudy) -> dict[str, Any]:
    """The study as plain values: the ideal, the schedule as flown, what was assumed."""
    flown = study.flown
    document = {
        "title": study.book.craft.title,
        "assumed": ASSUMED,
        "caution": SHORT_CAUTION,
        "folds_deg": study.book.folds_deg,
        "ideal": [_row(study, i, point) for i, point in enumerate(study.ideal)],
        "flown": None
        if flown is None
        else {
            "airspeed_m_s": flown.speeds,
            "fold_deg": flown.folds_deg,
            "hysteresis_m_s": flown.hysteresis,
            "mean_loss_percent": 100.0 * flown.mean_loss,
            "worst_loss_percent": 100.0 * flown.worst_loss,
        },
    }
    return without_nan(document)  # type: ignore[no-any-return]


def _row(study: ScheduleStudy, index: int, point: SchedulePoint) -> dict[str, Any]:
    flown = study.flown
    return {
        "airspeed_m_s": point.speed,
        "fold_deg": point.fold_deg,
        "electrical_power_W": point.power,
        "direct_power_W": point.direct_power,
        "flat_from_deg": point.flat_deg[0],
        "flat_to_deg": point.flat_deg[1],
        "ties_deg": list(point.ties),
        "active": list(point.active),
        "forbidden_by": point.reason,
        "flown_fold_deg": None if flown is None else flown.fold(point.speed),
        "flown_loss_W": None if flown is None else float(flown.losses[index]),
        "flown_outside": None if flown is None else bool(flown.outside[index]),
    }


def schedule_csv(study: ScheduleStudy) -> str:
    """Breakpoints for a flight controller: airspeed and fold, slowing down and speeding up."""
    lines = [f"# {study.book.craft.title}: fold schedule. {SHORT_CAUTION}"]
    lines.append("airspeed_slowing_m_s,airspeed_speeding_m_s,fold_deg")
    flown = study.flown
    if flown is not None:
        for speed, fold in zip(flown.speeds, flown.folds_deg, strict=True):
            lines.append(f"{speed:.3f},{speed + flown.hysteresis:.3f},{fold:.2f}")
    return "\n".join(lines) + "\n"
