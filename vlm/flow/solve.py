"""The lattice solved for its unit onset flows.

No flow through the surface: with A the influence along the normals, V_q the air's velocity in
unit flow q, and Gamma_q the rings' circulation,

    A Gamma_q = - V_q . n                                                             (4)

Every flight state is a sum of the unit flows, so one factorisation serves them all.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from scipy import linalg
from scipy.linalg import lapack

from vlm.constants import Floats
from vlm.errors import ComputationFailed
from vlm.flow.influence import CRAFT_AXIS, influence_matrix, mirrored_halves
from vlm.flow.onset import FIRST_TIP, onset_velocities
from vlm.flow.threads import algebra_threads
from vlm.lattice.lattice import Lattice

Solver = Callable[[Floats], Floats]
RESIDUAL_LIMIT = 1e-8


@dataclass(frozen=True)
class UnitFlows:
    """A lattice's circulations in its unit onset flows.

    Attributes
    ----------
    lattice : the lattice
    circulation : shape (panels, columns), ring strengths [m^2/s per unit]
    solver : maps right-hand sides of (4), shape (panels, k), to circulations
    direction : unit vector of the trailing legs, shape (3,)
    condition : LAPACK's estimate of the matrix's condition number in the 1-norm [1]
    mirrored : whether the two mirrored halves were solved instead of the whole
    """

    lattice: Lattice
    circulation: Floats
    solver: Solver
    direction: Floats
    condition: float
    mirrored: bool


def normal_onset(lattice: Lattice) -> Floats:
    """V_q . n at every control point, shape (panels, columns) [m/s per unit]."""
    parts = []
    for patch in lattice.patches:
        velocity = onset_velocities(lattice, patch, patch.controls.reshape(-1, 3))
        parts.append(np.einsum("mcq,mc->mq", velocity, patch.normals.reshape(-1, 3)))
    return np.concatenate(parts)


def unit_flows(
    lattice: Lattice, *, direction: Floats = CRAFT_AXIS, use_mirror: bool = True
) -> UnitFlows:
    """Solve equation (4) for all unit flows.

    Parameters
    ----------
    direction : unit vector along which the trailing legs run, geometry axes
    use_mirror : solve the symmetric and antisymmetric halves where the lattice, the moment
        point and the legs are mirror-symmetric

    Raises
    ------
    ComputationFailed : the matrix is singular, or does not fit into memory
    """
    mirrored = use_mirror and mirror_applies(lattice, direction)
    if mirrored:
        solver, condition = _mirror_solver(lattice, direction)
    else:
        solver, condition = factorised(influence_matrix(lattice, direction))
    circulation = solver(-normal_onset(lattice))
    return UnitFlows(lattice, circulation, solver, direction, condition, mirrored)


def mirror_applies(lattice: Lattice, direction: Floats = CRAFT_AXIS) -> bool:
    """Whether loads of the port side follow from the starboard side by reflection."""
    centred = float(lattice.reference.moment_point[1]) == 0.0
    return lattice.is_mirror_symmetric and centred and float(direction[1]) == 0.0


def mirror_parities(bodies: Sequence[str]) -> tuple[Floats, list[int]]:
    """Sign of each unit flow under reflection, and the column that takes its place.

    Reflected, a column q of the starboard side gives ``sign[q]`` times column ``twin[q]`` of
    the port side: tips trade places, sideways motions change sign.

    Parameters
    ----------
    bodies : names of the tips, in the order of their columns
    """
    names = list(bodies)
    sign = np.ones(FIRST_TIP + len(names))
    sign[[1, 3, 5]] = -1.0
    twin = list(range(FIRST_TIP))
    for body in names:
        wing, side = body.split("_")
        other = f"{wing}_{'left' if side == 'right' else 'right'}"
        twin.append(FIRST_TIP + names.index(other))
    return sign, twin


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


def _mirror_solver(lattice: Lattice, direction: Floats) -> tuple[Solver, float]:
    even, odd = mirrored_halves(lattice, direction)
    solve_even, condition_even = factorised(even)
    solve_odd, condition_odd = factorised(odd)
    half = lattice.panels // 2

    def solver(right: Floats) -> Floats:
        starboard, port = right[:half], right[half:]
        sum_part = solve_even(0.5 * (starboard + port))
        difference = solve_odd(0.5 * (starboard - port))
        return np.concatenate([sum_part + difference, sum_part - difference])

    return solver, max(condition_even, condition_odd)
