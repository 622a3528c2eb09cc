"""A report's long parts, one after the other or in several processes: the same numbers.

No source but the rule itself (docs/promises.md): processes share work, not results.
"""

from dataclasses import replace

import numpy as np
import pytest

from vlm.description.loading import load_biplane
from vlm.errors import ComputationFailed
from vlm.lattice.cellule import Grid
from vlm.loads.fold_engine import is_every_fold_solved
from vlm.study.report.data import ReportData, ReportPlan, gathered_report
from vlm.study.report.parts import MAP, SWEEP, _made, spaced_folds

GRID = Grid(rows=1, strips=4)
LEFT_OUT = ("roll", "hinge", "power", "schedule", "mission", "lateral")


def made(workers: int) -> ReportData:
    plan = ReportPlan("thistle", step_deg=90.0, grid=GRID, without=LEFT_OUT)
    return gathered_report(load_biplane("thistle"), plan, workers=workers)


def test_processes_change_no_number() -> None:
    one, two = made(1), made(2)
    assert one.sweep is not None
    assert two.sweep is not None
    assert one.sweep.identical(two.sweep)
    assert one.map is not None
    assert two.map is not None
    for name, values in one.map.values.items():
        np.testing.assert_array_equal(values, two.map.values[name], err_msg=name)
    assert one.reasons == two.reasons
    assert set(LEFT_OUT) <= set(one.reasons)


@pytest.mark.parametrize("exact", [False, True])
def test_a_part_hears_that_every_fold_is_to_be_solved(exact: bool, monkeypatch) -> None:
    """In a process of its own it would not know otherwise."""
    heard = replace(SWEEP, made=lambda _craft, _plan: is_every_fold_solved())
    monkeypatch.setattr("vlm.study.report.parts.SWEEP", heard)
    craft, plan = load_biplane("thistle"), ReportPlan("thistle", without=LEFT_OUT)
    assert _made(craft, plan, exact, "sweep") == (exact, "")


def test_a_part_that_cannot_be_made_gives_its_reason(monkeypatch) -> None:
    def refused(_craft: object, _plan: object) -> None:
        raise ComputationFailed("no such day")

    parts = "vlm.study.report.parts."
    monkeypatch.setattr(parts + "MAP", replace(MAP, made=refused))
    monkeypatch.setattr(parts + "SWEEP", replace(SWEEP, made=lambda _craft, _plan: "swept"))
    found = made(1)
    assert found.map is None
    assert found.sweep == "swept"
    assert found.reasons["map"] == "no such day"


def test_folds_of_a_map_hold_its_limits() -> None:
    assert spaced_folds(-85.0, 75.0, 30.0) == (-85.0, -60.0, -30.0, 0.0, 30.0, 60.0, 75.0)
