"""Measured power against the predicted curve: bias, scatter, and their run with airspeed."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.stats import norm

from vlm.constants import Floats
from vlm.log.bins import BinnedPower
from vlm.log.fit import Fit
from vlm.log.power_model import PowerModel, bin_number
from vlm.log.prediction import Prediction

CURVE_PLACES = 81
CURVE_MARGIN = 0.05


@dataclass(frozen=True)
class PredictedCurve:
    """A prediction over airspeed; arrays of shape (places).

    Attributes
    ----------
    airspeed_m_s, power_W : NaN where the craft cannot fly, or not within its limits
    half_width_W : of the band that the uncertain inputs give, at the log's level
    """

    airspeed_m_s: Floats
    power_W: Floats
    half_width_W: Floats


@dataclass(frozen=True)
class Residuals:
    """What is left between log and prediction in one configuration.

    Attributes
    ----------
    configuration : its name
    airspeed_m_s, residual_W : of each segment, measured less predicted, shape (segments)
    bin_airspeed_m_s, bin_residual_W : of each bin, shape (bins)
    bin_half_width_W : half-width of the bin's own interval, shape (bins)
    prediction_half_width_W : half-width of the prediction there, shape (bins)
    bias_W, scatter_W : mean and standard deviation over the segments that can be predicted
    bias_half_width_W : of the mean, by the errors of measured and predicted power together
    bias_share, bias_share_half_width : bias over the mean of what was predicted [1]
    slope_W_s_m : slope of a straight line through the residuals over airspeed
    outside : bins that lie farther from the prediction than both half-widths together allow
    unpredicted : segments at speeds where the prediction gives nothing within the craft's limits
    """

    configuration: str
    airspeed_m_s: Floats
    residual_W: Floats
    bin_airspeed_m_s: Floats
    bin_residual_W: Floats
    bin_half_width_W: Floats
    prediction_half_width_W: Floats
    bias_W: float
    bias_half_width_W: float
    scatter_W: float
    bias_share: float
    bias_share_half_width: float
    slope_W_s_m: float
    outside: int
    unpredicted: int


def residuals(
    binned: Mapping[str, BinnedPower],
    model: PowerModel,
    prediction: Prediction,
    fit: Fit,
    values: Mapping[str, float] | None = None,
) -> tuple[Residuals, ...]:
    """Residuals of all configurations that were flown.

    Parameters
    ----------
    binned : the bins, by configuration
    model : of the measured power
    prediction : the model
    fit : how the log was held against it
    values : its unknowns by name; what is left out is nominal
    """
    values = values or {}
    points = model.points
    predicted = prediction.at_points(points.airspeed_m_s, points.configuration, values)
    climb = model.around.cost.value_W_s_m * points.climb_m_s
    misfit = points.power_W - climb - predicted
    found = []
    for name, power in binned.items():
        rows = points.configuration == name
        allowed = np.zeros(len(points), dtype=bool)
        allowed[rows] = prediction.is_allowed(points.airspeed_m_s[rows], name)
        here = np.isfinite(misfit) & allowed
        speed = np.array([item.airspeed_m_s for item in power.bins])
        curve = _within_limits(prediction, name, speed, values)
        seen_there = np.array([item.power_W for item in power.bins])
        half = np.array([item.half_width_W for item in power.bins])
        band = _band(prediction, name, speed, fit)
        count = int(here.sum())
        bias = float(misfit[here].mean()) if count else float("nan")
        half_of_bias = mean_half_width(model, prediction, fit, here)
        mean = float(predicted[here].mean()) if count else float("nan")
        varied = count > 1 and float(np.ptp(points.airspeed_m_s[here])) > 0.0
        apart = np.abs(seen_there - curve)
        found.append(
            Residuals(
                configuration=name,
                airspeed_m_s=points.airspeed_m_s[rows],
                residual_W=misfit[rows],
                bin_airspeed_m_s=speed,
                bin_residual_W=seen_there - curve,
                bin_half_width_W=half,
                prediction_half_width_W=band,
                bias_W=bias,
                bias_half_width_W=half_of_bias,
                scatter_W=float(misfit[here].std(ddof=1)) if count > 1 else float("nan"),
                bias_share=bias / mean,
                bias_share_half_width=half_of_bias / mean,
                slope_W_s_m=float(np.polyfit(points.airspeed_m_s[here], misfit[here], 1)[0])
                if varied
                else float("nan"),
                outside=int(np.sum(apart > np.hypot(half, band))),
                unpredicted=int(np.sum(rows) - count),
            )
        )
    return tuple(found)


def mean_half_width(
    model: PowerModel, prediction: Prediction, fit: Fit | None, chosen: NDArray[np.bool_]
) -> float:
    """Half-width of measured less predicted power, mean over some points of the log [W].

    Both errors are correlated from point to point: each is that of the mean, and they add by
    Pythagoras.

    Parameters
    ----------
    chosen : the points, shape (points)
    """
    if not chosen.any():
        return float("nan")
    points, level = model.points, 0.9 if fit is None else fit.level
    names, speeds = points.configuration[chosen], points.airspeed_m_s[chosen]
    bins = bin_number(speeds, model.around.width_m_s)
    rows = [model.at(str(n), float(v), int(b)) for n, v, b in zip(names, speeds, bins, strict=True)]
    measured = model.solution.half_width(np.mean(rows, axis=0), level)
    effects = [
        prediction.input_effects_W(speeds[names == name], str(name)) for name in np.unique(names)
    ]
    mean = np.nan_to_num(np.concatenate(effects)).mean(axis=0, keepdims=True)
    return float(np.hypot(measured, _of_inputs(prediction, mean, fit)[0]))


def _within_limits(
    prediction: Prediction, name: str, speed: Floats, values: Mapping[str, float]
) -> Floats:
    power = prediction.power_W(speed, name, values)
    return np.where(prediction.is_allowed(speed, name), power, np.nan)


def _band(prediction: Prediction, name: str, speed: Floats, fit: Fit | None) -> Floats:
    """Half-width of what the uncertain inputs leave open, shape (places) [W]."""
    return _of_inputs(prediction, prediction.input_effects_W(speed, name), fit)


def _of_inputs(prediction: Prediction, effects: Floats, fit: Fit | None) -> Floats:
    """The same for effects of one standard deviation of each input, shape (places, inputs) [W]."""
    free = set() if fit is None else set(fit.values)
    kept: NDArray[np.bool_] = np.array(
        [not any(prediction.unknowns[f].covers == key for f in free) for key in prediction.inputs],
        dtype=bool,
    )
    level = 0.9 if fit is None else fit.level
    if effects.shape[1] == 0:
        return np.zeros(len(effects))
    factor = float(norm.ppf(0.5 + 0.5 * level))
    return np.asarray(factor * np.sqrt((effects[:, kept] ** 2).sum(axis=1)), dtype=np.float64)


def predicted_curves(
    binned: Mapping[str, BinnedPower],
    prediction: Prediction,
    values: Mapping[str, float] | None = None,
) -> dict[str, PredictedCurve]:
    """Predicted power where each configuration was flown, for plots, by its name.

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
        curve = _within_limits(prediction, name, places, values or {})
        curves[name] = PredictedCurve(places, curve, _band(prediction, name, places, None))
    return curves
