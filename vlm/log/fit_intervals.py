"""How well a fit knows its unknowns: intervals, correlations, profiles, and what to doubt."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.stats import t as student

from vlm.constants import Floats
from vlm.findings import Finding
from vlm.log.fitting import Problem, Solution, solved

# Two unknowns whose estimates are so correlated cannot be told apart (common practice).
ALIKE = 0.95
# Places of a profile, in standard errors of the unknown.
PROFILE_PLACES = (-3.0, -2.25, -1.5, -0.75, 0.0, 0.75, 1.5, 2.25, 3.0)
# Directions of the unknowns in which the misfit is flatter than this, against the steepest, are
# taken as not seen by the log at all.
FLAT = 1e-7
# Share of an unseen direction from which on a parameter belongs to it.
MIXED_IN = 1e-3


@dataclass(frozen=True)
class Profile:
    """Least misfit with one unknown held at each of several values.

    Attributes
    ----------
    value : held values, ascending, shape (places)
    excess : rise of the sum of squares above its least value, shape (places) [1]
    limit : the rise at the ends of the interval [1]
    """

    value: Floats
    excess: Floats
    limit: float


@dataclass(frozen=True)
class Estimate:
    """One fitted unknown.

    Attributes
    ----------
    name, label, unit : of it
    nominal : what the geometry file says
    value : the fitted one
    standard_error : by the linearised problem
    interval : from the profile; from the linearised problem where the profile does not reach it
    linear_interval : from the linearised problem, within what is possible
    profile : the profile itself
    """

    name: str
    label: str
    unit: str
    nominal: float
    value: float
    standard_error: float
    interval: tuple[float, float]
    linear_interval: tuple[float, float]
    profile: Profile


@dataclass(frozen=True)
class Fit:
    """A finished fit.

    Attributes
    ----------
    estimates : the free unknowns
    held : fitted values of what was held down, by name (airspeed offset, gain, rising air)
    names : rows and columns of the correlations: unknowns, then what was held down
    correlation : shape (parameters, parameters)
    level : of the intervals [1]
    freedom : degrees of freedom
    shared_scatter_W : standard deviation that all segments share, beside the noise within them
    scatter_W : root mean square of the residuals with the fitted values
    scatter_before_W : the same with the nominal ones
    residual_W : measured less fitted power of each segment, shape (segments)
    findings : doubts
    """

    estimates: tuple[Estimate, ...]
    held: dict[str, float]
    names: tuple[str, ...]
    correlation: Floats
    level: float
    freedom: int
    shared_scatter_W: float
    scatter_W: float
    scatter_before_W: float
    residual_W: Floats
    findings: tuple[Finding, ...]

    @property
    def values(self) -> dict[str, float]:
        """Fitted values of the unknowns by name."""
        return {estimate.name: estimate.value for estimate in self.estimates}


def fitted(problem: Problem, level: float) -> Fit:
    """Solve a problem and say how well.

    Parameters
    ----------
    problem : from ``fit_problem``
    level : of the intervals, such as 0.9

    Raises
    ------
    ComputationFailed
        If the optimiser does not settle.
    """
    solution = solved(problem)
    covariance, unseen = _covariance(problem, solution)
    errors = np.where(unseen, np.inf, np.sqrt(np.diag(covariance)))
    factor = float(student.ppf(0.5 + 0.5 * level, problem.freedom))
    estimates = tuple(
        _estimate(problem, solution, float(errors[place]), place, factor)
        for place in range(problem.free)
    )
    misfit = problem.misfit_W(solution.x)
    before = problem.seen.power_W - problem.seen.predicted_W(problem.prediction)
    correlation = _correlation(covariance)
    return Fit(
        estimates=estimates,
        held={
            p.name: float(v)
            for p, v in zip(problem.parameters, solution.x, strict=True)
            if p.prior is not None
        },
        names=tuple(p.name for p in problem.parameters),
        correlation=correlation,
        level=level,
        freedom=problem.freedom,
        shared_scatter_W=float(np.sqrt(problem.shared_W2)),
        scatter_W=float(np.sqrt(np.mean(misfit**2))),
        scatter_before_W=float(np.sqrt(np.mean(before**2))),
        residual_W=misfit,
        findings=tuple(_doubts(problem, estimates, correlation)),
    )


def _covariance(problem: Problem, solution: Solution) -> tuple[Floats, NDArray[np.bool_]]:
    """Inverse of the normal matrix, and which parameters the log does not see.

    Along a direction that is not seen the variance is very large instead of endless, so that the
    correlations still tell which parameters it mixes.
    """
    steps = np.array([p.step for p in problem.parameters])
    _, sizes, directions = np.linalg.svd(solution.jacobian * steps, full_matrices=False)
    floor = FLAT * float(sizes.max()) if sizes.max() > 0.0 else 1.0
    unseen = sizes <= floor
    scaled = (directions.T * np.maximum(sizes, floor) ** -2.0) @ directions
    mixed = (np.abs(directions[unseen]) > MIXED_IN).any(axis=0)
    return np.asarray(np.outer(steps, steps) * scaled, dtype=np.float64), mixed


def _correlation(covariance: Floats) -> Floats:
    size = np.sqrt(np.diag(covariance))
    correlation: Floats = covariance / np.outer(size, size)
    return correlation


def _estimate(
    problem: Problem, solution: Solution, error: float, place: int, factor: float
) -> Estimate:
    parameter = problem.parameters[place]
    value = float(solution.x[place])
    if np.isfinite(error):
        linear = (
            max(value - factor * error, parameter.low),
            min(value + factor * error, parameter.high),
        )
        width = error
    else:
        linear = (parameter.low, parameter.high)
        width = parameter.step
    profile = _profile(problem, solution, place, width, factor)
    return Estimate(
        name=parameter.name,
        label=parameter.label,
        unit=parameter.unit,
        nominal=parameter.start,
        value=value,
        standard_error=error,
        interval=_profile_interval(profile, value, linear),
        linear_interval=linear,
        profile=profile,
    )


def _profile(
    problem: Problem, solution: Solution, place: int, width: float, factor: float
) -> Profile:
    """The rise of the misfit on both sides, the other parameters fitted anew at each value."""
    parameter = problem.parameters[place]
    reach = max(1.0, 1.2 * factor / max(PROFILE_PLACES))
    values = solution.x[place] + reach * width * np.array(PROFILE_PLACES)
    values = np.unique(np.clip(values, parameter.low, parameter.high))
    middle = int(np.argmin(np.abs(values - solution.x[place])))
    excess = np.zeros(values.size)
    for side in (range(middle - 1, -1, -1), range(middle + 1, values.size)):
        start = solution.x
        for row in side:
            held = solved(problem, start, {place: float(values[row])})
            start = held.x
            excess[row] = max(held.chi_square - solution.chi_square, 0.0)
    return Profile(values, excess, factor**2)


def _profile_interval(
    profile: Profile, value: float, linear: tuple[float, float]
) -> tuple[float, float]:
    """Where the rise reaches its limit, by its signed root, which is nearly a straight line."""
    root = np.sign(profile.value - value) * np.sqrt(profile.excess)
    limit = np.sqrt(profile.limit)
    order = np.argsort(root, kind="stable")
    ends = []
    for bound, fallback in ((-limit, linear[0]), (limit, linear[1])):
        inside = root[0] <= bound <= root[-1] if root.size > 1 else False
        ends.append(
            float(np.interp(bound, root[order], profile.value[order])) if inside else fallback
        )
    return ends[0], ends[1]


def _doubts(
    problem: Problem, estimates: tuple[Estimate, ...], correlation: Floats
) -> list[Finding]:
    doubts = []
    for estimate, parameter in zip(estimates, problem.parameters, strict=False):
        width = estimate.interval[1] - estimate.interval[0]
        range_ = parameter.high - parameter.low
        unit = parameter.unit
        if not np.isfinite(width) or width >= 0.5 * range_:
            doubts.append(_unseen(estimate.label, width, 0.5 * range_, unit))
        edge = min(estimate.value - parameter.low, parameter.high - estimate.value)
        if edge <= 1e-6 * range_:
            doubts.append(_at_bound(estimate, unit, parameter.low, parameter.high))
    for i in range(problem.free):
        for j in range(i + 1, problem.free):
            alike = abs(float(correlation[i, j]))
            if alike > ALIKE:
                doubts.append(_alike(estimates[i].label, estimates[j].label, correlation[i, j]))
    return doubts


def _unseen(label: str, width: float, limit: float, unit: str) -> Finding:
    return Finding(
        f"log-fit-unseen-{label}",
        f"the log hardly tells {label}: its interval is nearly as wide as what is possible",
        width,
        limit,
        unit,
        "half the possible range",
        "fly speeds at which it matters, or leave it out of the fit",
    )


def _at_bound(estimate: Estimate, unit: str, low: float, high: float) -> Finding:
    nearest = low if estimate.value - low < high - estimate.value else high
    return Finding(
        f"log-fit-bound-{estimate.label}",
        f"the best {estimate.label} lies at the end of what is possible",
        estimate.value,
        nearest,
        unit,
        "bounds of the fit",
        "something else is wrong: mass, sensor calibration, or a part that the file leaves out",
    )


def _alike(first: str, second: str, correlation: float) -> Finding:
    return Finding(
        f"log-fit-alike-{first}-{second}",
        f"the log cannot tell {first} from {second}: their estimates are correlated",
        float(correlation),
        ALIKE,
        "1",
        "common practice",
        "fly a wider range of airspeed or measure one of the two by itself; only their joint"
        " effect is known",
    )
