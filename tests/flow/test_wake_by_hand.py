"""Parts of the wake and of the matrix, with made-up edges and circulations, by hand.

Integrals by scipy's quadrature (principal values by its weight "cauchy"), sums by loops; the wake's
equations (17) to (19) as their docstring states them.
"""

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from scipy.integrate import quad

from vlm.errors import ComputationFailed
from vlm.flow.influence import WakeColumns, half_wakes, whole_wake
from vlm.flow.memory import MATRIX_SHARE, largest_lattice, refuse_too_large, solve_bytes
from vlm.flow.motions import Motion
from vlm.flow.plane_sheets import hold_sums, hold_symmetric, without_sums
from vlm.flow.relaxed import ChainedShape, ChainSizes, _segment_strengths
from vlm.flow.solve import factorised, mirror_parities
from vlm.flow.wake import _leaving, bent_lines
from vlm.flow.wake_shape import (
    MEANS,
    STATIONS,
    WakeShape,
    _cauchy,
    _distance_to_end,
    _end_kinds,
    _end_runs,
    _shape_integral,
    _slant,
    _slopes,
    bend,
)
from vlm.lattice.edges import INNER, OUTER

RANDOM = np.random.default_rng(6)


def test_the_bend_begins_and_ends_without_a_corner() -> None:
    """chi = 1 at the edge and 0 where it ends, level at both; its moments by quadrature."""
    assert (bend(0.0), bend(1.0)) == (1.0, 0.0)
    step = 1e-6
    for place in (0.0, 1.0):
        assert abs(bend(place + step) - bend(place - step)) / (2.0 * step) < 1e-5
    for u in (0.2, 0.75, 1.0):
        assert _shape_integral(np.array(u)) == pytest.approx(quad(lambda x: x * bend(x), 0, u)[0])
    np.testing.assert_allclose(STATIONS, [0.0, 0.25, 0.5, 0.75, 1.0])
    for mean, low in zip(MEANS, STATIONS, strict=False):
        assert mean == pytest.approx(4.0 * quad(lambda x: x * bend(x), low, low + 0.25)[0])


@pytest.mark.parametrize("place", [-1.7, -0.3, 0.2, 0.8, 1.4])
def test_principal_values_along_the_bend(place: float) -> None:
    def slope(u: float) -> float:
        return 1.0 - 9.0 * u**2 + 8.0 * u**3

    if 0.0 < place < 1.0:
        wanted = quad(slope, 0.0, 1.0, weight="cauchy", wvar=place)[0]
    else:
        wanted = quad(lambda u: slope(u) / (u - place), 0.0, 1.0)[0]
    assert _cauchy(np.array([place]))[0] == pytest.approx(wanted, rel=1e-9)
    # At the end of the bend, where the polynomial vanishes with the logarithm's factor.
    at_end = quad(lambda u: slope(u) / (u - 1.0), 0.0, 1.0)[0]
    assert _cauchy(np.array([1.0]))[0] == pytest.approx(at_end, rel=1e-9)


def test_the_slant_is_an_integral_of_steps() -> None:
    ahead = np.array([0.3, 1.2])
    steps = np.diff(STATIONS * bend(STATIONS)) / 0.25
    for value, found in zip(ahead, _slant(ahead), strict=True):
        wanted = sum(
            step * quad(lambda u, a=value: 1.0 / (u + a), low, low + 0.25)[0]
            for step, low in zip(steps, STATIONS, strict=False)
        )
        assert found == pytest.approx(wanted)


def test_lines_leave_the_edge_along_the_chord_turned_into_the_wake() -> None:
    """d is proportional to e + m t; a chord square to the edge, and one at 70 degrees to it. Lines
    end on those along d, the way xi behind; near the edge they run along e."""
    tangents = np.array([[0.0, 1.0, 0.0], [0.0, 0.6, 0.8]])
    turn = np.radians(70.0)
    chords = np.array([[1.0, 0.0, 0.0], np.cos(turn) * tangents[1] + [np.sin(turn), 0.0, 0.0]])
    direction = np.array([0.9, -0.3, 0.2])
    direction /= np.linalg.norm(direction)
    leaving, skew = _leaving(tangents, chords, direction)
    np.testing.assert_allclose(np.linalg.norm(leaving, axis=1), 1.0)
    kept = np.sum(leaving * tangents, axis=1)
    np.testing.assert_allclose(kept, np.sum(chords * tangents, axis=1))  # the edge's angle stays
    whole = leaving + skew[:, None] * tangents
    np.testing.assert_allclose(np.cross(whole, direction), 0.0, atol=1e-14)
    start, reach = RANDOM.normal(size=(2, 3)), np.array([0.4, 0.0])
    lines = bent_lines(start, tangents, chords, reach, direction)
    assert lines.shape == (4, 2, 3)
    for row, u in enumerate(STATIONS[1:]):
        xi = 0.4 * u
        aside = skew[0] * (xi - xi * bend(u))
        wanted = start[0] + xi * leaving[0] + aside * tangents[0]
        np.testing.assert_allclose(lines[row, 0], wanted, rtol=1e-12)
    np.testing.assert_allclose(lines[:, 1], np.tile(start[1], (4, 1)))
    np.testing.assert_allclose(lines[-1, 0], start[0] + 0.4 * whole[0], rtol=1e-12)


def test_strengths_of_the_wakes_rings() -> None:
    """Gamma + slope times the mean of xi chi over each ring; patches of 2 strips and of 1."""
    shape = WakeShape.__new__(WakeShape)
    shape.edges = [SimpleNamespace(station_reach=np.array(r)) for r in ([0.2, 0.3], [0.5])]  # type: ignore[misc]
    strips, slope = RANDOM.normal(size=(3, 2)), RANDOM.normal(size=(3, 2))
    found = shape.ring_strengths(strips, slope)
    reach = [0.2, 0.3, 0.5]
    for own, rings in zip(([0, 1], [2]), found, strict=True):
        wanted = [strips[j] + MEANS[r] * reach[j] * slope[j] for r in range(4) for j in own]
        np.testing.assert_allclose(rings, wanted)
    places = np.array([0.0, 0.3, 0.9, 1.0])
    np.testing.assert_allclose(_distance_to_end(places, 1.0, True), [0.0, 0.3, 0.1, 0.0])
    np.testing.assert_allclose(_distance_to_end(places, 1.0, False), [1.0, 0.7, 0.1, 0.0])


def edge_of(places: list[float], station: float = 0.5) -> Any:
    """A patch whose strips end at given places along y."""
    nodes = np.zeros((2, len(places), 3))
    nodes[..., 1] = places
    return SimpleNamespace(
        strips=len(places) - 1, nodes=nodes, station=np.full(len(places) - 1, station)
    )


def test_slopes_along_edges_at_inner_strips_and_at_every_kind_of_end() -> None:
    """Strips of 0.2, 0.3, 0.4 with stations at 0.1, 0.35, 0.7: between, values two apart over
    their distance; at a free end the root's rule (the value twice more, of the other sign), at a
    joined one the nearest two, across an unbroken centre the image's."""
    lattice: Any = SimpleNamespace(
        patches=[edge_of([0.0, 0.2, 0.5, 0.9]), edge_of([0.0, 0.2, 0.5, 0.9])]
    )
    free = _slopes(lattice, {})
    np.testing.assert_allclose(free[0, :3], np.array([1.0, 1.0, 0.0]) / 0.25)
    np.testing.assert_allclose(free[1, :3], np.array([-1.0, 0.0, 1.0]) / 0.6)
    np.testing.assert_allclose(free[2, :3], np.array([0.0, -1.0, -1.0]) / 0.35)
    joined = _slopes(lattice, {(0, INNER): None, (0, OUTER): None, (1, INNER): 0})
    np.testing.assert_allclose(joined[0, :3], np.array([-1.0, 1.0, 0.0]) / 0.25)
    np.testing.assert_allclose(joined[2, :3], np.array([0.0, -1.0, 1.0]) / 0.35)
    # Over the centre: the image's first station lies at -0.1.
    np.testing.assert_allclose(joined[3], np.array([-1.0, 0.0, 0.0, 0.0, 1.0, 0.0]) / 0.45)
    np.testing.assert_allclose(free[:3, 3:], 0.0)


def test_wakes_of_both_halves_are_those_of_the_whole() -> None:
    """Starboard rows of the whole influence on circulations that are alike, and opposite."""
    panels, strips = 3, 2
    matrices = [RANDOM.normal(size=(strips, strips)) for _ in range(2)]
    amplitudes = np.block([[matrices[0], matrices[1]], [matrices[1], matrices[0]]])
    wake: Any = SimpleNamespace(
        amplitudes=amplitudes, correction_columns=RANDOM.normal(size=(2 * panels, 2 * strips))
    )
    both, own, other = (WakeColumns(panels, n) for n in (2 * strips, strips, strips))
    for name in ("plain", "shaped"):
        first, second = RANDOM.normal(size=(panels, strips)), RANDOM.normal(size=(panels, strips))
        setattr(own, name, first)
        setattr(other, name, second)
        setattr(both, name, np.concatenate([first, second], axis=1))
    top: Any = SimpleNamespace(
        amplitudes=amplitudes, correction_columns=wake.correction_columns[:panels]
    )
    whole = whole_wake(top, both)
    even, odd = half_wakes(wake, own, other)
    np.testing.assert_allclose(even, whole[:, :strips] + whole[:, strips:])
    np.testing.assert_allclose(odd, whole[:, :strips] - whole[:, strips:])


def test_columns_of_the_wake_add_up_its_rows() -> None:
    columns = WakeColumns(2, 3)
    columns.plain[:] = columns.shaped[:] = 0.0
    rings = np.arange(8.0).reshape(2, 4)
    columns.take(1, rings, np.array([[1.0, 10.0], [100.0, 1000.0]]))
    assert columns.plain.tolist() == [[0.0, 2.0, 4.0], [0.0, 10.0, 12.0]]
    assert columns.shaped.tolist() == [[0.0, 200.0, 3010.0], [0.0, 604.0, 7050.0]]


def test_both_copies_of_a_keel_are_held_together() -> None:
    """Panels 1 and 2 of four stand in the plane, as 5 and 6 of eight."""
    lattice: Any = SimpleNamespace(plane_panels=np.array([1, 2]), panels=8)
    matrix = RANDOM.normal(size=(8, 8))
    matrix[2, 2] = -9.0
    held = matrix.copy()
    hold_sums(held, lattice)
    wanted = matrix.copy()
    for one in (1, 2):
        for row in (one, one + 4):
            for column in (one, one + 4):
                wanted[row, column] += 9.0
    np.testing.assert_allclose(held, wanted)
    right = RANDOM.normal(size=(8, 2))
    taken = without_sums(right, lattice)
    np.testing.assert_allclose(taken[[0, 3, 4, 7]], right[[0, 3, 4, 7]])
    np.testing.assert_allclose(taken[[1, 2]], 0.5 * (right[[1, 2]] - right[[5, 6]]))
    np.testing.assert_allclose(taken[[5, 6]], -taken[[1, 2]])
    half = matrix[:4, :4].copy()
    half[0, 0], half[3, 3] = 2.0, -3.0
    symmetric = half.copy()
    hold_symmetric(symmetric, np.array([1, 2]))
    np.testing.assert_allclose(symmetric[np.ix_([0, 3], [0, 3])], half[np.ix_([0, 3], [0, 3])])
    np.testing.assert_allclose(symmetric[[1, 2]], 3.0 * np.eye(4)[[1, 2]])
    np.testing.assert_allclose(symmetric[:, [1, 2]], 3.0 * np.eye(4)[:, [1, 2]])


def test_strengths_of_the_segments_of_a_grid() -> None:
    """Rings 1, 2 | 3, 5: bound ones less the row ahead, those at the end open; chordwise ones less
    the ring outboard, the legs as the last row; a port patch turns them all."""
    bound, legs = _segment_strengths(np.array([1.0, 2.0, 3.0, 5.0]), 2, -1.0)
    assert (-bound).tolist() == [1.0, 2.0, 0.0, 2.0, 3.0, 0.0, 0.0, 0.0, 0.0]
    assert (-legs).tolist() == [-1.0, -1.0, 2.0, -3.0, -2.0, 5.0, -3.0, -2.0, 5.0]


def test_a_chains_steps_grow_evenly_to_its_length() -> None:
    """First 0.15 chords; 16 steps in all 1.5 spans long; each longer than the last by one ratio."""
    shape: Any = SimpleNamespace(
        sizes=ChainSizes(),
        lattice=SimpleNamespace(reference=SimpleNamespace(chord=0.2, span=1.2)),
    )
    steps = np.diff(ChainedShape.steps.func(shape), prepend=0.0)  # type: ignore[attr-defined]
    assert (len(steps), steps[0], steps.sum()) == pytest.approx((16, 0.03, 1.8))
    np.testing.assert_allclose(steps[1:] / steps[:-1], steps[1] / steps[0])


def test_what_a_motion_moves_and_what_it_leaves() -> None:
    axis, point = np.array([0.0, 0.6, 0.8]), np.array([0.1, 0.5, 0.0])
    hinges: Any = {"upper_left": SimpleNamespace(point=point, axis=axis)}
    motion = Motion({"upper_left": 2.0 * axis}, hinges)
    places = RANDOM.normal(size=(3, 3))
    moved = motion.displacement("upper_left", places)
    np.testing.assert_allclose(moved, np.cross(2.0 * axis, places - point), atol=1e-15)
    turned = motion.turned("upper_left", places)
    np.testing.assert_allclose(turned, np.cross(2.0 * axis, places), atol=1e-15)
    np.testing.assert_allclose(motion.spin("upper_left"), 2.0 * axis)
    for found in (motion.displacement("fixed", places), motion.turned("fixed", places)):
        assert not np.any(found)
    assert not np.any(motion.spin("fixed"))


def test_parities_of_flows_and_tips() -> None:
    sign, image = mirror_parities(("upper_right", "lower_left", "upper_left", "lower_right"))
    assert sign.tolist() == [1, -1, 1, -1, 1, -1, 1, 1, 1, 1]
    assert image == [0, 1, 2, 3, 4, 5, 8, 9, 6, 7]


def test_memory_of_a_solve() -> None:
    """8 bytes a number and 15 % besides; told in GiB of 2^30 bytes."""
    assert solve_bytes(1000) == int(MATRIX_SHARE * 8e6) == 9_200_000
    assert largest_lattice(9_200_000) == 1000
    refuse_too_large(1000, 9_200_000)
    with pytest.raises(ComputationFailed) as refused:
        refuse_too_large(40_000, 3 * 2**29)
    words = (
        "a lattice of 40000 panels needs 13.7 GiB, 1.5 GiB may be taken; at most 13231 panels fit"
    )
    assert words in str(refused.value)


def test_a_matrix_at_the_edge_of_singular() -> None:
    """Condition numbers in the 1-norm of diagonal matrices: the largest over the least entry."""
    solve, condition = factorised(np.diag([2.0, 1.0, 4e-13]))
    assert condition == pytest.approx(5e12)
    np.testing.assert_allclose(solve(np.array([[2.0], [3.0], [4e-13]])), [[1.0], [3.0], [1.0]])
    with pytest.raises(ComputationFailed, match=r"condition 2\.0e\+14"):
        factorised(np.diag([2.0, 1.0, 1e-14]))


def body(name: str, trail_x: float, lead_x: float = 0.0, **keys: Any) -> Any:
    """A patch whose outer end runs from a leading to a trailing edge along x, at y = 1."""
    nodes = np.zeros((2, 2, 3))
    nodes[0, :, 0], nodes[1, :, 0], nodes[:, 1, 1] = lead_x, trail_x, 1.0
    wing, _, part = name.partition(" ")
    side = keys.pop("side", "right")
    plain = {"wing": wing, "side": side, "part": part or "main", "crowded_start": True,
             "body": f"{wing}_{side}" if part == "tip" else "fixed"}  # fmt: skip
    return SimpleNamespace(nodes=nodes, **plain | keys)


@pytest.mark.parametrize(("tip", "wing", "runs"), [(0.7, 1.0, 0), (1.0, 0.7, 1)])
def test_the_forward_end_of_a_joint_runs_on_to_the_other(
    tip: float, wing: float, runs: int
) -> None:
    """By 0.3 m along x, the tip's line or the wing's; not where rows meet, or nothing is closed."""
    patches = [body("upper tip", tip), body("lower", wing)]
    joint = SimpleNamespace(tip="upper_right", other="lower right", closed=True, matched=False)
    lattice: Any = SimpleNamespace(patches=patches, joints=[joint], junctions=())
    found = _end_runs(lattice)
    assert list(found) == [(runs, OUTER)]
    np.testing.assert_allclose(found[runs, OUTER], [0.3, 0.0, 0.0])
    for name, value in (("closed", False), ("matched", True)):
        other = SimpleNamespace(**vars(joint) | {name: value})
        none: Any = SimpleNamespace(patches=patches, joints=[other], junctions=())
        assert _end_runs(none) == {}


def test_ends_at_a_fin_leave_where_the_aftmost_does() -> None:
    patches = [body("upper", 1.0), body("keel fin", 1.2), body("upper", 0.9)]
    junction = SimpleNamespace(members=((0, OUTER), (1, INNER), (2, OUTER)), matched=False)
    lattice: Any = SimpleNamespace(patches=patches, joints=(), junctions=[junction])
    found = _end_runs(lattice)
    np.testing.assert_allclose(found[0, OUTER], [0.2, -1.0, 0.0], atol=1e-15)
    np.testing.assert_allclose(found[1, INNER], 0.0)
    np.testing.assert_allclose(found[2, OUTER], [0.3, -1.0, 0.0], atol=1e-15)
    junction.matched = True
    assert _end_runs(lattice) == {}


def test_kinds_of_ends() -> None:
    """Free unless joined to another, at a fin, at the end of a closed joint, or at a centre that
    the sheet crosses without a corner, where the image's patch is reported."""
    patches = [
        body("upper", 1.0, crowded_start=False), body("lower", 1.0), body("upper tip", 1.0),
        body("upper", 1.0, crowded_start=False, side="left"), body("lower", 1.0, side="left"),
        body("upper tip", 1.0, side="left"),
    ]  # fmt: skip
    shared = [SimpleNamespace(one=2, one_end=INNER, same_sheet=False),
              SimpleNamespace(one=4, one_end=INNER, same_sheet=True)]  # fmt: skip
    joints = [SimpleNamespace(tip="upper_right", other="lower right", closed=True),
              SimpleNamespace(tip="upper_left", other="lower left", closed=False)]  # fmt: skip
    junction = SimpleNamespace(members=((4, OUTER),))
    lattice: Any = SimpleNamespace(
        patches=patches, shared_edges=shared, joints=joints, junctions=[junction]
    )
    assert _end_kinds(lattice) == {
        (2, INNER): None, (4, OUTER): None, (2, OUTER): None, (1, OUTER): None,
        (0, INNER): 3, (3, INNER): 0,
    }  # fmt: skip
