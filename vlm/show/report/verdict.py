"""What the studies decide, in sentences for the report's first screen, each with its error."""

from vlm.show.sentences import dihedral_sentence, hinge_sentence, levels, servo_sentence
from vlm.show.tables.answer import joined
from vlm.show.tables.layout import number, with_error
from vlm.show.tables.power_best import best_sentences, symmetric
from vlm.show.tables.sweep_answer import spans
from vlm.study.lateral_results import LateralStudy, Motions, SettingModes
from vlm.study.report_data import ReportData
from vlm.verdicts import SIGN_NOT_KNOWN

BLOCKS: dict[Motions, str] = {"longitudinal": "in pitch", "lateral": "in roll and yaw"}
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
    speed = study.state["airspeed_m_s"]
    asked = _modes_at(study, speed)
    parts = [text for motions, words in BLOCKS.items() if (text := _growing(asked, motions, words))]
    found = []
    if parts:
        found.append(
            f"Unstable in level flight at {speed:g} m/s, controls fixed: {joined(parts)}; control"
            " laws must hold it."
        )
    found += [text for text in (dihedral_sentence(study, unknown=False),) if text]
    return [(" ".join(found), "lateral")] if found else []


def _growing(asked: list[SettingModes], motions: Motions, words: str) -> str:
    """Where modes grow, and how soon the quickest doubles; empty where none does."""
    grows = [row for row in asked if _grows(row, motions)]
    if not grows:
        return ""
    every = [row.fold_left_deg for row in asked]
    where = (
        "at every fold looked at"
        if len(grows) == len(asked)
        else f"at {spans([row.fold_left_deg for row in grows], every)}"
    )
    times = [time for row in grows for time in _grows(row, motions) if time is not None]
    quickest = f" (doubles in {number(min(times), 2)} s at the quickest)" if times else ""
    return f"{words} {where}{quickest}"


def _grows(row: SettingModes, motions: Motions) -> list[float | None]:
    return [mode.double_time_s for mode in row.modes(motions) if mode.growth == "grows"]


def _modes_at(study: LateralStudy, speed: float) -> list[SettingModes]:
    known = study.known_modes
    if not known:
        return []
    near = min((row.airspeed_m_s for row in known), key=lambda one: abs(one - speed))
    return [row for row in known if row.airspeed_m_s == near]


def _unknown_growth(data: ReportData) -> list[Sentence]:
    """Folds where no mode is known to grow, and one is not known to decay."""
    study = data.lateral
    if study is None:
        return []
    asked = _modes_at(study, study.state["airspeed_m_s"])
    found = []
    for motions, words in BLOCKS.items():
        open_ = []
        for row in asked:
            growths = {mode.growth for mode in row.modes(motions)}
            if SIGN_NOT_KNOWN in growths and "grows" not in growths:
                open_.append(row.fold_left_deg)
        if open_:
            where = spans(open_, [row.fold_left_deg for row in asked])
            found.append((f"Whether it is stable {words} at {where}.", "lateral"))
    return found


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
