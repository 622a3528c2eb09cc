"""Which setting is best at a speed or power that matters, decided by paired differences.

Settings share the draws of the uncertain inputs, so what is common to two of them cancels in their
difference: it is known better than either. A setting is named alone only where its difference from
every other stands out of that difference's interval and of what search and lattice leave.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Annotated, Any, TypedDict

import numpy as np

from vlm.constants import Floats
from vlm.flight.trim.sampled_speeds import interval
from vlm.flight.trim.special_speeds import NOT_REACHED
from vlm.plain import Shown
from vlm.verdicts import reach

LOWEST = ("least_power_W", "slowest_on_wings_m_s")
HIGHEST = ("fastest_m_s",)
"""What is best where it is lowest, and where it is highest."""
LEFT_OPEN = 0.005
"""Part of a value that search and lattice leave open in a difference [1]."""
LEAST_SHARE = 0.5
"""Share of the draws that must have a difference for an interval of it [1]."""


@dataclass(frozen=True)
class Rival:
    """Another setting held against the best.

    Attributes
    ----------
    name : of the setting
    difference : its value less the best one's
    half_width : half the interval of that difference, no less than search and lattice leave
        open; None where it is not known
    is_alike : whether the two cannot be distinguished
    """

    name: str
    difference: float
    half_width: float | None
    is_alike: bool


@dataclass(frozen=True)
class Best:
    """The best setting, and the others from the nearest on."""

    name: str
    rivals: tuple[Rival, ...]

    @property
    def alike(self) -> tuple[Rival, ...]:
        """Settings that cannot be distinguished from the best."""
        return tuple(one for one in self.rivals if one.is_alike)


class SpeedDifference(TypedDict):
    """Differences of two settings, second less first; intervals are null without draws."""

    first: str
    second: str
    least_power_W: float
    least_power_W_interval: tuple[float, float] | None
    slowest_on_wings_m_s: float
    slowest_on_wings_m_s_interval: tuple[float, float] | None
    fastest_m_s: float
    fastest_m_s_interval: tuple[float, float] | None


def speed_differences(
    specials: Mapping[str, Mapping[str, Any]],
    samples: Mapping[str, Mapping[str, Floats]],
    percent: float | None,
) -> list[Annotated[dict[str, Any], Shown(SpeedDifference)]]:
    """Differences of every two settings, second less first, with their intervals.

    Parameters
    ----------
    specials : values by setting and key
    samples : the same over the shared draws; empty without any
    percent : of the interval; None without draws
    """
    found = []
    for first, second in combinations(specials, 2):
        row: dict[str, Any] = {"first": first, "second": second}
        for key in LOWEST + HIGHEST:
            apart = specials[second][key] - specials[first][key]
            row[key] = apart
            row[f"{key}_interval"] = None
            if samples and percent is not None:
                drawn = samples[second][key] - samples[first][key]
                row[f"{key}_interval"] = difference_interval(drawn, apart, percent)
        found.append(row)
    return found


def difference_interval(
    drawn: Floats, apart: float, percent: float
) -> tuple[float, float] | None:  # fmt: skip
    """Interval of a difference, its median at the value found without a grid of speeds."""
    if not np.isfinite(apart) or np.mean(np.isfinite(drawn)) < LEAST_SHARE:
        return None
    return interval(drawn + apart - np.nanmedian(drawn), percent)


def best_setting(
    document: Mapping[str, Any], key: str, names: Iterable[str] | None = None
) -> Best | None:
    """The best of some settings of a power study at one of the values that matter.

    Parameters
    ----------
    document : of the study
    key : of :data:`LOWEST` or :data:`HIGHEST`
    names : the settings; all if None

    Returns
    -------
    None where no setting has that value, and for the fastest where one flies faster than was asked
    """
    names = list(document["configurations"] if names is None else names)
    if key in HIGHEST and beyond_asked(document, names):
        return None
    values = {name: document["configurations"][name]["speeds"][key] for name in names}
    known = {name: value for name, value in values.items() if value is not None}
    if not known:
        return None
    name = (min if key in LOWEST else max)(known, key=lambda one: known[one])
    rivals = [
        _rival(document["speed_differences"], key, name, other, LEFT_OPEN * abs(known[name]),
               asked=document["uncertainty"] is not None)
        for other in known if other != name
    ]  # fmt: skip
    return Best(name, tuple(sorted(rivals, key=lambda one: abs(one.difference))))


def beyond_asked(document: Mapping[str, Any], names: Iterable[str]) -> list[str]:
    """Settings that fly at the highest airspeed asked for, so that their fastest is not known."""
    every = document["configurations"]
    return [name for name in names if every[name]["speeds"]["fastest_limit"] == NOT_REACHED]


def _rival(
    differences: Sequence[Mapping[str, Any]],
    key: str,
    best: str,
    other: str,
    left_open: float,
    *,
    asked: bool,
) -> Rival:
    """Another setting against the best; alike where its interval holds zero or is not known."""
    for row in differences:
        if {row["first"], row["second"]} != {best, other}:
            continue
        sense = 1.0 if row["second"] == other else -1.0
        ends = row[f"{key}_interval"]
        width = None if ends is None else max(left_open, reach(row[key], ends))
        apart = sense * row[key]
        alike = abs(apart) <= (left_open if width is None else width)
        if width is None and asked:
            alike = True
        return Rival(other, apart, width, alike)
    raise KeyError(f"{best} and {other}")
