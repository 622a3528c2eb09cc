"""Bound filaments that are bent where two patches meet.

A row of vortices stands for a strip of a vortex sheet, as wide as the row. Where the strip is
bent (a folded hinge, a swept or raised centreline), the filament of one patch passes the points
of the other at distances below the row's width, and the force on it would grow with the
logarithm of the number of strips, which a sheet's does not. Averaged over both strips' widths w,
the logarithm of a distance has the value it takes at the geometric mean distance of a line
segment from itself,

    delta = w e^(-3/2)                                                                 (10)

(Maxwell, Treatise, art. 691-693, from memory; Rosa, Bull. Bureau of Standards 4, 1908). So the
velocity that a row induces on the same row across the bend is taken at that distance out of
the plane of point and filament, which changes equation (2) to

    v = (r_a x r_b) (R_a + R_b) / (4 pi R_a R_b (R_a R_b + r_a . r_b + delta^2)),
    R^2 = r^2 + delta^2                                                                (11)

Only the force uses it; the boundary condition keeps the plain filaments. Nothing is tuned.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vlm.constants import Floats
from vlm.frames import cross
from vlm.lattice.lattice import Lattice
from vlm.lattice.patches import Patch
from vlm.lattice.spacing import chord_rows, row_extents

MEAN_DISTANCE = float(np.exp(-1.5))
FOUR_PI = 4.0 * np.pi
Place = Callable[[Patch, Floats], NDArray[np.complexfloating] | Floats]


@dataclass(frozen=True)
class Bend:
    """Two patches that share a chordwise edge: rows of ``source`` act on ``target``."""

    target: int
    source: int
    core: Floats


def bends_of(lattice: Lattice) -> list[Bend]:
    """All ordered pairs of patches whose edge nodes coincide row by row."""
    extents = row_extents(lattice.grid.rows, lattice.grid.chord_law)
    first = chord_rows(lattice.grid.rows, lattice.grid.chord_law)[0][0]
    return [
        Bend(edge.one, edge.two, MEAN_DISTANCE * edge.length / (1.0 - first) * extents)
        for edge in lattice.shared_edges
        if not edge.same_sheet
    ]


def bend_influence(target: Patch, source: Patch, core: Floats) -> Floats:
    """Change of the velocity at bound points from the same row of a patch across a bend.

    Returns
    -------
    shape (rows, strips of target, strips of source, 3), per unit of bound strength [1/m]
    """
    return np.asarray(
        _influence(target.bound_points(), source.nodes, core) * source.sense, dtype=float
    )


def _influence(points: Floats, nodes: Floats, core: Floats) -> Floats:
    arms = points[:, :, None, :] - nodes[:-1, None, :, :]
    start, end = arms[:, :, :-1], arms[:, :, 1:]
    turned = cross(start, end)
    dot = np.sum(start * end, axis=-1)
    first = np.sum(start * start, axis=-1)
    last = np.sum(end * end, axis=-1)
    soft = core[:, None, None] ** 2
    change = factor(first + soft, last + soft, dot + soft) - factor(first, last, dot)
    return np.asarray(change[..., None] * turned / FOUR_PI)


def factor(first: Floats, last: Floats, dot: Floats) -> Floats:
    """(|a| + |b|) / (|a| |b| (|a| |b| + a . b)) from squared lengths and the dot product."""
    a, b = np.sqrt(first), np.sqrt(last)
    return np.asarray((a + b) / (a * b * (a * b + dot)))


def bend_influence_rate(
    target: Patch, source: Patch, core: Floats, point_rates: Floats, node_rates: Floats
) -> Floats:
    """Derivative of :func:`bend_influence` when points and nodes move, by a complex step.

    The step is so small that it cancels nothing: the result is exact to rounding.
    """
    step = 1e-30
    moved = _influence(
        target.bound_points() + 1j * step * point_rates,
        source.nodes + 1j * step * node_rates,
        core,
    )
    return np.asarray(moved.imag / step * source.sense)


def bound_strengths(patch: Patch, circulation: Floats) -> Floats:
    """Strength of the bound segments, shape (rows, strips, columns) [m^2/s]."""
    ring = circulation.reshape(patch.rows, patch.strips, -1)
    bound = ring.copy()
    bound[1:] -= ring[:-1]
    return bound


def applied(influence: Floats, strength: Floats) -> Floats:
    """Velocities of an influence table, shape (rows * strips of target, 3, columns)."""
    rows, targets, sources, _ = influence.shape
    by_source = influence.transpose(0, 1, 3, 2).reshape(rows, 3 * targets, sources)
    return np.asarray((by_source @ strength).reshape(-1, 3, strength.shape[-1]))
