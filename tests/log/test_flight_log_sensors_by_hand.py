"""What a log's sensors are held against, by hand: saturation, rest, hover, units, clocks, slopes.

No source but definitions, given beside each check; all numbers are invented.
"""

from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from craft_for_logs import log_format
from test_flight_log_segments import made_log

from vlm.constants import GRAVITY, SEA_LEVEL_DENSITY
from vlm.description import log_columns
from vlm.description.log import SteadyCriteria
from vlm.errors import InputRefused
from vlm.log import plausible, saturation
from vlm.log.cells import CellAverager, cell_length, column_interval, typical_interval
from vlm.log.clock import RESTART_ROWS, Clock
from vlm.log.known_loads import (
    KnownLoads,
    Zero,
    corrected_points,
    current_zero,
    hover_check,
    lift_warnings,
)
from vlm.log.motion import climb_source, smoothed_motion, stretches
from vlm.log.points import SteadyPoints
from vlm.log.rows import RowTally
from vlm.log.steady import CRITERIA, Segment, SteadyFlight

# --- saturation ---------------------------------------------------------------------------------


def segments_of(*spans):
    made = [
        Segment("a", 0, first, last, 0.5 * first, 0.5 * last + 0.5, 0, 0, 1, 10.0, 100.0, 1.2, 0.0)
        for first, last in spans
    ]
    return tuple(made)


def flight(count, *spans):
    segment_of = np.full(count, -1)
    for number, (first, last) in enumerate(spans):
        segment_of[first : last + 1] = number
    verdict = np.where(segment_of < 0, CRITERIA.index("climb"), 0)
    none = np.zeros(count)
    return SteadyFlight(segments_of(*spans), verdict, segment_of, none, none)


def currents(piled, top=20.0):
    """Two stretches of evenly spread currents about 15 and 17 A, one with its end piled up."""
    low = 15.0 + np.linspace(-3.0, 3.0, 200)
    high = 17.0 + np.linspace(-3.4, 2.9, 200)
    high[:piled] = top - np.linspace(0.0, 0.05, piled)
    return np.concatenate((low, [np.nan] * 5, high))


SPANS = ((0, 199), (205, 404))


@pytest.mark.parametrize(("piled", "found"), [(0, False), (30, False), (120, True)])
def test_a_pile_at_the_highest_reading_is_the_end_of_a_range(piled, found):
    """More than half as many again as in the next three steps; a step is a quarter of the usual
    scatter, here about 0.1 of the highest reading."""
    values = currents(piled)
    ratios = [np.std(part) / np.mean(part) for part in (values[:200], values[205:])]
    width = 0.25 * np.median(ratios) * 20.0
    near = np.nan_to_num(values) > 20.0 - width
    below = np.nan_to_num(values) > 20.0 - 4.0 * width
    assert (near.sum() > 1.5 * (below.sum() - near.sum())) == found
    at_end = saturation._at_the_end(values, flight(405, *SPANS))
    np.testing.assert_array_equal(at_end, near if found else np.zeros(405, dtype=bool))


@pytest.mark.parametrize(
    ("count", "piled", "found"),
    [(40, 10, False), (40, 11, True), (2000, 20, False), (2000, 21, True), (2000, 11, False)],
)
def test_few_readings_are_no_pile(count, piled, found):
    """Of readings from 10 to 12 and some at 20: more than ten, and more than a hundredth."""
    values = np.r_[np.linspace(10.0, 12.0, count - piled), np.linspace(19.99, 20.0, piled)]
    at_end = saturation._at_the_end(values, flight(count, (0, count - 1)))
    assert at_end.sum() == (piled if found else 0)


@pytest.mark.parametrize(("digit", "found"), [(0.05, True), (1.0, False)])
def test_a_pile_that_coarse_digits_make_is_none(digit, found):
    values = np.round(currents(120) / digit) * digit
    assert saturation._at_the_end(values, flight(405, *SPANS)).any() == found


@pytest.mark.parametrize("values", [np.full(405, np.nan), np.full(405, 12.0)])
def test_readings_that_do_not_wander_have_no_end(values):
    assert not saturation._at_the_end(values, flight(405, *SPANS)).any()


def test_readings_outside_segments_are_no_pile():
    values = currents(0)
    values[200:205] = 30.0
    assert not saturation._at_the_end(values, flight(405, *SPANS)).any()


def test_a_segment_with_saturated_readings_is_taken_out_and_the_others_are_numbered_again():
    spans = ((0, 199), (205, 404), (410, 609))
    values = np.concatenate((currents(120), [np.nan] * 5, currents(0)[:200]))
    steady = flight(610, *spans)
    log = made_log(np.full(610, 10.0), current=values)
    left, [finding] = saturation.without_saturated(log, steady)
    assert [(s.first, s.last) for s in left.segments] == [spans[0], spans[2]]
    assert left.segment_of.tolist() == [0] * 200 + [-1] * 210 + [1] * 200
    assert {CRITERIA[v] for v in left.verdict[205:405]} == {"no reading"}
    assert {CRITERIA[v] for v in left.verdict[200:205]} == {"climb"}
    assert not left.verdict[:200].any()
    assert not left.verdict[410:].any()
    assert not steady.verdict[205:405].any()
    assert (finding.code, finding.value) == ("log-saturated", 1.0)
    assert "current pile up below 20 A" in finding.what


@pytest.mark.parametrize(("piled", "kept"), [(20, 1), (21, 0)])
def test_up_to_a_fiftieth_of_a_segment_may_lie_at_the_end(piled, kept):
    values = np.r_[np.linspace(10.0, 12.0, 1000 - piled), np.linspace(19.99, 20.0, piled)]
    log = made_log(np.full(1000, 10.0), power=values)
    left, found = saturation.without_saturated(log, flight(1000, (0, 999)))
    assert (len(left.segments), len(found)) == (kept, 1 - kept)
    assert all("power pile up below 20 W" in one.what for one in found)


# --- loads that are known without flying ----------------------------------------------------------


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
        assert (one.value, one.limit) == pytest.approx((100.0 * (ratio - 1.0), 20.88), abs=0.01)


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


# --- units, signs, sensors that stand still -------------------------------------------------------


@pytest.mark.parametrize(
    ("speeds", "moving"),
    [([1, 4, 5.1, 10, 10, 10], "001111"), ([0, 0, 0, 0], "1111"), ([np.nan, 10, 10, 4], "0110"),
     ([np.nan] * 3, "111")],
)  # fmt: skip
def test_a_craft_moves_above_half_of_its_usual_airspeed(speeds, moving):
    found = plausible.moving_cells(pd.DataFrame({"airspeed": speeds}))
    assert "".join(str(int(one)) for one in found) == moving


def test_usual_airspeed_is_that_exceeded_for_a_fifth_of_the_time():
    """0 to 10 m/s evenly: 8 m/s, half of it 4 m/s."""
    speed = np.linspace(0.0, 10.0, 101)
    found = plausible.moving_cells(pd.DataFrame({"airspeed": speed}))
    np.testing.assert_array_equal(found, speed > 4.0 + 1e-9)


@pytest.mark.parametrize(
    ("values", "stuck"),
    [
        ([1, 2, 2, 2, 2, 3], "011110"), ([1, 2, 2, 2, 3, 3], "000000"), ([2, 2, 2, 2], "1111"),
        ([0, 0, 0, 0, 0, 1], "000000"), ([5, 5, 5, 5, 0, 7, 7, 7, 7], "111101111"),
    ],
)  # fmt: skip
def test_a_reading_that_repeats_itself_too_long_stands(values, stuck):
    """Three repetitions or more; a zero is no reading that stands."""
    found = plausible._standing(np.array(values, dtype=float), 3.0)
    assert "".join(str(int(one)) for one in found) == stuck


@pytest.mark.parametrize(
    ("key", "unit", "written", "likely"),
    [
        ("voltage", "V", 16000.0, ["mV"]),
        ("current", "mA", 12.0, ["A", "cA"]),
        ("airspeed", "m/s", 1200.0, ["cm/s", "ft/min"]),
        ("temperature", "K", 20.0, ["degC", "degF"]),
        ("rotor_speed_3", "rpm", 1.0, []),
        ("pressure", "Pa", 950.0, ["hPa", "mbar"]),
    ],
)
def test_units_that_would_make_a_reading_one_of_a_flight(key, unit, written, likely):
    kinds = {
        "voltage": log_columns.VoltageColumn, "current": log_columns.CurrentColumn,
        "airspeed": log_columns.SpeedColumn, "temperature": log_columns.TemperatureColumn,
        "rotor_speed_3": log_columns.RotorSpeedColumn, "pressure": log_columns.PressureColumn,
    }  # fmt: skip
    told = plausible.likely_unit(key, kinds[key](name="x", unit=unit), written)
    assert all(f'"{one}"' in told for one in likely), told
    assert bool(told) == bool(likely)
    assert told.count('"') == 2 * len(likely), told


@pytest.mark.parametrize(
    ("interval", "cells", "cell", "unit", "fitting"),
    [
        (0.1, 2000, 0.5, "s", None), (100.0, 60, 100.0, "s", ["ms"]), (1e5, 10, 1e6, "s", ["us"]),
        (1e-4, 10, 1e-3, "ms", ["s", "min"]), (0.5, 200, 1000.0, "s", ["ms"]),
        (31.0, 10, 40.0, "s", []), (29.0, 10, 40.0, "s", None), (100.0, 40, 100.0, "s", []),
        (0.5, 864, 100.0, "s", None), (0.5, 865, 100.0, "s", ["ms"]), (2e-4, 9, 1.0, "s", None),
    ],
)  # fmt: skip
def test_a_clock_in_another_unit_is_refused(interval, cells, cell, unit, fitting):
    """Rows come each 0.2 ms to 30 s, and a flight lasts 5 s to a day."""
    how = log_format(
        columns={**log_format().columns.model_dump(exclude_none=True),
                 "time": {"name": "t_s", "unit": unit}}
    )  # fmt: skip
    lines = SimpleNamespace(refusal=InputRefused)
    frame = pd.DataFrame({"airspeed": np.zeros(cells)})
    if fitting is None:
        plausible._clock(lines, frame, how, interval, cell)
        return
    with pytest.raises(InputRefused) as refused:
        plausible._clock(lines, frame, how, interval, cell)
    told = refused.value.args[0]
    assert f"lasts {cells * cell / 60.0:.4g} min" in told
    assert told.count('"') == 2 + 2 * len(fitting), told
    assert all(f'"{one}"' in told for one in fitting)


@pytest.mark.parametrize(
    ("celsius", "named"),
    [(15.0, False), (33.4, False), (33.6, True), (-16.4, False), (-16.6, True)],
)
def test_a_temperature_25_K_off_the_standard_atmosphere(celsius, named):
    """1000 m: 288.15 K less 6.5 K (ISO 2533); the density's share is that of the temperature."""
    cells = pd.DataFrame({"temperature": [celsius + 273.15] * 3, "altitude": [300.0, 400.0, 500.0]})
    found = plausible.temperature_warnings(cells, log_format(altitude_zero_m=600.0))
    assert bool(found) == named
    away = celsius - 8.5
    assert [f.value for f in found] == pytest.approx([away] if named else [])
    assert plausible.temperature_share(tuple(found)) == pytest.approx(
        abs(away) / 288.15 if named else 0.0
    )


# --- slopes and stretches ------------------------------------------------------------------------


def criteria(**changes):
    return SteadyCriteria.model_validate({"window_s": 4.0, "gap_max_s": 2.0, **changes})


def test_a_stretch_ends_at_a_gap_and_at_a_new_clock():
    """Half-second cells: a silence of 2 s is bridged, of 2.5 s is not."""
    log = made_log(np.full(12, 10.0))
    time = np.array([0.0, 0.5, 1.0, 3.5, 4.0, 7.0, 7.5, 8.0, 8.5, 9.0, 9.5, 10.0])
    log.cells["time"] = time
    log.cells["part"] = [0] * 9 + [1] * 3
    assert stretches(log, 2.0) == [(0, 4), (5, 8), (9, 11)]


@pytest.mark.parametrize(
    ("columns", "source"),
    [
        (["climb_rate", "altitude"], ("climb_rate", 0)),
        (["pressure_altitude", "altitude"], ("altitude", 1)),
        (["pressure_altitude"], ("pressure_altitude", 1)),
        ([], ("", 0)),
    ],
)
def test_which_column_tells_the_climb(columns, source):
    assert climb_source(pd.DataFrame(columns=columns)) == source


def test_straight_lines_keep_their_values_and_slopes():
    """10 m/s + 0.2 m/s^2, climb of 1.5 m/s, a turn of 0.05 rad/s through north; a hole bridged."""
    time = 0.5 * np.arange(60)
    heading = (6.2 + 0.05 * time) % (2.0 * np.pi)
    log = made_log(10.0 + 0.2 * time, altitude=50.0 + 1.5 * time, heading=heading,
                   roll=np.full(60, 0.3), pitch_rate=np.full(60, -0.1))  # fmt: skip
    log.cells.loc[20:22, ["airspeed", "altitude"]] = np.nan
    motion = smoothed_motion(log, criteria())
    np.testing.assert_allclose(motion["airspeed"], 10.0 + 0.2 * time)
    np.testing.assert_allclose(motion["acceleration"], 0.2)
    np.testing.assert_allclose(motion["climb"], 1.5)
    np.testing.assert_allclose(motion["turn"], 0.05)
    np.testing.assert_allclose(motion["bank"], 0.3)
    np.testing.assert_allclose(motion["pitch_rate"], -0.1)
    assert np.isnan(motion["roll_rate"]).all()
    bank = np.arctan(motion["airspeed"] * 0.05 / GRAVITY)
    np.testing.assert_allclose(motion["load_factor"], 1.0 / np.cos(bank))


@pytest.mark.parametrize(("roll", "factor"), [(0.0, 1.0), (np.pi / 3.0, 2.0), (-np.pi / 3.0, 2.0)])
def test_without_a_direction_the_bank_tells_the_load(roll, factor):
    motion = smoothed_motion(made_log(np.full(30, 10.0), roll=np.full(30, roll)), criteria())
    np.testing.assert_allclose(motion["load_factor"], factor)
    plain = smoothed_motion(made_log(np.full(30, 10.0)), criteria())
    np.testing.assert_allclose(plain["load_factor"], 1.0)


def test_a_step_is_smoothed_over_the_window_and_no_farther():
    """4 s of half-second cells: nine points, so four on either side feel a step."""
    step = np.r_[np.full(30, 8.0), np.full(30, 17.0)]
    motion = smoothed_motion(made_log(step), criteria())
    felt = np.flatnonzero(np.abs(motion["airspeed"] - step) > 1e-9)
    assert (felt[0], felt[-1]) == (26, 33)
    assert motion["airspeed"][30] == pytest.approx(8.0 + 9.0 * 5.0 / 9.0)
    short = smoothed_motion(made_log(np.full(8, 10.0)), criteria())
    assert np.isnan(short["airspeed"]).all()
    assert np.isfinite(smoothed_motion(made_log(np.full(9, 10.0)), criteria())["airspeed"]).all()


# --- clocks and cells ----------------------------------------------------------------------------


def rows(times, **columns):
    count = len(times)
    table = {"line": np.arange(count) + 2, "time": np.array(times, dtype=float)}
    return pd.DataFrame({**table, "airspeed": np.arange(count) + 0.5, **columns})


def through(*blocks):
    tally = RowTally()
    clock = Clock(tally)
    passed = [clock.ordered(block) for block in blocks]
    clock.end()
    whole = pd.concat(passed)
    told = {reason: ranges.ranges for reason, ranges in tally.refused.items() if ranges.count}
    return whole["time"].tolist(), whole["part"].tolist(), told


def test_rows_behind_the_clock_and_equal_times_are_left_out_by_line():
    times, parts, told = through(rows([1, 2, 2, 1.5, 3, 4, 3.5, 5]))
    assert times == [1, 2, 3, 4, 5]
    assert parts == [0] * 5
    assert told == {"time repeated": [(4, 4)], "time runs backward": [(5, 5), (8, 8)]}


def test_equal_times_that_fill_each_other_are_kept_once_each():
    nan = np.nan
    table = rows([1, 1, 1, 2], current=[nan, 4.0, 5.0, nan])
    table["airspeed"] = [10.0, nan, nan, 11.0]
    times, _, told = through(table)
    assert times == [1, 1, 2]
    assert told == {"time repeated": [(4, 4)]}


@pytest.mark.parametrize(("behind", "parts"), [(RESTART_ROWS, 2), (RESTART_ROWS - 1, 1)])
@pytest.mark.parametrize("cut", [0, 7])
def test_twenty_rows_in_order_behind_the_clock_are_a_new_part(behind, parts, cut):
    """Whether they come in one block or in two."""
    times = [100.0, 101.0, *(10.0 + i for i in range(behind))]
    whole = rows(times)
    blocks = [whole] if not cut else [whole[:cut], whole[cut:].reset_index(drop=True)]
    kept, part, told = through(*blocks)
    assert sorted(set(part)) == list(range(parts))
    assert len(kept) == (len(times) if parts == 2 else 2)
    assert bool(told) == (parts == 1)
    assert part.count(0) == 2


def test_rows_behind_the_clock_that_run_back_themselves_are_strays():
    """9, then 8: the first is a stray, the second may begin a part; equal ones are repeated."""
    count = RESTART_ROWS
    times = [100.0, 9.0, 8.0, 8.0, *(8.1 + 0.1 * i for i in range(count - 2)), 10.5]
    kept, part, told = through(rows(times))
    assert told == {"time runs backward": [(3, 3)], "time repeated": [(5, 5)]}
    assert part == [0] + [1] * count
    assert kept == [100.0, 8.0, *times[4:]]


def test_strays_before_the_clock_goes_on_are_left_out():
    kept, part, told = through(rows([10.0, 3.0, 4.0, 11.0, 5.0, 6.0, 12.0]))
    assert (kept, part) == ([10.0, 11.0, 12.0], [0, 0, 0])
    assert told == {"time runs backward": [(3, 4), (6, 7)]}


def test_typical_intervals_are_medians_of_those_that_go_on():
    time = np.array([0.0, 0.1, 0.2, 0.2, 0.5, 0.6])
    assert typical_interval(time) == pytest.approx(0.1)
    assert np.isnan(typical_interval(time[:1]))
    values = np.array([1.0, np.nan, 2.0, np.nan, 3.0, np.nan])
    assert column_interval(time, values) == pytest.approx(0.25)


@pytest.mark.parametrize(("every", "length"), [(1, 0.5), (8, 0.8008), (60, 4.0)])
def test_a_cell_holds_a_reading_of_the_slowest_that_decides(every, length):
    """0.1 s a row; up to 4 s a cell; a thousandth more than the interval."""
    current = np.where(np.arange(400) % every == 0, 5.0, np.nan)
    table = pd.DataFrame({"time": 0.1 * np.arange(400), "airspeed": 1.0, "current": current})
    assert cell_length(table, 0.5) == pytest.approx(length)


def test_means_of_cells_by_hand():
    """Directions 350 and 10 deg mean north; a label that changes is mixed; two blocks are one."""
    table = pd.DataFrame(
        {
            "line": [2, 3, 4, 5, 6], "part": [0] * 5, "time": [0.1, 0.3, 0.6, 0.9, 1.2],
            "airspeed": [1.0, 3.0, 5.0, np.nan, 7.0],
            "heading": np.radians([350.0, 10.0, 90.0, 90.0, 180.0]),
            "mode": ["a", "a", "a", "b", "b"],
        }
    )  # fmt: skip
    for cut in (0, 1, 3):
        blocks = [table] if not cut else [table[:cut], table[cut:]]
        cells = CellAverager(0.5, fixed=True).averaged(iter(blocks))
        assert cells["time"].tolist() == [0.25, 0.75, 1.25]
        assert cells["airspeed"].tolist() == [2.0, 5.0, 7.0]
        assert cells["rows"].tolist() == [2, 2, 1]
        assert cells["first_line"].tolist() == [2, 4, 6]
        assert cells["last_line"].tolist() == [3, 5, 6]
        assert cells["mode"].tolist() == ["a", "(mixed)", "b"]
        np.testing.assert_allclose(np.degrees(cells["heading"]), [0.0, 90.0, 180.0], atol=1e-9)


@pytest.mark.parametrize(("step", "length"), [(0.1, 0.5), (0.4, 0.8)])
def test_a_cell_holds_two_rows_of_a_slow_log(step, length):
    table = rows(step * np.arange(50)).assign(part=0)
    averager = CellAverager(0.5)
    averager.averaged(iter([table]))
    assert averager.length_s == pytest.approx(length)
    assert averager.interval_s == pytest.approx(step)


# --- ranges ---------------------------------------------------------------------------------------

# What small craft of 0.1 to 100 kg show in flight, SI (common practice).
RANGES = {
    "airspeed": (2.0, 70.0), "ground_speed": (0.5, 100.0), "power": (1.0, 20e3),
    "voltage": (2.5, 130.0), "current": (0.05, 300.0), "altitude": (0.0, 9000.0),
    "climb_rate": (0.0, 20.0), "velocity_down": (0.0, 20.0), "pressure": (30e3, 110e3),
    "temperature": (225.0, 328.0), "rotor_speed_1": (30.0, 6000.0), "roll_rate": (0.0, 6.0),
    "pitch_rate": (0.0, 6.0), "yaw_rate": (0.0, 6.0), "roll": (0.0, 7.0), "pitch": (0.0, 7.0),
}  # fmt: skip
SI = {
    "power": "W", "voltage": "V", "current": "A", "altitude": "m", "pressure": "Pa",
    "temperature": "K", "rotor_speed_1": "rad/s", "roll_rate": "rad/s", "pitch_rate": "rad/s",
    "yaw_rate": "rad/s", "roll": "rad", "pitch": "rad",
}  # fmt: skip


@pytest.mark.parametrize("key", RANGES)
def test_a_column_s_median_size_lies_within_what_flight_shows(key):
    """Just inside and just outside of both ends, whatever the sign."""
    low, high = RANGES[key]
    unit = SI.get(key, "m/s")
    kinds = {one: kind for kind in log_columns.Column.__subclasses__() for one in kind.SCALES}
    column = kinds[unit](name="x", unit=unit)
    lines = SimpleNamespace(refusal=InputRefused)

    def held(value):
        values = np.array([value, -value, np.nan, 3.0 * value, 0.3 * value, -value])
        plausible._column(lines, key, column, values)

    for value in (low, 1.001 * low, 0.999 * high, high):
        held(value)
    for value in (1.001 * high, *([0.999 * low] if low else [])):
        with pytest.raises(InputRefused) as refused:
            held(value)
        assert f"typically {value:.4g} {unit}" in refused.value.args[0]
        assert f"({low:g} to {high:g})" in refused.value.args[0]


def test_a_column_that_is_never_logged_is_no_slip_of_unit():
    lines = SimpleNamespace(refusal=InputRefused)
    column = log_columns.RotorSpeedColumn(name="x", unit="rpm")
    plausible._column(lines, "rotor_speed_1", column, np.zeros(5))
    plausible._column(lines, "rotor_speed_1", column, np.full(5, np.nan))
    plausible._column(lines, "fold_left", column, np.full(5, 1e9))
    with pytest.raises(InputRefused):
        plausible._column(
            lines, "current", log_columns.CurrentColumn(name="x", unit="A"), np.zeros(5)
        )


def test_the_unit_that_fits_is_named_with_its_offset():
    """20 degC declared as kelvin, and 293 K declared as degC: 566 K, or 20 degC and 37 degF."""
    lines = SimpleNamespace(refusal=InputRefused)
    for unit, value, likely in (("K", 20.0, '"degC" or "degF"'), ("degC", 293.15 + 273.15, '"K"')):
        column = log_columns.TemperatureColumn(name="x", unit=unit)
        with pytest.raises(InputRefused) as refused:
            plausible._column(lines, "temperature", column, np.full(3, value))
        assert f"The unit is likely {likely}." in refused.value.args[0]


@pytest.mark.parametrize(
    ("bad", "used", "named"),
    [(10, 90, False), (11, 89, True), (20, 980, False), (21, 979, True), (50, 0, False)],
)
def test_impossible_readings_beyond_ten_and_a_fiftieth_are_refused(bad, used, named):
    told = SimpleNamespace(count=bad, sentence=lambda: "lines 1-9")
    tally = SimpleNamespace(refused={"impossible value in x": told}, refused_count=bad, used=used)
    lines = SimpleNamespace(refusal=InputRefused, tally=tally)
    column = log_columns.CurrentColumn(name="x", unit="A")
    if not named:
        plausible._impossible(lines, "current", column, {"current": 5e3})
        return
    with pytest.raises(InputRefused) as refused:
        plausible._impossible(lines, "current", column, {"current": 5e3})
    told = refused.value.args[0]
    assert told.startswith(f"{bad} of {bad + used} rows hold")
    assert told.endswith('The unit is likely "mA" or "cA".')


@pytest.mark.parametrize(
    ("count", "altitude", "dropped"),
    [(60, 50.0, False), (61, 50.0, True), (61, 0.0, True), (61, None, False)],
)
def test_a_column_that_never_moves_in_half_a_minute_counts_as_not_logged(count, altitude, dropped):
    speed = 10.0 + np.arange(count) % 2
    height = np.arange(count, dtype=float) if altitude is None else np.full(count, altitude)
    log = made_log(speed, altitude=height, power=speed)
    cells, found = plausible.without_stuck_readings(log.cells, 0.5)
    assert ("altitude" not in cells) == dropped
    assert [f.value for f in found] == ([30.5] if dropped else [])


@pytest.mark.parametrize(
    ("key", "column"), [("power", "power"), ("power", "current"), ("airspeed", "airspeed")]
)
@pytest.mark.parametrize(("repeats", "found"), [(19, False), (20, True)])
def test_readings_that_stand_for_ten_seconds_are_taken_out(key, column, repeats, found):
    """Half a second a cell: twenty repetitions; a current that stands takes the power with it."""
    moving = 10.0 + np.arange(80) % 2 + 0.01 * np.arange(80)
    columns = {name: moving.copy() for name in ("power", "current", "airspeed")}
    columns[column][30 : 31 + repeats] = 12.0
    log = made_log(columns.pop("airspeed"), **columns)
    cells, findings = plausible.without_stuck_readings(log.cells, 0.5)
    taken = np.flatnonzero(cells[key].isna())
    assert taken.tolist() == (list(range(30, 31 + repeats)) if found else [])
    assert [(f.code, f.value) for f in findings] == (
        [(f"log-{key}-stuck", 0.5 * (repeats + 1))] if found else []
    )
    assert all("line 32 on" in f.what for f in findings)


@pytest.mark.parametrize(
    ("power", "negated", "told"),
    [
        (5.0, False, None),
        (-5.0, False, "current.negated = true"),
        (-5.0, True, "current.negated = false"),
    ],
)
def test_a_power_of_the_wrong_sign_is_told_with_its_remedy(power, negated, told):
    columns = log_format().columns.model_dump(exclude_none=True)
    current = {**columns["current"], "negated": negated}
    how = log_format(columns={**columns, "current": current})
    log = made_log(
        np.r_[np.zeros(50), np.full(60, 10.0)], power=np.r_[np.full(50, 1.0), np.full(60, power)]
    )
    tally = SimpleNamespace(refused={}, refused_count=0, used=9)
    lines = SimpleNamespace(refusal=InputRefused, tally=tally)
    if told is None:
        plausible.refuse_the_implausible(lines, log.cells, how, 0.2, 0.5, {})
        return
    with pytest.raises(InputRefused, match=told):
        plausible.refuse_the_implausible(lines, log.cells, how, 0.2, 0.5, {})
