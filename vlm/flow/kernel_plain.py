"""The kernel's plain form in numpy: the same velocities, written to be read.

It holds temporaries of size points x nodes x 3 and serves as the reference that the compiled
kernel of :mod:`vlm.flow.kernel` is tested against.
"""

import numpy as np

from vlm.constants import Floats
from vlm.flow.kernel import FOUR_PI, ON_LINE, PAST_END


def segment_velocity(start: Floats, end: Floats) -> Floats:
    """Equation (2): velocity of a finite segment of unit circulation.

    Parameters
    ----------
    start, end : shape (..., 3), from the segment's ends to the point [m]

    Returns
    -------
    shape (..., 3) [1/m]
    """
    cross = np.cross(start, end)
    squared = np.sum(cross**2, axis=-1)
    first, second = np.linalg.norm(start, axis=-1), np.linalg.norm(end, axis=-1)
    dot, product = np.sum(start * end, axis=-1), first * second
    length2 = first**2 + second**2 - 2.0 * dot
    beside = dot < 0.0
    top = (first + second) * np.where(beside, product - dot, 1.0)
    below = np.where(beside, squared, product + dot)
    apart = (squared > ON_LINE * length2**2) | (dot > PAST_END * length2)
    factor = np.where(apart, top / np.where(apart, product * below, 1.0), 0.0)
    return np.asarray(factor[..., None] * cross / FOUR_PI)


def leg_velocity(arm: Floats, direction: Floats) -> Floats:
    """Equation (3): velocity of a leg to infinity of unit circulation, shape (..., 3) [1/m]."""
    cross = np.cross(direction, arm)
    squared = np.sum(cross**2, axis=-1)
    distance, dot = np.linalg.norm(arm, axis=-1), arm @ direction
    beside = dot > 0.0
    top = np.where(beside, distance + dot, 1.0)
    below = distance * np.where(beside, squared, distance - dot)
    apart = (squared > ON_LINE * distance**2) | (dot < 0.0)
    factor = np.where(apart, top / np.where(apart, below, 1.0), 0.0)
    return np.asarray(factor[..., None] * cross / FOUR_PI)


def ring_velocities(points: Floats, nodes: Floats, direction: Floats, sense: float) -> Floats:
    """Equation (1): velocity at points from every ring of a grid.

    Parameters
    ----------
    points : shape (m, 3) [m]
    nodes : shape (rows + 1, strips + 1, 3) [m]
    direction : unit vector of the trailing legs, shape (3,)
    sense : +1 or -1, as a patch's

    Returns
    -------
    shape (m, 3, rows * strips) [1/m]
    """
    arms = points[:, None, None, :] - nodes
    bound = segment_velocity(arms[:, :-1, :-1], arms[:, :-1, 1:])
    legs = segment_velocity(arms[:, :-1], arms[:, 1:])
    legs[:, -1] += leg_velocity(arms[:, -1], direction)
    rings = bound + legs[:, :, 1:] - legs[:, :, :-1]
    rings[:, :-1] -= bound[:, 1:]
    return np.asarray(sense * rings.reshape(len(points), -1, 3).transpose(0, 2, 1))
