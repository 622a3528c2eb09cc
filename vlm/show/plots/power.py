"""Pictures of power against airspeed: the curves, what separates them, and the trims behind."""

from collections.abc import Mapping, Sequence
from pathlib import Path
from textwrap import wrap
from typing import Any

import numpy as np

from vlm.constants import Floats
from vlm.show.branches import gapped
from vlm.show.labelling import end_labels, headline, label, titled
from vlm.show.saving import save_figure
from vlm.show.scenes.schemes import text_colour
from vlm.show.style import COLOURS, SEQUENTIAL, look, plot_style, scale_colours
from vlm.show.tables.power import PARTS
from vlm.show.tables.power_best import best_sentences
from vlm.show.words import path_words
from vlm.study.power.branches import BranchesDocument
from vlm.study.power.results import PowerDocument

Setting = Mapping[str, Any]
"""One configuration of the document: its keys are those of PowerConfiguration."""
PANELS = ("body_angle_deg", "wing_share", "stall_margin_deg", "thrust_N")
SPEED_LABEL = "airspeed [m/s]"
MOST_PERCENT = 100.0
# Crossings nearer than this have their labels one below the other.
NEAR_SPEEDS_M_S = 3.0
ROOM_BELOW = 0.12
READING = 50
"""Letters in a line over the power curves."""


def _known(values: Sequence[float | None] | Floats) -> Any:
    return np.array([np.nan if v is None else v for v in values], dtype=float)


def power_axes(axes: Any, document: PowerDocument) -> Any:
    """Electrical power against airspeed with its intervals; returns the axes.

    Dotted where a limit forbids the speed; a dot at the least power. Near stall thin lines and
    arrows show what a craft flies from hover and from cruise.
    """
    speeds = _known(document["airspeed_m_s"])
    lines = []
    for index, (name, one) in enumerate(document["configurations"].items()):
        colour = COLOURS[index % len(COLOURS)]
        line = _curve(axes, speeds, "electrical_power_W", one, index)
        _branches(axes, one["branches"], colour)
        best = one["speeds"]
        if best["least_power_W"] is not None:
            axes.plot(best["least_power_speed_m_s"], best["least_power_W"], "o", color=colour, ms=4)
        lines.append((line, name))
    axes.set_ylim(bottom=0.0)
    axes.set_xlim(left=0.0)
    axes.set_xlabel(SPEED_LABEL)
    axes.set_ylabel(f"electrical power {label('electrical_power_W')}")
    _named(axes, lines)
    return axes


def _curve(axes: Any, speeds: Any, key: str, one: Setting, index: int) -> Any:
    """One quantity of a setting with its interval, dotted where a limit forbids the speed.

    Returns the dotted line, which runs on where the full one stops, with the full one's mark.
    """
    values, colour = _known(one[key]), COLOURS[index % len(COLOURS)]
    flown = np.array([not limit for limit in one["limit"]])
    marked = look(index, len(speeds)) | {"ls": "-"}
    (line,) = axes.plot(
        *_broken(speeds, values, one), ":", color=colour, lw=0.9, marker=marked["marker"],
        markevery=[],
    )  # fmt: skip
    axes.plot(*_broken(speeds, np.where(flown, values, np.nan), one), **marked)
    if f"{key}_low" in one:
        _band(axes, speeds, _known(one[f"{key}_low"]), _known(one[f"{key}_high"]), colour, one)
    return line


def _leap(speeds: Any, one: Setting) -> int | None:
    """Index of the first speed after the trim of least power leaps between two branches.

    Of the steps that reach into the airspeeds of both, the one in which the body turns most.
    """
    branches = one["branches"]
    if branches is None:
        return None
    low, high = sorted((branches["from_cruise_down_to_m_s"], branches["from_hover_up_to_m_s"]))
    within = (speeds[1:] >= low) & (speeds[:-1] <= high)
    turns = np.where(within, np.abs(np.diff(_known(one["body_angle_deg"]))), np.nan)
    return int(np.nanargmax(turns)) + 1 if np.isfinite(turns).any() else None


def _leaps(speeds: Any, *settings: Setting) -> list[int]:
    return sorted({at for one in settings if (at := _leap(speeds, one)) is not None})


def _broken(speeds: Any, values: Any, *settings: Setting) -> list[Any]:
    """A curve with a gap where one of some settings leaps from one branch of trims to another."""
    return gapped(speeds, _leaps(speeds, *settings), values)


def _band(axes: Any, speeds: Any, low: Any, high: Any, colour: str, *settings: Setting) -> None:
    """An interval, with the same gaps."""
    at, low, high = gapped(speeds, _leaps(speeds, *settings), low, high)
    axes.fill_between(at, low, high, color=colour, alpha=0.2, lw=0)


def _branches(axes: Any, branches: BranchesDocument | None, colour: str) -> None:
    """Both branches of trims near stall, thin, with arrows where a craft leaves them."""
    if branches is None:
        return
    for part in (branches["from_hover"], branches["from_cruise"]):
        axes.plot(part["airspeed_m_s"], part["electrical_power_W"], color=colour, lw=0.7)
    for jump in (branches["jump_up"], branches["jump_down"]):
        if jump is not None:
            ends = list(zip(jump["airspeed_m_s"], jump["electrical_power_W"], strict=True))
            axes.annotate(
                "", ends[1], xytext=ends[0],
                arrowprops={"arrowstyle": "->", "color": colour, "lw": 0.8, "shrinkA": 0.0,
                            "shrinkB": 0.0},
            )  # fmt: skip


def difference_axes(axes: Any, document: PowerDocument, unit: str = "percent") -> Any:
    """Power of other settings less that of the first, in per cent or "W"; returns the axes.

    A diamond on the zero line marks where the two draw the same.
    """
    speeds = _known(document["airspeed_m_s"])
    first = next(iter(document["configurations"]))
    colours = dict(zip(document["configurations"], COLOURS, strict=False))
    lines = []
    for difference in document["differences"]:
        if difference["first"] != first:
            continue
        colour = colours[difference["second"]]
        both = [document["configurations"][difference[which]] for which in ("first", "second")]
        index = list(colours).index(difference["second"])
        values = _known(difference[f"difference_{unit}"])
        (line,) = axes.plot(
            *_broken(speeds, values, *both), **look(index, len(speeds)) | {"ls": "-"}
        )
        if f"difference_{unit}_low" in difference:
            low = _known(difference[f"difference_{unit}_low"])
            high = _known(difference[f"difference_{unit}_high"])
            _band(axes, speeds, low, high, colour, *both)
        lines.append((line, difference["second"]))
    axes.axhline(0.0, color="k", lw=0.8)
    # No further than the curves, or the zero line strikes through the name of one that ends on it.
    known = [line.get_xdata()[np.isfinite(line.get_ydata())] for line, _ in lines]
    axes.set_xlim(0.0, max((one.max() for one in known if one.size), default=speeds[-1]))
    rows = _mark_crossings(axes, document, first, colours)
    _cut_peak(axes, [line for line, _ in lines], unit, rows)
    axes.set_xlabel(SPEED_LABEL)
    shown = "%" if unit == "percent" else unit
    axes.set_ylabel(f"power above that of {first} [{shown}]")
    _named(axes, lines)
    return axes


def _mark_crossings(
    axes: Any, document: PowerDocument, first: str, colours: Mapping[str, str]
) -> int:
    """Where a setting draws the same power as the first: a diamond, its interval, its airspeed.

    Returns how many rows the airspeeds take below the zero line.
    """
    found = sorted(
        (one for one in document["crossings"] if first in (one["first"], one["second"])),
        key=lambda one: one["airspeed_m_s"],
    )
    if not found:
        return 1
    speeds = [one["airspeed_m_s"] for one in found]
    ranks = [0]
    for apart in np.diff(speeds):
        ranks.append(ranks[-1] + 1 if apart < NEAR_SPEEDS_M_S else 0)
    # Room below the zero line for the airspeeds.
    low, high = axes.get_ylim()
    axes.set_ylim(bottom=min(low, -ROOM_BELOW * (1 + max(ranks)) * high))
    for one, rank in zip(found, ranks, strict=True):
        (other,) = {one["first"], one["second"]} - {first}
        speed = one["airspeed_m_s"]
        marker, said = ("|", " (jump)") if one.get("is_jump") else ("D", "")
        axes.plot(speed, 0.0, marker, color=colours[other], ms=5, mec="k", mew=0.6, zorder=4)
        if one.get("interval_m_s"):
            axes.plot(one["interval_m_s"], [0.0, 0.0], color=colours[other], lw=3.5, alpha=0.5)
        axes.annotate(
            f"{speed:.3g} m/s{said}", (speed, 0.0), xytext=(4, -7 - 10 * rank), va="top",
            fontsize=8, textcoords="offset points", color=text_colour(colours[other]),
        )  # fmt: skip
    return 1 + max(ranks)


def _cut_peak(axes: Any, lines: Sequence[Any], unit: str, rows: int) -> None:
    """Keep a peak beside one setting's stall from flattening the rest; say how high it goes."""
    if unit != "percent" or not lines:
        return
    peaks = [float(np.nanmax(line.get_ydata(), initial=0.0)) for line in lines]
    highest = max(peaks)
    if highest <= MOST_PERCENT:
        return
    line = lines[peaks.index(highest)]
    beyond = line.get_xdata()[np.flatnonzero(line.get_ydata() > MOST_PERCENT)]
    lowest = min(float(np.nanmin(one.get_ydata(), initial=0.0)) for one in lines)
    axes.set_ylim(lowest - ROOM_BELOW * rows * MOST_PERCENT, MOST_PERCENT)
    axes.annotate(
        f"up to {highest:.0f} %\nat {beyond[0]:.3g} to {beyond[-1]:.3g} m/s",
        (beyond[-1], MOST_PERCENT), xytext=(8, -3),
        textcoords="offset points", va="top", color=text_colour(line.get_color()), fontsize=8,
    )  # fmt: skip


def parts_axes(axes: Any, document: PowerDocument, name: str) -> Any:
    """Power of one setting by where it goes, stacked against airspeed; returns the axes.

    Parts below zero, such as lift tilted ahead by the rotors' wind, hang below the zero line.
    """
    speeds = _known(document["airspeed_m_s"])
    one = document["configurations"][name]
    leaps = _leaps(speeds, one)
    at, total = gapped(speeds, leaps, _known(one["electrical_power_W"]))
    above, below = np.zeros(len(at)), np.zeros(len(at))
    colours = scale_colours(SEQUENTIAL, len(PARTS))
    for colour, (key, words) in zip(colours, PARTS.items(), strict=True):
        values = gapped(speeds, leaps, _known(one[key]))[1]
        if not np.any(np.abs(np.nan_to_num(values)) > 0.0):
            continue
        more, less = np.maximum(values, 0.0), np.minimum(values, 0.0)
        axes.fill_between(at, above, above + more, color=colour, lw=0, label=words)
        axes.fill_between(at, below + less, below, color=colour, lw=0)
        above, below = above + np.nan_to_num(more), below + np.nan_to_num(less)
    axes.plot(at, total, color="k", lw=1.2, label="electrical power")
    axes.axhline(0.0, color="k", lw=0.8)
    axes.set_xlim(left=0.0)
    axes.set_xlabel(SPEED_LABEL)
    axes.set_ylabel("power [W]")
    axes.set_title(f"Where the power goes: {name}", loc="left")
    axes.legend(*(items[::-1] for items in axes.get_legend_handles_labels()), fontsize=7.5,
                loc="upper center", ncols=2)  # fmt: skip
    return axes


def save_parts_picture(document: PowerDocument, path: Path) -> None:
    """Power by where it goes, one stack a setting, on a common scale."""
    names = list(document["configurations"])
    columns = min(len(names), 2)
    rows = -(-len(names) // columns)
    with plot_style() as plt:
        figure, grid = plt.subplots(
            rows, columns, figsize=(5.4 * columns, 4.0 * rows), layout="constrained",
            squeeze=False, sharey=True,
        )  # fmt: skip
        for axes, name in zip(grid.flat, names, strict=False):
            parts_axes(axes, document, name)
        for axes in grid.flat[len(names) :]:
            axes.set_visible(False)
        headline(figure, [], f"{document['title']}, power by part", 60 * columns)
        save_figure(figure, path)


def body_angle_axes(axes: Any, document: PowerDocument) -> Any:
    """Body angle against airspeed, read either way; dots at the body angles asked for."""
    trim_axes(axes, document, "body_angle_deg")
    for colour, one in zip(COLOURS, document["configurations"].values(), strict=False):
        for angle, speeds in zip(
            document["body_angles_asked_deg"], one["speeds_at_body_angle_m_s"], strict=True
        ):
            axes.plot(speeds, [angle] * len(speeds), "o", color=colour, ms=4)
    for angle in document["body_angles_asked_deg"]:
        axes.axhline(angle, color="k", lw=0.6, ls=":")
    return axes


def trim_axes(axes: Any, document: PowerDocument, key: str) -> Any:
    """One quantity of the trims against airspeed; returns the axes."""
    speeds = _known(document["airspeed_m_s"])
    lines = []
    for index, (name, one) in enumerate(document["configurations"].items()):
        lines.append((_curve(axes, speeds, key, one, index), name))
    if key in ("stall_margin_deg", "wing_share"):
        axes.axhline(0.0 if key == "stall_margin_deg" else 1.0, color="k", lw=0.8)
    axes.set_xlim(left=0.0)
    axes.set_xlabel(SPEED_LABEL)
    axes.set_ylabel(label(key))
    axes.set_title(titled(key), loc="left")
    _named(axes, lines)
    return axes


def _named(axes: Any, lines: Sequence[tuple[Any, str]]) -> None:
    if len(lines) > 1:
        end_labels(axes, lines)


def _reading(document: PowerDocument) -> str:
    """How the curves of power are to be read, as the picture has them."""
    settings = document["configurations"].values()
    uncertainty = document["uncertainty"]
    if uncertainty is not None:
        said = [f"bands: {uncertainty['interval_percent']:g} % intervals"]
    else:
        said = ["no bands, ± not " + ("known" if document["intervals_asked"] else "asked for")]
    if any(any(one["limit"]) for one in settings):
        said.append("dotted: beyond a limit")
    if any(one["branches"] is not None for one in settings):
        said.append("arrows: the trim leaps at stall")
    return "\n".join(wrap("; ".join(said), READING))


def save_power_picture(document: PowerDocument, path: Path) -> None:
    """Power, difference, body angle, share of the wings, stall margin and thrust."""
    with plot_style() as plt:
        figure, grid = plt.subplots(3, 2, figsize=(10.5, 10.0), layout="constrained")
        power_axes(grid[0, 0], document)
        grid[0, 0].set_title(_reading(document), loc="left")
        if document["differences"]:
            difference_axes(grid[0, 1], document)
        else:
            trim_axes(grid[0, 1], document, "pitch_margin_N_m")
        for axes, key in zip(grid.flat[2:], PANELS, strict=True):
            if key == "body_angle_deg":
                body_angle_axes(axes, document)
            else:
                trim_axes(axes, document, key)
        flight = path_words(document["climb_angle_deg"])
        headline(figure, best_sentences(document), f"{document['title']}, {flight}", 130)
        save_figure(figure, path)
