"""Level, wing-borne flight: the angle of attack at which the wings carry the craft.

Thrust acts along the body's x axis through the centre of gravity, so that across it the wings
alone balance the weight; the pitching, rolling and yawing moments left over are what the rotors
must hold:

    Z(alpha, q) + n m g cos alpha = 0,   T = -X + n m g sin alpha,   q = (n - 1) g / U   (1)

with n the load factor of a pull-up at the lowest point of its arc. Where sections stall, lift has a
highest value; of two angles of attack that carry the craft the lower is taken, and none is where
the stall comes first.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq

from vlm.constants import GRAVITY, Floats
from vlm.flight.craft.folded_craft import FoldedCraft
from vlm.flight.craft.modelling import Modelling
from vlm.flight.craft.small_motions import SmallMotion

STEEPEST_RAD = float(np.radians(25.0))
TOLERANCE = 1e-12
QUICK = 1e-6
"""A Newton's step this short leaves an error of its square [rad]."""
LONGEST_STEP = float(np.radians(4.0))
SLOPE_STEP = 1e-4
LOAD_FACTOR_STEP = 0.01
SCAN = np.radians(np.linspace(-25.0, 25.0, 51))


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
    modelling : level of modelling that angle, thrust and loads rest on
    stall_margin : angle left to stall in the strip nearest to it, infinite without sections [rad]
    stalled : share of the wings' area past stall [1]
    """

    airspeed: float
    density: float
    load_factor: float
    alpha: float
    thrust: float
    wrench: Floats
    motion: Floats
    modelling: Modelling = Modelling.WING
    stall_margin: float = float("inf")
    stalled: float = 0.0

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
    asked = ("level flight", airspeed, density, load_factor)
    if asked not in craft.kept:
        craft.kept[asked] = _level_flight(craft, airspeed, density, load_factor)
    found: LevelFlight | None = craft.kept[asked]
    return found


def _level_flight(
    craft: FoldedCraft, airspeed: float, density: float, load_factor: float
) -> LevelFlight | None:
    weight = load_factor * craft.masses.mass * GRAVITY
    pitching = np.array([0.0, (load_factor - 1.0) * GRAVITY / airspeed, 0.0])

    def excess(alphas: Floats) -> Floats:
        motions = np.array([craft.motion(airspeed, float(a), rates=pitching) for a in alphas])
        return np.asarray(craft.wrenches(motions, density)[:, 2] + weight * np.cos(alphas))

    alpha = _newton(excess)
    if alpha is None and craft.strips is not None:
        alpha = _first_crossing(excess)
    if alpha is None:
        return None
    motion = craft.motion(airspeed, alpha, rates=pitching)
    wrench = craft.wrench(motion, density)
    thrust = float(-wrench[0] + weight * np.sin(alpha))
    return LevelFlight(
        airspeed, density, load_factor, alpha, thrust, wrench, motion,
        craft.modelling, *craft.stall(motion, density),
    )  # fmt: skip


def _newton(excess: Callable[[Floats], Floats]) -> float | None:
    """A root on the branch of rising lift, or None where Newton's method leaves it."""
    alpha = 0.0
    for _ in range(40):
        before, here, after = excess(alpha + SLOPE_STEP * np.array([-1.0, 0.0, 1.0]))
        slope = (after - before) / (2.0 * SLOPE_STEP)
        if not slope < 0.0:
            return None
        step = -here / slope
        alpha += float(np.clip(step, -LONGEST_STEP, LONGEST_STEP))
        if abs(alpha) > STEEPEST_RAD:
            return None
        if abs(step) < QUICK:
            return alpha
    return None


def _first_crossing(excess: Callable[[Floats], Floats]) -> float | None:
    """The lowest angle of attack at which rising lift reaches the weight."""
    found = excess(SCAN)
    with np.errstate(invalid="ignore"):
        places = np.flatnonzero((found[:-1] > 0.0) & (found[1:] <= 0.0))
    if not len(places):
        return None
    first = int(places[0])
    ends = float(SCAN[first]), float(SCAN[first + 1])
    return float(brentq(lambda a: float(excess(np.array([a]))[0]), *ends, xtol=TOLERANCE))


def highest_load_factor(
    craft: FoldedCraft, airspeed: float, density: float, limit: float
) -> LevelFlight | None:
    """The pull-up at a load factor, or at the highest the wings reach before they stall.

    Parameters
    ----------
    limit : load factor wanted, at least 1 [1]

    Returns
    -------
    None where the wings do not carry the craft even in level flight
    """
    asked = level_flight(craft, airspeed, density, limit)
    if asked is not None or limit <= 1.0:
        return asked
    found, low, high = level_flight(craft, airspeed, density), 1.0, limit
    while found is not None and high - low > LOAD_FACTOR_STEP:
        middle = 0.5 * (low + high)
        trial = level_flight(craft, airspeed, density, middle)
        if trial is None:
            high = middle
        else:
            found, low = trial, middle
    return found


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
