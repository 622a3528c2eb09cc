"""A fold schedule over the map of power."""

from pathlib import Path
from typing import Any

import numpy as np

from vlm.constants import Floats
from vlm.show.labelling import degree_ticks
from vlm.show.saving import save_figure
from vlm.show.style import COLOURS, MAP_INK, MAP_PAPER, SEQUENTIAL, plot_style


def schedule_axes(axes: Any, document: dict[str, Any], folds: Floats, power: Floats) -> Any:
    """Power above the best at each airspeed over fold, with the ideal and the flown schedule.

    Parameters
    ----------
    folds : shape (folds,) [deg]
    power : shape (folds, speeds), NaN where it may not be flown [W]

    Returns the axes.
    """
    from matplotlib.colors import BoundaryNorm

    speeds = np.array([row["airspeed_m_s"] for row in document["ideal"]])
    known = np.isfinite(power).any(axis=0)
    above = np.full_like(power, np.nan)
    above[:, known] = 100.0 * (power[:, known] / np.nanmin(power[:, known], axis=0) - 1.0)
    levels = [0.0, 1.0, 2.0, 5.0, 10.0, 20.0, 40.0, 80.0]
    filled = axes.contourf(
        speeds, folds, np.minimum(above, 79.9), levels, cmap=SEQUENTIAL,
        norm=BoundaryNorm(levels, 256),
    )  # fmt: skip
    bar = axes.figure.colorbar(filled, ax=axes)
    bar.set_label("power above the least [%]; grey: not allowed")
    best = np.array([np.nan if r["fold_deg"] is None else r["fold_deg"] for r in document["ideal"]])
    axes.plot(speeds, best, "o", color=MAP_PAPER, markeredgecolor=MAP_INK, ms=6, clip_on=False)
    _named(axes, speeds, best, "best fold", 9.0)
    if document["flown"] is not None:
        flown = document["flown"]
        axes.plot(flown["airspeed_m_s"], flown["fold_deg"], "-", color=COLOURS[1], lw=2)
        _named(axes, flown["airspeed_m_s"], flown["fold_deg"], "as flown", -9.0)
    axes.set_xlabel("airspeed [m/s]")
    axes.set_ylabel("fold of both sides [deg], positive raises the tips")
    axes.set_facecolor("0.85")
    axes.grid(False)
    degree_ticks(axes.yaxis)
    axes.set_title(f"{document['title']}: fold schedule (an estimate, not a flight clearance)")
    return axes


def _named(axes: Any, speeds: Any, folds: Any, text: str, lift: float) -> None:
    """A line's name at its last known point, above or below it, on a ground of its own."""
    known = np.flatnonzero(np.isfinite(np.asarray(folds, dtype=float)))
    if known.size:
        last = int(known[-1])
        axes.annotate(
            text, (speeds[last], folds[last]), xytext=(-3.0, lift), textcoords="offset points",
            ha="right", va="bottom" if lift > 0.0 else "top", fontsize=8.5, zorder=5,
            bbox={"boxstyle": "round,pad=0.2", "fc": "w", "ec": "none", "alpha": 0.85},
        )  # fmt: skip


def save_schedule_picture(
    document: dict[str, Any], folds: Floats, power: Floats, path: Path
) -> None:
    """Write the picture."""
    with plot_style() as plt:
        figure, axes = plt.subplots(figsize=(8.0, 5.0), layout="constrained")
        schedule_axes(axes, document, folds, power)
        save_figure(figure, path)
