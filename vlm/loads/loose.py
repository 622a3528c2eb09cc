"""Bound filaments that end beside other rows: fins and tips on wings whose rows do not meet theirs.

Where rows meet, the velocities that filaments of one surface induce on the common line cancel in
pairs about the middles of its segments. Where they do not, a filament may end anywhere beside such
a point, and beside a point of another surface's row next to the line; the force there would go with
one over that distance. As across a bend (:mod:`vlm.loads.kinks`), a filament stands for a strip of
a vortex sheet as wide as its row: its velocity is taken at the mean distance (10) of that width
out of the plane, for all rows of both surfaces.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from vlm.constants import Floats
from vlm.frames import cross
from vlm.lattice.edges import OUTER
from vlm.lattice.lattice import Lattice
from vlm.lattice.patches import Patch
from vlm.lattice.spacing import chord_rows, row_extents
from vlm.loads.kinks import FOUR_PI, MEAN_DISTANCE, bound_strengths, factor
from vlm.loads.segments import surface_segments


@dataclass(frozen=True)
class LooseEnd:
    """Rows of the patch ``source`` that end beside the patch ``target``.

    Attributes
    ----------
    target, source : indices of the patches
    core : shape (rows,), mean distance of the source's rows [m]
    """

    target: int
    source: int
    core: Floats


def loose_ends_of(lattice: Lattice) -> Iterator[LooseEnd]:
    """All ordered pairs of patches whose ends are joined and whose rows do not meet: fixed ones
    where a fin stands on a wing, and a tip and the end of the wing it rests on."""
    law = lattice.grid.chord_law
    extents = row_extents(lattice.grid.rows, law) / (1.0 - chord_rows(lattice.grid.rows, law)[0][0])
    for members in _loose_members(lattice):
        for one, one_end in members:
            for two, two_end in members:
                target, source = lattice.patches[one], lattice.patches[two]
                edge = source.nodes[:, two_end]
                if one == two or np.allclose(target.nodes[:, one_end], edge, rtol=0.0, atol=1e-12):
                    continue
                length = float(np.linalg.norm(edge[-1] - edge[0]))
                yield LooseEnd(one, two, MEAN_DISTANCE * length * extents)


def _loose_members(lattice: Lattice) -> Iterator[list[tuple[int, int]]]:
    """Patches and their ends that stand together while their rows do not meet."""
    for junction in lattice.junctions:
        if not junction.matched:
            yield [m for m in junction.members if lattice.patches[m[0]].part != "tip"]
    last = {f"{p.wing} {p.side}": i for i, p in enumerate(lattice.patches)}
    tips = {p.body: i for i, p in enumerate(lattice.patches) if p.part == "tip"}
    for joint in lattice.joints:
        if joint.closed and not joint.matched:
            yield [(tips[joint.tip], OUTER), (last[joint.other], OUTER)]


def loose_influence(target: Patch, source: Patch, core: Floats) -> Floats:
    """Change of the velocity at all segments of a patch from the bound filaments of another.

    Returns
    -------
    shape (segments, rows of the source, strips of the source, 3), per unit of bound strength [1/m]
    """
    points = surface_segments(target).points
    arms = points[:, None, None, :] - source.nodes[:-1]
    start, end = arms[:, :, :-1], arms[:, :, 1:]
    dot = np.sum(start * end, axis=-1)
    first, last = np.sum(start * start, axis=-1), np.sum(end * end, axis=-1)
    soft = core[:, None] ** 2
    change = factor(first + soft, last + soft, dot + soft) - factor(first, last, dot)
    return np.asarray(change[..., None] * cross(start, end) * (source.sense / FOUR_PI))


def with_loose_ends(lattice: Lattice, index: int, softened: Floats, circulation: Floats) -> Floats:
    """Velocity changes of one patch at its first segments, with those of loose ends at all.

    Parameters
    ----------
    softened : shape (0 or some segments, 3, columns), changes at the patch's first segments
    circulation : of all panels, shape (panels, columns) [m^2/s]
    """
    patch = lattice.patches[index]
    for loose in loose_ends_of(lattice):
        if loose.target != index:
            continue
        source = lattice.patches[loose.source]
        strength = bound_strengths(source, circulation[lattice.panels_of(loose.source)])
        table = loose_influence(patch, source, loose.core)
        change = np.tensordot(table, strength, axes=([1, 2], [0, 1]))
        change[: len(softened)] += softened
        softened = change
    return softened
