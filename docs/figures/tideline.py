"""The demo craft at three folds, coloured by lift along the span, and what its folds do."""

from typing import Any

import numpy as np
from drawing import FOLD, GEOMETRY, INK, WIND
from matplotlib.cm import ScalarMappable
from matplotlib.colors import Normalize
from matplotlib.figure import Figure
from mpl_toolkits.mplot3d.art3d import Poly3DCollection

from vlm.description import FoldAngles, load_biplane
from vlm.lattice.cellule import Grid
from vlm.loads.state import FlightState
from vlm.study.point.point import PointReport, solve_point

POSES = ((30.0, "tips up 30°"), (0.0, "tips flat"), (-90.0, "tips down 90°, the box closed"))
CURVE_FOLDS = np.concatenate([[-90.0], np.arange(-85.0, 61.0, 5.0)])
ALPHA_DEG = 4.0
COLOURS = "cividis"
LIFT = Normalize(0.0, 0.6)
GRID = Grid(8, 16)


def drawn() -> Figure:
    """The figure."""
    craft = load_biplane("tideline")
    state = FlightState(alpha=np.radians(ALPHA_DEG))

    def solved(fold: float) -> PointReport:
        return solve_point(craft, FoldAngles.symmetric(fold), state, grid=GRID, errors=False)

    figure = Figure(figsize=(11.0, 5.6), layout="constrained")
    upper, lower = figure.subfigures(2, 1, height_ratios=[1.0, 0.95], hspace=0.04)
    views = [upper.add_subplot(1, 3, n + 1, projection="3d") for n in range(3)]
    for axes, (fold, words) in zip(views, POSES, strict=True):
        _craft(axes, solved(fold), words)
    bar = upper.colorbar(ScalarMappable(LIFT, COLOURS), ax=views, shrink=0.7, pad=0.01)
    bar.set_label("lift coefficient of a strip")
    _curves(lower, [solved(fold) for fold in CURVE_FOLDS])
    return figure


def _craft(axes: Any, report: PointReport, words: str) -> None:
    """One craft seen from ahead, above and starboard."""
    lattice = report.lattice
    faces = []
    for patch in lattice.patches:
        lead, trail = patch.nodes[0], patch.nodes[-1]
        faces.append(np.stack([lead[:-1], lead[1:], trail[1:], trail[:-1]], axis=1))
    lifts = _strip_lifts(report)
    polygons = Poly3DCollection(
        np.concatenate(faces), facecolors=ScalarMappable(LIFT, COLOURS).to_rgba(lifts), lw=0.2
    )
    polygons.set_edgecolor("white")
    polygons.set_clip_on(False)
    axes.add_collection3d(polygons)
    for line in lattice.hinges.values():
        ends = np.array([line.point, line.point + 0.17 * np.array([1.0, 0.0, 0.0])])
        axes.plot(*ends.T, color=FOLD, lw=2.0)
    axes.set(xlim=(-0.3, 0.5), ylim=(-0.80, 0.80), zlim=(-0.50, 0.30))
    axes.set_box_aspect((0.8, 1.6, 0.8), zoom=1.45)
    axes.view_init(elev=20, azim=-160)
    axes.set_axis_off()
    axes.set_title(words, fontsize=10, y=0.97, color=INK)


def _strip_lifts(report: PointReport) -> np.ndarray:
    """Lift coefficients of the strips in the order of the lattice's patches."""
    by_patch: dict[tuple[str, str, str], list[float]] = {}
    for strip in report.strips:
        by_patch.setdefault((strip.wing, strip.side, strip.part), []).append(strip.cl)
    ordered: list[float] = []
    for patch in report.lattice.patches:
        # Strips are listed from port to starboard, a patch counts them from the centre outward.
        lifts = by_patch[patch.wing, patch.side, patch.part]
        ordered += lifts[::-1] if patch.side == "left" else lifts
    return np.array(ordered)


def _curves(figure: Any, reports: list[PointReport]) -> None:
    left, middle, right = figure.subplots(1, 3)
    _curve(left, [r.coefficients.best_span_efficiency for r in reports], INK, "--")
    _curve(left, [r.coefficients.span_efficiency for r in reports], GEOMETRY)
    left.text(60, 0.62, "best loading of the shape", ha="right", fontsize=9, color=INK)
    left.text(60, 0.55, "this craft", ha="right", fontsize=9, color=GEOMETRY)
    left.set_title("Span efficiency", fontsize=10)
    _curve(middle, [r.derivatives["body"]["Cl_beta"] for r in reports], FOLD)
    middle.axhline(0.0, color=INK, lw=0.8)
    middle.text(58, 0.015, "rolls into the wind", ha="right", fontsize=9)
    middle.text(58, -0.035, "stable", ha="right", fontsize=9)
    middle.set_title("Dihedral effect Cl_beta [1/rad]", fontsize=10)
    _curve(right, [r.hinges["upper_right"].moment for r in reports], WIND)
    right.set_title("Hinge moment at 12 m/s [N m]", fontsize=10)
    for axes in (left, middle, right):
        axes.set_xlabel("fold of both tips [deg]; point: box closed", fontsize=9)
        axes.set_xticks(np.arange(-90, 61, 30))
        axes.grid(alpha=0.3)
        axes.spines[["top", "right"]].set_visible(False)


def _curve(axes: Any, values: list[float], color: str, style: str = "-") -> None:
    """The closed box, first in the list, stands apart: contact and a gap are different shapes."""
    axes.plot(CURVE_FOLDS[1:], values[1:], style, color=color)
    axes.plot(CURVE_FOLDS[0], values[0], "o", color=color, ms=4)
