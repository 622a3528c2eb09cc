"""Plain Python values, as JSON takes them, and text that a spreadsheet takes for text."""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import Field, dataclass, fields, is_dataclass
from enum import Enum, StrEnum
from typing import Any, TypeVar

import numpy as np

T = TypeVar("T")


INNER = {"inner": True}
"""Of a dataclass's field: it stands in no document."""


@dataclass(frozen=True)
class Shown:
    """The type that a value has as JSON, where that is not its own: ``Annotated[..., Shown(X)]``.

    Such is a dictionary made of the fields of the class ``X``.
    """

    kind: Any


def second_digit(half: float) -> int:
    """The decimal place of the second digit of a half-width, once it is rounded to two."""
    return 1 - math.floor(math.log10(float(f"{half:.1e}")))


def plus_minus(value: float, half: float, unit: str = "") -> str:
    """A value with its half-width: two digits of it, the value to the same place."""
    unit = f" {unit}" if unit else ""
    if not np.isfinite(value):
        return "not known"
    if not np.isfinite(half):
        return f"{value:.3g}{unit}, interval not known"
    if half <= 0.0:
        return f"{value:.3g}{unit}"
    places = min(second_digit(half), 6)
    return f"{rounded(value, places)} ± {rounded(half, places)}{unit}"


def rounded(value: float, places: int) -> str:
    """A number to a decimal place; to tens, hundreds and so on where that is negative."""
    # Of a rounded -0 the z makes a 0.
    return f"{round(value, places):z.0f}" if places < 0 else f"{value:z.{places}f}"


def interval_places(low: float, high: float) -> int:
    """Decimal places of an interval and of the value in it: two, three or four where narrow."""
    half = 0.5 * (high - low)
    return min(max(second_digit(half), 2), 4) if half > 0.0 else 2


def from_to(low: float, high: float) -> str:
    """An interval to two decimals, or to three or four where it is narrow."""
    places = interval_places(low, high)
    return f"{low:z.{places}f} to {high:z.{places}f}"


def size_words(size: float, places: int = 2) -> str:
    """A size with so many decimal places; where they show none of it, what it is less than."""
    least = 10.0**-places
    return f"less than {least:.{places}f}" if size < least else f"{size:.{places}f}"


def more_of(count: int, noun: str) -> str:
    """How many more there are: "1 more airspeed", "2 more airspeeds"."""
    return f"{count} more {noun}{'' if count == 1 else 's'}"


def joined(words: Sequence[str]) -> str:
    """Words as a list in a sentence."""
    return " and ".join([", ".join(words[:-1]), words[-1]]) if len(words) > 1 else "".join(words)


def spans(values: Iterable[float], among: Sequence[float], unit: str = "°") -> str:
    """Values of a grid as ranges: "-63.8° to -11.3° and 15°"."""
    places = {round(value, 6): i for i, value in enumerate(sorted(among))}
    runs: list[list[float]] = []
    for value in sorted(values):
        if runs and places[round(value, 6)] == places[round(runs[-1][-1], 6)] + 1:
            runs[-1].append(value)
        else:
            runs.append([value])
    texts = [
        f"{run[0]:.3g}{unit}" if len(run) == 1 else f"{run[0]:.3g}{unit} to {run[-1]:.3g}{unit}"
        for run in runs
    ]
    return joined(texts)


def without_nan(value: T) -> T:
    """Plain Python values of the same keys, with None where there is no number."""
    found: T = _without_nan(value)
    return found


def _without_nan(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _without_nan(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_without_nan(item) for item in value]
    if isinstance(value, np.ndarray):
        return [_without_nan(item) for item in value.tolist()]
    if isinstance(value, float | np.floating):
        return float(value) if math.isfinite(value) else None
    if isinstance(value, np.integer | np.bool_):
        return value.item()
    return value.value if isinstance(value, StrEnum) else value


FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")
"""What makes a spreadsheet take a cell for a formula, which it would run."""


def plain_cell(value: Any) -> Any:
    """A cell of a CSV file that no spreadsheet takes for a formula: text gets a mark in front.

    Numbers are left alone.
    """
    if isinstance(value, str) and value.startswith(FORMULA_STARTS):
        return f"'{value}"
    return value


def shown_fields(result: Any) -> list[Field[Any]]:
    """Fields of a dataclass that its document has: all but inner ones and those named _so."""
    return [f for f in fields(result) if f.name[0] != "_" and "inner" not in f.metadata]


def as_document(result: Any) -> Any:
    """A typed result as plain values for JSON, keys being its field names.

    A row that has no value says why in ``reason``: such a row keeps only what is not None, and a
    row that has a value carries no ``reason``. Which fields it has says
    :func:`shown_fields`.
    """
    return without_nan(_opened(result))


def _opened(value: Any) -> Any:
    if is_dataclass(value) and not isinstance(value, type):
        parts = {f.name: getattr(value, f.name) for f in shown_fields(value)}
        if parts.get("reason", "") is None:
            del parts["reason"]
        elif "reason" in parts:
            parts = {name: part for name, part in parts.items() if part is not None}
        return {name: _opened(part) for name, part in parts.items()}
    if isinstance(value, Mapping):
        return {str(key): _opened(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_opened(item) for item in value]
    return str(value) if isinstance(value, Enum) else value


LEAST_MOVE_M = 0.0005
"""Moves of the centre of gravity below this are none worth telling [m]."""


def move_words(aft: float, chords: float) -> str:
    """How far and which way a move aft [m] goes, and what it does to the static margin."""
    less = "less" if chords > 0.0 else "more"
    way = "aft" if chords > 0.0 else "forward"
    size = f"{1000.0 * abs(aft):.0f} mm farther {way}"
    return f"{size}, which is {abs(chords):.2g} chords {less} static margin"
