"""What sections change along a fold path: tables over time, sideslip and roll rate."""

import math
from bisect import bisect_right
from collections.abc import Sequence

import numpy as np

from vlm.constants import Floats
from vlm.flight.craft.section_change import nearest_known
from vlm.flight.craft.steady_roll import steady_roll_rate
from vlm.flight.motion.passage import Passage

SLIPS = np.radians([-60.0, -40.0, -25.0, -15.0, -7.0, 0.0, 7.0, 15.0, 25.0, 40.0, 60.0])
ROLL_STEPS = 13
LEAST_REACH = 2.0
"""Roll rates of the table reach at least this far either way [rad/s]."""


class SectionBlend:
    """Change of the loads by the sections, and the stalled share, interpolated linearly.

    Parameters
    ----------
    axes : time [s], sideslip [rad] and roll rate [rad/s], rising, at least two values each; beyond
        the first and last value the nearest holds
    table : wrench and stalled share over the axes, shape (times, slips, rates, 7); None where the
        file has no sections
    airspeed : [m/s]
    """

    def __init__(self, axes: Sequence[Floats], table: Floats | None, airspeed: float) -> None:
        self._axes = [[float(value) for value in axis] for axis in axes]
        self._table, self._speed = table, airspeed

    def _at(self, time: float, side: float, roll_rate: float) -> Floats:
        # By hand: scipy's interpolator takes ten times as long for one place.
        slip = math.asin(min(max(side / self._speed, -1.0), 1.0))
        values = self._table
        assert values is not None
        for axis, place in zip(self._axes, (time, slip, roll_rate), strict=True):
            after = min(max(bisect_right(axis, place), 1), len(axis) - 1)
            share = (place - axis[after - 1]) / (axis[after] - axis[after - 1])
            share = min(max(share, 0.0), 1.0)
            values = (1.0 - share) * values[after - 1] + share * values[after]
        return values

    def wrench(self, time: float, side: float, roll_rate: float) -> Floats:
        """Change of the loads about the centre of gravity, body axes, shape (6,) [N, N m].

        Parameters
        ----------
        side : velocity to starboard, v [m/s]
        """
        return np.zeros(6) if self._table is None else self._at(time, side, roll_rate)[:6]

    def stalled(self, time: float, side: float, roll_rate: float) -> float:
        """Share of the wings' area past stall [1]."""
        return 0.0 if self._table is None else float(self._at(time, side, roll_rate)[6])


def section_blend(passages: Sequence[Passage], *, slips: bool) -> SectionBlend:
    """Tables at every passage; with ``slips`` False at no sideslip alone."""
    first = passages[0]
    airspeed = first.flight.airspeed
    if first.craft.strips is None:
        return SectionBlend((), None, airspeed)
    last = passages[-1]
    steady = steady_roll_rate(last.craft, last.flight)
    reach = max(LEAST_REACH, 2.0 * abs(steady or 0.0))
    rolls = np.linspace(-reach, reach, ROLL_STEPS)
    sides = SLIPS if slips else np.array([-1.0, 1.0])
    values = [_table(passage, sides if slips else np.zeros(2), rolls) for passage in passages]
    times = [passage.time for passage in passages]
    if len(passages) == 1:
        times, values = [times[0], times[0] + 1.0], values * 2
    axes = (np.array(times), sides, rolls)
    return SectionBlend(axes, np.array(values), airspeed)


def _table(passage: Passage, slips: Floats, rolls: Floats) -> Floats:
    """Wrench and stalled share, shape (slips, rolls, 7)."""
    craft, flight = passage.craft, passage.flight
    slip, roll = (grid.ravel() for grid in np.meshgrid(slips, rolls, indexing="ij"))
    motions = np.zeros((len(slip), craft.motions))
    ahead = flight.airspeed * np.cos(slip)
    motions[:, 0] = ahead * np.cos(flight.alpha)
    motions[:, 1] = flight.airspeed * np.sin(slip)
    motions[:, 2] = ahead * np.sin(flight.alpha)
    motions[:, 3] = roll
    change = craft.section_change(motions, flight.density)
    assert change is not None
    both = np.column_stack([craft.in_body_axes(change.wrench), change.stalled])
    both = nearest_known(both, change.agrees).reshape(len(slips), len(rolls), 7)
    return np.asarray(both)
