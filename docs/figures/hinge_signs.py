"""Signs of hinge moments and wing loads, the tip's flat frame, and the drive. Not to scale."""

import numpy as np
from drawing import (
    BODY,
    FOLD,
    FOLD_AREA,
    GEOMETRY,
    GEOMETRY_AREA,
    INK,
    PALE,
    WIND,
    Label,
    bare,
    dimension,
    line,
    turn,
    vector,
    written,
)
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Circle, Polygon, Rectangle


def drawn() -> Figure:
    """The figure."""
    figure = Figure(figsize=(11.0, 8.2), layout="constrained")
    views = figure.subplot_mosaic([["moment", "cut"], ["frame", "drive"]])
    _moment(views["moment"])
    _cut(views["cut"])
    _frame(views["frame"])
    _drive(views["drive"])
    return figure


def _moment(axes: Axes) -> None:
    bare(axes, "Moment about a port hinge (from ahead)", (-0.35, 1.1, -0.45, 0.65))
    axes.plot([-0.3, 0.3], [0.0, 0.0], color=INK, lw=5)
    angle = np.radians(25.0)
    end = (0.3 + 0.7 * np.cos(angle), 0.7 * np.sin(angle))
    middle = (0.3 + 0.33 * np.cos(angle), 0.33 * np.sin(angle))
    axes.plot([0.3, end[0]], [0.0, end[1]], color=FOLD, lw=5, solid_capstyle="round")
    axes.plot(0.3, 0.0, "o", color=INK, ms=8, zorder=6)
    line(axes, (0.3, 0.0), (1.02, 0.0), style="--")
    up = (middle[0] - 0.3 * np.sin(angle), middle[1] + 0.3 * np.cos(angle))
    vector(axes, middle, up, WIND, Label("air", (8, 6)))
    vector(
        axes,
        middle,
        (middle[0], middle[1] - 0.3),
        INK,
        Label("weight, times n in a pull-up", (4, -10)),
    )
    vector(
        axes,
        middle,
        (middle[0] + 0.32, middle[1] - 0.02),
        BODY,
        Label("roll rate: outward", (42, -8)),
    )
    turn(axes, (0.3, 0.0), 0.22, (-15, 120), FOLD)
    written(axes, (0.02, 0.32), Label("moment > 0\nraises the tip"), FOLD)


def _cut(axes: Axes) -> None:
    bare(axes, "Loads at a cut: all that lies outboard acts there", (-0.2, 1.1, -0.45, 0.65))
    axes.plot([-0.15, 0.35], [0.0, 0.0], color=PALE, lw=5)
    axes.plot([0.40, 0.70], [0.0, 0.0], color=INK, lw=5)
    axes.plot([0.70, 0.98], [0.0, 0.18], color=FOLD, lw=5)
    axes.plot([0.375, 0.375], [-0.12, 0.12], color=INK, lw=1)
    vector(
        axes, (0.375, 0.0), (0.375, 0.38), BODY, Label("shear > 0, toward the upper side", (40, 8))
    )
    turn(axes, (0.375, 0.0), 0.20, (-60, 60), BODY)
    written(axes, (0.83, -0.12), Label("bending > 0\nraises the end"), BODY)
    vector(axes, (0.375, -0.25), (0.75, -0.25), GEOMETRY, Label("outward along the wing", (0, -10)))
    written(axes, (0.05, -0.12), Label("root", size=9), PALE)


def _frame(axes: Axes) -> None:
    bare(
        axes, "Where a tip's mass is given: starboard, flat, from above", (-0.35, 1.1, -0.62, 0.45)
    )
    axes.add_patch(Polygon([(-0.3, 0.2), (0.3, 0.2), (0.3, -0.3), (-0.3, -0.3)], fc="0.85", ec=INK))
    axes.add_patch(
        Polygon([(0.3, 0.2), (0.95, 0.12), (0.95, -0.2), (0.3, -0.3)], fc=FOLD_AREA, ec=FOLD)
    )
    axes.plot([0.3, 0.3], [0.2, -0.3], color=INK, lw=3)
    vector(axes, (0.3, 0.2), (0.3, -0.5), GEOMETRY, Label("aft", (-14, 0)))
    vector(axes, (0.3, 0.2), (1.02, 0.2), GEOMETRY, Label("outboard", (-10, 11)))
    axes.plot(0.3, 0.2, "o", color=GEOMETRY, ms=7, zorder=6)
    written(axes, (0.3, 0.36), Label("up: toward you; origin at the leading edge"), GEOMETRY)
    axes.plot(0.56, -0.02, "P", color=INK, ms=10, zorder=6)
    written(axes, (0.66, -0.08), Label("centre_m", size=9), INK)
    written(axes, (0.02, -0.42), Label("hinge line", size=9), INK)


def _drive(axes: Axes) -> None:
    bare(axes, "The drive", (-0.35, 1.1, -0.55, 0.55))
    axes.add_patch(Circle((0.35, 0.12), 0.26, fc=FOLD_AREA, ec=FOLD, lw=2))
    axes.plot(0.35, 0.12, "o", color=INK, ms=8)
    axes.add_patch(Rectangle((0.08, -0.30), 0.54, 0.12, fc="0.85", ec=INK, lw=1.5))
    for x in np.arange(0.12, 0.60, 0.07):
        axes.plot([x, x + 0.05], [-0.30, -0.18], color=INK, lw=1.2)
    axes.add_patch(Rectangle((-0.28, -0.34), 0.30, 0.20, fc=GEOMETRY_AREA, ec=GEOMETRY, lw=1.5))
    axes.plot([0.02, 0.08], [-0.24, -0.24], color=INK, lw=4)
    written(axes, (-0.13, -0.42), Label("servo"), GEOMETRY)
    written(axes, (0.35, -0.40), Label("worm, lead angle"), INK)
    written(axes, (0.35, 0.44), Label("wheel on the hinge", (-76, 0)), FOLD)
    turn(axes, (0.35, 0.12), 0.31, (-20, 80), FOLD)
    written(axes, (0.86, 0.34), Label("tip's moment"), FOLD)
    dimension(axes, (0.75, -0.24), (0.75, 0.12), Label("mesh with friction", (54, 0)))
