"""Distances and crossings of points, segments and triangles in space."""

import numpy as np

from vlm.constants import Floats
from vlm.frames import cross

PARALLEL = 1e-9


def point_triangle_distances(points: Floats, faces: Floats) -> Floats:
    """Distance from points to triangles.

    Parameters
    ----------
    points : shape (m, 3) [m]
    faces : shape (n, 3 corners, 3) [m]

    Returns
    -------
    shape (m, n) [m]
    """
    a, b, c = (faces[None, :, k] for k in range(3))
    p = points[:, None, :]
    normal = cross(b - a, c - a)
    area = np.sum(normal * normal, axis=-1)
    safe = np.where(area > 0.0, area, 1.0)
    u = np.sum(cross(b - p, c - p) * normal, axis=-1) / safe
    v = np.sum(cross(c - p, a - p) * normal, axis=-1) / safe
    inside = (u >= 0.0) & (v >= 0.0) & (u + v <= 1.0) & (area > 0.0)
    height = np.abs(np.sum((p - a) * normal, axis=-1)) / np.sqrt(safe)
    sides = [_point_segment(p, a, b), _point_segment(p, b, c), _point_segment(p, c, a)]
    return np.asarray(np.where(inside, height, np.minimum.reduce(sides)))


def box_gaps(one: Floats, other: Floats) -> Floats:
    """Gap along each axis between the boxes around two sets of points, negative where they overlap.

    Parameters
    ----------
    one, other : shape (..., axes) [m]

    Returns
    -------
    shape (axes,) [m]
    """
    axes = one.shape[-1]
    one, other = one.reshape(-1, axes), other.reshape(-1, axes)
    ways = one.min(axis=0) - other.max(axis=0), other.min(axis=0) - one.max(axis=0)
    return np.asarray(np.maximum(*ways))


def _point_segment(p: Floats, a: Floats, b: Floats) -> Floats:
    step = b - a
    length = np.sum(step * step, axis=-1)
    t = np.clip(np.sum((p - a) * step, axis=-1) / np.where(length > 0.0, length, 1.0), 0.0, 1.0)
    return np.asarray(np.linalg.norm(p - a - t[..., None] * step, axis=-1))


def segments_cross(starts: Floats, ends: Floats, faces: Floats) -> bool:
    """Whether any segment passes through any triangle (T. Moeller and B. Trumbore, 1997).

    A segment in the plane of a triangle does not count as passing through it.

    Parameters
    ----------
    starts, ends : shape (m, 3) [m]
    faces : shape (n, 3 corners, 3) [m]
    """
    step = (ends - starts)[:, None, :]
    one, two = faces[None, :, 1] - faces[None, :, 0], faces[None, :, 2] - faces[None, :, 0]
    across = cross(step, two)
    determinant = np.sum(one * across, axis=-1)
    scale = np.linalg.norm(step, axis=-1) * np.linalg.norm(one, axis=-1)
    usable = np.abs(determinant) > PARALLEL * scale * np.linalg.norm(two, axis=-1)
    safe = np.where(usable, determinant, 1.0)
    arm = starts[:, None, :] - faces[None, :, 0]
    u = np.sum(arm * across, axis=-1) / safe
    turned = cross(arm, one)
    v = np.sum(step * turned, axis=-1) / safe
    t = np.sum(two * turned, axis=-1) / safe
    inside = (u >= 0.0) & (v >= 0.0) & (u + v <= 1.0) & (t >= 0.0) & (t <= 1.0)
    return bool(np.any(usable & inside))
