"""Steady roll rates of moments that are known functions of the rate, by hand; all invented."""

from types import SimpleNamespace

import numpy as np
import pytest

from vlm.flight.craft import steady_roll
from vlm.flight.craft.steady_roll import _balanced_rate

TURN = np.array([0.0, 0, 0, 1.0, 0, 0])


def rate(moment, scale, added=0.0, lift=20.0):
    """The rate at which a moment of the rate and another added vanish; guessed by ``scale``."""

    def wrenches(motions, density):
        found = np.zeros((len(motions), 6))
        found[:, 3] = moment(motions[:, 3])
        return found

    flight = SimpleNamespace(
        motion=np.zeros(6), density=1.2, wrench=np.array([0, 0, -lift, 0, 0, 0])
    )
    return _balanced_rate(SimpleNamespace(wrenches=wrenches), flight, TURN, added, scale)


@pytest.mark.parametrize(
    ("moment", "scale", "zero"),
    [
        (lambda p: 2.0 - 0.5 * p, 4.0, 4.0),
        (lambda p: -2.0 - 0.5 * p, -4.0, -4.0),
        (lambda p: 0.3 - 0.5 * p, 0.6, 0.6),
        (lambda p: -0.3 - 0.5 * p, -0.6, -0.6),
        (lambda p: 0.02 - 0.5 * p, 0.04, 0.04),
        # Damping that grows with the cube of the rate: 2 = p + p^3.
        (lambda p: 2.0 - p - p**3, 2.0, 1.0),
        # Damping that stall takes away beyond 3 rad/s: the first zero going out counts.
        (lambda p: 1.0 - np.where(p < 3.0, 0.5 * p, 1.5 - 2.0 * (p - 3.0)), 2.0, 2.0),
        # The sections turn the sign of what the lattice alone expects.
        (lambda p: -0.6 - 0.5 * p, 1.0, -1.2),
        (lambda p: 0.6 - 0.5 * p, -1.0, 1.2),
    ],
)
def test_the_first_rate_at_which_the_moment_vanishes(moment, scale, zero):
    assert rate(moment, scale) == pytest.approx(zero, abs=1e-7)


def test_a_moment_that_is_added_counts():
    assert rate(lambda p: -0.5 * p, 4.0, added=1.0) == pytest.approx(2.0)


def test_where_no_rate_balances():
    assert rate(lambda p: 1.0 + 0.0 * p, 2.0) is None
    assert rate(lambda p: np.full_like(p, np.nan), 2.0) is None
    assert rate(lambda p: np.where(p < 0.5, 1.0 - 0.1 * p, np.nan), 2.0) is None


def test_hardly_any_moment_is_no_roll():
    """Against the lift."""
    still = steady_roll.STILL * 20.0
    assert rate(lambda p: 0.9 * still - 0.5 * p, 1.0) == 0.0
    assert rate(lambda p: 1.1 * still - 0.5 * p, 1.0) != 0.0


def test_a_step_in_the_moment_is_found_by_bisection():
    found = rate(lambda p: np.where(p < 1.234567, 1.0, -3.0), 2.0)
    assert found == pytest.approx(1.234567, abs=1e-6)
