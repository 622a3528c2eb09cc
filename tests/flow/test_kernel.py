"""Velocities of vortex rings: the compiled kernel against its plain twin and closed forms.

Closed forms from the law of Biot and Savart: a straight segment at the distance h seen under the
angles t1, t2 between it and the lines to its ends, v = G (cos t1 + cos t2) / (4 pi h), any text;
a horseshoe of span b on its centre line, a distance x behind the bound leg,
w = - G / (pi b) (1 + sqrt(x^2 + b^2/4) / x) (derived from it); a circle of diameter 2 R at its
centre, G / (2 R).
"""

import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from core_craft import biplane, lattice_of
from hypothesis import example, given
from hypothesis import strategies as st

import vlm
from vlm.flow import kernel, kernel_rates
from vlm.flow.influence import influence_matrix, velocities_from, velocity_rates_from
from vlm.flow.kernel_plain import leg_velocity, ring_velocities, segment_velocity
from vlm.flow.tables import ring_table, wake_velocities
from vlm.flow.wake import Wake, WakeRate
from vlm.flow.wake_shape import WakeShape
from vlm.frames import wind_direction

AFT = np.array([1.0, 0.0, 0.0])
SKEWED = wind_direction(0.12, -0.07)


def flat_nodes(nodes: np.ndarray) -> np.ndarray:
    return np.ascontiguousarray(nodes.reshape(-1, 3).T)


def compiled(points, nodes, direction=AFT, sense: float = 1.0) -> np.ndarray:
    """Velocities of the compiled kernel, shape (m, 3, rings)."""
    rows, strips = nodes.shape[0] - 1, nodes.shape[1] - 1
    out = np.full((len(points), 3, rows * strips), np.nan)
    kernel.velocity(points, flat_nodes(nodes), strips + 1, direction, sense, out, 0)
    return out


def random_grid(seed: int, rows: int = 3, strips: int = 4) -> np.ndarray:
    random = np.random.default_rng(seed)
    x, y = np.meshgrid(np.arange(rows + 1.0), np.arange(strips + 1.0), indexing="ij")
    return np.stack([x, y, 0.0 * x], axis=-1) + 0.2 * random.normal(size=(*x.shape, 3))


def horseshoe(span: float) -> np.ndarray:
    """A grid of one ring whose trailing edge is the bound leg itself: a plain horseshoe."""
    y = np.array([-0.5 * span, 0.5 * span])
    row = np.stack([0.0 * y, y, 0.0 * y], axis=-1)
    return np.stack([row, row + AFT])


# --- closed forms ----------------------------------------------------------------------------


@pytest.mark.parametrize("behind", [0.01, 0.3, 1.7, 40.0])
@pytest.mark.parametrize("span", [0.5, 2.0])
def test_horseshoe_on_its_centre_line(span: float, behind: float) -> None:
    point = np.array([[behind, 0.0, 0.0]])
    expected = -(1.0 + np.hypot(behind, 0.5 * span) / behind) / (np.pi * span)
    velocity = compiled(point, horseshoe(span))[0, :, 0]
    np.testing.assert_allclose(velocity, [0.0, 0.0, expected], rtol=1e-12, atol=1e-15)


def test_horseshoe_far_ahead_dies_out_with_the_square() -> None:
    far = np.array([[-100.0, 0.0, 0.0], [-200.0, 0.0, 0.0]])
    one, two = compiled(far, horseshoe(1.0))[:, 2, 0]
    assert one / two == pytest.approx(4.0, rel=1e-4)
    assert one > 0.0


@given(
    st.floats(0.05, 3.0),
    st.floats(-2.0, 3.0),
    st.floats(0.2, 2.0),
    st.integers(0, 10_000),
)
def test_biot_savart_segment_seen_under_two_angles(height, along, length, seed) -> None:
    """A segment anywhere in space; the point stands ``height`` off its line."""
    random = np.random.default_rng(seed)
    axes, _ = np.linalg.qr(random.normal(size=(3, 3)))
    axes *= np.sign(np.linalg.det(axes))
    start = random.normal(size=3)
    end = start + length * axes[0]
    point = start + along * axes[0] + height * axes[1]
    cosines = along / np.hypot(along, height) + (length - along) / np.hypot(length - along, height)
    expected = cosines / (4.0 * np.pi * height) * axes[2]
    found = segment_velocity(point - start, point - end)
    np.testing.assert_allclose(found, expected, rtol=1e-9, atol=1e-13)


def test_a_ring_of_many_sides_tends_to_the_circle() -> None:
    angles = np.linspace(0.0, 2.0 * np.pi, 2001)
    corners = 0.7 * np.stack([np.cos(angles), np.sin(angles), 0.0 * angles], axis=-1)
    velocity = segment_velocity(-corners[:-1], -corners[1:]).sum(axis=0)
    np.testing.assert_allclose(velocity, [0.0, 0.0, 1.0 / 1.4], rtol=1e-5, atol=1e-12)


def test_leg_beside_its_start_is_half_of_an_endless_vortex() -> None:
    """v = G / (4 pi h) beside the start, twice that far downstream."""
    arms = np.array([[0.0, 0.3, 0.0], [1e4, 0.3, 0.0]])
    found = leg_velocity(arms, AFT)
    expected = np.array([1.0, 2.0]) / (4.0 * np.pi * 0.3)
    np.testing.assert_allclose(found[:, 2], expected, rtol=1e-8)


def test_far_behind_a_strip_the_ring_is_a_pair_of_endless_vortices() -> None:
    """Midway between two of distance b: w = - G / (pi b / 2) / ... = - 2 G / (pi b)."""
    velocity = compiled(np.array([[1e5, 0.0, 0.0]]), horseshoe(0.8))[0, 2, 0]
    assert velocity == pytest.approx(-2.0 / (np.pi * 0.8), rel=1e-8)


# --- points on the lines ---------------------------------------------------------------------


def test_a_point_on_a_segments_line_or_on_a_legs_sees_nothing_of_it() -> None:
    for place in (-1.0, 0.0, 0.4, 1.0, 2.0):
        arm = np.array([place, 0.0, 0.0])
        np.testing.assert_array_equal(segment_velocity(arm, arm - AFT), 0.0)
        np.testing.assert_array_equal(leg_velocity(arm, AFT), 0.0)


@pytest.mark.parametrize("length", [0.01, 1.0, 30.0])
@pytest.mark.parametrize("share", [0.1, 0.5, 0.8])
def test_within_1e_8_of_its_length_a_point_counts_as_on_a_segment(
    length: float, share: float
) -> None:
    """The promise at the head of the kernel, for velocity and rate, against the far side of it."""
    for off, seen in ((0.97e-8, False), (1.03e-8, True)):
        start = (share * length, off * length, 0.0)
        end = ((share - 1.0) * length, off * length, 0.0)
        lengths = float(np.linalg.norm(start)), float(np.linalg.norm(end))
        velocity = kernel._segment(*start, lengths[0], *end, lengths[1])
        still = (0.0, 0.0, 0.0, 0.0)
        away = [(0.0, 1.0, 0.0, off * length / n) for n in lengths]
        rates = kernel_rates._segment_rate(*start, lengths[0], *end, lengths[1], *away[0], *away[1])
        assert bool(velocity[2] != 0.0) is seen
        assert any(rate != 0.0 for rate in rates) is seen
        assert not any(
            kernel_rates._segment_rate(*start, lengths[0], *end, lengths[1], *still, *still)
        )
        if seen:  # 2 / h beside a long straight vortex, times 4 pi
            assert velocity[2] == pytest.approx(2.0 / (off * length), rel=1e-6)
        twin = segment_velocity(np.array(start), np.array(end))
        assert bool(twin[2] != 0.0) is seen


@pytest.mark.parametrize("length", [0.01, 1.0, 30.0])
def test_past_its_ends_no_point_counts_as_on_a_segment_whatever_its_length(length: float) -> None:
    """v = h (1/r_b^2 - 1/r_a^2) / 2 to first order in h (Biot-Savart), at two and one lengths."""
    off = 1e-10 * length
    start, end = (2.0 * length, off, 0.0), (length, off, 0.0)
    expected = 0.5 * off * (1.0 / length**2 - 0.25 / length**2)
    velocity = kernel._segment(*start, 2.0 * length, *end, length)
    assert velocity[2] == pytest.approx(expected, rel=1e-6)
    twin = 4.0 * np.pi * segment_velocity(np.array(start), np.array(end))
    assert twin[2] == pytest.approx(expected, rel=1e-6)
    away = (0.0, 1.0, 0.0, 0.0)
    rate = kernel_rates._segment_rate(*start, 2.0 * length, *end, length, *away, *away)
    assert rate[2] == pytest.approx(expected / off, rel=1e-6)


@pytest.mark.parametrize("distance", [0.01, 1.0, 30.0])
def test_within_1e_8_of_its_distance_a_point_counts_as_on_a_leg(distance: float) -> None:
    for off, seen in ((0.97e-8, False), (1.03e-8, True)):
        arm = (distance, off * distance, 0.0)
        velocity = kernel._leg(*arm, distance, 1.0, 0.0, 0.0)
        turn = (0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 1.0)
        rates = kernel_rates._leg_rate(*arm, distance, 1.0, 0.0, 0.0, *turn)
        assert bool(velocity[2] != 0.0) is seen
        assert any(rate != 0.0 for rate in rates) is seen
        assert bool(leg_velocity(np.array(arm), AFT)[2] != 0.0) is seen


@pytest.mark.parametrize("x", [-3.0, 0.0, 0.5, 1.0, 4.0])
def test_kernel_on_the_line_of_chordwise_segments_and_their_leg(x: float) -> None:
    """The bound leg, seen along its perpendicular, and the far leg are all there is."""
    velocity = compiled(np.array([[x, 0.5, 0.0]]), horseshoe(1.0))[0, :, 0]
    assert np.all(np.isfinite(velocity))
    away = np.array([x, 1.0, 0.0])
    expected = -leg_velocity(away, AFT)
    expected += segment_velocity(away, np.array([x, 0.0, 0.0]))
    np.testing.assert_allclose(velocity, expected, atol=1e-15)


def test_a_point_next_to_a_line_is_not_on_it() -> None:
    """1e-7 off a leg of unit strength: 2 G / (4 pi h) downstream, to eight digits."""
    velocity = leg_velocity(np.array([0.5, 1e-7, 0.0]), AFT)
    assert velocity[2] == pytest.approx(2.0 / (4.0 * np.pi * 1e-7), rel=1e-8)
    velocity = segment_velocity(np.array([0.5, 1e-7, 0.0]), np.array([-0.5, 1e-7, 0.0]))
    assert abs(velocity[2]) == pytest.approx(2.0 / (4.0 * np.pi * 1e-7), rel=1e-8)


@pytest.mark.parametrize("off", [1e-9, 1e-12, 1e-15])
def test_past_its_ends_a_segments_velocity_fades_evenly_toward_its_line(off: float) -> None:
    """Nothing is singular there, so nothing may be cut off: v is in proportion to the distance."""
    near = np.array([[2.0, 0.5 + off, 0.0], [2.0, 0.5 + 1e-4, 0.0]])
    start, end = np.array([0.0, 0.5, 0.0]), np.array([1.0, 0.5, 0.0])
    velocity = segment_velocity(near - start, near - end)[:, 2]
    assert velocity[0] / velocity[1] == pytest.approx(off / 1e-4, rel=0.2 if off < 1e-14 else 1e-6)
    ahead = np.array([[-2.0, off, 0.0], [-2.0, 1e-4, 0.0]])
    velocity = leg_velocity(ahead, AFT)[:, 2]
    assert velocity[0] / velocity[1] == pytest.approx(off / 1e-4, rel=1e-6)


# --- the twin --------------------------------------------------------------------------------


@given(st.integers(0, 10_000), st.sampled_from([1.0, -1.0]))
def test_compiled_kernel_equals_its_plain_twin(seed: int, sense: float) -> None:
    nodes = random_grid(seed)
    random = np.random.default_rng(seed + 1)
    points = random.normal(size=(37, 3)) * [3.0, 3.0, 1.0] + [1.5, 2.0, 0.0]
    direction = np.array([1.0, 0.1, -0.2]) / np.linalg.norm([1.0, 0.1, -0.2])
    expected = ring_velocities(points, nodes, direction, sense)
    found = compiled(points, nodes, direction, sense)
    np.testing.assert_allclose(found, expected, rtol=1e-10, atol=1e-12 * np.abs(expected).max())


def test_normalwash_is_the_velocity_along_the_normals() -> None:
    nodes, random = random_grid(3), np.random.default_rng(4)
    points, normals = random.normal(size=(2, 20, 3))
    out = np.full((20, 15), np.nan)
    kernel.normalwash(points, normals, flat_nodes(nodes), 5, AFT, -1.0, out, 2)
    expected = np.einsum("mcr,mc->mr", compiled(points, nodes, sense=-1.0), normals)
    np.testing.assert_allclose(out[:, 2:14], expected, rtol=1e-11, atol=1e-13)
    assert np.all(np.isnan(out[:, [0, 1, 14]]))


def test_velocity_sum_adds_rings_times_strengths() -> None:
    lattice = lattice_of(biplane(), 30.0, -20.0)
    random = np.random.default_rng(5)
    points = random.normal(size=(21, 3))
    wake = Wake(WakeShape(lattice), SKEWED)
    strengths = wake.strengths(random.normal(size=(lattice.panels, 4)))
    found = velocities_from(points, wake, strengths)
    expected = sum(
        ring_velocities(points, nodes, SKEWED, p.sense) @ s
        for p, nodes, s in zip(lattice.patches, wake.nodes, strengths, strict=True)
    )
    np.testing.assert_allclose(found, expected, rtol=1e-10, atol=1e-12)


def test_influence_matrix_is_made_of_plain_velocities() -> None:
    """All rings with the wake that each brings along, and the table of corrections."""
    lattice = lattice_of(biplane(), 30.0, -20.0)
    wake = Wake(WakeShape(lattice), SKEWED)
    unit = np.eye(lattice.panels)
    velocity = sum(
        ring_velocities(lattice.controls(), nodes, SKEWED, p.sense) @ s
        for p, nodes, s in zip(lattice.patches, wake.nodes, wake.strengths(unit), strict=True)
    )
    expected = np.einsum("mcr,mc->mr", velocity, lattice.normals()) + wake.corrected(unit)
    np.testing.assert_allclose(influence_matrix(wake), expected, rtol=1e-9, atol=1e-10)


def test_velocity_tables_are_made_of_the_same_velocities() -> None:
    """Rings, closed at the edge, and the whole wakes of unit circulations along two directions."""
    lattice = lattice_of(biplane(), 30.0, -20.0)
    points = np.random.default_rng(6).normal(size=(19, 3))
    rings = np.eye(lattice.panels)
    trailing = rings[:, lattice.trailing_panels()]
    shape = WakeShape(lattice)
    found = wake_velocities(points, Wake(shape, np.array([SKEWED, AFT])))
    for k, direction in enumerate((SKEWED, AFT)):
        wake = Wake(shape, direction)
        expected = velocities_from(points, wake, wake.strengths(rings))
        table = ring_table(points, wake)
        behind = velocities_from(points, wake, wake.strengths(trailing)) - table @ trailing
        np.testing.assert_allclose(found[:, :, k], behind, atol=1e-12)
        table[:, :, lattice.trailing_panels()] += found[:, :, k]
        np.testing.assert_allclose(table, expected, atol=1e-12)


def test_whole_wakes_are_made_of_plain_velocities() -> None:
    """The rings behind the edge with their strengths of equation (19), by the plain kernel."""
    lattice = lattice_of(biplane(), 30.0, -20.0)
    points = np.random.default_rng(7).normal(size=(19, 3))
    wake = Wake(WakeShape(lattice), SKEWED)
    unit = np.eye(len(lattice.trailing_panels()))
    strengths = wake.shape.ring_strengths(unit, wake.amplitudes)
    expected = sum(
        ring_velocities(points, nodes[p.rows :], SKEWED, p.sense) @ s
        for p, nodes, s in zip(lattice.patches, wake.nodes, strengths, strict=True)
    )
    np.testing.assert_allclose(wake_velocities(points, wake)[:, :, 0], expected, atol=1e-12)


# --- rates -----------------------------------------------------------------------------------


def nearest_line(points: np.ndarray, nodes: np.ndarray, direction: np.ndarray) -> float:
    """Least distance of any point from any segment or leg of a grid."""
    ends = nodes[-1] + 100.0 * direction
    starts = np.concatenate([nodes[:, :-1].reshape(-1, 3), nodes.reshape(-1, 3)])
    stops = np.concatenate([nodes[:, 1:].reshape(-1, 3), nodes[1:].reshape(-1, 3), ends])
    along, arms = stops - starts, points[:, None] - starts
    share = np.clip(np.sum(arms * along, axis=-1) / np.sum(along**2, axis=-1), 0.0, 1.0)
    return float(np.linalg.norm(arms - share[..., None] * along, axis=-1).min())


@given(st.integers(0, 10_000))
@example(627)  # a point within 0.01 of a line: a step of 1e-3 was too long there
@example(77)
@example(53)
@example(46)
def test_rates_equal_differences_of_the_twin(seed: int) -> None:
    """Points, nodes and the legs' direction all move; central differences, extrapolated once.

    The velocity varies as 1 / d beside a line, so that the error of the extrapolated difference is
    of order (h / d)^4 (Taylor): the step goes with the least distance d.
    """
    random = np.random.default_rng(seed)
    nodes = random_grid(seed, 2, 3)
    points = random.normal(size=(9, 3)) + np.array([1.0, 1.5, 1.5])
    node_rates, point_rates = random.normal(size=nodes.shape), random.normal(size=points.shape)
    direction = np.array([1.0, 0.2, 0.1]) / np.linalg.norm([1.0, 0.2, 0.1])
    turn = np.cross(random.normal(size=3), direction)

    def moved(step: float) -> np.ndarray:
        # A turned unit vector, to third order in the step.
        along = direction + step * turn - 0.5 * step**2 * (turn @ turn) * direction
        return ring_velocities(
            points + step * point_rates,
            nodes + step * node_rates,
            along / np.linalg.norm(along),
            1.0,
        )

    h = 1e-3 * nearest_line(points, nodes, direction)
    first = (moved(h) - moved(-h)) / (2.0 * h)
    second = (moved(2.0 * h) - moved(-2.0 * h)) / (4.0 * h)
    expected = (4.0 * first - second) / 3.0
    out = np.empty((9, 3, 6))
    kernel_rates.velocity_rate(
        points, point_rates, flat_nodes(nodes), flat_nodes(node_rates), 4, direction, turn, 1.0,
        out, 0,
    )  # fmt: skip
    np.testing.assert_allclose(out, expected, atol=1e-7 * np.abs(expected).max())


def test_velocity_rates_are_those_of_a_stored_table() -> None:
    random = np.random.default_rng(8)
    lattice = lattice_of(biplane(), 30.0)
    wake = Wake(WakeShape(lattice), SKEWED)
    points, turn = random.normal(size=(5, 3)), np.array([0.0, 0.3, -0.1])
    strengths = wake.strengths(random.normal(size=(lattice.panels, 2)))
    rates = [random.normal(size=nodes.shape) for nodes in wake.nodes]
    rates[1][:] = 0.0  # a patch at rest, whose straight legs turn
    expected = np.zeros((5, 3, 2))
    for patch, nodes, rate, strength in zip(
        lattice.patches, wake.nodes, rates, strengths, strict=True
    ):
        table = np.empty((5, 3, len(strength)))
        kernel_rates.velocity_rate(
            points, np.zeros((5, 3)), flat_nodes(nodes), flat_nodes(rate), patch.strips + 1,
            SKEWED, turn, patch.sense, table, 0,
        )  # fmt: skip
        expected += table @ strength
    rate = WakeRate(rates, turn, np.zeros(0), [])
    (found,) = velocity_rates_from(points, [wake], [rate], [strengths])
    np.testing.assert_allclose(found, expected, rtol=1e-9, atol=1e-11)


def test_points_that_move_with_the_rings_see_no_change() -> None:
    """A turn of everything turns the velocity; a shift leaves it."""
    nodes, points = random_grid(1), np.array([[0.4, 0.7, 0.9], [2.0, 1.0, -0.6]])
    shift = np.array([0.3, -0.2, 0.5])
    out = np.empty((2, 3, 12))
    kernel_rates.velocity_rate(
        points, np.tile(shift, (2, 1)), flat_nodes(nodes), flat_nodes(nodes * 0.0 + shift), 5, AFT,
        np.zeros(3), 1.0, out, 0,
    )  # fmt: skip
    np.testing.assert_allclose(out, 0.0, atol=1e-13)
    spin = np.array([0.2, 0.5, -0.4])
    kernel_rates.velocity_rate(
        points, np.cross(spin, points), flat_nodes(nodes), flat_nodes(np.cross(spin, nodes)), 5,
        AFT, np.cross(spin, AFT), 1.0, out, 0,
    )  # fmt: skip
    turned = np.cross(spin, compiled(points, nodes).transpose(0, 2, 1)).transpose(0, 2, 1)
    np.testing.assert_allclose(out, turned, atol=1e-12)


@pytest.mark.parametrize("x", [-2.0, -0.3, 3.5])
def test_a_point_on_a_line_past_its_end_has_no_velocity_yet_a_rate(x: float) -> None:
    """Chordwise segments of the strip's edge at y = 0 tilt away from a point ahead or behind."""
    row = np.array([[0.0, 0.0, 0.0], [0.0, 1.0, 0.0]])
    nodes = np.stack([row, row + AFT, row + 2.0 * AFT])
    rates = np.zeros_like(nodes)
    rates[:, 0, 2] = [0.1, 0.4, -0.2]  # the edge leaves the line on which the point stands
    point = np.array([[x, 0.0, 0.0]])

    def moved(step: float) -> np.ndarray:
        return ring_velocities(point, nodes + step * rates, AFT, 1.0)

    found = np.empty((1, 3, 2))
    kernel_rates.velocity_rate(
        point, np.zeros((1, 3)), flat_nodes(nodes), flat_nodes(rates), 2, AFT, np.zeros(3), 1.0,
        found, 0,
    )  # fmt: skip
    if x > 2.0:  # The last node's leg passes through the point: no rate is defined for it.
        found, expected = found[..., :1], (moved(1e-5) - moved(-1e-5))[..., :1] / 2e-5
    else:
        expected = (moved(1e-5) - moved(-1e-5)) / 2e-5
    assert np.abs(expected).max() > 1e-3
    np.testing.assert_allclose(found, expected, atol=1e-8)


# --- threads ---------------------------------------------------------------------------------

DIGEST = """
import hashlib, sys
sys.path.insert(0, {tests!r})
import numba
from core_craft import SMALL, biplane, lattice_of, solved
from vlm.description.folds import FoldAngles
from vlm.flow.direction import CRAFT_AXIS
from vlm.flow.influence import influence_matrix
from vlm.flow.wake import Wake
from vlm.flow.wake_shape import WakeShape
numba.set_num_threads(int(sys.argv[1]))
matrix = influence_matrix(Wake(WakeShape(lattice_of(biplane(), 30.0, -20.0)), CRAFT_AXIS))
loads = solved(biplane(), FoldAngles(30.0, -20.0))
print(*(hashlib.sha256(array.tobytes()).hexdigest() for array in (matrix, loads.total)))
"""


@pytest.mark.skipif((os.cpu_count() or 1) < 2, reason="one processor")
def test_results_do_not_depend_on_the_number_of_threads(project) -> None:
    script = DIGEST.format(tests=str(project / "tests"))
    package = Path(vlm.__file__).parents[1]  # not the work tree's, which would be compiled again
    environment = os.environ | {"PYTHONPATH": str(package), "NUMBA_NUM_THREADS": "2"}
    digests = {
        subprocess.run(
            [sys.executable, "-P", "-c", script, threads],
            capture_output=True, text=True, check=True, env=environment,
        ).stdout
        for threads in ("1", "2")
    }  # fmt: skip
    assert len(digests) == 1
