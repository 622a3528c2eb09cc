"""What the model leaves open in the moments of level flight: the wake's direction and roll-up."""

import numpy as np

from vlm.constants import Floats
from vlm.flight.craft.folded_craft import FoldedCraft
from vlm.flight.craft.level import LevelFlight
from vlm.loads.model_spread import wake_spread
from vlm.loads.state import FlightState


def moment_spread(craft: FoldedCraft, flight: LevelFlight) -> Floats:
    """Half-widths of the rolling, pitching and yawing moment, body axes, shape (3,) [N m].

    The allowances of :mod:`vlm.loads.model_spread` at the flight's angle of attack.
    """
    found = wake_spread(craft.loads, FlightState(alpha=flight.alpha))
    reference = craft.loads.reference
    force = flight.dynamic_pressure * reference.area
    lengths = {"Cl": reference.span, "Cm": reference.chord, "Cn": reference.span}
    return np.array([force * length * float(found[name]) for name, length in lengths.items()])
