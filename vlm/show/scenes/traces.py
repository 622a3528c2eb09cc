"""Small charts under the craft: lift, dihedral effect, hinge moment over the fold of both sides."""

from itertools import pairwise
from typing import Any

import numpy as np

from vlm.show.branches import changes
from vlm.show.scenes.scene import pyvista
from vlm.show.words import tip_words
from vlm.study.point.fold_trace import TRACED, FoldTrace
from vlm.study.point.session import Setting

LINE, PORT, STARBOARD, ZERO = "#005a94", "#b03a48", "#00704a", "#8796a5"
WIDTH, HEIGHT, LEFT, BOTTOM, STEP = 0.215, 0.2, 0.012, 0.245, 0.222
"""Size and places of the charts, shares of the window."""
TITLES = {
    "CL": "CL, both tips folded alike",
    "Cl_beta": "Cl_beta [1/rad], wings alone, stable < 0",
    "hinge_moment_N_m": "moment, {hinge} hinge [N m]",
}


class Traces:
    """The charts in a window; curves are broken where a tip touches a wing.

    Vertical lines stand at the folds of port (red) and starboard (green).

    Parameters
    ----------
    plotter : of pyvista
    trace : what is drawn first; later ones have the same folds
    """

    def __init__(self, plotter: Any, trace: FoldTrace) -> None:
        self._curves: dict[str, list[tuple[slice, Any]]] = {}
        self._folds: dict[str, tuple[Any, Any]] = {}
        self._charts: dict[str, Any] = {}
        after = changes(trace.joined)
        edges = [0, *after, len(trace.folds_deg)]
        parts = [slice(a, b) for a, b in pairwise(edges)]
        for place, name in enumerate(TRACED):
            chart = pyvista().Chart2D(
                size=(WIDTH, HEIGHT), loc=(LEFT + STEP * place, BOTTOM),
                x_label="fold [deg]", y_label="", grid=False,
            )  # fmt: skip
            chart.title = TITLES[name].format(hinge=tip_words(trace.hinge))
            chart.background_color = (1.0, 1.0, 1.0, 0.85)
            for axis in (chart.x_axis, chart.y_axis):
                axis.tick_label_size, axis.label_size = 10, 11
            ends = trace.folds_deg[[0, -1]]
            chart.line(ends, [0.0, 0.0], color=ZERO, width=1.0)
            self._curves[name] = [(part, self._drawn(chart, trace, name, part)) for part in parts]
            port, starboard = (
                chart.line([ends[0]] * 2, [0.0, 0.0], color=colour, width=1.5, style="--")
                for colour in (PORT, STARBOARD)
            )
            self._folds[name] = port, starboard
            chart.x_range = [float(ends[0]), float(ends[1])]
            plotter.add_chart(chart)
            self._charts[name] = chart

    @staticmethod
    def _drawn(chart: Any, trace: FoldTrace, name: str, part: slice) -> Any:
        x, y = trace.folds_deg[part], trace.values[name][part]
        if len(x) == 1:
            return chart.scatter(x, y, color=LINE, size=8, style="o")
        return chart.line(x, y, color=LINE, width=2.0)

    def shown(self, trace: FoldTrace, setting: Setting) -> None:
        """Draw new values, and where the tips stand."""
        for name, curves in self._curves.items():
            values = trace.values[name]
            for part, curve in curves:
                curve.update(trace.folds_deg[part], values[part])
            low, high = min(0.0, float(np.min(values))), max(0.0, float(np.max(values)))
            room = 0.08 * (high - low) or 1.0
            self._charts[name].y_range = [low - room, high + room]
            for line, fold in zip(
                self._folds[name], (setting.left_deg, setting.right_deg), strict=True
            ):
                line.update([fold, fold], [low - room, high + room])
