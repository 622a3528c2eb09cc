"""Which settings a sweep solves, which it reads, and when it gives a chart up: by hand.

No source but the rules stated in the module; where tips touch and what is solved is made up.
"""

from types import SimpleNamespace

import numpy as np
import pytest

from vlm.chart.fold_points import FoldPoints, Piece
from vlm.description.folds import FoldAngles
from vlm.errors import InputRefused
from vlm.study.sweep import charted
from vlm.study.sweep.plan import Case, SweepPlan

CRAFT = SimpleNamespace(fold_range_deg=(-100.0, 100.0))


@pytest.fixture
def touching(monkeypatch):
    """Let tips touch where a rule says so."""

    def where(rule):
        monkeypatch.setattr(charted, "build_cellule", lambda *_: None)
        monkeypatch.setattr(charted, "_touches", lambda _craft, _cellule, fold: rule(fold))

    where(lambda fold: False)
    return where


@pytest.mark.parametrize(
    ("contact", "sense", "room"),
    [(64.0, 1.0, 6.0), (61.0, 1.0, 8.0), (68.0, 1.0, 2.0), (69.0, 1.0, 0.0), (64.0, -1.0, 6.0)],
)
def test_an_approach_begins_ten_degrees_from_contact(touching, contact, sense, room):
    """Looked for every 2 degrees beyond the last free fold, here 60."""
    touching(lambda fold: sense * fold >= contact)
    assert charted._room(CRAFT, None, sense * 60.0, sense) == room


@pytest.mark.parametrize(
    ("allowed", "room"),
    [((-64.0, 64.0), 6.0), ((-63.9, 63.9), 0.0), ((-64.0, 90.0), 6.0), ((-90.0, 63.9), 0.0)],
)
def test_beyond_the_range_of_folds_nothing_is_looked_for(touching, allowed, room):
    """The range's own end counts; its other end says nothing."""
    touching(lambda fold: abs(fold) >= 64.0)
    craft = SimpleNamespace(fold_range_deg=allowed)
    if allowed[0] > -90.0:
        assert charted._room(craft, None, -60.0, -1.0) == room
    if allowed[1] < 90.0:
        assert charted._room(craft, None, 60.0, 1.0) == room


@pytest.mark.parametrize(
    ("rule", "low", "high", "pieces"),
    [
        (lambda f: False, -50.0, 60.0, [(-50, 60, 9, False)]),
        (lambda f: False, -50.0, 60.1, [(-50, 60.1, 13, False)]),
        (lambda f: f > 63.0, -40.0, 60.0, [(-40, 54, 9, False), (54, 60, 9, True)]),
        (lambda f: f < -43.0, -40.0, 60.0, [(-40, -34, 9, True), (-34, 60, 9, False)]),
        (
            lambda f: abs(f) > 63.0,
            -60.0,
            60.0,
            [(-60, -54, 9, True), (-54, 54, 9, False), (54, 60, 9, True)],
        ),
        (lambda f: f > 6.0, 0.0, 5.0, [(0, 5, 9, False)]),
        (lambda f: f > 7.9, -1.0, 5.0, [(-1, 5, 9, False)]),
    ],
)
def test_stretches_of_folds_between_contacts(touching, rule, low, high, pieces):
    """9 points up to 110 degrees, 13 beyond; none of an approach where it reaches all the way."""
    touching(rule)
    found = charted._pieces(CRAFT, None, low, high)
    assert [(p.low, p.high, p.count, near) for p, near in found] == pieces


def folds(low, high, count):
    return tuple(np.linspace(low, high, count))


@pytest.mark.parametrize(
    ("high", "closer", "least"), [(50.0, 0, 15), (50.0, 1, 25), (60.0, 0, 20), (60.0, 1, 36)]
)
def test_a_line_of_folds_is_charted_from_where_it_repays(touching, high, closer, least):
    """9, 17, 13 or 25 points and two that they are held against: 1.3 times as many folds."""
    for count, is_made in ((least - 1, False), (least, True)):
        chart = charted.fold_chart(CRAFT, SweepPlan(folds(-60.0, high, count)), closer)
        assert (chart is not None) == is_made
        exact = SweepPlan(folds(-60.0, high, count), exact=True)
        assert charted.fold_chart(CRAFT, exact, closer) is None


@pytest.mark.parametrize(("count", "is_made"), [(8, False), (9, True)])
def test_pairs_are_charted_from_where_they_repay(touching, count, is_made):
    """5 x 5 and twice 3 x 4 settings, mirrored pairs once: (49 + 9)/2 and 3 to hold them against;
    1.3 times 32 lies between the 36 pairs of 8 folds and the 45 of 9."""
    plan = SweepPlan(folds(-50.0, 50.0, count), asymmetric=True)
    assert (charted.fold_chart(CRAFT, plan) is not None) == is_made


@pytest.mark.parametrize(
    ("settings", "count", "asymmetric", "solves"),
    [(49, 9, True, 29), (100, 10, True, 55), (9, 9, False, 9), (13, 9, False, 9)],
)
def test_mirrored_pairs_are_solved_once(settings, count, asymmetric, solves):
    plan = SweepPlan((0.0,), asymmetric=asymmetric)
    assert charted._solves(settings, count, plan) == solves


def test_folds_that_touch_and_those_beside_stand_alone(touching):
    """Contact from 60 on: 58 and 56.5 lie nearer than 4 degrees to one that touches, 56 does not;
    the next ten degrees are solved as asked, being fewer than the points of a piece."""
    touching(lambda fold: fold >= 60.0)
    asked = (*folds(-40.0, 44.0, 43), 48.0, 52.0, 56.0, 56.5, 58.0, 60.0, 62.0)
    chart = charted.fold_chart(CRAFT, SweepPlan(asked))
    assert [(p.low, p.high) for p in chart.pieces] == [(-40.0, 50.0)]
    assert chart.alone == (52.0, 56.0, 56.5, 58.0, 60.0, 62.0)
    # A contact between free folds, or fewer than two of them, has no chart.
    touching(lambda fold: abs(fold) < 0.5)
    assert charted.fold_chart(CRAFT, SweepPlan(asked)) is None
    touching(lambda fold: fold > -35.0)
    assert charted.fold_chart(CRAFT, SweepPlan((-50.0, *asked[3:]))) is None


def test_an_approach_asked_for_often_is_a_piece(touching):
    """Ten folds are more than its nine points."""
    touching(lambda fold: fold >= 60.0)
    for count, pieces in ((9, 1), (10, 2)):
        asked = (*folds(-40.0, 40.0, 41), *folds(50.5, 56.0, count), 60.0)
        chart = charted.fold_chart(CRAFT, SweepPlan(asked))
        assert len(chart.pieces) == pieces
        assert len(chart.alone) == (10 if pieces == 1 else 1)


def test_what_cannot_be_built_is_not_charted(monkeypatch):
    def refuse(*_):
        raise InputRefused("surfaces cross")

    monkeypatch.setattr(charted, "folded", refuse)
    assert charted._touches(CRAFT, None, 0.0)
    for joints, touches in (((), False), ((1,), True)):
        monkeypatch.setattr(charted, "folded", lambda *_, j=joints: SimpleNamespace(joints=j))
        assert charted._touches(CRAFT, None, 0.0) is touches
    monkeypatch.setattr(charted, "build_cellule", refuse)
    assert charted.fold_chart(CRAFT, SweepPlan(folds(-50.0, 50.0, 41))) is None


class Solver:
    """Solves by a formula and keeps what it was asked."""

    def __init__(self, lift, fails=lambda fold: False):
        self.lift, self.fails, self.asked = lift, fails, []

    def __call__(self, plan, cases):
        assert plan.exact
        self.asked.append([case.folds.left_deg for case in cases])
        return {case.place: self.values(case.folds.left_deg) for case in cases}

    def values(self, fold):
        if self.fails(fold):
            return {"failure": "surfaces cross", "findings": []}
        return {"CL": np.array([[self.lift(fold / 60.0)]]), "findings": []}


ASKED = folds(-50.0, 50.0, 41)


def test_a_smooth_sweep_is_read_off_its_points(touching):
    """A parabola, nine points of it and two more, at 0.27 and 0.61 of the way."""
    solve = Solver(lambda x: 1.0 - 0.4 * x + 0.5 * x**2)
    found = charted.charted_results(CRAFT, SweepPlan(ASKED), solve)
    assert [len(one) for one in solve.asked] == [9, 2]
    assert solve.asked[1] == [-23.0, 11.0]
    for place, fold in enumerate(ASKED):
        assert found[(place,)]["CL"].item() == pytest.approx(solve.lift(fold / 60.0), abs=1e-12)


@pytest.mark.parametrize(("errors", "new"), [(False, 8), (True, 12)])
def test_a_steeper_sweep_takes_twice_the_points(touching, errors, new):
    """Runge's function: its error falls with twice the points, by the ellipse of convergence. What
    was solved serves again, but for the four points that had no half-width and now need one."""
    solve = Solver(lambda x: 1.0 / (1.0 + 2.0 * x**2))
    found = charted.charted_results(CRAFT, SweepPlan(ASKED, errors=errors), solve)
    assert [len(one) for one in solve.asked] == [9, 2, new, 2]
    assert len(set(solve.asked[0]) & set(solve.asked[2])) == new - 8
    assert found[(20,)]["CL"].item() == pytest.approx(1.0, abs=1e-4)


def test_a_kink_is_given_up(touching):
    solve = Solver(abs)
    assert charted.charted_results(CRAFT, SweepPlan(ASKED), solve) is None
    assert [len(one) for one in solve.asked] == [9, 2, 8, 2]


def test_a_failure_on_a_piece_gives_the_chart_up_and_alone_it_does_not(touching):
    solve = Solver(lambda x: x, fails=lambda fold: fold == 50.0)
    assert charted.charted_results(CRAFT, SweepPlan(ASKED), solve) is None
    assert [len(one) for one in solve.asked] == [9]
    touching(lambda fold: fold >= 60.0)
    solve = Solver(lambda x: x, fails=lambda fold: fold == 60.0)
    found = charted.charted_results(CRAFT, SweepPlan((*ASKED, 60.0)), solve)
    assert "failure" in found[(41,)]
    assert found[(0,)]["CL"].item() == pytest.approx(-50.0 / 60.0)


@pytest.mark.parametrize(
    ("failed", "alone"),
    [
        ({(0, 2), (1, 2), (2, 2), (2, 0), (2, 1)}, True),
        ({(0, 2), (1, 2), (2, 2)}, True),
        ({(0, 2), (1, 2)}, False),
        ({(0, 1), (1, 1), (2, 1)}, False),
        (set(), True),
    ],
)
def test_a_fold_that_stands_alone_fails_with_every_other(failed, alone):
    """The third of three folds stands alone; a pair of the others, or one pair of it, is not so."""
    chart = SimpleNamespace(sides=2, folds=np.array([-10.0, 10.0, 40.0]), alone=(40.0,))
    solved = {
        (7, i, j): ({"failure": "x"} if (i, j) in failed else {"CL": 1.0})
        for i in range(3)
        for j in range(3)
    }
    assert charted._fails_alone(chart, solved) is alone


@pytest.mark.parametrize("pairs", [False, True])
@pytest.mark.parametrize("errors", [False, True])
def test_half_widths_at_every_second_point_and_rates_where_they_are_read(pairs, errors):
    """Rates with fold: on a line everywhere, over pairs with the error estimates and alone."""
    chart = FoldPoints((Piece(-40.0, 40.0, 9),), pairs, alone=(60.0,))
    plan = SweepPlan((0.0,), asymmetric=pairs, errors=errors)
    points = [*chart.pieces[0].points, 60.0]
    np.testing.assert_allclose(chart.folds, points)
    for i in range(10):
        for j in range(10) if pairs else [i]:
            case = Case((3, i, j) if pairs else (3, i), FoldAngles(points[i], points[j]))
            found = charted._as_needed(chart, plan, case)
            rough = all(k % 2 == 0 or k == 9 for k in (i, j))
            assert found.errors is (rough and errors)
            assert found.fold_rates is ((rough and errors) or not pairs or 9 in (i, j))
