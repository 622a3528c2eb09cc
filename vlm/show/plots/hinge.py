"""Pictures of a study of hinge, worm gear and servo."""

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np

from vlm.show.branches import changes, gapped
from vlm.show.labelling import degree_ticks, end_labels, headline
from vlm.show.saving import save_figure
from vlm.show.sentences import hinge_sentence, servo_sentence
from vlm.show.style import COLOURS, DASHES, MARKERS, look, plot_style
from vlm.show.tables.hinge import PARTS
from vlm.show.words import tip_words

Document = Mapping[str, Any]
FAR = 2.0
"""Limits more than so many times the largest moment are named beside the picture [1]."""
FOLD = "fold of both sides [deg], positive raises the tips"


def _rows(document: Document, factor: float, speed: float) -> list[Document]:
    return [
        row
        for row in document["moments"]
        if "reason" not in row and row["load_factor"] == factor and row["airspeed_m_s"] == speed
    ]


def _factors(document: Document) -> list[float]:
    return sorted({row["load_factor"] for row in document["moments"]})


def _speeds(document: Document) -> list[float]:
    return sorted({row["airspeed_m_s"] for row in document["moments"]})


def _hinge(document: Document) -> str:
    known = [row for row in document["moments"] if "reason" not in row]
    return "upper_right" if "upper_right" in known[0]["hinges"] else next(iter(known[0]["hinges"]))


def moment_parts(axes: Any, document: Document, factor: float, speed: float) -> Any:
    """Parts of one hinge's moment against fold; returns the axes."""
    rows = _rows(document, factor, speed)
    if not rows:
        axes.text(0.5, 0.5, f"load factor {factor:g} is not reached at {speed:g} m/s",
                  ha="center", transform=axes.transAxes)  # fmt: skip
        return axes
    hinge = _hinge(document)
    folds = [row["fold_deg"] for row in rows]
    lines = []
    # The centrifugal part is small, and would only crowd the picture.
    shown = {part: name for part, name in PARTS.items() if part != "roll_rate"}
    for i, (part, name) in enumerate(shown.items()):
        values = [row["hinges"][hinge][f"{part}_N_m"] for row in rows]
        if not any(values):
            continue
        thick = 2.2 if part in ("steady", "worst") else 1.2
        (line,) = axes.plot(
            *_broken(document, folds, values),
            **look(i) | {"lw": thick, "markevery": None, "ls": DASHES[i % 5]},
        )
        lines.append((line, name))
        if part == "worst":
            widths = [row["hinges"][hinge]["half_width_N_m"] for row in rows]
            at, middle, half = _broken(document, folds, values, widths)
            _band(axes, at, middle, half, COLOURS[i % 7])
    axes.axhline(0.0, color="k", lw=0.7)
    axes.set_xlabel(FOLD)
    axes.set_ylabel("moment about the hinge [N m], positive raises the tip")
    axes.set_title(
        f"{tip_words(hinge)} hinge, {speed:g} m/s, load factor {factor:g}\n"
        "bars: ± of the worst; no line across contact", loc="left",
    )  # fmt: skip
    degree_ticks(axes.xaxis)
    end_labels(axes, lines)
    return axes


def _broken(document: Document, folds: Sequence[float], *series: Any) -> list[Any]:
    """Folds and values with a gap where a contact begins or ends: closed and open differ."""
    joined = {row["fold_deg"]: bool(row.get("joined")) for row in document["wings"]}
    return gapped(folds, changes([joined.get(fold, False) for fold in folds]), *series)


def _band(axes: Any, at: Any, values: Any, widths: Any, colour: str) -> None:
    """Band of a half-width; a bar as well, for a point that stands alone between two gaps."""
    axes.fill_between(at, values - widths, values + widths, color=colour, alpha=0.2, lw=0)
    axes.errorbar(at, values, widths, fmt="none", ecolor=colour, elinewidth=0.8, capsize=2)


def moment_against_airspeed(axes: Any, document: Document) -> Any:
    """Steady moment at 1 g and worst moment at limit load against airspeed; returns the axes.

    Limits that stand far beyond every moment are named, not drawn.
    """
    hinge, factors = _hinge(document), _factors(document)
    folds = sorted({row["fold_deg"] for row in document["moments"]})
    lines = []
    for i, fold in enumerate(folds[:: max(1, -(-len(folds) // 5))]):
        for factor, part, dash in ((factors[0], "steady", "-"), (factors[-1], "worst", "--")):
            known = [
                (row["airspeed_m_s"], row["hinges"][hinge][f"{part}_N_m"],
                 row["hinges"][hinge]["half_width_N_m"])
                for row in document["moments"]
                if "reason" not in row and row["fold_deg"] == fold and row["load_factor"] == factor
            ]  # fmt: skip
            if known:
                speeds, moments, widths = np.array(sorted(known), dtype=float).T
                (line,) = axes.plot(speeds, moments, **look(i) | {"ls": dash, "markevery": None})
                if part == "worst":
                    _band(axes, speeds, moments, widths, COLOURS[i % 7])
                else:
                    lines.append((line, f"fold {fold:g}°"))
    axes.axhline(0.0, color="k", lw=0.7)
    drawn, beyond = _limit_lines(axes, document)
    axes.set_xlabel("airspeed [m/s]")
    axes.set_ylabel("moment about the hinge [N m], positive raises the tip")
    axes.set_title(
        f"full: steady at 1 g; dashed, with ±: worst in roll at {factors[-1]:g} g{beyond}",
        loc="left",
    )
    lines += drawn
    end_labels(axes, lines)
    return axes


def _limit_lines(axes: Any, document: Document) -> tuple[list[tuple[Any, str]], str]:
    """What servo and hinge stand, as lines either way of zero; and in words those far beyond."""
    limits = document["limits"]
    marks = {f"servo stalls, {k}": v for k, v in limits["moment_at_stall_N_m"].items()}
    marks["hinge limit"] = limits["hinge_moment_limit_N_m"]
    ends = [min(_speeds(document)), max(_speeds(document))]
    low, high = axes.get_ylim()
    reach = FAR * max(abs(low), abs(high))
    lines, beyond = [], []
    for i, (name, value) in enumerate(marks.items()):
        if value is None:
            continue
        if value > reach:
            beyond.append(f"{name} {value:.3g} N m")
            continue
        for side in (value, -value) if low < -0.5 * value else (value,):
            (line,) = axes.plot(ends, [side] * 2, color="k", lw=0.9, ls=DASHES[1 + i])
            lines.append((line, name))
    return lines, f"\nbeyond the picture: {', '.join(beyond)}" if beyond else ""


def worm_curves(axes: Any, document: Document) -> Any:
    """Efficiency both ways against friction, with the scatter dry and greased; returns the axes."""
    worm = document["worm"]
    lock = worm["dry"]["locking_friction"]
    top = max(worm["dry"]["friction"][1], 1.3 * lock)
    for name, colour in (("greased", COLOURS[5]), ("dry", COLOURS[4])):
        low, high = worm[name]["friction"]
        axes.axvspan(low, high, color=colour, alpha=0.3, lw=0)
        axes.annotate(name, (high, 0.98), ha="right", va="top", xytext=(-2, 0),
                      xycoords=("data", "axes fraction"), textcoords="offset points",
                      fontsize=8)  # fmt: skip
    curve = worm["curve"]
    (forward,) = axes.plot(curve["friction"], curve["forward_efficiency"], color=COLOURS[0])
    (back,) = axes.plot(curve["friction"], curve["back_efficiency"], "--", color=COLOURS[1])
    for name in ("greased", "dry"):
        for key, colour in (("forward", COLOURS[0]), ("back", COLOURS[1])):
            axes.plot(worm[name]["friction"], worm[name][f"{key}_efficiency"], ".", color=colour)
    axes.axvline(lock, color="k", lw=0.9)
    axes.annotate(f"locks beyond {lock:.3f}", (lock, 0.89), xycoords=("data", "axes fraction"),
                  xytext=(4, 0), textcoords="offset points", fontsize=8)  # fmt: skip
    axes.axhline(0.0, color="k", lw=0.7)
    axes.set_xlim(0.0, top)
    axes.set_ylim(-0.8, 1.0)
    axes.set_xlabel("coefficient of friction of the mesh")
    axes.set_ylabel("efficiency")
    axes.set_title("worm gear at rest; vibration can unlock it", loc="left")
    end_labels(axes, [(forward, "worm drives\nwheel"), (back, "wheel drives worm")])
    return axes


def wing_loads(axes: Any, document: Document, key: str, words: str) -> Any:
    """Shear or bending along the upper starboard half wing; returns the axes."""
    rows = [row for row in document["wings"] if "reason" not in row]
    folds = sorted({row["fold_deg"] for row in rows})
    shown = folds[:: max(1, -(-len(folds) // 4))]
    hinge = None
    for row in rows:
        if row["fold_deg"] not in shown:
            continue
        half = next(h for h in row["halves"] if (h["wing"], h["side"]) == ("upper", "right"))
        hinge = half["hinge_distance_m"]
        dash = "-" if row["load_factor"] == 1.0 else "--"
        index = shown.index(row["fold_deg"])
        axes.plot(half["distance_m"], half[key], ls=dash, color=COLOURS[index % 7],
                  marker=MARKERS[index % 7], ms=3.0,
                  label=f"{row['fold_deg']:g} deg" if dash == "-" else None)  # fmt: skip
    if hinge is not None:
        axes.axvline(hinge, color="k", lw=0.8)
        axes.annotate("hinge", (hinge, 0.95), xycoords=("data", "axes fraction"), fontsize=8,
                      xytext=(3, 0), textcoords="offset points")  # fmt: skip
    axes.axhline(0.0, color="k", lw=0.7)
    axes.set_xlabel("distance from the root along the folded upper wing [m]")
    axes.set_ylabel(words)
    factor = document["state"]["load_factor_limit"]
    axes.set_title(f"full: 1 g; dashed: {factor:g} g; axes follow the fold", loc="left")
    axes.legend(fontsize=7, title="fold", title_fontsize=7)
    return axes


def save_hinge_picture(document: Document, path: Path) -> None:
    """Six panels: parts of the moment twice, against airspeed, worm, shear, bending."""
    speed = document["state"]["airspeed_m_s"]
    nearest = min(_speeds(document), key=lambda v: abs(v - speed))
    factors = _factors(document)
    pulled = max(_speeds(document), key=lambda v: (len(_rows(document, factors[-1], v)), -v))
    with plot_style() as plt:
        figure, grid = plt.subplots(2, 3, figsize=(15.5, 8.8), layout="constrained")
        moment_parts(grid[0, 0], document, factors[0], nearest)
        moment_parts(grid[0, 1], document, factors[-1], pulled)
        moment_against_airspeed(grid[0, 2], document)
        worm_curves(grid[1, 0], document)
        wing_loads(grid[1, 1], document, "shear_N", "shear force across the wing [N]")
        wing_loads(grid[1, 2], document, "bending_N_m", "bending moment raising the end [N m]")
        said = [hinge_sentence(document), servo_sentence(document)]
        headline(figure, said, f"{document['title']}, {speed:g} m/s", 190)
        save_figure(figure, path)
