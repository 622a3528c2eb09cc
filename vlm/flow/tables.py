"""Stored velocity tables between groups of patches, for folds that are asked for again and again.

A craft is a few rigid bodies: the fixed wings F, the starboard tips R and the port tips L. The
port tips at a fold are the mirror image of the starboard tips at that fold, so everything that
involves one side's tips and the fixed wings is a table of one angle, made once:
:class:`TipTables`. Only the tables between both sides' tips (:class:`CrossTables`) belong to a
pair of angles.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from vlm.constants import Floats
from vlm.flow import kernel, kernel_rates
from vlm.flow.influence import CRAFT_AXIS, node_table
from vlm.lattice.patches import Patch

STILL = np.zeros(3)


@dataclass(frozen=True)
class Targets:
    """Points of some patches with their motion when the patches' tips turn.

    Attributes
    ----------
    points : shape (m, 3) [m]
    rates : shape (m, 3), motion per radian of commanded fold [m]
    """

    points: Floats
    rates: Floats


def velocity_table(points: Floats, sources: Sequence[Patch]) -> Floats:
    """Velocity at points from each ring, shape (m, 3, rings) [1/m]."""
    table = np.empty((len(points), 3, sum(patch.panels for patch in sources)))
    first = 0
    for patch in sources:
        kernel.velocity(
            points, node_table(patch), patch.strips + 1, CRAFT_AXIS, patch.sense, table, first
        )
        first += patch.panels
    return table


def velocity_rate_table(
    targets: Targets, sources: Sequence[Patch], node_rates: Sequence[Floats]
) -> Floats:
    """Rate of :func:`velocity_table` while points and nodes move, shape (m, 3, rings).

    Parameters
    ----------
    node_rates : for each source, motion of its nodes, shape of its nodes [m per unit]
    """
    table = np.empty((len(targets.points), 3, sum(patch.panels for patch in sources)))
    first = 0
    for patch, rates in zip(sources, node_rates, strict=True):
        kernel_rates.velocity_rate(
            targets.points, targets.rates, node_table(patch),
            np.ascontiguousarray(rates.reshape(-1, 3).T), patch.strips + 1,
            CRAFT_AXIS, STILL, patch.sense, table, first,
        )  # fmt: skip
        first += patch.panels
    return table


def along(table: Floats, normals: Floats) -> Floats:
    """Component of a table along a normal at each point, shape (m, rings)."""
    return np.asarray(np.einsum("mcr,mc->mr", table, normals))


def times(table: Floats, strengths: Floats) -> Floats:
    """Velocities of rings of given strengths (rings, columns), shape (m, 3, columns)."""
    flat = table.reshape(-1, table.shape[2]) @ strengths
    return flat.reshape(len(table), 3, -1)
