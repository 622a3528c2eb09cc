"""Schedules of both demo craft against brute force: direct solves over a fine grid of folds."""

from functools import cache

import numpy as np
import pytest

from vlm.description.loading import load_biplane
from vlm.flight.plan.schedule import best_fold
from vlm.flight.plan.schedule_limits import ScheduleLimits, schedule_limits
from vlm.flight.trim.power_book import PowerBook, fold_grid, power_book
from vlm.lattice.cellule import Grid

GRID = Grid(rows=2, strips=8)
TOLERANCE = 2e-3
"""What docs/schedule.md states, in shares of the power."""
CASES = [("tideline", (11.5, 19.0)), ("winnow", (15.0, 24.0))]


@cache
def tabled(name: str, speeds: tuple[float, ...]) -> tuple[PowerBook, ScheduleLimits]:
    """The table that the command works on."""
    craft = load_biplane(name)
    book = power_book(craft, fold_grid(craft, 11), speeds, grid=GRID)
    assert craft.schedule is not None
    return book, schedule_limits(book, craft.schedule)


@cache
def brute(name: str, speeds: tuple[float, ...]) -> tuple[np.ndarray, np.ndarray]:
    """Folds, and power by direct solves, infinite where any constraint is passed.

    Every 10 degrees from limit to limit and every 1.5 from -9 to 18; nothing is
    interpolated: each fold has its own trims, stability, rolling and hinge moments.
    """
    craft = load_biplane(name)
    low, high = (float(f) for f in fold_grid(craft, 3)[[0, -1]])
    folds = np.unique(np.concatenate([np.arange(low, high, 10.0), np.arange(-9.0, 18.5, 1.5)]))
    book = power_book(craft, folds, speeds, grid=GRID)
    assert craft.schedule is not None
    limits = schedule_limits(book, craft.schedule)
    inside = np.isfinite(book.power)
    for margins in limits.tables.values():
        inside &= margins >= 0.0
    inside &= np.array([[min(limits.of_fold(float(f)).values()) >= 0.0] for f in folds])
    return folds, np.where(inside, book.power, np.inf)


@pytest.mark.parametrize(("name", "speeds"), CASES)
def test_the_schedule_is_the_least_of_direct_solves(name: str, speeds: tuple[float, ...]) -> None:
    book, limits = tabled(name, speeds)
    folds, power = brute(name, speeds)
    for index in range(len(speeds)):
        found = best_fold(book, limits, index)
        least = float(power[:, index].min())
        # Brute force steps by 1.5 degrees, so that the schedule may be below it by that much too.
        assert found.power == pytest.approx(least, rel=TOLERANCE)
        near = folds[power[:, index] <= least * (1.0 + TOLERANCE)]
        assert near.min() - 1.5 <= found.fold_deg <= near.max() + 1.5


@pytest.mark.parametrize(("name", "speeds"), CASES)
def test_the_best_fold_keeps_to_the_constraints_of_a_direct_solve(
    name: str, speeds: tuple[float, ...]
) -> None:
    book, limits = tabled(name, speeds)
    craft = book.craft
    assert craft.schedule is not None
    for index, speed in enumerate(speeds):
        fold = best_fold(book, limits, index).fold_deg
        own = power_book(craft, [fold], [speed], grid=GRID)
        assert np.isfinite(own.power).all()
        spreads = {
            k: float(np.ptp(t[t < 1e8])) for k, t in limits.tables.items() if (t < 1e8).any()
        }
        for key, margin in schedule_limits(own, craft.schedule).margins(fold, 0).items():
            # At a constraint's edge the table's interpolation may be off by a little.
            assert margin >= -0.01 * spreads.get(key, 0.0), key


def test_one_of_the_two_is_held_back_by_its_dihedral_effect() -> None:
    """Else the constraints would be idle here: without it another fold would be better."""
    book, limits = tabled(*CASES[1])
    assert best_fold(book, limits, 1).active == ("dihedral effect",)
    schedule = book.craft.schedule
    assert schedule is not None
    free = schedule_limits(book, schedule.model_copy(update={"dihedral_effect": "any"}))
    assert best_fold(book, free, 1).power < best_fold(book, limits, 1).power * (1.0 - 1e-3)
