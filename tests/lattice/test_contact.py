"""Tips that meet other surfaces: joined, kept apart, or refused with the angle at which they meet.

The angles are plane trigonometry on rectangular craft: a tip of length t whose hinge stands at
half the fixed span, over a lower wing whose end lies d further out and the gap g below it, meets
that end at atan2(g, d), and its end meets a wide lower wing at asin(g / t).
"""

import re

import numpy as np
import pytest
from core_craft import SMALL, biplane, lattice_of, monoplane, wing

from vlm.description.folds import FoldAngles
from vlm.description.models import Arrangement, Biplane, Tips
from vlm.errors import InputRefused
from vlm.lattice.cellule import Grid
from vlm.lattice.collisions import Crossing, first_meeting
from vlm.lattice.contact import Edge, overlap_gap
from vlm.lattice.distances import point_triangle_distances, segments_cross
from vlm.lattice.lattice import build_lattice
from vlm.lattice.outlines import pulled_in
from vlm.loads.coefficients import coefficients, derivatives
from vlm.loads.craft_loads import craft_loads, loads_of_state
from vlm.loads.state import FlightState

STATE = FlightState(alpha=float(np.radians(4.0)))


def box(gap_error: float = 0.0, tip: float = 0.3, **keys) -> Biplane:
    """Tips as long as the gap, which close a box at -90 degrees; the gap wider by an error [m]."""
    return biplane(gap=tip + gap_error, tip=tip, **keys)


def angle_of_meeting(craft: Biplane, left: float, right: float | None = None) -> tuple[str, float]:
    """The refusal's words and the angle it names."""
    with pytest.raises(InputRefused) as refusal:
        lattice_of(craft, left, right)
    message = str(refusal.value)
    angle = re.search(r"they touch at (-?[\d.]+) degrees; stay inside that angle", message)
    assert angle is not None, message
    return message, float(angle[1])


# --- joined ----------------------------------------------------------------------------------


def test_a_tip_that_closes_a_box_is_joined_node_by_node() -> None:
    lattice = lattice_of(box(), -90.0)
    assert lattice.is_joined
    assert {j.tip for j in lattice.joints} == {"upper_right", "upper_left"}
    assert {j.other for j in lattice.joints} == {"lower right", "lower left"}
    assert all(j.closed and j.matched for j in lattice.joints)
    for side in ("right", "left"):
        tip = next(p for p in lattice.patches if p.body == f"upper_{side}")
        other = next(p for p in lattice.patches if p.wing == "lower" and p.side == side)
        np.testing.assert_array_equal(tip.nodes[:, -1], other.nodes[:, -1])


def test_one_side_may_close_alone() -> None:
    lattice = lattice_of(box(), 0.0, -90.0)
    assert [(j.tip, j.closed) for j in lattice.joints] == [("upper_right", True)]


@pytest.mark.parametrize("error", [1.5e-4, -1.5e-4])
def test_contact_within_a_thousandth_of_the_chord_is_joined(error: float) -> None:
    lattice = lattice_of(box(error), -90.0)
    assert lattice.is_joined
    assert lattice.joints[0].gap == pytest.approx(abs(error), rel=1e-6)
    tip = next(p for p in lattice.patches if p.body == "upper_right")
    other = next(p for p in lattice.patches if p.wing == "lower" and p.side == "right")
    np.testing.assert_array_equal(tip.nodes[:, -1], other.nodes[:, -1])


def test_loads_of_a_box_do_not_mind_how_exactly_its_ends_meet() -> None:
    """Without the weld, ends 0.01 mm apart give lift several times too large."""
    lifts = [
        coefficients(craft_loads(lattice_of(box(error), -90.0)), STATE).CL
        for error in (0.0, 1e-5, -1e-5, 1e-9)
    ]
    assert 0.0 < lifts[0] < 2.0 * np.pi * np.radians(4.0)
    np.testing.assert_allclose(lifts, lifts[0], rtol=2e-4)


def test_a_staggered_tip_is_put_on_the_others_line_where_rows_do_not_meet() -> None:
    craft = box(lower={"root_chord_m": 0.25, "end_chord_m": 0.25})
    lattice = lattice_of(craft, -90.0)
    assert lattice.is_joined
    assert not lattice.joints[0].matched
    tip = next(p for p in lattice.patches if p.body == "upper_right")
    np.testing.assert_allclose(tip.nodes[:, -1, 1:], [[0.5, -0.3]] * 4, atol=1e-15)
    assert np.isfinite(coefficients(craft_loads(lattice), STATE).CL)


def test_a_joined_tip_has_no_derivative_with_its_fold() -> None:
    slopes = derivatives(craft_loads(lattice_of(box(), -90.0)), STATE)["body"]
    assert np.isnan(slopes["CL_fold_left"])
    assert np.isnan(slopes["Cl_fold_right"])
    assert np.isfinite(slopes["Cl_beta"])


def twins(error: float = 0.0) -> Biplane:
    """Tips on both wings, each half as long as the gap, that meet between the wings."""
    return biplane(
        gap=0.4 + error,
        tips={"linkage": 1.0},
        lower={"tips": Tips(span_m=0.2, end_chord_m=0.2, linkage=-1.0)},
    )


@pytest.mark.parametrize("error", [0.0, 1e-4, -1e-4])
def test_tips_that_meet_each_other_are_welded_at_one_line(error: float) -> None:
    lattice = lattice_of(twins(error), -90.0)
    assert sorted(j.tip for j in lattice.joints) == [
        "lower_left", "lower_right", "upper_left", "upper_right",
    ]  # fmt: skip
    assert lattice.is_joined
    for side in ("right", "left"):
        ends = [p.nodes[:, -1] for p in lattice.patches if p.part == "tip" and p.side == side]
        np.testing.assert_array_equal(ends[0], ends[1])


def test_loads_of_twins_do_not_mind_how_exactly_they_meet() -> None:
    lifts = [
        coefficients(craft_loads(lattice_of(twins(error), -90.0)), STATE).CL
        for error in (0.0, 1e-5, -1e-5)
    ]
    np.testing.assert_allclose(lifts, lifts[0], rtol=2e-4)


# --- kept apart ------------------------------------------------------------------------------


def test_a_narrow_gap_is_kept_with_strips_crowded_harder_at_it() -> None:
    """The strips of the common law are wider than 3 mm at the end, those of the harder one not."""
    lattice = lattice_of(box(0.003), -90.0)
    assert not lattice.is_joined
    assert lattice.grid.span_law == "graded"
    tip = next(p for p in lattice.patches if p.body == "upper_right")
    assert tip.nodes[:, -1, 2].min() == pytest.approx(-0.3)
    ends = [p.width[-1] for p in lattice.patches if p.wing == "lower"]
    assert max(ends) < 0.003 < lattice_of(box(), -90.0).patches[1].width[-1]


def test_a_gap_below_the_last_strips_width_is_reported_as_an_open_joint() -> None:
    lattice = lattice_of(box(0.0004), -90.0)
    assert [j.closed for j in lattice.joints] == [False, False]
    assert lattice.joints[0].gap == pytest.approx(0.0004, rel=1e-9)


def test_a_law_that_was_asked_for_is_kept_with_the_gap() -> None:
    lattice = build_lattice(box(0.004), FoldAngles(-90.0, -90.0), Grid(3, 10, span_law="uniform"))
    assert lattice.grid.span_law == "uniform"


def test_a_wide_gap_is_no_joint() -> None:
    lattice = lattice_of(box(0.05), -90.0)
    assert lattice.joints == ()
    assert lattice.grid.span_law == "matched"


def test_a_flat_tip_has_no_joint() -> None:
    assert lattice_of(box()).joints == ()


def test_contact_is_not_the_limit_of_a_small_gap_but_near_it() -> None:
    """A gap lets the load fall to zero at both ends: less lift than the closed box."""
    grid = Grid(4, 16)
    closed, open_ = (
        coefficients(craft_loads(build_lattice(box(gap), FoldAngles(-90.0, -90.0), grid)), STATE).CL
        for gap in (0.0, 0.002)
    )
    assert 0.94 * closed < open_ < 0.999 * closed


# --- refused ---------------------------------------------------------------------------------


def test_the_end_of_a_long_tip_meets_a_wide_lower_wing_at_its_arcsine() -> None:
    craft = biplane(gap=0.2, tip=0.25, lower={"span_m": 1.6})
    message, angle = angle_of_meeting(craft, -80.0)
    assert angle == pytest.approx(-np.degrees(np.arcsin(0.2 / 0.25)), abs=0.1)
    assert abs(angle) < np.degrees(np.arcsin(0.2 / 0.25))
    assert "tip meets the lower wing: on the way to a fold of -80 degrees" in message


@pytest.mark.parametrize("further", [0.05, 0.1])
def test_a_tip_meets_the_end_of_a_lower_wing_that_reaches_further(further: float) -> None:
    craft = biplane(gap=0.2, tip=0.3, lower={"span_m": 1.0 + 2.0 * further})
    _, angle = angle_of_meeting(craft, -100.0)
    assert angle == pytest.approx(-np.degrees(np.arctan2(0.2, further)), abs=0.1)


def test_a_lower_tip_meets_the_upper_wing_on_its_way_up() -> None:
    craft = Biplane(
        title="Tips below",
        upper=wing(1.2),
        lower=wing(1.0, tips=Tips(span_m=0.3, end_chord_m=0.2)),
        arrangement=Arrangement(gap_m=0.2),
    )
    message, angle = angle_of_meeting(craft, 90.0)
    assert angle == pytest.approx(np.degrees(np.arctan2(0.2, 0.1)), abs=0.1)
    assert message.startswith("the lower ")
    assert "tip meets the upper wing" in message


def test_a_tip_just_inside_the_angle_is_built() -> None:
    craft = biplane(gap=0.2, tip=0.3, lower={"span_m": 1.2})
    _, angle = angle_of_meeting(craft, -100.0)
    lattice_of(craft, angle + 0.1)
    with pytest.raises(InputRefused):
        lattice_of(craft, angle - 0.1)


def test_the_side_that_meets_is_named_with_its_own_angle() -> None:
    """Both sides turn together; port, turned further, is the first to meet."""
    craft = biplane(gap=0.2, tip=0.25, lower={"span_m": 1.6})
    message, angle = angle_of_meeting(craft, -80.0, -60.0)
    assert message.startswith("the upper port tip meets the lower wing")
    assert angle == pytest.approx(-np.degrees(np.arcsin(0.8)), abs=0.1)
    message, _ = angle_of_meeting(craft, -60.0, -80.0)
    assert message.startswith("the upper starboard tip meets the lower wing")


def test_a_fold_behind_another_wing_is_refused_though_it_is_clear() -> None:
    """At -150 degrees the tip lies between the wings, where it can't have come."""
    craft = biplane(gap=0.2, tip=0.3, lower={"span_m": 1.1})
    message, angle = angle_of_meeting(craft, 0.0, -150.0)
    assert message.startswith("the upper starboard tip meets the lower wing")
    assert angle == pytest.approx(-np.degrees(np.arctan2(0.2, 0.05)), abs=0.1)


def test_a_short_tip_folds_under_its_wing_unhindered() -> None:
    assert lattice_of(biplane(gap=0.3, tip=0.25), -170.0).joints == ()


def test_tips_that_cross_each_other_over_the_wing_are_refused() -> None:
    """Each longer than half the fixed span: turned right over they meet at the centreline."""
    craft = monoplane(0.5, 0.1, tips=Tips(span_m=0.4, end_chord_m=0.1))
    message, angle = angle_of_meeting(craft, 160.0)
    assert "tip meets the upper" in message
    assert angle == pytest.approx(180.0 - np.degrees(np.arccos(0.25 / 0.4)), abs=0.2)


def test_a_tip_that_lies_on_a_wing_is_touching_it() -> None:
    """Its end stands on the lower wing's surface, inboard of the end: no joint."""
    craft = biplane(gap=0.3, tip=0.3, lower={"span_m": 1.2})
    _, angle = angle_of_meeting(craft, -90.0)
    # An end that rises with the square of the angle is within the contact's 0.2 mm early.
    assert angle == pytest.approx(-90.0 + np.degrees(np.arccos(1.0 - 2e-4 / 0.3)), abs=0.3)


def test_fixed_wings_that_meet_are_refused_with_flat_tips() -> None:
    craft = biplane(gap=0.05, lower={"dihedral_deg": 15.0})
    with pytest.raises(
        InputRefused, match="the upper wing meets the lower wing with the tips flat"
    ):
        lattice_of(craft)


def test_flat_tips_that_lie_in_a_raised_lower_wing_are_refused() -> None:
    craft = biplane(gap=0.15, lower={"span_m": 1.4, "dihedral_deg": 15.0})
    with pytest.raises(InputRefused, match=r"meets the .* with the tips flat; set a larger gap"):
        lattice_of(craft)


# --- geometry behind it ----------------------------------------------------------------------


def test_distance_of_a_point_from_a_triangle_against_a_fine_search() -> None:
    random = np.random.default_rng(7)
    faces = random.normal(size=(6, 3, 3))
    points = 2.0 * random.normal(size=(9, 3))
    found = point_triangle_distances(points, faces)
    u, v = np.meshgrid(np.linspace(0, 1, 401), np.linspace(0, 1, 401))
    keep = u + v <= 1.0
    weights = np.stack([1.0 - u[keep] - v[keep], u[keep], v[keep]], axis=1)
    for j, face in enumerate(faces):
        cloud = weights @ face
        for i, point in enumerate(points):
            nearest = np.linalg.norm(cloud - point, axis=1).min()
            assert found[i, j] <= nearest + 1e-12
            assert found[i, j] == pytest.approx(nearest, abs=0.01)


def test_distance_from_a_triangle_without_area_is_that_from_its_longest_side() -> None:
    line = np.array([[[0.0, 0.0, 0.0], [1.0, 0.0, 0.0], [0.4, 0.0, 0.0]]])
    found = point_triangle_distances(np.array([[0.5, 0.3, 0.0], [2.0, 0.0, 0.0]]), line)
    np.testing.assert_allclose(found[:, 0], [0.3, 1.0])


def test_a_segment_crosses_a_triangle_or_passes_beside_it() -> None:
    face = np.array([[[0.0, 0.0, 0.0], [1.0, 0.0, 0.0], [0.0, 1.0, 0.0]]])

    def crosses(start: list[float], end: list[float]) -> bool:
        return segments_cross(np.array([start]), np.array([end]), face)

    assert crosses([0.2, 0.2, -1.0], [0.2, 0.2, 1.0])
    assert not crosses([0.8, 0.8, -1.0], [0.8, 0.8, 1.0])
    assert not crosses([0.2, 0.2, 0.1], [0.2, 0.2, 1.0])
    assert not crosses([0.1, 0.1, 0.0], [0.3, 0.1, 0.0])


def test_the_small_grid_is_what_the_checks_above_say() -> None:
    """Their tolerances are in parts of the end strip's width."""
    assert (SMALL.rows, SMALL.strips) == (3, 10)


# --- the pieces -------------------------------------------------------------------------------


def edge_at(angle_deg: float, height: float = 0.0) -> Edge:
    """An edge of length 1 from the origin, turned in the horizontal plane."""
    angle = np.radians(angle_deg)
    lead = np.array([0.0, 0.0, height])
    trail = lead + np.array([np.cos(angle), np.sin(angle), 0.0])
    return Edge(0, lead, trail, np.stack([lead, trail]))


@pytest.mark.parametrize("turn", [0.0, 10.0, 19.0, 21.0, 40.0, 90.0, 161.0, 179.0])
def test_edges_at_more_than_20_degrees_do_not_lie_along_each_other(turn: float) -> None:
    """Their gap is the sine of the turn at the far end, any text on triangles."""
    found = overlap_gap(edge_at(turn), edge_at(0.0))
    if 20.0 < turn < 160.0:
        assert found is None
    elif turn < 20.0:
        far = np.cos(np.radians(turn))  # the overlap ends under the turned edge's end
        assert found == pytest.approx(far * np.sin(np.radians(turn)), abs=1e-12)
    else:
        assert found is None  # they point away from each other: no overlap


def test_parallel_edges_are_their_distance_apart() -> None:
    assert overlap_gap(edge_at(0.0, 0.25), edge_at(0.0)) == pytest.approx(0.25)


def test_an_outline_is_pulled_in_by_the_amount_and_no_further_than_the_middle() -> None:
    """Rows at y = 0, 1, 3: the inboard edge moves by the amount, the outboard one if asked."""
    y = np.array([0.0, 1.0, 3.0])
    table = np.stack([np.zeros((2, 3)), np.tile(y, (2, 1)), np.zeros((2, 3))], axis=-1)
    np.testing.assert_allclose(pulled_in(table, 0.2, outboard=False)[0, :, 1], [0.2, 1.0, 3.0])
    np.testing.assert_allclose(pulled_in(table, 0.2, outboard=True)[0, :, 1], [0.2, 1.0, 2.8])
    np.testing.assert_allclose(pulled_in(table, 9.0, outboard=True)[0, :, 1], [0.5, 1.0, 2.0])


@pytest.mark.parametrize("largest", [1e-3, 0.2, 2.0])
def test_the_first_meeting_is_found_however_short_the_way(largest: float) -> None:
    """Surfaces that meet from 0.3 of the way on."""
    crossing = Crossing("tip", "upper_right", "wing")
    share, found = first_meeting(lambda share: crossing if share >= 0.3 else None, largest)
    assert found is crossing
    assert share == pytest.approx(0.3, abs=1e-6)


@pytest.mark.parametrize("chord", [0.19, 0.17, 0.15, 0.12])
def test_a_tip_of_another_chord_closes_the_box_with_any_wake(chord: float) -> None:
    """Ahead of the other's trailing edge only the difference of both ends' vortices is one. A leg
    that left the shorter end along the stream passed the other's end and gave 16 to 27 % of lift.
    The wake's direction moves a closed box by about a thousandth; drag has two independent routes.
    """
    craft = biplane(gap=0.2, tips={"end_chord_m": chord})
    for grid in (Grid(6, 16), Grid(10, 28)):
        lattice = lattice_of(craft, -90.0, grid=grid)
        assert lattice.is_joined
        stream = coefficients(loads_of_state(lattice, STATE, fold_rates=False), STATE)
        axis = coefficients(craft_loads(lattice, fold_rates=False), STATE)
        assert pytest.approx(axis.CL, rel=0.01) == stream.CL
        assert stream.CDi_surface == pytest.approx(stream.CDi, rel=0.02)
