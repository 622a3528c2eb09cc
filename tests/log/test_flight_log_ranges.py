"""Units, signs, and sensors that stand still, by hand.

No source but definitions, given beside each check; all numbers are invented.
"""

from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from craft_for_logs import log_format
from test_flight_log_segments import made_log

from vlm.description import log_columns
from vlm.errors import InputRefused
from vlm.log import plausible


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
    assert [f.value for f in found] == pytest.approx([abs(away)] if named else [])
    assert all(f"far {'warmer' if away > 0.0 else 'colder'} than" in f.what for f in found)
    assert plausible.temperature_share(tuple(found)) == pytest.approx(
        abs(away) / 288.15 if named else 0.0
    )


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
def test_a_power_of_the_wrong_sign_is_reported_with_its_remedy(power, negated, told):
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
