"""Verdict words: printed only where the error of a number leaves no doubt of its sign.

A number is known as value ± half-width, the half-width being the lattice's error and the model's
spread together. A word that hangs on its sign (stable, unstable, to port, adverse) is given where
the whole interval lies on one side; everywhere else the answer is :data:`SIGN_NOT_KNOWN`.
"""

import math
from collections.abc import Sequence

SIGN_NOT_KNOWN = "sign not known"


def known_sign(value: float | None, half_width: float | None) -> int | None:
    """Sign of a number with an error: 1, -1, or 0 for an exact zero; None where not known.

    Parameters
    ----------
    value : the number, in any unit
    half_width : half-width of its error, in the same unit; None or NaN where nothing is known
        about the error, and then nothing about the sign either

    An exact zero is one without error, as where symmetry makes it so.

    Raises
    ------
    ValueError : the half-width is negative
    """
    if value is None or half_width is None or math.isnan(value) or math.isnan(half_width):
        return None
    if half_width < 0.0:
        raise ValueError(f"a half-width of {half_width:g}; it cannot be negative")
    if abs(value) > half_width:
        return 1 if value > 0.0 else -1
    return 0 if value == 0.0 and half_width == 0.0 else None


def reach(value: float, ends: Sequence[float]) -> float:
    """Half-width about a value that holds its whole interval: the way to the farther end.

    Half the interval would not, where the value stands beside its middle.
    """
    return max(ends[1] - value, value - ends[0])


def verdict(
    value: float | None,
    half_width: float | None,
    positive: str,
    negative: str,
    zero: str = "zero",
) -> str:
    """The word for the sign of a number with an error, or :data:`SIGN_NOT_KNOWN`.

    Parameters
    ----------
    value, half_width : as in :func:`known_sign`
    positive, negative, zero : words for each sign; to hold a number against a limit, pass their
        difference as ``value``

    Raises
    ------
    ValueError : the half-width is negative
    """
    words = {1: positive, -1: negative, 0: zero, None: SIGN_NOT_KNOWN}
    return words[known_sign(value, half_width)]


def words_of_alike(others: str) -> str:
    """Words beside a best one, for others that :func:`not_known_apart` finds; empty for none.

    Parameters
    ----------
    others : their names
    """
    return f"not known apart from {others}" if others else ""


def not_known_apart(values: Sequence[float], half_widths: Sequence[float], best: int) -> list[int]:
    """Places of the values that are not known to differ from the best one.

    Parameters
    ----------
    values, half_widths : the numbers and the half-widths of their errors, in one unit; a
        half-width that is NaN leaves every difference open
    best : place of the best value

    Those whose difference from it is no more than both half-widths together. A value that is NaN
    is none.
    """
    return [
        place
        for place, (value, width) in enumerate(zip(values, half_widths, strict=True))
        if place != best
        and not math.isnan(value)
        and not abs(value - values[best]) > width + half_widths[best]
    ]
