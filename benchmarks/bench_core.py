"""What a solve, a sweep, a map and a start cost, as ratios taken in one run.

    python benchmarks/bench_core.py [--quick]

Each figure is the median over interleaved repeats, with the least and the greatest. Run it on a
machine that does nothing else: a second load on the same processors makes kernels wait for each
other. Absolute times stand in brackets and mean this machine alone.
"""

import argparse
import os
import platform
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np
from scipy.linalg import lapack
from threadpoolctl import threadpool_info
from timing import exponent, ratio, row, seconds

from vlm.description.folds import FoldAngles
from vlm.description.loading import load_biplane
from vlm.flow.influence import influence_matrix
from vlm.lattice.cellule import Grid, build_cellule
from vlm.lattice.doubts import lattice_doubts
from vlm.lattice.lattice import build_lattice
from vlm.loads.craft_loads import CraftLoads, craft_loads
from vlm.loads.fold_engine import FoldEngine
from vlm.study.cases import CaseSolver, solve_cases, solver_of
from vlm.study.evaluation import evaluated
from vlm.study.plan import SweepPlan
from vlm.study.running import chunked
from vlm.study.sizes import tip_sizes, wing_areas

ROOT = Path(__file__).resolve().parent.parent
GRIDS = {500: Grid(10, 16), 1000: Grid(14, 23), 2000: Grid(20, 32), 4000: Grid(28, 46)}
SWEEP_GRID = Grid(13, 20)
INTERACTIVE_GRID = Grid(10, 20)
SKEWED = FoldAngles(20.0, -35.0)


def lapack_work(panels: int):  # type: ignore[no-untyped-def]
    """LAPACK's factorisation of a full matrix of this size; the copy is part of the work."""
    matrix = np.asfortranarray(np.random.default_rng(1).normal(size=(panels, panels)))
    return lambda: lapack.dgetrf(matrix.copy(order="F"), overwrite_a=True)


def single_solves(craft, sizes, repeats):  # type: ignore[no-untyped-def]
    """Assembly and full points over LAPACK's factorisation."""
    assembly, points = [], []
    for size in sizes:
        skewed = build_lattice(craft, SKEWED, GRIDS[size])
        even = build_lattice(craft, FoldAngles.symmetric(20.0), GRIDS[size])
        count = skewed.panels
        base = lapack_work(count)
        made = ratio(lambda lattice=skewed: influence_matrix(lattice), base, repeats)
        print(row(f"assembly of {count} panels / LAPACK factorisation", made.text(),
                  "target 1.0" if size == 2000 else ""))  # fmt: skip
        assembly.append((count, made.seconds))
        for name, lattice in (("mirror-symmetric", even), ("asymmetric", skewed)):
            whole = ratio(lambda lattice=lattice: full_point(lattice), base, repeats)
            print(row(f"full point, {name}, {count} panels / LAPACK", whole.text(),
                      "target 2.5" if size == 2000 else ""))  # fmt: skip
            if name == "asymmetric":
                points.append((count, whole.seconds))
    if len(sizes) > 2:
        print(
            row(
                "exponent of assembly with panels",
                f"{exponent(*zip(*assembly, strict=True)):.2f}",
                "floor 2",
            )
        )
        print(
            row(
                "exponent of a full point with panels",
                f"{exponent(*zip(*points, strict=True)):.2f}",
                "floor 2, limit 3",
            )
        )


def full_point(lattice) -> CraftLoads:  # type: ignore[no-untyped-def]
    """One solve with all derivatives, the far field and the best efficiency."""
    loads = craft_loads(lattice)
    _ = loads.best_efficiency, loads.total_rates, loads.total
    return loads


def plain_sweep(craft, plan: SweepPlan) -> None:  # type: ignore[no-untyped-def]
    """Assemble and factorise once a fold with the same kernel; angles by superposition."""
    state = CaseSolver(craft, plan).state
    cellule = build_cellule(craft, plan.grid)
    for case in plan.cases():
        lattice = build_lattice(craft, case.folds, plan.grid)
        loads = craft_loads(lattice, use_mirror=False)
        evaluated(loads, state, wing_areas(cellule), tip_sizes(cellule))
        lattice_doubts(lattice)


def kept_sweep(craft, plan: SweepPlan) -> None:  # type: ignore[no-untyped-def]
    """The same cases as a sweep solves them in one process, nothing kept from before."""
    solver_of.cache_clear()
    for chunk in chunked(plan.work_order()):
        solve_cases(craft, plan, chunk)


def maps(craft, quick: bool, repeats: int) -> None:  # type: ignore[no-untyped-def]
    """Sweeps over the plain loop."""
    alphas = tuple(np.linspace(-4.0, 10.0, 21))
    folds, side = (13, 7) if quick else (61, 41)
    even = SweepPlan(tuple(np.linspace(-88.0, 60.0, folds)), alphas, grid=SWEEP_GRID)
    found = ratio(lambda: plain_sweep(craft, even), lambda: kept_sweep(craft, even), repeats)
    print(row(f"plain loop / symmetric sweep, {folds} folds x 21 angles", found.text(), "target 3"))
    pairs = SweepPlan(
        tuple(np.linspace(-88.0, 60.0, side)), alphas[::5], asymmetric=True, grid=SWEEP_GRID
    )
    once = 1 if not quick else repeats
    found = ratio(lambda: plain_sweep(craft, pairs), lambda: kept_sweep(craft, pairs), once)
    print(
        row(f"plain loop / asymmetric map, {side} x {side} x 5 angles", found.text(), "target 10")
    )
    print(row("  one setting of the map", f"[{1e3 * found.base_seconds / side**2:.1f} ms]"))


def interactive_step(craft, repeats: int) -> None:  # type: ignore[no-untyped-def]
    """One fold step of a slider: new angle on one side, everything evaluated."""
    engine = FoldEngine(craft, INTERACTIVE_GRID, fold_rates=False)
    engine.loads(FoldAngles(1.0, 2.0))
    times = [
        seconds(lambda angle=angle: engine.loads(FoldAngles(5.0, angle)).best_efficiency)
        for angle in np.linspace(-60.0, 50.0, 4 * repeats)
    ]
    panels = engine.cellule.panels
    print(
        row(
            f"one fold step of a slider, {panels} panels",
            f"[{1e3 * np.median(times):.1f} ms]",
            "aim 30 ms",
        )
    )


def peak_memory(size: int) -> None:
    """Peak memory of a solve over its matrix, in a process of its own."""
    code = (
        "import resource, sys; sys.path.insert(0, 'benchmarks');"
        "from bench_core import *;"
        f"lattice = build_lattice(load_biplane('tideline'), SKEWED, GRIDS[{size}]);"
        "small = craft_loads(build_lattice(load_biplane('tideline'), SKEWED, Grid(3, 8)));"
        "before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss;"
        "craft_loads(lattice);"
        "after = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss;"
        "print((after - before) * 1024 / (8 * lattice.panels**2))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True
    )
    print(
        row(
            f"peak memory of a solve / 8 N^2 bytes, {size} panels",
            f"{float(done.stdout):.2f}",
            "target 1.5",
        )
    )


def start_up() -> None:
    """Whole processes: help, import, first solve with an empty and a warm kernel cache."""

    def run(arguments, cache=None):  # type: ignore[no-untyped-def]
        environment = dict(os.environ) | ({"NUMBA_CACHE_DIR": cache} if cache else {})
        subprocess.run(
            [sys.executable, *arguments], cwd=ROOT, env=environment, check=True, capture_output=True
        )

    point = ["-m", "vlm", "point", "tideline", "--alpha", "4"]
    with tempfile.TemporaryDirectory() as cache:
        cold = seconds(lambda: run(point, cache))
        warm = min(seconds(lambda: run(point, cache)) for _ in range(3))
    helped = min(seconds(lambda: run(["-m", "vlm", "--help"])) for _ in range(3))
    imported = min(seconds(lambda: run(["-c", "import vlm"])) for _ in range(3))
    bare = min(seconds(lambda: run(["-c", "pass"])) for _ in range(3))
    print(row("foldspan --help / bare interpreter", f"{helped / bare:.1f}", f"[{helped:.2f} s]"))
    print(row("import vlm / bare interpreter", f"{imported / bare:.1f}", f"[{imported:.2f} s]"))
    print(row("first point, kernel compiled / from cache", f"{cold / warm:.1f}",
              f"[{cold:.1f} s, {warm:.2f} s]"))  # fmt: skip


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--quick", action="store_true", help="small sizes, few repeats (CI)")
    quick = parser.parse_args().quick
    repeats = 3 if quick else 7
    craft = load_biplane("tideline")
    threads = max((entry["num_threads"] for entry in threadpool_info()), default=1)
    print(f"{platform.machine()}, {os.cpu_count()} processors, {threads} threads of LAPACK")
    single_solves(craft, (500, 1000) if quick else tuple(GRIDS), repeats)
    maps(craft, quick, 2 if quick else 3)
    interactive_step(craft, repeats)
    peak_memory(1000 if quick else 4000)
    start_up()


if __name__ == "__main__":
    main()
