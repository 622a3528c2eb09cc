"""The equations of motion: rate of the whole state at an instant."""

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from vlm.constants import Floats
from vlm.description.motion import StabilisingLaw
from vlm.flight.simulation.attitude import angles_of, attitude_rate, to_earth
from vlm.flight.simulation.bodies import FIRST_SIDE, Placed, cross
from vlm.flight.simulation.gusts import Gust
from vlm.flight.simulation.law import Sensed, Wanted, commanded
from vlm.flight.simulation.plant import AirLoads, Layout, Plant, layout_of

DIFFERENCE = 1e-7
"""Step of the differences of the Jacobian, over the state or one [1]."""


@dataclass(frozen=True)
class Control:
    """What acts on the craft during one stretch of time.

    Attributes
    ----------
    law : the stabilising law; None holds the start's thrusts
    wanted : of time [s], what the law steers to
    targets : of time [s] and airspeed [m/s], folds that port's and starboard's worms are commanded
    base_thrusts : of the start, shape (thrusts,) [N]
    held_moment : moment that is held by other means than thrust, body axes [N m]
    settled : of time [s], velocity through the air for which thrust is commanded, body axes, shape
        (3,) [m/s]
    start_height : of the centre of gravity, -z of earth axes [m]
    gust : None for still air
    supply : voltage of the battery over the file's [1]
    powered : by rotor, whether it runs
    worms_run : by side, whether the worm turns; not where it jammed
    geared : by side, whether the tips still hang on their gear
    """

    law: StabilisingLaw | None
    wanted: Callable[[float], Wanted]
    targets: Callable[[float, float], tuple[float, float]]
    base_thrusts: Floats
    held_moment: Floats
    settled: Callable[[float], Floats] = lambda _: np.zeros(3)
    start_height: float = 0.0
    gust: Gust | None = None
    supply: float = 1.0
    powered: tuple[bool, ...] = ()
    worms_run: tuple[bool, bool] = (True, True)
    geared: tuple[bool, bool] = (True, True)


@dataclass(frozen=True)
class Instant:
    """Everything at one instant.

    Attributes
    ----------
    rates : of the state
    parts : the bodies
    changes : u', shape (8,)
    turn : from body to earth axes
    air : quasi-steady loads of the air and their state
    acting : loads of the air that act, late or not, apparent mass among them, as in
        :class:`AirLoads`
    force : all but weight, body axes, shape (3,) [N]
    gear : moment of the gear on each side's fold [N m]
    voltages, torques : of each side's servos [1], [N m]
    thrusts : that act, the rotors' answer to the air among them, shape (thrusts,) [N]
    commanded, asked : thrusts within and without their limits [N]
    sensed, targets : what the law goes by, and the folds that the worms are commanded [rad]
    """

    rates: Floats
    parts: list[Placed]
    changes: Floats
    turn: Floats
    air: AirLoads
    acting: Floats
    force: Floats
    gear: Floats
    voltages: Floats
    torques: Floats
    thrusts: Floats
    commanded: Floats
    asked: Floats
    sensed: Sensed
    targets: tuple[float, float]


@dataclass(frozen=True)
class Equations:
    """The motion of a plant under a control.

    Attributes
    ----------
    plant, control : the craft, and what is done to it
    """

    plant: Plant
    control: Control
    layout: Layout = field(init=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "layout", layout_of(self.plant))

    def __call__(self, time: float, state: Floats) -> Floats:
        """Rate of the state, shape as the state."""
        return self.at(time, state).rates

    def jacobian(self, time: float, state: Floats) -> Floats:
        """Rates of :meth:`__call__` with the state, for an implicit integrator.

        By one-sided differences where the equations are not simple, so that way flown and late
        loads, in which they are linear, take no evaluations.
        """
        layout, size = self.layout, len(state)
        here, found = self(time, state), np.zeros((size, size))
        simple = np.zeros(size, dtype=bool)
        simple[layout.place.start : layout.place.stop - 1] = True
        simple[layout.late] = True
        for i in np.flatnonzero(~simple):
            moved = state.copy()
            moved[i] += DIFFERENCE * max(1.0, abs(float(state[i])))
            found[:, i] = (self(time, moved) - here) / (moved[i] - state[i])
        lag = self.plant.lag
        if lag is not None:
            pose = self.plant.posed(state[layout.folds])
            pushed = pose.inverse @ self.plant.speeds_to_motions.T
            repeats = layout.late.stop - layout.late.start
            found[layout.speeds, layout.late] = np.tile(pushed, repeats // lag.loads)
            speed = float(np.linalg.norm(self._past(time, state)))
            places = np.arange(layout.late.start, layout.late.stop)
            found[places, places] = np.repeat(-lag.pace(speed), lag.loads)
        return found

    def _past(self, time: float, state: Floats) -> Floats:
        """Velocity of the moment point against the air, body axes [m/s]."""
        if self.control.gust is None:
            return np.asarray(state[:3])
        turn = to_earth(state[self.layout.attitude])
        return np.asarray(state[:3] - turn.T @ self.control.gust.at(time))

    def at(self, time: float, state: Floats) -> Instant:
        """All of an instant."""
        plant, layout = self.plant, self.layout
        speeds, folds = state[layout.speeds], state[layout.folds]
        turn = to_earth(state[layout.attitude])
        pose = plant.posed(folds)
        gust = self.control.gust
        wind = np.zeros(3) if gust is None else turn.T @ gust.at(time)
        met = self._met(time, speeds, wind)
        own = state[layout.thrust]
        thrusts = own if plant.rotors is None else plant.rotors.acting(own, met)
        air = plant.air_loads(pose, speeds, wind, thrusts)
        late = state[layout.late]
        acting = air.loads if plant.lag is None else plant.lag.loads_of(late, air.loads)
        force = plant.generalised(acting) + plant.drag(pose, speeds, wind)
        force[:6] += plant.thrust_loads(own, pose.centre, met)
        force[3:6] += self.control.held_moment
        pushed = force[:3].copy()
        force = force + plant.bodies.weight(pose.parts, turn.T @ plant.gravity)
        sensed = self._sensed(state, turn, air, pose.centre)
        asked, given = self._thrusts(time, sensed)
        thrust_changes = (given - own) / plant.rotor_lag
        if plant.rotors is not None:
            force[3:6] += plant.rotors.gyroscopic(own, thrust_changes, speeds[3:6])
        drives = self._drives(time, state, air.speed)
        force[FIRST_SIDE:] += drives.gear + drives.stops
        force = force - plant.bodies.bias(pose.parts, speeds)
        gusting = self._gust_change(time, turn, speeds, wind)
        changes = pose.inverse @ (force + plant.generalised(pose.apparent @ gusting))
        set_in_motion = pose.apparent @ (gusting - changes)
        acting, pushed = acting + set_in_motion, pushed + set_in_motion[:3]
        rates = np.empty_like(state)
        rates[layout.speeds] = changes
        rates[layout.folds] = speeds[FIRST_SIDE:]
        rates[layout.attitude] = attitude_rate(state[layout.attitude], speeds[3:6])
        rates[layout.place] = turn @ speeds[:3]
        rates[layout.worms] = drives.worm_rates
        rates[layout.servos] = drives.servo_changes
        rates[layout.thrust] = thrust_changes
        if plant.lag is not None:
            rates[layout.late] = plant.lag.rates(late, air.loads, air.speed)
        return Instant(
            rates, pose.parts, changes, turn, air, acting, pushed, drives.gear, drives.voltages,
            drives.torques, thrusts, given, asked, sensed, drives.targets,
        )  # fmt: skip

    def _met(self, time: float, speeds: Floats, wind: Floats) -> Floats:
        """The air's change at the rotors; none for those that stand, shape (thrusts, 3) [m/s]."""
        rotors = self.plant.rotors
        if rotors is None or not rotors.answers:
            return np.zeros((self.plant.thrusts, 3))
        change = speeds[:3] - wind - self.control.settled(time)
        runs = np.array(self.control.powered)[:, None]
        return np.where(runs, rotors.met(change, speeds[3:6]), 0.0)

    def _gust_change(self, time: float, turn: Floats, speeds: Floats, wind: Floats) -> Floats:
        """Rate of the gust's velocity in body axes among the speeds, shape (8,)."""
        change = np.zeros(len(speeds))
        if self.control.gust is not None:
            rate = turn.T @ self.control.gust.rate_at(time)
            change[:3] = rate - cross(speeds[3:6], wind)
        return change

    def _sensed(self, state: Floats, turn: Floats, air: AirLoads, centre: Floats) -> Sensed:
        bank, pitch, _ = angles_of(turn)
        place = state[self.layout.place] + turn @ centre
        return Sensed(
            bank=bank,
            pitch=pitch,
            sideslip=air.beta,
            rates=state[3:6],
            airspeed=air.speed,
            height=-float(place[2]) - self.control.start_height,
            climb=-float((turn @ state[:3])[2]),
        )

    def _thrusts(self, time: float, sensed: Sensed) -> tuple[Floats, Floats]:
        """Thrusts as asked for, and within the rotors' limits."""
        plant, control = self.plant, self.control
        wanted = commanded(control.law, sensed, control.wanted(time))
        if plant.rotors is None:
            asked = control.base_thrusts + wanted[:1]
            return asked, np.maximum(asked, 0.0) * control.supply**2
        asked = plant.rotors.commanded(control.base_thrusts, wanted)
        given = plant.rotors.given(control.base_thrusts, wanted, control.supply)
        return asked, np.where(np.array(control.powered), given, 0.0)

    def _drives(self, time: float, state: Floats, airspeed: float) -> "_Drives":
        plant, layout, control = self.plant, self.layout, self.control
        found = _Drives()
        if plant.drives is None:
            return found
        found.targets = control.targets(time, airspeed)
        folds, rates = state[layout.folds], state[FIRST_SIDE : layout.speeds.stop]
        worms, servos = state[layout.worms], state[layout.servos]
        for i, drive in enumerate(plant.drives):
            turning = float(servos[i]) / drive.actuator.worm_ratio if control.worms_run[i] else 0.0
            worm, fold, rate = float(worms[i]), float(folds[i]), float(rates[i])
            if control.geared[i]:
                found.gear[i] = drive.gear_moment(worm, fold, turning, rate)
            found.stops[i] = drive.stop_moment(fold, rate)
            if control.worms_run[i]:
                found.voltages[i] = drive.voltage(worm, found.targets[i], control.supply)
                speed = float(servos[i])
                found.worm_rates[i] = turning
                found.servo_changes[i] = drive.speed_change(
                    float(found.voltages[i]), speed, float(found.gear[i])
                )
                found.torques[i] = drive.servo_torque(float(found.voltages[i]), speed)
        return found


class _Drives:
    """What both sides' drives do at an instant, shape (2,) each."""

    def __init__(self) -> None:
        self.gear, self.stops = np.zeros(2), np.zeros(2)
        self.voltages, self.torques = np.zeros(2), np.zeros(2)
        self.worm_rates, self.servo_changes = np.zeros(2), np.zeros(2)
        self.targets = (0.0, 0.0)
