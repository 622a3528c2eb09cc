"""The servo: torque against speed, and what it takes to fold a tip under load.

A direct-current servo's speed falls in a straight line from its no-load speed to nothing at its
stall torque, and its current rises in a straight line with torque (the classic motor line).
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.optimize import brentq

from vlm.constants import Floats
from vlm.description.actuator import Actuator
from vlm.flight.mechanism.worm import worm_factors, worm_torque


def servo_speed(actuator: Actuator, torque: ArrayLike) -> Floats:
    """Speed of the servo's shaft while it gives torques of any shape [rad/s]; 0 past its stall.

    A braking (negative) torque turns it faster than without load, along the same line. 0 where a
    torque is not known.
    """
    free = float(np.radians(actuator.servo_no_load_speed_deg_s))
    share = np.asarray(torque) / actuator.servo_stall_torque_N_m
    return np.asarray(np.fmax(0.0, free * (1.0 - share)))


def servo_current(actuator: Actuator, torque: float) -> float:
    """Current while it gives a torque [A]; a braking servo draws its no-load current."""
    span = actuator.servo_stall_current_A - actuator.servo_no_load_current_A
    share = min(1.0, max(0.0, torque / actuator.servo_stall_torque_N_m))
    return actuator.servo_no_load_current_A + span * share


def fold_speed(actuator: Actuator, moment: float, friction: float) -> float:
    """Speed of a tip about its hinge against an opposing moment [rad/s]; negative: it helps."""
    torque = worm_torque(actuator, moment, friction)
    return float(servo_speed(actuator, torque)) / actuator.worm_ratio


def fold_speeds(actuator: Actuator, moments: Floats, friction: float) -> Floats:
    """:func:`fold_speed` for moments of any shape, at less cost; 0 where one is not known."""
    against, helped = worm_factors(actuator, friction)
    torque = moments * np.where(moments > 0.0, against, helped)
    return servo_speed(actuator, torque) / actuator.worm_ratio


@dataclass(frozen=True)
class Folding:
    """One folding of one servo's tips.

    Attributes
    ----------
    time : [s], infinite if the servo stalls on the way
    energy : electrical energy at the servo [J]
    work : mechanical work done on the tips against the load, negative if it helped; what the
        air's damping takes apart [J]
    peak_torque : highest torque of the servo while it folds, starting apart [N m]
    end_speed : speed of the tips about their hinge at the end [rad/s]
    stalls_at : fold at which it stalls first [rad], or None
    """

    time: float
    energy: float
    work: float
    peak_torque: float
    stalls_at: float | None
    end_speed: float = 0.0


def folding(
    actuator: Actuator,
    start: float,
    end: float,
    load: Callable[[Floats], Floats],
    friction: float,
    damping: Callable[[Floats], Floats] | None = None,
    steps: int = 240,
) -> Folding:
    """Time and energy to fold from one angle to another.

    Parameters
    ----------
    start, end : fold [rad]
    load : moment on the servo's tips against fold, positive raising them, for an array of
        folds [rad] -> [N m]
    friction : of the mesh [1]
    damping : moment of the air against the tips' speed, on the servo, for an array of folds, not
        negative [N m s/rad]; none if left out
    steps : intervals of the midpoint rule

    The tips move steadily, against the load and the air's damping; for their own inertia see
    :func:`starting_torque`.
    """
    folds = start + (np.arange(steps) + 0.5) / steps * (end - start)
    step = abs(end - start) / steps
    direction = float(np.sign(end - start))
    still = -direction * np.asarray(load(folds), dtype=float)
    against = np.zeros(steps) if damping is None else np.asarray(damping(folds), dtype=float)
    opposing = np.array(
        [
            moment + resist * damped_speed(actuator, float(moment), float(resist), friction)
            for moment, resist in zip(still, against, strict=True)
        ]
    )
    torques = np.array([worm_torque(actuator, float(m), friction) for m in opposing])
    speeds = servo_speed(actuator, torques) / actuator.worm_ratio
    work = float(still.sum() * step)
    peak = float(torques.max(initial=0.0))
    stalled = np.flatnonzero(speeds <= 0.0)
    if len(stalled):
        return Folding(float("inf"), float("inf"), work, peak, float(folds[stalled[0]]))
    durations = step / speeds
    currents = np.array([servo_current(actuator, float(t)) for t in torques])
    energy = float(actuator.servo_voltage_V * np.sum(currents * durations))
    return Folding(float(durations.sum()), energy, work, peak, None, float(speeds[-1]))


def damped_speed(actuator: Actuator, moment: float, damping: float, friction: float) -> float:
    """Speed of a tip at which the servo's torque meets load and damping [rad/s].

    Parameters
    ----------
    moment : moment about the hinge that opposes the motion at rest [N m]
    damping : of the air against the tip's speed [N m s/rad]
    """
    free = fold_speed(actuator, moment, friction)
    if damping <= 0.0 or free <= 0.0:
        return free

    def excess(speed: float) -> float:
        return fold_speed(actuator, moment + damping * speed, friction) - speed

    # Against a load that helps and a gear that locks, damping takes friction off: then it is
    # faster than without.
    most = 3.0 * float(np.radians(actuator.servo_no_load_speed_deg_s)) / actuator.worm_ratio
    if excess(most) >= 0.0:
        return free
    return float(brentq(excess, 0.0, most, xtol=1e-9))


def starting_torque(
    actuator: Actuator, moment: float, inertia: float, friction: float
) -> float | None:
    """Torque of the servo that sets tips in motion [N m].

    The speed rises with the servo's time constant, at first by the steady speed over the time
    constant; the tips' inertia comes on top of the load. None where the time constant is zero:
    the start is not modelled then.

    Parameters
    ----------
    moment : moment about the hinge that opposes the motion [N m]
    inertia : of the tips about their hinge, on the servo [kg m^2]
    """
    lag = actuator.servo_time_constant_s
    if lag <= 0.0:
        return None
    rise = fold_speed(actuator, moment, friction) / lag
    return min(
        actuator.servo_stall_torque_N_m, worm_torque(actuator, moment + inertia * rise, friction)
    )


def stopping_shock(speed: float, stiffness: float, inertia: float) -> float:
    """Moment about a hinge when the worm stops a turning tip in an instant [N m].

    The tip's energy goes into the stiffness of gear and hinge, I omega^2 / 2 = M^2 / 2 K, so that
    M = omega sqrt(K I), on top of the steady moment (undamped; backlash adds to it).

    Parameters
    ----------
    speed : omega [rad/s]
    stiffness : K, of the hinge [N m/rad]
    inertia : I, of the tip about the hinge [kg m^2]
    """
    return abs(speed) * float(np.sqrt(stiffness * inertia))


def greatest_moment(actuator: Actuator, friction: float) -> float:
    """Opposing moment about the hinge at which the servo stalls [N m]."""
    return actuator.servo_stall_torque_N_m / worm_torque(actuator, 1.0, friction)
