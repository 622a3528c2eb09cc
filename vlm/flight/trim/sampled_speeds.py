"""The speeds of a power curve that matter, over samples of its inputs."""

import numpy as np
from numpy.typing import NDArray

from vlm.constants import Floats
from vlm.flight.craft.crossing import zeros_of
from vlm.flight.trim.power_samples import SampledCurve

STEEP = 1.4
"""Rise of a neighbour that marks a jump to another branch, against the least value [1]."""


def interval(samples: Floats, percent: float) -> tuple[float, float]:
    """Ends of the middle ``percent`` of samples, those without a value left out; NaN if none."""
    known = samples[np.isfinite(samples)]
    if len(known) == 0:
        return float("nan"), float("nan")
    low, high = np.percentile(known, [50.0 - 0.5 * percent, 50.0 + 0.5 * percent])
    return float(low), float(high)


def interval_bands(samples: Floats, percent: float) -> tuple[Floats, Floats]:
    """:func:`interval` for every column of (samples, speeds)."""
    ends = np.array([interval(samples[:, i], percent) for i in range(samples.shape[1])])
    return ends[:, 0], ends[:, 1]


def sampled_least(
    speeds: Floats, values: Floats, allowed: NDArray[np.bool_]
) -> tuple[Floats, Floats]:
    """Speed and size of the least allowed value of every sample.

    Parameters
    ----------
    speeds : shape (speeds,) [m/s]
    values, allowed : shape (samples, speeds)
    """
    filled = np.where(np.logical_and(allowed, np.isfinite(values)), values, np.inf)
    found = [_least_of(speeds, row) for row in filled]
    return np.array([u for u, _ in found]), np.array([v for _, v in found])


def _least_of(speeds: Floats, values: Floats) -> tuple[float, float]:
    """Vertex of the parabola through the least value and its neighbours of the same branch."""
    best = int(np.argmin(values))
    if not np.isfinite(values[best]):
        return float("nan"), float("nan")
    first = best - 1
    if first < 0 or values[first] > STEEP * values[best]:
        first = best
    three = slice(first, first + 3)
    if first + 3 > len(values) or not np.all(np.isfinite(values[three])):
        return float(speeds[best]), float(values[best])
    square, slope, level = np.polyfit(speeds[three] - speeds[best], values[three], 2)
    if square <= 0.0:
        return float(speeds[best]), float(values[best])
    reach = speeds[min(best + 1, len(speeds) - 1)] - speeds[best]
    vertex = float(np.clip(-0.5 * slope / square, -reach, reach))
    return float(speeds[best]) + vertex, float(level + vertex * (slope + square * vertex))


def sampled_slowest(speeds: Floats, sampled: SampledCurve) -> Floats:
    """Lowest speed without stalled strips, (samples,).

    The two speeds above it tell it: in level flight the wings' angle, and with it the margin, is a
    line over one by the square of the speed. A straight line over the speed would end too low.
    """
    return np.array([_slowest_of(speeds, row) for row in sampled.stall_margin])


def _slowest_of(speeds: Floats, margins: Floats) -> float:
    fit = np.flatnonzero(margins >= 0.0)
    if len(fit) == 0 or fit[-1] < 1:
        return float("nan")
    last = int(fit[-1])
    first = last
    while first > 0 and margins[first - 1] >= 0.0 and speeds[first - 1] > 0.0:
        first -= 1
    if first == len(speeds) - 1 or not np.isfinite(margins[first + 1]):
        return float(speeds[first])
    slow, fast = speeds[first : first + 2] ** -2.0
    rise = (margins[first + 1] - margins[first]) / (slow - fast)
    if not rise > 0.0:
        return float(speeds[first])
    return float(max((slow + margins[first] / rise) ** -0.5, 0.5 * speeds[first]))


def sampled_fastest(speeds: Floats, sampled: SampledCurve) -> Floats:
    """Highest speed within all limits, (samples,); NaN where no limit is met."""
    found = []
    for margins in sampled.margin:
        fit = np.flatnonzero(margins >= 0.0)
        last = int(fit[-1]) if len(fit) else -1
        if last < 0 or last == len(speeds) - 1 or not np.isfinite(margins[last + 1]):
            found.append(float("nan"))
            continue
        share = margins[last] / (margins[last] - margins[last + 1])
        found.append(float(speeds[last] + share * (speeds[last + 1] - speeds[last])))
    return np.array(found)


def sampled_crossing(
    speeds: Floats, first: SampledCurve, second: SampledCurve, near: float
) -> Floats:
    """Speed nearest to a given one at which two settings draw the same power, (samples,)."""
    found = []
    for apart in first.power - second.power:
        places = zeros_of(speeds, apart)
        found.append(min(places, key=lambda place: abs(place - near), default=float("nan")))
    return np.array(found)
