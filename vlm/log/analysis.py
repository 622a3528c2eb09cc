"""A flight log from its rows to its claims: the study behind ``foldspan log``."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from itertools import combinations
from typing import Any

import numpy as np
from numpy.typing import NDArray

from vlm.description.folds import FoldAngles
from vlm.description.log import FlightLogFormat
from vlm.description.models import Biplane
from vlm.errors import InputRefused, nearest_name
from vlm.findings import Finding, gathered
from vlm.log.bins import BinnedPower, binned_power
from vlm.log.climbing import climb_efficiency, power_limit
from vlm.log.cross_validation import CrossValidation, cross_validated
from vlm.log.difference import Difference, difference, unflown
from vlm.log.explaining import explained
from vlm.log.fit import Fit
from vlm.log.fold_settings import configurations_flown, unknown_labels
from vlm.log.fold_warnings import fold_warnings
from vlm.log.known_loads import (
    KnownLoads,
    corrected_points,
    current_zero,
    hover_check,
    known_loads,
    lift_warnings,
)
from vlm.log.log_warnings import Checked, log_warnings, refuse_impossible_power
from vlm.log.plausible import temperature_share
from vlm.log.points import SteadyPoints, reference_density, steady_points
from vlm.log.power_model import PowerModel, Surroundings, power_model
from vlm.log.prediction import Prediction
from vlm.log.reading import FlightLog
from vlm.log.residuals import (
    PredictedCurve,
    Residuals,
    mean_half_width,
    predicted_curves,
    residuals,
)
from vlm.log.saturation import without_saturated
from vlm.log.stated import Stated, climb_cost, stated
from vlm.log.steady import SteadyFlight, steady_flight
from vlm.log.wind import AirData, Wind
from vlm.log.wind_fit import air_data

# Gives the prediction at an air density [kg/m^3].
PredictionAt = Callable[[float], Prediction]


@dataclass(frozen=True)
class LogPlan:
    """What is asked of a log.

    Attributes
    ----------
    level : of all intervals [1]
    compare : two configurations; every pair that was flown if None
    fit : names of the unknowns to fit
    """

    level: float = 0.9
    compare: tuple[str, str] | None = None
    fit: tuple[str, ...] = ()


STANDARD_PLAN = LogPlan()


@dataclass(frozen=True)
class Craft:
    """What of the geometry file a log needs.

    Attributes
    ----------
    title, source : its title and file
    how : the block ``[log]``
    settings : fold angles of the configurations
    mass_kg : mass of the whole craft, None without ``[mass]``
    power_max_W : greatest electrical power that its rotors and loads can draw; None where the file
        has no limit
    battery_Wh : energy of its battery, None where it is not known
    climb_efficiency : share of electrical power that turns into climb by its own model; None where
        it has no rotors
    loads : what runs all the time, power in hover, weight and wing area; None without propulsion
    fold_range_deg : lowest and highest fold that the hinges allow; None without tips
    """

    title: str
    source: str
    how: FlightLogFormat
    settings: Mapping[str, FoldAngles]
    mass_kg: float | None = None
    power_max_W: float | None = None
    battery_Wh: float | None = None
    climb_efficiency: float | None = None
    loads: KnownLoads | None = None
    fold_range_deg: tuple[float, float] | None = None


@dataclass(frozen=True)
class Measured:
    """What the log says by itself.

    Attributes
    ----------
    craft, plan, log : what was asked
    configuration : name of each cell's configuration, shape (cells)
    steady : the segments
    density_kg_m3 : what all is reduced to
    errors : what all readings share
    air : airspeed and wind
    points : the segments, reduced; None where there is none
    model : the fit of curves and disturbances; None where there are too few segments
    binned : bins, by configuration
    differences : of pairs of configurations
    findings : warnings
    """

    craft: Craft
    plan: LogPlan
    log: FlightLog
    configuration: NDArray[Any]
    steady: SteadyFlight
    density_kg_m3: float
    errors: Stated
    air: AirData
    points: SteadyPoints | None
    model: PowerModel | None
    binned: Mapping[str, BinnedPower]
    differences: tuple[Difference, ...]
    findings: tuple[Finding, ...]

    @property
    def wind(self) -> Wind | None:
        """Wind, pitot and compass; None where the log does not tell."""
        return self.air.wind


@dataclass(frozen=True)
class Compared:
    """The log against the prediction.

    Attributes
    ----------
    residuals, curves : with the geometry file as it is; curves are airspeed and power
    explanation : which uncertain inputs account for the difference, nothing being fitted
    difference_half_width_W : of the mean difference there, by both errors together
    fit : None where nothing was fitted
    fitted_residuals, fitted_curves : with the fitted values
    cross_validation : None where nothing was fitted, or there are too few segments
    left_out : warnings of uncertain inputs that are in no interval
    """

    residuals: tuple[Residuals, ...]
    curves: Mapping[str, PredictedCurve]
    explanation: Fit
    difference_half_width_W: float
    fit: Fit | None = None
    fitted_residuals: tuple[Residuals, ...] = ()
    fitted_curves: Mapping[str, PredictedCurve] = field(default_factory=dict)
    cross_validation: CrossValidation | None = None
    left_out: tuple[Finding, ...] = ()

    @property
    def findings(self) -> tuple[Finding, ...]:
        """Warnings about the prediction and the fit."""
        return self.left_out + (() if self.fit is None else self.fit.findings)


def log_craft(craft: Biplane) -> Craft:
    """What of a description its logs need.

    Parameters
    ----------
    craft : a description with the block ``[log]``

    Raises
    ------
    InputRefused
        If it has no such block.
    """
    if craft.log is None:
        raise InputRefused(
            f"{craft.source_name}: log is missing; a block [log] must say which column is what"
            " (foldspan log FILE LOG --write-block NAME.toml proposes one)"
        )
    return Craft(
        title=craft.title,
        source=craft.source_name,
        how=craft.log,
        settings={name: setting.folds for name, setting in craft.configurations.items()},
        mass_kg=None if craft.mass is None else craft.mass.total_kg,
        power_max_W=power_limit(craft),
        battery_Wh=None if craft.propulsion is None else craft.propulsion.battery_energy_Wh,
        climb_efficiency=climb_efficiency(craft) if craft.log.climb_efficiency is None else None,
        loads=known_loads(craft),
        fold_range_deg=craft.fold_range_deg if craft.tips else None,
    )


def measured(craft: Craft, log: FlightLog, plan: LogPlan = STANDARD_PLAN) -> Measured:
    """Segments, bins, differences and wind of a log.

    Parameters
    ----------
    craft : what the geometry file says of logs
    log : as read
    plan : what is asked

    Returns
    -------
    With no steady segment, everything that rests on one is empty.

    Raises
    ------
    InputRefused
        If the log fits none of the configurations, one to compare is not known, or what it holds
        cannot be a flight of this craft.
    """
    how = craft.how
    _check_names(craft, plan)
    configuration = configurations_flown(log.cells, how, craft.settings)
    steady, saturated = without_saturated(log, steady_flight(log, how, configuration))
    errors = stated(how)
    air = air_data(log, how, steady, configuration, errors, plan.level)
    density = reference_density(log, steady)
    zero = current_zero(log, craft.loads, errors)
    too_much, sensor_warnings = hover_check(log, steady, craft.loads, errors)
    errors = replace(
        errors,
        current_zero_A=zero.spread_A,
        power_share=float(np.hypot(errors.power_share, too_much)),
    )
    points = None
    if steady.segments:
        points = steady_points(log, steady, density, air.airspeed_m_s, air.wander_m_s)
        points = points if len(points) else None
    model = None
    if points is not None:
        points = corrected_points(points, zero)
        refuse_impossible_power(log, points, craft.power_max_W)
        sensor_warnings += lift_warnings(points, craft.loads, how)
        model = power_model(points, _around(craft, log, points, air, errors))
    binned = (
        {}
        if model is None
        else {n: binned_power(model, n, plan.level) for n in craft.settings if n in model.degrees}
    )
    warnings = log_warnings(
        Checked(craft.battery_Wh, how, log, steady, points, air, errors),
        unknown_labels(log.cells, how),
    ) + fold_warnings(log.cells, configuration, how, craft.fold_range_deg)
    return Measured(
        craft=craft,
        plan=plan,
        log=log,
        configuration=configuration,
        steady=steady,
        density_kg_m3=density,
        errors=errors,
        air=air,
        points=points,
        model=model,
        binned=binned,
        differences=() if model is None else _differences(model, binned, plan),
        findings=tuple(gathered([*warnings, *saturated, *zero.findings, *sensor_warnings])),
    )


def _around(
    craft: Craft, log: FlightLog, points: SteadyPoints, air: AirData, errors: Stated
) -> Surroundings:
    typical = (float(points.airspeed_m_s.mean()), float(points.power_W.mean()))
    return Surroundings(
        air=air,
        errors=errors,
        cost=climb_cost(craft.how, craft.mass_kg, errors, typical, craft.climb_efficiency),
        width_m_s=craft.how.bin_width_m_s,
        density_share=float(np.hypot(errors.density_share, temperature_share(log.findings))),
    )


def compared(
    result: Measured,
    prediction_at: PredictionAt,
    progress: Callable[[int], None] | None = None,
) -> Compared:
    """Hold a log against a prediction, and fit what is asked.

    Parameters
    ----------
    result : the log by itself, with at least one steady segment
    prediction_at : gives the prediction at the log's density
    progress : called with 1 after each group of the cross-validation

    Raises
    ------
    InputRefused
        If something that cannot be fitted is to be.
    ComputationFailed
        If there are too few segments for the fit, or it does not converge.
    """
    prediction = prediction_at(result.density_kg_m3)
    points, model, names = result.points, result.model, result.plan.fit
    if points is None or model is None:
        raise ValueError("a log without segments cannot be compared")
    around, level = model.around, result.plan.level
    held = explained(points, prediction, (), around, level)
    before = residuals(result.binned, model, prediction, held)
    curves = predicted_curves(result.binned, prediction)
    known = prediction.at_points(points.airspeed_m_s, points.configuration, {})
    half = mean_half_width(model, prediction, held, np.isfinite(known))
    if not names:
        return Compared(before, curves, held, half)
    fit = explained(points, prediction, names, around, level)
    return Compared(
        residuals=before,
        curves=curves,
        explanation=held,
        difference_half_width_W=half,
        fit=fit,
        fitted_residuals=residuals(result.binned, model, prediction, fit, fit.values),
        fitted_curves=predicted_curves(result.binned, prediction, fit.values),
        cross_validation=cross_validated(points, prediction, names, around, progress),
    )


def _check_names(craft: Craft, plan: LogPlan) -> None:
    for name in plan.compare or ():
        if name not in craft.settings:
            near = nearest_name(name, craft.settings)
            known = ", ".join(craft.settings) or "none"
            remedy = f"did you mean {near}?" if near else f"the file names {known}."
            raise InputRefused(f"{name} is not a configuration of {craft.source}; {remedy}")


def _differences(
    model: PowerModel, binned: Mapping[str, BinnedPower], plan: LogPlan
) -> tuple[Difference, ...]:
    pairs = [plan.compare] if plan.compare is not None else list(combinations(binned, 2))
    return tuple(
        difference(model, binned[first], binned[second])
        if first in binned and second in binned
        else unflown(first, second, [name for name in (first, second) if name not in binned])
        for first, second in pairs
    )
