"""What power curves cost, as ratios taken in one run.

    python benchmarks/bench_power.py [--quick]

Three configurations at 40 airspeeds from hover up, over solving each of these trims on its own
from a cold start, which also loses the branch through stall. Then what one step of a trim costs
(four states beside each other) over the strips' lattice of one fold, and what of it the agreement
of strips and sections takes.
"""

import argparse

import numpy as np
from timing import ratio, row

from vlm.description.loading import load_biplane
from vlm.description.models import Biplane
from vlm.flight.trim.power_curve import power_curve
from vlm.flight.trim.powered import PoweredCraft, flight_loads, powered_craft
from vlm.flight.trim.trim import trim_problem, trimmed
from vlm.lattice.cellule import Grid
from vlm.sections.coupling import couple_strips

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
    step_of_trim(craft, made[0], 5 if quick else 60)


def step_of_trim(craft: Biplane, made: PoweredCraft, repeats: int) -> None:
    """Print what one step of a trim costs."""
    trim = trimmed(trim_problem(made), 14.0)
    speed, alpha = np.full(4, 14.0), trim.alpha + np.array([0.0, 1e-6, 0.0, 0.0])
    thrusts, start = np.tile(trim.thrusts, (4, 1)), trim.loads.coupled.offset
    onset = flight_loads(made, speed, alpha, thrusts).coupled.onset

    def step() -> None:
        flight_loads(made, speed, alpha, thrusts, start, alike=True)

    def lattice() -> None:
        powered_craft(craft, made.folds, grid=made.model.lattice.grid)

    def agreement() -> None:
        couple_strips(made.model, onset, start, alike=True)

    found = ratio(step, lattice, repeats)
    name = "one step of a trim, 4 states / strips' lattice of one fold"
    print(row(name, found.text(), f"[{1e3 * found.seconds:.1f} ms]"))
    print(
        row("agreement of strips and sections / that step", ratio(agreement, step, repeats).text())
    )


if __name__ == "__main__":
    main()
