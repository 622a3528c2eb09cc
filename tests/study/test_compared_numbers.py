"""Differences between craft, shares of uncertain inputs, the best setting, and what a step gains.

No source but the rules stated in the modules; all numbers are invented.
"""

from types import SimpleNamespace

import numpy as np
import pytest

from vlm.description.loading import load_biplane
from vlm.lattice.cellule import Grid
from vlm.study import sensitivity
from vlm.study.compare import study as compare_study
from vlm.study.compare.numbers import Sheet, _corners
from vlm.study.compare.results import Known
from vlm.study.compare.study import Sampled, _Comparing, key_differences, sampled_number
from vlm.study.design import report as design_report
from vlm.study.design.around import Side
from vlm.study.design.changes import SearchKey
from vlm.study.design.goals import Worth
from vlm.study.power import best as power_best
from vlm.study.power import speed_placing
from vlm.study.sensitivity import Draws, UncertainInput, taken_apart

# 8 x 20 against 6 x 15 (docs, equation 12): twice the change over (4/3)^2 - 1, and the floor.
SCALE = 2.0 * 9.0 / 7.0


def comparing():
    made = object.__new__(_Comparing)
    made.plan = SimpleNamespace(grid=Grid(8, 20))
    return made


def sheet(value, wake=0.0, floor=0.0, corner=0.0):
    one = Sheet()
    one.put("CD0_like", value, wake, floor)
    one.corner["CD0_like"] = corner
    return one


def test_a_number_s_half_width_holds_lattice_wake_and_corner():
    found = comparing().one("CD0_like", sheet(5.0, 0.3, 0.02, 0.1), sheet(4.9))
    assert found.value == 5.0
    assert found.half_width == pytest.approx(SCALE * 0.1 + 0.02 + 0.3 + 0.1)
    assert comparing().one("other", sheet(5.0), sheet(4.9)) == Known(None, None)
    assert comparing().one("CD0_like", sheet(5.0), Sheet()) == Known(5.0, None)


def test_in_a_difference_what_is_common_cancels():
    """The change of the difference; the larger floor and corner; wakes but a fifth of the less."""
    first = sheet(5.0, 0.3, 0.02, 0.1), sheet(4.9)
    other = sheet(7.0, 0.5, 0.01, 0.4), sheet(6.7)
    found = comparing().apart("CD0_like", first, other)
    assert found.value == pytest.approx(2.0)
    assert found.half_width == pytest.approx(SCALE * 0.2 + 0.02 + 0.2 + 0.2 * 0.3 + 0.4)
    assert comparing().apart("CD0_like", first, first) == Known(0.0, 0.0)
    same = sheet(5.0, 0.9), sheet(4.9, 0.9)
    assert comparing().apart("CD0_like", first, same) == Known(0.0, 0.0)
    assert comparing().apart("CD0_like", first, (sheet(1.0), Sheet())) == Known(None, None)


def test_a_number_that_is_not_measured_has_a_floor_of_its_own():
    one = Sheet()
    one.put("x", -4.0)
    assert (one.values["x"], one.wake["x"], one.floors["x"]) == (-4.0, 0.0, pytest.approx(0.02))
    assert _corners({"a": 0.5, "b": 0.1, "c": 9.0}, {"a": 0.2, "b": 0.3, "d": 1.0}) == {
        "a": pytest.approx(0.3), "b": 0.0,
    }  # fmt: skip


DRAWS = np.linspace(-1.0, 1.0, 201)


def test_sampled_numbers_and_their_differences():
    """The middle 90 % of even draws is 0.9 of the half-range; paired draws cancel."""
    first, second = Sampled(10.0, 10.0 + DRAWS, 90.0), Sampled(12.0, 12.0 + 1.5 * DRAWS, 90.0)
    assert first.known() == Known(10.0, pytest.approx(0.9))
    assert second.less(first, paired=True) == Known(2.0, pytest.approx(0.45))
    assert second.less(first, paired=False) == Known(2.0, pytest.approx(0.9 * np.hypot(1.0, 1.5)))
    short = Sampled(12.0, 12.0 + DRAWS[::2], 90.0)
    apart = short.less(first, paired=True)
    assert apart.half_width == pytest.approx(0.9 * 2.0**0.5)
    assert Sampled(12.0, None, 90.0).less(first, paired=True) == Known(2.0, None)
    assert Sampled(np.nan, None, 90.0).known() == Known(None, None)
    assert Sampled(np.nan, DRAWS, 90.0).less(first, paired=True) == Known(None, None)
    assert Sampled(3.0, None, 90.0).known() == Known(3.0, None)


def test_a_difference_is_not_known_where_its_interval_holds_zero():
    """Drawn askew: 90 % lie from -0.05 to 0.95, with the median and the value at 0.2."""
    askew = np.interp(np.linspace(0.0, 1.0, 2001), [0.0, 0.05, 0.5, 0.95, 1.0],
                      [-0.05, -0.05, 0.2, 0.95, 0.95])  # fmt: skip
    first = Sampled(10.0, 10.0 + 0.0 * askew, 90.0)
    found = Sampled(10.55, 10.55 + askew - 0.2, 90.0).less(first, paired=True)
    assert found.half_width == pytest.approx(0.75, rel=1e-3)
    assert found.sign is None
    low, high = power_best.difference_interval(askew, 0.2, 90.0)
    assert 0.5 * (high - low) < 0.55 < found.half_width


def test_what_search_and_lattice_leave_open_is_no_difference():
    """Power speaks of no difference below half a per cent; so does a comparison of craft."""
    first = Sampled(10.0, 10.0 + DRAWS, 90.0)
    for apart, sign in ((2e-10, None), (-0.049, None), (0.051, 1)):
        found = Sampled(10.0 + apart, 10.0 + apart + DRAWS, 90.0).less(first, paired=True)
        assert found.half_width == pytest.approx(0.05)
        assert found.sign == sign
    assert Sampled(10.0, 10.0 + DRAWS, 90.0).less(first, paired=True) == Known(0.0, 0.0)
    few = np.where(np.arange(len(DRAWS)) % 3 == 0, 12.0 + DRAWS, np.nan)
    assert Sampled(12.0, few, 90.0).less(first, paired=True).half_width is None


@pytest.mark.parametrize(("stated", "half"), [("alike", 0.45), ("other", 0.9 * np.hypot(1.0, 1.5))])
def test_draws_are_paired_where_the_same_is_stated(stated, half):
    entries = [SimpleNamespace(name=n, craft=SimpleNamespace(uncertainty=u))
               for n, u in (("a", "alike"), ("b", stated), ("c", stated))]  # fmt: skip
    samples = {"a": {"k": Sampled(10.0, 10.0 + DRAWS, 90.0)},
               "b": {"k": Sampled(12.0, 12.0 + 1.5 * DRAWS, 90.0)}}  # fmt: skip
    found = sampled_number("k", entries, samples)
    assert found.differences == (
        Known(0.0, 0.0),
        Known(2.0, pytest.approx(half)),
        Known(None, None),
    )
    assert found.values[2] == Known(None, None)
    assert sampled_number("other", entries, samples) is None


def test_keys_that_are_not_the_same_in_all_files(monkeypatch):
    tables = {
        1: {"a": {"b": 1.0, "c": [1, 2]}, "rotors": [{"x": 1}, {"x": 2}], "title": "one"},
        2: {"a": {"b": 2.0, "c": [1, 2]}, "rotors": [{"x": 1}, {"x": 3}], "title": "two"},
        3: {"a": {"c": [1, 3]}, "rotors": [{"x": 1}], "title": "three"},
    }
    monkeypatch.setattr(compare_study, "as_tables", tables.get)
    monkeypatch.setattr(compare_study, "NOT_COMPARED", ("title",))
    found = {d.key: d.values for d in key_differences([1, 2, 3])}
    assert found == {
        "a.b": (1.0, 2.0, None), "a.c": ([1, 2], [1, 2], [1, 3]), "rotors.1.x": (2, 3, None),
    }  # fmt: skip


# --- shares of inputs -----------------------------------------------------------------------------


def draws(count=4000):
    normal = np.random.default_rng(8).normal(size=(count, 2))
    inputs = tuple(UncertainInput(n, n, 1.0, "%") for n in "ab")
    return Draws(inputs, normal, np.ones((count, 8)), (), np.zeros((count, 0)), 90.0)


def test_variance_is_shared_out_by_slopes_and_squares():
    """3 a + 4 (b^2 - 1)/sqrt(2) + 2 a b: variances 9, 16 and 4, the last of both together."""
    made = draws()
    a, b = made.normal.T
    values = 50.0 + 3.0 * a + 4.0 * (b**2 - 1.0) / 2.0**0.5 + 2.0 * a * b
    found = taken_apart(made, "g", "n", "W", 50.0, values)
    np.testing.assert_allclose(found.shares, [9.0 / 29.0, 16.0 / 29.0], atol=0.03)
    assert found.together == pytest.approx(4.0 / 29.0, abs=0.02)
    assert found.shares.sum() + found.together == pytest.approx(1.0)
    np.testing.assert_allclose(found.slopes, [3.0, 0.0], atol=0.25)
    low, high = np.percentile(values, [5.0, 95.0])
    assert found.half_width == pytest.approx(max(high - 50.0, 50.0 - low))
    assert (found.missing, found.value, found.group) == (0.0, 50.0, "g")


def test_an_input_whose_effect_is_not_known_has_no_share():
    made = draws()
    values = 50.0 + 3.0 * made.normal[:, 0]
    values[:400] = np.nan
    found = taken_apart(made, "g", "n", "W", 50.0, values, ["b"])
    assert found.missing == pytest.approx(0.1)
    np.testing.assert_allclose(found.shares, [1.0, np.nan], atol=1e-9)
    np.testing.assert_allclose(found.slopes, [3.0, np.nan], atol=1e-9)


@pytest.mark.parametrize(("count", "spread", "value", "known"), [
    (20, 1.0, 5.0, True), (19, 1.0, 5.0, False), (40, 0.0, 5.0, False), (40, 1.0, np.nan, False),
    (40, 1e-10, 5.0, False),
])  # fmt: skip
def test_few_draws_or_none_that_differ_are_not_taken_apart(count, spread, value, known):
    made = draws(count)
    found = taken_apart(made, "g", "n", "W", value, 5.0 + spread * made.normal[:, 0])
    assert (found is not None) == known


def test_the_largest_difference_of_a_check():
    made = sensitivity.Check(
        "w", "W", 1.0, 1.0, np.array([1.0, 5.0, np.nan]), np.array([2.0, 3.0, 1.0])
    )
    assert made.worst == 2.0
    none = sensitivity.Check("w", "W", 1.0, 1.0, np.array([np.nan]), np.array([1.0]))
    assert np.isnan(none.worst)


# --- the best setting ----------------------------------------------------------------------------


def powers(values, intervals=None, asked=True):
    """A document of settings with values of least power, and intervals of their differences."""
    names = list(values)
    rows = []
    for i, one in enumerate(names):
        for other in names[i + 1 :]:
            apart = (values[other] or 0.0) - (values[one] or 0.0)
            rows.append({"first": one, "second": other, "least_power_W": apart,
                         "least_power_W_interval": (intervals or {}).get((one, other)),
                         "fastest_m_s": apart, "fastest_m_s_interval": None})  # fmt: skip
    return {
        "configurations": {
            n: {"speeds": {"least_power_W": v, "fastest_m_s": v, "fastest_limit": ""}}
            for n, v in values.items()
        },
        "speed_differences": rows, "uncertainty": {} if asked else None,
    }  # fmt: skip


def test_the_best_setting_and_those_not_known_apart_from_it():
    document = powers(
        {"a": 110.0, "b": 100.0, "c": 103.0, "d": None},
        {("a", "b"): (-14.0, -6.0), ("b", "c"): (-1.0, 7.0)},
    )
    best = power_best.best_setting(document, "least_power_W")
    assert best.name == "b"
    assert [r.name for r in best.rivals] == ["c", "a"]
    near, far = best.rivals
    assert (near.difference, near.half_width, near.is_alike) == (3.0, 4.0, True)
    assert (far.difference, far.half_width, far.is_alike) == (10.0, 4.0, False)
    assert [r.name for r in best.alike] == ["c"]
    assert power_best.best_setting(document, "fastest_m_s").name == "a"
    assert power_best.best_setting(document, "fastest_m_s", ["b", "c"]).name == "c"
    assert power_best.best_setting(document, "least_power_W", ["d"]) is None


@pytest.mark.parametrize(
    ("apart", "interval", "asked", "width", "alike"),
    [
        (0.4, None, False, None, True),
        (0.6, None, False, None, False),
        (9.0, None, True, None, True),
        (0.4, (0.39, 0.41), True, 0.5, True),
        (0.6, (0.59, 0.61), True, 0.5, False),
        (3.0, (-0.1, 3.1), True, 3.1, True),
        (3.0, (0.0, 3.0), True, 3.0, True),
    ],
)
def test_search_and_lattice_leave_half_a_percent_open(apart, interval, asked, width, alike):
    document = powers({"a": 100.0, "b": 100.0 + apart}, {("a", "b"): interval}, asked)
    [rival] = power_best.best_setting(document, "least_power_W").rivals
    assert rival.half_width == (None if width is None else pytest.approx(width))
    assert rival.is_alike == alike


def test_differences_of_settings_are_centred_at_the_exact_one():
    """Even draws about 2.5 of a difference of 2: half of them at least must have one."""
    drawn = 2.5 + DRAWS
    found = power_best.difference_interval(drawn, 2.0, 90.0)
    assert found == pytest.approx((1.1, 2.9))
    assert power_best.difference_interval(drawn, np.nan, 90.0) is None
    half = np.where(np.arange(201) < 101, drawn, np.nan)
    assert power_best.difference_interval(half, 2.0, 90.0) is not None
    assert (
        power_best.difference_interval(np.where(np.arange(201) < 100, drawn, np.nan), 2.0, 90.0)
        is None
    )


# --- airspeeds where curves bend -----------------------------------------------------------------


def test_airspeeds_are_placed_where_curves_bend():
    """h^2 f''/8 over the power: 2 x 4/8 of 100 W and 2 x 16/8 of 116 W."""
    speeds = np.array([10.0, 12.0, 14.0, 18.0])
    found = speed_placing._bends(speeds, 100.0 + (speeds - 12.0) ** 2)
    np.testing.assert_allclose(found, [1.0 / 100.0, 1.0 / 100.0, 4.0 / 104.0])
    broken = np.array([104.0, np.nan, 104.0, 136.0])
    assert speed_placing._bends(speeds, broken).tolist() == [0.0, 0.0, 0.0]


class _Bending:
    def __init__(self, speeds):
        self.points = tuple(speeds)

    speeds = property(lambda self: np.array(self.points))

    def values(self, key):
        return 100.0 + np.abs(self.speeds - 11.0) ** 3

    def at(self, speed):
        return speed


def test_further_airspeeds_halve_the_interval_that_bends_most(monkeypatch):
    monkeypatch.setattr(speed_placing, "replace", lambda curve, points: _Bending(points))
    found = speed_placing.refined({"a": _Bending([8.0, 10.0, 12.0, 14.0, 20.0])}, 2)["a"]
    assert found.points[-2] == 17.0
    assert len(found.points) == 7
    most = speed_placing.refined({"a": _Bending([8.0, 14.0, 20.0])}, 400)["a"]
    assert np.diff(most.speeds).min() >= 0.006 * 20.0


# --- what a step of a design gains ---------------------------------------------------------------


def design(sign=1.0, best=200.0, present=210.0, value=2.0, noise=0.0, goal="power", **keys):
    plan = SimpleNamespace(
        goal=SimpleNamespace(goal=goal, sign=sign), keys=(SearchKey("k_m", 1.0, 3.0),),
        key=lambda name: SearchKey(name, 1.0, 3.0),
    )  # fmt: skip
    return SimpleNamespace(
        plan=plan,
        best={"k_m": value, "fold_deg": 2.0},
        best_worth=Worth(best),
        present=Worth(present),
        searched=SimpleNamespace(noise=noise, ends=(), has_converged=True),
        stopped=False,
        gain_half_width=np.nan,
        **keys,
    )


@pytest.mark.parametrize(
    ("key", "step", "worth", "percent", "per"),
    [
        ("k_m", 0.1, 204.0, 2.0, 2.0 / 5.0), ("k_m", -0.1, 204.0, 2.0, -2.0 / 5.0),
        ("fold_deg", 0.1, 196.0, -2.0, -2.0 / 5.0),
    ],
)  # fmt: skip
def test_what_a_step_changes_for_each_percent(key, step, worth, percent, per):
    """0.1 of 2 m is 5 %; of a fold, and of keys of no size, a hundredth of the bounds."""
    row = design_report._side(design(), Side(key, step, Worth(worth)))
    assert (row["goal_percent"], row["goal_percent_per"]) == pytest.approx((percent, per))
    assert row["side"] == ("up" if step > 0.0 else "down")
    assert row["per"].startswith("percent" if key == "k_m" else "hundredth")


def test_a_step_without_a_value_has_a_reason():
    assert design_report._side(design(), Side("k_m", 0.1, None))["reason"] == "at its bound"
    failed = Worth(np.nan, "stall")
    assert design_report._side(design(), Side("k_m", 0.1, failed))["reason"] == "stall"
    tiny = design_report._side(design(value=1e-10), Side("k_m", 0.1, Worth(204.0)))
    assert (tiny["per"], tiny["goal_percent_per"]) == (
        "hundredth of the bounds",
        pytest.approx(0.4),
    )


@pytest.mark.parametrize(
    ("sign", "goal", "present", "noise", "words"),
    [
        (1.0, "power", 210.0, 0.0, "That is 4.8 % lower than"), (-1.0, "rolling moment", 150.0, 0.0,
         "That is 33.3 % higher than"), (1.0, "power", 200.1, 0.0, "No difference"),
        (1.0, "power", 200.3, 0.0, "0.1 % lower"), (1.0, "power", 203.0, 4.0, "No difference"),
    ],
)  # fmt: skip
def test_how_much_better_the_best_design_is(sign, goal, present, noise, words):
    """10 of 210 W; within a thousandth, or the noise of the goal, no difference is reported."""
    found = design(sign, present=present, noise=noise, goal=goal, craft=load_biplane("tideline"))
    found.best = {"upper.tips.span_m": 0.5}
    said = " ".join(design_report.answer(found))
    assert words in said


@pytest.mark.parametrize(
    ("value", "bound"), [(1.0, "lower"), (3.0, "upper"), (2.0, None), (1.1, None)]
)
def test_whether_a_best_value_stands_at_a_bound(value, bound):
    assert design_report._bound(SearchKey("k", 1.0, 3.0), value) == bound


def test_what_is_missing_is_reported_from_the_lattice_asked_for(monkeypatch):
    """A coarser lattice only gives half-widths; it rolls as the finer one does."""
    grid = Grid(rows=6, strips=16)
    asked = []

    def lattice_sheet(entry, state, air, own, rolled, folding):
        asked.append((own, rolled, folding))
        return SimpleNamespace(missing=[f"on {own.strips} strips"])

    monkeypatch.setattr(compare_study, "lattice_sheet", lattice_sheet)
    monkeypatch.setattr(compare_study, "folding_craft", lambda craft, own: own.strips)
    monkeypatch.setattr(compare_study, "coarser", lambda own: Grid(rows=3, strips=8))
    monkeypatch.setattr(compare_study, "strongest_roll", lambda entry, fine, air: 10 * fine)
    entry = SimpleNamespace(name="a", craft=None)
    own = object.__new__(_Comparing)
    own.plan, own.progress, own.state = SimpleNamespace(air=None, grid=grid), print, None
    own.missing = {"a": ["power"]}
    fine, rough = own.sheets(entry)
    assert own.missing == {"a": ["power", "on 16 strips"]}
    assert (fine.missing, rough.missing) == (["on 16 strips"], ["on 8 strips"])
    assert asked == [(grid, 160, 16), (Grid(rows=3, strips=8), 160, 8)]
