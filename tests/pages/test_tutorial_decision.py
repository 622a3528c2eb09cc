"""The tutorial's decision is held against the commands that it was taken from."""

import json
import re
from functools import cache
from pathlib import Path

import numpy as np
from click.testing import CliRunner

from vlm.cli.main import foldspan
from vlm.description.loading import load_biplane
from vlm.flight.plan.fold_search import FoldTable
from vlm.flight.plan.schedule import best_fold
from vlm.flight.trim.power_book import power_book
from vlm.lattice.cellule import Grid

PAGE = Path(__file__).parents[2] / "docs" / "tutorials" / "choose_a_fold.md"
GRID = Grid(rows=3, strips=10)


@cache
def decided() -> tuple[float, float, float, float]:
    """Fold, lowest and highest airspeed of the decision, and the fold that it rejects."""
    text = " ".join(PAGE.read_text().split())
    told = re.search(r"Fly the survey at (\d+) degrees, from (\d+) to (\d+) m/s", text)
    rejected = re.search(r"Not at (\d+) degrees: there the tips give no roll", text)
    assert told is not None
    assert rejected is not None
    fold, low, high = (float(part) for part in told.groups())
    return fold, low, high, float(rejected[1])


@cache
def table() -> FoldTable:
    """Direct solves under the craft's own constraints."""
    _, low, high, _ = decided()
    craft = load_biplane("tideline")
    assert craft.schedule is not None
    speeds = np.arange(low, high + 0.5)
    return FoldTable.of(power_book(craft, [-90, -45, 0, 20, 60, 120], speeds, grid=GRID),
                        craft.schedule)  # fmt: skip


def test_the_fold_that_is_chosen_keeps_every_constraint_and_costs_nothing() -> None:
    fold, _, _, _ = decided()
    for speed in map(float, table().book.speeds):
        setting = table().setting(fold, speed)
        assert setting.is_allowed, (speed, setting.passed)
        assert setting.power <= best_fold(table(), speed).power * 1.003
        assert setting.power <= table().setting(0.0, speed).power * 1.003


def test_the_fold_that_is_rejected_gives_no_roll() -> None:
    *_, rejected = decided()
    craft = load_biplane("tideline")
    assert rejected == craft.configurations["loiter"].folds.left_deg
    assert "rolling moment" in table().setting(rejected, 12.0).passed


def test_whether_the_dutch_roll_grows_is_not_known_and_it_grows_rather_with_tips_up() -> None:
    fold, low, high, rejected = decided()
    speeds = ",".join(f"{speed:g}" for speed in (low, 12.0, high))
    words = ["lateral", "tideline", "--folds", f"{fold:g},{rejected:g}", "--airspeeds", speeds]
    done = CliRunner().invoke(foldspan, [*words, "--rows", "3", "--strips", "10", "--json"])
    assert done.exit_code == 0
    swings = {fold: {}, rejected: {}}  # type: ignore[var-annotated]
    for state in json.loads(done.stdout)["modes"]:
        for mode in state["lateral"]["modes"]:
            if mode["imaginary_1_s"] > 0.0:  # it is called a spiral oscillation where bank leads
                swings[state["fold_left_deg"]][state["airspeed_m_s"]] = mode
    for speed in (low, 12.0):
        flown, other = swings[fold][speed], swings[rejected][speed]
        assert flown["growth"] == other["growth"] == "sign not known"
        assert flown["real_1_s"] < other["real_1_s"]
