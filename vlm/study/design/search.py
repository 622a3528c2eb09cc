"""A bounded search from several starts that can be stopped, resumed, and trusted with noise.

Values from a lattice are not quite smooth: strips come and go as spans change. So the search is
Nelder and Mead's simplex within bounds (1965, from memory; scipy), which asks for no slopes, and it
ends where the values differ by no more than the noise. That is measured before: from third
differences of values at points so near to each other that only noise differs (Hamming's difference
table; Moré and Wild 2011, from memory). A simplex among designs that are not allowed knows no way
out, so that a start that is not allowed is left for the first place of an even spread over the
bounds that is. From where a simplex ends, small ones set out again until
they win nothing more, since a simplex can collapse against a bound before it is there.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np
from scipy.optimize import minimize
from scipy.stats import qmc

from vlm.constants import Floats

FIRST_SIMPLEX = 0.2
LAST_SIMPLEX = 0.05
MOST_AGAIN = 4
"""Small simplices from one start [1]."""
NEAREST = 0.01
"""Distance at which points count as one, in shares of the bounds [1]."""
LEAST_CHANGE = 1e-4
"""Change of the goal that counts as none even without noise, in shares of it [1]."""
NOISE_STEP = 2e-3
"""Distance of the points that noise is measured at, in shares of the bounds [1]."""
NOT_ALLOWED = 1e30
"""What stands for the cost of a design that fails."""
MOST_PER_KEY = 30
"""Evaluations from one start for each key [1]."""
Cost = Callable[[Floats], float]


@dataclass(frozen=True)
class StartEnd:
    """Where one start led.

    Attributes
    ----------
    start, end : shape (keys,), shares of the bounds [1]
    cost : at the end; NaN where no design on the way was allowed
    evaluations : how many it took, those already known among them
    converged : whether it ended because nothing more was won, and not at the most evaluations
    """

    start: Floats
    end: Floats
    cost: float
    evaluations: int
    converged: bool


@dataclass(frozen=True)
class Searched:
    """What a search found.

    Attributes
    ----------
    best : shape (keys,), shares of the bounds [1]; None where no design was allowed
    cost : there
    ends : one a start
    noise : standard deviation of the cost's noise, NaN where it could not be measured
    stopped : whether it was stopped before its end
    """

    best: Floats | None
    cost: float
    ends: tuple[StartEnd, ...]
    noise: float
    stopped: bool

    @property
    def has_converged(self) -> bool:
        """Whether a start that converged led to the best, within what counts as no change."""
        noise = 0.0 if np.isnan(self.noise) else self.noise
        room = max(LEAST_CHANGE * abs(self.cost), 2.0 * noise)
        return any(end.converged and end.cost <= self.cost + room for end in self.ends)


def starting_points(first: Sequence[float], starts: int) -> Floats:
    """Starts: the given one, then points spread evenly, shape (starts, keys) [1].

    The others are Halton's sequence without scrambling (1960, from memory), its first point, a
    corner, left out.
    """
    spread = qmc.Halton(len(first), scramble=False).random(starts)[1:]
    return np.vstack([np.asarray(first, float)[None, :], spread])


@dataclass
class _Best:
    """The least cost so far."""

    cost: float = NOT_ALLOWED
    place: Floats | None = None
    count: int = 0
    said: Callable[[int, float], None] | None = None
    known: dict[tuple[float, ...], float] = field(default_factory=dict)

    def watched(self, cost: Cost) -> Cost:
        """A cost that is remembered, with failures as a large number."""

        def asked(place: Floats) -> float:
            key = tuple(float(v) for v in np.round(np.clip(place, 0.0, 1.0), 6))
            if key not in self.known:
                value = cost(np.array(key))
                self.known[key] = value if np.isfinite(value) else NOT_ALLOWED
            self.count += 1
            value = self.known[key]
            if value < self.cost:
                self.cost, self.place = value, np.array(key)
            if self.said is not None:
                self.said(self.count, self.cost)
            return value

        return asked


def search(
    cost: Cost,
    starts: Floats,
    *,
    most: int | None = None,
    report: Callable[[int, float], None] | None = None,
) -> Searched:
    """Least cost over the unit cube.

    Parameters
    ----------
    cost : of shares of the bounds, shape (keys,); NaN where a design fails. A KeyboardInterrupt
        that it raises ends the search with what was found
    starts : shape (starts, keys)
    most : evaluations from each start; 30 a key if None
    report : called with the evaluations so far and the least cost

    Returns
    -------
    The same for the same cost and starts, so that a search with remembered costs takes the same way
    """
    best = _Best(said=report)
    asked = best.watched(cost)
    ends: list[StartEnd] = []
    noise, stopped = float("nan"), False
    keys = starts.shape[1]
    most = most or MOST_PER_KEY * keys
    try:
        noise = measured_noise(asked, allowed_place(asked, starts[0], most))
        # A generator: what is finished stays when a later start is stopped.
        ends.extend(_descended(asked, start, most, best, noise) for start in starts)
    except KeyboardInterrupt:
        stopped = True
    least = best.cost if best.place is not None else float("nan")
    return Searched(best.place, least, tuple(ends), noise, stopped)


def measured_noise(cost: Cost, place: Floats) -> float:
    """Standard deviation of a cost's noise, from third differences of four near points.

    Of independent noise the third difference has 20 times the variance (1 + 9 + 9 + 1).
    """
    inward = np.where(place < 0.5, 1.0, -1.0)
    values = [cost(place + k * NOISE_STEP * inward) for k in range(4)]
    if max(values) >= NOT_ALLOWED:
        return float("nan")
    return float(abs(np.diff(values, 3)[0]) / np.sqrt(20.0))


def allowed_place(asked: Cost, start: Floats, most: int) -> Floats:
    """A start, or where it is not allowed another place that is; the start where none is found.

    Parameters
    ----------
    most : evaluations from the start; half of them may be spent
    """
    if asked(start) < NOT_ALLOWED:
        return start
    others = starting_points(start.tolist(), 1 + most // 2)[1:]
    return next((place for place in others if asked(place) < NOT_ALLOWED), start)


def _descended(asked: Cost, start: Floats, most: int, best: _Best, noise: float) -> StartEnd:
    """Descents of a simplex from a start, the later ones small, until they win nothing more."""
    before = best.count
    place = allowed_place(asked, start, most)
    cost = asked(place)
    least = LEAST_CHANGE * (abs(cost) if cost < NOT_ALLOWED else 0.0)
    least = max(least, 0.0 if np.isnan(noise) else 2.0 * noise)
    converged = False
    for size in (FIRST_SIMPLEX, *[LAST_SIMPLEX] * MOST_AGAIN):
        left = most - (best.count - before)
        if left <= len(start):
            break
        found = minimize(
            asked,
            place,
            method="Nelder-Mead",
            bounds=[(0.0, 1.0)] * len(start),
            options={
                "initial_simplex": _simplex(place, size),
                "xatol": NEAREST,
                "fatol": least,
                "maxfev": left,
            },
        )
        won = cost - float(found.fun)
        place = np.round(np.clip(np.asarray(found.x, float), 0.0, 1.0), 6)
        cost = float(found.fun)
        if size == LAST_SIMPLEX and won <= least and found.status == 0:
            converged = True
            break
    worth = cost if cost < NOT_ALLOWED else np.nan
    return StartEnd(start, place, worth, best.count - before, converged)


def _simplex(start: Floats, size: float) -> Floats:
    """A start and one point along each key, away from the nearer bound, shape (keys + 1, keys)."""
    inward = np.where(start < 0.5, size, -size)
    return np.vstack([start, start + np.diag(inward)])
