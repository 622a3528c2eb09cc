"""Places of zeros, limits of refinement, half-widths and crossings, by hand.

No source but the rules stated in the modules; all numbers are invented.
"""

import numpy as np
import pytest

from vlm.flight.craft.crossing import brackets_zero, sign_changes, zero_between, zeros_of
from vlm.lattice.cellule import Grid
from vlm.study.convergence.extrapolation import Fall, Limit, fall_of, limit_of
from vlm.study.point import errors
from vlm.study.power import crossings as power_crossings


@pytest.mark.parametrize(
    ("values", "changes"),
    [
        ([1, 2, -1, -2, 3], [(1, 2), (3, 4)]), ([1, 0, 0, -1], [(0, 3)]), ([1, 0, 2], []),
        ([0, 1, -1], [(1, 2)]), ([1, np.nan, -1], []), ([-1, 0], []), ([], []),
    ],
)  # fmt: skip
def test_signs_change_between_values_that_are_not_zero(values, changes):
    assert sign_changes(values) == changes


def test_a_zero_lies_on_the_straight_line_or_in_the_middle_of_zeros():
    at = np.array([1.0, 2.0, 4.0, 7.0, 9.0])
    assert zero_between(at, np.array([1.0, -3.0, 0, 0, 0]), (0, 1)) == pytest.approx(1.25)
    assert zero_between(at, np.array([1.0, 0.0, 0.0, 0.0, -1.0]), (0, 4)) == pytest.approx(4.5)
    assert zeros_of(at, [1.0, -3.0, -1.0, 2.0, 3.0]) == pytest.approx([1.25, 5.0])


@pytest.mark.parametrize(
    ("first", "second", "held"),
    [(1, -1, True), (-1, 1, True), (0, 1, True), (-1, 0, True), (1, 2, False), (-1, -2, False),
     (np.nan, -1, False), (1, np.nan, False)],
)  # fmt: skip
def test_two_values_hold_a_zero_between_them(first, second, held):
    assert brackets_zero(first, second) == held


def test_a_fall_of_the_second_order():
    """2 + 9/n^2 on 3, 6, 12: the error at 12 is 1/16, that at 24 a quarter of it."""
    fall = fall_of([3, 6, 12], [2.0 + 9.0 / n**2 for n in (3, 6, 12)])
    assert (fall.order, fall.error, fall.half_width) == pytest.approx((2.0, 1 / 16, 1 / 16))
    assert fall.size_at(24) == pytest.approx(1 / 64)
    assert fall.size_at(6) == pytest.approx(1 / 4)


def test_without_an_order_the_larger_step_is_the_error():
    """Steps of 2 and -1 on 4, 6, 12: the first counts half; 1.5 of the larger."""
    fall = fall_of([4, 6, 12], [0.0, 2.0, 1.0])
    assert np.isnan(fall.order)
    assert (fall.error, fall.half_width) == (0.0, 1.5)
    assert fall_of([4, 6, 12], [0.0, 4.0, 3.0]).half_width == pytest.approx(3.0)
    assert fall.size_at(24) == pytest.approx(0.5)


def test_a_limit_joins_rows_and_strips():
    values = np.array([[1.0, 2.0], [3.0, 10.0]])
    whole = Limit(values, Fall(8, 2.0, 0.4, 0.1), Fall(20, 1.0, -0.6, 0.2))
    assert whole.extrapolated == pytest.approx(10.2)
    assert whole.half_width == pytest.approx(0.3)
    assert whole.error_at(4, 40) == pytest.approx(1.6 + 0.3 + 0.3)


def test_half_widths_are_those_of_equation_12():
    """8 x 20 against 6 x 15: r = 4/3, r^2 - 1 = 7/9; twice the change over it, and the floor."""
    grid = Grid(8, 20)
    assert errors.coarser(grid) == Grid(6, 15)
    found = errors.half_width(5.0, 4.9, 2.0, grid)
    assert found == pytest.approx(2.0 * 0.1 * 9.0 / 7.0 + 0.005 * 2.0)
    widths = errors.half_widths(
        {"CL": 0.5, "CL_alpha": 4.0, "Cm_alpha": -1.0},
        {"CL": 0.49, "CL_alpha": 4.1, "Cm_alpha": -0.9},
        {"CL": 0.01, "CL_alpha": 0.02, "Cm_alpha": 0.03}, grid, chord=0.3,
    )  # fmt: skip
    expected = {"CL": 2.0 * 0.01, "CL_alpha": 2.0 * 0.1, "Cm_alpha": 3.0 * 0.1}
    floors = {"CL": 0.01, "CL_alpha": 0.02, "Cm_alpha": 0.03}
    for name, change in expected.items():
        assert widths[name] == pytest.approx(change * 9.0 / 7.0 + floors[name])
    margin = (widths["Cm_alpha"] + 0.25 * widths["CL_alpha"]) / 4.0
    assert widths["static_margin"] == pytest.approx(margin)
    assert widths["neutral_point_m"] == pytest.approx(0.3 * margin)


@pytest.mark.parametrize(
    ("grid", "other", "larger"),
    [(Grid(2, 8), Grid(1, 6), 10.0), (Grid(4, 10), Grid(3, 8), 4.0), (Grid(1, 8), None, 20.0),
     (Grid(2, 7), None, 160.0 / 14.0), (Grid(3, 8), Grid(2, 6), 160.0 / 24.0)],
)  # fmt: skip
def test_the_coarser_lattice(grid, other, larger):
    assert errors.coarser(grid) == (other or grid)
    assert errors.refinement(grid) == pytest.approx(larger)
    assert np.isnan(errors.half_width(1.0, 1.0, 1.0, grid)) == (other is None)


@pytest.mark.parametrize(
    ("name", "like"),
    [
        ("CL", "CL"),
        ("CL_upper", "CL"),
        ("hinge_moment_coefficient_upper_left", "hinge_moment"),
        ("CDi_share_lower", "CDi_share"),
        ("CL_fold_left", "CL_fold"),
        ("Cn_r_stability", "Cn_r_stability"),
        ("CL_alpha", "CL_alpha"),
    ],
)
def test_a_quantity_s_allowance_is_that_of_the_longest_name_known(name, like):
    assert errors.allowance_of(name) is (errors.ESTIMATED | errors.FURTHER)[like]
    assert errors.allowance_of("unheard_of") is errors.OTHERS


def test_what_is_allowed_beside_grows_with_the_bend():
    one = errors.Allowance(2.0, 0.01, 0.3)
    assert [one.share(b) for b in (0.2, 1.0, np.inf)] == pytest.approx([0.002, 0.01, 0.3])


@pytest.mark.parametrize(
    ("allowed", "stretches"),
    [
        ("111111", [(0, 5)]),
        ("011010", [(1, 2)]),
        ("110011", [(0, 1), (4, 5)]),
        ("010100", []),
        ("000000", []),
    ],
)
def test_stretches_of_two_airspeeds_that_both_can_fly(allowed, stretches):
    assert power_crossings._stretches(np.array([c == "1" for c in allowed])) == stretches


def crossed(samples, open_=False):
    samples = None if samples is None else np.array(samples, dtype=float)
    return power_crossings.Crossing("a", "b", 12.0, False, 0.1, samples, (10.0, 14.0), open_, "b")


def test_an_interval_of_a_crossing_lies_where_both_fly():
    draws = np.linspace(9.0, 15.0, 61)
    assert crossed(draws).interval(90.0) == pytest.approx((10.0, 14.0))
    assert crossed(draws).interval(50.0) == pytest.approx((10.5, 13.5))
    assert crossed(None).interval(90.0) is None
    assert crossed(draws, open_=True).interval(90.0) is None
    half = np.r_[np.full(61, np.nan), draws]
    assert crossed(half).interval(50.0) == pytest.approx((10.5, 13.5))
    assert crossed(np.r_[half, np.nan]).interval(50.0) is None


def test_a_limit_s_falls_are_those_along_the_finest_rows_and_strips():
    """Errors of 0.3/rows^2 and 0.5/strips, and one of both: along the finest of the other."""
    rows, strips = (2, 4, 8), (4, 8, 16)
    n, m = np.array(rows)[:, None], np.array(strips)
    values = 1.0 + 0.3 / n**2 + 0.5 / m + 0.2 / (n * m)
    found = limit_of(rows, strips, values)
    assert found.rows == fall_of(rows, [float(v) for v in values[:, 2]])
    assert found.strips == fall_of(strips, [float(v) for v in values[2]])
    plain = limit_of(rows, strips, values - 0.2 / (n * m))
    assert plain.extrapolated == pytest.approx(1.0)
    assert (plain.rows.error, plain.strips.error) == pytest.approx((0.3 / 64, 0.5 / 16))
