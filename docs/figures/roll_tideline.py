"""Rolling by folding of the demo craft: the map, authority against airspeed, bank in time."""

from functools import lru_cache

from matplotlib.figure import Figure

from vlm.description import load_biplane
from vlm.flight.motion.roll_authority import Air
from vlm.lattice.cellule import Grid
from vlm.show.plots.roll import (
    authority_curves,
    bank_histories,
    command_curves,
    moment_map,
    pairs_on_map,
)
from vlm.study.roll.results import RollStudy
from vlm.study.roll.study import RollPlan, roll_study


@lru_cache(maxsize=1)
def study() -> RollStudy:
    """The study that the figure shows."""
    plan = RollPlan(Air(13.0), base_deg=-45.0, step_deg=15.0, duration=2.5, grid=Grid(6, 14))
    return roll_study(load_biplane("tideline"), plan)


def drawn() -> Figure:
    """The figure."""
    figure = Figure(figsize=(11.0, 8.8), layout="constrained")
    axes = figure.subplots(2, 2)
    moment_map(axes[0, 0], study(), "rolling_moment_N_m")
    pairs_on_map(axes[0, 0], study())
    command_curves(axes[0, 1], study())
    authority_curves(axes[1, 0], study())
    bank_histories(axes[1, 1], study())
    return figure
