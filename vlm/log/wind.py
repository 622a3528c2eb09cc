"""What the path over ground tells: the wind, and the airspeed corrected by it."""

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from vlm.constants import Floats
from vlm.findings import Finding
from vlm.log.points import SteadyPoints

IN = " in "
"""Stands between a parameter and the configuration it belongs to."""


@dataclass(frozen=True)
class Wind:
    """Wind, pitot and compass over a log; half-widths are those of intervals at the level asked.

    Attributes
    ----------
    north_m_s, east_m_s : the air's mean velocity
    north_half_m_s, east_half_m_s : half-widths
    offset_m_s, offset_half_m_s : what the pitot reads too much, beside
        ``log.airspeed_offset_m_s``, in the unit it reads (indicated or true); NaN without a pitot
    scale, scale_half : what it reads too much, as a share of the airspeed [1]; NaN without a pitot
    by_configuration_m_s, by_configuration_half_m_s : what each configuration adds to the offset, by
        name; empty for fewer than two, and without a pitot
    heading_deg, heading_half_deg : what is to be added to all headings; NaN where none was used
    points : how many steady segments, or moments of turning flight, it was found from
    spread_deg : the range of directions flown
    source : what it was found by
    findings : warnings
    """

    north_m_s: float
    east_m_s: float
    north_half_m_s: float
    east_half_m_s: float
    offset_m_s: float
    offset_half_m_s: float
    scale: float
    scale_half: float
    heading_deg: float
    heading_half_deg: float
    points: int
    spread_deg: float
    source: str
    findings: tuple[Finding, ...]
    by_configuration_m_s: Mapping[str, float] = field(default_factory=dict)
    by_configuration_half_m_s: Mapping[str, float] = field(default_factory=dict)

    @property
    def speed_m_s(self) -> float:
        """Of the mean wind [m/s]."""
        return float(np.hypot(self.north_m_s, self.east_m_s))

    @property
    def from_deg(self) -> float:
        """Direction it blows from, clockwise from north [deg]."""
        return float(np.degrees(np.arctan2(-self.east_m_s, -self.north_m_s)) % 360.0)


@dataclass(frozen=True)
class AirData:
    """The airspeed, and what is still uncertain about it.

    Attributes
    ----------
    airspeed_m_s : best estimate in each cell, shape (cells)
    names, labels : of what is uncertain
    covariance : of it, shape (uncertain, uncertain)
    wind : None where the log does not tell
    by_configuration_m_s : standard uncertainty that each configuration's airspeed has of its own
    findings : warnings
    wander_m_s : standard deviation that each segment's airspeed has beside its gusts, as a wind
        that changes leaves it where there is no pitot
    """

    airspeed_m_s: Floats
    names: tuple[str, ...]
    labels: tuple[str, ...]
    covariance: Floats
    wind: Wind | None
    by_configuration_m_s: float = 0.0
    findings: tuple[Finding, ...] = field(default=())
    wander_m_s: float = 0.0

    def effects(self, points: SteadyPoints) -> Floats:
        """Change of the points' airspeed for a change of one in each, (points, uncertain)."""
        sides = {"wind north": points.north, "wind east": points.east}
        found = np.zeros((len(points), len(self.names)))
        for place, name in enumerate(self.names):
            what, _, where = name.partition(IN)
            size = points.airspeed_m_s if what == "scale" else sides.get(what, np.ones(len(points)))
            here = points.configuration == where if where else np.ones(len(points))
            found[:, place] = -np.nan_to_num(size) * here
        return found
