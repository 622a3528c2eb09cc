"""Reading a blade's table: CSV with r_R, chord_R, beta_deg."""

from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

from vlm.description.number_table import number_rows, refuse_huge
from vlm.errors import InputRefused

COLUMNS = ("r_R", "chord_R", "beta_deg")
LARGEST = {"r_R": 1.0, "chord_R": 2.0, "beta_deg": 90.0}
FEWEST_ROWS = 3
OUTERMOST = 0.9


@dataclass(frozen=True)
class BladeStations:
    """Stations of a blade from the hub to the tip.

    Attributes
    ----------
    radius : over the tip's radius, growing [1]
    chord : over the tip's radius [1]
    angle_deg : of the chord line against the plane of the disc [deg]
    """

    radius: tuple[float, ...]
    chord: tuple[float, ...]
    angle_deg: tuple[float, ...]


def blade_stations(table: str, folder: Path | None = None) -> BladeStations:
    """The stations that a rotor's ``blade_table`` key names.

    Parameters
    ----------
    table : path of a CSV file, relative to ``folder``
    folder : the geometry file's folder; the current one if None

    Raises
    ------
    InputRefused : the file is missing or does not hold a blade
    """
    path = (folder or Path()) / table
    rows = number_rows(path, COLUMNS, COLUMNS, "a blade's table")
    if len(rows) < FEWEST_ROWS:
        raise InputRefused(f"{path}: a blade's table needs at least {FEWEST_ROWS} rows")
    rows = sorted(rows, key=lambda item: item[1]["r_R"])
    for line, row in rows:
        place = f"{path}: line {line}"
        refuse_huge(row, LARGEST, place)
        if row["r_R"] <= 0.0:
            raise InputRefused(f"{place}: r_R = {row['r_R']:g}; it must be above 0, 1 at the tip")
        if row["chord_R"] <= 0.0:
            raise InputRefused(f"{place}: chord_R = {row['chord_R']:g}; it must be positive")
    for (_, before), (line, row) in pairwise(rows):
        if row["r_R"] == before["r_R"]:
            raise InputRefused(f"{path}: line {line}: r_R = {row['r_R']:g} stands twice")
    if rows[-1][1]["r_R"] < OUTERMOST:
        raise InputRefused(
            f"{path}: the outermost r_R is {rows[-1][1]['r_R']:g}; the table must reach the tip, 1"
        )
    radius, chord, angle = (tuple(row[key] for _, row in rows) for key in COLUMNS)
    return BladeStations(radius, chord, angle)
