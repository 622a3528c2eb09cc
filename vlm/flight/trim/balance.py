"""Where the centre of gravity would have to be for rotors of equal thrust to balance a trim.

Rotors that pull unlike hold the craft in pitch by the moment M of their differences. Weight acts
in the centre of gravity, so that moving that aft by x along the craft adds the moment of
W cos theta at the arm x, nose up; theta is the body angle. It is moved until M is gone, each time
by a trim of its own: wings in the slipstream feel the change of thrusts too.
"""

from dataclasses import dataclass, replace

import numpy as np

from vlm.constants import GRAVITY, Floats
from vlm.flight.trim.power_book import direct_trim
from vlm.flight.trim.power_curve import PowerPoint
from vlm.flight.trim.powered import PoweredCraft
from vlm.flight.trim.trim import Trim, trim_problem
from vlm.frames import GEOMETRY_TO_BODY, cross
from vlm.plain import move_words

MOST_MOVES = 8
SETTLED_M = 1e-5
LEAST_SHARE = 0.2
"""Share of the weight across the craft below which moving it hardly pitches, as near hover."""


@dataclass(frozen=True)
class Balance:
    """How far a trim is from being balanced by equal thrusts.

    Attributes
    ----------
    moment : pitching moment of the rotors' differences, nose up positive [N m]
    aft : how far aft the centre of gravity would lie, along the craft, for equal thrusts [m]
    chords : the same over the reference chord, by which the static margin falls [1]
    point : the trim with it there
    """

    moment: float
    aft: float
    chords: float
    point: PowerPoint

    @property
    def way(self) -> str:
        """How far the centre of gravity would move, which way, and what that costs in pitch."""
        return move_words(self.aft, self.chords)


def pitching_moment(craft: PoweredCraft, trim: Trim) -> float:
    """Pitching moment of what each rotor pulls more than the mean of all, nose up [N m]."""
    arms = cross(craft.positions - craft.masses.centre, craft.axes)
    return float((GEOMETRY_TO_BODY @ ((trim.thrusts - trim.thrusts.mean()) @ arms))[1])


def with_centre(craft: PoweredCraft, aft: float) -> PoweredCraft:
    """The craft with its centre of gravity moved aft [m]."""
    moved: Floats = craft.masses.centre + np.array([aft, 0.0, 0.0])
    return replace(craft, masses=replace(craft.masses, centre=moved))


def balance(craft: PoweredCraft, point: PowerPoint, climb_angle: float = 0.0) -> Balance | None:
    """The balance of a trim, level or climbing [rad]; None where none is found.

    None too where the craft hangs on its rotors, and where they have no pattern that pitches.
    """
    if point.trim is None or "pitch" not in trim_problem(craft).patterns.names:
        return None
    moment, aft, found, moved = pitching_moment(craft, point.trim), 0.0, point, craft
    for _ in range(MOST_MOVES):
        assert found.trim is not None
        across = np.cos(found.trim.theta) * np.cos(found.trim.lean)
        if across < LEAST_SHARE:
            return None
        step = pitching_moment(moved, found.trim) / (craft.masses.mass * GRAVITY * across)
        if abs(step) < SETTLED_M:
            return Balance(moment, aft, aft / craft.model.lattice.reference.chord, found)
        aft += float(step)
        moved = with_centre(craft, aft)
        found = direct_trim(moved, point.speed, climb_angle=climb_angle, near=found)
        if found.trim is None:
            return None
    return None
