"""Tables of the gusts that take a craft to its load factor: folds down, airspeeds across."""

from collections.abc import Callable, Sequence

from vlm.show.sentences import gust_words
from vlm.show.text.layout import fitted, number, short, with_error
from vlm.study.hinge.results import GustRow

STALL_NOTE = (
    "stall: the wings stall first, at that load factor; a sudden gust can pass it for\na moment"
)


def gusts_table(rows: Sequence[GustRow]) -> str:
    """The sudden gust; where the wings stall first, the load factor they reach."""
    text = _over(rows, gust_words)
    return f"{text}\n{STALL_NOTE}" if any(row.highest_load_factor for row in rows) else text


def eased_table(rows: Sequence[GustRow]) -> str:
    """The gust that builds up over 12.5 chords to the same load factor."""
    text = _over(rows, lambda row: with_error(row.eased_m_s, row.eased_half_width_m_s))
    return f"{text}\n± of the sudden gust alone, without that of the gust alleviation factor"


def _over(rows: Sequence[GustRow], words: Callable[[GustRow], str]) -> str:
    speeds = list(dict.fromkeys(row.airspeed_m_s for row in rows))
    cells = {(row.fold_deg, row.airspeed_m_s): _cell(row, words) for row in rows}
    folds = dict.fromkeys(row.fold_deg for row in rows)
    lines = [[f"{fold:.3g}", *(cells[fold, speed] for speed in speeds)] for fold in folds]
    return fitted(["fold", *(f"at {speed:g} m/s" for speed in speeds)], lines, left=0)


def _cell(row: GustRow, words: Callable[[GustRow], str]) -> str:
    if row.reason is not None:
        return short(row.reason)
    highest = row.highest_load_factor
    return words(row) if highest is None else f"stall {number(highest, 3)}"
