"""A published log in time, with the few stretches that are steady."""

from pathlib import Path

from matplotlib.figure import Figure

from vlm.description.loading import load_biplane_text
from vlm.log.analysis import log_craft, measured
from vlm.log.proposing import proposed
from vlm.log.reading import read_log
from vlm.show.plots.log import time_traces, time_verdicts

LOG = Path(__file__).parents[2] / "geometries/logs/tailsitter-published.csv"
CRAFT = """title = "A published tail-sitter, stand-in dimensions"

[upper]
span_m = 1.0
root_chord_m = 0.2
end_chord_m = 0.2

[configurations]
wings = { fold_deg = 0 }

"""


def drawn() -> Figure:
    """The figure."""
    craft = load_biplane_text(CRAFT + proposed([LOG], ["wings"]).block)
    result = measured(log_craft(craft), read_log(LOG, craft.log))
    figure = Figure(figsize=(11.0, 7.0), layout="constrained")
    axes = figure.subplots(4, 1, sharex=True, height_ratios=(3, 3, 2, 1.6))
    time_traces(axes[:3], result)
    time_verdicts(axes[3], result)
    return figure
