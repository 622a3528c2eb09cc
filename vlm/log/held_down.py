"""Linear least squares with held-down parameters and scatter that is estimated with them.

The one statistical model of a flight log. Readings y are

    y = J theta + e,    var e_i = tau^2 (P_i/P)^(2 g) (1 - r + r d/d_i) + k_i^2

with P_i a segment's power, d_i its length and k_i what is known of its scatter beforehand, such as
how well the mean airspeed of a gusty segment is known. Some of theta are free; others are held
down at zero by a stated standard deviation (an instrument's offset, an uncertain input of the
prediction); a third kind is held down by a standard deviation that the log itself tells (drift,
departures from a smooth curve). tau, g, r and those deviations are estimated by restricted maximum
likelihood (H. D. Patterson and R. Thompson, Biometrika 58 (1971) 545). A deviation would often be
found as zero by chance, and intervals too narrow, so each has a weak gamma(2) prior as Y. Chung, S.
Rabe-Hesketh, V. Dorie, A. Gelman and J. Liu, Psychometrika 78 (2013) 685, propose.

theta then follows by scipy's robust least squares (Huber's loss), so that a stray segment counts
less. Half-widths join the variances of noise, of what is stated and of what was estimated as the
Guide to the Expression of Uncertainty in Measurement (JCGM 100:2008) does, with effective degrees
of freedom by its equation (G.2b). How well tau, g and r are known comes from the curvature of the
likelihood, and the freedom of the noise in one contrast from that (F. E. Satterthwaite, Biometrics
Bulletin 2 (1946) 110; F. G. Giesbrecht and J. C. Burns, Biometrics 41 (1985) 477): a log that
cannot tell whether scatter grows with power knows the slow end less well than its mean.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares
from scipy.stats import t as student

from vlm.constants import Floats
from vlm.log.likelihood import (
    FREE,
    Column,
    Group,
    Problem,
    Scatter,
    estimated,
    normal_matrix,
    precisions,
    with_covariance,
)

# Residuals beyond so many standard deviations lose weight (P. J. Huber 1964; 2.5 keeps 99 per cent
# of the efficiency under normal noise).
HUBER = 2.5
ROUNDS = 3
# Fewest degrees of freedom an estimated deviation is credited with; below them Student's t says
# nothing that could be used.
LEAST_FREEDOM = 3.0
MOST_FREEDOM = 1e6
__all__ = (
    "FREE", "Column", "Group", "Problem", "Scatter", "Solution", "contrast", "drift_columns",
    "solved",
)  # fmt: skip


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
    by_scatter : change of the readings' precision with log tau, g and r, times each reading's
        effects, shape (3, parameters, parameters)
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
    by_scatter: Floats

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
        freedom = {"scatter": self._noise_freedom(contrast), "stated": np.inf, **self.group_freedom}
        spent = float(sum(value**2 / freedom[name] for name, value in parts.items()))
        effective = min(total**2 / spent, MOST_FREEDOM) if spent > 0.0 else MOST_FREEDOM
        factor = float(student.ppf(0.5 + 0.5 * level, effective))
        return factor * float(np.sqrt(total))

    def _noise_freedom(self, contrast: Floats) -> float:
        """Degrees of freedom of the noise in one contrast."""
        if self.scatter.covariance is None:
            return self.freedom
        moved = self.covariance @ contrast
        slope = np.einsum("j,kji,i->k", moved, self.by_scatter, moved)
        spread = float(slope @ self.scatter.covariance @ slope)
        noise = float(contrast @ self.from_noise @ contrast)
        found = 2.0 * noise**2 / spread if spread > 0.0 else self.freedom
        return float(np.clip(found, LEAST_FREEDOM, max(self.freedom, LEAST_FREEDOM)))


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
        found = scatter if scatter is not None else estimated(problem, weight, found)
        theta = _located(problem, matrix, found)
        residual = problem.y - matrix @ theta
        away = np.abs(residual) / np.sqrt(found.variance(problem))
        before, weight = weight, np.minimum(1.0, HUBER / np.maximum(away, HUBER))
        if np.array_equal(before, weight):
            break
    assert found is not None
    if scatter is None:
        found = with_covariance(found, problem, weight)
    return _with_errors(problem, matrix, found, theta, weight)


def _located(problem: Problem, matrix: Floats, scatter: Scatter) -> Floats:
    """Robust least squares for given deviations."""
    deviation = np.sqrt(scatter.variance(problem))
    held = np.sqrt(precisions(problem, scatter))
    stacked = np.vstack((matrix / deviation[:, None], np.diag(held)[held > 0.0]))
    seen = np.concatenate((problem.y / deviation, np.zeros(int((held > 0.0).sum()))))
    scale = np.linalg.norm(stacked, axis=0)
    scale = np.where(scale > 0.0, scale, 1.0)
    scaled = stacked / scale
    start = np.linalg.lstsq(scaled, seen, rcond=None)[0]
    if np.abs(scaled @ start - seen).max() <= HUBER:  # nothing strays: that is the answer
        return np.asarray(start / scale, dtype=np.float64)

    def misfit(x: Floats) -> Floats:
        return np.asarray(scaled @ x - seen, dtype=np.float64)

    def slope(_x: Floats) -> Floats:
        return scaled

    answer = least_squares(
        misfit, start, jac=slope, loss="huber", f_scale=HUBER, method="trf", max_nfev=50
    )
    return np.asarray(answer.x / scale, dtype=np.float64)


def _with_errors(
    problem: Problem, matrix: Floats, scatter: Scatter, theta: Floats, weight: Floats
) -> Solution:
    inverse = weight / scatter.variance(problem)
    precision = precisions(problem, scatter)
    data = normal_matrix(matrix, inverse, np.zeros(precision.size))
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
        by_scatter=np.einsum(
            "ki,ij,im->kjm", scatter.growing(problem) * inverse, matrix, matrix, optimize=True
        ),
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
