"""What a lattice's strips are to a section: chord, span, plane, and their own thin section.

A strip's section lies in the plane across its quarter-chord line (the independence principle of
swept wings: flow along the span changes nothing). In that plane the lattice itself stands for a
thin section: with the air's velocity at the rows split into a part along the chord, v_t, and one
along the strip's normal, v_n, its circulation in two dimensions is

    Gamma = pi c (b v_n - a v_t)                                                       (1)

where a and b gather the normals of the rows, camber included, with the weights of the chordwise
law. It is exact for the law's rows (James, Comp. Meth. Appl. Mech. Eng. 1, 1972).
"""

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from vlm.constants import Floats
from vlm.lattice.lattice import Lattice
from vlm.lattice.patches import Patch
from vlm.lattice.spacing import ChordLaw, chord_rows
from vlm.sides import Side

SMOOTHING = 0.4
"""Width of the Gaussian over which strips are averaged along the span, in chords [1]."""


@dataclass(frozen=True)
class Strips:
    """All strips of a lattice, patch by patch, in the order of their trailing edges.

    Attributes
    ----------
    chord : shape (strips,), across the quarter-chord line [m]
    span : shape (strips,), length of the quarter-chord line [m]
    quarter : shape (strips, 3), middle of the quarter-chord line [m]
    along : shape (strips, 3), unit vector aft along the chord, across the span
    normal : shape (strips, 3), unit vector of positive lift at zero angle of attack
    turning : shape (strips, 3), unit vector of a nose-up moment
    rows : shape (rows,), weights of the rows in equation (1) [1]
    camber : shape (strips,), a of equation (1) [1]
    flatness : shape (strips,), b of equation (1) [1]
    thin_moment : shape (strips,), moment of the thin section about its quarter chord over
        rho/2 v_t^2 c^2 [1]
    patch : shape (strips,), index of the strip's patch
    share : shape (strips,), of its circulation and area in those of the surface: a half for a fin
        in the plane of symmetry, which stands on both sides, else 1 [1]
    """

    chord: Floats
    span: Floats
    quarter: Floats
    along: Floats
    normal: Floats
    turning: Floats
    rows: Floats
    camber: Floats
    flatness: Floats
    thin_moment: Floats
    patch: NDArray[np.intp]
    share: Floats

    @property
    def count(self) -> int:
        """Number of strips."""
        return len(self.chord)

    @property
    def area(self) -> Floats:
        """Area of each strip, shape (strips,) [m^2]."""
        return self.chord * self.span * self.share


def strips_of(lattice: Lattice) -> Strips:
    """Geometry of every strip of a lattice."""
    parts = [_patch_strips(lattice, patch) for patch in lattice.patches]
    names = ("chord", "span", "quarter", "along", "normal", "turning", "camber", "flatness",
             "thin_moment")  # fmt: skip
    joined = {name: np.concatenate([part[name] for part in parts]) for name in names}
    counts = [patch.strips for patch in lattice.patches]
    weights, _ = thin_section(lattice.grid.rows, lattice.grid.chord_law)
    return Strips(
        rows=weights,
        patch=np.repeat(np.arange(len(counts)), counts),
        share=np.repeat([patch.share for patch in lattice.patches], counts),
        **joined,
    )


@cache
def thin_section(rows: int, law: ChordLaw) -> tuple[Floats, Floats]:
    """Response of a chordwise row of vortices in two dimensions, unit chord.

    Returns
    -------
    weights : shape (rows,), so that Gamma = pi sum weights v_n [1]
    moments : shape (rows,), so that the nose-up moment about the quarter chord over rho v_t is
        sum moments v_n [1]
    """
    vortices, controls = chord_rows(rows, law)
    influence = 1.0 / (2.0 * np.pi * (controls[:, None] - vortices[None, :]))
    response = np.linalg.inv(influence)
    return response.sum(axis=0) / np.pi, (0.25 - vortices) @ response


def _patch_strips(lattice: Lattice, patch: Patch) -> dict[str, Floats]:
    first = chord_rows(patch.rows, lattice.grid.chord_law)[0][0]
    trailing = patch.nodes[-1]
    leading = patch.nodes[0] - first / (1.0 - first) * (trailing - patch.nodes[0])
    quarter = leading + 0.25 * (trailing - leading)
    span_vector = patch.sense * np.diff(quarter, axis=0)
    span = np.linalg.norm(span_vector, axis=1)
    across = span_vector / span[:, None]
    station = patch.station[:, None]
    chords = trailing - leading
    chord_vector = chords[:-1] + station * np.diff(chords, axis=0)
    along = chord_vector - np.sum(chord_vector * across, axis=1)[:, None] * across
    chord = np.linalg.norm(along, axis=1)
    along = along / chord[:, None]
    normal = np.cross(along, across)
    weights, moments = thin_section(patch.rows, lattice.grid.chord_law)
    chordwise = np.einsum("rsc,sc->rs", patch.normals, along)
    return {
        "chord": chord,
        "span": span,
        "quarter": quarter[:-1] + station * np.diff(quarter, axis=0),
        "along": along,
        "normal": normal,
        "turning": np.cross(normal, along),
        "camber": -(weights @ chordwise),
        "flatness": weights @ np.einsum("rsc,sc->rs", patch.normals, normal),
        "thin_moment": 2.0 * (moments @ chordwise),
    }


def smoothing_of(lattice: Lattice, strips: Strips) -> Floats:
    """Averages over a Gaussian of :data:`SMOOTHING` chords along each wing, (strips, strips).

    A lattice knows nothing of stall cells shorter than a chord, and a falling lift curve would
    make narrow neighbours take turns; so strips answer to the mean over a part of the chord. Each
    wing is one line from port to starboard, its folded tips included, and so is a fin whose plates
    meet at the centreline; other plates are lines of their own. Rows add up to one.
    """
    matrix = np.zeros((strips.count, strips.count))
    for line in _lines_of(lattice, strips):
        place, members = _places_along(strips, line)
        apart = (place[:, None] - place[None, :]) / (SMOOTHING * strips.chord[members][:, None])
        weight = np.exp(-0.5 * apart**2) * strips.span[members][None, :]
        matrix[np.ix_(members, members)] = weight / weight.sum(axis=1, keepdims=True)
    return matrix


_Line = list[tuple[float, list[NDArray[np.intp]]]]
"""Strips of the patches from the root outward, for each side: -1 for port."""


def _lines_of(lattice: Lattice, strips: Strips) -> list[_Line]:
    """The lines that strips stand on."""
    found: list[_Line] = []
    for surface in dict.fromkeys(patch.wing for patch in lattice.patches):
        sides: _Line = []
        for side in (Side.STARBOARD, Side.PORT):
            own = [i for i, p in enumerate(lattice.patches) if (p.wing, p.side) == (surface, side)]
            sides.append((side.sense, [np.flatnonzero(strips.patch == index) for index in own]))
        first = next(patch for patch in lattice.patches if patch.wing == surface)
        found += [sides] if first.meets_image else [[side] for side in sides]
    return found


def _places_along(strips: Strips, line: _Line) -> tuple[Floats, NDArray[np.intp]]:
    """Distance of a line's strips from its root along it, port negative; and which strips."""
    places, members = [], []
    for sign, patches in line:
        start = 0.0
        for own in patches:
            ends = start + np.cumsum(strips.span[own])
            places.append(sign * (ends - 0.5 * strips.span[own]))
            members.append(own)
            start = float(ends[-1])
    return np.concatenate(places), np.concatenate(members)
