"""The statistical model of the flight log against published data sets and textbook results."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import approx_fprime
from scipy.stats import t as student

from vlm.description.folds import FoldAngles
from vlm.errors import ComputationFailed
from vlm.log.explaining import asked, explained
from vlm.log.held_down import Column, Group, Problem, Scatter, contrast, drift_columns, solved
from vlm.log.likelihood import _Likelihood
from vlm.log.points import SteadyPoints, _mean_errors
from vlm.log.power_model import Surroundings
from vlm.log.prediction import Prediction, Unknown
from vlm.log.stated import ClimbCost, Stated
from vlm.log.wind import AirData

FLAT = FoldAngles()


def plain(y, **columns):
    """A problem of equal readings with free columns."""
    ones = np.ones(len(y))
    free = tuple(Column(name, name, np.asarray(x, float)) for name, x in columns.items())
    return Problem(np.asarray(y, float), ones, ones, free)


# NIST Statistical Reference Datasets, Norris (linear): y, x.
NORRIS = """0.1 0.2  338.8 337.4  118.1 118.2  888.0 884.6  9.2 10.1  228.1 226.5  668.5 666.3
998.5 996.3  449.1 448.6  778.9 777.0  559.2 558.2  0.3 0.4  0.1 0.6  778.1 775.5  668.8 666.9
339.3 338.0  448.9 447.5  10.8 11.6  557.7 556.0  228.3 228.1  998.0 995.8  888.8 887.6
119.6 120.2  0.3 0.3  0.6 0.3  557.6 556.8  339.3 339.1  888.0 887.2  998.5 999.0  778.9 779.0
10.2 11.1  117.6 118.3  228.9 229.2  668.4 669.1  449.2 448.9  0.2 0.5"""


def test_nist_norris():
    """Certified: intercept -0.262323073774029 (0.232818234301152), slope 1.00211681802045
    (0.000429796848199937), residual standard deviation 0.884796396144373, 34 degrees of freedom
    (from memory; the data are those numbers' own check). Restricted maximum likelihood of one
    common scatter is the unbiased estimate, and Student's t gives the interval. One reading lies
    2.6 deviations off and counts a little less, which the tolerance allows for."""
    y, x = np.array(NORRIS.split(), float).reshape(-1, 2).T
    found = solved(plain(y, intercept=np.ones(x.size), slope=x))
    assert found.value("intercept") == pytest.approx(-0.262323073774029, abs=0.02)
    assert found.value("slope") == pytest.approx(1.00211681802045, rel=1e-4)
    assert found.scatter.tau == pytest.approx(0.884796396144373, rel=0.02)
    assert found.freedom == pytest.approx(34.0, abs=0.01)
    slope = contrast(found.names, {"slope": 1.0})
    assert found.deviation(slope) == pytest.approx(0.000429796848199937, rel=0.02)
    ratio = found.half_width(slope, 0.95) / found.deviation(slope)
    assert ratio == pytest.approx(2.0322, abs=5e-4)  # Student's t, 34 degrees of freedom


@pytest.mark.parametrize(
    ("freedom", "level", "factor"), [(4, 0.9, 2.13), (10, 0.95, 2.23), (20, 0.99, 2.85)]
)
def test_gum_table_of_students_t(freedom, level, factor):
    """JCGM 100:2008, table G.2 (from memory), by the mean of that many readings and one more."""
    y = np.random.default_rng(3).uniform(-1.0, 1.0, freedom + 1)
    found = solved(plain(y, mean=np.ones(y.size)))
    row = contrast(found.names, {"mean": 1.0})
    ratio = found.half_width(row, level) / found.deviation(row)
    assert ratio == pytest.approx(factor, abs=0.006)


def test_a_held_down_error_widens_as_errors_add_in_quadrature():
    """A mean of 25 readings, and a zero known to 2: variances add, with the freedom of GUM G.2b."""
    y = np.random.default_rng(5).normal(100.0, 3.0, 25)
    alone = solved(plain(y, mean=np.ones(25)))
    free = plain(y, mean=np.ones(25))
    held = Problem(y, free.size, free.length, (*free.columns, Column("zero", "", np.ones(25), 2.0)))
    both = solved(held)
    row, wide = contrast(alone.names, {"mean": 1.0}), contrast(both.names, {"mean": 1.0})
    expected = np.hypot(alone.deviation(row), 2.0)
    assert both.deviation(wide) == pytest.approx(expected, rel=1e-3)
    parts = both.parts(wide)
    assert parts["stated"] == pytest.approx(4.0, rel=1e-6)
    assert parts["scatter"] == pytest.approx(alone.deviation(row) ** 2, rel=1e-3)
    # Welch and Satterthwaite: nearly all of it is known exactly, so nearly the normal's 1.645.
    assert both.half_width(wide, 0.9) / both.deviation(wide) == pytest.approx(1.648, abs=0.004)


def one_way(groups, each, between, within, seed):
    """A balanced one-way layout as a problem, and the analysis of variance of it."""
    random = np.random.default_rng(seed)
    level = np.repeat(random.normal(0.0, between, groups), each)
    y = 50.0 + level + random.normal(0.0, within, groups * each)
    which = np.repeat(np.arange(groups), each)
    columns = [Column("mean", "", np.ones(y.size))]
    columns += [
        Column(f"group {i}", "", (which == i).astype(float), group="groups") for i in range(groups)
    ]
    ones = np.ones(y.size)
    problem = Problem(y, ones, ones, tuple(columns), (Group("groups", between, groups - 1.0),))
    means = y.reshape(groups, each).mean(axis=1)
    inside = float(np.mean(y.reshape(groups, each).var(axis=1, ddof=1)))
    return problem, inside, float(means.var(ddof=1)) - inside / each, float(means.var(ddof=1))


def test_deviations_of_a_balanced_layout_are_those_of_the_analysis_of_variance():
    """With many groups the weak prior hardly matters: within and between variances as in
    H. Scheffe, The Analysis of Variance, section 7.2 (from memory), and the error of the grand mean
    that of the groups' means."""
    problem, within, between, of_means = one_way(60, 4, 2.0, 1.0, 2)
    found = solved(problem)
    assert found.scatter.tau**2 == pytest.approx(within, rel=0.03)
    assert found.scatter.spread["groups"] ** 2 == pytest.approx(between, rel=0.05)
    error = found.deviation(contrast(found.names, {"mean": 1.0}))
    assert error == pytest.approx(np.sqrt(of_means / 60), rel=0.03)


def test_a_deviation_is_not_found_as_zero_by_chance():
    """Four groups whose means happen to lie closer than their noise allows: the estimate of the
    analysis of variance is below zero, and the model still keeps some."""
    seed = next(s for s in range(200) if one_way(4, 4, 0.5, 1.0, s)[2] < 0.0)
    problem, *_ = one_way(4, 4, 0.5, 1.0, seed)
    assert solved(problem).scatter.spread["groups"] > 0.1


def test_a_stray_counts_less():
    """One reading of 40 lies 12 deviations off: least squares would move by 0.3, this by less."""
    y = np.random.default_rng(1).normal(0.0, 1.0, 40)
    y[7] = 12.0
    found = solved(plain(y, mean=np.ones(40)))
    rest = np.delete(y, 7).mean()
    assert abs(found.value("mean") - rest) < 0.6 * abs(y.mean() - rest)
    assert found.weight[7] < 0.6
    assert np.all(np.delete(found.weight, 7) > 0.8)


def test_scatter_that_grows_with_the_reading_is_seen():
    random = np.random.default_rng(4)
    size = np.linspace(0.3, 2.0, 300)
    y = random.normal(0.0, 1.0, 300) * size
    found = solved(Problem(y, size, np.ones(300), (Column("mean", "", np.ones(300)),)))
    assert found.scatter.growth == pytest.approx(1.0, abs=0.15)


def test_a_drift_has_the_correlation_it_says():
    """Readings 0, 1 and 2 memories apart, at knots: exp(-distance), by construction."""
    time = np.array([0.0, 100.0, 200.0])
    shapes = np.column_stack([c.effect for c in drift_columns(time, 100.0, "drift")])
    expected = np.exp(-np.abs(time[:, None] - time) / 100.0)
    np.testing.assert_allclose(shapes @ shapes.T, expected, atol=1e-9)


def test_scatter_that_is_given_is_kept():
    y = np.random.default_rng(9).normal(0.0, 1.0, 10)
    given = Scatter(2.0, 0.0, 0.0, {})
    found = solved(plain(y, mean=np.ones(10)), given)
    assert found.deviation(contrast(found.names, {"mean": 1.0})) == pytest.approx(2 / np.sqrt(10))


# --- fits of a prediction ---------------------------------------------------------------------

NOTHING = Stated(*([0.0] * 11))
EXACT = Surroundings(
    AirData(np.zeros(0), (), (), np.zeros((0, 0)), None), NOTHING,
    ClimbCost(0.0, 0.0, "none"), 1000.0, 0.0,
)  # fmt: skip


def observed(x, y):
    x, y = np.asarray(x, float), np.asarray(y, float)
    ones = np.ones(x.size)
    return SteadyPoints(
        np.full(x.size, "open"), x, y, 0 * ones, 0 * ones, ones, ones, 0 * ones, ones, 0 * ones,
        ones, np.arange(x.size), np.arange(x.size), 1.2, climb_seen=True,
    )  # fmt: skip


def product(names):
    """Power = a b V: the log can only tell the product."""
    return Prediction(
        lambda v, _, p: p.get("a", 1.0) * p.get("b", 1.0) * v + 0.0 * p.get("c", 0.0),
        {"open": FLAT},
        {name: Unknown(name, name, "1", 1.0, 0.01, 100.0, 0.1) for name in names},
    )


LINE = np.linspace(8.0, 16.0, 20)
SEEN = 2.0 * LINE + np.random.default_rng(2).normal(0.0, 0.1, 20)


def test_one_unknown_is_found_with_an_interval_that_holds_it():
    fit = explained(observed(LINE, SEEN), product("a"), ["a"], EXACT, 0.9)
    [estimate] = fit.estimates
    assert estimate.interval[0] < 2.0 < estimate.interval[1]
    assert estimate.value == pytest.approx(2.0, abs=0.05)
    assert not any("unseen" in finding.code for finding in fit.findings)


def test_an_unknown_that_changes_nothing_is_refused():
    with pytest.raises(ComputationFailed, match="c changes no power"):
        explained(observed(LINE, SEEN), product("ac"), ["a", "c"], EXACT, 0.9)


def test_an_unknown_that_may_be_anything_within_its_range_is_said():
    """Known to 0.1 or so, and asked for between 1.95 and 2.05."""
    noisy = 2.0 * LINE + np.random.default_rng(3).normal(0.0, 4.0, LINE.size)
    narrow = Prediction(
        lambda v, _, p: p.get("a", 2.0) * v, {"open": FLAT},
        {"a": Unknown("a", "the factor", "1", 2.0, 1.95, 2.05, 0.01)},
    )  # fmt: skip
    fit = explained(observed(LINE, noisy), narrow, ["a"], EXACT, 0.9)
    [unseen] = [finding for finding in fit.findings if "unseen" in finding.code]
    assert unseen.limit == pytest.approx(0.05)
    assert unseen.value > unseen.limit


def test_an_error_of_the_airspeed_counts_with_the_slope_of_the_power():
    """Power 0.1 V^3 has the slope 0.3 V^2."""
    points = replace(observed(LINE, 0.1 * LINE**3), airspeed_error_m_s=np.full(LINE.size, 0.5))
    prediction = Prediction(lambda v, _, p: 0.1 * v**3, {"open": FLAT}, {})
    problem = asked(points, prediction, [], EXACT).linearised(np.zeros(0))
    assert problem.known == pytest.approx(0.3 * LINE**2 * 0.5, rel=1e-4)


def test_two_unknowns_that_look_alike_are_reported_apart_by_no_one():
    fit = explained(observed(LINE, SEEN), product("ab"), ["a", "b"], EXACT, 0.9)
    said = " ".join(finding.sentence() for finding in fit.findings)
    assert "cannot tell a from b" in said or "hardly tells a" in said


@pytest.mark.parametrize(("low", "high", "bound"), [(0.5, 1.5, 1.5), (3.0, 9.0, 3.0)])
def test_a_value_at_its_bound_is_said(low, high, bound):
    """The truth, 2, lies above or below what is possible."""
    middle = 0.5 * (low + high)
    narrow = Prediction(
        lambda v, _, p: p.get("a", middle) * v,
        {"open": FLAT},
        {"a": Unknown("a", "the factor", "1", middle, low, high, 0.1)},
    )
    fit = explained(observed(LINE, SEEN), narrow, ["a"], EXACT, 0.9)
    [said] = [f for f in fit.findings if "at the end of what is possible" in f.sentence()]
    assert said.limit == bound
    assert said.value == pytest.approx(bound, abs=1e-4)


def test_an_uncertain_input_takes_what_it_may_and_its_shift_is_reported():
    """The power is 6 % above the prediction; an input of 3 % is stated: it shifts to the difference
    less what the departure, usually 1 %, takes."""
    speed = np.tile(np.linspace(9.0, 15.0, 7), 4)
    y = 106.0 * speed / 12.0 + np.random.default_rng(8).normal(0.0, 0.3, speed.size)
    prediction = Prediction(
        lambda v, _, p: 100.0 * v / 12.0, {"open": FLAT}, {},
        {"efficiency": "efficiency"}, lambda v, _: (3.0 * v / 12.0)[:, None],
    )  # fmt: skip
    fit = explained(observed(speed, y), prediction, [], EXACT, 0.9)
    [cause] = fit.causes
    assert fit.difference_W == pytest.approx(6.0, abs=0.3)
    assert 1.0 < cause.shift < 2.0
    assert cause.power_W + fit.unexplained_W == pytest.approx(fit.difference_W, abs=0.3)


def test_the_profile_of_a_linear_unknown_is_a_parabola():
    """What is linear and of normal scatter rises by the square of the deviations (any text on
    least squares), also where most of the deviation is what is stated of an input: 3 %."""
    speed = np.tile(np.linspace(9.0, 15.0, 7), 4)
    y = 106.0 * speed / 12.0 + np.random.default_rng(8).normal(0.0, 0.3, speed.size)
    prediction = Prediction(
        lambda v, _, p: 100.0 * p.get("a", 1.0) * v / 12.0, {"open": FLAT},
        {"a": Unknown("a", "a", "1", 1.0, 0.01, 100.0, 0.1)},
        {"efficiency": "efficiency"}, lambda v, _: (3.0 * v / 12.0)[:, None],
    )  # fmt: skip
    [found] = explained(observed(speed, y), prediction, ["a"], EXACT, 0.9).estimates
    assert 0.03 < found.standard_error < 0.033
    away = (found.profile.value - found.value) / found.standard_error
    assert np.abs(away).max() > 2.0
    assert found.profile.rise == pytest.approx(away**2, rel=0.03, abs=1e-6)


def test_an_interval_is_the_same_whatever_the_unknown_is_written_as():
    """Likelihood intervals turn with the parameter (any text on likelihood); those by the standard
    error do not: of a factor known to 13 %, the logarithm's would lie 7 % higher."""
    noisy = 2.0 * LINE + np.random.default_rng(3).normal(0.0, 12.0, LINE.size)

    def interval(factor, nominal, low, high):
        unknown = Unknown("a", "a", "1", nominal, low, high, 0.1)
        prediction = Prediction(
            lambda v, _, p: factor(p.get("a", nominal)) * v, {"open": FLAT}, {"a": unknown}
        )
        [found] = explained(observed(LINE, noisy), prediction, ["a"], EXACT, 0.9).estimates
        return factor(np.array(found.interval))

    plainly = interval(lambda a: a, 1.0, 0.01, 100.0)
    assert interval(np.exp, 0.0, *np.log([0.01, 100.0])) == pytest.approx(plainly, rel=0.005)


def test_the_largest_cause_is_reported_first():
    """Of 12 % too much, an input of 5 % takes more than one of 1 %, whichever is stated first."""
    speed = np.tile(np.linspace(9.0, 15.0, 7), 4)
    y = 112.0 * speed / 12.0 + np.random.default_rng(8).normal(0.0, 0.3, speed.size)
    sizes = {"small": 1.0, "large": 5.0, "middle": 2.5}
    prediction = Prediction(
        lambda v, _, p: 100.0 * v / 12.0, {"open": FLAT}, {}, {name: name for name in sizes},
        lambda v, _: np.outer(v / 12.0, list(sizes.values())),
    )  # fmt: skip
    causes = explained(observed(speed, y), prediction, [], EXACT, 0.9).causes
    assert [cause.name for cause in causes] == ["large", "middle", "small"]
    assert causes[0].power_W > causes[1].power_W > causes[2].power_W > 0.0


# --- how well the scatter itself is known -----------------------------------------------------


def uneven():
    """Readings of two sizes, a group that is held down, lengths that differ, a known part."""
    random = np.random.default_rng(12)
    size = np.repeat([0.5, 1.5], 8)
    y = 100.0 * size + random.normal(0.0, 4.0, 16)
    columns = [
        Column("slow", "", (size < 1.0).astype(float)),
        Column("fast", "", (size > 1.0).astype(float)),
        *(Column(f"group {i}", "", random.normal(size=16), group="group") for i in range(3)),
    ]
    return Problem(
        y, size, random.uniform(0.7, 1.3, 16), tuple(columns), (Group("group", 1.0, 3.0),),
        known=random.uniform(0.5, 1.5, 16),
    )  # fmt: skip


def test_slopes_of_the_likelihood_are_those_of_its_differences():
    problem = uneven()
    likelihood = _Likelihood(problem, problem.matrix, np.linspace(0.5, 1.0, 16), varied=True)
    for at in ([1.2, 0.3, 0.4, 0.2], [0.1, 0.9, 0.8, -1.0]):
        by_difference = approx_fprime(np.array(at), lambda x: likelihood(x)[0], 1e-6)
        assert likelihood(np.array(at))[1] == pytest.approx(by_difference, rel=1e-3, abs=1e-3)


def test_where_growth_is_not_known_the_ends_are_known_less_well_than_the_mean():
    """Satterthwaite's freedom: scatter at the mean size rests on all 16 readings, at one end on
    half of them and on the growth that they tell; no end can know more than all together."""
    found = solved(replace(uneven(), groups=(), columns=uneven().columns[:2], known=0.0))
    factor = {
        name: found.half_width(row, 0.9) / found.deviation(row)
        for name, row in (
            ("slow", contrast(found.names, {"slow": 1.0})),
            ("all", contrast(found.names, {"slow": 3.0, "fast": 1.0})),
        )
    }
    assert factor["all"] >= student.ppf(0.95, 14) - 1e-9
    assert factor["slow"] > factor["all"] > 1.7
    assert factor["slow"] < student.ppf(0.95, 3)


def test_scatter_that_is_known_beforehand_stays_in_the_interval():
    """Nine readings that agree by chance, each known to 3 only: the mean is known to 3/3."""
    y = np.full(9, 50.0) + np.linspace(-0.01, 0.01, 9)
    found = solved(replace(plain(y, mean=np.ones(9)), known=3.0))
    assert found.deviation(contrast(found.names, {"mean": 1.0})) == pytest.approx(1.0, rel=0.01)


def test_the_mean_of_a_gusty_stretch_is_known_by_its_integral_time():
    """A first-order process of correlation r a step has the variance s^2 (1 + r)/(1 - r)/n of a
    mean of n (M. S. Bartlett 1935)."""
    random, keep = np.random.default_rng(7), 0.6
    parts = []
    for _ in range(40):
        value, part = random.normal(), []
        for kick in random.normal(0.0, np.sqrt(1.0 - keep**2), 60):
            value = keep * value + kick
            part.append(value)
        parts.append(np.array(part))
    expected = np.sqrt((1.0 + keep) / (1.0 - keep) / 60)
    assert _mean_errors(parts) == pytest.approx(np.full(40, expected), rel=0.12)
    assert np.std([part.mean() for part in parts]) == pytest.approx(expected, rel=0.25)


def test_short_stretches_share_no_more_than_a_third_of_their_length() -> None:
    """By hand: of (5, -0.1, 0.1, -1, -4) about 0, of variance 42.02/5, neighbours share 3.39/4.
    What is two apart shares 0.2/3 and counts no more."""
    variance, shared = 42.02 / 5.0, 3.39 / 4.0
    expected = np.sqrt((variance + 2.0 * shared) / 5.0)
    assert _mean_errors([np.array([5.0, -0.1, 0.1, -1.0, -4.0])]) == pytest.approx([expected])


def test_a_cause_is_told_by_what_is_stated_or_by_the_log():
    """Of two that act alike the one stated wider takes the difference, and need not: no log parts
    them. A load that does not grow with the airspeed is another matter."""
    speed = np.tile(np.linspace(9.0, 15.0, 7), 12)
    y = 112.0 * speed / 12.0 + np.random.default_rng(8).normal(0.0, 0.3, speed.size)
    prediction = Prediction(
        lambda v, _, p: 100.0 * v / 12.0, {"open": FLAT}, {},
        {"wide": "wide", "tight": "tight", "load": "load"},
        lambda v, _: np.column_stack((6.0 * v / 12.0, v / 12.0, np.full(len(v), 1.0))),
    )  # fmt: skip
    causes = {c.name: c for c in explained(observed(speed, y), prediction, [], EXACT, 0.9).causes}
    assert causes["wide"].is_known
    assert causes["wide"].not_told_from == ("tight",)
    assert causes["tight"].not_told_from == ()
    assert not causes["tight"].is_known
