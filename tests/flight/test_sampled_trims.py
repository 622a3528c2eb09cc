"""Samples of inputs trimmed on tables that are known, by hand.

No source but what is put in: parabolas, straight lines and tables; all invented.
"""

from types import SimpleNamespace

import numpy as np
import pytest

from vlm.flight.trim import power_samples
from vlm.flight.trim.power_samples import INPUTS, LoadTable, SampledCurve, _stencil, sampled_point
from vlm.flight.trim.sampled_speeds import (
    interval,
    interval_bands,
    sampled_crossing,
    sampled_fastest,
    sampled_least,
    sampled_slowest,
)
from vlm.flight.trim.special_speeds import SpecialSpeeds, SpeedLimit
from vlm.flight.trim.trim import climbing_turn, gravity_direction
from vlm.study.power.study import PowerStudy


@pytest.mark.parametrize(("percent", "ends"), [(90.0, (5.0, 95.0)), (50.0, (25.0, 75.0))])
def test_an_interval_is_the_middle_of_what_is_known(percent, ends):
    samples = np.r_[np.arange(101.0), np.nan, np.inf]
    assert interval(samples, percent) == pytest.approx(ends)
    low, high = interval_bands(np.column_stack((samples, 2.0 * samples)), percent)
    np.testing.assert_allclose([low, high], np.outer(ends, [1.0, 2.0]))
    assert np.isnan(interval(np.array([np.nan]), percent)).all()


SPEEDS = np.array([8.0, 10.0, 12.0, 14.0, 16.0])


@pytest.mark.parametrize(
    ("values", "allowed", "place", "size"),
    [
        # 100 + (V - 11.4)^2 through 10, 12, 14: its own vertex.
        (100.0 + (SPEEDS - 11.4) ** 2, "11111", 11.4, 100.0),
        # Only from 12 on: the vertex lies at most one step before the least that is allowed.
        (100.0 + (SPEEDS - 11.4) ** 2, "00111", 11.4, 100.0),
        (100.0 + (SPEEDS - 11.4) ** 2, "00100", 12.0, 100.36),
        # A straight line falls to its end.
        (200.0 - SPEEDS, "11111", 16.0, 184.0),
        # A neighbour 1.5 times as high is on another branch: the three from the least on count.
        ([200.0, 150.0, 100.0, 104.0, 116.0], "11111", 12.0, 100.0),
        ([200.0, 139.0, 100.0, 104.0, 116.0], "11111", 12.0 + 35.0 / 43.0, None),
        ([np.nan] * 5, "11111", np.nan, np.nan),
        ([1.0] * 5, "00000", np.nan, np.nan),
    ],
)
def test_the_least_of_a_sample_is_a_parabola_s_vertex(values, allowed, place, size):
    kept = np.array([[one == "1" for one in allowed]])
    speed, value = sampled_least(SPEEDS, np.array([values], dtype=float), kept)
    assert speed[0] == pytest.approx(place, nan_ok=True)
    if size is not None:
        assert value[0] == pytest.approx(size, nan_ok=True)


def sampled(**fields):
    return SampledCurve(**{**dict.fromkeys(power_samples.MEASURED), **fields})


def test_no_least_power_is_taken_from_a_stalled_trim_whose_sample_is_not_stalled():
    """The table of a stalled trim knows nothing of the end of stall: at 8 m/s it leads to 60 W."""
    power = np.array([[60.0, 101.0, 99.0, 101.0, 107.0], [140.0, 103.0, 101.0, 103.0, 109.0]])
    margins = np.array([[0.01, 0.02, 0.03, 0.04, 0.05], [-0.02, 0.01, 0.02, 0.03, 0.04]])
    least = SimpleNamespace(value=lambda key: 102.0)
    study = SimpleNamespace(
        speeds=SPEEDS,
        sampled={"a": sampled(power=power, margin=np.ones_like(power), stall_margin=margins)},
        special={"a": SpecialSpeeds(
            12.0, 13.0, 9.0, 0.0, SpeedLimit(), 15.0, SpeedLimit(), least, None)},
        curves={"a": SimpleNamespace(
            values=lambda key: np.array([-1.0, 0.5, 1.0, 2.0, 3.0]), stall_known=np.ones(5, bool))},
    )  # fmt: skip
    found = PowerStudy.special_samples(study, "a")
    # 99 and 101 W at 12 m/s, shifted alike so that their median stands at what the craft draws.
    np.testing.assert_allclose(found["least_power_W"], [101.0, 103.0])
    np.testing.assert_allclose(found["least_power_speed_m_s"], 12.0)
    wide = ends(10.0, 0.02, 12.0, 0.03), ends(10.0, 0.01, 12.0, 0.02)
    assert np.ptp(found["slowest_on_wings_m_s"]) == pytest.approx(wide[1] - wide[0])


def ends(slow: float, low: float, fast: float, high: float) -> float:
    """Where a margin a - b / U^2 through two of its values is zero: lift, and so the wings' angle
    of level flight, goes with one over the square of the airspeed."""
    b = (high - low) / (slow**-2 - fast**-2)
    return float(np.sqrt(b / (low + b / slow**2)))


@pytest.mark.parametrize(
    ("margins", "slowest"),
    [
        # From 12 on it is kept, and its two lowest values tell where it ends.
        ([-9.0, -9.0, 2.0, 5.0, 8.0], ends(12.0, 2.0, 14.0, 5.0)),
        # An earlier stretch does not count.
        ([5.0, -9.0, 2.0, 5.0, 8.0], ends(12.0, 2.0, 14.0, 5.0)),
        # A margin that hardly rises: no lower than half.
        ([-9.0, -9.0, 20.0, 20.1, 21.0], 6.0),
        ([-9.0, -9.0, 5.0, 4.0, 3.0], 12.0),
        ([-9.0, -9.0, -9.0, -9.0, 3.0], 16.0),
        ([-9.0, -9.0, 3.0, np.nan, -1.0], 12.0),
        ([5.0, -1.0, -1.0, -1.0, -1.0], np.nan),
        ([-1.0] * 5, np.nan),
        ([1.0, 2.0, 3.0, 4.0, 5.0], ends(8.0, 1.0, 10.0, 2.0)),
        ([0.0, 2.0, 3.0, 4.0, 5.0], 8.0),
    ],
)
def test_the_slowest_unstalled_airspeed_of_a_sample(margins, slowest):
    found = sampled_slowest(SPEEDS, sampled(stall_margin=np.array([margins])))
    assert found[0] == pytest.approx(slowest, nan_ok=True)


@pytest.mark.parametrize(
    ("margins", "fastest"),
    [
        ([1.0, 1.0, 0.3, -0.9, -2.0], 12.5), ([1.0, 1.0, 0.0, -0.9, -2.0], 12.0),
        ([1.0, -1.0, 0.5, -0.5, -2.0], 13.0), ([1.0, 1.0, 0.3, 0.2, 0.1], np.nan),
        ([1.0, 1.0, 0.3, np.nan, -2.0], np.nan), ([-1.0] * 5, np.nan),
    ],
)  # fmt: skip
def test_the_fastest_airspeed_of_a_sample_lies_where_its_margin_ends(margins, fastest):
    found = sampled_fastest(SPEEDS, sampled(margin=np.array([margins])))
    assert found[0] == pytest.approx(fastest, nan_ok=True)


def test_of_a_sample_s_crossings_the_nearest_counts():
    apart = np.array([[1.0, -1.0, -3.0, 1.0, 2.0], [1.0, 2.0, 3.0, 4.0, 5.0]])
    one, other = sampled(power=apart + 7.0), sampled(power=np.full((2, 5), 7.0))
    assert sampled_crossing(SPEEDS, one, other, 9.5)[0] == pytest.approx(9.0)
    assert sampled_crossing(SPEEDS, one, other, 13.0)[0] == pytest.approx(13.5)
    assert np.isnan(sampled_crossing(SPEEDS, one, other, 13.0)[1])


def test_a_stencil_steps_each_unknown_up_and_down_and_each_pair_up():
    states, pairs = _stencil(np.array([[1.0, 2.0, 3.0]]), np.array([0.1, 0.2, 0.3]))
    expected = [
        [0, 0, 0], [0.1, 0, 0], [0, 0.2, 0], [0, 0, 0.3], [-0.1, 0, 0], [0, -0.2, 0], [0, 0, -0.3],
        [0.1, 0.2, 0], [0.1, 0, 0.3], [0, 0.2, 0.3],
    ]  # fmt: skip
    np.testing.assert_allclose(states, np.array([1.0, 2.0, 3.0]) + np.array(expected))
    assert pairs == [(0, 1), (0, 2), (1, 2)]
    assert len(_stencil(np.zeros(1), np.ones(1))[0]) == 3


def load_table(problem=None, **changes):
    random = np.random.default_rng(4)
    bend = random.normal(size=(8, 2, 2))
    values = {
        "problem": problem, "speed": 12.0, "climb_angle": 0.0, "unknown": np.array([0.1, 0.2]),
        "value": random.normal(size=8), "slope": random.normal(size=(8, 2)),
        "curve": bend + np.swapaxes(bend, 1, 2), "profile": random.normal(size=6),
        "profile_slope": random.normal(size=(6, 2)), "body": random.normal(size=6),
        "lift": random.normal(size=8), "stalled": random.normal(size=8),
    }  # fmt: skip
    return LoadTable(**{**values, **changes})


def factors(**changes):
    return np.array([[changes.get(name, 1.0) for name in INPUTS]])


def test_a_table_of_loads_is_a_series_to_the_second_order():
    """Value, slopes and half of the curvatures; inputs scale their own part alone."""
    table, change = load_table(), np.array([[0.3, -0.2]])
    x = change[0]
    plain = table.value + table.slope @ x + 0.5 * np.einsum("pij,i,j->p", table.curve, x, x)
    value, slope = table.at(change, factors())
    np.testing.assert_allclose(value[0], plain)
    np.testing.assert_allclose(slope[0], table.slope + table.curve @ x)
    parts = {
        "profile_drag": np.r_[table.profile + table.profile_slope @ x, 0, 0],
        "drag_area": np.r_[table.body, 0, 0], "lift_maximum": table.lift,
        "post_stall": table.stalled,
    }  # fmt: skip
    for name, part in parts.items():
        np.testing.assert_allclose(
            table.at(change, factors(**{name: 1.2}))[0][0], plain + 0.2 * part
        )
    for name in ("mass", "efficiency", "rotor_power", "fixed_load"):
        np.testing.assert_allclose(table.at(change, factors(**{name: 1.2}))[0][0], plain)
    step, drag = np.array([[1e-6, 0.0]]), factors(profile_drag=1.5)
    by_step = (table.at(change + step, drag)[0] - table.at(change - step, drag)[0]) / 2e-6
    _, slope = table.at(change, factors(profile_drag=1.5))
    np.testing.assert_allclose(slope[0, :, 0], by_step[0], atol=1e-6)


class _Problem(SimpleNamespace):
    """A craft of one rotor ahead that lifts 40 N/rad; no lean."""

    unknowns, leans, weight = 2, False, 10.0
    equations, scales = (0, 2), np.full(6, 10.0)

    def split(self, unknown):
        return unknown[:, 0], np.zeros(len(unknown)), unknown[:, 1:] * self.weight


def one_rotor(**changes):
    rotor = {"thrust_max_N": None, "thrust_min_N": 0.0, "power_max_W": None}
    drive = {
        "motor_efficiency": 0.8, "controller_efficiency": 0.9, "fixed_load_W": 5.0,
        "power_max_W": None, "braking": "spent",
    }  # fmt: skip
    rotors = (SimpleNamespace(**{k: changes.get(k, v) for k, v in rotor.items()}),)
    if "limit_W" in changes:
        drive["power_max_W"] = changes["limit_W"]
    craft = SimpleNamespace(rotors=rotors, propulsion=SimpleNamespace(**drive), idle_power=None,
                            axes=np.array([[-1.0, 0.0, 0.0]]))  # fmt: skip
    # Axes x aft, z up: thrust pulls forward, drag is 2 N, lift 40 N/rad of the body angle.
    slope = np.zeros((8, 2))
    slope[2, 0], slope[0, 1] = 40.0, -10.0
    slope[6, 1] = 10.0 * 12.0  # shaft power: thrust times airspeed
    slope[7, 0] = -1.0
    value = np.array([2.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.25])
    flat = np.zeros(6)
    return LoadTable(
        _Problem(craft=craft), 12.0, 0.0, np.zeros(2), value, slope, np.zeros((8, 2, 2)),
        np.array([1.0, 0, 0, 0, 0, 0]), np.zeros((6, 2)), flat, np.zeros(8), np.zeros(8),
    )  # fmt: skip


def by_hand(weight=10.0, drag=2.0):
    """40 theta = W cos theta, T = D + W sin theta (gravity along +x with the nose up)."""
    from scipy.optimize import brentq

    theta = brentq(lambda a: 40.0 * a - weight * np.cos(a), 0.0, 1.0)
    return theta, drag + weight * np.sin(theta)


@pytest.fixture
def plain_power(monkeypatch):
    def power(drive, shafts, idle, efficiency, fixed_load):
        return shafts.sum(axis=1) / efficiency + fixed_load

    monkeypatch.setattr(power_samples, "electrical_power", power)


@pytest.mark.parametrize(
    ("changed", "weight", "drag", "rotor", "share", "fixed"),
    [
        ({}, 10.0, 2.0, 1.0, 1.0, 5.0), ({"mass": 1.1}, 11.0, 2.0, 1.0, 1.0, 5.0),
        ({"profile_drag": 1.3}, 10.0, 2.3, 1.0, 1.0, 5.0),
        ({"rotor_power": 1.2}, 10.0, 2.0, 1.2, 1.0, 5.0),
        ({"efficiency": 0.9}, 10.0, 2.0, 1.0, 0.9, 5.0),
        ({"efficiency": 1.5}, 10.0, 2.0, 1.0, 1.0 / 0.72, 5.0),
        ({"fixed_load": 2.0}, 10.0, 2.0, 1.0, 1.0, 10.0),
    ],
)  # fmt: skip
def test_a_sample_is_trimmed_and_its_power_follows(
    plain_power, changed, weight, drag, rotor, share, fixed
):
    """An efficiency is never more than one."""
    table = one_rotor(thrust_max_N=9.0, power_max_W=100.0, limit_W=200.0)
    found = sampled_point(table, factors(**changed))
    theta, thrust = by_hand(weight, drag)
    shaft = 12.0 * thrust * rotor
    electric = shaft / (0.72 * share) + fixed
    assert found.power[0] == pytest.approx(electric, rel=1e-6)
    assert found.stall_margin[0] == pytest.approx(0.25 - theta, abs=1e-6)
    assert found.body_angle[0] == pytest.approx(theta, abs=1e-6)
    assert found.thrust[0] == pytest.approx(thrust, rel=1e-6)
    # Lift up less drag down, of the wings alone.
    carried = (40.0 * theta * np.cos(theta) - drag * np.sin(theta)) / weight
    assert found.wing_share[0] == pytest.approx(carried, rel=1e-6)
    margins = (thrust / 9.0, 1.0 - thrust / 9.0, 1.0 - shaft / 100.0, 1.0 - electric / 200.0)
    assert found.margin[0] == pytest.approx(min(margins), abs=1e-6)


@pytest.mark.parametrize(
    ("limits", "margin"),
    [
        ({"thrust_max_N": 9.0}, lambda t: min(1.0 - t / 9.0, t / 9.0)),
        ({"thrust_min_N": 4.0}, lambda t: (t - 4.0) / t),
        ({"power_max_W": 60.0}, lambda t: min(1.0 - 12.0 * t / 60.0, 1.0)),
        ({"limit_W": 80.0}, lambda t: 1.0 - (12.0 * t / 0.72 + 5.0) / 80.0),
        ({}, lambda t: 1.0),
    ],
)
def test_the_nearest_limit_of_a_sample_is_its_margin(plain_power, limits, margin):
    """Of thrust over the highest, or over itself without one; of power over the limit."""
    found = sampled_point(one_rotor(**limits), factors())
    assert found.margin[0] == pytest.approx(margin(by_hand()[1]), abs=1e-6)


def test_a_sample_without_a_balance_has_no_value(plain_power):
    table = one_rotor()
    flat = table.slope.copy()
    flat[2, 0] = 1.0  # a wing that cannot lift the weight within reach of the steps
    found = sampled_point(
        LoadTable(**{**vars(table), "slope": flat, "value": table.value - 1e3 * np.eye(8)[2]}),
        factors(),
    )
    assert np.isnan([own[0] for own in vars(found).values()]).all()


@pytest.mark.parametrize(
    ("theta", "lean", "down"),
    [(0.0, 0.0, [0, 0, -1]), (np.pi / 2, 0.0, [1, 0, 0]), (0.0, np.pi / 2, [0, 1, 0])],
)
def test_gravity_points_aft_of_a_raised_nose(theta, lean, down):
    """Geometry axes, x aft, y starboard, z up: a unit vector of every attitude."""
    found = gravity_direction(np.array([theta, 0.3]), np.array([lean, -0.4]))
    np.testing.assert_allclose(found[0], down, atol=1e-15)
    assert np.linalg.norm(found[1]) == pytest.approx(1.0)
    assert found[1][0] == pytest.approx(np.sin(0.3) * np.cos(0.4))


def test_a_leaning_climb_turns_the_body_by_more():
    """sin(theta - alpha) cos(lean) = sin(climb)."""
    found = climbing_turn(np.array([0.2, 0.2, 1.5]), np.array([0.0, 0.6, 1.2]))
    assert found[0] == pytest.approx(0.2)
    assert np.sin(found[1]) * np.cos(0.6) == pytest.approx(np.sin(0.2))
    assert found[2] == pytest.approx(np.pi / 2.0)
