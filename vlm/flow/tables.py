"""Stored velocities of every ring with its wake, for circulations that are asked for many times."""

import numpy as np

from vlm.constants import Floats
from vlm.flow import kernel
from vlm.flow.influence import node_table, solid
from vlm.flow.kernel_wake import wake_velocity
from vlm.flow.wake import Wake


def ring_table(points: Floats, wake: Wake) -> Floats:
    """Velocity at points from each panel's ring, closed at the edge, (m, 3, panels) [1/m].

    It is that of any wake of the lattice.
    """
    lattice = wake.shape.lattice
    points = solid(points)
    table = np.empty((len(points), 3, lattice.panels))
    for index, patch in enumerate(lattice.patches):
        rings = _closed_rings(points, wake, index)
        table[:, :, lattice.panels_of(index)] = rings[:, :, : patch.panels]
    return table


def _closed_rings(points: Floats, wake: Wake, index: int) -> Floats:
    """Velocities of a patch's rings, shape (m, 3, panels + strips) [1/m].

    One row of the wake closes them; its own rings and legs, the last, are to be left out.
    """
    patch = wake.shape.lattice.patches[index]
    nodes = node_table(wake.nodes[index][: patch.rows + 2])
    rings = np.empty((len(points), 3, patch.panels + patch.strips))
    kernel.velocity(points, nodes, patch.strips + 1, solid(wake.direction), patch.sense, rings, 0)
    return rings


def wake_velocities(points: Floats, wake: Wake) -> Floats:
    """Velocity at points from the wakes of each strip with unit circulation [1/m].

    The change along the edge is included.

    Parameters
    ----------
    wake : the wake, or the wakes along some directions

    Returns
    -------
    shape (m, 3, wakes, strips)
    """
    lattice, shapes = wake.shape.lattice, wake.shape.ring_shapes
    owner = np.repeat(np.arange(len(shapes)), [shape.shape[1] for shape in shapes])
    directions = np.atleast_2d(solid(wake.direction))
    count, strips = len(directions), len(owner)
    nodes = np.moveaxis(wake.lines.reshape(count, -1, 3), 2, 1)
    amplitudes = wake.amplitudes.reshape(count, strips, strips)
    rows, columns = np.nonzero(amplitudes.any(axis=0))
    found = np.empty((len(points), 3, count, strips))
    wake_velocity(
        solid(points), solid(nodes), directions,
        np.concatenate([np.pad(shape, ((0, 0), (0, 1))) for shape in shapes], axis=1),
        np.arange(strips) + owner, np.array([p.sense for p in lattice.patches])[owner],
        np.ascontiguousarray(rows), np.ascontiguousarray(columns),
        solid(amplitudes[:, rows, columns]), found,
    )  # fmt: skip
    return found


def wing_velocities(points: Floats, wake: Wake, circulation: Floats) -> Floats:
    """The rings of :func:`ring_table` times circulations, one patch's table at a time.

    For many columns, where it pays to store it.

    Parameters
    ----------
    circulation : shape (panels, columns) [m^2/s]

    Returns
    -------
    shape (m, 3, columns) [m/s]
    """
    lattice = wake.shape.lattice
    points = solid(points)
    total = np.zeros((3 * len(points), circulation.shape[1]))
    for index, patch in enumerate(lattice.patches):
        rings = _closed_rings(points, wake, index)
        own = rings.reshape(3 * len(points), -1)[:, : patch.panels]
        total += own @ circulation[lattice.panels_of(index)]
    return total.reshape(len(points), 3, -1)
