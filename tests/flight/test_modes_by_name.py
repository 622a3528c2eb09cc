"""Names, criteria and aids of modes, and roots of level flight and of steady roll, by hand.

Sources beside each check; all numbers are invented.
"""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from vlm.description import load_biplane
from vlm.flight.craft import level, steady_roll
from vlm.flight.craft.folding_craft import FoldingCraft
from vlm.flight.craft.level import LevelFlight, level_flight, small_motion
from vlm.flight.craft.small_motions import OpenMotion
from vlm.flight.motion import aid, modes
from vlm.flight.motion.aid import SPIRAL_GROWTH, AidBoundary, _Aided, _Roots
from vlm.flight.motion.modes import Mode
from vlm.lattice.cellule import Grid


def mode(root, *parts, name=""):
    return Mode(name, complex(root), parts or (0.25,) * 4)


def test_numbers_of_a_pair_and_of_a_real_root():
    """Root -0.6 + 0.8j: size 1, damping 0.6; it halves in ln 2 over 0.6 seconds."""
    pair = mode(-0.6 + 0.8j)
    assert (pair.frequency, pair.damping, pair.oscillates) == (1.0, 0.6, True)
    assert pair.period == pytest.approx(2.0 * np.pi / 0.8)
    assert pair.half_time == pytest.approx(np.log(2.0) / 0.6)
    assert (pair.double_time, pair.settles) == (None, True)
    grows = mode(0.5)
    assert (grows.damping, grows.period, grows.half_time, grows.settles) == (
        -1.0,
        None,
        None,
        False,
    )
    assert grows.double_time == pytest.approx(np.log(2.0) / 0.5)
    still = mode(0.0)
    assert (still.damping, still.half_time, still.double_time, still.settles) == (
        0.0,
        None,
        None,
        False,
    )


@pytest.mark.parametrize(
    ("root", "parts", "name"),
    [
        (-1 + 2j, (0.1, 0.3, 0.3, 0.3), "short period"),
        (-1 + 2j, (0.3, 0.1, 0.29, 0.31), "phugoid"),
        (-1 + 2j, (0.2, 0.25, 0.25, 0.3), "speed-and-pitch oscillation"),
        (-1, (0.2, 0.25, 0.25, 0.3), "pitch subsidence"),
        (1, (0.2, 0.25, 0.25, 0.3), "pitch divergence"),
        (-1, (0.21, 0.25, 0.24, 0.3), "speed subsidence"),
        (1, (0.6, 0.1, 0.1, 0.2), "speed divergence"),
    ],
)
def test_longitudinal_modes_by_their_shares(root, parts, name):
    """Shares of u, w, q and theta; 60 % for a pair, half for a real root."""
    assert modes._longitudinal_name(mode(root, *parts)) == name


@pytest.mark.parametrize(
    ("root", "parts", "name"),
    [
        (-1 + 2j, (0.4, 0.2, 0.2, 0.2), "Dutch roll"),
        (-1 + 2j, (0.2, 0.3, 0.4, 0.1), "Dutch roll"),
        (-1 + 2j, (0.2, 0.5, 0.1, 0.2), "rolling oscillation"),
        (-1 + 2j, (0.1, 0.1, 0.5, 0.3), "spiral oscillation"),
        (-1 + 2j, (0.26, 0.47, 0.25, 0.02), "rolling oscillation"),
        (-1, (0.2, 0.3, 0.3, 0.2), "spiral"),
        (1, (0.2, 0.3, 0.3, 0.2), "spiral"),
        (-1, (0.3, 0.3, 0.2, 0.2), "roll subsidence"),
        (1, (0.2, 0.5, 0.2, 0.1), "roll divergence"),
        (-1, (0.4, 0.3, 0.2, 0.1), "sideslip subsidence"),
        (1, (0.4, 0.3, 0.2, 0.1), "sideslip divergence"),
    ],
)
def test_lateral_modes_by_their_shares(root, parts, name):
    """Shares of v, p, r and phi."""
    assert modes._lateral_name(mode(root, *parts)) == name


def test_roots_of_a_matrix_fastest_first_with_their_errors():
    """A pair -0.5 +- 2j beside -3 and 0.1; of a diagonal entry the error is the entry's own."""
    matrix = np.zeros((4, 4))
    matrix[0, 0], matrix[3, 3] = -3.0, 0.1
    matrix[1:3, 1:3] = [[-0.5, 2.0], [-2.0, -0.5]]
    change = np.zeros((4, 4))
    change[0, 0], change[1, 1], change[2, 2] = 0.7, 0.2, 0.4
    found = modes._modes(matrix, change)
    assert [m.root for m in found] == pytest.approx([-3.0, -0.5 + 2.0j, 0.1])
    assert [m.growth_error for m in found] == pytest.approx([0.7, 0.3, 0.0])
    np.testing.assert_allclose(found[0].participation, [1, 0, 0, 0], atol=1e-12)
    np.testing.assert_allclose(found[1].participation, [0, 0.5, 0.5, 0], atol=1e-12)


@pytest.mark.parametrize(
    ("one", "kept"),
    [
        (mode(-0.2 + 2.0j), True), (mode(-0.14 + 0.5j), False), (mode(-0.16 + 0.4j), True),
        (mode(-0.16 + 2.1j), False), (mode(-0.3 + 0.2j), False), (mode(-0.01), True),
        (mode(0.01), False), (mode(0.99 * SPIRAL_GROWTH, name="spiral"), True),
        (mode(1.01 * SPIRAL_GROWTH, name="spiral"), False),
    ],
)  # fmt: skip
def test_criteria_of_lateral_modes(one, kept):
    """MIL-F-8785C, level 1, cruise (from memory): damping 0.08, 0.4 rad/s, product 0.15; spiral
    doubling in 20 s."""
    assert aid._acceptable(one) == kept
    assert pytest.approx(np.log(2.0) / 20.0) == SPIRAL_GROWTH


def boundary(plain, accepted):
    """x'' + c x' + k x = 0 aided in both, as a matrix of four states of which two stand."""

    def matrix(k, c):
        found = np.diag([0.0, 0.0, -5.0, -6.0])
        found[:2, :2] = [[0.0, 1.0], [-k, -c]]
        return found

    base = matrix(*plain)
    made = _Aided(base, matrix(1.0, 0.0) - matrix(0.0, 0.0), matrix(0.0, 1.0) - matrix(0.0, 0.0))
    return aid._boundary(made, 1.0, accepted)


def test_the_least_damping_of_an_oscillator_is_that_of_its_ratio():
    """zeta = c/(2 sqrt(k)) = 0.3: c = 0.6 sqrt(k), within a 256th of the step tried."""

    def accepted(matrices):
        k, c = -matrices[:, 1, 0], -matrices[:, 1, 1]
        return c >= 0.6 * np.sqrt(k)

    found = boundary((0.0, 0.0), accepted)
    assert found.stiffness == pytest.approx(np.linspace(0.0, 12.0, 41) ** 2)
    assert found.damping[0] == 0.0
    np.testing.assert_allclose(found.damping[1:], 0.6 * np.sqrt(found.stiffness[1:]), rtol=0.004)
    assert (found.damping[1:] >= 0.6 * np.sqrt(found.stiffness[1:]) - 1e-12).all()
    assert not found.is_needed
    never = boundary((0.0, 0.0), lambda m: m[:, 1, 1] < -24.1)
    assert np.isnan(never.damping).all()
    assert never.is_needed
    assert never.least() is None
    some = AidBoundary(np.array([0.0, 1.0, 2.0]), np.array([np.nan, 0.5, 0.2]))
    assert some.least() == (1.0, 0.5)


@pytest.mark.parametrize(
    ("roots", "fast", "accepted"),
    [
        ([-1 + 2j, -1 - 2j, -0.1 + 0.2j, -0.1 - 0.2j], [1, 1, 0, 0], True),
        ([-0.5 + 2j, -0.5 - 2j, -0.1, 0.03], [1, 1, 0, 0], False),
        ([-1 + 2j, -1 - 2j, -0.1, 0.04], [1, 1, 0, 0], False),
        ([-1 + 2j, -1 - 2j, -0.1, 0.03], [1, 1, 0, 0], True),
        ([-5.0, -1.0, -0.1, -0.2], [1, 1, 0, 0], True),
        ([-5.0, -1 + 0.5j, -1 - 0.5j, 0.01], [1, 1, 1, 0], True),
        ([-5.0, 1.0, -0.1, -0.2], [1, 1, 0, 0], False),
    ],
)  # fmt: skip
def test_criteria_of_longitudinal_roots(monkeypatch, roots, fast, accepted):
    """The two fastest, a pair whole, are damped by 0.3; others grow no faster than a spiral."""
    found = _Roots.of([roots])
    assert aid._fast(found)[0].astype(int).tolist() == fast
    monkeypatch.setattr(np.linalg, "eigvals", lambda matrices: np.array([roots], dtype=complex))
    assert aid._pitch_accepted(np.zeros((1, 4, 4)))[0] == accepted


def test_roots_of_many_matrices():
    found = _Roots.of([[-3.0 + 4.0j, -3.0 - 4.0j, 2.0, 0.0]])
    assert found.real[0].tolist() == [-3.0, -3.0, 2.0, 0.0]
    assert found.frequency[0].tolist() == [5.0, 5.0, 2.0, 0.0]
    assert found.damping[0] == pytest.approx([0.6, 0.6, -1.0, 0.0])
    assert found.oscillates[0].tolist() == [True, True, False, False]


# --- roots of level flight and of steady roll -----------------------------------------------------


@pytest.mark.parametrize("place", [-0.3, -0.01, 0.05, 0.2, 0.4])
def test_newton_s_method_finds_where_rising_lift_carries(place):
    """Force down less the weight's part falls with the angle; a little curved."""
    found = level._newton(lambda a: 30.0 * (place - a) + 5.0 * (place - a) ** 2)
    assert found == pytest.approx(place, abs=1e-9)


def test_no_angle_within_25_degrees_or_on_falling_lift_is_none():
    assert level._newton(lambda a: 30.0 * (0.45 - a)) is None
    assert level._newton(lambda a: 30.0 * (-0.45 - a)) is None
    assert level._newton(lambda a: 30.0 * (a - 0.1)) is None
    assert level._newton(lambda a: 0.0 * a + 1.0) is None
    assert level._newton(lambda a: 30.0 * (0.1 - a), 0.3) == pytest.approx(0.1)


@pytest.mark.parametrize(
    ("excess", "place"),
    [(lambda a: np.cos(20.0 * (a + 0.3)), -0.3 + np.pi / 40.0), (lambda a: 1.0 + 0.0 * a, None),
     (lambda a: np.where(a < 0.1, 1.0, np.nan), None), (lambda a: 0.123 - a, 0.123)],
)  # fmt: skip
def test_the_lowest_angle_that_carries(excess, place):
    found = level._first_crossing(excess)
    assert found == (None if place is None else pytest.approx(place, abs=1e-9))


def test_lift_is_the_force_across_the_stream():
    """Body axes, z down: L = -Z cos + X sin."""
    flight = LevelFlight(12.0, 1.2, 1.0, 0.3, 2.0, np.array([1.5, 0, -20.0, 0, 0, 0]), np.zeros(8))
    assert flight.lift == pytest.approx(20.0 * np.cos(0.3) + 1.5 * np.sin(0.3))
    assert flight.dynamic_pressure == pytest.approx(86.4)


def test_airspeeds_tried_where_one_is_too_low():
    """Of three digits."""
    expected = [12.6, 13.2, 14.4, 16.2, 18.0, 21.0, 24.0, 30.0, 36.0, 48.0]
    assert level.higher_airspeeds(12.0) == expected


def test_the_axis_of_roll_is_the_direction_of_flight():
    np.testing.assert_allclose(steady_roll.roll_axis(0.3), [np.cos(0.3), 0.0, np.sin(0.3)])


@pytest.mark.parametrize("after", [1, 4, 10])
def test_a_root_between_two_values_of_a_table(after):
    rates = np.linspace(0.0, 5.0, 11)
    place = 0.5 * (rates[after - 1] + rates[after]) + 0.07

    def rolling(at):
        at = np.asarray(at)
        return 2.0 * (place - at) + 0.3 * (place - at) ** 3

    found = steady_roll._root(rolling, rates, rolling(rates), after)
    assert found == pytest.approx(place, abs=1e-8)
    broken = np.where(np.arange(11) == after - 1, rolling(rates), np.nan)
    broken[after] = rolling(rates)[after]
    assert steady_roll._root(rolling, rates, broken, after) == pytest.approx(place, abs=1e-7)


def craft_that_rolls(moment, damping, cubic=0.0):
    """Rolling moment m - d p - c p^3 about the body's x axis."""
    turn = np.zeros(8)
    turn[3] = 1.0

    def wrenches(motions, density):
        rates = motions[:, 3]
        found = np.zeros((len(motions), 6))
        found[:, 3] = moment - damping * rates - cubic * rates**3
        return found

    flight = SimpleNamespace(
        motion=np.zeros(8), density=1.2, wrench=np.array([0, 0, -20.0, 0, 0, 0])
    )
    return SimpleNamespace(wrenches=wrenches), flight, turn


@pytest.mark.parametrize(
    ("moment", "damping", "scale", "rate"),
    [(2.0, 1.0, 6.0, 2.0), (-2.0, 1.0, -6.0, -2.0), (2.0, 1.0, -6.0, 2.0), (0.0, 1.0, 6.0, 0.0),
     (2.0, 0.1, 6.0, None), (0.2, 1.0, 0.01, 0.2)],
)  # fmt: skip
def test_the_first_rate_at_which_damping_balances(moment, damping, scale, rate):
    craft, flight, turn = craft_that_rolls(moment, damping)
    found = steady_roll._balanced_rate(craft, flight, turn, 0.0, scale)
    assert found == (None if rate is None else pytest.approx(rate, abs=1e-7))
    more = steady_roll._balanced_rate(craft, flight, turn, 0.5, 6.0)
    assert rate is None or more == pytest.approx((moment + 0.5) / damping, abs=1e-7)


def off(one, error):
    return replace(one, growth_error=error)


@pytest.mark.parametrize(
    ("errors", "needed"),
    [
        # A spiral that doubles in 34 s and a Dutch roll damped with 0.2: both are kept as they are.
        ((0.0, 0.0), False),
        ((0.01, 0.03), False),
        ((0.02, 0.03), None),  # the spiral may double in less than 20 s
        ((0.01, 0.06), None),  # the oscillation's product may be less than 0.15
        ((np.nan, 0.0), None),
    ],
)
def test_whether_control_is_needed_is_known_only_beyond_the_errors(errors, needed):
    modes = mode(0.02, name="spiral"), mode(-0.2 + 1.0j)
    judged = [(off(one, e), aid._acceptable) for one, e in zip(modes, errors, strict=True)]
    assert aid.known_to_fail(judged) is needed


@pytest.mark.parametrize(("error", "needed"), [(0.1, True), (0.4, None), (np.nan, None)])
def test_one_mode_that_fails_for_sure_is_enough(error, needed):
    """It grows with 0.3 1/s; of the other nothing is known."""
    judged = [(off(mode(0.3), error), aid._acceptable), (mode(-1.0), aid._acceptable)]
    assert aid.known_to_fail(judged) is needed


@pytest.mark.parametrize("seed", [1, 2, 3, 4])
def test_draws_within_the_half_widths_do_as_is_said(seed):
    """Rates of a craft shifted at random: where control is needed for sure, all fail, and so on."""
    random = np.random.default_rng(seed)
    folding = FoldingCraft(load_biplane("winnow"), Grid(2, 8))
    craft = folding.symmetric(float(random.uniform(*folding.range_deg)))
    flight = level_flight(craft, float(random.uniform(12.0, 18.0)), 1.225)
    assert flight is not None
    motion = small_motion(craft, flight)
    change = 0.02 * np.abs(motion.rates[:, :6])
    for needed, accepted in (
        (aid.yaw_is_needed(OpenMotion(motion, change)), aid.lateral_is_acceptable),
        (aid.pitch_is_needed(OpenMotion(motion, change)), aid.pitch_is_acceptable),
    ):
        drawn = []
        for _ in range(40):
            rates = motion.rates.copy()
            rates[:, :6] += change * random.uniform(-1.0, 1.0, (6, 6))
            drawn.append(accepted(replace(motion, rates=rates)))
        if needed is not None:
            assert set(drawn) == {not needed}
