"""Patches that move together: their points, what these see, and the bends between them."""

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from vlm.constants import Floats
from vlm.flow.onset import onset_velocities
from vlm.frames import cross
from vlm.lattice.lattice import Lattice
from vlm.lattice.patches import MIRROR, Patch
from vlm.loads.folding import Motion, onset_rates
from vlm.loads.kinks import Bend, bend_influence, bend_influence_rate, bends_of
from vlm.loads.segments import Segments, surface_segments


def swapped(columns: Floats) -> Floats:
    """Starboard and port halves of a table of the fixed wings exchanged."""
    half = len(columns) // 2
    return np.concatenate([columns[half:], columns[:half]])


def reflected(velocity: Floats) -> Floats:
    """Velocities (m, 3, columns) mirrored at the plane of symmetry."""
    return np.asarray(velocity * MIRROR[:, None])


@dataclass(frozen=True)
class Group:
    """Patches that move together, and their points.

    Attributes
    ----------
    patches : in order
    ring_slices, point_slices : where each patch's rings and segments stand
    points, vectors, arms : shape (s, 3), all segments; arms from the moment point [m]
    onset : shape (s, 3, columns), unit onset flows at the segments
    moved, turned : shape (s, 3), rates of points and vectors with the commanded fold [m]
    onset_rate : shape (s, 3, columns)
    """

    patches: tuple[Patch, ...]
    ring_slices: tuple[slice, ...]
    point_slices: tuple[slice, ...]
    points: Floats
    vectors: Floats
    arms: Floats
    onset: Floats
    moved: Floats
    turned: Floats
    onset_rate: Floats

    def segments_of(self, points: slice) -> Segments:
        """The segments of one patch."""
        return Segments(self.points[points], self.vectors[points])


def group_of(lattice: Lattice, patches: Sequence[Patch], motion: Motion) -> Group:
    """Gather patches with what their segments see of the unit flows."""
    segments = [surface_segments(patch) for patch in patches]
    points = [s.points for s in segments]
    vectors = [s.vectors for s in segments]
    pairs = list(zip(patches, points, strict=True))
    turned = [cross(motion.spin(p.body), v) for p, v in zip(patches, vectors, strict=True)]
    return Group(
        patches=tuple(patches),
        ring_slices=_slices([patch.panels for patch in patches]),
        point_slices=_slices([len(p) for p in points]),
        points=np.concatenate(points),
        vectors=np.concatenate(vectors),
        arms=np.concatenate(points) - lattice.reference.moment_point,
        onset=np.concatenate([onset_velocities(lattice, p, x) for p, x in pairs]),
        moved=np.concatenate([motion.displacement(p.body, x) for p, x in pairs]),
        turned=np.concatenate(turned),
        onset_rate=np.concatenate([onset_rates(lattice, motion, p, x) for p, x in pairs]),
    )


def _slices(counts: Sequence[int]) -> tuple[slice, ...]:
    ends = np.cumsum([0, *counts])
    return tuple(slice(int(a), int(b)) for a, b in itertools.pairwise(ends))


def controls_of(patches: Sequence[Patch]) -> tuple[Floats, Floats]:
    """Control points [m] and normals [1] of some patches, shape (panels, 3) each."""
    points = np.concatenate([patch.controls.reshape(-1, 3) for patch in patches])
    normals = np.concatenate([patch.normals.reshape(-1, 3) for patch in patches])
    return points, normals


def add_bends(
    table: Floats, lattice: Lattice, pair: tuple[Group, Group], motion: Motion | None
) -> None:
    """Add the softening of bent rows to a velocity table, or its rate where ``motion`` is given."""
    targets, sources = pair
    for bend in bends_of(lattice):
        target, source = lattice.patches[bend.target], lattice.patches[bend.source]
        row = _place(targets, target)
        column = _place(sources, source)
        if row is None or column is None:
            continue
        first = targets.point_slices[row].start
        if first >= len(table):
            continue
        influence = _bend_table(bend, target, source, motion)
        _add_rows(table, influence, first, sources.ring_slices[column].start)


def _place(group: Group, patch: Patch) -> int | None:
    for i, own in enumerate(group.patches):
        if own is patch:
            return i
    return None


def _bend_table(bend: Bend, target: Patch, source: Patch, motion: Motion | None) -> Floats:
    if motion is None:
        return bend_influence(target, source, bend.core)
    return bend_influence_rate(
        target,
        source,
        bend.core,
        motion.displacement(target.body, target.bound_points()),
        motion.displacement(source.body, source.nodes),
    )


def _add_rows(table: Floats, influence: Floats, first: int, column: int) -> None:
    """Influence of bound segments, (rows, t, s, 3), into a table by rings.

    A bound segment of row k carries ring k less ring k - 1.
    """
    rows, strips, others, _ = influence.shape
    for k in range(rows):
        points = slice(first + k * strips, first + (k + 1) * strips)
        block = influence[k].transpose(0, 2, 1)
        table[points, :, column + k * others : column + (k + 1) * others] += block
        if k > 0:
            table[points, :, column + (k - 1) * others : column + k * others] -= block
