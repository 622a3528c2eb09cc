"""Rotors at rest, hover and the wings' lift, by hand.

No source but definitions, given beside each check; all numbers are invented.
"""

from types import SimpleNamespace

import numpy as np
import pytest
from craft_for_logs import log_format
from test_flight_log_saturation import flight
from test_flight_log_segments import made_log

from vlm.constants import SEA_LEVEL_DENSITY
from vlm.log.known_loads import (
    KnownLoads,
    Zero,
    corrected_points,
    current_zero,
    hover_check,
    lift_warnings,
)
from vlm.log.points import SteadyPoints


def rested(current, rest_s=20.0, voltage=20.0):
    """At rest, then in flight; half a second a cell."""
    rest = round(rest_s / 0.5)
    speed = np.r_[np.zeros(rest), np.full(200, 12.0)]
    rotor = np.r_[np.zeros(rest), np.full(200, 500.0)]
    amps = np.r_[np.full(rest, current), np.full(200, 15.0)]
    return made_log(speed, current=amps, voltage=np.full(speed.size, voltage), rotor_speed_1=rotor)


def errors(**changes):
    return SimpleNamespace(**{"current_zero_A": 0.1, "power_share": 0.03, **changes})


def test_a_reading_at_rest_and_the_stated_zero_are_weighed_by_their_variances():
    """20 W at 20 V: 0 to 1 A may run, 0.5 ± 1/sqrt(12) A (uniform distribution)."""
    found = current_zero(rested(0.7), KnownLoads(20.0), errors())
    spread = 12.0**-0.5
    weight = 0.1**2 / (0.1**2 + spread**2)
    assert found.value_A == pytest.approx(0.2 * weight)
    assert found.spread_A == pytest.approx(1.0 / np.hypot(1.0 / 0.1, 1.0 / spread))
    assert found.findings == ()


@pytest.mark.parametrize(
    ("away", "named"), [(0.9, False), (0.93, True), (-0.9, False), (-0.93, True)]
)
def test_a_zero_beyond_three_deviations_of_both_is_taken_as_read(away, named):
    """3 sqrt(1/12 + 0.1^2) = 0.917 A."""
    found = current_zero(rested(0.5 + away), KnownLoads(20.0), errors())
    assert bool(found.findings) == named
    if named:
        assert (found.value_A, found.spread_A) == pytest.approx((away, 12.0**-0.5))
        assert found.findings[0].value == pytest.approx(away)
        assert found.findings[0].limit == pytest.approx(0.3)


def test_scatter_at_rest_counts_as_that_of_five_seconds():
    log = rested(0.0)
    log.cells.loc[:39, "current"] = np.tile([0.4, 0.6], 20)
    found = current_zero(log, KnownLoads(2.0), errors(current_zero_A=1e3))
    assert found.value_A == pytest.approx(0.45, rel=1e-6)
    assert found.spread_A == pytest.approx(np.hypot(0.1 / 12.0**0.5, 0.1 / 5.0**0.5), rel=1e-6)


@pytest.mark.parametrize(
    ("log", "loads", "stated"),
    [(rested(0.7, 4.5), KnownLoads(20.0), 0.1), (rested(0.7), None, 0.1),
     (rested(0.7), KnownLoads(20.0), 0.0)],
)  # fmt: skip
def test_without_five_seconds_of_rest_a_load_or_an_error_the_zero_is_as_stated(log, loads, stated):
    found = current_zero(log, loads, errors(current_zero_A=stated))
    assert (found.value_A, found.spread_A, found.findings) == (0.0, stated, ())


@pytest.mark.parametrize(("turning", "at_rest"), [(9.9, True), (10.1, False)])
def test_rotors_stand_still_below_a_fiftieth_of_their_usual_speed(turning, at_rest):
    log = rested(0.7)
    log.cells.loc[:39, "rotor_speed_1"] = -turning
    found = current_zero(log, KnownLoads(20.0), errors())
    assert (found.value_A != 0.0) == at_rest


def points(**changes):
    count = 2
    values = {
        "configuration": np.array(["a", "b"]), "airspeed_m_s": np.array([10.0, 20.0]),
        "power_W": np.array([100.0, 200.0]), "climb_m_s": np.zeros(count),
        "time_s": np.arange(2.0), "length_s": np.ones(count), "voltage_V": np.array([20.0, 19.0]),
        "airspeed_error_m_s": np.zeros(count), "north": np.zeros(count), "east": np.ones(count),
        "reduction": np.array([1.0, 0.9]), "number": np.arange(2), "run": np.arange(2),
        "density_kg_m3": 1.2, "climb_seen": True,
    }  # fmt: skip
    return SteadyPoints(**{**values, **changes})


def test_a_zero_is_taken_away_as_power_at_each_point_s_voltage():
    assert corrected_points(points(), Zero(0.5, 0.1)).power_W.tolist() == [90.0, 191.45]
    same = points()
    assert corrected_points(same, Zero(0.0, 0.1)) is same


def hovered(power, **changes):
    """20 s of hover at some power, then flight at 12 m/s and 100 W; density 0.9 of sea level."""
    speed = np.r_[np.full(40, 0.5), np.full(200, 12.0)]
    watts = np.r_[np.full(40, power), np.full(200, 100.0)]
    columns = {"power": watts, "density": np.full(240, 0.9 * SEA_LEVEL_DENSITY), **changes}
    return made_log(speed, **columns), flight(240, (40, 239))


HOVER = KnownLoads(10.0, 300.0, 0.1)


def test_hover_takes_more_power_in_thin_air():
    """P = T^(3/2)/(2 rho A)^(1/2) (momentum theory), loads beside it."""
    assert HOVER.hover_power_W(0.81 * SEA_LEVEL_DENSITY) == pytest.approx(300.0 / 0.9 + 10.0)


@pytest.mark.parametrize(
    ("ratio", "named"), [(1.2, False), (1.22, True), (0.8, False), (0.78, True)]
)
def test_hover_beyond_two_deviations_of_both_is_named(ratio, named):
    """2 hypot(0.1, 0.03) = 0.2088."""
    log, steady = hovered(ratio * HOVER.hover_power_W(0.9 * SEA_LEVEL_DENSITY))
    share, found = hover_check(log, steady, HOVER, errors())
    assert bool(found) == named
    assert share == pytest.approx(abs(ratio - 1.0) if named else 0.0)
    for one in found:
        assert (one.value, one.limit) == pytest.approx((100.0 * abs(ratio - 1.0), 20.88), abs=0.01)
        assert f"power is {'more' if ratio > 1.0 else 'less'} than" in one.what


@pytest.mark.parametrize(
    ("changes", "seen"),
    [
        ({}, True), ({"airspeed": 2.3}, True), ({"airspeed": 2.5}, False), ({"power": 99.0}, False),
        ({"climb": 0.49}, True), ({"climb": 0.51}, False), ({"climb": -0.51}, False),
        ({"ground": 1.9}, True), ({"ground": 2.1}, False),
    ],
)  # fmt: skip
def test_what_counts_as_hover(changes, seen):
    """Below a fifth of the airspeed, or 2 m/s over ground; level within 0.5 m/s; above 100 W."""
    power = changes.get("power", 2.0 * HOVER.hover_power_W(0.9 * SEA_LEVEL_DENSITY))
    log, steady = hovered(power)
    log.cells.loc[:39, "airspeed"] = changes.get("airspeed", 0.5)
    steady.climb_m_s[:40] = changes.get("climb", 0.0)
    if "ground" in changes:
        log.cells["velocity_north"] = np.r_[
            np.full(40, 0.6 * changes["ground"]), np.full(200, 12.0)
        ]
        log.cells["velocity_east"] = np.r_[np.full(40, -0.8 * changes["ground"]), np.zeros(200)]
    assert bool(hover_check(log, steady, HOVER, errors())[1]) == seen


@pytest.mark.parametrize(
    ("speeds", "code"),
    [((10.0, 20.0), None), ((4.65, 4.65), "1.8"), ((4.75, 20.0), None), ((18.3, 40.0), "0.12"),
     ((18.2, 40.0), None), ((4.0, 20.0), None)],
)  # fmt: skip
def test_lift_coefficients_that_wings_hardly_have(speeds, code):
    """CL = W/(q S), q = 0.6 V^2: 24 N on 1 m^2 are 40/V^2; named where no point lies within."""
    loads = KnownLoads(0.0, weight_N=24.0, wing_area_m2=1.0)
    found = lift_warnings(points(airspeed_m_s=np.array(speeds)), loads, log_format())
    assert [f"{f.limit:g}" for f in found] == ([code] if code else [])
    for one in found:
        speed = speeds[0]
        assert one.value == pytest.approx(40.0 / speed**2)
