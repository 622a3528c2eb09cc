"""Curves with a gap where they leap from one branch to another, as at contact or at stall."""

from collections.abc import Sequence
from itertools import pairwise
from typing import Any

import numpy as np

from vlm.constants import Floats


def changes(states: Sequence[Any]) -> list[int]:
    """Indices before which a state is another than before: tips touch or part, a trim leaps."""
    return [i for i, (before, after) in enumerate(pairwise(states), start=1) if before != after]


def gapped(places: Any, after: Sequence[int], *series: Any) -> list[Floats]:
    """Places and values with a gap before each of some indices, half-way between neighbours.

    Parameters
    ----------
    places : shape (n,), abscissae in order
    after : indices from :func:`changes`, rising
    series : values at the places, each of shape (n,)

    Returns
    -------
    the places and the series, each of shape (n + gaps,); values are NaN in the gaps
    """
    at = np.asarray(places, dtype=float)
    middles = [0.5 * (at[i - 1] + at[i]) for i in after]
    values = [np.insert(np.asarray(one, dtype=float), list(after), np.nan) for one in series]
    return [np.insert(at, list(after), middles), *values]


def lone(count: int, after: Sequence[int]) -> list[int]:
    """Indices of points that stand alone between two gaps, where a line draws nothing."""
    edges = [0, *after, count]
    return [first for first, end in pairwise(edges) if end - first == 1]
