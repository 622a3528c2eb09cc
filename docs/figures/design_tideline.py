"""A search of the demo craft's tip span: the trade, with the same craft fixed beside it."""

from functools import lru_cache
from typing import Any

from matplotlib.figure import Figure

from vlm.description.loading import load_biplane
from vlm.lattice.cellule import Grid
from vlm.show.plots.design import design_axes
from vlm.study.design.changes import checked_key
from vlm.study.design.evaluator import DesignPlan
from vlm.study.design.goals import GoalPlan
from vlm.study.design.report import design_document
from vlm.study.design.study import design_study

KEY = "upper.tips.span_m"


@lru_cache(maxsize=1)
def document() -> Any:
    """The search that the figure shows."""
    craft = load_biplane("tideline")
    goal = GoalPlan("power", airspeed=14.0, fold_deg=8.0, grid=Grid(2, 8))
    keys = (checked_key(craft, KEY, 0.05, 0.7),)
    plan = DesignPlan(keys, goal, starts=1, trade_key=KEY, trade_points=14)
    return design_document(design_study(craft, plan))


def drawn() -> Figure:
    """The figure."""
    figure = Figure(figsize=(7.5, 4.2), layout="constrained")
    axes = figure.subplots()
    design_axes(axes, document())
    axes.spines[["top", "right"]].set_visible(False)
    return figure
