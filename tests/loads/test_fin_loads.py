"""Loads of fins: alone, on wings, in the plane of symmetry; against theory and by other ways."""

from math import pi, sqrt
from typing import Any

import numpy as np
import pytest
from core_craft import monoplane
from fin_craft import COARSE, FAR, alone, force_on, lattice, plate, two_wings
from scipy import linalg

from vlm.air import standard_air
from vlm.description.folds import FoldAngles
from vlm.description.models import Biplane, Reference
from vlm.flow.direction import CRAFT_AXIS
from vlm.flow.kernel_plain import ring_velocities
from vlm.flow.onset import onset_velocities
from vlm.flow.solve import normal_onset, unit_flows
from vlm.lattice.cellule import Grid
from vlm.loads.coefficients import coefficients, contracted, derivatives
from vlm.loads.craft_loads import CraftLoads, craft_loads, loads_of_state
from vlm.loads.fold_engine import FoldEngine
from vlm.loads.relaxed_loads import relaxed_loads
from vlm.loads.segment_forces import patch_forces
from vlm.loads.segments import surface_segments, surface_strengths
from vlm.loads.state import FlightState
from vlm.sections.coupling import couple_strips, strip_onset
from vlm.sections.sectioned import sectioned_lattice
from vlm.sections.strip_forces import strip_forces

AHEAD = FlightState()
TILTED, SLIPPING = (float(np.radians(a)) for a in (4.0, 3.0))
BETWEEN: dict[str, Any] = {"joined_to": "lower", "end_joined_to": "upper"}
KEEL = plate(name="keel", x_m=0.7, z_m=-0.3, span_m=0.25, sweep_deg=20.0, end_chord_m=0.12)
TIPS = {"tips": {"span_m": 0.15, "end_chord_m": 0.2}}


def slopes(craft: Biplane, grid: Grid = COARSE, state: FlightState = AHEAD) -> dict[str, float]:
    return derivatives(craft_loads(lattice(craft, grid=grid)), state)["body"]


# --- alone ---------------------------------------------------------------------------------


@pytest.mark.parametrize("mirrored", [True, False])
def test_a_fin_alone_is_a_wing_turned_by_a_right_angle(mirrored: bool) -> None:
    # The fin has the wing's planform and strips: its side force in sideslip is the wing's lift.
    grid = Grid(4, 10, span_law="cosine")
    rising, slipping = FlightState(alpha=TILTED), FlightState(beta=TILTED)
    bare = loads_of_state(lattice(monoplane(), grid=grid), rising)
    lift, drag = (force_on(bare, rising, "upper")[i] for i in (2, 0))
    found = lattice(alone(plate(span_m=1.0, z_m=FAR)), grid=grid)
    side = force_on(loads_of_state(found, slipping, use_mirror=mirrored), slipping, "plate")
    assert side[1] == pytest.approx(-lift, rel=1e-9)
    assert side[0] == pytest.approx(drag, rel=1e-9)
    assert side[2] == pytest.approx(0.0, abs=1e-12)


def test_a_tailplane_alone_is_a_wing() -> None:
    fin = plate(span_m=0.5, z_m=FAR, dihedral_deg=20.0, sweep_deg=15.0)
    sweep = float(np.degrees(np.arctan(np.tan(np.radians(15.0)) / np.cos(np.radians(20.0)))))
    keys = {"dihedral_deg": 20.0, "sweep_deg": sweep}
    craft = alone(fin, **keys, span=float(np.cos(np.radians(20.0))))
    state = FlightState(alpha=TILTED, beta=SLIPPING)
    loads = loads_of_state(lattice(craft), state)
    np.testing.assert_allclose(
        force_on(loads, state, "plate"), force_on(loads, state, "upper"), rtol=2e-6, atol=1e-12
    )


@pytest.mark.parametrize(
    ("ratio", "grid"), [(0.1, Grid(8, 12)), (0.25, Grid(8, 14)), (0.5, Grid(8, 16))]
)
def test_jones_1946_slender_fins(ratio: float, grid: Grid) -> None:
    # R. T. Jones, NACA Report 835 (1946), from memory: a slender wing has the lift slope pi A / 2.
    # Helmbold's form (1942, from memory), 2 pi A / (2 + sqrt(4 + A^2)), goes over to it.
    fin = plate(span_m=0.2 * ratio, z_m=FAR)
    slope = -slopes(alone(fin, span=0.2 * ratio), grid)["CY_beta"]
    assert slope == pytest.approx(2.0 * pi * ratio / (2.0 + sqrt(4.0 + ratio**2)), rel=0.02)
    assert slope == pytest.approx(pi * ratio / 2.0, rel=0.02 + 0.27 * ratio)


def test_tuck_1993_square_fin() -> None:
    # E. O. Tuck, SIAM J. Sci. Comput. 14 (1993): the lift slope of the square plate is 1.46023.
    found = slopes(alone(plate(span_m=0.2, z_m=FAR), span=0.2), Grid(12, 16))
    assert -found["CY_beta"] == pytest.approx(1.46023, rel=1e-3)


def test_the_yawing_moment_of_a_fin_is_its_force_at_its_aerodynamic_centre() -> None:
    # Rectangle of aspect ratio 6: slope 4.214635, aerodynamic centre at 0.238809 chords
    # (extrapolated lifting-surface values of an independent solver).
    span, place = 1.2, 0.9
    craft = alone(plate(x_m=place, span_m=span, z_m=FAR), span=span)
    found = slopes(craft, Grid(8, 20))
    arm = place + 0.238809 * 0.2
    assert found["CY_beta"] == pytest.approx(-4.214635, rel=1e-3)
    assert found["Cn_beta"] == pytest.approx(4.214635 * arm / span, rel=1e-3)
    moved = craft.model_copy(update={"reference": Reference(moment_point_m=(0.3, 0.0, 0.0))})
    change = slopes(moved, Grid(8, 20))["Cn_beta"] - found["Cn_beta"]
    assert change == pytest.approx(found["CY_beta"] * 0.3 / span, rel=1e-9)


def test_a_pair_set_at_an_incidence_lifts_across_itself() -> None:
    # Plates far apart that lean 45 degrees and are turned by the same small angle: the same force
    # up as inboard, by plane geometry.
    fin = plate(y_m=FAR, span_m=1.0, dihedral_deg=45.0, incidence_deg=2.0)
    loads = craft_loads(lattice(alone(fin)))
    amounts = AHEAD.amounts(loads.reference, loads.columns)
    found = loads.tables(AHEAD).wrench
    own = next(i for i, p in enumerate(loads.lattice.patches) if p.wing == "plate")
    force = np.einsum("a,abr,b->r", amounts, found[own], amounts)
    assert force[2] > 0.0
    assert force[1] == pytest.approx(-force[2], rel=1e-6)
    assert abs(coefficients(loads, AHEAD).CY) < 1e-12


# --- in the plane of symmetry --------------------------------------------------------------


def test_a_fin_in_the_plane_of_symmetry_is_the_one_that_stands_there_once() -> None:
    # Another way: the matrix without the fin's port copy, from the plain kernel, nothing mirrored.
    found = lattice(two_wings(upper=TIPS, fins=(KEEL,)), -20.0, 30.0)
    once = [p for p in found.patches if not (p.on_plane and p.side == "left")]
    points = np.concatenate([p.controls.reshape(-1, 3) for p in once])
    normals = np.concatenate([p.normals.reshape(-1, 3) for p in once])
    columns = [
        np.einsum("mcn,mc->mn", ring_velocities(points, p.nodes, CRAFT_AXIS, p.sense), normals)
        for p in once
    ]
    onset = np.concatenate(
        [np.einsum("mcq,mc->mq", onset_velocities(found, p, p.controls.reshape(-1, 3)),
                   p.normals.reshape(-1, 3)) for p in once]
    )  # fmt: skip
    expected = linalg.solve(np.concatenate(columns, axis=1), -onset)
    solved = unit_flows(found).circulation
    first = 0
    for index, patch in enumerate(found.patches):
        if patch.on_plane and patch.side == "left":
            continue
        own = expected[first : first + patch.panels] * patch.share
        first += patch.panels
        np.testing.assert_allclose(solved[found.panels_of(index)], own, rtol=1e-9, atol=1e-11)


ALL_FINS = (
    plate(name="centre", **BETWEEN),
    KEEL.model_copy(update={"z_m": 0.05}),
    plate(name="aft", x_m=0.06, y_m=0.3, **BETWEEN),
    plate(name="tail", x_m=1.1, z_m=-0.1, span_m=0.3, dihedral_deg=10.0, incidence_deg=2.0),
)


@pytest.mark.parametrize("fold", [0.0, -40.0])
def test_halves_and_the_whole_agree(fold: float) -> None:
    found = lattice(two_wings(upper=TIPS, fins=ALL_FINS), fold)
    state = FlightState(alpha=TILTED, beta=SLIPPING, p_hat=0.02, r_hat=0.01)
    both = [craft_loads(found, use_mirror=mirror) for mirror in (True, False)]
    assert both[0].condition != both[1].condition
    one, two = (derivatives(loads, state)["body"] for loads in both)
    assert one == pytest.approx(two, rel=1e-9, abs=1e-10)
    one, two = (vars(coefficients(loads, state)) for loads in both)
    assert one == pytest.approx(two, rel=1e-9, abs=1e-10)
    np.testing.assert_allclose(both[0].circulation, both[1].circulation, atol=1e-10)


def test_a_symmetric_flow_does_not_load_the_plane_of_symmetry() -> None:
    craft = two_wings(fins=(KEEL,))
    bare = lattice(two_wings(fins=(KEEL,)))
    state = FlightState(alpha=TILTED)
    loads = loads_of_state(bare, state)
    assert force_on(loads, state, "keel") == pytest.approx(np.zeros(3), abs=1e-15)
    assert slopes(craft)["CY_beta"] < -0.05


def test_derivatives_are_those_of_differences() -> None:
    craft = two_wings(upper=TIPS, fins=ALL_FINS)
    found, step = lattice(craft, -30.0, 10.0), 1e-4
    exact = derivatives(loads_of_state(found, FlightState(alpha=TILTED)),
                        FlightState(alpha=TILTED))["body"]  # fmt: skip

    def at(beta: float) -> Any:
        state = FlightState(alpha=TILTED, beta=beta)
        return coefficients(loads_of_state(found, state), state)

    for name in ("CY", "Cl", "Cn"):
        slope = (getattr(at(step), name) - getattr(at(-step), name)) / (2.0 * step)
        assert exact[f"{name}_beta"] == pytest.approx(slope, rel=1e-5, abs=1e-7)


def test_rates_with_fold_are_those_of_differences() -> None:
    craft, step = two_wings(upper=TIPS, fins=ALL_FINS), 1e-3
    state = FlightState(alpha=TILTED)

    def at(right: float) -> CraftLoads:
        return craft_loads(lattice(craft, -30.0, right))

    exact = derivatives(at(10.0), state)["body"]
    high, low = (coefficients(at(10.0 + d), state) for d in (step, -step))
    for name in ("CL", "Cl", "Cn"):
        slope = (getattr(high, name) - getattr(low, name)) / np.radians(2.0 * step)
        assert exact[f"{name}_fold_right"] == pytest.approx(slope, rel=1e-4, abs=1e-7)


def test_a_relaxed_wake_of_a_keel_at_a_small_angle_is_the_straight_one() -> None:
    found = lattice(two_wings(fins=(KEEL,)), grid=Grid(3, 10))
    state = FlightState(beta=float(np.radians(0.5)))
    relaxed, straight = (
        coefficients(loads, state).CY
        for loads in (relaxed_loads(found, state), loads_of_state(found, state))
    )
    assert relaxed == pytest.approx(straight, rel=2e-3)


# --- with wings ----------------------------------------------------------------------------

# Exact least induced drag, span efficiency on the larger span (theory of the far-field plane, eight
# digits, an independent computation).
BOXES = {0.1: 1.26796700, 0.2: 1.47167360}
WINGLETS = {0.1: 1.21891876, 0.2: 1.41850607}


@pytest.mark.parametrize("gap", BOXES)
def test_two_wings_with_plates_between_their_ends_are_a_box(gap: float) -> None:
    closed = two_wings(gap, fins=(plate(y_m=0.5, **BETWEEN),))
    best = craft_loads(lattice(closed, grid=Grid(2, 40))).best_efficiency
    assert best == pytest.approx(BOXES[gap], rel=2e-4)


def test_a_box_of_plates_is_that_of_folded_tips() -> None:
    closed = two_wings(fins=(plate(y_m=0.5, **BETWEEN),))
    tips = {"tips": {"span_m": 0.2, "end_chord_m": 0.2}}
    reference = Reference(area_m2=0.4, span_m=1.0, chord_m=0.2, moment_point_m=(0.05, 0.0, -0.1))
    folded = two_wings(upper=tips, reference=reference)
    state = FlightState(alpha=TILTED)
    plates = closed.model_copy(update={"reference": reference})
    one = derivatives(loads_of_state(lattice(plates, grid=Grid(6, 24)), state), state)["body"]
    two = derivatives(
        loads_of_state(lattice(folded, -90.0, grid=Grid(6, 34)), state, fold_rates=False), state
    )["body"]
    for name in ("CL_alpha", "CY_beta", "Cl_p", "Cm_q"):
        assert one[name] == pytest.approx(two[name], rel=2e-3)
    assert one["Cn_beta"] == pytest.approx(two["Cn_beta"], abs=1e-3)


@pytest.mark.parametrize("height", WINGLETS)
def test_plates_up_from_the_ends_of_a_wing_are_winglets(height: float) -> None:
    fin = plate(y_m=0.5, span_m=height, joined_to="upper")
    craft = monoplane().model_copy(update={"fins": (fin,)})
    best = craft_loads(lattice(craft, grid=Grid(2, 40))).best_efficiency
    assert best == pytest.approx(WINGLETS[height], rel=3e-4)


def test_hoerner_1965_end_plates_of_a_wing() -> None:
    # S. F. Hoerner, Fluid-Dynamic Drag (1965), from memory: plates of the height h centred on the
    # ends raise the effective aspect ratio to A (1 + 1.9 h / b), after Mangler's theory and tests;
    # an independent far-field solver has 1.3818 at h / b = 0.2.
    both = tuple(
        plate(name=name, y_m=0.5, span_m=0.1, joined_to="upper", dihedral_deg=way)
        for name, way in (("over", 90.0), ("under", -90.0))
    )
    craft = monoplane().model_copy(update={"fins": both})
    loads = craft_loads(lattice(craft, grid=Grid(6, 40)))
    assert loads.best_efficiency == pytest.approx(1.3818, rel=5e-4)
    # ... and with it the lift slope, by Helmbold's form for the higher aspect ratio (D. R. Riley,
    # NACA TN 2440, 1951: tests in fair agreement with that, summary read).
    ratio = 5.0 * (1.0 + 1.9 * 0.2)
    slope = derivatives(loads, AHEAD)["body"]["CL_alpha"]
    assert slope == pytest.approx(2.0 * pi * ratio / (2.0 + sqrt(4.0 + ratio**2)), rel=0.03)
    assert slope > 1.1 * slopes(monoplane(), Grid(6, 40))["CL_alpha"]


def test_plates_in_the_middle_of_equal_wings_carry_nothing_in_symmetric_flow() -> None:
    # The circulation of both wings goes on from port to starboard: no jump at the plate's root.
    craft, bare = two_wings(fins=(plate(**BETWEEN),)), two_wings()
    state = FlightState(alpha=TILTED)
    one, two = (coefficients(loads_of_state(lattice(c, grid=Grid(6, 24)), state), state)
                for c in (craft, bare))  # fmt: skip
    for name in ("CL", "CDi"):
        assert getattr(one, name) == pytest.approx(getattr(two, name), rel=1e-3)


@pytest.mark.parametrize("offset", [0.0, 0.06])
def test_near_and_far_field_agree_about_the_drag_of_a_craft_with_joined_plates(
    offset: float,
) -> None:
    # Rows that meet, where three surfaces share the force on one line, and rows that don't.
    craft = two_wings(fins=(plate(x_m=offset, y_m=0.3, **BETWEEN),))
    state = FlightState(alpha=TILTED, beta=SLIPPING)
    found = coefficients(loads_of_state(lattice(craft, grid=Grid(6, 16)), state), state)
    assert found.CDi_surface == pytest.approx(found.CDi, rel=2e-3)


def test_a_keel_in_the_wake_of_a_wing_answers_alike_at_all_heights() -> None:
    # The wing's wake passes the keel at some control point at some of these angles; the leg at
    # the centreline lies in the keel's plane, but has hardly any strength.
    keel = plate(name="keel", x_m=0.6, z_m=-0.05, span_m=0.3)
    craft = two_wings(0.3, fins=(keel,))
    angles = np.radians(np.linspace(0.0, 8.0, 9))
    found = [
        derivatives(
            loads_of_state(lattice(craft, grid=Grid(4, 16)), FlightState(alpha=a)),
            FlightState(alpha=a),
        )["body"]["Cn_beta"]
        for a in angles
    ]
    line = np.polyval(np.polyfit(angles, found, 2), angles)
    assert np.abs(np.array(found) - line).max() < 0.03 * float(np.mean(found))


def test_one_onset_serves_all() -> None:
    found = lattice(two_wings(fins=(KEEL,)))
    onset = normal_onset(found)
    own = found.plane_panels
    np.testing.assert_allclose(onset[own], -onset[own + found.panels // 2], atol=1e-15)


# --- on wings of another chord -------------------------------------------------------------

LOOSE = two_wings(0.3, upper={"end_chord_m": 0.16},
                  fins=(plate(x_m=0.03, y_m=0.3, root_chord_m=0.15, end_chord_m=0.15,
                              **BETWEEN),))  # fmt: skip


def test_rows_that_do_not_meet_the_wings_leave_the_loads_smooth() -> None:
    # Whatever the rows, and so wherever a filament of the plate ends beside the wing's: its plain
    # velocity there makes 20 % of CY_beta and changes the sign of Cl_beta on one of these lattices.
    state = FlightState(alpha=TILTED)
    found = [slopes(LOOSE, Grid(rows, 12), state) for rows in (4, 5, 6, 7)]
    finest = slopes(LOOSE, Grid(12, 16), state)
    assert [one["CY_beta"] for one in found] == pytest.approx([finest["CY_beta"]] * 4, rel=0.02)
    for name in ("Cl_beta", "Cn_beta"):
        assert [one[name] for one in found] == pytest.approx([finest[name]] * 4, abs=0.002)


def test_forces_of_segments_sum_up_to_the_tables() -> None:
    loads = craft_loads(lattice(LOOSE))
    state = FlightState(alpha=TILTED, beta=SLIPPING)
    amounts = state.amounts(loads.reference, loads.columns)
    force = sum(piece.forces.sum(axis=0) for piece in patch_forces(loads, amounts, 1.0))
    whole = contracted(loads.total, amounts, amounts)[:3]
    np.testing.assert_allclose(force, whole, rtol=1e-9, atol=1e-12)


def test_thin_sections_on_loose_plates_are_those_of_the_lattice() -> None:
    found, air = lattice(LOOSE), standard_air()
    model = sectioned_lattice(LOOSE, found, wake="craft")
    state = FlightState(alpha=TILTED, beta=SLIPPING)
    stream = np.array(state.wind())[None]
    onset = strip_onset(model, np.broadcast_to(stream[:, None], (1, found.panels, 3)), air)
    strips = strip_forces(model, couple_strips(model, onset), stream)
    loads = craft_loads(found)
    amounts = state.amounts(loads.reference, loads.columns)
    expected = air.density_kg_m3 * contracted(loads.total, amounts, amounts)
    np.testing.assert_allclose(strips.force[0].sum(axis=0), expected[:3], rtol=1e-8)
    np.testing.assert_allclose(strips.moment[0].sum(axis=0), expected[3:], rtol=1e-7, atol=1e-9)


# --- tables over the wake's angle ----------------------------------------------------------


def test_what_tables_over_the_wakes_angle_miss_is_reported() -> None:
    # A tailplane in the wake of a keel: held against solves at angles that were not looked at.
    tail = plate(name="tail", x_m=1.1, z_m=-0.12, span_m=0.2, dihedral_deg=0.0)
    keel = plate(name="keel", x_m=0.8, z_m=-0.25, span_m=0.2)
    craft = two_wings(0.3, fins=(keel, tail))
    engine = FoldEngine(craft, Grid(3, 10), fold_rates=False)
    read = engine.loads(FoldAngles())
    assert engine.loads(FoldAngles()).errors["Cm_alpha"] > 0.0
    for alpha in np.radians([2.0, 5.0]):
        state = FlightState(alpha=float(alpha))
        exact = loads_of_state(read.lattice, state, fold_rates=False)
        here, there = (derivatives(loads, state)["body"] for loads in (read, exact))
        for name in ("CL_alpha", "Cm_alpha", "CY_beta", "Cn_beta"):
            assert abs(here[name] - there[name]) <= 1.5 * read.errors[name]
    mirrored = read.mirrored()
    assert mirrored.errors == read.errors


def test_craft_without_fins_have_no_such_misses() -> None:
    engine = FoldEngine(two_wings(), Grid(3, 10), fold_rates=False)
    assert engine.loads(FoldAngles()).errors == {}


@pytest.mark.parametrize("place", [0.0, 0.3, 0.5])
def test_what_surfaces_share_on_one_line_is_shared_out_whole(place: float) -> None:
    # Strength times vector summed over all segments: the parts of three, or four, surfaces on one
    # line add up to what each would have by itself.
    found = lattice(two_wings(fins=(plate(y_m=place, **BETWEEN),)))
    rings = np.random.default_rng(3).normal(size=(found.panels, 1))
    shared, alone_ = np.zeros(3), np.zeros(3)
    for index, (patch, strength) in enumerate(
        zip(found.patches, surface_strengths(found, rings), strict=True)
    ):
        vectors = surface_segments(patch).vectors
        shared += strength[:, 0] @ vectors
        own = rings[found.panels_of(index), 0].reshape(patch.rows, patch.strips)
        bound = np.diff(own, axis=0, prepend=0.0)
        legs = np.diff(own, axis=1, prepend=0.0, append=0.0)
        alone_ += np.concatenate([bound.ravel(), -legs.ravel()]) @ vectors
    np.testing.assert_allclose(shared, alone_, atol=1e-12)
