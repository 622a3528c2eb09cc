"""A craft whose corners are other than drawn: opened by a slit, or closed.

Where a tip's end touches another surface's end, or nearly does, the joined corner and a slit are
different flows, and an aircraft's corner may be any of them.
"""

from vlm.description.models import Biplane
from vlm.lattice.lattice import Lattice

SLIT_SHARE = 0.003
"""Widest slit at a corner that may count as closed, over the tip's chord there [1]."""


def other_corners(craft: Biplane, lattice: Lattice) -> list[Biplane]:
    """The craft with its corners opened, or closed, where they touch or nearly touch."""
    if craft.arrangement is None or not lattice.joints:
        return []
    chord = max(float(patch.chord[-1]) for patch in lattice.patches if patch.part == "tip")
    widest = max(joint.gap for joint in lattice.joints)
    if widest > SLIT_SHARE * chord:
        return []
    gap = craft.arrangement.gap_m
    others = [gap + SLIT_SHARE * chord]
    if not lattice.is_joined:
        others.append(gap - widest)
    return [craft.overridden({"arrangement.gap_m": value}) for value in others]
