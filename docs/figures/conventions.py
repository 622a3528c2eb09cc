"""The axes and signs of foldspan in three views. Not to scale: the angles are drawn large."""

import numpy as np
from drawing import (
    BODY,
    FOLD,
    FOLD_AREA,
    GEOMETRY,
    INK,
    PALE,
    WIND,
    Label,
    Point,
    bare,
    dimension,
    line,
    turn,
    vector,
    written,
)
from matplotlib.axes import Axes
from matplotlib.figure import Figure

HALF_SPAN = 0.46
TIP = 0.30
CHORD = 0.26
GAP = 0.40
STAGGER = 0.20


def drawn() -> Figure:
    """The figure."""
    figure = Figure(figsize=(11.0, 10.0), layout="constrained")
    views = figure.subplot_mosaic(
        [["front", "front"], ["side", "top"]], height_ratios=[1.0, 1.1], width_ratios=[1.0, 1.1]
    )
    _front(views["front"])
    _side(views["side"])
    _top(views["top"])
    return figure


def _front(axes: Axes) -> None:
    """Seen from ahead: y runs to the left, so a point (y, z) is drawn at (-y, z)."""
    bare(axes, "Front view, seen from ahead", (-1.0, 1.0, -0.53, 0.36))
    for height in (0.0, -GAP):
        axes.plot([-HALF_SPAN, HALF_SPAN], [height, height], color=INK, lw=4)
    _fold(axes, side=-1, fold_deg=40)
    _fold(axes, side=1, fold_deg=-40)
    written(axes, (-0.80, -0.47), Label("STARBOARD, right", size=9), PALE)
    written(axes, (0.80, -0.47), Label("PORT, left", size=9), PALE)
    vector(axes, (0, 0), (-0.25, 0), GEOMETRY, Label("y", (0, 11)))
    vector(axes, (0, 0), (0, 0.27), GEOMETRY, Label("z", (10, 0)))
    vector(axes, (0, -0.2), (-0.25, -0.2), BODY, Label("$y_b$, CY", (0, -11)))
    vector(axes, (0, -0.2), (0, -0.47), BODY, Label("$z_b$", (12, 2)))
    turn(axes, (0, -0.2), 0.13, (60, 215), BODY)
    written(axes, (0.12, -0.19), Label("Cl, p > 0:\nstarboard wing down", across="left"), BODY)
    dimension(axes, (-HALF_SPAN + 0.04, 0), (-HALF_SPAN + 0.04, -GAP), Label("gap"))


def _fold(axes: Axes, *, side: int, fold_deg: float) -> None:
    """One tip, turned, with its flat place and its angle; ``side`` is +1 on the drawing's right."""
    hinge = (side * HALF_SPAN, 0.0)
    angle = np.radians(fold_deg)
    end = (hinge[0] + side * TIP * np.cos(angle), TIP * np.sin(angle))
    axes.plot([hinge[0], end[0]], [0.0, end[1]], color=FOLD, lw=4, solid_capstyle="round")
    line(axes, hinge, (hinge[0] + side * TIP * 1.15, 0.0), style="--")
    axes.plot(*hinge, "o", color=INK, ms=7, zorder=6)
    span = (0.0, fold_deg) if side > 0 else (180.0, 180.0 - fold_deg)
    turn(axes, hinge, TIP * 0.72, span, FOLD)
    sign = "> 0: tip up" if fold_deg > 0 else "< 0: tip down"
    where = (hinge[0] + side * TIP * 1.02, TIP * 0.40 * np.sign(fold_deg))
    written(axes, where, Label(f"fold {sign}", across="left" if side > 0 else "right"), FOLD)


def _aerofoil(axes: Axes, lead: Point, chord: float) -> None:
    """A thin cambered section with its leading edge at a point."""
    x = np.linspace(0.0, 1.0, 60)
    camber = 0.06 * 4 * x * (1 - x)
    half = 0.45 * (0.2969 * np.sqrt(x) - 0.126 * x - 0.3516 * x**2 + 0.2843 * x**3 - 0.1036 * x**4)
    outline_x = np.concatenate([x, x[::-1]])
    outline_z = np.concatenate([camber + half, (camber - half)[::-1]])
    axes.fill(
        lead[0] + chord * outline_x, lead[1] + chord * outline_z, fc="#dddddd", ec=INK, lw=1.2
    )


def _side(axes: Axes) -> None:
    """Seen from port: x runs to the right, so a point (x, z) is drawn as it is."""
    bare(axes, "Side view, seen from port", (-0.62, 0.80, -0.70, 0.52))
    _aerofoil(axes, (0.0, 0.0), CHORD)
    _aerofoil(axes, (STAGGER, -GAP), CHORD)
    vector(axes, (0, 0), (0.62, 0), GEOMETRY, Label("x", (8, 0)))
    vector(axes, (0, 0), (0, 0.27), GEOMETRY, Label("z", (0, 9)))
    axes.plot(0, 0, "o", color=GEOMETRY, ms=5, zorder=7)
    written(axes, (0, 0), Label("origin", (-7, 10), "right"), GEOMETRY)
    line(axes, (0, 0), (0, -GAP - 0.22))
    line(axes, (STAGGER, -GAP), (STAGGER, -GAP - 0.22))
    line(axes, (-0.04, -GAP), (STAGGER, -GAP))
    dimension(
        axes,
        (0, -GAP - 0.17),
        (STAGGER, -GAP - 0.17),
        Label("stagger > 0:\nupper wing ahead", (0, -21)),
    )
    dimension(axes, (0, 0), (0, -GAP), Label("gap", (0, -16)))
    alpha = np.radians(22)
    tail = (-0.05 - 0.5 * np.cos(alpha), -0.13 - 0.5 * np.sin(alpha) + 0.11)
    head = (tail[0] + 0.34 * np.cos(alpha), tail[1] + 0.34 * np.sin(alpha))
    vector(axes, tail, head, WIND, Label("V", (0, 11)))
    line(axes, tail, (tail[0] + 0.36, tail[1]), style="--")
    turn(axes, tail, 0.25, (0, 22), WIND, Label("α > 0", (21, 0)))
    point = (0.30, -0.13)
    axes.plot(*point, "o", color=BODY, ms=5, zorder=7)
    vector(axes, point, (point[0] - 0.2, point[1]), BODY, Label("$x_b$", (-2, -11)))
    vector(axes, point, (point[0], point[1] - 0.17), BODY, Label("$z_b$", (10, 2)))
    turn(axes, point, 0.14, (215, 20), BODY)
    written(axes, point, Label("Cm, q > 0:\nnose up", (34, -12), "left"), BODY)
    force = (0.36, 0.10)
    vector(axes, force, _along(force, 22 + 90, 0.30), WIND, Label("CL, across V", (0, 10)))
    vector(axes, force, _along(force, 22, 0.26), WIND, Label("CD, along V", (4, 11)))


def _along(start: Point, direction_deg: float, length: float) -> Point:
    angle = np.radians(direction_deg)
    return (start[0] + length * np.cos(angle), start[1] + length * np.sin(angle))


def _top(axes: Axes) -> None:
    """Seen from above, nose up: a point (x, y) is drawn at (y, -x)."""
    bare(axes, "Top view, seen from above", (-0.90, 0.98, -0.78, 0.80))
    flare = np.tan(np.radians(24)) * CHORD
    for side in (-1, 1):
        lead, trail = side * HALF_SPAN, side * (HALF_SPAN - flare)
        end = side * (HALF_SPAN + TIP)
        axes.fill(
            [0, lead, trail, 0], [0, 0, -CHORD, -CHORD], fc="#dddddd", ec=INK, lw=1.2, zorder=3
        )
        axes.fill(
            [lead, end, end, trail], [0, 0, -CHORD, -CHORD], fc=FOLD_AREA, ec=INK, lw=1.2, zorder=3
        )
        axes.plot([lead, trail], [0, -CHORD], color=FOLD, lw=2.5, zorder=4)
    line(axes, (HALF_SPAN, 0.1), (HALF_SPAN, -CHORD - 0.30), style="--")
    along = (HALF_SPAN - 1.95 * flare, -1.95 * CHORD)
    axes.plot([HALF_SPAN, along[0]], [0, along[1]], "--", color=FOLD, lw=1.0)
    turn(axes, (HALF_SPAN, 0), 1.75 * CHORD, (270, 246), FOLD)
    written(
        axes,
        (HALF_SPAN - 0.1, -2.05 * CHORD),
        Label("hinge flare > 0:\nline runs inboard aft", along="top"),
        FOLD,
    )
    written(axes, (-0.72, -CHORD - 0.09), Label("PORT, left", size=9), PALE)
    written(axes, (0.74, -CHORD - 0.09), Label("STARBOARD, right", size=9), PALE)
    vector(axes, (0, 0), (0.30, 0), GEOMETRY, Label("y", (0, 10)))
    vector(axes, (0, 0), (0, -0.50), GEOMETRY, Label("x", (9, 2)))
    axes.plot(0, 0, "o", color=GEOMETRY, ms=5, zorder=7)
    point = (0, -0.13)
    axes.plot(*point, "o", color=BODY, ms=5, zorder=7)
    vector(axes, point, (point[0], 0.40), BODY, Label("$x_b$", (0, 9)))
    turn(axes, point, 0.30, (150, 35), BODY)
    written(axes, point, Label("Cn, r > 0:\nnose to starboard", (-74, 84), "right"), BODY)
    beta = 28
    tail = (0.62, 0.70)
    head = _along(tail, 270 - beta, 0.5)
    vector(axes, tail, head, WIND, Label("V", (-10, -2)))
    line(axes, tail, (tail[0], tail[1] - 0.52), style="--")
    turn(axes, tail, 0.36, (270, 270 - beta), WIND, Label("β", (-1, -10)))
    written(axes, tail, Label("β > 0: wind from starboard", (0, 10)), WIND)
