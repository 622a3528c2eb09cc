"""Tables of numbers with named columns: read, and refused with the line at fault.

Columns stand apart by commas, semicolons or tabs, whichever the line of the column names has; where
they stand apart by semicolons or tabs, a decimal mark may be a comma.
"""

import csv
from collections.abc import Mapping, Sequence
from math import isfinite
from pathlib import Path

from vlm.description.files import read_text
from vlm.errors import InputRefused, nearest_name

Row = tuple[int, dict[str, float]]


def number_rows(path: Path, columns: Sequence[str], needed: Sequence[str], what: str) -> list[Row]:
    """Line number and values of every row of a table.

    A line that starts with # is left out. The first other line names the columns, and between
    them stands what parts all rows: a tab, a semicolon or a comma, looked for in this order.

    Parameters
    ----------
    columns : names that are known
    needed : names that must be there
    what : what the file holds, for messages ("a section")

    Raises
    ------
    InputRefused : the file is missing, a column is unknown or missing, a value is no number
    """
    heads: list[str] | None = None
    rows: list[Row] = []
    text = read_text(path).splitlines()
    mark = separator_of(text)
    for line, cells in enumerate(csv.reader(text, delimiter=mark), start=1):
        values = [cell.strip() for cell in cells]
        if mark != ",":
            values = [value.replace(",", ".") if heads else value for value in values]
        if not any(values) or values[0].startswith("#"):
            continue
        place = f"{path}: line {line}"
        if heads is None:
            heads = _checked_heads(values, columns, needed, f"{place}", what)
            continue
        if len(values) != len(heads):
            raise InputRefused(
                f"{place} has {len(values)} values; the columns named are {', '.join(heads)}"
            )
        rows.append(
            (line, {h: _number(v, f"{place}: {h}") for h, v in zip(heads, values, strict=True)})
        )
    return rows


def separator_of(lines: Sequence[str]) -> str:
    """What stands between two columns, by the first line that is no remark."""
    head = next((one for one in lines if one.strip() and not one.lstrip().startswith("#")), "")
    return next((mark for mark in ("\t", ";") if mark in head), ",")


def _checked_heads(
    heads: list[str], columns: Sequence[str], needed: Sequence[str], place: str, what: str
) -> list[str]:
    for head in heads:
        if head not in columns:
            near = nearest_name(head, columns)
            hint = f"did you mean {near}?" if near else f"known are {', '.join(columns)}"
            raise InputRefused(f"{place}: {head!r} is not a column of {what}; {hint}")
        if heads.count(head) > 1:
            raise InputRefused(f"{place}: the column {head} is named twice")
    for head in needed:
        if head not in heads:
            raise InputRefused(f"{place}: {what} needs the column {head}")
    return heads


def _number(text: str, place: str) -> float:
    try:
        value = float(text)
    except ValueError:
        value = float("nan")
    if not isfinite(value):
        raise InputRefused(f"{place} = {text[:60]!r}; it must be a finite number")
    return value


def refuse_huge(row: dict[str, float], limits: Mapping[str, float], place: str) -> None:
    """Refuse a value that no measurement has, most likely in another unit or column.

    Raises
    ------
    InputRefused : a value beyond its limit, of either sign
    """
    for name, most in limits.items():
        if abs(row.get(name, 0.0)) > most:
            raise InputRefused(
                f"{place}: {name} = {row[name]:g}; values beyond {most:g} are taken for a slip of"
                " unit or column"
            )
