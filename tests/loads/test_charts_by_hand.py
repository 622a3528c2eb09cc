"""Parts of a chart of loads and of tables over the wake's angle, with made-up lattices and numbers.

Polynomials are read exactly from as many values as they have powers (any textbook); slopes are
held against differences. No other source.
"""

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from vlm.description.folds import FoldAngles
from vlm.errors import ComputationFailed, InputRefused
from vlm.flow.direction import held_angle, held_rate
from vlm.loads.angles import ANGLES, AngledTable, WhenAsked, angle_rates, angle_weights
from vlm.loads.farfield import WakeTrace, _plane_velocities, drag_tables
from vlm.loads.loads_chart import LoadsChart, _free_stretch, _sizes, _touches

RANDOM = np.random.default_rng(2)


def test_angles_are_chebyshevs_and_weights_read_powers_exactly() -> None:
    """18 degrees times -1, -sqrt(1/2), 0, ...; powers up to the fourth, and their slopes."""
    half = np.sqrt(0.5)
    np.testing.assert_allclose(
        np.degrees(ANGLES), 18.0 * np.array([-1, -half, 0, half, 1]), atol=1e-13
    )
    places = np.radians([[-20.0, -3.0], [0.0, 11.0]])
    for power in range(5):
        np.testing.assert_allclose(angle_weights(places) @ ANGLES**power, places**power, atol=1e-14)
        slope = power * places ** max(power - 1, 0)
        np.testing.assert_allclose(angle_rates(places) @ ANGLES**power, slope, atol=1e-13)
    assert angle_weights(0.1).shape == (5,)


def smooth(a: Any, b: Any) -> Any:
    return 1.0 + a - 2.0 * a**3 + (0.5 - a**2) * b


def table(*, beside: bool = True) -> AngledTable:
    """Two numbers by angle: that above, and three times it."""
    both = np.array([1.0, 3.0])
    aside = (0.5 - ANGLES**2)[:, None] * both
    return AngledTable(smooth(ANGLES, 0.0)[:, None] * both, (lambda: aside) if beside else None)


@pytest.mark.parametrize("shape", [(), (3,), (2, 2)])
def test_tables_over_the_wakes_angle(shape: tuple[int, ...]) -> None:
    alpha, beta = RANDOM.uniform(-0.5, 0.5, shape), RANDOM.uniform(-0.5, 0.5, shape)
    found = table().at(alpha, beta)
    assert found.shape == (*shape, 2)
    wanted = smooth(held_angle(alpha), held_angle(beta))
    np.testing.assert_allclose(found[..., 0], wanted, rtol=1e-11)
    np.testing.assert_allclose(found[..., 1], 3.0 * wanted, rtol=1e-11)
    rates, step = table().rates(alpha, beta), 1e-6
    ahead = (table().at(alpha + step, beta) - table().at(alpha - step, beta)) / (2.0 * step)
    aside = (table().at(alpha, beta + step) - table().at(alpha, beta - step)) / (2.0 * step)
    np.testing.assert_allclose(rates["alpha"], ahead, atol=1e-8)
    np.testing.assert_allclose(rates["beta"], aside, atol=1e-8)
    doubled = table().mapped(lambda nodes: 2.0 * nodes)
    np.testing.assert_allclose(doubled.at(alpha, beta), 2.0 * found)


def test_tables_without_what_sideslip_changes_or_without_any_turn() -> None:
    plain = table(beside=False)
    np.testing.assert_allclose(plain.at(0.1, 0.2), smooth(0.1, 0.0) * np.array([1.0, 3.0]))
    assert not np.any(plain.rates(0.1, 0.2)["beta"])
    np.testing.assert_allclose(plain.rates(0.1, 0.2)["alpha"], plain.rates(0.1)["alpha"])
    np.testing.assert_allclose(plain.mapped(lambda nodes: nodes + 1.0).at(0.0), [2.0, 4.0])
    assert plain.aside is None
    fixed = AngledTable(np.array([[5.0, 6.0]]))
    assert (fixed.turns, plain.turns, fixed.at(0.3, 0.4).tolist()) == (False, True, [5.0, 6.0])
    assert dict(fixed.rates(0.1, 0.1)) == {}
    slopes = np.degrees(held_rate(0.1))
    assert slopes == pytest.approx(180.0 / np.pi)


def test_what_is_asked_for_is_worked_out_then() -> None:
    calls: list[str] = []

    def way(name: str) -> Any:
        return lambda: calls.append(name) or np.zeros(1)

    found = WhenAsked({"a": way("a"), "b": way("b")})
    assert (len(found), list(found), calls) == (2, ["a", "b"], [])
    assert found["b"].tolist() == [0.0]
    assert calls == ["b"]


GRID = "far from contact"


def places(
    *touching: float, joints: tuple[float, ...] = (), failing: tuple[float, ...] = ()
) -> Any:
    """Lattices of folds: crowded strips near the first, a joint at others, none at the last."""

    def place(folds: FoldAngles) -> Any:
        fold = folds.left_deg
        assert folds.right_deg == fold
        if any(abs(fold - one) < 1e-9 for one in failing):
            raise InputRefused("surfaces cross")
        near = any(abs(fold - one) < 1e-9 for one in touching)
        met = any(abs(fold - one) < 1e-9 for one in joints)
        return SimpleNamespace(joints=("joint",) if met else (), grid="crowded" if near else GRID)

    return place


@pytest.mark.parametrize(
    ("place", "limits", "free"),
    [
        (places(), (-90.0, 30.0), (-90.0, 30.0)),
        # Looked at every 2 degrees; 10 degrees are kept to what touches.
        (places(-90.0), (-90.0, 30.0), (-80.0, 30.0)),
        (places(joints=(-50.0,)), (-90.0, 30.0), (-40.0, 30.0)),
        (places(failing=(20.0,)), (-90.0, 30.0), (-90.0, 10.0)),
        (places(-90.0, -40.0), (-90.0, 0.0), None),
        (places(-40.0), (-90.0, 8.0), (-90.0, -50.0)),
        # A stretch of 40 degrees is wide enough, one below is not.
        (places(), (-20.0, 20.0), (-20.0, 20.0)),
        (places(), (-19.0, 20.0), None),
    ],
)
def test_the_stretch_of_folds_far_from_contact(place: Any, limits: Any, free: Any) -> None:
    found = _free_stretch(place, GRID, *limits)  # type: ignore[arg-type]
    assert found == (None if free is None else pytest.approx(free))


def test_a_fold_touches_where_it_joins_crowds_or_cannot_be() -> None:
    place = places(1.0, joints=(2.0,), failing=(3.0,))
    assert [_touches(place, GRID, fold) for fold in (0.0, 1.0, 2.0, 3.0)] == [  # type: ignore[arg-type]
        False, True, True, True,
    ]  # fmt: skip

    def fails(_: FoldAngles) -> Any:
        raise ComputationFailed("singular")

    assert _touches(fails, GRID, 0.0)  # type: ignore[arg-type]


def chart(limits: tuple[float, float], **keys: Any) -> LoadsChart:
    def solve(*_: Any) -> Any:
        raise ComputationFailed("singular")

    plain: dict[str, Any] = {"pairs": False, "sideslip": False}
    return LoadsChart(solve, places(), GRID, limits, **plain | keys)  # type: ignore[arg-type]


def test_a_chart_of_a_roll_command_is_shorter_by_it() -> None:
    """60 degrees less 20 are the 40 that are worth a chart; less 21 they are not."""
    assert chart((-30.0, 30.0)).free_deg == (-30.0, 30.0)
    assert chart((-30.0, 30.0), apart_deg=-20.0).free_deg == (-30.0, 30.0)
    assert chart((-30.0, 30.0), apart_deg=21.0).free_deg is None


def test_what_is_not_on_a_chart_is_not_read() -> None:
    """Unlike folds on a chart of like ones, folds beyond it, and all where a solve fails."""
    like = chart((-30.0, 30.0), apart_deg=5.0)
    assert like._are_apart(FoldAngles(-5.0, 0.0))
    assert not like._are_apart(FoldAngles(0.0, -5.0))
    for folds in (FoldAngles(0.0, 0.0), FoldAngles(-31.0, -26.0), FoldAngles(0.0, 5.0)):
        assert like.read(folds) is None
    assert chart((-30.0, 30.0), pairs=True).read(FoldAngles(3.0, -20.0)) is None
    assert chart((-10.0, 20.0)).read(FoldAngles(0.0, 0.0)) is None


def test_sizes_of_a_chart_are_the_largest_at_its_points(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where like folds leave no lateral loads, the lift's size stands for theirs."""
    names = ("CL", "CDi", "CY", "Cl", "Cm", "Cn")

    def fake(one: Any, state: Any) -> Any:
        np.testing.assert_allclose(np.degrees(state.alpha), [-2.0, 4.0, 10.0])
        return {name: np.array([0.1, 0.2, 0.3]) * one * (k < 2 or k == 4)
                for k, name in enumerate(names)}  # fmt: skip

    monkeypatch.setattr("vlm.loads.loads_chart.natural_sizes", fake)
    found = _sizes([1.0, 4.0, 2.0])  # type: ignore[list-item]
    assert found == pytest.approx(dict.fromkeys(names, 1.2))


def test_vortices_in_the_plane_behind() -> None:
    """v = 1 / (2 pi h) about each, across the way to it (any textbook); whatever lies along the
    wake does not count, and a station on a vortex has nothing of it."""
    direction = np.array([0.8, 0.0, 0.6])
    edges = np.array([[0.0, 0.0, 0.0], [0.4, 2.0, 0.3]])
    stations = np.array([[0.0, 1.0, 0.0], [4.0, 2.0, 3.0]])
    found = _plane_velocities(stations, edges, direction)
    up = np.cross(direction, [0.0, 1.0, 0.0])
    np.testing.assert_allclose(found[0, 0], up / (2.0 * np.pi), atol=1e-15)
    np.testing.assert_allclose(found[0, 1], -up / (2.0 * np.pi), atol=1e-15)
    np.testing.assert_allclose(found[1, 0], up / (4.0 * np.pi), atol=1e-15)
    np.testing.assert_allclose(found[1, 1], 0.0, atol=1e-15)


def test_drag_by_patch_and_the_best_efficiency() -> None:
    """sum Gamma_j K_jk Gamma_k over the strips of each patch; e = 2 b . K^-1 b / (pi span^2)."""
    random = np.random.default_rng(4)
    matrix = random.normal(size=(3, 3)) + 3.0 * np.eye(3)
    across = np.array([[0.0, -0.1, 0.5], [0.0, 0.0, 0.4], [0.0, 0.2, 0.3]])
    strips = random.normal(size=(3, 2))
    for loop in (False, True):
        trace = WakeTrace(matrix, across, np.array([0, 1, 1]), loop)
        found = drag_tables(SimpleNamespace(patches=[0, 1]), trace, strips)  # type: ignore[arg-type]
        for a in range(2):
            for b in range(2):
                each = [strips[j, a] * (matrix[j] @ strips[:, b]) for j in range(3)]
                np.testing.assert_allclose(found[:, a, b], [each[0], each[1] + each[2]])
        share = across[:, 2]
        best = 2.0 * share @ np.linalg.inv(matrix) @ share / (np.pi * 1.3**2)
        assert trace.best_efficiency(1.3) == pytest.approx(best)
    # A loop whose constant circulation does nothing: the solution of least norm.
    free = np.array([[1.0, -1.0, 0.0], [-1.0, 2.0, -1.0], [0.0, -1.0, 1.0]])
    share = np.array([0.5, 0.0, -0.5])
    looped = WakeTrace(
        free, np.stack([0 * share, 0 * share, share], axis=1), np.zeros(3, int), True
    )
    best = 2.0 * share @ np.linalg.pinv(free) @ share / np.pi
    assert looped.best_efficiency(1.0) == pytest.approx(best)
