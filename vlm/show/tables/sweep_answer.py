"""What a sweep over folds says, in sentences with the errors of both ends."""

from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np

from vlm.show.tables.answer import joined
from vlm.show.tables.layout import number, with_error
from vlm.study.naming import printed_width


def spans(values: Iterable[float], among: Sequence[float], unit: str = "°") -> str:
    """Values of a grid as ranges: "-63.8° to -11.3° and 15°"."""
    places = {round(value, 6): i for i, value in enumerate(sorted(among))}
    runs: list[list[float]] = []
    for value in sorted(values):
        if runs and places[round(value, 6)] == places[round(runs[-1][-1], 6)] + 1:
            runs[-1].append(value)
        else:
            runs.append([value])
    texts = [
        f"{run[0]:.3g}{unit}" if len(run) == 1 else f"{run[0]:.3g}{unit} to {run[-1]:.3g}{unit}"
        for run in runs
    ]
    return joined(texts)


def with_numbers(chosen: Any) -> Any:
    """Cases of a sweep over one fold axis that have numbers; None without any.

    Parameters
    ----------
    chosen : a dataset of the dimension fold alone
    """
    known = np.flatnonzero(np.isfinite(chosen["span_efficiency"].values))
    return chosen.isel(fold=known) if known.size > 1 else None


def cost_of_folding(chosen: Any, unit: str = "°") -> str:
    """What folding costs in induced drag at the same lift, and in lift at the same angle."""
    best, worst, more = _extremes(chosen, "span_efficiency")
    drag = (
        "Folding changes induced drag at the same lift by no more than is known"
        if more is None
        else f"For the same lift, induced drag is least at {best:.3g}{unit} and {more} % more at"
        f" {worst:.3g}{unit}"
    )
    most, least, loss = _extremes(chosen, "CL", of_highest=True)
    at = f"at {float(chosen['alpha']):g}{unit} angle of attack"
    lift = (
        f"{at} lift changes by no more than is known"
        if loss is None
        else f"{at} lift is highest at {most:.3g}{unit} and {loss} % less at {least:.3g}{unit}"
    )
    return f"{drag}; {lift}."


def _extremes(
    chosen: Any, name: str, *, of_highest: bool = False
) -> tuple[float, float, str | None]:
    """Folds of the highest and the lowest value, and how far apart they are with its error.

    Parameters
    ----------
    of_highest : whether the difference is a share of the highest value; of the lowest else

    Returns
    -------
    The share in per cent as text; None where the errors of both ends reach across it
    """
    folds, values = chosen["fold"].values, chosen[name].values
    high, low = int(np.argmax(values)), int(np.argmin(values))
    ends = float(folds[high]), float(folds[low])
    apart, base = float(values[high] - values[low]), abs(values[high if of_highest else low])
    widths = printed_width(chosen, name)
    if base == 0.0:
        return (*ends, None)  # no share of nothing
    if widths is None:
        return (*ends, number(100.0 * apart / base, 2) if apart > 0.0 else None)
    width = float(widths[high] + widths[low])
    known = with_error(100.0 * apart / base, 100.0 * width / base)
    return (*ends, known if apart > width else None)


def dihedral_ranges(chosen: Any, unit: str = "°") -> str:
    """Folds at which the sign of the dihedral effect is known; empty without errors."""
    folds, slope = chosen["fold"].values, chosen["Cl_beta"].values
    width = printed_width(chosen, "Cl_beta")
    if width is None:
        return ""
    signs = (
        ("stable", slope < -width),
        ("unstable", slope > width),
        ("sign not known", np.abs(slope) <= width),
    )
    texts = [
        f"{word} at {spans(folds[where].tolist(), folds.tolist(), unit)}"
        for word, where in signs
        if where.any()
    ]
    if not texts:
        return ""
    at = f"{float(chosen['alpha']):g}{unit}"
    return f"Dihedral effect at {at} angle of attack: {'; '.join(texts)}."


def strongest_roll(chosen: Any, unit: str = "°") -> str:
    """The pair of folds of an asymmetric sweep with the largest rolling moment to starboard."""
    roll = chosen["Cl"].values
    if not np.isfinite(roll).any():
        return ""
    i, j = np.unravel_index(int(np.nanargmax(roll)), roll.shape)
    width = printed_width(chosen, "Cl")
    if not roll[i, j] > (0.0 if width is None else width[i, j]):
        return ""
    value = number(roll[i, j], 3) if width is None else with_error(roll[i, j], width[i, j])
    port, starboard = (chosen[name].values[k] for name, k in (("fold_left", i), ("fold_right", j)))
    return (
        f"The strongest roll to starboard, lift not held: port {port:.3g}{unit}, starboard"
        f" {starboard:.3g}{unit}, Cl {value}."
    )
