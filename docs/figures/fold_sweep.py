"""The demo craft from -90 to 120 degrees in steps of 5, both tips and the port tip alone."""

from functools import lru_cache
from typing import Any

import numpy as np
from matplotlib.figure import Figure

from vlm.description import FoldAngles, load_biplane
from vlm.lattice.cellule import Grid
from vlm.show.branches import changes, gapped
from vlm.show.labelling import degree_ticks, end_labels, label, titled
from vlm.study.sweep.cases import solve_cases
from vlm.study.sweep.plan import Case, SweepPlan

STEP = 5.0
BOX_DEG = -90.0
"""Fold at which the tip meets the lower wing; no curve leads there."""
SHOWN = ("CL", "span_efficiency", "Cl_beta", "Cl")


@lru_cache(maxsize=1)
def results() -> tuple[Any, Any, Any]:
    """Folds, values with both tips folded alike, and with the port tip alone."""
    craft = load_biplane("tideline")
    folds = np.arange(-90.0, 120.1, STEP)
    plan = SweepPlan(tuple(folds), alphas_deg=(4.0,), grid=Grid(8, 20), errors=True)
    both = solve_cases(craft, plan, plan.cases())
    alone = solve_cases(craft, plan, [Case((i,), FoldAngles(f, 0.0)) for i, f in enumerate(folds)])
    return folds, both, alone


def drawn() -> Figure:
    """The figure."""
    folds, both, alone = results()
    figure = Figure(figsize=(9.5, 7.0), layout="constrained")
    for axes, name in zip(figure.subplots(2, 2).flat, SHOWN, strict=True):
        lines = []
        for found, words, style in ((both, "both tips", "o-"), (alone, "port tip", "s--")):
            values = np.array([float(v[name][0, 0]) for v in found])
            width = np.array([float(v[f"{name}_error"][0, 0]) for v in found])
            at, middle, half = gapped(folds, changes(folds == BOX_DEG), values, 10 * width)
            (line,) = axes.plot(at, middle, style, markersize=2.5)
            lines.append((line, words))
            axes.fill_between(at, middle - half, middle + half, alpha=0.3, lw=0)
            axes.errorbar(at[:1], middle[:1], half[:1], fmt="none", ecolor=line.get_color(),
                          elinewidth=0.8, capsize=2)  # fmt: skip
        axes.set_xlabel("fold [deg], positive raises the tips")
        axes.set_ylabel(label(name))
        axes.set_title(titled(name).partition("\n")[0], loc="left")
        degree_ticks(axes.xaxis)
        if name in ("Cl_beta", "Cl"):
            axes.axhline(0.0, color="k", lw=0.6)
        end_labels(axes, lines)
    figure.suptitle("Tideline at 4 degrees angle of attack; bands: ten times the error estimate")
    return figure
