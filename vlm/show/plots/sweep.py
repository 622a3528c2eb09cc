"""Pictures of a sweep: curves against fold, maps over port and starboard folds, strip loads."""

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

from vlm.show.branches import changes, gapped, lone
from vlm.show.labelling import degree_ticks, end_labels, headline, label, titled
from vlm.show.plots.contours import contour_map
from vlm.show.saving import save_figure
from vlm.show.style import look, plot_style
from vlm.show.text.sweep_answer import (
    cost_of_folding,
    dihedral_ranges,
    strongest_roll,
    with_numbers,
)
from vlm.study.point.contact import branches
from vlm.study.point.rotors_across import ALONE
from vlm.study.sweep.naming import is_alone, printed_width

CURVES = ("CL", "CDi", "span_efficiency", "Cl_beta")
MAPS = ("Cl", "Cn", "CL")
SIGNED = ("Cl", "Cm", "Cn", "CY", "Cl_beta", "Cn_beta", "Cl_stability", "Cn_stability")
NEAREST_ALPHA_DEG = 4.0
MOST_CURVES = 5
MARKED_UP_TO = 40


def curve_axes(axes: Any, dataset: Any, name: str, alphas: Sequence[float]) -> Any:
    """One quantity against fold, a line for each angle of attack, its error as a band.

    Parameters
    ----------
    axes : matplotlib axes to draw on
    dataset : of a symmetric sweep
    name : variable of the dataset
    alphas : angles of attack, the nearest of the dataset are taken [deg]

    Returns
    -------
    the axes
    """
    lines: list[tuple[Any, str]] = []
    for alpha in alphas:
        chosen = dataset.sel(alpha=alpha, method="nearest").sel(beta=0.0, method="nearest")
        values, folds = chosen[name].values, chosen["fold"].values
        few = len(folds) < MARKED_UP_TO
        drawn = look(len(lines), len(folds)) | ({"markevery": 1, "ms": 2.5} if few else {})
        (line,) = axes.plot(*gapped(folds, _contacts(chosen), values), **drawn)
        width = printed_width(chosen, name)
        if width is not None:
            _error(axes, chosen, values, width, line.get_color())
        lines.append((line, rf"$\alpha$ {float(chosen['alpha']):g}°"))
    if name == "span_efficiency" and "best_span_efficiency" in dataset:
        nearest = dataset.sel(alpha=alphas[0], method="nearest").sel(beta=0.0, method="nearest")
        best = nearest["best_span_efficiency"].values
        (line,) = axes.plot(*gapped(dataset["fold"].values, _contacts(nearest), best), "k--", lw=1)
        lines.append((line, "best loading"))
    if name == "Cl_beta":
        axes.axhline(0.0, color="k", lw=0.8)
    axes.set_xlabel("fold of both sides [deg], positive raises the tips")
    axes.set_ylabel(label(name))
    below = ["unstable where positive"] if name == "Cl_beta" else []
    below += [ALONE] if is_alone(dataset, name) else []
    axes.set_title(
        "\n".join([titled(name).partition("\n")[0], "; ".join(below)]).strip(), loc="left"
    )
    degree_ticks(axes.xaxis)
    end_labels(axes, lines)
    return axes


def _contacts(chosen: Any) -> list[int]:
    """Indices of folds before which tips meet a wing, or part from it."""
    if "CL_fold_left" not in chosen:
        return []
    open_ = np.isfinite(chosen["CL_fold_left"].values) | ~np.isfinite(chosen["CL"].values)
    return changes(open_.tolist())


def _error(axes: Any, chosen: Any, values: Any, width: Any, colour: str) -> None:
    """The band of the error; a bar at a fold that stands alone between two gaps."""
    folds = chosen["fold"].values
    after = _contacts(chosen)
    at, low, high = gapped(folds, after, values - width, values + width)
    axes.fill_between(at, low, high, color=colour, alpha=0.25, lw=0)
    for i in lone(len(folds), after):
        axes.plot(folds[i], values[i], "_", color=colour, ms=6)
        axes.errorbar(folds[i], values[i], width[i], color=colour, capsize=2, lw=1.0)


def map_axes(axes: Any, dataset: Any, name: str, alpha_deg: float = NEAREST_ALPHA_DEG) -> Any:
    """One quantity over port and starboard folds as filled contours.

    Pairs of folds that have no value, as where surfaces would cross, are hatched.

    Parameters
    ----------
    axes : matplotlib axes to draw on
    dataset : of an asymmetric sweep
    name : variable of the dataset
    alpha_deg : angle of attack, the nearest of the dataset is taken [deg]

    Returns
    -------
    the axes
    """
    chosen = dataset.sel(alpha=alpha_deg, method="nearest").sel(beta=0.0, method="nearest")
    table = chosen.transpose("fold_left", "fold_right", ...)
    known, branch = np.isfinite(table["CL"].values), None
    if "CL_fold_left" in table:
        branch = branches(known & ~np.isfinite(table["CL_fold_left"].values), known)
    filled = contour_map(
        axes, table["fold_left"].values, table["fold_right"].values, table[name].values,
        signed=name in SIGNED, branch=branch,
    )  # fmt: skip
    axes.set_title(titled(name) + (f"\n{ALONE}" if is_alone(dataset, name) else ""), loc="left")
    if filled is not None:
        bar = axes.figure.colorbar(filled, ax=axes, fraction=0.046, pad=0.03)
        bar.set_label(label(name))
    return axes


def strip_axes(axes: Any, strips: Sequence[Any]) -> Any:
    """Local lift coefficient of every strip against its distance along the wings.

    Parameters
    ----------
    axes : matplotlib axes to draw on
    strips : of a point report, port to starboard

    Returns
    -------
    the axes
    """
    lines: list[tuple[Any, str]] = []
    for wing in dict.fromkeys(strip.wing for strip in strips if strip.part != "fin"):
        own = [strip for strip in strips if strip.wing == wing]
        widths = np.array([strip.width_m for strip in own])
        place = np.cumsum(widths) - 0.5 * widths - 0.5 * widths.sum()
        (line,) = axes.plot(place, [strip.cl for strip in own], marker=".")
        lines.append((line, f"{wing} wing"))
    axes.set_xlabel("distance along the wing from the centreline [m], starboard positive")
    axes.set_ylabel(f"strip lift coefficient {label('cl')}")
    end_labels(axes, lines)
    return axes


def sweep_figure(dataset: Any) -> Any:
    """Curves of a symmetric sweep, maps of an asymmetric one; returns the figure.

    Call it inside :func:`~vlm.show.style.plot_style`.
    """
    from matplotlib import pyplot as plt

    outer = tuple(dataset["failure"].dims)
    if outer == ("fold",):
        figure, grid = plt.subplots(2, 2, figsize=(10.0, 6.6), layout="constrained")
        for axes, name in zip(grid.flat, CURVES, strict=True):
            curve_axes(axes, dataset, name, shown_alphas(dataset))
    elif outer == ("fold_left", "fold_right"):
        figure, grid = plt.subplots(1, 3, figsize=(13.0, 4.5), layout="compressed")
        for axes, name in zip(grid.flat, MAPS, strict=True):
            map_axes(axes, dataset, name)
            axes.set_ylabel(axes.get_ylabel() if name == MAPS[0] else "")
    else:
        figure, axes = plt.subplots(figsize=(7.5, 4.5), layout="constrained")
        key_curves(axes, dataset)
    headline(figure, _said(dataset, outer), _about(dataset), int(12.5 * figure.get_figwidth()))
    return figure


def shown_alphas(dataset: Any) -> list[float]:
    """At most :data:`MOST_CURVES` angles of attack of a sweep [deg]."""
    alphas = [float(a) for a in dataset["alpha"].values]
    return alphas[:: -(-len(alphas) // MOST_CURVES)]


def _said(dataset: Any, outer: tuple[str, ...]) -> list[str]:
    """What the sweep says, where it is one over folds."""
    polar = dataset.sel(beta=0.0, method="nearest")
    chosen = polar.sel(alpha=NEAREST_ALPHA_DEG, method="nearest")
    if outer == ("fold_left", "fold_right"):
        return [strongest_roll(chosen.transpose("fold_left", "fold_right", ...))]
    known = with_numbers(chosen) if outer == ("fold",) else None
    return [] if known is None else [cost_of_folding(known, polar=polar), dihedral_ranges(known)]


def _about(dataset: Any) -> str:
    alphas = dataset["alpha"].values
    nearest = float(dataset["alpha"].sel(alpha=NEAREST_ALPHA_DEG, method="nearest"))
    several = "fold" in dataset.dims and len(alphas) > 1
    state = "" if several else f", angle of attack {nearest:g}°"
    return f"{dataset.attrs['title']}{state}"


def save_sweep_picture(dataset: Any, path: Path) -> None:
    """Write the picture of a sweep, its kind by the ending."""
    with plot_style():
        save_figure(sweep_figure(dataset), path)


def key_curves(axes: Any, dataset: Any) -> Any:
    """Lift over fold for each value of the first further key; returns the axes."""
    chosen = dataset.sel(alpha=NEAREST_ALPHA_DEG, method="nearest").sel(beta=0.0, method="nearest")
    key, against = chosen["failure"].dims[0], chosen["failure"].dims[-1]
    values = chosen[key].values
    lines: list[tuple[Any, str]] = []
    for value in values[:: -(-len(values) // MOST_CURVES)]:
        curve = chosen.sel({key: value})
        while curve["CL"].ndim > 1:
            curve = curve.isel({curve["CL"].dims[0]: 0})
        at, lifts = gapped(chosen[against].values, _contacts(curve), curve["CL"].values)
        (line,) = axes.plot(at, lifts, **look(len(lines), len(at)))
        lines.append((line, f"{value:g}"))
    axes.set_xlabel(f"{against.replace('_', ' ')} [deg]")
    axes.set_ylabel(label("CL"))
    axes.set_title(f"lift coefficient; numbers at the ends: {key}", loc="left")
    degree_ticks(axes.xaxis)
    end_labels(axes, lines)
    return axes
