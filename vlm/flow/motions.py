"""How a lattice moves with one parameter."""

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from vlm.constants import Floats
from vlm.frames import cross
from vlm.lattice.lattice import Lattice
from vlm.lattice.patches import HingeLine
from vlm.sides import Side, on_side


@dataclass(frozen=True)
class Motion:
    """How the lattice moves with one parameter: tips turn, or the wake does.

    Attributes
    ----------
    spins : by moving body, its hinge and its turn per unit of commanded fold, as one angular
        velocity vector, shape (3,) [1]
    hinges : hinge lines by body
    direction_rate : turn of the wake's unit direction, shape (3,) [1]
    """

    spins: Mapping[str, Floats]
    hinges: Mapping[str, HingeLine]
    direction_rate: Floats = field(default_factory=lambda: np.zeros(3))

    def spin(self, body: str) -> Floats:
        """Angular velocity of a body [rad per rad]."""
        return self.spins.get(body, np.zeros(3))

    def turned(self, body: str, vectors: Floats) -> Floats:
        """Rate of vectors fixed to a body, same shape."""
        if body not in self.spins:
            return np.zeros_like(vectors)
        return np.asarray(cross(self.spins[body], vectors))

    def displacement(self, body: str, points: Floats) -> Floats:
        """Motion of points carried by a body, same shape as ``points`` [m per rad]."""
        if body not in self.spins:
            return np.zeros_like(points)
        return np.asarray(cross(self.spins[body], points - self.hinges[body].point))


def fold_motion(lattice: Lattice, side: Side) -> Motion:
    """Motion of the tips of a side per radian of that side's commanded fold."""
    bodies = on_side(lattice.bodies, side)
    spins = {b: lattice.fold_rates[b] * lattice.hinges[b].axis for b in bodies}
    return Motion(spins=spins, hinges=lattice.hinges)


def wake_motion(lattice: Lattice, direction_rate: Floats) -> Motion:
    """Motion of the wake alone, its direction changing at the given rate."""
    return Motion(spins={}, hinges=lattice.hinges, direction_rate=direction_rate)
