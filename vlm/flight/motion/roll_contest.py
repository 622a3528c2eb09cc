"""Tips against rotors: which rolls the craft harder, from hover to top speed.

At each airspeed the craft is trimmed with its base fold, sections, stall, slipstream and all. Then

- the tips go to the folds of the command, body angle and thrusts held, and the wings' rolling
  moment about the body's x axis is read;
- the rotors, at the base fold, hand thrust over from one sense of rotation to the other with the
  total held, and the change of their reaction torque is read.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from vlm.air import standard_air
from vlm.constants import Floats
from vlm.description.folds import FoldAngles
from vlm.description.models import Biplane
from vlm.flight.motion.rotor_moments import reaction_roll
from vlm.flight.trim.powered import PoweredCraft, flight_loads, powered_craft
from vlm.flight.trim.trim import Trim, trim_problem, trimmed


@dataclass(frozen=True)
class Contest:
    """Both moments at one airspeed; those of a setting without trim are None.

    Attributes
    ----------
    airspeed : [m/s]
    body_angle : of the trim [rad]
    thrust : of all rotors [N]
    tips : rolling moment of the wings with the command's folds, body axes [N m]
    rotors : largest change of the rolling moment of the rotors' reaction torque [N m]
    """

    airspeed: float
    body_angle: float | None
    thrust: float | None
    tips: float | None
    rotors: float | None

    @property
    def lead(self) -> float | None:
        """Size of the tips' moment less that of the rotors [N m]."""
        if self.tips is None or self.rotors is None:
            return None
        return abs(self.tips) - self.rotors


def has_trim(craft: Biplane) -> bool:
    """Whether the file says enough to trim the craft with its rotors."""
    return bool(craft.rotors) and craft.propulsion is not None and craft.mass is not None


def powered(craft: Biplane, folds: FoldAngles, density: float) -> PoweredCraft:
    """The craft with rotors and sections at one fold, in air of a density [kg/m^3]."""
    return powered_craft(craft, folds, air=replace(standard_air(), density_kg_m3=density))


def contests(
    craft: Biplane,
    base: FoldAngles,
    command: FoldAngles,
    airspeeds: Sequence[float],
    density: float,
) -> list[Contest]:
    """Both moments at ascending airspeeds, from 0 (hover) on.

    Raises
    ------
    InputRefused : a block that trim needs is missing, or a fold cannot be built
    """
    resting, rolling = powered(craft, base, density), powered(craft, command, density)
    problem, guess = trim_problem(resting), None
    found = []
    for speed in airspeeds:
        trim = trimmed(problem, float(speed), guess=guess)
        if not trim.is_settled and guess is not None:
            trim = trimmed(problem, float(speed))
        if not trim.is_settled:
            found.append(Contest(float(speed), None, None, None, None))
            continue
        guess = trim.unknown
        found.append(_contest(craft, rolling, trim, density))
    return found


def _contest(craft: Biplane, rolling: PoweredCraft, trim: Trim, density: float) -> Contest:
    loads = flight_loads(
        rolling, np.array([trim.speed]), np.array([trim.alpha]), trim.thrusts[None, :]
    )
    _, moment = loads.wings()
    wind = trim.speed * np.array([np.cos(trim.alpha), 0.0, np.sin(trim.alpha)])
    # Body x points forward, geometry x aft.
    tips = -float(moment[0, 0]) if bool(loads.settled.settled.all()) else None
    total = float(np.sum(trim.thrusts))
    roll = reaction_roll(craft.rotors, total, wind, density, craft.folder)
    return Contest(trim.speed, trim.theta, total, tips, roll)


def trim_thrusts(
    craft: Biplane, folds: FoldAngles, airspeed: float, density: float
) -> Floats | None:
    """Thrust of each rotor in level flight at one fold [N], or None without a trim."""
    if not has_trim(craft):
        return None
    trim = trimmed(trim_problem(powered(craft, folds, density)), airspeed)
    return trim.thrusts if trim.is_settled else None


def equal_airspeeds(found: Sequence[Contest]) -> list[float]:
    """Airspeeds at which both roll alike, linear between the contests [m/s]."""
    known = [(one.airspeed, one.lead) for one in found if one.lead is not None]
    crossings = []
    for (low, before), (high, after) in pairwise(known):
        if before * after < 0.0:
            crossings.append(low + (high - low) * before / (before - after))
    return crossings
