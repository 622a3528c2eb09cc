"""The trade of a design: the goal against one key, with what binds along it."""

import re
from pathlib import Path
from textwrap import wrap
from typing import Any

import numpy as np

from vlm.constants import Floats
from vlm.show.labelling import end_labels
from vlm.show.saving import save_figure
from vlm.show.style import COLOURS, plot_style
from vlm.study.design.report import DesignDocument, KeyDocument, TradeDocument, WorthDocument

UNIT = re.compile(r"_(m|m2|deg|kg|N|W|Wh|V|A|m_s|N_m)$")
LINE = 95


def design_axes(axes: Any, document: DesignDocument) -> Any:
    """The goal against one key, all others as in the best design; returns the axes."""
    trade, best = document["trade"], document["best"]
    assert trade is not None and best is not None, "a search without a best has no picture"
    key = next(row for row in document["keys"] if row["key"] == trade["key"])
    x = np.array(trade["values"])
    y = _values(trade["folding"])
    (folding,) = axes.plot(x, y, "-", color=COLOURS[0])
    named = [(folding, "folding tips")] if trade["open_fixed"] else []
    if trade["open_fixed"]:
        (fixed,) = axes.plot(x, _values(trade["open_fixed"]), "--", color=COLOURS[1])
        named.append((fixed, "flat, no mechanism"))
    _constraints(axes, trade, x, y)
    named += _as_in_the_file(axes, document, key)
    _marks(axes, best, key)
    axes.set_xlim(key["low"], key["high"])
    axes.margins(y=0.1)  # room for the best's name below it
    axes.set_xlabel(key_words(trade["key"]))
    sought, goal = document["sought"], document["goal"]
    axes.set_ylabel(f"{goal} [{document['unit']}], the {sought} is sought")
    words = " ".join(document["answer"][:2]).replace(" ± ", "\u00a0±\u00a0")
    said = "\n".join(wrap(words, LINE))
    axes.set_title(
        f"{said}\n{document['title']}: an estimate, not a flight clearance".lstrip(), loc="left"
    )
    end_labels(axes, named)
    return axes


def _as_in_the_file(axes: Any, document: DesignDocument, key: KeyDocument) -> list[tuple[Any, str]]:
    """The craft of the file as a level, with the ± of the best design's difference to it."""
    present, half = document["present"], document["better_half_width_percent"]
    if present is None or present["value"] is None or half is None:
        return []
    value = present["value"]
    width = 0.01 * half * abs(value)
    axes.axhspan(value - width, value + width, color="0.5", alpha=0.25, lw=0.0, zorder=0)
    (level,) = axes.plot(
        [key["low"], key["high"]], [value, value], color="0.35", ls=":", lw=1.0, zorder=0
    )
    return [(level, "as in the file, ±")]


def key_words(key: str) -> str:
    """A key of the file as words with its unit, for an axis."""
    unit = UNIT.search(key)
    words = re.sub(r"[._]+", " ", UNIT.sub("", key))
    return f"{words} [{unit[1]}]" if unit else words


def _values(worths: list[WorthDocument]) -> Floats:
    return np.array([np.nan if w["value"] is None else w["value"] for w in worths])


def _constraints(axes: Any, trade: TradeDocument, x: Floats, y: Floats) -> None:
    """Points at which a constraint holds back, and shaded stretches without a design."""
    held = [", ".join(worth["active"]) for worth in trade["folding"]]
    for name in dict.fromkeys(text for text in held if text):
        own = np.array([text == name for text in held])
        axes.plot(x[own], y[own], "s", color=COLOURS[3], markersize=5, clip_on=False)
        first = int(np.flatnonzero(own)[0])
        axes.annotate(
            f"active constraint: {name}", (x[first], y[first]), xytext=(0.0, 8.0),
            textcoords="offset points", color=COLOURS[3], fontsize=8.0,
            ha="left" if x[first] < 0.5 * (x[0] + x[-1]) else "right",
        )  # fmt: skip
    middles = np.concatenate([[x[0]], 0.5 * (x[1:] + x[:-1]), [x[-1]]])
    shown = ""
    for index, worth in enumerate(trade["folding"]):
        if not worth["reason"]:
            shown = ""
            continue
        axes.axvspan(middles[index], middles[index + 1], facecolor="none", edgecolor="0.75",
                     hatch="///", lw=0.0, zorder=0)  # fmt: skip
        if worth["reason"] != shown:
            shown = worth["reason"]
            axes.annotate(
                f" not allowed: {shown[:60]}", (middles[index], 0.02), xytext=(4.0, 0.0),
                xycoords=axes.get_xaxis_transform(), textcoords="offset points", rotation=90,
                fontsize=7.5, color="0.2", va="bottom", ha="left",
                bbox={"boxstyle": "round,pad=0.1", "fc": "w", "ec": "none", "alpha": 0.9},
            )  # fmt: skip


def _marks(axes: Any, best: WorthDocument, key: KeyDocument) -> None:
    """The best design and the file's own value."""
    axes.plot([key["best"]], [best["value"]], "o", color="k", markersize=6,
              clip_on=False, zorder=5)  # fmt: skip
    side = {"lower": ("left", 8.0), "upper": ("right", -8.0)}.get(key["bound"] or "")
    ha, across = side or ("center", 0.0)
    bound = "" if key["bound"] is None else f", at the {key['bound']} bound"
    axes.annotate(
        f"best{bound}", (key["best"], best["value"]), xytext=(across, -14.0),
        textcoords="offset points", ha=ha, fontsize=8.5, zorder=4,
        bbox={"boxstyle": "round,pad=0.15", "fc": "w", "ec": "none", "alpha": 0.8},
    )  # fmt: skip
    present = key["present"]
    if present is not None and key["low"] <= present <= key["high"]:
        axes.axvline(present, color="0.5", ls=":", lw=1.0)
        axes.text(
            present, 0.98, " in the file", transform=axes.get_xaxis_transform(), va="top",
            fontsize=8.0, color="0.4",
        )  # fmt: skip


def save_design_picture(document: DesignDocument, path: Path) -> None:
    """Write the picture."""
    with plot_style() as plt:
        figure, axes = plt.subplots(figsize=(8.0, 4.8), layout="constrained")
        design_axes(axes, document)
        save_figure(figure, path)
