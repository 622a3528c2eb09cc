"""What sections of a report are made of: paragraphs, tables, figures, commands."""

import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from io import StringIO
from itertools import pairwise
from typing import Any, Literal

from vlm.show.page import escaped
from vlm.show.report.fitting import WIDTH, fitted
from vlm.show.scenes.schemes import themed
from vlm.show.style import plot_style

FIGURE_SIZE = (WIDTH, 2.7)
MAP_SIZE = (WIDTH, 3.3)
TALL_SIZE = (WIDTH, 4.0)


@dataclass(frozen=True)
class Section:
    """One section: what it is called in links, its title, and its body in HTML."""

    ident: str
    title: str
    body: str


def in_degrees(text: str) -> str:
    """A sentence with the sign for degrees instead of the unit's name."""
    return re.sub(r" deg\b", "°", text)


def paragraph(text: str) -> str:
    """A paragraph of plain text."""
    return f"<p>{escaped(in_degrees(text))}</p>"


def opened(text: str) -> str:
    """A text with its first letter large, as at the start of a sentence."""
    return text[:1].upper() + text[1:]


def range_text(found: Iterable[float]) -> str:
    """Values as the command line takes them: START:STOP:COUNT if evenly spaced, else a list."""
    values = [float(v) for v in found]
    steps = [b - a for a, b in pairwise(values)]
    if len(steps) > 1 and max(steps) - min(steps) < 1e-6 * abs(steps[0]):
        return f"{values[0]:g}:{values[-1]:g}:{len(values)}"
    return ",".join(f"{v:g}" for v in values)


def bullets(texts: Sequence[str]) -> str:
    """A list of plain texts."""
    return (
        "<ul>" + "".join(f"<li>{escaped(text)}</li>" for text in texts) + "</ul>" if texts else ""
    )


def command_line(command: str) -> str:
    """A command the reader may copy."""
    return f'<p class="command"><code>{escaped(command)}</code></p>'


def fold_out(summary: str, *blocks: str) -> str:
    """Detail that opens when asked for; nothing where there is none."""
    inside = "".join(blocks)
    return f"<details><summary>{escaped(summary)}</summary>{inside}</details>" if inside else ""


# Tables with more columns are set smaller on paper.
WIDE = 8
NUMERIC = re.compile(r"(?:< )?[-+−]?\d[\d.,e+-]*( ± .*)?|-?")


def table(caption: str, heads: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """A table that sorts by its heads and copies as tab-separated text.

    Parameters
    ----------
    heads : of the columns, units in brackets
    rows : cells as text; columns of nothing but numbers are set to the right
    """
    columns = list(zip(*rows, strict=True))
    numeric = [
        any(cells) and all(NUMERIC.fullmatch(cell) for cell in cells) for cells in columns
    ] or [False] * len(heads)

    def kind(column: int) -> str:
        return ' class="n"' if numeric[column] else ""

    head = "".join(
        f'<th scope="col"{kind(i)}><button type="button">{escaped(text)}</button></th>'
        for i, text in enumerate(heads)
    )
    body = "".join(
        "<tr>" + "".join(f"<td{kind(i)}>{escaped(c)}</td>" for i, c in enumerate(row)) + "</tr>"
        for row in rows
    )
    wide = ' class="wide"' if len(heads) > WIDE else ""
    return (
        '<div class="table"><div class="scroll" tabindex="0" role="region"'
        f' aria-label="{escaped(caption)}"><table{wide}><caption>{escaped(caption)}</caption>'
        f"<thead><tr>{head}</tr></thead><tbody>{body}</tbody></table></div>"
        '<button type="button" class="copy">copy table</button></div>'
    )


def figure(
    ident: str,
    caption: str,
    command: str,
    draw: Callable[[Any], Any],
    size: tuple[float, float] = FIGURE_SIZE,
) -> str:
    """A figure drawn on axes of its own, as inline SVG, with the command that makes it.

    Parameters
    ----------
    ident : unique in the page
    draw : called with the axes
    size : width and height [in]
    """
    return figure_block(ident, caption, command, svg_of(ident, draw, size))


def figure_block(ident: str, caption: str, command: str, svg: str) -> str:
    """A ready SVG with its caption and command."""
    label = svg.replace("<svg ", f'<svg role="img" aria-label="{escaped(caption)}" ', 1)
    made_by = fold_out("command", command_line(command)) if command else ""
    return (
        f'<figure id="{ident}"><div class="paper">{label}</div>'
        f"<figcaption>{escaped(caption)} {made_by}</figcaption></figure>"
    )


def svg_of(ident: str, draw: Callable[[Any], Any], size: tuple[float, float]) -> str:
    """Axes drawn by ``draw`` as SVG that may stand in a page beside others."""
    return panels_of(ident, lambda axes: draw(axes[0]), size)


def panels_of(
    ident: str,
    draw: Callable[[Any], Any],
    size: tuple[float, float],
    heights: Sequence[float] = (1.0,),
) -> str:
    """Axes one above the other, of given shares of the height, with one abscissa, as SVG.

    Parameters
    ----------
    draw : called with the list of axes, from the top
    """
    stream = StringIO()
    # Maps have equal scales: their bars and labels must follow the axes, not the figure.
    layout: Literal["compressed", "constrained"]
    layout = "compressed" if size == MAP_SIZE else "constrained"
    with plot_style() as plt:
        from matplotlib.backends.backend_svg import FigureCanvasSVG

        drawn, axes = plt.subplots(
            len(heights), figsize=size, layout=layout, sharex=True, squeeze=False,
            height_ratios=heights,
        )  # fmt: skip
        draw(list(axes[:, 0]))
        fitted(drawn)
        # Drawn once: ``savefig`` would draw it twice, first for the layout alone.
        canvas: Any = FigureCanvasSVG(drawn)
        canvas.print_svg(stream, metadata={"Date": None, "Creator": None})
    return themed(inlined(stream.getvalue(), ident))


def inlined(svg: str, ident: str) -> str:
    """SVG without its prologue, metadata and fixed size, its names made unique by ``ident``."""
    body = svg[svg.index("<svg") :]
    body = re.sub(r"<metadata>.*?</metadata>", "", body, flags=re.S)
    for size in ("width", "height"):
        body = re.sub(rf'(<svg\b[^>]*?) {size}="[^"]*"', r"\1", body, count=1)
    body = re.sub(r'\bid="', f'id="{ident}-', body)
    body = re.sub(r"url\(#", f"url(#{ident}-", body)
    return re.sub(r'(xlink:)?href="#', f'href="#{ident}-', body)


def figures(*blocks: str, said: str = "") -> str:
    """Figures side by side where there is room, on a wide screen beside what is said of them."""
    words = f'<div class="said">{said}</div>' if said else ""
    return f'<div class="figures">{words}{"".join(blocks)}</div>'


def carrying(said: str, blocks: Sequence[str], shown: int = 2) -> str:
    """The section's sentences with the first figures, which carry them; the rest folded away."""
    return figures(*blocks[:shown], said=said) + (
        fold_out("More figures", figures(*blocks[shown:])) if blocks[shown:] else ""
    )
