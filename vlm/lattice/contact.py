"""Where a folded tip's end meets another wing's end: joined or kept apart.

A tip's end that lies along another wing's end within ``CONTACT`` chords is joined to it: its
nodes are put on the other's line, so that legs on the common line see nothing of each other.
A gap wider than that is kept. Surfaces that cross, or touch anywhere else, are refused in
:mod:`vlm.lattice.collisions`.
"""

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from vlm.constants import Floats
from vlm.lattice.patches import Patch

CONTACT = 1e-3
"""Ends nearer than this share of the chord are in contact."""
PARALLEL = float(np.cos(np.radians(20.0)))
"""Ends at a larger angle than this cosine's cross, they don't lie along each other."""
LEAST_OVERLAP = 0.05
"""Ends that share less than this part of their length don't lie along each other."""


@dataclass(frozen=True)
class Joint:
    """A tip's end near the end of another wing.

    Attributes
    ----------
    tip : body of the tip
    other : "wing side" of the surface it meets
    gap : largest distance between the two ends where they overlap [m]
    closed : whether they were joined
    matched : whether their nodes coincide row by row, so that no row's force is bent
    """

    tip: str
    other: str
    gap: float
    closed: bool
    matched: bool


@dataclass(frozen=True)
class Edge:
    """The outboard edge of a patch from leading to trailing edge: its two ends and nodes."""

    patch: int
    lead: Floats
    trail: Floats
    nodes: Floats

    @cached_property
    def chord(self) -> Floats:
        """From the leading to the trailing edge, shape (3,) [m]."""
        return np.asarray(self.trail - self.lead)

    @cached_property
    def length(self) -> float:
        """Chord there [m]."""
        return float(np.linalg.norm(self.chord))

    @cached_property
    def along(self) -> Floats:
        """Unit vector from the leading to the trailing edge, shape (3,) [1]."""
        return np.asarray(self.chord / self.length)

    def nearest(self, points: Floats) -> Floats:
        """Points of the edge's line nearest to some points, shape (m, 3) [m]."""
        return np.asarray(self.lead + ((points - self.lead) @ self.along)[:, None] * self.along)


@dataclass(frozen=True)
class Meeting:
    """A joint with the index of the tip's end patch and the edge it lies along."""

    joint: Joint
    index: int
    edge: Edge


def leading_points(patch: Patch, columns: NDArray[np.intp], first: float) -> Floats:
    """Points of the leading edge at node columns; ``first`` is the first row's chord fraction."""
    row, trail = patch.nodes[0, columns], patch.nodes[-1, columns]
    return np.asarray(row - (trail - row) * first / (1.0 - first))


def outer_edge(patches: tuple[Patch, ...], index: int, first: float) -> Edge:
    """The outboard edge of a patch."""
    patch = patches[index]
    lead = leading_points(patch, np.array([-1]), first)[0]
    return Edge(index, lead, patch.nodes[-1, -1], patch.nodes[:, -1])


def tip_ends(patches: tuple[Patch, ...]) -> list[int]:
    """Index of the outermost patch of each tip."""
    return list({patch.body: i for i, patch in enumerate(patches) if patch.part == "tip"}.values())


def overlap_gap(end: Edge, other: Edge) -> float | None:
    """Largest distance of a tip's end from another edge's line where the two overlap [m].

    None where they do not overlap, or run at more than 20 degrees to each other.
    """
    if other.length == 0.0 or end.length == 0.0:
        return None
    if abs(float(end.along @ other.along)) < PARALLEL:
        return None
    places = sorted(float((point - other.lead) @ other.along) for point in (end.lead, end.trail))
    start, stop = max(places[0], 0.0), min(places[1], other.length)
    if stop - start < LEAST_OVERLAP * end.length:
        return None
    samples = other.lead + np.linspace(start, stop, 5)[:, None] * other.along
    return float(np.linalg.norm(samples - end.nearest(samples), axis=1).max())


def found_joints(patches: tuple[Patch, ...], first: float) -> list[Meeting]:
    """Tip ends closer to another wing's end than an end strip is wide."""
    found = []
    edges = [outer_edge(patches, index, first) for index in range(len(patches))]
    for index in tip_ends(patches):
        end = edges[index]
        near = _nearest_end(patches, end, edges)
        if near is None:
            continue
        gap, edge = near
        width = min(float(patches[i].width[-1]) for i in (index, edge.patch))
        if gap > max(width, CONTACT * end.length):
            continue
        other = patches[edge.patch]
        apart = float(np.abs(end.nodes - edge.nodes).max())
        joint = Joint(
            tip=patches[index].body,
            other=f"{other.wing} {other.side}",
            gap=gap,
            closed=gap <= CONTACT * end.length,
            matched=apart <= 2.0 * gap + 1e-12,
        )
        found.append(Meeting(joint, index, edge))
    return found


def _nearest_end(
    patches: tuple[Patch, ...], end: Edge, edges: list[Edge]
) -> tuple[float, Edge] | None:
    """The edge of another wing's patch that a tip's end lies along, and how far off [m]."""
    own = patches[end.patch].wing
    near = [
        (gap, edge)
        for patch, edge in zip(patches, edges, strict=True)
        if patch.wing != own and patch.part != "fin" and (gap := overlap_gap(end, edge)) is not None
    ]
    return min(near, key=lambda pair: pair[0]) if near else None


def joined_patches(
    patches: tuple[Patch, ...], row_fraction: float
) -> tuple[tuple[Patch, ...], tuple[Joint, ...]]:
    """Put the ends of tips in contact on the line they touch; list every near end.

    Of two tips that meet each other, the first is moved onto the second.
    """
    result = list(patches)
    meetings = found_joints(patches, row_fraction)
    moved: set[int] = set()
    for meeting in meetings:
        index, edge = meeting.index, meeting.edge
        if not meeting.joint.closed or edge.patch in moved:
            continue
        nodes = result[index].nodes.copy()
        nodes[:, -1] = edge.nodes if meeting.joint.matched else edge.nearest(nodes[:, -1])
        result[index] = replace(result[index], nodes=nodes)
        moved.add(index)
    return tuple(result), tuple(meeting.joint for meeting in meetings)
