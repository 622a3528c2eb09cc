"""Filaments seen from beside their row, against the law of Biot and Savart by quadrature.

The velocity of a filament at a distance delta out of the plane of point and filament, its part in
that plane's direction: 1 / 4 pi times the integral of dl x r / (r^2 + delta^2)^(3/2) (any textbook
of potential flow), by scipy's adaptive quadrature. delta = w e^(-3/2) is the geometric mean
distance of a line of length w from itself (E. B. Rosa, Bull. Bureau of Standards 4, 1908): the mean
of ln |x - y| over the square of side w is ln w - 3/2.
"""

from types import SimpleNamespace

import numpy as np
import pytest
from scipy.integrate import dblquad, quad

from vlm.constants import Floats
from vlm.loads.kinks import (
    MEAN_DISTANCE,
    applied,
    bend_influence,
    bend_influence_rate,
    bound_strengths,
    factor,
)
from vlm.loads.loose import loose_influence
from vlm.loads.segments import surface_segments

CORE = np.array([0.02, 0.05])


def by_quadrature(point: Floats, start: Floats, end: Floats, core: float) -> Floats:
    along = end - start

    def part(t: float, axis: int) -> float:
        away = point - start - t * along
        return float(np.cross(along, away)[axis] / (away @ away + core**2) ** 1.5)

    return np.array([quad(part, 0.0, 1.0, (axis,))[0] for axis in range(3)]) / (4.0 * np.pi)


def test_the_mean_distance_of_a_line_from_itself() -> None:
    mean = dblquad(lambda x, y: np.log(abs(x - y) + 1e-300), 0.0, 1.0, 0.0, lambda y: y)[0]
    assert np.log(MEAN_DISTANCE) == pytest.approx(2.0 * mean, abs=1e-6)


def test_the_factor_of_a_filament() -> None:
    """Vectors (3, 0, 4) and (0, 0, 2): lengths 5 and 2, product 8: 7 / (10 (10 + 8))."""
    assert factor(np.array(25.0), np.array(4.0), np.array(8.0)) == pytest.approx(7.0 / 180.0)


def nodes(first: Floats, across: Floats) -> Floats:
    """Two rows of two strips that taper, shape (3, 3, 3)."""
    rows = np.array([0.0, 0.1, 0.25])[:, None, None] * np.array([1.0, 0.1, -0.05])
    return first + rows + np.array([0.0, 0.2, 0.5])[None, :, None] * across


def source(sense: float) -> SimpleNamespace:
    made = nodes(np.array([0.0, 0.3, 0.1]), np.array([0.02, 0.8, 0.6]))
    return SimpleNamespace(nodes=made, sense=sense)


@pytest.mark.parametrize("sense", [1.0, -1.0])
def test_rows_across_a_bend_are_softened(sense: float) -> None:
    """Each point by the same row alone: the softened velocity less the plain one."""
    row = source(sense)
    points = np.random.default_rng(2).uniform(-0.2, 0.2, (2, 3, 3))
    target = SimpleNamespace(bound_points=lambda: points)
    found = bend_influence(target, row, CORE)  # type: ignore[arg-type]
    assert found.shape == (2, 3, 2, 3)
    for r, t, s in np.ndindex(2, 3, 2):
        ends = row.nodes[r, s], row.nodes[r, s + 1]
        soft = by_quadrature(points[r, t], *ends, CORE[r])
        plain = by_quadrature(points[r, t], *ends, 0.0)
        np.testing.assert_allclose(found[r, t, s], sense * (soft - plain), rtol=1e-7, atol=1e-9)


def test_its_rate_is_that_of_differences() -> None:
    row, random = source(-1.0), np.random.default_rng(4)
    points = random.uniform(-0.2, 0.2, (2, 3, 3))
    point_rates, node_rates = random.normal(size=(2, 3, 3)), random.normal(size=(3, 3, 3))

    def at(step: float) -> Floats:
        target = SimpleNamespace(bound_points=lambda: points + step * point_rates)
        moved = SimpleNamespace(nodes=row.nodes + step * node_rates, sense=-1.0)
        return bend_influence(target, moved, CORE)  # type: ignore[arg-type]

    target = SimpleNamespace(bound_points=lambda: points)
    found = bend_influence_rate(target, row, CORE, point_rates, node_rates)  # type: ignore[arg-type]
    np.testing.assert_allclose(found, (at(1e-5) - at(-1e-5)) / 2e-5, rtol=1e-5, atol=1e-6)


def test_strengths_of_bound_segments_and_what_they_induce() -> None:
    """A ring's front segment carries its own circulation less that of the ring before it."""
    patch = SimpleNamespace(rows=2, strips=2)
    circulation = np.array([[1.0, 10.0], [2.0, 20.0], [4.0, 40.0], [7.0, 70.0]])
    strength = bound_strengths(patch, circulation)  # type: ignore[arg-type]
    np.testing.assert_array_equal(strength[..., 0], [[1.0, 2.0], [3.0, 5.0]])
    np.testing.assert_array_equal(strength[..., 1], [[10.0, 20.0], [30.0, 50.0]])
    table = np.random.default_rng(1).normal(size=(2, 3, 2, 3))
    wanted = np.zeros((6, 3, 2))
    for r, t, s, c, q in np.ndindex(2, 3, 2, 3, 2):
        wanted[3 * r + t, c, q] += table[r, t, s, c] * strength[r, s, q]
    np.testing.assert_allclose(applied(table, strength), wanted, rtol=1e-13)


def test_every_row_of_a_loose_end_softens_all_segments() -> None:
    """The bound filaments of both rows on each bound and chordwise segment of a patch."""
    row = source(-1.0)
    made = nodes(np.array([0.02, -0.5, 0.0]), np.array([0.0, 0.7, 0.1]))
    bound, edges = 0.5 * (made[:-1, 1:] + made[:-1, :-1]), 0.5 * (made[1:] + made[:-1])
    target = SimpleNamespace(
        nodes=made, sense=1.0, bound_points=lambda: bound, chordwise_points=lambda: edges
    )
    found = loose_influence(target, row, CORE)  # type: ignore[arg-type]
    points = surface_segments(target).points  # type: ignore[arg-type]
    np.testing.assert_array_equal(
        points, np.concatenate([bound.reshape(-1, 3), edges.reshape(-1, 3)])
    )
    assert found.shape == (10, 2, 2, 3)
    for p, r, s in np.ndindex(10, 2, 2):
        ends = row.nodes[r, s], row.nodes[r, s + 1]
        soft = by_quadrature(points[p], *ends, CORE[r])
        plain = by_quadrature(points[p], *ends, 0.0)
        np.testing.assert_allclose(found[p, r, s], plain - soft, rtol=1e-6, atol=1e-8)
