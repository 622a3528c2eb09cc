"""What the studies decide, in sentences for the report's first screen, each with its error."""

from vlm.show.growth import growth_sentences, open_growth
from vlm.show.sentences import (
    dihedral_sentence,
    hinge_sentence,
    levels,
    neutral_sentences,
    servo_sentence,
)
from vlm.show.tables.answer import joined
from vlm.show.tables.layout import with_error
from vlm.show.tables.power_best import best_sentences, symmetric
from vlm.show.tables.sweep_answer import spans
from vlm.study.report_data import ReportData
from vlm.verdicts import SIGN_NOT_KNOWN

MOST_SIGNS = 3
"""More signs that are not known are named by their folds alone."""
Sentence = tuple[str, str]
"""A sentence, and the section where its numbers stand."""


def verdicts(data: ReportData) -> list[Sentence]:
    """The most costly mistake first: what grows, then best settings, ends of flight, the hinge."""
    makers = (_stability, _worth, _power, _hinge, _log)
    return [sentence for make in makers for sentence in make(data)]


def open_questions(data: ReportData) -> list[Sentence]:
    """What is not known, in the same place as what is."""
    return [*_unknown_growth(data), *_unknown_signs(data), *_no_fold(data), *_worm(data)]


def _stability(data: ReportData) -> list[Sentence]:
    study = data.lateral
    if study is None:
        return []
    found = [*growth_sentences(study), dihedral_sentence(study, unknown=False),
             *neutral_sentences(study)]  # fmt: skip
    return [(" ".join(text for text in found if text), "lateral")] if any(found) else []


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


def _worth(data: ReportData) -> list[Sentence]:
    """What folding is worth on the mission, and how the tips should stand for it."""
    mission, found = data.studies.get("mission"), data.studies.get("schedule")
    said = [] if mission is None else [str(mission["answer"])]
    said += [] if found is None else list(found["answer"])
    return [(" ".join(said), "schedule" if mission is None else "mission")] if said else []


def _no_fold(data: ReportData) -> list[Sentence]:
    found = data.studies.get("schedule")
    if found is None or found["flown"] is not None:
        return []
    return [("Whether any schedule keeps the constraints at every airspeed.", "schedule")]


def _power(data: ReportData) -> list[Sentence]:
    document = data.studies.get("power")
    if document is None:
        return []
    found = best_sentences(document, symmetric(document))
    return [(" ".join(found), "power")] if found else []


def _hinge(data: ReportData) -> list[Sentence]:
    study = data.hinge
    if study is None:
        return []
    said = " ".join(one for one in (hinge_sentence(study), servo_sentence(study)) if one)
    return [(said, "hinge")] if said else []


def _worm(data: ReportData) -> list[Sentence]:
    study = data.hinge
    if study is None:
        return []
    states = {"dry": study.worm.dry, "greased": study.worm.greased}
    open_ = [name for name, state in states.items() if state.verdict == "uncertain"]
    if not open_:
        return []
    return [(f"Whether a {joined(open_)} worm holds a tip by itself.", "hinge")]


def _log(data: ReportData) -> list[Sentence]:
    from vlm.log.answer import answered

    found = data.studies.get("log")
    if found is None:
        return []
    said = answered(*found)
    return [(" ".join((*said.prediction[:1], *said.differences[:1])), "log")]
