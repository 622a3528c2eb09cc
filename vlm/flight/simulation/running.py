"""A scenario run: stretches of time between events, by an integrator that controls its error."""

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from itertools import pairwise

import numpy as np
from scipy.integrate import solve_ivp

from vlm.constants import Floats
from vlm.description.motion import StabilisingLaw
from vlm.errors import ComputationFailed
from vlm.flight.craft.folded_craft import wind_angles
from vlm.flight.simulation.attitude import to_earth
from vlm.flight.simulation.bodies import Placed
from vlm.flight.simulation.equations import Control, Equations, Instant
from vlm.flight.simulation.law import Wanted
from vlm.flight.simulation.plant import Plant, layout_of
from vlm.flight.simulation.section_table import ALPHAS, BETAS
from vlm.flight.simulation.steady import SteadyState
from vlm.flight.simulation.task import Task

RELATIVE, ABSOLUTE = 1e-5, 1e-7
"""Of the integrator: histories are off by at most 3e-4 of their ranges, far within the ± of the
lattice (six scenarios of a shipped craft, among them jam, loose tip and lost rotor, against a
ten-thousandth of both)."""
LONGEST_STEP = 0.02
"""So that no contact of play or stop is stepped over [s]."""
WIDEST_ALPHA = float(ALPHAS[-1])
WIDEST_BETA = float(BETAS[-1])
"""Where the tables end; a history that passes it is cut off [rad]."""
SAMPLES = 200
"""Instants given back for each second."""

Event = Callable[[float, Floats], float]


@dataclass(frozen=True)
class Run:
    """A history.

    Attributes
    ----------
    times : shape (n,) [s]
    states : shape (n, size)
    instants : all of each instant
    cut_off : why it ends before the time asked for; empty where it does not
    jammed_at : by side, when its worm stood still; NaN where it did not [s]
    evaluations : of the equations
    """

    times: Floats
    states: Floats
    instants: tuple[Instant, ...] = field(repr=False)
    cut_off: str
    jammed_at: tuple[float, float]
    evaluations: int


def control_of(plant: Plant, task: Task, law: StabilisingLaw | None, start: SteadyState) -> Control:
    """What acts from the start on."""
    worms = start.state[layout_of(plant).worms]
    folds = np.radians([task.start.left_deg, task.start.right_deg])
    pitch = float(np.arctan(np.tan(start.alpha) * np.cos(start.bank)))
    travel = np.zeros(2)
    if task.target is not None:
        travel = np.radians([task.target.left_deg, task.target.right_deg]) - folds

    def targets(time: float, airspeed: float) -> tuple[float, float]:
        moved = travel if time >= task.command_at else 0.0 * travel
        if task.schedule is not None:
            moved = np.full(2, np.interp(airspeed, *task.schedule)) - folds
        left, right = worms + moved
        return float(left), float(right)

    along = np.array([np.cos(start.alpha), 0.0, np.sin(start.alpha)])

    def settled(time: float) -> Floats:
        # Without a law nothing feeds thrust forward for a change of airspeed.
        return along * (task.airspeed if law is None else task.wanted_airspeed(time))

    parts = plant.bodies.placed(folds)
    return Control(
        law=law,
        wanted=lambda t: Wanted(start.bank, pitch, task.wanted_airspeed(t), task.holds_bank),
        targets=targets,
        base_thrusts=start.thrusts,
        held_moment=start.held_moment,
        settled=settled,
        start_height=-_height(start, plant, parts),
        gust=task.gust,
        powered=(True,) * plant.thrusts,
        worms_run=_running_worms(task, folds),
    )


def _height(start: SteadyState, plant: Plant, parts: list[Placed]) -> float:
    """z of the centre of gravity, earth axes."""
    layout = layout_of(plant)
    turn = to_earth(start.state[layout.attitude])
    return float(start.state[layout.place][2] + (turn @ plant.bodies.centre(parts))[2])


def _running_worms(task: Task, folds: Floats) -> tuple[bool, bool]:
    """A side that jams where it stands never moves."""
    left, right = (
        not (side in task.jams and abs(task.jams[side] - float(folds[side])) < 1e-9)
        for side in (0, 1)
    )
    return left, right


def at_instant(control: Control, task: Task, time: float) -> Control:
    """The control from an instant on."""
    return replace(
        control,
        supply=task.battery if time >= task.battery_at else 1.0,
        powered=tuple(
            not (i == task.lost and time >= task.lost_at) for i in range(len(control.powered))
        ),
        geared=(time < task.lets_go[0], time < task.lets_go[1]),
    )


def run(plant: Plant, task: Task, law: StabilisingLaw | None, start: SteadyState) -> Run:
    """Follow a scenario from steady flight.

    The history ends early where angle of attack or sideslip leave the tables;
    :attr:`Run.cut_off` then says which.

    Raises
    ------
    ComputationFailed : the integrator gives up
    """
    return _Runner(plant, task, control_of(plant, task, law, start)).run(start.state)


class _Runner:
    def __init__(self, plant: Plant, task: Task, control: Control) -> None:
        self.plant, self.task, self.control = plant, task, control
        self.layout = layout_of(plant)
        self.jammed = [0.0 if not runs else np.nan for runs in control.worms_run]
        self.times: list[float] = []
        self.states: list[Floats] = []
        self.instants: list[Instant] = []
        self.evaluations = 0

    def run(self, state: Floats) -> Run:
        cut_off, task = "", self.task
        for begin, end in pairwise([0.0, *task.instants, task.duration]):
            self.control = at_instant(self.control, task, begin)
            state, cut_off = self.stretch(begin, end, state)
            if cut_off:
                break
        return Run(
            np.array(self.times), np.array(self.states), tuple(self.instants), cut_off,
            (self.jammed[0], self.jammed[1]), self.evaluations,
        )  # fmt: skip

    def stretch(self, begin: float, end: float, state: Floats) -> tuple[Floats, str]:
        """One stretch without a command; jams on the way end the integration and start another."""
        while True:
            equations = Equations(self.plant, self.control)
            events, causes = self.events()
            asked = np.linspace(begin, end, max(2, round(SAMPLES * (end - begin)) + 1))
            done = solve_ivp(
                equations, (begin, end), state, method="LSODA", t_eval=asked, events=events,
                rtol=RELATIVE, atol=ABSOLUTE, max_step=LONGEST_STEP, jac=equations.jacobian,
            )  # fmt: skip
            self.evaluations += int(done.nfev)
            if done.status == -1 or not np.all(np.isfinite(done.y)):
                reached = max([begin, *done.t])
                raise ComputationFailed(
                    f"the motion cannot be followed beyond {reached:.3g} s: {done.message}"
                )
            self.keep(equations, done.t, done.y.T)
            if done.status == 0 or done.t_events is None or done.y_events is None:
                return done.y[:, -1], ""
            hit = next(i for i, times in enumerate(done.t_events) if len(times))
            at, state = float(done.t_events[hit][0]), np.array(done.y_events[hit][0])
            self.keep(equations, np.array([at]), state[None, :])
            cause = causes[hit]
            if isinstance(cause, str):
                return state, cause
            state = self.jam(cause, at, state)
            begin = at
            if end - begin < 1e-9:
                return state, ""

    def events(self) -> tuple[list[Event], list[str | int]]:
        def alpha_left(time: float, y: Floats) -> float:
            return WIDEST_ALPHA - abs(self.wind_angles(time, y)[0])

        def beta_left(time: float, y: Floats) -> float:
            return WIDEST_BETA - abs(self.wind_angles(time, y)[1])

        events: list[Event] = [alpha_left, beta_left]
        causes: list[str | int] = [
            f"the angle of attack passes {np.degrees(WIDEST_ALPHA):.0f} deg",
            f"the sideslip passes {np.degrees(WIDEST_BETA):.0f} deg",
        ]
        for side, fold in self.task.jams.items():
            if self.control.worms_run[side]:
                events.append(self.jam_event(side, fold))
                causes.append(side)
        for event in events:
            event.terminal = True  # type: ignore[attr-defined]
        return events, causes

    def jam_event(self, side: int, fold: float) -> Event:
        # The worm's own angle; what it stood off at the start, by load and play, stays.
        off = float(self.control.targets(-1.0, self.task.airspeed)[side])
        start = (self.task.start.left_deg, self.task.start.right_deg)[side]
        place = self.layout.worms.start + side
        stop = fold - float(np.radians(start)) + off
        return lambda _time, y: float(y[place]) - stop

    def wind_angles(self, time: float, y: Floats) -> tuple[float, float]:
        velocity = y[:3]
        if self.control.gust is not None:
            velocity = velocity - to_earth(y[self.layout.attitude]).T @ self.control.gust.at(time)
        return wind_angles(velocity)

    def jam(self, side: int, time: float, state: Floats) -> Floats:
        runs = list(self.control.worms_run)
        runs[side] = False
        self.control = replace(self.control, worms_run=(runs[0], runs[1]))
        self.jammed[side] = time
        state = state.copy()
        state[self.layout.servos.start + side] = 0.0
        return state

    def keep(self, equations: Equations, times: Floats, states: Floats) -> None:
        for time, state in zip(times, states, strict=True):
            if self.times and time <= self.times[-1]:
                continue
            self.times.append(float(time))
            self.states.append(state)
            self.instants.append(equations.at(float(time), state))
