"""Stored velocities of every ring with its wake, for circulations that are asked for many times."""

import numpy as np

from vlm.constants import Floats
from vlm.flow import kernel
from vlm.flow.influence import node_table, solid
from vlm.flow.wake import Wake


def velocity_table(points: Floats, wake: Wake) -> Floats:
    """Velocity at points from each panel's ring, shape (m, 3, panels) [1/m].

    The rings at the trailing edge bring their wake with them, the change along the edge included.
    """
    table, behind = _split_table(points, wake, whole=True)
    table[:, :, wake.shape.lattice.trailing_panels()] += behind
    return table


def wake_velocities(points: Floats, wake: Wake) -> Floats:
    """Velocity at points from the wake of each strip with unit circulation, (m, 3, strips) [1/m].

    The change along the edge is included, as in :func:`velocity_table`.
    """
    return _split_table(points, wake, whole=False)[1]


def _split_table(points: Floats, wake: Wake, *, whole: bool) -> tuple[Floats, Floats]:
    """Velocities of rings closed at the trailing edge, shape (m, 3, panels), and of the wake behind
    each strip, shape (m, 3, strips); those of the wake alone where they are not asked for whole."""
    lattice = wake.shape.lattice
    points, direction = solid(points), solid(wake.direction)
    table = np.empty((len(points), 3, lattice.panels if whole else 0))
    strips = sum(patch.strips for patch in lattice.patches)
    plain, shaped = np.empty((2, len(points), 3, strips))
    strip = 0
    for index, patch in enumerate(lattice.patches):
        skipped = 0 if whole else patch.rows
        nodes, shape = wake.nodes[index][skipped:], wake.shape.ring_shapes[index]
        rings = np.empty((len(points), 3, (len(nodes) - 1) * patch.strips))
        kernel.velocity(
            points, node_table(nodes), patch.strips + 1, direction, patch.sense, rings, 0
        )
        ahead = patch.panels if whole else 0
        if whole:
            table[:, :, lattice.panels_of(index)] = rings[:, :, :ahead]
        behind = rings[:, :, ahead:].reshape(len(points), 3, -1, patch.strips)
        own = slice(strip, strip + patch.strips)
        plain[:, :, own] = sum(np.moveaxis(behind, 2, 0))  # row by row: faster than along the axis
        shaped[:, :, own] = np.einsum("mcrs,rs->mcs", behind, shape)
        strip += patch.strips
    return table, plain + shaped @ wake.amplitudes


def wing_velocities(points: Floats, wake: Wake, circulation: Floats) -> Floats:
    """Velocity at points from the rings alone, each closed at the trailing edge.

    It is that of any wake of the lattice. For many columns, where it pays to store a table of one
    patch's rings at a time.

    Parameters
    ----------
    circulation : shape (panels, columns) [m^2/s]

    Returns
    -------
    shape (m, 3, columns) [m/s]
    """
    lattice = wake.shape.lattice
    points, direction = solid(points), solid(wake.direction)
    total = np.zeros((3 * len(points), circulation.shape[1]))
    for index, patch in enumerate(lattice.patches):
        # One row of the wake closes the rings; its own ring and legs are left out.
        nodes = wake.nodes[index][: patch.rows + 2]
        rings = np.empty((len(points), 3, (patch.rows + 1) * patch.strips))
        kernel.velocity(
            points, node_table(nodes), patch.strips + 1, direction, patch.sense, rings, 0
        )
        own = rings.reshape(3 * len(points), -1)[:, : patch.panels]
        total += own @ circulation[lattice.panels_of(index)]
    return total.reshape(len(points), 3, -1)
