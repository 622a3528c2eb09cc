"""Reading a log: every line is accounted for, every bad row told by its line."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from vlm.description.log import FlightLogFormat
from vlm.errors import InputRefused
from vlm.log.lines import BLOCK_CHARACTERS, LogLines
from vlm.log.reading import read_log
from vlm.log.rows import LineRanges, RowTally
from vlm.log.table import LogTable

COLUMNS = {
    "time": {"name": "t", "unit": "s"},
    "airspeed": {"name": "v", "unit": "m/s", "kind": "true"},
    "power": {"name": "p", "unit": "W"},
}


def log_format(columns=None, **keys):
    block = {"columns": {**COLUMNS, **(columns or {})}, "configuration": "open", **keys}
    return FlightLogFormat.model_validate(block)


def written(tmp_path, text, name="log.csv"):
    path = tmp_path / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return path


def rows_of(path, how):
    """The readable rows of a log, before order of time and averaging, and the tally."""
    tally = RowTally()
    table = LogTable(LogLines(path, how, tally), how)
    frames = list(table.blocks())
    return (pd.concat(frames, ignore_index=True) if frames else pd.DataFrame()), tally


def good_rows(count=40, step=0.5):
    return [f"{i * step:.2f},{10 + 0.1 * (i % 3):.2f},{100 + i % 5}" for i in range(count)]


def test_bad_rows_are_refused_by_line_and_the_rest_is_read(tmp_path):
    lines = good_rows()
    lines[3] = "1.5,oops,100"
    lines[7] = "3.5,10"
    lines[8] = "x,x,x"
    lines[9] = "4.5,inf,100"
    lines[11] = ",10,100"
    lines[13] = "6.5,10,100,7"
    path = written(tmp_path, "t,v,p\n" + "\n".join(lines) + "\n")
    log = read_log(path, log_format())
    told = {why: ranges.ranges for why, ranges in log.tally.refused.items()}
    assert told == {
        "no number in v": [(5, 5)],
        "no number in t": [(10, 10)],
        "not 3 fields": [(9, 9), (15, 15)],
        "impossible value in v": [(11, 11)],
        "no time in t": [(13, 13)],
    }
    assert log.tally.used == 34
    assert log.tally.balances
    assert log.cells["rows"].sum() == 34


def test_values_arrive_in_si_units(tmp_path):
    """Units by definition: 1 kt = 1852 m/h, 1 ft = 0.3048 m, 32 degF = 0 degC = 273.15 K."""
    columns = {
        "airspeed": {"name": "v", "unit": "kt", "kind": "true"},
        "power": {"name": "p", "unit": "kW"},
        "altitude": {"name": "h", "unit": "ft"},
        "temperature": {"name": "T", "unit": "degF"},
        "roll": {"name": "phi", "unit": "deg"},
        "climb_rate": {"name": "c", "unit": "ft/min"},
        "rotor_speeds": ({"name": "n1", "unit": "rpm"}, {"name": "n2", "unit": "1/s"}),
    }
    text = "t,v,p,h,T,phi,c,n1,n2\n0,36,0.2,1000,32,90,60,60,2\n1,36,0.2,1000,32,90,60,60,2\n"
    rows, _ = rows_of(written(tmp_path, text), log_format(columns))
    first = rows.iloc[0]
    assert first["airspeed"] == pytest.approx(18.52)
    assert first["power"] == pytest.approx(200.0)
    assert first["altitude"] == pytest.approx(304.8)
    assert first["temperature"] == pytest.approx(273.15)
    assert first["roll"] == pytest.approx(np.pi / 2)
    assert first["climb_rate"] == pytest.approx(0.3048)
    assert first["rotor_speed_1"] == pytest.approx(2 * np.pi)
    assert first["rotor_speed_2"] == pytest.approx(4 * np.pi)


def test_power_from_voltage_and_a_discharge_written_negative(tmp_path):
    columns = {
        "voltage": {"name": "u", "unit": "mV"},
        "current": {"name": "i", "unit": "mA", "negated": True},
    }
    block = {k: v for k, v in COLUMNS.items() if k != "power"} | columns
    how = FlightLogFormat.model_validate({"columns": block, "configuration": "open"})
    text = "t,v,u,i\n" + "".join(f"{i},10,22000,-5000\n" for i in range(5))
    log = read_log(written(tmp_path, text), how)
    np.testing.assert_allclose(log.cells["power"], 110.0)


@pytest.mark.parametrize(
    ("text", "keys"),
    [
        ("t;v;p\n0;10,5;100\n1;10,5;100\n", {"delimiter": ";", "decimal": ","}),
        ("t\tv\tp\n0\t10.5\t100\n1\t10.5\t100\n", {"delimiter": "tab"}),
        ("t|v|p\n0|10.5|100\n1|10.5|100\n", {"delimiter": "|"}),
        ("t,v,p\r\n0,10.5,100\r\n1,10.5,100\r\n", {}),
        ("t,v,p\r0,10.5,100\r1,10.5,100\r", {}),
        (b"\xef\xbb\xbft,v,p\n0,10.5,100\n1,10.5,100\n", {}),
        ("t,v,p\n0,10.5,100\n1,10.5,100\n".encode("utf-16"), {}),
        ("t,v,p,°\n0,10.5,100,1\n1,10.5,100,1\n".encode("latin-1"), {"encoding": "latin-1"}),
        ('"t","v","p"\n"0","10.5","100"\n"1","10.5","100"\n', {}),
        ("# invented\n# twice\nt,v,p\n0,10.5,100\n# note\n\n1,10.5,100", {}),
        ("logger 3\nt,v,p\n0,10.5,100\n1,10.5,100\n", {"header_line": 2}),
        ("t, v, p\n 0, 10.5 , 100\n 1, 10.5, 100\n", {}),
        ("p,extra,v,t\n100,a,10.5,0\n100,b,10.5,1\n", {}),
        ("t,v,p\n0,1.05e1,+100.\n1,10.5,1E2\n", {}),
    ],
)
def test_the_same_log_in_other_clothes(tmp_path, text, keys):
    log = read_log(written(tmp_path, text), log_format(**keys))
    assert log.tally.used == 2
    assert log.tally.balances
    np.testing.assert_allclose(log.cells["airspeed"], 10.5)
    np.testing.assert_allclose(log.cells["power"], 100.0)


def test_numbers_with_the_other_decimal_mark_are_not_guessed_at(tmp_path):
    path = written(tmp_path, "t;v;p\n0;10.5;100\n1;10.5;100\n")
    with pytest.raises(InputRefused, match=r'no number in v: 2, lines 2 to 3.*log.decimal = "\."'):
        read_log(path, log_format(delimiter=";", decimal=","))


def test_missing_values_are_no_bad_rows(tmp_path):
    lines = good_rows()
    lines[4] = "2.0,,104"
    lines[5] = "2.5,-,100"
    lines[6] = "3.0,10.0,"
    path = written(tmp_path, "t,v,p\n" + "\n".join(lines))
    log = read_log(path, log_format(missing=("", "-"), cell_s=0.1))
    assert log.tally.refused_count == 0
    assert log.tally.noted["no airspeed (a drop-out)"].ranges == [(6, 7)]
    assert log.tally.noted["no power (a drop-out)"].ranges == [(8, 8)]


def test_the_slow_way_through_a_block_reads_the_same_as_the_fast_one(tmp_path):
    """One unreadable cell sends the whole block the other way; no other value may change."""
    random = np.random.default_rng(5)
    lines = [
        f"{i * 0.1:.1f},{v:.7g},{p:.10g}"
        for i, (v, p) in enumerate(random.normal(20.0, 9.0, size=(300, 2)))
    ]
    fast, _ = rows_of(written(tmp_path, "t,v,p\n" + "\n".join(lines), "a.csv"), log_format())
    lines.insert(100, "x,x,x")
    slow, tally = rows_of(written(tmp_path, "t,v,p\n" + "\n".join(lines), "b.csv"), log_format())
    assert tally.refused["no number in t"].ranges == [(102, 102)]
    assert len(slow) == len(fast)
    np.testing.assert_array_equal(fast["power"], slow["power"])
    np.testing.assert_array_equal(fast["airspeed"], slow["airspeed"])


@pytest.mark.parametrize(
    ("pattern", "stamps"),
    [
        ("iso", ["2031-05-04T10:00:00Z", "2031-05-04T10:00:00.5Z", "2031-05-04T12:00:01+02:00"]),
        ("%d.%m.%Y %H:%M:%S.%f", [f"04.05.2031 10:00:{s}" for s in ("00.0", "00.5", "01.0")]),
        ("%H:%M:%S.%f", ["23:59:59.5", "00:00:00.0", "00:00:00.5"]),
    ],
)
def test_time_stamps(tmp_path, pattern, stamps):
    """The last is a clock without a date that runs past midnight."""
    columns = {"time": {"name": "t", "unit": "stamp"}}
    text = "t,v,p\n" + "\n".join(f"{stamp},10,100" for stamp in stamps)
    rows, tally = rows_of(written(tmp_path, text), log_format(columns, time_format=pattern))
    np.testing.assert_allclose(np.diff(rows["time"]), [0.5, 0.5])
    assert tally.refused_count == 0


def test_an_unreadable_stamp_is_a_row_without_time(tmp_path):
    columns = {"time": {"name": "t", "unit": "stamp"}}
    text = "t,v,p\n2031-05-04T10:00:00,10,100\nlater,10,100\n2031-05-04T10:00:01,10,100\n"
    rows, tally = rows_of(written(tmp_path, text), log_format(columns, time_format="iso"))
    assert len(rows) == 2
    assert tally.refused["no time in t"].ranges == [(3, 3)]


def test_repeated_and_backward_times_are_counted_and_left_out(tmp_path):
    times = [0, 1, 2, 2, 3, 2.5, 4, 5]
    text = "t,v,p\n" + "\n".join(f"{t},10,{100 + i}" for i, t in enumerate(times))
    log = read_log(written(tmp_path, text), log_format(cell_s=0.5))
    assert log.tally.refused["time repeated"].ranges == [(5, 5)]
    assert log.tally.refused["time runs backward"].ranges == [(7, 7)]
    assert log.tally.used == 6
    assert set(log.cells["part"]) == {0}


def test_a_clock_set_back_begins_a_new_part(tmp_path):
    times = [*np.arange(50, 80), *np.arange(10, 60)]
    text = "t,v,p\n" + "\n".join(f"{t},{10 + t % 7},{100 + t % 11}" for t in times)
    log = read_log(written(tmp_path, text), log_format())
    assert log.tally.refused_count == 0
    assert log.tally.noted["clock set back, a new part begins"].ranges == [(32, 32)]
    assert log.cells.groupby("part")["rows"].sum().tolist() == [30, 50]


def test_one_wild_time_loses_one_row_not_the_flight(tmp_path):
    times = [*range(30), 1e9, *range(30, 90)]
    text = "t,v,p\n" + "\n".join(f"{t},{10 + t % 7},{100 + t % 11}" for t in times)
    log = read_log(written(tmp_path, text), log_format())
    assert log.tally.used == 91
    assert log.cells.groupby("part")["rows"].sum().tolist() == [31, 60]


def test_blocks_change_nothing(tmp_path, monkeypatch):
    """The same cells however small the blocks, with held-back rows across their edges."""
    random = np.random.default_rng(2)
    times = np.round(np.arange(400) * 0.13, 2)
    times[57:60] -= 5.0
    times[200:] -= 20.0
    lines = [
        f"{t},{v:.3f},{p:.2f}"
        for t, (v, p) in zip(times, random.normal(9, 1, (400, 2)), strict=True)
    ]
    path = written(tmp_path, "t,v,p\n" + "\n".join(lines))
    whole = read_log(path, log_format())
    monkeypatch.setattr("vlm.log.lines.BLOCK_CHARACTERS", 61)
    pieces = read_log(path, log_format())
    assert BLOCK_CHARACTERS > 61
    pd.testing.assert_frame_equal(whole.cells, pieces.cells)
    assert whole.tally == pieces.tally


def test_charging_in_flight_is_used_and_noted(tmp_path):
    text = "t,v,p\n" + "\n".join(
        f"{i},{10 + i % 5},{-20 if 3 <= i < 6 else 100 + i % 3}" for i in range(20)
    )
    log = read_log(written(tmp_path, text), log_format())
    assert log.tally.used == 20
    assert log.tally.noted["power negative (charging in flight)"].ranges == [(5, 7)]
    assert log.cells["power"].min() < 0


def test_directions_are_averaged_as_directions(tmp_path):
    columns = {"heading": {"name": "psi", "unit": "deg"}}
    text = "t,v,p,psi\n" + "\n".join(f"{0.1 * i:.1f},10,100,{(358 + 4 * (i % 2)) % 360}"
                                     for i in range(10))  # fmt: skip
    log = read_log(written(tmp_path, text), log_format(columns, cell_s=1.0))
    np.testing.assert_allclose(np.degrees(log.cells["heading"]), 0.0, atol=1e-9)


@pytest.mark.parametrize(
    ("content", "message"),
    [
        ("", "the file is empty"),
        ("t,v,p\n", "a header but no rows"),
        ("# only a note\n", "no header"),
        ("t,v,p\n1,10,100\n", "one usable row"),
        ("t,v,p\n1,a,b\n2,c,d\n", r"none of its 2 rows could be used \(no number in v: 2, lines"),
        ("t;v;p\n1;10;100\n", r'the header has no "," but 2 times ";"; set log.delimiter = ";"'),
        ("t,vv,p\n1,10,100\n", r'no column "v" \(log.columns.airspeed\); it has t, vv, p'),
        ("t,v,v,p\n1,10,10,100\n", r'has 2 columns "v" \(log.columns.airspeed\)'),
        ("t,v,p\n0,0,100\n1,0,100\n2,0,90\n", r"the airspeed \(v\) is zero in every row"),
        ("t,v,p\n0,,100\n1,,100\n2,,90\n", "holds no airspeed at all"),
        ("t,v,p\n0,10,\n1,11,\n", "holds no power at all"),
        (b"t,v,p\n1,\xff\xfe,3\n", "the text is not utf-8"),
        (b"\x00\x01\x02\x00", "not a text file"),
        ("t,v,p\n" + "9" * 300_000, "a line of more than 200000 characters"),
    ],
)
def test_a_log_that_is_none_is_refused_in_one_message(tmp_path, content, message):
    with pytest.raises(InputRefused, match=message):
        read_log(written(tmp_path, content), log_format())


def test_a_missing_file_and_an_unknown_encoding(tmp_path):
    with pytest.raises(InputRefused, match="no such file"):
        read_log(tmp_path / "none.csv", log_format())
    with pytest.raises(InputRefused, match=r"log\.encoding = .utf-99"):
        read_log(written(tmp_path, "t,v,p\n"), log_format(encoding="utf-99"))


def test_a_stuck_airspeed_is_doubted(tmp_path):
    text = "t,v,p\n" + "\n".join(
        f"{i},{10.0 if 20 <= i < 50 else 10 + 0.1 * (i % 4)},{100 + i % 3}" for i in range(80)
    )
    log = read_log(written(tmp_path, text), log_format())
    assert [f.code for f in log.findings if "stuck" in f.code] == ["log-airspeed-stuck"]
    left = log.cells["airspeed"].isna().to_numpy()
    assert left.sum() * log.cell_s == pytest.approx(30.0, abs=2.0 * log.cell_s)


@given(st.lists(st.integers(1, 300), max_size=60))
def test_line_ranges_count_every_line_once(numbers):
    ranges = LineRanges()
    ranges.add(numbers)
    found = [line for first, last in ranges.ranges for line in range(first, last + 1)]
    assert found == sorted(set(numbers))
    assert ranges.count == len(found)


CELLS = st.sampled_from(["1", "2.5", "", "x", "nan", "-3", "1e400", '"', "1,2", "é", "\0", "  7 "])


@given(st.lists(st.lists(CELLS, min_size=1, max_size=4), max_size=12))
def test_any_text_below_a_header_is_accounted_for(tmp_path_factory, rows):
    """Whatever stands there: it is read, or refused in one message; no line is lost."""
    text = "t,v,p\n" + "\n".join(",".join(row) for row in rows)
    path = written(tmp_path_factory.mktemp("log"), text)
    try:
        log = read_log(path, log_format())
    except InputRefused:
        return
    assert log.tally.balances
    assert log.tally.lines == len(text.split("\n")) - text.endswith("\n")
