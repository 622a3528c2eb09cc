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
        own + _at_cuts(half.distance_m, change.distance_m, further)
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


def _at_cuts(wanted: Floats, cuts: Floats, values: Floats) -> Floats:
    """Values between cuts, each stretch from one turn of the wing to the next by itself.

    Where the wing turns, a cut stands twice, with different values.
    """
    into, of = _stretches(wanted), _stretches(cuts)
    assert len(into) == len(of), "both lattices turn at the same places"
    return np.concatenate(
        [
            np.interp(-wanted[own], -cuts[source], values[source])
            for own, source in zip(into, of, strict=True)
        ]
    )


def _stretches(distance: Floats) -> list[slice]:
    ends = [0, *(np.flatnonzero(np.diff(distance) == 0.0) + 1).tolist(), len(distance)]
    return [slice(a, b) for a, b in pairwise(ends)]
