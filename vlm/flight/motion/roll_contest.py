"""Tips against rotors: which rolls the craft harder, from hover to top speed.

At each airspeed the craft is trimmed with its base fold, sections, stall, slipstream and all. Then

- the tips go to the folds of the command, body angle and thrusts held, and the wings' rolling
  moment about the body's x axis is read;
- the rotors, at the base fold, roll as hard as their limits of thrust and power allow with the
  total thrust and the two other moments held (:mod:`vlm.flight.trim.rotor_moments`).
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby

import numpy as np

from vlm.constants import Floats
from vlm.flight.craft.stalled import left_open
from vlm.flight.trim.condition import FlightCondition
from vlm.flight.trim.powered import FlightLoads, PoweredCraft, flight_loads
from vlm.flight.trim.trim_measures import stall_margins
from vlm.verdicts import SIGN_NOT_KNOWN, verdict

TIPS, ROTORS = "the tips", "the rotors"


@dataclass(frozen=True)
class Contest:
    """Tips against rotors at one airspeed; thrust and angle of the full trim, moments in body axes.

    Attributes
    ----------
    tips_N_m, tips_yawing_N_m : of the wings with the tips at the command's folds
    tips_half_width_N_m : of the error of the tips' rolling moment; None where nothing is known
    rotors_N_m, rotors_yawing_N_m : what the rotors can add either way, about each axis by itself
    rotors_stopped_by : the limits that end it
    rotors_half_width_N_m : of the rotors' rolling moment, by what the file states of the power
        they need; None where it states nothing
    tips_yawing_half_width_N_m, rotors_yawing_half_width_N_m : likewise, of the yawing moments
    """

    airspeed_m_s: float
    body_angle_deg: float | None = None
    thrust_N: float | None = None
    tips_N_m: float | None = None
    tips_half_width_N_m: float | None = None
    rotors_N_m: float | None = None
    tips_yawing_N_m: float | None = None
    rotors_yawing_N_m: float | None = None
    rotors_stopped_by: str = ""
    rotors_half_width_N_m: float | None = None
    tips_yawing_half_width_N_m: float | None = None
    rotors_yawing_half_width_N_m: float | None = None

    @property
    def lead(self) -> float | None:
        """Size of the tips' moment less that of the rotors [N m]."""
        if self.tips_N_m is None or self.rotors_N_m is None:
            return None
        return abs(self.tips_N_m) - self.rotors_N_m

    @property
    def stronger(self) -> str | None:
        """Who rolls the craft harder, or that it is not known; None without both moments."""
        if self.lead is None:
            return None
        width = self.tips_half_width_N_m
        if width is not None:
            width += self.rotors_half_width_N_m or 0.0
        return verdict(self.lead, width, TIPS, ROTORS, "neither")


@dataclass(frozen=True)
class TipsMoments:
    """Moments of the wings with the tips at a command's folds, in one trim.

    Attributes
    ----------
    moments : shape (3,), about roll, pitch and yaw, body axes [N m]
    left_open : of each, what stalled sections leave open, shape (3,) [N m]
    """

    moments: Floats
    left_open: Floats


def tips_moments(
    rolling: PoweredCraft, thin: PoweredCraft, trim: FlightCondition
) -> TipsMoments | None:
    """Moments of the wings, body angle and thrusts of a trim held.

    Parameters
    ----------
    rolling, thin : at the command's folds, with the file's sections and with thin ones

    Returns
    -------
    None where strips and sections do not agree
    """
    loads = _loads(rolling, trim)
    if not loads.coupled.converged.all():
        return None
    margin, own = float(stall_margins(loads)[0]), _moments(loads)
    if margin >= 0.0:
        return TipsMoments(own, np.zeros(3))
    changes = own - _moments(_loads(thin, trim))
    return TipsMoments(own, np.array([left_open(margin, float(one)) for one in changes]))


def _loads(craft: PoweredCraft, trim: FlightCondition) -> FlightLoads:
    speed, alpha = np.array([trim.airspeed]), np.array([trim.alpha])
    return flight_loads(craft, speed, alpha, np.array([trim.thrusts]))


def _moments(loads: FlightLoads) -> Floats:
    _, moment = loads.wings()
    # Body x points forward and z down, geometry x aft and z up.
    return np.asarray(moment[0] * (-1.0, 1.0, -1.0))


def contest(
    trim: FlightCondition,
    tips: TipsMoments | None,
    half_widths: Floats | None = None,
    rotors: Mapping[str, float] | None = None,
) -> Contest:
    """Tips against rotors in one trim.

    Parameters
    ----------
    half_widths : of the errors of the tips' moments, shape (3,) [N m]
    rotors : of those of the rotors', by axis [N m]
    """
    own = (None, None, None) if half_widths is None else tuple(float(v) for v in half_widths)
    known = rotors or {}
    roll = None if trim.rotors is None else trim.rotors.roll
    return Contest(
        airspeed_m_s=trim.airspeed,
        body_angle_deg=float(np.degrees(trim.alpha)),
        thrust_N=trim.thrust,
        tips_N_m=None if tips is None else float(tips.moments[0]),
        tips_half_width_N_m=own[0],
        rotors_N_m=None if roll is None else roll.either_way,
        tips_yawing_N_m=None if tips is None else float(tips.moments[2]),
        rotors_yawing_N_m=None if trim.rotors is None else trim.rotors.yaw.either_way,
        rotors_stopped_by="" if roll is None else roll.stopped_by[0],
        rotors_half_width_N_m=known.get("roll"),
        tips_yawing_half_width_N_m=own[2],
        rotors_yawing_half_width_N_m=known.get("yaw"),
    )


def stronger_words(found: Sequence[Contest]) -> str:
    """Who is the stronger over which airspeeds, those asked for in order."""
    known = [one for one in found if one.stronger is not None]
    parts = []
    for who, group in groupby(known, lambda one: one.stronger):
        at = [one.airspeed_m_s for one in group]
        where = f"at {at[0]:.3g} m/s" if len(at) == 1 else f"from {at[0]:.3g} to {at[-1]:.3g} m/s"
        is_known = who != SIGN_NOT_KNOWN
        parts.append(f"{who} are the stronger {where}" if is_known else f"not known {where}")
    return "; ".join(parts) or "no airspeed has a trim"
