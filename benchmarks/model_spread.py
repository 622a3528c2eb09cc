"""How much a wake that follows the flow moves the numbers: the fit behind the model's allowance.

    python benchmarks/model_spread.py [--first SEED] [--count N] [--rows N] [--strips N]

Random craft, folds and states (``tests/random_craft.py``, the angle of attack stretched to -5 to 13
degrees) are solved with the straight and with the relaxed wake. For every quantity the difference
is put over equation (16) without its share (``vlm/loads/model_spread.py``); printed are quantiles
of that ratio, the share that covers 97 of 100, and what the module's own share covers.
"""

import argparse
import sys
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "tests"))

from random_craft import RandomCase, random_case

from vlm.errors import ComputationFailed
from vlm.flight.mechanism.wing_bending import (
    HalfWing,
    StripLoads,
    half_wings,
    root_loads,
    root_sizes,
    with_beside,
)
from vlm.lattice.cellule import Grid, build_cellule
from vlm.lattice.lattice import build_lattice
from vlm.loads.craft_loads import CraftLoads, loads_of_state
from vlm.loads.model_spread import ALONG_WINGS, HINGE, SHARE, spread_scale, spread_sizes
from vlm.loads.relaxed_loads import relaxed_loads
from vlm.loads.segment_forces import patch_forces
from vlm.study.point.evaluation import evaluated
from vlm.study.point.sizes import tip_sizes, wing_areas

GRID = Grid(rows=8, strips=20)
STRETCH = 1.3
WANTED = 0.97
SYMMETRIC = 1e-9
"""Below this share of its largest size a quantity is zero by symmetry [1]."""


@dataclass(frozen=True)
class Moved:
    """One number of one case.

    Attributes
    ----------
    seed : of the case
    name : of the quantity
    change : between the relaxed and the straight wake
    unit : equation (16) without its share
    """

    seed: int
    name: str
    change: float
    unit: float

    @property
    def ratio(self) -> float:
        """The share that would just cover it."""
        return abs(self.change) / self.unit


def stretched(case: RandomCase) -> RandomCase:
    """The case at a higher angle of attack."""
    return replace(case, state=replace(case.state, alpha=STRETCH * case.state.alpha))


def moved(case: RandomCase, grid: Grid = GRID) -> list[Moved]:
    """All numbers of a case that have a size.

    Raises
    ------
    ComputationFailed : the relaxed wake did not settle
    """
    lattice, cellule = build_lattice(case.craft, case.folds, grid), build_cellule(case.craft, grid)
    straight = loads_of_state(lattice, case.state, fold_rates=False)
    relaxed = relaxed_loads(lattice, case.state)
    if not relaxed.converged:
        raise ComputationFailed(f"seed {case.seed}: the wake did not settle")

    def numbers(loads: CraftLoads) -> dict[str, float]:
        values = evaluated(loads, case.state, wing_areas(cellule), tip_sizes(cellule))
        return {name: float(value) for name, value in values.items()}

    before, after = numbers(straight), numbers(relaxed)
    scale, sizes = float(spread_scale(straight, case.state)), spread_sizes(straight, case.state)
    found = []
    for name in SHARE:
        unit = scale * float(sizes[name])
        keys = [
            key for key in before if key == name or (key.startswith(f"{HINGE}_") and name == HINGE)
        ]
        if not unit > SYMMETRIC:
            continue
        found += [Moved(case.seed, name, after[key] - before[key], unit) for key in keys]
    return found + _moved_along_wings(case, straight, relaxed, scale)


def _moved_along_wings(
    case: RandomCase, straight: CraftLoads, relaxed: CraftLoads, scale: float
) -> list[Moved]:
    """Shear and bending at every root and bending at every hinge, at unit speed and density."""

    def halves(loads: CraftLoads) -> list[HalfWing]:
        amounts = case.state.amounts(loads.reference, loads.columns)
        forces = patch_forces(loads, amounts, 1.0)
        own = [StripLoads(one.patch, *one.shared_to_strips()) for one in forces]
        return half_wings(own, loads.lattice.grid)

    before, after = halves(straight), halves(relaxed)
    changes = root_loads(after) - root_loads(before)
    units = scale * with_beside(root_sizes(before))
    return [
        Moved(case.seed, name, float(change), float(unit))
        for row, own in zip(changes, units, strict=True)
        for name, change, unit in zip(ALONG_WINGS, row, own, strict=True)
        if unit > SYMMETRIC
    ]


def all_moved(seeds: range, grid: Grid = GRID) -> Iterator[Moved]:
    """Numbers of all cases of some seeds; those that fail are named on standard error."""
    for seed in seeds:
        try:
            yield from moved(stretched(random_case(seed)), grid)
        except ComputationFailed as failure:
            print(f"seed {seed}: {failure}", file=sys.stderr, flush=True)


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--count", type=int, default=200)
    parser.add_argument("--rows", type=int, default=GRID.rows)
    parser.add_argument("--strips", type=int, default=GRID.strips)
    given = parser.parse_args()
    grid = Grid(given.rows, given.strips)
    cases = list(all_moved(range(given.first, given.first + given.count), grid))
    print("| quantity | numbers | median | 90 % | 97 % | largest | share | covered | over-wide |")
    print("| --- | --- | --- | --- | --- | --- | --- | --- | --- |")
    for name, share in (SHARE | ALONG_WINGS).items():
        ratios = np.array([one.ratio for one in cases if one.name == name])
        marks = np.quantile(ratios, [0.5, 0.9, WANTED, 1.0])
        covered = np.mean(ratios <= share)
        cells = [f"{mark:.4f}" for mark in marks]
        print(
            f"| {name} | {len(ratios)} | " + " | ".join(cells)
            + f" | {share:g} | {100.0 * covered:.1f} % | {share / marks[0]:.1f} |"
        )  # fmt: skip


if __name__ == "__main__":
    main()
