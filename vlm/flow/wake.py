"""The wake along one direction, and its rates: equations (17) to (19) of
:mod:`vlm.flow.wake_shape`."""

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from vlm.constants import Floats
from vlm.flow.direction import CRAFT_AXIS
from vlm.flow.motions import Motion
from vlm.flow.wake_shape import ENDS, STATIONS, Numbers, TrailingEdge, WakeShape, bend
from vlm.frames import cross
from vlm.lattice.edges import INNER, OUTER
from vlm.lattice.lattice import Lattice

STEP = 1e-30
"""Of the complex step: so small that it cancels nothing."""


@dataclass(frozen=True)
class Wake:
    """The wake along one direction, or the wakes along some.

    Attributes
    ----------
    shape : what does not depend on the direction
    direction : unit vector of the straight legs, shape (3,); of several wakes (wakes, 3), and
        what is made of it has the wakes in front
    """

    shape: WakeShape
    direction: Floats

    @cached_property
    def _lines(self) -> "_Lines":
        return _Lines(self.shape, self.shape.edges, self.direction)

    @cached_property
    def nodes(self) -> list[Floats]:
        """Each patch's nodes and, behind them, its wake's, (rows + wake rows + 1, strips + 1, 3)
        [m]."""
        own = zip(self.shape.lattice.patches, self.shape.by_line(self.lines), strict=True)
        return [np.concatenate([patch.nodes[:-1], behind]) for patch, behind in own]

    @cached_property
    def lines(self) -> Floats:
        """The wake's nodes of all patches side by side, the edge's first, (rows, lines, 3) [m]."""
        trail = np.concatenate([edge.trail for edge in self.shape.edges])
        behind = np.asarray(self._lines.wake_nodes())
        return np.concatenate(
            [np.broadcast_to(trail, (*behind.shape[:-3], 1, *trail.shape)), behind], axis=-3
        )

    @property
    def leg_starts(self) -> list[Floats]:
        """Points that the far wake's lines pass, by patch, shape (strips + 1, 3) [m].

        The trailing edge's nodes, but for a line that first runs on along a joined end.
        """
        starts = []
        for edge in self.shape.edges:
            line = np.array(edge.trail, dtype=float)
            line[[INNER, OUTER]] += edge.runs
            starts.append(line)
        return starts

    @cached_property
    def amplitudes(self) -> Floats:
        """dmu/dx at the edge from the strips' circulation, shape (strips, strips) [1/m]."""
        return np.asarray(self._lines.amplitudes())

    @cached_property
    def corrections(self) -> list[Floats]:
        """As :attr:`WakeShape.corrections`, for a wake that bends out of the wing's plane."""
        return self._lines.corrections()

    def strengths(self, circulation: Floats) -> list[Floats]:
        """Strength of all rings, the wake's included, by patch, (rings, columns) [m^2/s]."""
        lattice = self.shape.lattice
        strips = trailing_rings(lattice, circulation)
        behind = self.shape.ring_strengths(strips, self.amplitudes @ strips)
        return [
            np.concatenate([circulation[lattice.panels_of(i)], rings])
            for i, rings in enumerate(behind)
        ]

    def corrected(self, circulation: Floats) -> Floats:
        """Normal velocity of the corrections at every control point, (panels, columns) [m/s]."""
        return self.correction_columns @ trailing_rings(self.shape.lattice, circulation)

    @cached_property
    def correction_columns(self) -> Floats:
        """The same of unit circulation of each strip, shape (panels, strips) [1/m]."""
        strips = self.amplitudes.shape[-1]
        slopes = np.split(self.amplitudes, self.shape.strip_ends, axis=-2)
        found = [
            table[..., None] * slope[..., None, :, :]
            for table, slope in zip(self.corrections, slopes, strict=True)
        ]
        wakes = self.amplitudes.shape[:-2]
        return np.concatenate([each.reshape(*wakes, -1, strips) for each in found], axis=-2)

    def rate(self, motion: Motion) -> "WakeRate":
        """How everything here changes with a motion."""
        moved = [_moved(edge, motion) for edge in self.shape.edges]
        lines = _Lines(self.shape, moved, self.direction + 1j * STEP * motion.direction_rate)
        patches = self.shape.lattice.patches
        return WakeRate(
            nodes=[
                np.concatenate([motion.displacement(patch.body, patch.nodes), _rate(behind)])
                for patch, behind in zip(
                    patches, self.shape.by_line(lines.wake_nodes()), strict=True
                )
            ],
            direction=motion.direction_rate,
            amplitudes=_rate(lines.amplitudes()),
            corrections=[_rate(table) for table in lines.corrections()],
        )


def axis_wake(lattice: Lattice) -> Wake:
    """A lattice's wake along the craft's axis."""
    return Wake(WakeShape(lattice), CRAFT_AXIS)


@dataclass(frozen=True)
class WakeRate:
    """Rates of a wake with one parameter.

    Attributes
    ----------
    nodes, direction, amplitudes, corrections : of what the wake names so, per unit
    """

    nodes: list[Floats]
    direction: Floats
    amplitudes: Floats
    corrections: list[Floats]

    def seen_from(self, wake: Wake, motion: Motion, body: str) -> "WakeRate":
        """The same as it is seen from a body that takes part in the motion."""
        if body not in motion.spins:
            return self
        spin, place = motion.spins[body], motion.hinges[body].point
        nodes = []
        for patch, whole, rate in zip(
            wake.shape.lattice.patches, wake.nodes, self.nodes, strict=True
        ):
            relative = rate - cross(spin, whole - place)
            if patch.body == body:
                relative[: patch.rows + 1] = 0.0
            nodes.append(relative)
        return replace(self, nodes=nodes, direction=self.direction - cross(spin, wake.direction))

    def strengths(self, wake: Wake, circulation: Floats) -> list[Floats]:
        """Rate of the strengths of the wake's rings with the circulation held, by patch."""
        strips = trailing_rings(wake.shape.lattice, circulation)
        return wake.shape.ring_strengths(np.zeros_like(strips), self.amplitudes @ strips)

    def corrected(self, wake: Wake, circulation: Floats) -> Floats:
        """Rate of the corrections' normal velocity at every control point, (panels, columns)."""
        lattice = wake.shape.lattice
        strips = trailing_rings(lattice, circulation)
        slope, change = wake.amplitudes @ strips, self.amplitudes @ strips
        found, first = [], 0
        for patch, table, rate in zip(
            lattice.patches, wake.corrections, self.corrections, strict=True
        ):
            own = slice(first, first + patch.strips)
            first += patch.strips
            velocity = table[:, :, None] * change[own] + rate[:, :, None] * slope[own]
            found.append(velocity.reshape(-1, strips.shape[1]))
        return np.concatenate(found)


@dataclass(frozen=True)
class _Lines:
    """The formulas of the wake's lines, in numbers that may carry a derivative."""

    shape: WakeShape
    edges: list[TrailingEdge]
    direction: Numbers

    def _all(self, name: str) -> Numbers:
        """A field of all edges, side by side."""
        return np.concatenate([getattr(edge, name) for edge in self.edges])

    def wake_nodes(self) -> Numbers:
        """Equation (18) at the wake's rows, shape (wake rows, lines, 3) [m]."""
        trail, tangents, chords = (self._all(name) for name in ("trail", "tangents", "chords"))
        lines = bent_lines(trail, tangents, chords, self._all("reach"), self.direction)
        for own, edge in zip(self.shape.by_line(lines), self.edges, strict=True):
            if edge.runs.any():  # led along what the edge's ends are joined to
                own[..., ENDS, :] += STATIONS[1:, None, None] * edge.runs
        return lines

    def amplitudes(self) -> Numbers:
        """Equation (17), shape (strips, strips) [1/m]."""
        stations = self._all("station_tangents"), self._all("station_chords")
        return -_leaving(*stations, self.direction)[1][..., None] * self.shape.slopes

    def corrections(self) -> list[Numbers]:
        """The tables times the cosine of the bend out of the wing's plane, (rows, strips) [1]."""
        tangents, chords = self._all("station_tangents"), self._all("station_chords")
        square = chords - np.sum(chords * tangents, axis=-1)[:, None] * tangents
        direction = self.direction[..., None, :]
        off = direction - np.sum(tangents * direction, axis=-1)[..., None] * tangents
        lengths = np.sqrt(np.sum(square * square, axis=-1) * np.sum(off * off, axis=-1))
        cosines = np.split(np.sum(square * off, axis=-1) / lengths, self.shape.strip_ends, axis=-1)
        own = zip(self.shape.corrections, cosines, strict=True)
        return [table * cosine[..., None, :] for table, cosine in own]


def _moved(edge: TrailingEdge, motion: Motion) -> TrailingEdge:
    """An edge that carries its rate in a motion as an imaginary part."""
    body = edge.patch.body
    if body not in motion.spins:
        return edge
    turned = {
        name: getattr(edge, name) + 1j * STEP * motion.turned(body, getattr(edge, name))
        for name in ("tangents", "station_tangents", "chords", "station_chords")
    }
    trail = edge.trail + 1j * STEP * motion.displacement(body, edge.trail)
    return replace(edge, trail=trail, **turned)


def _rate(values: Numbers) -> Floats:
    return np.asarray(np.imag(values) / STEP)


def _leaving(tangents: Numbers, chords: Numbers, direction: Numbers) -> tuple[Numbers, Numbers]:
    """The direction e in which chordwise lines go on into the wake, and m of equation (17)."""
    direction = direction[..., None, :]
    along = np.sum(chords * tangents, axis=-1)
    sine = np.sqrt(1.0 - along**2)
    parallel = np.sum(tangents * direction, axis=-1)
    off = direction - parallel[..., None] * tangents
    length = np.sqrt(np.sum(off * off, axis=-1))
    leaving = along[:, None] * tangents + (sine / length)[..., None] * off
    return leaving, parallel * sine / length - along


def bent_lines(
    start: Numbers, tangents: Numbers, chords: Numbers, reach: Floats, direction: Numbers
) -> Numbers:
    """Equation (18) from points of a trailing edge, shape (wake rows, points, 3) [m]."""
    leaving, skew = _leaving(tangents, chords, direction)
    u = STATIONS[1:, None]
    xi = u * reach
    aside = skew[..., None, :] * (xi - xi * bend(u))
    ahead = xi[..., None] * leaving[..., None, :, :]
    return start + ahead + aside[..., None] * tangents


def trailing_rings(lattice: Lattice, circulation: Floats) -> Floats:
    """Circulation of the rings at the trailing edge, shape (strips, columns) [m^2/s]."""
    return np.asarray(circulation[lattice.trailing_panels()])
