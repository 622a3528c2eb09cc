"""When folding pays: the light demo craft with its own sections and with others, and pitch trim."""

from functools import lru_cache
from typing import Any

import numpy as np
from matplotlib.figure import Figure

from vlm.description import FoldAngles, load_biplane
from vlm.lattice.cellule import Grid
from vlm.show.style import COLOURS
from vlm.study.power.results import power_document
from vlm.study.power.study import PowerPlan, power_study

SPEEDS = tuple(float(u) for u in np.linspace(7.0, 15.0, 9))
MOMENTS = (-0.09, -0.04)


@lru_cache(maxsize=2)
def document(moment: float) -> Any:
    """Power open and boxed, with sections of this moment coefficient."""
    craft = load_biplane("thistle", [f"sections.foil.cm_quarter_chord={moment}"])
    settings = {"open": FoldAngles(), "box": FoldAngles(-90.0, -90.0)}
    return power_document(power_study(craft, PowerPlan(settings, SPEEDS, grid=Grid(3, 12))))


def drawn() -> Figure:
    """The figure."""
    figure = Figure(figsize=(11.0, 4.6), layout="constrained")
    left, right = figure.subplots(1, 2)
    for moment, colour in zip(MOMENTS, COLOURS, strict=False):
        found = document(moment)["differences"][0]
        columns = ["difference_percent", "difference_percent_low", "difference_percent_high"]
        # Where the open craft is beyond a limit there is nothing to compare.
        middle, low, high = (np.array(found[key], dtype=float) for key in columns)
        left.plot(SPEEDS, middle, color=colour)
        left.fill_between(SPEEDS, low, high, color=colour, alpha=0.2, lw=0)
        last = int(np.flatnonzero(np.isfinite(middle))[-1])
        left.annotate(f"cm {moment:g}", (SPEEDS[last], middle[last]), xytext=(4, 0),
                      textcoords="offset points", va="center", color=colour)  # fmt: skip
    left.axhline(0.0, color="k", lw=0.8)
    left.set_ylabel("power of the closed box above that of open tips [%]")
    for name, colour in zip(("open", "box"), COLOURS[2:], strict=False):
        one = document(MOMENTS[0])["configurations"][name]
        share = 100.0 * np.array(one["pitch_trim_W"]) / np.array(one["electrical_power_W"])
        right.plot(SPEEDS, share, color=colour)
        right.annotate(name, (SPEEDS[-1], share[-1]), xytext=(4, 0), textcoords="offset points",
                       va="center", color=colour)  # fmt: skip
    right.set_ylim(bottom=0.0)
    right.set_ylabel("part of the power that pitch trim costs, cm -0.09 [%]")
    for axes in (left, right):
        axes.set_xlabel("airspeed [m/s]")
        axes.spines[["top", "right"]].set_visible(False)
        axes.margins(x=0.12)
    return figure
