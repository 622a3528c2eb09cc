"""The lattice solved for its unit flows: onset, boundary condition, superposition, mirror."""

import numpy as np
import pytest
from core_craft import (
    SMALL,
    biplane,
    flight_states,
    lattice_of,
    settings_of_craft,
    solved,
    with_moment_point,
)
from hypothesis import given, settings

from vlm.description.folds import FoldAngles
from vlm.description.models import Tips
from vlm.errors import ComputationFailed
from vlm.flow import memory
from vlm.flow.direction import CRAFT_AXIS
from vlm.flow.influence import influence_matrix
from vlm.flow.onset import (
    FIRST_TIP,
    column_count,
    onset_gradients,
    onset_velocities,
    tip_column,
)
from vlm.flow.solve import factorised, mirror_applies, mirror_parities, normal_onset, unit_flows
from vlm.flow.wake import axis_wake
from vlm.frames import GEOMETRY_TO_BODY, wind_direction
from vlm.lattice.lattice import build_lattice
from vlm.loads.coefficients import coefficients
from vlm.loads.craft_loads import craft_loads
from vlm.loads.state import FlightState, rate_scales

FOUR_TIPS = biplane(gap=0.5, lower={"tips": Tips(span_m=0.2, end_chord_m=0.2, linkage=-1.0)})


# --- onset -----------------------------------------------------------------------------------


def test_columns_of_the_air_and_of_the_body_rates() -> None:
    """The air past a point is minus the point's own motion; body axes run forward, right, down."""
    lattice = lattice_of(biplane(), 20.0)
    patch = lattice.patches[0]
    points = np.random.default_rng(1).normal(size=(5, 3))
    columns = onset_velocities(lattice, patch, points)
    np.testing.assert_array_equal(columns[:, :, :3], np.tile(np.eye(3), (5, 1, 1)))
    arm = points - lattice.reference.moment_point
    for i, rate in enumerate(np.eye(3)):
        own_motion = np.cross(GEOMETRY_TO_BODY @ rate, arm)
        np.testing.assert_allclose(columns[:, :, 3 + i], -own_motion, atol=1e-15)


def test_signs_of_the_rates() -> None:
    lattice = lattice_of(biplane())
    point = lattice.reference.moment_point
    aft, starboard, _ = point + np.eye(3)
    columns = onset_velocities(lattice, lattice.patches[0], np.stack([starboard, aft]))
    # Rolling starboard wing down, the air meets it from below.
    np.testing.assert_allclose(columns[0, :, 3], [0.0, 0.0, 1.0])
    # Pitching nose up, what is aft goes down.
    np.testing.assert_allclose(columns[1, :, 4], [0.0, 0.0, 1.0])
    # Yawing nose to starboard, the starboard wing goes aft and meets less wind.
    np.testing.assert_allclose(columns[0, :, 5], [-1.0, 0.0, 0.0])


def test_a_raised_tip_meets_air_from_above_and_nothing_else_does() -> None:
    lattice = lattice_of(biplane())
    for index, patch in enumerate(lattice.patches):
        columns = onset_velocities(lattice, patch, patch.controls.reshape(-1, 3))
        for body in lattice.bodies:
            against = np.einsum(
                "mc,mc->m", columns[:, :, tip_column(lattice, body)], patch.normals.reshape(-1, 3)
            )
            if patch.body != body:
                np.testing.assert_array_equal(against, 0.0)
                continue
            hinge = 0.5 if patch.sense > 0.0 else -0.5
            off = np.abs(patch.controls.reshape(-1, 3)[:, 1] - hinge)
            np.testing.assert_allclose(against, -off, atol=1e-12)
            assert index in (2, 5)


def test_gradients_are_differences_of_the_onset() -> None:
    lattice, step = lattice_of(biplane()), np.array([0.3, -0.2, 0.5])
    start = np.array([[0.1, 0.4, 0.2]])
    before, after = (
        onset_velocities(lattice, lattice.patches[0], p)[0, :, :FIRST_TIP]
        for p in (start, start + step)
    )
    np.testing.assert_allclose(
        np.einsum("cpq,p->cq", onset_gradients(), step), after - before, atol=1e-15
    )


# --- states ----------------------------------------------------------------------------------


@given(flight_states())
def test_amounts_of_a_state_make_its_air_at_every_point(state: FlightState) -> None:
    lattice = lattice_of(biplane())
    reference = lattice.reference
    amounts = state.amounts(reference, column_count(lattice))
    point = np.array([[0.3, -0.7, 0.2]])
    air = onset_velocities(lattice, lattice.patches[0], point)[0] @ amounts
    rates = np.array([state.p_hat, state.q_hat, state.r_hat])
    scale = 2.0 / np.array([reference.span, reference.chord, reference.span])
    spin = GEOMETRY_TO_BODY @ (rates * scale)
    expected = wind_direction(state.alpha, state.beta)
    expected = expected - np.cross(spin, point[0] - reference.moment_point)
    np.testing.assert_allclose(air, expected, atol=1e-14)
    np.testing.assert_allclose(rate_scales(reference), scale)


@given(flight_states())
def test_rates_of_the_amounts_are_their_differences(state: FlightState) -> None:
    h = 1e-5
    for name in ("alpha", "beta"):
        low, high = (
            FlightState(
                **{"alpha": state.alpha, "beta": state.beta, name: getattr(state, name) + s}
            )
            for s in (-h, h)
        )
        exact = getattr(state, f"{name}_rate")(3)
        np.testing.assert_allclose(exact, (high.wind() - low.wind()) / (2.0 * h), atol=1e-9)


def test_lift_stands_across_the_wind_in_the_plane_of_symmetry() -> None:
    state = FlightState(alpha=0.3, beta=0.2)
    assert state.lift_direction() @ state.wind() == pytest.approx(0.0, abs=1e-15)
    assert np.linalg.norm(state.lift_direction()) == pytest.approx(1.0)
    h = 1e-6
    turned = [FlightState(alpha=0.3 + s).lift_direction() for s in (-h, h)]
    np.testing.assert_allclose(state.lift_turning(), (turned[1] - turned[0]) / (2 * h), atol=1e-9)


def test_arrays_of_states_give_the_numbers_of_each() -> None:
    loads = solved(biplane(), FoldAngles(20.0, -10.0))
    alphas, betas = np.meshgrid([0.0, 0.05, 0.1], [-0.1, 0.1], indexing="ij")
    many = coefficients(loads, FlightState(alpha=alphas, beta=betas, p_hat=0.03))
    assert many.CL.shape == many.CDi.shape == many.span_efficiency.shape == (3, 2)
    for i in range(3):
        for j in range(2):
            one = coefficients(loads, FlightState(alphas[i, j], betas[i, j], p_hat=0.03))
            for name in ("CL", "CDi", "CDi_surface", "CY", "Cl", "Cm", "Cn", "Cn_stability"):
                found = getattr(many, name)[i, j]
                assert found == pytest.approx(getattr(one, name), rel=1e-12, abs=1e-15)


# --- the solution ----------------------------------------------------------------------------


@settings(max_examples=10)
@given(settings_of_craft(), flight_states())
def test_superposed_equals_direct_and_no_air_passes_the_surface(setting, state) -> None:
    lattice = build_lattice(*setting, SMALL)
    flows = unit_flows(lattice)
    amounts = state.amounts(lattice.reference, column_count(lattice))
    onset = normal_onset(lattice) @ amounts
    matrix = influence_matrix(axis_wake(lattice))
    direct = np.linalg.solve(matrix, -onset)
    superposed = flows.circulation @ amounts
    np.testing.assert_allclose(superposed, direct, atol=1e-11 * np.abs(direct).max())
    through = matrix @ superposed + onset
    assert np.abs(through).max() < 1e-11


def test_two_mirrored_halves_solve_what_the_whole_does() -> None:
    lattice = lattice_of(FOUR_TIPS, 25.0)
    halves, whole = unit_flows(lattice), unit_flows(lattice, use_mirror=False)
    assert (halves.mirrored, whole.mirrored) == (True, False)
    np.testing.assert_allclose(halves.circulation, whole.circulation, atol=1e-12)
    right = np.random.default_rng(2).normal(size=(lattice.panels, 3))
    np.testing.assert_allclose(halves.solver(right), whole.solver(right), atol=1e-11)


def test_loads_from_mirrored_halves_are_those_of_the_whole() -> None:
    lattice = lattice_of(FOUR_TIPS, 25.0)
    halves, whole = craft_loads(lattice), craft_loads(lattice, use_mirror=False)
    scale = np.abs(whole.total).max()
    np.testing.assert_allclose(halves.surface.wrench, whole.surface.wrench, atol=1e-11 * scale)
    np.testing.assert_allclose(halves.drag, whole.drag, atol=1e-11)
    for side in ("left", "right"):
        expected = whole.surface.wrench_rates[side]
        atol = 1e-10 * np.abs(expected).max()
        np.testing.assert_allclose(halves.surface.wrench_rates[side], expected, atol=atol)
        np.testing.assert_allclose(
            halves.surface.circulation_rates[side],
            whole.surface.circulation_rates[side],
            atol=1e-10,
        )


def test_the_mirror_needs_equal_folds_and_a_moment_point_in_the_middle() -> None:
    craft = biplane()
    assert mirror_applies(lattice_of(craft, 10.0))
    assert not mirror_applies(lattice_of(craft, 10.0, 11.0))
    assert not mirror_applies(lattice_of(with_moment_point(craft, (0.0, 0.1, 0.0)), 10.0))
    sideways = np.array([np.cos(0.1), -np.sin(0.1), 0.0])
    assert not mirror_applies(lattice_of(craft, 10.0), sideways)
    assert mirror_applies(lattice_of(craft, 10.0), CRAFT_AXIS)


def test_parities_of_the_unit_flows() -> None:
    """A mirrored craft in sideslip, roll and yaw meets the opposite; its tips trade places."""
    sign, twin = mirror_parities(["upper_right", "upper_left"])
    np.testing.assert_array_equal(sign, [1, -1, 1, -1, 1, -1, 1, 1])
    assert twin == [0, 1, 2, 3, 4, 5, 7, 6]


# --- the factorisation -----------------------------------------------------------------------


def test_condition_number_is_that_of_the_one_norm() -> None:
    matrix = influence_matrix(axis_wake(lattice_of(biplane(), 20.0, -30.0)))
    expected = np.linalg.cond(matrix, 1)
    _, condition = factorised(matrix.copy())
    # LAPACK's estimate is a lower bound, mostly sharp (Higham 1988).
    assert 0.5 * expected < condition <= expected * (1.0 + 1e-10)
    # Of a diagonal matrix it is sharp: the largest entry over the least.
    assert factorised(np.diag([2.0, 3.0, 0.8]))[1] == pytest.approx(3.75, rel=1e-12)


def test_solver_leaves_the_right_hand_side_alone() -> None:
    random = np.random.default_rng(3)
    matrix, right = random.normal(size=(6, 6)), random.normal(size=(6, 2))
    kept = right.copy()
    solver, _ = factorised(matrix.copy())
    np.testing.assert_allclose(matrix @ solver(right), kept, atol=1e-12)
    np.testing.assert_array_equal(right, kept)


@pytest.mark.parametrize(
    ("matrix", "words"),
    [
        (np.ones((3, 3)), "singular"),
        (np.diag([1.0, 1.0, 1e-17]), "singular to working precision"),
        (np.full((3, 3), np.nan), "not finite"),
    ],
)
def test_a_matrix_that_cannot_be_solved_is_a_failed_computation(matrix, words) -> None:
    with pytest.raises(ComputationFailed, match=words):
        factorised(matrix.copy())


def test_a_lattice_beyond_memory_is_refused_before_it_is_made(monkeypatch) -> None:
    """One matrix of 1000 panels takes 8 MB; a tenth of that is there."""
    with pytest.raises(
        ComputationFailed, match=r"1000 panels needs .* GiB.*at most \d+ panels fit"
    ):
        memory.refuse_too_large(1000, 800_000)
    largest = memory.largest_lattice(800_000)
    memory.refuse_too_large(largest, 800_000)
    with pytest.raises(ComputationFailed):
        memory.refuse_too_large(largest + 1, 800_000)
    lattices = lattice_of(biplane(), 10.0), lattice_of(biplane(), 10.0, 0.0)
    monkeypatch.setattr(memory, "available_memory", lambda: 50_000)
    for lattice in lattices:
        with pytest.raises(ComputationFailed, match="take fewer rows or strips"):
            unit_flows(lattice)
