"""What a search of the design says of the craft in the file. No source but the rules of the words;
all numbers are invented."""

from types import SimpleNamespace

import numpy as np
import pytest

from vlm.study.design.report import _sure_of, answer
from vlm.study.sensitivity import GAINED, Answer


def study(goal: str, sign: float, best: float, present: float) -> SimpleNamespace:
    def worth(value: float) -> SimpleNamespace:
        return SimpleNamespace(value=value, reason="", active=())

    return SimpleNamespace(
        plan=SimpleNamespace(goal=SimpleNamespace(goal=goal, sign=sign)), best={"a": 1.0},
        best_worth=worth(best), present=worth(present), searched=SimpleNamespace(noise=0.0),
    )  # fmt: skip


@pytest.mark.parametrize(
    ("goal", "sign", "best", "said"),
    [
        ("power", 1.0, 98.0, "That is 2.0 % lower than as in the file."),
        ("power", 1.0, 103.0, "That is 3.0 % higher than as in the file: the craft as in the file"
         " is the better one."),
        ("rolling moment", -1.0, 104.0, "That is 4.0 % higher than as in the file."),
        ("rolling moment", -1.0, 95.0, "That is 5.0 % lower than as in the file: the craft as in"
         " the file is the better one."),
        ("power", 1.0, 99.95, "No difference to the craft as in the file, within 0.1 %."),
    ],
)  # fmt: skip
def test_bounds_that_leave_out_the_file_s_craft_may_hold_worse_ones(goal, sign, best, said):
    assert answer(study(goal, sign, best, 100.0))[1] == said


@pytest.mark.parametrize(
    ("ends", "open_"), [((-0.1, 1.5), True), ((0.1, 1.5), False), ((0.1, 2.9), True)]
)
def test_a_gain_whose_interval_holds_zero_is_no_difference(ends, open_):
    """The value is 1.2; an interval askew may hold zero though half its width is less."""
    half = 0.5 * (ends[1] - ends[0])
    one = Answer(GAINED, "than as in the file", "W", 1.2, half, ends, np.ones(1), np.ones(1), 0, 0)
    found = _sure_of(SimpleNamespace(answers=(one,)))
    assert bool(found) is open_
