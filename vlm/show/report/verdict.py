"""What the studies decide, in sentences for the report's first screen, each with its error."""

from typing import Any

from vlm.show.tables.answer import joined
from vlm.show.tables.layout import number, with_error
from vlm.show.tables.power_best import best_sentences
from vlm.show.tables.sweep_answer import spans
from vlm.study.report_data import ReportData
from vlm.verdicts import SIGN_NOT_KNOWN

BLOCKS = {"longitudinal": "in pitch", "lateral": "in roll and yaw"}
Sentence = tuple[str, str]
"""A sentence, and the section where its numbers stand."""


def verdicts(data: ReportData) -> list[Sentence]:
    """The most costly mistake first: what grows, then best settings, ends of flight, the hinge."""
    makers = (_stability, _mission, _schedule, _power, _hinge, _log)
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
    found = []
    for block, words in BLOCKS.items():
        grows = {
            row["fold_left_deg"]: row
            for row in asked
            if any(mode["growth"] == "grows" for mode in row[block]["modes"])
        }
        if not grows:
            continue
        times = [
            mode["double_time_s"]
            for row in grows.values()
            for mode in row[block]["modes"]
            if mode["growth"] == "grows" and mode["double_time_s"] is not None
        ]
        where = (
            "at every fold looked at"
            if len(grows) == len(asked)
            else f"at {spans(grows, [row['fold_left_deg'] for row in asked])}"
        )
        found.append(
            (
                f"Unstable {words} {where} in level flight at {speed:g} m/s, controls fixed: it"
                f" doubles in {number(min(times), 2)} s at the quickest, and control laws must"
                " hold it.",
                "lateral",
            )
        )
    return [*found, *_dihedral(document)]


def _modes_at(document: Any, speed: float) -> list[Any]:
    known = [row for row in document["modes"] if "reason" not in row]
    if not known:
        return []
    near = min((row["airspeed_m_s"] for row in known), key=lambda one: abs(one - speed))
    return [row for row in known if row["airspeed_m_s"] == near]


def _levels(document: Any) -> dict[float, Any]:
    """Level flight at each fold that has one."""
    rows = {row["fold_deg"]: row.get("level") or {} for row in document["folds"]}
    return {fold: level for fold, level in rows.items() if "dihedral_effect" in level}


def _dihedral(document: Any) -> list[Sentence]:
    levels = _levels(document)
    texts = []
    for word in ("stable", "unstable"):
        folds = [fold for fold, level in levels.items() if level["dihedral_effect"] == word]
        if folds:
            texts.append(f"{word} at {spans(folds, list(levels))}")
    return [(f"Dihedral effect: {', '.join(texts)}.", "lateral")] if texts else []


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
    found = []
    for fold, level in _levels(document).items():
        if level["dihedral_effect"] == SIGN_NOT_KNOWN:
            parts = [level[kind].get("Cl_beta") for kind in ("errors", "spread")]
            width = sum(part for part in parts if part is not None) if any(parts) else None
            value = with_error(level["body"]["Cl_beta"], width)
            text = f"The sign of the dihedral effect at {fold:.3g}°: {value} per radian."
            found.append((text, "lateral"))
    return found


def _mission(data: ReportData) -> list[Sentence]:
    document = data.studies.get("mission")
    return [] if document is None else [(str(document["answer"]), "mission")]


def _schedule(data: ReportData) -> list[Sentence]:
    found = data.studies.get("schedule")
    return [] if found is None else [(" ".join(found["document"]["answer"]), "schedule")]


def _no_fold(data: ReportData) -> list[Sentence]:
    found = data.studies.get("schedule")
    if found is None or found["document"]["flown"] is not None:
        return []
    return [("Whether any schedule keeps the constraints at every airspeed.", "schedule")]


def symmetric(document: Any) -> dict[str, Any]:
    """Settings of a power study with both tips alike; all of them if there is none."""
    every = document["configurations"]
    alike = {n: one for n, one in every.items() if one["fold_left_deg"] == one["fold_right_deg"]}
    return alike or dict(every)


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
    rows = [row for row in document["moments"] if row.get("share_of_hinge_limit") is not None]
    texts = []
    if rows:
        worst = max(rows, key=lambda row: row["share_of_hinge_limit"])
        moment = worst["hinges"][worst["most_loaded_hinge"]]["worst_N_m"]
        texts.append(
            f"Largest hinge moment {number(abs(moment), 3)} N m, at {worst['fold_deg']:.3g}°,"
            f" {worst['airspeed_m_s']:g} m/s and load factor"
            f" {number(worst['reached_load_factor'], 2)}:"
            f" {100.0 * worst['share_of_hinge_limit']:.0f} % of the hinge's limit."
        )
    moved = [
        f"{found['airspeed_m_s']:.0f} m/s with a {name} worm"
        for name, found in (document["limits"].get("moved") or {}).items()
        if found and found["airspeed_m_s"] is not None
    ]
    if moved:
        texts.append(f"The servo moves a tip up to {joined(moved)}.")
    return [(" ".join(texts), "hinge")] if texts else []


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
    return [(" ".join(answered(*found).sentences[:2]), "log")]
