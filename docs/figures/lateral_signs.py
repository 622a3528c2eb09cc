"""Signs of sideslip, rates and the derivatives of lateral stability. Not to scale."""

import numpy as np
from drawing import (
    BODY,
    FOLD,
    INK,
    PALE,
    WIND,
    Label,
    bare,
    line,
    turn,
    vector,
    written,
)
from matplotlib.axes import Axes
from matplotlib.figure import Figure

HALF, TIP = 0.46, 0.30


def drawn() -> Figure:
    """The figure."""
    figure = Figure(figsize=(11.0, 7.6), layout="constrained")
    views = figure.subplot_mosaic([["up", "down"], ["top", "height"]])
    _front(views["up"], 30.0, "Tips up: sideslip from starboard rolls it to port", -1.0)
    _front(views["down"], -30.0, "Tips down: it rolls into the wind", 1.0)
    _top(views["top"])
    _height(views["height"])
    return figure


def _front(axes: Axes, fold_deg: float, title: str, sign: float) -> None:
    bare(axes, title, (-1.15, 1.0, -0.55, 0.5))
    axes.plot([-HALF, HALF], [0.0, 0.0], color=INK, lw=4)
    angle = np.radians(fold_deg)
    for side in (-1, 1):
        end = (side * (HALF + TIP * np.cos(angle)), TIP * np.sin(angle))
        axes.plot([side * HALF, end[0]], [0.0, end[1]], color=FOLD, lw=4)
    for y in (-0.22, -0.36):
        vector(axes, (-1.12, y), (-0.75, y), WIND, Label("", (0, 0)))
    written(axes, (-0.80, -0.47), Label("wind from starboard, beta > 0"), WIND)
    windward = 1.0 if fold_deg > 0 else -1.0
    for side in (-1, 1):
        middle = (side * (HALF + 0.5 * TIP * np.cos(angle)), 0.5 * TIP * np.sin(angle))
        size = 0.30 if side * windward < 0 else 0.12
        ahead = (middle[0] - side * size * np.sin(angle), middle[1] + size * np.cos(angle))
        vector(axes, middle, ahead, WIND, Label("more" if size > 0.2 else "less", (0, 8)))
    turn(axes, (0.0, -0.2), 0.16, (60, 215) if sign > 0 else (215, 60), BODY)
    words = "Cl_beta > 0: unstable" if sign > 0 else "Cl_beta < 0: stable"
    written(axes, (0.30, -0.40), Label(words), BODY)


def _top(axes: Axes) -> None:
    bare(axes, "Weathercock stability and rates (from above)", (-1.0, 1.0, -0.6, 0.72))
    axes.plot([-HALF - TIP, HALF + TIP], [0.0, 0.0], color=INK, lw=7, alpha=0.6)
    vector(axes, (0.0, 0.0), (0.0, 0.45), BODY, Label("$x_b$, p", (12, 4)))
    vector(axes, (0.0, 0.0), (0.45, 0.0), BODY, Label("$y_b$, q", (0, 11)))
    vector(axes, (0.40, 0.62), (0.12, 0.14), WIND, Label("wind, beta > 0", (66, 40)))
    turn(axes, (0.0, 0.0), 0.26, (150, 60), BODY)
    written(
        axes,
        (-0.55, 0.38),
        Label("Cn_beta > 0 turns the\nnose into the wind;\nr > 0 likewise"),
        BODY,
    )
    written(axes, (0.78, -0.5), Label("STARBOARD", size=9), PALE)
    written(axes, (-0.78, -0.5), Label("PORT", size=9), PALE)


def _height(axes: Axes) -> None:
    bare(axes, "Side force at a height rolls it too (from ahead)", (-1.15, 1.0, -0.55, 0.5))
    axes.plot([-HALF, HALF], [0.0, 0.0], color=INK, lw=4)
    axes.plot([-HALF, HALF], [-0.36, -0.36], color=INK, lw=4)
    for side in (-1, 1):
        axes.plot([side * HALF, side * (HALF + 0.18)], [0.0, 0.24], color=FOLD, lw=4)
    axes.plot(0.0, -0.28, "o", color=INK, ms=9, zorder=6)
    written(axes, (0.0, -0.47), Label("centre of gravity", size=9))
    vector(axes, (-0.20, 0.12), (0.20, 0.12), WIND, Label("side force, CY < 0", (0, 10)))
    line(axes, (0.0, 0.12), (0.0, -0.28), style=":")
    written(axes, (0.07, -0.19), Label("arm", size=9))
    turn(axes, (0.0, -0.28), 0.22, (215, 60), BODY)
