"""The craft at one instant of a fold path."""

from dataclasses import dataclass

from vlm.flight.craft.folded_craft import FoldedCraft
from vlm.flight.craft.level import LevelFlight


@dataclass(frozen=True)
class Passage:
    """The craft, and its level flight, at one instant of the fold path [s]."""

    time: float
    craft: FoldedCraft
    flight: LevelFlight
