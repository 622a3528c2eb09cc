"""Servo, worm and hinge of one side in time.

The worm stands at an angle W (given as the fold the side would have without play and load), turns
at Omega, and pushes the tips through play and stiffness; the servo follows its motor line:

    J Omega' = T_s (V - Omega / Omega_0) - T_worm,   J = tau T_s / Omega_0               (1)
    M = k (W - fold) beyond the play, plus damping                                       (2)

with T_s its stall torque, Omega_0 its speed without load and tau its time constant. T_worm is the
torque that keeps the worm turning against M, with friction either way
(:mod:`vlm.flight.mechanism.worm`); near standstill it goes from the one to the other over
:data:`CREEP` of Omega_0, so that a locked worm creeps by that share at most. The voltage V (a share
of the file's) is full until the worm is a little before its target, then falls in a straight line.
"""

from dataclasses import dataclass

import numpy as np

from vlm.constants import Floats
from vlm.description.actuator import Actuator
from vlm.errors import InputRefused
from vlm.flight.mechanism.servo import servo_current
from vlm.flight.mechanism.worm import worm_torque

CREEP = 2e-3
"""Speed over which the friction of the worm turns round, over the servo's free speed [1]."""
QUICKEST_SERVO = 2e-3
"""A servo's time constant is taken to be at least this [s]."""


@dataclass(frozen=True)
class SideDrive:
    """Drive of one side's tips.

    Attributes
    ----------
    actuator : the file's drive
    friction : of the mesh [1]
    stiffness : of gear and hinges about the side's fold [N m/rad]
    damping : of the same [N m s/rad]
    limits : folds at the stops [rad]
    band : how far before its target the servo slows [rad of fold]
    servos : servos that turn together on this side
    """

    actuator: Actuator
    friction: float
    stiffness: float
    damping: float
    limits: tuple[float, float]
    band: float
    servos: int

    @property
    def free_speed(self) -> float:
        """Speed of the servo without load, full voltage [rad/s]."""
        return float(np.radians(self.actuator.servo_no_load_speed_deg_s))

    @property
    def inertia(self) -> float:
        """J of equation (1) [kg m^2]."""
        lag = max(self.actuator.servo_time_constant_s, QUICKEST_SERVO)
        return lag * self.actuator.servo_stall_torque_N_m / self.free_speed

    @property
    def play(self) -> float:
        """Half of the play [rad]."""
        return 0.5 * float(np.radians(self.actuator.backlash_deg))

    def gear_moment(self, worm: float, fold: float, speed: float, rate: float) -> float:
        """M of equation (2) on the side's fold, positive raising [N m].

        Parameters
        ----------
        worm, fold : W and fold [rad]
        speed, rate : of both [rad/s]
        """
        return _contact(worm - fold, self.play, self.stiffness, self.damping, speed - rate)

    def stop_moment(self, fold: float, rate: float) -> float:
        """Moment of the stops, positive raising [N m]."""
        low, high = self.limits
        if low <= fold <= high:
            return 0.0
        beyond = (low if fold < low else high) - fold
        return _contact(beyond, 0.0, self.stiffness, self.damping, -rate)

    def worm_load(self, moment: float, speed: float) -> float:
        """T_worm of one servo, opposing a positive speed [N m].

        Parameters
        ----------
        moment : M [N m]
        speed : of the servo's shaft [rad/s]
        """
        own = moment / self.servos
        sense = float(np.tanh(speed / (CREEP * self.free_speed)))
        ahead = worm_torque(self.actuator, own, self.friction)
        back = -worm_torque(self.actuator, -own, self.friction)
        return 0.5 * (1.0 + sense) * ahead + 0.5 * (1.0 - sense) * back

    def voltage(self, worm: float, target: float, supply: float) -> float:
        """Voltage at the servo with its sign, over the file's [1]."""
        return supply * float(min(1.0, max(-1.0, (target - worm) / self.band)))

    def servo_torque(self, voltage: float, speed: float) -> float:
        """Torque of one servo [N m]."""
        return self.actuator.servo_stall_torque_N_m * (voltage - speed / self.free_speed)

    def speed_change(self, voltage: float, speed: float, moment: float) -> float:
        """Omega' of equation (1) [rad/s^2]."""
        torque = self.servo_torque(voltage, speed) - self.worm_load(moment, speed)
        return torque / self.inertia

    def current(self, torque: float) -> float:
        """Current of all servos of the side at the torque of one [A]."""
        return self.servos * servo_current(self.actuator, abs(torque))

    def resting_worm(self, fold: float, moment: float) -> float:
        """W at which the gear gives a moment to tips at rest [rad]."""
        return fold + moment / self.stiffness + float(np.sign(moment)) * self.play


def _contact(apart: float, play: float, stiffness: float, damping: float, rate: float) -> float:
    """A spring with damping that pushes once the play is taken up, and never pulls."""
    if abs(apart) <= play:
        return 0.0
    sense = 1.0 if apart > 0.0 else -1.0
    push = stiffness * (apart - sense * play) + damping * rate
    return push if push * sense > 0.0 else 0.0


def side_drive(
    actuator: Actuator, source: str, linkages: Floats, inertia: float, friction: float,
    limits: tuple[float, float], band: float, damping_ratio: float,
) -> SideDrive:  # fmt: skip
    """The drive of a side from the file.

    Parameters
    ----------
    source : the file's name, for messages
    linkages : of the side's tips [1]
    inertia : of the side's tips about its fold [kg m^2]
    damping_ratio : damping of gear and hinge over the critical damping of the tips on them [1]

    Raises
    ------
    InputRefused : the file gives no stiffness of the hinge
    """
    if actuator.hinge_stiffness_N_m_rad is None:
        raise InputRefused(
            f"{source}: actuator.hinge_stiffness_N_m_rad is missing; a motion in time needs the"
            " stiffness of gear and hinge about the hinge line"
        )
    stiffness = actuator.hinge_stiffness_N_m_rad * float(linkages @ linkages)
    return SideDrive(
        actuator=actuator,
        friction=friction,
        stiffness=stiffness,
        damping=2.0 * damping_ratio * float(np.sqrt(stiffness * inertia)),
        limits=limits,
        band=band,
        servos=1 if actuator.serves == "side" else len(linkages),
    )
