"""Apparent mass of the air on a craft that speeds up, from the lattice without a wake.

An acceleration that lasts no time sheds nothing: rings closed at the trailing edge hold the flow
tangential, and their potential's jump is the impulse of the air (Lamb, Hydrodynamics, chapter 6;
Katz and Plotkin, Low-Speed Aerodynamics, chapter 13, both from memory). With N_j the normal
velocity of unit motion j at the control points and W the rings' influence,

    A_ij = rho sum over rings  a n . v_i  (W^-1 N_j),                                     (1)

of forces -A z' on the motions z. What the turning of body axes adds to it (A z x omega) is left
out, as the quasi-steady loads hold their own part of it.
"""

import numpy as np

from vlm.constants import Floats
from vlm.flow.onset import onset_velocities
from vlm.lattice.lattice import Lattice
from vlm.unsteady.forces import ring_areas
from vlm.unsteady.shedding import wing_rings


def apparent_mass(lattice: Lattice) -> Floats:
    """A of equation (1) at unit density, for the unit flows of :mod:`vlm.flow.onset`.

    Returns
    -------
    Symmetric, shape (columns, columns) [m^3, m^4, m^5]
    """
    controls, areas = [], []
    for index, patch in enumerate(lattice.patches):
        own = lattice.panels_of(index)
        normals = lattice.normals()[own]
        met = onset_velocities(lattice, patch, lattice.controls()[own])
        controls.append(np.einsum("mc,mcj->mj", normals, met))
        area, middle = ring_areas(patch)
        met = onset_velocities(lattice, patch, middle.reshape(-1, 3))
        size = np.linalg.norm(area.reshape(-1, 3), axis=1)
        areas.append(size[:, None] * np.einsum("mc,mcj->mj", normals, met))
    jumps = np.linalg.solve(wing_rings(lattice), -np.concatenate(controls))
    found = np.concatenate(areas).T @ jumps
    return np.asarray(0.5 * (found + found.T))
