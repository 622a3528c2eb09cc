"""Flat planforms: lengths, areas, centroids, corners, and the references made of them.

Closed forms for a trapezoid: B. Etkin and L. D. Reid, Dynamics of Flight (1996), appendix C
(place of the mean chord), from memory; the rest is plane geometry.
"""

import numpy as np
import pytest
from core_craft import biplane, monoplane, wing

from vlm.description.mass import Mass
from vlm.description.models import Arrangement, Biplane, Reference, Station, Tips, Wing
from vlm.errors import InputRefused
from vlm.lattice.cellule import FEWEST_STRIPS, Grid, build_cellule, pieces_of
from vlm.lattice.planform import half_planform

ORIGIN = np.zeros(3)


def half(description: Wing):
    return half_planform(description, ORIGIN, "upper")


def test_rectangle() -> None:
    flat = half(wing(1.2, 0.2))
    assert flat.half_span == pytest.approx(0.6)
    assert flat.area == pytest.approx(0.12)
    np.testing.assert_allclose(flat.points(np.array([0.3]), np.array([0.5])), [[0.1, 0.3, 0.0]])
    np.testing.assert_allclose(flat.quarter_chord_centroid(), [0.05, 0.3, 0.0], atol=1e-15)
    assert flat.corners == ()
    assert not flat.centre_is_kinked


def test_etkin_centroid_of_a_swept_trapezoid() -> None:
    """ybar = s (1 + 2 taper) / (3 (1 + taper)), where the chord is the mean chord."""
    sweep, taper, s = np.radians(20.0), 0.6, 0.7
    swept = half(wing(2 * s, 0.3, end_chord_m=0.3 * taper, sweep_deg=20.0))
    ybar = s * (1.0 + 2.0 * taper) / (3.0 * (1.0 + taper))
    expected = [0.075 + np.tan(sweep) * ybar, ybar, 0.0]
    np.testing.assert_allclose(swept.quarter_chord_centroid(), expected, atol=1e-12)
    assert swept.area == pytest.approx(0.5 * 0.3 * (1.0 + taper) * s)
    assert swept.centre_is_kinked


def test_sweep_is_that_of_the_quarter_chord_line_in_the_top_view() -> None:
    swept = half(wing(1.0, 0.3, end_chord_m=0.1, sweep_deg=25.0, dihedral_deg=10.0))
    s = np.array([0.0, swept.s[-1]])
    root, end = swept.points(s, np.full(2, 0.25))
    assert np.degrees(np.arctan2(end[0] - root[0], end[1] - root[1])) == pytest.approx(25.0)
    assert np.degrees(np.arctan2(end[2] - root[2], end[1] - root[1])) == pytest.approx(10.0)
    assert end[1] == pytest.approx(0.5)
    assert swept.s[-1] == pytest.approx(0.5 / np.cos(np.radians(10.0)))


def test_incidence_and_washout_are_the_chords_angle_to_the_x_axis() -> None:
    twisted = half(wing(incidence_deg=3.0, washout_deg=5.0))
    along = twisted.chord_directions(twisted.s)
    np.testing.assert_allclose(np.degrees(np.arctan2(-along[:, 2], along[:, 0])), [3.0, -2.0])
    np.testing.assert_allclose(twisted.leading_edge[0], ORIGIN)
    # The end turns about its own quarter chord, which lies as far out as with no washout.
    plain = half(wing(incidence_deg=3.0))
    at_end = [h.points(h.s[-1:], np.array([0.25]))[0] for h in (twisted, plain)]
    np.testing.assert_allclose(at_end[0], at_end[1], atol=1e-15)


def test_a_trapezoid_written_as_stations_is_the_same_wing() -> None:
    trapezoid = half(wing(1.0, 0.3, end_chord_m=0.2, sweep_deg=10.0, washout_deg=4.0))
    x_end = 0.075 + 0.5 * np.tan(np.radians(10.0)) - 0.05 * np.cos(np.radians(4.0))
    written = half(
        Wing(
            stations=(
                Station(y_m=0.0, x_m=0.0, chord_m=0.3),
                Station(
                    y_m=0.5,
                    x_m=float(x_end),
                    z_m=float(-0.05 * np.sin(np.radians(4.0))),
                    chord_m=0.2,
                    twist_deg=-4.0,
                ),
            )
        )
    )
    np.testing.assert_allclose(written.leading_edge, trapezoid.leading_edge, atol=1e-12)
    # Stations raised a little have a dihedral of their own, which tilts their chords' normals.
    np.testing.assert_allclose(written.chord_vector, trapezoid.chord_vector, atol=2e-4)


def test_a_tip_continues_the_wings_last_stretch_and_has_its_own_sweep() -> None:
    tips = Tips(span_m=0.4, end_chord_m=0.1, sweep_deg=30.0)
    whole = half(wing(1.0, 0.2, dihedral_deg=5.0, tips=tips))
    assert whole.hinge == 1
    quarter = whole.leading_edge + 0.25 * whole.chord_vector
    step = quarter[2] - quarter[1]
    assert np.degrees(np.arctan2(step[2], step[1])) == pytest.approx(5.0)
    assert np.degrees(np.arctan2(step[0], step[1])) == pytest.approx(30.0)
    assert whole.s[2] - whole.s[1] == pytest.approx(0.4)
    assert whole.part_area("tip") == pytest.approx(0.15 * 0.4 * np.cos(np.radians(5.0)))
    assert whole.part_area("main") + whole.part_area("tip") == pytest.approx(whole.area)


def test_frame_of_a_flat_tip() -> None:
    whole = half(wing(1.0, 0.2, dihedral_deg=5.0, tips=Tips(span_m=0.4, end_chord_m=0.2)))
    origin, axes = whole.tip_frame()
    np.testing.assert_allclose(origin, whole.leading_edge[1])
    np.testing.assert_allclose(axes.T @ axes, np.eye(3), atol=1e-14)
    assert np.linalg.det(axes) == pytest.approx(1.0)
    rise = np.radians(5.0)
    np.testing.assert_allclose(axes[:, 1], [0.0, np.cos(rise), np.sin(rise)], atol=1e-14)


def test_the_frame_of_a_tip_is_that_of_its_stretch_beside_the_hinge() -> None:
    """A tip that rises by 20 degrees beside the hinge and by 60 beyond: the outboard direction is
    that of the first stretch's quarter-chord line, less its part along the chord."""
    sine, cosine = np.sin(np.radians(20.0)), np.cos(np.radians(20.0))
    outline = (
        Station(y_m=0.0, x_m=0.0, z_m=0.0, chord_m=0.2),
        Station(y_m=0.1 * cosine, x_m=0.03, z_m=0.1 * sine, chord_m=0.12),
        Station(y_m=0.1 * cosine + 0.05, x_m=0.1, z_m=0.1 * sine + 0.087, chord_m=0.1),
    )  # fmt: skip
    whole = half(wing(0.5, 0.2, incidence_deg=4.0, tips=Tips(stations=outline)))
    origin, axes = whole.tip_frame()
    np.testing.assert_allclose(origin, whole.leading_edge[1])
    aft = np.array([np.cos(np.radians(4.0)), 0.0, -np.sin(np.radians(4.0))])
    np.testing.assert_allclose(axes[:, 0], aft, atol=1e-12)
    quarter = whole.leading_edge + 0.25 * whole.chord_vector
    step = quarter[2] - quarter[1]
    outboard = step - (step @ aft) * aft
    np.testing.assert_allclose(axes[:, 1], outboard / np.linalg.norm(outboard), atol=1e-12)
    assert np.degrees(np.arctan2(outboard[2], outboard[1])) == pytest.approx(20.0, abs=1.5)
    np.testing.assert_allclose(axes[:, 2], np.cross(axes[:, 0], axes[:, 1]), atol=1e-12)


def test_points_chords_and_tangents_of_a_tapered_wing_in_two_stretches() -> None:
    """Straight lines from station to station: read off by hand."""
    stations = (
        Station(y_m=0.0, x_m=0.0, chord_m=0.4),
        Station(y_m=0.5, x_m=0.1, chord_m=0.2),
        Station(y_m=0.9, x_m=0.3, chord_m=0.1),
    )
    flat = half(Wing(stations=stations))
    s, xi = np.array([0.25, 0.7, 0.5]), np.array([0.5, 0.25, 1.0])
    np.testing.assert_allclose(flat.chords(s), [0.3, 0.15, 0.2])
    x = [0.05 + 0.15, 0.2 + 0.25 * 0.15, 0.1 + 0.2]
    np.testing.assert_allclose(flat.points(s, xi)[:, :2], np.stack([x, s], axis=1))
    # dx/ds of the leading edge 0.2 and 0.5, of the chord -0.4 and -0.25; at a station as beyond it.
    slopes = [0.2 - 0.5 * 0.4, 0.5 - 0.25 * 0.25, 0.5 - 0.25]
    np.testing.assert_allclose(flat.spanwise_tangents(s, xi)[:, 0], slopes, atol=1e-15)
    np.testing.assert_allclose(flat.spanwise_tangents(s, xi)[:, 1], 1.0)
    assert flat.area == pytest.approx(0.15 + 0.06)
    # Centroid of chord times quarter-chord line: trapezoids' own rule over each stretch.
    fine = np.linspace(0.0, 0.9, 90001)
    chord = np.interp(fine, [0.0, 0.5, 0.9], [0.4, 0.2, 0.1])
    quarter = np.interp(fine, [0.0, 0.5, 0.9], [0.1, 0.15, 0.325])
    centroid = [np.trapezoid(chord * quarter, fine) / 0.21, np.trapezoid(chord * fine, fine) / 0.21]
    np.testing.assert_allclose(flat.quarter_chord_centroid()[:2], centroid, rtol=1e-8)


def test_the_turn_at_a_hinge_is_no_measure_of_its_neighbours() -> None:
    """A tip that is swept by 55 degrees more than its wing, and a station beside the hinge that
    turns by 15: less than a third of the hinge's turn, a corner all the same."""
    inboard = (
        Station(y_m=0.0, x_m=0.0, chord_m=0.2),
        Station(y_m=0.3, x_m=0.0, chord_m=0.2),
        Station(y_m=0.6, x_m=float(0.3 * np.tan(np.radians(15.0))), chord_m=0.2),
    )
    tip = Tips(span_m=0.2, end_chord_m=0.2, sweep_deg=70.0)
    whole = half(Wing(stations=inboard, tips=tip))
    assert whole.hinge == 2
    assert whole.corners == (1,)
    assert not whole.centre_is_kinked


def test_an_ellipse_of_many_stations_has_no_corner_and_a_kink_is_one() -> None:
    along = np.linspace(0.0, 0.5 * np.pi, 60)
    ellipse = tuple(
        Station(y_m=float(np.sin(t)), x_m=float(0.05 * (1 - c)), chord_m=float(0.2 * c))
        for t, c in zip(along, np.maximum(np.cos(along), 1e-3), strict=True)
    )
    assert half(Wing(stations=ellipse)).corners == ()
    kinked = (
        Station(y_m=0.0, x_m=0.0, chord_m=0.2),
        Station(y_m=0.4, x_m=0.0, chord_m=0.2),
        Station(y_m=0.8, x_m=0.2, chord_m=0.2),
    )
    assert half(Wing(stations=kinked)).corners == (1,)


@pytest.mark.parametrize(("said", "corners"), [(True, (1,)), (False, ()), (None, ())])
def test_a_station_may_say_itself_whether_it_is_a_corner(said, corners) -> None:
    stations = (
        Station(y_m=0.0, x_m=0.0, chord_m=0.2),
        Station(y_m=0.4, x_m=0.0, chord_m=0.2, corner=said),
        Station(y_m=0.8, x_m=0.0, chord_m=0.2),
    )
    assert half(Wing(stations=stations)).corners == corners


def test_a_tip_whose_first_chord_is_another_than_the_hinges_is_refused() -> None:
    """The file's own check stands before this one; a copy made in Python passes by it."""
    outline = (Station(y_m=0.0, x_m=0.0, chord_m=0.3), Station(y_m=0.2, x_m=0.0, chord_m=0.1))
    careless = wing().model_copy(update={"tips": Tips(stations=outline)})
    with pytest.raises(InputRefused, match=r"upper\.tips\.stations\.0\.chord_m = 0\.3; .* 0\.2 m"):
        half(careless)


def test_default_references_of_a_biplane() -> None:
    craft = biplane(gap=0.3, stagger=0.05, lower={"end_chord_m": 0.1})
    reference = build_cellule(craft).reference
    upper, lower = 1.4 * 0.2, 0.15
    assert reference.area == pytest.approx(upper + lower)
    assert reference.span == pytest.approx(1.4)
    assert reference.chord == pytest.approx((upper + lower) / 2.4)
    assert reference.aspect_ratio == pytest.approx(1.4**2 / (upper + lower))
    # Both quarter-chord lines are straight across: 0.05 m behind each root's leading edge.
    expected = [(upper * 0.05 + lower * 0.1) / (upper + lower), 0.0, -0.3 * lower / (upper + lower)]
    np.testing.assert_allclose(reference.moment_point, expected, atol=1e-12)


def test_references_of_the_file_stand_each_on_its_own() -> None:
    given = Reference(area_m2=0.5, span_m=2.0, chord_m=0.3, moment_point_m=(0.1, 0.2, 0.3))
    reference = build_cellule(biplane(reference=given)).reference
    assert (reference.area, reference.span, reference.chord) == (0.5, 2.0, 0.3)
    np.testing.assert_allclose(reference.moment_point, [0.1, 0.2, 0.3])
    only_area = build_cellule(biplane(reference=Reference(area_m2=0.5))).reference
    assert only_area.chord == pytest.approx(0.5 / 2.4)
    assert only_area.span == pytest.approx(1.4)


def test_moment_point_of_a_craft_with_masses_is_its_centre_of_gravity_with_flat_tips() -> None:
    mass = Mass(
        body_kg=2.0,
        body_centre_m=(0.1, 0.01, -0.1),
        body_inertia_kg_m2=(0.1, 0.1, 0.1),
        upper_tip={
            "mass_kg": 0.25,
            "centre_m": (0.08, 0.1, 0.02),
            "inertia_kg_m2": (0.001, 0.001, 0.001),
        },
    )
    reference = build_cellule(biplane(mass=mass)).reference
    # Both tips' centres lie 0.08 m aft of the leading edge at the hinge and 0.02 m above it.
    expected = np.array([2.0 * 0.1 + 0.5 * 0.08, 2.0 * 0.01, 2.0 * -0.1 + 0.5 * 0.02]) / 2.5
    np.testing.assert_allclose(reference.moment_point, expected, atol=1e-12)


def test_strips_are_shared_out_by_length_and_never_fewer_than_three() -> None:
    craft = biplane(tip=0.05)
    tip = half(craft.upper)
    pieces = pieces_of("upper", tip, 20)
    assert [(p.part, p.hinge_end) for p in pieces] == [("main", "end"), ("tip", "start")]
    assert sum(p.strips for p in pieces) == 20
    assert pieces[1].strips >= FEWEST_STRIPS
    long = pieces_of("upper", half(biplane(tip=0.5).upper), 21)
    # Equal lengths; the tip's strips crowd at both its ends, the wing's at one: sqrt(2) to 1.
    assert long[1].strips / long[0].strips == pytest.approx(np.sqrt(2.0), rel=0.1)


def test_a_shorter_wing_gets_its_share_of_the_strips() -> None:
    craft = Biplane(
        title="Sesquiplane",
        upper=wing(2.0),
        lower=wing(1.0),
        arrangement=Arrangement(gap_m=0.3),
    )
    counts = {
        p.wing: p.strips for p in build_cellule(craft, Grid(2, 20, span_law="cosine")).patches
    }
    assert counts == {"upper": 20, "lower": 10}
    # Matched, so that the end strips are equally wide: with the root of the length.
    counts = {p.wing: p.strips for p in build_cellule(craft, Grid(2, 20)).patches}
    assert counts == {"upper": 20, "lower": 14}


def test_lower_wing_stands_a_gap_below_and_a_stagger_behind() -> None:
    cellule = build_cellule(biplane(gap=0.3, stagger=0.07))
    np.testing.assert_allclose(cellule.halves["lower"].leading_edge[0], [0.07, 0.0, -0.3])
    np.testing.assert_allclose(cellule.halves["upper"].leading_edge[0], [0.0, 0.0, 0.0])


def test_a_hinge_line_that_leaves_the_wing_is_refused() -> None:
    craft = monoplane(0.2, 0.4, tips=Tips(span_m=0.05, end_chord_m=0.4, flare_deg=30.0))
    with pytest.raises(
        InputRefused, match=r"upper\.tips\.flare_deg = 30; .* leave the straight piece"
    ):
        build_cellule(craft)


def test_a_hinge_line_that_leaves_its_piece_at_a_corner_is_refused() -> None:
    """There is room to the centre and to the end, but a corner stands 10 mm inboard."""
    stations = (
        Station(y_m=0.0, x_m=0.0, chord_m=0.2),
        Station(y_m=0.49, x_m=0.0, chord_m=0.2, corner=True),
        Station(y_m=0.5, x_m=0.0, chord_m=0.2),
    )
    tips = Tips(span_m=0.3, end_chord_m=0.2, flare_deg=10.0)
    craft = Biplane(title="A corner", upper=Wing(stations=stations, tips=tips))
    with pytest.raises(
        InputRefused, match=r"it reaches 0\.0176 m along the span, 0\.01 m is there"
    ):
        build_cellule(craft)


@pytest.mark.parametrize("flare", [-40.0, -12.0, 12.0, 40.0])
@pytest.mark.parametrize("tip", [0.1, 0.3])
def test_strips_keep_a_width_however_the_hinge_slants(flare: float, tip: float) -> None:
    """Their edges share the hinge line's slant less and less away from it, and never cross."""
    craft = monoplane(0.4, 0.2, tips=Tips(span_m=tip, end_chord_m=0.2, flare_deg=flare))
    for patch in build_cellule(craft, Grid(4, 16)).patches[:2]:
        widths = np.diff(patch.nodes[..., 1], axis=1)
        assert np.all(widths > 0.05 * np.diff(patch.nodes[..., 1].mean(axis=0)))
        # The far end of each piece is not slanted at all.
        far = patch.nodes[:, 0 if patch.part == "main" else -1, 1]
        np.testing.assert_allclose(far, far[0], atol=1e-15)
        # Every control point stands between the edges of its strip at its own chord place.
        edges = np.stack(
            [
                np.interp(patch.controls[:, j, 0], patch.nodes[:, j, 0], patch.nodes[:, j, 1])
                for j in range(patch.strips)
            ],
            axis=1,
        )
        assert np.all(patch.controls[..., 1] > edges)


@pytest.mark.parametrize("xi", [0.0, 0.3, 1.0])
def test_tangents_are_differences_of_points(xi: float) -> None:
    """Both edges of a swept, tapered, twisted wing with dihedral are straight along the span."""
    shape = half(
        wing(
            end_chord_m=0.08, sweep_deg=20.0, dihedral_deg=6.0, washout_deg=5.0, incidence_deg=2.0,
        )
    )  # fmt: skip
    middles = 0.5 * (shape.s[1:] + shape.s[:-1])
    step, share = 1e-3 * np.diff(shape.s).min(), np.full(len(middles), xi)
    ahead, behind = shape.points(middles + step, share), shape.points(middles - step, share)
    expected = (ahead - behind) / (2.0 * step)
    np.testing.assert_allclose(shape.spanwise_tangents(middles, share), expected, atol=1e-10)
    assert np.abs(np.diff(shape.spanwise_tangents(middles[:1], np.array([0.0]))[0])).max() > 0.01


def test_a_tip_continues_the_quarter_chord_line_of_a_twisted_wing() -> None:
    """Washout turns chords about their quarter points, so that only their line shows the slope."""
    tips = Tips(span_m=0.3, end_chord_m=0.1)
    shape = half(wing(end_chord_m=0.12, dihedral_deg=6.0, washout_deg=8.0, tips=tips))
    quarters = shape.points(shape.s[[0, -2, -1]], np.full(3, 0.25))
    inboard, tip = quarters[1] - quarters[0], quarters[2] - quarters[1]
    assert np.degrees(np.arctan2(inboard[2], inboard[1])) == pytest.approx(6.0)
    assert np.degrees(np.arctan2(tip[2], tip[1])) == pytest.approx(6.0)


def test_a_rectangles_centroid_does_not_mind_how_many_stations_it_has() -> None:
    """Halfway out on the quarter-chord line, whatever the stations in between."""
    stations = tuple(Station(y_m=y, x_m=0.0, chord_m=0.2) for y in (0.0, 0.1, 0.2, 0.6))
    shape = half(Wing(stations=stations))
    np.testing.assert_allclose(shape.quarter_chord_centroid(), [0.05, 0.3, 0.0], atol=1e-12)
