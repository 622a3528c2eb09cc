"""The invented log of the demo craft against its power curve, before and after a fit."""

from dataclasses import replace

from log_time import flown
from matplotlib.figure import Figure

from vlm.log.analysis import LogPlan
from vlm.log.craft_study import compared_with_craft
from vlm.show.plots.log import bins_over_curves, difference_bars, profile_curve, residual_points


def drawn() -> Figure:
    """The figure."""
    craft, result = flown()
    result = replace(result, plan=LogPlan(fit=("drag_area_m2",)))
    against = compared_with_craft(craft, result)
    figure = Figure(figsize=(11.0, 8.8), layout="constrained")
    axes = figure.subplots(2, 2)
    bins_over_curves(axes[0, 0], result, against)
    difference_bars(axes[0, 1], result.differences[0])
    residual_points(axes[1, 0], result, against)
    profile_curve(axes[1, 1], against.fit.estimates[0], result.plan.level)
    return figure
