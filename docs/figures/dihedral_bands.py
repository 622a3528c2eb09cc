"""The demo craft's dihedral effect against fold, with two bands: lattice and model."""

from functools import lru_cache
from typing import Any

import numpy as np
from matplotlib.figure import Figure

from vlm.description import load_biplane
from vlm.lattice.cellule import Grid
from vlm.show.labelling import degree_ticks
from vlm.study.sweep.cases import solve_cases
from vlm.study.sweep.plan import SweepPlan

STEP = 2.5
LOW, HIGH = -90.0, 40.0


@lru_cache(maxsize=1)
def results() -> tuple[Any, Any, Any, Any]:
    """Folds, values, half-widths of the lattice's error and of the model's spread."""
    craft = load_biplane("tideline")
    folds = np.arange(LOW, HIGH + 0.1, STEP)
    plan = SweepPlan(tuple(folds), alphas_deg=(4.0,), grid=Grid(8, 20), errors=True, exact=True)
    found = solve_cases(craft, plan, plan.cases())
    columns = [
        np.array([float(values[name][0, 0]) for values in found])
        for name in ("Cl_beta", "Cl_beta_error", "Cl_beta_spread")
    ]
    return folds, *columns


def drawn() -> Figure:
    """The figure."""
    folds, values, error, spread = results()
    figure = Figure(figsize=(9.5, 4.6), layout="constrained")
    axes = figure.subplots()
    # Contact is another branch: no line is drawn to the closed box.
    apart = slice(1, None)
    axes.plot(folds[apart], values[apart], "k-", lw=1.2)
    for width, words, colour in (
        (error + spread, "with what the model leaves open", "#9ecae1"),
        (error, "error of the lattice", "#3182bd"),
    ):
        low, high = values - width, values + width
        axes.fill_between(folds[apart], low[apart], high[apart], color=colour, lw=0, label=words)
        axes.errorbar(folds[:1], values[:1], width[:1], fmt="ko", ecolor=colour, capsize=4, lw=3)
    unknown = np.abs(values) <= error + spread
    for fold in folds[unknown]:
        axes.axvspan(fold - 0.5 * STEP, fold + 0.5 * STEP, color="0.9", zorder=0)
    axes.axhline(0.0, color="k", lw=0.8)
    axes.set_xlabel("fold of both tips [deg], positive raises them")
    axes.set_ylabel("dihedral effect $C_{l\\beta}$ [1/rad]; negative is stable")
    axes.set_title(
        "Stable with the tips flat or raised, unstable lowered; in the grey stretches the sign is"
        " not known", loc="left", fontsize=10,
    )  # fmt: skip
    degree_ticks(axes.xaxis)
    axes.legend(loc="upper right", frameon=False)
    return figure
