"""A fold schedule over the map of power; what [schedule] does not allow is hatched, with why."""

from collections.abc import Mapping, Sequence
from pathlib import Path
from textwrap import wrap
from typing import Any

import numpy as np

from vlm.constants import Floats
from vlm.show.labelling import degree_ticks
from vlm.show.plots.contours import TOUCHING
from vlm.show.saving import save_figure
from vlm.show.style import COLOURS, MAP_INK, MAP_PAPER, SEQUENTIAL, plot_style
from vlm.study.schedule.document import FlownDocument, ScheduleDocument

LEVELS = [0.0, 1.0, 2.0, 5.0, 10.0, 20.0, 40.0, 80.0]
LINE = 100
HATCHES = ("///", "\\\\\\", "xxx", "...", "+++", "ooo")
VEIL = (1.0, 1.0, 1.0, 0.45)
"""Over what is not allowed, so that the hatch shows on dark colours too."""
SIDE, INSET = 0.2, 0.015
"""Share of the map's width beside its edges in which a reason starts at the edge, and how far from
it [1]."""
NARROW = 3.2
"""Width of a map from which on names have room in it [in]."""
LEAST_NAMED = 0.02
"""Share of the map from which on a reason is written into it [1]."""


def schedule_axes(axes: Any, document: ScheduleDocument) -> Any:
    """Power above the least at each airspeed over fold, with the best folds and what is flown.

    Returns the axes.
    """
    from matplotlib.cm import ScalarMappable
    from matplotlib.colors import BoundaryNorm

    drawn = document["map"]
    speeds, folds = np.array(drawn["airspeed_m_s"]), np.array(drawn["fold_deg"])
    power = np.array(drawn["electrical_power_W"], dtype=float).T
    known = np.isfinite(power).any(axis=0)
    above = np.full_like(power, np.nan)
    above[:, known] = 100.0 * (power[:, known] / np.nanmin(power[:, known], axis=0) - 1.0)
    scale = ScalarMappable(BoundaryNorm(LEVELS, 256), cmap=SEQUENTIAL)
    above = np.minimum(above, 79.9)
    joined = np.array(drawn["joined"], dtype=bool)
    reasons = np.array(drawn["forbidden_by"], dtype=object).T
    axes.set_xlim(speeds[0], speeds[-1])
    axes.set_ylim(folds[0], folds[-1])
    hatches = _hatches(reasons)
    small: list[str] = []
    for part in _free_runs(joined):
        axes.contourf(speeds, folds[part], above[part], LEVELS, cmap=scale.cmap, norm=scale.norm)
        small += _forbidden(axes, speeds, folds[part], reasons[part], hatches)
    _contact(axes, speeds, folds[joined], scale.to_rgba(above[joined]), reasons[joined])
    bar = axes.figure.colorbar(scale, ax=axes)
    bar.set_label("power above the least of any fold [%]")
    best = np.array([np.nan if r["fold_deg"] is None else r["fold_deg"] for r in document["ideal"]])
    (dots,) = axes.plot(
        speeds, best, "o", color=MAP_PAPER, markeredgecolor=MAP_INK, ms=6, clip_on=False
    )
    lines = [(dots, "best fold")]
    if document["flown"] is not None:
        lines.append(_as_flown(axes, document["flown"]))
    _name(axes, lines, hatches)
    notes = [TOUCHING] if joined.any() else []
    if small:
        notes.append(f"small hatched parts: {', '.join(dict.fromkeys(small))}")
    axes.set_xlabel("\n".join(["airspeed [m/s]", *notes]))
    axes.set_ylabel("fold of both sides [deg], positive raises the tips")
    axes.grid(False)
    degree_ticks(axes.yaxis)
    said = "\n".join(wrap(" ".join(document["answer"]), LINE))
    axes.set_title(f"{said}\n{document['title']}: an estimate, not a flight clearance", loc="left")
    return axes


def _hatches(reasons: Any) -> dict[str, str]:
    """A hatch for every reason that forbids folds."""
    names = [name for name in dict.fromkeys(reasons.ravel()) if name]
    return dict(zip(names, HATCHES * len(names), strict=False))


def _name(axes: Any, lines: Sequence[tuple[Any, str]], hatches: Mapping[str, str]) -> None:
    """Names beside the lines, or with the reasons in a legend where the map has no room."""
    from matplotlib.patches import Patch

    if _narrow(axes):
        shut = [
            (Patch(facecolor=MAP_PAPER, edgecolor=MAP_INK, hatch=hatch), f"not allowed: {name}")
            for name, hatch in hatches.items()
        ]
        axes.legend(*zip(*lines, *shut, strict=True))
        return
    for at_end, (line, text) in zip((True, False), lines, strict=False):
        _named(axes, line.get_xdata(), line.get_ydata(), text, at_end=at_end)


def _narrow(axes: Any) -> bool:
    return bool(axes.bbox.width < NARROW * axes.figure.dpi)


def _as_flown(axes: Any, flown: FlownDocument) -> tuple[Any, str]:
    """The breakpoints' straight lines; crosses where a constraint is not kept."""
    (line,) = axes.plot(flown["airspeed_m_s"], flown["fold_deg"], "-", color=COLOURS[1], lw=2)
    outside = flown["outside_m_s"]
    if outside:
        at = np.interp(outside, flown["airspeed_m_s"], flown["fold_deg"])
        axes.plot(outside, at, "X", color=COLOURS[3], ms=9, mec="k", mew=0.6, zorder=6)
    return line, "as flown: crosses do not keep a constraint" if outside else "as flown"


def _free_runs(joined: Any) -> list[slice]:
    """Neighbouring folds at which no tip touches, at least two."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], ~joined, [0]]).astype(int)))
    runs = zip(edges[::2], edges[1::2], strict=True)
    return [slice(first, end) for first, end in runs if end - first > 1]


def _contact(axes: Any, speeds: Floats, folds: Floats, colours: Any, reasons: Any) -> None:
    """Diamonds at folds at which a tip touches, crossed out where they are not allowed."""
    for fold, row, why in zip(folds, colours, reasons, strict=True):
        at = np.full(len(speeds), fold)
        axes.scatter(speeds, at, s=24, c=row, marker="D", clip_on=False, edgecolors="0.35",
                     linewidths=0.4, zorder=3)  # fmt: skip
        shut = np.array([bool(one) for one in why])
        axes.plot(speeds[shut], at[shut], "x", color="0.35", ms=5, clip_on=False, zorder=3.5)


def _forbidden(
    axes: Any, speeds: Floats, folds: Floats, table: Any, hatches: Mapping[str, str]
) -> list[str]:
    """Hatch what is not allowed, and write the reason into it where the map has room for that.

    Returns the reasons of parts too small to hold theirs.
    """
    small: list[str] = []
    for name, hatch in hatches.items():
        own = table == name
        if not own.any():
            continue
        axes.contourf(
            speeds, folds, own.astype(float), [0.5, 1.5], colors=[VEIL], hatches=[hatch],
        )  # fmt: skip
        axes.contour(speeds, folds, own.astype(float), [0.5], colors=[MAP_INK], linewidths=0.8)
        for part in [] if _narrow(axes) else _parts(own):
            if part.mean() < LEAST_NAMED:
                small.append(name)
                continue
            row, column = _middle(part)
            place, va, shift = _beside_narrow(axes, folds[part[:, column]], float(folds[row]))
            along, ha = _within_sides(speeds, float(speeds[column]))
            axes.annotate(
                f"not allowed: {name}", (along, place), xytext=(0.0, shift),
                textcoords="offset points", ha=ha, va=va, fontsize=8.0, zorder=5,
                bbox={"boxstyle": "round,pad=0.2", "fc": "w", "ec": "none", "alpha": 0.9},
            )  # fmt: skip
    return small


def _within_sides(speeds: Floats, middle: float) -> tuple[float, str]:
    """Airspeed and side of a reason: from the map's own edge where it would reach over that."""
    low, high = float(speeds[0]), float(speeds[-1])
    share = (middle - low) / (high - low)
    inset = INSET * (high - low)
    if share < SIDE:
        return low + inset, "left"
    if share > 1.0 - SIDE:
        return high - inset, "right"
    return middle, "center"


def _beside_narrow(axes: Any, own: Floats, middle: float) -> tuple[float, str, float]:
    """Where a reason stands: amid its folds, or beside them where they are too few to hold it.

    Lines run along narrow ones, which the words would hide.
    """
    low, high = sorted(axes.get_ylim())
    if np.ptp(own) > 0.08 * (high - low):
        return middle, "center", 0.0
    if own.max() < high - 0.1 * (high - low):
        return float(own.max()), "bottom", 6.0
    return float(own.min()), "top", -6.0


def _parts(own: Any) -> list[Any]:
    """A region's connected parts, each of the region's shape."""
    left, parts = own.copy(), []
    while left.any():
        part = np.zeros_like(own)
        part[tuple(np.argwhere(left)[0])] = True
        size = 0
        while part.sum() > size:
            size = part.sum()
            for axis in (0, 1):
                ends = [slice(None)] * 2
                for first, second in ((slice(1, None), slice(-1)), (slice(-1), slice(1, None))):
                    to, of = ends.copy(), ends.copy()
                    to[axis], of[axis] = first, second
                    part[tuple(to)] |= part[tuple(of)]
            part &= own
        parts.append(part)
        left &= ~part
    return parts


def _middle(own: Any) -> tuple[int, int]:
    """A place well inside a region: the middle of its longest run of folds near mid-speed."""
    counts = own.sum(axis=0) - 0.01 * np.abs(np.arange(own.shape[1]) - 0.5 * (own.shape[1] - 1))
    column = int(np.argmax(counts[1:-1])) + 1 if own.shape[1] > 2 else int(np.argmax(counts))
    edges = np.flatnonzero(np.diff(np.concatenate([[0], own[:, column].astype(int), [0]])))
    runs = list(zip(edges[::2], edges[1::2], strict=True))
    if not runs:
        row, found = np.argwhere(own)[0]
        return int(row), int(found)
    first, end = max(runs, key=lambda run: run[1] - run[0])
    return int((first + end - 1) // 2), column


def _named(axes: Any, speeds: Any, folds: Any, text: str, *, at_end: bool) -> None:
    """A line's name at its first or last known point, on a ground of its own within the axes."""
    known = np.flatnonzero(np.isfinite(np.asarray(folds, dtype=float)))
    if not known.size:
        return
    place = int(known[-1 if at_end else 0])
    above = folds[place] < np.mean(axes.get_ylim())
    shift = (-3.0 if at_end else 3.0, 9.0 if above else -9.0)
    axes.annotate(
        text, (speeds[place], folds[place]), xytext=shift,
        textcoords="offset points", ha="right" if at_end else "left",
        va="bottom" if above else "top", fontsize=8.5, zorder=5,
        bbox={"boxstyle": "round,pad=0.2", "fc": "w", "ec": "none", "alpha": 0.85},
    )  # fmt: skip


def save_schedule_picture(document: ScheduleDocument, path: Path) -> None:
    """Write the picture."""
    with plot_style() as plt:
        figure, axes = plt.subplots(figsize=(8.0, 5.0), layout="constrained")
        schedule_axes(axes, document)
        save_figure(figure, path)
