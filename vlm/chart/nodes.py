"""Chebyshev's points on an interval, and the polynomial through values there.

Points of the second kind with barycentric weights (Berrut and Trefethen, SIAM Review 46, 2004,
equations 4.2 and 5.4, from memory). For a function that is smooth on the interval the error falls
faster than any power of the number of points.
"""

import numpy as np

from vlm.constants import Floats

ON_POINT = 1e-12
"""Places nearer to a point than this share of the interval are on it."""


def chebyshev_points(low: float, high: float, count: int) -> Floats:
    """Points from one end of an interval to the other, both included, rising, shape (count,)."""
    even = np.sin(0.5 * np.pi * np.linspace(-1.0, 1.0, count))
    return np.asarray(0.5 * (low + high) + 0.5 * (high - low) * even)


def _signs(count: int) -> Floats:
    """Barycentric weights of so many points, but for a factor, shape (count,) [1]."""
    signs = np.where(np.arange(count) % 2, -1.0, 1.0)
    signs[[0, -1]] *= 0.5
    return signs


def point_weights(points: Floats, places: Floats) -> Floats:
    """What values at Chebyshev's points count at given places, shape (places, points) [1].

    Parameters
    ----------
    points : from :func:`chebyshev_points`
    places : within the interval, shape (places,)
    """
    apart = places[:, None] - points
    on = np.abs(apart) < ON_POINT * (points[-1] - points[0])
    parts = _signs(len(points)) / np.where(on, 1.0, apart)
    weights = parts / parts.sum(axis=1, keepdims=True)
    hit = on.any(axis=1)
    weights[hit] = on[hit]
    return np.asarray(weights)


def slope_weights(points: Floats, places: Floats) -> Floats:
    """What the same values count in the polynomial's slope there, (places, points).

    By the derivatives at the points (Berrut and Trefethen 2004, section 9.3, from memory).

    Parameters
    ----------
    points, places : as of :func:`point_weights`; the slope is per their unit
    """
    signs = _signs(len(points))
    apart = points[:, None] - points + np.eye(len(points))
    table = signs / signs[:, None] / apart
    np.fill_diagonal(table, 0.0)
    np.fill_diagonal(table, -table.sum(axis=1))
    return np.asarray(point_weights(points, places) @ table)


def linear_weights(points: Floats, places: Floats) -> Floats:
    """The same for straight lines between neighbours, which keep signs, (places, points) [1]."""
    after = np.clip(np.searchsorted(points, places), 1, len(points) - 1)
    share = (places - points[after - 1]) / (points[after] - points[after - 1])
    weights = np.zeros((len(places), len(points)))
    rows = np.arange(len(places))
    weights[rows, after - 1] = 1.0 - share
    weights[rows, after] += share
    return weights
