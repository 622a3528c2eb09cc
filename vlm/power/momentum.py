"""Momentum theory of a rotor: its induced velocity in hover, climb, descent and inclined flow.

The disc adds the velocity v to the air that passes it and 2 v to the wake far behind. Speeds along
the axis count positive where air meets the rotor from ahead, as in a climb.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from vlm.constants import Floats
from vlm.power import kernel

MOST_BRAKED = 0.2
WINDMILL = -2.0
"""Axial speed over the induced velocity in hover, below which the wake is in order again."""


def hover_velocity(thrust: ArrayLike, density: float, area: ArrayLike) -> Floats:
    """Induced velocity in hover, v_h = sqrt(T / (2 rho A)); 0 without thrust.

    (Rankine and Froude; J. G. Leishman, Principles of Helicopter Aerodynamics, chapter 2.)

    Parameters
    ----------
    thrust : [N]
    density : [kg/m^3]
    area : of the disc [m^2]
    """
    pull = np.maximum(np.asarray(thrust, dtype=float), 0.0)
    return np.asarray(np.sqrt(pull / (2.0 * density * np.asarray(area))))


def axial_velocity(hover: ArrayLike, climb: ArrayLike) -> Floats:
    """Induced velocity in climb and descent along the axis, in closed form.

    v / v_h = -V / 2 v_h + sqrt((V / 2 v_h)^2 + 1) in climb,
    v / v_h = -V / 2 v_h - sqrt((V / 2 v_h)^2 - 1) below V = -2 v_h

    (Glauert; Leishman, chapter 2). Between V = -2 v_h and 0 the theory has no wake to speak of:
    the climb's branch is continued, see :func:`wake_is_ordered`.

    Parameters
    ----------
    hover : v_h [m/s]
    climb : V, positive where air meets the rotor from ahead [m/s]
    """
    v_h, half = np.asarray(hover, dtype=float), 0.5 * np.asarray(climb, dtype=float)
    climbing = -half + np.hypot(half, v_h)
    braking = -half - np.sqrt(np.maximum(half**2 - v_h**2, 0.0))
    return np.where(2.0 * half <= WINDMILL * v_h, np.where(v_h > 0.0, braking, 0.0), climbing)


def induced_velocity(hover: ArrayLike, axial: ArrayLike, edgewise: ArrayLike) -> Floats:
    """Induced velocity in inclined flow.

    v = v_h^2 / sqrt(V_e^2 + (V_a + v)^2)

    (H. Glauert, R&M 1111, 1926; Leishman, chapter 2), solved by Newton's method from above; of
    several solutions the one that belongs to the climb.

    Parameters
    ----------
    hover : v_h [m/s]
    axial : V_a, along the axis from ahead [m/s]
    edgewise : V_e, in the plane of the disc [m/s]

    Returns
    -------
    v, shape of the arguments together [m/s]
    """
    v_h, along, across = np.broadcast_arrays(
        np.asarray(hover, dtype=float), np.asarray(axial), np.asarray(edgewise)
    )
    # Copies: numba warns of broadcast views.
    flat = [np.array(a, dtype=float).ravel() for a in (v_h, along, across)]
    return np.asarray(kernel.induced(*flat).reshape(v_h.shape))


def wake_is_ordered(hover: ArrayLike, axial: ArrayLike, edgewise: ArrayLike) -> NDArray[np.bool_]:
    """Whether the momentum theory holds: not in the descent where a rotor flies in its own wake.

    The limits are those of the axial theory, -2 v_h to 0, while the wake is not carried off
    sideways faster than v_h (common practice).
    """
    v_h, along = np.asarray(hover, dtype=float), np.asarray(axial)
    own_wake = (along < -0.1 * v_h) & (along > WINDMILL * v_h)
    return np.asarray(~(own_wake & (np.abs(np.asarray(edgewise)) < v_h)))


@dataclass(frozen=True)
class DiscFlow:
    """Flow through the discs of some rotors; all fields of one shape.

    Attributes
    ----------
    thrust : [N]
    axial : speed of the air along the axis from ahead [m/s]
    edgewise : speed in the plane of the disc [m/s]
    hover : induced velocity the same thrust needs in hover [m/s]
    induced : induced velocity [m/s]
    """

    thrust: Floats
    axial: Floats
    edgewise: Floats
    hover: Floats
    induced: Floats

    @property
    def ideal_power(self) -> Floats:
        """Power of thrust and induced velocity, T (V_a + v) [W]."""
        return np.asarray(self.thrust * (self.axial + self.induced))


def disc_flow(
    thrust: ArrayLike, axial: ArrayLike, edgewise: ArrayLike, density: float, area: ArrayLike
) -> DiscFlow:
    """Flow through discs of given thrust [N], speeds [m/s] and area [m^2].

    A negative thrust, of a rotor that brakes, slows the air: a small one by as much as a positive
    one of the same size speeds it up, a larger one by at most a fifth of the axial speed.
    """
    pull, along, across = np.broadcast_arrays(
        np.asarray(thrust, dtype=float), np.asarray(axial), np.asarray(edgewise)
    )
    hover = hover_velocity(np.abs(pull), density, area)
    induced = induced_velocity(hover, along, across)
    most = MOST_BRAKED * np.maximum(along, 0.0)
    braked = -induced * most / (induced + most + 1e-300)
    return DiscFlow(pull, along, across, hover, np.where(pull < 0.0, braked, induced))
