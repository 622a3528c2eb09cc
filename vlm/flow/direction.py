"""The direction of the wake: along the stream, held where the lattice no longer stands for it."""

from typing import Any

import numpy as np

from vlm.constants import Floats
from vlm.frames import wind_direction

CRAFT_AXIS = np.array([1.0, 0.0, 0.0])
EXACT = float(np.radians(12.0))
"""Up to this angle of attack or sideslip the wake lies along the stream [rad]."""
ROOM = float(np.radians(6.0))
"""Its angle goes on by at most so much beyond [rad]."""


def held_angle(angle: Any) -> Any:
    """The wake's angle for an angle of the stream [rad], any shape.

    The same up to :data:`EXACT`; beyond, it goes on smoothly, to two derivatives, by at most
    :data:`ROOM`. The air leaves stalled wings in no straight sheet, and legs laid farther up or
    aside would come to pass through other surfaces.
    """
    beyond = np.maximum(np.abs(angle) - EXACT, 0.0)
    return np.sign(angle) * (np.minimum(np.abs(angle), EXACT) + ROOM * np.tanh(beyond / ROOM))


def held_rate(angle: Any) -> Any:
    """Derivative of :func:`held_angle` [1]."""
    beyond = np.maximum(np.abs(angle) - EXACT, 0.0)
    return 1.0 / np.cosh(np.minimum(beyond / ROOM, 300.0)) ** 2


def wake_direction(alpha: float, beta: float) -> Floats:
    """Unit vector of the wake's straight legs, geometry axes, shape (3,) [1]."""
    return wind_direction(held_angle(alpha), held_angle(beta))


def wake_turns(alpha: float, beta: float) -> dict[str, Floats]:
    """Derivatives of :func:`wake_direction` with "alpha" and "beta", shape (3,) [1/rad]."""
    a, b = held_angle(alpha), held_angle(beta)
    ca, sa, cb, sb = np.cos(a), np.sin(a), np.cos(b), np.sin(b)
    return {
        "alpha": held_rate(alpha) * np.array([-sa * cb, 0.0, ca * cb]),
        "beta": held_rate(beta) * np.array([-ca * sb, -cb, -sa * sb]),
    }
