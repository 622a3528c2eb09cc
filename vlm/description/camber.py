"""Mean lines: NACA four-digit, flat, or read from a CSV file. No numerics here.

The heights and slopes that follow from a mean line are worked out in :mod:`vlm.lattice.camber`.
"""

import csv
import re
from dataclasses import dataclass
from itertools import pairwise
from math import isfinite
from pathlib import Path

from vlm.description.files import read_text
from vlm.errors import InputRefused

ALLOWED = 'NACA four digits such as "2412", "flat", or the path of a CSV file of x/c, z/c'
END_TOLERANCE = 1e-4
FEWEST_POINTS = 3


@dataclass(frozen=True)
class CamberLine:
    """A mean line over the chord, from the leading edge at 0 to the trailing edge at 1.

    Either four-digit, by ``highest`` and ``place``, or tabulated, by ``points``. A flat one has
    neither height nor points.

    Attributes
    ----------
    highest : greatest height over the chord line, in chords [1]
    place : where it stands, in chords from the leading edge; 0 where the line is flat [1]
    points : (x/c, z/c), in the order of x/c; empty for four-digit lines [1]
    """

    highest: float = 0.0
    place: float = 0.0
    points: tuple[tuple[float, float], ...] = ()


def checked_camber(text: str) -> str:
    """The text itself, if it is one of the forms a mean line can be named by.

    Raises
    ------
    ValueError : it is none of them, with what is allowed
    """
    if text == "flat" or text.lower().endswith(".csv"):
        return text
    if not re.fullmatch(r"[0-9]{4}", text):
        raise ValueError(f"a mean line is {ALLOWED}")
    if text[0] != "0" and text[1] == "0":
        raise ValueError(
            "the second digit is the place of the greatest camber in tenths of the chord and"
            " can't be 0 in a cambered line"
        )
    return text


def camber_of(spec: str, folder: Path | None = None) -> CamberLine:
    """The mean line a ``camber`` key names.

    Four digits mpXX: m hundredths of the chord high at p tenths of the chord; the thickness XX
    is not used (I. H. Abbott and A. E. von Doenhoff, Theory of Wing Sections, section 6.4).

    Parameters
    ----------
    spec : four digits, "flat", or a CSV path, relative to ``folder``
    folder : the geometry file's folder; the current one if None

    Raises
    ------
    InputRefused : the CSV file is missing or does not hold a mean line
    ValueError : the text is none of the allowed forms
    """
    text = checked_camber(spec)
    if text == "flat" or text.startswith("0"):
        return CamberLine()
    if not text.lower().endswith(".csv"):
        return CamberLine(highest=int(text[0]) / 100.0, place=int(text[1]) / 10.0)
    path = (folder or Path()) / text
    return CamberLine(points=_checked_points(_rows(path), str(path)))


def _rows(path: Path) -> list[tuple[int, float, float]]:
    """Line number, x/c and z/c of every row; a heading and lines that start with # are left out."""
    rows: list[tuple[int, float, float]] = []
    lines = read_text(path).splitlines()
    for number, cells in enumerate(csv.reader(lines), start=1):
        values = [cell.strip() for cell in cells]
        if not any(values) or values[0].startswith("#"):
            continue
        numbers = [_number(value) for value in values]
        if not rows and all(number is None for number in numbers):
            continue
        if len(numbers) != 2 or any(value is None for value in numbers):
            raise InputRefused(
                f"{path}: line {number}: {','.join(values)!r}; a mean line has two numbers a row,"
                " x/c and z/c, with a comma between them and decimal points"
            )
        rows.append((number, float(values[0]), float(values[1])))
    return rows


def _number(text: str) -> float | None:
    try:
        value = float(text)
    except ValueError:
        return None
    return value if isfinite(value) else None


def _checked_points(
    rows: list[tuple[int, float, float]], name: str
) -> tuple[tuple[float, float], ...]:
    if len(rows) < FEWEST_POINTS:
        raise InputRefused(f"{name}: a mean line needs at least {FEWEST_POINTS} rows of x/c, z/c")
    for (_, before, _), (line, x, _) in pairwise(rows):
        if x <= before:
            raise InputRefused(
                f"{name}: line {line}: x/c = {x:g} after {before:g}; x/c must grow from row to row"
            )
    for (line, x, z), end in ((rows[0], 0.0), (rows[-1], 1.0)):
        if abs(x - end) > END_TOLERANCE or abs(z) > END_TOLERANCE:
            raise InputRefused(
                f"{name}: line {line}: x/c, z/c = {x:g}, {z:g}; a mean line runs from 0, 0 at the"
                " leading edge to 1, 0 at the trailing edge"
            )
    for line, _, z in rows:
        if abs(z) > 0.5:
            raise InputRefused(
                f"{name}: line {line}: z/c = {z:g}; a mean line stays within half a chord"
            )
    return tuple((x, z) for _, x, z in rows)
