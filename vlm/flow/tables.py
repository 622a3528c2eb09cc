"""Stored velocities of every ring with its wake, for circulations that are asked for many times."""

from collections.abc import Sequence

import numpy as np

from vlm.constants import Floats
from vlm.flow import kernel
from vlm.flow.influence import node_table, velocities_behind
from vlm.flow.wake import Wake


def velocity_table(points: Floats, wake: Wake) -> Floats:
    """Velocity at points from each panel's ring, shape (m, 3, panels) [1/m].

    The rings at the trailing edge bring their wake with them, the change along the edge included.
    """
    lattice = wake.shape.lattice
    points = np.require(points, requirements=["C", "W"])
    direction = np.require(wake.direction, requirements=["C", "W"])
    table = np.empty((len(points), 3, lattice.panels))
    strips = sum(patch.strips for patch in lattice.patches)
    plain, shaped = np.empty((2, len(points), 3, strips))
    strip = 0
    for index, patch in enumerate(lattice.patches):
        nodes, shape = wake.nodes[index], wake.shape.ring_shapes[index]
        rings = np.empty((len(points), 3, (len(nodes) - 1) * patch.strips))
        kernel.velocity(
            points, node_table(nodes), patch.strips + 1, direction, patch.sense, rings, 0
        )
        table[:, :, lattice.panels_of(index)] = rings[:, :, : patch.panels]
        behind = rings[:, :, patch.panels :].reshape(len(points), 3, -1, patch.strips)
        own = slice(strip, strip + patch.strips)
        plain[:, :, own] = behind.sum(axis=2)
        shaped[:, :, own] = np.einsum("mcrs,rs->mcs", behind, shape)
        strip += patch.strips
    table[:, :, lattice.trailing_panels()] += plain + shaped @ wake.amplitudes
    return table


def wing_table(points: Floats, wake: Wake) -> Floats:
    """The same from the rings alone, each closed at the trailing edge, whatever the wake does."""
    lattice = wake.shape.lattice
    points = np.require(points, requirements=["C", "W"])
    direction = np.require(wake.direction, requirements=["C", "W"])
    table = np.empty((len(points), 3, lattice.panels))
    for index, patch in enumerate(lattice.patches):
        # One row of the wake closes the rings; its own ring and legs are left out.
        nodes = wake.nodes[index][: patch.rows + 2]
        rings = np.empty((len(points), 3, (patch.rows + 1) * patch.strips))
        kernel.velocity(
            points, node_table(nodes), patch.strips + 1, direction, patch.sense, rings, 0
        )
        table[:, :, lattice.panels_of(index)] = rings[:, :, : patch.panels]
    return table


class KeptVelocities:
    """Velocities of a lattice's rings at the segments of its patches, kept for many wakes.

    They take 48 bytes for each pair of panels.
    """

    def __init__(self) -> None:
        self._tables: dict[int, Floats] = {}

    def from_all(
        self, index: int, points: Floats, wake: Wake, strengths: Sequence[Floats]
    ) -> Floats:
        """As :func:`vlm.flow.influence.velocities_from` at the segments of one patch."""
        if index not in self._tables:
            self._tables[index] = wing_table(points, wake)
        patches = wake.shape.lattice.patches
        parts = zip(patches, strengths, strict=True)
        rings = np.concatenate([strength[: patch.panels] for patch, strength in parts])
        flat = self._tables[index].reshape(-1, len(rings)) @ rings
        behind = [s[patch.panels :] for patch, s in zip(patches, strengths, strict=True)]
        still = flat.reshape(len(points), 3, -1)
        return np.asarray(still + velocities_behind(points, wake, behind))
