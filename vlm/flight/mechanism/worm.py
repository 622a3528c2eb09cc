"""The worm gear: efficiency both ways, and whether it locks itself.

With normal pressure angle phi, lead angle lambda and friction f, the efficiency driving the wheel
by the worm, and the worm by the wheel (Shigley, Mechanical Engineering Design, chapter on worm
gears; forms from memory, cross-checked by the forces on the thread):

    e_forward = (cos phi - f tan lambda) / (cos phi + f cot lambda)                     (1)
    e_back    = (cos phi - f cot lambda) / (cos phi + f tan lambda)                     (2)

The wheel cannot turn the worm where e_back <= 0, that is f >= cos phi tan lambda       (3)
"""

from dataclasses import dataclass

import numpy as np

from vlm.constants import Floats
from vlm.description.actuator import Actuator


def forward_efficiency(friction: float, lead: float, pressure: float) -> float:
    """Share of the worm's work that reaches the wheel, equation (1).

    Parameters
    ----------
    friction : coefficient of friction of the mesh [1]
    lead, pressure : lead angle, pressure angle in the normal section [rad]
    """
    return float(
        (np.cos(pressure) - friction * np.tan(lead)) / (np.cos(pressure) + friction / np.tan(lead))
    )


def back_efficiency(friction: float, lead: float, pressure: float) -> float:
    """Share of the wheel's work that reaches the worm, equation (2); not positive: locked."""
    return float(
        (np.cos(pressure) - friction / np.tan(lead)) / (np.cos(pressure) + friction * np.tan(lead))
    )


def locking_friction(lead: float, pressure: float) -> float:
    """Least friction at which the wheel cannot turn the worm, equation (3) [1]."""
    return float(np.cos(pressure) * np.tan(lead))


@dataclass(frozen=True)
class WormState:
    """The gear in one state of its mesh; lower and upper end of the scatter of its friction.

    Attributes
    ----------
    friction : coefficients [1]
    forward_efficiency, back_efficiency : driven by the servo, and by the tip; locked below 0 [1]
    locking_friction : above which the gear locks [1]
    margin : least friction over that; above 1 the gear locks at rest [1]
    verdict : "locks", "does not lock" or "uncertain", over the range of its friction
    """

    friction: tuple[float, float]
    forward_efficiency: tuple[float, float]
    back_efficiency: tuple[float, float]
    locking_friction: float
    margin: float
    verdict: str


def worm_state(friction: tuple[float, float], lead: float, pressure: float) -> WormState:
    """Efficiencies and locking over a range of friction; angles in radians."""
    low, high = friction
    locks_from = locking_friction(lead, pressure)
    locks = [one >= locks_from for one in friction]
    return WormState(
        friction=friction,
        forward_efficiency=(
            forward_efficiency(low, lead, pressure),
            forward_efficiency(high, lead, pressure),
        ),
        back_efficiency=(
            back_efficiency(low, lead, pressure),
            back_efficiency(high, lead, pressure),
        ),
        locking_friction=locks_from,
        margin=low / locks_from,
        verdict="locks" if locks[0] else "uncertain" if locks[1] else "does not lock",
    )


def worm_states(actuator: Actuator) -> dict[str, WormState]:
    """The gear dry and greased."""
    lead = float(np.radians(actuator.lead_angle_deg))
    pressure = float(np.radians(actuator.pressure_angle_deg))
    return {
        "dry": worm_state(actuator.friction_dry, lead, pressure),
        "greased": worm_state(actuator.friction_greased, lead, pressure),
    }


def efficiency_curves(
    actuator: Actuator, highest: float, count: int = 121
) -> tuple[Floats, Floats, Floats]:
    """Friction from near nothing to ``highest``, and both efficiencies there, equations (1), (2).

    shape (count,) each; the wheel's is negative where the gear locks
    """
    lead = float(np.radians(actuator.lead_angle_deg))
    pressure = float(np.radians(actuator.pressure_angle_deg))
    friction = np.linspace(0.0, highest, count)
    forward = np.array([forward_efficiency(float(f), lead, pressure) for f in friction])
    back = np.array([back_efficiency(float(f), lead, pressure) for f in friction])
    return friction, forward, back


def worm_torque(actuator: Actuator, moment: float, friction: float) -> float:
    """Torque the servo must give to keep the tip moving against a moment [N m].

    Parameters
    ----------
    moment : moment about the hinge that opposes the motion; negative where it helps [N m]
    friction : coefficient of friction of the mesh [1]

    A helping load still has to be driven where the gear locks; where it does not, the torque is
    negative and the servo brakes. Bearings take their share either way. Infinite where the mesh
    jams (more friction than the worm can drive at all).
    """
    if moment == 0.0:
        return 0.0
    against, helped = worm_factors(actuator, friction)
    return moment * (against if moment > 0.0 else helped)


def worm_factors(actuator: Actuator, friction: float) -> tuple[float, float]:
    """Torque at the servo over the moment about the hinge: where it opposes, and where it helps.

    See :func:`worm_torque`; the first is infinite where the mesh jams [1].
    """
    lead = float(np.radians(actuator.lead_angle_deg))
    pressure = float(np.radians(actuator.pressure_angle_deg))
    ratio, bearing = actuator.worm_ratio, actuator.bearing_efficiency
    driving = forward_efficiency(friction, lead, pressure)
    against = 1.0 / (ratio * driving * bearing) if driving > 0.0 else float("inf")
    returned = back_efficiency(friction, lead, pressure)
    share = 1.0 / bearing if returned <= 0.0 else bearing
    return against, returned * share / ratio


def holding_torque(actuator: Actuator, moment: float, friction: float) -> float:
    """Torque the servo must hold at rest against a moment about the hinge [N m]; 0 if locked."""
    lead = float(np.radians(actuator.lead_angle_deg))
    pressure = float(np.radians(actuator.pressure_angle_deg))
    returned = back_efficiency(friction, lead, pressure)
    return max(0.0, returned) * abs(moment) / actuator.worm_ratio * actuator.bearing_efficiency
