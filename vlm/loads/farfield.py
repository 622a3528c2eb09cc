"""Induced drag from the far-field plane, and the least drag the wake's shape allows.

Far behind the craft the trailing legs cut a plane across their direction d in a trace. With t_j
the trace of strip j there (inner to outer edge, turned to the sense of positive circulation)
and w the velocity the trailing vortices induce in the plane, at the strip's control station,

    D_i = rho Gamma^T K Gamma,   K_jk = - w_k(j) . (d x t_j) / 2                        (7)

(Prandtl 1918; Munk, NACA TR 121, 1921). The force across the stream is
rho U sum Gamma_j d x t_j. Least drag at given lift asks for a normal velocity proportional to
the trace's share in lift, (d x t_j)_z: Munk's condition,

    K Gamma = lambda b,   b_j = (d x t_j)_z,   e = 2 b . Gamma / (pi span^2 lambda)     (8)

A closed loop leaves a constant circulation around it free; the solution of least norm is taken.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vlm.constants import Floats
from vlm.frames import cross
from vlm.lattice.lattice import Lattice

FREE_LOOP = 1e-9
ON_VORTEX = 1e-22
"""Squared distance over the largest one below which a station lies on a vortex [1]."""


@dataclass(frozen=True)
class WakeTrace:
    """The wake in the far-field plane.

    Attributes
    ----------
    matrix : shape (strips, strips), K of equation (7) [1]
    across : shape (strips, 3), d x t_j in geometry axes [m]
    patch_of_strip : shape (strips,), index of the strip's patch
    has_loop : whether a tip is joined or the craft has fins, so that the trace may close on itself
        or lie on itself
    """

    matrix: Floats
    across: Floats
    patch_of_strip: NDArray[np.intp]
    has_loop: bool

    def best_efficiency(self, span: float) -> float:
        """Span efficiency of the best loading of this trace, on ``span`` [m], equation (8)."""
        share = self.across[:, 2]
        if self.has_loop:
            best, *_ = np.linalg.lstsq(self.matrix, share, rcond=FREE_LOOP)
        else:
            best = np.linalg.solve(self.matrix, share)
        return float(2.0 * share @ best / (np.pi * span**2))


def wake_trace(
    lattice: Lattice, direction: Floats, starts: Sequence[Floats] | None = None
) -> WakeTrace:
    """Trace of a lattice's wake whose legs run along ``direction``.

    Parameters
    ----------
    direction : unit vector, shape (3,); of several wakes (wakes, 3), then the trace's arrays have
        the wakes in front
    starts : by patch, where the legs start, shape (strips + 1, 3); the trailing edge's nodes if
        left out [m]
    """
    lines = starts or [patch.nodes[-1] for patch in lattice.patches]
    sense = np.array([patch.sense for patch in lattice.patches])
    counts = [patch.strips for patch in lattice.patches]
    owner = np.repeat(np.arange(len(counts)), counts)
    edges = np.concatenate(lines)
    stations = np.concatenate(
        [
            line[:-1] + patch.station[:, None] * np.diff(line, axis=0)
            for patch, line in zip(lattice.patches, lines, strict=True)
        ]
    )
    traces = np.concatenate([np.diff(line, axis=0) for line in lines])
    direction = direction[..., None, :]
    across = cross(direction, sense[owner, None] * traces)
    velocity = _plane_velocities(stations, edges, direction)
    normal = np.sum(velocity * across[..., None, :], axis=-1)
    inner = np.arange(len(owner)) + owner
    return WakeTrace(
        matrix=-0.5 * sense[owner] * (normal[..., inner + 1] - normal[..., inner]),
        across=across,
        patch_of_strip=owner,
        has_loop=lattice.is_joined or lattice.has_fins,
    )


def _plane_velocities(stations: Floats, edges: Floats, direction: Floats) -> Floats:
    """Velocity of unit straight vortices along ``direction`` through ``edges``, (j, e, 3)."""
    direction = direction[..., None, :]
    apart = stations[:, None, :] - edges[None, :, :]
    apart = apart - np.sum(apart * direction, axis=-1)[..., None] * direction
    squared = np.sum(apart**2, axis=-1)
    # A station on another surface's vortex: it has no velocity from it, as a point on a leg.
    squared[squared <= ON_VORTEX * squared.max()] = np.inf
    return np.asarray(cross(direction, apart) / (2.0 * np.pi * squared[..., None]))


def drag_tables(lattice: Lattice, trace: WakeTrace, strips: Floats) -> Floats:
    """Far-field drag of each patch in all pairs of unit flows, unit density.

    Parameters
    ----------
    strips : shape (strips, columns), circulation of each strip

    Returns
    -------
    shape (patches, columns, columns)
    """
    washed = trace.matrix @ strips
    parts = []
    for index in range(len(lattice.patches)):
        chosen = trace.patch_of_strip == index
        parts.append(strips[chosen].T @ washed[chosen])
    return np.array(parts)
