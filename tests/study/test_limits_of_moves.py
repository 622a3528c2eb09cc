"""Limits of airspeed with their errors, plans read back, names of variables, steps of a goal.

No source but the rules stated in the modules; all numbers are invented.
"""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from vlm.errors import InputRefused
from vlm.flight.mechanism.drive_limits import AirspeedLimit, looked_at
from vlm.flight.trim.power_samples import INPUTS
from vlm.flight.trim.uncertain_keys import UncertainKey
from vlm.study.design import sensitivity as design_sensitivity
from vlm.study.hinge import moves as hinge_moves
from vlm.study.hinge.results import LimitSpeed
from vlm.study.sensitivity import Draws, UncertainInput
from vlm.study.sweep import naming, plan


def margin(speed, fold):
    """What is left of 20 m/s squared, less with the fold; nothing below 8 m/s."""
    return None if speed < 8.0 else 1.0 - (speed / 20.0) ** 2 - 0.001 * fold


def test_an_airspeed_limit_errs_by_the_moment_s_error_over_the_margin_s_slope():
    """At 20 m/s the margin falls by 0.1 a metre a second and errs by 3 %."""
    found = hinge_moves._limit(AirspeedLimit(20.0, 40.0, 0.0), margin, lambda v, f: 0.03)
    assert found.half_width_m_s == pytest.approx(0.3, rel=1e-3)
    assert (found.airspeed_m_s, found.searched_to_m_s, found.fold_deg) == (20.0, 40.0, 0.0)


@pytest.mark.parametrize(
    ("limit", "error"),
    [
        (AirspeedLimit(None, 40.0, None), 0.03),
        (AirspeedLimit(10.0, 40.0, 0.0, fails_already=True), 0.03),
        (AirspeedLimit(20.0, 40.0, 0.0), np.nan),
        (AirspeedLimit(8.0, 40.0, 0.0), 0.03),
    ],
)
def test_where_the_error_of_a_limit_is_not_known(limit, error):
    found = hinge_moves._limit(limit, margin, lambda v, f: error)
    assert found.half_width_m_s is None
    assert found.fails_already == limit.fails_already
    rising = hinge_moves._limit(
        AirspeedLimit(20.0, 40.0, 0.0), lambda v, f: v - 20.0, lambda v, f: 0.1
    )
    assert rising.half_width_m_s is None


@pytest.mark.parametrize(
    ("error", "ends"),
    [
        (0.0, None),
        (0.16, None),
        (0.18, (18.25, 18.25)),
        (0.6, (12.75, 18.25)),
        (np.nan, (10.0, 18.25)),
    ],
)
def test_airspeeds_at_which_a_margin_s_sign_is_left_open(error, ends):
    """Of thirteen from 10 to 43 m/s those up to the limit less its half-width at which
    1 - (V/20)^2 is less than its error."""
    asked = SimpleNamespace(air=SimpleNamespace(airspeed=10.0), folds_deg=(0.0,))
    made = LimitSpeed(20.0, 0.2, 43.0, 0.0, fails_already=False)
    tried = looked_at(10.0, 43.0)
    found = hinge_moves._not_known(made, margin, lambda v, f: error, asked, tried)
    assert found == (None if ends is None else pytest.approx(ends))


@pytest.mark.parametrize(
    ("errors", "ends"),
    [
        ({0.0: 0.0, 30.0: 0.0}, None),
        # The margin is larger at this fold, and so is its error.
        ({0.0: 0.9, 30.0: 0.0}, (10.0, 19.0)),
        ({0.0: 0.0, 30.0: 0.25}, (18.0, 19.0)),
    ],
)
def test_an_airspeed_is_open_where_the_margin_of_any_fold_is(errors, ends):
    asked = SimpleNamespace(air=SimpleNamespace(airspeed=10.0), folds_deg=(0.0, 30.0))
    made = LimitSpeed(None, None, 22.0, None, fails_already=False)
    found = hinge_moves._not_known(
        replace(made, searched_to_m_s=19.0), margin, lambda v, f: errors[f], asked,
        looked_at(10.0, 19.0),
    )  # fmt: skip
    assert found == (None if ends is None else pytest.approx(ends, abs=0.76))


def test_what_surely_fails_at_one_fold_is_not_open() -> None:
    asked = SimpleNamespace(air=SimpleNamespace(airspeed=25.0), folds_deg=(0.0, 30.0))
    made = LimitSpeed(25.0, None, 60.0, 30.0, fails_already=True)
    for errors, is_open in (({0.0: 9.0, 30.0: 0.1}, False), ({0.0: 9.0, 30.0: 9.0}, True)):
        tried = looked_at(25.0, 60.0)
        found = hinge_moves._not_known(made, margin, lambda v, f, e=errors: e[f], asked, tried)
        assert (found is not None) == is_open


# --- plans ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "values"),
    [
        ("0:10:3", (0.0, 5.0, 10.0)),
        ("10:0:3", (10.0, 5.0, 0.0)),
        ("3,1,2", (1.0, 2.0, 3.0)),
        ("7", (7.0,)),
        ("0:1:1", (0.0,)),
        ("-0.0", (0.0,)),
        ("0:0.3:4", (0.0, 0.1, 0.2, 0.3)),
    ],
)
def test_axes_as_they_are_written(text, values):
    assert plan.axis_values(text, "--x") == values


@pytest.mark.parametrize("text", ["0:1:0", "0:1", "1,1", "a", "nan", "1,inf", "0:1:1000000000", ""])
def test_axes_that_are_none(text):
    with pytest.raises(InputRefused):
        plan.axis_values(text, "--x")


@pytest.mark.parametrize(
    ("value", "allowed"),
    [(3, True), (1, True), (5, True), (0, False), (6, False), (True, False), (2.0, False)],
)
def test_counts_of_a_plan(value, allowed):
    if allowed:
        assert plan._count(value, 1, 5) == value
        return
    with pytest.raises(ValueError, match="1 to 5 are allowed"):
        plan._count(value, 1, 5)


@pytest.mark.parametrize("values", [[], "x", [True], ["1"], [float("nan")], None])
def test_lists_that_hold_no_numbers(values):
    with pytest.raises(ValueError, match="number"):
        plan._numbers(values)


@pytest.mark.parametrize(
    ("value", "allowed"), [(None, True), ("trim", True), (0.0, True), (5, True), (-0.1, False)]
)
def test_thrusts_of_a_plan(value, allowed):
    if allowed:
        assert plan._thrust(value) == value
        return
    with pytest.raises(ValueError, match="thrust"):
        plan._thrust(value)


# --- names ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "unit", "words"),
    [
        ("CL", "1", "lift"),
        ("fold_left", "deg", "fold"),
        ("CL_error", "1", "half-width of the lattice's error of: "),
        ("hinge_moment_upper_left_N_m", "N m", ", upper port hinge"),
        ("CL_lower", "1", "of the lower wing"),
        ("CDi_share_upper", "1", ", upper wing"),
        ("CY_fin_keel", "1", "of the fin keel on the area"),
        ("condition", "1", "condition number"),
        ("arrangement_gap_m", "m", "key of the geometry file"),
        ("x_deg", "deg", "key"),
        ("x_m2", "m^2", "key"),
        ("x_kg", "kg", "key"),
        ("x", "1", "key"),
        ("hinge_moment_coefficient_lower_right_spread", "1", "what the model leaves open in: "),
    ],
)
def test_variables_are_described(name, unit, words):
    found = naming.described(name)
    assert found["units"] == unit
    assert words in found["long_name"]


# --- steps of a goal -----------------------------------------------------------------------------


def test_a_goal_over_draws_by_steps_of_each_input():
    """A parabola of the mass and a line of a key: both come back from three values."""
    mass = INPUTS.index("mass")
    draws = Draws(
        (UncertainInput("mass_percent", "mass", 2.0, "%"), UncertainInput("a.b", "a.b", 0.1, "")),
        np.array([[1.0, 0.0], [-1.0, 2.0], [0.5, -1.0]]),
        np.ones((3, len(INPUTS))),
        (UncertainKey("a.b", 0.1),),
        np.zeros((3, 1)),
        90.0,
    )

    def goal(factors, shifts):
        x = (factors[mass] - 1.0) / 0.02
        return 50.0 + 3.0 * x + 2.0 * x**2 - 5.0 * shifts[0]

    found = design_sensitivity._by_steps(draws, 50.0, goal)
    a, b = draws.normal.T
    np.testing.assert_allclose(found.samples, 50.0 + 3.0 * a + 2.0 * a**2 - 5.0 * b)
    assert found.value == 50.0

    def refused(factors, shifts):
        if shifts[0] > 0.0:
            raise InputRefused("closed")
        return goal(factors, shifts)

    one_sided = design_sensitivity._by_steps(draws, 50.0, refused)
    np.testing.assert_allclose(one_sided.samples, found.samples)
