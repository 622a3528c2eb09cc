"""The statistics of a flight log against published rules, certified fits and closed forms."""

import numpy as np
import pytest

from vlm.description.folds import FoldAngles
from vlm.log.autocorrelation import autocovariance, block_length
from vlm.log.bins import CommonErrors, combined_half_width
from vlm.log.bootstrap import Scatter, block_bootstrap, half_width
from vlm.log.fit_intervals import fitted
from vlm.log.fitting import fit_problem
from vlm.log.observations import Observations
from vlm.log.prediction import Prediction, Unknown
from vlm.log.samples import Samples
from vlm.log.segment_scatter import shared_variance

FLAT = FoldAngles()


def one_segment(values):
    count = len(values)
    place = np.arange(count)
    return Samples(
        "open", np.full(count, 10.0), np.asarray(values, float), np.zeros(count, dtype=int), place,
        np.array([0]), 0.5, 1.2,
    )  # fmt: skip


def remembering(count, keep, random):
    """x[i] = keep x[i-1] + noise, of variance one."""
    noise = random.normal(0.0, np.sqrt(1.0 - keep**2), count)
    values = np.empty(count)
    value = random.normal()
    for i in range(count):
        value = keep * value + noise[i]
        values[i] = value
    return values


# --- autocovariance and block length ---------------------------------------------------------


def test_autocovariance_of_a_square_wave_by_hand():
    """1, -1, 1, -1: R(0) = 1, R(1) = -3/4, R(2) = 2/4, R(3) = -1/4."""
    values = np.array([1.0, -1.0, 1.0, -1.0])
    found = autocovariance(values, one_segment(values))
    np.testing.assert_allclose(found, [1.0, -0.75, 0.5, -0.25])


def test_segments_do_not_remember_each_other():
    """Two segments give the mean of their own sums, whatever stands beside what."""
    random = np.random.default_rng(0)
    a, b = random.normal(size=30), random.normal(size=20)
    both = Samples(
        "open", np.full(50, 10.0), np.concatenate((a, b)), np.repeat([0, 1], [30, 20]),
        np.concatenate((np.arange(30), np.arange(20))), np.array([0, 1]), 0.5, 1.2,
    )  # fmt: skip
    found = autocovariance(both.power_W, both)
    one, two = (autocovariance(x, one_segment(x)) for x in (a, b))
    expected = one * 30 / 50
    expected[:20] += two * 20 / 50
    np.testing.assert_allclose(found, expected, atol=1e-12)


@pytest.mark.parametrize("keep", [0.3, 0.6, 0.9])
def test_carlstein_block_length_of_a_first_order_sequence(keep):
    """b = (6^(1/2) r / (1 - r^2))^(2/3) N^(1/3) for x[i] = r x[i-1] + noise.

    E. Carlstein, Annals of Statistics 14 (1986) 1171, from memory; it follows from the general
    rule with R(k) = r^k. Here with the exact R(k); the window cuts its tail, hence 5 %.
    """
    count = 100_000
    covariance = keep ** np.arange(300)
    expected = (np.sqrt(6.0) * keep / (1.0 - keep**2)) ** (2.0 / 3.0) * count ** (1.0 / 3.0)
    assert block_length(covariance, count) == pytest.approx(expected, rel=0.05)


def test_block_length_of_noise_without_memory_is_short():
    values = np.random.default_rng(3).normal(size=2000)
    assert block_length(autocovariance(values, one_segment(values)), 2000) < 3.0


# --- bootstrap -------------------------------------------------------------------------------


def test_bootstrap_of_independent_readings_gives_the_textbook_error():
    """The standard error of a mean is s / n^(1/2), with n - 1 degrees of freedom."""
    random = np.random.default_rng(1)
    values = random.normal(5.0, 2.0, 400)
    found = block_bootstrap(values, np.zeros(400, dtype=int), 1.0, random, draws=20_000)
    assert found.freedom == 399
    assert found.standard_error == pytest.approx(values.std(ddof=1) / 20.0, rel=0.02)


def test_bootstrap_of_readings_that_remember():
    """The variance of the mean of a first-order sequence is (1 + r)/(1 - r) / n for long n.

    G. Box, G. Jenkins and G. Reinsel, Time Series Analysis, chapter 2 (from memory). Averaged over
    many sequences; blocks are of finite length, so that a few per cent are lost.
    """
    keep, count = 0.8, 1200
    random = np.random.default_rng(7)
    found = []
    for _ in range(60):
        values = remembering(count, keep, random)
        block = block_length(autocovariance(values, one_segment(values)), count)
        scatter = block_bootstrap(values, np.zeros(count, dtype=int), block, random, draws=300)
        found.append(scatter.standard_error**2)
    assert np.mean(found) == pytest.approx((1.0 + keep) / (1.0 - keep) / count, rel=0.12)


def test_bootstrap_does_not_count_what_differs_between_segments():
    random = np.random.default_rng(4)
    values = random.normal(0.0, 1.0, 300)
    segment = np.repeat(np.arange(3), 100)
    plain = block_bootstrap(values, segment, 4.0, np.random.default_rng(0))
    shifted = block_bootstrap(values + 50.0 * segment, segment, 4.0, np.random.default_rng(0))
    assert shifted.standard_error == pytest.approx(plain.standard_error, rel=1e-9)


def test_one_block_knows_nothing():
    found = block_bootstrap(np.arange(8.0), np.zeros(8, dtype=int), 8.0, np.random.default_rng(0))
    assert not found.is_known
    assert half_width(found, 0.9) == np.inf


# --- combining uncertainties -----------------------------------------------------------------


def test_gum_end_gauge_example():
    """JCGM 100:2008, example H.1: u = 25 (18), 9.7 (25.6), 2.9 (50), 16.6 (2) nm give
    u_c = 32 nm with 16 degrees of freedom, and an expanded uncertainty of 93 nm at 99 % (from
    memory)."""
    parts = [Scatter(25.0, 18), Scatter(9.7, 25.6), Scatter(2.9, 50), Scatter(16.6, 2)]
    total = parts[0]
    for part in parts[1:]:
        total = total.joined(part)
    assert total.standard_error == pytest.approx(32.0, abs=0.5)
    assert np.floor(total.freedom) == 16
    truncated = Scatter(total.standard_error, np.floor(total.freedom))
    assert half_width(truncated, 0.99) == pytest.approx(93.0, abs=1.0)


@pytest.mark.parametrize(
    ("freedom", "level", "factor"), [(1, 0.9, 6.31), (4, 0.9, 2.13), (10, 0.95, 2.23)]
)
def test_gum_table_of_students_t(freedom, level, factor):
    """JCGM 100:2008, table G.2 (from memory)."""
    assert half_width(Scatter(1.0, freedom), level) == pytest.approx(factor, abs=0.005)


def test_a_shared_error_alone_has_the_normal_factor():
    """1.645 standard deviations hold 90 % of a normal distribution."""
    assert combined_half_width(Scatter(1e-9, 3), 2.0, 0.9) == pytest.approx(3.29, abs=0.005)


@pytest.mark.parametrize("noise", [0.0, 0.5, 4.0])
def test_shared_variance_of_equal_means_is_that_of_the_analysis_of_variance(noise):
    """With equal noise, the estimator of the balanced one-way layout: s^2 of the means - noise.

    H. Scheffe, The Analysis of Variance, section 7.2 (from memory); never below zero.
    """
    means = np.random.default_rng(11).normal(0.0, 1.5, 12)
    misfit = means - means.mean()
    expected = max(means.var(ddof=1) - noise, 0.0)
    found = shared_variance(misfit, np.full(12, noise), 11)
    assert found == pytest.approx(expected, rel=1e-6, abs=1e-12)


# --- fits ------------------------------------------------------------------------------------


def observed(x, y):
    count = len(x)
    return Observations(
        np.full(count, "open"), np.asarray(x, float), np.asarray(y, float), np.zeros(count),
        np.arange(count), np.arange(count),
    )  # fmt: skip


# NIST Statistical Reference Datasets, Misra1a (nonlinear, lower difficulty): pressure x, volume y.
MISRA_X = [77.6, 114.9, 141.1, 190.8, 239.9, 289.0, 332.8, 378.4, 434.8, 477.3, 536.8, 593.1,
           689.1, 760.0]  # fmt: skip
MISRA_Y = [10.07, 14.73, 17.94, 23.93, 29.61, 35.18, 40.02, 44.82, 50.76, 55.05, 61.01, 66.40,
           75.47, 81.78]  # fmt: skip


def misra(start1, start2):
    return Prediction(
        lambda x, _, v: v.get("b1", start1) * (1.0 - np.exp(-v.get("b2", start2) * x)),
        {"open": FLAT},
        {
            "b1": Unknown("b1", "b1", "1", start1, 1.0, 5000.0, 100.0),
            "b2": Unknown("b2", "b2", "1", start2, 1e-6, 1e-2, 1e-4),
        },
    )


@pytest.mark.parametrize("start", [(500.0, 0.0001), (250.0, 0.0005)])
def test_nist_misra1a(start):
    """Certified: b1 = 238.94212918 (2.7070075241), b2 = 5.5015643181e-4 (7.2668688436e-6),
    residual standard deviation 0.10187876330 with 12 degrees of freedom (from memory; the data are
    those numbers' own check)."""
    fit = fitted(fit_problem(observed(MISRA_X, MISRA_Y), misra(*start), ["b1", "b2"],
                             CommonErrors()), 0.9)  # fmt: skip
    b1, b2 = fit.estimates
    assert b1.value == pytest.approx(238.94212918, rel=1e-6)
    assert b2.value == pytest.approx(5.5015643181e-4, rel=1e-6)
    assert b1.standard_error == pytest.approx(2.7070075241, rel=1e-4)
    assert b2.standard_error == pytest.approx(7.2668688436e-6, rel=1e-4)
    assert fit.freedom == 12
    assert fit.shared_scatter_W == pytest.approx(0.10187876330, rel=1e-5)


# NIST Statistical Reference Datasets, Norris (linear): y, x.
NORRIS = """0.1 0.2  338.8 337.4  118.1 118.2  888.0 884.6  9.2 10.1  228.1 226.5  668.5 666.3
998.5 996.3  449.1 448.6  778.9 777.0  559.2 558.2  0.3 0.4  0.1 0.6  778.1 775.5  668.8 666.9
339.3 338.0  448.9 447.5  10.8 11.6  557.7 556.0  228.3 228.1  998.0 995.8  888.8 887.6
119.6 120.2  0.3 0.3  0.6 0.3  557.6 556.8  339.3 339.1  888.0 887.2  998.5 999.0  778.9 779.0
10.2 11.1  117.6 118.3  228.9 229.2  668.4 669.1  449.2 448.9  0.2 0.5"""


def test_nist_norris_and_that_a_linear_profile_is_its_interval():
    """Certified: intercept -0.262323073774029 (0.232818234301152), slope 1.00211681802045
    (0.000429796848199937), 34 degrees of freedom (from memory; the data are those numbers' own
    check). In a linear problem the profile's interval is Student's."""
    y, x = np.array(NORRIS.split(), float).reshape(-1, 2).T
    line = Prediction(
        lambda v, _, p: p.get("a", 0.0) + p.get("b", 1.0) * v,
        {"open": FLAT},
        {
            "a": Unknown("a", "a", "1", 0.0, -50.0, 50.0, 1.0),
            "b": Unknown("b", "b", "1", 1.0, 0.0, 5.0, 0.01),
        },
    )
    fit = fitted(fit_problem(observed(x, y), line, ["a", "b"], CommonErrors()), 0.9)
    a, b = fit.estimates
    assert a.value == pytest.approx(-0.262323073774029, rel=1e-5)
    assert b.value == pytest.approx(1.00211681802045, rel=1e-9)
    assert a.standard_error == pytest.approx(0.232818234301152, rel=1e-5)
    assert b.standard_error == pytest.approx(0.000429796848199937, rel=1e-5)
    for estimate in (a, b):
        np.testing.assert_allclose(estimate.interval, estimate.linear_interval, rtol=2e-3)


def test_a_held_down_error_widens_as_errors_add_in_quadrature():
    """Power = factor x 100 W seen 25 times, sensor's gain known to 2 %: the variances add."""
    random = np.random.default_rng(5)
    y = 120.0 + random.normal(0.0, 3.0, 25)
    level = Prediction(
        lambda v, _, p: np.full(v.shape, 100.0 * p.get("factor", 1.0)),
        {"open": FLAT},
        {"factor": Unknown("factor", "factor", "1", 1.0, 0.1, 10.0, 0.1)},
    )
    alone = fitted(fit_problem(observed(np.ones(25), y), level, ["factor"], CommonErrors()), 0.9)
    gain = CommonErrors(power_share=0.02)
    held = fitted(fit_problem(observed(np.ones(25), y), level, ["factor"], gain), 0.9)
    expected = np.hypot(alone.estimates[0].standard_error, 0.02 * alone.estimates[0].value)
    assert held.estimates[0].standard_error == pytest.approx(expected, rel=1e-3)


def product(names):
    """Power = a b V: the log can only tell the product."""
    return Prediction(
        lambda v, _, p: p.get("a", 1.0) * p.get("b", 1.0) * v + 0.0 * p.get("c", 0.0),
        {"open": FLAT},
        {name: Unknown(name, name, "1", 1.0, 0.01, 100.0, 0.1) for name in names},
    )


def test_two_unknowns_that_look_alike_are_told_apart_by_no_one():
    x = np.linspace(8.0, 16.0, 20)
    y = 2.0 * x + np.random.default_rng(2).normal(0.0, 0.1, 20)
    fit = fitted(fit_problem(observed(x, y), product("ab"), ["a", "b"], CommonErrors()), 0.9)
    said = " ".join(finding.sentence() for finding in fit.findings)
    assert "cannot tell a from b" in said
    assert "hardly tells a" in said
    assert np.isinf(fit.estimates[0].standard_error)


def test_an_unknown_without_effect_is_not_seen():
    x = np.linspace(8.0, 16.0, 20)
    y = 2.0 * x + np.random.default_rng(2).normal(0.0, 0.1, 20)
    fit = fitted(fit_problem(observed(x, y), product("ac"), ["a", "c"], CommonErrors()), 0.9)
    said = [finding.sentence() for finding in fit.findings]
    assert any("hardly tells c" in line for line in said)
    assert not any("hardly tells a" in line for line in said)
    assert fit.estimates[0].value == pytest.approx(2.0, abs=0.01)


def test_a_value_at_its_bound_is_said():
    x = np.linspace(8.0, 16.0, 20)
    prediction = Prediction(
        lambda v, _, p: p.get("a", 1.0) * v,
        {"open": FLAT},
        {"a": Unknown("a", "the factor", "1", 1.0, 0.5, 1.5, 0.1)},
    )
    y = 2.0 * x + np.random.default_rng(2).normal(0.0, 0.1, 20)
    fit = fitted(fit_problem(observed(x, y), prediction, ["a"], CommonErrors()), 0.9)
    assert any("at the end of what is possible" in f.sentence() for f in fit.findings)
