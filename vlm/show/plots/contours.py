"""Filled contours over port and starboard folds, broken where a tip touches a wing."""

from collections.abc import Sequence
from itertools import product
from typing import Any

import numpy as np

from vlm.show.labelling import degree_ticks
from vlm.show.scenes.schemes import ink_over
from vlm.show.style import DIVERGING, MAP_INK, MAP_PAPER, SEQUENTIAL

HATCH = "////"
ROOM = 0.08
"""Half of the room that a value takes on its line, as a share of the map's width and height [1]."""
ALONG = (0.3, 0.7, 0.4, 0.6, 0.2, 0.8, 0.5)
"""Where along a line its value may stand: not first in the middle, where lines of 0 cross [1]."""
TOUCHING = "diamonds: a tip touches a wing"
NOT_BUILT = "hatched: surfaces would cross"


def contour_map(
    axes: Any, port: Any, starboard: Any, values: Any, *, signed: bool, branch: Any = None
) -> Any:
    """Filled contours with labelled lines; nothing is drawn between one branch and another.

    Pairs of folds that stand alone on their branch, as at contact, are diamonds; pairs without a
    value are hatched.

    Parameters
    ----------
    axes : matplotlib axes to draw on
    port, starboard : folds [deg], shapes (p,) and (s,)
    values : shape (p, s)
    signed : whether the colours diverge from zero
    branch : shape (p, s), as :func:`vlm.study.point.contact.branches`; one branch if left out

    Returns
    -------
    what a colour bar is made of; None where there is not one value
    """
    from matplotlib.cm import ScalarMappable
    from matplotlib.colors import BoundaryNorm

    axes.set_xlabel("port fold [deg], positive raises the tip")
    axes.set_ylabel("starboard fold [deg]")
    axes.set_aspect("equal")
    axes.grid(False)
    degree_ticks(axes.xaxis)
    degree_ticks(axes.yaxis)
    known = np.isfinite(values)
    if not known.any():
        axes.annotate("no pair of folds has a value", (0.98, 0.97), xycoords="axes fraction",
                      ha="right", va="top", fontsize=7.5)  # fmt: skip
        return None
    levels, shown = _levels(values[known], signed=signed)
    scale = ScalarMappable(BoundaryNorm(levels, 256), cmap=DIVERGING if signed else SEQUENTIAL)
    notes = []
    if not known.all():
        axes.patch.set(hatch=HATCH, facecolor=MAP_PAPER, edgecolor="0.6")
        notes.append(NOT_BUILT)
    branch = np.zeros(values.shape, dtype=int) if branch is None else branch
    _gaps(axes, port, starboard, known, branch)
    for one in np.unique(branch[known]):
        own = np.where(known & (branch == one), values, np.nan)
        whole = _cells(np.isfinite(own))
        if whole.any():
            _filled(axes, port, starboard, own, scale, levels, shown)
        if _alone(np.isfinite(own), whole, axes, port, starboard, own, scale):
            notes.append(TOUCHING)
    diagonal = [max(port[0], starboard[0]), min(port[-1], starboard[-1])]
    axes.plot(diagonal, diagonal, ":", color=MAP_INK, lw=0.8)
    axes.set_xlim(port[0], port[-1])
    axes.set_ylim(starboard[0], starboard[-1])
    if notes:
        axes.set_xlabel(f"{axes.get_xlabel()}\n{'; '.join(dict.fromkeys(notes))}")
    return scale


def _levels(known: Any, *, signed: bool) -> tuple[Any, list[float]]:
    """Edges of the colours, and the values that lines are drawn at."""
    from matplotlib.ticker import MaxNLocator

    low, high = float(known.min()), float(known.max())
    if signed:
        high = max(-low, high) or 1.0
        low = -high
    levels = MaxNLocator(12, steps=(1, 2, 2.5, 5, 10)).tick_values(low, high)
    if signed:
        middle = int(np.argmin(np.abs(levels)))
        return levels, list(levels[middle % 2 :: 2])
    return levels, [v for v in levels[::2] if low <= v <= high]


def _cells(own: Any) -> Any:
    """Whether all corners of a cell are of one branch, shape (p - 1, s - 1)."""
    return own[:-1, :-1] & own[1:, :-1] & own[:-1, 1:] & own[1:, 1:]


def _filled(
    axes: Any, port: Any, starboard: Any, own: Any, scale: Any, levels: Any,
    shown: Sequence[float],
) -> None:  # fmt: skip
    axes.contourf(port, starboard, own.T, levels, cmap=scale.cmap, norm=scale.norm)
    inks = [ink_over(_colour(scale, value)) for value in shown]
    lines = axes.contour(
        port, starboard, own.T, shown, colors=inks or MAP_INK, linewidths=0.6,
        linestyles=["--" if value < 0.0 else "-" for value in shown] or "-",
    )  # fmt: skip
    _named(axes, lines, port, starboard, _cells(np.isfinite(own)))


def _named(axes: Any, lines: Any, port: Any, starboard: Any, whole: Any) -> None:
    """Values on the lines, but for lines where their letters would be cut.

    Parameters
    ----------
    whole : cells of the branch that the lines belong to, shape (p - 1, s - 1)
    """
    pieces = [piece for path in lines.get_paths() for piece in path.to_polygons(closed_only=False)]
    found = []
    for piece in pieces:
        along = [tuple(piece[int(share * len(piece))]) for share in ALONG if len(piece)]
        found += [place for place in along if _has_room(place, port, starboard, whole)][:1]
    if found:
        for text in axes.clabel(lines, fontsize=7.5, fmt=_worded, manual=found):
            text.set_rotation(0.0)


def _worded(value: float) -> str:
    return f"{value:.3g}".replace("-", "\N{MINUS SIGN}")


def _has_room(place: tuple[float, float], port: Any, starboard: Any, whole: Any) -> bool:
    """Whether a value there lies on cells of its branch alone."""
    cells = []
    for at, grid in zip(place, (port, starboard), strict=True):
        half = ROOM * (grid[-1] - grid[0])
        if at - half < grid[0] or at + half > grid[-1]:
            return False
        first, last = np.searchsorted(grid, [at - half, at + half], side="right") - 1
        cells.append(slice(first, min(last, len(grid) - 2) + 1))
    return bool(whole[cells[0], cells[1]].all())


def _colour(scale: Any, value: float) -> str:
    from matplotlib.colors import to_hex

    return to_hex(scale.to_rgba(value))


def _gaps(axes: Any, port: Any, starboard: Any, known: Any, branch: Any) -> None:
    """Paper where two branches face each other: no value lies there, and nothing forbids it."""
    between = _cells(known)
    for one in np.unique(branch):
        between &= ~_cells(known & (branch == one))
    if between.any():
        shade = np.ma.masked_array(np.ones(between.shape), ~between)
        axes.pcolormesh(port, starboard, shade.T, cmap="gray", vmin=0.0, vmax=1.0, zorder=0.5)


def _alone(
    own: Any, whole: Any, axes: Any, port: Any, starboard: Any, values: Any, scale: Any
) -> bool:
    """Draw the pairs that no whole cell holds as diamonds; whether there are any."""
    held = np.zeros(own.shape, dtype=bool)
    for rows, columns in product((slice(-1), slice(1, None)), repeat=2):
        held[rows, columns] |= whole
    i, j = np.nonzero(own & ~held)
    if not i.size:
        return False
    axes.scatter(
        port[i], starboard[j], s=24, c=scale.to_rgba(values[i, j]), marker="D", clip_on=False,
        edgecolors="0.35", linewidths=0.4, zorder=3,
    )  # fmt: skip
    return True
