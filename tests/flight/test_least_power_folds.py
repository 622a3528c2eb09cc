"""The best fold read off rows made by hand: flat runs, ties, what limits and what forbids it.

Every row here is a list of powers and margins over folds a degree apart; what is expected is
counted off it.
"""

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from vlm.flight.plan.constraints import NO_TRIM, Setting
from vlm.flight.plan.fold_row import RowReading
from vlm.flight.plan.schedule import (
    _runs,
    active_constraints,
    best_fold,
    forbidding,
    ideal_schedule,
)
from vlm.flight.trim.power_book import FoldCurve

FOLDS = np.arange(-5.0, 6.0)


def setting(fold: float, power: float, **margins: float) -> Setting:
    """A setting of which only fold, power and margins are known."""
    return Setting(fold, 10.0, SimpleNamespace(), np.array([power]), margins, {})  # type: ignore[arg-type]


def reading(power: Any, **margins: Any) -> RowReading:
    """A row over the folds."""
    power = np.asarray(power, float)
    own = {name: np.asarray(values, float) for name, values in margins.items()}
    return RowReading(FOLDS, power, 0.0 * power, power[:, None], own, own)


class Table:
    """What a schedule asks of a table of folds."""

    def __init__(self, best: Setting | None, read: RowReading | None, row: list[Setting]) -> None:
        self.best, self.read, self.solved = best, read, row
        self.book = SimpleNamespace(speeds=np.array([8.0, 9.0]))
        self.asked: list[float] = []

    def searched(self, speed: float) -> Setting | None:
        """The best fold."""
        return self.best

    def reading(self, speed: float) -> RowReading | None:
        """The row read."""
        return self.read

    def row(self, speed: float) -> list[Setting]:
        """What is solved."""
        return self.solved

    def setting(self, fold: float, speed: float) -> None:
        """Solve one more."""
        self.asked.append(fold)


@pytest.mark.parametrize(
    ("good", "expected"),
    [
        ("...........", []),
        ("xxxxxxxxxxx", [(-5.0, 5.0)]),
        ("x.........x", [(-5.0, -5.0), (5.0, 5.0)]),
        ("..xxx..x...", [(-3.0, -1.0), (2.0, 2.0)]),
        (".........xx", [(4.0, 5.0)]),
    ],
)
def test_runs_are_unbroken_and_end_at_their_last_good_fold(good: str, expected: list[Any]) -> None:
    """Counted by hand."""
    assert _runs(FOLDS, np.array([mark == "x" for mark in good])) == expected


def test_flat_runs_and_ties_lie_within_a_hundredth_of_the_least_power() -> None:
    """Powers of 100 W at the best; 101.0 is within a hundredth, 101.1 is not."""
    power = [120, 100.5, 100.9, 101.1, 100.8, 100.2, 100.0, 101.0, 101.1, 130, 140]
    found = best_fold(Table(setting(1.0, 100.0), reading(power), []), 10.0)  # type: ignore[arg-type]
    assert found.flat_deg == (-1.0, 2.0)
    assert found.ties == (-3.5,)
    assert (found.fold_deg, found.power, found.reason, found.active) == (1.0, 100.0, "", ())


def test_a_best_fold_within_a_step_of_a_run_belongs_to_it() -> None:
    """It was solved between folds that were read; further off, the run is another minimum."""
    power = [120, 120, 120, 120, 120, 120, 100.1, 100.2, 120, 120, 120]
    for fold, flat, ties in [
        (0.75, (0.75, 2.0), ()), (0.7, (0.7, 0.7), (1.5,)),
        (2.25, (1.0, 2.25), ()), (2.3, (2.3, 2.3), (1.5,)),
    ]:  # fmt: skip
        found = best_fold(Table(setting(fold, 100.0), reading(power), []), 10.0)  # type: ignore[arg-type]
        assert found.flat_deg == flat
        assert found.ties == ties


def test_folds_that_pass_a_limit_are_neither_flat_nor_tied() -> None:
    """The same power everywhere; only three folds keep the margin."""
    margin = np.where(np.abs(FOLDS) <= 1.0, 1.0, -1.0)
    table = Table(setting(0.0, 100.0, stall=1.0), reading([100.0] * 11, stall=margin), [])
    found = best_fold(table, 10.0)  # type: ignore[arg-type]
    assert found.flat_deg == (-1.0, 1.0)
    assert found.ties == ()


def row_beside(slope: float) -> RowReading:
    """Power that falls with the fold and a margin that passes its limit at 0.2 degrees.

    With a slope of 0.01 W/deg no fold of the row is better by 0.03 W, which would count anywhere.
    """
    folds = np.round(np.arange(-1.0, 1.01, 0.25), 9)
    power = 100.0 - slope * folds
    margin = {"stall": 0.2 - folds}
    return RowReading(folds, power, 0.0 * power, power[:, None], margin, margin)


def test_a_constraint_is_active_where_passing_it_would_cost_less() -> None:
    """The margin spans 2.0, so it is near below 0.04; beyond it power falls, or it rises."""
    for slope, margin, expected in [
        (0.01, 0.0, ("stall",)), (0.01, 0.039, ("stall",)), (0.01, 0.041, ()), (-0.01, 0.0, ()),
    ]:  # fmt: skip
        best = setting(0.2, 100.0 - slope * 0.2, stall=margin)
        assert active_constraints(row_beside(slope), best) == expected


def test_what_is_passed_far_from_the_best_fold_is_not_active() -> None:
    """Half a degree is asked for: beyond 0.2 the next folds read are at 0.25; from -0.4, at 0.1."""
    for fold, expected in [(-0.24, ("stall",)), (-0.26, ())]:
        best = setting(fold, 100.0 - 0.01 * fold, stall=0.0)
        assert active_constraints(row_beside(0.01), best) == expected


def test_what_alone_forbids_a_better_fold_anywhere_is_active() -> None:
    """99.9 W at 4 deg, past a ridge, against 100 W at the best; 99.98 W is no gain to look for."""
    for least, roll, room, expected in [
        (99.9, 1.0, 0.0, ("stall",)), (99.98, 1.0, 0.0, ()), (99.9, -1.0, 0.0, ()),
        (99.9, 1.0, 0.1, ()),
    ]:  # fmt: skip
        power = np.where(FOLDS == 4.0, least, 100.0 + FOLDS**2)
        margins = {
            "stall": np.where(FOLDS > 2.0, -1.0, 1.0),
            "roll": np.where(FOLDS > 2.0, roll, 1.0),
        }
        read = RowReading(FOLDS, power, room + 0.0 * power, power[:, None], margins, {})
        assert active_constraints(read, setting(0.0, 100.0, stall=1.0, roll=1.0)) == expected


def test_a_margin_that_never_changes_or_is_unknown_is_not_active() -> None:
    """Another fold would not help."""
    power = 100.0 - FOLDS
    for margin in (np.full(11, -0.0), np.full(11, np.nan)):
        read = reading(power, stall=margin)
        assert active_constraints(read, setting(0.0, 100.0, stall=0.0)) == ()


@pytest.mark.parametrize(
    ("fold", "expected"),
    [(-5.0, ("fold limits",)), (5.0, ("fold limits",)), (4.999, ()), (-4.999, ()), (0.0, ())],
)
def test_the_best_fold_at_an_end_is_held_by_the_fold_s_limits(
    fold: float, expected: tuple[str, ...]
) -> None:
    """Where no constraint is."""
    assert active_constraints(reading([100.0] * 11), setting(fold, 100.0)) == expected


def test_fold_limits_are_not_named_beside_a_constraint() -> None:
    """At the end of the row the constraint is what holds the fold."""
    read = row_beside(1.0)
    read = RowReading(read.folds - 0.25, read.power, read.room, read.values, read.margins, {})
    best = setting(0.75, 99.5, stall=0.0)
    assert active_constraints(read, best) == ("stall",)


def test_what_forbids_every_fold_is_what_the_nearest_one_passes() -> None:
    """One limit passed at -2 and 3, two elsewhere; the cheaper of the two, -2, is solved."""
    one = np.isin(FOLDS, [-2.0, 3.0])
    read = reading(
        np.where(FOLDS == -2.0, 110.0, 120.0), stall=np.full(11, -1.0), roll=np.where(one, 1.0, -1)
    )
    row = [
        setting(-2.0, 110.0, stall=-1.0, roll=1.0), setting(3.0, 120.0, stall=1.0, roll=-1.0),
        setting(0.0, 90.0, stall=-1.0, roll=-1.0), setting(1.0, float("nan"), stall=1.0, roll=1.0),
    ]  # fmt: skip
    table = Table(None, read, row)
    found = best_fold(table, 10.0)  # type: ignore[arg-type]
    assert found.reason == "stall"
    assert table.asked == [-2.0]
    assert found.setting is None
    assert found.margins == {}
    assert np.isnan([found.fold_deg, found.power, *found.flat_deg]).all()


def test_folds_without_power_are_not_the_nearest() -> None:
    """They pass nothing that is read, for nothing is known there."""
    power = np.where(FOLDS == 4.0, 100.0, np.nan)
    read = reading(power, stall=np.where(FOLDS == 4.0, -1.0, np.nan))
    table = Table(None, read, [setting(4.0, 100.0, stall=-1.0)])
    assert forbidding(table, 10.0) == ("stall",)  # type: ignore[arg-type]
    assert table.asked == [4.0]


def test_a_fold_that_passes_nothing_once_solved_is_said_to_have_no_trim() -> None:
    """And a row without any trim is reported so."""
    solved = Table(None, reading([100.0] * 11, stall=FOLDS), [setting(0.0, 100.0, stall=1.0)])
    assert forbidding(solved, 10.0) == (NO_TRIM,)  # type: ignore[arg-type]
    empty = Table(None, None, [setting(0.0, float("nan"))])
    assert forbidding(empty, 10.0) == ("no fold gives a trim",)  # type: ignore[arg-type]


def test_a_schedule_asks_at_the_book_s_speeds_and_tells_how_far_it_is() -> None:
    """One more each time, of all."""
    table = Table(setting(0.0, 100.0), reading([100.0] * 11), [])
    told: list[tuple[int, int]] = []
    found = ideal_schedule(table, report=lambda done, all_: told.append((done, all_)))  # type: ignore[arg-type]
    assert [point.speed for point in found] == [8.0, 9.0]
    assert told == [(1, 2), (2, 2)]
    assert [point.speed for point in ideal_schedule(table, [7.0])] == [7.0]  # type: ignore[arg-type]


def test_curves_over_folds_keep_to_their_runs() -> None:
    """A line is read as a line; a lone value only at its fold; nothing between runs."""
    values = np.array([np.nan, 1, 2, 3, 4, 5, 6, np.nan, 9, np.nan, 7])
    curve = FoldCurve(FOLDS, values)
    assert curve(np.array([-4.0, -3.5, 0.25, 1.0])) == pytest.approx([1.0, 1.5, 5.25, 6.0])
    assert np.isnan(curve(np.array([-4.001, 1.001, 2.0, 2.999, 3.001, 4.999, 6.0]))).all()
    assert float(curve(3.0)) == 9.0
    assert float(curve(5.0)) == 7.0
    assert curve(np.zeros((2, 3))).shape == (2, 3)


def test_four_points_are_joined_without_a_swing() -> None:
    """A step between level parts stays level with monotone cubics (Fritsch and Carlson 1980)."""
    curve = FoldCurve(np.arange(4.0), np.array([0.0, 0.0, 1.0, 1.0]))
    assert curve(np.array([0.5, 1.5, 2.5])) == pytest.approx([0.0, 0.5, 1.0])


def test_five_points_are_joined_by_modified_akima() -> None:
    """Akima's slope is the mean of the chords to both sides, weighted by how far they turn beyond.

    The weight of a side is |m4 - m3| + |m4 + m3| / 2 with the chords of the other side. On x²
    the chords around 1 are -1, 1, 3, 5; at 0 the slope is 0. Hermite's cubic at the middle of
    a step: the mean of both values less an eighth of what the slopes grow by.
    """
    curve = FoldCurve(np.arange(-3.0, 4.0), np.arange(-3.0, 4.0) ** 2)
    before, after = (5.0 - 3.0) + 0.5 * (5.0 + 3.0), (1.0 + 1.0) + 0.5 * (1.0 - 1.0)
    slope = (before * 1.0 + after * 3.0) / (before + after)
    assert float(curve(0.5)) == pytest.approx(0.5 - slope / 8.0)
