"""The stabilising law: thrust and moments that the rotors are commanded to add."""

from dataclasses import dataclass

import numpy as np

from vlm.constants import Floats
from vlm.description.motion import StabilisingLaw


@dataclass(frozen=True)
class Sensed:
    """What the law goes by.

    Attributes
    ----------
    bank, pitch, sideslip : [rad]
    rates : body rates, shape (3,) [rad/s]
    airspeed : [m/s]
    height, climb : above the start [m], and its rate [m/s]
    """

    bank: float
    pitch: float
    sideslip: float
    rates: Floats
    airspeed: float
    height: float
    climb: float


@dataclass(frozen=True)
class Wanted:
    """What the law steers to: bank and pitch [rad], airspeed [m/s]; whether bank is held."""

    bank: float
    pitch: float
    airspeed: float
    holds_bank: bool = True


def commanded(law: StabilisingLaw | None, sensed: Sensed, wanted: Wanted) -> Floats:
    """Thrust and moments to add to those of the start, shape (4,) [N, N m].

    The pitch attitude wanted rises with height and climb lost, up to the law's limit.
    """
    if law is None:
        return np.zeros(4)
    p, q, r = sensed.rates
    change = -law.height_rad_m * sensed.height - law.sink_rad_s_m * sensed.climb
    most = float(np.radians(law.pitch_change_max_deg))
    pitch = wanted.pitch + min(most, max(-most, change))
    roll = -law.roll_rate_N_m_s_rad * p
    if wanted.holds_bank:
        roll -= law.roll_angle_N_m_rad * (sensed.bank - wanted.bank)
    pitching = -law.pitch_angle_N_m_rad * (sensed.pitch - pitch) - law.pitch_rate_N_m_s_rad * q
    yaw = law.sideslip_N_m_rad * sensed.sideslip - law.yaw_rate_N_m_s_rad * r
    return np.array(
        [
            law.speed_N_s_m * (wanted.airspeed - sensed.airspeed),
            _within(roll, law.roll_limit_N_m),
            _within(pitching, law.pitch_limit_N_m),
            _within(yaw, law.yaw_limit_N_m),
        ]
    )


def _within(value: float, limit: float | None) -> float:
    return value if limit is None else min(limit, max(-limit, value))
