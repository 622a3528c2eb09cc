"""Sparse nets over both folds against functions known in closed form."""

import numpy as np
import pytest

from vlm.chart.fold_points import FoldPoints, Piece


def smooth(left: float, right: float) -> float:
    """Smooth in each fold, and smoother in what one does to the other's effect."""
    a, b = np.radians(left), np.radians(right)
    return float(np.sin(a) + np.cos(2.0 * b) + 0.1 * np.sin(a + 0.5) * np.cos(b))


def slope_with_port(left: float, right: float) -> float:
    a, b = np.radians(left), np.radians(right)
    return float(np.cos(a) + 0.1 * np.cos(a + 0.5) * np.cos(b))


NETS = {
    "one piece": FoldPoints.between(-80.0, 60.0, 13, pairs=True),
    "an approach beside it": FoldPoints(
        (Piece(-88.0, -78.0, 9), Piece(-78.0, 60.0, 13)), pairs=True
    ),
    "folds beyond an end that is no round number": FoldPoints(
        (Piece(-80.0, 466.0 / 7.0, 13),), pairs=True, alone=(480.0 / 7.0, 80.0)
    ),
    "folds that stand alone": FoldPoints(
        (Piece(-78.0, 60.0, 13),), pairs=True, alone=(-90.0, -85.0)
    ),
}


def places(net: FoldPoints) -> list[tuple[float, float]]:
    low, high = net.pieces[0].low, net.pieces[-1].high
    free = np.random.default_rng(4).uniform(low, high, (40, 2))
    lone = [(fold, float(other)) for fold in net.alone for other in (*free[:5, 0], *net.alone)]
    return [*map(tuple, free), *lone, *((right, left) for left, right in lone)]


@pytest.mark.parametrize("net", NETS.values(), ids=NETS)
def test_a_smooth_function_is_read_from_its_settings(net: FoldPoints) -> None:
    values = np.array([smooth(*setting) for setting in net.settings])
    for place in places(net):
        assert net.weights(*place) @ values == pytest.approx(smooth(*place), abs=3e-5), place


@pytest.mark.parametrize("net", NETS.values(), ids=NETS)
def test_what_is_not_used_is_not_asked_for(net: FoldPoints) -> None:
    """Every product of the reading has zero where a setting is not solved."""
    asked = np.array([*net.alone, *np.linspace(net.pieces[0].low, net.pieces[-1].high, 7)])
    side = net.side(asked)
    for port, starboard in side.nets(pairs=True):
        table = np.einsum("ak,bl->abkl", port, starboard)
        assert not table[:, :, ~net.used].any()


def test_slopes_along_a_side_are_the_function_s() -> None:
    net = NETS["an approach beside it"]
    table = np.array([[smooth(left, right) for right in net.folds] for left in net.folds])
    asked = np.linspace(-87.0, 59.0, 19)
    nets = net.side(asked).nets(pairs=True, slope_along=0)
    found = sum(port @ table @ starboard.T for port, starboard in nets)
    exact = np.array([[slope_with_port(left, right) for right in asked] for left in asked])
    np.testing.assert_allclose(found, exact, atol=2e-3)


def test_a_sparse_net_needs_about_half_of_all_pairs() -> None:
    net = NETS["one piece"]
    assert len(net.settings) == int(net.used.sum()) == 85
    mirrored = {tuple(sorted(setting)) for setting in net.settings.tolist()}
    assert len(mirrored) == 46


def test_points_taken_closer_hold_those_before() -> None:
    piece = Piece(-80.0, 60.0, 13)
    assert set(piece.points) < set(piece.closer(1).points)
    assert piece.closer(1).count == 25
