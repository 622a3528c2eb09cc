"""Right-hand sides of a roll, by Newton's and Euler's laws written out in full; all invented.

Sources beside each check; from memory. The craft is one of random tables, so that no term hides.
"""

from types import SimpleNamespace

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from vlm.constants import GRAVITY
from vlm.errors import ComputationFailed
from vlm.flight.motion import roll_pairs, roll_response
from vlm.flight.motion.roll_response import (
    SLIP_REACHED,
    TURN_REACHED,
    YawAid,
    _Curve,
    _Instant,
    _Rolling,
    swing_momentum,
)
from vlm.flow.direction import held_angle
from vlm.frames import GEOMETRY_TO_BODY
from vlm.sides import Side

RANDOM = np.random.default_rng(11)
ALPHA, SPEED, MASS, DENSITY = 0.2, 15.0, 2.0, 1.1
INERTIA = np.array([[0.5, 0.01, -0.03], [0.01, 0.3, 0.02], [-0.03, 0.02, 0.7]])
SWING = RANDOM.normal(size=(3, 2)) * 0.05
STILL, ASIDE = RANDOM.normal(size=(2, 8, 8, 6)) * 0.01
SECTIONS = np.array([0.1, 0.2, -0.3, 0.04, 0.05, -0.06])
ROTORS = RANDOM.normal(size=(6, 6)) * 0.05
TIPS = {Side.PORT: 0.8, Side.STARBOARD: -1.3}


def rolling(aside=None, swings=True):
    """Its tips: one port that turns half as fast as its side, one starboard that turns as it."""
    made = object.__new__(_Rolling)
    ahead = np.array([np.cos(ALPHA), 0.0, np.sin(ALPHA)])
    below = np.array([-np.sin(ALPHA), 0.0, np.cos(ALPHA)])
    now = _Instant(ALPHA, ahead, below, INERTIA, SWING, STILL, aside)
    made.blend, made.bodies, made.swings = lambda time: now, ("upper_left", "upper_right"), swings
    made.path = SimpleNamespace(
        rate=lambda side, time: TIPS[side], stops={}, fold=lambda side, time: TIPS[side] * time
    )
    made.follow = {Side.PORT: np.array([0.5, 0.0]), Side.STARBOARD: np.array([0.0, 1.0])}
    made.sections = SimpleNamespace(
        wrench=lambda time, v, p: SECTIONS * (1.0 + v + p), stalled=lambda time, v, p: v + p
    )
    made.speed, made.mass, made.density = SPEED, MASS, DENSITY
    made.rotors = ROTORS[:, [1, 3, 5]]
    return made, now


def air(motion, slip=0.0, aside=None):
    table = STILL if aside is None else STILL + held_angle(slip) * aside
    loads = DENSITY * np.einsum("a,abr,b->r", motion, table, motion)
    return loads + SECTIONS * (1.0 + motion[1] + motion[3])


@pytest.mark.parametrize("swings", [True, False])
@pytest.mark.parametrize("aside", [None, ASIDE])
@pytest.mark.parametrize("aid", [YawAid(), YawAid(2.0, 0.7)])
def test_a_free_roll_obeys_newton_and_euler(aside, aid, swings):
    """m (v' + omega x V) = F, H' + omega x H = M, and Euler's angles of a level pitch attitude."""
    craft, _ = rolling(aside, swings)
    v, phi, p, r = 2.5, 0.6, 0.9, -0.4
    tips = np.array([0.4, -1.3]) * swings
    omega = np.array([p, 0.0, r])
    momentum = INERTIA @ omega + SWING @ tips
    state = np.array([v, momentum[0], momentum[2], phi])
    assert craft.rates_at(0.3, state, held=False) == pytest.approx((p, r))
    forward = (SPEED**2 - v**2) ** 0.5
    velocity = np.array([forward * np.cos(ALPHA), v, forward * np.sin(ALPHA)])
    slip = np.arcsin(v / SPEED)
    loads = air(np.concatenate([velocity, omega, tips]), slip, aside)
    loads += ROTORS[:, 1] * v + ROTORS[:, 3] * p + ROTORS[:, 5] * r
    loads[5] += aid.stiffness * slip - aid.damping * r
    down = GRAVITY * np.array([-np.sin(ALPHA), np.cos(ALPHA) * np.sin(phi), 0.0])
    side = loads[1] / MASS + down[1] - np.cross(omega, velocity)[1]
    turned = loads[3:] - np.cross(omega, momentum)
    bank = p + r * np.tan(ALPHA) * np.cos(phi)
    found = craft.free(0.3, state, aid)
    np.testing.assert_allclose(found, [side, turned[0], turned[2], bank])


@pytest.mark.parametrize("swings", [True, False])
def test_a_held_roll_keeps_its_yaw_rate_to_the_side_balance(swings):
    """r = (Y/m + g sin phi)/U with Y at that rate itself, and x_s . (M - omega x H)."""
    craft, now = rolling(None, swings)
    momentum, phi = 0.35, 0.5
    rate, yaw = craft.rates_at(0.0, np.array([momentum, phi]), held=True)
    tips = np.array([0.4, -1.3]) * swings
    omega = rate * now.ahead + yaw * now.below
    whole = INERTIA @ omega + SWING @ tips
    loads = air(np.concatenate([SPEED * now.ahead, omega, tips]))
    assert now.ahead @ whole == pytest.approx(momentum, rel=1e-4)
    assert yaw == pytest.approx((loads[1] / MASS + GRAVITY * np.sin(phi)) / SPEED, rel=1e-3)
    found = craft.held(0.0, np.array([momentum, phi]))
    expected = now.ahead @ (loads[3:] - np.cross(omega, whole))
    np.testing.assert_allclose(found, [expected, rate], rtol=1e-3)


def test_sideslip_beyond_the_airspeed_is_a_right_angle():
    """No number is lost where the integrator tries a step too far."""
    craft, _ = rolling(ASIDE)
    for v in (SPEED, 1.2 * SPEED, -1.2 * SPEED):
        assert np.isfinite(craft.free(0.0, np.array([v, 0.1, 0.1, 0.0]), YawAid())).all()
    loads = air(np.array([0.0, 1.2 * SPEED, 0, 0, 0, 0, 0, 0]), np.pi / 2, ASIDE)
    craft, _ = rolling(ASIDE, swings=False)
    found = craft.free(0.0, np.array([1.2 * SPEED, 0.0, 0.0, 0.0]), YawAid())
    assert found[1] == pytest.approx(loads[3] + ROTORS[3, 1] * 1.2 * SPEED)


def test_swing_momentum_is_that_of_a_body_about_the_centre_of_gravity():
    """H = I omega + m r x v with v of its centre as it turns about the hinge (Euler)."""
    inertia = np.diag([0.02, 0.03, 0.04])
    axis = np.array([0.6, 0.0, 0.8])
    part = SimpleNamespace(inertia=inertia, centre=np.array([0.3, 1.2, 0.1]), mass=0.5)
    line = SimpleNamespace(axis=axis, point=np.array([0.1, 1.0, 0.0]))
    craft = SimpleNamespace(
        bodies=("upper_left",),
        masses=SimpleNamespace(parts={"upper_left": part}, centre=np.array([0.2, 0.0, -0.1])),
        loads=SimpleNamespace(lattice=SimpleNamespace(hinges={"upper_left": line})),
    )
    turn = Rotation.from_rotvec(1e-6 * axis)
    velocity = (turn.apply(part.centre - line.point) - (part.centre - line.point)) / 1e-6
    expected = inertia @ axis + 0.5 * np.cross(part.centre - [0.2, 0.0, -0.1], velocity)
    np.testing.assert_allclose(
        swing_momentum(craft)[:, 0], GEOMETRY_TO_BODY @ expected, rtol=1e-5, atol=1e-9
    )


def test_rows_between_instants_are_cubics_that_do_not_overshoot():
    """Through a parabola's points; after the last instant and for a single one, that row."""
    times = [0.0, 0.5, 1.0, 2.0]
    curve = _Curve(times, [np.array([t**2, 3.0 - t]) for t in times])
    for t in times:
        np.testing.assert_allclose(curve(t), [t**2, 3.0 - t])
    np.testing.assert_allclose(curve(1.5)[1], 1.5)
    assert 1.0 < curve(1.5)[0] < 4.0
    np.testing.assert_allclose(curve(9.0), [4.0, 1.0])
    alone = _Curve([0.7], [np.array([5.0, 6.0])])
    for t in (0.0, 0.2, 0.7, 3.0):
        np.testing.assert_allclose(alone(t), [5.0, 6.0])


class Steady:
    """Stands for the equations: every rate steady."""

    speed, path = 10.0, SimpleNamespace(stops={}, fold=lambda side, time: 0.0)
    sections = SimpleNamespace(stalled=lambda time, v, p: abs(v))

    def __init__(self, slopes):
        self.slopes = np.array(slopes)

    def held(self, time, state):
        return self.slopes

    def free(self, time, state, aid):
        return self.slopes

    def rates_at(self, time, state, held):
        return 0.25, -0.5


def history(monkeypatch, slopes, yaw="free", duration=2.0, stops=(), **more):
    made = Steady(slopes)
    made.path = SimpleNamespace(
        stops=dict(enumerate(stops)), fold=lambda side, time: TIPS[side] * time
    )
    monkeypatch.setattr(roll_response, "_Rolling", lambda *_: made)
    monkeypatch.setattr(roll_response, "section_blend", lambda *_, **__: None)
    return roll_response.roll_response((), made.path, duration, yaw, **more)


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_a_history_ends_at_a_full_turn_and_at_a_wide_sideslip(monkeypatch, sign):
    """2 pi at 4 rad/s; 10 m/s sin 60 at 5 m/s^2."""
    found = history(monkeypatch, [0.0, 0.0, 0.0, 4.0 * sign])
    assert found.cut_off == TURN_REACHED
    assert found.times[-1] == pytest.approx(np.pi / 2)
    assert found.bank[-1] == pytest.approx(2 * np.pi * sign)
    found = history(monkeypatch, [5.0 * sign, 0.0, 0.0, 0.1])
    assert found.cut_off == SLIP_REACHED
    assert found.times[-1] == pytest.approx(3.0**0.5)
    assert np.degrees(found.sideslip[-1]) == pytest.approx(60.0 * sign)
    assert found.stalled[-1] == pytest.approx(10.0 * 0.75**0.5)
    held = history(monkeypatch, [0.5 * sign, 4.0 * sign], "held")
    assert held.cut_off == TURN_REACHED
    assert not held.sideslip.any()
    assert not held.yaw_moment.any()
    assert history(monkeypatch, [5.0 * sign, 0.0], "held").cut_off == ""


def test_instants_of_a_history(monkeypatch):
    """400 steps between the stops of the tips, none twice; a stretch has two at least."""
    found = history(monkeypatch, [0.1, 0.0, 0.0, 0.2], stops=(0.5, 3.0, 0.001))
    assert len(found.times) == 1 + 2 + 100 + 300
    assert (np.diff(found.times) > 0.0).all()
    np.testing.assert_allclose(found.times[[0, 2, 102, -1]], [0.0, 0.001, 0.5, 2.0])
    np.testing.assert_allclose(found.bank, 0.2 * found.times)
    np.testing.assert_allclose(found.sideslip, np.arcsin(0.01 * found.times))
    np.testing.assert_allclose(found.folds[Side.STARBOARD], -1.3 * found.times)
    assert set(found.roll_rate) == {0.25}
    assert set(found.yaw_rate) == {-0.5}
    assert len(history(monkeypatch, [0.1, 0.0, 0.0, 0.2], count=40).times) == 41
    aided = history(monkeypatch, [0.1, 0.0, 0.0, 0.2], YawAid(2.0, 0.7, highest=0.36))
    expected = np.minimum(2.0 * aided.sideslip + 0.35, 0.36)
    np.testing.assert_allclose(aided.yaw_moment, expected)


def test_a_history_that_cannot_be_followed_is_refused(monkeypatch):
    with pytest.raises(ComputationFailed, match="stops at"):
        history(monkeypatch, [np.nan, 0.0, 0.0, 0.2])


# --- pairs that roll ----------------------------------------------------------------------------


def rolled(monkeypatch, moment):
    """Lift 100 - (left^2 + right^2)/100, so that pairs of like lift lie on a circle."""
    monkeypatch.setattr(
        roll_pairs, "setting_moment", lambda craft, f, air: moment(f.left_deg - f.right_deg)
    )
    monkeypatch.setattr(
        roll_pairs, "lift_at",
        lambda f, air, alpha: 100.0 - (f.left_deg**2 + f.right_deg**2) / 100.0,
    )  # fmt: skip

    def point(craft, f, air, base):
        return {"rolling_moment_N_m": moment(f.left_deg - f.right_deg)}

    monkeypatch.setattr(roll_pairs, "setting_point", point)
    base = SimpleNamespace(alpha=0.0, lift=100.0 - 8.0)
    return SimpleNamespace(at=lambda folds: folds, range_deg=(-40.0, 40.0)), SimpleNamespace(
        base=base, base_deg=-20.0
    )


@pytest.mark.parametrize("sense", [1.0, -1.0])
def test_a_branch_of_like_lift_is_followed_while_its_mean_moves_slowly(monkeypatch, sense):
    """m = -(20^2 - d^2)^(1/2); from d = 15 to 17.5 the mean would move by 3.5 degrees."""
    craft, grid = rolled(monkeypatch, lambda apart: sense * apart)
    assert roll_pairs._sense(craft, grid, None) == sense
    found = roll_pairs._branch(craft, grid, None)
    half = np.arange(2.5, 16.0, 2.5)
    mean = -((400.0 - half**2) ** 0.5)
    np.testing.assert_allclose(
        found, np.stack([mean + sense * half, mean - sense * half], axis=1), atol=2e-3
    )
    craft.range_deg = (-28.0, 40.0)  # at d = 12.5 one fold would be -28.1
    assert len(roll_pairs._branch(craft, grid, None)) == 4


def test_the_side_that_rolls_is_asked_of_the_other_pair_where_one_has_no_trim(monkeypatch):
    craft, grid = rolled(monkeypatch, lambda apart: np.nan if apart > 0.0 else 3.0 * apart)
    assert roll_pairs._sense(craft, grid, None) == 1.0
    craft, grid = rolled(monkeypatch, lambda apart: np.nan)
    assert roll_pairs._sense(craft, grid, None) == 0.0
    assert roll_pairs.pure_roll_pairs(craft, grid, None) == []


def test_pure_rolls_are_spread_over_the_moments_up_to_the_highest(monkeypatch):
    """x - x^3/1200 of the difference of folds is highest at 20 degrees, 13.3: of 3.3, 6.7, 10 and
    13.3 the first two are nearest to the pair at 5, the others to those at 10 and 20."""
    craft, grid = rolled(monkeypatch, lambda apart: apart - apart**3 / 1200.0)
    found = roll_pairs.pure_roll_pairs(craft, grid, None)
    apart = [pair.folds.left_deg - pair.folds.right_deg for pair in found]
    assert apart == pytest.approx([5.0, 10.0, 20.0])
    left, right = found[-1].folds.left_deg, found[-1].folds.right_deg
    assert found[-1].travel_deg == pytest.approx(max(left + 20.0, -20.0 - right))
    assert len(roll_pairs.pure_roll_pairs(craft, grid, None, 1)) == 1


@pytest.mark.parametrize(
    ("level", "scale"), [(20.6, 1.03), (19.4, 0.97), (17.2, 0.86), (22.6, 1.13), (30.0, 1.0)]
)
def test_a_pair_on_a_ray_rolls_by_what_is_wanted(monkeypatch, level, scale):
    """The moment is the difference of folds: 20 at the place itself; 15 % either way is tried."""
    craft, grid = rolled(monkeypatch, lambda apart: apart)
    found = roll_pairs._on_ray(craft, grid, None, (-10.0, -30.0), level)
    assert found.folds.left_deg == pytest.approx(-20.0 + 10.0 * scale, abs=1e-3)
    assert found.folds.right_deg == pytest.approx(-20.0 - 10.0 * scale, abs=1e-3)
    assert found.travel_deg == pytest.approx(10.0 * scale, abs=1e-3)
    monkeypatch.setattr(roll_pairs, "setting_point", lambda *_: "surfaces cross")
    assert roll_pairs._on_ray(craft, grid, None, (-10.0, -30.0), level) is None
