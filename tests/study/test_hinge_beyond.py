"""Moments that pass the limits of the file are reported: no source but that; made-up numbers."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from thin_craft import thin

from vlm.description.loading import load_biplane
from vlm.flight.craft.folding_craft import FoldingCraft
from vlm.flight.mechanism.hinge_moments import PARTS
from vlm.flight.mechanism.wing_bending import HalfWing
from vlm.flight.motion.roll_authority import Air
from vlm.lattice.cellule import Grid
from vlm.show.sentences import hinge_sentence, root_sentence
from vlm.sides import Side
from vlm.study.hinge.beyond import passed_limits
from vlm.study.hinge.moments import _largest, _Loaded
from vlm.study.hinge.results import HingeParts, HingePlan, MomentRow, WingRow, stalls_first
from vlm.study.hinge.study import hinge_study
from vlm.study.hinge.wings import wing_rows


def row(worst: float, half_width: float | None, swing: float = 0.0) -> MomentRow:
    least = None if half_width is None else abs(worst) - abs(swing) - half_width
    parts = HingeParts(*[1.0] + [0.0] * 6, steady_N_m=0.0, swing_N_m=swing, worst_N_m=worst,
                       half_width_N_m=half_width, least_N_m=least)  # fmt: skip
    return MomentRow(30.0, 26.0, 3.5, most_loaded_hinge="upper_left", hinges={"upper_left": parts})


@pytest.mark.parametrize(
    ("worst", "half_width", "said"),
    [(-1.7, 0.2, None), (-1.9, 0.2, "may pass"), (2.1, 0.2, "may pass"), (-2.3, 0.2, "passes"),
     (2.3, None, "may pass"), (1.9, float("nan"), None)],
)  # fmt: skip
def test_a_hinge_beyond_its_limit(worst, half_width, said):
    drive = SimpleNamespace(hinge_moment_limit_N_m=2.0, root_bending_limit_N_m=None)
    found = passed_limits(drive, [row(0.1, 0.0), row(worst, half_width)], [], [])
    assert [one.code for one in found] == ([] if said is None else ["hinge_limit"])
    if said is not None:
        assert f"{said} its limit at 30 deg and 26 m/s" in found[0].what
        assert (found[0].value, found[0].limit) == (abs(worst), 2.0)
        width = f" ± {half_width:.2f}" if half_width else ""
        places = 2 if half_width else 1
        assert f": {abs(worst):.{places}f}{width} N m, limit 2 N m" in found[0].sentence()
    free = SimpleNamespace(hinge_moment_limit_N_m=None, root_bending_limit_N_m=None)
    assert passed_limits(free, [row(worst, half_width)], [], []) == ()


@pytest.mark.parametrize(("swing", "said"), [(-0.05, "passes"), (-0.15, "may pass")])
def test_a_swing_that_is_an_upper_bound_makes_nothing_sure(swing, said):
    """-2.3 ± 0.2 N m without 0.05 N m of swing is beyond 2 N m, without 0.15 N m perhaps not."""
    drive = SimpleNamespace(hinge_moment_limit_N_m=2.0, root_bending_limit_N_m=None)
    [found] = passed_limits(drive, [row(-2.3, 0.2, swing)], [], [])
    assert f"a hinge {said} its limit" in found.what


def test_what_surely_passes_is_named_before_what_may_reach_farther():
    """-3 ± 1.5 N m may be 4.5, but only 2.5 ± 0.2 N m is beyond 2 in any case; roots likewise."""
    drive = SimpleNamespace(hinge_moment_limit_N_m=2.0, root_bending_limit_N_m=14.0)
    wings = [WingRow(5.0, 3.5, halves=(bent("upper", 18.0, 6.0),)),
             WingRow(15.0, 3.5, halves=(bent("upper", 15.0, 0.4),))]  # fmt: skip
    hinge, root = passed_limits(drive, [row(-3.0, 1.5), row(2.5, 0.2)], wings, [])
    assert "passes its limit" in hinge.what
    assert (hinge.value, hinge.half_width) == (2.5, 0.2)
    assert "passes its limit at 15 deg" in root.what
    assert (root.value, root.half_width) == (15.0, 0.4)


def bent(wing: str, bending: float, half_width: float | None) -> HalfWing:
    nothing = np.zeros(2)
    return HalfWing(wing, Side.PORT, nothing, nothing, nothing, nothing, None, 0.0, bending,
                    root_bending_half_width_N_m=half_width)  # fmt: skip


@pytest.mark.parametrize(
    ("bending", "half_width", "told"),
    [(13.0, 0.9, None), (-13.5, 0.6, "may pass its limit"), (14.2, 0.3, "may pass its limit"),
     (-14.4, 0.3, "passes its limit"), (14.2, None, "may pass its limit"), (13.9, None, None)],
)  # fmt: skip
def test_a_root_beyond_its_limit(bending, half_width, told):
    """The half-width decides between passing and perhaps passing; the other wing bends less."""
    drive = SimpleNamespace(hinge_moment_limit_N_m=None, root_bending_limit_N_m=14.0)
    both = bent("upper", bending, half_width), bent("lower", 9.0, 0.1)
    share = both[0].root_bending_reach_N_m / 14.0
    low = WingRow(0.0, 1.0, halves=(bent("upper", 4.0, 0.1),), share_of_root_limit=0.3)
    wings = [low, WingRow(15.0, 3.5, reason="too slow"),
             WingRow(15.0, 3.5, halves=both, share_of_root_limit=share)]  # fmt: skip
    found = passed_limits(drive, [], wings, [])
    assert [one.code for one in found] == (["root_limit"] if told else [])
    if told:
        assert (found[0].value, found[0].limit) == (abs(bending), 14.0)
        assert f"{told} at 15 deg and load factor 3.5" in found[0].what
        assert ("± not known" in found[0].what) == (half_width is None)
        width = " N m" if half_width is None else f" ± {half_width:.2f} N m, limit"
        assert width in found[0].sentence()


def test_roots_carry_the_load_factor_that_is_named() -> None:
    """At 12 m/s the wings stall below 3.5 g; what the roots carry then is asked of 18 or 24 m/s.

    A study at that one airspeed gives the same; and lift, hence bending, is 3.5 times as much, but
    for the twist and camber that do not change with it.
    """
    craft = thin("tideline")

    def roots(*speeds: float) -> list[WingRow]:
        plan = HingePlan(Air(speeds[0]), (0.0,), speeds, grid=Grid(2, 6))
        return [row for row in hinge_study(craft, plan).wings if row.halves is not None]

    level, pulled = roots(12.0, 18.0, 24.0)
    assert level.airspeed_m_s in (12.0, 24.0)
    assert not stalls_first(pulled)
    assert pulled.airspeed_m_s is not None
    assert pulled.airspeed_m_s > 12.0
    alone = roots(pulled.airspeed_m_s)[1]
    bending = [row.halves[0].root_bending_N_m for row in (level, pulled, alone) if row.halves]
    assert bending[1] == bending[2]
    assert bending[1] / bending[0] == pytest.approx(3.5, rel=0.1)
    (slow,) = roots(12.0)[1:]
    assert stalls_first(slow)


@pytest.mark.parametrize(
    ("widths", "said"),
    [
        ((0.4, 0.4, 0.4), "± included: -9.00 ± 0.40 N m, upper wing at 15°, 18.0 m/s and load"
         " factor 3.5 (not known apart from 0°): 67 % of its limit."),
        ((0.1, 0.1, 0.4), "± included: -9.00 ± 0.10 N m, upper wing at 15°, 18.0 m/s and load"
         " factor 3.5: 65 % of its limit."),
        ((None, None, None), "root: -9.00 N m (± not known), upper wing at 15°, 18.0 m/s and load"
         " factor 3.5: 64 % of its limit."),
        ((None, 0.4, None), "± included: -9.00 ± 0.40 N m, upper wing at 15°, 18.0 m/s and load"
         " factor 3.5: 67 % of its limit."),
    ],
)  # fmt: skip
def test_the_root_that_may_bend_most_is_in_the_answer(widths, said):
    """8.6, 9 and 5 N m at three folds; where tips are joined no ± is known."""
    rows = [WingRow(fold, 3.5, 18.0, 3.5, halves=(bent("upper", bending, width),),
                    share_of_root_limit=(abs(bending) + (width or 0.0)) / 14.0)
            for fold, bending, width in zip((0.0, 15.0, 40.0), (8.6, -9.0, 5.0), widths,
                                            strict=True)]  # fmt: skip
    study = SimpleNamespace(wings=[WingRow(-90.0, 3.5, reason="too slow"), *rows])
    assert root_sentence(study).endswith(said)
    assert root_sentence(SimpleNamespace(wings=[WingRow(-90.0, 3.5, reason="too slow")])) == ""


def test_what_bends_more_for_sure_stands_beside_what_may_bend_most():
    """5 ± 6 N m may be 11, but 9 ± 0.4 at another fold is more than 5 in any case; hinges alike."""
    rows = [WingRow(fold, 3.5, speed, 3.5, halves=(bent("upper", bending, width),))
            for fold, speed, bending, width in ((15.0, 26.0, -9.0, 0.4), (40.0, 18.0, 5.0, 6.0))
            ]  # fmt: skip
    said = root_sentence(SimpleNamespace(wings=rows))
    assert "5.0 ± 6.0 N m, upper wing at 40°" in said
    assert said.endswith("; surely 8.60 N m or more at 15° and 26.0 m/s.")
    assert "surely" not in root_sentence(SimpleNamespace(wings=rows[:1]))
    hinges = [replace(row(9.0, 0.4), fold_deg=15.0), replace(row(5.0, 6.0), fold_deg=40.0)]
    said = hinge_sentence(SimpleNamespace(known_moments=hinges))
    assert "5.0 ± 6.0 N m, at 40°" in said
    assert said.endswith("; surely 8.60 N m or more at 15° and 26.0 m/s.")
    assert "surely" not in hinge_sentence(SimpleNamespace(known_moments=hinges[:1]))


def test_roots_are_asked_for_at_the_fastest_airspeed_too():
    """The upper wing is set 4 degrees nose up: the faster, the more of the weight it carries."""
    craft = load_biplane("tideline", ["upper.incidence_deg=4"])
    grid = Grid(rows=3, strips=10)
    folding, rough = (FoldingCraft(craft, one) for one in (grid, Grid(rows=2, strips=7)))

    def wings_at(*speeds):
        plan = HingePlan(air=Air(speeds[0], 1.225), folds_deg=(30.0,), airspeeds=speeds, grid=grid)
        return wing_rows(folding, rough, craft.actuator, 30.0, plan, 1.0)[0]

    slow, fast, both = wings_at(15.0), wings_at(26.0), wings_at(15.0, 20.0, 26.0)
    assert slow.most_bent.root_bending_reach_N_m < 0.97 * fast.most_bent.root_bending_reach_N_m
    assert both.airspeed_m_s == 26.0
    assert both.most_bent.root_bending_N_m == pytest.approx(fast.most_bent.root_bending_N_m)
    limit = craft.actuator.root_bending_limit_N_m
    assert both.share_of_root_limit == pytest.approx(both.most_bent.root_bending_reach_N_m / limit)


def _by_half_width(monkeypatch, known):
    """Wing rows at three airspeeds whose roots carry invented moments, by airspeed: value, ±."""

    def halves(craft, rough, flight):
        return [bent("upper", *known[flight.airspeed])]

    monkeypatch.setattr("vlm.study.hinge.wings._halves", halves)
    craft, grid = load_biplane("tideline"), Grid(rows=2, strips=6)
    folding = FoldingCraft(craft, grid)
    plan = HingePlan(Air(16.0, 1.225), (0.0,), tuple(known), grid=grid)
    return wing_rows(folding, folding, craft.actuator, 0.0, plan, 3.5)


def test_what_a_root_surely_carries_is_not_hidden_by_a_wider_half_width(monkeypatch) -> None:
    """9 ± 28 N m at one airspeed may be more than 17.0 ± 0.2 at another, which surely passes 14."""
    rows = _by_half_width(monkeypatch, {16.0: (9.0, 28.0), 20.0: (13.0, 0.2), 26.0: (17.0, 0.2)})
    assert [row.airspeed_m_s for row in rows] == [16.0, 26.0]
    drive = load_biplane("tideline").actuator
    (found,) = passed_limits(drive, [], rows, [])
    assert "passes its limit at 0 deg, 26 m/s" in found.what


def test_roots_are_asked_for_where_the_load_factor_is_not_quite_reached(monkeypatch) -> None:
    """Past the first stalls a root may bend most below the airspeed that reaches 3.5 g."""
    rows = _by_half_width(monkeypatch, {16.0: (4.5, 0.6), 20.0: (3.5, 0.1), 26.0: (3.0, 0.1)})
    assert [row.airspeed_m_s for row in rows] == [16.0]
    assert stalls_first(rows[0])


@pytest.mark.parametrize(
    ("widths", "half_width"), [((0.1, 0.3), 0.1), ((0.1, 3.0), 2.0), ((1.5, 0.2), 1.5)]
)
def test_a_half_width_holds_the_largest_of_all_loads_on_the_way(widths, half_width) -> None:
    """Of -2 and 1 N m, by hand: the largest is at most the largest of their upper ends."""
    loaded = [
        _Loaded(
            SimpleNamespace(flight=SimpleNamespace(load_factor=factor)),
            {"tip": dict.fromkeys(PARTS, 0.0)}, {"tip": 0.0}, {"tip": worst}, {"tip": width},
        )
        for factor, worst, width in zip((1.0, 3.0), (-2.0, 1.0), widths, strict=True)
    ]  # fmt: skip
    found = _largest("tip", loaded)
    assert (found.load_factor, found.worst_N_m) == (1.0, -2.0)
    # At least the largest of the lower ends.
    assert found.least_N_m == pytest.approx(max(2.0 - widths[0], 1.0 - widths[1]))
    assert found.half_width_N_m == pytest.approx(half_width)


def test_a_hinge_that_surely_passes_is_not_hidden_by_what_is_badly_known():
    """2.5 ± 0.2 N m on the way passes 2 N m, though the largest may be 2.5 ± 4; so does the moment
    of a hinge beside one that may have more. By hand."""
    drive = SimpleNamespace(hinge_moment_limit_N_m=2.0, root_bending_limit_N_m=None)
    one = row(2.5, 4.0)
    wide = one.hinge()
    on_the_way = replace(wide, least_N_m=2.3)
    beside = {"upper_left": wide, "upper_right": row(2.4, 0.1).hinge()}
    for hinges in ({"upper_left": on_the_way}, beside):
        [found] = passed_limits(drive, [replace(one, hinges=hinges)], [], [])
        assert "a hinge passes its limit" in found.what
    [found] = passed_limits(drive, [one], [], [])
    assert "a hinge may pass its limit" in found.what
