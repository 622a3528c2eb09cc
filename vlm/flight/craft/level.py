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
from dataclasses import dataclass, replace

import numpy as np

from vlm.constants import GRAVITY, Floats
from vlm.flight.craft.crossing import crossing
from vlm.flight.craft.folded_craft import FoldedCraft
from vlm.flight.craft.modelling import Modelling
from vlm.flight.craft.small_motions import SmallMotion

STEEPEST_RAD = float(np.radians(25.0))
TOLERANCE = 1e-12
QUICK = 1e-11
"""Product of the last two steps below which Newton's method ends: about its error [rad^2]."""
LONGEST_STEP = float(np.radians(4.0))
SLOPE_STEP = 1e-4
LOAD_FACTOR_STEP = 0.01
LIKELY_WITHIN, LIKELY_PASSES = 0.05, 3
LIKELY_STEP = float(np.radians(1.0))
FASTER = (1.05, 1.1, 1.2, 1.35, 1.5, 1.75, 2.0, 2.5, 3.0, 4.0)
"""Airspeeds tried where one is too low, over that one [1]."""
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
    balance = _Balance(craft, airspeed, density, load_factor)
    if craft.strips is not None:
        # The inviscid wing's angle is near; where every strip is attached at the one found from
        # it, no lower angle carries the craft.
        near = _newton(balance.without_sections)
        alpha = None if near is None else _newton(balance.excess, near)
        found = None if alpha is None else balance.flight(alpha)
        if found is not None and found.stall_margin > 0.0:
            return found
    alpha = _newton(balance.excess)
    if alpha is None and craft.strips is not None:
        alpha = _first_crossing(balance.excess)
    return None if alpha is None else balance.flight(alpha)


@dataclass(frozen=True)
class _Balance:
    """Equation (1) of one craft, airspeed and load factor."""

    craft: FoldedCraft
    airspeed: float
    density: float
    load_factor: float

    @property
    def weight(self) -> float:
        return self.load_factor * self.craft.masses.mass * GRAVITY

    def motion(self, alpha: float) -> Floats:
        pitching = np.array([0.0, (self.load_factor - 1.0) * GRAVITY / self.airspeed, 0.0])
        return self.craft.motion(self.airspeed, alpha, rates=pitching)

    def excess(self, alphas: Floats) -> Floats:
        """Force down less the weight's part across the body's x axis [N]."""
        motions = np.array([self.motion(float(alpha)) for alpha in alphas])
        force = self.craft.wrenches(motions, self.density)[:, 2]
        return np.asarray(force + self.weight * np.cos(alphas))

    def without_sections(self, alphas: Floats) -> Floats:
        """The same for the inviscid wing."""
        motions = np.array([self.motion(float(alpha)) for alpha in alphas])
        force = self.craft.wrenches_without_sections(motions, self.density)[:, 2]
        return np.asarray(force + self.weight * np.cos(alphas))

    def flight(self, alpha: float) -> LevelFlight:
        craft, motion = self.craft, self.motion(alpha)
        wrench = craft.wrench(motion, self.density)
        thrust = float(-wrench[0] + self.weight * np.sin(alpha))
        return LevelFlight(
            self.airspeed, self.density, self.load_factor, alpha, thrust, wrench, motion,
            craft.modelling, *craft.stall(motion, self.density),
        )  # fmt: skip


def _newton(excess: Callable[[Floats], Floats], alpha: float = 0.0) -> float | None:
    """A root on the branch of rising lift, or None where Newton's method leaves it.

    The slope there is worked out once; from then on it is that of the chord to the step before.
    """
    before, here, after = excess(alpha + SLOPE_STEP * np.array([-1.0, 0.0, 1.0]))
    slope = (after - before) / (2.0 * SLOPE_STEP)
    last: float | None = None
    for _ in range(40):
        if not slope < 0.0:
            return None
        step = float(np.clip(-here / slope, -LONGEST_STEP, LONGEST_STEP))
        alpha += step
        if abs(alpha) > STEEPEST_RAD:
            return None
        if abs(step * (step if last is None else last)) < QUICK:
            return alpha
        before, here, last = here, excess(np.array([alpha]))[0], step
        slope = (here - before) / step
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
    return crossing(lambda a: float(excess(np.array([a]))[0]), *ends, TOLERANCE)


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
    if level_flight(craft, airspeed, density) is None:
        return None
    likely = _likely_load_factor(_Balance(craft, airspeed, density, limit))
    found = _halved(craft, airspeed, density, limit, likely)
    return found or _halved(craft, airspeed, density, limit, None)


def _halved(
    craft: FoldedCraft, airspeed: float, density: float, limit: float, likely: float | None
) -> LevelFlight | None:
    """The pull-up at the highest load factor, by halving.

    Parameters
    ----------
    likely : what it is known to lie near; load factors far from it are not tried, but for the last
        two, which must then prove right

    Returns
    -------
    None where what is likely proves wrong
    """
    low, high = 1.0, limit
    while high - low > LOAD_FACTOR_STEP:
        middle = 0.5 * (low + high)
        if likely is not None and abs(middle - likely) > LIKELY_WITHIN:
            carries = middle < likely
        else:
            carries = level_flight(craft, airspeed, density, middle) is not None
        low, high = (middle, high) if carries else (low, middle)
    if likely is not None and level_flight(craft, airspeed, density, high) is not None:
        return None
    return level_flight(craft, airspeed, density, low)


def _likely_load_factor(balance: _Balance) -> float | None:
    """The highest load factor that any angle of attack of a scan carries [1]."""
    alphas, reached = SCAN, balance.load_factor
    for _ in range(LIKELY_PASSES):
        # The turning of the pull-up counts in the lift, so that its load factor must agree.
        at = replace(balance, load_factor=reached)
        lifting = reached - at.excess(alphas) * reached / (at.weight * np.cos(alphas))
        if not np.isfinite(lifting).any():
            return None
        best = int(np.nanargmax(lifting))
        reached = float(lifting[best])
        alphas = alphas[best] + LIKELY_STEP * np.linspace(-1.0, 1.0, 5)
    return reached


def small_motion(
    craft: FoldedCraft, flight: LevelFlight, rotors: Floats | None = None
) -> SmallMotion:
    """Small disturbances about level flight.

    Parameters
    ----------
    rotors : rates of the rotors' loads (:mod:`vlm.flight.craft.rotor_rates`), shape (6, 6); None
        where thrust stays as it is
    """
    rates = craft.rates(flight.motion, flight.density)[:, :6]
    if rotors is not None:
        rates = rates + rotors
    gravity = GRAVITY * np.array([-np.sin(flight.alpha), 0.0, np.cos(flight.alpha)])
    return SmallMotion(
        mass=craft.masses.mass,
        inertia=craft.masses.inertia,
        velocity=flight.motion[:3],
        gravity=gravity,
        rates=rates,
    )


def carrying_airspeed(craft: FoldedCraft, airspeed: float, density: float) -> float | None:
    """A higher airspeed at which the wings carry the craft [m/s]; None where none tried does."""
    speeds = higher_airspeeds(airspeed)
    return next((u for u in speeds if level_flight(craft, u, density) is not None), None)


def higher_airspeeds(airspeed: float) -> list[float]:
    """Airspeeds to try where one is too low, growing, of three digits [m/s]."""
    return [float(f"{factor * airspeed:.3g}") for factor in FASTER]


def airspeed_to_ask_for(craft: FoldedCraft, airspeed: float, density: float) -> str:
    """What to ask for instead of an airspeed at which the wings cannot carry the craft."""
    speed = carrying_airspeed(craft, airspeed, density)
    return "ask for a higher airspeed" if speed is None else f"at {speed:g} m/s they can"
