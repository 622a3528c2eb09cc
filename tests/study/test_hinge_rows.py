"""Jammed tips, play, stops and control aids, as rows with their half-widths: by hand.

No source but the rules stated in the modules; what is flown and solved is put in, all invented.
"""

from types import SimpleNamespace

import numpy as np
import pytest

from vlm.description.folds import FoldAngles
from vlm.errors import ComputationFailed, InputRefused
from vlm.flight.craft.modelling import Modelling
from vlm.flight.motion.aid import AidBoundary
from vlm.flight.motion.roll_authority import Air
from vlm.show.tables.hinge import _held
from vlm.study.hinge import faults as hinge_faults
from vlm.study.hinge import moves as hinge_moves
from vlm.study.hinge.results import HeldMoment
from vlm.study.lateral import modes as modes_study
from vlm.verdicts import SIGN_NOT_KNOWN

AIR = Air(14.0, 1.1)
PLAN = SimpleNamespace(air=AIR, grid="grid", folds_deg=(-30.0, 0.0))


@pytest.fixture(autouse=True)
def _plain_widths(monkeypatch):
    def width(fine, rough, size, grid):
        assert grid == "grid"
        return 0.5 * np.abs(np.asarray(fine) - rough) + 0.1 * np.asarray(size)

    monkeypatch.setattr(hinge_faults, "half_width", width)
    monkeypatch.setattr(modes_study, "half_width", width)


# --- jammed tips and play ------------------------------------------------------------------------


def jammed_craft(monkeypatch, alpha=0.0, rate=0.2):
    """Moments of 4 and -2 N m in roll and yaw; the coarser lattice's 3 and -2.5."""
    wrench = np.array([0, 0, 0, 4.0, 9.0, -2.0])
    flight = SimpleNamespace(
        alpha=alpha, wrench=wrench, motion=None, thrust=1.5, stall_margin=np.radians(3.0)
    )
    monkeypatch.setattr(hinge_faults, "level_flight", lambda craft, speed, density: flight)
    monkeypatch.setattr(hinge_faults, "moment_spread", lambda *_: np.array([0.1, 7.0, 0.2]))
    monkeypatch.setattr(hinge_faults, "stalled_moments", lambda *_: np.array([0.3, 7.0, 0.0]))
    monkeypatch.setattr(hinge_faults, "steady_roll_rate", lambda *_: rate)
    rough = SimpleNamespace(
        wrench=lambda motion, density: (
            np.array([0, 0, 0, 3.0, 9.0, -2.5]) if density == 1.1 else None
        )
    )
    folding = SimpleNamespace(
        at=lambda folds: "craft", craft=SimpleNamespace(rotors=(), propulsion=None, mass=None)
    )
    return folding, SimpleNamespace(at=lambda folds: rough)


def reach(most):
    return SimpleNamespace(either_way=most)


def test_what_a_jammed_tip_makes_the_rotors_hold(monkeypatch):
    """Without an angle of attack roll and yaw are the body's: widths 0.5 + 0.4 + 0.1 + 0.3 and
    0.25 + 0.2 + 0.2."""
    folding, rough = jammed_craft(monkeypatch)
    full = SimpleNamespace(rotors=SimpleNamespace(roll=reach(5.4), yaw=reach(2.6)))
    row = hinge_faults._jammed_row(
        folding, rough, PLAN, FoldAngles(-30.0, 0.0), full, {"roll": 0.05}
    )
    assert (row.roll.moment_N_m, row.yaw.moment_N_m) == pytest.approx((4.0, -2.0))
    assert (row.roll.half_width_N_m, row.yaw.half_width_N_m) == pytest.approx((1.3, 0.65))
    assert (row.roll.rotors_N_m, row.yaw.rotors_N_m) == (5.4, 2.6)
    assert row.roll.held == "the rotors hold it"
    assert (row.roll.rotors_half_width_N_m, row.yaw.rotors_half_width_N_m) == (0.05, None)
    open_ = hinge_faults._jammed_row(
        folding, rough, PLAN, FoldAngles(-30.0, 0.0), full, {"roll": 0.2}
    )
    assert open_.roll.held == "sign not known"  # 5.4 less 4.0 is less than 1.3 and 0.2
    assert row.yaw.held not in ("the rotors hold it", "more than the rotors can")
    assert row.roll_rate_unheld_deg_s == pytest.approx(np.degrees(0.2))
    assert (row.thrust_N, row.stall_margin_deg) == (1.5, pytest.approx(3.0))
    alone = hinge_faults._jammed_row(folding, rough, PLAN, FoldAngles(-30.0, 0.0), None, {})
    assert alone.roll.held == "no rotors in the file"
    assert alone.roll.rotors_N_m is None


def test_moments_are_about_the_direction_of_flight(monkeypatch):
    """At 30 degrees: roll 4 cos 30 - 2 sin 30, yaw -4 sin 30 - 2 cos 30; spreads add in full."""
    folding, rough = jammed_craft(monkeypatch, np.radians(30.0), None)
    row = hinge_faults._jammed_row(folding, rough, PLAN, FoldAngles(-30.0, 0.0), None, {})
    c, s = 0.75**0.5, 0.5
    roll, yaw = 4 * c - 2 * s, -4 * s - 2 * c
    assert (row.roll.moment_N_m, row.yaw.moment_N_m) == pytest.approx((roll, yaw))
    coarse = 3 * c - 2.5 * s, -3 * s - 2.5 * c
    widths = (
        0.5 * abs(roll - coarse[0]) + 0.1 * roll + 0.4 * c + 0.2 * s,
        0.5 * abs(yaw - coarse[1]) + 0.1 * abs(yaw) + 0.4 * s + 0.2 * c,
    )
    assert (row.roll.half_width_N_m, row.yaw.half_width_N_m) == pytest.approx(widths)
    assert row.roll_rate_unheld_deg_s is None
    assert row.alpha_deg == pytest.approx(30.0)


@pytest.mark.parametrize(
    ("most", "words"),
    [(5.01, "the rotors hold it"), (2.99, "more than the rotors can"), (4.5, None), (3.5, None)],
)
def test_whether_rotors_hold_a_moment_is_known_beyond_its_half_width(most, words):
    found = hinge_faults._held(-4.0, 1.0, most)
    if words is None:
        assert found not in ("the rotors hold it", "more than the rotors can")
    else:
        assert found == words


@pytest.mark.parametrize(
    ("rotors", "trims", "words"),
    [
        ((), True, "no rotors in the file"),
        ((1,), False, "rotors not known without [propulsion]"),
        ((1,), True, "rotors find no level flight there"),
    ],
)
def test_why_it_is_not_known_what_the_rotors_can(monkeypatch, rotors, trims, words):
    monkeypatch.setattr(hinge_faults, "has_trim", lambda craft: trims)
    assert hinge_faults._why_unknown(SimpleNamespace(rotors=rotors)) == words


def test_a_jam_that_may_or_may_not_be_held_says_so():
    """Words by the fields of the row; the ± of the moment reaches across what rotors can."""
    sure = HeldMoment(0.5, 0.1, 2.0, "the rotors hold it")
    assert _held(sure) == "the rotors hold it (2.0 N m)"
    open_to = HeldMoment(1.9, 0.5, 2.0, SIGN_NOT_KNOWN)
    assert _held(open_to) == "not known whether the rotors hold it (2.0 N m)"


@pytest.mark.parametrize(
    ("limits", "jams"),
    [((-30.0, 0.0), [-30.0]), ((-30.0, 20.0), [-30.0, 20.0]), ((0.0, 20.0), [20.0])],
)
def test_tips_jam_at_the_ends_of_their_range(monkeypatch, limits, jams):
    monkeypatch.setattr(hinge_faults, "has_trim", lambda craft: False)
    monkeypatch.setattr(hinge_faults, "FlightConditions", lambda *_: None)
    monkeypatch.setattr(
        hinge_faults, "_jammed_row",
        lambda folding, rough, plan, folds, full, spans: (folds.left_deg, folds.right_deg, full),
    )  # fmt: skip
    found = hinge_faults.jammed(None, SimpleNamespace(range_deg=limits), None, PLAN)
    assert found == tuple((jam, 0.0, None) for jam in jams)


def point(roll, yaw, rate):
    return {"rolling_moment_N_m": roll, "yawing_moment_N_m": yaw, "roll_rate_deg_s": rate,
            "Cl": 0.01 * roll}  # fmt: skip


@pytest.mark.parametrize(
    ("fold", "middle"), [(0.0, 0.0), (19.5, 19.0), (-89.9, -89.0), (19.0, 19.0)]
)
def test_free_play_sets_one_side_up_and_the_other_down(monkeypatch, fold, middle):
    """Of 2 degrees: 1 to either side of the middle, which stays that far inside the limits. The
    worse of both senses counts; its yaw keeps its sign against the roll."""
    asked = []

    def solved(folding, folds, air, base):
        asked.append((folds.left_deg, folds.right_deg, base))
        return point(-3.0, 0.5, -8.0) if folds.left_deg > folds.right_deg else point(2.0, 0.4, 5.0)

    monkeypatch.setattr(hinge_faults, "setting_point", solved)
    monkeypatch.setattr(hinge_faults, "flown", lambda folding, folds, air: folds.left_deg)
    folding = SimpleNamespace(range_deg=(-90.0, 20.0))
    actuator = SimpleNamespace(backlash_deg=2.0)
    row = hinge_faults.backlash(folding, actuator, fold, AIR)
    assert asked == [(middle + 1, middle - 1, middle), (middle - 1, middle + 1, middle)]
    assert (row.rolling_moment_N_m, row.yawing_moment_N_m) == (3.0, -0.5)
    assert (row.roll_rate_deg_s, row.Cl, row.fold_deg) == (8.0, pytest.approx(0.03), fold)
    monkeypatch.setattr(hinge_faults, "setting_point", lambda *_: "surfaces cross")
    assert "cannot be built" in hinge_faults.backlash(folding, actuator, fold, AIR).reason

    def refuse(*_):
        raise ComputationFailed("too slow")

    monkeypatch.setattr(hinge_faults, "flown", refuse)
    assert hinge_faults.backlash(folding, actuator, fold, AIR).reason == "too slow"


def test_where_hinges_give_way(monkeypatch):
    seen = []

    def divergence(rates_at, side, low, high):
        seen.append((side, low, high, rates_at(14.0)))
        return SimpleNamespace(airspeed=40.0, searched=90.0, symmetric=False)

    monkeypatch.setattr(hinge_faults, "divergence", divergence)
    monkeypatch.setattr(
        hinge_faults, "hinge_rates",
        lambda loads, alpha, speed, density: np.array([[1.0, 0.2], [0.2, 1.0]]) * density * alpha,
    )  # fmt: skip
    monkeypatch.setattr(hinge_faults, "level_flight", lambda *_: SimpleNamespace(alpha=0.5))
    monkeypatch.setattr(hinge_faults, "side_stiffness", lambda loads, stiffness: 2.0 * stiffness)
    engine = SimpleNamespace(loads=lambda folds: None)
    folding = SimpleNamespace(symmetric=lambda fold: None)
    row = hinge_faults._divergence_row(engine, folding, -10.0, AIR, 3.0, 99.0)
    assert (row.airspeed_m_s, row.searched_to_m_s, row.tips_move) == (40.0, 90.0, "apart")
    assert row.hinge_stiffness_N_m_rad == 6.0
    # Eigenvalues 1.2 and 0.8 of the pattern, by 1.1 and 0.5.
    assert row.air_stiffness_N_m_rad == pytest.approx(-1.2 * 0.55)
    assert seen[0][:3] == (6.0, 14.0, 99.0)
    monkeypatch.setattr(hinge_faults, "level_flight", lambda *_: None)
    row = hinge_faults._divergence_row(engine, folding, -10.0, AIR, 3.0, 99.0)
    assert row.air_stiffness_N_m_rad == 0.0
    monkeypatch.setattr(hinge_faults, "divergence", lambda *_: None)
    row = hinge_faults._divergence_row(engine, folding, -10.0, AIR, 3.0, 99.0)
    assert "cannot turn by itself" in row.reason
    none = SimpleNamespace(hinge_stiffness_N_m_rad=None)
    assert hinge_faults.divergences(None, folding, none, PLAN) == ()


# --- moves and stops ----------------------------------------------------------------------------


def test_a_folding_row_counts_both_sides():
    done = SimpleNamespace(
        time=0.5, energy=3.0, work=1.0, peak_torque=0.2,
        slowest=SimpleNamespace(end_speed=np.radians(50.0), stalls_at=None),
    )  # fmt: skip
    row = hinge_moves._folding(done)
    assert (row.time_s, row.energy_all_servos_J, row.work_on_tips_J) == (0.5, 6.0, 2.0)
    assert (row.peak_torque_N_m, row.end_speed_deg_s) == (0.2, pytest.approx(50.0))
    assert row.stalls_at_deg is None
    done.slowest.stalls_at = np.radians(-20.0)
    assert hinge_moves._folding(done).stalls_at_deg == pytest.approx(-20.0)


BODIES = ("upper_left", "lower_left", "upper_right", "lower_right")


def stop(monkeypatch, servos, limit=10.0, stiffness=5.0, time=0.4, widths=None):
    """Steady moments -1, 2, -1, 2 N m; speeds 1 rad/s of each servo and 0.5 of a second one; lower
    tips turn half as fast as their side. Inertias 1 and 3."""
    steady = dict(zip(BODIES, (-1.0, 2.0, -1.0, 2.0), strict=True))
    lattice = SimpleNamespace(
        fold_rates={b: 1.0 if b.startswith("upper") else 0.5 for b in BODIES},
        hinges=dict.fromkeys(BODIES, "line"),
    )
    parts = {b: 1.0 if b.startswith("upper") else 3.0 for b in BODIES}
    craft = SimpleNamespace(
        loads=SimpleNamespace(lattice=lattice), masses=SimpleNamespace(parts=parts)
    )
    monkeypatch.setattr(hinge_moves, "level_flight", lambda *_: "flight")
    monkeypatch.setattr(
        hinge_moves, "hinge_half_widths",
        lambda *_: widths or dict(zip(BODIES, (0.1, 0.2, 0.1, 0.2), strict=True)),
    )  # fmt: skip
    monkeypatch.setattr(hinge_moves, "hinge_moments", lambda craft, flight, rate: steady)
    monkeypatch.setattr(hinge_moves, "steady_moment", lambda one: one)
    monkeypatch.setattr(hinge_moves, "tip_inertia", lambda part, line: part)
    monkeypatch.setattr(
        hinge_moves, "stopping_shock",
        lambda speed, stiffness, inertia: speed * stiffness * inertia,
    )  # fmt: skip
    folding = SimpleNamespace(
        symmetric=lambda fold: craft, engine=SimpleNamespace(cellule="cellule")
    )
    actuator = SimpleNamespace(hinge_stiffness_N_m_rad=stiffness, hinge_moment_limit_N_m=limit)
    done = SimpleNamespace(
        time=time, servos=[SimpleNamespace(end_speed=s) for s in (1.0, 0.5)[:servos]]
    )
    return hinge_moves._stop((folding, folding), actuator, AIR, -30.0, done)


def test_the_worst_hinge_where_the_worm_stops_the_tips(monkeypatch):
    """One servo: upper 1 + 5 + 0.1, lower 2 + 0.5 x 5 x 3 + 0.2 = 9.7. With one for each tip the
    second moves at half the speed: lower 2 + 3.75 + 0.2 = 5.95, so that the upper is worst."""
    one = stop(monkeypatch, 1)
    assert one.hinge == "lower_left"
    assert (one.steady_N_m, one.shock_N_m, one.peak_N_m) == pytest.approx((2.0, 7.5, 9.5))
    assert (one.half_width_N_m, one.share_of_hinge_limit) == pytest.approx((0.2, 0.97))
    assert one.tip_speed_deg_s == pytest.approx(np.degrees(0.5))
    two = stop(monkeypatch, 2)
    assert two.hinge == "upper_left"
    assert (two.steady_N_m, two.shock_N_m, two.peak_N_m) == pytest.approx((-1.0, 5.0, 6.0))
    assert two.share_of_hinge_limit == pytest.approx(0.61)
    assert stop(monkeypatch, 1, limit=None).share_of_hinge_limit is None
    assert stop(monkeypatch, 1, stiffness=None) is None
    assert stop(monkeypatch, 1, time=np.inf) is None
    unknown = stop(monkeypatch, 1, widths=dict.fromkeys(BODIES, np.nan))
    assert unknown.share_of_hinge_limit == pytest.approx(0.95)
    assert np.isnan(unknown.half_width_N_m)


# --- what control must add ----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("damping", "words", "least"),
    [
        ([0.0, 0.0], "none needed in yaw", (0.0, 0.0)),
        ([0.4, 0.3], "damping of 0.4 N m s in yaw", (0.0, 0.4)),
        ([np.nan, 0.3], "2 N m/rad in yaw (0.17 N m at 5 deg) with damping of 0.3 N m s", (2, 0.3)),
        ([np.nan, np.nan], "no stiffness and damping in yaw alone is enough", None),
    ],
)  # fmt: skip
@pytest.mark.parametrize("needed", [True, None])
def test_the_least_aid_in_words(damping, words, least, needed):
    boundary = AidBoundary(np.array([0.0, 2.0]), np.array(damping))
    found = modes_study._aid(boundary, needed, "yaw", [])
    assert words in found.words
    assert found.words.startswith("not known whether any is needed in yaw") == (needed is None)
    told = found.least_stiffness_N_m_rad, found.with_damping_N_m_s
    assert told == (least or (None, None))
    moment = None if least is None else pytest.approx(least[0] * np.pi / 36.0)
    assert found.moment_at_5_deg_N_m == moment


def test_half_widths_of_rates_hold_wake_stall_and_corners(monkeypatch):
    """q S b/U for a radian of sideslip: 10 x 2 x 3/14 of 0.06 and 0.07."""
    monkeypatch.setattr(
        modes_study, "wake_spread", lambda loads, state: {"Cl_beta": 0.06, "Cn_beta": 0.07}
    )
    monkeypatch.setattr(modes_study, "stalled_rates", lambda craft, flight: np.full((6, 8), 0.5))
    monkeypatch.setattr(modes_study, "corner_spread", lambda fine, of: 0.25 * np.abs(of(fine)))

    def lattice(rates):
        return SimpleNamespace(
            lattice_rates=lambda motion, density: np.full((6, 8), rates),
            loads=SimpleNamespace(reference=SimpleNamespace(area=2.0, span=3.0)),
        )

    crafts = SimpleNamespace(
        fine=SimpleNamespace(at=lambda f: lattice(-4.0), engine=SimpleNamespace(grid="grid")),
        rough=SimpleNamespace(at=lambda f: lattice(-3.0)), at=lambda folds, speed: None,
    )  # fmt: skip
    flight = SimpleNamespace(
        motion=None, density=1.1, alpha=0.0, dynamic_pressure=10.0, airspeed=14.0
    )
    found = modes_study.rates_half_width(crafts, FoldAngles(), flight)
    expected = np.full((6, 6), 0.5 + 0.4 + 0.5 + 1.0)
    expected[3, 1] += 60.0 / 14.0 * 0.06
    expected[5, 1] += 60.0 / 14.0 * 0.07
    np.testing.assert_allclose(found, expected)


def test_the_pitching_moment_s_rate_with_airspeed_keeps_the_angle():
    """Along the motion: (u dM/du + v dM/dv + w dM/dw)/V."""
    rates = np.zeros((6, 8))
    rates[4, :4] = (0.5, 7.0, -2.0, 9.0)
    craft = SimpleNamespace(rates=lambda motion, density: rates)
    flight = SimpleNamespace(motion=np.array([4.0, 0, 3.0, 9.0]), density=1.0, airspeed=5.0)
    assert modes_study._with_speed(craft, flight) == pytest.approx((2.0 - 6.0) / 5.0)


def test_trims_of_every_level_of_modelling(monkeypatch):
    """The full one where the file has rotors and mass; two that are one stand once."""
    asked = []

    def at(folds, speed, level):
        asked.append(level)
        if level == Modelling.ROTORS:
            return None
        return SimpleNamespace(modelling=Modelling.WING)

    conditions = SimpleNamespace(craft=None, at=at)
    monkeypatch.setattr(modes_study, "has_trim", lambda craft: False)
    assert list(modes_study._trims(conditions, None, 9.0)) == [Modelling.WING]
    assert asked == [Modelling.WING, Modelling.SECTIONS]
    monkeypatch.setattr(modes_study, "has_trim", lambda craft: True)
    assert list(modes_study._trims(conditions, None, 9.0)) == [Modelling.WING]
    assert asked[2:] == [Modelling.WING, Modelling.SECTIONS, Modelling.ROTORS]


def test_a_setting_that_cannot_be_built_or_flown_says_why(monkeypatch):
    def refuse(folds, speed):
        raise InputRefused("surfaces cross")

    crafts = SimpleNamespace(at=refuse)
    row = modes_study.setting_modes(crafts, FoldAngles(1.0, 2.0), 9.0, 1.2, "name")
    assert (row.fold_left_deg, row.fold_right_deg, row.airspeed_m_s, row.name, row.reason) == (
        1.0, 2.0, 9.0, "name", "surfaces cross"
    )  # fmt: skip
    assert modes_study.aid_row(crafts, None, 5.0, AIR).reason == "surfaces cross"
    crafts.at = lambda folds, speed: None
    monkeypatch.setattr(modes_study, "level_flight", lambda *_: None)
    for row in (
        modes_study.setting_modes(crafts, FoldAngles(), 9.0, 1.2),
        modes_study.aid_row(crafts, None, 5.0, AIR),
    ):
        assert row.reason == modes_study.TOO_SLOW
