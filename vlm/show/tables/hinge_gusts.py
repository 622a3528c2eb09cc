"""Tables of the gusts that take a craft to its load factor: folds down, airspeeds across."""

from collections.abc import Callable, Sequence
from dataclasses import replace

from vlm.show.sentences import eased_words, gust_words
from vlm.show.text.layout import fitted, is_known, number, short
from vlm.study.hinge.results import GustRow

STALL = "stall"
NOTES = {
    True: "stall: the wings stall first, at that load factor; a sudden gust can pass it for\n"
    "a moment",
    False: "deg: the most up to that angle of attack; without sections no stall is known",
}
"""Of load factors that no gust passes, by whether the stall is known."""
LEAST_NOTE = (
    "in brackets: the least gust that may reach the load factor, all that sections\n"
    "change past stall counted in; whether any does is not known"
)


def gusts_table(rows: Sequence[GustRow], stall: str) -> str:
    """The sudden gust; where none reaches the load factor, the one that the wings reach.

    Parameters
    ----------
    stall : of :attr:`HingeStudy.stall_words`
    """
    text = _over(rows, gust_words, stall)
    if any(row.highest_load_factor for row in rows):
        text += f"\n{NOTES[stall == STALL]}"
    if any(row.least_m_s is not None and not is_known(row.half_width_m_s) for row in rows):
        text += f"\n{LEAST_NOTE}"
    return text


def eased_table(rows: Sequence[GustRow], stall: str) -> str:
    """The gust that builds up over 12.5 chords to the same load factor."""
    # The brackets are those of the sudden gust.
    return _over([replace(row, least_m_s=None) for row in rows], eased_words, stall)


def _over(rows: Sequence[GustRow], words: Callable[[GustRow], str], stall: str) -> str:
    speeds = list(dict.fromkeys(row.airspeed_m_s for row in rows))
    cells = {(row.fold_deg, row.airspeed_m_s): _cell(row, words, stall) for row in rows}
    folds = dict.fromkeys(row.fold_deg for row in rows)
    lines = [[f"{fold:.3g}", *(cells[fold, speed] for speed in speeds)] for fold in folds]
    return fitted(["fold", *(f"at {speed:g} m/s" for speed in speeds)], lines, left=0)


def _cell(row: GustRow, words: Callable[[GustRow], str], stall: str) -> str:
    if row.reason is not None:
        return short(row.reason)
    highest = row.highest_load_factor
    if highest is None:
        return words(row)
    may = "" if row.least_m_s is None else f" ({number(row.least_m_s, 2)})"
    return f"{stall} {number(highest, 3)}{may}"
