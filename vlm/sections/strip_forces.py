"""Forces of coupled strips: the lattice's own, handed over to strip theory far from the chord line.

Where the lattice counts, a strip feels the force of Kutta and Joukowski on all its segments, to
which its section adds profile drag and what its moment differs from a thin section's. Where it does
not, the force is the section's own lift, drag and moment in the onset flow. The total induced drag
is brought to that of the far-field plane, which does not suffer from kinked filaments at a fold.
"""

from dataclasses import dataclass

import numpy as np

from vlm.constants import Floats
from vlm.flow.influence import solid
from vlm.sections.coupling import CoupledStrips, StripOnset
from vlm.sections.kernel import TINY
from vlm.sections.kernel_forces import blended, segment_wrenches
from vlm.sections.sectioned import SectionedLattice


@dataclass(frozen=True)
class StripForces:
    """Air loads of states, geometry axes; moments about the craft's moment point.

    Attributes
    ----------
    force : shape (states, strips, 3), profile drag apart [N]
    moment : shape (states, strips, 3), of all forces of the strip, profile drag apart [N m]
    profile : shape (states, strips, 3), profile drag [N]
    profile_moment : shape (states, strips, 3) [N m]
    correction : shape (states, 3), from the surface's induced drag to the far field's, through the
        moment point [N]
    induced_drag : shape (states,), of the far-field plane [N]
    induced_force : shape (states, 3), the part of ``force`` that the lattice's own velocities make,
        ``correction`` included; the rest stands across the onset flow [N]
    """

    force: Floats
    moment: Floats
    profile: Floats
    profile_moment: Floats
    correction: Floats
    induced_drag: Floats
    induced_force: Floats

    def total(self, profile_scale: float = 1.0) -> tuple[Floats, Floats]:
        """Force and moment of the wings, shape (states, 3) each [N], [N m]."""
        force = self.force.sum(axis=1) + profile_scale * self.profile.sum(axis=1)
        moment = self.moment.sum(axis=1) + profile_scale * self.profile_moment.sum(axis=1)
        return force + self.correction, moment


@np.errstate(over="ignore", invalid="ignore")  # of strips that found no agreement with sections
def strip_forces(
    model: SectionedLattice,
    coupled: CoupledStrips,
    stream: Floats,
    further: Floats | None = None,
    acting: Floats | None = None,
) -> StripForces:
    """Forces of coupled strips.

    Parameters
    ----------
    stream : shape (states, 3), the free stream, geometry axes [m/s]
    further : shape (states, s, 3), what other sources add to it at the segments [m/s]
    acting : their :func:`lattice_forces`, where these are known
    """
    strips, state, onset = model.strips, coupled.state, coupled.onset
    density, circulation = onset.air.density_kg_m3, coupled.circulation
    if acting is None:
        wash = onset.normalwash + coupled.offset[:, model.spread]
        acting = lattice_forces(model, density, onset.shares, wash, circulation, stream, further)
    pull, push = acting
    force, moment, profile, profile_moment = blended(
        pull + push, onset.attached, onset.tangential, coupled.normal, solid(state.speed),
        solid(state.cl), solid(state.cd), solid(state.cm), density, model.strip_sizes,
        model.strip_axes, strips.quarter - model.lattice.reference.moment_point,
    )  # fmt: skip
    drag, correction = far_field(
        model, onset, onset.attached, circulation, stream, further, pull[..., :3]
    )
    own = np.matmul(onset.attached[:, None, :], pull[:, :, :3])[:, 0]
    return StripForces(
        force=force, moment=moment, profile=profile, profile_moment=profile_moment,
        correction=correction, induced_drag=drag, induced_force=own + correction,
    )  # fmt: skip


@np.errstate(over="ignore", invalid="ignore")
def lattice_forces(
    model: SectionedLattice,
    density: float,
    shares: Floats,
    normalwash: Floats,
    circulation: Floats,
    stream: Floats,
    further: Floats | None,
) -> Floats:
    """Equation (5) summed by strip: force and moment, shape (2, states, strips, 6).

    First what the lattice's own velocities make, then what the onset flow makes.

    Parameters
    ----------
    shares : shape (states, directions), what each direction of the wake counts [1]
    normalwash : shape (states, panels), offsets included [m/s]
    circulation : shape (states, strips) [m^2/s]
    """
    rings, induced = model.rings(shares, normalwash, circulation)
    return np.asarray(
        segment_wrenches(
            density * (model.strengths @ rings), induced, solid(stream),
            np.zeros((1, 1, 3)) if further is None else solid(further), further is not None,
            model.vectors,
            model.segments - model.lattice.reference.moment_point, *model.segment_owners,
            model.strips.count,
        )
    )  # fmt: skip


def far_field(
    model: SectionedLattice,
    onset: StripOnset,
    attached: Floats,
    circulation: Floats,
    stream: Floats,
    further: Floats | None,
    pull: Floats,
) -> tuple[Floats, Floats]:
    """Induced drag of the far field (states,), and from the surface's to it, (states, 3) [N].

    That acts in the plane of symmetry, so that only the drag of the wind axes changes. It fades
    with the lattice, and where the wind of other sources outweighs the free stream.

    Parameters
    ----------
    attached, circulation : shape (states, strips), how much the lattice counts [1]; [m^2/s]
    pull : shape (states, strips, 3), force of the lattice's own velocities [N]
    """
    drag = model.wake.tables(onset.shares).far_field_drag(onset.shares, circulation)
    drag *= onset.air.density_kg_m3
    squared = np.sum(stream**2, axis=1) + TINY
    other = 0.0
    if further is not None:
        other = np.einsum("bsc,bsc->b", further, further) / further.shape[1]
    share = 1.0 / np.sqrt(1.0 + other / squared)
    wind = stream / np.sqrt(squared)[:, None]
    level = wind * np.array([1.0, 0.0, 1.0])
    along = level / np.sum(level**2, axis=1, keepdims=True).clip(TINY)
    weight = circulation**2 * model.strips.span
    counted = np.sum(attached * weight, axis=1) / (np.sum(weight, axis=1) + TINY)
    surface = np.einsum("bkc,bc->b", pull, wind)
    return drag, np.asarray((share * counted * (drag - surface))[:, None] * along)
