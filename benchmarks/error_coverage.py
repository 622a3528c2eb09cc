"""Whether half-widths of the lattice's error cover it, and how wide they are.

    python benchmarks/error_coverage.py [--first SEED] [--count N] [--rows N] [--strips N] [--old]

Random craft, folds and states (``tests/wide_craft.py``; with ``--old`` ``tests/random_craft.py``)
on the default lattice against a much finer one with other strips (equal numbers by length, strips
crowded at every hinge, kink and end). For every quantity: covered share, median of half-width over
error, and the floor that would have covered 96 of 100.
"""

import argparse
import sys
from pathlib import Path
from typing import Any

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "tests"))

from random_craft import RandomCase, random_case
from wide_craft import wide_case

from vlm.errors import FoldspanError
from vlm.lattice.cellule import Grid, build_cellule
from vlm.lattice.lattice import build_lattice
from vlm.loads.all_sizes import all_sizes
from vlm.loads.craft_loads import CraftLoads, loads_of_state
from vlm.study.point.errors import (
    allowance_of,
    coarser,
    error_floors,
    half_widths,
    refinement,
)
from vlm.study.point.evaluation import evaluated
from vlm.study.point.sizes import tip_sizes, wing_areas

NOTHING = 1e-10
TRUTH = Grid(20, 50, span_law="cosine")

Row = dict[str, tuple[float, float, float, float]]


def short_name(name: str) -> str:
    """Both sides and wings under one name."""
    for word in ("_left", "_right", "_upper", "_lower"):
        name = name.replace(word, "")
    return name


def row_of(case: RandomCase, truth: Grid, grid: Grid) -> Row:
    """By quantity: error, half-width, what two lattices say of it, and natural size."""

    def solved(one: Grid) -> tuple[CraftLoads, dict[str, Any]]:
        loads = loads_of_state(build_lattice(case.craft, case.folds, one), case.state)
        cellule = build_cellule(case.craft, one)
        return loads, evaluated(loads, case.state, wing_areas(cellule), tip_sizes(cellule))

    (fine, values), (_, rough), (_, exact) = solved(grid), solved(coarser(grid)), solved(truth)
    cellule = build_cellule(case.craft, grid)
    floors = error_floors(fine, case.state, values, wing_areas(cellule), tip_sizes(cellule))
    sizes = all_sizes(fine, case.state, values, wing_areas(cellule), tip_sizes(cellule))
    widths = half_widths(values, rough, floors, grid, fine.reference.chord)
    found: Row = {}
    for name, width in widths.items():
        error = abs(float(values[name]) - float(exact[name]))
        floor = float(floors.get(name, np.nan)) * refinement(grid)
        shown = float(width) - floor
        unit = float(sizes.get(name, np.nan)) * refinement(grid)
        if np.isfinite(error):
            found[name] = (error, float(width), shown, unit)
    return found


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--first", type=int, default=3000)
    parser.add_argument("--count", type=int, default=200)
    parser.add_argument("--rows", type=int, default=Grid().rows)
    parser.add_argument("--strips", type=int, default=Grid().strips)
    parser.add_argument("--old", action="store_true", help="craft of the narrower range")
    asked = parser.parse_args()
    grid = Grid(asked.rows, asked.strips)
    draw = random_case if asked.old else wide_case
    pairs: dict[str, list[tuple[float, float, float, float]]] = {}
    for seed in range(asked.first, asked.first + asked.count):
        try:
            found = row_of(draw(seed), TRUTH, grid)
        except FoldspanError as error:
            print(f"seed {seed}: {error}", file=sys.stderr)
            continue
        for name, values in found.items():
            pairs.setdefault(short_name(name), []).append(values)
    print(f"{'quantity':36}{'cases':>6}{'covered':>9}{'wide':>7}{'floor for 96':>14}{'floor':>8}")
    for name, rows in pairs.items():
        error, width, shown, unit = np.array(rows).T
        some = error > NOTHING
        covered = np.mean(error <= width + NOTHING)
        wide = np.median(width[some] / error[some])
        left = np.maximum(error - shown, 0.0)[some] / unit[some]
        needed = float(np.quantile(left, 0.96))
        print(
            f"{name:36}{len(rows):6d}{100.0 * covered:9.1f}{wide:7.1f}{needed:14.4f}"
            f"{allowance_of(name).floor:8.4f}",
            flush=True,
        )


if __name__ == "__main__":
    main()
