"""First pictures of a sweep: curves against fold, maps over port and starboard, strip loads."""

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

from vlm.quantities import QUANTITIES
from vlm.show.style import DIVERGING, plot_style

CURVES = ("CL", "CDi", "span_efficiency", "Cl_beta")
MAPS = ("Cl", "Cn", "CL")


def label(name: str) -> str:
    """Axis label of a quantity: short symbol with its unit."""
    quantity = QUANTITIES[name]
    unit = "" if quantity.unit == "1" else f" [{quantity.unit}]"
    return f"${quantity.symbol}${unit}"


def curve_axes(axes: Any, dataset: Any, name: str, alphas: Sequence[float]) -> Any:
    """One quantity against fold, a line for each angle of attack, its error as a band.

    Returns the axes.
    """
    for alpha in alphas:
        chosen = dataset.sel(alpha=alpha, method="nearest").sel(beta=0.0, method="nearest")
        values, folds = chosen[name].values, chosen["fold"].values
        (line,) = axes.plot(folds, values, marker="." if len(folds) < 40 else None)
        if f"{name}_error" in chosen:
            width = chosen[f"{name}_error"].values
            axes.fill_between(folds, values - width, values + width, alpha=0.25, lw=0)
        known = np.flatnonzero(np.isfinite(values))
        if len(alphas) > 1 and known.size:
            axes.annotate(
                f"{float(chosen['alpha']):g}°", (folds[known[-1]], values[known[-1]]),
                xytext=(4, 0), textcoords="offset points", va="center", color=line.get_color(),
            )  # fmt: skip
    axes.set_xlabel("fold of both sides [deg], positive raises the tips")
    axes.set_ylabel(label(name))
    if name == "span_efficiency" and "best_span_efficiency" in dataset:
        axes.plot(dataset["fold"].values, dataset["best_span_efficiency"].values, "k--", lw=1)
        axes.annotate(
            "best loading of the same wake", (0.03, 0.93), xycoords="axes fraction", fontsize=8
        )
    if name == "Cl_beta":
        axes.axhline(0.0, color="k", lw=0.8)
        axes.annotate(
            "unstable above, stable below", (0.03, 0.03), xycoords="axes fraction", fontsize=8
        )
    return axes


def map_axes(axes: Any, dataset: Any, name: str) -> Any:
    """One quantity over port and starboard folds as filled contours; returns the axes."""
    chosen = dataset.sel(alpha=4.0, method="nearest").sel(beta=0.0, method="nearest")
    table = chosen[name].transpose("fold_right", "fold_left")
    values = table.values
    signed = name in ("Cl", "Cn")
    if signed:
        bound = float(np.nanmax(np.abs(values))) or 1.0
        levels = np.linspace(-bound, bound, 17)
        filled = axes.contourf(
            table["fold_left"], table["fold_right"], values, levels, cmap=DIVERGING
        )
    else:
        filled = axes.contourf(table["fold_left"], table["fold_right"], values, 16, cmap="cividis")
    lines = axes.contour(filled, levels=filled.levels[::4], colors="k", linewidths=0.6)
    axes.clabel(lines, fontsize=7, fmt="%.3g")
    axes.set_xlabel("port fold [deg]")
    axes.set_ylabel("starboard fold [deg]")
    sign = QUANTITIES[name].sign
    axes.set_title(f"{label(name)}" + (f", positive: {sign}" if sign else ""))
    axes.set_aspect("equal")
    axes.figure.colorbar(filled, ax=axes, shrink=0.8)
    return axes


def strip_axes(axes: Any, strips: Sequence[Any]) -> Any:
    """Local lift coefficient of every strip against its distance along the wings."""
    for wing in dict.fromkeys(strip.wing for strip in strips):
        own = [strip for strip in strips if strip.wing == wing]
        widths = np.array([strip.width for strip in own])
        place = np.cumsum(widths) - 0.5 * widths - 0.5 * widths.sum()
        (line,) = axes.plot(place, [strip.cl for strip in own], marker=".")
        middle = len(own) // 2
        axes.annotate(
            f"{wing} wing", (place[middle], own[middle].cl), xytext=(0, 6),
            textcoords="offset points", color=line.get_color(), ha="center",
        )  # fmt: skip
    axes.set_xlabel("distance along the wing from the centreline [m], starboard positive")
    axes.set_ylabel(f"strip lift coefficient {label('cl')}")
    return axes


def save_sweep_picture(dataset: Any, path: Path) -> None:
    """Curves of a symmetric sweep, maps of an asymmetric one."""
    with plot_style() as plt:
        if "fold" in dataset.dims and len(dataset["failure"].dims) == 1:
            alphas = [float(a) for a in dataset["alpha"].values]
            shown = alphas if len(alphas) <= 5 else alphas[:: (len(alphas) + 4) // 5]
            figure, grid = plt.subplots(2, 2, figsize=(9.0, 6.4), layout="constrained")
            for axes, name in zip(grid.flat, CURVES, strict=True):
                curve_axes(axes, dataset, name, shown)
        elif dataset["failure"].dims == ("fold_left", "fold_right"):
            figure, grid = plt.subplots(1, 3, figsize=(14.0, 4.6), layout="constrained")
            for axes, name in zip(grid.flat, MAPS, strict=True):
                map_axes(axes, dataset, name)
        else:
            figure, axes = plt.subplots(figsize=(7.0, 4.5), layout="constrained")
            _key_curves(axes, dataset)
        figure.suptitle(
            f"{dataset.attrs['title']}: an estimate, not a flight clearance", fontsize=10
        )
        figure.savefig(path)


def _key_curves(axes: Any, dataset: Any) -> None:
    """Lift over fold for each value of the first further key."""
    chosen = dataset.sel(alpha=4.0, method="nearest").sel(beta=0.0, method="nearest")
    key = chosen["failure"].dims[0]
    against = chosen["failure"].dims[-1]
    for value in chosen[key].values:
        curve = chosen["CL"].sel({key: value})
        while curve.ndim > 1:
            curve = curve.isel({curve.dims[0]: 0})
        axes.plot(chosen[against].values, curve.values, label=f"{key} = {value:g}")
    axes.set_xlabel(f"{against} [deg]")
    axes.set_ylabel(label("CL"))
    axes.legend()
