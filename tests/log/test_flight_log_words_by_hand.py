"""What a log's answer, its warnings and its proposals say of given numbers, by hand.

No source but the rules stated in the modules; all numbers are invented.
"""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from craft_for_logs import log_format

from vlm.errors import InputRefused
from vlm.log import answer, difference, log_warnings, next_flight, power_model, residuals
from vlm.log.bins import binned_power
from vlm.log.difference import Difference, DifferenceBin
from vlm.log.explaining import _chi_square, _correlation, _profile_interval
from vlm.log.fit import Cause, Profile
from vlm.log.fit_warnings import fit_warnings
from vlm.log.held_down import Column, Problem, contrast, drift_columns, solved
from vlm.log.likelihood import Group, Scatter, precisions
from vlm.log.points import SteadyPoints
from vlm.log.power_model import Surroundings
from vlm.log.prediction import Unknown
from vlm.log.stated import ClimbCost, climb_cost
from vlm.log.wind import AirData, Wind


def points(names, speed, power=None, **changes):
    count = len(names)
    values = {
        "configuration": np.array(names), "airspeed_m_s": np.array(speed, dtype=float),
        "power_W": np.full(count, 100.0) if power is None else np.array(power, dtype=float),
        "climb_m_s": np.zeros(count), "time_s": 60.0 * np.arange(count),
        "length_s": np.full(count, 20.0), "voltage_V": np.full(count, 16.0),
        "airspeed_error_m_s": np.full(count, 0.1), "north": np.ones(count),
        "east": np.zeros(count), "reduction": np.ones(count), "number": np.arange(count),
        "run": np.arange(count), "density_kg_m3": 1.2, "climb_seen": True,
    }  # fmt: skip
    return SteadyPoints(**{**values, **changes})


# --- numbers in words -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("value", "half", "text"),
    [
        (12.345, 0.678, "12.35 ± 0.68 W"),
        (12.345, 6.78, "12.3 ± 6.8 W"),
        (123.4, 45.6, "123 ± 46 W"),
        (1234.0, 456.0, "1234 ± 456 W"),
        (0.012345, 0.00067, "0.01235 ± 0.00067 W"),
        (-0.0004, 0.1, "0.00 ± 0.10 W"),
        (5.0, 1.0, "5.0 ± 1.0 W"),
        (5.0, 10.0, "5 ± 10 W"),
        (1.23456, 0.0, "1.23 W"),
        (1.23456, np.inf, "1.23 W, interval not known"),
        (np.nan, 1.0, "not known"),
        (1e-9, 2e-9, "0.000000 ± 0.000000 W"),
    ],
)
def test_a_value_is_written_to_two_digits_of_its_half_width(value, half, text):
    assert answer.plus_minus(value, half, "W") == text
    assert answer.plus_minus(value, half) == text.replace(" W", "")


def bin_at(speed, value, half, sign, sure=None):
    interval = (value - half, value + half)
    return DifferenceBin(speed, value, interval, 0.0, (0.0, 0.0), sign, sure or half, np.zeros(1))


def pair(*bins, level=0.9):
    return Difference("a", "b", bins, level, (), ())


def test_a_pair_is_told_by_its_signs():
    found = answer._of_pair(
        pair(
            bin_at(9.0, -5.0, 1.0, "less"), bin_at(10.0, -4.0, 1.2, "less"),
            bin_at(11.0, 0.3, 1.0, "unknown"), bin_at(12.0, 6.0, 2.0, "more"),
        )
    )  # fmt: skip
    assert found == [
        "a draws less than b at 9.0 and 10.0 m/s: by 5.0 ± 1.0, 4.0 ± 1.2 W"
        " (sure at 90 % over all speeds together).",
        "a draws more than b at 12.0 m/s: by 6.0 ± 2.0 W (sure at 90 % over all speeds together).",
        "At 11.0 m/s it is not known whether a or b draws less: 0.3 ± 1.0 W.",
    ]
    three = answer._of_pair(pair(*(bin_at(v, -2.0, 1.0, "unknown") for v in (9.0, 10.0, 11.0))))
    assert three == ["At 9.0, 10.0 and 11.0 m/s it is not known whether a or b draws less:"
                     " -2.0 ± 1.0, -2.0 ± 1.0, -2.0 ± 1.0 W."]  # fmt: skip


def against(difference_W, causes, outside=2, **keys):
    explanation = SimpleNamespace(
        difference_W=difference_W, causes=causes, unexplained_W=0.5, unexplained_half_W=1.0
    )
    rest = [SimpleNamespace(outside=outside, bin_residual_W=np.array([1.0, np.nan, 2.0]))]
    return SimpleNamespace(
        **{"explanation": explanation, "residuals": rest, "fit": None, "cross_validation": None,
           **keys}
    )  # fmt: skip


def cause(name, watts, shift=1.0):
    return Cause(name, name, shift, watts, 1.0)


@pytest.mark.parametrize(("sign", "word"), [(1.0, "above"), (-1.0, "below")])
def test_causes_that_account_for_a_difference_are_told(sign, word):
    """Of the same sign, above 8 % of it, three at most."""
    causes = [cause(n, sign * w, -sign) for n, w in
              (("p", 5.0), ("q", -4.0), ("r", 3.0), ("s", 0.81), ("t", 0.85))]  # fmt: skip
    found = answer._prediction(against(sign * 10.0, causes))
    assert found[0] == (
        f"On average the measured power is 10.0 W {word} the prediction; 2 of 2 bins lie farther"
        " off than both uncertainties allow."
    )
    minus = "" if sign > 0.0 else "-"
    assert f"p ({minus}5.0 ± 1.0 W, 1.0 of its standard uncertainties)" in found[1]
    assert ("q (" in found[1], "r (" in found[1], "s (" in found[1]) == (False, True, True)
    assert "t (" not in found[1]
    assert "0.5 ± 1.0 W stay unexplained" in found[1]


def test_a_cause_below_8_percent_and_a_difference_within_the_errors_are_not_told():
    assert len(answer._prediction(against(10.0, [cause("p", 0.79)]))) == 1
    assert len(answer._prediction(against(10.0, [cause("p", 0.81)]))) == 2
    assert len(answer._prediction(against(10.0, [cause("p", 0.81)], outside=0))) == 1


@pytest.mark.parametrize(("helps", "word"), [(True, "better than"), (False, "no better than")])
def test_whether_a_fit_helps_is_told(helps, word):
    one = SimpleNamespace(label="area", interval=(0.0212, 0.0298), unit="m^2", nominal=0.022)
    fit = SimpleNamespace(estimates=[one])
    check = SimpleNamespace(helps=helps)
    found = answer._prediction(against(1.0, [], fit=fit, cross_validation=check))
    assert found[-1].startswith("The fit gives area 0.0212 to 0.0298 m^2 (file 0.022)")
    assert f"predicts unseen segments {word} the file" in found[-1]


def test_wind_in_words():
    made = {"points": 9, "spread_deg": 180.0, "source": "pitot", "findings": ()}
    wind = Wind(-3.0, 4.0, 0.3, 0.4, 0.5, 0.2, 0.02, 0.01, np.nan, np.nan, **made)
    first, pitot = answer._air(wind)
    # Half-width of the speed: the root mean square of both sides, hypot(0.3, 0.4)/sqrt(2) = 0.354.
    assert first == ("Wind: 5.00 ± 0.35 m/s from 307 deg (air moves -3.00 ± 0.30 m/s north,"
                     " 4.00 ± 0.40 m/s east).")  # fmt: skip
    assert pitot.startswith("The pitot reads 0.50 ± 0.20 m/s and 2.0 ± 1.0 % too much")
    calm = answer._air(replace(wind, north_half_m_s=6.0, east_half_m_s=6.0, offset_m_s=np.nan))
    assert calm == ("No wind is seen: -3.0 ± 6.0 m/s north, 4.0 ± 6.0 m/s east.",)


def test_what_to_fly_next():
    power = {"a": SimpleNamespace(bins=[SimpleNamespace(segments=2), SimpleNamespace(segments=1)])}
    result = SimpleNamespace(binned=power)
    [again] = answer._next(result, [])
    assert again == "Next: fly each speed of a again; most were flown once."
    power["a"].bins[1].segments = 2
    assert answer._next(result, []) == ()
    assert "half a minute" in answer._next(SimpleNamespace(binned={}), [])[0]
    shut = next_flight.Proposal("a", "b", 9.0, 1.0, 2.0, None, np.nan, "too far")
    open_ = next_flight.Proposal("a", "b", 10.0, 1.0, 2.0, 1, 4.0, "")
    [told] = answer._next(result, [shut, open_])
    assert told == (
        "Next: a against b at 10.0 m/s: 1 more leg of each, by turns, out and back"
        " (4 min), if the difference stays what it is (1 more open signs: --full)."
    )
    assert answer._next(result, [shut]) == ("Next: a against b at 9.0 m/s: too far.",)


def test_stretches_of_one_sign_are_one_line():
    bins = (bin_at(9.0, -5, 1, "less"), bin_at(10.0, -4, 1, "less"), bin_at(11.0, 0, 1, "unknown"))
    assert pair(*bins).sentences() == [
        "from 9.0 to 10.0 m/s: a draws less than b", "at 11.0 m/s: which draws less is not known",
    ]  # fmt: skip
    assert "never flown at the same airspeed" in pair().sentences()[0]


# --- warnings -------------------------------------------------------------------------------------


def tallied(refused, used):
    return SimpleNamespace(tally=SimpleNamespace(refused_count=refused, used=used))


@pytest.mark.parametrize(("refused", "named"), [(2, False), (3, True)])
def test_more_than_a_fiftieth_of_the_rows_refused_is_named(refused, named):
    found = log_warnings._rows(tallied(refused, 100 - refused))
    assert [(f.value, f.limit) for f in found] == ([(float(refused), 2.0)] if named else [])
    assert log_warnings._rows(tallied(0, 0)) == []


def test_unknown_labels_are_a_share_of_the_rows_used():
    [found] = log_warnings._labels({"x": 3, "y": 2}, tallied(0, 50))
    assert found.value == pytest.approx(10.0)
    assert found.what.endswith('"x" (3), "y" (2)')
    [many] = log_warnings._labels({str(i): 1 for i in range(9)}, tallied(0, 0))
    assert many.value == pytest.approx(900.0)
    assert '"7" (1)' in many.what
    assert '"8" (1)' not in many.what


@pytest.mark.parametrize(("share", "named"), [(0.5, False), (0.51, True)])
def test_a_criterion_that_takes_half_the_log_is_named(share, named):
    shares = {"steady": 0.9, "climb": share}
    found = log_warnings._criteria(SimpleNamespace(shares=lambda: shares))
    assert [f.code for f in found] == (["log-criterion-climb"] if named else [])
    assert [(f.value, f.limit) for f in found] == ([(51.0, 50.0)] if named else [])


@pytest.mark.parametrize(
    ("offset", "half", "named"),
    [
        (0.9, 0.1, False),
        (1.1, 0.1, True),
        (-1.1, 0.1, True),
        (1.1, 1.2, False),
        (np.nan, 0.1, False),
    ],
)
def test_an_offset_beyond_two_uncertainties_and_its_interval_is_named(offset, half, named):
    wind = SimpleNamespace(offset_m_s=offset, offset_half_m_s=half)
    errors = SimpleNamespace(airspeed_offset_m_s=0.5)
    found = log_warnings._offset(wind, log_format(airspeed_offset_m_s=0.25), errors)
    assert [(f.value, f.limit) for f in found] == ([(offset, 1.0)] if named else [])
    assert all(f"= {0.25 + offset:.2f}" in f.remedy for f in found)


@pytest.mark.parametrize(("battery", "named"), [(None, False), (46.0, False), (45.0, True)])
def test_energy_beyond_the_battery_s_is_named_part_by_part(battery, named):
    """100 W for 0.5 h and 40 W for 0.5 h under another clock: 50 W h, 1.1 of 45.45 W h."""
    cells = pd.DataFrame({"part": [0] * 3600 + [1] * 3600, "power": [100.0] * 3600 + [40.0] * 3600})
    found = log_warnings._energy(SimpleNamespace(cells=cells, cell_s=0.5), battery)
    assert [(f.value, f.limit) for f in found] == ([(50.0, battery)] if named else [])


@pytest.mark.parametrize(
    ("power", "most", "message"),
    [
        (100.0, 91.0, None),
        (100.0, 90.0, "90 W at most"),
        (100.0, None, None),
        (0.0, None, "negated"),
        (-5.0, 10.0, "negated"),
        (0.1, None, None),
    ],
)
def test_a_power_that_rotors_cannot_draw_is_refused(power, most, message):
    """Beyond 1.1 of the limit, by the median."""
    flown = points(["a"] * 3, [10.0] * 3, [power, power, 1e4])
    log = SimpleNamespace(path="x.csv")
    if message is None:
        log_warnings.refuse_impossible_power(log, flown, most)
        return
    with pytest.raises(InputRefused, match=message):
        log_warnings.refuse_impossible_power(log, flown, most)


@pytest.mark.parametrize(
    ("names", "share"),
    [
        ("aabb", 0.8),
        ("abab", None),
        ("aaabbb", 0.7714),
        ("aab", None),
        ("aabab", None),
        ("aabba", None),
    ],
)
def test_configurations_flown_in_blocks_are_named(names, share):
    """Square of the correlation of 0 0 1 1 with 0 1 2 3: (2/1)^2/(1 x 5) = 0.8."""
    found = log_warnings._order(points(list(names), [10.0] * len(names)))
    assert [round(f.value, 4) for f in found] == ([share] if share else [])
    assert log_warnings._order(points(list("aabb"), [10.0] * 4, time_s=np.zeros(4))) == []


@pytest.mark.parametrize(
    ("turn", "apart"), [(28.0, None), (30.0, 0.5176), (180.0, 2.0), (-90.0, 2.0**0.5)]
)
def test_on_ground_speed_mean_directions_far_apart_are_named(turn, apart):
    """Unit vectors: 2 sin(half the angle)."""
    angle = np.radians([0.0, 0.0, turn, turn])
    flown = points(list("aabb"), [10.0] * 4, north=np.cos(angle), east=np.sin(angle))
    columns = log_format().columns.model_dump(exclude_none=True)
    how = log_format(columns={**columns, "airspeed": {**columns["airspeed"], "kind": "ground"}})
    found = log_warnings._headings(flown, SimpleNamespace(how=how))
    assert [round(f.value, 4) for f in found] == pytest.approx([apart] if apart else [], abs=1e-4)
    assert log_warnings._headings(flown, SimpleNamespace(how=log_format())) == []


@pytest.mark.parametrize(
    ("value", "interval", "codes"),
    [
        (5.0, (3.0, 7.9), []), (5.0, (2.0, 7.0), ["unseen"]), (5.0, (-np.inf, 7.0), ["unseen"]),
        (0.0, (0.0, 1.0), ["bound"]), (10.0, (9.0, 10.0), ["bound"]), (1e-4, (0.0, 1.0), []),
    ],
)  # fmt: skip
def test_unknowns_that_a_log_hardly_tells_are_named(value, interval, codes):
    """Half of the range of ten; within two millionths of an end."""
    unknown = Unknown("x", "x", "W", 1.0, 0.0, 10.0, 0.1)
    estimate = SimpleNamespace(label="x", unit="W", value=value, interval=interval)
    found = fit_warnings([estimate], [unknown], np.eye(1))
    assert [f.code for f in found] == [f"log-fit-{code}-x" for code in codes]
    assert all(
        f.limit == {"unseen": 5.0, "bound": round(value)}[f.code.split("-")[2]] for f in found
    )


@pytest.mark.parametrize(("shared", "named"), [(0.94, 0), (0.96, 1), (-0.96, 1)])
def test_estimates_that_go_together_are_named(shared, named):
    unknown = Unknown("x", "x", "W", 1.0, 0.0, 10.0, 0.1)
    one, other = (SimpleNamespace(label=n, unit="W", value=5.0, interval=(4.0, 6.0)) for n in "pq")
    found = fit_warnings([one, other], [unknown] * 2, np.array([[1.0, shared], [shared, 1.0]]))
    assert [(f.code, f.value) for f in found] == [("log-fit-alike-p-q", shared)] * named


# --- parts of the fit ----------------------------------------------------------------------------


def test_an_interval_lies_where_the_misfit_has_risen_by_the_limit():
    """A rise of 4 (x - 3)^2 reaches 9 at 1.5 and 4.5; where it is not reached the line holds."""
    values = np.array([1.0, 2.0, 2.5, 3.0, 3.5, 4.0, 5.0])
    profile = Profile(values, 4.0 * (values - 3.0) ** 2, 9.0)
    assert _profile_interval(profile, 3.0, (0.0, 9.0)) == pytest.approx((1.5, 4.5))
    short = Profile(values[1:], 4.0 * (values[1:] - 3.0) ** 2, 9.0)
    assert _profile_interval(short, 3.0, (0.0, 9.0)) == pytest.approx((0.0, 4.5))
    low = Profile(values[:-1], 4.0 * (values[:-1] - 3.0) ** 2, 9.0)
    assert _profile_interval(low, 3.0, (0.0, 9.0)) == pytest.approx((1.5, 9.0))
    one = Profile(values[3:4], np.zeros(1), 9.0)
    assert _profile_interval(one, 3.0, (0.0, 9.0)) == (0.0, 9.0)


def test_correlations_are_covariances_over_both_deviations():
    solution = SimpleNamespace(
        place=["a", "b", "c"].index,
        covariance=np.array([[4.0, 1.0, 3.0], [1.0, 9, 0], [3.0, 0, 16]]),
    )
    found = _correlation(solution, ["c", "a"])
    np.testing.assert_allclose(found, [[1.0, 0.375], [0.375, 1.0]])


def test_a_misfit_holds_readings_and_what_is_held_down():
    """Residuals 2 and -1 with variances 4 and 1, one of half weight; 0.6/0.3 and 0.5/1 held."""
    columns = (
        Column("free", "", np.ones(2)), Column("held", "", np.ones(2), 0.3),
        Column("member", "", np.ones(2), group="g"),
    )  # fmt: skip
    problem = Problem(np.zeros(2), np.ones(2), np.ones(2), columns, (Group("g", 1.0, 2.0),))
    solution = SimpleNamespace(
        scatter=SimpleNamespace(variance=lambda p: np.array([4.0, 1.0]), spread={"g": 1.0}),
        weight=np.array([1.0, 0.5]),
        theta=np.array([7.0, 0.6, 0.5]),
        residual=np.array([2.0, -1.0]),
    )
    assert _chi_square(problem, solution) == pytest.approx(1.0 + 0.5 + 4.0 + 0.25)


def test_scatter_by_power_and_length_with_a_known_part():
    """tau^2 s^(2g) (1 - r + r/l) + k^2, and the slopes of its logarithm by differences."""
    problem = Problem(np.zeros(3), np.array([0.5, 1.0, 2.0]), np.array([0.5, 1.0, 1.5]), (),
                      known=np.array([0.0, 1.0, 2.0]))  # fmt: skip
    scatter = Scatter(2.0, 0.75, 0.4, {})
    expected = 4.0 * np.array([0.5, 1.0, 2.0]) ** 1.5 * (0.6 + 0.4 / np.array([0.5, 1.0, 1.5]))
    np.testing.assert_allclose(scatter.variance(problem), expected + np.array([0.0, 1.0, 4.0]))
    step = 1e-6
    for row, (a, b) in enumerate(
        [
            (replace(scatter, tau=2.0 * np.exp(-step)), replace(scatter, tau=2.0 * np.exp(step))),
            (replace(scatter, growth=0.75 - step), replace(scatter, growth=0.75 + step)),
            (replace(scatter, fading=0.4 - step), replace(scatter, fading=0.4 + step)),
        ]
    ):
        slope = (np.log(b.variance(problem)) - np.log(a.variance(problem))) / (2.0 * step)
        np.testing.assert_allclose(scatter.growing(problem)[row], slope, atol=1e-8)


def test_what_holds_a_parameter_down():
    columns = (
        Column("free", "", np.ones(1)), Column("held", "", np.ones(1), 0.5),
        Column("member", "", np.ones(1), 99.0, "g"),
    )  # fmt: skip
    problem = Problem(np.zeros(1), np.ones(1), np.ones(1), columns)
    found = precisions(problem, Scatter(1.0, 0.0, 0.0, {"g": 0.1}))
    np.testing.assert_allclose(found, [0.0, 4.0, 100.0])


@pytest.mark.parametrize(
    ("span", "memory", "count"), [(90.0, 30.0, 10), (91.0, 30.0, 11), (0.0, 30.0, 2)]
)
def test_a_drift_stands_on_three_knots_a_memory(span, memory, count):
    time = np.linspace(5.0, 5.0 + span, 7)
    found = drift_columns(time, memory, "slow", np.full(7, 2.0))
    assert [c.name for c in found] == [f"slow {i + 1}" for i in range(count)]
    shapes = np.column_stack([c.effect for c in found]) / 2.0
    together = shapes @ shapes.T
    assert together[0, 0] == pytest.approx(1.0)
    if span == 90.0:
        np.testing.assert_allclose(together[0], np.exp(-(time - 5.0) / memory), atol=0.03)


def test_an_interval_joins_noise_and_what_is_stated():
    """Mean of four readings with a scatter that is given, beside a gain of a stated spread."""
    ones = np.ones(4)
    problem = Problem(
        np.array([9.0, 11.0, 10.0, 10.0]),
        ones,
        ones,
        (Column("mean", "", ones), Column("gain", "", 10.0 * ones, 0.02)),
    )
    found = solved(problem, Scatter(0.8, 0.0, 0.0, {}))
    row = contrast(found.names, {"mean": 1.0})
    assert found.value("mean") == pytest.approx(10.0)
    assert found.deviation(row) == pytest.approx(np.hypot(0.4, 0.2))
    assert found.parts(row) == pytest.approx({"scatter": 0.16, "stated": 0.04})
    assert found.stated_parts(row) == pytest.approx({"mean": 0.0, "gain": 0.04})
    assert found.freedom == pytest.approx(3.0)


def test_climb_costs_the_weight_over_the_efficiency():
    """Without a mass, what the best glide of 8 leaves: 8 x 200 W/12.5 m/s = 128 W s/m at most."""
    errors = SimpleNamespace(climb_efficiency=0.05)
    stated = climb_cost(log_format(climb_efficiency=0.6), 3.0, errors, (12.5, 200.0), 0.4)
    assert (stated.value_W_s_m, stated.spread_W_s_m) == pytest.approx((49.03325, 49.03325 / 12.0))
    model = climb_cost(log_format(climb_efficiency=None), 3.0, errors, (12.5, 200.0), 0.4)
    assert (model.value_W_s_m, model.spread_W_s_m) == pytest.approx((73.549875, 73.549875 / 8.0))
    usual = climb_cost(log_format(climb_efficiency=None), 3.0, errors, (12.5, 200.0))
    assert (usual.value_W_s_m, usual.spread_W_s_m) == pytest.approx((58.8399, 58.8399 * 0.3))
    none = climb_cost(log_format(climb_efficiency=None), None, errors, (12.5, 200.0), 0.4)
    assert (none.value_W_s_m, none.spread_W_s_m) == pytest.approx((64.0, 64.0))
    slow = climb_cost(log_format(), None, errors, (0.5, 200.0))
    assert slow.value_W_s_m == pytest.approx(800.0)


# --- the model of the power -----------------------------------------------------------------------


def around(**errors):
    stated = {"power_share": 0.02, "current_zero_A": 0.05, "rising_air_m_s": 0.03, "climb_m_s": 0.2}
    air = AirData(np.zeros(0), ("offset", "scale"), ("o", "s"), np.diag([0.25, 0.0004]), None,
                  by_configuration_m_s=0.4)  # fmt: skip
    return Surroundings(
        air, SimpleNamespace(**{**stated, **errors}), ClimbCost(50.0, 10.0, ""), 1.0, 0.01
    )


def test_what_instruments_and_air_add_alike():
    """Each column by its definition; errors of the airspeed act by the power's slope."""
    flown = points(
        ["a", "b"],
        [10.0, 20.0],
        [100.0, 300.0],
        climb_m_s=np.array([0.5, -0.5]),
        reduction=np.array([1.0, 0.8]),
    )
    slopes, power = np.array([8.0, -4.0]), np.array([110.0, 290.0])
    found = {c.name: c for c in power_model.shared_columns(flown, around(), slopes, power)}
    expected = {
        "airspeed 1": ([-4.0, 2.0], 1.0), "airspeed 2": ([-1.6, 1.6], 1.0),
        "gain": ([110.0, 290.0], 0.02), "zero": ([16.0, 12.8], 0.05),
        "density": ([40.0 - 55.0, -40.0 - 145.0], 0.01), "climb cost": ([0.5, -0.5], 10.0),
        "rising air a": ([60.0, 0.0], 0.03), "rising air b": ([0.0, 60.0], 0.03),
        "wind a": ([8.0, 0.0], 0.4), "wind b": ([0.0, -4.0], 0.4),
    }  # fmt: skip
    assert set(found) == set(expected)
    for name, (effect, spread) in expected.items():
        np.testing.assert_allclose(found[name].effect, effect, err_msg=name)
        assert found[name].spread == spread
    blind = replace(flown, climb_seen=False)
    names = {c.name: c for c in power_model.shared_columns(blind, around(), slopes, power)}
    assert set(names) ^ set(expected) == {"climb cost", "climb a", "climb b"}
    np.testing.assert_allclose(names["climb b"].effect, [0.0, 60.0])
    assert names["climb b"].spread == 0.2
    none = power_model.shared_columns(flown, around(power_share=0.0), slopes, power)
    assert "gain" not in {c.name for c in none}


@pytest.mark.parametrize(("speed", "number"), [(9.49, 9), (9.5, 10), (10.49, 10), (-0.6, -1)])
def test_bins_are_centred_on_multiples_of_their_width(speed, number):
    assert power_model.bin_number(np.array([speed]), 1.0).tolist() == [number]
    assert power_model.bin_number(np.array([0.5 * speed]), 0.5).tolist() == [number]


@pytest.mark.parametrize(("count", "columns"), [(7, 0), (8, 14)])
def test_eight_points_tell_a_drift(count, columns):
    """A trend, and a process whose memory is a quarter of the time: 13 knots."""
    flown = points(["a"] * count, [10.0] * count)
    made, groups = power_model.drifting(flown, 200.0)
    assert len(made) == columns
    assert [(g.usual, g.freedom) for g in groups] == ([(3.0, 5.0)] if columns else [])
    if columns:
        np.testing.assert_allclose(made[0].effect, np.linspace(-0.5, 0.5, 8))
    assert power_model.drifting(replace(flown, time_s=np.zeros(count)), 200.0) == ([], [])


def test_curves_are_polynomials_about_the_mean_airspeed():
    """One airspeed alone: a slope that cubes allow, three times P/V."""
    flown = points(["a", "a", "b"], [10.0, 12.0, 14.0], [100.0, 130.0, 280.0])
    made = {c.name: c for c in power_model._curves(flown, {"a": 2, "b": 0}, 11.0)}
    np.testing.assert_allclose(made["a V^0"].effect, [1, 1, 0])
    np.testing.assert_allclose(made["a V^1"].effect, [-1, 1, 0])
    np.testing.assert_allclose(made["a V^2"].effect, [1, 1, 0])
    np.testing.assert_allclose(made["b V^1"].effect, [0, 0, 3])
    assert made["b V^1"].spread == pytest.approx(60.0)
    assert not np.isfinite(made["a V^1"].spread)
    departures, spare = power_model._departures(flown, 1.0, {"a": 1, "b": 0})
    assert [c.name for c in departures] == ["a bin 10", "a bin 12", "b bin 14"]
    np.testing.assert_allclose(departures[1].effect, [0, 1, 0])
    assert spare == 0.0
    assert power_model._departures(flown, 1.0, {"a": 0, "b": 0})[1] == 1.0


def test_legs_flown_again_follow_by_turns_on_opposite_headings():
    flown = points(["a", "b"], [10.0, 12.0], [100.0, 140.0], voltage_V=np.array([15.0, 17.0]))
    more = power_model.flown_again(flown, {("a", 9.0): 2, ("b", 11.0): 1}, 30.0)
    assert more.configuration.tolist() == ["a", "b", "a", "b", "a"]
    assert more.airspeed_m_s.tolist() == [10.0, 12.0, 9.0, 11.0, 9.0]
    assert more.time_s.tolist() == [0.0, 60.0, 120.0, 165.0, 210.0]
    assert more.power_W.tolist() == [100.0, 140.0, 120.0, 120.0, 120.0]
    assert more.north.tolist() == [1.0, 1.0, 1.0, 1.0, -1.0]
    assert more.length_s.tolist() == [20.0, 20.0, 30.0, 30.0, 30.0]
    assert more.voltage_V.tolist() == [15.0, 17.0, 16.0, 16.0, 16.0]
    assert more.run.tolist() == [0, 1, 2, 3, 4]
    assert more.airspeed_error_m_s.tolist() == [0.1] * 5
    assert more.reduction.tolist() == [1.0] * 5
    assert more.climb_m_s.tolist() == [0.0] * 5


def modelled():
    """Two straight curves 5 W apart, both flown at four airspeeds, three times each."""
    speed = np.tile(np.repeat([9.0, 11.0, 13.0, 15.0], 2), 3)
    names = ["a", "b"] * 12
    power = 10.0 * speed + np.where(np.array(names) == "a", -5.0, 0.0)
    power = power + 0.5 * np.outer([1.0, -1.0, 0.0], np.tile([1.0, 1.0, -1.0, -1.0], 2)).ravel()
    flown = points(names, speed, power)
    none = SimpleNamespace(power_share=0.02, current_zero_A=0.0, rising_air_m_s=0.0, climb_m_s=0.0)
    empty = AirData(np.zeros(0), (), (), np.zeros((0, 0)), None)
    return power_model.power_model(
        flown, Surroundings(empty, none, ClimbCost(0.0, 0.0, ""), 1.0, 0.0)
    )


def test_a_model_tells_curves_and_their_slopes():
    model = modelled()
    assert model.degrees == {"a": 3, "b": 3}
    assert model.centre_m_s == pytest.approx(12.0)
    for name, shift in (("a", -5.0), ("b", 0.0)):
        row = model.at(name, 11.0, 11)
        assert model.power_W(row) == pytest.approx(110.0 + shift, abs=0.2)
        assert model.curve(name)(14.0) == pytest.approx(140.0 + shift, abs=0.2)
    np.testing.assert_allclose(model.slopes(model.points), 10.0, atol=1.0)
    # A bin that was not flown has no departure of its own.
    assert model.at("a", 11.0, 99).sum() == model.at("a", 11.0, 11).sum() - 1.0


def binned(model):
    return tuple(binned_power(model, name, 0.9) for name in "ab")


def test_bins_of_a_model():
    found = binned(modelled())[0]
    assert [b.number for b in found.bins] == [9, 11, 13, 15]
    first = found.bins[1]
    assert (first.low_m_s, first.high_m_s, first.airspeed_m_s) == (10.5, 11.5, 11.0)
    assert first.segments == 3
    assert first.interval_W == pytest.approx(
        (first.power_W - first.half_width_W, first.power_W + first.half_width_W)
    )
    model = modelled()
    rest = model.solution.residual
    chosen = [i for i in range(0, 24, 2) if model.points.airspeed_m_s[i] == 11.0]
    assert first.spread_W == pytest.approx(np.std(rest[chosen], ddof=1))
    total = sum(value**2 for value in first.parts_W.values())
    assert total == pytest.approx(float(first.row @ model.solution.covariance @ first.row))


def test_nothing_is_left_of_a_prediction_that_is_true():
    """Bias, scatter and slope of known residuals: 1, 3 and 5 W at 10, 12 and 14 m/s."""
    flown = points(["a"] * 3, [10.0, 12.0, 14.0], [101.0, 123.0, 145.0])
    model = SimpleNamespace(points=flown, around=SimpleNamespace(cost=ClimbCost(50.0, 0.0, "")))
    prediction = SimpleNamespace(
        at_points=lambda v, names, values: 10.0 * v, is_allowed=lambda v, name: v < 15.0,
        power_W=lambda v, name, values: 10.0 * v, inputs={"p": "p", "q": "q"},
        unknowns={"x": SimpleNamespace(covers="q")},
        input_effects_W=lambda v, name: np.column_stack((0.03 * v, 0.04 * v)),
    )  # fmt: skip
    bins = [SimpleNamespace(airspeed_m_s=v, power_W=10.0 * v + d, half_width_W=0.5)
            for v, d in ((10.0, 0.9), (12.0, -1.2), (16.0, 9.0))]  # fmt: skip
    measured = {"a": SimpleNamespace(bins=bins)}
    [found] = residuals.residuals(measured, model, prediction, None)
    assert found.residual_W.tolist() == [1.0, 3.0, 5.0]
    assert (found.bias_W, found.scatter_W, found.slope_W_s_m) == pytest.approx((3.0, 2.0, 1.0))
    assert found.bias_share == pytest.approx(3.0 / 120.0)
    # 1.645 x hypot(0.03, 0.04) V = 0.0822 V at a level of 90 % (normal distribution's table).
    np.testing.assert_allclose(
        found.prediction_half_width_W, 1.644854 * 0.05 * np.array([10, 12, 16]), rtol=1e-6
    )
    assert found.outside == 1
    assert found.unpredicted == 0
    [fitted] = residuals.residuals(
        measured, model, prediction, SimpleNamespace(values={"x": 1.0}, level=0.95)
    )
    np.testing.assert_allclose(
        fitted.prediction_half_width_W, 1.959964 * 0.03 * np.array([10, 12, 16]), rtol=1e-6
    )
    curve = residuals.predicted_curves(measured, prediction)["a"]
    assert curve.airspeed_m_s.size == 81
    assert (curve.airspeed_m_s[0], curve.airspeed_m_s[-1]) == pytest.approx((9.7, 16.3))
    np.testing.assert_array_equal(np.isnan(curve.power_W), curve.airspeed_m_s >= 15.0)


def test_a_difference_of_two_curves_and_the_legs_that_would_know_it_better():
    """Five watts apart; 1 - 0.1/4 over four bins (Bonferroni); more legs narrow what scatters."""
    model = modelled()
    found = difference.difference(model, *binned(model))
    assert [b.airspeed_m_s for b in found.bins] == [9.0, 11.0, 13.0, 15.0]
    for one in found.bins:
        assert one.difference_W == pytest.approx(-5.0, abs=0.2)
        half = model.solution.half_width(one.row, 0.9)
        assert one.interval_W == pytest.approx((one.difference_W - half, one.difference_W + half))
        theirs = 10.0 * one.airspeed_m_s
        assert one.share == pytest.approx(one.difference_W / theirs, rel=0.01)
        assert one.share_interval == pytest.approx(
            [side * one.share / one.difference_W for side in one.interval_W]
        )
        sure = model.solution.half_width(one.row, 1.0 - 0.1 / 4.0)
        assert one.half_width_of_sign_W == pytest.approx(sure)
        assert one.first_draws == ("less" if abs(one.difference_W) > sure else "unknown")
    widths = [next_flight.half_width_after(model, found, found.bins[1], n, 0.9) for n in (1, 4, 16)]
    assert widths[0] > widths[1] > widths[2] > 0.0


@pytest.mark.parametrize(("least", "legs"), [(1, 1), (2, 2), (7, 7), (32, 32), (33, None)])
def test_the_fewest_legs_that_settle_a_sign_are_proposed(monkeypatch, least, legs):
    """By halving; a leg of 20 s, both configurations, half as much again between them."""
    monkeypatch.setattr(
        next_flight, "half_width_after", lambda m, i, b, n, level: 0.9 if n >= least else 1.1
    )
    model = modelled()
    open_ = bin_at(11.0, 1.0, 1.2, "unknown")
    open_ = replace(open_, row=np.zeros(len(model.solution.names)))
    [found] = next_flight.proposals(model, pair(open_, bin_at(9.0, -5.0, 1.0, "less")), 0.9)
    assert found.legs_of_each == legs
    if legs is None:
        assert found.obstacle.startswith("more than 32 legs of each would be needed for 1.0 W")
    else:
        assert found.minutes == pytest.approx(legs * 2.0 * 20.0 * 1.5 / 60.0)


def test_what_is_stated_stands_in_the_way():
    """The gain's 2 % of 110 W at 95 % over two bins: 2.24 x 2.2 W, above 1 W."""
    model = modelled()
    row = model.at("b", 11.0, 11)
    told = next_flight._obstacle(model, replace(bin_at(11.0, 1.0, 1.2, "unknown"), row=row), 0.975)
    assert "what is stated leaves" in told
    assert "power sensor's gain" in told
    stated = model.solution.stated_parts(row)["gain"]
    assert f"leaves {2.241403 * stated**0.5:.1f} W" in told
