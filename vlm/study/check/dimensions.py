"""What a craft measures, flat and folded: the dimensions in ``foldspan check``."""

from collections.abc import Sequence
from typing import TypedDict

import numpy as np

from vlm.description.camber import thickness_of
from vlm.description.fin import Fin
from vlm.description.folds import FoldAngles
from vlm.description.models import FURTHEST_DEG, Biplane
from vlm.errors import InputRefused
from vlm.lattice.cellule import Cellule, Grid, build_cellule
from vlm.lattice.lattice import Lattice, folded
from vlm.lattice.outlines import outline, outlines_apart
from vlm.lattice.spacing import chord_rows
from vlm.study.point.sizes import fin_areas

DEFAULT_FOLDS = tuple(float(f) for f in range(-180, 181, 15))


class CheckedReference(TypedDict):
    """What coefficients are based on."""

    area_m2: float
    span_m: float
    chord_m: float
    moment_point_m: list[float]
    aspect_ratio: float


class WingSizes(TypedDict):
    """One wing, tips flat; null for a wing without tips.

    Attributes
    ----------
    area_m2 : planform area [m^2]
    tip_area_m2, tip_span_m : of one tip [m^2], [m]
    tip_share_of_area : both tips over the wing [1]
    section_thickness : over the chord, of a contour or of four digits; for ``thickness`` of the
        wing's section [1]
    """

    flat_span_m: float
    area_m2: float
    aspect_ratio: float
    mean_chord_m: float
    tip_area_m2: float | None
    tip_span_m: float | None
    tip_share_of_area: float | None
    section_thickness: float | None


class FinSizes(TypedDict):
    """One fin, or a pair of them.

    Attributes
    ----------
    plates : 1 in the plane of symmetry, else 2
    root_m, end_m : leading edge at both ends, geometry axes [m]
    area_m2 : of all its plates [m^2]
    joined_to : the wings it stands on
    """

    plates: int
    root_m: list[float]
    end_m: list[float]
    span_m: float
    dihedral_deg: float
    area_m2: float
    joined_to: list[str]


class ArrangementSizes(TypedDict):
    """How the wings stand to each other, over the reference chord and span too."""

    gap_m: float
    stagger_m: float
    gap_over_chord: float
    stagger_over_chord: float
    gap_over_span: float
    decalage_deg: float


class NamedFolds(TypedDict):
    """Folds of a named configuration.

    Attributes
    ----------
    left_deg, right_deg : port and starboard, tips raised [deg]
    """

    left_deg: float
    right_deg: float


class FoldSizes(TypedDict):
    """Span and clearance at one fold of both sides.

    Attributes
    ----------
    span_m : overall [m]
    clearance_m : least distance of a tip from what it is not hinged to; 0 where joined [m]
    state : "ends joined", why it cannot be built, or empty
    projected_area_m2 : of all surfaces seen from above, each by itself [m^2]
    """

    fold_deg: float
    span_m: float | None
    clearance_m: float | None
    state: str
    projected_area_m2: float | None


class Dimensions(TypedDict):
    """What a craft measures, flat and folded."""

    title: str
    reference: CheckedReference
    wings: dict[str, WingSizes]
    fins: dict[str, FinSizes]
    arrangement: ArrangementSizes | None
    configurations: dict[str, NamedFolds]
    folds: list[FoldSizes]


def dimensions(craft: Biplane, folds: Sequence[float] | None = None) -> Dimensions:
    """Dimensions, arrangement and, for each fold of both sides, span and clearance.

    Folds beyond the tips' limits are left out where none were asked for.
    """
    cellule = build_cellule(craft, Grid(rows=4, strips=12))
    reference = cellule.reference
    report: Dimensions = {
        "title": craft.title,
        "reference": {
            "area_m2": reference.area,
            "span_m": reference.span,
            "chord_m": reference.chord,
            "moment_point_m": [float(v) for v in reference.moment_point],
            "aspect_ratio": reference.aspect_ratio,
        },
        "wings": {name: _wing(craft, cellule, name) for name in cellule.halves},
        "fins": {fin.name: _fin(cellule, fin) for fin in craft.fins},
        "arrangement": _arrangement(craft, cellule),
        "configurations": {
            name: {"left_deg": c.folds.left_deg, "right_deg": c.folds.right_deg}
            for name, c in craft.configurations.items()
        },
        "folds": [],
    }
    if cellule.hinges:
        wanted = folds if folds is not None else _allowed(craft)
        report["folds"] = [_fold_row(craft, cellule, angle) for angle in wanted]
    return report


def _wing(craft: Biplane, cellule: Cellule, name: str) -> WingSizes:
    half = cellule.halves[name]
    span, area = 2.0 * half.half_span, 2.0 * half.area
    tip = half.part_area("tip") if half.hinge is not None else None
    return {
        "flat_span_m": span,
        "area_m2": area,
        "aspect_ratio": span**2 / area,
        "mean_chord_m": area / span,
        "tip_area_m2": tip,
        "tip_span_m": float(half.s[-1] - half.s[half.hinge]) if half.hinge is not None else None,
        "tip_share_of_area": 2.0 * tip / area if tip is not None else None,
        "section_thickness": thickness_of(craft.wings[name].camber, craft.folder),
    }


def _fin(cellule: Cellule, fin: Fin) -> FinSizes:
    half = cellule.fins[fin.name]
    step = np.diff(half.leading_edge + 0.25 * half.chord_vector, axis=0)[0]
    return {
        "plates": 1 if fin.is_on_plane else 2,
        "root_m": [float(v) for v in half.leading_edge[0]],
        "end_m": [float(v) for v in half.leading_edge[1]],
        "span_m": float(half.s[-1]),
        "dihedral_deg": float(np.degrees(np.arctan2(step[2], step[1]))),
        "area_m2": fin_areas(cellule)[fin.name],
        "joined_to": list(fin.stands_on),
    }


def _arrangement(craft: Biplane, cellule: Cellule) -> ArrangementSizes | None:
    if craft.arrangement is None or craft.lower is None:
        return None
    gap, stagger = craft.arrangement.gap_m, craft.arrangement.stagger_m
    chord = cellule.reference.chord
    return {
        "gap_m": gap,
        "stagger_m": stagger,
        "gap_over_chord": gap / chord,
        "stagger_over_chord": stagger / chord,
        "gap_over_span": gap / cellule.reference.span,
        "decalage_deg": craft.upper.incidence_deg - craft.lower.incidence_deg,
    }


def _allowed(craft: Biplane) -> list[float]:
    """Folds every 15 degrees, those that the file names for both sides alike, and its limits."""
    named = [c.folds.left_deg for c in craft.configurations.values() if c.folds.is_symmetric]
    limits = [end for end in craft.fold_range_deg if abs(end) < FURTHEST_DEG]
    allowed: list[float] = []
    for angle in sorted({*DEFAULT_FOLDS, *named, *limits}):
        try:
            craft.tip_folds(FoldAngles.symmetric(angle))
        except InputRefused:
            continue
        allowed.append(angle)
    return allowed


def _fold_row(craft: Biplane, cellule: Cellule, angle: float) -> FoldSizes:
    """Overall span and least clearance of the tips at one fold of both sides."""
    row: FoldSizes = {"fold_deg": angle, "span_m": None, "clearance_m": None, "state": "",
                           "projected_area_m2": None}  # fmt: skip
    try:
        lattice = folded(cellule, craft, FoldAngles.symmetric(angle))
    except InputRefused as error:
        row["state"] = str(error)
        return row
    nodes = np.concatenate([patch.nodes.reshape(-1, 3) for patch in lattice.patches])
    row["projected_area_m2"] = projected_area(lattice)
    row["span_m"] = float(np.ptp(nodes[:, 1]))
    joined = lattice.is_joined
    row["clearance_m"] = 0.0 if joined else clearance(lattice)
    row["state"] = "ends joined" if joined else ""
    return row


def outlines_of(lattice: Lattice) -> list[tuple[str, str, np.ndarray]]:
    """Wing or fin, part ("main", "tip" or "fin") and outline of every patch, shape (2, columns, 3):
    leading and trailing edge [m]."""
    first = float(chord_rows(lattice.grid.rows, lattice.grid.chord_law)[0][0])
    return [(p.wing, p.part, outline(p, first, p.strips + 1)) for p in lattice.patches]


def projected_area(lattice: Lattice) -> float:
    """Area of all wings and tips seen from above, each surface counted by itself [m^2]."""
    total = 0.0
    for _, part, table in outlines_of(lattice):
        if part == "fin":
            continue
        across = table[1, 1:] - table[0, :-1], table[1, :-1] - table[0, 1:]
        total += float(0.5 * np.abs(np.cross(across[0], across[1])[:, 2]).sum())
    return total


def clearance(lattice: Lattice) -> float:
    """Least distance of a tip's surface from surfaces it is not hinged to [m]."""
    first = float(chord_rows(lattice.grid.rows, lattice.grid.chord_law)[0][0])
    outlines = [outline(patch, first, patch.strips + 1) for patch in lattice.patches]
    least = np.inf
    for patch, own in zip(lattice.patches, outlines, strict=True):
        if patch.part != "tip":
            continue
        for other, table in zip(lattice.patches, outlines, strict=True):
            if (other.wing, other.side) != (patch.wing, patch.side):
                least = min(least, outlines_apart(own, table))
    return float(least)
