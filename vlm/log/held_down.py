"""Linear least squares with held-down parameters and scatter that is estimated with them.

The one statistical model of a flight log. Readings y are

    y = J theta + e,    var e_i = tau^2 (P_i/P)^(2 g) (1 - r + r d/d_i)

with P_i a segment's power and d_i its length. Some of theta are free; others are held down at zero
by a stated standard deviation (an instrument's offset, an uncertain input of the prediction); a
third kind is held down by a standard deviation that the log itself tells (drift, departures from a
smooth curve). tau, g, r and those deviations are estimated by restricted maximum likelihood
(H. D. Patterson and R. Thompson, Biometrika 58 (1971) 545). A deviation would often be found as
zero by chance, and intervals too narrow, so each has a weak gamma(2) prior as Y. Chung, S.
Rabe-Hesketh, V. Dorie, A. Gelman and J. Liu, Psychometrika 78 (2013) 685, propose.

theta then follows by scipy's robust least squares (Huber's loss), so that a stray segment counts
less. Half-widths join the variances of noise, of what is stated and of what was estimated as the
Guide to the Expression of Uncertainty in Measurement (JCGM 100:2008) does, with effective degrees
of freedom by its equation (G.2b).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import cho_factor, cho_solve
from scipy.optimize import least_squares, minimize
from scipy.stats import t as student

from vlm.constants import Floats

# Residuals beyond so many standard deviations lose weight (P. J. Huber 1964; 2.5 keeps 99 per cent
# of the efficiency under normal noise).
HUBER = 2.5
ROUNDS = 3
# Fewest degrees of freedom an estimated deviation is credited with; below them Student's t says
# nothing that could be used.
LEAST_FREEDOM = 3.0
MOST_FREEDOM = 1e6
FREE = float("inf")


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
    """

    y: Floats
    size: Floats
    length: Floats
    columns: tuple[Column, ...]
    groups: tuple[Group, ...] = ()

    @property
    def matrix(self) -> Floats:
        """J, shape (readings, parameters)."""
        return np.column_stack([column.effect for column in self.columns])


@dataclass(frozen=True)
class Scatter:
    """How far readings stray: tau in the unit of y, the powers g and r, and by group."""

    tau: float
    growth: float
    fading: float
    spread: dict[str, float]

    def variance(self, problem: Problem) -> Floats:
        """Of each reading, shape (readings)."""
        length = 1.0 - self.fading + self.fading / problem.length
        return np.asarray(self.tau**2 * problem.size ** (2.0 * self.growth) * length)


@dataclass(frozen=True)
class Solution:
    """Estimates with everything an interval needs.

    Attributes
    ----------
    names : of the parameters
    theta : shape (parameters)
    covariance : inverse of the normal matrix, priors included, shape (parameters, parameters)
    from_noise : the part of it that the readings' scatter gives, same shape
    from_stated : the part that stated deviations give, same shape
    from_groups : the part that each estimated deviation gives, by its name
    freedom : degrees of freedom of the scatter
    group_freedom : of each estimated deviation
    scatter : as estimated
    residual : shape (readings)
    weight : 1 for readings that count in full, less for strays, shape (readings)
    precision : 1/sigma^2 that each parameter is held down by, 0 for free ones, shape (parameters)
    """

    names: tuple[str, ...]
    theta: Floats
    covariance: Floats
    from_noise: Floats
    from_stated: Floats
    from_groups: dict[str, Floats]
    freedom: float
    group_freedom: dict[str, float]
    scatter: Scatter
    residual: Floats
    weight: Floats
    precision: Floats

    def place(self, name: str) -> int:
        """Where a parameter stands."""
        return self.names.index(name)

    def value(self, name: str) -> float:
        """One estimate."""
        return float(self.theta[self.place(name)])

    def deviation(self, contrast: Floats) -> float:
        """Standard error of ``contrast @ theta``."""
        return float(np.sqrt(max(float(contrast @ self.covariance @ contrast), 0.0)))

    def parts(self, contrast: Floats) -> dict[str, float]:
        """Variance of ``contrast @ theta`` by where it comes from."""
        found = {"scatter": float(contrast @ self.from_noise @ contrast)}
        found["stated"] = float(contrast @ self.from_stated @ contrast)
        for name, part in self.from_groups.items():
            found[name] = float(contrast @ part @ contrast)
        return {name: max(value, 0.0) for name, value in found.items()}

    def stated_parts(self, contrast: Floats) -> dict[str, float]:
        """Variance of ``contrast @ theta`` that each parameter's own holding down leaves."""
        variance = (contrast @ self.covariance) ** 2 * self.precision
        return dict(zip(self.names, variance.tolist(), strict=True))

    def half_width(self, contrast: Floats, level: float) -> float:
        """Half of the two-sided interval of ``contrast @ theta``; infinite without freedom."""
        if self.freedom < 1.0:
            return float("inf")
        parts = self.parts(contrast)
        total = float(sum(parts.values()))
        if total == 0.0:
            return 0.0
        freedom = {"scatter": self.freedom, "stated": np.inf, **self.group_freedom}
        spent = float(sum(value**2 / freedom[name] for name, value in parts.items()))
        effective = min(total**2 / spent, MOST_FREEDOM) if spent > 0.0 else MOST_FREEDOM
        factor = float(student.ppf(0.5 + 0.5 * level, effective))
        return factor * float(np.sqrt(total))


def solved(problem: Problem, scatter: Scatter | None = None) -> Solution:
    """Estimate scatter and parameters.

    Parameters
    ----------
    problem : with more readings than free parameters
    scatter : taken as it is instead of estimated, for a question such as "what if more was flown"
    """
    matrix = problem.matrix
    weight = np.ones(problem.y.size)
    found = scatter
    for _ in range(1 if scatter is not None else ROUNDS):
        found = scatter if scatter is not None else _estimated(problem, matrix, weight, found)
        assert found is not None
        theta = _located(problem, matrix, found)
        residual = problem.y - matrix @ theta
        away = np.abs(residual) / np.sqrt(found.variance(problem))
        weight = np.minimum(1.0, HUBER / np.maximum(away, HUBER))
    assert found is not None
    return _with_errors(problem, matrix, found, theta, weight)


def _precisions(problem: Problem, scatter: Scatter) -> Floats:
    """1/sigma^2 of every parameter, 0 for free ones."""
    spread = [scatter.spread[c.group] if c.group else c.spread for c in problem.columns]
    return np.asarray([0.0 if s == FREE else 1.0 / max(s, 1e-12) ** 2 for s in spread])


def _located(problem: Problem, matrix: Floats, scatter: Scatter) -> Floats:
    """Robust least squares for given deviations."""
    deviation = np.sqrt(scatter.variance(problem))
    held = np.sqrt(_precisions(problem, scatter))
    stacked = np.vstack((matrix / deviation[:, None], np.diag(held)[held > 0.0]))
    seen = np.concatenate((problem.y / deviation, np.zeros(int((held > 0.0).sum()))))
    scale = np.linalg.norm(stacked, axis=0)
    scale = np.where(scale > 0.0, scale, 1.0)
    scaled = stacked / scale
    start = np.linalg.lstsq(scaled, seen, rcond=None)[0]

    def misfit(x: Floats) -> Floats:
        return np.asarray(scaled @ x - seen, dtype=np.float64)

    def slope(_x: Floats) -> Floats:
        return scaled

    answer = least_squares(
        misfit, start, jac=slope, loss="huber", f_scale=HUBER, method="trf", max_nfev=50
    )
    return np.asarray(answer.x / scale, dtype=np.float64)


def _normal(matrix: Floats, inverse: Floats, precision: Floats) -> Floats:
    return np.asarray((matrix * inverse[:, None]).T @ matrix + np.diag(precision))


def _estimated(problem: Problem, matrix: Floats, weight: Floats, start: Scatter | None) -> Scatter:
    """Restricted maximum likelihood of the deviations."""
    names = [group.name for group in problem.groups]
    free = matrix[:, [column.spread == FREE and not column.group for column in problem.columns]]
    rest = problem.y - (free @ np.linalg.lstsq(free, problem.y, rcond=None)[0] if free.size else 0)
    level = float(np.sqrt(rest @ rest / max(rest.size - free.shape[1], 1)))
    usual = np.array([group.usual for group in problem.groups])
    level = max(level, 1e-6 * float(np.abs(problem.y).max() or 1.0), 1e-9)
    varied = float(np.ptp(problem.length)) > 0.0

    def unpacked(x: Floats) -> Scatter:
        spread = dict(zip(names, np.exp(x[3:]).tolist(), strict=True))
        return Scatter(float(np.exp(x[0])), float(x[1]), float(x[2]) if varied else 0.5, spread)

    def criterion(x: Floats) -> float:
        trial = unpacked(x)
        variance = trial.variance(problem)
        inverse = weight / variance
        precision = _precisions(problem, trial)
        normal = _normal(matrix, inverse, precision)
        scale = 1.0 / np.sqrt(np.diag(normal))
        try:
            factor = cho_factor(normal * np.outer(scale, scale) + 1e-12 * np.eye(scale.size))
        except np.linalg.LinAlgError:
            return 1e12
        right = scale * (matrix.T @ (inverse * problem.y))
        theta = scale * cho_solve(factor, right)
        rest = problem.y - matrix @ theta
        held = precision > 0.0
        logs = float(np.log(variance).sum()) - float(np.log(precision[held]).sum())
        logs += 2.0 * float(np.log(np.diag(factor[0])).sum() - np.log(scale).sum())
        square = float(rest @ (inverse * rest)) + float(theta**2 @ precision)
        prior = 2.0 * float(np.sum(np.exp(x[3:]) / usual - x[3:]))
        # The growth of scatter with power is known to lie about between none and in proportion.
        return float(logs + square + prior + ((x[1] - 0.5) / 0.5) ** 2)

    first = [np.log(level), 0.5, 0.5, *np.log(usual)]
    if start is not None:
        first = [np.log(start.tau), start.growth, start.fading]
        first += [np.log(start.spread[name]) for name in names]
    bounds = [(np.log(0.02 * level), np.log(3.0 * level)), (-0.5, 1.5), (0.0, 1.0)]
    bounds += [(np.log(u) - 6.0, np.log(u) + 6.0) for u in usual]
    answer = minimize(criterion, np.array(first), method="L-BFGS-B", bounds=bounds)
    return unpacked(answer.x)


def _with_errors(
    problem: Problem, matrix: Floats, scatter: Scatter, theta: Floats, weight: Floats
) -> Solution:
    inverse = weight / scatter.variance(problem)
    precision = _precisions(problem, scatter)
    data = _normal(matrix, inverse, np.zeros(precision.size))
    normal = data + np.diag(precision)
    scale = 1.0 / np.sqrt(np.diag(normal))
    covariance = np.linalg.pinv(normal * np.outer(scale, scale), hermitian=True)
    covariance = covariance * np.outer(scale, scale)
    group = np.array([column.group for column in problem.columns])

    def share(rows: NDArray[np.bool_]) -> Floats:
        held = np.where(rows, precision, 0.0)
        return np.asarray((covariance * held) @ covariance)

    return Solution(
        names=tuple(column.name for column in problem.columns),
        theta=theta,
        covariance=covariance,
        from_noise=np.asarray(covariance @ data @ covariance),
        from_stated=share(group == ""),
        from_groups={item.name: share(group == item.name) for item in problem.groups},
        freedom=float(problem.y.size - np.trace(covariance @ data)),
        group_freedom={g.name: max(g.freedom, LEAST_FREEDOM) for g in problem.groups},
        scatter=scatter,
        residual=np.asarray(problem.y - matrix @ theta),
        weight=weight,
        precision=precision,
    )


def drift_columns(
    time_s: Floats, memory_s: float, group: str, effect: Floats | None = None
) -> list[Column]:
    """Columns of a slow process in time, held down by the deviation of ``group``.

    A stationary process whose correlation falls by 1/e in ``memory_s``, on straight lines between
    knots.

    Parameters
    ----------
    time_s : of each reading, shape (readings) [s]
    memory_s : [s]
    effect : of the process on each reading, shape (readings); 1 if None
    """
    low, high = float(time_s.min()), float(time_s.max())
    count = max(2, int(np.ceil(3.0 * (high - low) / memory_s)) + 1)
    knots = np.linspace(low, max(high, low + 1.0), count)
    place = (time_s - low) / (knots[1] - knots[0])
    hats = np.clip(1.0 - np.abs(place[:, None] - np.arange(count)), 0.0, None)
    correlation = np.exp(-np.abs(knots[:, None] - knots) / memory_s)
    shapes = hats @ np.linalg.cholesky(correlation)
    if effect is not None:
        shapes = shapes * effect[:, None]
    return [
        Column(f"{group} {i + 1}", f"{group}, part {i + 1}", shapes[:, i], group=group)
        for i in range(count)
    ]


def contrast(names: Sequence[str], values: dict[str, float]) -> Floats:
    """A row that picks parameters, shape (parameters)."""
    row = np.zeros(len(names))
    for name, value in values.items():
        row[names.index(name)] = value
    return row
