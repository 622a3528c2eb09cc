"""What the file's sections change in the loads along each half wing.

Strip by strip, on the lattice that carries the sections (:mod:`vlm.flight.craft.section_change`),
summed from the ends inward as the lattice's own loads are, and read at their cuts.
"""

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np

from vlm.constants import Floats
from vlm.flight.craft.folded_craft import FoldedCraft
from vlm.flight.craft.level import LevelFlight
from vlm.flight.mechanism.wing_bending import HalfWing, StripLoads, half_wings


def section_bending(craft: FoldedCraft, flight: LevelFlight) -> list[HalfWing]:
    """Change of the loads of every half wing; none without sections in the file."""
    change = craft.section_change(flight.motion[None, :], flight.density)
    if change is None or craft.strips is None:
        return []
    model = craft.strips().model
    about = model.lattice.reference.moment_point
    loads = []
    for index, patch in enumerate(model.lattice.patches):
        own = model.strips.patch == index
        force, moment = np.split(change.strips[0, own], 2, axis=1)
        loads.append(StripLoads(patch, force, moment + np.cross(about, force)))
    return half_wings(loads, model.lattice.grid)


def together(halves: Sequence[HalfWing], changes: Sequence[HalfWing]) -> list[HalfWing]:
    """Half wings with what sections change in them, at the cuts of the first."""
    known = {(one.wing, one.side): one for one in changes}
    return [
        _sum(half, known[half.wing, half.side]) if (half.wing, half.side) in known else half
        for half in halves
    ]


def _sum(half: HalfWing, change: HalfWing) -> HalfWing:
    shear, bending, torsion = (
        own + _at_cuts(half, change, further)
        for own, further in (
            (half.shear_N, change.shear_N),
            (half.bending_N_m, change.bending_N_m),
            (half.torsion_N_m, change.torsion_N_m),
        )
    )
    return replace(
        half, shear_N=shear, bending_N_m=bending, torsion_N_m=torsion,
        root_shear_N=float(shear[-1]), root_bending_N_m=float(bending[-1]),
    )  # fmt: skip


def _at_cuts(half: HalfWing, change: HalfWing, values: Floats) -> Floats:
    """Values at the cuts of another half, each stretch from one turn of the wing to the next by
    itself.

    Where the wing turns, a cut stands twice, with different values. A twisted wing turns a little
    at every edge of a strip, and those are not the same on two lattices: there only the turn at the
    hinge parts two stretches.
    """
    wanted, cuts = half.distance_m, change.distance_m
    into, of = _stretches(wanted), _stretches(cuts)
    if len(into) != len(of):
        into, of = _beside_the_hinge(half), _beside_the_hinge(change)
    return np.concatenate(
        [
            np.interp(-wanted[own], -cuts[source], values[source])
            for own, source in zip(into, of, strict=True)
        ]
    )


def _stretches(distance: Floats) -> list[slice]:
    ends = [0, *(np.flatnonzero(np.diff(distance) == 0.0) + 1).tolist(), len(distance)]
    return [slice(a, b) for a, b in pairwise(ends)]


def _beside_the_hinge(half: HalfWing) -> list[slice]:
    """Outboard and inboard of the hinge, of whose two cuts the outer one stands first."""
    if half.hinge_distance_m is None:
        return [slice(None)]
    outer = int(np.abs(half.distance_m - half.hinge_distance_m).argmin())
    return [slice(0, outer + 1), slice(outer + 1, None)]
