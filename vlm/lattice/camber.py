"""Heights and slopes of mean lines.

Four-digit lines are two parabolas that meet at the highest point (I. H. Abbott and A. E. von
Doenhoff, Theory of Wing Sections, section 6.4, equations 6.4):

    z/c = m / p^2 (2 p x - x^2)                      ahead of p
    z/c = m / (1 - p)^2 ((1 - 2 p) + 2 p x - x^2)    behind p

The mean line of a contour lies midway between its sides along its own normals: from the height
midway between them along z, both sides are looked up where the normal meets them, until nothing
changes. Each side is taken as a cubic in t, x/c = (1 - cos t) / 2, in which a round nose is smooth.

A tabulated line is the cubic through its points whose slope at each point is that of the parabola
through the point and its two neighbours, so that height and slope belong to one curve.
"""

from functools import lru_cache
from pathlib import Path

import numpy as np

from vlm.constants import Floats
from vlm.description.camber import CamberLine, camber_of
from vlm.description.contour import Contour
from vlm.lattice.spacing import ChordLaw, chord_rows

SAMPLES = 4096
STATIONS = 33
"""Points of a contour's mean line, closest at its ends."""
ROUNDS = 12
NOSE = 0.015
"""Ahead of this the sides are too steep to look up: the line is drawn on to 0, 0 [1]."""


def camber_height(spec: str, x: Floats, folder: Path | None = None) -> Floats:
    """Height of a mean line over the chord line.

    Parameters
    ----------
    spec : four digits, "flat", or a path, see :func:`vlm.description.camber.camber_of`
    x : places along the chord from the leading edge, any shape, 0 to 1 [1]
    folder : where a path starts

    Returns
    -------
    z/c, shaped as ``x`` [1]

    Raises
    ------
    InputRefused : a file is missing or holds no mean line
    """
    return _curve(camber_of(spec, folder), np.asarray(x, dtype=float))[0]


def camber_slope(spec: str, x: Floats, folder: Path | None = None) -> Floats:
    """Slope dz/dx of a mean line; parameters and errors as :func:`camber_height` [1]."""
    return _curve(camber_of(spec, folder), np.asarray(x, dtype=float))[1]


def row_slopes(spec: str, rows: int, law: ChordLaw, folder: Path | None = None) -> Floats:
    """Slopes that the control points of a section's rows stand for, shape (rows,) [1].

    With x/c = (1 - cos t) / 2 the slope is the series a_0 / 2 + sum a_m cos m t, and lift and
    moment of a thin section come from a_0, a_1 and a_2 alone (Glauert 1926, chapter 7). Rows of the
    "gauss" law stand at equal steps of t. Slopes sampled there would alias what
    lies beyond the rows' reach into those three: the kink of a four-digit line's curvature cost
    0.3 % of its lift at 8 rows. So the series is cut at a_rows, with which lift and moment of a
    thin section of two rows or more are exact for every mean line. The "uniform" law takes the
    slopes as they are.
    """
    if law == "uniform":
        return camber_slope(spec, chord_rows(rows, law)[1], folder)
    t = (np.arange(SAMPLES) + 0.5) * np.pi / SAMPLES
    slope = camber_slope(spec, 0.5 * (1.0 - np.cos(t)), folder)
    order = np.arange(rows + 1)
    terms = 2.0 / SAMPLES * np.cos(np.outer(order, t)) @ slope
    terms[0] *= 0.5
    places = 2.0 * np.pi * np.arange(1, rows + 1) / (2 * rows + 1)
    return np.asarray(np.cos(np.outer(places, order)) @ terms)


def _curve(line: CamberLine, x: Floats) -> tuple[Floats, Floats]:
    if line.contour is not None:
        return _tabulated(np.array(mean_line(line.contour)), x)
    if line.points:
        return _tabulated(np.array(line.points), x)
    if line.highest == 0.0:
        return np.zeros_like(x), np.zeros_like(x)
    m, p = line.highest, line.place
    ahead = x < p
    scale = m / np.where(ahead, p, 1.0 - p) ** 2  # equations 6.4 of Abbott and von Doenhoff
    height = scale * (np.where(ahead, 0.0, 1.0 - 2.0 * p) + 2.0 * p * x - x**2)
    return np.asarray(height), np.asarray(2.0 * scale * (p - x))


@lru_cache(maxsize=64)
def mean_line(contour: Contour) -> tuple[tuple[float, float], ...]:
    """Points x/c, z/c of a contour's mean line, from 0, 0 to 1, 0 [1]."""
    t = np.linspace(0.0, np.pi, STATIONS)
    x = 0.5 * (1.0 - np.cos(t))
    x = x[(x == 0.0) | (x > NOSE)]
    upper, lower = (_over_t(side) for side in (contour.upper, contour.lower))
    shift = np.zeros_like(x)
    for _ in range(ROUNDS):
        above, below = _side_at(upper, x - shift), _side_at(lower, x + shift)
        height = 0.5 * (above + below)
        height[[0, -1]] = 0.0
        slope = np.gradient(height, x, edge_order=2)
        shift = 0.5 * (above - below) * slope
    return tuple(zip(x.tolist(), height.tolist(), strict=True))


def _over_t(side: tuple[tuple[float, float], ...]) -> Floats:
    """Points of a side as t and z, growing in t; what lies beyond the ends is left out."""
    x, z = np.array(side).T
    t = np.arccos(1.0 - 2.0 * np.clip(x, 0.0, 1.0))
    t[0], t[-1] = 0.0, np.pi
    keep = np.concatenate([[True], np.diff(np.maximum.accumulate(t)) > 1e-9])
    return np.stack([t[keep], z[keep]], axis=1)


def _side_at(side: Floats, x: Floats) -> Floats:
    return _tabulated(side, np.arccos(1.0 - 2.0 * np.clip(x, 0.0, 1.0)))[0]


def _tabulated(points: Floats, x: Floats) -> tuple[Floats, Floats]:
    """Piecewise cubic Hermite curve through points, height and slope."""
    places, heights = points[:, 0], points[:, 1]
    slopes = np.gradient(heights, places, edge_order=2)
    cell = np.clip(np.searchsorted(places, x, side="right") - 1, 0, len(places) - 2)
    step = places[cell + 1] - places[cell]
    t = (x - places[cell]) / step
    rise = heights[cell + 1] - heights[cell]
    first, last = slopes[cell] * step, slopes[cell + 1] * step
    bend, twist = 3.0 * rise - 2.0 * first - last, first + last - 2.0 * rise
    height = heights[cell] + t * (first + t * (bend + t * twist))
    slope = (first + t * (2.0 * bend + t * 3.0 * twist)) / step
    return np.asarray(height), np.asarray(slope)
