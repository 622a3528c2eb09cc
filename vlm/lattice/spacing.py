"""Where strip edges, control stations and vortex rows stand on a straight piece of wing.

All laws are one mapping of an even parameter ``t`` in [0, 1], taken at ``t = j / n`` for the
edges and at ``t = (j + 1/2) / n`` for the control stations, so that edges and stations
alternate in ``t``: with the cosine law this makes the far-field drag of a planar elliptic
loading exact at any number of strips.
"""

from collections.abc import Callable
from typing import Literal

import numpy as np

from vlm.constants import Floats

SpanLaw = Literal["cosine", "matched", "graded", "uniform"]
ChordLaw = Literal["gauss", "uniform"]


def _cosine(t: Floats) -> Floats:
    return np.asarray(0.5 * (1.0 - np.cos(np.pi * t)))


def _graded(t: Floats) -> Floats:
    return np.asarray((8.0 - 9.0 * np.cos(np.pi * t) + np.cos(3.0 * np.pi * t)) / 16.0)


def _uniform(t: Floats) -> Floats:
    return t


SPAN_LAWS: dict[SpanLaw, Callable[[Floats], Floats]] = {
    "cosine": _cosine,
    "matched": _cosine,
    "graded": _graded,
    "uniform": _uniform,
}
MOST_STRETCH = 0.6
"""Furthest that "matched" stretches the parameter at an end; 1 would fold it over."""


def span_stations(
    count: int, law: SpanLaw, *, dense_start: bool, dense_end: bool, ideal: float | None = None
) -> tuple[Floats, Floats]:
    """Edges and control stations of a straight piece, as fractions of its length.

    Parameters
    ----------
    count : number of strips [1]
    law : the mapping; "cosine" s = (1 - cos pi t) / 2, "graded"
        s = (8 - 9 cos pi t + cos 3 pi t) / 16, "uniform" s = t; "matched" is "cosine" of a
        parameter stretched so that strips at dense ends are as wide as ``ideal`` strips would be,
        and "graded" is stretched likewise
    dense_start, dense_end : whether strips crowd at that end. With one dense end the piece
        is half of a full piece of ``2 count`` strips (a wing across its unbroken centre).
    ideal : for "matched" and "graded", the number of strips the piece would have if it could
        have a part of one; ``count`` if left out [1]

    Returns
    -------
    edges : shape (count + 1,) [1]
    stations : shape (count,) [1]
    """
    mapping = SPAN_LAWS[law]
    edge_t = np.arange(count + 1) / count
    station_t = (np.arange(count) + 0.5) / count
    if law in ("matched", "graded") and ideal is not None:
        stretch = float(np.clip(count / ideal - 1.0, -MOST_STRETCH, MOST_STRETCH))
        both = dense_start and dense_end
        edge_t, station_t = (
            _stretched(t, stretch, both=both, at_start=dense_start) for t in (edge_t, station_t)
        )

    def placed(t: Floats) -> Floats:
        if dense_start and dense_end:
            return mapping(t)
        if dense_end:
            return 2.0 * mapping(0.5 + 0.5 * t) - 1.0
        if dense_start:
            return 2.0 * mapping(0.5 * t)
        return t

    edges, stations = placed(edge_t), placed(station_t)
    edges[0], edges[-1] = 0.0, 1.0
    return edges, stations


def _stretched(t: Floats, stretch: float, *, both: bool, at_start: bool) -> Floats:
    """A parameter that runs at 1 + ``stretch`` times the even pace at dense ends.

    The ends stay, and a piece with one dense end stays half of a symmetric one.
    """
    if both:
        return np.asarray(t + stretch * np.sin(2.0 * np.pi * t) / (2.0 * np.pi))
    sign = 1.0 if at_start else -1.0
    return np.asarray(t + sign * stretch * np.sin(np.pi * t) / np.pi)


def chord_rows(rows: int, law: ChordLaw) -> tuple[Floats, Floats]:
    """Chord fractions of the vortex rows and of the control points.

    "gauss": vortices at (1 - cos((2k - 1) pi / (2n + 1))) / 2 and control points at
    (1 - cos(2 k pi / (2n + 1))) / 2, k = 1..n: the points of Gauss's rule for the load of a thin
    section, weight sqrt((1 - x) / x) (Abramowitz and Stegun 25.4.42, from memory). No point lies
    on the trailing edge, where a wake starts that leaves at an angle. "uniform": equal panels with
    the vortex at a quarter and the control point at three quarters of each (Pistolesi; James 1972).

    Returns
    -------
    vortices : shape (rows,) [1]
    controls : shape (rows,) [1]
    """
    k = np.arange(1, rows + 1)
    if law == "gauss":
        step = np.pi / (2 * rows + 1)
        return 0.5 * (1.0 - np.cos((2 * k - 1) * step)), 0.5 * (1.0 - np.cos(2 * k * step))
    return (k - 0.75) / rows, (k - 0.25) / rows


def row_extents(rows: int, law: ChordLaw) -> Floats:
    """Chord fraction that each vortex row stands for, shape (rows,) [1]; they add up to one."""
    if law == "gauss":
        edges = np.append(2.0 * np.arange(rows) / (2 * rows + 1), 1.0)
        return np.asarray(-np.diff(np.cos(np.pi * edges)) * 0.5)
    return np.full(rows, 1.0 / rows)
