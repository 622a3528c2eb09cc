"""Tips against rotors: which rolls the craft harder, from hover to top speed.

At each airspeed the craft is trimmed with its base fold, sections, stall, slipstream and all. Then

- the tips go to the folds of the command, body angle and thrusts held, and the wings' rolling
  moment about the body's x axis is read;
- the rotors, at the base fold, roll as hard as their limits of thrust and power allow with the
  total thrust and the two other moments held (:mod:`vlm.flight.trim.rotor_moments`).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from vlm.description.folds import FoldAngles
from vlm.flight.craft.modelling import Modelling
from vlm.flight.trim.condition import FlightCondition, FlightConditions
from vlm.flight.trim.powered import PoweredCraft, flight_loads


@dataclass(frozen=True)
class Contest:
    """Both moments at one airspeed; those of a setting without trim are None.

    Attributes
    ----------
    airspeed : [m/s]
    body_angle : of the trim [rad]
    thrust : of all rotors [N]
    tips : rolling moment of the wings with the command's folds, body axes [N m]
    rotors : change of the rolling moment that the rotors can make either way [N m]
    tips_yaw : yawing moment of the same wings, body axes [N m]
    rotors_yaw : change of the yawing moment that the rotors can make either way [N m]
    rotors_stopped_by : the limits that end it
    """

    airspeed: float
    body_angle: float | None
    thrust: float | None
    tips: float | None
    rotors: float | None
    tips_yaw: float | None = None
    rotors_yaw: float | None = None
    rotors_stopped_by: str = ""

    @property
    def lead(self) -> float | None:
        """Size of the tips' moment less that of the rotors [N m]."""
        if self.tips is None or self.rotors is None:
            return None
        return abs(self.tips) - self.rotors


def contests(
    conditions: FlightConditions, base: FoldAngles, command: FoldAngles, airspeeds: Sequence[float]
) -> list[Contest]:
    """Both moments at ascending airspeeds, from 0 (hover) on.

    Raises
    ------
    InputRefused : a block that trim needs is missing, or a fold cannot be built
    """
    rolling = conditions.powered(command)
    found = []
    for speed in airspeeds:
        trim = conditions.at(base, float(speed), Modelling.ROTORS)
        if trim is None:
            found.append(Contest(float(speed), None, None, None, None))
        else:
            found.append(_contest(rolling, trim))
    return found


def _contest(rolling: PoweredCraft, trim: FlightCondition) -> Contest:
    loads = flight_loads(
        rolling, np.array([trim.airspeed]), np.array([trim.alpha]), np.array([trim.thrusts])
    )
    _, moment = loads.wings()
    known = bool(loads.coupled.converged.all())
    roll = None if trim.rotors is None else trim.rotors.roll
    # Body x points forward and z down, geometry x aft and z up.
    return Contest(
        airspeed=trim.airspeed,
        body_angle=trim.alpha,
        thrust=trim.thrust,
        tips=-float(moment[0, 0]) if known else None,
        rotors=None if roll is None else roll.either_way,
        tips_yaw=-float(moment[0, 2]) if known else None,
        rotors_yaw=None if trim.rotors is None else trim.rotors.yaw.either_way,
        rotors_stopped_by="" if roll is None else roll.stopped_by[0],
    )


def equal_airspeeds(found: Sequence[Contest]) -> list[float]:
    """Airspeeds at which both roll alike, linear between the contests [m/s]."""
    known = [(one.airspeed, one.lead) for one in found if one.lead is not None]
    crossings = []
    for (low, before), (high, after) in pairwise(known):
        if before * after < 0.0:
            crossings.append(low + (high - low) * before / (before - after))
    return crossings
