"""Panels of one straight piece of wing: vortex nodes, control points, normals."""

from dataclasses import dataclass, replace

import numpy as np

from vlm.constants import Floats
from vlm.errors import InputRefused
from vlm.frames import cross
from vlm.lattice.planform import HalfPlanform
from vlm.lattice.spacing import ChordLaw, SpanLaw, chord_rows, span_stations
from vlm.sides import Side, tip_body

MIRROR = np.array([1.0, -1.0, 1.0])
STEEPEST = 4.0


@dataclass(frozen=True)
class Patch:
    """A rigid grid of vortex rings, rows from the leading edge, strips outward from the centre.

    Attributes
    ----------
    wing : "upper" or "lower", or the name of a fin
    side : on which it stands
    part : "main", "tip" or "fin"
    nodes : shape (rows + 1, strips + 1, 3); row k < rows holds the ends of the bound
        segments of row k, the last row the trailing edge [m]
    controls : shape (rows, strips, 3), control points [m]
    normals : shape (rows, strips, 3), unit normals, camber included [1]
    station : shape (strips,), where a strip's control station lies between its edges [1]
    chord : shape (strips,), at the control stations [m]
    width : shape (strips,), along the span [m]
    span_position : shape (strips,), span coordinate of the control stations, flat [m]
    sense : +1 where strips run to starboard, -1 where to port
    crowded_start : whether strips crowd at the inner end too; not across an unbroken centre
    stands_on : the wings that a fin is joined to
    on_plane : whether it is a fin in the plane of symmetry, which it and its mirror image share:
        each has half of the circulation
    """

    wing: str
    side: Side
    part: str
    nodes: Floats
    controls: Floats
    normals: Floats
    station: Floats
    chord: Floats
    width: Floats
    span_position: Floats
    sense: float
    crowded_start: bool = True
    stands_on: tuple[str, ...] = ()
    on_plane: bool = False

    @property
    def rows(self) -> int:
        """Number of chordwise rows."""
        return int(self.controls.shape[0])

    @property
    def strips(self) -> int:
        """Number of spanwise strips."""
        return int(self.controls.shape[1])

    @property
    def panels(self) -> int:
        """Number of panels."""
        return self.rows * self.strips

    @property
    def body(self) -> str:
        """The rigid body this patch belongs to: "fixed", or a tip such as "upper_left"."""
        return tip_body(self.wing, self.side) if self.part == "tip" else "fixed"

    @property
    def place(self) -> str:
        """Where it is, as the description names it: "upper", "upper.tips" or "fins.NAME"."""
        names = {"tip": f"{self.wing}.tips", "fin": f"fins.{self.wing}"}
        return names.get(self.part, self.wing)

    @property
    def label(self) -> str:
        """What it is called in a sentence: "upper wing", "upper starboard tip", "fin NAME"."""
        names = {"tip": f"{self.wing} {self.side.words} tip", "fin": f"fin {self.wing}"}
        return names.get(self.part, f"{self.wing} wing")

    @property
    def meets_image(self) -> bool:
        """Whether it belongs to one surface with its mirror image: a wing, or a fin whose plates
        meet at the centreline."""
        return self.part != "fin" or (not self.on_plane and bool(np.all(self.nodes[:, 0, 1] == 0)))

    @property
    def share(self) -> float:
        """Share of its circulation, force and area in that of the surface itself [1]."""
        return 0.5 if self.on_plane else 1.0

    def mirrored(self) -> "Patch":
        """The same patch on the other side of the plane of symmetry."""
        return replace(
            self,
            side=self.side.other,
            nodes=self.nodes * MIRROR,
            controls=self.controls * MIRROR,
            normals=self.normals * MIRROR,
            sense=-self.sense,
        )

    def turned(self, point: Floats, rotation: Floats) -> "Patch":
        """The patch turned about ``point`` [m] by a rotation matrix, shape (3, 3)."""
        return replace(
            self,
            nodes=(self.nodes - point) @ rotation.T + point,
            controls=(self.controls - point) @ rotation.T + point,
            normals=self.normals @ rotation.T,
        )

    def bound_points(self) -> Floats:
        """Points of the bound segments at the control stations, shape (rows, strips, 3) [m]."""
        inner, outer = self.nodes[:-1, :-1], self.nodes[:-1, 1:]
        return np.asarray(inner + self.station[:, None] * (outer - inner))

    def chordwise_points(self) -> Floats:
        """Middles of the chordwise segments, shape (rows, strips + 1, 3) [m]."""
        return np.asarray(0.5 * (self.nodes[:-1] + self.nodes[1:]))

    def trailing_stations(self) -> Floats:
        """Control stations on the trailing edge, shape (strips, 3) [m]."""
        inner, outer = self.nodes[-1, :-1], self.nodes[-1, 1:]
        return np.asarray(inner + self.station[:, None] * (outer - inner))


@dataclass(frozen=True)
class HingeLine:
    """The line a tip turns about, in geometry axes.

    Attributes
    ----------
    point : shape (3,), the forward end of the hinge [m]
    axis : shape (3,), unit vector about which a right-handed turn raises the tip [1]
    """

    point: Floats
    axis: Floats

    def moment(self, force: Floats, moment: Floats, about: Floats) -> Floats:
        """Moment of loads about the line, positive raising the tip, shape (...) [N m].

        Parameters
        ----------
        force, moment : of the loads, shape (..., 3) [N], [N m]
        about : the point that ``moment`` is about, shape (3,) [m]
        """
        return np.asarray((moment + cross(about - self.point, force)) @ self.axis)

    def mirrored(self) -> "HingeLine":
        """The hinge of the other side: an axis is a pseudovector."""
        return HingeLine(self.point * MIRROR, -self.axis * MIRROR)


def hinge_offsets(half: HalfPlanform, xi: Floats, flare: float, where: str) -> Floats:
    """How far outboard of its station the hinge line cuts the chord fractions ``xi`` [m].

    The line passes through the middle of the hinge chord at the angle ``flare`` [rad] to the
    direction aft, inboard toward the trailing edge where positive.

    Raises
    ------
    InputRefused : the line leaves the wing before it leaves the chord
    """
    if flare == 0.0:
        return np.zeros_like(xi)
    assert half.hinge is not None
    at_hinge = float(half.s[half.hinge])
    middle = half.points(np.array(at_hinge), np.array(0.5))[0]
    offset = np.zeros_like(xi)
    for _ in range(60):
        x = half.points(at_hinge + offset, xi)[..., 0]
        offset = -np.tan(flare) * (x - middle)
    room = room_at_hinge(half)
    if np.max(np.abs(offset)) >= room:
        raise InputRefused(
            f"{where}.tips.flare_deg = {np.degrees(flare):g}; the hinge line would leave the"
            f" straight piece of wing it stands on: it reaches {np.max(np.abs(offset)):.3g} m along"
            f" the span, {room:.3g} m is there"
        )
    return offset


def room_at_hinge(half: HalfPlanform) -> float:
    """Distance from the hinge to the nearest corner, or the centre or end, along the span [m]."""
    assert half.hinge is not None
    cuts = half.s[[0, *half.corners, len(half.s) - 1]]
    return float(np.abs(cuts - half.s[half.hinge]).min())


def hinge_share(nearness: Floats, room: float, offset: float) -> Floats:
    """How much of a flared hinge line's offset a strip edge takes.

    Edges that follow the hinge line are slanted, but the wake's legs run straight aft from the
    trailing edge. The kink there costs an error of about log(strips)/rows wherever trailing
    vorticity crosses it, so the share falls off steeply with the distance from the hinge: with
    the fourth power of ``nearness``, and less steeply where strips would be squeezed to less
    than half their width.

    Parameters
    ----------
    nearness : 1 at the hinge, 0 at the other end of the piece [1]
    room : length of the piece [m]
    offset : largest offset of the hinge line along the span [m]
    """
    power = STEEPEST if offset == 0.0 else min(STEEPEST, 0.5 * room / offset)
    return np.asarray(nearness ** max(power, 1.0))


@dataclass(frozen=True)
class PieceSpec:
    """One piece to panel: from ``start`` to ``end`` along the span [m].

    ``hinge_end`` tells which end lies on the hinge line: "start", "end" or None. ``ideal`` is
    the number of strips before it was rounded to ``strips``.
    """

    wing: str
    part: str
    start: float
    end: float
    strips: int
    dense_start: bool
    hinge_end: str | None
    ideal: float | None = None


@dataclass(frozen=True)
class PanelLaws:
    """Rows and spacing laws shared by all patches of a craft."""

    rows: int
    span_law: SpanLaw
    chord_law: ChordLaw


def panelled(
    half: HalfPlanform, piece: PieceSpec, laws: PanelLaws, flare: float, camber_slope: Floats
) -> Patch:
    """Starboard patch of one piece, flat.

    Vortices and control points lie on the chord surface (twist and dihedral included); camber
    enters by the slope of the normals, as in thin-section theory. Where the outline is curved, a
    control point stands between the edges of its own strip, as the straight vortices there do:
    on the curved outline itself it would stand outside the vortices of the last strip.

    Parameters
    ----------
    camber_slope : shape (rows,), slope dz/dx of the mean line at the control points [1]
    """
    vortex_xi, control_xi = chord_rows(laws.rows, laws.chord_law)
    node_xi = np.append(vortex_xi, 1.0)
    edge, station = span_stations(
        piece.strips,
        laws.span_law,
        dense_start=piece.dense_start,
        dense_end=True,
        ideal=piece.ideal,
    )
    length = piece.end - piece.start
    edge_s, station_s = piece.start + length * edge, piece.start + length * station
    fraction = (station - edge[:-1]) / np.diff(edge)
    node_s = edge_s + _shifts(half, piece, node_xi, edge, flare)
    beside_s = edge_s + _shifts(half, piece, control_xi, edge, flare)
    control_s = station_s + _shifts(half, piece, control_xi, station, flare)
    node_grid = np.broadcast_to(node_xi[:, None], node_s.shape)
    control_grid = np.broadcast_to(control_xi[:, None], control_s.shape)
    beside = half.points(beside_s, np.broadcast_to(control_xi[:, None], beside_s.shape))
    return Patch(
        wing=piece.wing,
        side=Side.STARBOARD,
        part=piece.part,
        nodes=_welded(half, half.points(node_s, node_grid), piece, flare),
        controls=beside[:, :-1] + fraction[:, None] * np.diff(beside, axis=1),
        normals=_normals(half, control_s, control_grid, camber_slope),
        station=fraction,
        chord=half.chords(station_s),
        width=length * np.diff(edge),
        span_position=station_s,
        sense=1.0,
        crowded_start=piece.dense_start,
    )


def _shifts(
    half: HalfPlanform, piece: PieceSpec, xi: Floats, places: Floats, flare: float
) -> Floats:
    """How far places of a piece, 0 to 1, move out at chord fractions, (rows, places) [m]."""
    if piece.hinge_end is None:
        return np.zeros((len(xi), len(places)))
    nearness = places if piece.hinge_end == "end" else 1.0 - places
    ends = hinge_offsets(half, np.array([0.0, 1.0]), flare, piece.wing)
    share = hinge_share(nearness, piece.end - piece.start, float(np.abs(ends).max()))
    return np.asarray(share * hinge_offsets(half, xi, flare, piece.wing)[:, None])


def _normals(half: HalfPlanform, s: Floats, xi: Floats, camber_slope: Floats) -> Floats:
    along = half.chord_directions(s)
    normal = np.cross(along, half.spanwise_tangents(s, xi))
    normal /= np.linalg.norm(normal, axis=-1, keepdims=True)
    normal = normal - camber_slope[:, None, None] * along
    return np.asarray(normal / np.linalg.norm(normal, axis=-1, keepdims=True))


def _welded(half: HalfPlanform, nodes: Floats, piece: PieceSpec, flare: float) -> Floats:
    """Put the nodes of the hinge's edge exactly on the hinge line."""
    if piece.hinge_end is None:
        return nodes
    column = 0 if piece.hinge_end == "start" else -1
    line = hinge_line(half, flare, piece.wing)
    welded = nodes.copy()
    along = (nodes[:, column] - line.point) @ line.axis
    welded[:, column] = line.point + along[:, None] * line.axis
    return welded


def hinge_line(half: HalfPlanform, flare: float, where: str) -> HingeLine:
    """The starboard hinge of a half planform with tips; ``flare`` in radians."""
    assert half.hinge is not None
    xi = np.array([0.0, 1.0])
    ends = half.points(half.s[half.hinge] + hinge_offsets(half, xi, flare, where), xi)
    axis = ends[1] - ends[0]
    return HingeLine(point=ends[0], axis=axis / np.linalg.norm(axis))
