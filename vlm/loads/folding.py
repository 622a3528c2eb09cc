"""Rates of the flow while tips turn, or the wake does.

With every quantity of the lattice a function of the fold, equation (4) gives

    A dGamma = - (d(v . n) with Gamma held + d(V_q . n))                                (6)

where the first term sums the exact rates of the induced velocities. Between a moving tip and
the rest only relative motion counts; the wake keeps its direction while a tip turns, which is a
motion relative to the tip unless its hinge runs along it.
"""

import numpy as np

from vlm.constants import Floats
from vlm.flow.influence import velocities_behind, velocity_rates_from
from vlm.flow.motions import Motion
from vlm.flow.onset import FIRST_TIP, onset_gradients, onset_velocities, tip_column
from vlm.flow.wake import Wake, WakeRate
from vlm.frames import cross
from vlm.lattice.lattice import Lattice
from vlm.lattice.patches import Patch


class HeldFlow:
    """Velocities of a flow whose circulation is held while the lattice moves.

    Parameters
    ----------
    wake : the wake
    motion : what moves
    circulation : shape (panels, columns) [m^2/s]
    """

    def __init__(self, wake: Wake, motion: Motion, circulation: Floats) -> None:
        self.wake, self.motion = wake, motion
        self._strengths = wake.strengths(circulation)
        self._rate = wake.rate(motion)
        self._changes = self._rate.strengths(wake, circulation)
        self._seen: dict[str, WakeRate] = {}
        self.corrected = self._rate.corrected(wake, circulation)

    def velocity_rates(self, body: str, points: Floats) -> Floats:
        """Rate of the induced velocity at points of a body, seen from it, (m, 3, columns)."""
        if body not in self._seen:
            self._seen[body] = self._rate.seen_from(self.wake, self.motion, body)
        moving = velocity_rates_from(points, self.wake, self._seen[body], self._strengths)
        return moving + velocities_behind(points, self.wake, self._changes)


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


def normalwash_rates(held: HeldFlow, basis: Floats, patches: int) -> Floats:
    """The bracket of equation (6) at the control points of the first patches, (m, flows).

    Parameters
    ----------
    basis : flows as amounts of the unit flows, shape (columns, flows)
    """
    lattice, motion = held.wake.shape.lattice, held.motion
    parts = []
    for index, patch in enumerate(lattice.patches[:patches]):
        points, normals = patch.controls.reshape(-1, 3), patch.normals.reshape(-1, 3)
        rate = held.velocity_rates(patch.body, points)
        rate += onset_rates(lattice, motion, patch, points) @ basis
        total = np.einsum("mcq,mc->mq", rate, normals) + held.corrected[lattice.panels_of(index)]
        if patch.body in motion.spins:
            onset = onset_velocities(lattice, patch, points) @ basis
            total += np.einsum("mcq,mc->mq", onset, motion.turned(patch.body, normals))
        parts.append(total)
    return np.concatenate(parts)
