"""What folding is worth to the demo craft: energy of both missions over the span of fixed tips."""

from functools import lru_cache

import numpy as np
from matplotlib.figure import Figure

from vlm.description.loading import load_biplane
from vlm.description.mission_file import load_mission
from vlm.lattice.cellule import Grid
from vlm.show.style import COLOURS
from vlm.study.design.changes import designed
from vlm.study.design.goals import GoalPlan, fixed_worth, worth

MISSIONS = {"long_survey": "the long survey", "long_transit": "the long transit"}
SHARES = np.array([0.25, 0.5, 0.75, 1.0, 1.25, 1.5])
KEY = "upper.tips.span_m"


@lru_cache(maxsize=1)
def energies() -> dict[str, tuple[float, list[float]]]:
    """By mission, energy along the schedule, and flat without the mechanism at every span [Wh]."""
    craft = load_biplane("tideline", ["schedule.speeds=4"])
    assert craft.upper.tips is not None
    assert craft.upper.tips.span_m is not None
    found = {}
    for name in MISSIONS:
        plan = GoalPlan("energy", legs=load_mission(name).mission, fold_count=3, grid=Grid(2, 8))
        made = [designed(craft, {KEY: float(s) * craft.upper.tips.span_m}) for s in SHARES]
        fixed = [fixed_worth(one, plan, 0.0).value for one in made]
        found[name] = (worth(craft, plan).value, fixed)
    return found


def drawn() -> Figure:
    """The figure."""
    figure = Figure(figsize=(8.0, 3.6), layout="constrained")
    for axes, (name, words) in zip(figure.subplots(1, 2), MISSIONS.items(), strict=True):
        folding, fixed = energies()[name]
        axes.plot(SHARES, fixed, "o-", color=COLOURS[1], ms=4)
        axes.axhline(folding, color=COLOURS[0])
        falls = fixed[-1] < fixed[0]
        axes.annotate(
            "folding, tips as in the file", (SHARES[-1 if falls else 0], folding), xytext=(0, 4),
            textcoords="offset points", color=COLOURS[0], fontsize=8.5,
            ha="right" if falls else "left",
        )  # fmt: skip
        axes.annotate(
            "flat, no mechanism", (SHARES[3], fixed[3]), xytext=(6, 4 if falls else -12),
            textcoords="offset points", color=COLOURS[1], fontsize=8.5,
        )  # fmt: skip
        axes.set_title(words)
        axes.set_xlabel("span of the tips over that in the file [1]")
        axes.set_ylabel("energy of the mission [Wh]")
        axes.spines[["top", "right"]].set_visible(False)
        axes.grid(alpha=0.3)
    return figure
