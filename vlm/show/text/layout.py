"""Tables for people: aligned columns, units in the heads, no more digits than mean something."""

import math
from collections.abc import Sequence
from typing import TypeGuard

from vlm.plain import rounded, second_digit
from vlm.verdicts import reach

WIDTH = 80
"""Columns of a page of text."""
ROUNDING = 1e-9
"""Share of a value below which a half-width is that of rounding."""


def is_known(value: float | None) -> TypeGuard[float]:
    """Whether there is a number at all."""
    return value is not None and math.isfinite(value)


def number(value: float | None, digits: int = 4) -> str:
    """A number with ``digits`` significant digits; a dash where there is none."""
    if not is_known(value):
        return "-"
    if value == 0.0 or abs(value) < 1e-12:
        return "0"
    size = math.floor(math.log10(abs(value)))
    if size < -4 or size >= 6:
        return f"{value:.{digits - 1}e}"
    return f"{value:.{max(0, digits - 1 - size)}f}"


def small(value: float | None, places: int = 2) -> str:
    """A number that means nothing beyond some decimal places, such as a loss of power.

    A dash where there is none; "< 0.01" where it is positive and smaller than is shown.
    """
    if not is_known(value):
        return "-"
    least = 10.0**-places
    return f"< {least:.{places}f}" if 0.0 < value < least else f"{value:z.{places}f}"


def with_error(value: float | None, half_width: float | None) -> str:
    """A number beside the half-width of its error, both to the digit that the error allows."""
    if not is_known(value):
        return "-"
    if not is_known(half_width):
        return number(value, 3)
    if half_width < max(1e-12, ROUNDING * abs(value)):
        return number(value)
    places = second_digit(half_width)
    if places > 7 and half_width < 1e-6 * abs(value):
        return f"{number(value, 6)} ± {half_width:.1e}"
    if places > 7 and abs(value) < 1e-3:
        size = math.floor(math.log10(max(abs(value), half_width)))
        parts = value / 10.0**size, half_width / 10.0**size
        return f"({with_error(*parts)})e{size}"
    return f"{rounded(value, places)} ± {rounded(half_width, places)}"


def with_interval(value: float | None, ends: Sequence[float | None] | None) -> str:
    """A value ± the way to the farther end of its interval: what is printed holds all of it."""
    if value is None or ends is None or ends[0] is None or ends[1] is None:
        return number(value, 3)
    return with_error(value, reach(value, (ends[0], ends[1])))


def table(heads: Sequence[str], rows: Sequence[Sequence[str]], *, left: int = 1) -> str:
    """Columns aligned: the first ``left`` to the left, the others to the right.

    Two spaces stand between columns; one where the page would not hold two.
    """
    widths = _widths(heads, rows)
    gap = " " * (2 if sum(widths) + 2 * (len(widths) - 1) <= WIDTH else 1)

    def line(cells: Sequence[str]) -> str:
        parts = [
            cell.ljust(width) if i < left else cell.rjust(width)
            for i, (cell, width) in enumerate(zip(cells, widths, strict=True))
        ]
        return gap.join(parts).rstrip()

    ruler = gap.join("-" * width for width in widths).rstrip()
    return "\n".join([line(heads), ruler, *(line(row) for row in rows)])


def _widths(heads: Sequence[str], rows: Sequence[Sequence[str]]) -> list[int]:
    return [max(len(str(row[i])) for row in [heads, *rows]) for i in range(len(heads))]


def fitted(
    heads: Sequence[str], rows: Sequence[Sequence[str]], *, left: int = 1, repeated: int = 1
) -> str:
    """As :func:`table`, in as many tables below each other as the page's width asks for.

    Parameters
    ----------
    repeated : how many columns stand at the front of each table
    """
    widths = _widths(heads, rows)
    front = list(range(repeated))
    parts: list[list[int]] = [[]]
    for column in range(repeated, len(heads)):
        wider = [*front, *parts[-1], column]
        if parts[-1] and sum(widths[i] for i in wider) + len(wider) - 1 > WIDTH:
            parts.append([])
        parts[-1].append(column)
    chosen = [[*front, *part] for part in parts]
    return "\n\n".join(
        table([heads[i] for i in part], [[row[i] for i in part] for row in rows], left=left)
        for part in chosen
    )


def cut(text: str, widest: int) -> str:
    """A text no longer than so many characters, cut in the middle where it is."""
    if len(text) <= widest:
        return text
    front = (widest - 2) // 2
    return f"{text[:front]}...{text[len(text) - (widest - 3 - front) :]}"


def section(title: str, body: str) -> str:
    """A titled block of text."""
    return f"{title}\n{body}\n"


def short(reason: str) -> str:
    """A reason for a table's cell: no longer than a column of numbers can bear."""
    if "cannot carry the craft" in reason:
        return "too slow"
    if "; the limits allow" in reason:
        return "beyond the fold's limits"
    return reason if len(reason) <= 40 else f"{reason[:37]}..."
