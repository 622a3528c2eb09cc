"""Where a function changes its sign, if it is a number all the way there."""

import math
from collections.abc import Callable


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
