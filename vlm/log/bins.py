"""Bins of airspeed: mean, spread, count and interval of the measured power.

A whole segment goes into the bin of its mean airspeed: readings sorted by their own, noisy
airspeed would tilt the curve. The interval is that of the power at the bin's mean airspeed. It
holds the noise of both within segments (block bootstrap of the misfit from the curve), what
differs from one segment to the next, and what the instruments and the air may add alike to all
readings, combined as the Guide to the Expression of Uncertainty in Measurement (JCGM 100:2008)
does: variances add, with effective degrees of freedom by the Welch-Satterthwaite formula (its
equation G.2b).
"""

from dataclasses import dataclass

import numpy as np
from numpy.polynomial import Polynomial
from numpy.typing import NDArray

from vlm.constants import Floats
from vlm.description.log import LogUncertainty
from vlm.log.autocorrelation import autocovariance, block_length
from vlm.log.bootstrap import UNKNOWN_SCATTER, Scatter, block_bootstrap, half_width
from vlm.log.samples import Samples
from vlm.log.segment_scatter import shared_variance

# Degree of the curve that stands for the measurements' trend: with airspeed, power has one least
# value and grows with the cube.
CURVE_DEGREE = 3
# Degrees of freedom below which the split of the scatter is not trusted (common practice).
FEW_FREEDOM = 5.0


@dataclass(frozen=True)
class CommonErrors:
    """Standard uncertainties that all readings of a configuration share.

    Attributes
    ----------
    airspeed_m_s : of the airspeed
    power_share : of the power, as a share of itself [1]
    climb_power_W : of the power that rising or sinking air takes or gives
    """

    airspeed_m_s: float = 0.0
    power_share: float = 0.0
    climb_power_W: float = 0.0


def common_errors(
    stated: LogUncertainty, on_ground_speed: bool, climb_cost_W_s_m: float | None
) -> CommonErrors:
    """The shared uncertainties that ``[log.uncertainty]`` states.

    Parameters
    ----------
    stated : the block
    on_ground_speed : whether the airspeed is a ground speed, so that the wind is in it
    climb_cost_W_s_m : electrical power for each metre a second of climb
    """
    wind = (stated.wind_m_s or 0.0) if on_ground_speed else 0.0
    return CommonErrors(
        float(np.hypot(stated.airspeed_offset_m_s or 0.0, wind)),
        stated.power_share or 0.0,
        (stated.rising_air_m_s or 0.0) * (climb_cost_W_s_m or 0.0),
    )


@dataclass(frozen=True)
class Bin:
    """Measured power of one configuration around one airspeed.

    Attributes
    ----------
    number : the bin's number; it is centred on so many times the bins' width
    low_m_s, high_m_s : the bin's edges
    airspeed_m_s : mean airspeed
    power_W : mean power
    spread_W : standard deviation of the cells' power
    slope_W_s_m : slope of the configuration's curve here
    segments, cells : how many there are
    scatter : standard error of the mean, within and between segments together [W]
    within_W : its part from within segments, power and airspeed, by the block bootstrap; NaN
        where segments are too short to tell, and all scatter counts as between them
    airspeed_error_W, gain_error_W, air_error_W : standard uncertainties from the pitot's offset
        (or the wind), the power sensor's gain, and rising air
    interval_W : confidence interval that holds all of them; endless where nothing tells the
        scatter, as in a configuration flown in one segment only
    """

    number: int
    low_m_s: float
    high_m_s: float
    airspeed_m_s: float
    power_W: float
    spread_W: float
    slope_W_s_m: float
    segments: int
    cells: int
    scatter: Scatter
    within_W: float
    airspeed_error_W: float
    gain_error_W: float
    air_error_W: float
    interval_W: tuple[float, float]

    @property
    def common_W(self) -> float:
        """Standard uncertainty of what does not average out [W]."""
        return float(np.sqrt(self.airspeed_error_W**2 + self.gain_error_W**2 + self.air_error_W**2))


@dataclass(frozen=True)
class BinnedPower:
    """All bins of one configuration.

    Attributes
    ----------
    configuration : its name
    bins : in order of airspeed
    curve : polynomial of the power over the airspeed, fitted to the segments
    block_cells : length of the bootstrap's blocks [cells]
    between_W : standard deviation of segments about the curve, the noise within them taken off
    correlation_time_s : integral of the autocorrelation, both sides [s]
    level : of the intervals [1]
    """

    configuration: str
    bins: tuple[Bin, ...]
    curve: Polynomial
    block_cells: float
    between_W: float
    correlation_time_s: float
    level: float


def combined_half_width(scatter: Scatter, common: float, level: float) -> float:
    """Half-width of an interval for scatter and shared uncertainty together.

    Effective degrees of freedom: JCGM 100:2008, equation (G.2b); the shared part counts as exactly
    known.
    """
    if not scatter.is_known:
        return float("inf")
    both = scatter.joined(Scatter(common, 1e9)) if common > 0.0 else scatter
    return half_width(both, level)


def bin_number(airspeed_m_s: Floats, width_m_s: float) -> NDArray[np.int64]:
    """Number of the bin of each airspeed; bin n is centred on n times the width.

    Speeds are flown at round numbers, which would be the worst place for an edge.
    """
    return np.floor(airspeed_m_s / width_m_s + 0.5).astype(np.int64)


def fitted_curve(samples: Samples, width_m_s: float) -> Polynomial:
    """Polynomial through the segments' means, of a degree that their spread in airspeed bears."""
    airspeed, power, cells = samples.segment_means()
    places = np.unique(bin_number(airspeed, width_m_s)).size
    degree = min(CURVE_DEGREE, places - 1, (airspeed.size - 1) // 2)
    return Polynomial.fit(airspeed, power, degree, w=np.sqrt(cells))


def binned_power(
    samples: Samples,
    width_m_s: float,
    errors: CommonErrors,
    level: float,
    random: np.random.Generator,
) -> BinnedPower:
    """Bins of one configuration.

    Parameters
    ----------
    samples : its steady cells
    width_m_s : width of a bin; bins are centred on multiples of it
    errors : what all readings share
    level : of the intervals, such as 0.9
    random : where the bootstrap draws from
    """
    curve = fitted_curve(samples, width_m_s)
    misfit = samples.power_W - curve(samples.airspeed_m_s)
    covariance = autocovariance(misfit, samples)
    # At least two blocks a segment on average: what lasts longer shows between the segments.
    longest = samples.power_W.size / (2.0 * samples.segment_count)
    block = max(1.0, min(block_length(covariance, samples.power_W.size), longest))
    memory = correlation_cells(covariance, block)
    airspeed, _, _ = samples.segment_means()
    number = bin_number(airspeed, width_m_s)
    between = _between_segments(samples, curve, memory)
    everything = _between_segments(samples, curve, None)
    bins = []
    for n in np.unique(number):
        here = number == n
        inside = samples.chosen(here)
        within = block_bootstrap(misfit[here[samples.segment]], inside.segment, block, random)
        scatter = _scatter(inside, between, everything, within, level)
        bins.append(_bin(inside, int(n), width_m_s, curve, scatter, within, errors, level))
    return BinnedPower(
        samples.configuration,
        tuple(bins),
        curve,
        block,
        between.standard_error,
        memory * samples.cell_s,
        level,
    )


def correlation_cells(covariance: Floats, block: float) -> float:
    """Integral of the autocorrelation, both sides, over the lags that a block covers [cells]."""
    if covariance[0] <= 0.0:
        return 1.0
    reach = min(int(np.ceil(block)), covariance.size - 1)
    return max(1.0, 1.0 + 2.0 * float(covariance[1 : reach + 1].sum() / covariance[0]))


def segment_noise(samples: Samples, curve: Polynomial, memory_cells: float) -> Floats:
    """Variance of each segment's mean misfit by its own readings, shape (segments) [W^2].

    The misfit of power from the curve at the same moment's airspeed holds the noise of both.

    Parameters
    ----------
    samples : steady cells of one configuration
    curve : power over airspeed
    memory_cells : integral of the autocorrelation
    """
    misfit = samples.about_segment_means(samples.power_W - curve(samples.airspeed_m_s))
    cells = np.bincount(samples.segment, minlength=samples.segment_count)
    total = np.bincount(samples.segment, misfit**2, samples.segment_count)
    freedom = np.maximum(cells / memory_cells - 1.0, 1.0)
    return np.asarray(total / cells / freedom, dtype=np.float64)


def _between_segments(samples: Samples, curve: Polynomial, memory: float | None) -> Scatter:
    """Scatter of segments about the curve; with no memory given, all of it, noise included."""
    airspeed, power, _ = samples.segment_means()
    misfit = power - curve(airspeed)
    freedom = airspeed.size - curve.degree() - 1
    if freedom < 1:
        return UNKNOWN_SCATTER
    noise = np.zeros(power.size) if memory is None else segment_noise(samples, curve, memory)
    return Scatter(float(np.sqrt(shared_variance(misfit, noise, freedom))), float(freedom))


def _scatter(
    samples: Samples, between: Scatter, everything: Scatter, within: Scatter, level: float
) -> Scatter:
    """Scatter of a bin's mean: within and between segments, or all of it between them.

    All of it counts as between segments where these are too short to tell the noise within. With
    few degrees of freedom a variance between segments is easily found too small, even zero; then
    whichever gives the wider interval is taken.
    """
    whole = _of_mean(samples, everything)
    if not within.is_known:
        return whole
    parted = _of_mean(samples, between).joined(within)
    few = between.freedom < FEW_FREEDOM
    return whole if few and half_width(whole, level) > half_width(parted, level) else parted


def _of_mean(samples: Samples, one_segment: Scatter) -> Scatter:
    """Scatter of the mean of some segments, from that of one."""
    _, _, cells = samples.segment_means()
    share = float(np.sqrt(np.sum(cells.astype(float) ** 2))) / float(cells.sum())
    return Scatter(one_segment.standard_error * share, one_segment.freedom)


def _bin(
    samples: Samples,
    number: int,
    width: float,
    curve: Polynomial,
    scatter: Scatter,
    within: Scatter,
    errors: CommonErrors,
    level: float,
) -> Bin:
    airspeed, power = float(samples.airspeed_m_s.mean()), float(samples.power_W.mean())
    slope = float(curve.deriv()(airspeed)) if curve.degree() else 0.0
    shared = (
        abs(slope) * errors.airspeed_m_s,
        abs(power) * errors.power_share,
        errors.climb_power_W,
    )
    half = combined_half_width(scatter, float(np.linalg.norm(shared)), level)
    return Bin(
        number=number,
        low_m_s=(number - 0.5) * width,
        high_m_s=(number + 0.5) * width,
        airspeed_m_s=airspeed,
        power_W=power,
        spread_W=float(samples.power_W.std(ddof=1)) if samples.power_W.size > 1 else 0.0,
        slope_W_s_m=slope,
        segments=samples.segment_count,
        cells=int(samples.power_W.size),
        scatter=scatter,
        within_W=within.standard_error,
        airspeed_error_W=shared[0],
        gain_error_W=shared[1],
        air_error_W=shared[2],
        interval_W=(power - half, power + half),
    )
