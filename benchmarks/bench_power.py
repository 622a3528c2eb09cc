"""What power curves cost, as a ratio taken in one run.

    python benchmarks/bench_power.py [--quick]

Three configurations at 40 airspeeds from hover up, over solving each of these trims on its own
from a cold start, which also loses the branch through stall.
"""

import argparse

import numpy as np
from timing import ratio, row

from vlm.description.loading import load_biplane
from vlm.flight.trim.power_curve import power_curve
from vlm.flight.trim.powered import powered_craft
from vlm.flight.trim.trim import trim_problem, trimmed
from vlm.lattice.cellule import Grid

CONFIGURATIONS = ("open", "loiter", "dash")


def main() -> None:
    """Print the line."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--quick", action="store_true", help="few speeds, a small lattice (CI)")
    quick = parser.parse_args().quick
    grid = Grid(3, 10) if quick else None
    speeds = np.linspace(0.0, 24.0, 6 if quick else 40)
    craft = load_biplane("tideline")
    names = CONFIGURATIONS[:1] if quick else CONFIGURATIONS
    made = [powered_craft(craft, craft.configurations[name].folds, grid=grid) for name in names]

    def followed() -> None:
        for one in made:
            power_curve(one, speeds)

    def alone() -> None:
        for one in made:
            problem = trim_problem(one)
            for speed in speeds:
                trimmed(problem, float(speed))

    found = ratio(followed, alone, 1 if quick else 3)
    what = f"{len(names)} power curves of {len(speeds)} speeds / trims from cold starts"
    print(row(what, found.text(), f"[{found.seconds:.1f} s]"))


if __name__ == "__main__":
    main()
