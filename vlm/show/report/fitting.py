"""A drawing made for a large picture, fitted to a figure that a phone shows whole."""

import re
from textwrap import fill
from typing import Any

WIDTH = 3.4
"""So narrow [in] that a phone shows a figure whole; wider screens set several in a row."""
LEAST_LETTERS = 8.5
"""Letters that on a phone, 390 px wide, have 12 px [pt]."""
TITLE_SIZE = 9.0
TITLE_LETTERS, ACROSS_LETTERS, UP_LETTERS = 46, 40, 30
"""Letters in a line of a title, along the abscissa, up the ordinate."""
BESIDE_NAMES, NAME_LETTERS, COLUMN_LETTERS = 28, 18, 17
"""Letters in a line beside names at the ordinate, of such a name, in one of two columns."""
HELD = "\N{NO-BREAK SPACE}"
LINE, LEGEND_LINE = 0.16, 0.2
"""Height of a line of letters, and of one of a legend [in]."""


def fitted(figure: Any) -> None:
    """Letters large enough, long lines broken, title and legend outside the axes.

    The figure grows by what stands outside, so that the axes keep their size.
    """
    from matplotlib.text import Text

    more = 0.0
    titled = [axes for axes in figure.axes if axes.get_title("left")]
    if len(titled) == 1:
        more += _title_outside(figure, titled[0])
    for axes in figure.axes:
        more += _labels_broken(axes)
        if axes.get_legend() is not None:
            more += _legend_below(figure, axes)
    for text in figure.findobj(Text):
        text.set_fontsize(max(text.get_fontsize(), LEAST_LETTERS))
    width, height = figure.get_size_inches()
    figure.set_size_inches(width, height + more)


def broken(text: str, letters: int) -> str:
    """A text with its lines broken at spaces, of so many letters at most; units stay whole."""
    held = re.sub(r"\[[^]]*\]| \$", lambda one: one[0].replace(" ", HELD), text)
    return "\n".join(fill(line, letters) for line in held.split("\n")).replace(HELD, " ")


def _title_outside(figure: Any, axes: Any) -> float:
    """The title over the figure's whole width; returns the room it takes [in]."""
    title = broken(axes.get_title("left"), TITLE_LETTERS)
    axes.set_title("", loc="left")
    figure.suptitle(title, x=0.01, ha="left", fontsize=TITLE_SIZE)
    return title.count("\n") * LINE


def _labels_broken(axes: Any) -> float:
    """Labels of the axes and names at the ordinate in lines; returns the room they take [in]."""
    names = [label.get_text() for label in axes.get_yticklabels()]
    named = any(re.search("[a-z]{2}", name) for name in names)
    more = 0.0
    if named:
        names = [broken(name, NAME_LETTERS) for name in names]
        axes.set_yticks(axes.get_yticks(), names)
        more = len(names) * max(name.count("\n") for name in names) * LINE
    along = broken(axes.get_xlabel(), BESIDE_NAMES if named else ACROSS_LETTERS)
    axes.set_xlabel(along)
    axes.set_ylabel(broken(axes.get_ylabel(), UP_LETTERS))
    return more + along.count("\n") * LINE


def _legend_below(figure: Any, axes: Any) -> float:
    """The legend below the figure, not over the curves; returns the room it takes [in]."""
    legend = axes.get_legend()
    names = [text.get_text() for text in legend.get_texts()]
    title = legend.get_title().get_text()
    # Bars of errors are whole in the axes' own handles alone.
    own = dict(zip(*axes.get_legend_handles_labels()[::-1], strict=True))
    drawn = dict(zip(names, legend.legend_handles, strict=True)) | own
    legend.remove()
    axes.autoscale(axis="y")  # gives back the room that it had
    columns = 2 if max(map(len, names)) <= COLUMN_LETTERS else 1
    figure.legend(
        [drawn[name] for name in names], names, loc="outside lower left", ncols=columns,
        title=title or None, alignment="left",
    )  # fmt: skip
    return (-(-len(names) // columns) + bool(title)) * LEGEND_LINE
