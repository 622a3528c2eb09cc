"""What a fold schedule costs, as a ratio taken in one run.

    python benchmarks/bench_schedule.py [--quick]

The whole schedule of 40 airspeeds for the demo craft, constraints, direct trims and flown schedule
included, over its table of trims alone with the branch from hover followed at every fold. The
target is a minute on one core.
"""

import argparse

from timing import ratio, row

from vlm.description.folds import FoldAngles
from vlm.description.loading import load_biplane
from vlm.flight.trim.power_book import fold_grid
from vlm.flight.trim.power_curve import power_curve
from vlm.flight.trim.powered import powered_craft
from vlm.lattice.cellule import Grid
from vlm.study.schedule.study import schedule_study

TARGET = 60.0


def main() -> None:
    """Print the line."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--quick", action="store_true", help="few speeds, a small lattice (CI)")
    quick = parser.parse_args().quick
    speeds, folds = (3, 3) if quick else (40, 11)
    grid = Grid(2, 8) if quick else None
    craft = load_biplane("tideline", [f"schedule.speeds={speeds}"])

    def whole() -> None:
        study = schedule_study(craft, folds=folds, grid=grid)
        assert len(study.ideal) == speeds
        found.append(study.book.speeds)

    def followed() -> None:
        for fold in fold_grid(craft, folds):
            made = powered_craft(craft, FoldAngles.symmetric(float(fold)), grid=grid)
            power_curve(made, found[0])

    found: list[object] = []
    took = ratio(whole, followed, 1 if quick else 3)
    name = f"schedule of {speeds} speeds / its {folds} folds' branches followed"
    target = (
        "" if quick else f" target {TARGET:.0f} s: {'met' if took.seconds < TARGET else 'MISSED'}"
    )
    print(row(name, took.text(), f"[{took.seconds:.1f} s]{target}"))


if __name__ == "__main__":
    main()
