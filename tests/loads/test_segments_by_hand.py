"""Segments of patches: strengths, wrenches and what strips get of them, on lattices of two rings.

The law of Kutta and Joukowski, F = rho Gamma V x l (any textbook), and moments r x F, by numpy's
own cross product; strengths of segments as differences of the rings beside them, counted by hand.
"""

from types import SimpleNamespace

import numpy as np
import pytest

from vlm.lattice.edges import INNER, OUTER
from vlm.loads.segment_forces import PatchForces, _angles
from vlm.loads.segments import (
    Change,
    Segments,
    crossed,
    surface_segments,
    surface_strengths,
    wrench_density,
    wrench_table,
    wrench_tables,
)

RANDOM = np.random.default_rng(11)


def test_crossed_and_wrenches_against_numpy() -> None:
    velocity, vectors, arms = (RANDOM.normal(size=s) for s in ((4, 3, 2), (4, 3), (4, 3)))
    force = np.stack([np.cross(velocity[:, :, k], vectors) for k in range(2)], axis=2)
    np.testing.assert_allclose(crossed(velocity, vectors), force, rtol=1e-13, atol=1e-15)
    moment = np.stack([np.cross(arms, force[:, :, k]) for k in range(2)], axis=2)
    density = wrench_density(velocity, vectors, arms)
    np.testing.assert_allclose(density, np.concatenate([force, moment], axis=1), atol=1e-14)
    strength = RANDOM.normal(size=(4, 3))
    table = wrench_table(strength, density)
    assert table.shape == (3, 2, 6)
    for a, b in np.ndindex(3, 2):
        wanted = sum(strength[s, a] * density[s, :, b] for s in range(4))
        np.testing.assert_allclose(table[a, b], wanted, atol=1e-13)


@pytest.mark.parametrize("moves", [True, False])
def test_rates_of_a_wrench_table_are_those_of_differences(moves: bool) -> None:
    strength, velocity = RANDOM.normal(size=(4, 3)), RANDOM.normal(size=(4, 3, 3))
    points, vectors, basis = (RANDOM.normal(size=s) for s in ((4, 3), (4, 3), (3, 2)))
    rates = [RANDOM.normal(size=s) for s in ((4, 2), (4, 3, 2), (4, 3), (4, 3))]
    origin = np.array([0.3, -0.1, 0.2])

    def at(step: float) -> np.ndarray:
        own = strength @ basis + step * rates[0]
        flow = velocity @ basis + step * rates[1]
        place, line = (points + step * rates[2], vectors + step * rates[3]) if moves else (
            points, vectors
        )  # fmt: skip
        return wrench_table(own, wrench_density(flow, line, place - origin))

    change = Change(rates[0], rates[1], *(rates[2:] if moves else (None, None)))
    table, found = wrench_tables(
        strength, velocity, Segments(points, vectors), points - origin, [change], basis
    )
    np.testing.assert_allclose(
        table, wrench_table(strength, wrench_density(velocity, vectors, points - origin))
    )
    np.testing.assert_allclose(found[0], (at(1e-4) - at(-1e-4)) / 2e-4, rtol=1e-6, atol=1e-7)
    assert wrench_tables(strength, velocity, Segments(points, vectors), points, [], basis)[1] == []


def patch(sense: float, strips: int = 1) -> SimpleNamespace:
    return SimpleNamespace(rows=2, strips=strips, sense=sense)


def test_strengths_of_segments_are_differences_of_the_rings_beside_them() -> None:
    """Two patches of two rows: rings 1, 2 | 3, 5 to starboard beside 10, 20 to starboard.

    Bound: each ring less that before it. Chordwise, in the sense of the strips: less the ring
    outboard, plus the one inboard; on the shared line half of both patches' segments together."""
    one, two = patch(1.0, 2), patch(1.0)
    lattice = SimpleNamespace(
        patches=[one, two],
        panels_of=lambda i: slice(0, 4) if i == 0 else slice(4, 6),
        shared_edges=[
            SimpleNamespace(one=0, one_end=OUTER, two=1, two_end=INNER),
            SimpleNamespace(one=1, one_end=INNER, two=0, two_end=OUTER),
        ],
    )
    rings = np.array([[1.0], [2.0], [3.0], [5.0], [10.0], [20.0]])
    first, second = surface_strengths(lattice, rings)  # type: ignore[arg-type]
    assert first[:4, 0].tolist() == [1.0, 2.0, 2.0, 3.0]
    assert second[:2, 0].tolist() == [10.0, 10.0]
    # Row 1: -1, 1 - 2, (2 - 10) / 2; row 2: -3, 3 - 5, (5 - 20) / 2.
    assert first[4:, 0].tolist() == [-1.0, -1.0, -4.0, -3.0, -2.0, -7.5]
    assert second[2:, 0].tolist() == [-4.0, 10.0, -7.5, 20.0]


def test_a_patch_to_port_beside_one_to_starboard() -> None:
    """Strips of both begin at the centreline: equal rings leave no vortex there."""
    starboard, port = patch(1.0), patch(-1.0)
    lattice = SimpleNamespace(
        patches=[starboard, port],
        panels_of=lambda i: slice(2 * i, 2 * i + 2),
        shared_edges=[
            SimpleNamespace(one=0, one_end=INNER, two=1, two_end=INNER),
            SimpleNamespace(one=1, one_end=INNER, two=0, two_end=INNER),
        ],
    )
    alike = surface_strengths(lattice, np.array([[4.0], [6.0], [4.0], [6.0]]))  # type: ignore[arg-type]
    for found in alike:
        assert found[2:, 0].tolist() == [0.0, 4.0, 0.0, 6.0]
    apart = surface_strengths(lattice, np.array([[4.0], [6.0], [1.0], [8.0]]))  # type: ignore[arg-type]
    # To starboard -4 and +1 in half, -6 and +8 in half; a port patch's own sense turns its sign.
    assert apart[0][2:, 0].tolist() == [-1.5, 4.0, 1.0, 6.0]
    assert apart[1][2:, 0].tolist() == [1.5, 1.0, -1.0, 8.0]


@pytest.mark.parametrize("sense", [1.0, -1.0])
def test_vectors_of_segments_run_with_the_sense_of_the_patch(sense: float) -> None:
    nodes = RANDOM.normal(size=(3, 2, 3))
    one = SimpleNamespace(
        nodes=nodes,
        sense=sense,
        bound_points=lambda: nodes[:2, :1],
        chordwise_points=lambda: nodes[1:],
    )
    found = surface_segments(one)  # type: ignore[arg-type]
    wanted = [nodes[0, 1] - nodes[0, 0], nodes[1, 1] - nodes[1, 0]]
    wanted += [nodes[k + 1, e] - nodes[k, e] for k in range(2) for e in range(2)]
    np.testing.assert_allclose(found.vectors, sense * np.array(wanted))
    np.testing.assert_array_equal(found.points[:2], nodes[:2, 0])
    np.testing.assert_array_equal(found.points[2:], nodes[1:].reshape(-1, 3))


def test_chordwise_segments_belong_half_to_either_strip() -> None:
    """Forces 1, 2 | 4, 8 on bound segments, 10, 20, 30 | 100, 200, 300 on chordwise ones: the first
    strip has 1 + 4 + 110 + 220 / 2, the last 2 + 8 + 330 + 220 / 2."""
    sizes = np.array([1.0, 2, 4, 8, 10, 20, 30, 100, 200, 300])
    points = RANDOM.normal(size=(10, 3))
    forces = sizes[:, None] * np.array([0.0, 0.0, 1.0])
    force, moment = PatchForces(patch(1.0, 2), points, forces).shared_to_strips()  # type: ignore[arg-type]
    np.testing.assert_allclose(force[:, 2], [225.0, 450.0])
    each = np.cross(points, forces)
    wanted = [each[[0, 2, 4, 7]].sum(axis=0) + 0.5 * each[[5, 8]].sum(axis=0),
              each[[1, 3, 6, 9]].sum(axis=0) + 0.5 * each[[5, 8]].sum(axis=0)]  # fmt: skip
    np.testing.assert_allclose(moment, wanted)


def test_angles_of_a_stream() -> None:
    """The wind of alpha and beta is V (cos a cos b, -sin b, sin a cos b): the conventions."""
    alpha, beta, speed = 0.3, -0.2, 7.0
    wind = speed * np.array(
        [np.cos(alpha) * np.cos(beta), -np.sin(beta), np.sin(alpha) * np.cos(beta)]
    )
    assert _angles(np.array([*wind, 1.0, 2.0])) == pytest.approx((alpha, beta))
    assert _angles(np.array([0.0, 0.0, 0.0, 1.0])) == (0.0, 0.0)
