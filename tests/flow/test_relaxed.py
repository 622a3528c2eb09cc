"""The wake that follows the flow: its smoothed velocities, its displacement, its iteration.

Outside: a smoothed segment and leg by numerical integration of the smoothed law of Biot and Savart;
the sheet behind an elliptic load sinks as a board with 2 CL / (pi A) of the airspeed (Prandtl 1918,
Munk 1921).
"""

from functools import cache
from itertools import pairwise

import numpy as np
import pytest
from scipy.integrate import quad_vec

from vlm.description.folds import FoldAngles
from vlm.description.loading import load_biplane
from vlm.flow.direction import wake_direction
from vlm.flow.kernel_smooth import smoothed_sum
from vlm.flow.relaxed import ChainSizes, Relaxed, relaxed_flows
from vlm.flow.solve import unit_flows
from vlm.lattice.cellule import Grid
from vlm.lattice.lattice import Lattice, build_lattice
from vlm.loads.state import FlightState

GRID = Grid(rows=4, strips=12)


def solved(
    name: str, left: float, right: float, alpha_deg: float, beta_deg: float, **sizes: float
) -> tuple[Lattice, Relaxed, np.ndarray]:
    return _solved(name, left, right, alpha_deg, beta_deg, tuple(sorted(sizes.items())))


@cache
def _solved(name, left, right, alpha_deg, beta_deg, sizes):
    lattice = build_lattice(load_biplane(name), FoldAngles(left, right), GRID)
    state = FlightState(alpha=np.radians(alpha_deg), beta=np.radians(beta_deg))
    amounts = state.amounts(lattice.reference, 6 + len(lattice.bodies))
    direction = wake_direction(state.alpha, state.beta)
    return (
        lattice,
        relaxed_flows(lattice, direction, amounts, sizes=ChainSizes(**dict(sizes))),
        (amounts),
    )


def smoothed(point, along, core: float) -> np.ndarray:
    """(1/4 pi) int dl x r / (r^2 + core^2)^(3/2) over places given by ``along``."""
    place, tangent, low, high = along

    def density(t: float) -> np.ndarray:
        r = point - place(t)
        return np.cross(tangent(t), r) / (r @ r + core**2) ** 1.5

    return quad_vec(density, low, high, epsabs=1e-12)[0] / (4.0 * np.pi)


@pytest.mark.parametrize("core", [0.05, 0.7])
def test_smoothed_segments_and_legs_against_quadrature(core: float) -> None:
    nodes = np.array([[[0.1, 0.0, 0.2], [0.3, 1.0, 0.1]], [[1.4, 0.1, 0.0], [1.2, 0.9, 0.3]]])
    direction = np.array([np.cos(0.2), 0.0, np.sin(0.2)])
    point = np.array([[0.8, 0.3, 0.25]])
    bound = np.array([1.3, 0.0, -0.4, 0.0])
    legs = np.array([0.7, -0.9, 0.5, 0.2])
    flat = np.ascontiguousarray(nodes.reshape(-1, 3).T)
    found = np.zeros((1, 3))
    smoothed_sum(point, flat, 2, direction, core, bound, legs, found)

    def straight(a: np.ndarray, b: np.ndarray):
        return (lambda t: a + t * (b - a)), (lambda t: b - a), 0.0, 1.0

    def onward(a: np.ndarray):
        # t from 0 to 1 reaches infinity.
        return (
            lambda t: a + direction * t / (1.0 - t),
            lambda t: direction / (1.0 - t) ** 2,
            0.0,
            1.0 - 1e-9,
        )

    a, b, c, d = nodes.reshape(-1, 3)
    parts = [(1.3, straight(a, b)), (-0.4, straight(c, d)), (0.7, straight(a, c)),
             (-0.9, straight(b, d)), (0.5, onward(c)), (0.2, onward(d))]  # fmt: skip
    wanted = sum(strength * smoothed(point[0], along, core) for strength, along in parts)
    np.testing.assert_allclose(found[0], wanted, rtol=1e-7, atol=1e-10)


def test_the_sheet_behind_an_elliptic_load_sinks_as_a_board() -> None:
    """Prandtl's 2 CL / (pi A), well behind the wing and before the ends curl up far."""
    lattice, found, amounts = solved("ellipse", 0.0, 0.0, 0.2, 0.0, core=0.002, length=3.0)
    wake = found.flows.wake
    reference = lattice.reference
    strips = found.flows.circulation[lattice.trailing_panels()] @ amounts
    widths = np.concatenate([patch.width for patch in lattice.patches])
    lift = 2.0 * float(strips @ widths) / reference.area
    wanted = 2.0 * lift / (np.pi * reference.aspect_ratio)
    edge = next(i for i, patch in enumerate(lattice.patches) if patch.side == "right")
    inner = np.abs(lattice.patches[edge].nodes[-1][:, 1]) < 0.3 * reference.span
    xi, moved = wake.shape.lengths[edge][:, inner], wake.moved[edge][:, inner, 2]
    slopes = np.diff(moved, axis=0) / np.diff(xi, axis=0)
    behind = (xi[1:, 0] > 0.8 * reference.span) & (xi[1:, 0] < 1.5 * reference.span)
    assert behind.sum() >= 2
    np.testing.assert_allclose(-slopes[behind], wanted, rtol=0.035)


def test_it_settles_and_stands_where_the_flow_leaves_it() -> None:
    _, found, _ = solved("tideline", -20.0, 20.0, 8.0, 5.0)
    assert found.converged
    assert found.changes[-1] < 5e-5
    assert all(later < 0.6 * sooner for sooner, later in pairwise(found.changes))


def test_a_wake_that_has_no_time_to_settle_says_so() -> None:
    _, found, _ = solved("tideline", -20.0, 20.0, 8.0, 5.0, most=1)
    assert not found.converged
    assert len(found.changes) == 1


def test_without_load_it_stays_straight() -> None:
    """The plank is flat: no lift at zero angle of attack, and nothing that moves the wake."""
    lattice, found, _ = solved("plank", 0.0, 0.0, 0.0, 0.0)
    assert max(float(np.abs(moved).max()) for moved in found.flows.wake.moved) < 1e-12
    straight = unit_flows(lattice, direction=wake_direction(0.0, 0.0))
    scale = np.abs(straight.circulation).max()
    np.testing.assert_allclose(found.flows.circulation, straight.circulation, atol=1e-9 * scale)


def test_mirrored_settings_have_mirrored_wakes() -> None:
    _, one, _ = solved("tideline", -20.0, 30.0, 6.0, 4.0)
    _, other, _ = solved("tideline", 30.0, -20.0, 6.0, -4.0)
    half = len(one.flows.wake.moved) // 2
    for index in range(half):
        here, there = one.flows.wake.moved[index], other.flows.wake.moved[half + index]
        np.testing.assert_allclose(here, there * np.array([1.0, -1.0, 1.0]), atol=1e-9)


@pytest.mark.parametrize(
    "finer", [{"core": 0.01}, {"core": 0.04}, {"length": 3.0, "nodes": 24}, {"nodes": 32}]
)
def test_circulations_hardly_depend_on_how_the_wake_is_made(finer: dict[str, float]) -> None:
    """Against what relaxing changes: cores by under a fourth, the rest by under a fiftieth."""
    lattice, found, amounts = solved("tideline", -20.0, 20.0, 12.0, 5.0)
    _, other, _ = solved("tideline", -20.0, 20.0, 12.0, 5.0, **finer)
    straight = unit_flows(lattice, direction=wake_direction(np.radians(12.0), np.radians(5.0)))
    here, there, plain = (f.circulation @ amounts for f in (found.flows, other.flows, straight))
    share = 0.25 if "core" in finer else 0.02
    assert np.abs(here - there).max() < share * np.abs(here - plain).max()
