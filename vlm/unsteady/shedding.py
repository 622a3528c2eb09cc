"""The wake that a lattice sheds in equal steps, and what it does at the control points.

The wake is carried by the stream alone, straight and rigid. Its jump of potential a way x behind
the trailing edge is that of the edge at the time t - x / U, linear between the steps. A ring goes
from step to step and has the mean of the jump at its ends.

At the edge the jump mu has the slope a = -(dGamma/dt) / U, on the wing as in the wake, so bound
vorticity does not end there with nothing, as it does in steady flow, and rows that are exact for
a sheet that vanishes at the edge make an error which falls only slowly with their number. So
mu = psi + a q on the wing, with

    q = -l u (1 - u)^2,   u = (x_te - x) / l,   l = the chord,                            (a)

of slope one at the edge; psi has the slope zero there and is the lattice's. What the rows and the
first step of wake get wrong about q and a wake of slope one behind it is known in two dimensions:
the velocity of both sheets less that of their discrete vortices,

    -1 / (2 pi) (P(p) ln((1 - p) / p) + 3 p - 5/2 - ln(1 + S / (l p)) - sum_j dmu_j / (x - x_j)) (b)

with P = (1 - p)(1 - 3 p) = dq/dx at p = (x_te - x) / l and S the way of one step. It is added at
the control points of the strip. (Derived here. Left out, Wagner's function errs by up to a tenth.)
"""

from dataclasses import dataclass
from math import pi, sqrt

import numpy as np

from vlm.constants import Floats
from vlm.flow.influence import normalwash_of
from vlm.flow.memory import refuse_too_large
from vlm.flow.plane_sheets import hold_sums
from vlm.lattice.lattice import Lattice
from vlm.lattice.patches import Patch
from vlm.lattice.spacing import ChordLaw, chord_rows, row_extents

AFT: Floats = np.array([1.0, 0.0, 0.0])


@dataclass(frozen=True)
class Shedding:
    """Influence of the wing's rings and of the wake, for steps of one length.

    Attributes
    ----------
    wing : shape (panels, panels), each ring closed at the trailing edge [1/m]
    wake : shape (rows, panels, strips), of the edge's circulation r steps ago; in the last row
        of all that was shed before [1/m]
    """

    wing: Floats
    wake: Floats

    @property
    def rows(self) -> int:
        """Number of wake rows kept."""
        return len(self.wake)


def shedding(lattice: Lattice, step: Floats, rows: int) -> Shedding:
    """The influences of a lattice that sheds ``rows`` rows of wake, two or more.

    Parameters
    ----------
    step : way of the stream in one step, shape (3,) [m]

    Raises
    ------
    ComputationFailed : the matrices do not fit into memory
    """
    panels = lattice.panels
    strips = sum(patch.strips for patch in lattice.patches)
    refuse_too_large(int(sqrt(float(panels) * (panels + 2.0 * rows * strips))))
    wing, wake = np.empty((panels, panels)), np.zeros((rows, panels, strips))
    points, normals = lattice.controls(), lattice.normals()
    first = 0
    for index, patch in enumerate(lattice.patches):
        rings = normalwash_of(points, normals, patch, _nodes(patch, step, rows), _unit(step))
        own = lattice.panels_of(index)
        wing[:, own] = rings[:, : patch.panels]
        behind = rings[:, patch.panels :].reshape(panels, rows, patch.strips).transpose(1, 0, 2)
        ages = wake[:, :, first : first + patch.strips]
        ages += 0.5 * behind
        ages[1:] += 0.5 * behind[:-1]
        ages[-1] += 0.5 * behind[-1]
        _correct(ages[:, own], patch, float(np.linalg.norm(step)), lattice.grid.chord_law)
        first += patch.strips
    hold_sums(wing, lattice)
    return Shedding(wing=wing, wake=wake)


def wing_rings(lattice: Lattice) -> Floats:
    """Influence of the rings alone, closed at the trailing edge, without any wake.

    Returns
    -------
    shape (panels, panels) [1/m]
    """
    wing = np.empty((lattice.panels, lattice.panels))
    points, normals = lattice.controls(), lattice.normals()
    for index, patch in enumerate(lattice.patches):
        nodes = _nodes(patch, AFT * patch.chord.mean(), 1)
        rings = normalwash_of(points, normals, patch, nodes, AFT)
        wing[:, lattice.panels_of(index)] = rings[:, : patch.panels]
    hold_sums(wing, lattice)
    return wing


def _nodes(patch: Patch, step: Floats, rows: int) -> Floats:
    """Nodes of a patch and of its wake; the last ring is open to infinity."""
    way = np.arange(1, rows + 1)[:, None, None] * step
    return np.concatenate([patch.nodes, patch.nodes[-1] + way])


def _correct(ages: Floats, patch: Patch, step: float, law: ChordLaw) -> None:
    """Add equation (b) times the slope a = -(Gamma(t) - Gamma(t - dt)) / S to a patch's own wake.

    Parameters
    ----------
    ages : shape (rows, panels, strips), of the patch at its own control points; changed
    """
    table = edge_corrections(patch, step, law) / (step * patch.share)
    panels = np.arange(patch.panels)
    strips = np.tile(np.arange(patch.strips), patch.rows)
    ages[0, panels, strips] -= table.ravel()
    ages[1, panels, strips] += table.ravel()


def edge_corrections(patch: Patch, step: float, law: ChordLaw) -> Floats:
    """Equation (b): what rows miss of a sheet of unit slope at the edge, (rows, strips) [1]."""
    vortices, controls = chord_rows(patch.rows, law)
    borders = 1.0 - np.concatenate([[0.0], np.cumsum(row_extents(patch.rows, law))])
    place = (1.0 - controls)[:, None]
    way = step / patch.chord
    log = np.log((1.0 - place) / place)
    sheet = (1.0 - place) * (1.0 - 3.0 * place) * log + 3.0 * place - 2.5 - np.log1p(way / place)
    steps = np.diff(-borders * (1.0 - borders) ** 2)
    rows = np.sum(steps / (controls[:, None] - vortices), axis=1)[:, None]
    discrete = rows - 0.5 * way / place - 0.5 * way / (place + way)
    edge = _unit(np.diff(patch.nodes[-1], axis=0))
    chords = _unit(patch.trailing_stations() - patch.bound_points()[0])
    skew = np.sqrt(1.0 - np.sum(edge * chords, axis=-1) ** 2)
    return np.asarray((discrete - sheet) / (2.0 * pi * skew))


def _unit(vectors: Floats) -> Floats:
    return np.asarray(vectors / np.linalg.norm(vectors, axis=-1, keepdims=True))
