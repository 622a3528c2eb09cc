"""Reading a rotor's table: CSV with advance_ratio, thrust_coefficient, power_coefficient."""

from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

from vlm.description.number_table import number_rows, refuse_huge
from vlm.errors import InputRefused

COLUMNS = ("advance_ratio", "thrust_coefficient", "power_coefficient")
LARGEST = 100.0  # rotors have advance ratios of a few and coefficients below 1
FEWEST_ROWS = 3


@dataclass(frozen=True)
class RotorCurve:
    """Measured coefficients of a rotor with diameter D at n turns a second in the airspeed V.

    Attributes
    ----------
    advance_ratio : V / (n D), growing from zero [1]
    thrust_coefficient : T / (rho n^2 D^4), falling [1]
    power_coefficient : P / (rho n^3 D^5) [1]
    """

    advance_ratio: tuple[float, ...]
    thrust_coefficient: tuple[float, ...]
    power_coefficient: tuple[float, ...]


def rotor_curve(table: str, folder: Path | None = None) -> RotorCurve:
    """The curve a rotor's ``table`` key names.

    Parameters
    ----------
    table : path of a CSV file, relative to ``folder``
    folder : the geometry file's folder; the current one if None

    Raises
    ------
    InputRefused : the file is missing or does not hold a rotor's coefficients
    """
    path = (folder or Path()) / table
    rows = number_rows(path, COLUMNS, COLUMNS, "a rotor's table")
    if len(rows) < FEWEST_ROWS:
        raise InputRefused(f"{path}: a rotor's table needs at least {FEWEST_ROWS} rows")
    for line, row in rows:
        refuse_huge(row, dict.fromkeys(COLUMNS, LARGEST), f"{path}: line {line}")
    rows = sorted(rows, key=lambda item: item[1]["advance_ratio"])
    first = rows[0][1]
    if first["advance_ratio"] != 0.0:
        raise InputRefused(
            f"{path}: the least advance_ratio is {first['advance_ratio']:g}; the table must start"
            " at 0, the rotor standing still in calm air"
        )
    if first["thrust_coefficient"] <= 0.0:
        raise InputRefused(f"{path}: thrust_coefficient must be positive at advance_ratio = 0")
    if first["power_coefficient"] <= 0.0:
        raise InputRefused(
            f"{path}: power_coefficient must be positive at advance_ratio = 0: no rotor thrusts for"
            " nothing"
        )
    for (_, before), (line, row) in pairwise(rows):
        if row["advance_ratio"] <= before["advance_ratio"]:
            raise InputRefused(f"{path}: line {line}: advance_ratio stands twice")
        if row["thrust_coefficient"] >= before["thrust_coefficient"]:
            raise InputRefused(
                f"{path}: line {line}: thrust_coefficient = {row['thrust_coefficient']:g}; it must"
                " fall as the advance ratio grows, or one thrust would have two speeds"
            )
    columns = {key: tuple(row[key] for _, row in rows) for key in COLUMNS}
    return RotorCurve(**columns)
