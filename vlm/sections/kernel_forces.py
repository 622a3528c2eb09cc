"""Compiled: forces of strips, by the equations of :mod:`vlm.sections.strip_forces`."""

import numpy as np

from vlm.flow.compiled import compiled


@compiled(inline="always")
def _crossed(a, b):  # type: ignore[no-untyped-def]
    return a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]


@compiled()
def _add_wrench(velocity, vector, arm, amount, total):  # type: ignore[no-untyped-def]
    """Add the force of a segment of given strength in a velocity, and its moment."""
    force = _crossed(velocity, vector)
    moment = _crossed(arm, force)
    for k in range(3):
        total[k] += amount * force[k]
        total[3 + k] += amount * moment[k]


@compiled()
def segment_wrenches(  # type: ignore[no-untyped-def]
    strength, induced, stream, further, blown, vectors, arms, owner_at, owner, share, strips
):  # fmt: skip
    """Forces on all segments, summed by strip: those of the lattice's own velocities, and the rest.

    Parameters
    ----------
    strength : shape (s, states), times the density
    induced : shape (3 s, states), velocities of the lattice, components of a segment together
    stream : shape (states, 3)
    further, blown : shape (states, s, 3), what is added to the stream; and whether there is any
    vectors, arms : shape (s, 3)
    owner_at, owner, share : where each segment's strips start in the two others, shape (s + 1,)
    strips : number of strips

    Returns
    -------
    shape (2, states, strips, 6)
    """
    segments, states = strength.shape
    found = np.zeros((2, states, strips, 6))
    onset, own = np.empty(3), np.empty(3)
    for s in range(segments):
        vector, arm = vectors[s], arms[s]
        for b in range(states):
            for k in range(3):
                onset[k] = stream[b, k] + (further[b, s, k] if blown else 0.0)
                own[k] = induced[3 * s + k, b]
            for i in range(owner_at[s], owner_at[s + 1]):
                amount = share[i] * strength[s, b]
                _add_wrench(own, vector, arm, amount, found[0, b, owner[i]])
                _add_wrench(onset, vector, arm, amount, found[1, b, owner[i]])
    return found


@compiled()
def blended(  # type: ignore[no-untyped-def]
    lattice, fade, along, normal, speed, cl, cd, cm, density, sizes, axes, arms
):  # fmt: skip
    """Forces of strips: the lattice's where it counts, the section's own where it does not.

    Parameters
    ----------
    lattice : shape (states, strips, 6), forces and moments of the lattice
    fade, along, normal, speed, cl, cd, cm : shape (states, strips)
    sizes : shape (3, strips): area, chord, moment of the thin section
    axes : shape (3, strips, 3): along the chord, along the normal, of a nose-up moment
    arms : shape (strips, 3), from the moment point to the quarter chord

    Returns
    -------
    shape (4, states, strips, 3): force, moment, profile drag, its moment
    """
    states, strips = fade.shape
    found = np.empty((4, states, strips, 3))
    lift, drag = np.empty(3), np.empty(3)
    for b in range(states):
        for j in range(strips):
            half = 0.5 * density * sizes[0, j]
            forward, upward, u = along[b, j], normal[b, j], speed[b, j]
            nose_up = half * sizes[1, j] * cm[b, j] * u * u
            thin = half * sizes[1, j] * sizes[2, j] * forward * forward
            for k in range(3):
                across = forward * axes[1, j, k] - upward * axes[0, j, k]
                with_flow = forward * axes[0, j, k] + upward * axes[1, j, k]
                lift[k] = half * u * cl[b, j] * across
                drag[k] = half * u * cd[b, j] * with_flow
            turned = _crossed(arms[j], lift)
            pulled = _crossed(arms[j], drag)
            f = fade[b, j]
            for k in range(3):
                own = nose_up * axes[2, j, k]
                at_lattice = lattice[b, j, 3 + k] + own - thin * axes[2, j, k]
                found[0, b, j, k] = f * lattice[b, j, k] + (1.0 - f) * lift[k]
                found[1, b, j, k] = f * at_lattice + (1.0 - f) * (turned[k] + own)
                found[2, b, j, k] = drag[k]
                found[3, b, j, k] = pulled[k]
    return found
