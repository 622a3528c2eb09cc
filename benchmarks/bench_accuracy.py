"""Error for its cost: lift slope and span efficiency against panels and time, by spacing law.

    python benchmarks/bench_accuracy.py [--quick] [--plot FILE]

Errors are in per cent of known values; times are the shortest of some runs, on this machine. The
last table holds the targets: an error under 0.1 % in lift slope and under 0.2 % in span efficiency
with 12 rows and 24 strips a half-span, and under 0.01 % extrapolated from lattices no finer.
"""

import argparse
import time
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from accuracy_cases import AccuracyCase, accuracy_cases, errors_of, extrapolated, numbers_of

from vlm.lattice.cellule import Grid, build_cellule
from vlm.show.saving import save_figure
from vlm.show.style import plot_style

LAWS: dict[str, tuple[str, str]] = {
    "cosine, gauss": ("cosine", "gauss"),
    "matched, gauss": ("matched", "gauss"),
    "graded, gauss": ("graded", "gauss"),
    "uniform, gauss": ("uniform", "gauss"),
    "cosine, uniform": ("cosine", "uniform"),
    "uniform, uniform": ("uniform", "uniform"),
}
SIZES = ((3, 8), (4, 10), (6, 14), (8, 20), (12, 24), (16, 36), (20, 50))
QUICK_SIZES = ((3, 8), (6, 14), (12, 24))
QUICK_CASES = ("square", "rectangle 6", "box")
MARKS = "osD^vx"
PLOTTED = ("square", "rectangle 6", "ellipse 6", "box")
ENOUGH_SECONDS = 0.2
TARGET = (12, 24)
FINER = (24, 48)
SLOPE_LIMIT, EFFICIENCY_LIMIT, EXTRAPOLATED_LIMIT = 1e-3, 2e-3, 1e-4


@dataclass(frozen=True)
class Sample:
    """One lattice of one law: panels, time and relative errors of slope and efficiency."""

    rows: int
    strips: int
    panels: int
    seconds: float
    slope: float
    efficiency: float


def sampled(case: AccuracyCase, law: str, size: tuple[int, int], repeats: int) -> Sample:
    """Solve a case on one lattice."""
    span, chord = LAWS[law]
    grid = Grid(*size, span_law=span, chord_law=chord)  # type: ignore[arg-type]
    times: list[float] = []
    while len(times) < repeats or (repeats > 1 and sum(times) < ENOUGH_SECONDS):
        start = time.perf_counter()
        numbers = numbers_of(case, grid)
        times.append(time.perf_counter() - start)
    panels = build_cellule(case.craft, grid).panels
    return Sample(*size, panels, min(times), *errors_of(case, numbers))


def print_case(case: AccuracyCase, samples: dict[str, list[Sample]]) -> None:
    """Table of one case: a line for each lattice, errors of every law."""
    print(f"\n{case.name}: slope {case.slope:g}, span efficiency {case.efficiency:.6g}")
    print(f"  ({case.source})")
    print("  error of slope / span efficiency [%] by law of strips, law of rows")
    print(f"  {'rows strips panels':>18} {'time [ms]':>9}  " + "  ".join(f"{n:>19}" for n in LAWS))
    for i, first in enumerate(next(iter(samples.values()))):
        cells = "  ".join(
            f"{100 * one[i].slope:+9.4f}/{100 * one[i].efficiency:+9.4f}"
            for one in samples.values()
        )
        size = f"{first.rows:4d} {first.strips:6d} {first.panels:6d}"
        print(f"  {size:>18} {1e3 * first.seconds:9.1f}  {cells}")


def print_targets(cases: list[AccuracyCase], *, finer: bool) -> None:
    """Which cases meet the targets, by the default law and by matched widths."""
    print("\nTargets: slope within 0.1 %, span efficiency within 0.2 % on 12 x 24;")
    print(
        "both within 0.01 % extrapolated from 12 x 24, its halves and quarters (and from 24 x 48)"
    )
    for law in ("cosine", "matched"):
        print(f"  strips by the {law} law")
        for case in cases:
            print(f"    {case.name:14s} {target_text(case, law, finer=finer)}")


def target_text(case: AccuracyCase, law: str, *, finer: bool) -> str:
    """Errors of a case on the target lattice and extrapolated, with what they meet."""
    grid = Grid(*TARGET, span_law=law)  # type: ignore[arg-type]
    slope, efficiency = errors_of(case, numbers_of(case, grid))
    plain = abs(slope) < SLOPE_LIMIT and abs(efficiency) < EFFICIENCY_LIMIT
    parts = [f"{100 * slope:+.4f} / {100 * efficiency:+.4f} % {verdict(plain)}"]
    for size in (TARGET, FINER) if finer else (TARGET,):
        one = errors_of(case, extrapolated(case, Grid(*size, span_law=law)))  # type: ignore[arg-type]
        good = max(abs(error) for error in one) < EXTRAPOLATED_LIMIT
        parts.append(
            f"from {size[0]} x {size[1]}: {100 * one[0]:+.4f} / {100 * one[1]:+.4f} %"
            f" {verdict(good)}"
        )
    return "; ".join(parts)


def verdict(met: bool) -> str:
    """A word for a target."""
    return "met" if met else "MISSED"


def save_plot(results: dict[str, dict[str, list[Sample]]], path: Path) -> None:
    """Errors of slope and efficiency against panels, and of slope against time."""
    names = [name for name in PLOTTED if name in results]
    with plot_style() as plt:
        figure, grid = plt.subplots(
            3, len(names), figsize=(2.6 * len(names), 8.0), layout="constrained", squeeze=False,
            sharex="row", sharey=True,
        )  # fmt: skip
        for column, name in enumerate(names):
            for (law, one), mark in zip(results[name].items(), MARKS, strict=True):
                draw_law(grid[:, column], one, marker=mark, ms=4, lw=1.1, label=law)
            label_column(grid[:, column], name, first=column == 0)
        handles, labels = grid[0][0].get_legend_handles_labels()
        figure.legend(handles, labels, loc="outside lower center", ncols=3, title="strips, rows")
        # Letters as outlines, as in all figures of the docs.
        with plt.rc_context({"svg.fonttype": "path"}):
            save_figure(figure, path)


def draw_law(axes: Any, samples: list[Sample], **style: Any) -> None:
    """One law's three curves."""
    panels = [sample.panels for sample in samples]
    slope = np.abs([100 * sample.slope for sample in samples])
    axes[0].loglog(panels, slope, **style)
    axes[1].loglog(panels, np.abs([100 * sample.efficiency for sample in samples]), **style)
    axes[2].loglog([1e3 * sample.seconds for sample in samples], slope, **style)


def label_column(axes: Any, name: str, *, first: bool) -> None:
    """Labels and targets of one case's three panels."""
    axes[0].set_title(name)
    for one, limit in zip(axes, (SLOPE_LIMIT, EFFICIENCY_LIMIT, SLOPE_LIMIT), strict=True):
        one.axhline(100 * limit, color="k", lw=0.8, ls=":")
        one.set_ylim(5e-5, 10.0)
        if first:
            one.text(0.98, 100 * limit, "target", va="bottom", ha="right", size=8,
                     transform=one.get_yaxis_transform())  # fmt: skip
    for one, across in zip(axes, ("panels", "panels", "time [ms]"), strict=True):
        one.set_xlabel(across)
    if first:
        for one, up in zip(axes, ("lift slope", "span efficiency", "lift slope"), strict=True):
            one.set_ylabel(f"error of {up} [%]")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--quick", action="store_true", help="few cases and small lattices")
    parser.add_argument("--plot", type=Path, help="picture to write")
    words = parser.parse_args()
    cases = [c for c in accuracy_cases() if not words.quick or c.name in QUICK_CASES]
    sizes, repeats = (QUICK_SIZES, 1) if words.quick else (SIZES, 3)
    sampled(cases[0], next(iter(LAWS)), sizes[0], 1)
    results = {}
    for case in cases:
        results[case.name] = {
            law: [sampled(case, law, size, repeats) for size in sizes] for law in LAWS
        }
        print_case(case, results[case.name])
    print_targets(cases, finer=not words.quick)
    if words.plot:
        save_plot(results, words.plot)


if __name__ == "__main__":
    main()
