"""Steady roll: the rate at which damping balances a rolling moment."""

from collections.abc import Callable

import numpy as np
from scipy.interpolate import BarycentricInterpolator
from scipy.optimize import brentq

from vlm.constants import Floats
from vlm.flight.craft.crossing import brackets_zero, crossing
from vlm.flight.craft.folded_craft import FoldedCraft
from vlm.flight.craft.level import LevelFlight

MOST_OVER_INVISCID = 3.0
"""How far beyond the inviscid wing's rate the balance with stalled damping is looked for [1]."""
LEAST_REACH, REACH_RATIO = 0.5, 1.25
"""Least reach [rad/s], and the ratio of those tried: rates near each other ask for the same."""
STEPS = 10
STILL = 1e-12
CLOSE = 0.05
"""How far from a first guess of the rate the moment is worked out again, in steps [1]."""


def roll_axis(alpha: float) -> Floats:
    """The direction of flight in body axes, about which a craft rolls with no sideslip."""
    return np.array([np.cos(alpha), 0.0, np.sin(alpha)])


def steady_roll_rate(craft: FoldedCraft, flight: LevelFlight, moment: float = 0.0) -> float | None:
    """Rate of steady roll about the direction of flight, sideslip held at zero [rad/s].

    Without sections the rolling moment about that direction is a quadratic in the rate, exactly;
    the root that grows out of -L / L_p is the one flown. With sections that stall it is the first
    rate, going out from zero, at which damping balances the moment.

    Parameters
    ----------
    moment : rolling moment added to the air's [N m]

    Returns
    -------
    None where damping cannot balance the moment
    """
    axis = roll_axis(flight.alpha)
    turn = np.zeros(craft.motions)
    turn[3:6] = axis
    table = flight.density * np.einsum("ijk,k->ij", craft.table.at(flight.alpha)[..., 3:], axis)
    constant = float(flight.motion @ table @ flight.motion) + moment
    linear = 2.0 * float(turn @ table @ flight.motion)
    square = float(turn @ table @ turn)
    root = linear**2 - 4.0 * square * constant
    if linear >= 0.0 or root < 0.0:
        return None
    rate = float(-2.0 * constant / (linear - np.sqrt(root)))
    if craft.strips is None:
        return rate
    return _balanced_rate(craft, flight, turn, moment, MOST_OVER_INVISCID * rate)


def _balanced_rate(
    craft: FoldedCraft, flight: LevelFlight, turn: Floats, moment: float, scale: float
) -> float | None:
    """First rate at which the rolling moment of wing and sections vanishes, going out from zero."""

    def rolling(rates: Floats) -> Floats:
        motions = flight.motion + np.asarray(rates)[:, None] * turn
        return np.asarray(craft.wrenches(motions, flight.density)[:, 3:] @ turn[3:6] + moment)

    tried = np.ceil(np.log(max(abs(scale) / LEAST_REACH, 1.0)) / np.log(REACH_RATIO))
    reach = LEAST_REACH * REACH_RATIO**tried
    rates = np.copysign(reach, scale) * np.linspace(0.0, 1.0, STEPS + 1)
    found = rolling(rates)
    if not np.isfinite(found[0]):
        return None
    if abs(found[0]) <= STILL * abs(float(flight.wrench[2])):
        return 0.0
    if (found[0] < 0.0) != (rates[-1] < 0.0):
        # The sections turn the moment's sign.
        rates = -rates
        found = rolling(rates)
    with np.errstate(invalid="ignore"):
        beyond = np.flatnonzero(~(found * np.sign(found[0]) > 0.0))
    if not len(beyond) or not np.isfinite(found[beyond[0]]):
        return None
    return _root(rolling, rates, found, int(beyond[0]))


def _root(
    rolling: Callable[[Floats], Floats], rates: Floats, found: Floats, after: int
) -> float | None:
    """The zero between two neighbours of a table; None where the moment is no number between them.

    By the cubic through the four values around it, and by the polynomial through values close to
    that; by bisection where they do not close in on it.
    """
    ends = float(rates[after - 1]), float(rates[after])
    first = min(max(after - 2, 0), len(rates) - 4)
    around = slice(first, first + 4)
    if np.all(np.isfinite(found[around])):
        guess = _zero(rates[around], found[around], *ends)
        near = guess + CLOSE * (rates[1] - rates[0]) * np.linspace(-1.0, 1.0, 5)
        values = rolling(near)
        if np.all(np.isfinite(values)) and brackets_zero(values[0], values[-1]):
            return _zero(near, values, float(near[0]), float(near[-1]))
    return crossing(lambda p: float(rolling(np.array([p]))[0]), *ends, 1e-8)


def _zero(at: Floats, values: Floats, low: float, high: float) -> float:
    """Zero between two of the places of the polynomial through values there."""
    through = BarycentricInterpolator(at, values)
    return float(brentq(lambda place: float(through(place)), low, high, xtol=1e-12))
