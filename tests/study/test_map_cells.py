"""How a map of folds is made of pairs, their mirror images and ends that touch, by hand.

No source but the rules stated in the module; all numbers are invented.
"""

from types import SimpleNamespace

import numpy as np
import pytest

from vlm.errors import ComputationFailed, InputRefused
from vlm.study.point import fold_map


class Maps:
    """A session whose loads are their folds."""

    def __init__(self, mirrors, refused=()):
        self.mirrors, self.refused, self.asked = mirrors, refused, []

    def loads(self, folds):
        pair = folds.left_deg, folds.right_deg
        self.asked.append(pair)
        if pair in self.refused:
            raise InputRefused("surfaces cross")
        return SimpleNamespace(
            can_be_mirrored=self.mirrors,
            pair=pair,
            mirrored=lambda: SimpleNamespace(pair=pair[::-1]),
        )


@pytest.mark.parametrize(("mirrors", "asked"), [(True, 1), (False, 2)])
def test_a_pair_and_its_mirror_image(mirrors, asked):
    session, failures = Maps(mirrors), {}
    folds = np.array([-10.0, 0.0, 20.0])
    found = fold_map._solved(session, folds, 2, 0, failures)
    assert [(place, loads.pair) for place, loads in found] == [
        ((2, 0), (20.0, -10.0)), ((0, 2), (-10.0, 20.0))
    ]  # fmt: skip
    assert len(session.asked) == asked
    assert [place for place, _ in fold_map._solved(session, folds, 1, 1, failures)] == [(1, 1)]
    assert failures == {}
    none = Maps(mirrors, [(20.0, -10.0)])
    assert fold_map._solved(none, folds, 2, 0, failures) == []
    assert failures == {(20.0, -10.0): "surfaces cross", (-10.0, 20.0): "surfaces cross"}


@pytest.mark.parametrize(
    ("folds", "joined", "more"),
    [
        ((-90.0, -60.0, 0.0), {-90.0}, (-85.0,)),
        ((-90.0, -60.0, 0.0), {-90.0, 0.0}, (-85.0, -5.0)),
        ((-90.0, -60.0, 0.0), {-60.0}, ()),
        ((-90.0, -87.0, 0.0), {-90.0}, ()),
        ((-90.0, -87.5, 0.0), {-90.0}, (-85.0,)),
        ((-90.0, -82.5, 0.0), {-90.0}, (-85.0,)),
        ((-90.0, -86.0), {-90.0}, ()),
    ],
)
def test_a_fold_more_beside_an_end_that_touches(monkeypatch, folds, joined, more):
    """5 degrees inside, unless another lies nearer to it than 2.5."""
    monkeypatch.setattr(
        fold_map, "folded",
        lambda cellule, craft, at: SimpleNamespace(is_joined=at.left_deg in joined),
    )  # fmt: skip
    session = SimpleNamespace(cellule=None, craft=None)
    assert fold_map.approached(session, folds, 5.0) == tuple(sorted({*folds, *more}))


def test_an_end_that_cannot_be_built_has_no_fold_beside_it(monkeypatch):
    def refuse(*_):
        raise ComputationFailed("surfaces cross")

    monkeypatch.setattr(fold_map, "folded", refuse)
    session = SimpleNamespace(cellule=None, craft=None)
    assert fold_map.approached(session, (-90.0, 0.0), 5.0) == (-90.0, 0.0)


def test_how_far_a_map_is_off_between_its_nodes(monkeypatch):
    """Midway between the nodes of each cell; what is read off a chart adds what that may miss."""
    folds = np.array([0.0, 10.0, 20.0])
    names = fold_map.CHECKED
    table = np.zeros((3, 3, 1))
    made = SimpleNamespace(folds_deg=folds, values=dict.fromkeys(names, table), touching=None)
    errors = {(5.0, 5.0): 0.1, (15.0, 5.0): -0.4, (15.0, 15.0): 0.2}

    class Solver:
        session = SimpleNamespace(
            loads=lambda at: SimpleNamespace(
                errors={names[0]: 0.01}, at=(at.left_deg, at.right_deg)
            )
        )

        @staticmethod
        def numbers(loads):
            return {name: np.array([errors[loads.at]]) for name in names}

    found = fold_map._checked(Solver, made)
    assert found[names[0]] == pytest.approx(0.41)
    assert found[names[1]] == pytest.approx(0.4)
