"""Moments that the rotors can give in wing-borne flight while their total thrust is held.

Roll comes from reaction torque: rotors of one sense of rotation take thrust over from those of the
other. Pitch and yaw come from thrust differences at their arms. A rotor that turns "right"
(clockwise seen from behind) turns about the direction of flight as a roll to starboard does, so the
craft feels its torque to port.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from scipy.optimize import linprog

from vlm.constants import Floats
from vlm.description.power import Rotor
from vlm.flight.craft.level import LevelFlight
from vlm.frames import GEOMETRY_TO_BODY, wind_direction
from vlm.power.momentum import disc_flow
from vlm.power.rotor import disc_area, rotor_model


@dataclass(frozen=True)
class RotorMoments:
    """Largest moments with the trim thrust held, either way [N m].

    Attributes
    ----------
    thrust : total thrust [N]
    roll : by reaction torque, at full transfer of thrust from one sense to the other
    pitch, yaw : by thrust differences
    limited : whether a rotor's thrust limit stops the transfer
    """

    thrust: float
    roll: float
    pitch: float
    yaw: float
    limited: bool


def rotor_moments(
    rotors: Sequence[Rotor],
    flight: LevelFlight,
    thrust: float,
    centre: Floats,
    folder: Path | None = None,
) -> RotorMoments | None:
    """What the rotors can do in level flight.

    Parameters
    ----------
    thrust : total thrust, held [N]
    centre : centre of gravity, geometry axes, shape (3,) [m]

    Returns
    -------
    None without rotors, or where the limits do not let them give the thrust that is needed
    """
    if not rotors or thrust < 0.0:
        return None
    wind = flight.airspeed * wind_direction(flight.alpha, 0.0)
    roll = _reaction(rotors, thrust, wind, flight.density, folder)
    arms = np.array([GEOMETRY_TO_BODY @ (np.array(r.position_m) - centre) for r in rotors])
    axes = np.array([GEOMETRY_TO_BODY @ np.array(r.axis) for r in rotors])
    turning = np.cross(arms, axes)
    pitch = _largest(rotors, thrust, turning[:, 1])
    yaw = _largest(rotors, thrust, turning[:, 2])
    if roll is None or pitch is None or yaw is None:
        return None
    return RotorMoments(thrust, roll[0], pitch, yaw, roll[1])


def reaction_roll(
    rotors: Sequence[Rotor], thrust: float, wind: Floats, density: float, folder: Path | None = None
) -> float | None:
    """Rolling moment when all thrust that can goes to the rotors that turn to port [N m].

    Parameters
    ----------
    thrust : total, held [N]
    wind : velocity of the air past the craft, geometry axes, shape (3,) [m/s]

    Returns
    -------
    None where the rotors' limits do not let them give the thrust, or it is negative
    """
    if not rotors or thrust < 0.0:
        return None
    found = _reaction(rotors, thrust, wind, density, folder)
    return None if found is None else found[0]


def _reaction(
    rotors: Sequence[Rotor], thrust: float, wind: Floats, density: float, folder: Path | None
) -> tuple[float, bool] | None:
    """Rolling moment with all thrust that can be on the rotors that turn to port."""
    each = thrust / len(rotors)
    port = [r for r in rotors if r.spin == "left"]
    starboard = [r for r in rotors if r.spin == "right"]
    if not port or not starboard:
        return 0.0, False
    limit = min(_most(r) for r in port)
    more = min(thrust / len(port), limit)
    if more < each:
        return None
    less = max(0.0, (thrust - more * len(port)) / len(starboard))

    def torque(group: Sequence[Rotor], share: float) -> float:
        return sum(shaft_torque(r, share, wind, density, folder) for r in group)

    trimmed = torque(port, each) - torque(starboard, each)
    full = torque(port, more) - torque(starboard, less)
    return full - trimmed, less > 0.0


def shaft_torque(
    rotor: Rotor, thrust: float, wind: Floats, density: float, folder: Path | None
) -> float:
    """Torque of a rotor that gives a thrust [N m].

    Parameters
    ----------
    wind : velocity of the air past the craft, geometry axes, shape (3,) [m/s]
    """
    axis = np.array(rotor.axis) / np.linalg.norm(rotor.axis)
    axial = -float(wind @ axis)
    edgewise = float(np.linalg.norm(wind + axial * axis))
    flow = disc_flow(thrust, axial, edgewise, density, disc_area(rotor))
    return float(rotor_model(rotor, folder).state(flow, density).torque)


def _most(rotor: Rotor) -> float:
    return float("inf") if rotor.thrust_max_N is None else rotor.thrust_max_N


def _largest(rotors: Sequence[Rotor], thrust: float, arms: Floats) -> float | None:
    """Largest sum of thrust times arm, less that of equal thrusts, with the total held [N m]."""
    bounds = [(r.thrust_min_N, r.thrust_max_N) for r in rotors]
    found = linprog(-arms, A_eq=np.ones((1, len(rotors))), b_eq=[thrust], bounds=bounds)
    if not found.success or found.fun is None:
        return None
    return float(-found.fun - thrust * arms.mean())
