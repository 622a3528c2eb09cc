"""Parts of a log's fit: intervals, misfits, scatter, what is stated; by hand.

No source but the rules stated in the modules; all numbers are invented.
"""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from craft_for_logs import log_format

from vlm.log.explaining import _chi_square, _correlation, _profile_interval
from vlm.log.fit import Profile
from vlm.log.held_down import Column, Problem, contrast, drift_columns, solved
from vlm.log.likelihood import Group, Scatter, precisions
from vlm.log.stated import climb_cost


def test_an_interval_lies_where_the_misfit_has_risen_by_the_limit():
    """A rise of 4 (x - 3)^2 reaches 9 at 1.5 and 4.5; where it is not reached the line holds."""
    values = np.array([1.0, 2.0, 2.5, 3.0, 3.5, 4.0, 5.0])
    profile = Profile(values, 4.0 * (values - 3.0) ** 2, 9.0)
    assert _profile_interval(profile, 3.0, (0.0, 9.0)) == pytest.approx((1.5, 4.5))
    short = Profile(values[1:], 4.0 * (values[1:] - 3.0) ** 2, 9.0)
    assert _profile_interval(short, 3.0, (0.0, 9.0)) == pytest.approx((0.0, 4.5))
    low = Profile(values[:-1], 4.0 * (values[:-1] - 3.0) ** 2, 9.0)
    assert _profile_interval(low, 3.0, (0.0, 9.0)) == pytest.approx((1.5, 9.0))
    one = Profile(values[3:4], np.zeros(1), 9.0)
    assert _profile_interval(one, 3.0, (0.0, 9.0)) == (0.0, 9.0)


def test_correlations_are_covariances_over_both_deviations():
    solution = SimpleNamespace(
        place=["a", "b", "c"].index,
        covariance=np.array([[4.0, 1.0, 3.0], [1.0, 9, 0], [3.0, 0, 16]]),
    )
    found = _correlation(solution, ["c", "a"])
    np.testing.assert_allclose(found, [[1.0, 0.375], [0.375, 1.0]])


def test_a_misfit_holds_readings_and_what_is_held_down():
    """Residuals 2 and -1 with variances 4 and 1, one of half weight; 0.6/0.3 and 0.5/1 held."""
    columns = (
        Column("free", "", np.ones(2)), Column("held", "", np.ones(2), 0.3),
        Column("member", "", np.ones(2), group="g"),
    )  # fmt: skip
    problem = Problem(np.zeros(2), np.ones(2), np.ones(2), columns, (Group("g", 1.0, 2.0),))
    solution = SimpleNamespace(
        scatter=SimpleNamespace(variance=lambda p: np.array([4.0, 1.0]), spread={"g": 1.0}),
        weight=np.array([1.0, 0.5]),
        theta=np.array([7.0, 0.6, 0.5]),
        residual=np.array([2.0, -1.0]),
    )
    assert _chi_square(problem, solution) == pytest.approx(1.0 + 0.5 + 4.0 + 0.25)


def test_scatter_by_power_and_length_with_a_known_part():
    """tau^2 s^(2g) (1 - r + r/l) + k^2, and the slopes of its logarithm by differences."""
    problem = Problem(np.zeros(3), np.array([0.5, 1.0, 2.0]), np.array([0.5, 1.0, 1.5]), (),
                      known=np.array([0.0, 1.0, 2.0]))  # fmt: skip
    scatter = Scatter(2.0, 0.75, 0.4, {})
    expected = 4.0 * np.array([0.5, 1.0, 2.0]) ** 1.5 * (0.6 + 0.4 / np.array([0.5, 1.0, 1.5]))
    np.testing.assert_allclose(scatter.variance(problem), expected + np.array([0.0, 1.0, 4.0]))
    step = 1e-6
    for row, (a, b) in enumerate(
        [
            (replace(scatter, tau=2.0 * np.exp(-step)), replace(scatter, tau=2.0 * np.exp(step))),
            (replace(scatter, growth=0.75 - step), replace(scatter, growth=0.75 + step)),
            (replace(scatter, fading=0.4 - step), replace(scatter, fading=0.4 + step)),
        ]
    ):
        slope = (np.log(b.variance(problem)) - np.log(a.variance(problem))) / (2.0 * step)
        np.testing.assert_allclose(scatter.growing(problem)[row], slope, atol=1e-8)


def test_what_holds_a_parameter_down():
    columns = (
        Column("free", "", np.ones(1)), Column("held", "", np.ones(1), 0.5),
        Column("member", "", np.ones(1), 99.0, "g"),
    )  # fmt: skip
    problem = Problem(np.zeros(1), np.ones(1), np.ones(1), columns)
    found = precisions(problem, Scatter(1.0, 0.0, 0.0, {"g": 0.1}))
    np.testing.assert_allclose(found, [0.0, 4.0, 100.0])


@pytest.mark.parametrize(
    ("span", "memory", "count"), [(90.0, 30.0, 10), (91.0, 30.0, 11), (0.0, 30.0, 2)]
)
def test_a_drift_stands_on_three_knots_a_memory(span, memory, count):
    time = np.linspace(5.0, 5.0 + span, 7)
    found = drift_columns(time, memory, "slow", np.full(7, 2.0))
    assert [c.name for c in found] == [f"slow {i + 1}" for i in range(count)]
    shapes = np.column_stack([c.effect for c in found]) / 2.0
    together = shapes @ shapes.T
    assert together[0, 0] == pytest.approx(1.0)
    if span == 90.0:
        np.testing.assert_allclose(together[0], np.exp(-(time - 5.0) / memory), atol=0.03)


def test_an_interval_joins_noise_and_what_is_stated():
    """Mean of four readings with a scatter that is given, beside a gain of a stated spread."""
    ones = np.ones(4)
    problem = Problem(
        np.array([9.0, 11.0, 10.0, 10.0]),
        ones,
        ones,
        (Column("mean", "", ones), Column("gain", "", 10.0 * ones, 0.02)),
    )
    found = solved(problem, Scatter(0.8, 0.0, 0.0, {}))
    row = contrast(found.names, {"mean": 1.0})
    assert found.value("mean") == pytest.approx(10.0)
    assert found.deviation(row) == pytest.approx(np.hypot(0.4, 0.2))
    assert found.parts(row) == pytest.approx({"scatter": 0.16, "stated": 0.04})
    assert found.stated_parts(row) == pytest.approx({"mean": 0.0, "gain": 0.04})
    assert found.freedom == pytest.approx(3.0)


def test_climb_costs_the_weight_over_the_efficiency():
    """Without a mass, what the best glide of 8 leaves: 8 x 200 W/12.5 m/s = 128 W s/m at most."""
    errors = SimpleNamespace(climb_efficiency=0.05)
    stated = climb_cost(log_format(climb_efficiency=0.6), 3.0, errors, (12.5, 200.0), 0.4)
    assert (stated.value_W_s_m, stated.spread_W_s_m) == pytest.approx((49.03325, 49.03325 / 12.0))
    model = climb_cost(log_format(climb_efficiency=None), 3.0, errors, (12.5, 200.0), 0.4)
    assert (model.value_W_s_m, model.spread_W_s_m) == pytest.approx((73.549875, 73.549875 / 8.0))
    usual = climb_cost(log_format(climb_efficiency=None), 3.0, errors, (12.5, 200.0))
    assert (usual.value_W_s_m, usual.spread_W_s_m) == pytest.approx((58.8399, 58.8399 * 0.3))
    none = climb_cost(log_format(climb_efficiency=None), None, errors, (12.5, 200.0), 0.4)
    assert (none.value_W_s_m, none.spread_W_s_m) == pytest.approx((64.0, 64.0))
    slow = climb_cost(log_format(), None, errors, (0.5, 200.0))
    assert slow.value_W_s_m == pytest.approx(800.0)
