"""Momentum theory of a rotor as an actuator disc, in axial and in inclined flow.

The disc of area A carries thrust T uniformly and adds the velocity v along its wake's direction.
With V_n the flow through the disc before v (positive as in a climb) and V_t the flow in its plane,

    v sqrt(V_t^2 + (V_n + v)^2) = v_h^2,   v_h = sqrt(T / (2 rho A))                   (P1)

(Glauert 1926, ARC R&M 1111, from memory; Leishman, Principles of Helicopter Aerodynamics,
sect. 2.14). In axial flow this is v = - V_n / 2 + sqrt(V_n^2 / 4 + v_h^2); in hover v = v_h.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]
STEPS = 60
SETTLED = 1e-14


def hover_velocity(thrust: ArrayLike, density: float, area: float) -> Floats:
    """v_h of (P1) [m/s], for thrust [N] of at least zero, density [kg/m^3], disc area [m^2]."""
    return np.asarray(
        np.sqrt(np.maximum(np.asarray(thrust, dtype=float), 0.0) / (2 * density * area))
    )


def induced_velocity(hover: ArrayLike, through: ArrayLike, across: ArrayLike = 0.0) -> Floats:
    """v of equation (P1) [m/s].

    In descent, where (P1) has several roots, the largest is taken: the one that goes on from
    hover. There the theory does not hold (vortex ring), which :func:`is_in_descent` tells.

    Parameters
    ----------
    hover : v_h [m/s]
    through : V_n, positive in climb [m/s]
    across : V_t [m/s]

    Returns
    -------
    Of the common shape of the arguments.
    """
    h, n, t = np.broadcast_arrays(
        np.asarray(hover, dtype=float), np.asarray(through, dtype=float), np.asarray(across, float)
    )
    # f(v) = v^2 (V_t^2 + (V_n + v)^2) - v_h^4 is convex beyond its largest root: from above,
    # Newton's steps fall to it without passing it.
    v = h + np.maximum(0.0, -n)
    for _ in range(STEPS):
        slow = t * t + (n + v) ** 2
        value = v * v * slow - h**4
        slope = 2.0 * v * slow + 2.0 * v * v * (n + v)
        step = np.where(slope > 0.0, value / np.where(slope > 0.0, slope, 1.0), 0.0)
        v = v - step
        if np.all(np.abs(step) <= SETTLED * (1.0 + v)):
            break
    return np.asarray(np.where(h > 0.0, v, 0.0))


def is_in_descent(hover: ArrayLike, through: ArrayLike) -> NDArray[np.bool_]:
    """Whether the flow comes from below faster than a tenth of v_h: beyond (P1)."""
    return np.asarray(np.asarray(through) < -0.1 * np.asarray(hover))


def ideal_power(thrust: ArrayLike, through: ArrayLike, induced: ArrayLike) -> Floats:
    """T (V_n + v) [W]."""
    return np.asarray(np.asarray(thrust) * (np.asarray(through) + np.asarray(induced)))


def figure_of_merit(
    thrust: ArrayLike, shaft_power: ArrayLike, density: float, area: float
) -> Floats:
    """Ideal hover power over shaft power at the same thrust [1]."""
    ideal = np.asarray(thrust) * hover_velocity(thrust, density, area)
    return np.asarray(ideal / np.asarray(shaft_power))
