"""What a log's rows, segments and names are taken for, rule by rule, by hand.

No source but the rules stated in the modules; all numbers are invented.
"""

from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from craft_for_logs import log_format
from test_flight_log_segments import made_log, named

from vlm.constants import GRAVITY
from vlm.description import log_columns
from vlm.description.log_columns import LogColumns
from vlm.log import joining, proposing, steady
from vlm.log.proposing import SeenColumn, named_quantity, unusual_ranges
from vlm.log.rows import LineRanges, RowTally
from vlm.log.steady import CRITERIA, steady_flight
from vlm.log.table import LogTable

# --- values that cannot be --------------------------------------------------------------------


# Least and highest value of any craft near the ground, SI (common practice).
POSSIBLE = {
    "airspeed": (-5.0, 150.0), "ground_speed": (0.0, 300.0), "power": (-1e5, 1e6),
    "voltage": (-1.0, 2000.0), "current": (-5e3, 5e3), "altitude": (-500.0, 20e3),
    "climb_rate": (-100.0, 100.0), "velocity_down": (-100.0, 100.0),
    "velocity_north": (-300.0, 300.0), "velocity_east": (-300.0, 300.0),
    "pressure": (5e3, 120e3), "temperature": (180.0, 340.0), "rotor_speed_2": (-1e5, 1e5),
    "roll": (-1e6, 1e6), "pitch": (-1e6, 1e6), "heading": (-1e6, 1e6), "track": (-1e6, 1e6),
    "fold": (-1e6, 1e6), "fold_left": (-1e6, 1e6), "fold_right": (-1e6, 1e6),
    "roll_rate": (-1e4, 1e4), "pitch_rate": (-1e4, 1e4), "yaw_rate": (-1e4, 1e4),
}  # fmt: skip


def table_of(**keys):
    made = object.__new__(LogTable)
    made._lines = SimpleNamespace(tally=RowTally())
    made.wild = {}
    for name, value in keys.items():
        setattr(made, name, value)
    return made


@pytest.mark.parametrize("key", POSSIBLE)
def test_readings_beyond_what_is_possible_are_refused(key):
    low, high = POSSIBLE[key]
    span = 1e-3 * (high - low)
    values = [low, high, low - span, high + span, np.inf, -np.inf, np.nan, 0.5 * (low + high)]
    column = SimpleNamespace(name="x", scale=(1.0, 0.0))
    good = np.ones(8, dtype=bool)
    made = table_of()
    made._in_si(key, column, pd.Series(values), np.arange(8) + 2, good)
    assert good.tolist() == [True, True, False, False, False, False, True, True]
    assert made._lines.tally.refused["impossible value in x"].ranges == [(4, 7)]


def test_readings_are_scaled_to_si_and_typical_wild_ones_kept_as_written():
    column = log_columns.CurrentColumn(name="x", unit="mA", negated=True)
    good = np.array([True, True, True, True, False])
    made = table_of()
    cells = pd.Series([-2000.0, 6e6, 8e6, -7e6, 9e9])
    found = made._in_si("current", column, cells, np.arange(5), good)
    assert found[:1].tolist() == [2.0]
    assert good.tolist() == [True, False, False, False, False]
    assert made.wild["current"] == 6e6


def test_a_clock_without_a_date_goes_on_past_midnight():
    """Half a day back is another day, across blocks too; less is a step back."""
    made = table_of(_midnights=0, _last_clock=-np.inf)
    first = made._past_midnight(np.array([86_300.0, np.nan, 86_390.0, 5.0, 2.0]))
    np.testing.assert_array_equal(first, [86_300.0, np.nan, 86_390.0, 86_405.0, 86_402.0])
    assert made._past_midnight(np.array([7.0, 50_000.0, 6_000.0])).tolist() == [
        86_407.0, 136_400.0, 178_800.0,
    ]  # fmt: skip
    assert made._past_midnight(np.array([6_001.0])).tolist() == [178_801.0]


def test_times_that_are_none_or_impossible_are_refused():
    how = SimpleNamespace(columns=SimpleNamespace(time=log_columns.TimeColumn(name="t", unit="ms")))
    made = table_of(_how=how)
    good = np.array([True, True, True, True, False])
    found = made._time(pd.Series([1000.0, np.nan, 2e14, -1e14, np.nan]), np.arange(5) + 2, good)
    assert found[0] == 1.0
    assert good.tolist() == [True, False, False, True, False]
    refused = {k: v.ranges for k, v in made._lines.tally.refused.items()}
    assert refused == {"no time in t": [(3, 3)], "impossible value in t": [(4, 4)]}


@pytest.mark.parametrize(
    ("text", "decimal", "value"),
    [
        ("1.5", ".", 1.5),
        ("-.5", ".", -0.5),
        ("2.", ".", 2.0),
        ("1e-3", ".", 1e-3),
        ("+7", ".", 7.0),
        ("inf", ".", np.inf),
        ("-Infinity", ".", -np.inf),
        ("1,5", ",", 1.5),
        ("1.5", ",", None),
        ("0x10", ".", None),
        ("1_0", ".", None),
        ("abc", ".", None),
        ("1 2", ".", None),
    ],
)
def test_what_is_a_number(text, decimal, value):
    how = SimpleNamespace(missing=("NA",), decimal=decimal)
    numbers, bad = table_of(_how=how)._parsed(pd.Series([text, "NA", " NA "]))
    assert bad.tolist() == [value is None, False, False]
    assert value is None or numbers[0] == value


def test_lines_are_kept_as_ranges(monkeypatch):
    monkeypatch.setattr("vlm.log.rows.KEPT_RANGES", 3)
    made = LineRanges()
    for lines in ([5, 4, 4], [6], [], [9], [11, 12], [20, 21], [30]):
        made.add(lines)
    assert made.ranges == [(4, 6), (9, 9), (11, 12)]
    assert (made.count, made.left_out) == (9, 3)
    assert made.sentence() == "lines 4 to 6, 9, 11 to 12"
    assert LineRanges(1, [(3, 3)]).sentence() == "line 3"
    many = LineRanges(8, [(2 * i, 2 * i) for i in range(8)])
    assert many.sentence() == "lines 0, 2, 4, 6, 8, 10 and 2 more places"
    many.left_out = 1
    assert many.sentence().endswith("and 2+ more places")


def test_every_line_is_in_one_count():
    made = RowTally(lines=12, preamble=1, comments=2, blank=1, used=5)
    made.refuse("bad", [3, 4])
    made.refuse("worse", [5])
    made.refuse("none", [])
    assert (made.refused_count, made.balances) == (3, True)
    made.used = 4
    assert not made.balances
    assert made.sentences()[0] == "12 lines, 4 rows used, 3 refused"
    assert [row["what"] for row in made.as_dict()["refused_by_reason"]] == ["bad", "worse"]


# --- segments ------------------------------------------------------------------------------------


def test_energy_height_climb_and_means_of_a_segment():
    """0.1 m/s^2 from 10 m/s and 0.3 m/s of climb: 0.3 + V V'/g."""
    time = 0.5 * np.arange(20)
    speed = 10.0 + 0.1 * time
    log = made_log(
        speed,
        climb_rate=np.full(20, 0.3),
        voltage=np.linspace(16.0, 15.0, 20),
        pitch=np.full(20, 0.1),
        rotor_speed_1=np.full(20, 100.0 * np.pi),
        density=np.linspace(1.1, 1.3, 20),
        power=np.linspace(90.0, 109.0, 20),
    )
    log.cells.loc[3, "power"] = np.nan
    found = steady_flight(log, log_format(), named(log))
    [one] = found.segments
    kept = [i for i in range(one.first, one.last + 1) if i != 3]
    assert one.cells == len(kept)
    assert one.energy_climb_m_s == pytest.approx(
        0.3 + 0.1 * speed[one.first : one.last + 1].mean() / GRAVITY
    )
    assert one.airspeed_m_s == pytest.approx(speed[kept].mean())
    assert one.power_W == pytest.approx(log.cells["power"].to_numpy()[kept].mean())
    assert one.voltage_V == pytest.approx(log.cells["voltage"].to_numpy()[kept].mean())
    assert one.density_kg_m3 == pytest.approx(log.cells["density"][one.first : one.last + 1].mean())
    assert one.pitch_deg == pytest.approx(np.degrees(0.1))
    assert one.rotor_speed_rpm == pytest.approx((3000.0,))
    assert (one.start_s, one.end_s) == pytest.approx((0.5 * one.first, 0.5 * one.last + 0.5))
    assert (one.first_line, one.last_line) == (one.first + 2, one.last + 2)


@pytest.mark.parametrize(
    ("airspeed", "slow"),
    [([10.0] * 5 + [2.4], "000001"), ([10.0] * 5 + [2.6], "000000"), ([np.nan] * 3, "000")],
)
def test_a_quarter_of_the_usual_airspeed_is_not_on_the_wings(airspeed, slow):
    assert "".join(str(int(x)) for x in steady._slow(np.array(airspeed))) == slow


@pytest.mark.parametrize(("missing", "silent"), [(4, False), (5, True)])
def test_a_silence_longer_than_a_gap_is_no_reading(missing, silent):
    """Two seconds of half-second cells; of every column that decides."""
    for name in ("airspeed", "roll", "yaw_rate", "climb_rate"):
        columns = {"roll": np.zeros(20), "yaw_rate": np.zeros(20), "climb_rate": np.zeros(20)}
        log = made_log(np.full(20, 10.0), **columns)
        log.cells.loc[6 : 5 + missing, name] = np.nan
        found = steady._silent(log, 2.0)
        assert np.flatnonzero(found).tolist() == (list(range(6, 6 + missing)) if silent else [])
    log.cells["roll"] = np.nan
    assert not steady._silent(log, 2.0)[:6].any()


def test_a_run_is_cut_where_it_has_wandered_too_far():
    limits = SimpleNamespace(airspeed_drift_max_m_s=1.0)
    smooth = np.array([10.0, 10.5, 11.0, 11.1, 11.5, 12.2, 11.0, 12.05])
    pieces = [(0, 2), (3, 4), (5, 5), (6, 6), (7, 7)]
    assert steady._even_pieces(smooth, 0, 7, limits) == pieces
    assert steady._even_pieces(smooth, 1, 2, limits) == [(1, 2)]
    down = np.array([10.0, 9.5, 9.0, 8.9])
    assert steady._even_pieces(down, 0, 3, limits) == [(0, 2), (3, 3)]


@pytest.mark.parametrize(("read", "verdict"), [(10, None), (9, "no reading")])
def test_half_of_a_segment_must_be_read(read, verdict):
    log = made_log(np.full(20, 10.0))
    power = np.full(20, np.nan)
    power[:read] = 100.0
    log.cells["power"] = power
    found = steady_flight(log, log_format(), named(log))
    assert len(found.segments) == (0 if verdict else 1)
    assert {CRITERIA[v] for v in found.verdict} == {verdict or "steady"}


# --- tables side by side -------------------------------------------------------------------------


def test_gaps_are_filled_by_the_kind_of_a_column():
    """Straight lines, or the nearest reading of a direction; within the reach and a part."""
    nan = np.nan
    part = np.array([0] * 8 + [1] * 2)
    time = np.arange(10.0)
    values = np.array([nan, 1.0, nan, nan, 4.0, nan, nan, nan, 8.0, nan])
    line = joining._bridged(part, time, values, 3.0, nearest=False)
    np.testing.assert_allclose(line, [nan, 1.0, 2.0, 3.0, 4.0, nan, nan, nan, 8.0, nan])
    near = joining._bridged(part, time, values, 3.0, nearest=True)
    np.testing.assert_allclose(near, [nan, 1.0, 1.0, 4.0, 4.0, nan, nan, nan, 8.0, nan])
    assert np.isnan(joining._bridged(part, time, values, 2.9, nearest=False)[2])
    even = np.array([1.0, nan, 3.0])
    assert joining._bridged(np.zeros(3), np.arange(3.0), even, 9.0, nearest=True)[1] == 1.0


def test_columns_written_slowly_are_filled_and_fast_ones_are_not():
    """Cells of half a second; bridged over two and a half of the column's own intervals."""
    nan = np.nan
    slow = np.array([1.0, nan, nan, 4.0, nan, nan, 7.0, *[nan] * 8, 16.0])
    fast = np.where(np.arange(16) == 5, nan, 1.0)
    cells = pd.DataFrame({"part": 0, "cell": np.arange(16), "time": 0.0, "rows": 1, "first_line": 1,
                          "last_line": 1, "altitude": slow, "power": fast})  # fmt: skip
    found = joining.filled(cells, 0.5)
    np.testing.assert_allclose(found["altitude"][:7], np.arange(1.0, 8.0))
    assert found["altitude"][7:15].isna().all()
    assert np.isnan(found["power"][5])
    np.testing.assert_allclose(found["time"], 0.25 + 0.5 * np.arange(16))


# --- names ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "key", "unit"),
    [
        ("v_north_m_s", "velocity_north", "m/s"),
        ("vel_e_cm_s", "velocity_east", "cm/s"),
        ("VD_m_s", "velocity_down", "m/s"),
        ("vn", "velocity_north", ""),
        ("groundSpeed_kt", "ground_speed", "kt"),
        ("course_rad", "track", "rad"),
        ("tas_kph", "airspeed", "km/h"),
        ("climb_ft_s", "climb_rate", "ft/s"),
        ("rollRate_rad_s", "roll_rate", "rad/s"),
        ("pitch_deg", "pitch", "deg"),
        ("yaw", "heading", ""),
        ("volt", "voltage", "V"),
        ("amp", "current", "A"),
        ("motor1_rpm", "rotor_speeds", "rpm"),
        ("fold_left_deg", "fold_left", "deg"),
        ("foldRight_rad", "fold_right", "rad"),
        ("fold_deg", "fold", "deg"),
        ("baro_ft", "altitude", "ft"),
        ("static_kpa", "pressure", "kPa"),
        ("press_mbar", "", "mbar"),
        ("temp_degF", "temperature", "degF"),
        ("mode", "mode", ""),
        ("t_ms", "time", "ms"),
        ("timestamp", "time", ""),
        ("time_us", "time", "us"),
        ("ibat_ma", "current", "mA"),
        ("vbat_mv", "voltage", "mV"),
    ],
)
def test_words_and_endings_of_names(name, key, unit):
    assert named_quantity(name) == (key, unit)


def seen(key, name, unit, low, high, **keys):
    return SeenColumn("f.csv", name, key, unit, 10.0, low, high, 1.0, **keys)


def test_ranges_that_no_small_craft_shows():
    """At most 1.5 m/s; 20 degC are 293 K, 20 K are cold; a factor and an offset."""
    found = unusual_ranges([
        seen("airspeed", "v", "m/s", -1.5, 1.0), seen("airspeed", "w", "m/s", 0.0, 2.5),
        seen("airspeed", "k", "km/h", 0.0, 7.0), seen("temperature", "t", "degC", 5.0, 20.0),
        seen("temperature", "c", "K", 5.0, 20.0), seen("rotor_speeds", "r", "rpm", 0.0, 200.0),
        seen("voltage", "u", "", 0.0, 1.0), seen("mode", "m", "V", 0.0, 1.0),
    ])  # fmt: skip
    assert [text.split(":")[0] for text in found] == ["v", "k", "c", "r"]
    assert found[0] == "v: at most 1.5 in SI; check its unit"


def test_a_block_says_what_it_lacks():
    columns = [seen("time", "t", "s", 0, 9), seen("airspeed", "ias", "m/s", 0, 20),
               seen("current", "i", "", 0, 20), seen("rotor_speeds", "a_rpm", "rpm", 0, 9),
               seen("rotor_speeds", "b", "", 0, 9)]  # fmt: skip
    block, missing = proposing._block(columns, ";", ",", ["open"])
    assert 'delimiter = ";"' in block
    assert 'decimal = ","' in block
    assert 'configuration = "open"' in block
    assert 'airspeed = { name = "ias", unit = "m/s", kind = "indicated" }' in block
    assert (
        'rotor_speeds = [{ name = "a_rpm", unit = "rpm" }, { name = "b", unit = "rpm" }]' in block
    )
    assert missing == ("log.columns.current.unit: i does not tell its unit",
                       "log.columns: power, or voltage and current")  # fmt: skip
    modes = seen("mode", "m", "", 0, 0, labels=("OPEN", "shut"))
    full = [
        seen("airspeed", "tas_m_s", "m/s", 0, 20),
        seen("voltage", "u_v", "V", 0, 9),
        seen("current", "i_a", "A", 0, 20),
        seen("power", "p_w", "W", 0, 20),
        modes,
    ]
    block, missing = proposing._block(full, ",", ".", ["open", "dash"])
    assert 'modes = { "OPEN" = "open", "shut" = "?" }' in block
    assert 'kind = "true"' in block
    assert "power" not in block
    assert "delimiter" not in block
    assert missing == (
        "log.modes: what shut stands for",
        "log.columns.time: no column's name tells it",
    )
    _, missing = proposing._block(full[:1], "\t", ".", ["open", "dash"])
    assert "log.configuration: which configuration was flown" in missing


def flight_path(rate_deg_s, count=120, step=0.5, speed=10.0, unit="time_s"):
    time = step * np.arange(count)
    track = np.radians(rate_deg_s) * time
    return pd.DataFrame(
        {
            unit: time * (1e3 if unit == "time_ms" else 1.0),
            "vn_m_s": speed * np.cos(track),
            "ve_m_s": speed * np.sin(track),
        }
    )


@pytest.mark.parametrize(
    ("table", "turns"),
    [
        (flight_path(5.5), True), (flight_path(-5.5), True), (flight_path(4.5), False),
        (flight_path(5.5, unit="time_ms"), True), (flight_path(5.5, count=49), False),
        (flight_path(5.5, count=50), True), (flight_path(5.5, speed=2.9), False),
        (flight_path(5.5, speed=3.1), True), (flight_path(5.5)[["vn_m_s", "ve_m_s"]], False),
    ],
)  # fmt: skip
def test_a_flight_that_is_mostly_turns(table, turns):
    """Faster than 5 degrees a second, in fifty rows faster than 3 m/s."""
    assert proposing._turns(table) == turns


def test_every_quantity_that_names_tell_is_one_of_the_block_s():
    keys = {key for key, _ in proposing.WORDS} - {"rotor_speeds"}
    assert keys <= set(LogColumns.model_fields)
