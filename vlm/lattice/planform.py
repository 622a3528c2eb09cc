"""The starboard half of one wing with its tip flat: chord lines against the span.

A half planform is a list of stations from the centreline to the end of the tip. Between
stations everything is linear. The span coordinate ``s`` is the length along the wing in the
front view, so that it keeps its meaning with dihedral.
"""

from dataclasses import dataclass

import numpy as np

from vlm.constants import Floats
from vlm.description.models import Station, Tips, Wing
from vlm.errors import InputRefused

CORNER_TURN_RAD = np.radians(2.0)
CORNER_CONTRAST = 3.0


@dataclass(frozen=True)
class HalfPlanform:
    """Chord lines of the starboard half, flat.

    Attributes
    ----------
    s : shape (n,), span coordinate from the centreline [m]
    leading_edge : shape (n, 3), geometry axes [m]
    chord_vector : shape (n, 3), from the leading to the trailing edge [m]
    corners : indices of stations where the lattice must have a strip edge
    hinge : index of the hinge's station, or None for a wing without tips
    centre_is_kinked : whether the quarter-chord line turns at the centreline
    """

    s: Floats
    leading_edge: Floats
    chord_vector: Floats
    corners: tuple[int, ...]
    hinge: int | None
    centre_is_kinked: bool

    def points(self, s: Floats, xi: Floats) -> Floats:
        """Points at span coordinate ``s`` and chord fraction ``xi`` (any equal shapes) [m]."""
        lead = self._interpolated(self.leading_edge, s)
        return np.asarray(lead + xi[..., None] * self._interpolated(self.chord_vector, s))

    def chord_directions(self, s: Floats) -> Floats:
        """Unit vectors along the chord, shape (..., 3)."""
        chord = self._interpolated(self.chord_vector, s)
        return np.asarray(chord / np.linalg.norm(chord, axis=-1, keepdims=True))

    def chords(self, s: Floats) -> Floats:
        """Local chord [m]."""
        return np.asarray(np.linalg.norm(self._interpolated(self.chord_vector, s), axis=-1))

    def spanwise_tangents(self, s: Floats, xi: Floats) -> Floats:
        """Derivative of :meth:`points` with ``s``, shape (..., 3) [1]."""
        cell = np.clip(np.searchsorted(self.s, s, side="right") - 1, 0, len(self.s) - 2)
        step = (self.s[cell + 1] - self.s[cell])[..., None]
        lead = (self.leading_edge[cell + 1] - self.leading_edge[cell]) / step
        chord = (self.chord_vector[cell + 1] - self.chord_vector[cell]) / step
        return np.asarray(lead + xi[..., None] * chord)

    def _interpolated(self, values: Floats, s: Floats) -> Floats:
        return np.stack([np.interp(s, self.s, values[:, c]) for c in range(3)], axis=-1)

    @property
    def area(self) -> float:
        """Planform area of this half, tips flat: chord times lateral step [m^2]."""
        return float(np.sum(self._strip_areas()))

    @property
    def half_span(self) -> float:
        """Lateral distance from the centreline to the end, tips flat [m]."""
        return float(self.leading_edge[-1, 1] - self.leading_edge[0, 1])

    def _strip_areas(self) -> Floats:
        chord = np.linalg.norm(self.chord_vector, axis=1)
        return np.asarray(0.5 * (chord[1:] + chord[:-1]) * np.diff(self.leading_edge[:, 1]))

    def part_area(self, part: str) -> float:
        """Planform area of the "main" part or of the "tip" of this half, tips flat [m^2]."""
        areas = self._strip_areas()
        split = len(areas) if self.hinge is None else self.hinge
        return float(np.sum(areas[:split] if part == "main" else areas[split:]))

    def tip_frame(self) -> tuple[Floats, Floats]:
        """Frame of the flat starboard tip: leading edge at the hinge [m], and a matrix whose
        columns are the directions aft along the chord, outboard along the wing, and up."""
        assert self.hinge is not None
        at_hinge = self.s[self.hinge]
        aft = self.chord_directions(np.array(at_hinge))
        beyond = 0.5 * (at_hinge + self.s[self.hinge + 1])
        along = self.spanwise_tangents(np.array(beyond), np.array(0.25))
        outboard = along - (along @ aft) * aft
        outboard = outboard / np.linalg.norm(outboard)
        return self.leading_edge[self.hinge], np.stack([aft, outboard, np.cross(aft, outboard)], 1)

    def quarter_chord_centroid(self) -> Floats:
        """Centroid of the quarter-chord line weighted by area, geometry axes, shape (3,) [m].

        Exact for linear stations: Simpson's rule on chord times position.
        """
        chord = np.linalg.norm(self.chord_vector, axis=1)
        quarter = self.leading_edge + 0.25 * self.chord_vector
        middle = 0.25 * (chord[1:] + chord[:-1])[:, None] * (quarter[1:] + quarter[:-1])
        ends = chord[:-1, None] * quarter[:-1] + chord[1:, None] * quarter[1:]
        weighted = (ends + 4.0 * middle) / 6.0 * np.diff(self.leading_edge[:, 1])[:, None]
        return np.asarray(weighted.sum(axis=0) / self.area)


@dataclass(frozen=True)
class _Row:
    """One station before it is placed: quarter-chord based for trapezoids."""

    s: float
    leading_edge: Floats
    chord_vector: Floats
    corner: bool | None = None


def _chord_vector(chord: float, twist: float, dihedral: float) -> Floats:
    """Chord from leading to trailing edge, nose up by ``twist`` about the span [m]."""
    up = np.array([0.0, -np.sin(dihedral), np.cos(dihedral)])
    return np.asarray(chord * (np.cos(twist) * np.array([1.0, 0.0, 0.0]) - np.sin(twist) * up))


def _trapezoid_rows(wing: Wing) -> list[_Row]:
    assert wing.span_m is not None and wing.root_chord_m is not None
    assert wing.end_chord_m is not None
    dihedral = np.radians(wing.dihedral_deg or 0.0)
    half = 0.5 * wing.span_m / np.cos(dihedral)
    incidence = np.radians(wing.incidence_deg)
    end_twist = incidence - np.radians(wing.washout_deg or 0.0)
    # The root's chord lies in the plane of symmetry, or the halves would leave a slit between them.
    root = _chord_vector(wing.root_chord_m, incidence, 0.0)
    end = _chord_vector(wing.end_chord_m, end_twist, dihedral)
    quarter_end = 0.25 * root + half * _span_direction(wing.sweep_deg or 0.0, dihedral)
    return [_Row(0.0, np.zeros(3), root), _Row(half, quarter_end - 0.25 * end, end)]


def _span_direction(sweep_deg: float, dihedral: float) -> Floats:
    """Step of the quarter-chord line for a unit of span coordinate; sweep as in the top view."""
    lateral = np.cos(dihedral)
    return np.array([lateral * np.tan(np.radians(sweep_deg)), lateral, np.sin(dihedral)])


def _station_rows(stations: tuple[Station, ...], incidence: float) -> list[_Row]:
    flat = np.array([[st.y_m, st.z_m] for st in stations])
    steps = np.hypot(*np.diff(flat, axis=0).T)
    s = np.concatenate([[0.0], np.cumsum(steps)])
    slopes = np.arctan2(np.diff(flat[:, 1]), np.diff(flat[:, 0]))
    # The root's chord lies in the plane of symmetry, or the halves would leave a slit between them.
    at_nodes = np.concatenate([[0.0], 0.5 * (slopes[1:] + slopes[:-1]), slopes[-1:]])
    return [
        _Row(
            float(s[i]),
            np.array([st.x_m, st.y_m, st.z_m]),
            _chord_vector(st.chord_m, incidence + np.radians(st.twist_deg), float(at_nodes[i])),
            st.corner,
        )
        for i, st in enumerate(stations)
    ]


def _tip_rows(tips: Tips, inboard: list[_Row], where: str) -> list[_Row]:
    """Rows of a tip beyond the hinge, continuing the last stretch of the inboard wing."""
    hinge, before = inboard[-1], inboard[-2]
    quarters = [row.leading_edge + 0.25 * row.chord_vector for row in (before, hinge)]
    step = quarters[1] - quarters[0]
    dihedral = float(np.arctan2(step[2], step[1]))
    up = np.array([0.0, -np.sin(dihedral), np.cos(dihedral)])
    along = hinge.chord_vector
    twist = float(np.arctan2(-along @ up, along[0]))
    if tips.stations is not None:
        return _tip_station_rows(tips.stations, hinge, dihedral, twist, where)
    assert tips.span_m is not None and tips.end_chord_m is not None
    end = _chord_vector(tips.end_chord_m, twist - np.radians(tips.washout_deg or 0.0), dihedral)
    quarter = hinge.leading_edge + 0.25 * along
    quarter = quarter + tips.span_m * _span_direction(tips.sweep_deg or 0.0, dihedral)
    return [_Row(hinge.s + tips.span_m, quarter - 0.25 * end, end)]


def _tip_station_rows(
    stations: tuple[Station, ...], hinge: _Row, dihedral: float, twist: float, where: str
) -> list[_Row]:
    chord = float(np.linalg.norm(hinge.chord_vector))
    if abs(stations[0].chord_m - chord) > 1e-6 * chord:
        raise InputRefused(
            f"{where}.tips.stations.0.chord_m = {stations[0].chord_m:g}; a tip continues its wing:"
            f" at the hinge the chord must be the wing's end chord, {chord:g} m"
        )
    rows = _station_rows(stations, twist)
    turn = np.array(
        [
            [1.0, 0.0, 0.0],
            [0.0, np.cos(dihedral), -np.sin(dihedral)],
            [0.0, np.sin(dihedral), np.cos(dihedral)],
        ]
    )
    start = rows[0].leading_edge
    return [
        _Row(
            hinge.s + row.s,
            hinge.leading_edge + turn @ (row.leading_edge - start),
            turn @ row.chord_vector,
            row.corner,
        )
        for row in rows[1:]
    ]


def _turns(quarter: Floats) -> Floats:
    """Turn of a polyline at each inner vertex [rad], shape (n - 2,)."""
    step = np.diff(quarter, axis=0)
    step /= np.linalg.norm(step, axis=1, keepdims=True)
    cosine = np.clip(np.sum(step[1:] * step[:-1], axis=1), -1.0, 1.0)
    return np.asarray(np.arccos(cosine))


def _found_corners(rows: list[_Row], hinge: int | None) -> tuple[tuple[int, ...], bool]:
    """Stations that need a strip edge, and whether the centreline is one of them.

    A corner is a station where the quarter-chord line turns by more than 2 degrees and by
    more than three times the turn at its neighbours, so that a smooth outline written as many
    short straight lines has none. The hinge has a strip edge whatever its turn, which says nothing
    about its neighbours.
    """
    quarter = np.array([row.leading_edge + 0.25 * row.chord_vector for row in rows])
    port = quarter[:0:-1] * np.array([1.0, -1.0, 1.0])
    turns = _turns(np.concatenate([port, quarter]))
    beside = turns.copy()
    if hinge is not None:
        centre = len(rows) - 2
        beside[[centre - hinge, centre + hinge]] = 0.0
    padded = np.concatenate([[0.0], beside, [0.0]])
    sharp = (turns > CORNER_TURN_RAD) & (
        turns > CORNER_CONTRAST * np.maximum(padded[2:], padded[:-2])
    )
    starboard = sharp[len(rows) - 2 :]
    corners = [
        i
        for i in range(1, len(rows) - 1)
        if i != hinge and (rows[i].corner is True or (rows[i].corner is None and starboard[i]))
    ]
    return tuple(corners), bool(starboard[0])


def half_planform(wing: Wing, root: Floats, where: str) -> HalfPlanform:
    """Starboard half of a wing with its tip flat.

    Parameters
    ----------
    wing : the description
    root : leading edge at the centreline, geometry axes, shape (3,) [m]
    where : the wing's key in the file, for messages

    Raises
    ------
    InputRefused : a tip's first station does not continue its wing
    """
    if wing.stations is not None:
        rows = _station_rows(wing.stations, float(np.radians(wing.incidence_deg)))
        start = rows[0].leading_edge
        rows = [_Row(r.s, r.leading_edge - start, r.chord_vector, r.corner) for r in rows]
    else:
        rows = _trapezoid_rows(wing)
    hinge = None
    if wing.tips is not None:
        hinge = len(rows) - 1
        rows = rows + _tip_rows(wing.tips, rows, where)
    corners, kinked = _found_corners(rows, hinge)
    return HalfPlanform(
        s=np.array([row.s for row in rows]),
        leading_edge=np.array([row.leading_edge for row in rows]) + root,
        chord_vector=np.array([row.chord_vector for row in rows]),
        corners=corners,
        hinge=hinge,
        centre_is_kinked=kinked,
    )
