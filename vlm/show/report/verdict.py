"""What the studies decide, in sentences for the report's first screen, each with its error."""

from collections.abc import Iterable
from typing import NamedTuple

from vlm.plain import joined, spans
from vlm.show.airspeed_limits import servo_sentence
from vlm.show.growth import growth_sentences, open_growth
from vlm.show.sentences import (
    dihedral_sentence,
    hinge_sentence,
    levels,
    neutral_sentences,
    open_roll,
    roll_faults,
)
from vlm.show.tables.power_best import best_sentences, symmetric
from vlm.show.text.layout import with_error
from vlm.study.report.data import ReportData
from vlm.verdicts import SIGN_NOT_KNOWN

OPEN = "Not known whether"
"""How the schedule's answer begins where it is not known whether a constraint is kept."""
MOST_SIGNS = 3
"""More signs that are not known are named by their folds alone."""
Sentence = tuple[str, str]
"""A sentence, and the section where its numbers stand."""


class Verdict(NamedTuple):
    """What one study decides.

    Attributes
    ----------
    text : its decision, one sentence
    further : what else it found, in sentences; may be empty
    section : where their numbers stand
    """

    text: str
    further: str
    section: str


def verdicts(data: ReportData) -> list[Verdict]:
    """One of each study, the most costly mistake first: what grows, then worth, the log, the hinge.

    Best settings for power stand last, for their numbers are the report's four figures too.
    """
    makers = (_stability, _roll, _mission, _schedule, _log, _hinge, _power)
    return [found for make in makers if (found := make(data)) is not None]


def condensed(found: list[Verdict], most: int) -> list[Verdict]:
    """Where there are more than so many, top speed and what ends it join the schedule's sentence.

    Both say how the tips should stand, and neither is then folded away.
    """
    by_section = {one.section: one for one in found}
    schedule, power = by_section.get("schedule"), by_section.get("power")
    if len(found) <= most or schedule is None or power is None:
        return found
    text = f"{schedule.text.rstrip('.')}; {power.text[0].lower()}{power.text[1:]}"
    both = schedule._replace(text=text, further=f"{schedule.further} {power.further}".strip())
    return [both if one is schedule else one for one in found if one is not power]


def _verdict(said: Iterable[str], section: str) -> Verdict | None:
    """The first sentence and the others; None where there is nothing to say."""
    first, *others = [one for one in said if one] or [""]
    return Verdict(first, " ".join(others), section) if first else None


def open_questions(data: ReportData) -> list[Sentence]:
    """What is not known, in the same place as what is."""
    return [*_unknown_growth(data), *_unknown_signs(data), *_unknown_roll(data), *_no_fold(data),
            *_worm(data)]  # fmt: skip


def _stability(data: ReportData) -> Verdict | None:
    study = data.lateral
    if study is None:
        return None
    found = [*growth_sentences(study), dihedral_sentence(study, unknown=False),
             *neutral_sentences(study)]  # fmt: skip
    return _verdict(found, "lateral")


def _roll(data: ReportData) -> Verdict | None:
    """What goes wrong in a roll by folding; nothing where nothing does."""
    return None if data.roll is None else _verdict(roll_faults(data.roll), "roll")


def _unknown_roll(data: ReportData) -> list[Sentence]:
    text = "" if data.roll is None else open_roll(data.roll)
    return [(f"{text[0].upper()}{text[1:]}.", "roll")] if text else []


def _unknown_growth(data: ReportData) -> list[Sentence]:
    study = data.lateral
    if study is None:
        return []
    return [(f"Whether it is stable {text}.", "lateral") for text in open_growth(study)]


def _unknown_signs(data: ReportData) -> list[Sentence]:
    study = data.lateral
    if study is None:
        return []
    found: list[Sentence] = []
    known = levels(study)
    open_ = [f for f, level in known.items() if level.dihedral_effect == SIGN_NOT_KNOWN]
    if len(open_) > MOST_SIGNS:
        where = spans(open_, list(known))
        return [(f"The sign of the dihedral effect at {where}.", "lateral")]
    for row, level, body in study.level_flights:
        if row.fold_deg in open_:
            value = with_error(body["Cl_beta"], level.half_width("Cl_beta"))
            fold = row.fold_deg
            text = f"The sign of the dihedral effect at {fold:.3g}°: {value} per radian."
            found.append((text, "lateral"))
    return found


def _mission(data: ReportData) -> Verdict | None:
    """What folding is worth on the mission."""
    found = data.studies.get("mission")
    return None if found is None else _verdict([str(found["answer"])], "mission")


def _schedule(data: ReportData) -> Verdict | None:
    """How the tips should stand."""
    found = data.studies.get("schedule")
    if found is None:
        return None
    return _verdict((one for one in found["answer"] if not one.startswith(OPEN)), "schedule")


def _no_fold(data: ReportData) -> list[Sentence]:
    found = data.studies.get("schedule")
    if found is None:
        return []
    open_ = [one for one in found["answer"] if one.startswith(OPEN)]
    if found["flown"] is not None:
        return [(f"Whether{one.removeprefix(OPEN)}", "schedule") for one in open_]
    return [("Whether any schedule keeps the constraints at every airspeed.", "schedule")]


def _power(data: ReportData) -> Verdict | None:
    """Fastest first: what ends it stands in no other place of the first screen."""
    document = data.studies.get("power")
    if document is None:
        return None
    return _verdict(reversed(best_sentences(document, symmetric(document))), "power")


def _hinge(data: ReportData) -> Verdict | None:
    study = data.hinge
    return (
        None
        if study is None
        else _verdict([hinge_sentence(study), servo_sentence(study.limits)], "hinge")
    )


def _worm(data: ReportData) -> list[Sentence]:
    study = data.hinge
    if study is None:
        return []
    states = {"dry": study.worm.dry, "greased": study.worm.greased}
    open_ = [name for name, state in states.items() if state.verdict == "uncertain"]
    if not open_:
        return []
    return [(f"Whether a {joined(open_)} worm holds a tip by itself.", "hinge")]


def _log(data: ReportData) -> Verdict | None:
    from vlm.log.answer import answered

    found = data.studies.get("log")
    if found is None:
        return None
    said = answered(*found)
    return _verdict((*said.prediction[:1], *said.differences[:1]), "log")
