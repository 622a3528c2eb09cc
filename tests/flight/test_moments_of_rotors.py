"""What rotors can turn a craft with, total thrust held, on layouts that are worked out by hand.

No source but equations (1) and (2) of ``vlm/flight/trim/rotor_moments.py``; all numbers are
invented.
"""

from types import SimpleNamespace

import numpy as np
import pytest
from scipy.interpolate import CubicSpline

from vlm.description.power import Rotor
from vlm.flight.trim.rotor_moments import MomentReach, ThrustRange, _last_usable, _passes, _Problem


def rotor(name, y, z=0.0, spin="right"):
    return Rotor(
        name=name, position_m=(0.0, y, z), axis=(-1.0, 0.0, 0.0), spin=spin, radius_m=0.1,
        form="blades", solidity=0.1, pitch_m=0.1,
    )  # fmt: skip


def ranges(low=1.0, high=8.0, high_by="thrust", low_by="thrust", torque=0.02):
    thrusts = np.linspace(0.0, 20.0, 21)
    return ThrustRange(low, high, low_by, high_by, CubicSpline(thrusts, torque * thrusts), True)


def problem(rotors, limits, trim, centre=(0.0, 0.0, 0.0)):
    return _Problem(rotors, limits, np.array(trim, dtype=float), np.array(centre))


PAIR = (rotor("port", -0.5), rotor("starboard", 0.5))


def test_moments_are_thrusts_at_their_places_and_torques_against_the_spin():
    """Body axes: N = -y T, M = z_geometry T about the centre, L = -s Q."""
    made = problem(
        (rotor("a", -0.5, 0.3), rotor("b", 0.4, 0.0, "left")),
        [ranges()] * 2,
        (5.0, 2.0),
        (0.0, 0.0, 0.1),
    )
    found = made.moments(np.array([5.0, 2.0]))
    pitch = -0.2 * 5.0 + 0.1 * 2.0
    np.testing.assert_allclose(found, [-0.02 * 5.0 + 0.02 * 2.0, pitch, 0.5 * 5.0 - 0.4 * 2.0])
    for i in range(2):
        step = 1e-5 * np.eye(2)[i]
        slope = (made.moments(made.trim + step) - made.moments(made.trim - step)) / 2e-5
        np.testing.assert_allclose(made.slopes(made.trim)[:, i], slope, atol=1e-9)


@pytest.mark.parametrize(
    ("low", "shift", "stopped"),
    [(1.0, 3.0, ("highest thrust of rotor port", "highest thrust of rotor starboard")),
     (3.5, 1.5, ("lowest thrust of rotor starboard", "lowest thrust of rotor port"))],
)  # fmt: skip
def test_two_rotors_yaw_by_what_one_gives_the_other(low, shift, stopped):
    """2 x 0.5 m x 3 N, until one is at 8 N or the other at its least; torques in roll cancel."""
    reach = problem(PAIR, [ranges(low)] * 2, (5.0, 5.0)).reach(2)
    assert (reach.axis, reach.alone) == ("yaw", True)
    assert (reach.highest, reach.lowest) == pytest.approx((shift, -shift), rel=1e-5)
    assert reach.either_way == pytest.approx(shift, rel=1e-5)
    np.testing.assert_allclose(
        reach.thrusts, [[5 + shift, 5 - shift], [5 - shift, 5 + shift]], rtol=1e-5
    )
    assert reach.stopped_by == stopped
    np.testing.assert_allclose(reach.others[:, :2], 0.0, atol=1e-6)


def test_what_can_be_had_both_ways_is_the_less():
    """From 6 and 4 N: 2 N more to port, 4 more to starboard."""
    reach = problem(PAIR, [ranges()] * 2, (6.0, 4.0)).reach(2)
    assert (reach.highest, reach.lowest) == pytest.approx((2.0, -4.0), rel=1e-5)
    assert reach.either_way == pytest.approx(2.0, rel=1e-5)
    one = MomentReach("yaw", 3.0, -1.0, True, np.zeros((2, 3)), np.zeros((2, 2)), ("", ""))
    assert one.either_way == 1.0


def test_rotors_that_spin_against_each_other_yaw_and_roll_together():
    """Yaw takes 0.04 N m of roll for each newton moved: not by itself."""
    other = (rotor("port", -0.5), rotor("starboard", 0.5, spin="left"))
    reach = problem(other, [ranges()] * 2, (5.0, 5.0)).reach(2)
    assert not reach.alone
    assert reach.highest == pytest.approx(3.0, rel=1e-5)
    assert reach.others[0, 0] == pytest.approx(-0.02 * 6.0, rel=1e-4)
    pitch = problem(PAIR, [ranges()] * 2, (5.0, 5.0)).reach(1)
    assert (pitch.highest, pitch.lowest) == (0.0, 0.0)


@pytest.mark.parametrize(
    ("by", "words"),
    [
        (("thrust", "power"), "highest power of rotor port"),
        (("thrust", "model"), "highest model's range of rotor port"),
        (("thrust", "total"), ""),
    ],
)
def test_the_limit_that_stops_a_rotor_is_named(by, words):
    made = problem(PAIR, [ranges(1.0, 8.0, by[1], by[0])] * 2, (5.0, 5.0))
    assert made.stopped(np.array([8.0, 2.0])) == words
    assert made.stopped(np.array([7.99, 2.0])) == ""
    assert made.stopped(np.array([5.0, 1.0])) == "lowest thrust of rotor starboard"
    both = problem(PAIR, [ranges(1.0, 8.0, "thrust", "model")] * 2, (5.0, 5.0))
    assert both.stopped(np.array([8.0, 1.0])) == (
        "highest thrust of rotor port, lowest model's range of rotor starboard"
    )


def test_a_thrust_lies_in_a_rotor_s_range():
    made = ranges()
    assert [made.gives(t) for t in (0.99, 1.0, 8.0, 8.01)] == [False, True, True, False]


def test_ends_of_a_model_and_of_a_power_are_found():
    """A model that holds up to 6.3 N; power 2 T^1.5 reaches 40 W at (20)^(2/3)."""

    def state(thrusts):
        return SimpleNamespace(in_range=thrusts <= 6.3, power=2.0 * thrusts**1.5)

    assert _last_usable(state, 5.0, 8.0) == pytest.approx(6.3, abs=1e-9)
    assert _passes(state, 40.0, 5.0, 9.0) == pytest.approx(20.0 ** (2.0 / 3.0), abs=1e-8)
    assert _passes(state, 1.0, 5.0, 9.0) == 5.0
