"""A sudden upward gust on a craft in level flight, before the craft has answered it.

The craft flies level at U, its nose at alpha. All at once the air rises at w over the whole of it,
while its speed, attitude and rates are still those of before. The motion past the air is then

    (u, w) = U (cos alpha, sin alpha) + w (-sin alpha, cos alpha)                       (1)

at an angle of attack of alpha + atan(w / U); the loads are those of that motion in steady flow. The
load factor is the force across the path of flight over the weight,

    n = [-Z cos alpha + (X + T) sin alpha] / (m g)                                      (2)

with the thrust T of level flight, and what rotors at fixed controls answer. For a straight lift
curve and small w this is the sharp-edged gust's n = 1 + rho U w S a / (2 m g), a the slope.

A gust that builds up over 12.5 chords, as one minus cosine, is met by a craft that already heaves
and by lift that follows late. Its share that counts is the gust alleviation factor (Pratt and
Walker, NACA Report 1206, 1954, and 14 CFR 23.341(c); from memory)

    K = 0.88 mu / (5.3 + mu),   mu = 2 m / (rho c S a)                                  (3)

With the mean slope of (2) up to n, mu = U w / ((n - 1) g c), so that the gust which adds what a
sudden w adds is

    w / K = [w + 5.3 (n - 1) g c / U] / 0.88                                            (4)
"""

from dataclasses import dataclass, replace

import numpy as np

from vlm.constants import GRAVITY, Floats
from vlm.flight.craft.crossing import crossing
from vlm.flight.craft.folded_craft import FoldedCraft
from vlm.flight.craft.level import STEEPEST_RAD, LevelFlight
from vlm.flight.craft.rotor_rates import NO_ROTORS, RotorRates

MOST_EASED, EASED_MASS = 0.88, 5.3
"""Numbers of equation (3) [1]."""
EASED_OPEN = 0.2
"""What equation (4) leaves open, over the gust: flown in six degrees of freedom, with lag and
without law, it adds 14 % less to 19 % more than the load factor asked for, on five shipped craft;
most where a craft pitches up in it."""
SCAN_STEP = float(np.radians(0.5))
SLOPE_STEP = 0.01
"""Step of :func:`gust_slope` over the airspeed, about half a degree either way [1]."""
TOLERANCE = 1e-9


@dataclass(frozen=True)
class GustReach:
    """A sudden gust and the load factor that it takes a craft to.

    Attributes
    ----------
    speed : [m/s]
    load_factor : [1]
    """

    speed: float
    load_factor: float


def gust_motions(flight: LevelFlight, speeds: Floats) -> Floats:
    """Equation (1): motions z past the air in gusts of shape (n,) [m/s], shape (n, motions)."""
    motions = np.tile(flight.motion, (len(speeds), 1))
    motions[:, 0] -= speeds * np.sin(flight.alpha)
    motions[:, 2] += speeds * np.cos(flight.alpha)
    return motions


def gust_alpha(flight: LevelFlight, speed: float) -> float:
    """Angle of attack in a gust [rad]."""
    return flight.alpha + float(np.arctan2(speed, flight.airspeed))


def gust_load_factors(
    craft: FoldedCraft, flight: LevelFlight, speeds: Floats, rotors: RotorRates = NO_ROTORS
) -> Floats:
    """Equation (2) in gusts of shape (n,) [m/s]; NaN where strips and sections do not agree.

    Parameters
    ----------
    flight : level flight of this craft
    rotors : what rotors answer; counted as none where that is not known
    """
    motions = gust_motions(flight, speeds)
    force = craft.wrenches(motions, flight.density)[:, :3]
    force = force + (motions - flight.motion)[:, :3] @ rotors.rates[:3, :3].T
    across = -force[:, 2] * np.cos(flight.alpha)
    across += (force[:, 0] + flight.thrust) * np.sin(flight.alpha)
    return np.asarray(across / (craft.masses.mass * GRAVITY))


def gust_reach(
    craft: FoldedCraft, flight: LevelFlight, load_factor: float, rotors: RotorRates = NO_ROTORS
) -> GustReach | None:
    """The least sudden gust that takes a craft from level flight to a load factor.

    Returns
    -------
    That of the highest load factor up to 25 degrees of angle of attack where none reaches the one
    asked for; None where strips and sections do not agree
    """
    if load_factor <= 1.0:
        return GustReach(0.0, 1.0)

    def beyond(speed: float) -> float:
        return float(gust_load_factors(craft, flight, np.array([speed]), rotors)[0]) - load_factor

    speeds = _scanned(flight)
    found = gust_load_factors(craft, flight, speeds, rotors)
    speeds, found = speeds[np.isfinite(found)], found[np.isfinite(found)]
    reached = np.flatnonzero(found >= load_factor)
    if not len(reached):
        if not len(found):
            return None
        most = int(np.argmax(found))
        return GustReach(float(speeds[most]), float(found[most]))
    if reached[0] == 0:
        return None
    low, high = speeds[reached[0] - 1], speeds[reached[0]]
    speed = crossing(beyond, float(low), float(high), TOLERANCE)
    return None if speed is None else GustReach(speed, load_factor)


def reached_on_the_way(
    craft: FoldedCraft, flight: LevelFlight, speed: float, rotors: RotorRates = NO_ROTORS
) -> list[GustReach]:
    """Load factors that a gust passes while it rises to a speed [m/s], in steps of half a degree.

    Up to 25 degrees of angle of attack, and without those where strips and sections do not agree.
    """
    speeds = _scanned(flight)
    speeds = np.append(speeds[speeds < speed], min(speed, float(speeds[-1])))
    found = gust_load_factors(craft, flight, speeds, rotors)
    pairs = zip(speeds.tolist(), found.tolist(), strict=True)
    return [GustReach(place, factor) for place, factor in pairs if np.isfinite(factor)]


def flight_in_gust(craft: FoldedCraft, flight: LevelFlight, reach: GustReach) -> LevelFlight:
    """The flight in a gust: accelerated to its load factor, attitude and thrust as before.

    Its ``alpha`` is that of the attitude, its motion that past the air.
    """
    motion = gust_motions(flight, np.array([reach.speed]))[0]
    margin, stalled = craft.stall(motion, flight.density)
    return replace(
        flight, load_factor=reach.load_factor, motion=motion, stall_margin=margin, stalled=stalled,
        wrench=craft.wrench(motion, flight.density),
    )  # fmt: skip


def steepest_gust(flight: LevelFlight) -> float:
    """The gust at 25 degrees of angle of attack, the strongest that is looked at [m/s]."""
    return float(_scanned(flight)[-1])


def _scanned(flight: LevelFlight) -> Floats:
    """Gusts from none to 25 degrees of angle of attack [m/s]."""
    farthest = max(STEEPEST_RAD - flight.alpha, SCAN_STEP)
    steps = np.linspace(0.0, farthest, 1 + int(np.ceil(farthest / SCAN_STEP)))
    return np.asarray(flight.airspeed * np.tan(steps))


def gust_slope(
    craft: FoldedCraft, flight: LevelFlight, speed: float, rotors: RotorRates = NO_ROTORS
) -> float:
    """Rate of the load factor with the gust's speed [s/m]."""
    step = SLOPE_STEP * flight.airspeed
    low, high = gust_load_factors(craft, flight, speed + step * np.array([-1.0, 1.0]), rotors)
    return float((high - low) / (2.0 * step))


def eased_half_width(eased: float, half_width: float) -> float:
    """Half-width of an eased gust: that of the sudden one, and what equation (4) leaves open [m/s].

    Parameters
    ----------
    eased, half_width : the eased gust, and the half-width of the sudden one [m/s]
    """
    return half_width / MOST_EASED + EASED_OPEN * eased


def eased_gust(flight: LevelFlight, speed: float, load_factor: float, chord: float) -> float:
    """Equation (4): the gust over 12.5 chords that adds what a sudden one adds [m/s].

    Parameters
    ----------
    speed : of the sudden gust that reaches the load factor [m/s]
    chord : planform area of all wings over the sum of their flat spans [m]
    """
    heave = (load_factor - 1.0) * GRAVITY * chord / flight.airspeed
    return (speed + EASED_MASS * heave) / MOST_EASED
