"""Polynomials through Chebyshev's points, against numpy's own and against known functions."""

import numpy as np
import pytest
from numpy.polynomial import Polynomial

from vlm.chart.nodes import chebyshev_points, linear_weights, point_weights, slope_weights


@pytest.mark.parametrize("count", [2, 5, 12])
def test_polynomials_of_lower_degree_are_reproduced(count: int) -> None:
    points = chebyshev_points(-80.0, 50.0, count)
    polynomial = Polynomial(np.random.default_rng(count).normal(size=count), [-80.0, 50.0])
    places = np.linspace(-80.0, 50.0, 37)
    found = point_weights(points, places) @ polynomial(points)
    np.testing.assert_allclose(found, polynomial(places), atol=1e-11)


@pytest.mark.parametrize("count", [2, 5, 12])
def test_slopes_are_those_of_numpys_polynomials(count: int) -> None:
    points = chebyshev_points(-80.0, 50.0, count)
    polynomial = Polynomial(np.random.default_rng(count).normal(size=count), [-80.0, 50.0])
    places = np.concatenate([np.linspace(-80.0, 50.0, 37), points])
    found = slope_weights(points, places) @ polynomial(points)
    np.testing.assert_allclose(found, polynomial.deriv()(places), atol=1e-10)


def test_a_place_on_a_point_takes_its_value_alone() -> None:
    points = chebyshev_points(0.0, 1.0, 6)
    np.testing.assert_array_equal(point_weights(points, points), np.eye(6))


def test_the_error_of_a_smooth_function_falls_faster_than_powers() -> None:
    """1 / (1 + 25 x^2), Runge's example (1901): by a fixed factor for each further point."""
    places = np.linspace(-1.0, 1.0, 501)

    def error(count: int) -> float:
        points = chebyshev_points(-1.0, 1.0, count)
        found = point_weights(points, places) @ (1.0 / (1.0 + 25.0 * points**2))
        return float(np.abs(found - 1.0 / (1.0 + 25.0 * places**2)).max())

    factors = [error(n) / error(n + 10) for n in (21, 31, 41)]
    # The poles at +- i/5 give a factor of (1/5 + sqrt(1 + 1/25))^10 for ten points (Bernstein).
    assert factors == pytest.approx([(0.2 + np.sqrt(1.04)) ** 10] * 3, rel=0.15)


def test_straight_lines_keep_signs_and_meet_numpys() -> None:
    points, values = np.array([-3.0, 0.0, 1.0, 7.0]), np.array([1.0, 0.0, 2.0, 0.5])
    places = np.linspace(-3.0, 7.0, 23)
    found = linear_weights(points, places)
    np.testing.assert_allclose(found @ values, np.interp(places, points, values), atol=1e-14)
    assert found.min() >= 0.0


def test_straight_lines_go_on_where_rounding_puts_a_place_beyond_the_ends() -> None:
    points, values = np.array([-3.0, 0.0, 7.0]), np.array([1.0, 4.0, 0.5])
    found = linear_weights(points, np.array([-3.0 - 1e-9, 7.0 + 1e-9])) @ values
    np.testing.assert_allclose(found, [1.0 - 1e-9, 0.5 - 0.5e-9], rtol=0.0, atol=1e-14)
