"""The lattice solved for its unit onset flows.

No flow through the surface: with A the influence along the normals, V_q the air's velocity in
unit flow q, and Gamma_q the rings' circulation,

    A Gamma_q = - V_q . n                                                             (4)

Every flight state is a sum of the unit flows, so one factorisation serves them all.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import linalg
from scipy.linalg import lapack

from vlm.constants import Floats
from vlm.errors import ComputationFailed
from vlm.flow.direction import CRAFT_AXIS
from vlm.flow.influence import (
    half_wakes,
    ring_columns,
    wake_columns,
    whole_wake,
)
from vlm.flow.memory import refuse_too_large
from vlm.flow.onset import FIRST_TIP, onset_velocities
from vlm.flow.plane_sheets import hold_sums, hold_symmetric, without_sums
from vlm.flow.threads import algebra_threads
from vlm.flow.wake import Wake
from vlm.flow.wake_shape import WakeShape
from vlm.lattice.lattice import Lattice
from vlm.sides import other_body

Solver = Callable[[Floats], Floats]
RESIDUAL_LIMIT = 1e-8


@dataclass(frozen=True)
class UnitFlows:
    """A lattice's circulations in its unit onset flows.

    Attributes
    ----------
    lattice : the lattice
    wake : its wake
    circulation : shape (panels, columns), ring strengths [m^2/s per unit]
    solver : maps right-hand sides of (4), shape (panels, k), to circulations
    condition : LAPACK's estimate of the matrix's condition number in the 1-norm [1]
    mirrored : whether the two mirrored halves were solved instead of the whole
    """

    lattice: Lattice
    wake: Wake
    circulation: Floats
    solver: Solver
    condition: float
    mirrored: bool


def normal_onset(lattice: Lattice) -> Floats:
    """V_q . n at every control point, shape (panels, columns) [m/s per unit]."""
    parts = []
    for patch in lattice.patches:
        velocity = onset_velocities(lattice, patch, patch.controls.reshape(-1, 3))
        parts.append(np.einsum("mcq,mc->mq", velocity, patch.normals.reshape(-1, 3)))
    return np.concatenate(parts)


class Solvers:
    """A lattice's matrix, factorised once, and solvers for any direction of its wake.

    A turn of the wake changes one column a strip. With A the matrix for the first direction asked
    for, W and W' what a unit circulation of each strip does through the wake along the first and
    another direction, and E the rows that pick the trailing rings,

        A' = A + (W' - W) E,   x' = x - Y (1 + E Y)^-1 E x,   Y = A^-1 (W' - W)        (20)

    (Sherman and Morrison 1950, Woodbury 1950, from memory).
    """

    def __init__(self, lattice: Lattice, *, use_mirror: bool = True) -> None:
        self.lattice = lattice
        self.shape = WakeShape(lattice)
        self.use_mirror = use_mirror
        self._blocks: dict[bool, _Blocks] = {}

    def unit_flows(self, direction: Floats = CRAFT_AXIS) -> UnitFlows:
        """Solve equation (4) for all unit flows, the wake along a unit vector of geometry axes.

        The symmetric and antisymmetric halves are solved where the lattice, the moment point and
        the wake are mirror-symmetric.

        Raises
        ------
        ComputationFailed : the matrix is singular, or does not fit into memory
        """
        wake = Wake(self.shape, direction)
        mirrored = self.use_mirror and mirror_applies(self.lattice, direction)
        if mirrored not in self._blocks:
            self._blocks[mirrored] = _Halves(wake) if mirrored else _Whole(wake)
        blocks = self._blocks[mirrored]
        solver = blocks.solver(wake)
        circulation = solver(-normal_onset(self.lattice))
        return UnitFlows(self.lattice, wake, circulation, solver, blocks.condition, mirrored)


class _Turned:
    """One factorised block, with the columns through which its wake enters."""

    def __init__(self, matrix: Floats, behind: Floats, trailing: NDArray[np.intp]) -> None:
        matrix[:, trailing] += behind
        self.behind, self.trailing = behind, trailing
        self.solve, self.condition = factorised(matrix)

    def solver(self, behind: Floats) -> Solver:
        """Equation (20) for what another wake does."""
        if np.array_equal(behind, self.behind):
            return self.solve
        change = self.solve(behind - self.behind)
        small = np.eye(len(self.trailing)) + change[self.trailing]
        factors = linalg.lu_factor(small, check_finite=False)

        def solver(right: Floats) -> Floats:
            plain = self.solve(right)
            inner = linalg.lu_solve(factors, plain[self.trailing], check_finite=False)
            return np.asarray(plain - change @ inner)

        return solver


class _Whole:
    """The matrix of a whole craft."""

    def __init__(self, wake: Wake) -> None:
        lattice = wake.shape.lattice
        refuse_too_large(lattice.panels)
        self._points, self._normals = lattice.controls(), lattice.normals()
        self._all = range(len(lattice.patches))
        matrix, columns = ring_columns(self._points, self._normals, wake, self._all)
        hold_sums(matrix, lattice)
        self._lattice, self._first = lattice, wake
        self._block = _Turned(matrix, whole_wake(wake, columns), lattice.trailing_panels())
        self.condition = self._block.condition

    def solver(self, wake: Wake) -> Solver:
        solve = self._block.solve
        if not np.array_equal(wake.direction, self._first.direction):
            columns = wake_columns(self._points, self._normals, wake, self._all)
            with algebra_threads(len(self._points)):
                solve = self._block.solver(whole_wake(wake, columns))
        return lambda right: solve(without_sums(right, self._lattice))


class _Halves:
    """Influence of a mirror-symmetric lattice on its symmetric and antisymmetric loadings.

    With S the starboard panels and P their mirror images to port: A_SS + A_SP and A_SS - A_SP.
    """

    def __init__(self, wake: Wake) -> None:
        lattice = wake.shape.lattice
        refuse_too_large(lattice.panels)
        count = len(lattice.patches) // 2
        self._starboard, self._port = range(count), range(count, 2 * count)
        self._half = lattice.panels // 2
        self._points = lattice.controls()[: self._half]
        self._normals = lattice.normals()[: self._half]
        self._first = wake
        own, beside = ring_columns(self._points, self._normals, wake, self._starboard)
        other, across = ring_columns(self._points, self._normals, wake, self._port)
        # In place, row by row: even = own + other, odd = own - other.
        for even_row, odd_row in zip(own, other, strict=True):
            difference = even_row - odd_row
            even_row += odd_row
            odd_row[:] = difference
        trailing = lattice.trailing_panels()
        trailing = trailing[: len(trailing) // 2]
        even, odd = half_wakes(wake, beside, across)
        self._plane, self._lattice = lattice.plane_panels, lattice
        even = self._without_plane(even)
        hold_symmetric(own, self._plane)
        self._even, self._odd = _Turned(own, even, trailing), _Turned(other, odd, trailing)
        self.condition = max(self._even.condition, self._odd.condition)

    def _without_plane(self, behind: Floats) -> Floats:
        """What a symmetric wake does, less what it does by and to fins in the plane of symmetry."""
        if self._plane.size:
            behind[self._plane] = 0.0
            trailing = self._lattice.trailing_panels()[: behind.shape[1]]
            behind[:, np.isin(trailing, self._plane)] = 0.0
        return behind

    def solver(self, wake: Wake) -> Solver:
        solve_even, solve_odd = self._even.solve, self._odd.solve
        if not np.array_equal(wake.direction, self._first.direction):
            beside = wake_columns(self._points, self._normals, wake, self._starboard)
            across = wake_columns(self._points, self._normals, wake, self._port)
            even, odd = half_wakes(wake, beside, across)
            even = self._without_plane(even)
            with algebra_threads(self._half):
                solve_even, solve_odd = self._even.solver(even), self._odd.solver(odd)
        half = self._half

        def solver(right: Floats) -> Floats:
            starboard, port = right[:half], right[half:]
            common = 0.5 * (starboard + port)
            common[self._plane] = 0.0
            sum_part = solve_even(common)
            difference = solve_odd(0.5 * (starboard - port))
            return np.concatenate([sum_part + difference, sum_part - difference])

        return solver


_Blocks = _Whole | _Halves


def unit_flows(
    lattice: Lattice, *, direction: Floats = CRAFT_AXIS, use_mirror: bool = True
) -> UnitFlows:
    """Unit flows of a lattice with its wake along one direction, see :class:`Solvers`."""
    return Solvers(lattice, use_mirror=use_mirror).unit_flows(direction)


def mirror_applies(lattice: Lattice, direction: Floats = CRAFT_AXIS) -> bool:
    """Whether loads of the port side follow from the starboard side by reflection."""
    centred = float(lattice.reference.moment_point[1]) == 0.0
    return lattice.is_mirror_symmetric and centred and float(direction[1]) == 0.0


def mirror_parities(bodies: Sequence[str]) -> tuple[Floats, list[int]]:
    """Sign of each unit flow under reflection, and the column that takes its place.

    Reflected, a column q of the starboard side gives ``sign[q]`` times column ``mirror[q]`` of
    the port side: tips trade places, sideways motions change sign.

    Parameters
    ----------
    bodies : names of the tips, in the order of their columns
    """
    names = list(bodies)
    sign = np.ones(FIRST_TIP + len(names))
    sign[[1, 3, 5]] = -1.0
    mirror = list(range(FIRST_TIP))
    mirror += [FIRST_TIP + names.index(other_body(body)) for body in names]
    return sign, mirror


def factorised(matrix: Floats) -> tuple[Solver, float]:
    """LU factors of a matrix, in place, as a solver; and its condition number in the 1-norm.

    Raises
    ------
    ComputationFailed : the matrix is singular or holds values that are not numbers
    """
    norm = float(linalg.norm(matrix, 1, check_finite=False))
    if not np.isfinite(norm):
        raise ComputationFailed("the influence matrix holds values that are not finite")
    # A C-ordered matrix is its transpose in Fortran order: factor that, and solve transposed.
    with algebra_threads(len(matrix)):
        lu, pivots, info = lapack.dgetrf(matrix.T, overwrite_a=True)
    if info > 0:
        raise ComputationFailed(
            "the influence matrix is singular: two surfaces coincide or a panel has no area"
        )
    reciprocal, _ = lapack.dgecon(lu, norm, norm="I")
    condition = float(1.0 / reciprocal) if reciprocal > 0.0 else np.inf
    if condition > 1e14:
        raise ComputationFailed(
            f"the influence matrix is singular to working precision (condition {condition:.1e}):"
            " surfaces touch or panels have almost no area"
        )

    def solver(right: Floats) -> Floats:
        # The wrapper counts the pivots up and down in place: threads must not share them.
        solution, _ = lapack.dgetrs(lu, pivots.copy(), right, trans=1)
        return np.asarray(solution)

    return solver, condition
