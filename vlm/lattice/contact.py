"""Where a folded tip meets another wing."""

from dataclasses import dataclass

from vlm.description.models import Biplane
from vlm.lattice.patches import Patch


@dataclass(frozen=True)
class Joint:
    tip: str
    other: str
    gap: float
    closed: bool


def joined_patches(patches, craft, cellule, folds):
    return patches, ()
