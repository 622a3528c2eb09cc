"""How sharply a lattice is bent where its patches meet.

A vortex row that turns a corner (a folded hinge, a swept or raised centreline, a joined end) stands
for a bent strip of a vortex sheet less well than a straight row does, so that errors grow with the
turn (measured in the docs, accuracy).
"""

import numpy as np

from vlm.constants import Floats
from vlm.lattice.lattice import Lattice
from vlm.lattice.patches import Patch

SAME_EDGE = 1e-9


def largest_bend(lattice: Lattice) -> float:
    """Largest turn of any vortex row between two patches that share an edge [rad]."""
    turns = [0.0]
    for i, one in enumerate(lattice.patches):
        for two in lattice.patches[i + 1 :]:
            turns += _turns(one, two)
    return max(turns)


def _turns(one: Patch, two: Patch) -> list[float]:
    """Turns at edges that the patches share, none where they share none [rad]."""
    found = []
    for own, beside in ((0, 1), (-1, -2)):
        for other, beyond in ((0, 1), (-1, -2)):
            edge = one.nodes[:, own]
            apart = float(np.abs(edge - two.nodes[:, other]).max())
            if apart < SAME_EDGE * float(np.abs(edge[-1] - edge[0]).max()):
                arriving = _directions(edge - one.nodes[:, beside])
                leaving = _directions(two.nodes[:, beyond] - two.nodes[:, other])
                cosine = np.clip(np.sum(arriving * leaving, axis=1), -1.0, 1.0)
                found.append(float(np.arccos(cosine).max()))
    return found


def _directions(vectors: Floats) -> Floats:
    return np.asarray(vectors / np.linalg.norm(vectors, axis=1, keepdims=True))
