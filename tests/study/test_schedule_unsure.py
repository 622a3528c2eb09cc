"""What a schedule does not know of its constraints: by hand, and against a finer lattice."""

from types import SimpleNamespace

import numpy as np
import pytest

from vlm.description.folds import FoldAngles
from vlm.description.loading import load_biplane
from vlm.flight.craft.folding_craft import FoldingCraft
from vlm.flight.craft.section_slopes import section_slopes
from vlm.flight.plan.constraints import Constraint
from vlm.flight.plan.fold_loads import FoldLoads
from vlm.flight.plan.fold_search import FoldTable
from vlm.flight.trim.power_book import power_book
from vlm.lattice.cellule import Grid
from vlm.study.schedule import answer as schedule_answer
from vlm.study.schedule import study as schedule_study
from vlm.study.schedule import unsure as schedule_unsure

LEAST = Constraint("rolling moment", "N m", True, ("rolling moment",),
                   lambda v: np.abs(v[..., 0]) - 1.0)  # fmt: skip
MOST = Constraint("hinge moment", "N m", False, ("hinge moment of a", "hinge moment of b"),
                  lambda v: 2.0 - np.max(np.abs(v), axis=-1))  # fmt: skip


@pytest.mark.parametrize(
    ("constraint", "values", "widths", "falls"),
    [
        (LEAST, [1.5], [0.4], 0.4),
        (LEAST, [-1.5], [0.4], 0.4),
        (LEAST, [0.2], [0.1], 0.1),
        (MOST, [1.5, -1.0], [0.1, 0.3], 0.1),
        (MOST, [1.5, -1.4], [0.1, 0.3], 0.2),
        (MOST, [-1.5, 1.4], [0.1, 0.3], 0.2),
    ],
)
def test_how_far_a_margin_falls(constraint, values, widths, falls):
    found = schedule_unsure._reach(constraint, np.array(values), np.array(widths))
    assert found == pytest.approx(falls)


def setting(fold, speed, **margins):
    return SimpleNamespace(fold_deg=fold, speed=speed, margins=margins)


def test_constraints_kept_by_less_than_their_half_width_are_reported_once(monkeypatch):
    """Those that are passed, and hover, are reported elsewhere or ask nothing."""
    widths = {"roll": 0.3, "hinge": float("nan")}
    monkeypatch.setattr(
        schedule_unsure, "_Widths",
        lambda table: SimpleNamespace(of=lambda constraint, setting: widths[constraint.name]),
    )  # fmt: skip
    listed = [SimpleNamespace(name=name) for name in widths]
    units = {"roll": "N m", "hinge": "N m"}
    table = SimpleNamespace(constraints=SimpleNamespace(listed=listed, units=units))
    settings = [
        setting(5.0, 0.0, roll=0.1), setting(5.0, 10.0, roll=0.2), setting(5.0, 10.0, roll=0.2),
        setting(6.0, 14.0, roll=0.1), setting(6.0, 12.0, roll=0.31), setting(7.0, 16.0, roll=-0.1),
    ]  # fmt: skip
    (one,) = schedule_unsure.unsure(table, settings)
    assert (one.name, one.speeds, one.speed, one.margin, one.half_width) == (
        "roll", (10.0, 14.0), 14.0, 0.1, 0.3,
    )  # fmt: skip
    assert (
        one.words
        == "not known whether roll is kept at fold 6 deg and 14 m/s and at 1 more airspeed"
    )
    found = schedule_study._not_known(one)
    assert (found.code, found.value, found.cases) == ("margin_not_known", pytest.approx(-0.2), 2)
    # A half-width that is not to be had leaves it open as well.
    assert [u.name for u in schedule_unsure.unsure(table, [setting(0.0, 9.0, hinge=5.0)])] == [
        "hinge"
    ]


@pytest.fixture(scope="module")
def widths():
    """Of the demo craft on a coarse lattice."""
    craft = load_biplane("tideline")
    book = power_book(craft, [-60.0, 0.0, 20.0], [0.0, 12.0, 16.0], grid=Grid(2, 8))
    return schedule_unsure._Widths(FoldTable.of(book, craft.schedule))


@pytest.mark.parametrize(("fold", "speed"), [(0.0, 12.0), (20.0, 16.0), (-60.0, 12.0)])
def test_half_widths_hold_a_finer_lattice_with_sections(widths, fold, speed):
    """Beside the free stream's numbers that constraints read, those of lateral, roll and hinge."""
    craft, one = widths.table.book.craft, widths.table.setting(fold, speed)
    alpha = np.radians(schedule_unsure._alpha(one))
    grid = Grid(6, 24)
    fine, folding = FoldLoads.of(craft, None, grid), FoldingCraft(craft, grid, sideslip=True)
    level = folding.symmetric(fold)
    effect = fine.dihedral_effect(fold, np.degrees(alpha), speed)
    effect += section_slopes(level, alpha, speed, widths.density)[1]["Cl_beta"]
    own = widths.loads.dihedral_effect(fold, np.degrees(alpha), speed)
    assert abs(effect - own) <= widths._of_dihedral(own, one)
    rolled = folding.at(FoldAngles(max(-90.0, fold - 20.0), fold + 20.0))
    moment = rolled.wrench(rolled.motion(speed, alpha), widths.density)[3]
    own = widths.loads.roll_moment(fold, 20.0, np.degrees(alpha), speed)
    assert abs(moment - own) <= widths._of_roll(own, one)
    hinges = level.hinge_moments(level.motion(speed, alpha), widths.density)
    own = widths.loads.hinge_moments(fold, np.degrees(alpha), speed)
    for body, moment in hinges.items():
        assert abs(moment - own[body]) <= widths._of_hinge(body, one)


def test_a_margin_far_from_its_limit_costs_no_solve(widths, monkeypatch):
    monkeypatch.setattr(schedule_unsure._Widths, "width", lambda *_: pytest.fail("solved"))
    one = SimpleNamespace(quantities={"rolling moment": 3.0}, margins={"rolling moment": 2.0})
    assert widths.of(LEAST, one) == 0.0
    stall = Constraint("stall margin", "deg", True, ("stall margin of upper",), lambda v: v[..., 0])
    assert widths.of(stall, SimpleNamespace(quantities={"stall margin of upper": 0.0})) == 0.0


def test_the_answer_says_what_is_not_known(monkeypatch):
    one = schedule_unsure.Unsure(
        "dihedral effect", "1/rad", (11.0, 13.0), 13.0, 1.0, 9.8e-5, 0.0044
    )
    flown = SimpleNamespace(
        outside=(), roll_reversals=(), valid=(11.0, 13.0), speeds=[11.0, 13.0],
        fold=lambda speed: 1.0, folds_deg=[1.0, 1.0], losses=[0.0], worst=(0.0, 11.0),
    )  # fmt: skip
    monkeypatch.setattr(schedule_answer, "_against_flat", lambda study: [])
    study = SimpleNamespace(flown=flown, ideal=[], unsure=(one,))
    assert schedule_answer.answer(study)[0] == (
        "Not known whether dihedral effect is kept at fold 1 deg and 13 m/s and at 1 more airspeed:"
        " margin 0.0001 ± 0.0044 1/rad."
    )


def test_airspeeds_that_allow_no_fold_leave_nothing_open(monkeypatch):
    """Below the schedule's valid airspeeds a fold is flown that passes a constraint: what else is
    kept there by less than its half-width does not matter."""
    asked = []
    monkeypatch.setattr(schedule_study, "unsure", lambda _, named: tuple(asked.extend(named) or ()))
    sets = ["schedule.airspeed_min_m_s=5.6", "schedule.airspeed_max_m_s=8.6", "schedule.speeds=4"]
    craft = load_biplane("thistle", [*sets, "schedule.stall_margin_min_deg=3"])
    found = schedule_study.schedule_study(craft, folds=3, grid=Grid(2, 8))
    assert found.flown is not None
    low, high = found.flown.valid
    assert found.flown.states[0].speed < low
    assert asked
    assert all(low <= one.speed <= high for one in asked)
