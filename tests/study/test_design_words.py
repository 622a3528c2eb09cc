"""What a search of the design says of the craft in the file. No source but the rules of the words;
all numbers are invented."""

from types import SimpleNamespace

import numpy as np
import pytest

from vlm.description.loading import load_biplane
from vlm.lattice.cellule import Grid
from vlm.study.design.around import Side, forbidding
from vlm.study.design.changes import FOLD, SearchKey
from vlm.study.design.evaluator import COARSER, FREE
from vlm.study.design.goals import Worth
from vlm.study.design.report import _fold_words
from vlm.study.design.search import Searched, StartEnd, search
from vlm.study.design.study import _Found, _gain_half_width
from vlm.study.design.words import answer, sure_of
from vlm.study.point.errors import half_width
from vlm.study.sensitivity import GAINED, Answer


def study(
    goal: str, sign: float, best: float, present: float, half: float = np.nan, noise: float = 0.0,
    rolls: tuple[str, str] = ("", ""), settled: bool = True,
) -> SimpleNamespace:  # fmt: skip
    def worth(value: float, side: str) -> SimpleNamespace:
        return SimpleNamespace(value=value, reason="", active=(), rolls_to=side)

    return SimpleNamespace(
        plan=SimpleNamespace(goal=SimpleNamespace(goal=goal, sign=sign)),
        best={"upper.tips.span_m": 0.5}, craft=load_biplane("tideline"),
        best_worth=worth(best, rolls[0]), present=worth(present, rolls[1]),
        searched=SimpleNamespace(noise=noise, has_converged=settled), stopped=False,
        gain_half_width=half,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("goal", "sign", "best", "said"),
    [
        ("power", 1.0, 98.0, "That is 2.0 % lower THAN."),
        ("power", 1.0, 103.0, "That is 3.0 % higher THAN: the craft as in the file"
         " is the better one."),
        ("rolling moment", -1.0, 104.0, "That is 4.0 % higher THAN."),
        ("rolling moment", -1.0, 95.0, "That is 5.0 % lower THAN: the craft as in"
         " the file is the better one."),
        ("power", 1.0, 99.95, "No difference to the craft as in the file, within 0.1 %."),
    ],
)  # fmt: skip
def test_bounds_that_leave_out_the_file_s_craft_may_hold_worse_ones(goal, sign, best, said):
    unit = "N m" if goal == "rolling moment" else "W"
    than = f"than the 100.0 {unit} as in the file"
    assert answer(study(goal, sign, best, 100.0))[1] == said.replace("THAN", than)


@pytest.mark.parametrize(
    ("best", "half", "noise", "said"),
    [
        (49.0, 0.5, 0.0, "That is 2.0 ± 1.0 % lower THAN (± of the lattice)."),
        (49.0, 0.02, 0.0, "That is 2.000 ± 0.040 % lower THAN (± of the lattice)."),
        (49.0, 1.25, 0.0, "Not known whether it is better than as in the file: 2.0 ± 2.5 % lower"
         " (± of the lattice)."),
        (52.0, 1.25, 0.0, "That is 4.0 ± 2.5 % higher THAN (± of the lattice): the"
         " craft as in the file is the better one."),
        (49.0, 0.5, 1.5, "No difference to the craft as in the file, within 3 %."),
        (49.99, 0.5, np.nan, "No difference to the craft as in the file, within 0.1 %."),
        (49.0, np.nan, np.nan, "That is 2.0 % lower THAN."),
    ],
)  # fmt: skip
def test_a_gain_within_its_own_error_is_not_called_one(best, half, noise, said):
    """Of a power of 50 W; half-width and noise in W. Noise that is not known hides no likeness."""
    told = answer(study("power", 1.0, best, 50.0, half, noise))[1]
    assert told == said.replace("THAN", "than the 50.00 W as in the file")


def test_the_first_line_holds_the_file_s_value():
    """The shipped file gives tips of 0.36 m."""
    assert answer(study("energy", 1.0, 98.0, 100.0))[0] == (
        "Best: upper.tips.span_m = 0.5 (0.36 in the file), with an energy of 98.00 Wh."
    )


def test_a_search_that_has_not_converged_names_no_best():
    told = answer(study("energy", 1.0, 98.0, 100.0, settled=False))[0]
    assert told.startswith("Best so far (no start has converged on it: raise --most): upper.tips")


@pytest.mark.parametrize(
    ("ends", "settled"),
    [
        ([(10.0, True), (12.0, False)], True),
        ([(10.0, False), (12.0, True)], False),  # one that converged led elsewhere
        ([(10.0, False), (10.0009, True)], True),  # within a ten-thousandth
        ([(10.0, False), (np.nan, True)], False),
        ([], False),
    ],
)
def test_a_best_has_converged_where_a_start_converged_on_it(ends, settled):
    place = np.zeros(1)
    found = Searched(
        place, 10.0, tuple(StartEnd(place, place, cost, 9, done) for cost, done in ends), 0.0, False
    )
    assert found.has_converged is settled


def test_a_search_cut_short_is_not_settled_and_one_to_its_end_is():
    """A parabola's least at 0.3."""
    starts = np.array([[0.9]])
    for most, settled in ((6, False), (60, True)):
        found = search(lambda x: 1.0 + (x[0] - 0.3) ** 2, starts, most=most)
        assert found.has_converged is settled


def test_a_rolling_moment_has_a_side():
    found = answer(study("rolling moment", -1.0, 3.0, 2.0, rolls=("port", "port")))
    assert found[2] == "With starboard folded up it rolls to port."
    found = answer(study("rolling moment", -1.0, 3.0, 2.0, rolls=("port", "starboard")))
    assert found[2] == (
        "With starboard folded up it rolls to port, as in the file to starboard: commands must be"
        " reversed."
    )


class Asked:
    def __init__(self, plan, worths):
        self.plan, self.craft, self.worths, self.calls = plan, None, worths, []

    def __call__(self, values, way="folding"):
        self.calls.append((round(values.get("k_m", 0.0), 6), way))
        return self.worths[self.calls[-1]]


BROKEN = Worth(np.nan, "hinge moment")


@pytest.mark.parametrize(
    ("up", "down", "near", "active"),
    [
        (BROKEN, Worth(9.0), BROKEN, ["hinge moment"]),  # better the nearer to what forbids it
        (BROKEN, Worth(9.0), Worth(10.1), []),  # there is room left
        (BROKEN, Worth(11.0), BROKEN, []),  # better away from it
        (BROKEN, None, BROKEN, ["hinge moment"]),  # between it and a bound
        (Worth(9.5), Worth(9.0), BROKEN, []),  # best between both
    ],
)
def test_the_best_stands_at_what_forbids_a_small_step_to_the_better_side(up, down, near, active):
    """The highest is sought and is 10 at 2 m; bounds of 1 to 3 m, of which 2 % are 0.04 m."""
    key = SearchKey("k_m", 1.0, 3.0)
    goal = SimpleNamespace(sign=-1.0)
    ask = Asked(SimpleNamespace(goal=goal, key=lambda name: key), {(2.04, "folding"): near})
    sides = [Side("k_m", 0.1, up), Side("k_m", -0.1, down)]
    assert forbidding(ask, {"k_m": 2.0}, Worth(10.0), sides, np.nan) == active


TURNED = Worth(10.3, active=("hinge moment",))


@pytest.mark.parametrize(
    ("up", "near", "freed", "noise", "active"),
    [
        (TURNED, TURNED, (10.0, 9.8), np.nan, ["hinge moment"]),  # avoided by a worse fold
        (TURNED, TURNED, (9.7, 9.8), np.nan, []),  # worse without it too
        (TURNED, TURNED, (10.0, 9.8), 0.11, []),  # as far as the noise lets one see
        (TURNED, Worth(9.99), (10.0, 9.8), np.nan, []),  # there is room left
        (Worth(10.3, active=("rolling moment",)), TURNED, (10.0, 9.8), np.nan, []),
    ],
)
def test_the_best_stands_at_what_makes_a_step_take_a_worse_fold(up, near, freed, noise, active):
    """The lowest is sought and is 10 at 2 m, where the rolling moment is active."""
    key, way = SearchKey("k_m", 1.0, 3.0), FREE + "hinge moment"
    ask = Asked(
        SimpleNamespace(goal=SimpleNamespace(sign=1.0), key=lambda name: key),
        {(2.04, "folding"): near, (2.0, way): Worth(freed[0]), (2.1, way): Worth(freed[1])},
    )
    sides = [Side("k_m", 0.1, up), Side("k_m", -0.1, Worth(10.1))]
    best = Worth(10.0, active=("rolling moment",))
    assert forbidding(ask, {"k_m": 2.0}, best, sides, noise) == active


def test_what_is_gained_has_the_lattices_half_width():
    """2 W on the lattice and 1.7 W on the coarser one: the difference of 0.3 W counts, and the
    floor, here 1 of 10000 of 10 W."""
    grid = Grid(8, 20)
    plan = SimpleNamespace(goal=SimpleNamespace(grid=grid), keys=())
    worths = {(2.0, COARSER): Worth(8.4), (0.0, COARSER): Worth(10.1)}
    found = _Found(best={"k_m": 2.0}, worth=Worth(8.0), present=Worth(10.0))
    expected = half_width(2.0, 1.7, 0.0, grid) + 1e-4 * 10.0
    assert _gain_half_width(Asked(plan, worths), found) == pytest.approx(expected)
    assert expected > 0.3
    found.present = BROKEN
    assert np.isnan(_gain_half_width(Asked(plan, worths), found))


@pytest.mark.parametrize(
    ("ends", "open_"), [((-0.1, 1.5), True), ((0.1, 1.5), False), ((0.1, 2.9), True)]
)
def test_a_gain_whose_interval_holds_zero_is_no_difference(ends, open_):
    """The value is 1.2; an interval askew may hold zero though half its width is less."""
    half = 0.5 * (ends[1] - ends[0])
    one = Answer(GAINED, "than as in the file", "W", 1.2, half, ends, np.ones(1), np.ones(1), 0, 0)
    found = sure_of(SimpleNamespace(answers=(one,)))
    assert bool(found) is open_


@pytest.mark.parametrize(
    ("goal", "fold", "keys", "tips", "words"),
    [
        ("energy", None, [], True, "along the schedule"),
        ("power", None, [], True, "at the best fold of this airspeed"),
        ("rolling moment", None, [], True, "flat"),
        ("induced drag", None, [], True, "flat"),
        ("power", None, [], False, "flat"),
        ("power", -30.0, [], True, "held at -30 deg"),
        ("energy", None, [FOLD], True, "held at a fold that is searched for"),
    ],
)
def test_which_folds_a_goal_is_asked_at(goal, fold, keys, tips, words):
    plan = SimpleNamespace(
        keys=[SimpleNamespace(name=key) for key in keys],
        goal=SimpleNamespace(goal=goal, fold_deg=fold),
    )
    assert _fold_words(SimpleNamespace(plan=plan, craft=SimpleNamespace(tips=tips))) == words
