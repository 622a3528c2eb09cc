"""How strips answer with a wake that follows the stream of each state.

A turn of the wake acts through the circulations Gamma_t of the strips alone. With P the response of
the panels for a wake along the craft's axis, T its rows at the trailing edge, and dW(d) what unit
circulations of the strips do at the control points through a wake along d, less what they do
through the one along the axis,

    Gamma = P (V . n + E w + dW(d) Gamma_t),
    Gamma_t = S(d) T (V . n + E w),   S(d) = (1 - T dW(d))^-1                           (2a)

with E w the sections' offsets (:mod:`vlm.sections.sectioned`). All that depends on d is smooth in
its two angles. It is worked out at the angles of attack of :data:`vlm.loads.angles.ANGLES`; what
sideslip changes, at three of them on either side; and polynomials lie between.
"""

from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np

from vlm.constants import Floats
from vlm.flow.direction import EXACT, held_angle
from vlm.flow.tables import wake_velocities
from vlm.flow.wake import Wake, trailing_rings
from vlm.frames import wind_direction
from vlm.loads.angles import ANGLES, angle_weights
from vlm.loads.farfield import wake_trace

StripWake = Literal["stream", "craft"]
"""A wake along the stream of each state, or along the craft's axis."""
SPARSE = slice(1, 4)
"""Of :data:`ANGLES`, between which a parabola tells what sideslip changes.

With 12 degrees of it, forces and moments are off those of all five angles by at most 1e-5 and 4e-6
of what dynamic pressure, area and span make of them; with 1 degree by 7e-7 and 3e-7 (angles of
attack from -6 to 11 degrees, four craft, ten settings).
"""


def carrying_angles(air: Floats) -> tuple[Floats, Floats]:
    """Angle of attack and sideslip of a wake that air of velocity (states, 3) carries off [rad]."""
    x, y, z = np.moveaxis(np.asarray(air, dtype=float), -1, 0)
    return held_angle(np.arctan2(z, x)), held_angle(np.arctan2(-y, np.hypot(x, z)))


def _parabola(angle: Floats, reach: float) -> Floats:
    """Weights of values at minus a reach, none, and the reach, shape (..., 3) [1]."""
    u = np.asarray(angle)[..., None] / reach
    return np.concatenate([0.5 * u * (u - 1.0), 1.0 - u**2, 0.5 * u * (u + 1.0)], axis=-1)


@dataclass(frozen=True)
class WakeTables:
    """What depends on the wake's direction, at some directions.

    Attributes
    ----------
    trailing : shape (strips, panels), T of equation (2a) [m]
    closed_loop : shape (directions, strips, strips), S of equation (2a) [1]
    normalwash : by sideslip, shape (panels, directions strips), dW of equation (2a) [1/m]
    velocities : by sideslip, shape (3 s, directions strips), the same at the segments, three
        components of a segment together [1/m]
    drag : shape (directions, strips, strips), K of :mod:`vlm.loads.farfield` [1]
    """

    trailing: Floats
    closed_loop: Floats
    normalwash: tuple[Floats, ...]
    velocities: tuple[Floats, ...]
    drag: Floats

    def circulation(self, shares: Floats, normalwash: Floats) -> Floats:
        """Circulation of the strips in some states, shape (states, strips) [m^2/s].

        Parameters
        ----------
        shares : shape (states, directions), what each direction counts [1]
        normalwash : shape (states, panels) [m/s]
        """
        plain = normalwash @ self.trailing.T
        return np.asarray(np.einsum("bk,kbs->bs", shares, plain @ self.closed_loop.mT))

    def acting(self, shares: Floats, strips: Floats) -> tuple[Floats, Floats]:
        """What the turn of the wake does in states, (panels, states) and (3 s, states) [m/s].

        Parameters
        ----------
        strips : shape (states, strips), their circulation [m^2/s]
        """
        turned = (shares[:, :, None] * strips[:, None, :]).reshape(len(shares), -1).T
        ends = np.cumsum([table.shape[1] for table in self.normalwash])[:-1]
        parts = np.split(turned, ends)
        across = [table @ part for table, part in zip(self.normalwash, parts, strict=True)]
        velocity = [table @ part for table, part in zip(self.velocities, parts, strict=True)]
        return np.asarray(sum(across)), np.asarray(sum(velocity))

    def far_field_drag(self, shares: Floats, circulation: Floats) -> Floats:
        """Induced drag of states over the density, shape (states,) [m^4/s^2]."""
        washed = circulation @ self.drag.transpose(0, 2, 1)
        return np.asarray(np.einsum("bk,kbs,bs->b", shares, washed, circulation))


class TurningWake:
    """The wake of a lattice of strips, in any direction.

    Parameters
    ----------
    axis : the wake along the craft's axis
    points : shape (panels + s, 3), control points, and the segments that carry forces [m]
    along_axis : shape (panels + s, 3, 1, strips), velocities there through the wake along the axis
        [1/m]
    response : shape (panels, panels), P of equation (2a) [m]
    kind : whether it follows the stream of each state, or lies along the craft's axis
    """

    def __init__(
        self, axis: Wake, points: Floats, along_axis: Floats, response: Floats, kind: StripWake
    ) -> None:
        self.kind = kind
        self._axis, self._points, self._along_axis = axis, points, along_axis
        self._trailing = trailing_rings(axis.shape.lattice, response)

    def shares(self, air: Floats) -> Floats:
        """What each direction of :meth:`tables` counts where air of some velocity carries the wake.

        Parameters
        ----------
        air : shape (states, 3), geometry axes [m/s]

        Returns
        -------
        shape (states, directions) [1]
        """
        if self.kind == "craft":
            return np.ones((len(air), 1))
        alpha, beta = carrying_angles(air)
        level = angle_weights(alpha)
        if not np.any(beta):
            return level
        aside, few = _parabola(beta, EXACT), _parabola(alpha, float(ANGLES[3]))
        port, starboard = (aside[:, side, None] * few for side in (0, 2))
        level[:, SPARSE] -= port + starboard
        return np.concatenate([port, level, starboard], axis=1)

    def tables(self, shares: Floats) -> WakeTables:
        """The tables of the directions that some shares are of."""
        directions = shares.shape[-1]
        if directions == 1:
            return self._along
        return self._level if directions == len(ANGLES) else self._any

    @cached_property
    def _along(self) -> WakeTables:
        return self._at(np.zeros(1), 0.0)

    @cached_property
    def _level(self) -> WakeTables:
        return self._at(ANGLES, 0.0)

    @cached_property
    def _any(self) -> WakeTables:
        sides = self._at(ANGLES[SPARSE], -EXACT), self._level, self._at(ANGLES[SPARSE], EXACT)

        return WakeTables(
            self._trailing, np.concatenate([side.closed_loop for side in sides]),
            sum((side.normalwash for side in sides), ()),
            sum((side.velocities for side in sides), ()),
            np.concatenate([side.drag for side in sides]),
        )  # fmt: skip

    def _at(self, alphas: Floats, beta: float) -> WakeTables:
        shape, lattice = self._axis.shape, self._axis.shape.lattice
        panels, strips = lattice.panels, len(self._trailing)
        wake = Wake(shape, np.array([wind_direction(float(alpha), beta) for alpha in alphas]))
        velocities = wake_velocities(self._points, wake)
        velocities -= self._along_axis
        wash = np.einsum("mckj,mc->mkj", velocities[:panels], lattice.normals())
        wash += np.moveaxis(wake.correction_columns - self._axis.correction_columns, 0, 1)
        acting = np.tensordot(self._trailing, wash, axes=1).transpose(1, 0, 2)
        closed_loop = np.asarray(np.linalg.inv(np.eye(strips) - acting))
        return WakeTables(
            self._trailing, closed_loop, (wash.reshape(panels, -1),),
            (velocities[panels:].reshape(-1, len(alphas) * strips),),
            wake_trace(lattice, wake.direction, wake.leg_starts).matrix,
        )  # fmt: skip
