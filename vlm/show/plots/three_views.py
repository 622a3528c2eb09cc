"""A craft from behind, from above and from the side, with dimensions."""

from pathlib import Path
from typing import Any

import numpy as np

from vlm.description.folds import FoldAngles
from vlm.description.models import Biplane
from vlm.errors import InputRefused
from vlm.lattice.cellule import Grid
from vlm.lattice.lattice import build_lattice
from vlm.show.saving import save_figure
from vlm.show.style import COLOURS, plot_style
from vlm.study.check.dimensions import outlines_of
from vlm.study.check.study import CraftCheck

INK, PALE = "#1c2733", "#5b6875"
FIN = 3
"""Colour of fins."""
VIEWS = (("from behind", 1, 2), ("from above, nose up", 1, 0), ("from port, nose left", 0, 2))
"""Title, and the axes that run across and up."""


def save_three_views(craft: Biplane, check: CraftCheck, path: Path) -> None:
    """Write the drawing: flat wings filled, folded tips of the named settings dashed."""
    flat = outlines_of(build_lattice(craft, FoldAngles(), Grid(rows=2, strips=8)))
    with plot_style() as plt:
        figure, grid = plt.subplots(2, 2, figsize=(10.0, 7.0), layout="constrained")
        places = (grid[0, 0], grid[1, 0], grid[0, 1])
        for axes, (title, across, up) in zip(places, VIEWS, strict=True):
            _surfaces(axes, flat, across, up)
            _folded(axes, craft, across, up)
            _rotors(axes, craft, across, up)
            _balance(axes, check, across, up)
            axes.set_aspect("equal")
            axes.set_title(title, loc="left")
            axes.set_xlabel(f"{'xyz'[across]} [m], {('aft', 'starboard', 'up')[across]}")
            axes.set_ylabel(f"{'xyz'[up]} [m], {('aft', 'starboard', 'up')[up]}")
            axes.margins(0.06, 0.12)
        _dimensions(places, craft, check, np.concatenate([t.reshape(-1, 3) for *_, t in flat]))
        places[1].invert_yaxis()
        grid[1, 1].axis("off")
        grid[1, 1].text(0.0, 1.0, _legend(craft, check), va="top", fontsize=9)
        figure.suptitle(f"{craft.title}: dimensions in metres", fontsize=10)
        save_figure(figure, path)


def _surfaces(axes: Any, flat: Any, across: int, up: int) -> None:
    for wing, part, table in sorted(flat, key=lambda one: one[0] != "lower"):
        loop = np.concatenate([table[0], table[1][::-1], table[0][:1]])
        colour = COLOURS[FIN if part == "fin" else 0 if wing == "upper" else 1]
        axes.fill(loop[:, across], loop[:, up], fc=colour, alpha=0.25 if part == "main" else 0.45)
        axes.plot(loop[:, across], loop[:, up], color=colour, lw=1.0)


def _folded(axes: Any, craft: Biplane, across: int, up: int) -> None:
    for setting in craft.configurations.values():
        if setting.folds == FoldAngles():
            continue
        try:
            shape = outlines_of(build_lattice(craft, setting.folds, Grid(rows=2, strips=8)))
        except InputRefused:
            continue
        for _, part, table in shape:
            if part == "tip":
                loop = np.concatenate([table[0], table[1][::-1], table[0][:1]])
                axes.plot(loop[:, across], loop[:, up], "--", color=PALE, lw=0.8)


def _rotors(axes: Any, craft: Biplane, across: int, up: int) -> None:
    turn = np.linspace(0.0, 2.0 * np.pi, 73)
    for rotor in craft.rotors:
        axis = np.array(rotor.direction)
        side = np.cross(axis, [0.0, 0.0, 1.0] if abs(axis[2]) < 0.9 else [0.0, 1.0, 0.0])
        side /= np.linalg.norm(side)
        other = np.cross(axis, side)
        ring = np.array(rotor.position_m) + rotor.radius_m * (
            np.cos(turn)[:, None] * side + np.sin(turn)[:, None] * other
        )
        axes.plot(ring[:, across], ring[:, up], color=COLOURS[2], lw=0.9)


def _balance(axes: Any, check: CraftCheck, across: int, up: int) -> None:
    flat = [one for one in check.masses if one.fold_deg == 0.0] or list(check.masses[:1])
    for one in flat:
        axes.plot(one.centre_m[across], one.centre_m[up], "P", color=INK, ms=8, mec="white")


def _dimensions(places: Any, craft: Biplane, check: CraftCheck, points: Any) -> None:
    behind, above, side = places
    low, high = points.min(axis=0), points.max(axis=0)
    room = 0.09 * (high[1] - low[1])
    # Folded tips and rotors too, which no number may hide.
    under, drawn, over = behind.dataLim.y0, behind.dataLim.y1, side.dataLim.y1
    top = drawn + room
    _arrow(behind, (low[1], top), (high[1], top), f"span {high[1] - low[1]:.3f}")
    chord = check.dimensions["wings"]["upper"]["mean_chord_m"]
    _arrow(above, (high[1] + room, 0.0), (high[1] + room, chord), f"mean chord {chord:.3f}")
    for name, wing in check.dimensions["wings"].items():
        tip, end = wing["tip_span_m"], 0.5 * wing["flat_span_m"]
        if tip is not None:
            at = drawn + 0.4 * room if name == "upper" else under - 0.6 * room
            _arrow(behind, (end - tip, at), (end, at), f"tip {tip:.3f}")
    if craft.arrangement is not None:
        gap, stagger = craft.arrangement.gap_m, craft.arrangement.stagger_m
        _arrow(side, (high[0] + room, -gap), (high[0] + room, 0.0), f"gap {gap:.3f}")
        if stagger:
            ends = sorted((0.0, stagger))
            _arrow(side, (ends[0], over + 0.4 * room), (ends[1], over + 0.4 * room),
                   f"stagger {stagger:.3f}", beside=True)  # fmt: skip


def _arrow(axes: Any, start: Any, end: Any, text: str, *, beside: bool = False) -> None:
    """A length with its number over it; beside it where it is upright or asked to be."""
    axes.plot([start[0], end[0]], [start[1], end[1]], alpha=0.0)  # makes room for it
    style = {"arrowstyle": "<->", "color": PALE, "lw": 1.0, "shrinkA": 0, "shrinkB": 0}
    axes.annotate("", start, end, arrowprops=style)
    beside = beside or start[0] == end[0]
    at = end[0] if beside else 0.5 * (start[0] + end[0])
    axes.annotate(
        text, (at, 0.5 * (start[1] + end[1])), xytext=(5.0, 0.0) if beside else (0.0, 2.0),
        textcoords="offset points", ha="left" if beside else "center",
        va="center" if beside else "bottom", fontsize=8, color=INK,
    )  # fmt: skip


def _legend(craft: Biplane, check: CraftCheck) -> str:
    lines = ["upper wing blue, lower wing orange; tips darker"]
    if craft.fins:
        lines.append(f"fins ({', '.join(fin.name for fin in craft.fins)}) in their own colour")
    if craft.tips and len(craft.configurations) > 0:
        lines.append(f"dashed: tips at {', '.join(craft.configurations)}")
    if craft.rotors:
        lines.append("green: discs of the rotors")
    if check.mass_kg is not None:
        lines.append(f"cross: centre of gravity, tips flat; mass {check.mass_kg:.4g} kg")
    if check.wing_loading_N_m2 is not None:
        lines.append(f"wing loading {check.wing_loading_N_m2:.3g} N/m$^2$")
    if check.hover is not None:
        lines.append(f"disc loading {check.hover.disc_loading_N_m2:.3g} N/m$^2$")
    return "\n".join(lines)
