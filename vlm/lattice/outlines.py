"""Patches as a few flat triangles, and whether two of them touch.

An outline holds points of a patch's leading and trailing edge, shape (2, columns, 3) [m].
"""

import numpy as np

from vlm.constants import Floats
from vlm.lattice.contact import leading_points
from vlm.lattice.distances import point_triangle_distances, segments_cross
from vlm.lattice.patches import Patch

COLUMNS = 5


def outline(patch: Patch, first: float, most: int = COLUMNS) -> Floats:
    """Outline of a patch.

    Parameters
    ----------
    first : chord fraction of its first vortex row
    most : how many columns the outline may have
    """
    columns = np.unique(np.linspace(0, patch.strips, most).round().astype(int))
    return np.stack([leading_points(patch, columns, first), patch.nodes[-1, columns]])


def triangles(table: Floats) -> Floats:
    """Two triangles for each cell of an outline, shape (2 cells, 3 corners, 3) [m]."""
    a, b = table[0, :-1], table[0, 1:]
    c, d = table[1, :-1], table[1, 1:]
    return np.concatenate([np.stack([a, b, c], axis=1), np.stack([b, d, c], axis=1)])


def pulled_in(table: Floats, amount: float, *, outboard: bool) -> Floats:
    """An outline with its inboard edge, and if asked its outboard edge, moved inward [m]."""
    moved = table.copy()
    for edge, inner in ((0, 1), (-1, -2)):
        if edge == -1 and not outboard:
            continue
        step = table[:, inner] - table[:, edge]
        width = np.linalg.norm(step, axis=-1, keepdims=True)
        moved[:, edge] += step / np.maximum(width, 1e-30) * np.minimum(amount, 0.5 * width)
    return moved


def outlines_touch(one: Floats, two: Floats, tolerance: float) -> bool:
    """Whether two surfaces cross, or come closer than ``tolerance`` [m]."""
    if _boxes_apart(one, two) > tolerance:
        return False
    return outlines_cross(one, two) or outlines_apart(one, two) < tolerance


def outlines_apart(one: Floats, two: Floats) -> float:
    """Least distance of two surfaces that don't cross, from a grid of points of each [m]."""
    return min(_nearest(one, triangles(two)), _nearest(two, triangles(one)))


def outlines_cross(one: Floats, two: Floats) -> bool:
    """Whether two surfaces cross."""
    if _boxes_apart(one, two) > 0.0:
        return False
    first, second = triangles(one), triangles(two)
    return _edges_cross(first, second) or _edges_cross(second, first)


def _edges_cross(cells: Floats, faces: Floats) -> bool:
    ends = np.roll(cells, -1, axis=1)
    return segments_cross(cells.reshape(-1, 3), ends.reshape(-1, 3), faces)


def _boxes_apart(one: Floats, two: Floats) -> float:
    """Distance of the boxes around two outlines along an axis; negative if they overlap [m]."""
    low, high = one.min(axis=(0, 1)), one.max(axis=(0, 1))
    return float(np.maximum(low - two.max(axis=(0, 1)), two.min(axis=(0, 1)) - high).max())


def _nearest(table: Floats, faces: Floats) -> float:
    """Least distance from a grid of points of a surface to triangles [m]."""
    shares = np.linspace(0.0, 1.0, 5)[:, None, None]
    points = ((1.0 - shares) * table[0] + shares * table[1]).reshape(-1, 3)
    return float(point_triangle_distances(points, faces).min())
