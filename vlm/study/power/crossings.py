"""Speeds at which two settings draw the same power, where that can be said.

A change of sign of the difference is a crossing only if, on either side of it, the difference grows
beyond what it owes to the lattice: the same trims of both settings on a lattice of half the strips
tell how much that is. Changes within that noise between two sides that are clear count once.
Mirror images draw the same at every speed and have none. A change of sign where one of the curves
jumps to another branch of trims is reported as a jump.
"""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from functools import partial
from itertools import combinations, pairwise

import numpy as np

from vlm.constants import Floats
from vlm.description.folds import FoldAngles
from vlm.flight.craft.crossing import sign_changes
from vlm.flight.trim.power_book import POWER, direct_trim
from vlm.flight.trim.power_curve import PowerCurve, PowerPoint
from vlm.flight.trim.power_samples import SampledCurve
from vlm.flight.trim.power_warnings import in_deep_stall
from vlm.flight.trim.powered import powered_craft
from vlm.flight.trim.sampled_speeds import interval, sampled_crossing
from vlm.flight.trim.special_speeds import SPEED_TOLERANCE, crossing_speed
from vlm.lattice.cellule import Grid

Change = tuple[int, int]
"""Indices of the speeds on either side of a change of sign."""
ALL_PAIRS = 6
"""Most settings of which every pair is compared; of more, each is held against the first."""
SAME_ANGLE = 1e-9
LEAST_NOISE = 1e-3
"""Part of the power that a difference always leaves open: sections, rotors, solving [1]."""
HALVINGS, WIDEST = 12, 0.05
"""Of the range around a crossing, to tell a step of the difference from a slope [1]; how far that
range may reach either way [m/s]."""
MOST_MISSING = 0.5
"""Share of samples without a crossing beyond which no interval is given [1]."""


REACH_PERCENT = 90.0
"""Share of a crossing's samples over whose airspeeds stall is looked for [%]."""


@dataclass(frozen=True)
class Crossing:
    """A speed at which two settings draw the same power.

    Attributes
    ----------
    first, second : the settings
    speed : [m/s]
    is_jump : whether one of the curves jumps there from one branch of trims to another
    noise : of the difference, from the lattice [W]
    samples : the speed over the samples; None without any
    ends : range in which both settings can be flown [m/s]
    stall_left_open : whether a strip of either setting is past its stall beside it, with no
        uncertainty of forces past stall in the file, or in deep stall; then its interval is not
        known
    less_above : the setting that draws less above that speed, up to the next crossing; None where
        it does not at all of these speeds
    """

    first: str
    second: str
    speed: float
    is_jump: bool
    noise: float
    samples: Floats | None
    ends: tuple[float, float]
    stall_left_open: bool
    less_above: str | None

    def interval(self, percent: float) -> tuple[float, float] | None:
        """Interval of the speed within the range of flight; None where it is not known.

        Nor is that of a jump: samples stay on the branch of the trim that they are made around.
        """
        if self.samples is None or self.stall_left_open or self.is_jump:
            return None
        known = np.isfinite(self.samples)
        if np.mean(~known) > MOST_MISSING:
            return None
        low, high = interval(np.clip(self.samples[known], *self.ends), percent)
        return min(low, self.speed), max(high, self.speed)


def mirror_images(first: FoldAngles, second: FoldAngles) -> bool:
    """Whether two settings are alike, or each other's mirror image."""
    swapped = FoldAngles(second.right_deg, second.left_deg)
    return any(
        abs(first.left_deg - other.left_deg) < SAME_ANGLE
        and abs(first.right_deg - other.right_deg) < SAME_ANGLE
        for other in (second, swapped)
    )


def crossings(
    curves: Mapping[str, PowerCurve], sampled: Mapping[str, SampledCurve]
) -> list[Crossing]:
    """Crossings between settings, growing in speed for each pair.

    Parameters
    ----------
    curves, sampled : by setting, on the same speeds; ``sampled`` may be empty
    """
    names = list(curves)
    pairs = list(combinations(names, 2))
    if len(names) > ALL_PAIRS:
        pairs = [(names[0], name) for name in names[1:]]
    found: list[Crossing] = []
    for one, other in pairs:
        a, b = curves[one], curves[other]
        if not mirror_images(a.problem.craft.folds, b.problem.craft.folds):
            found += _of_pair(one, other, a, b, sampled)
    return found


def _of_pair(
    one: str, other: str, a: PowerCurve, b: PowerCurve, sampled: Mapping[str, SampledCurve]
) -> Iterator[Crossing]:
    both = np.logical_and(a.decided, b.decided)
    apart = np.where(both, a.values(POWER) - b.values(POWER), np.nan)
    for low, high in _stretches(both):
        for change, noise, rises in turns_for_good(
            apart[low : high + 1], partial(_noise, a, b, low)
        ):
            turn = low + change[0], low + change[1]
            speed = _where(a, b, turn)
            samples = None
            if sampled:
                samples = sampled_crossing(a.speeds, sampled[one], sampled[other], speed)
                if np.isfinite(samples).any():
                    samples = samples + speed - np.nanmedian(samples)
            ends = float(a.speeds[low]), float(a.speeds[high])
            yield Crossing(
                one, other, speed, _jumps(a, b, speed), noise, samples, ends,
                _stall_left_open(a, b, turn, samples),
                None if rises is None else other if rises else one,
            )  # fmt: skip


def _stall_left_open(a: PowerCurve, b: PowerCurve, change: Change, samples: Floats | None) -> bool:
    """Whether what strips past stall beside a crossing change in the difference is not stated.

    At the speeds on either side of it, and as far as nine tenths of its samples reach. A stated
    spread of forces past stall is one factor of both settings, and all but cancels in their
    difference. In deep stall strip theory stands in for the lattice, and what it misses is not the
    same at both folds.
    """
    low, high = (float(a.speeds[place]) for place in change)
    if samples is not None and np.isfinite(samples).any():
        reach = interval(samples, REACH_PERCENT)
        low, high = min(low, reach[0]), max(high, reach[1])
    beside = (a.speeds >= low) & (a.speeds <= high)
    uncertainty = a.problem.craft.craft.uncertainty
    stated = uncertainty is not None and uncertainty.post_stall_percent > 0.0
    near = [
        curve.points[place]
        for curve in (a, b)
        for place in np.flatnonzero(beside & (curve.values("stall_margin_deg") < 0.0))
    ]
    return any(not stated or in_deep_stall(point) for point in near)


def turns_for_good(
    apart: Floats, noise: Callable[[Change], float]
) -> Iterator[tuple[Change, float, bool | None]]:
    """Where a difference turns its sign and grows beyond its noise on either side.

    Turns between which it stays within its noise count once, in their middle, and only where the
    sign before them is not that after them.

    Parameters
    ----------
    apart : the difference over speed, shape (speeds,)
    noise : of the difference from the speed before a turn to that after it, by their indices

    Yields
    ------
    Indices of the speeds before and after the turn, the noise there, and whether the difference is
    above zero from there to the next; None where it turns back by more than that noise although the
    noise where it does, as at a jump, leaves open at which speed.
    """
    turns = sign_changes(apart)
    noises = [noise(turn) for turn in turns]
    edges = [0, *(after for _, after in turns), len(apart)]
    most = [float(max(apart[i:j], key=abs)) for i, j in pairwise(edges)]
    sizes = np.abs(most)
    last: int | None = None
    kept: list[tuple[int, int]] = []
    for place, size in enumerate(sizes):
        if size <= min(noises[max(0, place - 1) : place + 1], default=0.0):
            continue
        if last is not None and (place - last) % 2:
            middle = (last + place - 1) // 2
            if min(size, sizes[last]) > noises[middle]:
                kept.append((middle, place))
        last = place
    for (middle, place), (last_of, _) in pairwise([*kept, (len(turns), 0)]):
        rises = most[place] > 0.0
        onward = most[place : last_of + 1]
        back = any((each < 0.0) is rises and abs(each) > noises[middle] for each in onward)
        yield turns[middle], noises[middle], None if back else rises


def _stretches(both: np.ndarray) -> list[tuple[int, int]]:
    """First and last index of every stretch of at least two speeds that both can fly."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], both.astype(int), [0]])))
    pairs = zip(edges[::2], edges[1::2], strict=True)
    return [(int(i), int(j) - 1) for i, j in pairs if j - i > 1]


def _where(a: PowerCurve, b: PowerCurve, change: Change) -> float:
    def difference(speed: float) -> float:
        return a.at(speed).value(POWER) - b.at(speed).value(POWER)

    before, after = change
    return crossing_speed(difference, float(a.speeds[before]), float(a.speeds[after]))


def _jumps(a: PowerCurve, b: PowerCurve, speed: float) -> bool:
    """Whether the difference still steps by more than its noise, however near the crossing.

    A curve that leaves one branch of trims for another does; where powers are equal the step
    shrinks with the distance.
    """

    def difference(at: float) -> float:
        return a.at(at).value(POWER) - b.at(at).value(POWER)

    reach = SPEED_TOLERANCE
    low, high = speed - reach, speed + reach
    before, after = difference(low), difference(high)
    while (before > 0.0) == (after > 0.0) and reach < WIDEST:
        reach *= 2.0  # the speed may be off by its tolerance
        low, high = speed - reach, speed + reach
        before, after = difference(low), difference(high)
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        found = difference(middle)
        if (found > 0.0) == (before > 0.0):
            low, before = middle, found
        else:
            high, after = middle, found
    return not abs(after - before) <= LEAST_NOISE * a.at(low).value(POWER)


def _noise(a: PowerCurve, b: PowerCurve, first: int, turn: Change) -> float:
    """Change of the difference with half the strips, the largest of the speeds' that have it [W].

    Endless where neither has.

    Parameters
    ----------
    first, turn : index of a stretch's first speed, and indices of a turn counted from there
    """
    before, after = first + turn[0], first + turn[1]
    least = LEAST_NOISE * a.points[before].value(POWER)
    found = []
    for index in (before, after):
        point_a, point_b = a.points[index], b.points[index]
        coarse = [_coarser(curve, p) for curve, p in ((a, point_a), (b, point_b))]
        fine = point_a.value(POWER) - point_b.value(POWER)
        found.append(abs(coarse[0] - coarse[1] - fine))
    # Beside stall a branch may begin a little later there: then the other speed tells.
    known = [change for change in found if np.isfinite(change)]
    return max(least, *known) if known else np.inf


def _coarser(curve: PowerCurve, point: PowerPoint) -> float:
    """Power of the same setting on half the strips, started from the same trim [W]."""
    craft = curve.problem.craft
    lattice = craft.model.lattice
    rows = max(patch.rows for patch in lattice.patches)
    strips = max(4, _half_strips(curve) // 2)
    made = powered_craft(
        craft.craft, craft.folds, air=craft.air, grid=Grid(rows, strips), wake=craft.wake
    )
    return direct_trim(made, point.speed, climb_angle=curve.climb_angle, near=point).value(POWER)


def _half_strips(curve: PowerCurve) -> int:
    """Strips over one side of the wing that has the most."""
    model = curve.problem.craft.model
    wings: dict[str, int] = {}
    for patch in model.lattice.patches:
        wings[patch.wing] = wings.get(patch.wing, 0) + patch.strips
    return max(wings.values()) // 2
