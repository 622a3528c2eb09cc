"""Shear, bending and torsion of half wings, by statics.

No source but statics (cantilevers; from memory); all numbers are invented.
"""

from types import SimpleNamespace

import numpy as np
import pytest

from vlm.constants import GRAVITY
from vlm.flight.mechanism import wing_bending
from vlm.sides import Side


def piece(part, starts, forces, moments=None, side=Side.STARBOARD, body="fixed", up=0.0):
    """Strips along y (or up the z axis by ``up`` of each step) with quarter points at x = 0.5."""
    y = np.array(starts, dtype=float) * side.sense
    quarter = np.stack([np.full(len(y), 0.5), y, up * np.abs(y)], axis=1)
    lead, trail = quarter.copy(), quarter.copy()
    lead[:, 0], trail[:, 0] = 0.25, 1.25
    patch = SimpleNamespace(
        wing="upper", side=side, part=part, body=body, strips=len(y) - 1, nodes=[lead, trail],
        span_position=np.array(starts),
    )  # fmt: skip
    forces = np.array(forces, dtype=float)
    middle = 0.5 * (quarter[1:] + quarter[:-1])
    about = np.cross(middle, forces) if moments is None else np.array(moments)
    return SimpleNamespace(patch=patch, shared_to_strips=lambda: (forces, about))


@pytest.fixture
def plain(monkeypatch):
    monkeypatch.setattr(wing_bending, "_relief", lambda craft, flight, patch: (0.0, 0.0))
    monkeypatch.setattr(
        wing_bending, "quarter_points",
        lambda patch, grid: patch.nodes[0] + 0.25 * (patch.nodes[-1] - patch.nodes[0]),
    )  # fmt: skip
    lattice = SimpleNamespace(lattice=SimpleNamespace(grid=None))
    return SimpleNamespace(loads=lattice, bodies=(), amounts_of_motion=np.eye(2))


@pytest.mark.parametrize("side", list(Side))
def test_shear_and_bending_of_an_even_load_on_a_cantilever(monkeypatch, plain, side):
    """q x and q x^2/2 from the end (beam theory): 10 N/m over 4 m; no torsion where lift acts at
    the quarter chord, the tip given first."""
    made = [piece("tip", [2, 3, 4], [[0, 0, 10]] * 2, side=side),
            piece("main", [0, 1, 2], [[0, 0, 10]] * 2, side=side)]  # fmt: skip
    monkeypatch.setattr(wing_bending, "patch_forces", lambda *_: made)
    state = SimpleNamespace(motion=np.ones(2), density=1.0)
    (found,) = wing_bending.wing_bending(plain, state)
    assert (found.wing, found.side) == ("upper", side)
    np.testing.assert_allclose(found.distance_m, [4, 3, 2, 1, 0])
    np.testing.assert_allclose(found.shear_N, [0, 10, 20, 30, 40])
    np.testing.assert_allclose(found.bending_N_m, [0, 5, 20, 45, 80])
    np.testing.assert_allclose(found.torsion_N_m, 0.0, atol=1e-12)
    assert (found.root_shear_N, found.root_bending_N_m) == pytest.approx((40.0, 80.0))
    assert found.hinge_distance_m == 2.0
    assert found.hinge_bending_N_m == pytest.approx(20.0)


def test_torsion_is_the_force_by_its_arm_and_fins_are_left_out(monkeypatch, plain):
    """10 N, 0.1 m ahead of the quarter chord, nose up."""
    moments = np.cross([0.4, 0.5, 0.0], [0.0, 0.0, 10.0])[None]
    made = [piece("main", [0, 1], [[0, 0, 10]], moments), piece("fin", [0, 1], [[9, 9, 9]])]
    made[1].patch.wing = "keel"
    monkeypatch.setattr(wing_bending, "patch_forces", lambda *_: made)
    (found,) = wing_bending.wing_bending(plain, SimpleNamespace(motion=np.ones(2), density=1.0))
    np.testing.assert_allclose(found.torsion_N_m, [0.0, 1.0])
    assert found.hinge_distance_m is None
    assert found.hinge_bending_N_m is None


def test_along_a_swept_wing_torsion_is_about_the_axis_across_the_craft(monkeypatch, plain):
    """10 N in the middle of a strip from (0.5, 0) to (1.5, 1): 0.5 m outboard and 0.5 m aft of the
    root's quarter chord, so 5 N m of bending and 5 nose down."""
    made = [piece("main", [0, 1], [[0, 0, 10]])]
    shift = np.array([[0.0, 0.0, 0.0], [1.0, 0.0, 0.0]])
    made[0].patch.nodes = [edge + shift for edge in made[0].patch.nodes]
    moments = np.cross([1.0, 0.5, 0.0], [0.0, 0.0, 10.0])[None]
    made[0].shared_to_strips = lambda: (np.array([[0.0, 0.0, 10.0]]), moments)
    monkeypatch.setattr(wing_bending, "patch_forces", lambda *_: made)
    (found,) = wing_bending.wing_bending(plain, SimpleNamespace(motion=np.ones(2), density=1.0))
    np.testing.assert_allclose(found.bending_N_m, [0.0, 5.0])
    np.testing.assert_allclose(found.torsion_N_m, [0.0, -5.0])
    np.testing.assert_allclose(found.distance_m, [1.0, 0.0])


def test_across_a_folded_wing_lift_is_turned(monkeypatch, plain):
    """At 45 degrees of dihedral a vertical 10 N crosses the wing with 7.07 N; the arm of 1 m along
    y stays."""
    made = [piece("main", [0, 2], [[0, 0, 10]], up=1.0)]
    monkeypatch.setattr(wing_bending, "patch_forces", lambda *_: made)
    (found,) = wing_bending.wing_bending(plain, SimpleNamespace(motion=np.ones(2), density=1.0))
    np.testing.assert_allclose(found.distance_m, [2 * 2**0.5, 0.0])
    np.testing.assert_allclose(found.shear_N, [0.0, 10.0 * 0.5**0.5])
    np.testing.assert_allclose(found.bending_N_m, [0.0, 10.0])


def test_at_a_folded_hinge_a_cut_has_the_axes_of_both_parts(monkeypatch, plain):
    """A tip folded by 45 degrees with 10 N upward: 7.07 N across the tip, 10 N across the wing."""
    made = [piece("main", [0, 1], [[0, 0, 0]]), piece("tip", [1, 2], [[0, 0, 10]])]
    for lead_or_trail in made[1].patch.nodes:
        lead_or_trail[:, 2] = lead_or_trail[:, 1] - 1.0
    monkeypatch.setattr(wing_bending, "patch_forces", lambda *_: made)
    (found,) = wing_bending.wing_bending(plain, SimpleNamespace(motion=np.ones(2), density=1.0))
    np.testing.assert_allclose(found.distance_m, [1 + 2**0.5, 1.0, 1.0, 0.0])
    np.testing.assert_allclose(found.shear_N, [0.0, 10.0 * 0.5**0.5, 10.0, 10.0])
    np.testing.assert_allclose(found.bending_N_m, [0.0, 5.0, 5.0, 15.0])
    assert found.hinge_bending_N_m == pytest.approx(5.0)


def test_weight_of_a_tip_acts_at_its_centre_along_its_span():
    """0.2 kg at a load factor of 3: forces sum to the weight, and their moment about the centre
    along the span vanishes; at 30 degrees of attack half of it pulls aft."""
    places = np.array([[1.0, y, 0.1] for y in (1.1, 1.3, 1.6, 1.9)])
    patch = SimpleNamespace(
        strips=4, body="upper_right", trailing_stations=lambda: places,
        chord=np.array([0.4, 0.4, 0.3, 0.2]), width=np.array([0.2, 0.2, 0.3, 0.3]),
    )  # fmt: skip
    part = SimpleNamespace(mass=0.2, centre=np.array([0.7, 1.4, 0.05]))
    craft = SimpleNamespace(
        bodies=("upper_right",), masses=SimpleNamespace(parts={"upper_right": part})
    )
    state = SimpleNamespace(load_factor=3.0, alpha=np.radians(30.0))
    forces, moments = wing_bending._relief(craft, state, patch)
    weight = 0.6 * GRAVITY * np.array([0.5, 0.0, -(0.75**0.5)])
    np.testing.assert_allclose(forces.sum(axis=0), weight)
    np.testing.assert_allclose(moments.sum(axis=0), np.cross(part.centre, weight))
    # Every strip's force acts on the line through the centre, along the span.
    at = part.centre + (places[:, 1] - 1.4)[:, None] * [0.0, 1.0, 0.0]
    np.testing.assert_allclose(moments, np.cross(at, forces))
    patch.body = "fixed"
    assert not np.any(wing_bending._relief(craft, state, patch))


@pytest.mark.parametrize("rows", [1, 4])
def test_quarter_points_lie_a_quarter_of_the_chord_behind_the_leading_edge(rows):
    """Nodes begin at the first row's vortex, a quarter of a row behind it on even rows (James
    1972): the leading edge at 0.3, the trailing edge at 1.1 m, the quarter point at 0.5 m."""
    first = 0.3 + 0.8 * 0.25 / rows
    nodes = np.array([[[first, 0.0, 0.0], [first, 1.0, 0.2]], [[1.1, 0.0, 0.0], [1.1, 1.0, 0.2]]])
    grid = SimpleNamespace(rows=rows, chord_law="uniform")
    found = wing_bending.quarter_points(SimpleNamespace(nodes=nodes), grid)
    np.testing.assert_allclose(found, [[0.5, 0.0, 0.0], [0.5, 1.0, 0.2]])
