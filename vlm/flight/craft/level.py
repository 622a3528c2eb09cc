"""Level, wing-borne flight: the angle of attack at which the wings carry the craft.

Thrust acts along the body's x axis through the centre of gravity, so that across it the wings
alone balance the weight; the pitching, rolling and yawing moments left over are what the rotors
must hold:

    Z(alpha, q) + n m g cos alpha = 0,   T = -X + n m g sin alpha,   q = (n - 1) g / U   (1)

with n the load factor of a pull-up at the lowest point of its arc.
"""

from dataclasses import dataclass

import numpy as np

from vlm.constants import GRAVITY, Floats
from vlm.flight.craft.folded_craft import FoldedCraft
from vlm.flight.craft.small_motions import SmallMotion

STEEPEST_RAD = float(np.radians(25.0))
TOLERANCE = 1e-12


@dataclass(frozen=True)
class LevelFlight:
    """A craft in level flight or at the bottom of a pull-up.

    Attributes
    ----------
    airspeed : [m/s]
    density : [kg/m^3]
    load_factor : [1]
    alpha : angle of attack [rad]
    thrust : along the body's x axis [N]
    wrench : air's loads about the centre of gravity, body axes, shape (6,) [N, N m]
    motion : velocities, rates and tip rates, as in
        :class:`~vlm.flight.craft.folded_craft.FoldedCraft`
    """

    airspeed: float
    density: float
    load_factor: float
    alpha: float
    thrust: float
    wrench: Floats
    motion: Floats

    @property
    def dynamic_pressure(self) -> float:
        """Half density times airspeed squared [Pa]."""
        return 0.5 * self.density * self.airspeed**2

    @property
    def lift(self) -> float:
        """Force of the air across its stream, upward [N]."""
        return float(-self.wrench[2] * np.cos(self.alpha) + self.wrench[0] * np.sin(self.alpha))


def level_flight(
    craft: FoldedCraft, airspeed: float, density: float, load_factor: float = 1.0
) -> LevelFlight | None:
    """Find equation (1)'s angle of attack by Newton's method, from zero.

    Returns
    -------
    None where no angle within 25 degrees carries the craft: too slow to fly on the wings
    """
    weight = load_factor * craft.masses.mass * GRAVITY
    pitching = np.array([0.0, (load_factor - 1.0) * GRAVITY / airspeed, 0.0])
    alpha = 0.0
    for _ in range(40):
        motion = craft.motion(airspeed, alpha, rates=pitching)
        excess = craft.wrench(motion, density)[2] + weight * np.cos(alpha)
        turn = airspeed * np.array([-np.sin(alpha), 0.0, np.cos(alpha)])
        slope = craft.rates(motion, density)[2, :3] @ turn - weight * np.sin(alpha)
        if slope >= 0.0:
            return None
        step = float(-excess / slope)
        alpha += float(np.clip(step, -0.2, 0.2))
        if abs(alpha) > STEEPEST_RAD:
            return None
        if abs(step) < TOLERANCE:
            return _settled(craft, airspeed, density, load_factor, alpha, pitching)
    return None


def _settled(
    craft: FoldedCraft,
    airspeed: float,
    density: float,
    load_factor: float,
    alpha: float,
    pitching: Floats,
) -> LevelFlight:
    motion = craft.motion(airspeed, alpha, rates=pitching)
    wrench = craft.wrench(motion, density)
    weight = load_factor * craft.masses.mass * GRAVITY
    thrust = float(-wrench[0] + weight * np.sin(alpha))
    return LevelFlight(airspeed, density, load_factor, alpha, thrust, wrench, motion)


def small_motion(craft: FoldedCraft, flight: LevelFlight, thrust_slope: float = 0.0) -> SmallMotion:
    """Small disturbances about level flight.

    Parameters
    ----------
    thrust_slope : rate of thrust with speed along the body's x axis; 0 keeps the thrust, minus
        thrust over airspeed keeps its power [N s/m]
    """
    rates = craft.rates(flight.motion, flight.density)[:, :6].copy()
    rates[0, 0] += thrust_slope
    gravity = GRAVITY * np.array([-np.sin(flight.alpha), 0.0, np.cos(flight.alpha)])
    return SmallMotion(
        mass=craft.masses.mass,
        inertia=craft.masses.inertia,
        velocity=flight.motion[:3],
        gravity=gravity,
        rates=rates,
    )
