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
        self.strengths = wake.strengths(circulation)
        self.rate = wake.rate(motion)
        self.changes = self.rate.strengths(wake, circulation)
        self.corrected = self.rate.corrected(wake, circulation)


def velocity_rates(
    held: Sequence[HeldFlow], patches: Sequence[Patch], points: Sequence[Floats]
) -> list[list[Floats]]:
    """Rates of the induced velocity at points of some patches, each seen from its own body.

    Parameters
    ----------
    held : of one lattice, by wake, while the same tips turn, or each wake in its own way

    Returns
    -------
    by wake and by patch, shape (m, 3, columns) each
    """
    everything, motion = np.concatenate(points), held[0].motion
    wakes, strengths = [one.wake for one in held], [one.strengths for one in held]
    rates = [velocities_behind(everything, one.wake, one.changes) for one in held]
    # Bodies that rest see the same, and their points are taken together.
    own = [p.body if p.body in motion.spins else "" for p in patches]
    groups = np.repeat(own, [len(at) for at in points])
    for body in dict.fromkeys(own):
        seen = [one.rate.seen_from(one.wake, one.motion, body) for one in held]
        chosen = groups == body
        found = velocity_rates_from(everything[chosen], wakes, seen, strengths)
        for rate, more in zip(rates, found, strict=True):
            rate[chosen] += more
    ends = np.cumsum([len(at) for at in points])[:-1]
    return [np.split(rate, ends) for rate in rates]


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
    held: Sequence[HeldFlow], bases: Sequence[Floats], patches: int
) -> list[Floats]:
    """The bracket of equation (6) at the control points of the first patches, by wake.

    Parameters
    ----------
    held : as of :func:`velocity_rates`
    bases : flows of each as amounts of the unit flows, shape (columns, flows)

    Returns
    -------
    shape (m, flows) each
    """
    chosen = held[0].wake.shape.lattice.patches[:patches]
    places = [patch.controls.reshape(-1, 3) for patch in chosen]
    rates = velocity_rates(held, chosen, places)
    return [_normalwash_rate(*one) for one in zip(held, bases, rates, strict=True)]


def _normalwash_rate(held: HeldFlow, basis: Floats, rates: Sequence[Floats]) -> Floats:
    lattice, motion = held.wake.shape.lattice, held.motion
    parts = []
    for index, rate in enumerate(rates):
        patch = lattice.patches[index]
        points = patch.controls.reshape(-1, 3)
        normals = patch.normals.reshape(-1, 3)
        rate += onset_rates(lattice, motion, patch, points) @ basis
        total = np.einsum("mcq,mc->mq", rate, normals) + held.corrected[lattice.panels_of(index)]
        if patch.body in motion.spins:
            onset = onset_velocities(lattice, patch, points) @ basis
            total += np.einsum("mcq,mc->mq", onset, motion.turned(patch.body, normals))
        parts.append(total)
    return np.concatenate(parts)
