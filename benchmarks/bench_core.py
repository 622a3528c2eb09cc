"""What a solve, a sweep, a map and a start cost, as ratios taken in one run.

    python benchmarks/bench_core.py [--quick | --tiny]

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
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from scipy.linalg import lapack
from threadpoolctl import threadpool_info
from timing import Cost, cost, exponent, ratio, row, seconds

from vlm.chart.kept_arrays import nothing_kept
from vlm.description.folds import FoldAngles
from vlm.description.loading import load_biplane
from vlm.flow.influence import influence_matrix
from vlm.flow.solve import Solvers
from vlm.flow.wake import axis_wake
from vlm.lattice.cellule import Grid, build_cellule
from vlm.lattice.lattice import build_lattice
from vlm.lattice.lattice_warnings import lattice_warnings
from vlm.loads.angles import ANGLES
from vlm.loads.craft_loads import CraftLoads, craft_loads, loads_of_state, loads_of_states
from vlm.loads.fold_engine import FoldEngine
from vlm.loads.many_wakes import stream_loads
from vlm.loads.sizes import natural_sizes
from vlm.loads.state import FlightState
from vlm.study.point.evaluation import evaluated
from vlm.study.point.session import Session, Setting
from vlm.study.point.sizes import tip_sizes, wing_areas
from vlm.study.sweep.cases import CaseSolver, solver_of
from vlm.study.sweep.plan import SweepPlan
from vlm.study.sweep.running import run_plan

ROOT = Path(__file__).resolve().parent.parent
GRIDS = {
    60: Grid(3, 7),
    500: Grid(10, 16),
    1000: Grid(14, 23),
    2000: Grid(20, 32),
    4000: Grid(28, 46),
}
SWEEP_GRID = Grid(13, 20)
INTERACTIVE_GRID = Grid(10, 20)
SKEWED = FoldAngles(20.0, -35.0)


@dataclass(frozen=True)
class Size:
    """How much is run: panels of single solves, repeats, folds of the sweep and of the map."""

    panels: tuple[int, ...]
    repeats: int
    folds: int
    side: int
    grid: Grid = SWEEP_GRID
    places: int = 200
    cold: bool = True


SIZES = {
    "full": Size((500, 1000, 2000, 4000), 7, folds=61, side=41),
    "quick": Size((500, 1000), 3, folds=31, side=17),
    "tiny": Size((60,), 1, 3, 2, grid=Grid(3, 7), places=2, cold=False),
}


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
        made = ratio(lambda lattice=skewed: influence_matrix(axis_wake(lattice)), base, repeats)
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
    _ = loads.best_efficiency, loads.total
    return loads


MOST_PLAIN = 24
"""Cases of the plain loop that are run; its time is scaled to all of them."""


def plain_sweep(craft, plan: SweepPlan) -> Cost:  # type: ignore[no-untyped-def]
    """Time of solving each fold whole, its wakes by changes of low rank; a sample, scaled."""
    state = CaseSolver(craft, plan).state
    cellule = build_cellule(craft, plan.grid)
    cases = plan.cases()
    sample = cases[:: max(1, len(cases) // MOST_PLAIN)]

    def run() -> None:
        for case in sample:
            lattice = build_lattice(craft, case.folds, plan.grid)
            loads = stream_loads(lattice, use_mirror=False)
            evaluated(loads, state, wing_areas(cellule), tip_sizes(cellule))
            lattice_warnings(lattice)

    return cost(run).times(len(cases) / len(sample))


def charted_sweep(craft, plan: SweepPlan) -> Cost:  # type: ignore[no-untyped-def]
    """Time of the same cases as a sweep computes them in one process, nothing kept."""
    solver_of.cache_clear()
    return cost(lambda: run_plan(craft, plan))


def error_over_size(craft, plan: SweepPlan, places: int) -> float:  # type: ignore[no-untyped-def]
    """Largest error of coefficients and derivatives of a sweep over their largest natural size [1].

    At places drawn at random, against a solve of each; like folds have no lateral loads, and near
    to flat wings some derivatives vanish, so that the largest of all places counts.
    """
    results, _ = run_plan(craft, plan)
    solver, cases = CaseSolver(craft, plan), plan.cases()
    engine = FoldEngine(craft, plan.grid)
    apart: dict[str, list[float]] = {}
    large: dict[str, list[float]] = {}
    for number in np.random.default_rng(0).choice(len(cases), min(places, len(cases)), False):
        case = cases[int(number)]
        (exact,) = solver.solve([case])
        sizes = natural_sizes(engine.loads_for(case.folds, solver.state), solver.state)
        for name in sizes.keys() & exact.keys():
            error = np.abs(results[case.place][name] - exact[name])
            apart.setdefault(name, []).append(float(np.max(error)))
            large.setdefault(name, []).append(float(np.max(sizes[name])))
    return max(max(apart[name]) / (max(large[name]) + 1e-9) for name in apart)


def one_more_setting(craft, few: int, many: int) -> float:  # type: ignore[no-untyped-def]
    """Seconds of one more setting of a map: all numbers of five states, read off a chart."""
    times = []
    for side in (few, many):
        folds, alphas = tuple(np.linspace(-60.0, 60.0, side)), (-4.0, 0.0, 3.0, 6.0, 10.0)
        plan = SweepPlan(folds, alphas, asymmetric=True, grid=GRIDS[60])
        times.append(charted_sweep(craft, plan).processor)
    return (times[1] - times[0]) / (many**2 - few**2)


def maps(craft, size: Size) -> None:  # type: ignore[no-untyped-def]
    """Sweeps over the plain loop."""
    folds, side = size.folds, size.side
    alphas = tuple(np.linspace(-4.0, 10.0, 21))
    plans = {
        f"symmetric sweep, {folds} folds x 21 angles": SweepPlan(
            tuple(np.linspace(-88.0, 60.0, folds)), alphas, grid=size.grid
        ),
        f"asymmetric map, {side} x {side} x 5 angles": SweepPlan(
            tuple(np.linspace(-88.0, 60.0, side)), alphas[::5], asymmetric=True, grid=size.grid
        ),
    }
    for name, target, plan in zip(plans, (10, 25), plans.values(), strict=True):
        plain, ours = plain_sweep(craft, plan), charted_sweep(craft, plan)
        print(
            row(f"plain loop / {name}", f"{plain.elapsed / ours.elapsed:.1f}", f"target {target}")
        )
        print(row("  processor time", f"{plain.processor / ours.processor:.1f}", ""))
        worst = error_over_size(craft, plan, size.places)
        print(
            row(
                f"  largest error at {size.places} places / largest natural size",
                f"{worst:.1e}",
                "1e-4",
            )
        )
    step = one_more_setting(craft, side, 3 * side)
    print(row("one more setting of a map, 5 states", f"[{1e3 * step:.2f} ms]", "target 0.2 ms"))


def turned_wakes(craft, sizes, repeats: int) -> None:  # type: ignore[no-untyped-def]
    """What a wake along the stream costs over one along the craft's axis."""
    state, other = FlightState(alpha=0.07), FlightState(alpha=0.1)
    for size in sizes:
        lattice = build_lattice(craft, SKEWED, GRIDS[size])
        solvers = Solvers(lattice)
        loads_of_states(solvers, [state])
        stream = ratio(
            lambda lattice=lattice: loads_of_state(lattice, state),
            lambda lattice=lattice: craft_loads(lattice),
            repeats,
        )
        print(row(f"point, wake along the stream / along the axis, {lattice.panels} panels",
                  stream.text(), "target 1.3" if size == 2000 else ""))  # fmt: skip
        further = ratio(
            lambda kept=solvers: loads_of_states(kept, [other]),
            lambda lattice=lattice: loads_of_state(lattice, state),
            repeats,
        )
        print(row("  a further angle of attack, solved by itself / the point", further.text(),
                  "target 0.35" if size == 2000 else ""))  # fmt: skip
        for sideslip in (False, True):
            five = ratio(
                lambda lattice=lattice, aside=sideslip: stream_loads(lattice, sideslip=aside),
                lambda lattice=lattice: loads_of_state(lattice, state),
                repeats,
            )
            known = "and sideslip " if sideslip else ""
            print(row(f"  a further angle of attack {known}of five together / the point",
                      f"{(five.median - 1.0) / (len(ANGLES) - 1):.2f}",
                      "target 0.35" if size == 2000 else ""))  # fmt: skip


def interactive_step(craft, repeats: int) -> None:  # type: ignore[no-untyped-def]
    """One fold step of the explorer's slider, once its chart is made; drawing left out."""
    with nothing_kept():
        session = Session(craft, INTERACTIVE_GRID, "all folds")
    session.scene(Setting(1.0, 2.0))
    angles = np.linspace(-60.0, 50.0, 4 * repeats)
    read = [seconds(lambda a=angle: session.loads(FoldAngles(5.0, a))) for angle in angles]
    whole = [seconds(lambda a=angle: session.scene(Setting(6.0, a))) for angle in angles]
    panels = session.cellule.panels
    for name, times, target in (
        ("reading the loads of a fold step", read, ""),
        ("a fold step with all panel loads, numbers and half-widths", whole, "target 3 ms"),
    ):
        print(row(f"{name}, {panels} panels", f"[{1e3 * np.median(times):.1f} ms]", target))


def peak_bytes() -> int:
    """Peak memory of this process so far [bytes].

    On Linux what ``getrusage`` gives is handed down from a process to the program it starts, so
    that a large parent hides a small child; VmHWM begins again with each program.
    """
    status = Path("/proc/self/status")
    if status.exists():
        line = next(row for row in status.read_text().splitlines() if row.startswith("VmHWM"))
        return 1024 * int(line.split()[1])
    import resource

    unit = 1 if sys.platform == "darwin" else 1024
    return unit * resource.getrusage(resource.RUSAGE_SELF).ru_maxrss


def peak_memory(size: int) -> None:
    """Peak memory of a solve over its matrix, in a process of its own."""
    code = (
        "import sys; sys.path.insert(0, 'benchmarks');"
        "from bench_core import *;"
        f"lattice = build_lattice(load_biplane('tideline'), SKEWED, GRIDS[{size}]);"
        "small = craft_loads(build_lattice(load_biplane('tideline'), SKEWED, Grid(3, 8)));"
        "before = peak_bytes();"
        "craft_loads(lattice);"
        "print((peak_bytes() - before) / (8 * lattice.panels**2))"
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


def start_up(*, cold: bool) -> None:
    """Whole processes: help, import, first solve with an empty and a warm kernel cache."""

    def run(arguments, cache=None):  # type: ignore[no-untyped-def]
        environment = dict(os.environ) | ({"NUMBA_CACHE_DIR": cache} if cache else {})
        subprocess.run(
            [sys.executable, *arguments], cwd=ROOT, env=environment, check=True, capture_output=True
        )

    helped = min(seconds(lambda: run(["-m", "vlm", "--help"])) for _ in range(3))
    imported = min(seconds(lambda: run(["-c", "import vlm"])) for _ in range(3))
    bare = min(seconds(lambda: run(["-c", "pass"])) for _ in range(3))
    print(row("foldspan --help / bare interpreter", f"{helped / bare:.1f}", f"[{helped:.2f} s]"))
    print(row("import vlm / bare interpreter", f"{imported / bare:.1f}", f"[{imported:.2f} s]"))
    if cold:
        point = ["-m", "vlm", "point", "tideline", "--alpha", "4"]
        with tempfile.TemporaryDirectory() as cache:
            first = seconds(lambda: run(point, cache))
            warm = min(seconds(lambda: run(point, cache)) for _ in range(3))
        print(row("first point, kernel compiled / from cache", f"{first / warm:.1f}",
                  f"[{first:.1f} s, {warm:.2f} s]"))  # fmt: skip


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser()
    sizes = parser.add_mutually_exclusive_group()
    for name, text in (
        ("quick", "smaller sizes, few repeats"),
        ("tiny", "only to see that it runs"),
    ):
        sizes.add_argument(
            f"--{name}", dest="size", action="store_const", const=name, default="full", help=text
        )
    size = SIZES[parser.parse_args().size]
    craft = load_biplane("tideline")
    threads = max((entry["num_threads"] for entry in threadpool_info()), default=1)
    print(f"{platform.machine()}, {os.cpu_count()} processors, {threads} threads of LAPACK")
    single_solves(craft, size.panels, size.repeats)
    turned_wakes(craft, size.panels, size.repeats)
    maps(craft, size)
    interactive_step(craft, size.repeats)
    peak_memory(size.panels[-1])
    start_up(cold=size.cold)


if __name__ == "__main__":
    main()
