"""The measured difference of two configurations, and where its sign is known.

A saving is claimed only where the interval of the difference leaves zero out. The interval at
each airspeed holds for that airspeed alone; the sign is stated over all bins together, so each
bin's interval for it is widened by Bonferroni's inequality.
"""

from dataclasses import dataclass
from itertools import pairwise
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from vlm.log.bins import Bin, BinnedPower, CommonErrors, combined_half_width

Sign = Literal["less", "more", "unknown"]


@dataclass(frozen=True)
class DifferenceBin:
    """Power of the first configuration less that of the second, around one airspeed.

    Attributes
    ----------
    airspeed_m_s : where both are compared: the middle between the two bins' mean airspeeds; each
        power is carried there along its configuration's curve
    difference_W : mean difference
    interval_W : its interval, for this airspeed alone
    share, share_interval : the same as a share of the second one's mean power; NaN where that is
        not positive [1]
    sign : whether the first draws less or more, over all bins together
    """

    airspeed_m_s: float
    difference_W: float
    interval_W: tuple[float, float]
    share: float
    share_interval: tuple[float, float]
    sign: Sign


@dataclass(frozen=True)
class Difference:
    """Two configurations compared.

    Attributes
    ----------
    first, second : their names
    bins : where both were flown, in order of airspeed
    level : of the intervals [1]
    crossing_m_s : airspeeds where the mean difference changes its sign, by straight lines
    unknown_m_s : stretches of airspeed, between bins, in which the sign is not known
    """

    first: str
    second: str
    bins: tuple[DifferenceBin, ...]
    level: float
    crossing_m_s: tuple[float, ...]
    unknown_m_s: tuple[tuple[float, float], ...]

    def sentences(self) -> list[str]:
        """What is known, in words, one line for each stretch of airspeed."""
        if not self.bins:
            return [f"{self.first} and {self.second} were never flown at the same airspeed"]
        words = {
            "less": f"{self.first} draws less than {self.second}",
            "more": f"{self.first} draws more than {self.second}",
            "unknown": "which draws less is not known",
        }
        return [f"{_span(group)}: {words[group[0].sign]}" for group in _groups(self.bins)]


def _span(group: list[DifferenceBin]) -> str:
    low, high = group[0].airspeed_m_s, group[-1].airspeed_m_s
    return f"at {low:.1f} m/s" if len(group) == 1 else f"from {low:.1f} to {high:.1f} m/s"


def _groups(bins: tuple[DifferenceBin, ...]) -> list[list[DifferenceBin]]:
    groups: list[list[DifferenceBin]] = []
    for item in bins:
        if groups and groups[-1][-1].sign == item.sign:
            groups[-1].append(item)
        else:
            groups.append([item])
    return groups


def difference(first: BinnedPower, second: BinnedPower, errors: CommonErrors) -> Difference:
    """Compare two configurations bin by bin.

    The pitot's offset and the sensor's gain are the same in both, so only what they change in the
    difference counts; the air was not the same, so its two uncertainties add.

    Parameters
    ----------
    first, second : bins of equal width
    errors : what the readings of each configuration share
    """
    theirs = {b.number: b for b in second.bins}
    ours = {b.number: b for b in first.bins}
    common = sorted(set(ours) & set(theirs))
    level = min(first.level, second.level)
    strict = 1.0 - (1.0 - level) / max(len(common), 1)
    bins = tuple(
        _compared((ours[n], first), (theirs[n], second), errors, level=level, strict=strict)
        for n in common
    )
    return Difference(
        first.configuration,
        second.configuration,
        bins,
        level,
        _crossings(bins),
        _unknown_stretches(bins),
    )


def _compared(
    one: tuple[Bin, BinnedPower],
    other: tuple[Bin, BinnedPower],
    errors: CommonErrors,
    *,
    level: float,
    strict: float,
) -> DifferenceBin:
    middle = 0.5 * (one[0].airspeed_m_s + other[0].airspeed_m_s)
    a, b = (
        bin_.power_W + float(whole.curve(middle) - whole.curve(bin_.airspeed_m_s))
        for bin_, whole in (one, other)
    )
    scatter = one[0].scatter.joined(other[0].scatter)
    shared = float(
        np.linalg.norm(
            (
                (one[0].slope_W_s_m - other[0].slope_W_s_m) * errors.airspeed_m_s,
                (a - b) * errors.power_share,
                np.sqrt(2.0) * errors.climb_power_W,
            )
        )
    )
    half = combined_half_width(scatter, shared, level)
    sure = combined_half_width(scatter, shared, strict)
    sign: Sign = "unknown"
    if abs(a - b) > sure:
        sign = "less" if a < b else "more"
    low, high = a - b - half, a - b + half
    per_watt = 1.0 / b if b > 0.0 else float("nan")
    share = (low * per_watt, high * per_watt)
    return DifferenceBin(middle, a - b, (low, high), (a - b) * per_watt, share, sign)


def _crossings(bins: tuple[DifferenceBin, ...]) -> tuple[float, ...]:
    places = []
    for a, b in pairwise(bins):
        if a.difference_W * b.difference_W < 0.0:
            share = a.difference_W / (a.difference_W - b.difference_W)
            places.append(a.airspeed_m_s + share * (b.airspeed_m_s - a.airspeed_m_s))
    return tuple(places)


def _unknown_stretches(bins: tuple[DifferenceBin, ...]) -> tuple[tuple[float, float], ...]:
    """Between the known bins on both sides; up to the last bin flown where there is none."""
    signs: NDArray[Any] = np.array([item.sign for item in bins])
    stretches = []
    row = 0
    while row < signs.size:
        if signs[row] != "unknown":
            if row + 1 < signs.size and {signs[row], signs[row + 1]} == {"less", "more"}:
                stretches.append((bins[row].airspeed_m_s, bins[row + 1].airspeed_m_s))
            row += 1
            continue
        end = row
        while end + 1 < signs.size and signs[end + 1] == "unknown":
            end += 1
        low, high = bins[max(row - 1, 0)], bins[min(end + 1, signs.size - 1)]
        stretches.append((low.airspeed_m_s, high.airspeed_m_s))
        row = end + 1
    return tuple(stretches)
