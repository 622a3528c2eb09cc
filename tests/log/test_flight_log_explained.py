"""The log held against a prediction: each part of the fit by its definition, by hand.

    P = prediction(V; unknowns, inputs) (1 + departure) + departure of the bin + climb + instruments

No source but that equation; all numbers are invented.
"""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from test_flight_log_warnings import points

from vlm.errors import ComputationFailed, InputRefused
from vlm.log.cross_validation import cross_validated
from vlm.log.explaining import (
    CONFIGURATION,
    Question,
    _causes,
    _unexplained,
    asked,
    explained,
    located,
)
from vlm.log.held_down import contrast, solved
from vlm.log.power_model import DEPARTURE, DRIFT, Surroundings, _problem, power_model
from vlm.log.prediction import Prediction, Unknown
from vlm.log.stated import ClimbCost
from vlm.log.wind import AirData

SETTINGS = {"a": "fold a", "b": "fold b"}
UNKNOWNS = {
    "slope": Unknown("slope", "the slope", "N", 10.0, 1.0, 40.0, 0.5, covers="scale"),
    "level": Unknown("level", "the level", "W", 20.0, -50.0, 90.0, 2.0),
}
CLIMB = 40.0


def predicted(speed, fold, values):
    """20 W + 10 N times the airspeed, 30 W more in b."""
    level = values.get("level", 20.0) + (30.0 if fold == "fold b" else 0.0)
    return level + values.get("slope", 10.0) * np.asarray(speed)


PREDICTION = Prediction(
    predicted,
    SETTINGS,
    UNKNOWNS,
    {"scale": "scale of all", "load": "a load", "none": "nothing"},
    lambda speed, fold: np.column_stack(
        (0.1 * speed, np.full(len(speed), 2.0), np.zeros(len(speed)))
    ),
)


def around(**errors):
    stated = {"power_share": 0.0, "current_zero_A": 0.0, "rising_air_m_s": 0.0, "climb_m_s": 0.0}
    air = AirData(np.zeros(0), (), (), np.zeros((0, 0)), None)
    return Surroundings(
        air, SimpleNamespace(**{**stated, **errors}), ClimbCost(CLIMB, 0.0, ""), 1.0, 0.0
    )


def flown(more=0.0, count=24, **changes):
    """Both configurations at six airspeeds; the power that is predicted, and what more is drawn."""
    names = ["a", "b"] * (count // 2)
    speed = np.resize([9.0, 9.2, 11.0, 12.1, 13.0, 15.0], count)
    climb = np.resize([0.2, -0.2, 0.1, 0.0], count)
    power = 20.0 + 10.0 * speed + np.where(np.array(names) == "b", 30.0, 0.0) + CLIMB * climb
    noise = 0.2 * np.random.default_rng(5).normal(size=count)
    length = np.resize([20.0, 30.0, 25.0], count)
    return points(names, speed, power + more + noise, climb_m_s=climb, length_s=length, **changes)


def columns_of(question, at=None):
    start = [u.nominal for u in question.free] if at is None else at
    problem = question.linearised(np.array(start, dtype=float))
    return problem, {c.name: c for c in problem.columns}


def test_each_column_of_the_fit_by_its_definition():
    data = flown(airspeed_error_m_s=np.linspace(0.1, 0.3, 24))
    question = Question(data, PREDICTION, (UNKNOWNS["slope"],), around())
    problem, columns = columns_of(question, [12.0])
    speed, b = data.airspeed_m_s, data.configuration == "b"
    power = 20.0 + 12.0 * speed + 30.0 * b
    np.testing.assert_allclose(question.power_W(np.array([12.0])), power)
    np.testing.assert_allclose(columns["slope"].effect, speed)
    # Written for the whole value of the unknown: what is left of it stands on the other side.
    np.testing.assert_allclose(
        problem.y, data.power_W - CLIMB * data.climb_m_s - power + 12.0 * speed
    )
    # "scale" is covered by the slope, "none" changes nothing.
    np.testing.assert_allclose(columns["load"].effect, 2.0)
    assert columns["load"].spread == 1.0
    assert not {"scale", "none"} & set(columns)
    for name in "ab":
        here = (data.configuration == name).astype(float)
        away = speed - speed[here > 0].mean()
        np.testing.assert_allclose(columns[f"departure of {name}"].effect, here * power)
        np.testing.assert_allclose(
            columns[f"departure of {name}, slope"].effect,
            here * power * away / away[here > 0].std(),
        )
        np.testing.assert_allclose(columns[f"{name} bin 9"].effect, here * (np.round(speed) == 9.0))
    np.testing.assert_allclose(problem.size, power / power.mean())
    np.testing.assert_allclose(problem.length, data.length_s / data.length_s.mean())
    np.testing.assert_allclose(problem.known, 12.0 * data.airspeed_error_m_s, rtol=1e-6)
    groups = {g.name: (g.usual, g.freedom) for g in problem.groups}
    mean = power.mean()
    assert groups[CONFIGURATION] == (0.01, 4.0)
    # Five bins of a metre a second, 9, 11, 12, 13 and 15; three beyond a straight line.
    assert groups[DEPARTURE] == pytest.approx((0.004 * mean, 3.0))
    assert groups[DRIFT] == pytest.approx((0.015 * mean, 5.0))
    held = question.linearised(np.array([12.0]), hold=0)
    assert "slope" not in {c.name for c in held.columns}
    np.testing.assert_allclose(held.y, problem.y - 12.0 * speed)


def test_the_size_of_a_small_power_is_bounded():
    question = Question(
        flown(), replace(PREDICTION, power=lambda v, f, p: 0.0 * v + 1e-6), (), around()
    )
    assert columns_of(question)[0].size.min() >= 0.05
    lone = replace(PREDICTION, power=lambda v, f, p: np.where(np.asarray(v) > 14.0, 100.0, 0.1))
    assert columns_of(Question(flown(), lone, (), around()))[0].size.min() == 0.05


def test_an_unknown_that_changes_the_slope_is_stepped_within_its_bounds():
    """A parabola of the unknown, by a twentieth of its step; one side at a bound."""
    square = Prediction(lambda v, f, p: p.get("level", 3.0) ** 2 + 0.0 * v, SETTINGS,
                        {"level": replace(UNKNOWNS["level"], low=3.0, high=9.0)})  # fmt: skip
    question = Question(flown(), square, (square.unknowns["level"],), around())
    np.testing.assert_allclose(question.slope(np.array([5.0]), 0), 10.0)
    np.testing.assert_allclose(question.slope(np.array([3.0]), 0), 6.1)
    np.testing.assert_allclose(question.slope(np.array([9.0]), 0), 17.9)


def test_known_unknowns_come_back_with_what_was_before_and_what_is_left():
    """Three watts a metre a second more than the file says, and 5 W less."""
    data = flown()
    more = 3.0 * data.airspeed_m_s - 5.0
    fit = explained(replace(data, power_W=data.power_W + more), PREDICTION, ["slope", "level"],
                    around(), 0.9)  # fmt: skip
    slope, level = fit.estimates
    assert slope.value == pytest.approx(13.0, abs=0.3)
    assert level.value == pytest.approx(15.0, abs=3.0)
    assert (slope.nominal, slope.unit, level.label) == (10.0, "N", "the level")
    for one, true in ((slope, 13.0), (level, 15.0)):
        assert one.interval[0] < true < one.interval[1]
        half = 0.5 * (one.interval[1] - one.interval[0])
        assert 1.5 * one.standard_error < half < 3.5 * one.standard_error
    noise = data.power_W - predicted(0.0, "", {}) - 10.0 * data.airspeed_m_s
    noise = noise - 30.0 * (data.configuration == "b") - CLIMB * data.climb_m_s
    assert fit.difference_W == pytest.approx(np.mean(noise + more))
    assert fit.scatter_before_W == pytest.approx(np.sqrt(np.mean((noise + more) ** 2)))
    assert fit.scatter_W == pytest.approx(np.sqrt(np.mean(fit.left_W**2)))
    assert fit.scatter_W < 0.3
    assert fit.correlation[0, 0] == pytest.approx(1.0)
    place = [fit.names.index(name) for name in ("slope", "level")]
    assert fit.correlation[place[0], place[1]] < -0.5
    assert "trend" not in fit.names
    assert fit.level == 0.9


def test_causes_and_what_no_cause_takes():
    """Each by the solution's own values: shift over its spread, mean effect, half-width."""
    data = flown(more=3.0)
    question = Question(data, PREDICTION, (), around(power_share=0.02))
    at, solution = located(question)
    problem, columns = columns_of(question)
    causes = {c.name: c for c in _causes(question, at, solution, 0.9)}
    assert set(causes) == {"scale", "load", "gain"}
    for name, cause in causes.items():
        value, mean = solution.value(name), columns[name].effect.mean()
        assert cause.shift == pytest.approx(value / columns[name].spread)
        assert cause.power_W == pytest.approx(value * mean)
        row = contrast(solution.names, {name: 1.0})
        assert cause.half_width_W == pytest.approx(abs(mean) * solution.half_width(row, 0.9))
    unexplained, half = _unexplained(question, at, solution, 0.9)
    groups = [c for c in problem.columns if c.group in (CONFIGURATION, DEPARTURE)]
    assert unexplained == pytest.approx(
        sum(solution.value(c.name) * c.effect.mean() for c in groups)
    )
    row = contrast(solution.names, {c.name: float(c.effect.mean()) for c in groups})
    assert half == pytest.approx(solution.half_width(row, 0.9))


@pytest.mark.parametrize(
    ("count", "names", "fits"),
    [(4, ["slope", "level"], True), (3, ["slope", "level"], False), (2, [], True), (1, [], False)],
)
def test_more_points_than_unknowns_and_one_are_needed(count, names, fits):
    data = flown()
    data = data.chosen(np.arange(len(data)) < count)
    if fits:
        assert len(asked(data, PREDICTION, names, around()).points) == count
        return
    with pytest.raises(ComputationFailed, match=f"{count} steady segments"):
        asked(data, PREDICTION, names, around())


def test_points_beyond_a_prediction_are_left_out_and_wrong_names_refused():
    ends = replace(
        PREDICTION, power=lambda v, f, p: np.where(np.asarray(v) > 14.0, np.nan, 10.0 * v)
    )
    assert asked(flown(), ends, [], around()).points.airspeed_m_s.max() < 14.0
    with pytest.raises(InputRefused, match="did you mean slope"):
        asked(flown(), PREDICTION, ["slop"], around())
    with pytest.raises(InputRefused, match="fitted twice"):
        asked(flown(), PREDICTION, ["slope", "slope"], around())


def test_runs_that_were_left_out_are_predicted_by_the_others():
    """Three groups of runs; without noise a fit of the true kind predicts what it has not seen."""
    data = flown(run=np.repeat([0, 4, 9], 8))
    more = 3.0 * data.airspeed_m_s
    data = replace(data, power_W=data.power_W + more)
    told = []
    found = cross_validated(data, PREDICTION, ["slope"], around(), told.append)
    assert (found.groups, told) == (3, [1, 1, 1])
    noise = data.power_W - CLIMB * data.climb_m_s - more - 20.0 - 10.0 * data.airspeed_m_s
    noise = noise - 30.0 * (data.configuration == "b")
    assert found.nominal_W == pytest.approx(np.sqrt(np.mean((noise + more) ** 2)))
    assert found.left_out_W == pytest.approx(np.sqrt(np.mean(found.misfit_W**2)))
    assert found.left_out_W < 0.6
    assert found.helps
    np.testing.assert_allclose(found.misfit_W, noise, atol=0.6)
    assert not replace(found, left_out_W=found.nominal_W).helps


def test_the_measured_power_as_one_problem():
    """Less the climb; sizes over the mean power, lengths over theirs, known errors by the slope."""
    data = flown(airspeed_error_m_s=np.linspace(0.1, 0.3, 24))
    slopes = np.linspace(5.0, -15.0, 24)
    problem = _problem(data, around(), {"a": 1, "b": 1}, 12.0, slopes)
    np.testing.assert_allclose(problem.y, data.power_W - CLIMB * data.climb_m_s)
    np.testing.assert_allclose(problem.size, data.power_W / data.power_W.mean())
    np.testing.assert_allclose(problem.length, data.length_s / data.length_s.mean())
    np.testing.assert_allclose(problem.known, np.abs(slopes) * data.airspeed_error_m_s)
    groups = {g.name: (g.usual, g.freedom) for g in problem.groups}
    mean = data.power_W.mean()
    # Bins of a: 9, 11, 13; of b: 9, 12, 15; three each, two of them on the line.
    assert groups == {DRIFT: pytest.approx((0.015 * mean, 5.0)),
                      DEPARTURE: pytest.approx((0.004 * mean, 2.0))}  # fmt: skip
    assert solved(problem).names[:4] == ("a V^0", "a V^1", "b V^0", "b V^1")


@pytest.mark.parametrize(
    ("speeds", "degree"),
    [([10.0] * 3, 0), ([10.0, 12.0] * 2, 1), ([10.0, 12.0], 0), ([10.0, 12.0, 14.0] * 2, 2),
     ([10.0, 12.0, 14.0, 16.0, 18.0] * 2, 3), ([10.0, 12.0, 14.0, 16.0], 1)],
)  # fmt: skip
def test_a_curve_s_degree_is_what_its_airspeeds_and_points_can_tell(speeds, degree):
    """At most a cubic, one less than the airspeeds, and half of the points less one."""
    both = flown()
    other = np.full(len(speeds), "c")
    more = points(
        list(other), speeds, 10.0 * np.array(speeds), time_s=2e3 + 60.0 * np.arange(len(speeds))
    )
    joined = {k: np.concatenate((getattr(both, k), v)) for k, v in vars(more).items()
              if isinstance(v, np.ndarray)}  # fmt: skip
    model = power_model(replace(both, **joined), around())
    assert model.degrees["c"] == degree
    assert model.degrees["a"] == 2
    curve = model.curve("c")
    if degree > 0:
        assert curve(13.0) == pytest.approx(130.0, abs=2.0)


def test_too_few_points_make_no_model():
    assert power_model(points(["a", "b"], [10.0, 10.0]), around()) is None
