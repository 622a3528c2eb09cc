"""Fit of a prediction's unknowns to the segments of a log.

Least squares over segments, weighted by what each is worth: the variance seen within it plus one
that all segments share (trim, air, piloting), found from the residuals by the method of R. C. Paule
and J. Mandel, J. Res. Natl. Bur. Stand. 87 (1982) 377. The pitot's offset, the sensor's gain and
rising air come in as unknowns of their own, held by their stated uncertainty, so that what they
may hide widens the intervals of the rest.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.optimize import least_squares

from vlm.constants import Floats
from vlm.errors import ComputationFailed, InputRefused, nearest_name
from vlm.log.bins import CommonErrors
from vlm.log.observations import Observations
from vlm.log.prediction import Prediction
from vlm.log.segment_scatter import shared_variance

ROUNDS = 20
SETTLED = 1e-3
# Stands for a residual where the prediction says the craft cannot fly, in standard deviations.
CANNOT_FLY = 1e3


@dataclass(frozen=True)
class Parameter:
    """One number that a fit varies: an unknown of the prediction, or a held-down error.

    Attributes
    ----------
    name, label, unit : of it
    start : first guess
    low, high : bounds
    step : for scaling
    prior : standard uncertainty it is held by; None for a free unknown
    """

    name: str
    label: str
    unit: str
    start: float
    low: float
    high: float
    step: float
    prior: float | None = None


@dataclass(frozen=True)
class Problem:
    """All a fit needs: segments, prediction, what is varied.

    Attributes
    ----------
    seen : the segments
    prediction : the model
    parameters : the free unknowns first, then what is held down
    shared_W2 : variance that every segment has beside its own, scaled
    scale : factor on all variances
    """

    seen: Observations
    prediction: Prediction
    parameters: tuple[Parameter, ...]
    shared_W2: float = 0.0
    scale: float = 1.0

    @property
    def free(self) -> int:
        """Number of free unknowns."""
        return sum(parameter.prior is None for parameter in self.parameters)

    @property
    def freedom(self) -> int:
        """Degrees of freedom: segments less free unknowns."""
        return len(self.seen) - self.free

    @property
    def variance_W2(self) -> Floats:
        """Variance of each segment's power, shape (segments)."""
        return self.scale * (self.seen.noise_W2 + self.shared_W2)

    def misfit_W(self, x: Floats) -> Floats:
        """Measured less predicted power, shape (segments); NaN where it cannot fly."""
        named = dict(zip((p.name for p in self.parameters), x.tolist(), strict=True))
        values = {n: v for n, v in named.items() if n in self.prediction.unknowns}
        offset = named.get("airspeed_offset", 0.0)
        power = self.seen.predicted_W(self.prediction, values, offset)
        power *= 1.0 + named.get("power_gain", 0.0)
        for name, value in named.items():
            if name.startswith("rising_air."):
                power[self.seen.configuration == name.partition(".")[2]] += value
        return self.seen.power_W - power

    def residual(self, x: Floats) -> Floats:
        """Misfits in standard deviations, then what is held down in its own."""
        misfit = self.misfit_W(x) / np.sqrt(self.variance_W2)
        held = [v / p.prior for p, v in zip(self.parameters, x, strict=True) if p.prior]
        return np.concatenate((np.nan_to_num(misfit, nan=CANNOT_FLY), held))


@dataclass(frozen=True)
class Solution:
    """Where a problem's least squares lie.

    Attributes
    ----------
    x : the parameters, shape (parameters)
    jacobian : of the residual, shape (residuals, parameters)
    chi_square : sum of squares of the residual, what is held down included
    """

    x: Floats
    jacobian: Floats
    chi_square: float


def fit_problem(
    seen: Observations, prediction: Prediction, names: Sequence[str], errors: CommonErrors
) -> Problem:
    """The problem of fitting some unknowns.

    Parameters
    ----------
    seen : the segments
    prediction : the model with its unknowns
    names : the unknowns to fit
    errors : shared uncertainties of the log

    Raises
    ------
    InputRefused
        If a name is not an unknown of the prediction, or stands there twice.
    ComputationFailed
        If there are not more segments than unknowns, or none can be predicted.
    """
    for name in names:
        if name not in prediction.unknowns:
            known = list(prediction.unknowns)
            near = nearest_name(name, known)
            cure = f"did you mean {near}?" if near else f"known are {', '.join(known)}."
            raise InputRefused(f"{name} is nothing that can be fitted; {cure}")
        if list(names).count(name) > 1:
            raise InputRefused(f"{name} is to be fitted twice.")
    seen = seen.chosen(np.isfinite(seen.predicted_W(prediction)))
    if len(seen) <= len(names):
        raise ComputationFailed(
            f"{len(seen)} steady segments within the prediction cannot tell {len(names)} unknowns;"
            " fly more segments or fit fewer."
        )
    chosen = [prediction.unknowns[name] for name in names]
    free = [Parameter(u.name, u.label, u.unit, u.nominal, u.low, u.high, u.step) for u in chosen]
    problem = Problem(seen, prediction, (*free, *_held_down(seen, errors)))
    floor = 1e-12 * float(np.mean(seen.power_W**2)) + 1e-12
    return _with_shared_variance(_with_floor(problem, floor))


def _held_down(seen: Observations, errors: CommonErrors) -> list[Parameter]:
    held = []
    if errors.airspeed_m_s > 0.0:
        held.append(("airspeed_offset", "airspeed offset", "m/s", errors.airspeed_m_s))
    if errors.power_share > 0.0:
        held.append(("power_gain", "power sensor's gain", "1", errors.power_share))
    if errors.climb_power_W > 0.0:
        for name in np.unique(seen.configuration):
            label = f"rising air in {name}"
            held.append((f"rising_air.{name}", label, "W", errors.climb_power_W))
    return [Parameter(n, t, u, 0.0, -np.inf, np.inf, s, prior=s) for n, t, u, s in held]


def _with_floor(problem: Problem, floor: float) -> Problem:
    """A log without any noise still has residuals of finite weight."""
    seen = problem.seen
    noise = np.maximum(seen.noise_W2, floor)
    seen = Observations(
        seen.configuration, seen.airspeed_m_s, seen.power_W, noise, seen.number, seen.run
    )
    return Problem(seen, problem.prediction, problem.parameters)


def solved(
    problem: Problem, start: Floats | None = None, fixed: dict[int, float] | None = None
) -> Solution:
    """Least squares of a problem, with some parameters held at a value.

    Parameters
    ----------
    problem : what to fit
    start : first guess, shape (parameters); the parameters' own if None
    fixed : values by place among the parameters

    Raises
    ------
    ComputationFailed
        If the optimiser does not settle.
    """
    fixed = fixed or {}
    lows = np.array([p.low for p in problem.parameters])
    highs = np.array([p.high for p in problem.parameters])
    steps = np.array([p.step for p in problem.parameters])
    x = np.array([p.start for p in problem.parameters]) if start is None else start.copy()
    for place, value in fixed.items():
        x[place] = value
    vary = np.array([i for i in range(x.size) if i not in fixed], dtype=np.int64)
    if vary.size == 0:
        rest = problem.residual(x)
        return Solution(x, np.zeros((rest.size, x.size)), float(rest @ rest))

    def residual(scaled: Floats) -> Floats:
        point = x.copy()
        point[vary] = scaled * steps[vary]
        return problem.residual(point)

    room = 1e-9 * (highs - lows)
    room = np.where(np.isfinite(room), room, 0.0)
    first = np.clip(x, lows + room, highs - room)[vary] / steps[vary]
    bounds = (lows[vary] / steps[vary], highs[vary] / steps[vary])
    answer = least_squares(residual, first, bounds=bounds, x_scale="jac", xtol=1e-10, ftol=1e-10)
    if not answer.success:
        raise ComputationFailed(f"the fit did not settle: {answer.message}")
    x[vary] = answer.x * steps[vary]
    jacobian = np.zeros((answer.fun.size, x.size))
    jacobian[:, vary] = np.asarray(answer.jac, dtype=np.float64) / steps[vary]
    return Solution(x, jacobian, float(answer.fun @ answer.fun))


def _with_shared_variance(problem: Problem) -> Problem:
    """The problem with the variance that makes its residuals as large as expected.

    Paule and Mandel: the shared variance is that for which the weighted sum of squares equals the
    degrees of freedom. Where even none is too much, the variances are scaled down instead, as the
    residual scatter tells.
    """
    shared = 0.0
    start: Floats | None = None
    for _ in range(ROUNDS):
        trial = Problem(problem.seen, problem.prediction, problem.parameters, shared)
        start = solved(trial, start).x
        found = shared_variance(trial.misfit_W(start), trial.seen.noise_W2, trial.freedom)
        if abs(found - shared) <= SETTLED * max(found, shared):
            shared = found
            break
        shared = found
    final = Problem(problem.seen, problem.prediction, problem.parameters, shared)
    misfit = final.misfit_W(solved(final, start).x)
    scale = float(np.sum(misfit**2 / final.variance_W2)) / final.freedom
    return Problem(problem.seen, problem.prediction, problem.parameters, shared, max(scale, 1e-12))
