"""Drag areas: bodies, struts and gear, each with a drag along each axis, at its place.

A body of areas A along the axes has, in air that it meets with velocity v,

    F = -rho/2 |v| (A_x v_x, A_y v_y, A_z v_z)                                          (1)

so that a long body pushes more across its length than along it. One without a place acts at the
centre of gravity.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from vlm.constants import Floats
from vlm.description.models import Biplane
from vlm.flight.craft.small_motions import cross_matrix
from vlm.frames import GEOMETRY_TO_BODY, wind_direction
from vlm.lattice.reference import ReferenceFrame
from vlm.loads.state import rate_scales


@dataclass(frozen=True)
class DragBodies:
    """All drag areas of a craft.

    Attributes
    ----------
    areas : shape (bodies, 3), along each axis [m^2]
    places : shape (bodies, 3), geometry axes; NaN without a place [m]
    """

    areas: Floats
    places: Floats

    @classmethod
    def of(cls, craft: Biplane) -> "DragBodies":
        """Those of a file."""
        nowhere = (np.nan, np.nan, np.nan)
        known = craft.all_drag_areas
        return cls(
            np.array([one.areas_m2 for one in known]).reshape(-1, 3),
            np.array([one.position_m or nowhere for one in known], dtype=float).reshape(-1, 3),
        )

    def seen_from(self, point: Floats) -> "DragBodies":
        """The same with places from a point, geometry axes, shape (3,) [m]."""
        return DragBodies(self.areas, self.places - point)

    @cached_property
    def placed(self) -> NDArray[np.intp]:
        """Which have a place."""
        return np.flatnonzero(np.isfinite(self.places[:, 0]))

    def arms(self, centre: Floats) -> Floats:
        """From a centre of gravity, geometry axes, shape (bodies, 3); 0 without a place [m]."""
        return np.nan_to_num(self.places - centre)

    def carried(self, centre: Floats, of_centre: Floats, of_craft: Floats) -> Floats:
        """Velocity of every body for each speed, body axes, shape (bodies, 3, speeds).

        Parameters
        ----------
        centre : of gravity, geometry axes, shape (3,) [m]
        of_centre, of_craft : shape (3, speeds), velocity of the centre of gravity, and of the place
            in the fixed wings where it is; speeds 3 to 5 are the rates p, q and r
        """
        found = np.repeat(of_centre[None], len(self.areas), axis=0)
        for index in self.placed:
            found[index] = of_craft
            found[index, :, 3:6] -= cross_matrix(GEOMETRY_TO_BODY @ (self.places[index] - centre))
        return found

    def forces(self, velocity: Floats, density: float) -> Floats:
        """Equation (1), in any axes along those of the craft.

        Parameters
        ----------
        velocity : of the bodies through the air, shape (..., bodies, 3) [m/s]
        """
        return -drag(self.areas, velocity, density)

    def force_rates(self, velocity: Floats, density: float) -> Floats:
        """Rates of (1) with the velocity, shape (bodies, 3, 3) [N s/m].

        Parameters
        ----------
        velocity : shape (bodies, 3), at rest nowhere [m/s]
        """
        speed = np.linalg.norm(velocity, axis=1)[:, None, None]
        along = (self.areas * velocity)[:, :, None] * velocity[:, None, :] / speed
        return np.asarray(-0.5 * density * (speed * self.areas[:, :, None] * np.eye(3) + along))

    def lateral_slopes(
        self, centre: Floats, reference: ReferenceFrame, alpha: float
    ) -> dict[str, float]:
        """Rates of CY, Cl, Cn with sideslip, p_hat and r_hat about the moment point, body axes.

        Parameters
        ----------
        centre : of gravity, where those without a place act, geometry axes, shape (3,) [m]
        alpha : angle of attack [rad]

        Returns
        -------
        "CY_beta", "Cl_p" and so on [1 per rad]
        """
        placed = np.isfinite(self.places)
        arms = (np.where(placed, self.places, centre) - reference.moment_point) @ GEOMETRY_TO_BODY
        onset = np.broadcast_to(-wind_direction(alpha, 0.0) @ GEOMETRY_TO_BODY, arms.shape)
        roll, _, yaw = rate_scales(reference)
        across = np.broadcast_to([0.0, 1.0, 0.0], arms.shape)
        moves = [across, np.cross([roll, 0.0, 0.0], arms), np.cross([0.0, 0.0, yaw], arms)]
        force = self.force_rates(onset, 1.0) @ np.stack(moves, axis=-1)
        moment = np.cross(arms[:, :, None], force, axis=1).sum(axis=0) / reference.span
        rows = {"CY": force.sum(axis=0)[1], "Cl": moment[0], "Cn": moment[2]}
        return {
            f"{name}_{motion}": float(2.0 / reference.area * row[i])
            for i, motion in enumerate(("beta", "p", "r"))
            for name, row in rows.items()
        }


def drag(areas: Floats, velocity: Floats, density: float) -> Floats:
    """Drag in the direction of air that comes with a velocity, shape (..., 3) [N]."""
    speed = np.sqrt(np.sum(velocity**2, axis=-1, keepdims=True))
    return np.asarray(0.5 * density * speed * velocity * areas)
