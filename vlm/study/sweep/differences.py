"""What differs between two datasets, in everything that they hold."""

import json
from dataclasses import dataclass
from typing import Any

import numpy as np

from vlm.description.names import cut
from vlm.loads.soundness import RESIDUAL_LIMIT
from vlm.study.sweep.foreign import Attribute, HeldDataset, HeldVariable

LEAST_SIZE = 1e-3
"""Largest value that numbers are compared over where all of them are smaller [1]."""
CONDITION_LIMIT = 1e-3
"""A condition number is an estimate of a size."""
INPUTS = ("geometry", "tables", "digest", "source")
"""Attributes that say what was computed, by what: the repeated result is made from them."""
WORDS = ("long_name", "positive_means", "caution", "findings", "plan")
"""Attributes that another version may word otherwise."""


@dataclass(frozen=True)
class Difference:
    """One thing that differs.

    Attributes
    ----------
    place : variable or attribute
    what : how it differs, in words
    words_only : whether no number, unit or name hangs on it
    """

    place: str
    what: str
    words_only: bool = False

    def sentence(self) -> str:
        """For people, in one line."""
        return f"{self.place}: {self.what}"


@dataclass(frozen=True)
class Compared:
    """Two datasets side by side.

    Attributes
    ----------
    worst : by variable of numbers, largest difference over its largest value [1]; infinite where
        the one has numbers that the other has not
    differences : everything beyond the limit, and everything else that is not the same
    """

    worst: dict[str, float]
    differences: tuple[Difference, ...]


def compared(first: HeldDataset, second: HeldDataset, limit: float) -> Compared:
    """Compare a dataset with the same one computed again.

    Parameters
    ----------
    first : as it was found
    second : as it must be
    limit : of differences of numbers, over the largest value of a variable [1]
    """
    found: list[Difference] = []
    worst: dict[str, float] = {}
    for name in sorted(set(first.variables) | set(second.variables)):
        place = f"variable {cut(name)}"
        if name not in second.variables:
            found.append(Difference(place, "no sweep of this plan has it"))
        elif name not in first.variables:
            found.append(Difference(place, "missing"))
        else:
            one, two = first.variables[name], second.variables[name]
            found += _variable(place, name, one, two, limit, worst)
            found += _attributes(f"{cut(name)}: attribute", one.attributes, two.attributes, limit)
    found += _attributes("attribute", first.attributes, second.attributes, limit)
    return Compared(worst, tuple(found))


def _variable(
    place: str,
    name: str,
    one: HeldVariable,
    two: HeldVariable,
    limit: float,
    worst: dict[str, float],
) -> list[Difference]:
    found = []
    if one.dims != two.dims:
        found.append(Difference(place, f"axes {_listed(one.dims)}, not {_listed(two.dims)}"))
    if one.values.dtype.kind != two.values.dtype.kind:
        return [*found, Difference(place, f"holds {_kind(one)}, not {_kind(two)}")]
    if one.values.shape != two.values.shape:
        return [*found, Difference(place, f"shape {one.values.shape}, not {two.values.shape}")]
    if one.values.dtype.kind == "O":
        return found + _texts(place, one.values, two.values)
    if one.values.dtype != two.values.dtype:
        found.append(Difference(place, f"kept as {one.values.dtype}, not {two.values.dtype}"))
    if name == "residual":
        return found + _residual(place, one.values, two.values)
    size = CONDITION_LIMIT if name == "condition" else limit
    apart = apart_by(one.values, two.values)
    if name != "condition":
        worst[name] = apart
    if not apart <= size:
        found.append(_numbers(place, one.values, two.values, apart))
    return found


def apart_by(one: np.ndarray[Any, Any], two: np.ndarray[Any, Any]) -> float:
    """Largest difference over the largest value; infinite where numbers stand in one only [1]."""
    known = np.isfinite(one)
    if not np.array_equal(known, np.isfinite(two)) or not _same_otherwise(one, two):
        return float("inf")
    if not known.any():
        return 0.0
    size = max(float(np.abs(two[known]).max()), LEAST_SIZE)
    with np.errstate(over="ignore"):
        return float(np.abs(one[known] - two[known]).max()) / size


def _same_otherwise(one: np.ndarray[Any, Any], two: np.ndarray[Any, Any]) -> bool:
    """Whether what is no finite number is the same in both."""
    odd = ~np.isfinite(one)
    return np.array_equal(one[odd], two[odd], equal_nan=True)


def _numbers(
    place: str, one: np.ndarray[Any, Any], two: np.ndarray[Any, Any], apart: float
) -> Difference:
    if apart == float("inf"):
        odd = np.isfinite(one) != np.isfinite(two)
        return Difference(place, f"{int(odd.sum()) or 'some'} numbers stand in one only")
    gap = np.where(np.isfinite(one), np.abs(one - two), 0.0)
    where = np.unravel_index(int(np.argmax(gap)), gap.shape)
    return Difference(place, f"{one[where]:.10g}, not {two[where]:.10g} ({apart:.1e} of its size)")


def _residual(place: str, one: np.ndarray[Any, Any], two: np.ndarray[Any, Any]) -> list[Difference]:
    """Residuals are rounding; both must be small, and stand in the same cases."""
    if not np.array_equal(np.isfinite(one), np.isfinite(two)):
        return [Difference(place, "stands in other cases")]
    known = one[np.isfinite(one)]
    beyond = known[(known < 0.0) | (known > RESIDUAL_LIMIT)]
    if beyond.size:
        return [Difference(place, f"{beyond[0]:.3g}; no solution has more than {RESIDUAL_LIMIT:g}")]
    return []


def _texts(place: str, one: np.ndarray[Any, Any], two: np.ndarray[Any, Any]) -> list[Difference]:
    for first, second in zip(one.ravel(), two.ravel(), strict=True):
        if first != second:
            said = "wording" if bool(first) == bool(second) else ""
            return [
                Difference(place, f'"{cut(first)}", not "{cut(second)}"', words_only=bool(said))
            ]
    return []


def _attributes(
    place: str, one: dict[str, Attribute], two: dict[str, Attribute], limit: float
) -> list[Difference]:
    found = []
    for key in sorted((set(one) | set(two)) - set(INPUTS)):
        words = key in WORDS
        if key not in two:
            found.append(Difference(f"{place} {cut(key)}", "no sweep has it", words))
        elif key not in one:
            found.append(Difference(f"{place} {cut(key)}", "missing", words))
        elif not same_values(_parsed(key, one[key]), _parsed(key, two[key]), limit):
            said = f"{_shown(one[key])}, not {_shown(two[key])}"
            found.append(Difference(f"{place} {cut(key)}", said, words))
    return found


def _parsed(key: str, value: Attribute) -> Any:
    """What an attribute of JSON says; others as they are."""
    if key in ("findings", "plan") and isinstance(value, str):
        try:
            return json.loads(value)
        except (ValueError, RecursionError):
            return value
    return value


def same_values(one: Any, two: Any, limit: float) -> bool:
    """Whether two values of texts, numbers, lists and tables are the same, numbers to a limit."""
    if isinstance(one, bool) or isinstance(two, bool):
        return one is two
    if isinstance(one, int | float) and isinstance(two, int | float):
        both_odd = not np.isfinite(one) or not np.isfinite(two)
        if both_odd:
            return bool(np.array_equal(one, two, equal_nan=True))
        return abs(one - two) <= limit * max(abs(two), LEAST_SIZE)
    if isinstance(one, list | tuple) and isinstance(two, list | tuple):
        return len(one) == len(two) and all(
            same_values(a, b, limit) for a, b in zip(one, two, strict=True)
        )
    if isinstance(one, dict) and isinstance(two, dict):
        return one.keys() == two.keys() and all(same_values(one[k], two[k], limit) for k in one)
    return type(one) is type(two) and bool(one == two)


def _shown(value: Attribute) -> str:
    return f'"{cut(value)}"' if isinstance(value, str) else cut(str(value))


def _listed(names: tuple[str, ...]) -> str:
    return ", ".join(cut(name) for name in names) or "none"


def _kind(variable: HeldVariable) -> str:
    return {"O": "text", "f": "numbers"}.get(variable.values.dtype.kind, "whole numbers")
