"""Picture of a convergence study: errors against rows and against strips."""

from pathlib import Path
from typing import Any, Literal

import numpy as np

from vlm.quantities import QUANTITIES
from vlm.show.labelling import headline
from vlm.show.saving import save_figure
from vlm.show.style import plot_style
from vlm.show.tables.convergence import convergence_answer
from vlm.study.convergence.report import ConvergenceDocument

SHOWN = ("CL", "CDi", "span_efficiency", "Cl_beta", "Cm_alpha", "Cl_p")
MARKERS = ("o", "s", "^", "D", "v", "P")
SMALLEST = 1e-7
Along = Literal["rows", "strips"]
WAYS: tuple[Along, ...] = ("rows", "strips")


def save_convergence_picture(document: ConvergenceDocument, path: Path) -> None:
    """Error over natural size against rows at the most strips, and against strips at most rows."""
    with plot_style() as plt:
        figure, grid = plt.subplots(1, 2, figsize=(9.6, 4.4), sharey=True, layout="constrained")
        for axes, along in zip(grid, WAYS, strict=True):
            error_axes(axes, document, along)
        grid[0].set_ylabel("distance from the limit over natural size")
        handles, labels = grid[0].get_legend_handles_labels()
        figure.legend(
            handles, labels, loc="outside right center", title="dotted: no clear\norder, distance\n"
            "from the finest", title_fontsize=8,
        )  # fmt: skip
        state = document["state"]
        about = (
            f"{document['title']}, port fold {state['fold_left_deg']:g}°, starboard"
            f" {state['fold_right_deg']:g}°, angle of attack {state['alpha_deg']:g}°"
        )
        headline(figure, convergence_answer(document), about, 115)
        save_figure(figure, path)


def error_axes(axes: Any, document: ConvergenceDocument, along: Along) -> Any:
    """Errors against the number of ``along`` ("rows" or "strips"), the other at its largest.

    The limit is extrapolated in this direction alone, so that the other's error does not show.
    Returns the axes.
    """
    other: Along = "strips" if along == "rows" else "rows"
    finest = max(document["levels"][other])
    chosen = [one for one in document["lattices"] if one[other] == finest]
    counts = np.array([one[along] for one in chosen], dtype=float)
    names = [name for name in SHOWN if name in document["quantities"]]
    for name, marker in zip(names, MARKERS, strict=False):
        quantity = document["quantities"][name]
        values = np.array([one["values"][name] for one in chosen])
        order, error = (
            (quantity["order_rows"], quantity["error_rows"])
            if along == "rows"
            else (quantity["order_strips"], quantity["error_strips"])
        )
        clear = order is not None
        limit = values[-1] - (error if clear else 0.0)
        shares = np.abs(values - limit) / quantity["natural_size"]
        shown = slice(None) if clear else slice(None, -1)
        axes.loglog(
            counts[shown], np.maximum(shares[shown], SMALLEST), marker=marker,
            ls="-" if clear else ":", label=f"${QUANTITIES[name].symbol}$",
        )  # fmt: skip
    _guides(axes, float(counts[0]), float(counts[-1]))
    axes.set_xlabel(f"{along}, at {finest} {other}")
    axes.set_xticks(counts, [f"{c:g}" for c in counts])
    axes.minorticks_off()
    return axes


def _guides(axes: Any, first: float, last: float) -> None:
    """Slopes of first and second order, as thin grey lines from the top left."""
    top = axes.get_ylim()[1]
    for order, text in ((1, "order 1"), (2, "order 2")):
        low = top * (first / last) ** order
        axes.plot([first, last], [top, low], color="0.6", lw=0.8, zorder=0)
        axes.annotate(text, (last, low), color="0.4", fontsize=8, ha="right", va="top")
