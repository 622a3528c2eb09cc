"""Formulas of trims and roll commands that stand by themselves, by hand.

Sources beside each check; all numbers are invented.
"""

from types import SimpleNamespace

import numpy as np
import pytest

from vlm.description.folds import FoldAngles
from vlm.description.uncertainty import Uncertainty
from vlm.flight.motion import roll_command
from vlm.flight.trim import trim_measures
from vlm.flight.trim.power_samples import INPUTS, input_samples
from vlm.flight.trim.trim_measures import TrimMeasures, limit_margins, limits_in_words, pitch_room
from vlm.flight.trim.uncertain_keys import (
    STEP,
    Response,
    UncertainKey,
    key_samples,
    moved,
    response,
)


def test_parabolas_through_three_values_give_moments_of_a_normal_distribution():
    """At steps of sqrt(3): 5 + 2 x + 3 x^2 comes back (M. Abramowitz and I. Stegun, 25.4.46)."""
    centre = np.array([5.0, 1.0])
    up = np.array([[5.0 + 2.0 * STEP + 3.0 * STEP**2, 1.0]])
    down = np.array([[5.0 - 2.0 * STEP + 3.0 * STEP**2, 1.0]])
    made = response(centre, up, down)
    np.testing.assert_allclose(made.slope, [[2.0, 0.0]], atol=1e-12)
    np.testing.assert_allclose(made.bend, [[6.0, 0.0]], atol=1e-12)
    np.testing.assert_allclose(made.at(np.array([[2.0]])), [[16.0, 0.0]], atol=1e-12)
    assert pytest.approx(3.0**0.5) == STEP


@pytest.mark.parametrize(("lost", "slope"), [("up", 1.0), ("down", 4.0), ("both", np.nan)])
def test_one_side_alone_gives_a_straight_line(lost, slope):
    up, down = np.array([[4.0 * STEP]]), np.array([[-1.0 * STEP]])
    up = up if lost == "down" else up * np.nan
    down = down if lost == "up" else down * np.nan
    made = response(np.zeros(1), up, down)
    assert made.slope[0, 0] == pytest.approx(slope, nan_ok=True)
    assert made.bend[0, 0] == 0.0


def test_changes_by_several_keys_add_up():
    made = Response(np.array([[1.0, 0.0], [0.0, 2.0]]), np.array([[4.0, 0.0], [0.0, 6.0]]))
    np.testing.assert_allclose(
        made.at(np.array([[1.0, 2.0], [0.5, 0.0]])), [[3.0, 16.0], [1.0, 0.0]]
    )


def test_keys_are_moved_by_their_deviations():
    from vlm.description.loading import load_biplane

    craft = load_biplane("tideline")
    keys = [UncertainKey("arrangement.gap_m", 0.01), UncertainKey("upper.span_m", 0.02)]
    found = moved(craft, keys, (2.0, -1.0))
    assert found.arrangement.gap_m == pytest.approx(craft.arrangement.gap_m + 0.02)
    assert found.upper.span_m == pytest.approx(craft.upper.span_m - 0.02)
    assert moved(craft, keys, (0.0, 0.0)) is craft


def test_samples_are_normal_and_cut_at_three_deviations():
    """Mean 0 and deviation 0.9866 of a normal distribution cut at three (closed form)."""
    stated = Uncertainty(samples=20_000, seed=3, mass_percent=2.0, keys={"a": 1.0, "b": 2.0})
    draws = key_samples(stated)
    assert draws.shape == (20_000, 2)
    assert np.abs(draws).max() <= 3.0
    assert np.abs(draws).max() > 2.9
    np.testing.assert_allclose(draws.mean(axis=0), 0.0, atol=0.03)
    np.testing.assert_allclose(draws.std(axis=0), 0.9866, atol=0.02)
    assert abs(np.corrcoef(draws.T)[0, 1]) < 0.03
    factors = input_samples(stated)
    place = INPUTS.index("mass")
    assert factors.shape == (20_000, len(INPUTS))
    assert factors[:, place].std() == pytest.approx(0.02 * 0.9866, rel=0.03)
    assert factors[:, place].mean() == pytest.approx(1.0, abs=1e-3)
    np.testing.assert_array_equal(key_samples(stated), draws)


# --- margins of a trim ----------------------------------------------------------------------------


def craft_of(**keys):
    rotor = {"name": "a", "thrust_max_N": 10.0, "thrust_min_N": 1.0, "power_max_W": 80.0}
    other = {"name": "b", "thrust_max_N": None, "thrust_min_N": 0.5, "power_max_W": None}
    drive = {"braking": keys.get("braking", "spent"), "power_max_W": keys.get("limit")}
    return SimpleNamespace(
        rotors=(SimpleNamespace(**rotor), SimpleNamespace(**other)), idle_power=0.5,
        propulsion=SimpleNamespace(**drive),
    )  # fmt: skip


def test_distances_to_limits_over_the_limits():
    found = limit_margins(
        craft_of(limit=200.0), np.array([4.0, 2.0]), np.array([60.0, 30.0]), 150.0
    )
    assert found == pytest.approx(
        {
            "highest thrust of rotor a": 0.6,
            "lowest thrust of rotor a": 0.3,
            "power of rotor a": 0.25,
            "lowest thrust of rotor b": 0.5,
            "electrical power": 0.25,
        }
    )


def test_a_rotor_that_may_not_be_driven_has_a_margin():
    found = limit_margins(
        craft_of(braking="not allowed"), np.array([4.0, 2.0]), np.array([60.0, -0.1]), 1.0
    )
    share = trim_measures.IDLE_SHARE
    assert found["driven by the air of rotor b"] == pytest.approx(-0.1 * share / 0.5)
    assert "electrical power" not in found


def test_the_limit_that_is_passed_by_most():
    made = TrimMeasures({}, {"a": 0.2, "b": -0.1, "c": -0.3})
    assert (made.limit, made.least_margin) == ("c", -0.3)
    assert TrimMeasures({}, {"a": 0.0}).limit == ""
    assert (TrimMeasures({}, {}).limit, TrimMeasures({}, {}).least_margin) == ("", np.inf)
    passed = {
        "power of rotor a": -0.1,
        "highest thrust of rotor b": -0.2,
        "power of rotor b": -0.05,
        "electrical power": -0.3,
        "lowest thrust of rotor a": 0.1,
    }
    assert limits_in_words(passed) == "electrical power; highest thrust (b); power (a, b)"


@pytest.mark.parametrize(("arm", "rooms"), [(0.2, (0.4, 0.6)), (-0.2, (0.4, 0.6))])
def test_pitching_moment_that_rotors_have_left(arm, rooms):
    """Two rotors ``arm`` above and below: +-dT turns by 2 arm dT, until one is at a limit."""
    axes = np.array([[-1.0, 0.0, 0.0]] * 2)
    problem = SimpleNamespace(
        craft=SimpleNamespace(
            positions=np.array([[0.0, 0.0, arm], [0.0, 0.0, -arm]]), axes=axes,
            masses=SimpleNamespace(centre=np.zeros(3)),
            rotors=[SimpleNamespace(thrust_min_N=1.0, thrust_max_N=5.5)] * 2,
        ),
        patterns=SimpleNamespace(names=("all", "pitch"), table=np.array([[1.0, 1.0], [1.0, -1.0]])),
    )  # fmt: skip
    up, down = pitch_room(problem, SimpleNamespace(thrusts=np.array([4.0, 3.0])))
    # The upper one, pulling ahead, lowers the nose: 5.5 - 4 N more and 3 - 1 N less to give.
    upper = 2.0 * abs(arm) * min(5.5 - 4.0, 3.0 - 1.0)
    lower = 2.0 * abs(arm) * min(5.5 - 3.0, 4.0 - 1.0)
    expected = (upper, lower) if arm > 0.0 else (lower, upper)
    assert (up, down) == pytest.approx(expected)
    assert rooms[0] < rooms[1]
    problem.patterns.names = ("all",)
    assert pitch_room(problem, None) == (0.0, 0.0)


# --- commands of roll ----------------------------------------------------------------------------


def test_folds_of_a_command():
    assert roll_command.commanded(5.0, "both tips apart", 10.0) == FoldAngles(15.0, -5.0)
    assert roll_command.commanded(5.0, "port tip alone", 10.0) == FoldAngles(15.0, 5.0)
    assert roll_command.commanded(5.0, "starboard tip alone", -10.0) == FoldAngles(5.0, -5.0)
    assert roll_command.commanded(5.0, "port tip alone", 175.0) is None


def curve(moment, commands=(-30.0, -20.0, -10.0, 0.0, 10.0, 20.0, 30.0)):
    return roll_command._curve(
        lambda folds: moment(folds.left_deg), 0.0, "port tip alone", np.array(commands)
    )


def test_a_cubic_command_has_its_slope_range_and_turns():
    """x - x^3/1200: slope 1 at zero less 1/1200 for the step of a degree, turns at +-20, reverses
    at +-34.6; at 10 degrees it is 8.3 % off its tangent, at 20 a third."""
    found = curve(
        lambda x: x - x**3 / 1200.0, (-40.0, -30.0, -20.0, -10.0, 0.0, 10.0, 20.0, 30.0, 40.0)
    )
    assert found.slope_N_m_deg == pytest.approx(1.0 - 1.0 / 1200.0)
    assert found.linear_to_deg == (-10.0, 10.0)
    assert found.turns_at_deg == pytest.approx((-20.0, 20.0), abs=3.0)
    assert found.reverses_at_deg == pytest.approx((-34.0, 34.0), abs=1.0)


@pytest.mark.parametrize("side", [-1.0, 1.0])
def test_at_a_limit_one_side_gives_the_slope(side):
    found = curve(lambda x: 0.4 * x if x * side >= 0.0 else np.nan)
    assert found.slope_N_m_deg == pytest.approx(0.4)
    assert found.linear_to_deg == ((-30.0, 0.0) if side < 0.0 else (0.0, 30.0))
    assert np.isnan(curve(lambda x: np.nan).slope_N_m_deg)


def test_turns_lie_at_the_vertex_and_in_the_middle_of_a_level_stretch():
    commands = np.array([0.0, 10.0, 20.0, 30.0, 40.0])
    assert roll_command.turning_points(commands, 5.0 - 0.01 * (commands - 17.0) ** 2) == (
        pytest.approx(17.0),
    )
    assert roll_command.turning_points(commands, np.array([0.0, 1.0, 1.0, 0.0, -1.0])) == (15.0,)
    assert roll_command.turning_points(commands, commands) == ()


def test_a_sign_that_changes_within_a_degree_of_zero_is_no_reversal():
    commands = np.array([-2.0, 0.9, 3.0, 5.0])
    assert roll_command.reversals(commands, np.array([-1.0, -0.01, 1.0, -1.0])) == (4.0,)
