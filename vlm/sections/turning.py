"""How strips answer with a wake that follows the stream of each state.

A turn of the wake acts through the circulations Gamma_t of the strips alone. With P the response of
the panels for a wake along the craft's axis, T its rows at the trailing edge, and dW(d) what unit
circulations of the strips do at the control points through a wake along d, less what they do
through the one along the axis,

    Gamma = P (V . n + E w + dW(d) Gamma_t),
    Gamma_t = (1 - T dW(d))^-1 T (V . n + E w)                                         (2a)

with E w the sections' offsets (:mod:`vlm.sections.sectioned`). All that depends on d is smooth in
its two angles: it is worked out at the angles of attack of :data:`vlm.loads.angles.ANGLES`, and
where there is sideslip at three angles of that each, and polynomials lie between.
"""

from dataclasses import dataclass
from functools import cached_property
from typing import Any, Literal

import numpy as np

from vlm.constants import Floats
from vlm.flow.direction import CRAFT_AXIS, EXACT, held_angle
from vlm.flow.influence import wake_columns, whole_wake
from vlm.flow.tables import wake_velocities
from vlm.flow.wake import Wake, WakeShape, trailing_rings
from vlm.frames import wind_direction
from vlm.lattice.lattice import Lattice
from vlm.loads.angles import ANGLES, angle_weights
from vlm.loads.farfield import wake_trace

StripWake = Literal["stream", "craft"]
"""A wake along the stream of each state, or along the craft's axis."""
ASIDE: Floats = EXACT * np.array([-1.0, 0.0, 1.0])
"""Sideslip of the wake between which a parabola lies [rad]."""


def carrying_angles(air: Floats) -> tuple[Floats, Floats]:
    """Angle of attack and sideslip of a wake that air of velocity (states, 3) carries off [rad]."""
    x, y, z = np.moveaxis(np.asarray(air, dtype=float), -1, 0)
    return held_angle(np.arctan2(z, x)), held_angle(np.arctan2(-y, np.hypot(x, z)))


def _aside_weights(angle: Floats) -> Floats:
    u = np.asarray(angle)[..., None] / EXACT
    return np.concatenate([0.5 * u * (u - 1.0), 1.0 - u**2, 0.5 * u * (u + 1.0)], axis=-1)


@dataclass(frozen=True)
class WakeTables:
    """What depends on the wake's direction, at some directions.

    Attributes
    ----------
    trailing : shape (directions, strips, panels), circulation of the strips per normal velocity at
        the panels [m]
    normalwash : shape (panels, directions strips), dW of equation (2a) [1/m]
    velocities : shape (3 s, directions strips), the same at the segments, three components of a
        segment together [1/m]
    drag : shape (directions, strips, strips), K of :mod:`vlm.loads.farfield` [1]
    """

    trailing: Floats
    normalwash: Floats
    velocities: Floats
    drag: Floats

    def circulation(self, shares: Floats, normalwash: Floats) -> Floats:
        """Circulation of the strips in some states, shape (states, strips) [m^2/s].

        Parameters
        ----------
        shares : shape (states, directions), what each direction counts [1]
        normalwash : shape (states, panels) [m/s]
        """
        return np.asarray(np.einsum("bk,kbs->bs", shares, normalwash @ self._transposed))

    @cached_property
    def _transposed(self) -> Floats:
        return np.ascontiguousarray(self.trailing.transpose(0, 2, 1))

    def far_field_drag(self, shares: Floats, circulation: Floats) -> Floats:
        """Induced drag of states over the density, shape (states,) [m^4/s^2]."""
        washed = circulation @ self.drag.transpose(0, 2, 1)
        return np.asarray(np.einsum("bk,kbs,bs->b", shares, washed, circulation))


class TurningWake:
    """The wake of a lattice of strips, in any direction.

    Parameters
    ----------
    lattice, shape : the lattice and what of its wake does not turn
    response : shape (panels, panels), P of equation (2a) [m]
    places : shape (s, 3), the segments that carry forces [m]
    kind : whether it follows the stream of each state, or lies along the craft's axis
    """

    def __init__(
        self, lattice: Lattice, shape: WakeShape, response: Floats, places: Floats, kind: StripWake
    ) -> None:
        self.kind = kind
        self._lattice, self._shape = lattice, shape
        self._response, self._places = response, places

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
        both = level[:, None, :] * _aside_weights(beta)[:, :, None]
        return np.asarray(both.reshape(len(air), -1))

    def tables(self, shares: Floats) -> WakeTables:
        """The tables of the directions that some shares are of."""
        directions = shares.shape[-1]
        if directions == 1:
            return self._along_axis
        return self._level if directions == len(ANGLES) else self._any

    @cached_property
    def _along_axis(self) -> WakeTables:
        return self._at([CRAFT_AXIS])

    @cached_property
    def _level(self) -> WakeTables:
        return self._at([wind_direction(alpha, 0.0) for alpha in ANGLES])

    @cached_property
    def _any(self) -> WakeTables:
        sides = [
            self._level
            if beta == 0.0
            else self._at([wind_direction(alpha, beta) for alpha in ANGLES])
            for beta in ASIDE
        ]

        def joined(name: str, axis: int) -> Floats:
            return np.concatenate([getattr(side, name) for side in sides], axis=axis)

        return WakeTables(
            joined("trailing", 0), joined("normalwash", 1), joined("velocities", 1),
            joined("drag", 0),
        )  # fmt: skip

    @cached_property
    def _axis_wake(self) -> tuple[Floats, Floats]:
        return self._acting(Wake(self._shape, CRAFT_AXIS))

    def _acting(self, wake: Wake) -> tuple[Floats, Floats]:
        """What unit circulations of the strips do through a wake: normal velocities at the control
        points (panels, strips), and velocities at the segments (3 s, strips)."""
        lattice = self._lattice
        everything = range(len(lattice.patches))
        columns = wake_columns(lattice.controls(), lattice.normals(), wake, everything)
        velocities = wake_velocities(self._places, wake)
        return whole_wake(wake, columns), velocities.reshape(3 * len(self._places), -1)

    def _at(self, directions: list[Any]) -> WakeTables:
        trailing = trailing_rings(self._lattice, self._response)
        washes, velocities, answers, drag = [], [], [], []
        for direction in directions:
            wake = Wake(self._shape, direction)
            drag.append(wake_trace(self._lattice, direction, wake.leg_starts).matrix)
            if np.array_equal(direction, CRAFT_AXIS):
                washes.append(np.zeros((self._lattice.panels, len(trailing))))
                velocities.append(np.zeros((3 * len(self._places), len(trailing))))
                answers.append(trailing)
                continue
            wash, velocity = self._acting(wake)
            washes.append(wash - self._axis_wake[0])
            velocities.append(velocity - self._axis_wake[1])
            own = np.eye(len(trailing)) - trailing @ washes[-1]
            answers.append(np.asarray(np.linalg.solve(own, trailing)))
        return WakeTables(
            np.stack(answers), np.concatenate(washes, axis=1), np.concatenate(velocities, axis=1),
            np.stack(drag),
        )  # fmt: skip
