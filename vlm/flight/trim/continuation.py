"""The branch of trims followed from hover to top speed, around every turn.

Near stall a craft may have several trims at one speed, and a branch may turn back in speed. So the
branch is followed along its own length: with the unknowns and the speed together as z, each step
goes along the tangent and is brought back to balance across it (pseudo-arclength continuation;
H. B. Keller 1977, from memory).
"""

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from vlm.constants import Floats
from vlm.flight.trim.trim import Trim, TrimProblem, difference_steps, imbalance, trimmed

SPEED_SCALE = 10.0
"""Speed that counts as much as a turn of one radian [m/s]."""
SPEED_STEP = 1e-5
TOLERANCE, SHARP = 1e-7, 1e-10
"""Largest imbalance of a point passed, and of one that is looked for [1]."""
MOST_POINTS = 400
MOST_STEPS = 8
FIRST_LENGTH = 0.08
LONGEST = 0.25
SHORTEST = 1e-3
EASY = 3
HALVINGS = 14


@dataclass(frozen=True)
class PathPoint:
    """One balanced state on a branch.

    Attributes
    ----------
    speed : airspeed [m/s]
    unknown : shape (unknowns,), see :class:`~vlm.flight.trim.trim.Trim`
    offset : shape (1, strips), offsets of the strips
    """

    speed: float
    unknown: Floats
    offset: Floats


class _Path:
    """Balances of the unknowns and the speed together."""

    def __init__(self, problem: TrimProblem, climb: float) -> None:
        self.problem, self.climb = problem, climb
        self.rows = list(problem.equations)
        # Amounts of thrust count by their share in the weight.
        self.weights = np.ones(problem.unknowns + 1)
        self.weights[1 + int(problem.leans) : -1] = len(problem.craft.rotors)
        self.weights[-1] = 1.0 / SPEED_SCALE

    def linearised(self, z: Floats, start: Floats) -> tuple[Floats, Floats, Floats]:
        """Balances at z, their slopes with weighted z, and the strips' offsets."""
        steps = np.append(difference_steps(self.problem), SPEED_STEP)
        states = np.vstack([z, z + np.diag(steps)])
        climb = np.full(len(states), self.climb)
        values, loads = imbalance(self.problem, states[:, -1], climb, states[:, :-1], start)
        values = values[:, self.rows]
        slopes = (values[1:] - values[0]).T / (steps * self.weights)
        return values[0], slopes, loads.coupled.offset[:1]

    def tangent(self, slopes: Floats, ahead: Floats) -> Floats:
        """Unit vector along the branch in weighted z, on the side of ``ahead``."""
        along = np.linalg.svd(slopes)[2][-1]
        return np.asarray(along * np.sign(along @ ahead or 1.0))

    def corrected(
        self, z: Floats, along: Floats, start: Floats, tolerance: float = TOLERANCE
    ) -> tuple[Floats, Floats, Floats, int] | None:
        """z brought back to balance across ``along``; None where it does not come."""
        weighted = z * self.weights
        for step in range(1, MOST_STEPS + 1):
            found, slopes, start = self.linearised(weighted / self.weights, start)
            if not np.all(np.isfinite(found)):
                return None
            if np.abs(found).max() < tolerance:
                return weighted / self.weights, slopes, start, step
            matrix = np.vstack([slopes, along])
            try:
                change = np.linalg.solve(matrix, np.append(-found, 0.0))
            except np.linalg.LinAlgError:
                return None
            weighted = weighted + change * min(1.0, 2.0 * LONGEST / np.abs(change).max())
        return None


def followed(
    problem: TrimProblem,
    first: Trim,
    slowest: float,
    fastest: float,
    *,
    upward: bool,
    report: Callable[[float], None] | None = None,
) -> list[PathPoint]:
    """Follow the branch of a trim until it leaves a range of speeds.

    Parameters
    ----------
    first : a coupled trim to start from
    slowest, fastest : the range [m/s]
    upward : whether to set out toward higher speeds
    report : called with the speed of every point

    Returns
    -------
    The points passed, the first trim's included; they end where the branch could not be followed
    """
    path = _Path(problem, first.climb_angle)
    z = np.append(first.unknown, first.speed)
    start = first.loads.coupled.offset
    _, slopes, start = path.linearised(z, start)
    toward = np.zeros(len(z))
    toward[-1] = 1.0 if upward else -1.0
    along = path.tangent(slopes, toward)
    points, length = [_point(z, start)], FIRST_LENGTH
    while len(points) < MOST_POINTS and length > SHORTEST:
        found = path.corrected(z + length * along / path.weights, along, start)
        if found is None:
            length *= 0.4
            continue
        new, slopes, offset, steps = found
        turned = path.tangent(slopes, along)
        if turned @ along < 0.8 and length > 0.02:
            length *= 0.5
            continue
        z, start, along = new, offset, turned
        points.append(_point(z, start))
        if report is not None:
            report(float(z[-1]))
        if not slowest <= z[-1] <= fastest:
            break
        length = min(length * (1.5 if steps <= EASY else 0.8), LONGEST)
    return points


def _point(z: Floats, start: Floats) -> PathPoint:
    return PathPoint(float(z[-1]), z[:-1].copy(), start.copy())


def crossings(
    problem: TrimProblem, points: list[PathPoint], speed: float, climb_angle: float = 0.0
) -> list[Trim]:
    """Trims at a speed wherever a branch passes it, each solved from the branch nearby."""
    found: list[Trim] = []
    for before, after in pairwise(points):
        low, high = sorted((before.speed, after.speed))
        if not low <= speed <= high or low == high:
            continue
        share = (speed - before.speed) / (after.speed - before.speed)
        guess = before.unknown + share * (after.unknown - before.unknown)
        nearer = before if share < 0.5 else after
        trim = trimmed(problem, speed, climb_angle, guess, nearer.offset)
        if not trim.is_converged:
            near = _nearer(problem, before, after, speed, climb_angle)
            trim = trimmed(problem, speed, climb_angle, near.unknown, near.offset)
        if trim.is_converged and all(abs(trim.theta - other.theta) > 1e-5 for other in found):
            found.append(trim)
    return found


def _nearer(
    problem: TrimProblem, before: PathPoint, after: PathPoint, speed: float, climb_angle: float
) -> PathPoint:
    """A balanced point between two of a branch, much nearer to a speed, by halving."""

    def is_before(point: PathPoint, _: Floats) -> bool:
        return (point.speed - speed) * (before.speed - speed) > 0.0

    ends = _halved(problem, before, after, climb_angle, is_before)
    return min(*ends, key=lambda point: abs(point.speed - speed))


def turn_between(
    problem: TrimProblem, before: PathPoint, after: PathPoint, climb_angle: float, *, rising: bool
) -> PathPoint:
    """The balanced point between two of a branch at which its speed turns, by halving.

    Parameters
    ----------
    before, after : the speed turns once on the way from one to the other
    rising : whether it rises up to the turn, else it falls
    """
    sense = 1.0 if rising else -1.0
    ends = _halved(
        problem, before, after, climb_angle, lambda _, tangent: bool(sense * tangent[-1] > 0.0)
    )
    return max(*ends, key=lambda point: sense * point.speed)


def _halved(
    problem: TrimProblem,
    before: PathPoint,
    after: PathPoint,
    climb_angle: float,
    is_before: Callable[[PathPoint, Floats], bool],
) -> tuple[PathPoint, PathPoint]:
    """Two balanced points of a branch on either side of what is looked for, close to each other.

    Parameters
    ----------
    is_before : whether a point lies before it, from the point and the branch's tangent there
    """
    path = _Path(problem, climb_angle)
    for _ in range(HALVINGS):
        ends = [np.append(point.unknown, point.speed) for point in (before, after)]
        along = (ends[1] - ends[0]) * path.weights
        length = float(np.linalg.norm(along))
        if length < SHORTEST:
            break
        middle = path.corrected(0.5 * (ends[0] + ends[1]), along / length, before.offset, SHARP)
        if middle is None:
            break
        point = _point(middle[0], middle[2])
        if is_before(point, path.tangent(middle[1], along)):
            before = point
        else:
            after = point
    return before, after
