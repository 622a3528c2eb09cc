"""Zeros of functions that are no number everywhere. No source but arithmetic."""

import math
from dataclasses import replace
from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pytest

from vlm.constants import Floats
from vlm.flight.craft.crossing import brackets_zero, crossing, sign_changes, zeros_of
from vlm.flight.craft.steady_roll import _root
from vlm.flight.motion.dihedral_effect import neutral_folds
from vlm.flight.motion.roll_command import reversals, turning_points
from vlm.flight.plan.constraints import ROLL_MOMENT
from vlm.flight.plan.flown_schedule import FlownSchedule, FlownState
from vlm.flight.trim.power_samples import SampledCurve
from vlm.flight.trim.sampled_speeds import sampled_crossing
from vlm.log.difference import DifferenceBin
from vlm.log.difference import crossings as log_crossings
from vlm.study.power.crossings import turns_for_good

ROWS = [
    ([-2.0, 0.0, 1.0], [1.0]),  # a sample stands on the zero
    ([-2.0, 0.0, 0.0, 0.0, 1.0], [2.0]),  # a run of samples does: its middle
    ([-1e-200, 1e-200], [0.5]),  # whose product is no number below zero
    ([-2.0, 0.0, -1.0], []),  # touched and left on the same side
    ([0.0, 1.0, 2.0], []),  # an end says nothing of the other side
    ([-1.0, math.nan, 1.0], []),
    ([-1.0, 0.0, math.nan, 1.0], []),
    ([-1.0, 1.0, 0.0, -1.0], [0.5, 2.0]),
]


def test_a_zero_is_found_where_the_function_is_a_number() -> None:
    assert crossing(lambda x: x**3 - 0.027, 0.0, 1.0, 1e-12) == pytest.approx(0.3, abs=1e-9)


def test_there_is_none_where_the_search_comes_to_no_number() -> None:
    """Found by grammar 177: a rate of roll at which strips find no agreement with sections."""
    assert crossing(lambda x: math.nan if 0.2 < x < 0.9 else x - 0.5, 0.0, 1.0, 1e-9) is None
    assert crossing(lambda x: math.nan if x == 0.0 else x - 0.5, 0.0, 1.0, 1e-9) is None


def test_a_rate_of_roll_beyond_which_there_is_no_number_is_none() -> None:
    rates = np.linspace(0.0, 10.0, 11)

    def rolling(at: Floats) -> Floats:
        return np.where((at > 4.01) & (at < 4.99), np.nan, 4.5 - at)

    found = rolling(rates)
    assert _root(rolling, rates, np.where(rates > 5.5, np.nan, found), 5) is None


@pytest.mark.parametrize(("values", "expected"), ROWS)
def test_a_row_changes_its_sign_at_zeros_too(values: list[float], expected: list[float]) -> None:
    assert zeros_of(range(len(values)), values) == pytest.approx(expected)
    for before, after in sign_changes(values):
        assert math.copysign(1.0, values[before]) != math.copysign(1.0, values[after])
        assert not any(values[before + 1 : after])


def test_two_values_bracket_a_zero_that_either_may_be() -> None:
    assert brackets_zero(-1.0, 2.0)
    assert brackets_zero(0.0, 2.0)
    assert brackets_zero(-1e-200, 1e-200)
    assert not brackets_zero(1.0, 2.0)
    assert not brackets_zero(math.nan, 0.0)
    assert not brackets_zero(0.0, math.nan)


@pytest.mark.parametrize(("values", "expected"), ROWS)
def test_every_search_for_a_change_of_sign_sees_a_sample_on_the_zero(
    values: list[float], expected: list[float]
) -> None:
    at, row = np.arange(len(values), dtype=float), np.array(values)
    assert reversals(at + 10.0, row) == pytest.approx([10.0 + place for place in expected])
    alike = cast(Any, SimpleNamespace(power=np.zeros((1, len(row)))))
    apart = cast(Any, SimpleNamespace(power=row[None, :]))
    [found] = sampled_crossing(at, cast(SampledCurve, apart), cast(SampledCurve, alike), 0.0)
    assert found == pytest.approx(expected[0]) if expected else math.isnan(found)
    bins = [SimpleNamespace(airspeed_m_s=u, difference_W=v) for u, v in zip(at, row, strict=True)]
    assert log_crossings(cast(tuple[DifferenceBin, ...], tuple(bins))) == pytest.approx(expected)
    turns = [change for change, _, _ in turns_for_good(row, lambda _: 0.0)]
    assert turns == sign_changes(row) or np.isnan(row).any()
    states = [
        SimpleNamespace(speed=u, settings=[SimpleNamespace(quantities={ROLL_MOMENT: v})])
        for u, v in zip(at, row, strict=True)
    ]
    flown = FlownSchedule(at, at, 0.0, cast(tuple[FlownState, ...], tuple(states)), (0.0, 9.0))
    if not np.isnan(row).any():
        reversing = replace(flown).roll_reversals
        assert reversing == tuple((float(i), float(j)) for i, j in sign_changes(row))


def test_a_fold_at_which_the_dihedral_effect_is_touched_is_no_neutral_one() -> None:
    [through] = neutral_folds(lambda fold: fold - 10.0, [0.0, 10.0, 20.0])
    assert through.fold_deg == pytest.approx(10.0, abs=1e-3)
    assert neutral_folds(lambda fold: (fold - 10.0) ** 2, [0.0, 10.0, 20.0]) == []
    assert neutral_folds(lambda fold: -((fold - 10.0) ** 2), [0.0, 10.0, 20.0]) == []


def test_a_curve_that_is_level_at_its_summit_turns_back_in_its_middle() -> None:
    at = np.arange(6.0)
    assert turning_points(at, np.array([0.0, 1.0, 2.0, 2.0, 1.0, 0.0])) == pytest.approx((2.5,))
    assert turning_points(at, np.array([0.0, 1.0, 1.0, 2.0, 3.0, 4.0])) == ()
