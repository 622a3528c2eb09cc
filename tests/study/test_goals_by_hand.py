"""What a design is worth, and where power curves cross for good: by hand.

No source but the rules stated in the modules; what is trimmed and solved is put in, all invented.
"""

from dataclasses import dataclass
from types import SimpleNamespace

import numpy as np
import pytest

from vlm.constants import GRAVITY
from vlm.errors import ComputationFailed, InputRefused
from vlm.show.tables import power as power_table
from vlm.study.design import goals as design_goals
from vlm.study.design.goals import GoalPlan, Worth
from vlm.study.power import crossings as power_crossings

# --- goals --------------------------------------------------------------------------------------


def craft(mass=2.0, tips=True, reserve=None):
    return SimpleNamespace(
        mass=None if mass is None else SimpleNamespace(total_kg=mass), source_name="x.toml",
        tips={"upper": 1} if tips else {}, fold_range_deg=(-40.0, 20.0),
        schedule=SimpleNamespace(roll_reserve_deg=reserve),
    )  # fmt: skip


@pytest.mark.parametrize(
    ("plan", "more", "words"),
    [
        (GoalPlan("power", airspeed=12.0), {}, None),
        (GoalPlan("power"), {}, "needs an airspeed"),
        (GoalPlan("span efficiency"), {}, None),
        (GoalPlan("induced drag", airspeed=12.0), {}, None),
        (GoalPlan("induced drag", airspeed=12.0), {"mass": None}, "needs a lift"),
        (GoalPlan("induced drag", airspeed=12.0, lift_N=9.0), {"mass": None}, None),
        (GoalPlan("induced drag", lift_N=9.0), {}, "needs an airspeed"),
        (GoalPlan("rolling moment", airspeed=12.0), {"reserve": 5.0}, None),
        (GoalPlan("rolling moment", airspeed=12.0), {}, "roll_reserve_deg is missing"),
        (GoalPlan("rolling moment"), {"reserve": 5.0}, "needs an airspeed"),
    ],
)
def test_what_a_goal_needs(monkeypatch, plan, more, words):
    asked = []
    monkeypatch.setattr(design_goals, "check_power_blocks", asked.append)
    made = craft(**more)
    if words is None:
        design_goals.check_goal(made, plan)
        assert bool(asked) == (plan.goal in ("power", "rolling moment"))
    else:
        with pytest.raises(InputRefused, match=words):
            design_goals.check_goal(made, plan)


@pytest.mark.parametrize(
    ("plan", "lift"),
    [
        (GoalPlan("induced drag", airspeed=10.0), 2.0 * GRAVITY),
        (GoalPlan("induced drag", airspeed=10.0, lift_N=30.0), 30.0),
        (GoalPlan("induced drag", airspeed=10.0, lift_N=30.0, fold_deg=-10.0), 30.0),
    ],
)
def test_induced_drag_at_the_angle_that_lifts(monkeypatch, plan, lift):
    """CL = 5 alpha and CDi = CL^2/20 on 0.8 m^2: CDi of CL = lift/(61.25 Pa x 0.8 m^2)."""
    asked = []
    loads = SimpleNamespace(reference=SimpleNamespace(area=0.8))
    monkeypatch.setattr(
        design_goals, "FoldEngine",
        lambda *_, **__: SimpleNamespace(loads=lambda f: asked.append(f.left_deg) or loads),
    )  # fmt: skip
    monkeypatch.setattr(
        design_goals, "coefficients",
        lambda of, state: SimpleNamespace(CL=5.0 * state.alpha, CDi=1.25 * state.alpha**2),
    )  # fmt: skip
    found = design_goals._induced(craft(), plan, None)
    size = 0.5 * 1.225 * 100.0 * 0.8
    assert found.value == pytest.approx((lift / size) ** 2 / 20.0 * size)
    fold = plan.fold_deg or 0.0
    assert asked == [fold]
    assert (found.folds_deg, found.mass_kg) == ((fold, fold), 2.0)
    most = 5.0 * np.radians(30.0) * size
    for beyond in (1.001 * most, -1.001 * most):
        heavy = GoalPlan("induced drag", airspeed=10.0, lift_N=beyond)
        none = design_goals._induced(craft(), heavy, None)
        assert np.isnan(none.value)
        assert "no angle of attack within" in none.reason
    light = GoalPlan("induced drag", airspeed=10.0, lift_N=0.999 * most)
    assert np.isfinite(design_goals._induced(craft(), light, None).value)


class Table:
    def __init__(self, passed=(), best=True):
        self.passed, self.best = passed, best

    def setting(self, fold, speed):
        return SimpleNamespace(
            passed=self.passed, reason="stall margin", power=100.0 + fold, fold_deg=fold,
            quantities={design_goals.ROLL_MOMENT: -3.0}, point=None,
        )  # fmt: skip

    def craft_at(self, fold):
        return None


def tabled(monkeypatch, table, goal=design_goals._power, **plan):
    asked = []
    monkeypatch.setattr(
        design_goals, "power_book",
        lambda craft, folds, speeds, air, grid: asked.append((list(folds), list(speeds))),
    )  # fmt: skip
    monkeypatch.setattr(design_goals, "fold_grid", lambda craft, count: np.array([-40.0, 20.0]))
    monkeypatch.setattr(design_goals, "FoldTable", SimpleNamespace(of=lambda book, bound: table))
    point = SimpleNamespace(
        setting=table.setting(5.0, 12.0) if table.best else None, fold_deg=5.0, power=90.0,
        active=("a",), reason="no fold is allowed",
    )  # fmt: skip
    monkeypatch.setattr(design_goals, "best_fold", lambda table, speed: point)
    made = craft(tips=plan.pop("tips", True), reserve=5.0)
    return goal(made, GoalPlan("power", airspeed=12.0, **plan), lambda schedule: schedule), asked


def test_power_at_the_fold_held_or_at_the_best(monkeypatch):
    held, asked = tabled(monkeypatch, Table(), fold_deg=-10.0)
    assert (held.value, held.folds_deg, held.active) == (90.0, (-10.0, -10.0), ())
    assert asked == [([-10.0], [12.0])]
    fixed, asked = tabled(monkeypatch, Table(), tips=False)
    assert (fixed.value, asked) == (100.0, [([0.0], [12.0])])
    best, asked = tabled(monkeypatch, Table())
    assert (best.value, best.folds_deg, best.active) == (90.0, (5.0, 5.0), ("a",))
    assert asked == [([-40.0, 20.0], [12.0])]
    passed, _ = tabled(monkeypatch, Table(passed=("stall",)), fold_deg=0.0)
    assert (np.isnan(passed.value), passed.reason) == (True, "stall margin")
    none, _ = tabled(monkeypatch, Table(best=False))
    assert (np.isnan(none.value), none.reason) == (True, "no fold is allowed")


def test_a_rolling_moment_counts_by_its_size(monkeypatch):
    found, asked = tabled(monkeypatch, Table(), design_goals._rolling)
    assert (found.value, found.folds_deg, asked) == (3.0, (0.0, 0.0), [([0.0], [12.0])])
    passed, _ = tabled(monkeypatch, Table(passed=("stall",)), design_goals._rolling)
    assert np.isnan(passed.value)


def test_what_fails_is_worth_nothing_and_says_why():
    made = craft()

    def fails():
        raise ComputationFailed("x.toml: the servo stalls")

    found = design_goals._tried(made, "power", fails)
    assert (np.isnan(found.value), found.reason, found.mass_kg) == (True, "the servo stalls", 2.0)
    silent = design_goals._tried(made, "power", lambda: Worth(float("nan")))
    assert silent.reason == "the power has no value here"
    told = design_goals._tried(made, "power", lambda: Worth(float("nan"), "stall"))
    assert told.reason == "stall"
    assert design_goals._tried(made, "power", lambda: Worth(3.0)).reason == ""
    assert design_goals.closed_fold(made) == -40.0
    assert design_goals.closed_fold(craft(tips=False)) is None


# --- crossings ----------------------------------------------------------------------------------

SPEEDS = np.array([8.0, 10.0, 12.0, 14.0])


@dataclass
class Point:
    speed: float
    power: float
    angle: float = 20.0
    trim: object = None

    def value(self, name):
        return self.angle if name == "body_angle_deg" else self.power


def curve(powers, angles=(40.0, 30.0, 20.0, 10.0), margins=(5.0,) * 4, spread=None):
    uncertainty = None if spread is None else SimpleNamespace(post_stall_percent=spread)
    described = SimpleNamespace(uncertainty=uncertainty)
    made = SimpleNamespace(
        speeds=SPEEDS, climb_angle=0.0,
        points=[Point(*one) for one in zip(SPEEDS, powers, angles, strict=True)],
        problem=SimpleNamespace(craft=SimpleNamespace(craft=described)),
        values=lambda name: np.array(margins),
        at=lambda speed: Point(speed, float(np.interp(speed, SPEEDS, powers))),
    )  # fmt: skip
    made.powers = powers
    return made


@pytest.mark.parametrize(
    ("margins", "samples", "spread", "is_open"),
    [
        ((-1.0, 5.0, 5.0, 5.0), None, None, False),
        ((5.0, -1.0, 5.0, 5.0), None, None, True),
        ((5.0, 5.0, -1.0, 5.0), None, 0.0, True),
        ((5.0, 5.0, -1.0, 5.0), None, 5.0, False),
        # Nine tenths of the samples reach from 8 to 12: strips past stall at 8 count as well.
        ((-1.0, 5.0, 5.0, 5.0), np.linspace(7.7, 12.3, 101), None, True),
        ((-1.0, 5.0, 5.0, 5.0), np.linspace(8.8, 12.3, 101), None, False),
        ((-1.0, 5.0, 5.0, 5.0), np.full(9, np.nan), None, False),
    ],
)
def test_strips_past_stall_beside_a_crossing_leave_it_open(margins, samples, spread, is_open):
    clear = curve((1, 2, 3, 4), spread=spread)
    stalled = curve((1, 2, 3, 4), margins=margins, spread=spread)
    for a, b in ((clear, stalled), (stalled, clear)):
        assert power_crossings._stall_left_open(a, b, (1, 2), samples) is is_open


@pytest.mark.parametrize(
    ("alphas", "speeds", "is_open"),
    [
        ((10.0, 20.0), (10.0, 10.0), False),
        ((10.0, 26.0), (10.0, 10.0), True),
        ((-26.0, 5.0), (10.0, 10.0), True),
        ((10.0, 80.0), (10.0, 0.01), False),  # in still air beside the rotors' wind
    ],
)
def test_a_stated_spread_past_stall_leaves_a_crossing_in_deep_stall_open(alphas, speeds, is_open):
    state = SimpleNamespace(alpha=np.radians([alphas]), speed=np.array([speeds]))
    coupled = SimpleNamespace(state=state, onset=SimpleNamespace(scale=np.array([10.0])))
    a, b = (curve((1, 2, 3, 4), margins=(5.0, -1.0, 5.0, 5.0), spread=15.0) for _ in range(2))
    b.points[1].trim = SimpleNamespace(loads=SimpleNamespace(coupled=coupled))
    assert power_crossings._stall_left_open(a, b, (1, 2), None) is is_open


@pytest.mark.parametrize(("step", "jumps"), [(0.0, False), (0.04, False), (2.0, True)])
def test_a_difference_that_steps_over_zero_is_a_jump_and_a_steep_one_is_not(step, jumps):
    """More than a thousandth of 100 W, however near; 40 W for each m/s is no step."""
    still = curve((100.0, 100.0, 100.0, 100.0))
    leaves = curve((0.0, 0.0, 0.0, 0.0))

    def power(speed):
        return 100.0 - 40.0 * (speed - 10.3) - (step if speed > 10.3 else -step)

    leaves.at = lambda speed: Point(speed, power(speed))
    for speed in (10.302, 10.306, 10.293):  # the speed is off by its tolerance
        assert power_crossings._jumps(still, leaves, speed) is jumps
        assert power_crossings._jumps(leaves, still, speed) is jumps


def test_a_jump_is_not_called_equal_power():
    one = {
        "first": "up", "second": "down", "airspeed_m_s": 9.887, "interval_m_s": [9.4, 9.9],
        "stall_left_open": False, "is_jump": True, "less_above": "down",
    }  # fmt: skip
    document = {"uncertainty": {}}
    words = power_table._crossing_sentence(document, one)
    assert "no equal power" in words
    assert not words.startswith("Equal")
    assert words.endswith("above it down draws less.")
    assert "Equal power of up and down at" in power_table._crossing_sentence(
        document, one | {"is_jump": False}
    )
    assert "no equal power" in power_table.crossing_settings(one)


def test_the_noise_of_a_difference_is_what_half_the_strips_change_in_it(monkeypatch):
    """The larger of both speeds'; at least a share of the power; endless without any trim."""
    coarse = {"a": (0.0, 100.5, 95.0, 0.0), "b": (0.0, 98.0, 97.0, 0.0)}
    a, b = curve((0.0, 100.0, 95.0, 0.0)), curve((0.0, 98.2, 96.0, 0.0))
    a.name, b.name = "a", "b"
    monkeypatch.setattr(
        power_crossings, "_coarser",
        lambda curve, point: coarse[curve.name][int(np.flatnonzero(point.speed == SPEEDS)[0])],
    )  # fmt: skip
    # 2.5 - 1.8 at 10 m/s, -2 + 1 at 12.
    assert power_crossings._noise(a, b, 1, (0, 1)) == pytest.approx(1.0)
    coarse["a"] = (0.0, 101.5, 95.0, 0.0)
    assert power_crossings._noise(a, b, 0, (1, 2)) == pytest.approx(1.7)
    coarse["a"], coarse["b"] = (0.0, 100.0, 95.0, 0.0), (0.0, 98.2, 96.0, 0.0)
    least = power_crossings.LEAST_NOISE * 100.0
    assert power_crossings._noise(a, b, 1, (0, 1)) == pytest.approx(least)
    # Where one speed has no trim there the other tells, else nothing does.
    coarse["a"], coarse["b"] = (0.0, np.nan, 95.0, 0.0), (0.0, 98.2, 97.0, 0.0)
    assert power_crossings._noise(a, b, 1, (0, 1)) == pytest.approx(1.0)
    coarse["b"] = (0.0, 98.2, np.nan, 0.0)
    assert power_crossings._noise(a, b, 1, (0, 1)) == np.inf


def test_where_two_curves_cross():
    a, b = curve((100.0, 90.0, 90.0, 110.0)), curve((100.0, 96.0, 84.0, 100.0))
    assert power_crossings._where(a, b, (1, 2)) == pytest.approx(11.0, abs=1e-5)


def test_strips_of_the_side_that_has_the_most():
    counts = {"upper": (6, 4, 6, 4), "lower": (9, 9)}
    patches = [SimpleNamespace(wing=w, strips=n) for w, each in counts.items() for n in each]
    problem = SimpleNamespace(
        craft=SimpleNamespace(model=SimpleNamespace(lattice=SimpleNamespace(patches=patches)))
    )
    assert power_crossings._half_strips(SimpleNamespace(problem=problem)) == 10


@pytest.mark.parametrize(
    ("rows", "strips", "expected"), [(4, 20, (4, 10)), (2, 6, (2, 4)), (3, 9, (3, 4))]
)
def test_half_the_strips_but_four_at_least(monkeypatch, rows, strips, expected):
    seen = {}

    def made(craft, folds, air, grid, wake):
        seen.update(grid=(grid.rows, grid.strips), wake=wake, air=air)
        return "made"

    def trimmed(craft, speed, climb_angle, near):
        assert (craft, speed, climb_angle, near.speed) == ("made", 10.0, 0.1, 10.0)
        return Point(10.0, 77.0)

    monkeypatch.setattr(power_crossings, "powered_craft", made)
    monkeypatch.setattr(power_crossings, "direct_trim", trimmed)
    patches = [SimpleNamespace(wing="upper", strips=strips, rows=rows)] * 2
    of = SimpleNamespace(
        model=SimpleNamespace(lattice=SimpleNamespace(patches=patches)), craft=None, folds=None,
        air="air", wake="axis",
    )  # fmt: skip
    one = SimpleNamespace(problem=SimpleNamespace(craft=of), climb_angle=0.1)
    assert power_crossings._coarser(one, Point(10.0, 80.0)) == 77.0
    assert seen == {"grid": expected, "wake": "axis", "air": "air"}
