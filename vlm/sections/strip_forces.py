"""Forces of settled strips: the lattice's own, handed over to strip theory far from the chord line.

Where the lattice counts, a strip feels the force of Kutta and Joukowski on all its segments, to
which its section adds profile drag and what its moment differs from a thin section's. Where it does
not, the force is the section's own lift, drag and moment in the onset flow. The total induced drag
is brought to that of the far-field plane, which does not suffer from kinked filaments at a fold.
"""

from dataclasses import dataclass

import numpy as np

from vlm.constants import Floats
from vlm.frames import cross
from vlm.loads.segments import surface_strengths, wrench_density
from vlm.sections.coupling import TINY, Settled
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


def strip_forces(
    model: SectionedLattice, settled: Settled, stream: Floats, further: Floats | None = None
) -> StripForces:
    """Forces of settled strips.

    Parameters
    ----------
    stream : shape (states, 3), the free stream, geometry axes [m/s]
    further : shape (states, s, 3), what other sources add to it at the segments [m/s]
    """
    density = settled.onset.air.density_kg_m3
    origin = model.lattice.reference.moment_point
    pull, push = _lattice_forces(model, settled, stream, further)
    lattice = pull + push
    own = _section_forces(model, settled)
    fade = settled.onset.attached[:, :, None]
    arm = model.strips.quarter - origin
    circulation = settled.circulation
    drag = density * np.sum(circulation @ model.wake.matrix.T * circulation, axis=1)
    correction = _correction(model, settled, stream, further, drag, pull[:, :, :3])
    strip_moment = cross(arm, own.lift) + own.moment
    return StripForces(
        force=fade * lattice[:, :, :3] + (1.0 - fade) * own.lift,
        moment=fade * (lattice[:, :, 3:] + own.moment - own.thin_moment)
        + (1.0 - fade) * strip_moment,
        profile=own.drag,
        profile_moment=cross(arm, own.drag),
        correction=correction,
        induced_drag=drag,
        induced_force=np.sum(fade * pull[:, :, :3], axis=1) + correction,
    )


def _lattice_forces(
    model: SectionedLattice, settled: Settled, stream: Floats, further: Floats | None
) -> tuple[Floats, Floats]:
    """Equation (5) summed by strip: force and moment, shape (states, strips, 6) each.

    Returns
    -------
    what the lattice's own velocities make, and what the onset flow makes
    """
    normalwash = settled.onset.normalwash + settled.offset[:, model.spread]
    rings = model.response @ normalwash.T
    strength = settled.onset.air.density_kg_m3 * ring_strengths(model, rings)
    segments, states = strength.shape
    induced = (model.induced @ rings).reshape(segments, 3, states)
    onset = np.broadcast_to(stream.T, induced.shape)
    if further is not None:
        onset = onset + further.transpose(1, 2, 0)
    arms = model.segments - model.lattice.reference.moment_point
    found = []
    for velocity in (induced, onset):
        density = wrench_density(velocity, model.vectors, arms)
        density *= strength[:, None, :]
        by_strip = model.owner_sums @ density.reshape(segments, -1)
        found.append(by_strip.reshape(-1, 6, states).transpose(2, 0, 1))
    return found[0], found[1]


def ring_strengths(model: SectionedLattice, rings: Floats) -> Floats:
    """Strength of every segment from ring circulations (panels, states): (s, states)."""
    return np.concatenate(surface_strengths(model.lattice, rings))


@dataclass(frozen=True)
class _SectionForces:
    lift: Floats
    drag: Floats
    moment: Floats
    thin_moment: Floats


def _section_forces(model: SectionedLattice, settled: Settled) -> _SectionForces:
    """Lift, drag and moment of the sections in the velocities they see, (states, strips, 3)."""
    strips, state, onset = model.strips, settled.state, settled.onset
    half = 0.5 * onset.air.density_kg_m3 * strips.area
    forward, upward = onset.tangential[..., None], settled.normal[..., None]
    across = forward * strips.normal - upward * strips.along
    with_flow = forward * strips.along + upward * strips.normal
    pressure = half * state.speed
    nose_up = half * strips.chord * state.cm * state.speed**2
    thin = half * strips.chord * strips.thin_moment * onset.tangential**2
    return _SectionForces(
        lift=(pressure * state.cl)[..., None] * across,
        drag=(pressure * state.cd)[..., None] * with_flow,
        moment=nose_up[..., None] * strips.turning,
        thin_moment=thin[..., None] * strips.turning,
    )


def _correction(
    model: SectionedLattice,
    settled: Settled,
    stream: Floats,
    further: Floats | None,
    drag: Floats,
    pull: Floats,
) -> Floats:
    """From the surface's induced drag to the far field's, (states, 3).

    It acts in the plane of symmetry, so that only the drag of the wind axes changes. It fades with
    the lattice, and where the wind of other sources outweighs the free stream.
    """
    squared = np.sum(stream**2, axis=1) + TINY
    other = 0.0
    if further is not None:
        other = np.einsum("bsc,bsc->b", further, further) / further.shape[1]
    share = 1.0 / np.sqrt(1.0 + other / squared)
    wind = stream / np.sqrt(squared)[:, None]
    level = wind * np.array([1.0, 0.0, 1.0])
    along = level / np.sum(level**2, axis=1, keepdims=True).clip(TINY)
    weight = settled.circulation**2 * model.strips.span
    counted = np.sum(settled.onset.attached * weight, axis=1) / (np.sum(weight, axis=1) + TINY)
    surface = np.einsum("bkc,bc->b", pull, wind)
    return np.asarray((share * counted * (drag - surface))[:, None] * along)
