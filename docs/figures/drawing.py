"""Arrows, dimensions and angles for line drawings, in one style."""

from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes
from matplotlib.patches import FancyArrowPatch

# Colours that colour-blind readers tell apart (Okabe and Ito), dark enough on white.
INK = "#222222"
PALE = "#8a8a8a"
GEOMETRY = "#0072b2"
BODY = "#c25400"
WIND = "#00795a"
FOLD = "#a0266b"
FOLD_AREA = "#f0d9e6"
GEOMETRY_AREA = "#cfe0ee"

Point = tuple[float, float]


@dataclass(frozen=True)
class Label:
    """Text near a point: offset in points, and how it is set against it."""

    text: str
    offset: Point = (0.0, 0.0)
    across: str = "center"
    along: str = "center"
    size: float = 10.0


def written(axes: Axes, at: Point, label: Label, color: str = INK) -> None:
    """Write a label at a point, on a white ground so that lines do not cross it."""
    axes.annotate(
        label.text,
        at,
        xytext=label.offset,
        textcoords="offset points",
        ha=label.across,
        va=label.along,
        fontsize=label.size,
        color=color,
        bbox={"boxstyle": "square,pad=0.12", "fc": "white", "ec": "none"},
        zorder=6,
    )


def arrow(
    axes: Axes,
    start: Point,
    end: Point,
    color: str,
    *,
    style: str = "-|>",
    width: float = 1.6,
    dashed: bool = False,
) -> None:
    """A straight arrow."""
    axes.add_patch(
        FancyArrowPatch(
            start,
            end,
            arrowstyle=style,
            mutation_scale=11,
            color=color,
            lw=width,
            ls="--" if dashed else "-",
            shrinkA=0,
            shrinkB=0,
            zorder=5,
        )
    )


def vector(axes: Axes, start: Point, end: Point, color: str, label: Label) -> None:
    """An arrow named at its head."""
    arrow(axes, start, end, color)
    written(axes, end, label, color)


def dimension(axes: Axes, start: Point, end: Point, label: Label, color: str = PALE) -> None:
    """A length with an arrow head at both ends, named in the middle."""
    arrow(axes, start, end, color, style="<|-|>", width=1.0)
    middle = ((start[0] + end[0]) / 2, (start[1] + end[1]) / 2)
    written(axes, middle, label, INK)


def line(axes: Axes, start: Point, end: Point, color: str = PALE, *, style: str = ":") -> None:
    """A thin auxiliary line."""
    axes.plot([start[0], end[0]], [start[1], end[1]], style, color=color, lw=1.0, zorder=2)


def arc_points(centre: Point, radius: float, start_deg: float, end_deg: float) -> np.ndarray:
    """Points on an arc from one direction to another, counted anticlockwise from the right."""
    angles = np.radians(np.linspace(start_deg, end_deg, 61))
    return np.column_stack(
        [centre[0] + radius * np.cos(angles), centre[1] + radius * np.sin(angles)]
    )


def turn(
    axes: Axes,
    centre: Point,
    radius: float,
    span_deg: tuple[float, float],
    color: str,
    label: Label | None = None,
) -> None:
    """An arc with an arrow head at its end: a sense of rotation or a signed angle."""
    points = arc_points(centre, radius, *span_deg)
    axes.plot(points[:-3, 0], points[:-3, 1], "-", color=color, lw=1.6, zorder=5)
    arrow(axes, tuple(points[-6]), tuple(points[-1]), color)
    if label is not None:
        written(axes, tuple(points[len(points) // 2]), label, color)


def bare(axes: Axes, title: str, limits: tuple[float, float, float, float]) -> None:
    """A drawing's ground: equal scales, no frame."""
    axes.set_aspect("equal", anchor="N")
    axes.set_xlim(limits[0], limits[1])
    axes.set_ylim(limits[2], limits[3])
    axes.axis("off")
    axes.set_title(title, fontsize=11, loc="left", color=INK, fontweight="bold")
