"""The measured power as one model: a curve for each configuration, and what disturbs it.

    P = curve_c(V) + departure_(c,bin) + climb cost x climb
        + what instruments and air add alike (held down by their stated uncertainty)
        + slow drift in time + scatter

The curve is a polynomial in the airspeed, up to a cubic: its slopes with offset and scale of the
airspeed are cubics again, so that a curve's shape never pretends to tell the pitot's errors. A
departure for each bin of airspeed takes what a cubic cannot follow. The drift is a straight line in
time, free, and a slow process beside it: configurations flown one after another are distinguished
no better than that allows. Slopes of the curves come from the estimate itself, in a few rounds.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.polynomial import Polynomial
from numpy.typing import NDArray

from vlm.constants import Floats
from vlm.log.held_down import (
    FREE,
    Column,
    Group,
    Problem,
    Solution,
    contrast,
    drift_columns,
    solved,
)
from vlm.log.points import SteadyPoints
from vlm.log.stated import ClimbCost, Stated
from vlm.log.wind import AirData

CURVE_DEGREE = 3
DRIFT, DEPARTURE = "slow drift", "departure from a smooth curve"
# Usual sizes before the log is seen, as shares of the mean power (common practice); the log's own
# estimate soon outweighs them.
USUAL_DRIFT, USUAL_DEPARTURE = 0.015, 0.004
ROUNDS = 3
# Power grows no faster than with the cube of the airspeed; where a configuration was flown at one
# airspeed alone, its slope is held down by that.
STEEPEST = 3.0


def bin_number(airspeed_m_s: Floats, width_m_s: float) -> NDArray[np.int64]:
    """Number of the bin of each airspeed; bin n is centred on n times the width.

    Speeds are flown at round numbers, which would be the worst place for an edge.
    """
    return np.floor(airspeed_m_s / width_m_s + 0.5).astype(np.int64)


@dataclass(frozen=True)
class Surroundings:
    """What the model knows beside the points.

    Attributes
    ----------
    air : airspeed and its covariance
    errors : stated uncertainties
    cost : what climb costs
    width_m_s : of the bins
    density_share : standard uncertainty of the density, a questionable temperature included [1]
    """

    air: AirData
    errors: Stated
    cost: ClimbCost
    width_m_s: float
    density_share: float


@dataclass(frozen=True)
class PowerModel:
    """A solved model.

    Attributes
    ----------
    points : what it was fitted to
    around : what else it knows
    degrees : of each configuration's polynomial
    centre_m_s : of the polynomials' variable
    problem, solution : the least squares
    """

    points: SteadyPoints
    around: Surroundings
    degrees: Mapping[str, int]
    centre_m_s: float
    problem: Problem
    solution: Solution

    def at(self, configuration: str, airspeed_m_s: float, bin_: int) -> Floats:
        """The contrast that gives the power of a configuration at an airspeed in one bin."""
        values = _curve_values(configuration, airspeed_m_s - self.centre_m_s, self.degrees)
        name = departure_name(configuration, bin_)
        if name in self.solution.names:
            values[name] = 1.0
        return contrast(self.solution.names, values)

    def power_W(self, row: Floats) -> float:
        """What a contrast comes to [W]."""
        return float(row @ self.solution.theta)

    def curve(self, configuration: str) -> Polynomial:
        """The smooth curve of one configuration, over the airspeed."""
        degree = max(self.degrees[configuration], 1)
        powers = [self.solution.value(f"{configuration} V^{k}") for k in range(degree + 1)]
        return Polynomial(powers)(Polynomial([-self.centre_m_s, 1.0]))

    def with_more(self, points: SteadyPoints) -> Solution:
        """What would be known if other points were flown, with the scatter found here."""
        problem = _problem(points, self.around, self.degrees, self.centre_m_s, self.slopes(points))
        return solved(problem, self.solution.scatter)

    def slopes(self, points: SteadyPoints) -> Floats:
        """Slope of its curve at each of some points, shape (points) [W s/m]."""
        slope = np.zeros(len(points))
        for name in points.names:
            rows = points.configuration == name
            slope[rows] = self.curve(name).deriv()(points.airspeed_m_s[rows])
        return slope


def departure_name(configuration: str, bin_: int) -> str:
    """Name of the parameter of one bin."""
    return f"{configuration} bin {bin_}"


def _curve_values(name: str, away: float, degrees: Mapping[str, int]) -> dict[str, float]:
    return {f"{name} V^{k}": away**k for k in range(max(degrees[name], 1) + 1)}


def power_model(points: SteadyPoints, around: Surroundings) -> PowerModel | None:
    """Fit the model.

    Parameters
    ----------
    points : at least one
    around : what else is known

    Returns
    -------
    None where there are no more points than free parameters.
    """
    degrees = {}
    for name in points.names:
        airspeed = points.airspeed_m_s[points.configuration == name]
        places = np.unique(bin_number(airspeed, around.width_m_s)).size
        degrees[name] = min(CURVE_DEGREE, places - 1, (airspeed.size - 1) // 2)
    centre = float(points.airspeed_m_s.mean())
    model: PowerModel | None = None
    slopes = np.zeros(len(points))
    for _ in range(ROUNDS):
        problem = _problem(points, around, degrees, centre, slopes)
        if sum(c.spread == FREE and not c.group for c in problem.columns) >= len(points):
            return None
        solution = solved(problem, None if model is None else model.solution.scatter)
        model = PowerModel(points, around, degrees, centre, problem, solution)
        slopes = model.slopes(points)
    assert model is not None
    problem = _problem(points, around, degrees, centre, slopes)
    return replace(model, problem=problem, solution=solved(problem))


def _problem(
    points: SteadyPoints,
    around: Surroundings,
    degrees: Mapping[str, int],
    centre: float,
    slopes: Floats,
) -> Problem:
    """Columns of everything, and the power less what climb costs before the log is seen."""
    mean = float(np.mean(np.abs(points.power_W)))
    columns = _curves(points, degrees, centre)
    columns += shared_columns(points, around, slopes, points.power_W)
    drift, groups = drifting(points, mean)
    columns += drift
    departures, freedom = _departures(points, around.width_m_s, degrees)
    if departures:
        columns += departures
        groups.append(Group(DEPARTURE, USUAL_DEPARTURE * mean, freedom))
    return Problem(
        y=points.power_W - around.cost.value_W_s_m * points.climb_m_s,
        size=np.maximum(np.abs(points.power_W) / mean, 0.05),
        length=points.length_s / float(points.length_s.mean()),
        columns=tuple(columns),
        groups=tuple(groups),
        known=np.abs(slopes) * points.airspeed_error_m_s,
    )


def _curves(points: SteadyPoints, degrees: Mapping[str, int], centre: float) -> list[Column]:
    columns = []
    for name, degree in degrees.items():
        here = (points.configuration == name).astype(float)
        away = points.airspeed_m_s - centre
        columns += [
            Column(f"{name} V^{k}", f"curve of {name}", here * away**k) for k in range(degree + 1)
        ]
        if degree == 0:
            rows = points.configuration == name
            steep = STEEPEST * float(
                np.mean(np.abs(points.power_W[rows]) / points.airspeed_m_s[rows])
            )
            columns.append(Column(f"{name} V^1", f"slope of {name}", here * away, steep))
    return columns


def shared_columns(
    points: SteadyPoints, around: Surroundings, slopes: Floats, power: Floats
) -> list[Column]:
    """What instruments and air add alike, held down by what is stated.

    Parameters
    ----------
    points : the steady points
    around : what is stated
    slopes : of the power over the airspeed at each point, shape (points) [W s/m]
    power : of each point, shape (points) [W]
    """
    errors, cost = around.errors, around.cost
    columns = []
    size = np.linalg.cholesky(around.air.covariance + 1e-18 * np.eye(len(around.air.names)))
    effect = slopes[:, None] * (around.air.effects(points) @ size)
    for i, label in enumerate(around.air.labels):
        columns.append(Column(f"airspeed {i + 1}", label, effect[:, i], 1.0))
    columns.append(Column("gain", "power sensor's gain", power, errors.power_share))
    columns.append(
        Column(
            "zero", "current sensor's zero", points.voltage_V * points.reduction,
            errors.current_zero_A,
        )
    )  # fmt: skip
    # P(V, rho) = (rho_r/rho)^(1/2) P_r(V (rho/rho_r)^(1/2)); what it does to V stands above.
    thin = 0.5 * points.airspeed_m_s * slopes - 0.5 * power
    columns.append(Column("density", "density of the air", thin, around.density_share))
    if points.climb_seen:
        climb = points.climb_m_s
        columns.append(Column("climb cost", "what climb costs", climb, cost.spread_W_s_m))
    for name in points.names:
        here = (points.configuration == name).astype(float)
        rising = here * (cost.value_W_s_m + cost.spread_W_s_m)
        columns.append(
            Column(f"rising air {name}", f"rising air in {name}", rising, errors.rising_air_m_s)
        )
        if not points.climb_seen:
            label = f"climb of {name}, not logged"
            columns.append(Column(f"climb {name}", label, rising, errors.climb_m_s))
        if around.air.by_configuration_m_s:
            columns.append(
                Column(
                    f"wind {name}", f"wind along the path of {name}", here * slopes,
                    around.air.by_configuration_m_s,
                )
            )  # fmt: skip
    return [column for column in columns if column.spread > 0.0 and np.any(column.effect)]


def drifting(points: SteadyPoints, mean: float) -> tuple[list[Column], list[Group]]:
    """A straight line in time and a slow process beside it; nothing for very few points.

    Parameters
    ----------
    points : the steady points
    mean : their mean power [W]
    """
    span = float(np.ptp(points.time_s))
    if len(points) < 8 or span <= 0.0:
        return [], []
    time = (points.time_s - float(points.time_s.mean())) / span
    columns = [Column("trend", "trend in time", time)]
    columns += drift_columns(points.time_s, 0.25 * span, DRIFT)
    return columns, [Group(DRIFT, USUAL_DRIFT * mean, 5.0)]


def _departures(
    points: SteadyPoints, width: float, degrees: Mapping[str, int]
) -> tuple[list[Column], float]:
    """One column for each bin of each configuration, and how many the curves leave over."""
    columns, spare = [], 0
    number = bin_number(points.airspeed_m_s, width)
    for name in points.names:
        here = points.configuration == name
        bins = np.unique(number[here])
        spare += max(bins.size - degrees[name] - 1, 0)
        columns += [
            Column(
                departure_name(name, int(n)), f"departure of {name} at {n * width:g} m/s",
                (here & (number == n)).astype(float), group=DEPARTURE,
            )
            for n in bins
        ]  # fmt: skip
    return columns, float(spare)


def flown_again(
    points: SteadyPoints, extra: Mapping[tuple[str, float], int], length_s: float
) -> SteadyPoints:
    """The points with more of them, flown by turns after the last one on opposite headings.

    Parameters
    ----------
    points : as flown
    extra : how many more, by configuration and airspeed [m/s]
    length_s : of each [s]
    """
    order = []
    most = max(extra.values(), default=0)
    for turn in range(most):
        order += [(key, turn) for key, count in extra.items() if turn < count]
    start = float(points.time_s.max()) + 2.0 * length_s
    added = len(order)
    pass_ = np.array([t for _, t in order], dtype=float)
    more: dict[str, NDArray[Any]] = {
        "configuration": np.array([name for (name, _), _ in order]),
        "airspeed_m_s": np.array([speed for (_, speed), _ in order]),
        "power_W": np.full(added, float(points.power_W.mean())),
        "climb_m_s": np.zeros(added),
        "time_s": start + 1.5 * length_s * np.arange(added),
        "length_s": np.full(added, length_s),
        "voltage_V": np.full(added, float(points.voltage_V.mean())),
        "airspeed_error_m_s": np.full(added, float(np.median(points.airspeed_error_m_s))),
        "north": np.where(pass_ % 2 == 0, 1.0, -1.0),
        "east": np.zeros(added),
        "reduction": np.ones(added),
        "number": np.full(added, -1),
        "run": int(points.run.max()) + 1 + np.arange(added),
    }
    joined: dict[str, Any] = {
        key: np.concatenate((getattr(points, key), new)) for key, new in more.items()
    }
    return replace(points, **joined)
