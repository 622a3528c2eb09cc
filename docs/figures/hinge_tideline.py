"""The mechanism of the demo craft: hinge moments, worm gear, loads along the wing."""

from functools import lru_cache

import numpy as np
from matplotlib.figure import Figure

from vlm.description import load_biplane
from vlm.flight.motion.roll_authority import Air
from vlm.lattice.cellule import Grid
from vlm.show.plots.hinge import (
    BENDING,
    moment_against_airspeed,
    moment_parts,
    wing_loads,
    worm_curves,
)
from vlm.study.hinge.results import HingePlan, HingeStudy
from vlm.study.hinge.study import hinge_study


@lru_cache(maxsize=1)
def study() -> HingeStudy:
    """The study that the figure shows."""
    folds = tuple(float(f) for f in np.arange(-90.0, 91.0, 15.0))
    plan = HingePlan(Air(13.0), folds, airspeeds=(13.0, 19.0, 26.0, 34.0), grid=Grid(6, 14))
    return hinge_study(load_biplane("tideline"), plan)


def drawn() -> Figure:
    """The figure."""
    figure = Figure(figsize=(11.0, 8.8), layout="constrained")
    axes = figure.subplots(2, 2)
    moment_parts(axes[0, 0], study(), 1.0, 13.0)
    moment_against_airspeed(axes[0, 1], study())
    worm_curves(axes[1, 0], study())
    wing_loads(axes[1, 1], study(), BENDING)
    return figure
