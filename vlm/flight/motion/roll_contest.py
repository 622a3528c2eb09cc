"""Tips against rotors: which rolls the craft harder, from hover to top speed.

At each airspeed the craft is trimmed with its base fold, sections, stall, slipstream and all. Then

- the tips go to the folds of the command, body angle and thrusts held, and the wings' rolling
  moment about the body's x axis is read;
- the rotors, at the base fold, roll as hard as their limits of thrust and power allow with the
  total thrust and the two other moments held (:mod:`vlm.flight.trim.rotor_moments`).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from vlm.description.folds import FoldAngles
from vlm.flight.craft.crossing import zeros_of
from vlm.flight.craft.modelling import Modelling
from vlm.flight.trim.condition import FlightCondition, FlightConditions
from vlm.flight.trim.powered import PoweredCraft, flight_loads


@dataclass(frozen=True)
class Contest:
    """Tips against rotors at one airspeed; thrust and angle of the full trim, moments in body axes.

    Attributes
    ----------
    tips_N_m, tips_yawing_N_m : of the wings with the tips at the command's folds
    rotors_N_m, rotors_yawing_N_m : what the rotors can add either way, about each axis by itself
    rotors_stopped_by : the limits that end it
    """

    airspeed_m_s: float
    body_angle_deg: float | None = None
    thrust_N: float | None = None
    tips_N_m: float | None = None
    rotors_N_m: float | None = None
    tips_yawing_N_m: float | None = None
    rotors_yawing_N_m: float | None = None
    rotors_stopped_by: str = ""

    @property
    def lead(self) -> float | None:
        """Size of the tips' moment less that of the rotors [N m]."""
        if self.tips_N_m is None or self.rotors_N_m is None:
            return None
        return abs(self.tips_N_m) - self.rotors_N_m


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
            found.append(Contest(float(speed)))
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
        airspeed_m_s=trim.airspeed,
        body_angle_deg=float(np.degrees(trim.alpha)),
        thrust_N=trim.thrust,
        tips_N_m=-float(moment[0, 0]) if known else None,
        rotors_N_m=None if roll is None else roll.either_way,
        tips_yawing_N_m=-float(moment[0, 2]) if known else None,
        rotors_yawing_N_m=None if trim.rotors is None else trim.rotors.yaw.either_way,
        rotors_stopped_by="" if roll is None else roll.stopped_by[0],
    )


def equal_airspeeds(found: Sequence[Contest]) -> list[float]:
    """Airspeeds at which both roll alike, linear between the contests [m/s]."""
    known = [(one.airspeed_m_s, one.lead) for one in found if one.lead is not None]
    return zeros_of([speed for speed, _ in known], [lead for _, lead in known])
