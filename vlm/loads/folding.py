"""What changes when tips turn: rates of flow and load per radian of commanded fold.

With every quantity of the lattice a function of the fold, equation (4) gives

    A dGamma = - (d(v . n) with Gamma held + d(V_q . n))                                (6)

where the first term sums the exact rates of the induced velocities. Between a moving tip and
the rest only relative motion counts, so the sums run over pairs of bodies that move against
each other; legs keep their direction while a tip turns, which is a motion relative to the tip
unless its hinge runs along them.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from vlm.constants import Floats
from vlm.flow.influence import velocity_rates_from
from vlm.flow.onset import FIRST_TIP, onset_gradients, onset_velocities, tip_column
from vlm.frames import cross
from vlm.lattice.lattice import Lattice
from vlm.lattice.patches import HingeLine, Patch


@dataclass(frozen=True)
class Motion:
    """How the lattice moves with one parameter: tips turn, or the trailing legs do.

    Attributes
    ----------
    spins : by moving body, its hinge and its turn per unit of commanded fold, as one angular
        velocity vector, shape (3,) [1]
    hinges : hinge lines by body
    direction_rate : turn of the trailing legs' unit direction, shape (3,) [1]
    """

    spins: Mapping[str, Floats]
    hinges: Mapping[str, HingeLine]
    direction_rate: Floats = field(default_factory=lambda: np.zeros(3))

    def spin(self, body: str) -> Floats:
        """Angular velocity of a body [rad per rad]."""
        return self.spins.get(body, np.zeros(3))

    def displacement(self, body: str, points: Floats) -> Floats:
        """Motion of points carried by a body, same shape as ``points`` [m per rad]."""
        if body not in self.spins:
            return np.zeros_like(points)
        return np.asarray(cross(self.spins[body], points - self.hinges[body].point))


def fold_motion(lattice: Lattice, side: str) -> Motion:
    """Motion of the "left" or "right" tips per radian of that side's commanded fold."""
    bodies = [body for body in lattice.bodies if body.endswith(side)]
    spins = {b: lattice.fold_rates[b] * lattice.hinges[b].axis for b in bodies}
    return Motion(spins=spins, hinges=lattice.hinges)


def wake_motion(lattice: Lattice, direction_rate: Floats) -> Motion:
    """Motion of the trailing legs alone, their direction changing at the given rate."""
    return Motion(spins={}, hinges=lattice.hinges, direction_rate=direction_rate)


def relative_rates(
    lattice: Lattice,
    motion: Motion,
    body: str,
    points: Floats,
    circulation: Floats,
    direction: Floats,
) -> Floats:
    """Rate of the induced velocity at points of ``body``, seen from that body.

    Parameters
    ----------
    points : shape (m, 3) [m]
    circulation : shape (panels, columns), held [m^2/s]

    Returns
    -------
    shape (m, 3, columns) [m/s per rad]
    """
    result = np.zeros((len(points), 3, circulation.shape[1]))
    direction_rate = motion.direction_rate - cross(motion.spin(body), direction)
    for index, source in enumerate(lattice.patches):
        rates = motion.displacement(source.body, source.nodes)
        if source.body == body:
            rates = np.zeros_like(rates)
        elif body in motion.spins:
            rates = rates - _carried(motion, body, source)
        if not rates.any() and not np.abs(direction_rate).max() > 1e-14:
            continue
        result += velocity_rates_from(
            points,
            source,
            rates,
            circulation[lattice.panels_of(index)],
            direction,
            direction_rate,
        )
    return result


def _carried(motion: Motion, body: str, source: Patch) -> Floats:
    """Motion the source's nodes would have if they turned with ``body``."""
    return np.asarray(cross(motion.spin(body), source.nodes - motion.hinges[body].point))


def onset_rates(lattice: Lattice, motion: Motion, patch: Patch, points: Floats) -> Floats:
    """Rate of the onset velocity at points carried by a patch, shape (m, 3, columns)."""
    rates = np.zeros((len(points), 3, FIRST_TIP + len(lattice.bodies)))
    if patch.body not in motion.spins:
        return rates
    moved = motion.displacement(patch.body, points)
    rates[:, :, :FIRST_TIP] = np.einsum("cpq,mp->mcq", onset_gradients(), moved)
    axis = lattice.hinges[patch.body].axis
    rates[:, :, tip_column(lattice, patch.body)] = -cross(axis, moved)
    return rates


def normalwash_rates(
    lattice: Lattice, motion: Motion, circulation: Floats, direction: Floats
) -> Floats:
    """The bracket of equation (6) at every control point, shape (panels, columns)."""
    parts = []
    for patch in lattice.patches:
        points, normals = patch.controls.reshape(-1, 3), patch.normals.reshape(-1, 3)
        rate = relative_rates(lattice, motion, patch.body, points, circulation, direction)
        rate += onset_rates(lattice, motion, patch, points)
        total = np.einsum("mcq,mc->mq", rate, normals)
        if patch.body in motion.spins:
            onset = onset_velocities(lattice, patch, points)
            turned = cross(motion.spin(patch.body), normals)
            total += np.einsum("mcq,mc->mq", onset, turned)
        parts.append(total)
    return np.concatenate(parts)
