"""How far errors cancel in a difference: what ``vlm/study/compare/study.py`` rests on.

    python benchmarks/compared_differences.py [--rows N] [--strips N]

Pairs of shipped craft, changed and unchanged, folded alike and unlike, are solved on a lattice, a
coarser and a much finer one, with the straight and the relaxed wake. Printed by quantity: how often
the finer lattice's difference lies within the half-width, and the largest share of the smaller
wake's allowance that was needed besides the difference of both (SHARED is 0.2).
"""

import argparse
from collections import defaultdict
from itertools import combinations

import numpy as np

from vlm.description import FoldAngles, load_biplane
from vlm.lattice.cellule import Grid, build_cellule
from vlm.lattice.lattice import build_lattice
from vlm.loads.craft_loads import loads_of_state
from vlm.loads.model_spread import wake_spread
from vlm.loads.relaxed_loads import relaxed_loads
from vlm.loads.state import FlightState
from vlm.study.point.errors import coarser, error_floors, half_widths
from vlm.study.point.evaluation import evaluated
from vlm.study.point.sizes import tip_sizes, wing_areas

CASES = {
    "tideline": [((), 0.0), ((), 15.0), ((), -45.0), (("arrangement.gap_m=0.45",), 0.0),
                 (("arrangement.stagger_m=0.12",), 0.0), (("upper.tips.span_m=0.42",), 15.0),
                 (("lower.span_m=0.7",), 0.0)],
    "winnow": [((), 0.0), ((), 20.0), (("upper.sweep_deg=8",), 20.0),
               (("upper.incidence_deg=1",), 0.0)],
}  # fmt: skip
NAMES = ("CL", "CDi", "Cm", "Cl_beta", "Cn_beta", "CY_beta", "Cm_alpha", "span_efficiency")
STATE = FlightState(alpha=float(np.radians(4.0)))


def numbers(name: str, changes: tuple[str, ...], fold: float, grid: Grid) -> dict[str, dict]:
    """Numbers of one case by how they were found, with floors and allowances."""
    craft, folds = load_biplane(name, changes), FoldAngles.symmetric(fold)
    cellule = build_cellule(craft, grid)
    sizes = wing_areas(cellule), tip_sizes(cellule)

    def at(one: Grid) -> tuple:
        loads = loads_of_state(build_lattice(craft, folds, one), STATE)
        return loads, evaluated(loads, STATE, *sizes)

    loads, fine = at(grid)
    relaxed = evaluated(relaxed_loads(build_lattice(craft, folds, grid), STATE), STATE, *sizes)
    return {
        "fine": fine,
        "rough": at(coarser(grid))[1],
        "finer": at(Grid(12, 32))[1],
        "relaxed": relaxed,
        "floor": error_floors(loads, STATE, fine, *sizes),
        "wake": wake_spread(loads, STATE),
    }


def main() -> None:
    """Print both tables."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rows", type=int, default=5)
    parser.add_argument("--strips", type=int, default=12)
    asked = parser.parse_args()
    grid = Grid(asked.rows, asked.strips)
    errors, shares = defaultdict(list), defaultdict(list)
    for craft, cases in CASES.items():
        found = [numbers(craft, changes, fold, grid) for changes, fold in cases]
        for a, b in combinations(found, 2):
            for key in NAMES:
                apart = {way: float(b[way][key] - a[way][key]) for way in
                         ("fine", "rough", "finer", "relaxed")}  # fmt: skip
                floor = max(float(a["floor"][key]), float(b["floor"][key]))
                width = half_widths(
                    {key: apart["fine"]}, {key: apart["rough"]}, {key: floor}, grid
                )[key]
                errors[key].append(abs(apart["finer"] - apart["fine"]) / width)
                if key in a["wake"]:
                    low, high = sorted((float(a["wake"][key]), float(b["wake"][key])))
                    more = abs(apart["relaxed"] - apart["fine"]) - (high - low)
                    shares[key].append(max(0.0, more) / low)
    for key in NAMES:
        within = np.mean(np.array(errors[key]) <= 1.0)
        share = f"{max(shares[key]):.2f}" if shares[key] else "-"
        print(f"{key:16} within {within:.2f}, worst {max(errors[key]):.2f}; share needed {share}")


if __name__ == "__main__":
    main()
