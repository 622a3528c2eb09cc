"""Mean lines: NACA four-digit, flat, or read from a file of its own or of a contour. No numerics.

The heights and slopes that follow from a mean line are worked out in :mod:`vlm.lattice.camber`.
"""

import re
from dataclasses import dataclass
from itertools import pairwise
from math import isfinite
from pathlib import Path

from vlm.description.contour import Contour, contour_of, is_contour, thickness
from vlm.description.files import read_text
from vlm.description.names import cut
from vlm.errors import InputRefused

ALLOWED = (
    'NACA four digits such as "2412", "flat", or the path of a file of x/c, z/c (.csv, .dat, .txt)'
)
ENDINGS = (".csv", ".dat", ".txt")
END_TOLERANCE = 1e-4
FEWEST_POINTS = 3


@dataclass(frozen=True)
class CamberLine:
    """A mean line over the chord, from the leading edge at 0 to the trailing edge at 1.

    Either four-digit, by ``highest`` and ``place``, or tabulated, by ``points``, or that of a
    ``contour``. A flat one has none of them.

    Attributes
    ----------
    highest : largest height over the chord line, in chords [1]
    place : where it stands, in chords from the leading edge; 0 where the line is flat [1]
    points : (x/c, z/c), in the order of x/c; empty for four-digit lines [1]
    contour : the section whose mean line it is
    """

    highest: float = 0.0
    place: float = 0.0
    points: tuple[tuple[float, float], ...] = ()
    contour: Contour | None = None


def is_table(spec: object) -> bool:
    """Whether a ``camber`` key names a file."""
    return isinstance(spec, str) and spec.lower().endswith(ENDINGS)


def checked_camber(text: str) -> str:
    """The text itself, if it is one of the forms a mean line can be named by.

    Raises
    ------
    ValueError : it is none of them, with what is allowed
    """
    if text == "flat" or is_table(text):
        return text
    if not re.fullmatch(r"[0-9]{4}", text):
        raise ValueError(f"a mean line is {ALLOWED}")
    if text[0] != "0" and text[1] == "0":
        raise ValueError(
            "the second digit is the place of the highest camber in tenths of the chord and"
            " can't be 0 in a cambered line"
        )
    return text


def camber_of(spec: str, folder: Path | None = None) -> CamberLine:
    """The mean line a ``camber`` key names.

    Four digits mpXX: m hundredths of the chord high at p tenths of the chord; the thickness XX
    is not used (I. H. Abbott and A. E. von Doenhoff, Theory of Wing Sections, section 6.4).

    Parameters
    ----------
    spec : four digits, "flat", or a path, relative to ``folder``
    folder : the geometry file's folder; the current one if None

    Raises
    ------
    InputRefused : the file is missing or holds neither a mean line nor a contour
    ValueError : the text is none of the allowed forms
    """
    text = checked_camber(spec)
    if text == "flat" or text.startswith("0"):
        return CamberLine()
    if not is_table(text):
        return CamberLine(highest=int(text[0]) / 100.0, place=int(text[1]) / 10.0)
    path = (folder or Path()) / text
    rows = _rows(path)
    if len(rows) >= FEWEST_POINTS and is_contour(rows):
        return CamberLine(contour=contour_of(rows, str(path)))
    return CamberLine(points=_checked_points(rows, str(path)))


def thickness_of(spec: str, folder: Path | None = None) -> float | None:
    """Thickness over the chord of what a ``camber`` key names; None where it has none [1].

    The last two of four digits are hundredths of the chord (Abbott and von Doenhoff, section 6.4).
    """
    if is_table(spec):
        contour = camber_of(spec, folder).contour
        return None if contour is None else thickness(contour)
    return None if spec == "flat" else int(spec[2:]) / 100.0


def _rows(path: Path) -> list[tuple[int, float, float]]:
    """Line number, x/c and z/c of every row; a heading and lines that start with # are left out."""
    rows: list[tuple[int, float, float]] = []
    for line, text in enumerate(read_text(path).splitlines(), start=1):
        values = _cells(text)
        if not any(values) or values[0].startswith("#"):
            continue
        numbers = [_number(value) for value in values]
        if not rows and None in numbers:
            continue  # what the section or its columns are called
        x, z = numbers if len(numbers) == 2 else (None, None)
        if x is None or z is None:
            raise InputRefused(
                f"{path}: line {line}: {cut(text.strip())!r}; a mean line or contour has two"
                " numbers a row, x/c and z/c, with decimal points where a comma parts them"
            )
        rows.append((line, x, z))
    return rows


def _cells(text: str) -> list[str]:
    """The parts of a row: between semicolons or tabs, else commas, else blanks.

    Where semicolons, tabs or blanks part them, a decimal mark may be a comma.
    """
    mark = next((mark for mark in (";", "\t") if mark in text.strip()), None)
    if mark is None and len(text.split()) == 2:
        return [cell.rstrip(",").replace(",", ".") for cell in text.split()]
    if mark is None:
        return [cell.strip() for cell in (text.split(",") if "," in text else text.split())]
    return [cell.strip().replace(",", ".") for cell in text.strip().split(mark)]


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
