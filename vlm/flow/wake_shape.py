"""What of the wake does not turn: a sheet that leaves the trailing edge along the stream.

Far behind, the sheet's vortex lines are straight, along the direction d of the stream. At the
trailing edge they do not in general leave along the wing's chordwise lines: in sideslip, or where
a folded tip stands in the stream at an angle. No load at the edge asks that the vortex lines turn
with the stream before they reach it: with mu the jump of potential across the sheet (the
circulation of the rings), x the direction of the chordwise lines, t that of the edge, and d
proportional to e + m t, where e is x turned about t into the wake,

    d mu / dx = - m d Gamma / ds   at the edge, on the wing as in the wake,            (17)

so that the bound vorticity does not vanish there. A wake of straight legs alone has all of that
turn in one kink, and its loads drift with the logarithm of the strips' width. So the wake's first
stretch is a grid of rings. Its lines leave along e and bend onto their lines along d within a
reach L,

    r(xi) = r_te + xi e + m (xi - xi chi(xi / L)) t,   chi(u) = (1 - u)^2 (1 + 2 u),   (18)

and the jump on them, that of the line along d which passes there, is to first order

    mu = Gamma - m (d Gamma / ds) xi chi(xi / L).                                      (19)

L is a share of the distance to the nearest end of the piece of wing, where Gamma' is not finite,
and nothing at the end itself. The choice of L changes no limit, only errors. All of it acts
through the strips' circulation, which keeps the turn of a wake a change of low rank.

What rows, exact for a sheet that vanishes at the edge, make of one that does not is known in two
dimensions for the shape (19) continued onto the wing with the reach l, q = (x - x_te)
chi((x_te - x) / l). There the vorticity along t is that of the jump, dq / dx, and in the wake that
of the lines' slant against e as well: together the constant that (17) asks for. The discrete wake
has the jump's as vortices on its rows of nodes and the slant's, between two rows, as the step of
xi chi over its length. The velocity of the sheet less that of the discrete vortices, both of
infinite span, is added at the control points of the strip: the table ``corrections``. Measured
against the limits for small angles: docs, theory.
"""

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from vlm.constants import Floats
from vlm.lattice.edges import INNER, OUTER
from vlm.lattice.lattice import Lattice
from vlm.lattice.patches import Patch
from vlm.lattice.spacing import ChordLaw, chord_rows, row_extents

WAKE_ROWS = 4
REACH = 0.5
"""Reach of the bend over the distance to the nearest end of the piece [1]."""
ENDS = (INNER, OUTER)
NO_RUN: Floats = np.zeros(3)
Numbers = Any
"""Arrays of floats, or of complex numbers that carry a derivative."""


def bend(u: Numbers) -> Numbers:
    """The shape chi of equation (18), for u from 0 to 1."""
    return (1.0 - u) ** 2 * (1.0 + 2.0 * u)


def _shape_integral(u: Floats) -> Floats:
    """Integral of u chi(u) from 0."""
    return u**2 / 2.0 - 0.75 * u**4 + 0.4 * u**5


STATIONS: Floats = np.linspace(0.0, 1.0, WAKE_ROWS + 1)
"""Where the wake's rows of nodes stand in the bend, 0 to 1 [1]."""
MEANS: Floats = np.diff(_shape_integral(STATIONS)) / np.diff(STATIONS)
"""Mean of u chi(u) between them [1]."""


@dataclass(frozen=True)
class TrailingEdge:
    """A patch's trailing edge as its wake needs it, at its nodes and at its control stations.

    Attributes
    ----------
    patch : the patch
    trail : its nodes there, shape (strips + 1, 3) [m]
    tangents, station_tangents : along the edge, outward, shapes (strips + 1, 3) and (strips, 3) [1]
    chords, station_chords : along the chordwise lines, aft, like shapes [1]
    reach, station_reach : L of equation (18), shapes (strips + 1,) and (strips,) [m]
    runs : how far the inner and the outer end's line run on along another surface that they are
        joined to, before they leave along the stream, shape (2, 3) [m]
    """

    patch: Patch
    trail: Numbers
    tangents: Numbers
    station_tangents: Numbers
    chords: Numbers
    station_chords: Numbers
    reach: Floats
    station_reach: Floats
    runs: Floats


class WakeShape:
    """What of a lattice's wake does not depend on its direction.

    Attributes
    ----------
    lattice : the lattice
    edges : trailing edge of each patch
    slopes : shape (strips, strips), derivative along the edge, outward, of values at the control
        stations [1/m]
    strip_ends : where the strips of each patch but the last one end
    """

    def __init__(self, lattice: Lattice) -> None:
        self.lattice = lattice
        ends = _end_kinds(lattice)
        runs = _end_runs(lattice)
        self.edges = [
            _trailing_edge(patch, np.array([runs.get((index, end), NO_RUN) for end in ENDS]))
            for index, patch in enumerate(lattice.patches)
        ]
        self.slopes = _slopes(lattice, ends)
        self.strip_ends = np.cumsum([patch.strips for patch in lattice.patches])[:-1]

    def by_line(self, values: Numbers) -> list[Numbers]:
        """Values on the lines of all patches, shape (..., lines, 3), by patch."""
        ends = self.strip_ends + 1 + np.arange(len(self.strip_ends))
        return np.split(values, ends, axis=-2)

    @cached_property
    def ring_shapes(self) -> list[Floats]:
        """Mean of xi chi(xi / L) over each ring of the wake, by patch, (rows, strips) [m]."""
        return [MEANS[:, None] * edge.station_reach for edge in self.edges]

    def ring_strengths(self, strips: Floats, slope: Floats) -> list[Floats]:
        """Equation (19) on the wake's rings, by patch, shape (wake rings, columns) [m^2/s].

        Parameters
        ----------
        strips : circulation of every strip, shape (strips, columns) [m^2/s]
        slope : dmu/dx at its edge, same shape [m/s]
        """
        found, first = [], 0
        for shape in self.ring_shapes:
            own = slice(first, first + shape.shape[1])
            first += shape.shape[1]
            rings = strips[own] + shape[:, :, None] * slope[own]
            found.append(rings.reshape(-1, strips.shape[1]))
        return found

    @cached_property
    def corrections(self) -> list[Floats]:
        """Normal velocity per unit of dmu/dx that the rows miss, by patch, (rows, strips) [1]."""
        law = self.lattice.grid.chord_law
        return [_correction(edge, law) for edge in self.edges]


def _end_kinds(lattice: Lattice) -> dict[tuple[int, int], int | None]:
    """For each patch end that is not free, the patch across an unbroken centre, else None."""
    kinds: dict[tuple[int, int], int | None] = {}
    for shared in lattice.shared_edges:
        if not shared.same_sheet:
            kinds[shared.one, shared.one_end] = None
    for junction in lattice.junctions:
        kinds |= dict.fromkeys(junction.members)
    joints = [joint for joint in lattice.joints if joint.closed]
    joined = {joint.tip for joint in joints} | {joint.other for joint in joints}
    last = {f"{p.wing} {p.side}": i for i, p in enumerate(lattice.patches)}
    last |= {p.body: i for i, p in enumerate(lattice.patches) if p.part == "tip"}
    for name in joined:
        kinds[last[name], OUTER] = None
    half = len(lattice.patches) // 2
    for index, patch in enumerate(lattice.patches):
        if not patch.crowded_start:
            kinds[index, INNER] = (index + half) % (2 * half)
    return kinds


def _end_runs(lattice: Lattice) -> dict[tuple[int, int], Floats]:
    """For joined ends of unequal chords, from the forward trailing edge to the other one.

    Ahead of the other's trailing edge the joined ends' vortices lie on one line, where only their
    difference is a vortex. A leg that left it there along the stream would pass the other's end
    close by.
    """
    last = {f"{p.wing} {p.side}": i for i, p in enumerate(lattice.patches)}
    tips = {p.body: i for i, p in enumerate(lattice.patches) if p.part == "tip"}
    runs = _junction_runs(lattice)
    for joint in lattice.joints:
        if not joint.closed or joint.matched:
            continue
        one, two = tips[joint.tip], last[joint.other]
        edges = [lattice.patches[index].nodes[:, OUTER] for index in (one, two)]
        apart = edges[1][-1] - edges[0][-1]
        along = edges[1][-1] - edges[1][0]
        if float(apart @ along) > 0.0:
            runs[one, OUTER] = apart
        else:
            runs[two, OUTER] = -apart
    return runs


def _junction_runs(lattice: Lattice) -> dict[tuple[int, int], Floats]:
    """The same where fins stand on wings: all leave where the aftmost does."""
    runs: dict[tuple[int, int], Floats] = {}
    for junction in lattice.junctions:
        if junction.matched:
            continue
        trails = np.array([lattice.patches[i].nodes[-1, end] for i, end in junction.members])
        aftmost = trails[np.argmax(trails[:, 0])]
        runs |= {
            member: aftmost - trail for member, trail in zip(junction.members, trails, strict=True)
        }
    return runs


def _trailing_edge(patch: Patch, runs: Floats) -> TrailingEdge:
    trail = patch.nodes[-1]
    steps = np.diff(trail, axis=0)
    widths = np.linalg.norm(steps, axis=1)
    tangents = _unit(np.concatenate([steps[:1], trail[2:] - trail[:-2], steps[-1:]]))
    if not patch.crowded_start:
        tangents[0] = (0.0, patch.sense, 0.0)
    chords = _unit(patch.nodes[-1] - patch.nodes[0])
    places = np.concatenate([[0.0], np.cumsum(widths)])
    stations = places[:-1] + patch.station * widths
    mixed = chords[:-1] + patch.station[:, None] * (chords[1:] - chords[:-1])
    return TrailingEdge(
        patch=patch,
        trail=trail,
        tangents=tangents,
        station_tangents=_unit(steps),
        chords=chords,
        station_chords=_unit(mixed),
        reach=REACH * _distance_to_end(places, places[-1], patch.crowded_start),
        station_reach=REACH * _distance_to_end(stations, places[-1], patch.crowded_start),
        runs=runs,
    )


def _distance_to_end(places: Floats, length: float, crowded_start: bool) -> Floats:
    outer = length - places
    return np.asarray(np.minimum(places, outer) if crowded_start else outer)


def _unit(vectors: Floats) -> Floats:
    return np.asarray(vectors / np.linalg.norm(vectors, axis=-1, keepdims=True))


def _slopes(lattice: Lattice, ends: dict[tuple[int, int], int | None]) -> Floats:
    """Differences over the two neighbours, of second order in the parameter of the spacing.

    Strips crowd at ends as the square of that parameter: a smooth value is even in it there, and
    one that vanishes as the root of the distance (a free end) is odd.
    """
    counts = [patch.strips for patch in lattice.patches]
    first = np.concatenate([[0], np.cumsum(counts)])
    table = np.zeros((first[-1], first[-1]))
    for index, patch in enumerate(lattice.patches):
        widths = np.linalg.norm(np.diff(patch.nodes[-1], axis=0), axis=1)
        s = np.concatenate([[0.0], np.cumsum(widths)])[:-1] + patch.station * widths
        start, n = first[index], patch.strips
        for j in range(n):
            row = table[start + j]
            low, high = s[max(j - 1, 0)], s[min(j + 1, n - 1)]
            row[start + min(j + 1, n - 1)] += 1.0
            row[start + max(j - 1, 0)] -= 1.0
            across = ends.get((index, INNER), -1)
            if j == 0 and (index, INNER) not in ends:
                row[start] += 2.0
            elif j == 0 and across is not None:
                low = -s[0]
                row[start] += 1.0
                row[first[across]] -= 1.0
            if j == n - 1 and (index, OUTER) not in ends:
                row[start + n - 1] -= 2.0
            row /= high - low
    return table


def _correction(edge: TrailingEdge, law: ChordLaw) -> Floats:
    """The table of the module's text for one patch, shape (rows, strips) [1]."""
    patch, reach, chord = edge.patch, edge.station_reach, edge.patch.chord
    vortices, controls = chord_rows(patch.rows, law)
    borders = np.concatenate([[0.0], np.cumsum(row_extents(patch.rows, law))])
    wing_reach = np.minimum(reach, chord)
    place = (controls[:, None] - 1.0) * chord
    sheet = _cauchy(-place / wing_reach) - _slant(-place / reach)
    ahead = np.clip((1.0 - borders[:, None]) * chord / wing_reach, 0.0, 1.0)
    rows = np.diff(-wing_reach * ahead * bend(ahead), axis=0)
    near = np.diff(np.concatenate([[0.0], MEANS, [0.0]]))[:, None] * reach
    on_rows = place[:, None] - (vortices[:, None] - 1.0) * chord
    on_wake = place[:, None] - STATIONS[:, None] * reach
    discrete = np.sum(rows / on_rows, axis=1) + np.sum(near / on_wake, axis=1)
    cosine = np.sum(edge.station_chords * edge.station_tangents, axis=1)
    # A patch that shares its sheet with its mirror image meets the other's share there as well.
    scale = 2.0 * np.pi * patch.share * np.sqrt(1.0 - cosine**2)
    return np.asarray((discrete - sheet) / scale)


def _slant(ahead: Floats) -> Floats:
    """Integral over the bend of the steps of u chi(u) over du / (u + ahead)."""
    steps = np.diff(STATIONS * bend(STATIONS)) / np.diff(STATIONS)
    distance = STATIONS + ahead[..., None]
    return np.asarray(np.log(distance[..., 1:] / distance[..., :-1]) @ steps)


def _cauchy(place: Floats) -> Floats:
    """Principal value of the integral of (1 - 9 u^2 + 8 u^3) / (u - place) over u from 0 to 1.

    The polynomial is the derivative of u chi(u).
    """
    value = 1.0 - 9.0 * place**2 + 8.0 * place**3
    safe = np.where(np.abs(place - 1.0) < 1e-12, 2.0, place)
    log = np.where(safe == place, np.log(np.abs((1.0 - safe) / safe)), 0.0)
    return np.asarray(value * log + 8.0 * place**2 - 5.0 * place - 11.0 / 6.0)
