"""What the file's sections change in the loads along each half wing.

Strip by strip, on the lattice that carries the sections (:mod:`vlm.flight.craft.section_change`),
handed over to the strips of the craft's own lattice, and summed with these from the ends inward.
"""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from vlm.constants import Floats
from vlm.flight.craft.folded_craft import FoldedCraft
from vlm.flight.craft.level import LevelFlight
from vlm.flight.mechanism.wing_bending import HalfWing, StripLoads, half_wings, quarter_points
from vlm.lattice.cellule import Grid
from vlm.lattice.patches import Patch


def section_bending(craft: FoldedCraft, flight: LevelFlight) -> list[HalfWing]:
    """Change of the loads of every half wing at the cuts of its own; none without sections."""
    change = craft.section_change(flight.motion[None, :], flight.density)
    if change is None or craft.strips is None:
        return []
    model, patches = craft.strips().model, craft.loads.lattice.patches
    about = model.lattice.reference.moment_point
    loads = []
    for index, patch in enumerate(patches):
        force, moment = np.split(change.strips[0, model.strips.patch == index], 2, axis=1)
        source = model.lattice.patches[index]
        own = StripLoads(source, force, moment + np.cross(about, force))
        loads.append(handed_over(own, model.lattice.grid, patch))
    return half_wings(loads, craft.loads.lattice.grid)


def handed_over(loads: StripLoads, grid: Grid, patch: Patch) -> StripLoads:
    """Loads on the strips of one lattice, on those of another lattice of the same piece.

    Each strip's load is spread evenly over its width; force and moment of the piece are kept.

    Parameters
    ----------
    grid : that the loads stand on
    patch : the same piece on the other lattice
    """
    edges, wanted = _edges(loads.patch), _edges(patch)
    low = np.maximum(wanted[:-1, None], edges[:-1])
    high = np.maximum(np.minimum(wanted[1:, None], edges[1:]), low)
    share = (high - low) / np.diff(edges)
    quarters = quarter_points(loads.patch, grid)
    middle = 0.5 * (low + high) - 0.5 * (edges[1:] + edges[:-1])
    arm = (middle / np.diff(edges))[..., None] * np.diff(quarters, axis=0)
    moved = loads.moment + np.cross(arm, loads.force)
    return StripLoads(patch, share @ loads.force, np.einsum("ij,ijk->ik", share, moved))


def together(halves: Sequence[HalfWing], changes: Sequence[HalfWing]) -> list[HalfWing]:
    """Half wings with what sections change in them, both at the same cuts."""
    known = {(one.wing, one.side): one for one in changes}
    return [
        _sum(half, known[half.wing, half.side]) if (half.wing, half.side) in known else half
        for half in halves
    ]


def _sum(half: HalfWing, change: HalfWing) -> HalfWing:
    return replace(
        half,
        shear_N=half.shear_N + change.shear_N,
        bending_N_m=half.bending_N_m + change.bending_N_m,
        torsion_N_m=half.torsion_N_m + change.torsion_N_m,
        root_shear_N=half.root_shear_N + change.root_shear_N,
        root_bending_N_m=half.root_bending_N_m + change.root_bending_N_m,
    )


def _edges(patch: Patch) -> Floats:
    """Places of the strips' edges along a piece, 0 to 1, shape (strips + 1,)."""
    ends = np.append(0.0, np.cumsum(patch.width))
    return np.asarray(ends / ends[-1])
