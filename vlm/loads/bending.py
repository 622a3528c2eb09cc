"""How sharply a lattice is bent where its patches meet.

A vortex row that turns a corner (a folded hinge, a swept or raised centreline, a joined end) stands
for a bent strip of a vortex sheet less well than a straight row does, so that errors grow with the
turn (measured in the docs, accuracy).
"""

from collections.abc import Iterator
from itertools import combinations

import numpy as np

from vlm.constants import Floats
from vlm.lattice.edges import INNER
from vlm.lattice.lattice import Lattice


def largest_bend(lattice: Lattice) -> float:
    """Largest turn of any vortex row between two patches that share an edge [rad]."""
    turns = [0.0]
    for shared in lattice.shared_edges:
        if shared.same_sheet:
            continue
        one, two = lattice.patches[shared.one].nodes, lattice.patches[shared.two].nodes
        beside, beyond = (1 if end == INNER else -2 for end in (shared.one_end, shared.two_end))
        edge = one[:, shared.one_end]
        arriving, leaving = _directions(edge - one[:, beside]), _directions(two[:, beyond] - edge)
        turns.append(_turn(arriving, leaving))
    return max([*turns, *_loose_turns(lattice)])


def incidence_step(lattice: Lattice) -> float:
    """Largest step of incidence where two patches meet, as at a flared hinge that is folded [1].

    The sine of the turn between the surfaces, times that of the angle between the edge and the
    chord of the surface: a hinge along the chord leaves the incidence as it is.
    """
    steps = [0.0]
    for shared in lattice.shared_edges:
        if shared.same_sheet:
            continue
        one, two = lattice.patches[shared.one], lattice.patches[shared.two]
        edge = one.nodes[-1, shared.one_end] - one.nodes[0, shared.one_end]
        edge = edge / np.linalg.norm(edge)
        normals = (_mean_normal(one.normals[:, shared.one_end]),
                   _mean_normal(two.normals[:, shared.two_end]))  # fmt: skip
        across = np.cross(normals[0], (1.0, 0.0, 0.0))
        slant = float(edge @ across) / float(np.linalg.norm(across))
        steps.append(abs(float(np.cross(*normals) @ edge) * slant))
    return max(steps)


def _mean_normal(normals: Floats) -> Floats:
    mean = normals.mean(axis=0)
    return np.asarray(mean / np.linalg.norm(mean))


def _loose_turns(lattice: Lattice) -> Iterator[float]:
    """Turns where fins stand on wings whose rows do not meet theirs, at the trailing edge [rad]."""
    for junction in lattice.junctions:
        ways = [
            lattice.patches[index].nodes[-1, [end, 1 if end == INNER else -2]]
            for index, end in ([] if junction.matched else junction.members)
        ]
        for one, two in combinations(ways, 2):
            yield _turn(_directions(one[:1] - one[1:]), _directions(two[1:] - two[:1]))


def _turn(arriving: Floats, leaving: Floats) -> float:
    cosine = np.clip(np.sum(arriving * leaving, axis=1), -1.0, 1.0)
    return float(np.arccos(cosine).max())


def _directions(vectors: Floats) -> Floats:
    return np.asarray(vectors / np.linalg.norm(vectors, axis=1, keepdims=True))
