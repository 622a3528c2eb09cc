"""What a sweep over folds says, in sentences with the errors of both ends."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.polynomial import Polynomial

from vlm.constants import Floats
from vlm.plain import spans
from vlm.show.text.answer import not_apart
from vlm.show.text.layout import number, with_error
from vlm.study.sweep.naming import printed_width
from vlm.study.sweep.rotors_counted import turned
from vlm.verdicts import not_known_apart


def with_numbers(chosen: Any) -> Any:
    """Cases of a sweep over one fold axis that have numbers; None without any.

    Parameters
    ----------
    chosen : a dataset of the dimension fold alone
    """
    known = np.flatnonzero(np.isfinite(chosen["span_efficiency"].values))
    return chosen.isel(fold=known) if known.size > 1 else None


def cost_of_folding(chosen: Any, unit: str = "°", polar: Any = None) -> str:
    """What folding costs in induced drag, and in lift at the same angle.

    At the same lift where the polar holds it for every fold. At one angle of attack a fold that
    twists or cambers its tips carries another lift with a drag that does not go with its square:
    drag over lift squared there says nothing of other lifts, and the text names the angle.

    Parameters
    ----------
    chosen : a dataset of the dimension fold alone, at one angle of attack
    unit : of folds
    polar : the same sweep over fold and alpha; None where there is one angle of attack
    """
    folds = chosen["fold"].values
    at = f"{float(chosen['alpha']):g}{unit} angle of attack"
    lift = _between(
        folds, -chosen["CL"].values, printed_width(chosen, "CL"), "lift", "highest", "less", unit
    )
    same = None if polar is None else drag_at_same_lift(chosen, polar)
    if same is not None:
        drag = _between(folds, same.drag, same.half_widths, "induced drag", "least", "more", unit)
        text = f"For the same lift (CL {number(same.lift, 3)}), {drag}; at {at} {lift}."
        return text + _unsure(same.half_widths)
    efficiency, width = chosen["span_efficiency"].values, printed_width(chosen, "span_efficiency")
    dear = 1.0 / np.where(efficiency > 0.0, efficiency, np.nan)
    widths = None if width is None else dear**2 * width
    drag = _between(folds, dear, widths, "induced drag over lift squared", "least", "more", unit)
    return f"At {at} {drag}; {lift}." + _unsure(widths)


def _unsure(widths: Floats | None) -> str:
    """What is added where nothing is known about the error: none asked for, or a coarse lattice."""
    if widths is None:
        return " No error was estimated."
    return "" if np.isfinite(widths).all() else " The error is not known on this lattice."


def _between(
    folds: Floats, values: Floats, widths: Floats | None, what: str, best: str, more: str, unit: str
) -> str:
    """Where a value is least and how far above that it is where it is most, as far as is known.

    Folds that the errors of both leave alike with the best are named beside it.
    """
    known = np.flatnonzero(np.isfinite(values))
    if known.size < 2:
        return f"{what} is not known"
    low = int(known[np.argmin(values[known])])
    high = int(known[np.argmax(values[known])])
    apart, base = float(values[high] - values[low]), abs(float(values[low]))
    if base == 0.0 or apart == 0.0:
        return f"{what} does not change"  # no share of nothing
    share = 100.0 * apart / base
    alike, text = "", number(share, 2)
    if widths is not None and np.isfinite(widths[known]).all():
        if apart <= widths[high] + widths[low]:
            return f"{what} changes by no more than is known"
        # Of a quotient: the base's own error moves it, too.
        by_base = abs(values[high] / base) * widths[low]
        text = with_error(share, 100.0 * float(widths[high] + by_base) / base)
        close = [float(folds[i]) for i in not_known_apart(values.tolist(), widths.tolist(), low)]
        alike = not_apart(spans(close, folds.tolist(), unit))
    return (
        f"{what} is {best} at {folds[low]:.3g}{unit}{alike} and {text} % {more} at"
        f" {folds[high]:.3g}{unit}"
    )


@dataclass(frozen=True)
class SameLift:
    """Induced drag of every fold at one lift.

    Attributes
    ----------
    lift : lift coefficient [1]
    drag : coefficient of induced drag, shape (folds,) [1]
    half_widths : of that; None without errors
    """

    lift: float
    drag: Floats
    half_widths: Floats | None


def drag_at_same_lift(chosen: Any, polar: Any) -> SameLift | None:
    """Induced drag at one lift, read between the angles of attack of a sweep.

    The lift is that of the fold nearest to flat at the chosen angle, or the nearest to it that
    every fold has within the angles. Drag over lift is a parabola through the three nearest
    angles: far-field drag is quadratic in the circulations, and they are linear in the angle but
    for the wake's turn.

    Parameters
    ----------
    chosen : a dataset of the dimension fold alone
    polar : of the dimensions fold and alpha, with the same folds

    Returns
    -------
    None with fewer than three angles of attack, and where no lift is common to all folds.
    """
    polar = polar.sel(fold=chosen["fold"].values).transpose("fold", "alpha", ...)
    lifts, drags = polar["CL"].values, polar["CDi"].values
    if lifts.shape[1] < 3 or not (np.isfinite(lifts).all() and np.isfinite(drags).all()):
        return None
    low, high = float(lifts.min(axis=1).max()), float(lifts.max(axis=1).min())
    if low > high:
        return None
    flattest = int(np.argmin(np.abs(chosen["fold"].values)))
    lift = float(np.clip(chosen["CL"].values[flattest], low, high))
    open_to = printed_width(polar, "span_efficiency")
    if open_to is not None:  # of drag at its own lift: what both err by alike is not counted twice
        open_to = drags * open_to / polar["span_efficiency"].values
    found, half_widths = [], []
    for i in range(len(lifts)):
        near = np.argsort(np.abs(lifts[i] - lift))[:3]
        rising = np.argsort(lifts[i])
        if np.min(np.diff(lifts[i, rising])) == 0.0:
            return None
        found.append(float(Polynomial.fit(lifts[i, near], drags[i, near], 2)(lift)))
        if open_to is not None:
            half_widths.append(np.interp(lift, lifts[i, rising], open_to[i, rising]))
    return SameLift(lift, np.array(found), np.array(half_widths) if half_widths else None)


def dihedral_ranges(chosen: Any, unit: str = "°") -> str:
    """Folds at which the sign of the dihedral effect is known; empty without errors.

    Where rotors may turn it, it is not known: a sweep knows no thrust.
    """
    folds, slope = chosen["fold"].values, chosen["Cl_beta"].values
    width = printed_width(chosen, "Cl_beta")
    if width is None:
        return ""
    open_ = turned(chosen, "Cl_beta")
    signs = (
        ("stable", (slope < -width) & ~open_),
        ("unstable", (slope > width) & ~open_),
        ("sign not known", (np.abs(slope) <= width) | open_),
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


def pairs_not_apart(
    pairs: Sequence[tuple[float, float]], port: Sequence[float], starboard: Sequence[float],
    unit: str = "°",
) -> str:  # fmt: skip
    """Words behind the strongest pair, for pairs not known to differ from it; may be empty.

    Parameters
    ----------
    pairs : folds of port and starboard [deg]
    port, starboard : the folds that were asked for [deg]
    """
    if not pairs:
        return ""
    sides = [
        f"{name} {spans({pair[side] for pair in pairs}, among, unit)}"
        for side, (name, among) in enumerate((("port", port), ("starboard", starboard)))
    ]
    count = "another pair" if len(pairs) == 1 else f"{len(pairs)} other pairs"
    return not_apart(f"{count}: {', '.join(sides)}")


def strongest_pair(
    roll: Floats, widths: Floats | None, port: Sequence[float], starboard: Sequence[float],
    unit: str = "°",
) -> str:  # fmt: skip
    """The pair of folds with the largest rolling moment to starboard, and those not known apart.

    Parameters
    ----------
    roll, widths : coefficients and half-widths of their errors, shape (port, starboard); None
        where no error was estimated [1]
    port, starboard : folds [deg]

    Returns
    -------
    Empty where no moment to starboard is known.
    """
    if not np.isfinite(roll).any():
        return ""
    best = int(np.nanargmax(roll))
    i, j = divmod(best, roll.shape[1])
    if not roll[i, j] > (0.0 if widths is None else widths[i, j]):
        return ""
    value, alike = f"{number(roll[i, j], 3)}, ± not known", ""
    if widths is not None:
        value = with_error(roll[i, j], widths[i, j])
        places = not_known_apart(roll.ravel().tolist(), widths.ravel().tolist(), best)
        sides = [divmod(place, roll.shape[1]) for place in places]
        pairs = [(float(port[a]), float(starboard[b])) for a, b in sides]
        alike = pairs_not_apart(pairs, list(port), list(starboard), unit)
    return (
        f"The strongest roll to starboard, lift not held: port {port[i]:.3g}{unit}, starboard"
        f" {starboard[j]:.3g}{unit}{alike}, Cl {value}."
    )


def strongest_roll(chosen: Any, unit: str = "°") -> str:
    """:func:`strongest_pair` of an asymmetric sweep."""
    folds = chosen["fold_left"].values, chosen["fold_right"].values
    return strongest_pair(chosen["Cl"].values, printed_width(chosen, "Cl"), *folds, unit)
