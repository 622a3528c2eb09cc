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
from vlm.flight.craft.folded_craft import FoldedCraft, once
from vlm.flight.craft.modelling import Modelling
from vlm.flight.craft.small_motions import SmallMotion

STEEPEST_RAD = float(np.radians(25.0))
TOLERANCE = 1e-12
QUICK = 1e-11
"""Product of the last two steps below which Newton's method ends: about its error [rad^2]."""
LONGEST_STEP = float(np.radians(4.0))
SLOPE_STEP = 1e-4
SCAN_STEP, CLOSER = float(np.radians(0.4)), tuple(np.radians([0.2, 0.1, 0.03]))
AROUND = np.linspace(-2.0, 2.0, 5)
"""Steps by which the angle of attack that lifts most is scanned for, in turn [rad], and places."""
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
    return once(craft.kept, asked, lambda: _level_flight(craft, airspeed, density, load_factor))


def _level_flight(
    craft: FoldedCraft, airspeed: float, density: float, load_factor: float
) -> LevelFlight | None:
    balance = Balance(craft, airspeed, density, load_factor)
    attached = _attached(balance)
    if attached is not None:
        return attached
    alpha = _newton(balance.excess)
    if alpha is None and craft.strips is not None:
        alpha = _first_crossing(balance.excess)
    return None if alpha is None else balance.flight(alpha)


def _attached(balance: "Balance") -> LevelFlight | None:
    """The flight where sections leave every strip attached.

    The inviscid wing's angle is near, and where every strip is attached at the one found from it,
    no lower angle carries the craft.
    """
    if balance.craft.strips is None:
        return None
    near = _newton(balance.without_sections)
    alpha = None if near is None else _newton(balance.excess, near)
    found = None if alpha is None else balance.flight(alpha)
    return found if found is not None and found.stall_margin > 0.0 else None


@dataclass(frozen=True)
class Balance:
    """Equation (1) of one craft, airspeed [m/s], density [kg/m^3] and load factor [1]."""

    craft: FoldedCraft
    airspeed: float
    density: float
    load_factor: float

    @property
    def weight(self) -> float:
        """The weight times the load factor [N]."""
        return self.load_factor * self.craft.masses.mass * GRAVITY

    def motion(self, alpha: float) -> Floats:
        """z at the lowest point of the arc, at an angle of attack [rad]."""
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
        """The flight at an angle of attack that is known to balance [rad]."""
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
    asked = ("highest load factor", airspeed, density, limit)
    return once(craft.kept, asked, lambda: _highest_load_factor(craft, airspeed, density, limit))


def _highest_load_factor(
    craft: FoldedCraft, airspeed: float, density: float, limit: float
) -> LevelFlight | None:
    if limit <= 1.0:
        return level_flight(craft, airspeed, density, limit)
    balance = Balance(craft, airspeed, density, limit)
    attached = _attached(balance)
    if attached is not None:
        return attached
    level = level_flight(craft, airspeed, density)
    if level is None:
        return None
    highest = _highest(balance, level)
    if highest.load_factor < limit:
        return highest
    return level_flight(craft, airspeed, density, limit) or highest


def _highest(balance: Balance, level: LevelFlight) -> LevelFlight:
    """The pull-up at the angle of attack that lifts most, which is scanned for ever closer."""
    weight = balance.weight / balance.load_factor
    count = 1 + int(np.ceil((STEEPEST_RAD - level.alpha) / SCAN_STEP))
    whole = np.linspace(level.alpha, STEEPEST_RAD, count)
    alpha, reached = level.alpha, 1.0
    scans: list[Floats | float] = [whole[::3], whole, *CLOSER, 0.0, 0.0]
    for scan in scans:
        alphas = scan if isinstance(scan, np.ndarray) else alpha + scan * AROUND
        alphas = np.minimum(alphas, STEEPEST_RAD)
        # The turning of the pull-up counts in the lift, so that its load factor must agree.
        at = replace(balance, load_factor=reached)
        lifting = reached - at.excess(alphas) / (weight * np.cos(alphas))
        if not np.isfinite(lifting).any():
            return level
        best = int(np.nanargmax(lifting))
        alpha, reached = float(alphas[best]), float(lifting[best])
    if not reached > 1.0:
        return level
    return replace(balance, load_factor=reached).flight(alpha)


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
