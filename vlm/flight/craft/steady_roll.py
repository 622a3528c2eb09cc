"""Steady roll: the rate at which damping balances a rolling moment."""

import numpy as np

from vlm.constants import Floats
from vlm.flight.craft.folded_craft import FoldedCraft
from vlm.flight.craft.level import LevelFlight


def roll_axis(alpha: float) -> Floats:
    """The direction of flight in body axes, about which a craft rolls with no sideslip."""
    return np.array([np.cos(alpha), 0.0, np.sin(alpha)])


def steady_roll_rate(craft: FoldedCraft, flight: LevelFlight, moment: float = 0.0) -> float | None:
    """Rate of steady roll about the direction of flight, sideslip held at zero [rad/s].

    The rolling moment about that direction is a quadratic in the rate, exactly; the root that
    grows out of -L / L_p is the one flown.

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
    return float(-2.0 * constant / (linear - np.sqrt(root)))
