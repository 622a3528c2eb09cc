"""What is said of schedules, growing modes and differences of power on given numbers, by hand.

No source but the rules stated in the modules; all numbers are invented.
"""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from vlm.study.hinge import faults as hinge_faults
from vlm.study.lateral import modes as modes_study
from vlm.study.point.contact import branches, touching_folds
from vlm.study.power import results as power_results
from vlm.study.roll.moments import PairMoments
from vlm.study.roll.results import Known
from vlm.study.schedule import answer as schedule_answer
from vlm.study.schedule.breakpoints import schedule_csv
from vlm.study.schedule.saving import largest_saving
from vlm.verdicts import SIGN_NOT_KNOWN, known_sign, not_known_apart, verdict

# --- schedules ------------------------------------------------------------------------------------


def setting(power, reason=""):
    return SimpleNamespace(power=power, passed=(reason,) if reason else (), reason=reason)


def point(speed, power, fold=5.0, active=(), reason=""):
    return SimpleNamespace(
        speed=speed, power=power, fold_deg=fold, active=active, reason=reason,
        setting=None if reason else object(),
    )  # fmt: skip


def state(speed, passed=(), **margins):
    return SimpleNamespace(speed=speed, passed=passed, margins=margins)


def schedule(ideal, flat, losses=(0.0, 0.0), outside=(), reversals=()):
    flown = SimpleNamespace(
        outside=outside,
        roll_reversals=reversals,
        valid=(10.0, 16.0),
        speeds=np.array([10.0, 16.0]),
        folds_deg=np.array([3.0, -9.0]),
        hysteresis=0.5,
        losses=np.array(losses),
        worst=(max(losses), 16.0),
        fold=lambda u: {10.0: 3.0, 16.0: -9.0}[u],
        states=[state(10.0, a=0.25), state(16.0, b=-1.5), *outside],
        state=lambda u: state(u, **({"a": 0.25} if u == 10.0 else {"b": -1.5})),
    )
    constraints = SimpleNamespace(units={"a": "deg", "b": "N m", "c": "1"})
    table = SimpleNamespace(setting=lambda fold, speed: flat[speed], constraints=constraints)
    book = SimpleNamespace(
        craft=SimpleNamespace(title="Invented"), air=SimpleNamespace(density_kg_m3=1.1)
    )
    return SimpleNamespace(
        flown=flown, ideal=ideal, table=table, book=book, unsure=(), unsure_flat=(), barred={},
        saving=largest_saving(ideal, table),
    )  # fmt: skip


@pytest.mark.parametrize(
    ("ideal", "flat", "words"),
    [
        (
            [(10, 98.0), (12, 95.0), (14, 99.9)],
            [100.0, 100.0, 100.0],
            "saves 5.0 % at most, at 12 m/s.",
        ),
        (
            [(10, 99.9), (12, 99.85)],
            [100.0, 100.0],
            "Leave the tips flat: folded they draw no less at any airspeed,",
        ),
        ([(10, 99.79), (12, 100.0)], [100.0, 100.0], "saves 0.2 % at most, at 10 m/s."),
        ([(10, 99.9), (12, 99.9)], [100.0, np.nan], "No airspeed that flat tips fly draws less"),
    ],
)
def test_a_schedule_against_flat_tips(ideal, flat, words):
    made = schedule(
        [point(float(v), p) for v, p in ideal],
        {float(v): setting(f) for (v, _), f in zip(ideal, flat, strict=True)},
    )
    assert words in schedule_answer._against_flat(made)[0]


@pytest.mark.parametrize(
    ("interval", "words"),
    [
        (None, "Against flat tips folding saves 8.0 % at most, at 12 m/s; flat tips do not keep a"
         " there."),
        ((2.0, 9.0), "Against flat tips folding saves 8.0 % at most, at 12 m/s, 90 % interval 4.0"
         " to 18.0 %; flat tips do not keep a there."),
        ((-1.0, 9.0), "It is not known whether folding saves against flat tips: 8.0 % at most, at"
         " 12 m/s, 90 % interval -2.0 to 18.0 %; flat tips do not keep a there."),
    ],
)  # fmt: skip
def test_a_saving_has_its_interval(interval, words):
    """46 instead of 50 W."""
    made = schedule([point(12.0, 46.0)], {12.0: setting(50.0, "a")})
    made.saving = replace(made.saving, interval=interval)
    assert schedule_answer._against_flat(made) == [words]


@pytest.mark.parametrize(
    ("losses", "pairs", "words"),
    [
        ((0.0, 0.03), [(10.0, 12.0)], "at 10 and 12 m/s lie"),
        ((0.0, 0.03), [(12.0, 14.0), (10.0, 12.0)], "at 10 and 12 m/s (and at 1 more pair of"
         " airspeeds) lie"),
        ((0.0, 0.001), [(10.0, 12.0)], ""), ((0.0, 0.03), [], ""),
    ],
)  # fmt: skip
def test_best_folds_to_both_sides_of_what_is_not_allowed_are_named(losses, pairs, words):
    """Where following them would cost nothing more, nothing is said."""
    made = schedule([point(10.0, 98.0), point(16.0, 97.0)], {10.0: setting(100.0),
                    16.0: setting(100.0)}, losses=losses)  # fmt: skip
    made.barred = {"a": pairs} if pairs else {}
    said = [one for one in schedule_answer.answer(made) if "to both sides" in one]
    assert said == (
        [f"The best folds {words} to both sides of folds that are not allowed (a); a straight piece"
         " would cross them."] if words else []
    )  # fmt: skip


def test_flat_tips_that_pass_a_constraint_or_cannot_fly():
    ideal = [point(10.0, 90.0), point(12.0, 99.9)]
    made = schedule(ideal, {10.0: setting(100.0, "stall"), 12.0: setting(100.0)})
    assert schedule_answer._against_flat(made) == [
        "Against flat tips folding saves 10.0 % at most, at 10 m/s; flat tips do not keep stall"
        " there."
    ]
    near = [point(10.0, 99.9), point(12.0, 99.9)]
    made = schedule(near, {10.0: setting(100.0, "stall"), 12.0: setting(100.0, "hinge")})
    assert schedule_answer._against_flat(made)[0].endswith(
        "do not keep stall at 10 m/s and at 1 more airspeed."
    )
    made = schedule(near, {10.0: setting(np.nan), 12.0: setting(np.nan)})
    assert schedule_answer._against_flat(made) == []
    shut = [*near, point(14.0, np.nan, reason="no trim")]
    made = schedule(shut, {10.0: setting(100.0), 12.0: setting(100.0)})
    assert "at any airspeed that allows a fold" in schedule_answer._against_flat(made)[0]


def test_a_schedule_s_answer_the_most_costly_mistake_first():
    bad = (state(12.0, ("stall", "hinge"), stall=-1.0), state(13.0, ("stall",)))
    ideal = [
        point(10.0, 90.0, active=("stall",)),
        point(12.0, 99.0, active=("stall", "roll")),
        point(14.0, np.nan, reason="no trim"),
        point(15.0, np.nan, reason="no trim"),
    ]
    made = schedule(
        ideal, {10.0: setting(100.0), 12.0: setting(100.0)}, (0.01, 0.03), bad, [(11.0, 12.0)]
    )
    said = schedule_answer.answer(made)
    assert (
        said[0]
        == "Not to be flown as it stands: at 12 m/s and 1 more the schedule does not keep stall,"
        " hinge."
    )
    assert said[1] == "The roll command reverses between 11 and 12 m/s."
    assert said[3] == (
        "Fold 3 deg at 10 m/s, -9 deg at 16 m/s, straight between; 2.0 % above the best fold in"
        " the mean, 3.0 % at worst, at 16 m/s."
    )
    assert said[4] == "Active constraint: stall, roll."
    assert said[5] == "No fold is allowed at 14, 15 m/s (no trim)."
    made.flown.folds_deg, made.flown.fold = np.array([3.0, 3.0]), lambda u: 3.0
    assert schedule_answer.answer(made)[3].startswith("Hold 3 deg at every airspeed; 2.0 % above")
    made.flown = None
    assert schedule_answer.answer(made) == ["Only 10 m/s allows any fold (5 deg): no schedule."]


@pytest.mark.parametrize(
    ("losses", "words"),
    [((0.0, 0.0019), "within 0.2 %"), ((0.0, 0.0021), "0.1 % above the best fold")],
)
def test_a_loss_below_a_fifth_of_a_percent_is_none(losses, words):
    assert words in schedule_answer._loss_words(
        SimpleNamespace(losses=np.array(losses), worst=(max(losses), 16.0))
    )


def test_the_table_for_a_flight_controller():
    bad = (state(12.0, ("b",), b=-0.5),)
    made = schedule(
        [point(10.0, 90.0)], {10.0: setting(np.nan)}, outside=bad, reversals=[(11.0, 12.0)]
    )
    lines = schedule_csv(made).splitlines()
    assert "air density 1.1 kg/m^3; constraints PASSED" in lines[2]
    assert lines[3] == "# violation at 12 m/s: b -0.5 N m"
    assert lines[4] == "# the roll command reverses between 11 and 12 m/s"
    assert (
        lines[5]
        == "airspeed_slowing_m_s,airspeed_speeding_m_s,fold_deg,margin a [deg],margin b [N m]"
    )
    assert lines[6:] == ["10.000,10.500,3.00,0.25,", "16.000,16.500,-9.00,,-1.5"]


# --- modes ---------------------------------------------------------------------------------------


def mode(name, growth, rate, half=0.0):
    return SimpleNamespace(name=name, growth=growth, real_1_s=rate, real_half_width_1_s=half)


def modes(fold, *made, speed=12.0, coupled=False, name=None):
    block = SimpleNamespace(modes=made)
    return SimpleNamespace(
        fold_left_deg=fold, airspeed_m_s=speed, name=name, coupled=block if coupled else None,
        longitudinal=None if coupled else block, lateral=None,
    )  # fmt: skip


def test_modes_that_grow_are_reported_fastest_first():
    rows = [
        modes(0.0, mode("spiral", "grows", 0.02), mode("phugoid", "decays", -1.0)),
        modes(15.0, mode("spiral", "grows", 0.05), mode("phugoid", "grows", 0.4)),
        modes(3.0, mode("mode 1", SIGN_NOT_KNOWN, 0.01, 0.04), coupled=True, name="bank"),
    ]
    sure, unsure = modes_study.growing(rows)
    assert sure.what == (
        "modes grow: phugoid, fastest at fold 15 deg and 12 m/s: 0.4 1/s (1 setting);"
        " spiral, fastest"
        " at fold 15 deg and 12 m/s: 0.05 1/s (2 settings); the fastest rate of growth"
    )
    assert (sure.code, sure.value, sure.cases) == ("mode_grows", 0.4, 3)
    assert (
        "coupled motion, fastest at configuration bank and 12 m/s: 0.010 ± 0.040 1/s" in unsure.what
    )
    assert (unsure.code, unsure.half_width) == ("mode_growth_not_known", 0.04)
    assert modes_study.growing(rows[:0]) == []


def test_slower_modes_are_named_without_their_places():
    names = ("a", "b", "c", "d", "e")
    rows = [
        modes(0.0, *(mode(name, "grows", 5.0 - i) for i, name in enumerate(names))),
        modes(15.0, mode("d", "grows", 0.1)),
    ]
    (found,) = modes_study.growing(rows)
    assert "c, fastest at fold 0 deg and 12 m/s: 3 1/s (1 setting)" in found.what
    assert found.what.endswith("; more slowly: d (2), e (1); the fastest rate of growth")
    assert (found.value, found.cases) == (5.0, 6)


# --- contact -------------------------------------------------------------------------------------


def test_a_tip_touches_where_no_fold_of_the_other_side_is_free():
    """Port touches at its first fold whatever starboard does; a pair without numbers is none."""
    joined = np.array([[True, True, True], [False, True, False], [False, True, False]])
    known = np.ones((3, 3), dtype=bool)
    port, starboard = touching_folds(joined, known)
    assert (port.tolist(), starboard.tolist()) == ([True, False, False], [False, True, False])
    assert branches(joined, known).tolist() == [[2, 3, 2], [0, 1, 0], [0, 1, 0]]
    known[0] = False
    port, _ = touching_folds(joined, known)
    assert port.tolist() == [False, False, False]
    assert not np.any(touching_folds(np.ones((2, 2), dtype=bool), np.ones((2, 2), dtype=bool)))


# --- differences of power ------------------------------------------------------------------------


def test_a_difference_of_power_in_watts_and_in_percent():
    """Where both are allowed; over the same draws, the middle 90 % of them."""

    def curve(power, allowed):
        return SimpleNamespace(allowed=np.array(allowed), values=lambda key: np.array(power))

    draws = np.linspace(-1.0, 1.0, 201)[:, None]
    study = SimpleNamespace(
        curves={"a": curve([100.0, 200.0, 300.0], [True, True, False]),
                "b": curve([110.0, 190.0, 310.0], [True, True, True])},
        sampled={"a": SimpleNamespace(power=np.tile([100.0, 200.0, 300.0], (201, 1))),
                 "b": SimpleNamespace(power=np.array([110.0, 190.0, 310.0]) + draws)},
        craft=SimpleNamespace(uncertainty=SimpleNamespace(interval_percent=90.0)),
    )  # fmt: skip
    found = power_results._difference(study, "a", "b")
    np.testing.assert_allclose(found["difference_W"], [10.0, -10.0, np.nan])
    np.testing.assert_allclose(found["difference_percent"], [10.0, -5.0, np.nan])
    np.testing.assert_allclose(found["difference_W_low"], [9.1, -10.9, np.nan])
    np.testing.assert_allclose(found["difference_percent_high"], [10.9, -4.55, np.nan])
    study.sampled = {}
    assert "difference_W_low" not in power_results._difference(study, "a", "b")


# --- verdicts ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("value", "width", "sign"),
    [
        (2.0, 1.9, 1),
        (-2.0, 1.9, -1),
        (2.0, 2.0, None),
        (0.0, 0.0, 0),
        (0.0, 0.1, None),
        (None, 1.0, None),
        (1.0, None, None),
        (np.nan, 0.1, None),
        (1.0, np.nan, None),
    ],
)
def test_a_sign_is_known_where_its_half_width_leaves_no_doubt(value, width, sign):
    assert known_sign(value, width) == sign
    words = {1: "p", -1: "n", 0: "zero", None: SIGN_NOT_KNOWN}
    assert verdict(value, width, "p", "n") == words[sign]


def test_half_widths_are_not_negative():
    with pytest.raises(ValueError, match="cannot be negative"):
        known_sign(1.0, -0.1)


def test_values_not_known_to_differ_from_the_best():
    """Within both half-widths together; a width that is not known leaves all open."""
    nan = np.nan
    assert not_known_apart(
        [10.0, 11.0, 11.1, 9.0, nan, 50.0], [0.5, 0.5, 0.5, 0.5, 0.5, nan], 0
    ) == [1, 3, 5]
    assert not_known_apart([10.0, 12.0], [nan, 0.1], 0) == [1]


def pair(roll, roll_width, yaw, yaw_width):
    return PairMoments(None, None, None, Known(roll, roll_width, 0.0), Known(yaw, yaw_width, 0.0))


@pytest.mark.parametrize(
    ("made", "sense", "yaw"),
    [
        (pair(1.0, 0.1, 0.5, 0.1), "to starboard", "proverse"),
        (pair(-1.0, 0.1, 0.5, 0.1), "to port", "adverse"),
        (pair(-1.0, 0.1, -0.5, 0.1), "to port", "proverse"),
        (pair(1.0, 0.1, -0.5, 0.1), "to starboard", "adverse"),
        (pair(1.0, 0.1, 0.05, 0.1), "to starboard", SIGN_NOT_KNOWN),
        (pair(0.05, 0.1, 0.5, 0.1), SIGN_NOT_KNOWN, SIGN_NOT_KNOWN),
        (pair(1.0, 0.1, 0.0, 0.0), "to starboard", "none"),
    ],
)
def test_the_way_of_a_pair_and_the_yaw_that_comes_with_it(made, sense, yaw):
    assert (made.sense, made.yaw) == (sense, yaw)


@pytest.mark.parametrize(
    ("moment", "width", "most", "words"),
    [
        (1.0, 0.4, 1.5, "the rotors hold it"),
        (-1.0, 0.4, 1.5, "the rotors hold it"),
        (1.0, 0.6, 1.5, SIGN_NOT_KNOWN),
        (-2.0, 0.4, 1.5, "more than the rotors can"),
        (1.5, 0.0, 1.5, "at limit"),
    ],
)
def test_whether_rotors_hold_a_moment(moment, width, most, words):
    assert hinge_faults._held(moment, width, most) == words
