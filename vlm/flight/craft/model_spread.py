"""What the model leaves open in level flight: the wake's direction and roll-up, and the corners.

The wake's allowances are those of :mod:`vlm.loads.model_spread`. Where a tip touches another
surface's end, or nearly does, the largest difference from the other corners
(:mod:`vlm.lattice.corners`) is added.
"""

from collections.abc import Callable

import numpy as np

from vlm.constants import Floats
from vlm.flight.craft.folded_craft import FoldedCraft
from vlm.flight.craft.level import LevelFlight
from vlm.loads.model_spread import wake_spread
from vlm.loads.state import FlightState


def corner_spread(craft: FoldedCraft, value: Callable[[FoldedCraft], Floats]) -> Floats:
    """Largest difference of a value of the inviscid wing from that with other corners; else 0.

    Parameters
    ----------
    value : of a craft at its fold; an array of any shape
    """
    others = [value(other) for other in craft.other_corners()]
    if not others:
        return np.zeros(1)
    return np.asarray(np.max(np.abs(np.array(others) - value(craft)), axis=0))


def moment_spread(craft: FoldedCraft, flight: LevelFlight) -> Floats:
    """Half-widths of the rolling, pitching and yawing moment, body axes, shape (3,) [N m]."""
    found = wake_spread(craft.loads, FlightState(alpha=flight.alpha))
    reference = craft.loads.reference
    force = flight.dynamic_pressure * reference.area
    lengths = {"Cl": reference.span, "Cm": reference.chord, "Cn": reference.span}
    wake = np.array([force * length * float(found[name]) for name, length in lengths.items()])
    motion = flight.motion[None, :]

    def moments(one: FoldedCraft) -> Floats:
        return one.wrenches_without_sections(motion, flight.density)[0, 3:]

    return wake + corner_spread(craft, moments)
