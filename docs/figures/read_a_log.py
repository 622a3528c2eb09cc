"""The invented log over the predicted curves, and the time aloft that follows from it."""

from dataclasses import replace
from typing import Any

import numpy as np
from log_time import flown
from matplotlib.figure import Figure

from vlm.log.analysis import LogPlan
from vlm.log.craft_study import compared_with_craft
from vlm.show.labelling import end_labels
from vlm.show.plots.log import bins_over_curves
from vlm.show.style import COLOURS

SHOWN = "loiter"
TASK_MIN = 50.0


def drawn() -> Figure:
    """The figure."""
    craft, result = flown()
    result = replace(result, plan=LogPlan(fit=("drag_area_m2",)))
    against = compared_with_craft(craft, result)
    figure = Figure(figsize=(11.0, 4.6), layout="constrained")
    left, right = figure.subplots(1, 2)
    bins_over_curves(left, result, against)
    usable = 60.0 * craft.propulsion.battery_energy_Wh * craft.propulsion.battery_usable
    _time_aloft(right, usable, result, against)
    right.set_xlim(left.get_xlim())
    return figure


def _time_aloft(axes: Any, usable: float, result: Any, against: Any) -> None:
    """Minutes aloft on one battery; ``usable`` in watt minutes."""
    lines = []
    for curve, dash, words in (
        (against.curves[SHOWN], "--", "geometry file"),
        (against.fitted_curves[SHOWN], "-", "fitted"),
    ):
        (line,) = axes.plot(curve.airspeed_m_s, usable / curve.power_W, dash, color=COLOURS[0])
        lines.append((line, words))
    bins = result.binned[SHOWN].bins
    minutes = np.array([usable / b.power_W for b in bins])
    ends = np.array([[usable / b.interval_W[1], usable / b.interval_W[0]] for b in bins])
    axes.errorbar([b.airspeed_m_s for b in bins], minutes, np.abs(ends.T - minutes), fmt="o",
                  color=COLOURS[0], capsize=2.5, markersize=5)  # fmt: skip
    axes.axhline(TASK_MIN, color="k", lw=0.9, ls=":")
    axes.annotate("tomorrow's survey", (0.98, TASK_MIN), xycoords=("axes fraction", "data"),
                  xytext=(0, 2), textcoords="offset points", ha="right", fontsize=8)  # fmt: skip
    axes.set_ylim(bottom=0.0)
    axes.set_xlabel("true airspeed [m/s]")
    axes.set_ylabel("time aloft on one battery [min]")
    axes.set_title(f"{SHOWN}: points measured", loc="left")
    end_labels(axes, lines)
