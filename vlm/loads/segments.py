"""The vortex segments that lie on the surface, and the force on them.

Force on a segment of strength G along l in the local velocity V (Kutta and Joukowski):

    F = rho G V x l                                                                    (5)

It is bilinear in the unit flows: strength from one, velocity from the other. All tables here
are for unit density.
"""

from dataclasses import dataclass

import numpy as np

from vlm.lattice.patches import Patch
from vlm.lattice.spacing import Floats
from vlm.loads.kinks import bound_strengths


@dataclass(frozen=True)
class Segments:
    """Bound segments of a patch, row by row, then its chordwise segments, row by row.

    Attributes
    ----------
    points : shape (s, 3), where the velocity is taken [m]
    vectors : shape (s, 3), along the segment, in the sense of positive strength [m]
    """

    points: Floats
    vectors: Floats


def surface_segments(patch: Patch) -> Segments:
    """Segments of a patch on which a force acts, the chordwise ones included."""
    bound = patch.nodes[:-1, 1:] - patch.nodes[:-1, :-1]
    chordwise = patch.nodes[1:] - patch.nodes[:-1]
    points = [patch.bound_points().reshape(-1, 3), patch.chordwise_points().reshape(-1, 3)]
    vectors = [bound.reshape(-1, 3), chordwise.reshape(-1, 3)]
    return Segments(np.concatenate(points), patch.sense * np.concatenate(vectors))


def segment_strengths(patch: Patch, circulation: Floats) -> Floats:
    """Strength of each segment from the rings beside it.

    Parameters
    ----------
    circulation : shape (panels, columns) of this patch's rings [m^2/s]

    Returns
    -------
    shape (s, columns), in the order of :class:`Segments`
    """
    ring = circulation.reshape(patch.rows, patch.strips, -1)
    bound = bound_strengths(patch, circulation)
    chordwise = np.zeros((patch.rows, patch.strips + 1, ring.shape[2]))
    chordwise[:, 1:] += ring
    chordwise[:, :-1] -= ring
    columns = ring.shape[2]
    return np.concatenate([bound.reshape(-1, columns), chordwise.reshape(-1, columns)])


def wrench_density(velocity: Floats, vectors: Floats, arms: Floats) -> Floats:
    """Force and moment per unit of strength and density.

    Parameters
    ----------
    velocity : shape (s, 3, columns)
    vectors, arms : shape (s, 3); arms from the moment point

    Returns
    -------
    shape (s, 6, columns): V x l, then arm x (V x l)
    """
    force = np.cross(velocity, vectors[:, :, None], axis=1)
    moment = np.cross(arms[:, :, None], force, axis=1)
    return np.concatenate([force, moment], axis=1)


def wrench_table(strength: Floats, density: Floats) -> Floats:
    """Sum over segments of strength times wrench density.

    Parameters
    ----------
    strength : shape (s, a)
    density : shape (s, 6, b)

    Returns
    -------
    shape (a, b, 6)
    """
    flat = strength.T @ density.reshape(len(density), -1)
    return np.asarray(flat.reshape(strength.shape[1], 6, -1).transpose(0, 2, 1))
