"""What the model leaves open in a number, by hand: wake, corners, stalled sections, slipstream.

No source but the rules stated in the modules; all numbers are invented. What the wake leaves open
in a coefficient is put in as 0.01, 0.02, ... so that each counts in its own place.
"""

from dataclasses import dataclass
from types import SimpleNamespace

import numpy as np
import pytest

from vlm.flight.craft import model_spread as craft_spread
from vlm.flight.craft import stalled
from vlm.loads.model_spread import HINGE
from vlm.loads.state import FlightState
from vlm.study.hinge import errors as hinge_errors
from vlm.study.hinge import slipstream as hinge_slipstream
from vlm.study.motion import spread as motion_spread
from vlm.study.point import model_spread

WAKE = {
    "CL": 0.01, "CDi": 0.02, "Cl": 0.03, "Cm": 0.04, "Cn": 0.05, "Cl_beta": 0.06, "Cn_beta": 0.07,
    "span_efficiency": 0.08, "neutral_point_m": 0.09, HINGE: 0.1,
}  # fmt: skip
REFERENCE = SimpleNamespace(area=2.0, span=3.0, chord=0.5)


@pytest.fixture(autouse=True)
def _known_wake(monkeypatch):
    for module in (model_spread, craft_spread, motion_spread, hinge_errors):
        monkeypatch.setattr(module, "wake_spread", lambda loads, state: dict(WAKE))


VALUES = {
    **dict.fromkeys(model_spread.PLAIN, 1.0), "CL_alpha": -4.0, "Cm_alpha": 0.1,
    f"{HINGE}_upper_left": -0.5, "hinge_moment_upper_left_N_m": 4.0,
    f"{HINGE}_upper_right": 0.0, "hinge_moment_upper_right_N_m": 0.0,
}  # fmt: skip


def test_spreads_of_a_setting():
    """Moments by what one is worth for a coefficient of one, 8 N m; margin by the chord, and
    Cm_alpha by CL_alpha."""
    loads = SimpleNamespace(reference=REFERENCE)
    found = model_spread.model_spread(loads, FlightState(alpha=np.radians(30.0)), VALUES)
    for name in model_spread.PLAIN:
        assert found[name] == pytest.approx(WAKE[name])
    assert found[f"{HINGE}_upper_left"] == pytest.approx(0.1)
    assert found["hinge_moment_upper_left_N_m"] == pytest.approx(0.8)
    assert found["hinge_moment_upper_right_N_m"] == 0.0
    assert found["static_margin"] == pytest.approx(0.18)
    assert found["Cm_alpha"] == pytest.approx(0.18 * 4.0)
    # Both slopes turn with the axes: each error counts in full, whatever its sign.
    assert found["Cl_beta_stability"] == pytest.approx(0.75**0.5 * 0.06 + 0.5 * 0.07)
    assert found["Cn_beta_stability"] == pytest.approx(0.75**0.5 * 0.07 + 0.5 * 0.06)
    down = model_spread.model_spread(loads, FlightState(alpha=np.radians(-30.0)), VALUES)
    assert down["Cl_beta_stability"] == pytest.approx(found["Cl_beta_stability"])
    names = (*VALUES, "static_margin", "Cl_beta_stability", "Cn_beta_stability", "CY")
    assert set(found) == set(model_spread.spread_names(names))


def test_other_corners_add_their_largest_difference():
    others = [{**VALUES, "CL": 1.5, "Cl_beta": 0.8}, {**VALUES, "CL": 0.7}]
    loads = SimpleNamespace(reference=REFERENCE)
    found = model_spread.model_spread(loads, FlightState(), VALUES, others)
    assert found["CL"] == pytest.approx(0.01 + 0.5)
    assert found["Cl_beta"] == pytest.approx(0.06 + 0.2)
    assert found["Cl_beta_stability"] == pytest.approx(0.26)
    assert found["CDi"] == pytest.approx(0.02)
    many = {name: np.array([value, value]) for name, value in VALUES.items()}
    others = [{**many, "CL": np.array([1.5, 1.0])}, {**many, "CL": np.array([0.7, 1.2])}]
    found = model_spread.model_spread(loads, FlightState(alpha=np.zeros(2)), many, others)
    np.testing.assert_allclose(found["CL"], [0.51, 0.21])
    np.testing.assert_allclose(found["hinge_moment_upper_left_N_m"], [0.8, 0.8])


def flight(**more):
    plain = {
        "dynamic_pressure": 10.0, "alpha": 0.0, "airspeed": 4.0, "density": 1.25,
        "motion": np.array([4.0, 0, 0, 0, 0, 0]), "stall_margin": 0.1,
    }  # fmt: skip
    return SimpleNamespace(**{**plain, **more})


def cornered(*moments):
    """A craft whose moments with each of its corners are known, those of its own first."""

    def one(three):
        return SimpleNamespace(
            loads=SimpleNamespace(reference=REFERENCE),
            wrenches_without_sections=lambda motion, density: np.array(
                [[9, 9, 9, *three], [8] * 6]
            ),
        )

    made = one(moments[0])
    made.other_corners = lambda: [one(three) for three in moments[1:]]
    return made


def test_moments_in_level_flight():
    """20 N by span, chord and span; corners add the largest difference of each moment."""
    wake = 20.0 * np.array([3.0 * 0.03, 0.5 * 0.04, 3.0 * 0.05])
    found = craft_spread.moment_spread(cornered((1, 2, 3)), flight())
    np.testing.assert_allclose(found, wake)
    found = craft_spread.moment_spread(cornered((1, 2, 3), (0, 2, 7), (3, 2, 2)), flight())
    np.testing.assert_allclose(found - wake, [2, 0, 4])


# --- stalled sections ---------------------------------------------------------------------------


@pytest.mark.parametrize(("margin", "width"), [(-0.01, 3.0), (0.0, 0.0), (0.2, 0.0)])
def test_past_stall_all_that_sections_change_is_open(margin, width):
    assert stalled.left_open(margin, -3.0) == width
    craft = SimpleNamespace(
        changed_wrenches=lambda motion, density: np.array([[9, 9, 9, 1, -2, 3], [8] * 6]) * density,
        section_rates=lambda motion, density: -np.ones((6, 2)) * density, motions=2,
    )  # fmt: skip
    one = flight(stall_margin=margin, density=1.0)
    np.testing.assert_allclose(stalled.stalled_moments(craft, one), np.array([1, 2, 3]) * width / 3)
    np.testing.assert_allclose(stalled.stalled_rates(craft, one), np.ones((6, 2)) * width / 3)


def test_a_roll_about_the_direction_of_flight():
    """Body axes: at 30 degrees of attack a roll of 2 rad/s is 2 cos 30 of p and 2 sin 30 of r."""
    one = flight(alpha=np.radians(30.0))
    found = stalled.in_roll(one, 2.0)
    np.testing.assert_allclose(found, [4, 0, 0, 3**0.5, 0, 1.0], atol=1e-12)
    assert one.motion[3] == 0.0


@pytest.mark.parametrize("sense", [1.0, -1.0])
@pytest.mark.parametrize(("rate", "width"), [(0.0, [0.0, 0.0]), (2.0, [5.0, 3.0])])
def test_the_worst_of_level_flight_and_of_rolls_both_ways(rate, width, sense):
    """Stalled in the roll to one side alone; there the change is 1.5 and -2.5 times p."""

    def change(motion, density):
        p = sense * float(motion[0, 3])
        hinges = {"a": np.array([-2.5 * p, 99.0]), "b": np.array([1.5 * p, 99.0])}
        return SimpleNamespace(margin=np.array([0.1 + p, 99.0]), hinges=hinges)

    craft = SimpleNamespace(hinge_tables={"a": 0, "b": 0}, section_change=change)
    np.testing.assert_allclose(stalled.stalled_hinges(craft, flight(), rate), width)
    if not rate:
        np.testing.assert_allclose(stalled.stalled_hinges(craft, flight()), width)
    craft.section_change = lambda motion, density: None
    np.testing.assert_allclose(stalled.stalled_hinges(craft, flight(), rate), 0.0)


@dataclass(frozen=True)
class Rolling:
    strips: object
    margin: float

    def stall(self, motion, density):
        return self.margin, 99.0


@pytest.mark.parametrize(
    ("level", "in_roll", "alone", "width"),
    [
        (0.1, 0.1, 1.5, 0.0),
        (-0.1, 0.1, 1.5, 0.5),
        (0.0, 0.0, 1.5, 0.0),
        (0.1, -0.1, 2.75, 0.75),
        (0.1, -0.1, None, None),
    ],
)
def test_a_roll_rate_is_open_by_what_sections_change(monkeypatch, level, in_roll, alone, width):
    monkeypatch.setattr(stalled, "steady_roll_rate", lambda c, f: None if c.strips else alone)
    found = stalled.stalled_roll_rate(Rolling("held", in_roll), flight(stall_margin=level), 2.0)
    assert found == pytest.approx(np.nan if width is None else width, nan_ok=True)


# --- hinges -------------------------------------------------------------------------------------


def hinged(moments, errors, of_stalled, corners=()):
    """Moments as density by motion, table, motion: of u^2 alone."""
    tables = {
        body: SimpleNamespace(at=lambda alpha, m=m: np.diag([m, 0, 0, 0, 0, 0]))
        for body, m in moments.items()
    }
    return SimpleNamespace(
        hinge_tables=tables, loads=SimpleNamespace(errors=errors), other_corners=lambda: corners,
        section_change=lambda motion, density: SimpleNamespace(
            margin=np.array([-1.0]), hinges={b: np.array([m]) for b, m in of_stalled.items()}
        ),
    )  # fmt: skip


def test_parts_of_a_hinge_moments_half_width(monkeypatch):
    """Density 1.25, 4 m/s: rho V^2 = 20 N/m^2, twice the dynamic pressure; tips of 0.5 m^2 by
    0.2 m and 0.4 m^2 by 1 m."""
    monkeypatch.setattr(
        hinge_errors, "tip_sizes", lambda cellule: {"upper": (0.5, 0.2), "lower": (0.4, 1.0)}
    )
    names = ("upper_left", "lower_right")
    monkeypatch.setattr(
        hinge_errors, "hinge_sizes", lambda *_: {f"hinge_moment_{b}_N_m": 1.0 for b in names}
    )
    monkeypatch.setattr(hinge_errors, "floors_of", lambda loads, sizes: sizes)
    monkeypatch.setattr(
        hinge_errors, "half_widths",
        lambda fine, rough, floors, grid: {n: 0.5 * abs(fine[n] - rough[n]) for n in floors},
    )  # fmt: skip
    fine = hinged({"upper_left": 0.3, "lower_right": -0.2}, {"hinge_moment_upper_left": 0.01},
                  {"upper_left": -0.7, "lower_right": 0.0},
                  [hinged({"upper_left": 0.28, "lower_right": -0.2}, {}, {})])  # fmt: skip
    rough = hinged({"upper_left": 0.35, "lower_right": -0.1}, {}, {})
    found = hinge_errors.hinge_half_widths(fine, rough, SimpleNamespace(grid=None), flight())
    assert found == {
        "upper_left": pytest.approx(0.5 * 1.0 + 0.01 * 20.0 + 0.1 * 10.0 * 0.1 + 0.7 + 0.4),
        "lower_right": pytest.approx(0.5 * 2.0 + 0.1 * 10.0 * 0.4),
    }


def test_the_slipstream_s_part_of_a_hinge_moment_has_an_error_of_its_own(monkeypatch):
    grid = SimpleNamespace()
    monkeypatch.setattr(hinge_slipstream, "half_width", lambda fine, rough, size, g: (
        0.5 * abs(fine - rough) + 0.1 * size if g is grid else np.nan))  # fmt: skip
    changes = {"fine": -2.0, "rough": -1.0}

    def craft(kind, thrusts):
        return SimpleNamespace(
            thrusts=thrusts,
            section_change=lambda motion, density: SimpleNamespace(
                hinges={"upper_left": np.array([changes[kind]])}
            ),
        )

    monkeypatch.setattr(
        hinge_slipstream, "BlownCraft",
        lambda folding, thrusts: SimpleNamespace(at=lambda folds: craft("rough", thrusts)),
    )  # fmt: skip
    folding = SimpleNamespace(engine=SimpleNamespace(grid=grid))
    hinges = hinge_slipstream.HingeSlipstream(folding, None)
    hinges.__dict__["_rough"] = None
    widened = hinges.widened({"upper_left": 0.25}, craft("fine", (1.0,)), None, flight())
    assert widened == {"upper_left": pytest.approx(0.25 + 0.5 * 1.0 + 0.1 * 2.0)}
    assert hinges.widened({"upper_left": 0.25}, craft("fine", None), None, flight()) == {
        "upper_left": 0.25
    }


# --- a motion -----------------------------------------------------------------------------------


def history(bank=0.0, beta=0.0):
    return SimpleNamespace(
        alpha=np.array([0.1, 0.2, 0.0]), beta=np.array([0.0, beta, 0.0]),
        bank=np.array([0.0, bank, 0.0]), airspeed=np.array([5.0, 10.0, 8.0]),
        folds={"left": np.radians([0.0, -50.4, 20.0]), "right": np.radians([0.0, 29.6, 30.0])},
    )  # fmt: skip


PLANT = SimpleNamespace(
    density=1.2, air=SimpleNamespace(points=(np.radians([-40, 0, 60]), np.radians([-40, 0, 60])),
                                     motions=6),
    bodies=SimpleNamespace(tips=[SimpleNamespace(body="upper_left"),
                                 SimpleNamespace(body="lower_right")]),
)  # fmt: skip


@pytest.mark.parametrize(
    ("bank", "beta", "groups"),
    [(0.0, 0.0, 2), (2e-6, 0.0, 4), (0.0, -2e-6, 4), (-2e-6, 0.0, 4), (5e-7, -5e-7, 2)],
)
def test_allowances_of_a_motion(monkeypatch, bank, beta, groups):
    """Area 2 m^2, span 3 m, chord 0.5 m; lift acts upward, so along -z, drag along -x. It begins
    with the start's, here half of Cl; where the craft folds and slips most, the largest counts."""
    asked = []

    def wake(loads, state):
        asked.append((loads, round(float(state.alpha), 6), float(state.beta)))
        if len(asked) == 3:
            return WAKE | {"Cl": 0.5 * WAKE["Cl"]}
        return {k: v * (2.0 if len(asked) == 2 and k != "Cn" else 1.0) for k, v in WAKE.items()}

    monkeypatch.setattr(motion_spread, "wake_spread", wake)
    monkeypatch.setattr(motion_spread, "tip_sizes", lambda c: {"upper": (0.5, 0.2),
                                                               "lower": (0.4, 1.0)})  # fmt: skip
    closing = np.array([0, 0, 0, 0, 0, 0, 0.5, -0.25])
    monkeypatch.setattr(motion_spread, "closing_change", lambda *_: closing if bank else None)

    class Loads(SimpleNamespace):
        pass

    start = Loads(reference=REFERENCE)
    folded = Loads(reference=None)
    folding = SimpleNamespace(
        at=lambda folds: SimpleNamespace(loads=start if folds == "start" else folded),
        engine=SimpleNamespace(cellule=None),
    )
    found = motion_spread.load_spread(
        folding, PLANT, SimpleNamespace(start="start"), history(bank, beta)
    )
    assert asked == [(start, 0.1, abs(beta)), (folded, 0.2, abs(beta)), (start, 0.1, 0.0)]
    assert len(found.groups) == groups
    rows = [
        ([-2 * 0.04, 0, -2 * 0.02, 0, 0, 0, 0, 0], [0] * 8),
        ([0, 0, 0, 0, 2 * 0.5 * 0.08, 0, 0, 0], [0] * 8),
        ([0, 0, 0, 6 * 0.06, 0, 0, 0, 0], [0, 0, 0, 6 * 0.12, 0, 0, 0, 0]),
        ([0, 0, 0, 0, 0, 6 * 0.05, 0, 0], [0, 0, 0, 0, 0, 6 * 0.14, 0, 0]),
    ]
    for group, (shift, slope) in zip(found.groups, rows, strict=False):
        share = 0.25 if np.any(np.array(shift)[3:4]) else 0.5  # of Cl, of the others but Cn
        share = 1.0 if np.any(np.array(shift)[5:6]) else share
        np.testing.assert_allclose(group.at(0.0, 0.0), share * np.array(shift))
        np.testing.assert_allclose(group.at(1.0, 0.0), shift)
        np.testing.assert_allclose(group.slope + group.more_slope, slope)
        assert group.growth.fold_reach == pytest.approx(np.radians(50.4))
        assert group.growth.beta_reach == abs(beta)
    pressure = 0.6 * 100.0
    assert found.hinges == {
        "upper_left": pytest.approx(0.2 * pressure * 0.1 + (0.5 if bank else 0.0)),
        "lower_right": pytest.approx(0.2 * pressure * 0.4 + (0.25 if bank else 0.0)),
    }


def test_the_most_folded_setting_in_whole_degrees_within_the_table():
    found = motion_spread._most_folded(PLANT, history())
    assert (found.left_deg, found.right_deg) == (-40.0, 30.0)
    assert motion_spread.history_folds(history()) == pytest.approx((20.0, 30.0))


@pytest.mark.parametrize(
    ("folds", "joined", "known"),
    [((20.9, 29.1), True, True), ((21.1, 30.0), True, False), ((20.0, 28.9), True, False),
     ((20.0, 30.0), False, False)],
)  # fmt: skip
def test_what_a_joint_that_closes_changes(monkeypatch, folds, joined, known):
    """Within a degree of the last fold; at the last airspeed of 8 m/s and no angle of attack."""
    seen = {}

    def loads(kind):
        def of(here, motion, density):
            seen[kind] = (np.degrees(here), motion, density)
            return np.full(8, {"closed": 5.0, "open": 3.0}[kind])

        return of

    monkeypatch.setattr(
        motion_spread, "table_at", lambda *_: SimpleNamespace(loads=loads("closed"))
    )
    plant = SimpleNamespace(density=1.2, air=SimpleNamespace(motions=8, loads=loads("open")))
    asked = SimpleNamespace(left_deg=folds[0], right_deg=folds[1])
    lattice = SimpleNamespace(is_joined=joined)
    folding = SimpleNamespace(at=lambda f: SimpleNamespace(loads=SimpleNamespace(lattice=lattice)))
    one = history()
    one.alpha[-1] = np.radians(30.0)
    found = motion_spread.closing_change(folding, plant, SimpleNamespace(commanded=[asked]), one)
    assert (found is not None) == known
    if known:
        np.testing.assert_allclose(found, 2.0)
        for here, motion, density in seen.values():
            np.testing.assert_allclose(here, folds)
            np.testing.assert_allclose(motion, [8 * 0.75**0.5, 0, 4.0, 0, 0, 0, 0, 0])
            assert density == 1.2


@pytest.mark.parametrize("more", [1.0, -1.0])
@pytest.mark.parametrize(("servos", "moment"), [(1, 0.7), (2, 0.4)])
def test_a_servo_for_the_side_carries_both_tips_half_widths(monkeypatch, servos, moment, more):
    """Driven and held the gear's torque differs: the larger counts."""
    monkeypatch.setattr(
        motion_spread, "worm_torque",
        lambda actuator, load, friction: load * friction * (3.0 if load * more > 0.0 else 1.0),
    )  # fmt: skip
    drives = [None, SimpleNamespace(servos=servos, actuator=None, friction=0.1)]
    plant = SimpleNamespace(drives=drives)
    assert motion_spread.worm_width(plant, 1, (0.3, 0.4)) == pytest.approx(0.3 * moment)
    assert motion_spread.worm_width(SimpleNamespace(drives=None), 1, (0.3, 0.4)) == 0.0
