"""Where a function or a row of its values changes its sign, if it is a number all the way there.

By the signs of both sides, not by a product of neighbours: that of a value that vanishes has no
sign, and that of two very small ones vanishes.
"""

import math
from collections.abc import Callable, Iterable

import numpy as np

from vlm.constants import Floats


class _NoNumber(Exception):
    pass


def crossing(
    function: Callable[[float], float], low: float, high: float, tolerance: float
) -> float | None:
    """A zero between two places of opposite sign.

    Parameters
    ----------
    function : NaN where a craft has no such state, as where strips find no agreement with sections
    tolerance : of the place

    Returns
    -------
    None where the function is no number at a place that the search comes to
    """
    from scipy.optimize import brentq

    def known(place: float) -> float:
        value = function(place)
        if math.isnan(value):
            raise _NoNumber
        return value

    try:
        return float(brentq(known, low, high, xtol=tolerance))
    except _NoNumber:
        return None


def brackets_zero(first: float, second: float) -> bool:
    """Whether a continuous function of these two values vanishes at or between them.

    Not where either is no number.
    """
    return min(first, second) <= 0.0 <= max(first, second) and not math.isnan(first + second)


def sign_changes(values: Iterable[float]) -> list[tuple[int, int]]:
    """Where a row of values passes from one sign to the other.

    Returns
    -------
    For each change the places of the last value of the one sign and of the first of the other.
    They are neighbours, or all values between them vanish. A value that is no number breaks the
    row, and zeros with one sign on both sides, or at an end, are no change.
    """
    found: list[tuple[int, int]] = []
    last: int | None = None
    row = [float(value) for value in values]
    for place, value in enumerate(row):
        if math.isnan(value):
            last = None
        elif value != 0.0:
            if last is not None and (row[last] < 0.0) != (value < 0.0):
                found.append((last, place))
            last = place
    return found


def zero_between(at: Floats, values: Floats, change: tuple[int, int]) -> float:
    """Place of one of :func:`sign_changes`, linear; the middle of values that vanish.

    Parameters
    ----------
    at, values : shape (n,); places growing
    """
    before, after = change
    if after - before > 1:
        return 0.5 * float(at[before + 1] + at[after - 1])
    share = values[before] / (values[before] - values[after])
    return float(at[before] + share * (at[after] - at[before]))


def zeros_of(at: Iterable[float], values: Iterable[float]) -> list[float]:
    """Places at which a row of values changes its sign, growing, by :func:`zero_between`."""
    places, row = np.array(list(at), dtype=float), np.array(list(values), dtype=float)
    return [zero_between(places, row, change) for change in sign_changes(row)]
