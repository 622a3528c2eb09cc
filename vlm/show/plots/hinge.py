"""Pictures of a study of hinge, worm gear and servo."""

from collections.abc import Sequence
from pathlib import Path
from textwrap import fill
from typing import Any

import numpy as np

from vlm.constants import Floats
from vlm.show.airspeed_limits import servo_sentence
from vlm.show.branches import changes, gapped
from vlm.show.labelling import degree_ticks, end_labels, headline
from vlm.show.saving import save_figure
from vlm.show.sentences import hinge_sentence
from vlm.show.style import COLOURS, DASHES, MARKERS, look, plot_style
from vlm.show.tables.hinge import PARTS
from vlm.show.text.layout import number
from vlm.show.words import tip_words
from vlm.sides import Side
from vlm.study.hinge.results import HingeStudy, MomentRow, WingRow, stalls_first

LINE = 60
"""Letters in a line of a panel's title."""
FAR = 2.0
"""Limits more than so many times the largest moment are named beside the picture [1]."""
FOLD = "fold of both sides [deg], positive raises the tips"
# The centrifugal part is small, and would only crowd the picture.
SHOWN = {name: part for name, part in PARTS.items() if name != "centrifugal"}
STEADY, WORST = "steady sum", "worst in roll"


def _rows(study: HingeStudy, factor: float, speed: float) -> list[MomentRow]:
    return [
        row
        for row in study.known_moments
        if row.load_factor == factor and row.airspeed_m_s == speed
    ]


def _factors(study: HingeStudy) -> list[float]:
    return sorted({row.load_factor for row in study.moments})


def _reached(study: HingeStudy, factor: float, speed: float) -> int:
    """At how many folds the wings reach a load factor."""
    return sum(not stalls_first(row) for row in _rows(study, factor, speed))


def _speeds(study: HingeStudy) -> list[float]:
    return sorted({row.airspeed_m_s for row in study.moments})


def _hinge(study: HingeStudy) -> str:
    names = study.known_moments[0].hinges or {}
    return "upper_right" if "upper_right" in names else next(iter(names))


def _widths(rows: Sequence[MomentRow], hinge: str) -> Floats:
    return np.array([row.hinge(hinge).half_width_N_m for row in rows], dtype=float)


def reached_words(rows: Sequence[MomentRow | WingRow]) -> str:
    """Load factors that rows reach, with the airspeeds, and that asked for where they are less."""
    reached = _span([row.reached_load_factor or row.load_factor for row in rows], 2)
    speeds = _span([row.airspeed_m_s for row in rows if row.airspeed_m_s is not None], 3)
    place = f" at {speeds} m/s" if speeds else ""
    asked = f", {rows[0].load_factor:g} g asked" if any(map(stalls_first, rows)) else ""
    return f"{reached} g{place}{asked}"


def _span(values: Sequence[float], digits: int) -> str:
    ends = [number(end, digits) for end in (min(values), max(values))] if values else []
    return " to ".join(dict.fromkeys(ends))


def moment_parts(axes: Any, study: HingeStudy, factor: float, speed: float) -> Any:
    """Parts of one hinge's moment against fold; returns the axes."""
    rows = _rows(study, factor, speed)
    if not rows:
        axes.text(0.5, 0.5, f"load factor {factor:g} is not reached at {speed:g} m/s",
                  ha="center", transform=axes.transAxes)  # fmt: skip
        return axes
    hinge = _hinge(study)
    folds = [row.fold_deg for row in rows]
    lines = []
    for i, (name, part) in enumerate(SHOWN.items()):
        values = [part(row.hinge(hinge)) for row in rows]
        if not any(values):
            continue
        thick = 2.2 if name in (STEADY, WORST) else 1.2
        (line,) = axes.plot(
            *_broken(study, folds, values),
            **look(i) | {"lw": thick, "markevery": None, "ls": DASHES[i % 5]},
        )
        lines.append((line, name))
        if name == WORST:
            at, middle, half = _broken(study, folds, values, _widths(rows, hinge))
            _band(axes, at, middle, half, COLOURS[i % 7])
    axes.axhline(0.0, color="k", lw=0.7)
    axes.set_xlabel(FOLD)
    axes.set_ylabel("moment about the hinge [N m], positive raises the tip")
    axes.set_title(
        f"{tip_words(hinge)} hinge, {'up to ' if factor > 1.0 else ''}{reached_words(rows)}\n"
        "bars: ± of the worst; no line across contact", loc="left",
    )  # fmt: skip
    degree_ticks(axes.xaxis)
    end_labels(axes, lines)
    return axes


def _broken(study: HingeStudy, folds: Sequence[float], *series: Any) -> list[Any]:
    """Folds and values with a gap where a contact begins or ends: closed and open differ."""
    touching = {row.fold_deg: bool(row.touching) for row in study.wings}
    return gapped(folds, changes([touching.get(fold, False) for fold in folds]), *series)


def _band(axes: Any, at: Any, values: Any, widths: Any, colour: str) -> None:
    """Band of a half-width; a bar as well, for a point that stands alone between two gaps."""
    axes.fill_between(at, values - widths, values + widths, color=colour, alpha=0.2, lw=0)
    axes.errorbar(at, values, widths, fmt="none", ecolor=colour, elinewidth=0.8, capsize=2)


def moment_against_airspeed(axes: Any, study: HingeStudy) -> Any:
    """Steady moment at 1 g and worst moment at limit load against airspeed; returns the axes.

    Limits that stand far beyond every moment are named, not drawn.
    """
    hinge, factors = _hinge(study), _factors(study)
    folds = sorted({row.fold_deg for row in study.moments})
    lines = []
    for i, fold in enumerate(folds[:: max(1, -(-len(folds) // 5))]):
        for factor, name, dash in ((factors[0], STEADY, "-"), (factors[-1], WORST, "--")):
            rows = [
                row
                for row in study.known_moments
                if row.fold_deg == fold and row.load_factor == factor
            ]
            if rows:
                rows.sort(key=lambda row: row.airspeed_m_s)
                speeds = np.array([row.airspeed_m_s for row in rows])
                moments = np.array([PARTS[name](row.hinge(hinge)) for row in rows])
                (line,) = axes.plot(speeds, moments, **look(i) | {"ls": dash, "markevery": None})
                if name == WORST:
                    _band(axes, speeds, moments, _widths(rows, hinge), COLOURS[i % 7])
                else:
                    lines.append((line, f"fold {fold:.3g}°"))
    axes.axhline(0.0, color="k", lw=0.7)
    drawn, beyond = _limit_lines(axes, study)
    less = f" or {study.stall_words}" if any(map(stalls_first, study.known_moments)) else ""
    axes.set_xlabel("airspeed [m/s]")
    axes.set_ylabel("moment about the hinge [N m], positive raises the tip")
    axes.set_title(
        f"full: steady, 1 g; dashed, ±: worst in roll up to {factors[-1]:g} g{less}{beyond}",
        loc="left",
    )
    lines += drawn
    end_labels(axes, lines)
    return axes


def _limit_lines(axes: Any, study: HingeStudy) -> tuple[list[tuple[Any, str]], str]:
    """What servo and hinge stand, as lines either way of zero; and in words those far beyond."""
    stalls = study.limits.moment_at_stall_N_m
    marks: dict[str, float | None] = {f"servo stalls, {k}": v for k, v in stalls.items()}
    marks["hinge limit"] = study.limits.hinge_moment_limit_N_m
    ends = [min(_speeds(study)), max(_speeds(study))]
    low, high = axes.get_ylim()
    reach = FAR * max(abs(low), abs(high))
    lines, beyond = [], []
    for i, (name, value) in enumerate(marks.items()):
        if value is None:
            continue
        if value > reach:
            beyond.append(f"{name.replace(',', '')} {value:.3g}")
            continue
        for side in (value, -value) if low < -0.5 * value else (value,):
            (line,) = axes.plot(ends, [side] * 2, color="k", lw=0.9, ls=DASHES[1 + i])
            lines.append((line, name))
    words = fill(f"beyond the picture, N m: {', '.join(beyond)}", LINE)
    return lines, f"\n{words}" if beyond else ""


def worm_curves(axes: Any, study: HingeStudy) -> Any:
    """Efficiency both ways against friction, with the scatter dry and greased; returns the axes."""
    worm, curve = study.worm, study.worm.curve
    lock = worm.dry.locking_friction
    top = max(worm.dry.friction[1], 1.3 * lock)
    states = {"greased": worm.greased, "dry": worm.dry}
    for (name, state), colour in zip(states.items(), (COLOURS[5], COLOURS[4]), strict=True):
        low, high = state.friction
        axes.axvspan(low, high, color=colour, alpha=0.3, lw=0)
        axes.annotate(name, (high, 0.98), ha="right", va="top", xytext=(-2, 0),
                      xycoords=("data", "axes fraction"), textcoords="offset points",
                      fontsize=8)  # fmt: skip
    (forward,) = axes.plot(curve.friction, curve.forward_efficiency, color=COLOURS[0])
    (back,) = axes.plot(curve.friction, curve.back_efficiency, "--", color=COLOURS[1])
    for state in states.values():
        axes.plot(state.friction, state.forward_efficiency, ".", color=COLOURS[0])
        axes.plot(state.friction, state.back_efficiency, ".", color=COLOURS[1])
    axes.axvline(lock, color="k", lw=0.9)
    # A line below the names of the bands, however low the axes are.
    axes.annotate(f"locks beyond {lock:.3f}", (lock, 0.98), xycoords=("data", "axes fraction"),
                  va="top", xytext=(4, -11), textcoords="offset points", fontsize=8)  # fmt: skip
    axes.axhline(0.0, color="k", lw=0.7)
    axes.set_xlim(0.0, top)
    axes.set_ylim(-0.8, 1.0)
    axes.set_xlabel("coefficient of friction of the mesh")
    axes.set_ylabel("efficiency")
    axes.set_title("worm gear at rest; vibration can unlock it", loc="left")
    end_labels(axes, [(forward, "worm drives\nwheel"), (back, "wheel drives worm")])
    return axes


SHEAR, BENDING = "shear force across the wing [N]", "bending moment raising the end [N m]"
"""Loads along a half wing, as their axis calls them."""


def wing_loads(axes: Any, study: HingeStudy, words: str) -> Any:
    """Shear or bending along the upper starboard half wing; returns the axes."""
    rows = [row for row in study.wings if row.reason is None]
    folds = sorted({row.fold_deg for row in rows})
    shown = folds[:: max(1, -(-len(folds) // 4))]
    hinge = None
    for row in rows:
        if row.fold_deg not in shown or row.halves is None:
            continue
        half = next(h for h in row.halves if (h.wing, h.side) == ("upper", Side.STARBOARD))
        hinge = half.hinge_distance_m
        dash = "-" if row.load_factor == 1.0 else "--"
        index = shown.index(row.fold_deg)
        load = half.shear_N if words == SHEAR else half.bending_N_m
        axes.plot(*_turned(half.distance_m, load), ls=dash, color=COLOURS[index % 7],
                  marker=MARKERS[index % 7], ms=3.0,
                  label=_fold_words(row) if dash == "-" else None)  # fmt: skip
        value, width = (
            (half.root_shear_N, half.root_shear_half_width_N)
            if words == SHEAR
            else (half.root_bending_N_m, half.root_bending_half_width_N_m)
        )
        if width is not None:
            axes.errorbar([0.0], [value], [width], color=COLOURS[index % 7], capsize=3.0, lw=1.0)
    if hinge is not None:
        axes.axvline(hinge, color="k", lw=0.8)
        axes.annotate("hinge", (hinge, 0.95), xycoords=("data", "axes fraction"), fontsize=8,
                      xytext=(3, 0), textcoords="offset points")  # fmt: skip
    axes.axhline(0.0, color="k", lw=0.7)
    axes.set_xlabel("distance from the root along the folded upper wing [m]")
    axes.set_ylabel(words)
    pulled = [row for row in rows if row.load_factor != 1.0]
    dashed = f"; dashed: {reached_words(pulled)}" if pulled else ""
    left_open = any(row.joined for row in rows)
    known = "\njoined: as if the joint carried nothing, ± not known" if left_open else ""
    axes.set_title(
        f"full: 1 g{dashed}\naxes follow the fold; bar at the root: ±{known}", loc="left"
    )
    axes.legend(fontsize=7.5, title="fold", title_fontsize=7.5)
    return axes


def _fold_words(row: WingRow) -> str:
    return f"{row.fold_deg:.3g} deg{', joined' if row.joined else ''}"


def _turned(distance: Floats, load: Floats) -> list[Floats]:
    """Loads with a gap where the wing turns, and the axes with it: there a cut stands twice."""
    return gapped(distance, (np.flatnonzero(np.diff(distance) == 0.0) + 1).tolist(), load)


def save_hinge_picture(study: HingeStudy, path: Path) -> None:
    """Six panels: parts of the moment twice, against airspeed, worm, shear, bending."""
    speed = study.state["airspeed_m_s"]
    nearest = min(_speeds(study), key=lambda v: abs(v - speed))
    factors = _factors(study)
    pulled = max(_speeds(study), key=lambda v: (_reached(study, factors[-1], v), -v))
    with plot_style() as plt:
        figure, grid = plt.subplots(2, 3, figsize=(15.5, 8.8), layout="constrained")
        moment_parts(grid[0, 0], study, factors[0], nearest)
        moment_parts(grid[0, 1], study, factors[-1], pulled)
        moment_against_airspeed(grid[0, 2], study)
        worm_curves(grid[1, 0], study)
        wing_loads(grid[1, 1], study, SHEAR)
        wing_loads(grid[1, 2], study, BENDING)
        said = [hinge_sentence(study), servo_sentence(study.limits)]
        headline(figure, said, f"{study.title}, {speed:g} m/s", 190)
        save_figure(figure, path)
