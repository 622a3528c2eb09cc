"""Picture of a comparison: every difference with its band, and power against airspeed."""

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

from vlm.constants import Floats
from vlm.plain import joined
from vlm.show.branches import gapped
from vlm.show.labelling import end_labels, headline
from vlm.show.saving import save_figure
from vlm.show.style import COLOURS, look, plot_style
from vlm.show.tables.compare import differences_said
from vlm.study.compare.results import ComparedNumber, Comparison

SHOWN = (
    "lift_N", "induced_drag_N", "span_efficiency", "thrust_N", "hinge_moment_N_m",
    "rolling_moment_N_m", "roll_rate_deg_s", "least_power_W", "least_power_speed_m_s",
    "slowest_on_wings_m_s", "fastest_m_s", "mission_energy_Wh",
)  # fmt: skip
"""Numbers that are never about zero, so that a difference in per cent means something."""


def save_compare_picture(comparison: Comparison, path: Path) -> None:
    """Differences in per cent of the first entry, and the power curves where there are any."""
    with plot_style() as plt:
        panels = 2 if comparison.power else 1
        figure, axes = plt.subplots(
            1,
            panels,
            figsize=(5.2 * panels, _height(comparison)),
            layout="constrained",
            squeeze=False,
        )
        difference_axes(axes[0, 0], comparison)
        if comparison.power:
            power_axes(axes[0, 1], comparison)
        first, *others = (one.name for one in comparison.entries)
        if len(others) == 1:
            said = differences_said(comparison)[:1]
        else:
            # One sentence for each would be longer than the picture.
            said = [f"{len(others)} entries against {first}: differences with their ± [%]."]
        about = joined(sorted({one.title for one in comparison.entries}))
        headline(figure, said, about, 62 * panels)
        save_figure(figure, path)


def _height(comparison: Comparison) -> float:
    """Height that gives every entry of every row room of its own [inches]."""
    others = len(comparison.entries) - 1
    return 3.0 + max(0.1, 0.045 * others + 0.03) * len(_rows(comparison))


def _rows(comparison: Comparison) -> list[ComparedNumber]:
    """Numbers that a difference in per cent can be given of: the first entry's is no zero."""
    return [
        one for one in comparison.numbers
        if one.key in SHOWN and one.values[0].value
        and not (one.values[0].half_width or 0.0) > abs(one.values[0].value)
        and any(apart.value is not None for apart in one.differences[1:])
    ]  # fmt: skip


def difference_axes(axes: Any, comparison: Comparison) -> Any:
    """Differences from the first entry in per cent of it, with their half-widths.

    Hollow where the half-width is not known.
    """
    rows = _rows(comparison)
    places = np.arange(len(rows), dtype=float)[::-1]
    others = comparison.entries[1:]
    step, hollow = 0.6 / max(1, len(others)), False
    for i, entry in enumerate(others):
        x = np.full(len(rows), np.nan)
        width = np.full(len(rows), np.nan)
        for j, one in enumerate(rows):
            apart, before = one.differences[i + 1], one.values[0].value
            if apart.value is not None and before:
                x[j] = 100.0 * apart.value / abs(before)
                if apart.half_width is not None:
                    width[j] = 100.0 * apart.half_width / abs(before)
        y = places + step * (0.5 * (len(others) - 1) - i)
        own = look(i + 1)
        bare = np.isnan(width) & np.isfinite(x)
        axes.errorbar(
            np.where(bare, np.nan, x), y, xerr=width, fmt=own["marker"], ms=4, capsize=3,
            color=own["color"], label=entry.name,
        )  # fmt: skip
        axes.plot(x[bare], y[bare], own["marker"], ms=4, color=own["color"], mfc="w")
        hollow |= bool(bare.any())
    axes.axvline(0.0, color="k", lw=0.8)
    axes.set_yticks(places, [one.kind.words for one in rows])
    axes.set_ylim(-0.8, len(rows) - 0.2)
    axes.set_xlabel(f"less       difference from {comparison.entries[0].name} [%]       more")
    title = "Differences"
    if len(others) == 1:
        title = f"{others[0].name} against {comparison.entries[0].name}"
    axes.set_title(title + ("\nhollow: ± not known" if hollow else ""), loc="left")
    if len(others) > 1:
        axes.legend(loc="upper center", bbox_to_anchor=(0.4, -0.14), ncols=2, fontsize=8,
                    frameon=False)  # fmt: skip
    return axes


def _known(values: Sequence[float | None]) -> Floats:
    return np.array([np.nan if value is None else value for value in values])


def power_axes(axes: Any, comparison: Comparison) -> Any:
    """Electrical power against airspeed of every entry, with its interval where it is allowed."""
    names = [one.name for one in comparison.entries]
    lines = []
    for one in comparison.power:
        power = _known(one.electrical_power_W)
        colour = COLOURS[names.index(one.entry) % len(COLOURS)]
        if one.electrical_power_W_low:
            ends = _known(one.electrical_power_W_low), _known(one.electrical_power_W_high)
            at, low, high = gapped(one.airspeed_m_s, one.leaps_before, *ends)
            axes.fill_between(at, low, high, color=colour, alpha=0.2, lw=0)
        (line,) = axes.plot(
            *gapped(one.airspeed_m_s, one.leaps_before, power),
            **look(names.index(one.entry), len(power)) | {"color": colour},
        )
        lines.append((line, one.entry))
    axes.set_ylim(bottom=0.0)
    axes.set_xlim(left=0.0)
    axes.set_xlabel("airspeed [m/s]")
    axes.set_ylabel("electrical power [W]")
    axes.set_title("Power in level flight", loc="left")
    end_labels(axes, lines)
    return axes
