"""Signs of rolling by folding: folds, moments, bank, in front and top view. Not to scale."""

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

HALF, TIP, GAP = 0.46, 0.30, 0.34


def drawn() -> Figure:
    """The figure."""
    figure = Figure(figsize=(11.0, 8.0), layout="constrained")
    views = figure.subplot_mosaic([["fold", "bank"], ["top", "drive"]])
    _front(views["fold"])
    _bank(views["bank"])
    _top(views["top"])
    _swing(views["drive"])
    return figure


def _wings(axes: Axes, bank_deg: float, port_deg: float, starboard_deg: float) -> None:
    """Front view from ahead: starboard on the left. A positive bank lowers starboard."""
    bank = np.radians(bank_deg)
    turned = np.array([[np.cos(bank), -np.sin(bank)], [np.sin(bank), np.cos(bank)]])
    for height in (0.0, -GAP):
        ends = np.array([[-HALF, height], [HALF, height]]) @ turned.T
        axes.plot(*ends.T, color=INK, lw=4)
    for side, fold in ((1, port_deg), (-1, starboard_deg)):
        angle = np.radians(fold)
        tip = [[side * HALF, 0.0], [side * (HALF + TIP * np.cos(angle)), TIP * np.sin(angle)]]
        places = np.array(tip) @ turned.T
        axes.plot(*places.T, color=FOLD, lw=4, solid_capstyle="round")
        axes.plot(*places[0], "o", color=INK, ms=6)


def _front(axes: Axes) -> None:
    bare(axes, "Port tip up, starboard tip down (from ahead)", (-1.0, 1.0, -0.62, 0.42))
    _wings(axes, 0.0, 20.0, -45.0)
    vector(axes, (0.62, 0.12), (0.56, 0.36), WIND, Label("lift of the raised tip", (62, -4)))
    vector(axes, (-0.56, -0.10), (-0.66, 0.0), WIND, Label("less lift, inward", (-10, 10)))
    turn(axes, (0.0, -0.17), 0.16, (60, 215), BODY)
    written(axes, (0.0, -0.47), Label("rolling moment > 0:\nstarboard wing goes down"), BODY)
    written(axes, (-0.8, -0.56), Label("STARBOARD", size=9), PALE)
    written(axes, (0.8, -0.56), Label("PORT", size=9), PALE)


def _bank(axes: Axes) -> None:
    bare(axes, "Bank and sideslip (from ahead)", (-1.0, 1.0, -0.62, 0.42))
    _wings(axes, 25.0, 0.0, 0.0)
    line(axes, (-0.85, 0.0), (0.85, 0.0), style="--")
    turn(axes, (0.0, 0.0), 0.62, (180, 205), BODY)
    written(axes, (-0.72, -0.14), Label("bank > 0", (-14, 0)), BODY)
    vector(axes, (0.0, -0.14), (0.0, -0.52), INK, Label("weight", (26, 4)))
    vector(
        axes, (-0.55, -0.50), (-0.85, -0.50), WIND, Label("it slips down to starboard", (60, -12))
    )
    vector(
        axes,
        (-0.95, 0.22),
        (-0.62, 0.22),
        WIND,
        Label("wind from starboard,\nsideslip > 0", (0, 22)),
    )


def _top(axes: Axes) -> None:
    bare(axes, "Top view, ahead is up", (-1.0, 1.0, -0.55, 0.65))
    axes.plot([-HALF - TIP, HALF + TIP], [0.0, 0.0], color=INK, lw=7, alpha=0.6)
    vector(axes, (0.0, 0.0), (0.0, 0.45), BODY, Label("direction of flight", (4, 8)))
    turn(axes, (0.0, 0.0), 0.20, (150, 30), BODY)
    written(axes, (0.42, 0.27), Label("yawing moment > 0:\nnose to starboard"), BODY)
    vector(
        axes,
        (-0.60, 0.0),
        (-0.60, -0.26),
        WIND,
        Label("drag of one tip\nis more: it yaws", (0, -16)),
    )
    written(axes, (0.78, -0.52), Label("STARBOARD", size=9), PALE)
    written(axes, (-0.78, -0.52), Label("PORT", size=9), PALE)


def _swing(axes: Axes) -> None:
    bare(axes, "While the tips swing", (-1.0, 1.0, -0.62, 0.42))
    _wings(axes, 0.0, 8.0, -15.0)
    turn(axes, (HALF, 0.0), 0.27, (8, 40), FOLD)
    written(axes, (0.90, 0.26), Label("folding speed"), FOLD)
    turn(axes, (-HALF, 0.0), 0.27, (195, 230), FOLD)
    vector(axes, (-0.76, -0.40), (-0.76, -0.10), WIND, Label("", (0, 0)))
    written(axes, (-0.76, -0.46), Label("air resists"), WIND)
    turn(axes, (0.0, -0.17), 0.16, (215, 60), BODY)
    written(axes, (0.0, -0.50), Label("first kick: the other way,\nby air and by momentum"), BODY)
