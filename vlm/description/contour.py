"""Coordinates of a section's closed contour, in the two orders in which they are handed about.

Around: from the trailing edge over one side to the leading edge and back along the other. In two
lists: one side from the leading to the trailing edge, then the other, often after a line with the
number of points of each. A first line may name the section. No numerics here: the mean line is made
in :mod:`vlm.lattice.camber`.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import hypot
from statistics import fmean

from vlm.errors import InputRefused

Points = tuple[tuple[float, float], ...]
Row = tuple[int, float, float]
FEWEST = 6
"""Points that a side needs."""
NEAR = 0.1
"""A point this near to an end, over the chord, is at that end for telling the order."""
THICKEST = 0.6
PLACED = 0.003
"""Ends this near to 0, 0 and to the x axis, over the chord, are those of the chord [1]."""
COUNTS_FROM = 1.5
"""In a line of counts both numbers are larger, and whole."""


@dataclass(frozen=True)
class Contour:
    """A section with its leading edge at 0, 0 and the middle of its trailing edge at 1, 0.

    Attributes
    ----------
    upper, lower : x/c, z/c from the leading to the trailing edge [1]
    """

    upper: Points
    lower: Points


def is_contour(rows: Sequence[Row]) -> bool:
    """Whether rows go to and fro along the chord; those of a mean line grow throughout."""
    return _has_counts(rows) or any(b[1] < a[1] for a, b in pairwise(rows))


def contour_of(rows: Sequence[Row], name: str) -> Contour:
    """The contour that rows of line number, x and z hold.

    Raises
    ------
    InputRefused : they are in neither order, too few, or the sides cross
    """
    one, other = _in_sides(rows, name)
    if min(len(one), len(other)) < FEWEST:
        raise InputRefused(
            f"{name}: sides of {len(one)} and {len(other)} points; a contour needs {FEWEST} a side"
        )
    contour = _on_chord(one, other)
    _refuse_crossed(contour, name)
    return contour


def _has_counts(rows: Sequence[Row]) -> bool:
    _, first, second = rows[0]
    whole = first == int(first) and second == int(second)
    return whole and min(first, second) > COUNTS_FROM and first + second == len(rows) - 1


def _in_sides(rows: Sequence[Row], name: str) -> tuple[list[tuple[float, float]], ...]:
    """Both sides from the leading to the trailing edge."""
    if _has_counts(rows):
        count = int(rows[0][1])
        points = [(x, z) for _, x, z in rows[1:]]
        return points[:count], points[count:]
    points = [(x, z) for _, x, z in rows]
    xs = [x for x, _ in points]
    low, high = min(xs), max(xs)
    near = NEAR * (high - low)
    if xs[0] > high - near and xs[-1] > high - near:
        end = (0.5 * (xs[0] + xs[-1]), 0.5 * (points[0][1] + points[-1][1]))
        lead = _leading(points, end)
        return points[lead::-1], points[lead:]
    starts = [i for i in range(1, len(xs)) if xs[i - 1] > high - near and xs[i] < low + near]
    if xs[0] < low + near and xs[-1] > high - near and len(starts) == 1:
        return points[: starts[0]], points[starts[0] :]
    raise InputRefused(
        f"{name}: these points are in no order that is known: from the trailing edge around to the"
        " trailing edge, or either side from the leading to the trailing edge"
    )


def _leading(points: Sequence[tuple[float, float]], end: tuple[float, float]) -> int:
    """The point at 0, 0 where the chord runs along x from there; else the farthest from the end."""
    nearest = min(range(len(points)), key=lambda i: hypot(*points[i]))
    least = PLACED * hypot(*end)
    if hypot(*points[nearest]) < least and abs(end[1]) < least:
        return nearest
    apart = [hypot(x - end[0], z - end[1]) for x, z in points]
    return apart.index(max(apart))


def _on_chord(one: Sequence[tuple[float, float]], other: Sequence[tuple[float, float]]) -> Contour:
    """The sides turned and scaled to the chord, the upper one first."""
    lead = [0.5 * (a + b) for a, b in zip(one[0], other[0], strict=True)]
    ahead = [0.5 * (a + b) - c for a, b, c in zip(one[-1], other[-1], lead, strict=True)]
    square = ahead[0] ** 2 + ahead[1] ** 2

    def placed(points: Sequence[tuple[float, float]]) -> Points:
        apart = [(x - lead[0], z - lead[1]) for x, z in points]
        return tuple(
            ((x * ahead[0] + z * ahead[1]) / square, (z * ahead[0] - x * ahead[1]) / square)
            for x, z in apart
        )

    sides = sorted((placed(one), placed(other)), key=lambda side: fmean(z for _, z in side))
    return Contour(upper=sides[1], lower=sides[0])


def _refuse_crossed(contour: Contour, name: str) -> None:
    high = max(z for _, z in contour.upper)
    low = min(z for _, z in contour.lower)
    if high - low > THICKEST:
        raise InputRefused(f"{name}: a section {high - low:.3g} chords high; at most {THICKEST:g}")
    for x, z in contour.lower:
        above = height_at(contour.upper, x)
        if above is not None and z > above + 1e-6:
            raise InputRefused(f"{name}: the sides cross near x/c = {x:.3g}")


def height_at(side: Points, x: float) -> float | None:
    """Height of a side at a place along the chord, along straight lines; None beyond its ends."""
    for (x1, z1), (x2, z2) in pairwise(side):
        if x1 <= x <= x2 and x2 > x1:
            return z1 + (z2 - z1) * (x - x1) / (x2 - x1)
    return None


def thickness(contour: Contour) -> float:
    """Highest height of the upper side over the lower one, over the chord [1]."""
    places = [x for x, _ in (*contour.upper, *contour.lower)]
    ends = [(height_at(contour.upper, x), height_at(contour.lower, x)) for x in places]
    return max(high - low for high, low in ends if high is not None and low is not None)
