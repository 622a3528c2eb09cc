"""What a fit is made of, and the deviations that its readings tell by restricted likelihood.

The model is that of ``held_down``: readings, columns that explain them, and scatter

    var e_i = tau^2 (P_i/P)^(2 g) (1 - r + r d/d_i) + k_i^2

whose tau, g, r and whose groups' deviations are found here.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from scipy.linalg import cho_factor, cho_solve
from scipy.optimize import minimize

from vlm.constants import Floats

FREE = float("inf")
# The growth g of scatter with power lies about between none and in proportion; r between 0 and 1.
USUAL_GROWTH, GROWTH_SPREAD, FADING_SPREAD = 0.5, 0.75, 0.5
HESSIAN_STEP = 1e-3
IMPOSSIBLE = 1e12


@dataclass(frozen=True)
class Group:
    """Parameters that share a standard deviation which the log tells.

    Attributes
    ----------
    name : in words
    usual : most likely deviation before the log is seen, in the unit of y
    freedom : degrees of freedom the log can tell it with
    """

    name: str
    usual: float
    freedom: float


@dataclass(frozen=True)
class Column:
    """One parameter and what it does to every reading.

    Attributes
    ----------
    name : short name, unique
    label : in words
    effect : change of y for a change of one, shape (readings)
    spread : standard deviation it is held down by at zero; ``FREE``; ignored in a group
    group : name of the group it belongs to, "" for none
    """

    name: str
    label: str
    effect: Floats
    spread: float = FREE
    group: str = ""


@dataclass(frozen=True)
class Problem:
    """Readings and the columns that explain them.

    Attributes
    ----------
    y : shape (readings)
    size : power of each over the mean, shape (readings) [1]
    length : duration of each over the mean, shape (readings) [1]
    columns : what explains them
    groups : deviations to be estimated
    known : deviation of each that is known beforehand, shape (readings) or one for all
    """

    y: Floats
    size: Floats
    length: Floats
    columns: tuple[Column, ...]
    groups: tuple[Group, ...] = ()
    known: Floats | float = 0.0

    @property
    def matrix(self) -> Floats:
        """J, shape (readings, parameters)."""
        return np.column_stack([column.effect for column in self.columns])


@dataclass(frozen=True)
class Scatter:
    """How far readings stray: tau in the unit of y, the powers g and r, and by group.

    ``covariance`` is that of log tau, g and r, shape (3, 3); None where it was not asked for.
    """

    tau: float
    growth: float
    fading: float
    spread: dict[str, float]
    covariance: Floats | None = None

    def variance(self, problem: Problem) -> Floats:
        """Of each reading, shape (readings)."""
        return self._estimated_part(problem) + np.square(problem.known)

    def _estimated_part(self, problem: Problem) -> Floats:
        length = 1.0 - self.fading + self.fading / problem.length
        return np.asarray(self.tau**2 * problem.size ** (2.0 * self.growth) * length)

    def growing(self, problem: Problem) -> Floats:
        """Change of its logarithm with log tau, g and r, shape (3, readings)."""
        per_length = 1.0 / problem.length - 1.0
        changes = np.stack(
            (
                np.full(problem.y.size, 2.0),
                2.0 * np.log(problem.size),
                per_length / (1.0 + self.fading * per_length),
            )
        )
        return np.asarray(changes * (self._estimated_part(problem) / self.variance(problem)))


def precisions(problem: Problem, scatter: Scatter) -> Floats:
    """1/sigma^2 of every parameter, 0 for free ones, shape (parameters)."""
    spread = [scatter.spread[c.group] if c.group else c.spread for c in problem.columns]
    return np.asarray([0.0 if s == FREE else 1.0 / max(s, 1e-12) ** 2 for s in spread])


def normal_matrix(matrix: Floats, inverse: Floats, precision: Floats) -> Floats:
    """J^T D J + what is held down, shape (parameters, parameters)."""
    return np.asarray((matrix * inverse[:, None]).T @ matrix + np.diag(precision))


@dataclass(frozen=True)
class _Likelihood:
    """-2 log restricted likelihood and its slope over x = log tau, g, r and the log of each group's
    deviation."""

    problem: Problem
    matrix: Floats
    weight: Floats
    varied: bool

    def scatter(self, x: Floats) -> Scatter:
        names = [group.name for group in self.problem.groups]
        spread = dict(zip(names, np.exp(x[3:]).tolist(), strict=True))
        return Scatter(
            float(np.exp(x[0])), float(x[1]), float(x[2]) if self.varied else 0.5, spread
        )

    def __call__(self, x: Floats) -> tuple[float, Floats]:
        problem, matrix = self.problem, self.matrix
        trial = self.scatter(x)
        variance = trial.variance(problem)
        inverse = self.weight / variance
        precision = precisions(problem, trial)
        normal = normal_matrix(matrix, inverse, precision)
        scale = 1.0 / np.sqrt(np.diag(normal))
        try:
            factor = cho_factor(normal * np.outer(scale, scale) + 1e-12 * np.eye(scale.size))
        except np.linalg.LinAlgError:
            return IMPOSSIBLE, np.zeros(x.size)
        covariance = scale[:, None] * cho_solve(factor, np.diag(scale))
        theta = covariance @ (matrix.T @ (inverse * problem.y))
        rest = problem.y - matrix @ theta
        held = precision > 0.0
        value = float(np.log(variance).sum()) - float(np.log(precision[held]).sum())
        value += 2.0 * float(np.log(np.diag(factor[0])).sum() - np.log(scale).sum())
        value += float(rest @ (inverse * rest)) + float(theta**2 @ precision)
        # By d log|M| = tr(M^-1 dM); theta is at its best, so what moves it drops out.
        seen = inverse * (np.einsum("ij,jk,ik->i", matrix, covariance, matrix) + rest**2)
        kept = precision * (np.diag(covariance) + theta**2)
        slope = np.concatenate((trial.growing(problem) @ (1.0 - seen), self._held(kept)))
        prior, prior_slope = self._prior(x)
        return value + prior, slope + prior_slope

    def _held(self, kept: Floats) -> Floats:
        """Slope over the log of each group's deviation."""
        group = np.array([column.group for column in self.problem.columns])
        members = [group == item.name for item in self.problem.groups]
        return np.array([2.0 * (rows.sum() - kept[rows].sum()) for rows in members])

    def _prior(self, x: Floats) -> tuple[float, Floats]:
        usual = np.array([group.usual for group in self.problem.groups])
        away = (x[1] - USUAL_GROWTH) / GROWTH_SPREAD
        slope = np.zeros(x.size)
        slope[1] = 2.0 * away / GROWTH_SPREAD
        slope[3:] = 2.0 * (np.exp(x[3:]) / usual - 1.0)
        return 2.0 * float(np.sum(np.exp(x[3:]) / usual - x[3:])) + away**2, slope


def estimated(problem: Problem, weight: Floats, start: Scatter | None) -> Scatter:
    """Restricted maximum likelihood of the deviations.

    Parameters
    ----------
    problem : with more readings than free parameters
    weight : less than 1 for strays, shape (readings)
    start : where to begin; None for a guess
    """
    matrix = problem.matrix
    free = matrix[:, [column.spread == FREE and not column.group for column in problem.columns]]
    rest = problem.y - (free @ np.linalg.lstsq(free, problem.y, rcond=None)[0] if free.size else 0)
    level = float(np.sqrt(rest @ rest / max(rest.size - free.shape[1], 1)))
    level = max(level, 1e-6 * float(np.abs(problem.y).max() or 1.0), 1e-9)
    usual = np.array([group.usual for group in problem.groups])
    first = [np.log(level), 0.5, 0.5, *np.log(usual)]
    if start is not None:
        first = _packed(start, problem)
    bounds = [(np.log(0.02 * level), np.log(3.0 * level)), (-0.5, 1.5), (0.0, 1.0)]
    bounds += [(np.log(u) - 6.0, np.log(u) + 6.0) for u in usual]
    likelihood = _Likelihood(problem, matrix, weight, float(np.ptp(problem.length)) > 0.0)
    answer = minimize(likelihood, np.array(first), jac=True, method="L-BFGS-B", bounds=bounds)
    return likelihood.scatter(answer.x)


def _packed(scatter: Scatter, problem: Problem) -> list[float]:
    groups = [float(np.log(scatter.spread[group.name])) for group in problem.groups]
    return [float(np.log(scatter.tau)), scatter.growth, scatter.fading, *groups]


def with_covariance(scatter: Scatter, problem: Problem, weight: Floats) -> Scatter:
    """The same with how well log tau, g and r are known, from the likelihood's curvature.

    Parameters
    ----------
    scatter : as ``estimated`` found it
    problem, weight : as there
    """
    varied = float(np.ptp(problem.length)) > 0.0
    likelihood = _Likelihood(problem, problem.matrix, weight, varied)
    at = np.array(_packed(scatter, problem))
    return replace(scatter, covariance=_curved(lambda x: likelihood(x)[1], at))


def _curved(slope: Callable[[Floats], Floats], at: Floats) -> Floats:
    """Covariance of log tau, g and r from the curvature of -2 log likelihood, shape (3, 3)."""
    steps = HESSIAN_STEP * np.eye(at.size)
    hessian = np.array([(slope(at + s) - slope(at - s)) / (2.0 * HESSIAN_STEP) for s in steps])
    information = 0.25 * (hessian + hessian.T)
    information[2, 2] += 1.0 / FADING_SPREAD**2
    size, axes = np.linalg.eigh(information)
    # Flat or at a bound: no better known than a factor of e.
    return np.asarray(((axes / np.maximum(size, 1.0)) @ axes.T)[:3, :3])
