"""A wake that follows the flow: the yardstick for the straight one.

The straight wake of :mod:`vlm.flow.wake` with its bend is the start. Each of its lines is
lengthened into a chain of nodes, and every node is displaced by what the flow does to the sheet on
the way there,

    r = r_straight + int_0^xi v / U dxi - mu xi chi(xi / L) t,   mu = v . t / U at the edge,  (14)

v the velocity induced by wings and wake, smoothed over a core (:mod:`vlm.flow.kernel_smooth`). The
last term keeps the lines square to the edge where they leave it, as in equation (18), and mu joins
m in equation (17). Behind the chain the legs run on to infinity along the stream. Circulations and
nodes are found in turn until the circulations settle.

The core stands for what a sheet of few strips cannot resolve, the inside of the tips' vortices; the
chain's length and steps and the core are held by tests to change loads by less than what relaxing
changes.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from vlm.constants import Floats
from vlm.errors import ComputationFailed
from vlm.flow.influence import (
    WakeColumns,
    node_table,
    normalwash_of,
    ring_columns,
    solid,
    whole_wake,
)
from vlm.flow.kernel_smooth import smoothed_sum
from vlm.flow.memory import refuse_too_large
from vlm.flow.plane_sheets import hold_sums, without_sums
from vlm.flow.solve import UnitFlows, factorised, normal_onset
from vlm.flow.threads import algebra_threads
from vlm.flow.wake import Wake
from vlm.flow.wake_shape import STATIONS, WakeShape, bend
from vlm.lattice.lattice import Lattice


@dataclass(frozen=True)
class ChainSizes:
    """How a relaxed wake is made.

    Attributes
    ----------
    nodes : of the chain behind the bend
    first_step : of the chain, over the reference chord [1]
    length : of the chain, over the reference span [1]
    core : smoothing of the velocities that move nodes, over the reference span [1]
    tolerance : largest change of a circulation in an iteration, over the largest circulation [1]
    most : iterations
    """

    nodes: int = 16
    first_step: float = 0.15
    length: float = 1.5
    core: float = 0.02
    tolerance: float = 5e-5
    most: int = 40


class ChainedShape(WakeShape):
    """A lattice's wake with a chain of further rows of rings, whose strength is the strip's."""

    def __init__(self, lattice: Lattice, sizes: ChainSizes) -> None:
        super().__init__(lattice)
        self.sizes = sizes

    @cached_property
    def ring_shapes(self) -> list[Floats]:
        """As :attr:`vlm.flow.wake_shape.WakeShape.ring_shapes`, none in the chain."""
        near = WakeShape.ring_shapes.func(self)  # type: ignore[attr-defined]
        more = self.sizes.nodes
        return [np.concatenate([s, np.zeros((more, s.shape[1]))]) for s in near]

    @cached_property
    def steps(self) -> Floats:
        """Places of the chain's nodes behind the bend, in growing steps, shape (nodes,) [m]."""
        reference, sizes = self.lattice.reference, self.sizes
        first, whole = sizes.first_step * reference.chord, sizes.length * reference.span
        even = np.arange(1, sizes.nodes + 1)
        low, high = 1.0, 4.0
        for _ in range(60):
            ratio = 0.5 * (low + high)
            total = first * np.sum(ratio ** (even - 1.0))
            low, high = (ratio, high) if total < whole else (low, ratio)
        return np.asarray(np.cumsum(first * ratio ** (even - 1.0)))

    @cached_property
    def lengths(self) -> list[Floats]:
        """Way xi from the edge to the wake's nodes along each line, (rows, strips + 1) [m]."""
        return [
            np.concatenate([STATIONS[1:, None] * e.reach, e.reach + self.steps[:, None]])
            for e in self.edges
        ]


@dataclass(frozen=True)
class RelaxedWake(Wake):
    """A wake whose nodes are displaced from the straight one's.

    Attributes
    ----------
    moved : by patch, displacement of the wake's nodes, shape (wake rows, strips + 1, 3) [m]
    slants : by patch, mu of equation (14) at the edges of the strips, shape (strips + 1,) [1]
    """

    moved: tuple[Floats, ...]
    slants: tuple[Floats, ...]

    @cached_property
    def straight_nodes(self) -> list[Floats]:
        """The wake's nodes without displacement, by patch, (wake rows, strips + 1, 3) [m]."""
        shape = self.shape
        assert isinstance(shape, ChainedShape)
        plain = Wake(shape, self.direction)
        found = []
        for patch, whole in zip(shape.lattice.patches, plain.nodes, strict=True):
            near = whole[patch.rows + 1 :]
            chain = near[-1] + shape.steps[:, None, None] * self.direction
            found.append(np.concatenate([near, chain]))
        return found

    @cached_property
    def lines(self) -> Floats:
        """As :attr:`vlm.flow.wake.Wake.lines`."""
        trail = np.concatenate([edge.trail for edge in self.shape.edges])
        behind = [line + moved for line, moved in zip(self.straight_nodes, self.moved, strict=True)]
        return np.concatenate([trail[None], np.concatenate(behind, axis=1)])

    @cached_property
    def amplitudes(self) -> Floats:
        """As :attr:`vlm.flow.wake.Wake.amplitudes`, with the slants of the flow."""
        plain = Wake(self.shape, self.direction).amplitudes
        stations = [
            slant[:-1] + edge.patch.station * np.diff(slant)
            for slant, edge in zip(self.slants, self.shape.edges, strict=True)
        ]
        return np.asarray(plain - np.concatenate(stations)[:, None] * self.shape.slopes)


@dataclass(frozen=True)
class Relaxed:
    """A lattice solved with a relaxed wake at one state of flight.

    Attributes
    ----------
    flows : circulations of the unit flows with that wake
    changes : largest change of a circulation in each iteration, over the largest circulation [1]
    converged : whether the last of them is small enough
    """

    flows: UnitFlows
    changes: tuple[float, ...]
    converged: bool


def relaxed_flows(
    lattice: Lattice,
    direction: Floats,
    amounts: Floats,
    *,
    sizes: ChainSizes | None = None,
    start: RelaxedWake | None = None,
) -> Relaxed:
    """Solve a lattice with a wake that follows the flow.

    Parameters
    ----------
    direction : of the stream, unit vector of geometry axes, shape (3,)
    amounts : of the unit flows per unit of airspeed, shape (columns,)
    start : a wake of the same lattice to begin with; by default the straight one

    Raises
    ------
    ComputationFailed : the matrix is singular, does not fit into memory, or the wake runs away
    """
    sizes = sizes or ChainSizes()
    refuse_too_large(lattice.panels)
    shape = start.shape if start is not None else ChainedShape(lattice, sizes)
    assert isinstance(shape, ChainedShape)
    if start is None:
        wake = RelaxedWake(shape, direction, *_undisplaced(shape))
    else:
        wake = RelaxedWake(shape, direction, start.moved, start.slants)
    work = _Work(wake)
    flows = work.solved(wake)
    rings = flows.circulation @ amounts
    changes: list[float] = []
    while len(changes) < sizes.most:
        wake = _displaced(wake, rings, sizes)
        flows = work.solved(wake)
        new = flows.circulation @ amounts
        scale = max(float(np.abs(new).max()), 1e-300)
        changes.append(float(np.abs(new - rings).max()) / scale)
        rings = new
        if changes[-1] < sizes.tolerance:
            break
    if not np.isfinite(changes[-1]):
        raise ComputationFailed("the relaxed wake runs away: its velocities are not finite")
    return Relaxed(flows, tuple(changes), changes[-1] < sizes.tolerance)


def _undisplaced(shape: ChainedShape) -> tuple[tuple[Floats, ...], tuple[Floats, ...]]:
    moved = tuple(np.zeros((*xi.shape, 3)) for xi in shape.lengths)
    return moved, tuple(np.zeros(xi.shape[1]) for xi in shape.lengths)


class _Work:
    """The rings of the wings, which no wake changes."""

    def __init__(self, wake: RelaxedWake) -> None:
        self.lattice = wake.shape.lattice
        self.points, self.normals = self.lattice.controls(), self.lattice.normals()
        everything = range(len(self.lattice.patches))
        plain = Wake(WakeShape(self.lattice), wake.direction)
        self.wing, _ = ring_columns(self.points, self.normals, plain, everything)
        hold_sums(self.wing, self.lattice)
        self.onset = normal_onset(self.lattice)

    def solved(self, wake: RelaxedWake) -> UnitFlows:
        matrix = self.wing.copy()
        behind = WakeColumns(len(self.points), len(self.lattice.trailing_panels()))
        first = 0
        for patch, nodes, shape in zip(
            self.lattice.patches, wake.nodes, wake.shape.ring_shapes, strict=True
        ):
            rings = normalwash_of(
                self.points, self.normals, patch, nodes[patch.rows :], wake.direction
            )
            behind.take(first, rings, shape)
            first += patch.strips
        matrix[:, self.lattice.trailing_panels()] += whole_wake(wake, behind)
        with algebra_threads(len(matrix)):
            solver, condition = factorised(matrix)
            circulation = solver(-without_sums(self.onset, self.lattice))
            return UnitFlows(self.lattice, wake, circulation, solver, condition, False)


def _displaced(wake: RelaxedWake, rings: Floats, sizes: ChainSizes) -> RelaxedWake:
    """Move every node as the flow asks, equation (14)."""
    shape = wake.shape
    assert isinstance(shape, ChainedShape)
    core = sizes.core * shape.lattice.reference.span
    points = [
        nodes[patch.rows :] for patch, nodes in zip(shape.lattice.patches, wake.nodes, strict=True)
    ]
    flat = np.concatenate([p.reshape(-1, 3) for p in points])
    velocity = _smoothed_velocities(flat, wake, rings[:, None], core)
    moved, slants, first = [], [], 0
    for edge, place, xi in zip(shape.edges, points, shape.lengths, strict=True):
        own = velocity[first : first + place[..., 0].size].reshape(place.shape)
        first += place[..., 0].size
        way = np.concatenate([np.zeros((1, xi.shape[1])), xi])
        step = np.diff(way, axis=0)[..., None]
        drift = np.cumsum(0.5 * (own[1:] + own[:-1]) * step, axis=0)
        aside = np.sum(own[0] * edge.tangents, axis=1)
        inside = np.where(xi < edge.reach, xi, 0.0)
        ratio = np.divide(inside, edge.reach, out=np.ones_like(xi), where=edge.reach > 0.0)
        held = aside * inside * bend(ratio)
        moved.append(drift - held[..., None] * edge.tangents)
        slants.append(aside)
    return RelaxedWake(shape, wake.direction, tuple(moved), tuple(slants))


def _smoothed_velocities(points: Floats, wake: Wake, rings: Floats, core: float) -> Floats:
    """Smoothed velocity at points from wings and wake, shape (m, 3) [m/s]."""
    result = np.zeros((len(points), 3))
    for patch, nodes, strength in zip(
        wake.shape.lattice.patches, wake.nodes, wake.strengths(rings), strict=True
    ):
        bound, legs = _segment_strengths(strength[:, 0], patch.strips, patch.sense)
        smoothed_sum(
            solid(points), node_table(nodes), patch.strips + 1, solid(wake.direction), core,
            bound, legs, result,
        )  # fmt: skip
    return result


def _segment_strengths(rings: Floats, strips: int, sense: float) -> tuple[Floats, Floats]:
    """Strengths of the bound and the chordwise segments of a grid, as the kernel takes them."""
    grid = rings.reshape(-1, strips)
    rows = len(grid)
    bound, legs = np.zeros((rows + 1, strips + 1)), np.zeros((rows + 1, strips + 1))
    bound[:-1, :-1] = grid
    bound[1:-1, :-1] -= grid[:-1]
    legs[:-1, 1:] += grid
    legs[:-1, :-1] -= grid
    legs[-1] = legs[-2]
    return sense * bound.ravel(), sense * legs.ravel()
