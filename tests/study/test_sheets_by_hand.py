"""Numbers that settings are compared by, with what is left open in each: by hand.

No source but the rules stated in the module; what is flown and solved is put in, all invented.
"""

from dataclasses import dataclass, field
from types import SimpleNamespace

import numpy as np
import pytest

from vlm.description.folds import FoldAngles
from vlm.errors import InputRefused
from vlm.flight.craft import small_motions
from vlm.flight.motion.roll_authority import Air
from vlm.study.compare import numbers as compare_numbers
from vlm.study.compare.numbers import Sheet

AIR = Air(10.0, 1.2)
REFERENCE = SimpleNamespace(area=2.0, span=3.0, chord=0.5)
WAKE = {"CL": 0.02, "CDi": 0.001, "Cl_beta": 0.06, "Cn_beta": 0.07, "neutral_point_m": 0.01,
        compare_numbers.HINGE: 0.1}  # fmt: skip


@pytest.fixture(autouse=True)
def _known_wake(monkeypatch):
    monkeypatch.setattr(compare_numbers, "wake_spread", lambda loads, state: dict(WAKE))


def flight(**more):
    plain = {"alpha": 0.0, "airspeed": 10.0, "density": 1.2, "dynamic_pressure": 60.0,
             "thrust": 2.0, "stall_margin": 0.1, "motion": "motion"}  # fmt: skip
    return SimpleNamespace(**{**plain, **more})


@dataclass(frozen=True)
class Craft:
    strips: object = "sections"
    bodies: tuple = ("upper_left", "upper_right")
    loads: object = field(default_factory=lambda: SimpleNamespace(reference=REFERENCE))

    def hinge_moments(self, motion, density):
        return {"upper_left": 1.0, "upper_right": -1.5 if self.strips else -1.25}

    def drag_slopes(self, alpha):
        return dict.fromkeys(compare_numbers.SLOPES, 0.01 * alpha)


def entry(tips=("upper",), folds=(0.0, 0.0)):
    return SimpleNamespace(craft=SimpleNamespace(tips=tips, rotors=()), folds=FoldAngles(*folds))


@pytest.mark.parametrize(
    ("low", "fold", "pairs"),
    [
        (-40.0, 0.0, [(0.0, -40.0), (20.0, -40.0), (20.0, 0.0)]),
        (-40.0, 20.0, [(20.0, -40.0)]),
        (-40.0, -40.0, [(20.0, -40.0)]),
    ],
)
def test_settings_that_roll_to_starboard(low, fold, pairs):
    """Port up and starboard down, of base fold and limits."""
    folding = SimpleNamespace(range_deg=(low, 20.0))
    found = compare_numbers.roll_settings(entry(folds=(fold, fold)), folding)
    assert sorted((f.left_deg, f.right_deg) for f in found) == sorted(pairs)
    assert compare_numbers.roll_settings(entry(tips=()), folding) == []
    assert compare_numbers.roll_settings(entry(folds=(0.0, 1.0)), folding) == []


def test_the_strongest_roll_is_the_largest_either_way(monkeypatch):
    moments = {(0.0, -40.0): -3.0, (20.0, -40.0): 2.0, (20.0, 0.0): "surfaces cross"}
    monkeypatch.setattr(compare_numbers, "level_flight", lambda *_: "base")
    monkeypatch.setattr(
        compare_numbers, "setting_point",
        lambda folding, folds, air, base: (
            one if isinstance(one := moments[folds.left_deg, folds.right_deg], str)
            else {"rolling_moment_N_m": one}),
    )  # fmt: skip
    folding = SimpleNamespace(range_deg=(-40.0, 20.0), at=lambda folds: None)
    found = compare_numbers.strongest_roll(entry(), folding, AIR)
    assert (found.left_deg, found.right_deg) == (0.0, -40.0)
    moments |= dict.fromkeys(moments, "surfaces cross")
    assert compare_numbers.strongest_roll(entry(), folding, AIR) is None
    monkeypatch.setattr(compare_numbers, "level_flight", lambda *_: None)
    assert compare_numbers.strongest_roll(entry(), folding, AIR) is None


def rolled(monkeypatch, roll=-4.0, yaw=0.5, rate=-30.0, alpha=0.0):
    point = {"rolling_moment_N_m": roll, "yawing_moment_N_m": yaw, "roll_rate_deg_s": rate}
    monkeypatch.setattr(compare_numbers, "level_flight", lambda *_: flight(alpha=alpha))
    monkeypatch.setattr(compare_numbers, "setting_point", lambda *_: point)
    monkeypatch.setattr(compare_numbers, "moment_spread", lambda *_: np.array([0.2, 9.0, 0.1]))
    monkeypatch.setattr(compare_numbers, "stalled_moments", lambda *_: np.array([0.3, 9.0, 0.4]))
    monkeypatch.setattr(
        compare_numbers, "stalled_roll_rate", lambda craft, flight, rate: abs(rate) / 10.0
    )
    sheet, folding = Sheet(), SimpleNamespace(at=lambda folds: None)
    compare_numbers.roll_numbers(entry(), folding, FoldAngles(), AIR, sheet)
    return sheet


def test_a_roll_s_numbers_by_size_and_its_yaw_with_the_roll(monkeypatch):
    """Sizes 4 and 30; the yaw of +0.5 works against a roll to port, and so is adverse. The rate's
    spread is its moment's share: 0.2/4 of 30."""
    sheet = rolled(monkeypatch)
    assert sheet.values["rolling_moment_N_m"] == 4.0
    assert sheet.values["yawing_moment_N_m"] == -0.5
    assert sheet.values["roll_rate_deg_s"] == 30.0
    assert sheet.wake["rolling_moment_N_m"] == pytest.approx(0.2)
    assert sheet.wake["yawing_moment_N_m"] == pytest.approx(0.1)
    assert sheet.wake["roll_rate_deg_s"] == pytest.approx(1.5)
    assert sheet.corner["rolling_moment_N_m"] == pytest.approx(0.3)
    assert sheet.corner["yawing_moment_N_m"] == pytest.approx(0.4)
    assert sheet.corner["roll_rate_deg_s"] == pytest.approx(3.0)
    turned = rolled(monkeypatch, alpha=np.radians(30.0))
    assert turned.wake["rolling_moment_N_m"] == pytest.approx(0.2 * 0.75**0.5 + 0.1 * 0.5)
    assert turned.corner["yawing_moment_N_m"] == pytest.approx(0.3 * 0.5 + 0.4 * 0.75**0.5)
    assert "roll_rate_deg_s" not in rolled(monkeypatch, rate=np.nan).values
    assert rolled(monkeypatch, roll=0.0).wake["roll_rate_deg_s"] == 0.0


def test_a_setting_that_cannot_be_flown_has_no_roll(monkeypatch):
    def refuse(folds):
        if folds.left_deg:
            raise InputRefused("surfaces cross")

    monkeypatch.setattr(compare_numbers, "level_flight", lambda *_: flight())
    sheet = Sheet()
    folding = SimpleNamespace(at=refuse)
    compare_numbers.roll_numbers(entry(), folding, FoldAngles(1.0, 0.0), AIR, sheet)
    monkeypatch.setattr(compare_numbers, "setting_point", lambda *_: "too slow")
    compare_numbers.roll_numbers(entry(), folding, FoldAngles(), AIR, sheet)
    assert sheet.values == {}


@pytest.mark.parametrize(("margin", "width"), [(-0.01, 1.0), (0.01, 0.0)])
def test_stalled_sections_leave_angle_and_thrust_open(monkeypatch, margin, width):
    """0.02 rad more than the lattice alone, 0.5 N more of thrust."""
    monkeypatch.setattr(
        compare_numbers, "level_flight",
        lambda craft, *_: flight(alpha=0.08, thrust=1.5) if craft.strips is None else None,
    )  # fmt: skip
    sheet = Sheet()
    compare_numbers._stalled_trim(Craft(), flight(alpha=0.1, stall_margin=margin), sheet)
    turn = np.degrees(0.02) * width
    assert sheet.corner["level_alpha_deg"] == pytest.approx(turn)
    assert sheet.corner["stall_margin_deg"] == pytest.approx(turn)
    assert sheet.corner["thrust_N"] == pytest.approx(0.5 * width)
    monkeypatch.setattr(compare_numbers, "level_flight", lambda *_: None)
    none = Sheet()
    compare_numbers._stalled_trim(Craft(), flight(), none)
    assert none.corner == {}


def test_growth_with_what_wake_and_rotors_leave_open(monkeypatch):
    """Rates: pitch stiffness by area, slope and neutral point, 120 x 4 x 0.01/10; roll and yaw with
    side velocity by area and span, 360/10 of 0.06 and 0.07. The fastest root counts, and what a
    slower one may reach."""
    seen = []
    monkeypatch.setattr(
        compare_numbers,
        "motions_with_rotors",
        lambda craft, folded, flight: ("own", ("one", "other")),
    )
    monkeypatch.setattr(compare_numbers, "lateral_matrix", lambda motion: f"lateral {motion}")
    monkeypatch.setattr(compare_numbers, "longitudinal_matrix", lambda motion: f"pitch {motion}")
    monkeypatch.setattr(
        small_motions, "matrix_change", lambda motion, change, states: (change.copy(), states)
    )
    monkeypatch.setattr(compare_numbers, "stalled_rates", lambda *_: np.full((6, 8), 0.5))

    def modes(matrix, change, ends):
        seen.append((matrix, *change, ends))
        stalls = change[0][0, 0] == 0.5
        base = {"pitch own": 0.1, "lateral own": -0.2}[matrix]
        off = 0.02 if stalls else 0.01
        swings = SimpleNamespace(root=complex(base - 1.0, 2.0), growth_error=1.3 if stalls else 0.9)
        return [swings, SimpleNamespace(root=complex(base, 0.0), growth_error=off)]

    monkeypatch.setattr(compare_numbers, "longitudinal_modes", modes)
    monkeypatch.setattr(compare_numbers, "lateral_modes", modes)
    sheet = Sheet()
    compare_numbers._growth(None, Craft(), flight(), 4.0, sheet)
    assert sheet.values == {"pitch_growth_1_s": 0.1, "lateral_growth_1_s": -0.2}
    assert sheet.wake["pitch_growth_1_s"] == 0.01
    assert sheet.corner["lateral_growth_1_s"] == pytest.approx(0.3)
    change = np.zeros((6, 6))
    change[4, 2], change[3, 1], change[5, 1] = 0.48, 36.0 * 0.06, 36.0 * 0.07
    np.testing.assert_allclose(seen[0][1], change)
    np.testing.assert_allclose(seen[1][1], 0.5)
    assert [one[0] for one in seen] == 2 * ["pitch own"] + 2 * ["lateral own"]
    assert [one[3] for one in seen] == [
        ["pitch one", "pitch other"], [], ["lateral one", "lateral other"], []
    ]  # fmt: skip
    assert seen[0][2] == compare_numbers.LONGITUDINAL
    assert seen[2][2] == compare_numbers.LATERAL


def level(monkeypatch, one, bodies=("upper_left", "upper_right")):
    slopes = dict.fromkeys(compare_numbers.SLOPES, -0.1)
    monkeypatch.setattr(compare_numbers, "level_flight", lambda *_: one)
    monkeypatch.setattr(compare_numbers, "surface_areas", lambda cellule: None)
    monkeypatch.setattr(
        compare_numbers, "tip_sizes", lambda cellule: {"upper": (0.5, 0.2), "lower": (0.4, 1.0)}
    )
    monkeypatch.setattr(compare_numbers, "evaluated", lambda *_: {**slopes, "CL_alpha": -4.0})
    monkeypatch.setattr(
        compare_numbers, "error_floors", lambda *_: dict.fromkeys(compare_numbers.SLOPES, 0.001)
    )
    monkeypatch.setattr(
        compare_numbers, "section_slopes",
        lambda *_: (None, dict.fromkeys(compare_numbers.SLOPES, 0.03)),
    )  # fmt: skip
    monkeypatch.setattr(
        compare_numbers, "_corner_slopes",
        lambda *_: dict.fromkeys(compare_numbers.SLOPES, 0.002),
    )  # fmt: skip
    monkeypatch.setattr(compare_numbers, "_stalled_trim", lambda *_: None)
    monkeypatch.setattr(compare_numbers, "_growth", lambda *_: None)
    monkeypatch.setattr(
        compare_numbers, "corner_spread", lambda folded, value: 0.1 * np.abs(value(folded))
    )
    monkeypatch.setattr(compare_numbers, "stalled_hinges", lambda *_: np.array([0.0, 0.3]))
    sheet = Sheet()
    folding = SimpleNamespace(
        at=lambda folds: Craft(bodies=bodies), engine=SimpleNamespace(cellule=None)
    )
    compare_numbers.level_numbers(entry(), folding, AIR, sheet)
    return sheet


def test_numbers_of_level_flight(monkeypatch):
    """Force 120 N for a coefficient of one; angle 0.02/4 rad; the largest tip is 0.4 m^3."""
    sheet = level(monkeypatch, flight(alpha=0.1, stall_margin=-0.05))
    turn = np.degrees(0.005)
    assert sheet.values["level_alpha_deg"] == pytest.approx(np.degrees(0.1))
    assert sheet.wake["level_alpha_deg"] == pytest.approx(turn)
    assert sheet.values["stall_margin_deg"] == pytest.approx(np.degrees(-0.05))
    assert sheet.wake["stall_margin_deg"] == pytest.approx(turn)
    assert (sheet.values["thrust_N"], sheet.wake["thrust_N"]) == pytest.approx((2.0, 0.12))
    for name in compare_numbers.SLOPES:
        assert sheet.values[name] == pytest.approx(-0.07 + 0.001)
        assert sheet.corner[name] == pytest.approx(0.03 + 0.002)
        assert sheet.wake[name] == pytest.approx(WAKE.get(name, 0.0))
    assert sheet.values["hinge_moment_N_m"] == 1.5
    assert sheet.wake["hinge_moment_N_m"] == pytest.approx(60.0 * 0.4 * 0.1)
    # By the lattice alone the corner's moment is 1.25.
    assert sheet.corner["hinge_moment_N_m"] == pytest.approx(0.3 + 0.125)
    calm = level(monkeypatch, flight(stall_margin=np.inf), ())
    assert "stall_margin_deg" not in calm.values
    assert "hinge_moment_N_m" not in calm.values
    assert calm.corner[compare_numbers.SLOPES[0]] == pytest.approx(0.002)


@pytest.mark.parametrize(("enough", "words"), [(None, "airspeed"), (12.5, "at 12.5 m/s they can")])
def test_too_slow_to_fly_says_what_would_do(monkeypatch, enough, words):
    monkeypatch.setattr(compare_numbers, "carrying_airspeed", lambda *_: enough)
    (missing,) = level(monkeypatch, None).missing
    assert missing.startswith("level flight at 10 m/s")
    assert words in missing


def test_corners_are_what_the_spread_has_beyond_the_wake():
    found = compare_numbers._corners(
        {"CL": 0.05, "CDi": 0.01, "more": 1.0}, {"CL": 0.02, "CDi": 0.02}
    )
    assert found == {"CL": pytest.approx(0.03), "CDi": 0.0}


@pytest.mark.parametrize("mass", [None, 2.0])
def test_numbers_at_an_angle_of_attack(monkeypatch, mass):
    """Half of 1.2 x 100 x 2 m^2 is 120 N for a coefficient of one; of the neutral point a chord of
    0.5 m makes twice as many chords; slopes stand there where no level flight can be."""
    names = ("CL", "CDi", "span_efficiency", "neutral_point_m", *compare_numbers.SLOPES)
    values = dict.fromkeys((*names, *compare_numbers.PITCHING, "CL_alpha"), 0.5)
    wake = {**WAKE, "span_efficiency": 0.03}
    spread = {**wake, "CL": 0.05, "neutral_point_m": 0.03, "span_efficiency": 0.07}
    loads = SimpleNamespace(reference=REFERENCE)
    for name, found in {
        "build_lattice": None, "solved": loads, "build_cellule": None, "surface_areas": None,
        "tip_sizes": None, "evaluated": values, "error_floors": dict.fromkeys(names, 0.001),
        "wake_spread": wake, "point_spread": spread,
    }.items():  # fmt: skip
        monkeypatch.setattr(compare_numbers, name, lambda *_, _found=found, **__: _found)
    one = SimpleNamespace(craft=SimpleNamespace(mass=mass, rotors=()), folds=FoldAngles())
    sheet, state = Sheet(), SimpleNamespace(density=1.2, airspeed=10.0)
    compare_numbers.angle_numbers(one, state, None, sheet)
    assert sheet.values["lift_N"] == pytest.approx(60.0)
    assert sheet.wake["lift_N"] == pytest.approx(2.4)
    assert sheet.floors["lift_N"] == pytest.approx(0.12)
    assert sheet.corner["lift_N"] == pytest.approx(3.6)
    assert sheet.wake["induced_drag_N"] == pytest.approx(0.12)
    assert sheet.corner["span_efficiency"] == pytest.approx(0.04)
    margin, point = compare_numbers.PITCHING
    assert sheet.wake[margin] == pytest.approx(2.0 * sheet.wake[point]) == pytest.approx(0.02)
    assert sheet.floors[margin] == pytest.approx(compare_numbers.NEUTRAL_FLOOR)
    assert sheet.floors[point] == pytest.approx(0.5 * compare_numbers.NEUTRAL_FLOOR)
    assert (sheet.corner[margin], sheet.corner[point]) == pytest.approx((0.04, 0.02))
    assert (compare_numbers.SLOPES[0] in sheet.values) == (mass is None)
