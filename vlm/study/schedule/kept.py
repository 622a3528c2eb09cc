"""What a schedule's study says, worked out once."""

from dataclasses import dataclass
from pathlib import Path

from vlm.description.models import Biplane
from vlm.findings import Finding
from vlm.flight.plan.constraints import constraint_words
from vlm.plain import more_of
from vlm.progress import Progress
from vlm.study.kept_answers import TrimTable, kept_answer
from vlm.study.schedule.breakpoints import schedule_csv
from vlm.study.schedule.document import ScheduleDocument, schedule_document
from vlm.study.schedule.study import ScheduleStudy, schedule_study


@dataclass(frozen=True)
class ScheduleAnswer:
    """What is said of a schedule.

    Attributes
    ----------
    document : the study as plain values
    csv : the controller's file; empty where no schedule can be flown
    violation : what is wrong with the schedule as flown; empty where it keeps every constraint
    findings : warnings
    """

    document: ScheduleDocument
    csv: str
    violation: str
    findings: tuple[Finding, ...]


def schedule_answer(
    craft: Biplane, table: TrimTable, report: Progress | None = None, keep: Path | None = None
) -> ScheduleAnswer:
    """What :func:`vlm.study.schedule.study.schedule_study` says, with its errors.

    With a folder to keep curves in, it is worked out, so that they stand there.
    """

    def worked_out() -> ScheduleAnswer:
        return _said(
            schedule_study(
                craft, folds=table.folds, air=table.air, grid=table.grid, report=report, keep=keep
            )
        )

    if keep is not None:
        return worked_out()
    return kept_answer(ScheduleAnswer, [craft], ("schedule", table), worked_out)


def _said(study: ScheduleStudy) -> ScheduleAnswer:
    return ScheduleAnswer(
        schedule_document(study),
        "" if study.flown is None else schedule_csv(study),
        _violation(study),
        tuple(study.findings),
    )


def _violation(study: ScheduleStudy) -> str:
    """What the schedule does not keep."""
    if study.flown is None:
        return "fewer than two airspeeds allow any fold: no schedule"
    if not study.flown.outside:
        return ""
    said = [
        f"at {s.speed:.4g} m/s {', '.join(map(constraint_words, s.passed))}"
        for s in study.flown.outside
    ]
    more = f" and at {more_of(len(said) - 3, 'airspeed')}" if len(said) > 3 else ""
    return f"the schedule as flown does not keep its constraints: {'; '.join(said[:3])}{more}"
