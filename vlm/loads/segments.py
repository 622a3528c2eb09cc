"""The vortex segments that lie on the surface, and the force on them.

Force on a segment of strength G along l in the local velocity V (Kutta and Joukowski):

    F = rho G V x l                                                                    (5)

It is bilinear in the unit flows: strength from one, velocity from the other. All tables here
are for unit density.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from vlm.constants import Floats
from vlm.lattice.lattice import Lattice
from vlm.lattice.patches import Patch
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


def surface_strengths(lattice: Lattice, circulation: Floats) -> list[Floats]:
    """Strength of each segment from the rings beside it, by patch.

    Where patches share an edge, each has a segment on it. Only their sum is a vortex, and the
    velocity there is singular: each patch gets an equal part of the sum.

    Parameters
    ----------
    circulation : shape (panels, columns) [m^2/s]

    Returns
    -------
    shape (s, columns) each, in the order of :class:`Segments`
    """
    chordwise = []
    for index, patch in enumerate(lattice.patches):
        ring = circulation[lattice.panels_of(index)].reshape(patch.rows, patch.strips, -1)
        table = np.zeros((patch.rows, patch.strips + 1, ring.shape[2]))
        table[:, 1:] += ring
        table[:, :-1] -= ring
        chordwise.append(patch.sense * table)
    whole = [table.copy() for table in chordwise]
    beside: dict[tuple[int, int], list[Floats]] = {}
    for edge in lattice.shared_edges:
        others = beside.setdefault((edge.one, edge.one_end), [])
        others.append(whole[edge.two][:, edge.two_end])
    for (index, end), others in beside.items():
        chordwise[index][:, end] = (whole[index][:, end] + sum(others)) / (1 + len(others))
    columns = circulation.shape[1]
    return [
        np.concatenate(
            [
                bound_strengths(patch, circulation[lattice.panels_of(i)]).reshape(-1, columns),
                patch.sense * chordwise[i].reshape(-1, columns),
            ]
        )
        for i, patch in enumerate(lattice.patches)
    ]


def crossed(velocity: Floats, vectors: Floats) -> Floats:
    """velocity x vectors, shape (s, 3, columns), for vectors of shape (s, 3)."""
    x, y, z = velocity[:, 0], velocity[:, 1], velocity[:, 2]
    a, b, c = vectors[:, 0, None], vectors[:, 1, None], vectors[:, 2, None]
    result = np.empty_like(velocity)
    np.subtract(y * c, z * b, out=result[:, 0])
    np.subtract(z * a, x * c, out=result[:, 1])
    np.subtract(x * b, y * a, out=result[:, 2])
    return result


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
    force = crossed(velocity, vectors)
    return np.concatenate([force, -crossed(force, arms)], axis=1)


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


@dataclass(frozen=True)
class Change:
    """How a patch's strengths, velocities and segments change with one parameter.

    Attributes
    ----------
    strength : shape (s, a), rate of the strengths
    velocity : shape (s, 3, b), rate of the whole velocity at the segments
    moved : shape (s, 3), rate of the segments' places, or None where the patch rests [m]
    turned : shape (s, 3), rate of the segments' vectors, or None [m]
    """

    strength: Floats
    velocity: Floats
    moved: Floats | None = None
    turned: Floats | None = None


def wrench_tables(
    strength: Floats,
    velocity: Floats,
    segments: Segments,
    arms: Floats,
    changes: Sequence[Change],
    basis: Floats,
) -> tuple[Floats, list[Floats]]:
    """A patch's wrench table and its rates with parameters: the product rule on equation (5).

    Parameters
    ----------
    strength : shape (s, a)
    velocity : shape (s, 3, a), onset included
    arms : shape (s, 3), from the moment point to the segments [m]
    changes : for flows of the basis
    basis : shape (a, flows), the flows of the rates

    Returns
    -------
    the table, shape (a, a, 6), and one rate for each change, shape (flows, flows, 6)
    """
    density = wrench_density(velocity, segments.vectors, arms)
    table = wrench_table(strength, density)
    if not changes:
        return table, []
    held, held_density = strength @ basis, density @ basis
    rates = []
    for change in changes:
        total = wrench_table(change.strength, held_density)
        shift = wrench_density(change.velocity, segments.vectors, arms)
        if change.moved is not None and change.turned is not None:
            shift += wrench_density(velocity @ basis, change.turned, arms)
            shift[:, 3:] -= crossed(held_density[:, :3], change.moved)
        rates.append(total + wrench_table(held, shift))
    return table, rates
