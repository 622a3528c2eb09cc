"""A flight log from its rows to its claims: the study behind ``foldspan log``."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from itertools import combinations
from typing import Any

import numpy as np
from numpy.typing import NDArray

from vlm.constants import Floats
from vlm.description.folds import FoldAngles
from vlm.description.log import FlightLogFormat
from vlm.description.models import Biplane
from vlm.errors import InputRefused, nearest_name
from vlm.findings import Finding, gathered
from vlm.log.bins import BinnedPower, CommonErrors, binned_power, common_errors
from vlm.log.cross_validation import CrossValidation, cross_validated
from vlm.log.difference import Difference, difference
from vlm.log.doubts import log_doubts
from vlm.log.fit_intervals import Fit, fitted
from vlm.log.fitting import fit_problem
from vlm.log.fold_settings import configurations_flown, unknown_labels
from vlm.log.observations import Observations, observations
from vlm.log.prediction import Prediction
from vlm.log.reading import FlightLog
from vlm.log.residuals import Residuals, predicted_curves, residuals
from vlm.log.samples import Samples, climb_cost, reference_density, steady_samples
from vlm.log.steady import SteadyFlight, steady_flight
from vlm.log.wind import Wind, wind_and_offset

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
    seed : of the bootstrap's draws, so that the same log gives the same intervals
    """

    level: float = 0.9
    compare: tuple[str, str] | None = None
    fit: tuple[str, ...] = ()
    seed: int = 0


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
    """

    title: str
    source: str
    how: FlightLogFormat
    settings: Mapping[str, FoldAngles]
    mass_kg: float | None = None


@dataclass(frozen=True)
class Measured:
    """What the log says by itself.

    Attributes
    ----------
    craft, plan, log : what was asked
    configuration : name of each cell's configuration, shape (cells)
    steady : the segments
    density_kg_m3 : what all is reduced to
    climb_cost_W_s_m : electrical power for each metre a second of climb; None: not corrected
    errors : what all readings share
    samples, binned : steady cells and bins, by configuration
    seen : the segments as observations
    differences : of pairs of configurations
    wind : None where the log does not tell
    findings : doubts
    """

    craft: Craft
    plan: LogPlan
    log: FlightLog
    configuration: NDArray[Any]
    steady: SteadyFlight
    density_kg_m3: float
    climb_cost_W_s_m: float | None
    errors: CommonErrors
    samples: Mapping[str, Samples]
    binned: Mapping[str, BinnedPower]
    seen: Observations | None
    differences: tuple[Difference, ...]
    wind: Wind | None
    findings: tuple[Finding, ...]


@dataclass(frozen=True)
class Compared:
    """The log against the prediction.

    Attributes
    ----------
    residuals, curves : with the geometry file as it is; curves are airspeed and power
    fit : None where nothing was fitted
    fitted_residuals, fitted_curves : with the fitted values
    cross_validation : None where nothing was fitted, or there are too few segments
    """

    residuals: tuple[Residuals, ...]
    curves: Mapping[str, tuple[Floats, Floats]]
    fit: Fit | None = None
    fitted_residuals: tuple[Residuals, ...] = ()
    fitted_curves: Mapping[str, tuple[Floats, Floats]] = field(default_factory=dict)
    cross_validation: CrossValidation | None = None

    @property
    def findings(self) -> tuple[Finding, ...]:
        """Doubts about the fit."""
        return () if self.fit is None else self.fit.findings


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
        )
    return Craft(
        title=craft.title,
        source=craft.source_name,
        how=craft.log,
        settings={name: setting.folds for name, setting in craft.configurations.items()},
        mass_kg=None if craft.mass is None else craft.mass.total_kg,
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
        If the log fits none of the configurations, or one to compare is not known.
    """
    how = craft.how
    _check_names(craft, plan)
    configuration = configurations_flown(log.cells, how, craft.settings)
    steady = steady_flight(log, how, configuration)
    cost = climb_cost(how, craft.mass_kg)
    errors = common_errors(how.uncertainty, how.columns.airspeed.kind == "ground", cost)
    density = reference_density(log, steady)
    flown = steady_samples(log, steady, density, cost)
    samples = {name: flown[name] for name in craft.settings if name in flown}
    random = np.random.default_rng(plan.seed)
    binned = {
        name: binned_power(cells, how.bin_width_m_s, errors, plan.level, random)
        for name, cells in samples.items()
    }
    wind = wind_and_offset(log, how, steady, plan.level)
    labels = unknown_labels(log.cells, how)
    doubts = log_doubts(craft.mass_kg, how, log, steady, labels, wind)
    return Measured(
        craft=craft,
        plan=plan,
        log=log,
        configuration=configuration,
        steady=steady,
        density_kg_m3=density,
        climb_cost_W_s_m=cost,
        errors=errors,
        samples=samples,
        binned=binned,
        seen=observations(samples, binned, _runs(steady)) if samples else None,
        differences=_differences(binned, errors, plan),
        wind=wind,
        findings=tuple(gathered(doubts)),
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
        If there are too few segments for the fit, or it does not settle.
    """
    prediction = prediction_at(result.density_kg_m3)
    seen, binned, names = result.seen, result.binned, result.plan.fit
    if seen is None:
        raise ValueError("a log without segments cannot be compared")
    before = residuals(seen, binned, prediction)
    curves = predicted_curves(binned, prediction)
    if not names:
        return Compared(before, curves)
    fit = fitted(fit_problem(seen, prediction, names, result.errors), result.plan.level)
    return Compared(
        residuals=before,
        curves=curves,
        fit=fit,
        fitted_residuals=residuals(seen, binned, prediction, fit.values),
        fitted_curves=predicted_curves(binned, prediction, fit.values),
        cross_validation=cross_validated(seen, prediction, names, result.errors, progress),
    )


def _check_names(craft: Craft, plan: LogPlan) -> None:
    for name in plan.compare or ():
        if name not in craft.settings:
            near = nearest_name(name, craft.settings)
            known = ", ".join(craft.settings) or "none"
            cure = f"did you mean {near}?" if near else f"the file names {known}."
            raise InputRefused(f"{name} is not a configuration of {craft.source}; {cure}")


def _runs(steady: SteadyFlight) -> NDArray[np.int64]:
    """Number of the unbroken run each segment belongs to, shape (segments)."""
    first = np.array([segment.first for segment in steady.segments])
    last = np.array([segment.last for segment in steady.segments])
    return np.concatenate(([0], np.cumsum(first[1:] != last[:-1] + 1)))


def _differences(
    binned: Mapping[str, BinnedPower], errors: CommonErrors, plan: LogPlan
) -> tuple[Difference, ...]:
    pairs = [plan.compare] if plan.compare is not None else list(combinations(binned, 2))
    return tuple(
        difference(binned[first], binned[second], errors)
        for first, second in pairs
        if first in binned and second in binned
    )
