"""What the studies decide, in sentences for the report's first screen, each with its error."""

from typing import Any

from vlm.show.sentences import dihedral_sentence, hinge_sentence, levels, servo_sentence
from vlm.show.tables.answer import joined
from vlm.show.tables.layout import number, with_error
from vlm.show.tables.power_best import best_sentences, symmetric
from vlm.show.tables.sweep_answer import spans
from vlm.study.report_data import ReportData
from vlm.verdicts import SIGN_NOT_KNOWN

BLOCKS = {"longitudinal": "in pitch", "lateral": "in roll and yaw"}
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
    document = data.studies.get("lateral")
    if not document:
        return []
    speed = document["state"]["airspeed_m_s"]
    asked = _modes_at(document, speed)
    parts = [text for block, words in BLOCKS.items() if (text := _growing(asked, block, words))]
    found = []
    if parts:
        found.append(
            f"Unstable in level flight at {speed:g} m/s, controls fixed: {joined(parts)}; control"
            " laws must hold it."
        )
    found += [text for text in (dihedral_sentence(document, unknown=False),) if text]
    return [(" ".join(found), "lateral")] if found else []


def _growing(asked: list[Any], block: str, words: str) -> str:
    """Where modes of a block grow, and how soon the quickest doubles; empty where none does."""
    grows = [row for row in asked if _grows(row[block])]
    if not grows:
        return ""
    every = [row["fold_left_deg"] for row in asked]
    where = (
        "at every fold looked at"
        if len(grows) == len(asked)
        else f"at {spans([row['fold_left_deg'] for row in grows], every)}"
    )
    times = [time for row in grows for time in _grows(row[block]) if time is not None]
    quickest = f" (doubles in {number(min(times), 2)} s at the quickest)" if times else ""
    return f"{words} {where}{quickest}"


def _grows(block: Any) -> list[float | None]:
    return [mode["double_time_s"] for mode in block["modes"] if mode["growth"] == "grows"]


def _modes_at(document: Any, speed: float) -> list[Any]:
    known = [row for row in document["modes"] if "reason" not in row]
    if not known:
        return []
    near = min((row["airspeed_m_s"] for row in known), key=lambda one: abs(one - speed))
    return [row for row in known if row["airspeed_m_s"] == near]


def _unknown_growth(data: ReportData) -> list[Sentence]:
    """Folds where no mode is known to grow, and one is not known to decay."""
    document = data.studies.get("lateral")
    if not document:
        return []
    asked = _modes_at(document, document["state"]["airspeed_m_s"])
    found = []
    for block, words in BLOCKS.items():
        open_ = []
        for row in asked:
            growths = {mode["growth"] for mode in row[block]["modes"]}
            if SIGN_NOT_KNOWN in growths and "grows" not in growths:
                open_.append(row["fold_left_deg"])
        if open_:
            where = spans(open_, [row["fold_left_deg"] for row in asked])
            found.append((f"Whether it is stable {words} at {where}.", "lateral"))
    return found


def _unknown_signs(data: ReportData) -> list[Sentence]:
    document = data.studies.get("lateral")
    if not document:
        return []
    found: list[Sentence] = []
    known = levels(document)
    open_ = [f for f, level in known.items() if level["dihedral_effect"] == SIGN_NOT_KNOWN]
    if len(open_) > MOST_SIGNS:
        where = spans(open_, list(known))
        return [(f"The sign of the dihedral effect at {where}.", "lateral")]
    for fold, level in known.items():
        if fold in open_:
            parts = [level[kind].get("Cl_beta") for kind in ("errors", "spread")]
            width = sum(part for part in parts if part is not None) if any(parts) else None
            value = with_error(level["body"]["Cl_beta"], width)
            text = f"The sign of the dihedral effect at {fold:.3g}°: {value} per radian."
            found.append((text, "lateral"))
    return found


def _worth(data: ReportData) -> list[Sentence]:
    """What folding is worth on the mission, and how the tips should stand for it."""
    mission, found = data.studies.get("mission"), data.studies.get("schedule")
    said = [] if mission is None else [str(mission["answer"])]
    said += [] if found is None else list(found["document"]["answer"])
    return [(" ".join(said), "schedule" if mission is None else "mission")] if said else []


def _no_fold(data: ReportData) -> list[Sentence]:
    found = data.studies.get("schedule")
    if found is None or found["document"]["flown"] is not None:
        return []
    return [("Whether any schedule keeps the constraints at every airspeed.", "schedule")]


def _power(data: ReportData) -> list[Sentence]:
    document = data.studies.get("power")
    if document is None:
        return []
    found = best_sentences(document, symmetric(document))
    return [(" ".join(found), "power")] if found else []


def _hinge(data: ReportData) -> list[Sentence]:
    document = data.studies.get("hinge")
    if not document:
        return []
    said = " ".join(one for one in (hinge_sentence(document), servo_sentence(document)) if one)
    return [(said, "hinge")] if said else []


def _worm(data: ReportData) -> list[Sentence]:
    document = data.studies.get("hinge")
    if not document:
        return []
    open_ = [n for n in ("dry", "greased") if document["worm"][n]["verdict"] == "uncertain"]
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
