"""The servo: torque against speed, and what it takes to fold a tip under load.

A direct-current servo's speed falls in a straight line from its no-load speed to nothing at its
stall torque, and its current rises in a straight line with torque (the classic motor line).
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from vlm.constants import Floats
from vlm.description.actuator import Actuator
from vlm.flight.mechanism.worm import worm_torque


def servo_speed(actuator: Actuator, torque: float) -> float:
    """Speed of the servo's shaft while it gives a torque [rad/s]; nothing past its stall.

    A braking (negative) torque turns it faster than without load, along the same line.
    """
    free = float(np.radians(actuator.servo_no_load_speed_deg_s))
    return max(0.0, free * (1.0 - torque / actuator.servo_stall_torque_N_m))


def servo_current(actuator: Actuator, torque: float) -> float:
    """Current while it gives a torque [A]; a braking servo draws its no-load current."""
    span = actuator.servo_stall_current_A - actuator.servo_no_load_current_A
    share = min(1.0, max(0.0, torque / actuator.servo_stall_torque_N_m))
    return actuator.servo_no_load_current_A + span * share


def fold_speed(actuator: Actuator, moment: float, friction: float) -> float:
    """Speed of a tip about its hinge against an opposing moment [rad/s]; negative: it helps."""
    return servo_speed(actuator, worm_torque(actuator, moment, friction)) / actuator.worm_ratio


@dataclass(frozen=True)
class Folding:
    """One folding of one servo's tips.

    Attributes
    ----------
    time : [s], infinite if the servo stalls on the way
    energy : electrical energy at the servo [J]
    work : mechanical work done on the tips against the load, negative if it helped [J]
    peak_torque : greatest torque of the servo [N m]
    stalls_at : fold at which it stalls first [rad], or None
    """

    time: float
    energy: float
    work: float
    peak_torque: float
    stalls_at: float | None


def folding(
    actuator: Actuator,
    start: float,
    end: float,
    load: Callable[[Floats], Floats],
    friction: float,
    steps: int = 240,
) -> Folding:
    """Time and energy to fold from one angle to another.

    Parameters
    ----------
    start, end : fold [rad]
    load : moment on the servo's tips against fold, positive raising them, for an array of
        folds [rad] -> [N m]
    friction : of the mesh [1]
    steps : intervals of the midpoint rule

    The tip is taken to move steadily: its own inertia is no part of this.
    """
    folds = start + (np.arange(steps) + 0.5) / steps * (end - start)
    step = abs(end - start) / steps
    direction = float(np.sign(end - start))
    opposing = -direction * np.asarray(load(folds), dtype=float)
    torques = np.array([worm_torque(actuator, float(m), friction) for m in opposing])
    speeds = np.array([servo_speed(actuator, float(t)) for t in torques]) / actuator.worm_ratio
    work = float(opposing.sum() * step)
    peak = float(torques.max(initial=0.0))
    stalled = np.flatnonzero(speeds <= 0.0)
    if len(stalled):
        return Folding(float("inf"), float("inf"), work, peak, float(folds[stalled[0]]))
    durations = step / speeds
    currents = np.array([servo_current(actuator, float(t)) for t in torques])
    energy = float(actuator.servo_voltage_V * np.sum(currents * durations))
    return Folding(float(durations.sum()), energy, work, peak, None)


def greatest_moment(actuator: Actuator, friction: float) -> float:
    """Opposing moment about the hinge at which the servo stalls [N m]."""
    return actuator.servo_stall_torque_N_m / worm_torque(actuator, 1.0, friction)
