"""The invented log of the demo craft in time, with its steady segments."""

from functools import lru_cache
from pathlib import Path
from typing import Any

from matplotlib.figure import Figure

from vlm.description import load_biplane
from vlm.log.analysis import Measured, log_craft, measured
from vlm.log.reading import read_log
from vlm.show.plots.log import time_traces, time_verdicts

LOG = Path(__file__).parents[2] / "geometries/logs/tideline-invented.csv"
KNOWN = (
    "log.airspeed_offset_m_s=0.28",
    "log.uncertainty.airspeed_offset_m_s=0.05",
    "propulsion.motor_efficiency=0.76",
)


@lru_cache(maxsize=1)
def flown() -> tuple[Any, Measured]:
    """The craft, and what its log says."""
    craft = load_biplane("tideline", KNOWN)
    return craft, measured(log_craft(craft), read_log(LOG, craft.log))


def drawn() -> Figure:
    """The figure."""
    _, result = flown()
    figure = Figure(figsize=(11.0, 7.4), layout="constrained")
    axes = figure.subplots(4, 1, sharex=True, height_ratios=(3, 3, 2, 1.6))
    time_traces(axes[:3], result)
    time_verdicts(axes[3], result)
    return figure
