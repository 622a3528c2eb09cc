"""Parts of the motion in time, each by itself: attitude, tables, rotors, blends; by hand.

Sources are definitions beside each check; all numbers are invented.
"""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from vlm.chart.nodes import chebyshev_points
from vlm.flight.motion.section_blend import SectionBlend
from vlm.flight.simulation import section_table as tables
from vlm.flight.simulation.air_table import (
    MIRROR,
    AirTable,
    FoldRange,
    fold_range,
    held_out,
    mirrored,
    mirrored_tips,
)
from vlm.flight.simulation.attitude import (
    angles_of,
    attitude_of,
    attitude_rate,
    continued_angles,
    to_earth,
)
from vlm.flight.simulation.gusts import gust_of
from vlm.flight.simulation.rotor_set import RotorSet
from vlm.flight.simulation.section_table import ALPHAS, BETAS, ROLLS, SectionTable, smooth_weights
from vlm.flight.simulation.task import Task
from vlm.loads.angles import angle_weights

ANGLES = [(0.3, -0.4, 1.9), (-1.2, 0.7, -2.5), (2.8, 1.1, 0.2), (0.0, 0.0, 0.0)]


@pytest.mark.parametrize(("bank", "pitch", "heading"), ANGLES)
def test_attitudes_are_turns_of_heading_then_pitch_then_bank(bank, pitch, heading):
    """Against scipy's rotations about z, the new y and the new x."""
    attitude = attitude_of(bank, pitch, heading)
    expected = Rotation.from_euler("ZYX", [heading, pitch, bank])
    np.testing.assert_allclose(to_earth(attitude), expected.as_matrix(), atol=1e-14)
    np.testing.assert_allclose(to_earth(3.0 * attitude), expected.as_matrix(), atol=1e-14)
    np.testing.assert_allclose(np.linalg.norm(attitude), 1.0)
    np.testing.assert_allclose(angles_of(to_earth(attitude)), (bank, pitch, heading), atol=1e-12)


def test_angles_go_on_without_jumps_in_a_loop_and_in_rolls():
    """A loop and a half with no bank, then two rolls from a heading; angles as they were put in."""
    loop = [(1e-14, pitch, 2.9) for pitch in np.linspace(0.1, 3.0 * np.pi, 200)]
    rolls = [(bank, 0.4, 2.9 + bank) for bank in np.linspace(0.0, 4.0 * np.pi, 200)]
    for flown in (loop, rolls):
        found = continued_angles(np.array([to_earth(attitude_of(*one)) for one in flown]))
        np.testing.assert_allclose(found, flown, atol=1e-12)


@pytest.mark.parametrize("angles", ANGLES)
def test_an_attitude_turns_with_the_body_s_rates(angles):
    """R(t + dt) = R(t) exp(rates x dt), with scipy's rotation vector."""
    attitude, rates, step = attitude_of(*angles), np.array([0.7, -1.1, 0.4]), 1e-6
    moved = to_earth(attitude + step * attitude_rate(attitude, rates))
    expected = to_earth(attitude) @ Rotation.from_rotvec(step * rates).as_matrix()
    np.testing.assert_allclose(moved, expected, atol=1e-11)


@pytest.mark.parametrize("length", [0.9, 1.0, 1.1])
def test_an_attitude_s_length_is_drawn_back_to_one(length):
    """Rate of |a|: (1 - |a|^2) |a| a second, whatever the rates."""
    attitude = length * attitude_of(0.3, 0.2, 0.1)
    rate = attitude_rate(attitude, np.array([2.0, -3.0, 1.0]))
    assert rate @ attitude / length == pytest.approx((1.0 - length**2) * length)


# --- weights, tables ---------------------------------------------------------------------------


@pytest.mark.parametrize("place", [-0.9, -0.5, -0.13, 0.0, 0.31, 0.77, 1.0])
def test_smooth_weights_hold_lines_everywhere_and_parabolas_inside(place):
    """Cubic pieces with slopes by central differences are exact for parabolas."""
    points = np.linspace(-1.0, 1.0, 9)
    weights = smooth_weights(points, place)
    assert weights.sum() == pytest.approx(1.0)
    assert weights @ (2.0 - 3.0 * points) == pytest.approx(2.0 - 3.0 * place)
    if -0.75 <= place <= 0.75:
        assert weights @ points**2 == pytest.approx(place**2)


def test_smooth_weights_are_one_on_a_point_and_the_end_s_beyond_it():
    points = np.linspace(-2.0, 2.0, 5)
    for i, point in enumerate(points):
        np.testing.assert_allclose(smooth_weights(points, point), np.eye(5)[i], atol=1e-14)
    np.testing.assert_allclose(smooth_weights(points, 7.0), np.eye(5)[4])
    np.testing.assert_allclose(smooth_weights(points, -7.0), np.eye(5)[0])


def test_slopes_of_smooth_weights_go_on_over_a_point():
    points = np.linspace(0.0, 4.0, 5)
    values = np.array([1.0, -2.0, 0.5, 3.0, -1.0])
    for point in (1.0, 2.0, 3.0):
        slopes = [
            (smooth_weights(points, point + 1e-6 * side) @ values - values[int(point)])
            / (1e-6 * side)
            for side in (-1.0, 1.0)
        ]
        central = 0.5 * (values[int(point) + 1] - values[int(point) - 1])
        np.testing.assert_allclose(slopes, central, atol=1e-4)


def blown_table(thrusts=(3.0, 5.0)):
    """A table whose change is a known formula of folds, angles, roll rate and thrusts."""
    points = (np.array([-0.5, 0.0, 0.5]), np.array([-0.2, 0.3]))
    values = np.array([1.0, 2.0, -1.0])
    settings = [(a, b) for a in points[0] for b in points[1]]
    slipping = np.array(
        [np.multiply.outer(np.add.outer(ALPHAS, 2.0 * BETAS) + a + 3.0 * b, values).ravel()
         for a, b in settings]
    )  # fmt: skip
    rolling = np.array(
        [np.multiply.outer(np.add.outer(0.0 * ALPHAS, (1.0 + a) * ROLLS), values).ravel()
         for a, b in settings]
    )  # fmt: skip
    turning = np.array(
        [np.multiply.outer(np.multiply.outer(1.0 + ALPHAS, [4.0, 5.0]) * (1.0 + a), values).ravel()
         for a, b in settings]
    )  # fmt: skip
    rotors = np.arange(len(thrusts)) + 1.0
    blowing = np.array(
        [np.multiply.outer(np.multiply.outer(1.0 + ALPHAS, rotors) * (1.0 - b), values).ravel()
         for a, b in settings]
    )  # fmt: skip
    return SectionTable(points, slipping, rolling, turning, blowing, 10.0, np.array(thrusts),
                        stalls=True, values=3, agrees=True)  # fmt: skip


@pytest.mark.parametrize("thrusts", [(3.0, 5.0), ()])
def test_sections_change_loads_as_their_tables_say(thrusts):
    table = blown_table(thrusts)
    fold, alpha, beta, roll = (0.2, 0.1), 0.11, -0.2, 1.7
    found = table.values_at(
        table.form(np.array(fold)), alpha, beta, np.array([roll, -0.3, 0.5]),
        np.array([4.0, 4.5])[: len(thrusts)],
    )  # fmt: skip
    expected = alpha + 2.0 * beta + fold[0] + 3.0 * fold[1] + (1.0 + fold[0]) * roll
    expected += (1.0 + alpha) * (1.0 + fold[0]) * (-0.3 * 4.0 + 0.5 * 5.0)
    if thrusts:
        expected += (1.0 + alpha) * (1.0 - fold[1]) * (1.0 * 1.0 - 2.0 * 0.5)
        expected += (1.0 + alpha) * (1.0 - fold[1]) * 0.0
    np.testing.assert_allclose(found, expected * np.array([1.0, 2.0, -1.0]))


@pytest.mark.parametrize(
    ("count", "places"),
    [(3, [0, 1, 2]), (4, [0, 1, 2, 3]), (5, [0, 1, 3, 4]), (7, [0, 2, 4, 6]), (10, [0, 3, 6, 9])],
)
def test_at_most_four_folds_are_chosen_with_both_ends(count, places):
    assert tables._fewer(np.arange(count, dtype=float)).tolist() == places


BODIES = ("upper_left", "upper_right", "lower_left", "lower_right")


def test_mirrored_tips_change_sides():
    assert mirrored_tips(BODIES).tolist() == [1, 0, 3, 2]


def test_a_mirrored_section_table_swaps_tips_rotors_sideslip_and_roll():
    random = np.random.default_rng(3)
    shape = (len(ALPHAS), 5, 12)
    one = tables._Found(*(random.normal(size=shape) for _ in range(2)),
                        *(random.normal(size=(len(ALPHAS), 2, 12)) for _ in range(2)),
                        True)  # fmt: skip
    other = tables._mirrored(one, BODIES, np.array([1, 0]))
    signs = np.array([1, -1, 1, -1, 1, -1])
    for own, image in ((one.slipping, other.slipping), (one.rolling, other.rolling)):
        np.testing.assert_array_equal(image[..., :6], own[:, ::-1, :6] * signs)
        np.testing.assert_array_equal(image[..., 6:10], own[:, ::-1][..., [7, 6, 9, 8]])
        np.testing.assert_array_equal(image[..., 10:], own[:, ::-1, 10:])
    np.testing.assert_array_equal(other.blowing[:, 0, :6], one.blowing[:, 1, :6] * signs)
    # Pitch rate stays, yaw rate turns.
    np.testing.assert_array_equal(other.turning[:, 0, :6], one.turning[:, 0, :6] * signs)
    np.testing.assert_array_equal(other.turning[:, 1, :6], -one.turning[:, 1, :6] * signs)
    assert tables._mirrored(other, BODIES, np.array([1, 0])).agrees


# --- the air's table -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("low", "high", "count"), [(0.0, 10.0, 3), (-22.0, 0.0, 3), (-22.0, 0.1, 4), (-90.0, 20.0, 7)]
)
def test_one_point_more_for_each_22_degrees(low, high, count):
    points = FoldRange(low, high).points()
    np.testing.assert_allclose(points, chebyshev_points(low, high, count), atol=1e-9)
    assert (points[0], points[-1]) == (low, high)


@pytest.mark.parametrize(
    ("folds", "expected"),
    [([-10.0, 20.0], (-10.0, 20.0)), ([5.0], (4.0, 6.0)), ([5.0, 6.0], (4.5, 6.5)),
     ([-95.0, 30.0], (-90.0, 25.0)), ([25.0], (24.0, 25.0)), ([1.0, 3.0], (1.0, 3.0))],
)  # fmt: skip
def test_a_side_s_range_is_two_degrees_at_least_and_within_the_craft_s(folds, expected):
    found = fold_range(folds, (-90.0, 25.0))
    assert (found.low, found.high) == pytest.approx(expected)


def air(count=3):
    random = np.random.default_rng(5)
    points = (np.array([-0.4, 0.1, 0.6]), np.array([0.0, 0.25, 0.5]))
    nodes = len(angle_weights(0.1))
    pairs = np.array(np.triu_indices(10))
    table = random.normal(size=(9, 2 * nodes * pairs.shape[1] * 10))
    return AirTable(points, table, pairs, 10, BODIES)


def test_loads_are_density_times_a_form_of_the_motion():
    """rho z^T T z with T = T_0 + beta T_1 at the wake's angle: each product once, by hand."""
    table, random = air(), np.random.default_rng(6)
    motion, alpha, beta = random.normal(size=10), 0.12, -0.07
    folds = np.array([table.points[0][1], table.points[1][2]])
    row = table.table[1 * 3 + 2].reshape(2, -1, table.pairs.shape[1], 10)
    weights = angle_weights(alpha)
    own = np.einsum("a,apl->pl", weights, row[0]) + beta * np.einsum("a,apl->pl", weights, row[1])
    expected = sum(1.1 * motion[i] * motion[j] * own[n] for n, (i, j) in enumerate(table.pairs.T))
    found = table.form_loads(table.form(folds), motion, alpha, beta, 1.1)
    np.testing.assert_allclose(found, expected)
    assert table.wide == 10


def test_a_mirrored_setting_gives_mirrored_loads():
    """Mirrored motion and sideslip; each load with its sign, each hinge on the other side."""
    table, random = air(), np.random.default_rng(7)
    row = table.table[0]
    image = mirrored(row, BODIES)
    np.testing.assert_allclose(mirrored(image, BODIES), row)
    motion = random.normal(size=10)
    turned = np.concatenate([motion[:6] * MIRROR, motion[6:][[1, 0, 3, 2]]])
    own, other = (
        AirTable((np.zeros(1), np.zeros(1)), one[None, :], table.pairs, 10, BODIES)
        for one in (row, image)
    )
    still = np.zeros(2)
    before = own.form_loads(own.form(still), motion, 0.1, 0.05, 1.2)
    after = other.form_loads(other.form(still), turned, 0.1, -0.05, 1.2)
    np.testing.assert_allclose(after[:6], before[:6] * MIRROR)
    np.testing.assert_allclose(after[6:], before[6:][[1, 0, 3, 2]])


def test_a_table_is_held_against_a_setting_between_its_points():
    assert held_out(air()) == pytest.approx(np.degrees([-0.4 + 0.37 * 1.0, 0.71 * 0.5]))


# --- rotors --------------------------------------------------------------------------------------


def rotors(momenta=True):
    """Two rotors on either side that pull forward, one right-handed and one left-handed."""
    nodes = np.array([[0.0, 4.0, 8.0], [0.0, 5.0, 10.0]])
    axes = np.array([[1.0, 0.0, 0.0], [0.8, 0.0, 0.6]])
    places = np.array([[0.0, -0.5, 0.1], [0.2, 0.4, 0.0]])
    spins = np.array([1.0, -1.0])
    return RotorSet(
        ("a", "b"), axes, places, spins, np.array([0.0, 1.0]), np.array([8.0, 10.0]), nodes,
        np.array([[0.1, 0.3, 0.9], [0.0, 0.5, 1.5]]),
        np.array([[0.0, 2.0, 3.0], [1.0, 2.0, 4.0]]) if momenta else np.zeros((2, 3)),
        np.array([[0.5, 0.0, 0.0, -1.0], [0.5, 0.0, 0.0, 1.0]]),
        np.array([[-0.3, -0.2], [0.01, 0.02]]), np.array([[-0.1, -0.05], [0.01, 0.02]]),
        np.array([0.04, 0.06]),
    )  # fmt: skip


@pytest.mark.parametrize("thrusts", [(2.0, 6.0), (4.0, 5.0), (-1.0, 12.0)])
def test_rotors_push_and_turn_the_craft_against_their_spin(thrusts):
    """Torque by straight pieces: 0.1 + 0.05 T and 0.3 + 0.15 (T - 4), and 0.1 T, 0.5 + 0.2 (T - 5);
    the end pieces go on."""
    one, two = thrusts
    torque = (0.1 + 0.05 * one if one <= 4.0 else 0.3 + 0.15 * (one - 4.0),
              0.1 * two if two <= 5.0 else 0.5 + 0.2 * (two - 5.0))  # fmt: skip
    made = rotors()
    force = one * made.axes[0] + two * made.axes[1]
    moment = np.cross(made.places[0], one * made.axes[0]) + np.cross(
        made.places[1], two * made.axes[1]
    )
    moment = moment - torque[0] * made.axes[0] + torque[1] * made.axes[1]
    np.testing.assert_allclose(made.loads(np.array(thrusts)), np.concatenate([force, moment]))


def test_rotors_answer_the_air_in_a_straight_line():
    """dv by hand: (2, 0.3, -1), and what yaw at 0.5 rad/s moves the discs by; along the axes its x,
    and 0.8 x + 0.6 z. T' = -0.3 and -0.2, Q' = 0.01 and 0.02. At the ends a third and a quarter
    more, or less. Across the axes 0.04 and 0.06 times what is left, half of it more or less."""
    made = rotors()
    thrusts, change, rates = np.array([2.0, 6.0]), np.array([2.0, 0.3, -1.0]), np.array([0, 0, 0.5])
    by_hand = np.array([[2.0 + 0.5 * 0.5, 0.3, -1.0], [2.0 - 0.5 * 0.4, 0.3 + 0.5 * 0.2, -1.0]])
    met = made.met(change, rates)
    np.testing.assert_allclose(met, by_hand)
    along = np.array([2.25, 0.8 * 1.8 - 0.6])
    own = np.array([2.0 - 0.3 * along[0], 6.0 - 0.2 * along[1]])
    np.testing.assert_allclose(made.acting(thrusts, met), own)
    torques = np.array([0.2 + 0.01 * along[0], 0.7 + 0.02 * along[1]])
    across = [-0.04 * np.array([0.0, 0.3, -1.0]),
              -0.06 * np.array([1.8 - 0.8 * along[1], 0.4, -1.0 - 0.6 * along[1]])]  # fmt: skip
    pushed = own[:, None] * made.axes + np.array(across)
    force, moment = pushed.sum(axis=0), np.cross(made.places, pushed).sum(axis=0)
    moment = moment - torques[0] * made.axes[0] + torques[1] * made.axes[1]
    np.testing.assert_allclose(made.loads(thrusts, met), np.concatenate([force, moment]))
    ends = made.ends()
    for one, fins in zip(ends, ([0.06, 0.09], [0.02, 0.03]) * 2, strict=True):
        np.testing.assert_allclose(one.fins, fins)
    for one in ends[:2]:
        np.testing.assert_allclose(one.slopes, [[-0.4, -0.25], [0.02, 0.04]])
    for one in ends[2:]:
        np.testing.assert_allclose(one.slopes, [[-0.2, -0.15], [0.0, 0.0]])
    assert made.answers
    alone = replace(made, slopes=np.zeros((2, 2)))
    assert alone.answers
    assert not replace(alone, fins=np.zeros(2)).answers


def test_momentum_and_its_rate_follow_the_tables():
    made = rotors()
    thrusts, changes = np.array([6.0, 2.5]), np.array([2.0, -3.0])
    np.testing.assert_allclose(made.momentum(thrusts), 2.5 * made.axes[0] - 1.5 * made.axes[1])
    rate = 2.0 * 0.25 * made.axes[0] - (-3.0 * 0.2) * made.axes[1]
    np.testing.assert_allclose(made.momentum_rate(thrusts, changes), rate)
    turning = np.array([0.3, -0.2, 0.5])
    np.testing.assert_allclose(
        made.gyroscopic(thrusts, changes, turning),
        -rate - np.cross(turning, made.momentum(thrusts)),
    )
    outside = made.momentum_rate(np.array([-1.0, 11.0]), changes)
    np.testing.assert_array_equal(outside, 0.0)


def test_rotors_of_unknown_inertia_hold_no_momentum():
    none = rotors(momenta=False)
    assert (none.turns, rotors().turns) == (False, True)
    assert not none.gyroscopic(np.ones(2), np.ones(2), np.ones(3)).any()


@pytest.mark.parametrize(
    ("wanted", "supply", "expected"),
    [
        ([2.0, 0.0, 0.0, 0.0], 1.0, (5.0, 6.0)),
        # Yaw first: -3 of the first would leave less than none of it at 4 - 3.
        ([0.0, 0.0, 0.0, 3.0], 1.0, (1.0, 8.0)),
        ([0.0, 0.0, 0.0, 5.0], 1.0, (0.0, 9.0)),
        ([0.0, 0.0, 0.0, -5.0], 1.0, (8.0, 1.0)),
        ([20.0, 0.0, 0.0, 0.0], 1.0, (8.0, 9.0)),
        ([20.0, 0.0, 0.0, 1.0], 1.0, (7.0, 10.0)),
        ([0.0, 9.0, 9.0, 0.0], 1.0, (4.0, 5.0)),
        ([20.0, 0.0, 0.0, 0.0], 0.5, (2.0, 2.5)),
    ],
)
def test_thrusts_keep_to_their_limits_and_give_yaw_before_thrust(wanted, supply, expected):
    """Base 4 and 5 N, limits 0 to 8 and 1 to 10 N, which go with the voltage's square."""
    found = rotors().given(np.array([4.0, 5.0]), np.array(wanted), supply)
    np.testing.assert_allclose(found, expected)


def test_a_command_adds_to_the_thrusts_of_the_start():
    found = rotors().commanded(np.array([4.0, 5.0]), np.array([2.0, 7.0, 7.0, 0.5]))
    np.testing.assert_allclose(found, [4.5, 6.5])


# --- blends, gusts, tasks ------------------------------------------------------------------------


def blend():
    axes = (np.array([0.0, 1.0, 3.0]), np.radians([-30.0, 0.0, 30.0]), np.array([-2.0, 2.0]))
    grid = np.meshgrid(*axes, indexing="ij")
    base = 1.0 + 2.0 * grid[0] + 3.0 * grid[1] + 4.0 * grid[2]
    return SectionBlend(axes, base[..., None] * np.arange(1.0, 8.0), 10.0)


@pytest.mark.parametrize(
    ("place", "value"),
    [
        ((0.5, 2.0, 1.0), 1.0 + 1.0 + 3.0 * np.arcsin(0.2) + 4.0),
        ((2.5, -3.0, -1.0), 1.0 + 5.0 - 3.0 * np.arcsin(0.3) - 4.0),
        ((9.0, 0.0, 9.0), 1.0 + 6.0 + 8.0),
        ((-1.0, 50.0, -9.0), 1.0 + 3.0 * np.radians(30.0) - 8.0),
        ((1.0, -50.0, 2.0), 3.0 - 3.0 * np.radians(30.0) + 8.0),
    ],
)
def test_tables_of_sections_are_read_on_straight_lines(place, value):
    """Beyond the ends the nearest value holds; sideslip is asin(v/V)."""
    np.testing.assert_allclose(blend().wrench(*place), value * np.arange(1.0, 7.0))
    assert blend().stalled(*place) == pytest.approx(7.0 * value)


def test_without_sections_nothing_changes():
    none = SectionBlend((), None, 10.0)
    assert (none.wrench(0.0, 1.0, 1.0).tolist(), none.stalled(0.0, 1.0, 1.0)) == ([0.0] * 6, 0.0)


def test_a_step_from_starboard_blows_to_port():
    gust = gust_of("side", "step", 3.0, 0.5, 6.0, 12.0)
    assert gust.at(0.5).tolist() == [0.0, 0.0, 0.0]
    assert gust.at(0.51).tolist() == [0.0, -3.0, 0.0]
    assert gust.at(99.0).tolist() == [0.0, -3.0, 0.0]
    assert gust.rate_at(0.6).tolist() == [0.0, 0.0, 0.0]
    assert gust.instants == (0.5,)
    bump = gust_of("side", "one minus cosine", 3.0, 0.5, 6.0, 12.0)
    assert bump.instants == (0.5, 1.5)
    assert bump.at(0.75) == pytest.approx([0.0, -1.5, 0.0])


def task(**keys):
    start = SimpleNamespace(left_deg=-5.0, right_deg=7.0)
    return Task("t", 12.0, 4.0, start, **keys)


def test_instants_at_which_something_changes():
    target = SimpleNamespace(left_deg=1.0, right_deg=2.0)
    found = task(
        target=target, command_at=1.0, speed_to=15.0, speed_change=2.0, lets_go=(0.5, 9.0),
        battery_at=2.5, lost_at=0.0, gust=gust_of("side", "step", 3.0, 3.5, 6.0, 12.0),
    )  # fmt: skip
    assert found.instants == (0.5, 1.0, 2.5, 3.0, 3.5)
    assert task(command_at=1.0).instants == ()
    assert (found.frees(0), found.frees(1), task().frees(0)) == (True, False, False)


@pytest.mark.parametrize(
    ("time", "speed"), [(0.0, 12.0), (1.0, 12.0), (2.0, 13.5), (3.0, 15.0), (9.0, 15.0)]
)
def test_the_airspeed_reported_goes_on_a_straight_line(time, speed):
    made = task(command_at=1.0, speed_to=15.0, speed_change=2.0)
    assert made.wanted_airspeed(time) == pytest.approx(speed)
    assert task().wanted_airspeed(time) == 12.0


def test_folds_that_a_side_passes():
    target = SimpleNamespace(left_deg=1.0, right_deg=2.0)
    assert task(target=target).passed_folds(0) == [-5.0, 1.0]
    assert task(target=target).passed_folds(1) == [7.0, 2.0]
    schedule = (np.array([10.0, 20.0]), np.radians([-30.0, 5.0]))
    made = task(schedule=schedule, jams={1: np.radians(3.0)})
    assert made.passed_folds(0) == pytest.approx([-5.0, -30.0, 5.0])
    assert made.passed_folds(1) == pytest.approx([7.0, -30.0, 5.0, 3.0])
    assert [round(f.left_deg, 9) for f in made.commanded] == [-30.0, 5.0]
    assert task(target=target).commanded == (target,)
    assert task().commanded == ()
