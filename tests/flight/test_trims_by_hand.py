"""Special airspeeds, samples of curves, rows of folds and pairs of tips on curves that are known.

No source but what is put in: parabolas, straight lines and tables written out; all invented.
"""

from types import SimpleNamespace

import numpy as np
import pytest

from vlm.flight.motion import roll_pairs, roll_response
from vlm.flight.motion.roll_pairs import _first_crossing, _first_on_rays, _reach, _travel
from vlm.flight.motion.roll_response import RollResponse, YawAid
from vlm.flight.plan import fold_row
from vlm.flight.trim import power_samples, special_speeds
from vlm.flight.trim.power_samples import INPUTS, LoadTable, SampledCurve, _stencil, sampled_point
from vlm.flight.trim.sampled_speeds import (
    interval,
    interval_bands,
    sampled_crossing,
    sampled_fastest,
    sampled_least,
    sampled_slowest,
)
from vlm.flight.trim.special_speeds import least, speeds_at_body_angle
from vlm.flight.trim.trim import climbing_turn, gravity_direction
from vlm.sides import Side

# --- samples -----------------------------------------------------------------------------------


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
    return SampledCurve(**{**dict.fromkeys(("power", "stall_margin", "margin")), **fields})


@pytest.mark.parametrize(
    ("margins", "slowest"),
    [
        # From 12 on it is kept, with a rise of 1.5 a metre a second.
        ([-9.0, -9.0, 2.0, 5.0, 8.0], 12.0 - 2.0 / 1.5),
        # An earlier stretch does not count.
        ([5.0, -9.0, 2.0, 5.0, 8.0], 12.0 - 2.0 / 1.5),
        # A margin that hardly rises: no lower than half.
        ([-9.0, -9.0, 20.0, 20.1, 21.0], 6.0),
        ([-9.0, -9.0, 5.0, 4.0, 3.0], 12.0),
        ([-9.0, -9.0, -9.0, -9.0, 3.0], 16.0),
        ([-9.0, -9.0, 3.0, np.nan, -1.0], 12.0),
        ([5.0, -1.0, -1.0, -1.0, -1.0], np.nan),
        ([-1.0] * 5, np.nan),
        ([1.0, 2.0, 3.0, 4.0, 5.0], 8.0 - 2.0),
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
    by_step = (table.at([*change, [1e-06, 0.0]], factors(profile_drag=1.5))[0]
               - table.at(change - [[1e-6, 0.0]], factors(profile_drag=1.5))[0]) / 2e-6  # fmt: skip
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
    craft = SimpleNamespace(rotors=rotors, propulsion=SimpleNamespace(**drive), idle_power=None)
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
    assert np.isnan([found.power[0], found.stall_margin[0], found.margin[0]]).all()


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


# --- special airspeeds of a curve that is known --------------------------------------------------


class _Point(SimpleNamespace):
    def value(self, key):
        return self.values[key]


class _Curve:
    """Points at airspeeds from given functions of it."""

    problem = None

    def __init__(self, speeds, power=None, stall=None, margin=None, angle=None, trims=1):
        self.speeds = np.array(speeds, dtype=float)
        self._power = power or (lambda v: 100.0 + (v - 11.3) ** 2)
        self._stall, self._margin = stall or (lambda v: 5.0), margin or (lambda v: 1.0)
        self._angle, self._trims = angle or (lambda v: 0.0), trims
        self.points = [self.at(v) for v in self.speeds]
        self.asked = []

    @property
    def allowed(self):
        return np.array([p.is_allowed for p in self.points])

    def values(self, key):
        return np.array([p.values[key] for p in self.points])

    def at(self, speed):
        power, margin = self._power(speed), self._margin(speed)
        values = {
            "electrical_power_W": power, "consumption_Wh_km": power / (3.6 * max(speed, 1e-9)),
            "stall_margin_deg": self._stall(speed), "body_angle_deg": self._angle(speed),
        }  # fmt: skip
        measures = SimpleNamespace(limit="highest thrust" if margin < 0.0 else "")
        return _Point(
            speed=speed, values=values, margin=margin, is_allowed=margin >= 0.0, trims=self._trims,
            trim=object(), measures=measures, limit=measures.limit,
        )  # fmt: skip


@pytest.fixture
def no_pitch_trim(monkeypatch):
    monkeypatch.setattr(special_speeds, "equal_margins", lambda problem, trim: {})


@pytest.mark.parametrize("trims", [1, 2])
def test_least_power_and_least_energy_of_a_parabola(trims):
    """(V - 11.3)^2 + 100 is least at 11.3; over V at sqrt(11.3^2 + 100)."""
    curve = _Curve([8.0, 10.0, 12.0, 14.0, 16.0, 18.0], trims=trims)
    assert least(curve, "electrical_power_W").speed == pytest.approx(11.3, abs=0.01)
    far = least(curve, "consumption_Wh_km").speed
    assert far == pytest.approx(np.sqrt(11.3**2 + 100.0), abs=0.08)


def test_the_least_lies_at_an_end_or_where_it_is_allowed():
    curve = _Curve(SPEEDS, power=lambda v: 200.0 - v)
    assert least(curve, "electrical_power_W").speed == pytest.approx(16.0, abs=0.02)
    barred = _Curve(SPEEDS, power=lambda v: 200.0 - v, margin=lambda v: 13.0 - v)
    assert 12.0 <= least(barred, "electrical_power_W").speed <= 13.0
    assert least(_Curve(SPEEDS, margin=lambda v: -1.0), "electrical_power_W") is None


@pytest.mark.parametrize(
    ("margin", "slowest", "fastest", "limits"),
    [
        (lambda v: min(v - 9.1, 15.3 - v), 9.1, 15.3, ("highest thrust", "highest thrust")),
        (lambda v: 15.3 - v, 8.0, 15.3, (special_speeds.NOT_REACHED, "highest thrust")),
        (lambda v: v - 9.1, 9.1, np.nan, ("highest thrust", special_speeds.NOT_REACHED)),
        (lambda v: -1.0, np.nan, np.nan, ("highest thrust", "highest thrust")),
    ],
)
def test_airspeeds_end_where_a_margin_does(no_pitch_trim, margin, slowest, fastest, limits):
    found = special_speeds.special_speeds(_Curve(SPEEDS, margin=margin))
    assert found.slowest == pytest.approx(slowest, abs=0.01, nan_ok=True)
    assert found.fastest == pytest.approx(fastest, abs=0.01, nan_ok=True)
    assert (str(found.slowest_limit), str(found.fastest_limit)) == limits


def test_of_two_stretches_the_faster_one_counts(no_pitch_trim):
    curve = _Curve(SPEEDS, margin=lambda v: abs(v - 10.4) - 1.0)
    found = special_speeds.special_speeds(curve)
    assert found.slowest == pytest.approx(11.4, abs=0.01)
    hover = special_speeds.special_speeds(_Curve([0.0, 5.0, 10.0], margin=lambda v: 7.0 - v))
    assert (hover.slowest, str(hover.slowest_limit)) == (0.0, "")


@pytest.mark.parametrize(("equal", "told"), [(0.1, True), (0.0, True), (-0.1, False)])
def test_a_limit_by_pitch_trim_is_one_that_equal_thrusts_keep(monkeypatch, equal, told):
    monkeypatch.setattr(
        special_speeds, "equal_margins", lambda problem, trim: {"highest thrust": equal}
    )
    found = special_speeds.special_speeds(_Curve(SPEEDS, margin=lambda v: 15.3 - v))
    assert found.fastest_limit.by_pitch_trim == told
    assert str(found.fastest_limit) == "highest thrust" + (", by pitch trim" if told else "")


@pytest.mark.parametrize(
    ("stall", "slowest"),
    [
        (lambda v: v - 11.2, 11.2), (lambda v: 3.0, 8.0), (lambda v: -3.0, np.nan),
        (lambda v: abs(v - 10.4) - 1.0, 11.4), (lambda v: v - 15.0, 15.0),
    ],
)  # fmt: skip
def test_the_slowest_on_the_wings_is_where_no_strip_stalls(no_pitch_trim, stall, slowest):
    found = special_speeds.special_speeds(_Curve(SPEEDS, stall=stall)).slowest_on_wings
    assert found == pytest.approx(slowest, abs=0.01, nan_ok=True)


@pytest.mark.parametrize(
    ("angle", "asked", "found"),
    [
        (lambda v: 20.0 - v, 7.5, [12.5]), (lambda v: 20.0 - v, 8.0, [12.0]),
        (lambda v: (v - 12.3) ** 2, 4.0, [10.3, 14.3]), (lambda v: 20.0 - v, 13.0, []),
        (lambda v: 20.0 - v, 12.0, [8.0]), (lambda v: 20.0 - v, 4.0, [16.0]),
        # A jump of the body over the angle is no airspeed of that angle.
        (lambda v: 60.0 if v < 11.0 else 0.0, 30.0, []),
    ],
)  # fmt: skip
def test_airspeeds_of_a_body_angle(angle, asked, found):
    curve = _Curve(SPEEDS, angle=angle)
    assert speeds_at_body_angle(curve, asked) == pytest.approx(found, abs=0.01)


def test_one_airspeed_alone_has_no_special_ones():
    found = special_speeds.special_speeds(_Curve([10.0]))
    assert np.isnan([found.least_power, found.slowest, found.fastest]).all()
    assert str(found.fastest_limit) == special_speeds.ONE_ASKED


# --- a row of folds ------------------------------------------------------------------------------


def setting(fold, values, joined=False):
    return SimpleNamespace(
        fold_deg=fold, values=np.array(values, dtype=float), power=values[0], is_joined=joined,
        speed=12.0,
    )  # fmt: skip


class _Keeps:
    """The second quantity is the margin itself, the third one's size less one another."""

    def power(self, values):
        return values[:, 0]

    def margins(self, folds, values, speed):
        return {"plain": values[:, 1], "size": np.abs(values[:, 2]) - 1.0}


def row(solved, **keys):
    made = [setting(f, (100.0 + 0.5 * f, 2.0 - 0.1 * f, 0.2 * f)) for f in solved]
    return fold_row.read_row(_Keeps(), made, **keys)


def test_between_solved_folds_lines_are_lines_and_quarters_are_read():
    found = row([-10.0, -5.0, 0.0, 5.0, 10.1])
    np.testing.assert_allclose(found.folds, np.r_[np.arange(-10.0, 10.1, 0.25), 10.1])
    np.testing.assert_allclose(found.power, 100.0 + 0.5 * found.folds)
    np.testing.assert_allclose(found.margins["plain"], 2.0 - 0.1 * found.folds, atol=1e-12)
    np.testing.assert_allclose(found.margins["size"], np.abs(0.2 * found.folds) - 1.0, atol=1e-12)
    kept = (np.abs(found.folds) >= 5.0 - 1e-6) & (found.folds <= 20.0)
    np.testing.assert_array_equal(found.inside, kept)


def test_how_far_a_row_may_bend_unseen_grows_with_the_square_of_the_step():
    """0.02 (step/30)^2 of the size in the middle, nothing at the solved folds."""
    x = np.array([0.0, 30.0, 40.0])
    found = fold_row._unseen(x, np.array([0.0, 7.5, 15.0, 30.0, 35.0, 40.0]))
    np.testing.assert_allclose(found, [0, 0.015, 0.02, 0, 0.02 / 9.0, 0], atol=1e-15)
    assert fold_row._unseen(np.array([3.0]), np.array([3.0])).tolist() == [0.0]


def test_room_and_hopes_of_a_row_hold_what_may_bend():
    """Power's size is its median, a quantity's its range."""
    found = row([0.0, 30.0], folds=np.array([0.0, 15.0, 30.0]))
    np.testing.assert_allclose(found.room, [0.0, 0.02 * 107.5, 0.0], atol=1e-12)
    np.testing.assert_allclose(found.hopes["plain"], [2.0, 0.5 + 0.02 * 3.0, -1.0], atol=1e-12)
    np.testing.assert_array_equal(found.perhaps, [False, True, False])


def test_a_margin_of_zero_is_kept_and_one_below_is_not():
    margins = {"a": np.array([0.0, -1e-10, -1e-8, 1.0])}
    power = np.array([1.0, 1.0, 1.0, np.nan])
    none = np.zeros(4)
    found = fold_row.RowReading(none, power, none, none, margins, margins)
    assert found.inside.tolist() == [True, True, False, False]
    assert found.perhaps.tolist() == [True, True, False, False]


def test_nothing_is_read_across_a_fold_without_a_trim_or_with_tips_that_touch():
    nan = np.nan
    made = [setting(0.0, (1.0, 0.0)), setting(5.0, (2.0, 0.0)), setting(10.0, (nan, nan)),
            setting(15.0, (3.0, 0.0)), setting(20.0, (9.0, 0.0), joined=True)]  # fmt: skip
    runs = [[s.fold_deg for s in run] for run in fold_row._runs(made)]
    assert runs == [[0.0, 5.0], [15.0], [20.0]]


def test_five_settings_are_read_by_local_cubics_and_fewer_by_monotone_ones():
    from scipy.interpolate import Akima1DInterpolator, PchipInterpolator

    x, y = np.arange(6.0), np.array([[0.0], [0.1], [0.0], [4.0], [4.1], [3.9]])
    folds = np.linspace(0.0, 5.0, 21)
    for count, first in ((6, Akima1DInterpolator(x, y, axis=0, method="makima")),
                         (5, Akima1DInterpolator(x[:5], y[:5], axis=0, method="makima")),
                         (4, PchipInterpolator(x[:4], y[:4], axis=0))):  # fmt: skip
        inside = folds[folds <= x[count - 1]]
        both = fold_row._cubics(x[:count], y[:count], inside)
        np.testing.assert_allclose(both[0], first(inside))
        np.testing.assert_allclose(both[1], PchipInterpolator(x[:count], y[:count], axis=0)(inside))


def test_a_quantity_that_is_known_at_some_folds_is_read_between_those_alone():
    x = np.arange(5.0)
    y = np.column_stack((x, [np.nan, 2.0, 4.0, np.nan, 8.0], np.full(5, np.nan)))
    folds = np.array([0.5, 1.0, 1.5, 2.0, 2.5, 4.0])
    for found in fold_row._interpolated(x, y, folds):
        np.testing.assert_allclose(found[:, 0], folds)
        np.testing.assert_allclose(found[:, 1], [np.nan, 2.0, 3.0, 4.0, np.nan, 8.0])
        assert np.isnan(found[:, 2]).all()


# --- rolling -------------------------------------------------------------------------------------


def roll_map(moment=lambda a, b: 0.1 * (b - a)):
    folds = np.linspace(-20.0, 30.0, 11)
    port, starboard = np.meshgrid(folds, folds, indexing="ij")
    return SimpleNamespace(
        base_deg=0.0, left_deg=folds, right_deg=folds,
        values={"rolling_moment_N_m": moment(port, starboard)},
    )  # fmt: skip


@pytest.mark.parametrize(
    ("direction", "reach"),
    [
        ((1.0, 0.0), 30.0),
        ((-1.0, 0.0), 20.0),
        ((0.6, 0.8), 37.5),
        ((-0.8, 0.6), 25.0),
        ((0.0, -1.0), 20.0),
    ],
)
def test_a_ray_ends_at_the_map_s_edge(direction, reach):
    assert _reach(roll_map(), np.array(direction)) == pytest.approx(reach)


@pytest.mark.parametrize(
    ("values", "place"),
    [
        ([-2.0, -1.0, 1.0, 3.0], 1.5),
        ([-2.0, 0.0, 1.0, -3.0], 1.0),
        ([1.0, 2.0, 3.0, 4.0], None),
        ([-3.0, -2.0, -1.0, -0.5], None),
        ([-1.0, np.nan, 1.0, 2.0], None),
        ([-3.0, -2.0, -1.0, 3.0], 2.25),
    ],
)
def test_where_values_first_rise_to_zero(values, place):
    found = _first_crossing(np.arange(4.0), np.array(values))
    assert found == (None if place is None else pytest.approx(place))


def test_rays_reach_a_moment_where_it_stands(monkeypatch):
    """A moment of 0.1 (starboard - port) N m is 1 N m on the line starboard = port + 10."""
    monkeypatch.setattr(
        roll_pairs, "interpolated", lambda grid, name, port, starboard: 0.1 * (starboard - port)
    )
    found = np.array(_first_on_rays(roll_map(), 1.0))
    assert len(found) > 50
    np.testing.assert_allclose(found[:, 1] - found[:, 0], 10.0, atol=1e-6)
    assert found.min() >= -20.0 - 1e-6
    assert found.max() <= 30.0 + 1e-6
    assert [0.0, 10.0] in found.round(9).tolist()
    assert [-10.0, 0.0] in found.round(9).tolist()


def test_travel_is_the_furthest_swing_of_a_tip():
    grid = SimpleNamespace(base_deg=5.0)
    assert [_travel(grid, 2.0, 6.0), _travel(grid, 4.0, -9.0)] == [3.0, 14.0]


@pytest.mark.parametrize(
    ("slip", "rate", "moment"),
    [(0.1, 0.0, 0.2), (0.0, 0.5, -1.5), (0.1, 0.5, -1.3), (9.0, 0.0, 2.5), (0.0, 9.0, -2.0)],
)
def test_rotors_yaw_with_the_slip_and_against_the_rate_within_their_limits(slip, rate, moment):
    assert YawAid(2.0, 3.0, -2.0, 2.5).moment(slip, rate) == pytest.approx(moment)


def response(bank):
    times = np.arange(len(bank), dtype=float)
    none = np.zeros(len(bank))
    return RollResponse(times, np.array(bank, dtype=float), none, none, none,
                        {Side.PORT: none, Side.STARBOARD: none}, none, none)  # fmt: skip


@pytest.mark.parametrize(
    ("bank", "asked", "time"),
    [([0.0, 0.2, 0.6, 0.4], 0.5, 1.75), ([0.0, -0.2, -0.6], -0.5, 1.75), ([0.0, 0.2], -0.1, None),
     ([0.0, 0.2], 0.3, None), ([0.3, 0.4], 0.2, 0.0), ([0.0, 0.2, 0.6], 0.2, 1.0)],
)  # fmt: skip
def test_when_a_bank_is_first_reached(bank, asked, time):
    assert response(bank).time_to(asked) == (None if time is None else pytest.approx(time))


def test_rows_over_time_keep_their_ends_and_follow_monotone_cubics():
    from scipy.interpolate import PchipInterpolator

    times, rows = [0.0, 1.0, 3.0, 4.0], np.array([[0.0, 1.0], [2.0, 1.0], [3.0, -4.0], [3.0, 0.0]])
    curve = roll_response._Curve(times, list(rows))
    own = PchipInterpolator(times, rows)
    for time in (0.0, 0.3, 1.0, 2.9, 3.5, 4.0):
        np.testing.assert_allclose(curve(time), own(time), atol=1e-14)
    np.testing.assert_allclose(curve(9.0), rows[-1], atol=1e-14)
    still = roll_response._Curve([2.0], [np.array([5.0, 6.0])])
    for time in (0.0, 2.0, 7.0):
        np.testing.assert_allclose(still(time), [5.0, 6.0])
