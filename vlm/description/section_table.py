"""Reading a section's table: CSV with the columns alpha_deg, cl, cd, cm, reynolds.

A folder stands for all the tables in it, one curve or more each. Where a table has no column
reynolds, the number behind "re" in the name of its file is taken: re100000.csv, smooth_Re_2e5.csv,
re80k.txt.
"""

import re
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

from vlm.description.number_table import number_rows, refuse_huge
from vlm.errors import InputRefused

COLUMNS = ("alpha_deg", "cl", "cd", "cm", "reynolds")
NEEDED = ("alpha_deg", "cl", "cd")
# Sections reach |cl| = 4 with flaps and cd = 2 across the flow; no Reynolds number reaches 1e10.
LARGEST = {"cl": 100.0, "cd": 100.0, "cm": 100.0, "reynolds": 1e10}
FEWEST_ROWS = 3
ENDINGS = (".csv", ".txt", ".dat")
_NAMED = re.compile(
    r"(?<![a-z])re[\s_=-]*(\d+(?:\.\d+)?(?:e\+?\d+)?)(k)?(?![a-z0-9])", re.IGNORECASE
)


@dataclass(frozen=True)
class SectionCurve:
    """One section at one Reynolds number; tuples in the order of the angles.

    Attributes
    ----------
    reynolds : Reynolds number on the chord; None where the file gives none [1]
    alpha_deg : angles of attack against the chord line, growing [deg]
    cl, cd, cm : lift, drag, moment about the quarter chord [1]
    """

    reynolds: float | None
    alpha_deg: tuple[float, ...]
    cl: tuple[float, ...]
    cd: tuple[float, ...]
    cm: tuple[float, ...]


def section_curves(table: str, folder: Path | None = None) -> tuple[SectionCurve, ...]:
    """Curves of a section's table, in the order of their Reynolds numbers.

    A line that starts with # is left out. The first other line names the columns; cm may be left
    out (0), and so may reynolds where there is one curve only.

    Parameters
    ----------
    table : path of a CSV file, or of a folder of such files, relative to ``folder``
    folder : the geometry file's folder; the current one if None

    Raises
    ------
    InputRefused : the file is missing or does not hold a section
    """
    path = (folder or Path()) / table
    if path.is_dir():
        return _folder_curves(path)
    ordered = _grouped(path)
    return tuple(_curve(str(path), reynolds, rows) for reynolds, rows in ordered)


def _grouped(path: Path) -> list[tuple[float | None, list[tuple[int, dict[str, float]]]]]:
    """Rows of one table by Reynolds number, rising."""
    grouped: dict[float | None, list[tuple[int, dict[str, float]]]] = {}
    for line, row in number_rows(path, COLUMNS, NEEDED, "a section"):
        _check_row(row, f"{path}: line {line}")
        grouped.setdefault(row.get("reynolds"), []).append((line, row))
    if not grouped:
        raise InputRefused(f"{path}: a section needs at least {FEWEST_ROWS} rows of numbers")
    return sorted(grouped.items(), key=lambda item: item[0] or 0.0)


def _folder_curves(folder: Path) -> tuple[SectionCurve, ...]:
    """Curves of all tables in a folder, in the order of their Reynolds numbers."""
    paths = sorted(one for one in folder.iterdir() if one.suffix.lower() in ENDINGS)
    if not paths:
        raise InputRefused(f"{folder}: no table in this folder; {', '.join(ENDINGS)} are read")
    found: dict[float, tuple[Path, SectionCurve]] = {}
    for path in paths:
        for given, rows in _grouped(path):
            reynolds = reynolds_of_name(path.name) if given is None else given
            if reynolds is None:
                raise InputRefused(
                    f"{path}: no column reynolds, and no number behind re in its name, as in"
                    " re100000.csv"
                )
            if reynolds in found:
                raise InputRefused(
                    f"{path}: reynolds = {reynolds:g} stands in {found[reynolds][0].name} too"
                )
            found[reynolds] = path, _curve(str(path), reynolds, rows)
    return tuple(found[reynolds][1] for reynolds in sorted(found))


def reynolds_of_name(name: str) -> float | None:
    """The Reynolds number behind "re" in a file's name; None where there is none."""
    match = _NAMED.search(Path(name).stem)
    if match is None:
        return None
    return float(match[1]) * (1000.0 if match[2] else 1.0)


def one_table(folder: Path) -> str:
    """All tables of a folder as the text of one, which holds the same curves."""
    lines = [",".join(COLUMNS)]
    for curve in _folder_curves(folder):
        rows = zip(curve.alpha_deg, curve.cl, curve.cd, curve.cm, strict=True)
        lines += [",".join(repr(value) for value in (*row, curve.reynolds)) for row in rows]
    return "\n".join(lines) + "\n"


def _check_row(row: dict[str, float], place: str) -> None:
    refuse_huge(row, LARGEST, place)
    if abs(row["alpha_deg"]) > 180.0:
        raise InputRefused(
            f"{place}: alpha_deg = {row['alpha_deg']:g}; it must lie between -180 and 180 degrees"
        )
    if row["cd"] < 0.0:
        raise InputRefused(f"{place}: cd = {row['cd']:g}; a drag can't be negative")
    if row.get("reynolds", 1.0) <= 0.0:
        raise InputRefused(f"{place}: reynolds = {row['reynolds']:g}; it must be positive")


def _curve(
    name: str, reynolds: float | None, rows: list[tuple[int, dict[str, float]]]
) -> SectionCurve:
    at = "" if reynolds is None else f" at reynolds = {reynolds:g}"
    if len(rows) < FEWEST_ROWS:
        raise InputRefused(f"{name}: a section needs at least {FEWEST_ROWS} rows{at}")
    rows = sorted(rows, key=lambda item: item[1]["alpha_deg"])
    for (_, before), (line, row) in pairwise(rows):
        if row["alpha_deg"] == before["alpha_deg"]:
            raise InputRefused(
                f"{name}: line {line}: alpha_deg = {row['alpha_deg']:g} stands twice{at}"
            )
    low, high = rows[0][1]["alpha_deg"], rows[-1][1]["alpha_deg"]
    if not low < 0.0 < high:
        raise InputRefused(
            f"{name}: the angles{at} run from {low:g} to {high:g} degrees; they must reach to both"
            " sides of zero"
        )
    columns = {key: tuple(row.get(key, 0.0) for _, row in rows) for key in COLUMNS[:4]}
    return SectionCurve(reynolds, **columns)
