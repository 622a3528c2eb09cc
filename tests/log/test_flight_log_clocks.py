"""Slopes, stretches, clocks and cells, by hand.

No source but definitions, given beside each check; all numbers are invented.
"""

from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from test_flight_log_segments import made_log

from vlm.constants import GRAVITY
from vlm.description.log import SteadyCriteria
from vlm.log import reading
from vlm.log.cells import CellAverager, cell_length, column_interval, typical_interval
from vlm.log.clock import RESTART_ROWS, Clock
from vlm.log.motion import climb_source, smoothed_motion, stretches
from vlm.log.rows import RowTally


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


@pytest.mark.parametrize(
    ("rows", "columns", "length"),
    [
        (9, {"airspeed": 9}, 0.8),  # two rows of 0.4 s
        (9, {"altitude": 9}, 0.5),  # nothing fast: as the file asks for
        (9, {"airspeed": 3}, 1.6016),  # a reading every 1.6 s
        (2, {"airspeed": 2}, 0.8),
        (1, {"airspeed": 1}, 0.5),
        (0, {}, 0.5),
    ],
)
def test_the_cells_of_a_table_hold_two_of_its_rows_and_a_reading(
    monkeypatch, rows, columns, length
):
    block = pd.DataFrame({"time": 0.4 * np.arange(rows)})
    for name, known in columns.items():
        block[name] = np.nan
        block.loc[:: max(1, (rows - 1) // max(known - 1, 1)), name] = 10.0
    blocks = iter([block]) if rows else iter([])
    monkeypatch.setattr(reading, "LogLines", lambda *_: None)
    monkeypatch.setattr(
        reading, "LogTable", lambda *_, whole: SimpleNamespace(blocks=lambda: blocks)
    )
    how = SimpleNamespace(cell_s=0.5)
    assert reading._length_of_cells(None, how) == pytest.approx(length)
