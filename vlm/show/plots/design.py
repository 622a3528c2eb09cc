"""The trade of a design: the goal against one key, with what binds along it."""

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np

from vlm.constants import Floats
from vlm.show.saving import save_figure
from vlm.show.style import COLOURS, plot_style


def design_axes(axes: Any, document: Mapping[str, Any]) -> Any:
    """The goal against one key, all others as in the best design; returns the axes."""
    trade = document["trade"]
    key = next(row for row in document["keys"] if row["key"] == trade["key"])
    x = np.array(trade["values"])
    y = _values(trade["folding"])
    axes.plot(x, y, "-", color=COLOURS[0])
    _said_at_end(axes, x, y, "folding tips" if trade["open_fixed"] else "", COLOURS[0])
    if trade["open_fixed"]:
        fixed = _values(trade["open_fixed"])
        axes.plot(x, fixed, "--", color=COLOURS[1])
        _said_at_end(axes, x, fixed, "flat, no mechanism", COLOURS[1])
    _constraints(axes, trade, x, y)
    _marks(axes, document, key)
    axes.set_xlim(key["low"], key["high"])
    axes.set_xlabel(trade["key"])
    sought, goal = document["sought"], document["goal"]
    axes.set_ylabel(f"{goal} [{document['unit']}], the {sought} is sought")
    axes.set_title(f"{document['title']}: an estimate, not a flight clearance")
    return axes


def _values(worths: list[dict[str, Any]]) -> Floats:
    return np.array([np.nan if w["value"] is None else w["value"] for w in worths])


def _said_at_end(axes: Any, x: Floats, y: Floats, text: str, colour: str) -> None:
    known = np.flatnonzero(np.isfinite(y))
    if known.size and text:
        last = int(known[-1])
        axes.annotate(
            text, (x[last], y[last]), xytext=(5.0, 0.0), textcoords="offset points", va="center",
            color=colour, fontsize=8.5, annotation_clip=False,
        )  # fmt: skip


def _constraints(axes: Any, trade: dict[str, Any], x: Floats, y: Floats) -> None:
    """Points at which a constraint holds back, and shaded stretches without a design."""
    held = [", ".join(worth["active"]) for worth in trade["folding"]]
    for name in dict.fromkeys(text for text in held if text):
        own = np.array([text == name for text in held])
        axes.plot(x[own], y[own], "s", color=COLOURS[3], markersize=5)
        first = int(np.flatnonzero(own)[0])
        axes.annotate(
            f"active constraint: {name}", (x[first], y[first]), xytext=(0.0, 8.0),
            textcoords="offset points", color=COLOURS[3], fontsize=8.0,
            ha="left" if x[first] < 0.5 * (x[0] + x[-1]) else "right",
        )  # fmt: skip
    middles = np.concatenate([[x[0]], 0.5 * (x[1:] + x[:-1]), [x[-1]]])
    told = ""
    for index, worth in enumerate(trade["folding"]):
        if not worth["reason"]:
            told = ""
            continue
        axes.axvspan(middles[index], middles[index + 1], color="0.88", lw=0.0, zorder=0)
        if worth["reason"] != told:
            told = worth["reason"]
            axes.text(
                middles[index], 0.02, f" not allowed: {told[:60]}", rotation=90, fontsize=7.5,
                color="0.3", transform=axes.get_xaxis_transform(), va="bottom", ha="left",
            )  # fmt: skip


def _marks(axes: Any, document: Mapping[str, Any], key: dict[str, Any]) -> None:
    """The best design and the file's own value."""
    best = document["best"]
    axes.plot([key["best"]], [best["value"]], "o", color="k", markersize=6)
    bound = "" if key["bound"] is None else f", at the {key['bound']} bound"
    axes.annotate(
        f"best{bound}", (key["best"], best["value"]), xytext=(0.0, -14.0),
        textcoords="offset points", ha="center", fontsize=8.5,
    )  # fmt: skip
    present = key["present"]
    if present is not None and key["low"] <= present <= key["high"]:
        axes.axvline(present, color="0.5", ls=":", lw=1.0)
        axes.text(
            present, 0.98, " in the file", transform=axes.get_xaxis_transform(), va="top",
            fontsize=8.0, color="0.4",
        )  # fmt: skip


def save_design_picture(document: Mapping[str, Any], path: Path) -> None:
    """Write the picture."""
    with plot_style() as plt:
        figure, axes = plt.subplots(figsize=(8.0, 4.8), layout="constrained")
        design_axes(axes, document)
        save_figure(figure, path)
