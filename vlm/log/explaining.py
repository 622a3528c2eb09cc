"""The log held against a prediction: which inputs explain the difference, and fitted unknowns.

    P = prediction(V; unknowns, inputs) (1 + departure of the configuration) + departure of the bin
        + climb, instruments, air and drift as for the measured power alone

The prediction's uncertain inputs (all of ``[uncertainty]``) are held down by what is stated of
them, and so is everything that instruments and air may add; an unknown that is to be fitted is
free. With nothing free, the shift of each input tells which of them account for the difference.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from vlm.constants import Floats
from vlm.errors import ComputationFailed, InputRefused, nearest_name
from vlm.log.fit import Cause, Estimate, Fit, Profile
from vlm.log.fit_warnings import fit_warnings
from vlm.log.held_down import Column, Group, Problem, Solution, contrast, solved
from vlm.log.points import SteadyPoints
from vlm.log.power_model import (
    DEPARTURE,
    USUAL_DEPARTURE,
    Surroundings,
    bin_number,
    departure_name,
    drifting,
    shared_columns,
)
from vlm.log.prediction import Prediction, Unknown

CONFIGURATION = "departure of a configuration"
# Usual size of what a prediction gets wrong beside its stated inputs, as a share of the power,
# before the log is seen (common practice).
USUAL_MODEL_ERROR = 0.01
# Times its stated uncertainty that another input is given, to see whether the log tells two apart.
LOOSER = 10.0
STEPS = 12
SCATTER_STEPS = (1, 3)
CONVERGED = 1e-4
SLOPE_STEP_M_S = 0.05
PROFILE_REACH, PROFILE_POINTS = 3.0, 9


@dataclass(frozen=True)
class Question:
    """Points, prediction, what is free, and what else is known."""

    points: SteadyPoints
    prediction: Prediction
    free: tuple[Unknown, ...]
    around: Surroundings

    def linearised(self, at: Floats, hold: int | None = None) -> Problem:
        """The least squares around some values of the unknowns; one of them may be held."""
        points, around = self.points, self.around
        power = self.power_W(at)
        columns, whole = [], np.zeros(len(points))
        for i, unknown in enumerate(self.free):
            if i == hold:
                continue
            effect = self.slope(at, i)
            columns.append(Column(unknown.name, unknown.label, effect))
            whole += effect * at[i]
        mean = float(power.mean())
        columns += self._inputs()
        slopes = self._over_airspeed(at)
        columns += shared_columns(points, around, slopes, power)
        drift, groups = drifting(points, mean)
        columns += drift
        columns += self._departures(power, around.width_m_s)
        groups.append(Group(CONFIGURATION, USUAL_MODEL_ERROR, 2.0 * len(points.names)))
        bins = np.unique(bin_number(points.airspeed_m_s, around.width_m_s)).size
        groups.append(Group(DEPARTURE, USUAL_DEPARTURE * mean, float(max(bins - 2, 1))))
        climb = around.cost.value_W_s_m * points.climb_m_s
        return Problem(
            y=points.power_W - climb - power + whole,
            size=np.maximum(power / mean, 0.05),
            length=points.length_s / float(points.length_s.mean()),
            columns=tuple(columns),
            groups=tuple(groups),
            known=np.abs(slopes) * points.airspeed_error_m_s,
        )

    def power_W(self, at: Floats) -> Floats:
        """Predicted power of the points for some values of the unknowns, shape (points) [W]."""
        values = {u.name: float(v) for u, v in zip(self.free, at, strict=True)}
        return self.prediction.at_points(
            self.points.airspeed_m_s, self.points.configuration, values
        )

    def slope(self, at: Floats, place: int) -> Floats:
        """Change of the points' power with one unknown, shape (points) [W over its unit]."""
        unknown = self.free[place]
        step = 0.05 * unknown.step
        up, down = at.copy(), at.copy()
        up[place] = min(at[place] + step, unknown.high)
        down[place] = max(at[place] - step, unknown.low)
        slope = (self.power_W(up) - self.power_W(down)) / (up[place] - down[place])
        return np.asarray(np.nan_to_num(slope), dtype=np.float64)

    def _over_airspeed(self, at: Floats) -> Floats:
        values = {u.name: float(v) for u, v in zip(self.free, at, strict=True)}
        speed, names = self.points.airspeed_m_s, self.points.configuration
        sides = [
            self.prediction.at_points(speed + side * SLOPE_STEP_M_S, names, values)
            for side in (-1.0, 1.0)
        ]
        slope = (sides[1] - sides[0]) / (2.0 * SLOPE_STEP_M_S)
        return np.asarray(np.nan_to_num(slope), dtype=np.float64)

    def _inputs(self) -> list[Column]:
        covered = {unknown.covers for unknown in self.free}
        effects = np.zeros((len(self.points), len(self.prediction.inputs)))
        for name in self.points.names:
            rows = self.points.configuration == name
            speed = self.points.airspeed_m_s[rows]
            effects[rows] = self.prediction.input_effects_W(speed, name)
        return [
            Column(name, label, np.nan_to_num(effects[:, i]), 1.0)
            for i, (name, label) in enumerate(self.prediction.inputs.items())
            if name not in covered and np.any(np.nan_to_num(effects[:, i]))
        ]

    def _departures(self, power: Floats, width: float) -> list[Column]:
        points = self.points
        number = bin_number(points.airspeed_m_s, width)
        columns = []
        for name in points.names:
            here = (points.configuration == name).astype(float)
            away = points.airspeed_m_s - float(points.airspeed_m_s[here > 0.0].mean())
            spread = max(float(away[here > 0.0].std()), 0.1)
            label = f"departure of {name}"
            columns += [
                Column(label, label, here * power, group=CONFIGURATION),
                Column(f"{label}, slope", label, here * power * away / spread,
                       group=CONFIGURATION),
            ]  # fmt: skip
            columns += [
                Column(departure_name(name, int(n)), label, here * (number == n), group=DEPARTURE)
                for n in np.unique(number[here > 0.0])
            ]
        return columns


def explained(
    points: SteadyPoints,
    prediction: Prediction,
    names: Sequence[str],
    around: Surroundings,
    level: float,
) -> Fit:
    """Hold points against a prediction, with some of its unknowns free.

    Parameters
    ----------
    points : steady points
    prediction : the model
    names : the unknowns to fit, none to ask for the inputs alone
    around : what is stated and known of the log
    level : of the intervals

    Raises
    ------
    InputRefused
        If a name is not an unknown of the prediction, or stands there twice.
    ComputationFailed
        If there are not more points than unknowns, one changes nothing, or the fit does not
        converge.
    """
    question = asked(points, prediction, names, around)
    at, solution = located(question)
    factor = _factor(solution, question.free, level)
    estimates = tuple(
        _estimate(question, at, solution, place, factor) for place in range(len(question.free))
    )
    before = question.points.power_W - _nominal(question)
    before = before - around.cost.value_W_s_m * question.points.climb_m_s
    unexplained, half = _unexplained(question, at, solution, level)
    kept = [c.name for c in question.linearised(at).columns if not c.group and c.name != "trend"]
    return Fit(
        estimates=estimates,
        causes=_causes(question, at, solution, level),
        names=tuple(kept),
        correlation=_correlation(solution, kept),
        level=level,
        freedom=solution.freedom,
        difference_W=float(before.mean()),
        unexplained_W=unexplained,
        unexplained_half_W=half,
        scatter_W=float(np.sqrt(np.mean(solution.residual**2))),
        scatter_before_W=float(np.sqrt(np.mean(before**2))),
        points=question.points,
        left_W=solution.residual,
        findings=tuple(
            fit_warnings(
                estimates,
                question.free,
                _correlation(solution, [one.name for one in estimates]),
            )
        ),
    )


def asked(
    points: SteadyPoints, prediction: Prediction, names: Sequence[str], around: Surroundings
) -> Question:
    """The question, its names checked and its points those that the prediction reaches.

    Raises
    ------
    InputRefused, ComputationFailed
        As ``explained`` says.
    """
    for name in names:
        if name not in prediction.unknowns:
            known = list(prediction.unknowns)
            near = nearest_name(name, known)
            remedy = f"did you mean {near}?" if near else f"known are {', '.join(known)}."
            raise InputRefused(f"{name} is nothing that can be fitted; {remedy}")
        if list(names).count(name) > 1:
            raise InputRefused(f"{name} is to be fitted twice.")
    nominal = prediction.at_points(points.airspeed_m_s, points.configuration, {})
    points = points.chosen(np.isfinite(nominal))
    if len(points) <= len(names) + 1:
        raise ComputationFailed(
            f"{len(points)} steady segments within the prediction cannot tell {len(names)}"
            " unknowns; fly more segments or fit fewer."
        )
    free = tuple(prediction.unknowns[name] for name in names)
    question = Question(points, prediction, free, around)
    start = np.array([unknown.nominal for unknown in free])
    for place, unknown in enumerate(free):
        if not np.any(question.slope(start, place)):
            raise ComputationFailed(
                f"{unknown.label} changes no power at the airspeeds of the log; fly where it"
                " matters, or leave it out of the fit."
            )
    return question


def located(question: Question, start: Floats | None = None) -> tuple[Floats, Solution]:
    """Values of the unknowns, and the least squares around them.

    Raises
    ------
    ComputationFailed
        If the steps do not converge.
    """
    free = question.free
    at = np.array([u.nominal for u in free]) if start is None else start.copy()
    solution = solved(question.linearised(at))
    if not free:
        return at, solution
    low, high = (np.array([getattr(u, key) for u in free]) for key in ("low", "high"))
    margin = 1e-6 * (high - low)
    for step in range(STEPS):
        found = np.array([solution.value(u.name) for u in free])
        found = np.clip(found, low + margin, high - margin)
        moved = np.max(np.abs(found - at) / np.array([u.step for u in free]))
        at = found
        if moved < CONVERGED:
            return at, solved(question.linearised(at))
        # The scatter is estimated near the answer and then kept, or steps would chase it.
        scatter = None if step in SCATTER_STEPS else solution.scatter
        solution = solved(question.linearised(at), scatter)
    if not np.isfinite(moved):
        raise ComputationFailed("the fit did not converge; fit fewer unknowns.")
    # Unknowns that the log cannot tell apart wander along their valley: that is reported, by the
    # width of their intervals and their correlation.
    return at, solution


def _nominal(question: Question) -> Floats:
    return question.prediction.at_points(
        question.points.airspeed_m_s, question.points.configuration, {}
    )


def _factor(solution: Solution, free: tuple[Unknown, ...], level: float) -> list[float]:
    """Half-width of each unknown over its standard error."""
    rows = [contrast(solution.names, {u.name: 1.0}) for u in free]
    return [solution.half_width(row, level) / max(solution.deviation(row), 1e-300) for row in rows]


def _estimate(
    question: Question, at: Floats, solution: Solution, place: int, factor: list[float]
) -> Estimate:
    unknown = question.free[place]
    error = solution.deviation(contrast(solution.names, {unknown.name: 1.0}))
    value = float(at[place])
    sure = min(factor[place], 1e3)  # without any freedom left nothing is known
    profile = _profile(question, at, solution, place, error, sure)
    half = sure * error
    linear = (max(value - half, unknown.low), min(value + half, unknown.high))
    return Estimate(
        name=unknown.name,
        label=unknown.label,
        unit=unknown.unit,
        nominal=unknown.nominal,
        value=value,
        standard_error=error,
        interval=_profile_interval(profile, value, linear),
        profile=profile,
    )


def _chi_square(problem: Problem, solution: Solution) -> float:
    """Sum of squares with what is held down, for the scatter of the solution."""
    variance = solution.scatter.variance(problem) / np.maximum(solution.weight, 1e-9)
    held = 0.0
    for column, value in zip(problem.columns, solution.theta, strict=True):
        spread = solution.scatter.spread[column.group] if column.group else column.spread
        held += (float(value) / spread) ** 2 if np.isfinite(spread) else 0.0
    return float(np.sum(solution.residual**2 / variance)) + held


def _profile(
    question: Question, at: Floats, solution: Solution, place: int, error: float, factor: float
) -> Profile:
    """The rise of the misfit on both sides, everything else fitted again at each value."""
    unknown = question.free[place]
    reach = max(PROFILE_REACH, 1.2 * factor)
    width = error if np.isfinite(error) and error > 0.0 else unknown.step
    values = at[place] + reach * width * np.linspace(-1.0, 1.0, PROFILE_POINTS)
    values = np.unique(np.clip(values, unknown.low, unknown.high))
    least = _chi_square(question.linearised(at), solution)
    excess = np.zeros(values.size)
    for row, value in enumerate(values):
        start = at.copy()
        start[place] = value
        for _ in range(3):
            problem = question.linearised(start, hold=place)
            held = solved(problem, solution.scatter)
            for i, other in enumerate(question.free):
                if i != place:
                    start[i] = np.clip(held.value(other.name), other.low, other.high)
        excess[row] = max(_chi_square(problem, held) - least, 0.0)
    return Profile(values, excess, factor**2)


def _profile_interval(
    profile: Profile, value: float, linear: tuple[float, float]
) -> tuple[float, float]:
    """Where the rise reaches its limit, by its signed root, which is nearly a straight line."""
    root = np.sign(profile.value - value) * np.sqrt(profile.rise)
    limit = np.sqrt(profile.limit)
    order = np.argsort(root, kind="stable")
    ends = []
    for bound, fallback in ((-limit, linear[0]), (limit, linear[1])):
        inside = root[order[0]] <= bound <= root[order[-1]] if root.size > 1 else False
        ends.append(
            float(np.interp(bound, root[order], profile.value[order])) if inside else fallback
        )
    return ends[0], ends[1]


def _causes(question: Question, at: Floats, solution: Solution, level: float) -> tuple[Cause, ...]:
    problem = question.linearised(at)
    free = {unknown.name for unknown in question.free}
    held = [
        column
        for column in problem.columns
        if not column.group and column.name not in free and np.isfinite(column.spread)
    ]
    found = sorted(
        (_cause(column, solution, level) for column in held), key=lambda cause: -abs(cause.power_W)
    )
    alike: dict[str, list[str]] = {cause.name: [] for cause in found if cause.is_known}
    for column in held if alike else ():
        looser = replace(column, spread=LOOSER * column.spread)
        columns = tuple(looser if one is column else one for one in problem.columns)
        freed = solved(replace(problem, columns=columns), solution.scatter)
        own = _cause(looser, freed, level)
        for other in held:
            if other is column or other.name not in alike:
                continue
            left = _cause(other, freed, level)
            if not left.is_known and abs(own.power_W) > abs(left.power_W):
                alike[other.name].append(column.label)
    return tuple(replace(one, not_told_from=tuple(alike.get(one.name, ()))) for one in found)


def _cause(column: Column, solution: Solution, level: float) -> Cause:
    effect = float(column.effect.mean())
    value = solution.value(column.name)
    half = abs(effect) * solution.half_width(contrast(solution.names, {column.name: 1.0}), level)
    return Cause(column.name, column.label, value / column.spread, value * effect, half)


def _unexplained(
    question: Question, at: Floats, solution: Solution, level: float
) -> tuple[float, float]:
    """Mean over the points of what departures take."""
    values = {
        column.name: float(column.effect.mean())
        for column in question.linearised(at).columns
        if column.group in (CONFIGURATION, DEPARTURE)
    }
    row = contrast(solution.names, values)
    return float(row @ solution.theta), solution.half_width(row, level)


def _correlation(solution: Solution, names: Sequence[str]) -> Floats:
    places = [solution.place(name) for name in names]
    covariance = solution.covariance[np.ix_(places, places)]
    size = np.sqrt(np.maximum(np.diag(covariance), 1e-300))
    return np.asarray(covariance / np.outer(size, size), dtype=np.float64)
