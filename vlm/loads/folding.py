"""Rates of the flow while tips turn, or the wake does.

With every quantity of the lattice a function of the fold, equation (4) gives

    A dGamma = - (d(v . n) with Gamma held + d(V_q . n))                                (6)

where the first term sums the exact rates of the induced velocities. Between a moving tip and
the rest only relative motion counts; the wake keeps its direction while a tip turns, which is a
motion relative to the tip unless its hinge runs along it.
"""

from collections.abc import Sequence

import numpy as np

from vlm.constants import Floats
from vlm.flow.influence import velocities_behind, velocity_rates_from
from vlm.flow.motions import Motion
from vlm.flow.onset import FIRST_TIP, onset_gradients, onset_velocities, tip_column
from vlm.flow.wake import Wake
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
        self.corrected = self._rate.corrected(wake, circulation)

    def velocity_rates(self, patches: Sequence[Patch], points: Sequence[Floats]) -> list[Floats]:
        """Rates of the induced velocity at points of some patches, each seen from its own body.

        Returns
        -------
        shape (m, 3, columns) each
        """
        everything = np.concatenate(points)
        rates = velocities_behind(everything, self.wake, self._changes)
        # Bodies that rest see the same, and their points are taken together.
        own = [p.body if p.body in self.motion.spins else "" for p in patches]
        groups = np.repeat(own, [len(at) for at in points])
        for body in dict.fromkeys(own):
            seen = self._rate.seen_from(self.wake, self.motion, body)
            chosen = groups == body
            rates[chosen] += velocity_rates_from(
                everything[chosen], self.wake, seen, self._strengths
            )
        return np.split(rates, np.cumsum([len(at) for at in points])[:-1])


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
    parts, chosen = [], lattice.patches[:patches]
    places = [patch.controls.reshape(-1, 3) for patch in chosen]
    rates = held.velocity_rates(chosen, places)
    for index, (patch, points, rate) in enumerate(zip(chosen, places, rates, strict=True)):
        normals = patch.normals.reshape(-1, 3)
        rate += onset_rates(lattice, motion, patch, points) @ basis
        total = np.einsum("mcq,mc->mq", rate, normals) + held.corrected[lattice.panels_of(index)]
        if patch.body in motion.spins:
            onset = onset_velocities(lattice, patch, points) @ basis
            total += np.einsum("mcq,mc->mq", onset, motion.turned(patch.body, normals))
        parts.append(total)
    return np.concatenate(parts)
