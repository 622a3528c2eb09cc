"""Chordwise edges that patches share: hinges, kinks, the centre, joined ends."""

from dataclasses import dataclass

import numpy as np

from vlm.lattice.patches import Patch

SAME_EDGE = 1e-9
"""Nodes nearer than this share of the edge's length are the same."""
INNER, OUTER = 0, -1
"""Columns of a patch's nodes at its two ends."""


@dataclass(frozen=True)
class SharedEdge:
    """An end of one patch whose nodes coincide, row by row, with those of another's end.

    Attributes
    ----------
    one, two : indices of the patches
    one_end, two_end : :data:`INNER` or :data:`OUTER`
    length : of the edge between its first row and the trailing edge [m]
    same_sheet : whether both are one fin in the plane of symmetry, whose every node coincides
    """

    one: int
    one_end: int
    two: int
    two_end: int
    length: float
    same_sheet: bool = False


def shared_edges(patches: tuple[Patch, ...]) -> list[SharedEdge]:
    """All ordered pairs of patch ends that coincide."""
    places = [(index, end) for index in range(len(patches)) for end in (INNER, OUTER)]
    edges = np.array([patches[index].nodes[:, end] for index, end in places])
    apart = np.abs(edges[:, None] - edges[None]).max(axis=(2, 3))
    length = np.linalg.norm(edges[:, -1] - edges[:, 0], axis=1)
    found = []
    for i, j in np.argwhere(apart < SAME_EDGE * length[:, None]):
        (one, one_end), (two, two_end) = places[i], places[j]
        if one != two:
            same = patches[one].on_plane and patches[one].wing == patches[two].wing
            found.append(SharedEdge(one, one_end, two, two_end, float(length[i]), same))
    return found
