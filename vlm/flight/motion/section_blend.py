"""What sections change along a fold path: tables over time, sideslip and roll rate."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import RegularGridInterpolator

from vlm.constants import Floats
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
    table : the interpolator over time [s], sideslip and roll rate [rad/s], giving the wrench and
        the stalled share; None where the file has no sections
    ends : first and last value of each axis, beyond which the nearest value holds
    airspeed : [m/s]
    """

    def __init__(
        self, table: RegularGridInterpolator | None, ends: Floats, airspeed: float
    ) -> None:
        self._table, self._ends, self._speed = table, ends, airspeed

    def _at(self, time: float, side: float, roll_rate: float) -> Floats:
        slip = float(np.arcsin(np.clip(side / self._speed, -1.0, 1.0)))
        place = np.clip([time, slip, roll_rate], self._ends[:, 0], self._ends[:, 1])
        assert self._table is not None
        return np.asarray(self._table(place)[0])

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
        return SectionBlend(None, np.zeros((3, 2)), airspeed)
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
    ends = np.array([[axis[0], axis[-1]] for axis in axes])
    return SectionBlend(RegularGridInterpolator(axes, np.array(values)), ends, airspeed)


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
    both = _nearest_known(both, change.agrees).reshape(len(slips), len(rolls), 7)
    return np.asarray(both)


def _nearest_known(values: Floats, known: NDArray[np.bool_]) -> Floats:
    """States in which strips and sections do not agree take the nearest value that does."""
    places = np.flatnonzero(known)
    if len(places) in (0, len(values)):
        return values if len(places) else np.zeros_like(values)
    nearest = places[np.argmin(np.abs(np.arange(len(values))[:, None] - places), axis=1)]
    return np.asarray(values[nearest])
