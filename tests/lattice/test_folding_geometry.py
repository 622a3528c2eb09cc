"""Tips turned about plain and flared hinges, against closed forms.

With the hinge's axis at the flare L to the direction aft, rear end inboard, and the tip raised by
theta, a streamwise cut of a tip without incidence slopes nose down by atan(tan theta sin L) (C.
Castrichini et al., Journal of Aircraft 54, 2017, from memory), and in a stream at the angle of
attack a the flow against its plane is sin a cos theta - cos a sin theta sin L (derived). Without
flare, in sideslip b, it is sin a cos b cos theta + sin b sin theta, windward tip positive (derived
by turning the normal). Span and projected area shrink as 1 - f (1 - cos theta), f the tips' share.
"""

import numpy as np
import pytest
from core_craft import biplane, lattice_of, monoplane, solved
from hypothesis import given
from hypothesis import strategies as st

from vlm.description.folds import FoldAngles
from vlm.description.models import Tips
from vlm.errors import InputRefused
from vlm.frames import wind_direction
from vlm.lattice.cellule import build_cellule
from vlm.lattice.lattice import Lattice
from vlm.lattice.patches import Patch

FOLDS = st.integers(-120, 120).map(float)
FLARES = st.integers(-25, 25).map(float)


def flared(flare_deg: float = 0.0, tip: float = 0.4, **keys):
    return monoplane(1.0, 0.1, tips=Tips(span_m=tip, end_chord_m=0.1, flare_deg=flare_deg, **keys))


def tip_of(lattice: Lattice, body: str = "upper_right") -> Patch:
    return next(patch for patch in lattice.patches if patch.body == body)


def main_of(lattice: Lattice, side: str = "right") -> Patch:
    return next(p for p in lattice.patches if p.part == "main" and p.side == side)


@given(FOLDS, FLARES)
def test_castrichini_slope_of_a_streamwise_cut(fold: float, flare: float) -> None:
    """The plane of the folded tip meets a plane y = constant in a line of this slope."""
    normal = tip_of(lattice_of(flared(flare), fold)).normals[0, 0]
    slope = -normal[0] / normal[2]  # dz/dx along the cut
    expected = np.tan(np.radians(fold)) * np.sin(np.radians(flare))
    if abs(np.cos(np.radians(fold))) > 0.05:
        # Nose down means z grows toward the trailing edge.
        assert slope == pytest.approx(expected, abs=1e-12, rel=1e-12)


@given(FOLDS, FLARES, st.integers(-10, 12))
def test_flow_against_a_flared_tip(fold: float, flare: float, alpha: int) -> None:
    a, theta, angle = np.radians([float(alpha), fold, flare])
    normals = tip_of(lattice_of(flared(flare), fold)).normals
    against = normals @ wind_direction(a, 0.0)
    expected = np.sin(a) * np.cos(theta) - np.cos(a) * np.sin(theta) * np.sin(angle)
    np.testing.assert_allclose(against, expected, atol=1e-12)


@given(FOLDS, FOLDS, st.integers(-10, 12), st.integers(-15, 15))
def test_flow_against_an_unflared_tip_in_sideslip(left, right, alpha, beta) -> None:
    a, b = np.radians([float(alpha), float(beta)])
    lattice = lattice_of(flared(), left, right)
    for body, fold, sign in (("upper_right", right, 1.0), ("upper_left", left, -1.0)):
        theta = np.radians(fold)
        against = tip_of(lattice, body).normals @ wind_direction(a, b)
        expected = np.sin(a) * np.cos(b) * np.cos(theta) + sign * np.sin(b) * np.sin(theta)
        np.testing.assert_allclose(against, expected, atol=1e-12)


@given(FOLDS)
def test_span_and_projected_area_shrink_with_the_cosine(fold: float) -> None:
    lattice = lattice_of(flared(tip=0.3), fold)
    share = 0.3 / 0.8
    nodes = tip_of(lattice).nodes
    end = nodes[:, -1, 1].max()
    assert end / 0.8 == pytest.approx(1.0 - share * (1.0 - np.cos(np.radians(fold))), abs=1e-12)
    # Strip by strip: the area seen from above is the flat one times the cosine.
    width = np.diff(nodes[-1, :, 1])
    flat = np.diff(tip_of(lattice_of(flared(tip=0.3))).nodes[-1, :, 1])
    np.testing.assert_allclose(width, flat * np.cos(np.radians(fold)), atol=1e-12)


@given(FOLDS, FLARES)
def test_a_tip_turns_as_a_rigid_body_about_a_line_that_stays(fold: float, flare: float) -> None:
    craft = flared(flare)
    flat, turned = tip_of(lattice_of(craft)), tip_of(lattice_of(craft, fold))
    line = build_cellule(craft).hinges["upper_right"]
    np.testing.assert_allclose(turned.nodes[:, 0], flat.nodes[:, 0], atol=1e-14)
    for name in ("nodes", "controls"):
        before, after = getattr(flat, name).reshape(-1, 3), getattr(turned, name).reshape(-1, 3)
        arms, moved = before - line.point, after - line.point
        np.testing.assert_allclose(moved @ line.axis, arms @ line.axis, atol=1e-14)
        np.testing.assert_allclose(
            np.linalg.norm(moved, axis=1), np.linalg.norm(arms, axis=1), atol=1e-14
        )
        away = arms - np.outer(arms @ line.axis, line.axis)
        moved = moved - np.outer(moved @ line.axis, line.axis)
        theta = np.radians(fold)
        expected = away * np.cos(theta) + np.cross(line.axis, away) * np.sin(theta)
        np.testing.assert_allclose(moved, expected, atol=1e-14)


def test_a_positive_fold_raises_the_tip_on_either_side() -> None:
    lattice = lattice_of(flared(8.0), 30.0, 30.0)
    assert tip_of(lattice, "upper_right").nodes[:, -1, 2].min() > 0.15
    assert tip_of(lattice, "upper_left").nodes[:, -1, 2].min() > 0.15
    alone = lattice_of(flared(8.0), 0.0, -30.0)
    assert tip_of(alone, "upper_right").nodes[:, -1, 2].max() < -0.15
    np.testing.assert_array_equal(tip_of(alone, "upper_left").nodes[..., 2], 0.0)


def test_the_fixed_wing_and_the_other_tip_do_not_move() -> None:
    craft = flared(8.0)
    flat, turned = lattice_of(craft), lattice_of(craft, 0.0, 50.0)
    for a, b in zip(flat.patches, turned.patches, strict=True):
        if a.body != "upper_right":
            assert a is b or np.array_equal(a.nodes, b.nodes)


@given(FOLDS, FLARES)
def test_port_is_the_exact_mirror_image_of_starboard_folded_alike(fold, flare) -> None:
    lattice = lattice_of(flared(flare), fold)
    assert lattice.is_mirror_symmetric
    half = len(lattice.patches) // 2
    for own, twin in zip(lattice.patches[:half], lattice.patches[half:], strict=True):
        np.testing.assert_array_equal(twin.nodes, own.nodes * [1.0, -1.0, 1.0])
        np.testing.assert_array_equal(twin.normals, own.normals * [1.0, -1.0, 1.0])
        assert twin.sense == -own.sense


@given(FOLDS, FLARES)
def test_wing_and_tip_share_the_nodes_of_the_hinge(fold: float, flare: float) -> None:
    lattice = lattice_of(flared(flare), fold)
    wing, tip = main_of(lattice), tip_of(lattice)
    np.testing.assert_allclose(tip.nodes[:, 0], wing.nodes[:, -1], atol=1e-15)


def test_a_hinge_that_runs_inboard_toward_the_trailing_edge_has_a_positive_flare() -> None:
    line = build_cellule(flared(12.0)).hinges["upper_right"]
    np.testing.assert_allclose(
        line.axis, [np.cos(np.radians(12.0)), -np.sin(np.radians(12.0)), 0.0], atol=1e-12
    )
    # It passes through the middle of the hinge's chord.
    step = (0.05 - line.point[0]) / line.axis[0]
    np.testing.assert_allclose(line.point + step * line.axis, [0.05, 0.5, 0.0], atol=1e-12)


def test_a_flared_hinge_lies_in_the_plane_of_a_wing_with_dihedral_and_sweep() -> None:
    craft = monoplane(
        1.0, 0.1, dihedral_deg=6.0, sweep_deg=15.0,
        tips=Tips(span_m=0.3, end_chord_m=0.06, flare_deg=10.0),
    )  # fmt: skip
    line = build_cellule(craft).hinges["upper_right"]
    rise = np.radians(6.0)
    assert line.axis @ [0.0, -np.sin(rise), np.cos(rise)] == pytest.approx(0.0, abs=1e-12)
    assert line.axis[0] > 0.0
    across = line.axis @ [0.0, np.cos(rise), np.sin(rise)]
    assert np.degrees(np.arctan2(-across, line.axis[0])) == pytest.approx(10.0, abs=1e-6)


def test_linked_tips_turn_by_their_ratio() -> None:
    craft = biplane(
        tips={"linkage": 0.5},
        lower={"tips": Tips(span_m=0.2, end_chord_m=0.2, linkage=-1.0)},
    )
    lattice = lattice_of(craft, 20.0, 10.0)
    degrees = {name: float(np.degrees(angle)) for name, angle in lattice.folds.items()}
    assert degrees == pytest.approx(
        {"upper_right": 5.0, "upper_left": 10.0, "lower_right": -10.0, "lower_left": -20.0}
    )
    rates = {"upper_right": 0.5, "upper_left": 0.5, "lower_right": -1.0, "lower_left": -1.0}
    assert dict(lattice.fold_rates) == rates


def test_a_fold_beyond_the_limits_is_refused_with_them() -> None:
    with pytest.raises(InputRefused, match=r"fold_max_deg = 45.*-30 to 45"):
        lattice_of(flared(fold_min_deg=-30.0, fold_max_deg=45.0), 50.0)


def test_arrays_of_a_lattice_cannot_be_written_to() -> None:
    lattice = lattice_of(flared(), 10.0)
    with pytest.raises(ValueError, match="read-only"):
        lattice.patches[0].nodes[0, 0, 0] = 1.0


def test_a_raised_flared_tip_loses_incidence_and_lift() -> None:
    """At zero angle of attack, flare 10 degrees: raised tips pull down, dropped ones lift."""
    from vlm.loads.coefficients import coefficients
    from vlm.loads.state import FlightState

    lift = {
        fold: coefficients(solved(flared(10.0), FoldAngles(fold, fold)), FlightState()).CL
        for fold in (-30.0, 0.0, 30.0)
    }
    assert lift[30.0] < -0.02
    assert lift[-30.0] > 0.02
    assert lift[0.0] == pytest.approx(0.0, abs=1e-14)
