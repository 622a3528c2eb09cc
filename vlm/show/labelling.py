"""Labels of axes and curves: symbol, unit and sign from the table; text at a curve's own end."""

import re
from collections.abc import Sequence
from textwrap import wrap
from typing import Any

import numpy as np

from vlm.constants import Floats
from vlm.quantities import QUANTITIES
from vlm.show.scenes.schemes import text_colour

LINE_SPACING = 1.15
NO_BREAK = "\N{NO-BREAK SPACE}"
HELD = re.compile(r"(?<=\d) (?=±|[A-Za-z°%/])|(?<=±) |(?<=N) (?=m\b)")
"""Blanks that no line breaks at: between a number, its ± and its unit."""
GLYPHS = {"o": "●", "s": "■", "^": "▲", "D": "◆", "v": "▼", "P": "✚", "X": "✖"}
"""Characters that look like the markers, so that a label is found in grey too."""
SIDE_MARGIN = 0.015
TICK_ROOM = 0.4
"""Width of a tick's label with the gap beside it [in]."""
FOLD_STEPS = (1, 1.5, 3, 4.5, 6, 9)


def label(name: str) -> str:
    """Symbol of a quantity with its unit, for an axis."""
    quantity = QUANTITIES[name]
    unit = "" if quantity.unit == "1" else f" [{quantity.unit}]"
    return f"${quantity.symbol}${unit}"


def titled(name: str) -> str:
    """What a quantity is, its symbol, and what a positive value means, for a title."""
    quantity = QUANTITIES[name]
    meaning = quantity.long_name.partition(",")[0]
    sign = f"\npositive: {quantity.sign}" if quantity.sign else ""
    return f"{meaning} ${quantity.symbol}${sign}"


def headline(figure: Any, sentences: Sequence[str], about: str, columns: int) -> None:
    """Title of a whole picture: what it shows in words, then of what, and the caution.

    Parameters
    ----------
    columns : letters that fit a line
    """
    said = HELD.sub(NO_BREAK, " ".join(one for one in sentences if one))
    lines = [*wrap(said, columns), *wrap(f"{about}: an estimate, not a flight clearance", columns)]
    figure.suptitle("\n".join(lines).replace(NO_BREAK, " "), fontsize=10, x=0.01, ha="left")


def degree_ticks(axis: Any) -> None:
    """Ticks at whole parts of a right angle, as many as the width of the axes bears."""
    from matplotlib.ticker import MaxNLocator

    wide = axis.axes.bbox.width / axis.axes.figure.dpi
    most = int(np.clip(wide / TICK_ROOM, 3, 8))
    axis.set_major_locator(MaxNLocator(most, steps=FOLD_STEPS))


def spread_apart(places: Sequence[float], least: float) -> Floats:
    """Places moved as little as possible so that no two stand nearer than ``least``.

    Least squares under an order: the places less their ranks times ``least``, made
    nondecreasing by pooling neighbours (Ayer et al. 1955, from memory).

    Parameters
    ----------
    places : in any order
    least : distance between neighbours, in the unit of the places

    Returns
    -------
    shape (places,), in the order given
    """
    order = np.argsort(places, kind="stable")
    pools: list[list[float]] = []
    for rank, index in enumerate(order):
        pools.append([places[index] - rank * least, 1.0])
        while len(pools) > 1 and pools[-2][0] > pools[-1][0]:
            value, count = pools.pop()
            before, number = pools[-1]
            pools[-1] = [
                (before * number + value * count) / (number + count),
                number + count,
            ]
    levels = np.repeat([p[0] for p in pools], [int(p[1]) for p in pools])
    spread = np.empty(len(order))
    spread[order] = levels + np.arange(len(order)) * least
    return spread


def kept_within(places: Floats, least: float, room: tuple[float, float]) -> Floats:
    """Places pushed back inside a range, from the top and then from the bottom, still apart.

    Parameters
    ----------
    places : no two nearer than ``least``, in any order
    room : lowest and highest place; the lowest wins where not all fit
    """
    order = np.argsort(places, kind="stable")
    kept = np.array(places, float)
    limit = room[1]
    for index in order[::-1]:
        kept[index] = min(kept[index], limit)
        limit = kept[index] - least
    limit = room[0]
    for index in order:
        kept[index] = max(kept[index], limit)
        limit = kept[index] + least
    return kept


def _trim_side(axes: Any) -> None:
    """Take matplotlib's own margin off the right side: lines across stop where labels begin."""
    first, last = axes.dataLim.intervalx
    wanted = last + SIDE_MARGIN * (last - first)
    if axes.get_xscale() == "linear" and 0.0 < axes.get_xlim()[1] - wanted < 0.1 * (last - first):
        axes.set_xlim(right=wanted)


def end_labels(axes: Any, labels: Sequence[tuple[Any, str]], size: float = 8.5) -> None:
    """Write each line's label beside its last point within the axes, none over another.

    Call it once all lines are drawn and the limits set, as it goes by them.

    Parameters
    ----------
    labels : pairs of a line of the axes and its text
    """
    from matplotlib.colors import to_hex

    axes.autoscale_view()
    low, high = sorted(axes.get_ylim())
    ends = []
    for line, text in labels:
        places = np.asarray(line.get_xdata(), float)
        values = np.asarray(line.get_ydata(), float)
        known = np.flatnonzero(np.isfinite(places) & (values >= low) & (values <= high))
        if known.size:
            last = int(known[-1])
            ends.append((line, text, float(places[last]), float(values[last])))
    if not ends:
        return
    _trim_side(axes)
    points_of = 72.0 / axes.figure.dpi
    heights = axes.transData.transform([(x, y) for _, _, x, y in ends])[:, 1] * points_of
    bottom, top = (edge * points_of for edge in axes.transAxes.transform([(0, 0), (0, 1)])[:, 1])
    least = size * LINE_SPACING
    room = (bottom + 0.5 * least, top - 0.5 * least)
    moved = kept_within(spread_apart(heights.tolist(), least), least, room) - heights
    for (line, text, x, y), shift in zip(ends, moved.tolist(), strict=True):
        mark = GLYPHS.get(str(line.get_marker()), "")
        axes.annotate(
            f"{mark} {text}".lstrip(), (x, y), xytext=(5.0, shift),
            textcoords="offset points", va="center",
            color=text_colour(to_hex(line.get_color())), fontsize=size, annotation_clip=False,
        )  # fmt: skip
