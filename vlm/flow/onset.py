"""Unit onset flows: what the air does to points of the craft when one motion is one.

Columns, in this order: three translations of the air along x, y and z of the geometry axes
[m/s per m/s], three rotations of the craft with body rates p, q and r about the moment point
[m/s per rad/s], then one turning rate of each tip about its hinge, positive raising it
[m/s per rad/s].
"""

import numpy as np

from vlm.constants import Floats
from vlm.frames import cross
from vlm.lattice.lattice import Lattice
from vlm.lattice.patches import Patch

TRANSLATIONS = slice(0, 3)
FIRST_TIP = 6
BODY_RATE_AXES = np.diag([-1.0, 1.0, -1.0])


def column_count(lattice: Lattice) -> int:
    """Number of unit onset flows of a lattice."""
    return FIRST_TIP + len(lattice.hinges)


def tip_column(lattice: Lattice, body: str) -> int:
    """Column of the turning rate of a tip."""
    return FIRST_TIP + lattice.bodies.index(body)


def onset_velocities(lattice: Lattice, patch: Patch, points: Floats) -> Floats:
    """Velocity of the air past points of one patch in each unit flow.

    The air's velocity past a point that moves with the craft is minus the point's own.

    Parameters
    ----------
    points : shape (m, 3), geometry axes [m]

    Returns
    -------
    shape (m, 3, columns)
    """
    columns = np.zeros((len(points), 3, column_count(lattice)))
    columns[:, :, TRANSLATIONS] = np.eye(3)
    arm = points - lattice.reference.moment_point
    for i, axis in enumerate(BODY_RATE_AXES):
        columns[:, :, 3 + i] = -cross(axis, arm)
    if patch.body in lattice.hinges:
        line = lattice.hinges[patch.body]
        turning = cross(line.axis, points - line.point)
        columns[:, :, tip_column(lattice, patch.body)] = -turning
    return columns


def onset_gradients() -> Floats:
    """Derivative of :func:`onset_velocities` with position, for the columns 0 to 5.

    shape (3 components, 3 positions, 6); the same everywhere.
    """
    gradient = np.zeros((3, 3, 6))
    for i, axis in enumerate(BODY_RATE_AXES):
        gradient[:, :, 3 + i] = -cross(axis, np.eye(3)).T
    return gradient
