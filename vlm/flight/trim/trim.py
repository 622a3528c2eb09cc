"""Trim of steady, straight flight, level or climbing, from hover to top speed.

Unknown are the body angle theta, the thrusts of the rotors, and, where port does not mirror
starboard, the lean of the body about its own axis. With g the direction of gravity in the craft,

    g = (sin theta cos lean, sin lean, -cos theta cos lean)      x aft, y starboard, z up

balance asks for

    F + m g0 g = 0,   M = 0                                                            (1)

of forces and of moments about the centre of gravity. There is no sideslip. In a climb of the angle
gamma the angle of attack is alpha = theta - asin(sin gamma / cos lean). At speed zero it is a
hover.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from vlm.constants import GRAVITY, Floats
from vlm.errors import ComputationFailed
from vlm.flight.trim.powered import FlightLoads, PoweredCraft, flight_loads, one_state
from vlm.flight.trim.rotor_patterns import RotorPatterns, rotor_patterns

MOST_STEPS = 30
SHORTEST = 0.05
TOLERANCE = 1e-9
ANGLE_STEP = 1e-6
THRUST_STEP = 1e-6
LONGEST_TURN = 0.25
LONGEST_PULL = 0.35
FORCES, MOMENTS = slice(0, 3), slice(3, 6)


@dataclass(frozen=True)
class TrimProblem:
    """The equations (1) of one craft.

    Attributes
    ----------
    craft : the craft
    patterns : of the rotors' thrust
    equations : which of the six balances are solved: forces x, y, z, moments about x, y, z
    leans : whether the lean is an unknown
    """

    craft: PoweredCraft
    patterns: RotorPatterns
    equations: tuple[int, ...]
    leans: bool

    @property
    def unknowns(self) -> int:
        """Number of unknowns: theta, lean, pattern amounts."""
        return 1 + int(self.leans) + len(self.patterns.names)

    @cached_property
    def weight(self) -> float:
        """Weight of the craft [N]."""
        return self.craft.masses.mass * GRAVITY

    @cached_property
    def scales(self) -> Floats:
        """What the six balances are divided by: weight, and weight times reference chord."""
        chord = self.craft.model.lattice.reference.chord
        return np.repeat([self.weight, self.weight * chord], 3)

    def split(self, unknown: Floats) -> tuple[Floats, Floats, Floats]:
        """theta, lean [rad] and thrusts [N] of unknowns (states, unknowns)."""
        first = 1 + int(self.leans)
        lean = unknown[:, 1] if self.leans else np.zeros(len(unknown))
        return unknown[:, 0], lean, self.patterns.thrusts(unknown[:, first:]) * self.weight


def trim_problem(craft: PoweredCraft) -> TrimProblem:
    """Choose unknowns and equations.

    Where port mirrors starboard, forces in the plane of symmetry and the pitching moment. Otherwise
    all six. Moments that the rotors have no pattern for are left out, and are left over.
    """
    if craft.is_symmetric:
        patterns = rotor_patterns(craft.positions, craft.spins, ("pitch",))
        equations = [0, 2]
    else:
        patterns = rotor_patterns(craft.positions, craft.spins, ("pitch", "yaw", "roll"))
        equations = [0, 1, 2]
    balances = {"roll": 3, "pitch": 4, "yaw": 5}
    equations += [balances[name] for name in patterns.names[1:]]
    return TrimProblem(craft, patterns, tuple(sorted(equations)), not craft.is_symmetric)


@dataclass(frozen=True)
class Trim:
    """One state of steady flight, trimmed or as far as it went.

    Attributes
    ----------
    speed : airspeed [m/s]
    climb_angle : [rad]
    unknown : shape (unknowns,), theta, lean, pattern amounts over the weight
    theta, lean, alpha : body angle, lean, angle of attack [rad]
    thrusts : shape (rotors,) [N]
    loads : loads of this one state
    residual : largest imbalance over weight, and weight times chord [1]
    steps : steps of Newton's method
    left_over : shape (3,), moments about x, y, z that nothing balances [N m]
    """

    speed: float
    climb_angle: float
    unknown: Floats
    theta: float
    lean: float
    alpha: float
    thrusts: Floats
    loads: FlightLoads
    residual: float
    steps: int
    left_over: Floats

    @property
    def is_converged(self) -> bool:
        """Whether forces balance and the strips agree with their sections."""
        return self.residual <= 1e-8 and bool(self.loads.coupled.converged.all())


def imbalance(
    problem: TrimProblem, speed: Floats, climb: Floats, unknown: Floats, start: Floats | None
) -> tuple[Floats, FlightLoads]:
    """All six balances over their scales, shape (states, 6), and the loads.

    The other states are small steps from the first, for differences.
    """
    theta, lean, thrusts = problem.split(unknown)
    alpha = theta - climbing_turn(climb, lean)
    loads = flight_loads(problem.craft, speed, alpha, thrusts, start, alike=True)
    force, moment = loads.total
    force = force + problem.weight * gravity_direction(theta, lean)
    return np.concatenate([force, moment], axis=1) / problem.scales, loads


def gravity_direction(theta: Floats, lean: Floats) -> Floats:
    """Direction of gravity in geometry axes, shape (states, 3)."""
    return np.stack(
        [np.sin(theta) * np.cos(lean), np.sin(lean), -np.cos(theta) * np.cos(lean)], axis=1
    )


def climbing_turn(climb: Floats, lean: Floats) -> Floats:
    """theta less alpha in a climb [rad]."""
    return np.asarray(np.arcsin(np.clip(np.sin(climb) / np.cos(lean), -1.0, 1.0)))


def first_guess(problem: TrimProblem, speed: float, climb_angle: float) -> Floats:
    """Hover at low speed; at high speed at six degrees to the path, with the weight's part along it
    and a fifth of the weight as thrust."""
    unknown = np.zeros(problem.unknowns)
    first = 1 + int(problem.leans)
    rotors = len(problem.craft.rotors)
    hovering = speed < 1.0
    unknown[0] = 0.5 * np.pi if hovering else np.radians(6.0) + climb_angle
    unknown[first] = (1.0 if hovering else 0.2 + np.sin(climb_angle)) / rotors
    return unknown


def trimmed(
    problem: TrimProblem,
    speed: float,
    climb_angle: float = 0.0,
    guess: Floats | None = None,
    start: Floats | None = None,
) -> Trim:
    """Solve equations (1) by Newton's method with differences, steps halved where needed.

    Parameters
    ----------
    speed : airspeed, 0 for hover [m/s]
    climb_angle : [rad]
    guess : unknowns to start from, such as those at a speed nearby
    start : offsets of the strips to start from

    Returns
    -------
    The trim; where none was found, the nearest approach, with its residual

    Raises
    ------
    ComputationFailed : not even the first guess has loads that are numbers
    """
    unknown = first_guess(problem, speed, climb_angle) if guess is None else guess.copy()
    rows = list(problem.equations)
    steps, size, loads, base = 0, np.inf, None, None
    length, step = 1.0, np.zeros_like(unknown)
    for _ in range(MOST_STEPS):
        trial = unknown + length * step
        values, tried = _with_differences(problem, speed, climb_angle, trial, start)
        found = values[0][rows]
        norm = float(np.linalg.norm(found))
        if not norm < size and length > SHORTEST:
            length *= 0.4
            continue
        if not np.isfinite(norm):
            break
        unknown, size, base, loads, steps = trial, norm, values[0], tried, steps + 1
        start = tried.coupled.offset[:1]
        if np.abs(found).max() < TOLERANCE:
            break
        slopes = (values[1:][:, rows] - found).T / difference_steps(problem)
        step, length = _limited(problem, np.linalg.lstsq(slopes, -found, rcond=None)[0]), 1.0
    if base is None or loads is None:
        raise ComputationFailed(
            f"forces and moments at {speed:g} m/s are no numbers; check the sections, mean lines"
            " and rotors"
        )
    return _as_trim(problem, speed, climb_angle, unknown, base, loads, steps)


def difference_steps(problem: TrimProblem) -> Floats:
    """Small changes of the unknowns, for differences."""
    steps = np.full(problem.unknowns, THRUST_STEP)
    steps[: 1 + int(problem.leans)] = ANGLE_STEP
    return steps


def _with_differences(
    problem: TrimProblem, speed: float, climb: float, unknown: Floats, start: Floats | None
) -> tuple[Floats, FlightLoads]:
    """The balances at some unknowns and a small step along each of them."""
    states = np.vstack([unknown, unknown + np.diag(difference_steps(problem))])
    ones = np.ones(len(states))
    return imbalance(problem, speed * ones, climb * ones, states, start)


def _limited(problem: TrimProblem, step: Floats) -> Floats:
    """The step, shortened so that angles and thrusts change by a moderate amount."""
    first = 1 + int(problem.leans)
    turn = np.abs(step[:first]).max() / LONGEST_TURN
    pull = np.abs(step[first:]).max() * len(problem.craft.rotors) / LONGEST_PULL
    return np.asarray(step / max(1.0, turn, pull))


def _as_trim(
    problem: TrimProblem,
    speed: float,
    climb: float,
    unknown: Floats,
    base: Floats,
    loads: FlightLoads,
    steps: int,
) -> Trim:
    theta, lean, thrusts = (part[0] for part in problem.split(unknown[None, :]))
    rows = list(problem.equations)
    left = base * problem.scales
    left[rows] = 0.0
    return Trim(
        speed=speed,
        climb_angle=climb,
        unknown=unknown,
        theta=float(theta),
        lean=float(lean),
        alpha=float(theta - climbing_turn(np.array(climb), np.array(lean))),
        thrusts=thrusts,
        loads=one_state(loads, 0),
        residual=float(np.abs(base[rows]).max()),
        steps=steps,
        left_over=left[MOMENTS],
    )
