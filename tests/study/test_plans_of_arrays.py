"""A sweep's plan takes tuples, lists, arrays and single numbers alike, and refuses what is none."""

import numpy as np
import pytest

from vlm.errors import InputRefused
from vlm.study.sweep.plan import KeyAxis, SweepPlan, axis_values

PLAIN = SweepPlan((-30.0, 0.0, 30.0), (0.0, 4.0), (0.0,), keys=(KeyAxis("a.b", (1.0, 2.0)),))


@pytest.mark.parametrize("kind", [list, np.array])
def test_lists_and_arrays_are_the_same_plan(kind) -> None:
    plan = SweepPlan(
        kind([-30, 0, 30]), kind([0.0, 4.0]), 0.0, keys=(KeyAxis("a.b", kind([1, 2])),)
    )
    assert plan == PLAIN
    assert repr(plan) == repr(PLAIN)
    assert [case.folds for case in plan.cases()] == [case.folds for case in PLAIN.cases()]


@pytest.mark.parametrize(
    "folds", [[], np.array([]), np.eye(2), ["a"], [float("nan")], [[0.0], [1.0, 2.0]], None]
)
def test_what_is_no_list_of_numbers_is_refused(folds) -> None:
    with pytest.raises(InputRefused, match="folds_deg must hold at least one number"):
        SweepPlan(folds)


def test_written_axes_still_rise_and_hold_no_value_twice() -> None:
    assert axis_values("4,0,-4", "--alphas") == (-4.0, 0.0, 4.0)
    with pytest.raises(InputRefused, match="--alphas = 4,4; 4 stands there more than once"):
        axis_values("4,4", "--alphas")
