"""Where a rolling moment changes its way, and how well that is known."""

from collections.abc import Callable

from vlm.flight.craft.crossing import crossing

TOLERANCE, STEP = 1e-3, 0.1
"""Of the place, and either way for the moment's slope there [m/s or deg]."""


def reversal(
    low: float, high: float, moment: Callable[[float], float], width: Callable[[float], float]
) -> tuple[float, float]:
    """Where a moment vanishes between two places, and the half-width of that.

    The moment's own half-width over its slope; infinite where the moment has no slope. The middle
    where it has no value on the way.

    Parameters
    ----------
    low, high : places at which the moment has unlike signs, airspeeds [m/s] or commands [deg]
    moment, width : of a place, and the half-width of its error; NaN where there is none [N m]
    """
    place = crossing(moment, low, high, TOLERANCE)
    if place is None:
        return 0.5 * (low + high), float("inf")
    step = min(STEP, place - low, high - place)
    rise = abs(moment(place + step) - moment(place - step))
    error = width(place) * 2.0 * step
    return place, error / rise if rise > 0.0 and error >= 0.0 else float("inf")
