"""Influence blocks between patches: what rings of some patches do at points of others."""

from collections.abc import Sequence

import numpy as np

from vlm.constants import Floats
from vlm.flow import kernel, kernel_rates
from vlm.flow.compiling import tell_of_compiling
from vlm.flow.memory import refuse_too_large
from vlm.lattice.lattice import Lattice
from vlm.lattice.patches import Patch

CRAFT_AXIS = np.array([1.0, 0.0, 0.0])

tell_of_compiling()


def node_table(patch: Patch) -> Floats:
    """A patch's nodes as the kernel takes them, shape (3, (rows + 1) (strips + 1)) [m]."""
    return np.ascontiguousarray(patch.nodes.reshape(-1, 3).T)


def normalwash_of(
    points: Floats, normals: Floats, sources: Sequence[Patch], direction: Floats, out: Floats
) -> None:
    """Fill ``out``, shape (m, panels of the sources), with velocities along the normals [1/m]."""
    first = 0
    for patch in sources:
        kernel.normalwash(
            _solid(points), _solid(normals), node_table(patch), patch.strips + 1, direction,
            patch.sense, out, first,
        )  # fmt: skip
        first += patch.panels


def influence_matrix(lattice: Lattice, direction: Floats = CRAFT_AXIS) -> Floats:
    """Velocity along each panel's normal from each ring, shape (panels, panels) [1/m].

    Raises
    ------
    ComputationFailed : the matrix does not fit into memory
    """
    refuse_too_large(lattice.panels)
    matrix = np.empty((lattice.panels, lattice.panels))
    normalwash_of(lattice.controls(), lattice.normals(), lattice.patches, direction, matrix)
    return matrix


def mirrored_halves(lattice: Lattice, direction: Floats = CRAFT_AXIS) -> tuple[Floats, Floats]:
    """Influence of a mirror-symmetric lattice on its symmetric and antisymmetric loadings.

    With S the starboard panels and P their port twins, A_SS + A_SP and A_SS - A_SP, each of
    shape (panels / 2, panels / 2) [1/m].
    """
    half = len(lattice.patches) // 2
    starboard, port = lattice.patches[:half], lattice.patches[half:]
    points = np.concatenate([patch.controls.reshape(-1, 3) for patch in starboard])
    normals = np.concatenate([patch.normals.reshape(-1, 3) for patch in starboard])
    refuse_too_large(lattice.panels)
    own, other = np.empty((2, len(points), len(points)))
    normalwash_of(points, normals, starboard, direction, own)
    normalwash_of(points, normals, port, direction, other)
    # In place, row by row: even = own + other, odd = own - other.
    for even_row, odd_row in zip(own, other, strict=True):
        difference = even_row - odd_row
        even_row += odd_row
        odd_row[:] = difference
    return own, other


def velocities_from(
    points: Floats, sources: Sequence[Patch], strengths: Sequence[Floats], direction: Floats
) -> Floats:
    """Velocity at points from rings of given circulation; no table is stored.

    Parameters
    ----------
    points : shape (m, 3) [m]
    strengths : for each source, its rings' circulation, shape (panels, columns) [m^2/s]

    Returns
    -------
    shape (m, 3, columns) [m/s]
    """
    result = np.zeros((len(points), 3, strengths[0].shape[1]))
    for patch, strength in zip(sources, strengths, strict=True):
        kernel.velocity_sum(
            _solid(points), node_table(patch), patch.strips + 1, direction, patch.sense,
            _solid(strength.T), result,
        )  # fmt: skip
    return result


def velocity_rates_from(
    points: Floats,
    source: Patch,
    node_rates: Floats,
    strength: Floats,
    direction: Floats,
    direction_rate: Floats,
) -> Floats:
    """Rate of change of a source's velocity at fixed points while its nodes and legs move.

    Parameters
    ----------
    node_rates : motion of the nodes, shape of the patch's nodes [m per unit]
    direction_rate : motion of the legs' unit direction, shape (3,) [per unit]

    Returns
    -------
    shape (m, 3, columns) [m/s per unit]
    """
    result = np.zeros((len(points), 3, strength.shape[1]))
    rates = np.ascontiguousarray(node_rates.reshape(-1, 3).T)
    kernel_rates.velocity_rate_sum(
        _solid(points), np.zeros(points.shape), node_table(source), rates, source.strips + 1,
        direction, direction_rate, source.sense, _solid(strength.T), result,
    )  # fmt: skip
    return result


def _solid(array: Floats) -> Floats:
    """A writable, C-ordered array: the kernel is compiled for no other."""
    return np.require(array, requirements=["C", "W"])
