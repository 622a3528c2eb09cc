"""One style for all plots: sizes, lines, colours safe for colour-blind readers."""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

# Okabe and Ito's colours (2008, from memory), in an order that stays apart in grey too; their
# orange and sky blue darker, to stand 3 to 1 on white (WCAG 2.2, 1.4.11).
COLOURS = ("#0072B2", "#D55E00", "#009E73", "#CC79A7", "#C28600", "#3F99D1", "#000000")
# Over filled maps, whose colours do not follow the reader's light or dark scheme.
MAP_INK, MAP_PAPER = "#030303", "#fefefe"
DASHES = ("-", "--", "-.", ":", (0, (5, 1, 1, 1)))
MARKERS = ("o", "s", "^", "D", "v", "P", "X")
DIVERGING = "PuOr"
SEQUENTIAL = "cividis"

RULES: dict[str, Any] = {
    "figure.dpi": 120,
    "savefig.dpi": 150,
    "font.size": 9.0,
    "axes.titlesize": 9.5,
    "axes.labelsize": 9.0,
    "axes.grid": True,
    "grid.alpha": 0.3,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "lines.linewidth": 1.6,
    "legend.frameon": False,
    "svg.fonttype": "none",
    "svg.hashsalt": "foldspan",
}


def look(index: int, points: int = 0) -> dict[str, Any]:
    """Colour, dash and marker of the ``index``-th of several curves, distinguished in grey too.

    Parameters
    ----------
    points : how many the curve has; it bears about eight markers, shifted from curve to curve
    """
    step = max(1, points // 8)
    return {
        "color": COLOURS[index % len(COLOURS)],
        "ls": DASHES[index % len(DASHES)],
        "marker": MARKERS[index % len(MARKERS)],
        "markevery": (index % step, step),
        "ms": 3.5,
    }


def scale_colours(scale: str, count: int) -> list[str]:
    """Colours of a scale from its low to its high end, as #rrggbb."""
    _quiet()
    from matplotlib import colormaps
    from matplotlib.colors import to_hex

    return [to_hex(colormaps[scale](i / (count - 1))) for i in range(count)]


@contextmanager
def plot_style() -> Iterator[Any]:
    """matplotlib's pyplot with this style, on a canvas without a window."""
    _quiet()
    import matplotlib as mpl
    from matplotlib.rcsetup import cycler

    mpl.use("Agg")
    import matplotlib.pyplot as plt

    rules: Any = RULES | {"axes.prop_cycle": cycler(color=list(COLOURS))}
    with mpl.rc_context(rules):
        try:
            yield plt
        finally:
            plt.close("all")


def _quiet() -> None:
    """Keep matplotlib from telling where it keeps its fonts if it cannot write into the home."""
    import logging

    logging.getLogger("matplotlib").setLevel(logging.ERROR)
