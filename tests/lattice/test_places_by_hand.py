"""Distances, outlines, pieces, spacings, hinges and warnings of made-up patches, by hand.

Distances against scipy's bounded minimiser over each triangle; crossings by solving for the point
where a line meets a plane (numpy); the rest is plane geometry and counting.
"""

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from scipy.optimize import minimize

from vlm.constants import Floats
from vlm.lattice.camber import _tabulated
from vlm.lattice.cellule import Grid, _shared_out, _weights, pieces_of
from vlm.lattice.collisions import Crossing, first_meeting
from vlm.lattice.contact import Edge, overlap_gap
from vlm.lattice.corners import other_corners
from vlm.lattice.distances import box_gaps, point_triangle_distances, segments_cross
from vlm.lattice.edges import INNER, OUTER, shared_edges
from vlm.lattice.lattice_warnings import (
    _boxes_apart,
    _folded_back,
    _gap_in_widths,
    _leg_clearance,
    _slender,
)
from vlm.lattice.outlines import (
    outline,
    outlines_apart,
    outlines_cross,
    outlines_touch,
    pulled_in,
    triangles,
)
from vlm.lattice.patches import HingeLine, hinge_share
from vlm.lattice.planform import HalfPlanform
from vlm.lattice.spacing import row_extents, span_stations
from vlm.lattice.ways import Stop


def by_minimiser(point: Floats, face: Floats) -> float:
    """Least distance over u, v >= 0 and u + v <= 1."""

    def squared(uv: Floats) -> float:
        at = face[0] + uv[0] * (face[1] - face[0]) + uv[1] * (face[2] - face[0])
        return float(np.sum((point - at) ** 2))

    found = minimize(
        squared, (0.3, 0.3), bounds=((0, 1), (0, 1)), method="SLSQP", options={"ftol": 1e-15},
        constraints={"type": "ineq", "fun": lambda uv: 1.0 - uv[0] - uv[1]},
    )  # fmt: skip
    return float(np.sqrt(found.fun))


def test_distances_of_points_from_triangles() -> None:
    random = np.random.default_rng(12)
    points, faces = random.normal(size=(12, 3)), random.normal(size=(4, 3, 3))
    faces[3, 2] = faces[3, 1]  # no area: a line
    found = point_triangle_distances(points, faces)
    for i, j in np.ndindex(12, 4):
        assert found[i, j] == pytest.approx(by_minimiser(points[i], faces[j]), abs=1e-4)
    spot = np.array([[[1.0, 2.0, 2.0]] * 3])
    assert point_triangle_distances(np.zeros((1, 3)), spot)[0, 0] == pytest.approx(3.0)


def test_segments_that_pass_through_triangles() -> None:
    """Where start + t step = a + u one + v two, all of t, u, v and u + v between 0 and 1."""
    face = np.array([[0.0, 0.0, 0.0], [1.0, 0.0, 0.2], [0.1, 1.0, 0.0]])
    random, hits = np.random.default_rng(13), 0
    for _ in range(300):
        start, end = random.uniform(-1.0, 1.5, (2, 3))
        sides = np.stack([start - end, face[1] - face[0], face[2] - face[0]], axis=1)
        t, u, v = np.linalg.solve(sides, start - face[0])
        wanted = min(t, u, v) >= 0.0 and t <= 1.0 and u + v <= 1.0
        hits += wanted
        assert segments_cross(start[None], end[None], face[None]) is bool(wanted)
    assert hits > 15
    flat = np.array([[0.1, 0.1, 0.02]]), np.array([[0.3, 0.1, 0.06]])
    assert not segments_cross(*flat, face[None])  # within its plane


def test_gaps_of_boxes() -> None:
    one, two = np.array([[0.0, 0.0], [1.0, 2.0]]), np.array([[1.5, 1.0], [4.0, 6.0]])
    assert box_gaps(one, two).tolist() == box_gaps(two, one).tolist() == [0.5, -1.0]
    assert _boxes_apart(one, two + np.array([0.0, 2.0])) == pytest.approx(np.hypot(0.5, 1.0))
    assert _boxes_apart(one, one) == 0.0


def sheet(x: float = 0.0, y: float = 0.0, z: float = 0.0, turn: float = 0.0) -> Floats:
    """Outline of 1 m chord and 2 m span in two cells, turned about its inner edge."""
    along = np.array([0.0, np.cos(turn), np.sin(turn)])
    lead = np.array([x, y, z]) + np.array([0.0, 0.5, 2.0])[:, None] * along
    return np.stack([lead, lead + np.array([1.0, 0.0, 0.0])])


def test_outlines_as_triangles_and_how_far_they_are_apart() -> None:
    cells = triangles(sheet())
    area = 0.5 * np.linalg.norm(
        np.cross(cells[:, 1] - cells[:, 0], cells[:, 2] - cells[:, 0]), axis=1
    )
    np.testing.assert_allclose(area, [0.25, 0.75, 0.25, 0.75])
    assert outlines_apart(sheet(), sheet(z=0.3)) == pytest.approx(0.3)
    assert outlines_apart(sheet(), sheet(x=1.4, z=0.3)) == pytest.approx(0.5)
    upright = sheet(y=1.0, z=-1.0, turn=0.5 * np.pi)
    assert outlines_cross(sheet(), upright)
    assert not outlines_cross(sheet(), sheet(y=1.0, z=0.01, turn=0.5 * np.pi))
    assert outlines_touch(sheet(), sheet(y=1.0, z=0.01, turn=0.5 * np.pi), 0.011)
    assert not outlines_touch(sheet(), sheet(y=1.0, z=0.01, turn=0.5 * np.pi), 0.009)
    assert outlines_touch(sheet(), upright, 1e-9)


def test_outlines_pulled_in_at_their_ends() -> None:
    """By an amount, at most half of the cell there."""
    found = pulled_in(sheet(), 0.1, outboard=False)
    np.testing.assert_allclose(found[:, :, 1], [[0.1, 0.5, 2.0]] * 2)
    found = pulled_in(sheet(), 0.4, outboard=True)
    np.testing.assert_allclose(found[:, :, 1], [[0.25, 0.5, 1.6]] * 2)


def patch(nodes: Floats, **keys: Any) -> Any:
    widths = np.abs(np.diff(nodes[-1, :, 1]))
    plain = {
        "nodes": nodes, "strips": nodes.shape[1] - 1, "rows": nodes.shape[0] - 1, "width": widths,
        "chord": np.full(len(widths), 0.3), "on_plane": False, "wing": "upper",
    }  # fmt: skip
    return SimpleNamespace(**plain | keys)


def flat(rows: Floats, places: Floats, z: float = 0.0) -> Floats:
    nodes = np.zeros((len(rows), len(places), 3))
    nodes[..., 0], nodes[..., 1], nodes[..., 2] = rows[:, None], places, z
    return nodes


def test_an_outline_begins_at_the_leading_edge() -> None:
    """First row at a fifth of the chord from 0 to 1; of 8 strips every second edge."""
    nodes = flat(np.array([0.2, 0.6, 1.0]), np.linspace(0.0, 2.0, 9))
    found = outline(patch(nodes), 0.2)
    np.testing.assert_allclose(found[0, :, 0], 0.0, atol=1e-15)
    np.testing.assert_allclose(found[1, :, 0], 1.0)
    np.testing.assert_allclose(found[0, :, 1], [0.0, 0.5, 1.0, 1.5, 2.0])


def test_edges_that_coincide_row_by_row() -> None:
    """Outer end of the first with the inner end of the second; a keel's two copies at both ends."""
    rows = np.array([0.1, 0.5, 1.0])
    one, two = patch(flat(rows, np.array([0.0, 1.0]))), patch(flat(rows, np.array([1.0, 3.0])))
    off = patch(flat(rows + 1e-6, np.array([3.0, 4.0])))
    found = shared_edges((one, two, off))
    assert [(e.one, e.one_end, e.two, e.two_end) for e in found] == [
        (0, OUTER, 1, INNER), (1, INNER, 0, OUTER),
    ]  # fmt: skip
    assert found[0].length == pytest.approx(0.9)
    assert not any(edge.same_sheet for edge in found)
    keel = patch(flat(rows, np.array([0.0, 1.0])), wing="keel", on_plane=True)
    assert all(edge.same_sheet for edge in shared_edges((keel, keel)))
    assert len(shared_edges((keel, keel))) == 4


def edge(lead: list[float], trail: list[float]) -> Edge:
    ends = np.array([lead, trail])
    return Edge(0, ends[0], ends[1], ends)


def test_the_gap_where_two_ends_lie_along_each_other() -> None:
    """One from x = 0 to 1 on the axis; another 0.1 m aside; one that opens to 0.3 m over 2 m."""
    axis = edge([0.0, 0.0, 0.0], [1.0, 0.0, 0.0])
    beside = edge([0.4, 0.1, 0.0], [1.4, 0.1, 0.0])
    assert overlap_gap(axis, beside) == pytest.approx(0.1)
    opening = edge([0.0, 0.0, 0.0], [2.0, 0.3, 0.0])
    # Largest at the end of the overlap, x = 1, measured across the opening line's neighbour.
    assert overlap_gap(axis, opening) == pytest.approx(0.15, rel=0.03)
    assert overlap_gap(axis, edge([0.96, 0.1, 0.0], [2.0, 0.1, 0.0])) is None  # 4 % of its length
    assert overlap_gap(axis, edge([0.94, 0.1, 0.0], [2.0, 0.1, 0.0])) == pytest.approx(0.1)
    for degrees, lies in ((19.0, True), (21.0, False), (161.0, True)):
        turn = np.radians(degrees)
        leaning = edge([0.5, 0.1, 0.0], [0.5 + np.cos(turn), 0.1, np.sin(turn)])
        assert (overlap_gap(axis, leaning) is not None) is lies
    spot = edge([0.5, 0.0, 0.0], [0.5, 0.0, 0.0])
    assert overlap_gap(axis, spot) is None
    assert overlap_gap(spot, axis) is None


def test_where_surfaces_first_meet_on_the_way() -> None:
    """From a share of 0.618 on; at once; and at the end alone."""
    crossing = Crossing("upper tip", "upper_right", "lower wing")
    for meeting in (0.618, 1.0):
        share, found = first_meeting(lambda s, m=meeting: crossing if s >= m else None, 0.5)
        assert share == pytest.approx(meeting, abs=1e-7)
        assert share >= meeting
        assert found is crossing
    assert first_meeting(lambda _: crossing, 0.5) == (0.0, crossing)
    asked: list[float] = []

    def narrow(share: float) -> Crossing | None:
        asked.append(share)
        return crossing if 0.495 < share < 0.505 or share == 1.0 else None

    # A stretch of a hundredth of 100 degrees is met by steps of one degree.
    assert first_meeting(narrow, float(np.radians(100.0)))[0] == pytest.approx(0.495, abs=1e-6)
    assert asked[1] == pytest.approx(0.01)


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_the_angle_of_first_contact_is_found_backwards(sign: float) -> None:
    """Inside at 40 degrees, touching from 27.3 on."""
    touch = np.radians(27.3)
    turning: Any = SimpleNamespace(touches=lambda angle: sign * angle >= touch)
    stop = Stop(sign * float(np.radians(40.0)), "lower wing", turning)
    assert stop.contact == pytest.approx(sign * touch, abs=1e-5)


def half(**keys: Any) -> HalfPlanform:
    s = np.array([0.0, 0.5, 0.7, 1.0])
    lead = np.stack([0.0 * s, s, 0.0 * s], axis=1)
    chord = np.tile([0.2, 0.0, 0.0], (4, 1))
    plain = {"corners": (1,), "hinge": 2, "centre_is_kinked": False}
    return HalfPlanform(s, lead, chord, **plain | keys)  # type: ignore[arg-type]


def test_pieces_of_a_half_wing_and_their_strips() -> None:
    """0.5, 0.2 and 0.3 m long, crowded at one, two and two ends: weights sqrt(0.5), sqrt(0.4),
    sqrt(0.6); 20 strips in all, in their shares."""
    weights = np.sqrt([0.5, 0.4, 0.6])
    np.testing.assert_allclose(_weights(half()), weights)
    np.testing.assert_allclose(_weights(half(centre_is_kinked=True))[0], 1.0)
    pieces = pieces_of("upper", half(), 20.4)
    assert [(p.part, p.start, p.end, p.hinge_end) for p in pieces] == [
        ("main", 0.0, 0.5, None), ("main", 0.5, 0.7, "end"), ("tip", 0.7, 1.0, "start"),
    ]  # fmt: skip
    assert [p.dense_start for p in pieces] == [False, True, True]
    np.testing.assert_allclose([p.ideal for p in pieces], 20.4 * weights / weights.sum())
    assert [p.strips for p in pieces] == [7, 6, 7]
    plain = pieces_of("upper", half(hinge=None, corners=()), 5.0)
    assert [(p.part, p.strips, p.end, p.hinge_end) for p in plain] == [("main", 5, 1.0, None)]


def test_strips_are_shared_out_with_what_is_left_on_the_largest_piece() -> None:
    assert _shared_out(20, np.array([1.0, 1.0, 2.0])) == [5, 5, 10]
    assert _shared_out(10, np.array([1.0, 1.0, 1.0])) == [4, 3, 3]
    assert _shared_out(20, np.array([0.01, 1.0, 1.0])) == [3, 7, 10]
    assert _shared_out(1, np.array([1.0, 1.0])) == [3, 3]
    assert Grid() == Grid(8, 20, "matched", "gauss")


def test_how_much_of_a_slanted_hinge_strips_take() -> None:
    """The fourth power of the nearness; 0.5 room / offset where that is less, but at least 1."""
    near = np.array([0.0, 0.5, 1.0])
    np.testing.assert_allclose(hinge_share(near, 1.0, 0.0), [0.0, 0.0625, 1.0])
    np.testing.assert_allclose(hinge_share(near, 1.0, 0.1), [0.0, 0.0625, 1.0])
    np.testing.assert_allclose(hinge_share(near, 1.0, 0.2), [0.0, 0.5**2.5, 1.0])
    np.testing.assert_allclose(hinge_share(near, 1.0, 0.9), [0.0, 0.5, 1.0])


@pytest.mark.parametrize("law", ["matched", "graded"])
@pytest.mark.parametrize(("ideal", "stretch"), [(6.0, 1.0 / 3.0), (10.0, -0.2), (2.0, 0.6)])
def test_a_parameter_is_stretched_at_dense_ends(law: Any, ideal: float, stretch: float) -> None:
    """Its pace there is 1 + count / ideal - 1, at most 1.6 and at least 0.4 times the even one."""
    edges, stations = span_stations(8, law, dense_start=True, dense_end=True, ideal=ideal)

    def mapped(t: Floats) -> Floats:
        t = t + stretch * np.sin(2.0 * np.pi * t) / (2.0 * np.pi)
        if law == "matched":
            return 0.5 * (1.0 - np.cos(np.pi * t))
        return (8.0 - 9.0 * np.cos(np.pi * t) + np.cos(3.0 * np.pi * t)) / 16.0

    np.testing.assert_allclose(edges, mapped(np.arange(9) / 8.0), atol=1e-15)
    np.testing.assert_allclose(stations, mapped((np.arange(8) + 0.5) / 8.0), atol=1e-15)
    outer, _ = span_stations(4, law, dense_start=False, dense_end=True, ideal=0.5 * ideal)
    np.testing.assert_allclose(outer, 2.0 * edges[4:] - 1.0, atol=1e-14)
    inner, _ = span_stations(4, law, dense_start=True, dense_end=False, ideal=0.5 * ideal)
    np.testing.assert_allclose(inner, 2.0 * edges[:5], atol=1e-14)


def test_extents_of_gausss_rows() -> None:
    """Between the angles 0, 2 pi / 5 and the trailing edge for two rows."""
    ends = np.cos(np.array([0.0, 0.4 * np.pi, np.pi]))
    np.testing.assert_allclose(row_extents(2, "gauss"), -0.5 * np.diff(ends))
    np.testing.assert_allclose(row_extents(4, "uniform"), 0.25)


def test_a_hinge_takes_the_moment_about_its_line() -> None:
    """A pull of 2 N up at y = 3 about a hinge along x at y = 1, given about (0, 0.5, 0)."""
    line = HingeLine(np.array([0.0, 1.0, 0.0]), np.array([1.0, 0.0, 0.0]))
    force, about = np.array([0.0, 0.0, 2.0]), np.array([0.0, 0.5, 0.0])
    moment = np.cross(np.array([7.0, 3.0, 0.0]) - about, force)
    assert line.moment(force, moment, about) == pytest.approx(4.0)
    image = line.mirrored()
    np.testing.assert_allclose(image.point, [0.0, -1.0, 0.0])
    np.testing.assert_allclose(image.axis, [-1.0, 0.0, 0.0])
    mirrored = np.cross(np.array([7.0, -3.0, 0.0]) + about, force)
    assert image.moment(force, mirrored, -about) == pytest.approx(4.0)


def test_a_tabulated_line_is_a_parabola_where_its_points_are() -> None:
    """Height and slope of 0.3 x (1 - x) between uneven points, and at their ends."""
    places = np.array([0.0, 0.1, 0.35, 0.8, 1.0])
    x = np.array([0.0, 0.05, 0.3, 0.35, 0.9, 1.0])
    height, slope = _tabulated(np.stack([places, 0.3 * places * (1.0 - places)], axis=1), x)
    np.testing.assert_allclose(height, 0.3 * x * (1.0 - x), atol=1e-15)
    np.testing.assert_allclose(slope, 0.3 * (1.0 - 2.0 * x), atol=1e-14)


def test_clearances_in_strips() -> None:
    """Legs from (1, 0.1 j, 0) along x past a control point at (3, 0.12, 0.05): the nearest
    hypot(0.02, 0.05) of a strip of 0.2; one that stands ahead of them counts for nothing."""
    trailing = np.array([[1.0, 0.1 * j, 0.0] for j in range(4)])
    target = SimpleNamespace(
        controls=np.array([[[3.0, 0.12, 0.05], [0.5, 0.1, 0.0]]]),
        width=np.array([0.2, 0.2]),
        rows=1,
    )
    wake = np.array([1.0, 0.0, 0.0])
    found = _leg_clearance(trailing, target, wake)  # type: ignore[arg-type]
    assert found == pytest.approx(np.hypot(0.02, 0.05) / 0.2)
    aside = np.array([0.8, -0.6, 0.0])
    ways = [
        np.linalg.norm(apart - (apart @ aside) * aside) / 0.2
        for control in target.controls[0] for leg in trailing
        if (apart := control - leg) @ aside > 0.0
    ]  # fmt: skip
    turned = _leg_clearance(trailing, target, aside)  # type: ignore[arg-type]
    assert turned == pytest.approx(min(ways))


def test_gaps_in_panel_widths() -> None:
    """An end at y = 1 over a wing 0.05 m below whose strips are 0.5 and 0.25 m wide, its own
    0.4 m: over the narrower strip and the end's width, whichever is less."""
    rows = np.array([0.1, 1.0])
    tip = patch(flat(rows, np.array([0.6, 1.0])))
    wing = patch(flat(rows, np.array([0.0, 0.5, 0.75]), -0.05))
    apart = np.hypot(0.25, 0.05)  # the end stands 0.25 m outboard of it
    assert _gap_in_widths(tip, wing, 0.1) == pytest.approx(apart / 0.25)
    inner = _gap_in_widths(tip, wing, 0.1, INNER)
    assert inner == pytest.approx(0.05 / 0.25)


@pytest.mark.parametrize("place", [0.0, 0.25, 0.5, 0.75, 1.0])
def test_ends_and_surfaces_are_looked_at_in_quarters(place: float) -> None:
    """A narrow wing 0.1 m below a fifth of an end; a narrow strip below a fifth of a sheet."""
    tip = patch(flat(np.array([0.0, 1.0]), np.array([0.6, 1.0])))
    lead = place - 0.01
    below = patch(flat(np.array([lead, place + 0.01]), np.array([0.9, 1.1]), -0.1))
    assert _gap_in_widths(tip, below, 0.0) == pytest.approx(0.1 / 0.2)
    strip = sheet(z=-0.1)
    strip[0, :, 0], strip[1, :, 0] = lead, place + 0.01
    assert outlines_apart(sheet(), strip) == pytest.approx(0.1)
    # Two ends that part evenly over 1 m are farthest apart where the samples of one end.
    parting = edge([0.0, 0.0, 0.0], [1.0, 0.1 * place, 0.0])
    wanted = 0.1 * place / np.hypot(1.0, 0.1 * place)
    assert overlap_gap(parting, edge([0.0, 0.0, 0.0], [1.0, 0.0, 0.0])) == pytest.approx(wanted)


def test_slender_and_folded_back() -> None:
    """Strips 6 m wide on 0.3 m of chord and 8 rows; strips of 5 % of the chord are left out."""
    extent = float(row_extents(8, "gauss").max())
    wide = SimpleNamespace(width=np.array([6.0, 90.0]), chord=np.array([0.3, 0.01]))
    lattice: Any = SimpleNamespace(grid=Grid(), patches=[wide], folds={"a": -2.8, "b": 2.7})
    found = _slender(lattice)
    assert found is not None
    assert found.value == pytest.approx(20.0 / extent)
    wide.width = np.array([60.0 * 0.3 * extent * 0.999, 90.0])
    assert _slender(lattice) is None
    back = _folded_back(lattice)
    assert back is not None
    assert back.value == pytest.approx(np.degrees(2.8))
    lattice.folds = {"a": float(np.radians(-159.9))}
    assert _folded_back(lattice) is None
    lattice.folds = {}
    assert _folded_back(lattice) is None


def corners(gap: float, *, joined: bool) -> list[float]:
    """Gaps of the craft that a corner with some gap, at a tip of 0.2 m chord, may be."""
    craft: Any = SimpleNamespace(
        arrangement=SimpleNamespace(gap_m=0.3), overridden=lambda keys: keys["arrangement.gap_m"]
    )
    tip = SimpleNamespace(part="tip", chord=np.array([0.5, 0.2]))
    lattice: Any = SimpleNamespace(
        joints=[SimpleNamespace(gap=gap), SimpleNamespace(gap=0.5 * gap)], is_joined=joined,
        patches=[tip, SimpleNamespace(part="main", chord=np.array([9.0]))],
    )  # fmt: skip
    return other_corners(craft, lattice)  # type: ignore[return-value]


def test_corners_other_than_drawn() -> None:
    """Opened by 0.003 chords; closed too where it is open by no more."""
    assert corners(0.0, joined=True) == pytest.approx([0.3006])
    assert corners(0.0005, joined=False) == pytest.approx([0.3006, 0.2995])
    assert corners(0.0007, joined=False) == []
