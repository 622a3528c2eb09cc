"""Fins in the plane of symmetry: one sheet that its starboard and its port copy share.

Such a fin stands in the lattice twice, as every surface does, and both copies coincide. Only the
difference of their circulations, each in its own sense, is a vortex; their sum does nothing. So
their rows of equation (4) say the same, and a symmetric onset has no velocity across them. With c
any number of the matrix's size, adding

    c (Gamma_starboard + Gamma_port)                                                   (21)

to the rows of both keeps that sum at zero and leaves the difference, which is the fin's
circulation, what it is: their difference of rows has no such term. In halves it is 2 c on the
diagonal of the symmetric problem, and nothing in the antisymmetric one.
"""

import numpy as np
from numpy.typing import NDArray

from vlm.constants import Floats
from vlm.lattice.lattice import Lattice


def hold_sums(matrix: Floats, lattice: Lattice) -> None:
    """Add (21) to the whole matrix of a lattice, in place."""
    own = lattice.plane_panels
    if not own.size:
        return
    image = own + lattice.panels // 2
    size = _size(matrix, own)
    for rows in (own, image):
        for columns in (own, image):
            matrix[rows, columns] += size


def hold_symmetric(matrix: Floats, panels: NDArray[np.intp]) -> None:
    """Add (21) to the matrix of the symmetric half, in place; its other terms there are none."""
    if panels.size:
        size = float(np.abs(np.delete(np.diag(matrix), panels)).max())
        matrix[panels, :] = 0.0
        matrix[:, panels] = 0.0
        matrix[panels, panels] = size


def _size(matrix: Floats, panels: NDArray[np.intp]) -> float:
    return float(np.abs(matrix[panels, panels]).max())


def without_sums(right: Floats, lattice: Lattice) -> Floats:
    """Right-hand sides (panels, k) with what both copies have in common taken out."""
    own = lattice.plane_panels
    if not own.size:
        return right
    image = own + lattice.panels // 2
    result = np.array(right, dtype=float)
    difference = 0.5 * (result[own] - result[image])
    result[own], result[image] = difference, -difference
    return result
