"""Lateral stability of the demo craft: dihedral effect, its parts, roots."""

from functools import lru_cache

import numpy as np
from matplotlib.figure import Figure

from vlm.description import load_biplane
from vlm.flight.motion.roll_authority import Air
from vlm.lattice.cellule import Grid
from vlm.show.plots.lateral import aid_curves, dihedral_curves, root_locus, share_bars
from vlm.study.lateral.results import LateralStudy
from vlm.study.lateral.study import LateralPlan, lateral_study


@lru_cache(maxsize=1)
def study() -> LateralStudy:
    """The study that the figure shows."""
    folds = tuple(float(f) for f in np.arange(-90.0, 91.0, 15.0))
    plan = LateralPlan(
        Air(13.0), folds, shares_deg=(-90.0, -60.0, -30.0, 0.0, 30.0, 60.0),
        airspeeds=(11.0, 13.0, 18.0), grid=Grid(6, 16),
    )  # fmt: skip
    return lateral_study(load_biplane("tideline"), plan)


def drawn() -> Figure:
    """The figure."""
    figure = Figure(figsize=(11.0, 8.8), layout="constrained")
    axes = figure.subplots(2, 2)
    dihedral_curves(axes[0, 0], study())
    share_bars(axes[0, 1], study())
    root_locus(axes[1, 0], study(), "lateral")
    aid_curves(axes[1, 1], study())
    return figure
