"""Moments about hinges, servos of a side, limits of airspeed and travels, by hand.

Sources beside each check; all numbers are invented.
"""

from types import SimpleNamespace

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from vlm.constants import GRAVITY
from vlm.flight.mechanism import fold_path, hinge_moments
from vlm.flight.mechanism.drive_limits import (
    FoldLoads,
    drive_share,
    fastest,
    folding_under,
    servo_demand,
    servo_most,
    servo_width,
)
from vlm.flight.mechanism.hinge_divergence import divergence, side_stiffness
from vlm.flight.mechanism.hinge_moments import Turning, inertia_moment, tip_inertia, weight_moment
from vlm.flight.mechanism.servo import damped_speed, fold_speed, servo_current, servo_speed
from vlm.flight.mechanism.worm import holding_torque, worm_torque
from vlm.flight.plan import tip_drive
from vlm.sides import Side

BODIES = ("upper_left", "lower_left", "upper_right", "lower_right")
LINKAGE = dict(zip(BODIES, (1.0, -0.5, 1.0, -0.5), strict=True))


def craft_of(**keys):
    lattice = SimpleNamespace(fold_rates=LINKAGE, hinges=dict.fromkeys(BODIES, "line"))
    return SimpleNamespace(bodies=BODIES, loads=SimpleNamespace(lattice=lattice), **keys)


# --- moments ------------------------------------------------------------------------------------


def line(axis=(1.0, 0.0, 0.0), point=(0.0, 0.0, 0.0)):
    return SimpleNamespace(axis=np.array(axis), point=np.array(point))


def tip(centre, mass=2.0, inertia=None):
    return SimpleNamespace(
        mass=mass, centre=np.array(centre), inertia=np.zeros((3, 3)) if inertia is None else inertia
    )


def test_weight_of_a_tip_about_hinges_of_any_direction():
    """Geometry axes, x aft, y starboard, z up: m g times the lever, in a level attitude."""
    part = tip((0.1, 0.5, 0.0))
    assert weight_moment(part, line(), 0.0) == pytest.approx(-2.0 * GRAVITY * 0.5)
    assert weight_moment(part, line(), 0.3) == pytest.approx(-2.0 * GRAVITY * 0.5 * np.cos(0.3))
    raised = tip((0.0, 0.0, 0.4))
    assert weight_moment(raised, line((0, 1, 0)), 0.3) == pytest.approx(
        2.0 * GRAVITY * 0.4 * np.sin(0.3)
    )
    assert hinge_moments.hover_weight_moment(part, line()) == pytest.approx(0.0, abs=1e-12)


def test_inertia_of_a_tip_about_its_hinge():
    """Own inertia about the axis, and mass times the distance squared (Steiner)."""
    part = tip((0.1, 0.5, 0.2), inertia=np.diag([0.3, 0.1, 0.2]))
    assert tip_inertia(part, line(point=(0.0, 0.1, 0.2))) == pytest.approx(0.3 + 2.0 * 0.16)
    assert tip_inertia(part, line((0, 1, 0))) == pytest.approx(0.1 + 2.0 * (0.01 + 0.04))


@pytest.mark.parametrize("seed", [1, 2])
def test_inertia_of_a_tip_made_of_points(seed):
    """Each point's mass times acceleration, a + w' x r + w x (w x r), about the hinge line."""
    random = np.random.default_rng(seed)
    points, masses = random.normal(size=(6, 3)), random.uniform(0.1, 0.5, 6)
    centre = masses @ points / masses.sum()
    away = points - centre
    inertia = sum(
        m * (d @ d * np.eye(3) - np.outer(d, d)) for m, d in zip(masses, away, strict=True)
    )
    part = tip(centre, masses.sum(), inertia)
    axis = random.normal(size=3)
    hinge = line(axis / np.linalg.norm(axis), random.normal(size=3))
    turning, middle = Turning(*random.normal(size=(3, 3))), random.normal(size=3)
    expected = 0.0
    for m, p in zip(masses, points, strict=True):
        arm = p - middle
        pull = turning.acceleration + np.cross(turning.rate_change, arm)
        pull = pull + np.cross(turning.rate, np.cross(turning.rate, arm))
        expected -= hinge.axis @ np.cross(p - hinge.point, m * pull)
    assert inertia_moment(part, hinge, middle, turning) == pytest.approx(expected)


def parts(**keys):
    return {**dict.fromkeys(hinge_moments.PARTS, 0.0), **keys}


@pytest.mark.parametrize(
    ("made", "worst"),
    [
        (parts(air=3.0, weight=-1.0, pull_up=0.5), 2.5),
        (parts(air=2.0, roll_acceleration=1.5), 3.5),
        (parts(air=-2.0, roll_acceleration=1.5), -3.5),
        (parts(air=2.0, roll_air=1.0, roll_rate=0.7), 3.7),
        (parts(air=2.0, roll_air=-1.0, roll_rate=0.7), 3.7),
        (parts(air=-1.0, roll_air=3.0, roll_rate=-0.7), -4.7),
        (parts(air=0.5, roll_air=0.2, roll_rate=-2.0), -1.7),
    ],
)
def test_the_worst_of_rolling_either_way(made, worst):
    assert hinge_moments.worst_moment(made) == pytest.approx(worst)
    assert hinge_moments.rolled_moments(made)[0] == hinge_moments.steady_moment(made)


@pytest.mark.parametrize(
    ("swing", "worst"), [(0.0, 2.5), (1.5, 4.0), (-1.0, 2.5), (-6.0, -4.5)]
)  # fmt: skip
def test_the_worst_with_a_swing_beyond_it_and_without(swing, worst):
    """2 N m steady, 0.5 either way of it in a roll."""
    made = parts(air=2.0, roll_air=0.5)
    assert hinge_moments.worst_moment(made, swing) == pytest.approx(worst)


@pytest.mark.parametrize(("before", "after"), [(0.3, 1.2), (-0.2, 0.9), (1.0, -0.4)])
def test_a_load_at_once_swings_a_tip_on_its_gear_by_its_rise(before, after):
    """A mass on an undamped spring by scipy's integrator: furthest moment of the spring."""
    inertia, stiffness = 0.002, 40.0
    done = solve_ivp(
        lambda _, x: [x[1], (after - stiffness * x[0]) / inertia],
        (0.0, 0.1), [before / stiffness, 0.0], max_step=1e-4, rtol=1e-9, atol=1e-12,
    )  # fmt: skip
    furthest = max(stiffness * done.y[0] - after, key=abs)
    sums = [stiffness * done.y[0].min(), stiffness * done.y[0].max()]
    end = min(sums) if after < before else max(sums)
    swing = hinge_moments.gust_swing(parts(air=after), parts(air=before))
    assert end == pytest.approx(after + swing, rel=1e-4)
    assert abs(furthest) == pytest.approx(abs(swing), rel=1e-4)


def test_the_hinge_with_the_largest_size_first_of_those_alike():
    sizes = {"a": 2.0, "b": 3.0 - 1e-9, "c": 3.0}
    assert hinge_moments.worst_hinge(sizes) == "b"
    assert hinge_moments.worst_hinge({"a": 2.0, "b": 3.0}) == "b"


MOMENTS = {"upper_left": 3.0, "lower_left": 4.0, "upper_right": -1.0, "lower_right": -8.0}


@pytest.mark.parametrize(
    ("serves", "loads", "most"),
    [
        ("side", {Side.PORT: [1.0], Side.STARBOARD: [3.0]}, 3.0),
        ("tip", {Side.PORT: [3.0, -2.0], Side.STARBOARD: [-1.0, 4.0]}, 4.0),
    ],
)
def test_moments_on_the_servos_of_each_side(monkeypatch, serves, loads, most):
    """By linkages 1 and -0.5: together, or each by itself."""
    monkeypatch.setattr(
        hinge_moments,
        "hinge_moments",
        lambda c, f, r: {b: parts(air=m) for b, m in MOMENTS.items()},
    )
    assert hinge_moments.servo_loads(craft_of(), None, serves) == loads
    assert servo_most(craft_of(), MOMENTS, serves) == most


def test_tips_on_one_servo_are_summed_instant_by_instant():
    """Rolling one way the linked tips pull alike on it; the largest of each came with the other."""
    upper, lower = np.array([0.0, 1.9, -2.0]), np.array([0.0, -3.9, 4.0])
    moments = dict(zip(BODIES, (upper, lower, 0.0 * upper, 0.0 * lower), strict=True))
    assert servo_most(craft_of(), moments, "side") == pytest.approx(2.0 + 0.5 * 4.0)
    out_of_step = {**moments, "lower_left": -lower}
    assert servo_most(craft_of(), out_of_step, "side") == pytest.approx(0.05)
    assert servo_most(craft_of(), out_of_step, "tip") == pytest.approx(2.0)


def test_half_widths_on_one_servo_do_not_cancel_by_the_linkage():
    widths = dict.fromkeys(BODIES, 0.4)
    assert servo_width(craft_of(), widths, "side") == pytest.approx(0.4 + 0.2)
    assert servo_width(craft_of(), widths, "tip") == pytest.approx(0.4)
    assert np.isnan(servo_width(craft_of(), {**widths, "lower_left": np.nan}, "side"))


def test_the_moment_that_opposes_a_fold_most():
    """Where one tip helps and the other does not, the other one counts."""
    assert hinge_moments.most_against([3.0, -2.0], 1.0) == -2.0
    assert hinge_moments.most_against([3.0, -2.0], -0.5) == 3.0


@pytest.mark.parametrize(
    ("serves", "sizes", "found"),
    [("side", (-2.0, -4.0), [3.0]), ("tip", (-2.0, -4.0), [2.0, 1.0]),
     ("side", (-0.1, 0.8), [0.0]), ("tip", (0.1, -0.8), [0.0, 0.2]),
     ("side", (-0.5, 0.4), [0.4])],
)  # fmt: skip
def test_damping_of_the_air_on_servos_is_not_negative(serves, sizes, found):
    """2 rho T z at the tip's own rate, times the linkage squared: half of each here."""

    def table(size):
        rates = np.zeros((8 + 4, 8 + 4))
        for i in range(4):
            rates[hinge_moments.FIRST_TIP + i] = size / 2.0
        return SimpleNamespace(at=lambda alpha: rates)

    upper, lower = sizes
    tables = {b: table(upper if b.startswith("upper") else lower) for b in BODIES}
    motion = np.zeros(12)
    motion[0] = 1.0
    made = craft_of(hinge_tables=tables)
    flight = SimpleNamespace(alpha=0.1, density=1.0, motion=motion)
    damping = hinge_moments.servo_dampings(made, flight, serves)
    # Linkages squared: 1 and 1/4.
    assert damping[Side.PORT] == pytest.approx(found)
    assert damping[Side.STARBOARD] == pytest.approx(found)


@pytest.mark.parametrize(("serves", "inertia"), [("side", [0.125]), ("tip", [0.1, 0.025])])
def test_inertia_on_servos(monkeypatch, serves, inertia):
    monkeypatch.setattr(hinge_moments, "tip_inertia", lambda part, line: 0.1)
    made = craft_of(masses=SimpleNamespace(parts=dict.fromkeys(BODIES)))
    assert hinge_moments.servo_inertias(made, serves) == pytest.approx(inertia)
    loads = SimpleNamespace(lattice=SimpleNamespace(fold_rates=LINKAGE))
    assert side_stiffness(loads, 40.0) == pytest.approx(40.0 * 1.25)


# --- drives ---------------------------------------------------------------------------------------


def actuator(**keys):
    values = {
        "servo_no_load_speed_deg_s": 360.0,
        "servo_stall_torque_N_m": 0.8,
        "servo_time_constant_s": 0.0,
        "servo_stall_current_A": 2.0,
        "servo_no_load_current_A": 0.2,
        "lead_angle_deg": 8.0,
        "pressure_angle_deg": 20.0,
        "worm_ratio": 20.0,
        "bearing_efficiency": 0.9,
    }
    return SimpleNamespace(**{**values, **keys})


def test_a_servo_s_motor_line():
    free = 2.0 * np.pi
    found = servo_speed(actuator(), np.array([0.0, 0.4, 0.8, 1.2, -0.4, np.nan]))
    np.testing.assert_allclose(found, [free, 0.5 * free, 0.0, 0.0, 1.5 * free, 0.0])
    currents = [servo_current(actuator(), t) for t in (0.0, 0.4, 0.8, 1.2, -0.4)]
    assert currents == pytest.approx([0.2, 1.1, 2.0, 2.0, 0.2])


def test_torques_to_raise_lower_and_hold():
    """A moment that raises helps up and opposes down; friction most to move, least to hold."""
    found = servo_demand(actuator(), [3.0], (0.05, 0.2))
    assert found.raising == worm_torque(actuator(), -3.0, 0.2)
    assert found.lowering == worm_torque(actuator(), 3.0, 0.2)
    assert found.holding == holding_torque(actuator(), 3.0, 0.05)
    assert found.lowering > abs(found.raising) > 0.0


def test_torques_of_several_servos_are_the_most_of_any():
    found = servo_demand(actuator(), [3.0, -2.0, 1.0], (0.05, 0.2))
    assert found.moment == 3.0
    assert found.raising == worm_torque(actuator(), 2.0, 0.2)
    assert found.lowering == worm_torque(actuator(), 3.0, 0.2)
    assert found.holding == holding_torque(actuator(), 3.0, 0.05)


@pytest.mark.parametrize(
    ("limit", "on_servo", "share"), [(4.0, 1.0, 0.75), (None, 1.0, None), (4.0, 400.0, None)]
)
def test_the_larger_share_of_hinge_and_servo(limit, on_servo, share):
    made = actuator(hinge_moment_limit_N_m=limit, friction=(0.05, 0.2))
    held = holding_torque(made, on_servo, 0.05) / made.servo_stall_torque_N_m
    assert held > 0.0
    found = drive_share(made, {"a": 1.0, "b": 3.0}, on_servo)
    assert found == pytest.approx(held if share is None else share)


@pytest.mark.parametrize("damping", [0.0, 0.5, 5.0])
def test_the_speed_at_which_torque_meets_load_and_damping(damping):
    """On the motor line: w = w_0 (1 - k (M + c w)), so w = w_0 (1 - k M)/(1 + w_0 k c)."""
    made = actuator()
    share = worm_torque(made, 1.0, 0.2) / made.servo_stall_torque_N_m
    free = 2.0 * np.pi / 20.0
    expected = free * (1.0 - 2.0 * share) / (1.0 + free * share * damping)
    assert damped_speed(made, 2.0, damping, 0.2) == pytest.approx(expected, rel=1e-6)
    assert fold_speed(made, 2.0, 0.2) == pytest.approx(free * (1.0 - 2.0 * share))
    assert damped_speed(made, 1e3, damping, 0.2) == 0.0


@pytest.mark.parametrize(
    ("start", "end", "time"), [(0.0, 0.5, 0.5), (0.3, -0.7, 1.0), (0.2, 0.2, 0.0)]
)
def test_a_travel_without_load_or_lag_takes_its_way_over_the_free_speed(start, end, time):
    """One radian a second."""
    made = actuator(servo_no_load_speed_deg_s=float(np.degrees(20.0)))
    found = fold_path.fold_path(
        made, {Side.PORT: start, Side.STARBOARD: 0.0}, {Side.PORT: end, Side.STARBOARD: 0.1},
        dict.fromkeys(Side, lambda fold: 0.0), 0.2,
    )  # fmt: skip
    assert found.stops[Side.PORT] == pytest.approx(time)
    assert found.stops[Side.STARBOARD] == pytest.approx(0.1)
    assert found.duration == pytest.approx(max(time, 0.1))
    middle = 0.5 * time
    assert found.fold(Side.PORT, middle) == pytest.approx(0.5 * (start + end))
    assert found.fold(Side.PORT, 99.0) == end
    assert found.rate(Side.PORT, middle) == pytest.approx(np.sign(end - start))
    assert found.rate(Side.PORT, time) == 0.0


def test_a_travel_with_lag_follows_the_first_order_step():
    """fold = w (t - tau (1 - exp(-t/tau))), w = 1 rad/s, tau = 0.1 s."""
    made = actuator(servo_no_load_speed_deg_s=float(np.degrees(20.0)), servo_time_constant_s=0.1)
    times, folds, rates = fold_path._travel(made, 0.0, 0.5, lambda f: 0.0, 0.2, lambda f: 0.0)
    np.testing.assert_allclose(folds, times - 0.1 * (1.0 - np.exp(-times / 0.1)), atol=2e-4)
    np.testing.assert_allclose(rates, 1.0 - np.exp(-times / 0.1), atol=2e-3)
    assert folds[-1] == 0.5


def test_a_servo_that_stalls_makes_no_travel():
    made = actuator()
    most = made.servo_stall_torque_N_m / worm_torque(made, 1.0, 0.2)
    for load, moves in ((0.9 * most, True), (1.01 * most, False)):
        found = fold_path._travel(made, 0.5, 0.0, lambda f, m=load: m, 0.2, lambda f: 0.0)
        assert (found is not None) == moves
    helped = fold_path._travel(made, 0.0, 0.5, lambda f: 1.01 * most, 0.2, lambda f: 0.0)
    assert helped is not None


@pytest.mark.parametrize(
    ("serves", "linkage", "most"),
    [("side", 1.0, 5.0), ("side", -1.0, 1.0), ("tip", 1.0, 3.0), ("tip", -1.0, 3.0)],
)
def test_a_schedule_s_folding_rate_is_that_of_the_most_loaded_servo(serves, linkage, most):
    """Tips with 2 and 3 N m, on one servo or each on its own: w = w_0 (1 - k M)."""
    made = actuator(friction=(0.05, 0.2), serves=serves)
    craft = SimpleNamespace(
        tips={"upper": SimpleNamespace(linkage=1.0), "lower": SimpleNamespace(linkage=linkage)}
    )
    bodies = tip_drive.hinge_bodies(craft)
    moments = np.array([[2.0 if b.startswith("upper") else 3.0 for b in bodies]])
    found = tip_drive.slowest_rate(craft, made)(moments)
    assert found == pytest.approx([np.degrees(fold_speed(made, most, 0.2))])
    assert found[0] > 0.0


def test_a_side_folds_as_slowly_as_its_most_loaded_servo_and_pays_for_each():
    """Constant loads, w = w_0 (1 - k M); one servo is helped, the other has the same against it."""
    made = actuator(friction=(0.2, 0.2), servo_voltage_V=5.0)
    span = np.array([-1.0, 1.0])
    loads = [FoldLoads(span, np.array([m, m]), np.zeros(2), 0.0) for m in (2.0, -2.0)]
    found = folding_under(made, loads, 0.0, float(np.degrees(0.5)))["greatest_friction"]
    share = worm_torque(made, 2.0, 0.2) / made.servo_stall_torque_N_m
    assert found.time == pytest.approx(0.5 / (2.0 * np.pi / 20.0 * (1.0 - share)))
    assert found.peak_torque == pytest.approx(worm_torque(made, 2.0, 0.2))
    alone = [folding_under(made, [one], 0.0, float(np.degrees(0.5))) for one in loads]
    assert found.energy == sum(one["greatest_friction"].energy for one in alone)
    assert found.work == pytest.approx(0.0, abs=1e-12)
    assert found.slowest is found.servos[1]


def test_loads_between_folds_are_lines():
    made = FoldLoads(np.array([0.0, 1.0]), np.array([2.0, 4.0]), np.array([0.5, 0.1]), 0.1)
    assert made.moment(np.array([0.25])) == pytest.approx([2.5])
    assert made.resistance(np.array([0.25])) == pytest.approx([0.4])


# --- limits of airspeed --------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("margin", "airspeed", "fold", "already"),
    [
        (lambda v, f: 20.3 - v - 0.1 * f, 17.3, 30.0, False),
        (lambda v, f: 99.0 - v, None, None, False),
        (lambda v, f: 9.0 - v, 10.0, 0.0, True),
        (lambda v, f: None if v < 15.0 else 20.3 - v - 0.1 * f, 17.3, 30.0, False),
        (lambda v, f: None if f == 30.0 else 20.3 - v, 20.3, 0.0, False),
        # At 18 m/s, the next one looked at, the other fold fails worse.
        (lambda v, f: 16.4 - v if f == 0.0 else 9.0 * (17.3 - v), 16.4, 0.0, False),
    ],
)
def test_the_first_airspeed_at_which_a_margin_ends(margin, airspeed, fold, already):
    found = fastest(margin, (0.0, 30.0), 10.0, 34.0)
    assert found.airspeed == (None if airspeed is None else pytest.approx(airspeed, abs=0.02))
    assert (found.fold_deg, found.fails_already, found.searched) == (fold, already, 34.0)


@pytest.mark.parametrize("shared", [0.3, -0.3])
def test_tips_diverge_where_the_air_outgrows_the_hinge(shared):
    """V^2 (1 + |shared|) = K: alike where they help each other, else apart."""

    def rates(speed):
        return speed**2 * np.array([[1.0, shared], [shared, 1.0]])

    found = divergence(rates, 520.0, 5.0, 40.0)
    assert found.airspeed == pytest.approx(20.0, abs=1e-3)
    assert found.symmetric == (shared > 0.0)
    assert found.turning == pytest.approx(520.0, rel=1e-4)
    none = divergence(rates, 1e5, 5.0, 40.0)
    assert (none.airspeed, none.turning) == (None, pytest.approx(1.3 * 1600.0))
    at_once = divergence(rates, 10.0, 5.0, 40.0)
    assert (at_once.airspeed, at_once.turning) == (5.0, pytest.approx(32.5))
    assert divergence(lambda v: None, 10.0, 5.0, 40.0) is None
