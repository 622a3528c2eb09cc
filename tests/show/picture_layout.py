"""Where the texts of a drawn figure meet, or leave it; overlaps of descenders do not count."""

from collections.abc import Iterator
from contextlib import contextmanager
from itertools import combinations
from typing import Any

import pytest
from matplotlib.text import Text

LEAST_PX = 1.5
"""Overlap in both directions from which texts meet [px]."""
DESCENDER = 0.25
"""Share of a text's height that may be overlapped: boxes hold room that few letters use."""


def shown_texts(figure: Any) -> list[tuple[str, Any, Any]]:
    """Texts that can be seen, with their boxes [px]; turned ones by their turned box."""
    figure.canvas.draw()
    renderer = figure.canvas.get_renderer()
    drawn = figure.axes
    left_out = {id(text) for axes in drawn for text in _idle_ticks(axes)}
    hidden = {id(axes) for axes in drawn if not axes.get_visible()}
    return [
        (text.get_text(), text.get_window_extent(renderer), text)
        for text in figure.findobj(Text)
        if text.get_visible()
        and text.get_text().strip()
        and id(text) not in left_out
        and id(text.axes) not in hidden
    ]


def _idle_ticks(axes: Any) -> list[Any]:
    """Labels of ticks outside the view: made, but not drawn."""
    found = []
    for axis in (axes.xaxis, axes.yaxis):
        low, high = sorted(axis.get_view_interval())
        slack = 1e-6 * (high - low)
        for tick in (*axis.get_major_ticks(), *axis.get_minor_ticks()):
            inside = low - slack <= tick.get_loc() <= high + slack
            if not (inside and axes.axison):
                found += [tick.label1, tick.label2]
    return found


def faults(figure: Any) -> list[str]:
    """Texts that meet, and texts that leave the figure, in words; empty where all is well."""
    texts = shown_texts(figure)
    width, height = figure.canvas.get_width_height()
    said = [
        f"{name!r} leaves the figure"
        for name, box, _ in texts
        if min(box.x0, box.y0) < -LEAST_PX
        or box.x1 > width + LEAST_PX
        or box.y1 > height + LEAST_PX
    ]
    for (first, a, one), (second, b, other) in combinations(texts, 2):
        across = min(a.x1, b.x1) - max(a.x0, b.x0)
        up = min(a.y1, b.y1) - max(a.y0, b.y0)
        slanted = any(text.get_rotation() % 90.0 != 0.0 for text in (one, other))
        if slanted:
            continue  # boxes of slanted texts are mostly empty
        least = DESCENDER * min(a.height, b.height)
        if across > LEAST_PX and up > max(LEAST_PX, least):
            said.append(f"{first!r} meets {second!r}")
    return said


@contextmanager
def faults_of_what_is_drawn() -> Iterator[list[list[str]]]:
    """Faults of every figure that is saved in the block, in the order of saving."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.backends.backend_svg import FigureCanvasSVG
    from matplotlib.figure import Figure

    found: list[list[str]] = []
    saving: list[Any] = []
    save, write = Figure.savefig, FigureCanvasSVG.print_svg

    def watched(figure: Any, *words: Any, **keys: Any) -> None:
        found.append(faults(figure))
        saving.append(figure)
        save(figure, *words, **keys)
        saving.pop()

    def written(canvas: Any, *words: Any, **keys: Any) -> None:
        if not saving:  # the report's, which are written without being saved
            FigureCanvasAgg(canvas.figure)  # boxes of texts need a canvas that draws
            found.append(faults(canvas.figure))
            canvas.figure.set_canvas(canvas)
        write(canvas, *words, **keys)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Figure, "savefig", watched)
        patch.setattr(FigureCanvasSVG, "print_svg", written)
        yield found
