"""The straight wake against one that follows the flow, on three craft: for the theory page.

    python benchmarks/relaxed_wake.py [--quick] [--rows N] [--strips N]

Beside it, for one setting, how far the relaxed numbers depend on the way the wake is made.
"""

import argparse
from dataclasses import replace

import numpy as np

from vlm.description.folds import FoldAngles
from vlm.description.loading import load_biplane
from vlm.flow.relaxed import ChainSizes
from vlm.lattice.cellule import Grid, build_cellule
from vlm.lattice.lattice import build_lattice
from vlm.loads.craft_loads import CraftLoads, loads_of_state
from vlm.loads.relaxed_loads import relaxed_loads
from vlm.loads.state import FlightState
from vlm.study.convergence.wake_variants import VARIANTS
from vlm.study.point.evaluation import evaluated
from vlm.study.point.sizes import tip_sizes, wing_areas

WIDER = (
    "upper.span_m=1.26",
    "lower.span_m=1.26",
    "upper.root_chord_m=0.19",
    "lower.root_chord_m=0.19",
)
CRAFT = (
    ("tideline", "tideline", (), -90.0),
    ("tideline, wider", "tideline", WIDER, -90.0),
    ("winnow", "winnow", (), -80.0),
)
"""Name, geometry file, overrides, and the fold that closes the box or comes nearest to it."""
ALPHAS_DEG = (4.0, 8.0, 12.0)
NAMES = ("CL", "CDi", "Cl", "Cn", "Cl_beta", "hinge_moment_coefficient_upper_right")
SLIP_DEG = 0.0
DIGITS = (4, 5, 5, 5, 4, 4)


def folds_of(closed: float) -> tuple[tuple[str, FoldAngles], ...]:
    """The folds of the table."""
    box = "box" if closed == -90.0 else f"{closed:+g}"
    return (
        ("+20", FoldAngles(20.0, 20.0)),
        ("0", FoldAngles(0.0, 0.0)),
        ("-60", FoldAngles(-60.0, -60.0)),
        (box, FoldAngles(closed, closed)),
        ("+20/-20", FoldAngles(20.0, -20.0)),
    )


class Bench:
    """One craft on one grid."""

    def __init__(self, name: str, overrides: tuple[str, ...], grid: Grid) -> None:
        self.craft, self.grid = load_biplane(name, overrides), grid
        cellule = build_cellule(self.craft, grid)
        self.areas, self.tips = wing_areas(cellule), tip_sizes(cellule)

    def numbers(
        self, folds: FoldAngles, state: FlightState, sizes: ChainSizes | None
    ) -> list[float]:
        """The table's quantities; with the straight wake where no sizes are given."""
        lattice = build_lattice(self.craft, folds, self.grid)
        loads: CraftLoads
        if sizes is None:
            loads = loads_of_state(lattice, state, fold_rates=False)
        else:
            loads = relaxed_loads(lattice, state, sizes=sizes)
        values = evaluated(loads, state, self.areas, self.tips)
        return [float(values[name]) for name in NAMES]


def cells(straight: list[float], relaxed: list[float]) -> str:
    """Cells "straight, change" of one row."""
    parts = [f"{a:.{n}f} {b - a:+.{n}f}" for a, b, n in zip(straight, relaxed, DIGITS, strict=True)]
    return " | ".join(parts)


def table(grid: Grid, *, quick: bool) -> None:
    """Straight numbers and what relaxing adds, as a table in Markdown."""
    heads = ("craft", "fold", "alpha", "CL", "CDi", "Cl", "Cn", "Cl_beta", "hinge moment")
    print("| " + " | ".join(heads) + " |")
    print("| " + " | ".join("---" for _ in heads) + " |")
    for title, name, overrides, closed in CRAFT[: 1 if quick else None]:
        bench = Bench(name, overrides, grid)
        for label, folds in folds_of(closed):
            for alpha in ALPHAS_DEG[: 1 if quick else None]:
                state = FlightState(alpha=np.radians(alpha), beta=np.radians(SLIP_DEG))
                both = [bench.numbers(folds, state, sizes) for sizes in (None, ChainSizes())]
                print(f"| {title} | {label} | {alpha:g} | {cells(*both)} |", flush=True)


def dependence(grid: Grid, *, quick: bool) -> None:
    """What relaxing adds with the wake made in other ways."""
    name, folds = "tideline", (FoldAngles(20.0, -20.0), FoldAngles(-90.0, -90.0))
    state = FlightState(alpha=np.radians(12.0))
    bench = Bench(name, (), grid)
    print("\n| fold | wake | " + " | ".join((*NAMES[:-1], "hinge moment")) + " |")
    print("| " + " | ".join(["---"] * (2 + len(NAMES))) + " |")
    for setting in folds[: 1 if quick else None]:
        straight = bench.numbers(setting, state, None)
        label = f"{setting.left_deg:+g}/{setting.right_deg:+g}"
        for way, sizes in VARIANTS.items():
            relaxed = bench.numbers(setting, state, sizes)
            changes = [f"{b - a:+.{n}f}" for a, b, n in zip(straight, relaxed, DIGITS, strict=True)]
            print(f"| {label} | {way} | " + " | ".join(changes) + " |", flush=True)


def main() -> None:
    """Print both tables."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true", help="one small craft, coarse")
    parser.add_argument("--rows", type=int, default=8)
    parser.add_argument("--strips", type=int, default=20)
    given = parser.parse_args()
    grid = Grid(given.rows, given.strips)
    if given.quick:
        grid = replace(grid, rows=3, strips=10)
    table(grid, quick=given.quick)
    dependence(grid, quick=given.quick)


if __name__ == "__main__":
    main()
