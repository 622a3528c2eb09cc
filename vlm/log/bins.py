"""Bins of airspeed: the measured power of a configuration, its interval, and what that is made of.

A whole segment goes into the bin of its mean airspeed: readings sorted by their own, noisy airspeed
would tilt the curve. The power of a bin is that of the model at the bin's mean airspeed.
"""

from dataclasses import dataclass

import numpy as np
from numpy.polynomial import Polynomial

from vlm.constants import Floats
from vlm.log.power_model import PowerModel, bin_number


@dataclass(frozen=True)
class Bin:
    """Measured power of one configuration around one airspeed.

    Attributes
    ----------
    number : the bin's number; it is centred on so many times the bins' width
    low_m_s, high_m_s : the bin's edges
    airspeed_m_s : mean airspeed
    power_W : power in level flight there
    spread_W : standard deviation of the segments' power about the curve
    slope_W_s_m : slope of the configuration's curve here
    segments : how many there are
    half_width_W : of its interval; infinite where nothing tells the scatter
    parts_W : standard uncertainty by where it comes from: "scatter", "stated", drift and departure
    row : the contrast that gives it in the model
    """

    number: int
    low_m_s: float
    high_m_s: float
    airspeed_m_s: float
    power_W: float
    spread_W: float
    slope_W_s_m: float
    segments: int
    half_width_W: float
    parts_W: dict[str, float]
    row: Floats

    @property
    def interval_W(self) -> tuple[float, float]:
        """Confidence interval."""
        return self.power_W - self.half_width_W, self.power_W + self.half_width_W


@dataclass(frozen=True)
class BinnedPower:
    """All bins of one configuration.

    Attributes
    ----------
    configuration : its name
    bins : in order of airspeed
    curve : polynomial of the power over the airspeed
    level : of the intervals [1]
    """

    configuration: str
    bins: tuple[Bin, ...]
    curve: Polynomial
    level: float


def binned_power(model: PowerModel, configuration: str, level: float) -> BinnedPower:
    """Bins of one configuration.

    Parameters
    ----------
    model : fitted to all configurations
    configuration : its name
    level : of the intervals, such as 0.9
    """
    points, width = model.points, model.around.width_m_s
    here = points.configuration == configuration
    number = bin_number(points.airspeed_m_s, width)
    curve = model.curve(configuration)
    bins = []
    for n in np.unique(number[here]):
        rows = here & (number == n)
        weight = points.length_s[rows]
        airspeed = float(np.average(points.airspeed_m_s[rows], weights=weight))
        row = model.at(configuration, airspeed, int(n))
        parts = model.solution.parts(row)
        residual = model.solution.residual[rows]
        bins.append(
            Bin(
                number=int(n),
                low_m_s=(int(n) - 0.5) * width,
                high_m_s=(int(n) + 0.5) * width,
                airspeed_m_s=airspeed,
                power_W=model.power_W(row),
                spread_W=float(residual.std(ddof=1)) if residual.size > 1 else float("nan"),
                slope_W_s_m=float(curve.deriv()(airspeed)),
                segments=int(rows.sum()),
                half_width_W=model.solution.half_width(row, level),
                parts_W={name: float(np.sqrt(value)) for name, value in parts.items()},
                row=row,
            )
        )
    return BinnedPower(configuration, tuple(bins), curve, level)
