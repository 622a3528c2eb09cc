"""Power of the demo craft against airspeed with its intervals, and what separates its settings."""

from functools import lru_cache
from typing import Any

from matplotlib.figure import Figure

from vlm.description import load_biplane
from vlm.show.plots.power import difference_axes, power_axes
from vlm.study.power.results import power_document
from vlm.study.power.study import PowerPlan, power_study

SHOWN = ("open", "loiter", "dash")
MOST_PERCENT = 60.0


@lru_cache(maxsize=1)
def document() -> Any:
    """The study that the figure shows."""
    craft = load_biplane("tideline")
    settings = {name: craft.configurations[name].folds for name in SHOWN}
    return power_document(power_study(craft, PowerPlan(settings=settings)))


def drawn() -> Figure:
    """The figure."""
    figure = Figure(figsize=(11.0, 4.8), layout="constrained")
    left, right = figure.subplots(1, 2)
    power_axes(left, document())
    difference_axes(right, document())
    return figure
