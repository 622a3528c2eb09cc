"""The measured difference of two configurations, and where its sign is known.

A saving is claimed only where the interval of the difference leaves zero out. The interval at
each airspeed holds for that airspeed alone; the sign is stated over all bins together, so each
bin's interval for it is widened by Bonferroni's inequality.
"""

from dataclasses import dataclass, field
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from vlm.constants import Floats
from vlm.flight.craft.crossing import zeros_of
from vlm.log.bins import Bin, BinnedPower
from vlm.log.power_model import PowerModel
from vlm.plain import INNER

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
    first_draws : whether the first draws less or more, over all bins together
    half_width_of_sign_W : that the sign rests on, over all bins together
    row : the contrast that gives it in the model
    """

    airspeed_m_s: float
    difference_W: float
    interval_W: tuple[float, float]
    share: float
    share_interval: tuple[float, float]
    first_draws: Sign
    half_width_of_sign_W: float
    row: Floats = field(metadata=INNER)


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
    not_flown : those of the two that have no steady segment
    """

    first: str
    second: str
    bins: tuple[DifferenceBin, ...]
    level: float
    crossing_m_s: tuple[float, ...]
    unknown_m_s: tuple[tuple[float, float], ...]
    not_flown: tuple[str, ...] = ()

    def sentences(self) -> list[str]:
        """What is known, in words, one line for each stretch of airspeed."""
        if self.not_flown:
            missing = " and ".join(self.not_flown)
            return [f"{missing} was not flown steadily: there is nothing to compare"]
        if not self.bins:
            return [f"{self.first} and {self.second} were never flown at the same airspeed"]
        words = {
            "less": f"{self.first} draws less than {self.second}",
            "more": f"{self.first} draws more than {self.second}",
            "unknown": "which draws less is not known",
        }
        return [f"{_span(group)}: {words[group[0].first_draws]}" for group in _groups(self.bins)]


def _span(group: list[DifferenceBin]) -> str:
    low, high = group[0].airspeed_m_s, group[-1].airspeed_m_s
    return f"at {low:.1f} m/s" if len(group) == 1 else f"from {low:.1f} to {high:.1f} m/s"


def _groups(bins: tuple[DifferenceBin, ...]) -> list[list[DifferenceBin]]:
    groups: list[list[DifferenceBin]] = []
    for item in bins:
        if groups and groups[-1][-1].first_draws == item.first_draws:
            groups[-1].append(item)
        else:
            groups.append([item])
    return groups


def unflown(first: str, second: str, missing: list[str]) -> Difference:
    """The answer where one of the two was never flown steadily."""
    return Difference(first, second, (), float("nan"), (), (), tuple(missing))


def difference(model: PowerModel, first: BinnedPower, second: BinnedPower) -> Difference:
    """Compare two configurations bin by bin, in the model that both were fitted in.

    What the pitot, the sensors and the drift do to both alike falls out of the difference by
    itself.

    Parameters
    ----------
    model : of both
    first, second : bins of equal width
    """
    theirs = {b.number: b for b in second.bins}
    ours = {b.number: b for b in first.bins}
    common = sorted(set(ours) & set(theirs))
    level = min(first.level, second.level)
    strict = 1.0 - (1.0 - level) / max(len(common), 1)
    bins = tuple(
        _compared(model, (first, ours[n]), (second, theirs[n]), level=level, strict=strict)
        for n in common
    )
    return Difference(
        first.configuration,
        second.configuration,
        bins,
        level,
        crossings(bins),
        unknown_stretches(bins),
    )


def _compared(
    model: PowerModel,
    one: tuple[BinnedPower, Bin],
    other: tuple[BinnedPower, Bin],
    *,
    level: float,
    strict: float,
) -> DifferenceBin:
    middle = 0.5 * (one[1].airspeed_m_s + other[1].airspeed_m_s)
    a, b = (model.at(whole.configuration, middle, bin_.number) for whole, bin_ in (one, other))
    found = model.power_W(a - b)
    half = model.solution.half_width(a - b, level)
    sure = model.solution.half_width(a - b, strict)
    sign: Sign = "unknown"
    if abs(found) > sure:
        sign = "less" if found < 0.0 else "more"
    low, high = found - half, found + half
    theirs = model.power_W(b)
    per_watt = 1.0 / theirs if theirs > 0.0 else float("nan")
    return DifferenceBin(
        airspeed_m_s=middle,
        difference_W=found,
        interval_W=(low, high),
        share=found * per_watt,
        share_interval=(low * per_watt, high * per_watt),
        first_draws=sign,
        half_width_of_sign_W=sure,
        row=a - b,
    )


def crossings(bins: tuple[DifferenceBin, ...]) -> tuple[float, ...]:
    """Airspeeds where the mean difference changes its sign, by straight lines [m/s]."""
    return tuple(zeros_of([b.airspeed_m_s for b in bins], [b.difference_W for b in bins]))


def unknown_stretches(bins: tuple[DifferenceBin, ...]) -> tuple[tuple[float, float], ...]:
    """Between the known bins on both sides; up to the last bin flown where there is none."""
    signs: NDArray[Any] = np.array([item.first_draws for item in bins])
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
