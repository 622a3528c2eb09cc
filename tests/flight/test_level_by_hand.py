"""Level flight and pull-ups of a wing whose lift is a known function of the angle, by hand.

Sources beside each check; all numbers are invented. The wing's normal force is 60 sin(2 alpha) N at
10 m/s and 1.2 kg/m^3 up to a stall, past which it falls; weight 20 N, so that level flight, N = W
cos(alpha), stands at sin(alpha) = 1/6.
"""

from dataclasses import dataclass, field
from types import SimpleNamespace

import numpy as np
import pytest

from vlm.constants import GRAVITY
from vlm.flight.craft import level
from vlm.flight.craft.level import (
    _first_crossing,
    _newton,
    carrying_airspeed,
    highest_load_factor,
    level_flight,
    small_motion,
)
from vlm.flight.craft.modelling import Modelling

STALL = np.radians(15.0)


@dataclass(frozen=True)
class Wing:
    """Its pull-up's pitch rate changes nothing, so that loads are those of the angle alone."""

    stall_at: float = STALL
    strips: object = "sections"
    kept: dict = field(default_factory=dict)
    masses: object = field(
        default_factory=lambda: SimpleNamespace(mass=20.0 / GRAVITY, inertia=np.eye(3))
    )
    modelling: Modelling = Modelling.SECTIONS

    def motion(self, airspeed, alpha, rates):
        return np.r_[airspeed * np.cos(alpha), 0.0, airspeed * np.sin(alpha), rates]

    def _force(self, motions, density, sections):
        u, w = motions[:, 0], motions[:, 2]
        alpha = np.arctan2(w, u)
        size = 0.5 * density * (u**2 + w**2)
        normal = size * np.sin(2.0 * alpha)
        if sections:
            past = np.maximum(alpha - self.stall_at, 0.0)
            normal = normal - 8.0 * size * past
        found = np.zeros((len(motions), 6))
        found[:, 0], found[:, 2] = -0.01 * size, -normal
        return found

    def wrenches(self, motions, density):
        return self._force(motions, density, self.strips is not None)

    def wrenches_without_sections(self, motions, density):
        return self._force(motions, density, False)

    def wrench(self, motion, density):
        return self.wrenches(motion[None], density)[0]

    def stall(self, motion, density):
        return self.stall_at - float(np.arctan2(motion[2], motion[0])), 0.25


@pytest.mark.parametrize("strips", ["sections", None])
def test_level_flight_balances_weight_across_and_along_the_body(strips):
    """60 sin 2a = 20 cos a; thrust is drag and the weight's part along the body (Newton)."""
    found = level_flight(Wing(strips=strips), 10.0, 1.2)
    assert np.sin(found.alpha) == pytest.approx(1.0 / 6.0)
    assert found.thrust == pytest.approx(0.6 + 20.0 / 6.0)
    assert found.lift == pytest.approx(20.0 * np.cos(found.alpha) ** 2 - 0.6 / 6.0)
    assert (found.load_factor, found.stalled, found.modelling) == (1.0, 0.25, Modelling.SECTIONS)
    assert found.stall_margin == pytest.approx(STALL - found.alpha)
    assert found.dynamic_pressure == pytest.approx(60.0)
    assert found.motion[4] == 0.0


def test_a_pull_up_turns_at_g_over_the_airspeed_for_each_load_factor_more():
    """Kinematics of a circle: q = (n - 1) g / V."""
    found = level_flight(Wing(strips=None), 10.0, 1.2, 1.8)
    assert np.sin(found.alpha) == pytest.approx(0.3)
    assert found.motion[4] == pytest.approx(0.8 * GRAVITY / 10.0)
    assert found.thrust == pytest.approx(0.6 + 36.0 * 0.3)


@pytest.mark.parametrize("speed", [3.0, 5.0])
def test_too_slow_to_fly(speed):
    wing = Wing()
    assert level_flight(wing, speed, 1.2) is None
    assert wing.kept[("level flight", speed, 1.2, 1.0)] is None


def test_a_stalled_flight_found_from_the_plain_wing_is_not_the_lowest(monkeypatch):
    """Of made-up roots: the plain wing's angle leads to one past the stall, the search from zero to
    one below it."""
    asked = []

    def newton(excess, start=None):
        asked.append(start)
        return np.radians(40.0) if start is not None else float(np.arcsin(1.0 / 6.0))

    monkeypatch.setattr(level, "_newton", newton)
    found = level_flight(Wing(), 10.0, 1.2)
    assert np.sin(found.alpha) == pytest.approx(1.0 / 6.0)
    assert found.stall_margin > 0.0
    assert asked == [None, pytest.approx(np.arcsin(1.0 / 6.0)), None]


def test_a_found_flight_is_kept():
    wing = Wing()
    assert level_flight(wing, 10.0, 1.2) is level_flight(wing, 10.0, 1.2)


@pytest.mark.parametrize("limit", [1.2, 3.5])
def test_the_highest_load_factor_is_that_of_the_steepest_lift(limit):
    """Of n = N/(W cos a): up to the stall at 15 degrees 6 sin a = 1.553, past it less at once.
    Found from below, to a hundredth."""
    found = highest_load_factor(Wing(), 10.0, 1.2, limit)
    best = min(6.0 * np.sin(STALL), limit)
    assert best - 0.01 <= found.load_factor <= best + 1e-9


def test_no_load_factor_where_level_flight_fails():
    assert highest_load_factor(Wing(), 5.0, 1.2, 3.0) is None
    assert highest_load_factor(Wing(), 5.0, 1.2, 1.0) is None
    assert highest_load_factor(Wing(), 10.0, 1.2, 1.0).load_factor == 1.0


def test_a_higher_airspeed_that_carries_is_the_first_tried():
    """Level flight needs sin a = 1/6 (10/V)^2, at most about 0.26 before the stall: V from 8.03."""
    assert carrying_airspeed(Wing(), 7.0, 1.2) == pytest.approx(8.4)
    assert carrying_airspeed(Wing(), 1.0, 1.2) is None
    assert level.airspeed_to_ask_for(Wing(), 7.0, 1.2) == "at 8.4 m/s they can"
    assert level.airspeed_to_ask_for(Wing(), 1.0, 1.2) == "ask for a higher airspeed"


@pytest.mark.parametrize(
    ("excess", "root"),
    [
        (lambda a: 1.0 - 10.0 * a, 0.1),
        (lambda a: np.exp(-4.0 * a) - 0.5, np.log(2.0) / 4.0),
        (lambda a: -0.2 - 1.0 * a, -0.2),
        (lambda a: 1.0 - 2.0 * a, None),  # at 0.5 rad, beyond 25 degrees
        (lambda a: 1.0 + a, None),
        (np.ones_like, None),
    ],
)
def test_newton_s_root_on_the_branch_of_rising_lift(excess, root):
    found = _newton(excess)
    assert found == (None if root is None else pytest.approx(root, abs=1e-9))


@pytest.mark.parametrize(
    ("excess", "root"),
    [
        (lambda a: 0.1 - a, 0.1),
        (lambda a: (a - 0.1) * (a + 0.2), -0.2),
        (lambda a: a - 0.1, None),
        (lambda a: np.where(a < 0.0, np.nan, 0.1 - a), 0.1),
    ],
)
def test_the_lowest_angle_at_which_rising_lift_reaches_the_weight(excess, root):
    found = _first_crossing(excess)
    assert found == (None if root is None else pytest.approx(root, abs=1e-9))


def test_small_motions_about_level_flight():
    wing = Wing()
    flight = level_flight(wing, 10.0, 1.2)
    rates = np.arange(42.0).reshape(6, 7)
    craft = SimpleNamespace(masses=wing.masses, rates=lambda motion, density: rates)
    changed = np.zeros((6, 6))
    changed[0, 0] = -0.3
    found = small_motion(craft, flight, changed)
    np.testing.assert_allclose(found.rates - rates[:, :6], changed, atol=1e-12)
    np.testing.assert_allclose(
        found.gravity, GRAVITY * np.array([-1.0 / 6.0, 0.0, np.cos(flight.alpha)])
    )
    np.testing.assert_allclose(found.velocity, flight.motion[:3])
    assert rates[0, 0] == 0.0
