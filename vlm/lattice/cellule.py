"""The cellule: all wings of a craft as flat panels, with the hinges its tips turn about.

It is made once per geometry; every fold setting is a :class:`~vlm.lattice.lattice.Lattice`
turned out of it.
"""

from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from vlm.constants import Floats
from vlm.description.fin import Fin
from vlm.description.models import Biplane, Wing
from vlm.lattice.camber import row_slopes
from vlm.lattice.fins import (
    Junction,
    crowded_ahead,
    fin_planforms,
    junctions,
    with_fin_edges,
)
from vlm.lattice.patches import HingeLine, PanelLaws, Patch, PieceSpec, hinge_line, panelled
from vlm.lattice.planform import HalfPlanform, half_planform
from vlm.lattice.reference import ReferenceFrame, reference_frame
from vlm.lattice.spacing import ChordLaw, SpanLaw, chord_rows
from vlm.lattice.ways import Stop, stop_of
from vlm.sides import Side, wing_and_side

FEWEST_STRIPS = 3


@dataclass(frozen=True)
class Grid:
    """How finely a craft is panelled.

    Attributes
    ----------
    rows : chordwise rows on every wing
    strips : spanwise strips over each half of the longest wing's flat span; other wings get
        their share by length (with "matched", so that strips at all corners are equally wide)
    span_law, chord_law : spacing laws, see :mod:`vlm.lattice.spacing`
    """

    rows: int = 8
    strips: int = 20
    span_law: SpanLaw = "matched"
    chord_law: ChordLaw = "gauss"


@dataclass(frozen=True)
class Cellule:
    """Flat patches of every wing, starboard ones first, and their hinges.

    Attributes
    ----------
    patches : starboard patches (fixed wings, fins, then tips), then their mirror images to port,
        in the same order
    hinges : hinge line by body name ("upper_right", ...), geometry axes
    halves : starboard half planform by wing name
    reference : reference area, span, chord and moment point
    grid : the grid asked for
    fins : starboard plate by the name of the fin
    junctions : where fins stand on wings
    """

    patches: tuple[Patch, ...]
    hinges: dict[str, HingeLine]
    halves: dict[str, HalfPlanform]
    reference: ReferenceFrame
    grid: Grid
    fins: dict[str, HalfPlanform] = field(default_factory=dict)
    junctions: tuple[Junction, ...] = ()

    @property
    def panels(self) -> int:
        """Number of panels."""
        return sum(patch.panels for patch in self.patches)

    @property
    def first_row(self) -> float:
        """Chord fraction of the first vortex row [1]."""
        return float(chord_rows(self.grid.rows, self.grid.chord_law)[0][0])

    def stop_of(self, body: str, angle: float) -> Stop | None:
        """The fixed wing in the way of a tip that turns to ``angle`` [rad], if there is one.

        The fixed wings are mirror-symmetric, so both sides' tips have the same stops.
        """
        if angle == 0.0:
            return None
        stops = self._stops_up if angle > 0.0 else self._stops_down
        return stops[wing_and_side(body)[0]]

    @cached_property
    def _stops_up(self) -> dict[str, Stop | None]:
        return {name: self._starboard_stop(name, 1.0) for name in self._wings_with_tips()}

    @cached_property
    def _stops_down(self) -> dict[str, Stop | None]:
        return {name: self._starboard_stop(name, -1.0) for name in self._wings_with_tips()}

    def _wings_with_tips(self) -> list[str]:
        return [name for name, half in self.halves.items() if half.hinge is not None]

    def _starboard_stop(self, wing: str, sign: float) -> Stop | None:
        body = f"{wing}_right"
        tip = [patch for patch in self.patches if patch.body == body]
        fixed = [patch for patch in self.patches if patch.body == "fixed"]
        others = [patch for patch in fixed if (patch.wing, patch.side) != (wing, Side.STARBOARD)]
        return stop_of(tip, others, self.hinges[body], self.first_row, sign)


def build_cellule(craft: Biplane, grid: Grid | None = None) -> Cellule:
    """Panel every wing of a craft with its tips flat.

    Raises
    ------
    InputRefused : the wings cannot be panelled as described
    """
    grid = grid or Grid()
    wings = _wings(craft)
    halves = {name: half_planform(wing, _root(craft, name), name) for name, wing in wings.items()}
    halves = with_fin_edges(halves, craft.fins)
    plates = fin_planforms(craft.fins, halves)
    halves = crowded_ahead(halves, craft.fins, plates)
    fins = crowded_ahead(plates, craft.fins, plates)
    shares = _shares(halves, grid)
    starboard: list[Patch] = []
    hinges: dict[str, HingeLine] = {}
    for name, wing in wings.items():
        starboard += _wing_patches(name, wing, craft, halves[name], grid, shares[name])
        if wing.tips is not None:
            line = hinge_line(halves[name], float(np.radians(wing.tips.flare_deg)), name)
            hinges[f"{name}_right"] = line
            hinges[f"{name}_left"] = line.mirrored()
    finest = grid.strips / _size(halves[_longest(halves)], grid)
    starboard += [_fin_patch(fin, craft, fins[fin.name], grid, finest) for fin in craft.fins]
    starboard.sort(key=lambda patch: patch.part == "tip")
    patches = tuple(starboard) + tuple(patch.mirrored() for patch in starboard)
    return Cellule(
        patches=patches,
        hinges=hinges,
        halves=halves,
        reference=reference_frame(craft, halves),
        grid=grid,
        fins=fins,
        junctions=junctions(patches, halves, craft.fins),
    )


def _fin_patch(fin: Fin, craft: Biplane, half: HalfPlanform, grid: Grid, finest: float) -> Patch:
    """The starboard plate of a fin; ``finest`` is the number of strips for a unit of size."""
    laws = PanelLaws(grid.rows, grid.span_law, grid.chord_law)
    ideal = finest * _size(half, grid)
    strips = max(FEWEST_STRIPS, round(ideal))
    dense = half.centre_is_kinked
    piece = PieceSpec(
        fin.name, "fin", 0.0, float(half.s[-1]), strips, dense, None, max(ideal, FEWEST_STRIPS)
    )
    slopes = row_slopes(fin.camber, grid.rows, grid.chord_law, craft.folder)
    patch = panelled(half, piece, laws, 0.0, slopes)
    return replace(patch, stands_on=fin.stands_on, on_plane=fin.is_on_plane)


def _size(half: HalfPlanform, grid: Grid) -> float:
    """What the strips of a surface are in proportion to."""
    if grid.span_law in ("matched", "graded"):
        return float(_weights(half).sum())
    return float(half.s[-1])


def _longest(halves: dict[str, HalfPlanform]) -> str:
    return max(halves, key=lambda name: float(halves[name].s[-1]))


def _shares(halves: dict[str, HalfPlanform], grid: Grid) -> dict[str, float]:
    """Each wing's strips over those of the longest wing [1]."""
    longest = _size(halves[_longest(halves)], grid)
    return {name: _size(half, grid) / longest for name, half in halves.items()}


def _wings(craft: Biplane) -> dict[str, Wing]:
    wings = {"upper": craft.upper}
    if craft.lower is not None:
        wings["lower"] = craft.lower
    return wings


def _root(craft: Biplane, name: str) -> Floats:
    if name == "upper" or craft.arrangement is None:
        return np.zeros(3)
    return np.array([craft.arrangement.stagger_m, 0.0, -craft.arrangement.gap_m])


def _wing_patches(
    name: str, wing: Wing, craft: Biplane, half: HalfPlanform, grid: Grid, share: float
) -> list[Patch]:
    laws = PanelLaws(grid.rows, grid.span_law, grid.chord_law)
    flare = float(np.radians(wing.tips.flare_deg)) if wing.tips is not None else 0.0
    lines = {"main": wing.camber}
    if wing.tips is not None:
        lines["tip"] = wing.tips.camber or wing.camber
    slopes = {
        part: row_slopes(line, grid.rows, grid.chord_law, craft.folder)
        for part, line in lines.items()
    }
    return [
        panelled(half, piece, laws, flare, slopes[piece.part])
        for piece in pieces_of(name, half, grid.strips * share)
    ]


def _cuts(half: HalfPlanform) -> tuple[list[int], list[int], list[bool]]:
    """Stations where a half wing's pieces start and end, and whether strips crowd at the start."""
    cuts = sorted({0, *half.corners, *([] if half.hinge is None else [half.hinge])})
    return cuts, [*cuts[1:], len(half.s) - 1], [a != 0 or half.centre_is_kinked for a in cuts]


def _weights(half: HalfPlanform) -> Floats:
    """What the strips of each piece of a half wing are in proportion to, shape (pieces,).

    A piece of length l with strips crowded at e of its ends gets strips in proportion to
    sqrt(e l), which makes the strips on both sides of a cut equally wide under the cosine law.
    """
    starts, ends, dense = _cuts(half)
    lengths = np.array([half.s[b] - half.s[a] for a, b in zip(starts, ends, strict=True)])
    return np.asarray(np.sqrt(lengths * np.where(dense, 2.0, 1.0)))


def pieces_of(name: str, half: HalfPlanform, strips: float) -> list[PieceSpec]:
    """Cut a half wing at its corners and its hinge, and share the strips out by their weights."""
    cuts, ends, dense = _cuts(half)
    spans = [(float(half.s[a]), float(half.s[b])) for a, b in zip(cuts, ends, strict=True)]
    weights = _weights(half)
    counts = _shared_out(max(1, round(strips)), weights)
    ideals = strips * weights / weights.sum()
    pieces = []
    for i, (a, b) in enumerate(spans):
        start, end = cuts[i], ends[i]
        hinge_end = None
        if half.hinge is not None:
            hinge_end = {end: "end", start: "start"}.get(half.hinge)
        part = "tip" if half.hinge is not None and start >= half.hinge else "main"
        pieces.append(PieceSpec(name, part, a, b, counts[i], dense[i], hinge_end, float(ideals[i])))
    return pieces


def _shared_out(total: int, weights: Floats) -> list[int]:
    """Whole numbers close to ``total`` times the weights' shares, none under the fewest."""
    counts = np.maximum(FEWEST_STRIPS, np.round(total * weights / weights.sum())).astype(int)
    excess = int(counts.sum()) - total
    largest = int(np.argmax(counts))
    counts[largest] = max(FEWEST_STRIPS, counts[largest] - excess)
    return [int(count) for count in counts]
