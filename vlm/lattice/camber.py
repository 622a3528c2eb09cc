"""Heights and slopes of mean lines.

Four-digit lines are two parabolas that meet at the highest point (I. H. Abbott and A. E. von
Doenhoff, Theory of Wing Sections, section 6.4, equations 6.4):

    z/c = m / p^2 (2 p x - x^2)                      ahead of p
    z/c = m / (1 - p)^2 ((1 - 2 p) + 2 p x - x^2)    behind p

A tabulated line is the cubic through its points whose slope at each point is that of the parabola
through the point and its two neighbours, so that height and slope belong to one curve.
"""

from pathlib import Path

import numpy as np

from vlm.constants import Floats
from vlm.description.camber import CamberLine, camber_of
from vlm.lattice.spacing import ChordLaw, chord_rows

SAMPLES = 4096


def camber_height(spec: str, x: Floats, folder: Path | None = None) -> Floats:
    """Height of a mean line over the chord line.

    Parameters
    ----------
    spec : four digits, "flat", or a CSV path, see :func:`vlm.description.camber.camber_of`
    x : places along the chord from the leading edge, any shape, 0 to 1 [1]
    folder : where a CSV path starts

    Returns
    -------
    z/c, shaped as ``x`` [1]

    Raises
    ------
    InputRefused : a CSV file is missing or does not hold a mean line
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
    if line.points:
        return _tabulated(np.array(line.points), x)
    if line.highest == 0.0:
        return np.zeros_like(x), np.zeros_like(x)
    m, p = line.highest, line.place
    ahead = x < p
    scale = m / np.where(ahead, p, 1.0 - p) ** 2  # equations 6.4 of Abbott and von Doenhoff
    height = scale * (np.where(ahead, 0.0, 1.0 - 2.0 * p) + 2.0 * p * x - x**2)
    return np.asarray(height), np.asarray(2.0 * scale * (p - x))


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
