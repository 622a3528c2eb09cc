"""The model of the power, differences and proposals, by hand.

No source but the rules stated in the modules; all numbers are invented.
"""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from test_flight_log_words import bin_at, pair

from vlm.log import difference, next_flight, power_model, residuals
from vlm.log.bins import binned_power
from vlm.log.points import SteadyPoints
from vlm.log.power_model import Surroundings
from vlm.log.stated import ClimbCost
from vlm.log.wind import AirData


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
    # One parameter, the power of all points, whose half-width at any level is 0.6 W.
    model = SimpleNamespace(
        points=flown,
        around=SimpleNamespace(cost=ClimbCost(50.0, 0.0, ""), width_m_s=1.0),
        at=lambda name, speed, number: np.ones(1),
        solution=SimpleNamespace(half_width=lambda row, level: 0.6 * float(row[0])),
    )
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
    # Of the mean of 10, 12 and 14 m/s: hypot of 0.6 W and 1.645 x 0.05 x 12 W.
    half = np.hypot(0.6, 1.644854 * 0.05 * 12.0)
    assert found.bias_half_width_W == pytest.approx(half, rel=1e-6)
    assert found.bias_share_half_width == pytest.approx(half / 120.0, rel=1e-6)
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
    first, second = binned(model)
    alone = replace(first, bins=first.bins[:1])
    [one] = difference.difference(model, alone, second).bins
    assert one.half_width_of_sign_W == pytest.approx(model.solution.half_width(one.row, 0.9))
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
