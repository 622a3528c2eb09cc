"""How the rooms of the package stand to each other: what a geometry file goes through."""

from drawing import BODY, FOLD, GEOMETRY, INK, PALE, WIND, Label, arrow, written
from matplotlib.figure import Figure
from matplotlib.patches import FancyBboxPatch

ROWS = (
    (GEOMETRY, (("description", "what is built\nand asked"), ("lattice", "panels of\none fold"),
                ("flow", "influence,\nunit flows"), ("loads", "forces, drag,\nderivatives"))),
    (WIND, (("chart", "any fold from\na few solves"), ("sections", "viscous drag,\nstall"),
            ("power", "rotors, motors,\nbattery"), ("unsteady", "how the\nair lags"))),
    (BODY, (("flight", "trim, motion, mechanism,\nschedule, mission"),
            ("log", "flight logs,\nfits"))),
    (FOLD, (("study", "sweeps, maps, comparisons, design:\ntyped results, datasets"),
            ("show", "tables, plots,\nreport, 3-D"), ("cli, front", "commands,\nPython"))),
)  # fmt: skip
WIDTH, HEIGHT, STEP = 10.0, 1.15, 1.75


def drawn() -> Figure:
    """The figure."""
    figure = Figure(figsize=(9.0, 5.6), layout="constrained")
    axes = figure.subplots()
    axes.set_xlim(-0.2, WIDTH + 0.2)
    axes.set_ylim(-0.95, STEP * len(ROWS) - 0.2)
    axes.axis("off")
    for level, (colour, rooms) in enumerate(ROWS):
        up = STEP * (len(ROWS) - 1 - level)
        sizes = [max(len(line) for line in words.split("\n")) + 4 for _, words in rooms]
        scale = (WIDTH - 0.3 * (len(rooms) - 1)) / sum(sizes)
        left = 0.0
        for place, ((name, words), size) in enumerate(zip(rooms, sizes, strict=True)):
            wide = scale * size
            axes.add_patch(FancyBboxPatch((left, up), wide, HEIGHT, fc="white", ec=colour, lw=1.8,
                                          boxstyle="round,pad=0,rounding_size=0.12"))  # fmt: skip
            middle = left + 0.5 * wide
            axes.text(middle, up + 0.86, name, ha="center", va="center", fontsize=11,
                      fontweight="bold", color=colour)  # fmt: skip
            axes.text(middle, up + 0.38, words, ha="center", va="center", fontsize=9, color=INK)
            if place:
                arrow(axes, (left - 0.28, up + 0.5 * HEIGHT), (left - 0.02, up + 0.5 * HEIGHT),
                      PALE, width=1.2)  # fmt: skip
            left += wide + 0.3
        if level:
            arrow(axes, (0.5 * WIDTH, up + STEP), (0.5 * WIDTH, up + HEIGHT + 0.03), PALE,
                  width=1.2)  # fmt: skip
    written(axes, (0.5 * WIDTH, -0.5), Label(
        "ground floor, open to all: quantities, constants, errors, frames, air, findings, progress",
        size=9.0,
    ))  # fmt: skip
    return figure
