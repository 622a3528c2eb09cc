"""What an unsteady march is given: the lattice, the stream, gusts and the tips' rates."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from vlm.constants import SEA_LEVEL_DENSITY, Floats
from vlm.lattice.lattice import Lattice


def still_air(_time: float, points: Floats) -> Floats:
    """No gust: nothing beyond the stream."""
    return np.zeros_like(points)


def tips_at_rest(_time: float) -> Mapping[str, float]:
    """No tip moves."""
    return {}


@dataclass(frozen=True)
class Course:
    """A craft that holds its shape, in a steady stream with small disturbances.

    The geometry stays; a motion of the craft or of a tip enters by the speed of its surface
    (first order: as long as a motion is small against the chord, the place where the boundary
    condition is met does not matter).

    Attributes
    ----------
    lattice : the panels, one fold setting
    stream : velocity of the air past the craft, geometry axes, shape (3,) [m/s]
    gust : of time [s] and points, shape (m, 3) [m], velocity of the air beyond the stream,
        shape (m, 3) [m/s]; a craft that heaves at w is a gust of -w
    tip_rates : of time [s], turning rate of each moving tip about its hinge by body [rad/s]
    density : of the air [kg/m^3]
    """

    lattice: Lattice
    stream: Floats
    gust: Callable[[float, Floats], Floats] = still_air
    tip_rates: Callable[[float], Mapping[str, float]] = tips_at_rest
    density: float = SEA_LEVEL_DENSITY

    def air_past(self, time: float, body: str, points: Floats) -> Floats:
        """Velocity of the undisturbed air past points of a body, shape (..., 3) [m/s]."""
        flat = points.reshape(-1, 3)
        past = self.stream + self.gust(time, flat)
        rate = self.tip_rates(time).get(body, 0.0)
        if rate:
            hinge = self.lattice.hinges[body]
            past = past - rate * np.cross(hinge.axis, flat - hinge.point)
        return np.asarray(past.reshape(points.shape))
