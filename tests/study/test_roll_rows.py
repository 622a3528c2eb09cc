"""Rows of rolls and of lateral stability, by hand.

No source but the rules stated in the modules; what is flown and solved is put in, all invented.
"""

from types import SimpleNamespace

import numpy as np
import pytest

from vlm.description.folds import FoldAngles
from vlm.errors import ComputationFailed
from vlm.flight.motion.roll_authority import TOO_SLOW, Air
from vlm.flight.motion.roll_response import YawAid
from vlm.sides import Side
from vlm.study.lateral import study as lateral_study
from vlm.study.roll import study as roll_study
from vlm.study.roll.moments import RollMoments
from vlm.study.roll.study import RollPlan, _mean_speed, map_folds, soft_yaw_aid

AIR = Air(14.0, 1.1)


# --- rolls --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("low", "high", "step", "base", "folds"),
    [
        (-30.0, 20.0, 15.0, 0.0, [-30, -15, 0, 15, 20]),
        (-31.0, 20.0, 15.0, 5.0, [-31, -30, -15, 0, 5, 15, 20]),
        (10.0, 20.0, 15.0, 20.0, [10, 15, 20]),
    ],
)
def test_folds_of_a_map(low, high, step, base, folds):
    assert map_folds(low, high, step, base) == folds


def test_a_soft_yaw_control_is_that_of_a_damped_oscillator():
    """I w^2 and 2 zeta I w of 4 rad/s and 0.7 (definition)."""
    found = soft_yaw_aid(0.5)
    assert (found.stiffness, found.damping) == pytest.approx((8.0, 2.8))


@pytest.mark.parametrize(
    ("end", "stops", "speed"),
    [((-30.0, 10.0), (0.5, 0.4), 60.0), ((-5.0, 30.0), (0.5, 0.4), 50.0), ((0.0, 10.0), (0, 0), 0)],
)
def test_the_mean_speed_is_that_of_the_side_that_travels_most(end, stops, speed):
    done = SimpleNamespace(
        start=FoldAngles(0.0, 10.0), end=FoldAngles(*end),
        path=SimpleNamespace(stops=dict(zip(Side, stops, strict=True))),
    )  # fmt: skip
    assert _mean_speed(done) == pytest.approx(speed)


def study(**more):
    made = object.__new__(roll_study._Study)
    plain = {
        "plan": RollPlan(AIR, base_deg=5.0), "craft": SimpleNamespace(source_name="x.toml"),
        "at_base": FoldAngles(5.0, 5.0), "plain": "plain",
    }  # fmt: skip
    vars(made).update({**plain, **more})
    return made


def test_commands_whose_authority_is_reported(monkeypatch):
    monkeypatch.setattr(roll_study, "commanded", lambda base, kind, step: (base, kind, step))
    found = study().settings((1.0, 2.0))
    assert found == {
        "strongest": FoldAngles(1.0, 2.0), "both_apart_20_deg": (5.0, "both tips apart", 20.0),
        "port_down_20_deg": (5.0, "port tip alone", -20.0),
    }  # fmt: skip
    assert study().settings(None)["strongest"] is None


def airspeed_row(monkeypatch, blown, base):
    monkeypatch.setattr(roll_study, "level_flight", lambda craft, speed, density: base)
    monkeypatch.setattr(roll_study, "commanded", lambda base, kind, step: None)
    authority = object.__new__(roll_study.Authority)
    moments = SimpleNamespace(authority=lambda folds, air: authority)
    return study(blown=blown, moments=moments).airspeed_row(9.0, (1.0, 2.0)), authority


def test_a_row_of_one_airspeed(monkeypatch):
    folding = SimpleNamespace(symmetric=lambda fold: fold)
    row, authority = airspeed_row(
        monkeypatch, lambda speed: folding, SimpleNamespace(alpha=np.radians(3.0))
    )
    assert (row.airspeed_m_s, row.alpha_deg) == (9.0, pytest.approx(3.0))
    assert row.strongest is authority
    assert row.both_apart_20_deg is None
    assert row.not_flown == {
        "both_apart_20_deg": "no such folds", "port_down_20_deg": "no such folds"
    }  # fmt: skip
    row, _ = airspeed_row(monkeypatch, lambda speed: folding, None)
    assert row.reason == TOO_SLOW

    def refuse(speed):
        raise ComputationFailed("no trim")

    assert airspeed_row(monkeypatch, refuse, None)[0].reason == "no trim"


def test_the_slipstream_left_out_is_warned_of_by_the_roll_it_changes(monkeypatch):
    """0.5 N m of 2 are changed: a quarter. Where the wings carry the craft only blown, that."""
    monkeypatch.setattr(roll_study, "commanded", lambda base, kind, step: "command")
    monkeypatch.setattr(roll_study, "setting_moment", lambda blown, command, air: 2.5)
    monkeypatch.setattr(roll_study, "level_flight", lambda craft, speed, density: craft)
    blown = SimpleNamespace(at=lambda folds: "flies")
    slipstreams = SimpleNamespace(
        left_out=lambda plain, folds, speed: None if speed > 19.0 else blown
    )
    row = SimpleNamespace(
        airspeed_m_s=14.0, alpha_deg=3.0, both_apart_20_deg=SimpleNamespace(rolling_moment_N_m=2.0)
    )
    slow = SimpleNamespace(airspeed_m_s=6.0, alpha_deg=None, both_apart_20_deg=None)
    fast = SimpleNamespace(airspeed_m_s=20.0, alpha_deg=None, both_apart_20_deg=None)
    found = study(slipstreams=slipstreams).left_out([row, slow, fast])
    assert [(f.code, f.value) for f in found] == [
        ("slipstream_left_out", pytest.approx(0.25)), ("carried_by_slipstream", 6.0)
    ]  # fmt: skip
    blown.at = lambda folds: None
    assert [f.code for f in study(slipstreams=slipstreams).left_out([slow])] == []


def test_rotors_aid_yaw_within_what_they_can(monkeypatch):
    masses = SimpleNamespace(inertia=np.diag([9.0, 9.0, 0.5]))
    done = SimpleNamespace(
        start="start",
        passages=[SimpleNamespace(craft=SimpleNamespace(masses=masses))],
    )  # fmt: skip
    soft = soft_yaw_aid(0.5)
    monkeypatch.setattr(roll_study, "has_trim", lambda craft: craft.trims)
    trim = SimpleNamespace(rotors=SimpleNamespace(yaw=SimpleNamespace(lowest=-0.2, highest=0.3)))
    conditions = SimpleNamespace(at=lambda *words: trim)
    made = study(conditions=conditions, craft=SimpleNamespace(trims=True))
    assert made.yaw_aid(done) == YawAid(8.0, soft.damping, -0.2, 0.3)
    trim.rotors = None
    assert made.yaw_aid(done) == soft
    made.craft.trims = False
    assert made.yaw_aid(done) == soft


def test_why_there_is_no_bank_history(monkeypatch):
    made = study(craft=SimpleNamespace(actuator=None, source_name="x.toml"))
    assert made.history(FoldAngles()).reason == "x.toml: [actuator] is missing"
    made.craft.actuator = "drive"
    assert made.history(None).reason == "no pair of folds has a value"

    def stalls(*_):
        raise ComputationFailed("the servo stalls")

    made.folding = None
    monkeypatch.setattr(roll_study, "manoeuvre", stalls)
    assert made.history(FoldAngles()).reason == "the servo stalls"


def test_tips_are_held_against_rotors_from_hover_on_every_metre_a_second(monkeypatch):
    asked = []

    class Contest:
        def __init__(self, conditions, base, command, wings):
            assert (conditions, base, command, wings) == ("c", FoldAngles(5.0, 5.0), command, "w")

        def at(self, speed):
            asked.append(speed)
            return speed

        def equal(self, found):
            return [7.5]

    monkeypatch.setattr(roll_study, "has_trim", lambda craft: True)
    monkeypatch.setattr(roll_study, "TipsAgainstRotors", Contest)
    monkeypatch.setattr(roll_study, "stronger_words", lambda found: f"{len(found)} airspeeds")
    made = study(conditions="c", plain=SimpleNamespace(at=lambda folds: "w"))
    found = made.rotors((2.5, 4.0), FoldAngles(1.0, -2.0))
    assert asked == [0.0, 1.0, 2.0, 2.5, 3.0, 4.0]
    assert (found.left_deg, found.right_deg, found.equal) == (1.0, -2.0, (7.5,))
    assert found.words == "6 airspeeds"
    assert made.rotors((2.5,), None) is None
    monkeypatch.setattr(roll_study, "has_trim", lambda craft: False)
    assert made.rotors((2.5,), FoldAngles()) is None


# --- lateral stability --------------------------------------------------------------------------


def lateral(**more):
    made = object.__new__(lateral_study._Study)
    plan = SimpleNamespace(air=AIR, folds_deg=(-30.0, 30.0), grid="grid")
    vars(made).update({"plan": plan, "craft": None, **more})
    return made


@pytest.fixture(autouse=True)
def rotors(monkeypatch):
    """Rotors that add 0.0007 +- 0.0003 to Cl_beta."""
    monkeypatch.setattr(lateral_study, "rotor_slopes", lambda *_: {"Cl_beta": (0.0007, 0.0003)})


def folding(joined=(), errors=()):
    """Loads that are their fold; a tip touches at some."""

    def symmetric(fold):
        loads = SimpleNamespace(
            fold=fold, lattice=SimpleNamespace(is_joined=fold in joined), errors=dict(errors)
        )
        return SimpleNamespace(loads=loads, drag_slopes=lambda alpha: {"Cl_beta": 0.03 * alpha})

    return SimpleNamespace(symmetric=symmetric)


def test_the_dihedral_effect_that_is_sought_is_that_of_level_flight_with_sections(monkeypatch):
    """0.01 a degree of fold less 0.1, 0.02 by sections, 0.003 by bodies, and the rotors; none in
    contact."""
    flying = SimpleNamespace(alpha=0.1)
    monkeypatch.setattr(lateral_study, "level_flight", lambda *_: flying)
    monkeypatch.setattr(
        lateral_study, "dihedral_effect", lambda loads, alpha: (0.01 * loads.fold - alpha, None)
    )
    monkeypatch.setattr(lateral_study, "section_slopes", lambda *_: (9.0, {"Cl_beta": 0.02}))
    made = lateral(at=folding(joined=(20.0,)).symmetric)
    assert made.effect(5.0) == pytest.approx(0.05 - 0.1 + 0.02 + 0.003 + 0.0007)
    assert np.isnan(made.effect(20.0))
    monkeypatch.setattr(lateral_study, "level_flight", lambda *_: None)
    assert np.isnan(made.effect(5.0))

    def refuse(fold):
        raise ComputationFailed("surfaces cross")

    assert np.isnan(lateral(at=refuse).effect(5.0))


def test_neutral_folds_are_sought_every_twelfth_of_the_range_and_beside_contact(monkeypatch):
    seen = {}

    def neutral(effect, folds):
        seen["folds"] = folds
        return [1.0, 2.0]

    monkeypatch.setattr(lateral_study, "neutral_folds", neutral)
    near = lateral_study.FROM_CONTACT_DEG
    made = lateral(
        folding=folding(joined=(-30.0, 10.0)), effect=None, neutral_row=lambda one: 10.0 * one
    )
    assert made.neutral() == [10.0, 20.0]
    expected = sorted({*np.linspace(-30.0, 30.0, 13), -30.0 + near, 10.0 - near, 10.0 + near})
    assert seen["folds"] == pytest.approx(expected)


@pytest.mark.parametrize("slope", [-0.01, 0.02])
def test_a_neutral_fold_s_half_width_is_that_of_the_effect_over_its_slope(monkeypatch, slope):
    """Lattice: 0.5 |0.001 - 0.003|, a tenth of the change over 10 degrees, and what the chart may
    miss; left open: 0.004 by wake and corners, 0.0003 by rotors, 0.005 by sections, as a strip is
    past stall."""
    effects = {"fine": 0.001, "rough": 0.003}
    monkeypatch.setattr(
        lateral_study, "half_width",
        lambda fine, rough, size, grid: 0.5 * abs(fine - rough) + 0.1 * size,
    )  # fmt: skip
    monkeypatch.setattr(lateral_study, "dihedral_effect", lambda of, alpha: (effects[of.kind], 0))
    monkeypatch.setattr(lateral_study, "derivatives", lambda loads, state: {"body": {}})
    monkeypatch.setattr(lateral_study, "section_margin", lambda *_: -0.1)
    monkeypatch.setattr(lateral_study, "section_slopes", lambda *_: (0, {"Cl_beta": -0.005}))
    monkeypatch.setattr(lateral_study, "wake_turn", lambda loads, alpha: 0.03)
    monkeypatch.setattr(lateral_study, "lattice_warnings", lambda lattice: [])

    def craft(kind):
        loads = SimpleNamespace(kind=kind, errors={"Cl_beta": 0.0002}, lattice=None)
        return SimpleNamespace(symmetric=lambda fold: SimpleNamespace(loads=loads))

    made = lateral(
        folding=craft("fine"), rough=craft("rough"), at=lambda fold: None,
        flown=lambda fold: SimpleNamespace(alpha=np.radians(4.0)),
        spread=lambda fold, own, state: {"Cl_beta": 0.004},
        effect=lambda fold: slope * (fold - 12.0),
    )  # fmt: skip
    row = made.neutral_row(SimpleNamespace(fold_deg=12.0, slope=slope))
    steep = abs(slope)
    lattice = (0.001 + 0.1 * steep * 10.0 + 0.0002) / steep
    whole = lattice + (0.009 + 0.0003) / steep
    assert row.lattice_half_width_deg == pytest.approx(lattice)
    assert row.half_width_deg == pytest.approx(whole)
    assert row.interval_deg == pytest.approx((12.0 - whole, 12.0 + whole))
    assert row.wake_turn_moves_by_deg == pytest.approx(0.03 / slope)
    assert row.stable == ("above" if slope < 0.0 else "below")
    assert row.alpha_deg == pytest.approx(4.0)


def test_the_spread_of_slopes_adds_corners_to_the_wake(monkeypatch):
    names = lateral_study.WITH_ERRORS
    monkeypatch.setattr(lateral_study, "wake_spread", lambda loads, state: {"Cl_beta": 0.06})
    monkeypatch.setattr(lateral_study, "corner_spread", lambda craft, value: np.abs(value(craft)))
    own = {name: -0.01 * (i + 1) for i, name in enumerate(names)}
    craft = SimpleNamespace(loads=None)
    made = lateral(folding=SimpleNamespace(symmetric=lambda fold: craft))
    found = made.spread(5.0, own, None)
    for i, name in enumerate(names):
        wake = 0.06 if name == "Cl_beta" else 0.0
        assert found[name] == pytest.approx(wake + 0.01 * (i + 1))


def test_the_slipstream_left_out_of_the_dihedral_effect_is_held_against_the_largest(monkeypatch):
    """0.03 more of 0.2 at most, 0.01 of it by bodies, and the rotors; rows without a value are
    passed over."""
    monkeypatch.setattr(lateral_study, "level_flight", lambda *_: SimpleNamespace(alpha=0.0))
    monkeypatch.setattr(lateral_study, "section_slopes", lambda *_: (0, {"Cl_beta": 0.05}))
    monkeypatch.setattr(lateral_study, "dihedral_effect", lambda loads, alpha: (-0.13, 0))
    seen = []
    monkeypatch.setattr(
        lateral_study, "left_out_finding",
        lambda what, plain, other, size: seen.append((plain, round(other, 9), size)) or [],
    )  # fmt: skip
    craft = SimpleNamespace(loads=None, drag_slopes=lambda alpha: {"Cl_beta": 0.01})
    blown = SimpleNamespace(at=lambda folds: craft)
    slipstreams = SimpleNamespace(
        left_out=lambda folding, folds, speed: None if folds.left_deg > 0.0 else blown
    )
    rows = [SimpleNamespace(fold_deg=f, total=t) for f, t in
            ((-10.0, -0.1), (0.0, None), (10.0, -0.2))]  # fmt: skip
    assert lateral(slipstreams=slipstreams, folding=None).left_out(rows) == []
    assert seen == [(-0.1, -0.0693, 0.2)]


def test_pairs_that_may_roll_as_hard_as_the_strongest_are_named():
    """Best 4 N m, half-width 0.5: of the map's moments from 4 - 3 x 0.5 on those are asked for, and
    those are named whose own lies within both half-widths."""
    grid = SimpleNamespace(
        left_deg=np.array([0.0, 10.0]), right_deg=np.array([-10.0, -20.0, -30.0]),
        values={"rolling_moment_N_m": np.array([[2.4, 2.6, 4.0], [np.nan, 3.9, 3.0]])},
    )  # fmt: skip
    asked = []
    own = {(0.0, -20.0): 2.6, (10.0, -20.0): 2.9, (10.0, -30.0): 3.9}

    def moment(folds, air):
        asked.append((folds.left_deg, folds.right_deg))
        return own[asked[-1]]

    made = object.__new__(RollMoments)
    object.__setattr__(made, "moment_at", moment)
    object.__setattr__(made, "width_at", lambda folds, air: 0.25)
    best = SimpleNamespace(
        left_deg=0.0, right_deg=-30.0, rolling=SimpleNamespace(value=4.0, half_width=0.5)
    )
    found = made.alike(grid, best, AIR)
    assert asked == [(0.0, -20.0), (10.0, -20.0), (10.0, -30.0)]
    assert [(f.left_deg, f.right_deg) for f in found] == [(10.0, -30.0)]
