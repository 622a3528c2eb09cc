"""Moment about each hinge, its parts apart: air, weight, pull-up, roll.

The moment that gear and hinge must resist is that of the air's forces on the tip and of its
weight, and of its inertia as the craft moves: for a rigid tip of mass m, centre c and inertia I_c,
about a point h of the hinge,

    M_inertia = - [ (c - h) x m a_c + I_c omega' + omega x I_c omega ]                   (1)
    a_c = a_g + omega' x (c - g) + omega x (omega x (c - g))                             (2)

with a_g the acceleration of the craft's centre of gravity g. Positive raises the tip.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from vlm.constants import GRAVITY, Floats
from vlm.flight.craft.folded_craft import FoldedCraft
from vlm.flight.craft.level import LevelFlight
from vlm.flight.craft.mass_properties import PointedMass
from vlm.flight.craft.stalled import in_roll
from vlm.flight.craft.steady_roll import roll_axis
from vlm.flow.onset import FIRST_TIP
from vlm.frames import GEOMETRY_TO_BODY, cross
from vlm.lattice.patches import HingeLine
from vlm.sides import Side, on_side

ALIKE = 1e-6
"""Moments that differ by less are alike, over the larger [1]."""
PARTS = ("air", "weight", "pull_up", "roll_air", "roll_rate", "roll_acceleration")


@dataclass(frozen=True)
class Turning:
    """How the craft accelerates and turns, geometry axes: shape (3,) each.

    Attributes
    ----------
    acceleration : of the centre of gravity [m/s^2]
    rate : [rad/s]
    rate_change : [rad/s^2]
    """

    acceleration: Floats
    rate: Floats
    rate_change: Floats


def inertia_moment(part: PointedMass, line: HingeLine, centre: Floats, turning: Turning) -> float:
    """Equation (1) about the hinge line [N m].

    Parameters
    ----------
    part : the tip where it stands
    centre : centre of gravity of the craft, geometry axes [m]
    """
    arm = part.centre - centre
    rate, change = turning.rate, turning.rate_change
    acceleration = turning.acceleration + cross(change, arm)
    acceleration = acceleration + cross(rate, cross(rate, arm))
    lever = part.centre - line.point
    moment = cross(lever, part.mass * acceleration) + part.inertia @ change
    moment = moment + cross(rate, part.inertia @ rate)
    return float(-line.axis @ moment)


def weight_moment(part: PointedMass, line: HingeLine, alpha: float) -> float:
    """Moment of a tip's weight about its hinge in level flight [N m]."""
    down = GRAVITY * np.array([np.sin(alpha), 0.0, -np.cos(alpha)])
    return float(line.axis @ cross(part.centre - line.point, part.mass * down))


def hover_weight_moment(part: PointedMass, line: HingeLine) -> float:
    """Moment of a tip's weight about its hinge with the nose straight up, as in a hover [N m].

    A hinge line along the craft's axis then has none; flare or sweep of the line gives it one.
    """
    return weight_moment(part, line, 0.5 * float(np.pi))


def tip_inertia(part: PointedMass, line: HingeLine) -> float:
    """Moment of inertia of a tip about its hinge line [kg m^2]."""
    arm = cross(line.axis, part.centre - line.point)
    return float(line.axis @ part.inertia @ line.axis + part.mass * arm @ arm)


def by_servo(values: Mapping[str, Floats], serves: str) -> dict[Side, list[Floats]]:
    """What tips ask of the servos of each side: of one for all of them, or of one for each.

    Parameters
    ----------
    values : by hinge, about the commanded fold
    serves : "side" or "tip"
    """
    own = {side: [values[body] for body in on_side(values, side)] for side in Side}
    if serves == "tip":
        return own
    return {side: [np.asarray(sum(each))] for side, each in own.items()}


def servo_inertias(craft: FoldedCraft, serves: str) -> list[float]:
    """Inertia on each servo of a side about the commanded fold [kg m^2]."""
    linkage, lines = craft.loads.lattice.fold_rates, craft.loads.lattice.hinges
    own = {
        b: np.asarray(linkage[b] ** 2 * tip_inertia(craft.masses.parts[b], lines[b]))
        for b in craft.bodies
    }
    return [float(one) for one in by_servo(own, serves)[Side.STARBOARD]]


def servo_dampings(
    craft: FoldedCraft, flight: LevelFlight, serves: str
) -> dict[Side, list[float]]:  # fmt: skip
    """Moment of the air against the tips' speed, on each servo, not negative [N m s/rad].

    By the lattice's tables, exact; what sections change in it is left out.
    """
    linkage = craft.loads.lattice.fold_rates
    own = {}
    for i, body in enumerate(craft.bodies):
        rates = 2.0 * flight.density * craft.hinge_tables[body].at(flight.alpha) @ flight.motion
        own[body] = np.asarray(-(linkage[body] ** 2) * float(rates[FIRST_TIP + i]))
    found = by_servo(own, serves)
    return {side: [max(0.0, float(one)) for one in each] for side, each in found.items()}


def roll_time_constant(craft: FoldedCraft, flight: LevelFlight) -> float:
    """Time in which a roll rate about the direction of flight settles by 63 % [s]."""
    axis = roll_axis(flight.alpha)
    damping = axis @ craft.rates_of_turning(flight.motion, flight.density)[3:] @ axis
    inertia = axis @ craft.masses.inertia @ axis
    return float(inertia / -damping) if damping < 0.0 else float("inf")


def hinge_moments(
    craft: FoldedCraft, flight: LevelFlight, roll_rate: float
) -> dict[str, dict[str, float]]:
    """:data:`PARTS` of the moment about every hinge [N m].

    Parameters
    ----------
    flight : level flight (load factor 1) or the bottom of a pull-up
    roll_rate : rate of a steady roll to starboard; its acceleration is the one that reaches this
        rate with the roll's own time constant [rad/s]

    "pull_up" is the inertia of the load factor beyond 1; "roll_air" what the roll rate changes in
    the air's moment. The parts add up to the worst of a rolling pull-up only with their signs
    taken as they fall, see :func:`worst_moment`.
    """
    centre, lattice = craft.masses.centre, craft.loads.lattice
    nothing = np.zeros(3)
    upward = GEOMETRY_TO_BODY @ np.array([np.sin(flight.alpha), 0.0, -np.cos(flight.alpha)])
    excess = (flight.load_factor - 1.0) * GRAVITY
    pull_up = Turning(excess * upward, GEOMETRY_TO_BODY @ flight.motion[3:6], nothing)
    spin = GEOMETRY_TO_BODY @ roll_axis(flight.alpha) * roll_rate
    # Without a roll its time constant, which costs more than all else, does not count.
    time = roll_time_constant(craft, flight) if roll_rate else float("inf")
    rolling = in_roll(flight, roll_rate)
    still = craft.hinge_moments(flight.motion, flight.density)
    turning = craft.hinge_moments(rolling, flight.density)
    found = {}
    for body, line in lattice.hinges.items():
        part = craft.masses.parts[body]
        found[body] = {
            "air": still[body],
            "weight": weight_moment(part, line, flight.alpha),
            "pull_up": inertia_moment(part, line, centre, pull_up),
            "roll_air": turning[body] - still[body],
            "roll_rate": inertia_moment(part, line, centre, Turning(nothing, spin, nothing)),
            "roll_acceleration": inertia_moment(
                part, line, centre, Turning(nothing, nothing, spin / time)
            ),
        }
    return found


def steady_moment(parts: dict[str, float]) -> float:
    """Air, weight and pull-up together: what the gear holds without rolling [N m]."""
    return parts["air"] + parts["weight"] + parts["pull_up"]


def rolled_moments(parts: dict[str, float]) -> Floats:
    """Moments without roll, and for rolling either way starting it and in it, steadily [N m].

    Shape (5,), the same moments of the flight for every hinge. Rolling to port turns the signs of
    what is odd in the rate (air, acceleration) and keeps that of the rate squared.
    """
    held = steady_moment(parts)
    choices = [held]
    for sense in (-1.0, 1.0):
        choices.append(held + sense * parts["roll_acceleration"])
        choices.append(held + sense * parts["roll_air"] + parts["roll_rate"])
    return np.array(choices)


def worst_moment(parts: dict[str, float], swing: float = 0.0) -> float:
    """Largest of :func:`rolled_moments`, with a swing beyond them and without [N m]."""
    held = rolled_moments(parts)
    return float(max(np.concatenate([held, held + swing]), key=abs))


def gust_swing(parts: dict[str, float], before: dict[str, float]) -> float:
    """How far a moment that is there at once swings a tip on its gear beyond it [N m].

    The tip is a mass on a spring, and a load put on suddenly moves it twice as far as it would
    hang at rest, undamped: the spring's moment passes the steady one by its rise (mechanics of
    vibration; the suddenly applied load of any handbook). Light damping takes little of it.

    Parameters
    ----------
    parts, before : of one hinge, with the load and before it
    """
    return steady_moment(parts) - steady_moment(before)


def worst_hinge(sizes: Mapping[str, float]) -> str:
    """The hinge with the largest size; of those alike but for rounding, as on both sides of a craft
    with like folds, the first."""
    least = (1.0 - ALIKE) * max(sizes.values())
    return next((body for body, size in sizes.items() if size >= least), next(iter(sizes)))


def servo_loads(
    craft: FoldedCraft, flight: LevelFlight, serves: str
) -> dict[Side, list[float]]:  # fmt: skip
    """Moment on each servo about the commanded fold, not rolling [N m].

    Parameters
    ----------
    serves : "side": all tips of a side on one, each by its linkage; "tip": each on its own
    """
    return steady_on_servos(craft, hinge_moments(craft, flight, 0.0), serves)


def steady_on_servos(
    craft: FoldedCraft, parts: Mapping[str, dict[str, float]], serves: str
) -> dict[Side, list[float]]:
    """:func:`servo_loads` of moments that are known by part [N m]."""
    linkage = craft.loads.lattice.fold_rates
    own = {b: np.asarray(linkage[b] * steady_moment(one)) for b, one in parts.items()}
    return {side: [float(m) for m in each] for side, each in by_servo(own, serves).items()}


def most_against(moments: Sequence[float], direction: float) -> float:
    """Of the moments on several servos the one that opposes a fold most, or helps it least [N m].

    Parameters
    ----------
    direction : of the fold, positive raising
    """
    return min(moments, key=lambda moment: direction * moment)
