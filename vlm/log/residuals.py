"""Measured power against the predicted curve: bias, scatter, and their run with airspeed."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from vlm.constants import Floats
from vlm.log.bins import BinnedPower
from vlm.log.observations import Observations
from vlm.log.prediction import Prediction

CURVE_PLACES = 81
CURVE_MARGIN = 0.05


@dataclass(frozen=True)
class Residuals:
    """What is left between log and prediction in one configuration.

    Attributes
    ----------
    configuration : its name
    airspeed_m_s, residual_W : of each segment, measured less predicted, shape (segments)
    bin_airspeed_m_s, bin_residual_W : of each bin, shape (bins)
    bin_half_width_W : half-width of the bin's interval, shape (bins)
    bias_W, scatter_W : mean and standard deviation over the segments that can be predicted
    bias_share : bias over the mean of what was predicted [1]
    slope_W_s_m : slope of a straight line through the residuals over airspeed
    outside : bins whose interval leaves the prediction out
    unpredicted : segments at speeds where the prediction gives nothing
    """

    configuration: str
    airspeed_m_s: Floats
    residual_W: Floats
    bin_airspeed_m_s: Floats
    bin_residual_W: Floats
    bin_half_width_W: Floats
    bias_W: float
    scatter_W: float
    bias_share: float
    slope_W_s_m: float
    outside: int
    unpredicted: int


def residuals(
    seen: Observations,
    binned: Mapping[str, BinnedPower],
    prediction: Prediction,
    values: Mapping[str, float] | None = None,
) -> tuple[Residuals, ...]:
    """Residuals of all configurations that were flown.

    Parameters
    ----------
    seen : the segments
    binned : the bins, by configuration
    prediction : the model
    values : its unknowns by name; what is left out is nominal
    """
    predicted = seen.predicted_W(prediction, values)
    found = []
    for name, power in binned.items():
        rows = seen.configuration == name
        here = np.isfinite(predicted) & rows
        misfit = seen.power_W - predicted
        speed = np.array([item.airspeed_m_s for item in power.bins])
        expected = prediction.power_W(speed, name, values)
        seen_there = np.array([item.power_W for item in power.bins])
        half = np.array([item.interval_W[1] - item.power_W for item in power.bins])
        count = int(here.sum())
        bias = float(misfit[here].mean()) if count else float("nan")
        varied = count > 1 and float(np.ptp(seen.airspeed_m_s[here])) > 0.0
        found.append(
            Residuals(
                configuration=name,
                airspeed_m_s=seen.airspeed_m_s[rows],
                residual_W=misfit[rows],
                bin_airspeed_m_s=speed,
                bin_residual_W=seen_there - expected,
                bin_half_width_W=half,
                bias_W=bias,
                scatter_W=float(misfit[here].std(ddof=1)) if count > 1 else float("nan"),
                bias_share=bias / float(predicted[here].mean()) if count else float("nan"),
                slope_W_s_m=float(np.polyfit(seen.airspeed_m_s[here], misfit[here], 1)[0])
                if varied
                else float("nan"),
                outside=int(np.sum(np.abs(seen_there - expected) > half)),
                unpredicted=int(np.sum(rows) - count),
            )
        )
    return tuple(found)


def predicted_curves(
    binned: Mapping[str, BinnedPower],
    prediction: Prediction,
    values: Mapping[str, float] | None = None,
) -> dict[str, tuple[Floats, Floats]]:
    """Airspeed and predicted power where each configuration was flown, for plots, by its name.

    Parameters
    ----------
    binned : the bins, by configuration
    prediction, values : as in ``residuals``
    """
    curves = {}
    for name, power in binned.items():
        low, high = power.bins[0].airspeed_m_s, power.bins[-1].airspeed_m_s
        margin = CURVE_MARGIN * max(high - low, 1.0)
        places = np.linspace(max(low - margin, 0.0), high + margin, CURVE_PLACES)
        curves[name] = (places, prediction.power_W(places, name, values))
    return curves
