"""A scene as a drawing of areas and lines (SVG), sharp at any size; nearer panels over farther."""

from pathlib import Path
from typing import Any

import numpy as np

from vlm.constants import Floats
from vlm.show.saving import save_figure
from vlm.show.scenes.pictures import DIRECTIONS, FORCE, HINGE, INK, WAKE, caption, foot
from vlm.show.scenes.scene import (
    LOAD,
    TITLES,
    Scales,
    force_points,
    outline_points,
    wake_points,
)
from vlm.show.style import DIVERGING, plot_style
from vlm.study.point.session import Scene

SIZE_IN = (11.0, 7.0)


def eye_axes(direction: str) -> Floats:
    """Unit vectors to the right and up in the picture, and toward the eye, shape (3, 3)."""
    view = DIRECTIONS[direction]
    eye = np.array(view.eye) / np.linalg.norm(view.eye)
    right = np.cross(np.array(view.up, dtype=float), eye)
    right /= np.linalg.norm(right)
    return np.array([right, np.cross(eye, right), eye])


def panels_of(scene: Scene, colouring: str) -> tuple[Floats, Floats]:
    """Corners of all panels, shape (panels, 4, 3) [m], and their values."""
    corners, values = [], []
    for surface in scene.surfaces:
        grid = surface.corners
        quads = np.stack([grid[:-1, :-1], grid[:-1, 1:], grid[1:, 1:], grid[1:, :-1]], axis=2)
        corners.append(quads.reshape(-1, 4, 3))
        rows = len(surface.pressure)
        value = np.tile(surface.strip_load, rows) if colouring == LOAD else surface.pressure.ravel()
        values.append(value)
    return np.concatenate(corners), np.concatenate(values)


def save_drawing(
    scene: Scene, path: Path, direction: str, colouring: str, *, numbers: bool = True
) -> None:
    """Write a scene as a drawing, seen along parallel rays.

    Parameters
    ----------
    direction : one of :data:`vlm.show.scenes.pictures.DIRECTIONS`
    colouring : the array that colours the panels
    numbers : whether key numbers stand beside the craft
    """
    from matplotlib.collections import LineCollection, PolyCollection

    axes_of_eye, scales = eye_axes(direction), Scales.of(scene)
    corners, values = panels_of(scene, colouring)
    seen = corners @ axes_of_eye.T
    order = np.argsort(seen[:, :, 2].mean(axis=1))
    limit = scales.limits[colouring]
    with plot_style() as plt:
        figure, axes = plt.subplots(figsize=SIZE_IN, layout="constrained")
        axes.set_aspect("equal")
        axes.axis("off")
        for lines, colour, width in (
            (wake_points(scene), WAKE, 0.4),
            (None, "", 0.0),
            (outline_points(scene), INK, 0.9),
            (_hinges(scene), HINGE, 2.2),
            (force_points(scene, scales.metre_per_newton), FORCE, 1.6),
        ):
            if lines is None:
                drawn = PolyCollection(
                    list(seen[order, :, :2]), array=values[order], cmap=DIVERGING,
                    clim=(-limit, limit), edgecolors="#5b6b7a", linewidths=0.3,
                )  # fmt: skip
                axes.add_collection(drawn)
                bar = figure.colorbar(drawn, ax=axes, shrink=0.5, label=TITLES[colouring])
                bar.outline.set_visible(False)
            elif len(lines):
                flat = list((lines @ axes_of_eye.T)[..., :2])
                axes.add_collection(LineCollection(flat, colors=colour, linewidths=width))
        _framed(axes, seen)
        if numbers:
            axes.text(0.0, 1.0, caption(scene), transform=axes.transAxes, va="top",
                      family="monospace", fontsize=7, color=INK)  # fmt: skip
        words = foot(scene, f"{DIRECTIONS[direction].words}, parallel")
        figure.supxlabel(words, fontsize=7, color=INK)
        save_figure(figure, path)


def _hinges(scene: Scene) -> Floats:
    return np.array([h.ends for h in scene.hinges.values()]).reshape(-1, 2, 3)


def _framed(axes: Any, seen: Floats) -> None:
    """Room around the craft, more of it above, where the numbers stand."""
    low, high = seen[:, :, :2].min(axis=(0, 1)), seen[:, :, :2].max(axis=(0, 1))
    room = 0.25 * float((high - low).max())
    axes.set_xlim(low[0] - room, high[0] + room)
    axes.set_ylim(low[1] - room, high[1] + 1.6 * room)
