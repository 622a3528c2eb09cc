"""Which motions grow in level flight, in sentences."""

from typing import TYPE_CHECKING

from vlm.plain import joined, spans
from vlm.show.text.layout import with_error
from vlm.verdicts import SIGN_NOT_KNOWN

if TYPE_CHECKING:
    from vlm.study.lateral.results import LateralStudy, ModeRow, Motions, SettingModes

DEG = " deg"
BLOCKS: "dict[Motions, str]" = {"longitudinal": "in pitch", "lateral": "in roll and yaw"}


def growth_sentences(study: "LateralStudy") -> list[str]:
    """Where modes grow at the airspeed nearest to the study's; nothing where none does."""
    asked = study.asked_modes
    at = {row.airspeed_m_s for row in asked}
    whole = not any(row.reason for row in study.modes if row.airspeed_m_s in at)
    every = "at every fold looked at" if whole else "at every fold looked at that flies level"
    parts = [
        text
        for motions, words in BLOCKS.items()
        if (text := _growing(asked, motions, words, every))
    ]
    if not parts:
        return []
    return [
        f"Unstable in level flight at {asked[0].airspeed_m_s:g} m/s, controls fixed:"
        f" {joined(parts)}; control laws must hold it."
    ]


def open_growth(study: "LateralStudy") -> list[str]:
    """Motions and folds where no mode is known to grow, and one is not known to decay."""
    asked, found = study.asked_modes, []
    for motions, words in BLOCKS.items():
        open_ = []
        for row in asked:
            growths = {mode.growth for mode in row.modes(motions)}
            if SIGN_NOT_KNOWN in growths and "grows" not in growths:
                open_.append(row.fold_left_deg)
        if open_:
            found.append(f"{words} at {spans(open_, [row.fold_left_deg for row in asked], DEG)}")
    return found


def _growing(asked: "list[SettingModes]", motions: "Motions", words: str, every: str) -> str:
    """Where modes grow, and how soon the quickest doubles; empty where none does.

    Parameters
    ----------
    every : the words for all folds asked
    """
    grows = [row for row in asked if _grows(row, motions)]
    if not grows:
        return ""
    folds = [row.fold_left_deg for row in asked]
    where = (
        every
        if len(grows) == len(asked)
        else f"at {spans([row.fold_left_deg for row in grows], folds, DEG)}"
    )
    times = {
        mode.double_time_s: mode
        for row in grows
        for mode in _grows(row, motions)
        if mode.double_time_s is not None
    }
    quickest = f" (quickest: {_doubles(times[min(times)])})" if times else ""
    return f"{words} {where}{quickest}"


def _doubles(mode: "ModeRow") -> str:
    """A mode and how soon it doubles: ln 2 over its growth; both err by the same share."""
    time = mode.double_time_s
    assert time is not None
    half_width = time * mode.real_half_width_1_s / mode.real_1_s
    return f"{mode.name}, doubles in {with_error(time, half_width)} s"


def _grows(row: "SettingModes", motions: "Motions") -> "list[ModeRow]":
    return [mode for mode in row.modes(motions) if mode.growth == "grows"]
