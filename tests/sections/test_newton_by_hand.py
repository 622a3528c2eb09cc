"""Newton's method that strips agree with their sections, on made-up lattices of a few strips.

Linear algebra against numpy; equations (3) and (4) of :mod:`vlm.sections.coupling` written out;
Newton's method ends after one step where all is linear, and doubles the right digits with each step
elsewhere (any textbook of numerical methods), which a wrong slope does not.
"""

from typing import Any

import numpy as np
import pytest
from scipy.optimize import root

from vlm.constants import Floats
from vlm.sections.kernel import (
    CIRCULATION,
    _disagreement,
    _eliminated,
    _respond,
    _substituted,
    agreed,
    section_fields,
)
from vlm.sections.packed import packed_polars
from vlm.sections.polar import Polar

VISCOSITY = 1.5e-5
STRIPS = 4
CHORD = np.array([0.2, 0.22, 0.18, 0.15])
CAMBER = np.array([0.03, 0.0, -0.02, 0.01])
FLATNESS = np.array([1.0, 0.95, 1.02, 1.0])
SHARE = np.array([1.0, 1.0, 0.5, 1.0])
DEPTH = np.pi * CHORD * SHARE
FADE = np.array([1.0, 0.7, 1.0, 0.3])
ALONG = np.array([10.0, 9.0, 11.0, 8.0])
NORMAL = np.array([0.8, 1.0, 0.5, 3.0])
SCALE = 10.0
LIMITS = (40, 400, 0.5, 1e-12)


def responses() -> Floats:
    """Two directions of the wake: what a strip answers, and less of its neighbours."""
    random = np.random.default_rng(3)
    near = np.exp(-np.abs(np.subtract.outer(range(STRIPS), range(STRIPS))))
    return np.stack([DEPTH[:, None] * (0.2 * near + 0.5 * np.eye(STRIPS)) for _ in "ab"]) * (
        1.0 + 0.05 * random.normal(size=(2, STRIPS, STRIPS))
    )


def smoothing() -> Floats:
    near = np.exp(-(np.subtract.outer(range(STRIPS), range(STRIPS)) ** 2.0))
    return near / near.sum(axis=1, keepdims=True)


def curved() -> Polar:
    """cl = 5.5 a - 20 a^3 between -0.6 and 0.6, one Reynolds number, and little beyond."""
    nodes = np.array([-np.pi, -0.6, -0.2, 0.2, 0.6, np.pi])
    inside = np.abs(nodes) < 1.0
    values, slopes = np.zeros((5, 1, 6)), np.zeros((5, 1, 6))
    values[0, 0] = np.where(inside, 5.5 * nodes - 20.0 * nodes**3, 0.0)
    slopes[0, 0] = np.where(inside, 5.5 - 60.0 * nodes**2, 0.0)
    return Polar(nodes, np.log([2e5]), values, slopes, np.array([0.3]), np.array([-0.3]), 0.0,
                 (-0.6, 0.6), None)  # fmt: skip


def sections(kinds: list[int]) -> tuple[Any, ...]:
    shape = np.array([CHORD, CAMBER, FLATNESS, 0.0 * CHORD, SHARE])
    thin = np.tile([[0.01], [0.0], [0.0], [1.0], [0.0]], STRIPS)
    return shape, np.array(kinds), thin, packed_polars([curved()])


def solved(kinds: list[int], start: Floats, *, base: Floats, near_first: bool = False) -> Any:
    states = len(start)
    counted = np.tile([0.25, 0.75], (states, 1))
    lattice = (responses(), counted, smoothing(), DEPTH)
    tiled = [np.tile(part, (states, 1)) for part in (base, ALONG, NORMAL, FADE)]
    return agreed(
        LIMITS, start, near_first, *tiled, np.full(states, SCALE), VISCOSITY, lattice,
        sections(kinds),
    )  # fmt: skip


def apart(offset: Floats, kinds: list[int], base: Floats) -> tuple[Floats, Floats, Floats]:
    """Equations (3) and (4) with the departure averaged along the span; circulation and v_n."""
    response = 0.25 * responses()[0] + 0.75 * responses()[1]
    circulation = base + response @ offset
    seen = circulation / DEPTH - offset + CAMBER * ALONG
    normal = FADE * seen / FLATNESS + (1.0 - FADE) * NORMAL
    fields = section_fields(ALONG[None], normal[None], VISCOSITY, sections(kinds))[0]
    plain = (circulation - fields[CIRCULATION]) / DEPTH
    departure = offset - plain
    return plain - FADE * (smoothing() @ departure - departure), circulation, normal


BASE = DEPTH * np.array([0.9, 0.8, 1.1, 0.5])


def test_thin_strips_agree_without_offsets_where_the_lattice_counts() -> None:
    """They are the lattice's own sections: Gamma = pi c (b v_n - a v_t) holds as it is."""
    everywhere = np.ones(STRIPS)
    work, out = np.empty((6, 8)), np.empty((10, STRIPS))
    response = responses()[0]
    lattice = (response / DEPTH[:, None], response, smoothing(), DEPTH)
    worst, size = _disagreement(
        np.zeros(STRIPS), BASE, ALONG, NORMAL, everywhere, SCALE, VISCOSITY, lattice,
        sections([-1] * STRIPS), work, out,
    )  # fmt: skip
    assert worst < 1e-15
    assert size < 1e-13
    np.testing.assert_allclose(work[0, :STRIPS], BASE, rtol=1e-13)
    np.testing.assert_allclose(work[1, :STRIPS], (BASE / DEPTH + CAMBER * ALONG) / FLATNESS)


@pytest.mark.parametrize("kinds", [[-1] * 4, [0, 0, -1, 0]])
def test_disagreement_is_that_of_the_equations(kinds: list[int]) -> None:
    offset = np.array([0.3, -0.2, 0.1, 0.4])
    response = 0.25 * responses()[0] + 0.75 * responses()[1]
    work, out = np.empty((6, 8)), np.empty((10, STRIPS))
    worst, size = _disagreement(
        offset, BASE, ALONG, NORMAL, FADE, SCALE, VISCOSITY,
        (response / DEPTH[:, None], response, smoothing(), DEPTH), sections(kinds), work, out,
    )  # fmt: skip
    wanted, circulation, normal = apart(offset, kinds, BASE)
    np.testing.assert_allclose(work[4, :STRIPS], wanted, rtol=1e-10, atol=1e-12)
    np.testing.assert_allclose(work[:2, :STRIPS], [circulation, normal], rtol=1e-12)
    assert worst == pytest.approx(np.abs(wanted).max() / SCALE)
    assert size == pytest.approx(np.linalg.norm(wanted))


def test_a_linear_system_is_solved_in_one_step() -> None:
    """Thin sections throughout: each step of Newton's is exact, from anywhere near."""
    start = np.array([[0.3, -0.2, 0.1, 0.4], [0.0, 0.5, -0.5, 0.0]])
    offset, circulation, normal, _, residual, steps = solved([-1] * STRIPS, start, base=BASE)
    assert steps.tolist() == [1, 1]
    assert residual.max() < 1e-12
    np.testing.assert_allclose(offset[0], offset[1], atol=1e-11)
    left, gamma, seen = apart(offset[0], [-1] * STRIPS, BASE)
    np.testing.assert_allclose(left, 0.0, atol=1e-11)
    np.testing.assert_allclose([circulation[0], normal[0]], [gamma, seen], rtol=1e-11)


@pytest.mark.parametrize("kinds", [[0] * 4, [0, -1, 0, 0]])
def test_curved_sections_are_met_in_a_few_steps(kinds: list[int]) -> None:
    """The same offsets as by scipy's Powell hybrid method; Newton's takes no more than five steps
    to 1e-12 of the speed."""
    offset, _, _, _, residual, steps = solved(kinds, np.zeros((1, STRIPS)), base=BASE)
    assert residual[0] < 1e-12
    assert steps[0] <= 5
    wanted = root(lambda x: apart(x, kinds, BASE)[0], np.zeros(STRIPS), tol=1e-13)
    np.testing.assert_allclose(offset[0], wanted.x, atol=1e-9)
    assert np.abs(offset[0]).max() > 0.01


def test_states_near_the_first_start_from_where_it_ended() -> None:
    """The second one has nothing left to do; started apart it takes as many steps as the first."""
    start = np.zeros((2, STRIPS))
    *_, beside = solved([0] * 4, start, base=BASE, near_first=True)
    *_, each = solved([0] * 4, start, base=BASE)
    assert beside.tolist() == [each[0], 0]
    assert each[1] == each[0]


def test_a_long_step_is_shortened_to_half_of_the_scale() -> None:
    """From offsets that are far off by ten times the speed the first steps move no velocity by more
    than half of it: at least as many are taken."""
    start = np.array([[100.0, 0.0, 0.0, 0.0]])
    offset, _, _, _, residual, steps = solved([-1] * STRIPS, start, base=BASE)
    assert residual[0] < 1e-12
    # What the velocities have to go, over half of the scale, each step at most one.
    _, _, seen = apart(start[0], [-1] * STRIPS, BASE)
    _, _, goal = apart(offset[0], [-1] * STRIPS, BASE)
    far = float(np.abs(seen - goal).max()) / (0.5 * SCALE)
    assert steps[0] == int(np.ceil(far))
    assert steps[0] > 3


@pytest.mark.parametrize("seed", range(4))
def test_elimination_with_pivots(seed: int) -> None:
    """Against numpy, with zeros on the diagonal; a singular matrix is reported."""
    random = np.random.default_rng(seed)
    matrix = random.normal(size=(5, 5))
    matrix[0, 0] = matrix[2, 2] = 0.0
    right, order = random.normal(size=5), np.empty(5, np.intp)
    factors, solution = matrix.copy(), right.copy()
    assert _eliminated(factors, order)
    _substituted(factors, order, solution)
    np.testing.assert_allclose(solution, np.linalg.solve(matrix, right), rtol=1e-9)
    lower, upper = np.tril(factors, -1) + np.eye(5), np.triu(factors)
    swapped = matrix.copy()
    for k in range(5):
        swapped[[k, order[k]]] = swapped[[order[k], k]]
    np.testing.assert_allclose(lower @ upper, swapped, atol=1e-12)
    assert np.abs(lower).max() <= 1.0
    matrix[:, 3] = 0.0
    assert not _eliminated(matrix.copy(), order)


def test_the_response_of_one_states_wake() -> None:
    response, share = np.full((4, 4), 9.0), np.empty((4, 4))
    _respond(responses(), np.array([0.0, 2.5]), DEPTH, response, share)
    np.testing.assert_allclose(response, 2.5 * responses()[1])
    np.testing.assert_allclose(share, response / DEPTH[:, None])
