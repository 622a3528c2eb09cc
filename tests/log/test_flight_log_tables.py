"""Logs as recorders write them: several tables, labels on change, packed, slow batteries."""

import gzip

import numpy as np
import pandas as pd
import pytest
from craft_for_logs import MASS, SETTINGS, Truth, log_format, log_text

from vlm.errors import InputRefused
from vlm.log.analysis import Craft, LogPlan, measured
from vlm.log.joining import filled, joined
from vlm.log.reading import read_log

PLAN = LogPlan(compare=("loiter", "dash"))
# Columns that a recorder writes together, and every how many rows.
GROUPS = {
    "air": (("ias_m_s", "static_hPa", "oat_degC"), 1),
    "battery": (("volt", "amp"), 2),
    "attitude": (("roll_deg", "yaw_deg", "yaw_rate_deg_s"), 1),
    "position": (("baro_m", "gs_m_s", "course_deg"), 5),
    "rotors": (("rpm",), 3),
}


@pytest.fixture(scope="module")
def whole():
    text = log_text(Truth({}), 12, seconds=25.0, passes=2)
    return pd.read_csv(pd.io.common.StringIO(text), comment="#")


def tables(whole, changes_only=True):
    """The log as a recorder's tables: each group at its own rate, labels on change alone."""
    found = {
        name: whole[["t_s", *columns]].iloc[::step] for name, (columns, step) in GROUPS.items()
    }
    labels = whole[["t_s", "mode"]]
    new = labels["mode"] != labels["mode"].shift()
    return found | {"labels": labels[new] if changes_only else labels}


def studied(log):
    how = log_format()
    return measured(Craft("an invented craft", "invented.toml", how, SETTINGS, MASS), log, PLAN)


def held_against(found, reference):
    """The same bins and differences, within what fewer readings may move them."""
    assert found.differences[0].bins
    for name, power in reference.binned.items():
        mine = {b.number: b for b in found.binned[name].bins}
        for item in power.bins:
            if item.number in mine and mine[item.number].segments == item.segments:
                near = mine[item.number].power_W
                assert near == pytest.approx(item.power_W, abs=0.6 * item.half_width_W)


@pytest.fixture(scope="module")
def reference(whole, tmp_path_factory):
    path = tmp_path_factory.mktemp("whole") / "log.csv"
    whole.to_csv(path, index=False)
    return studied(read_log(path, log_format()))


def test_five_tables_of_different_rates_are_joined(tmp_path, whole, reference):
    paths = []
    for name, table in tables(whole).items():
        paths.append(tmp_path / f"{name}.csv")
        table.to_csv(paths[-1], index=False)
    log = read_log(paths, log_format())
    assert log.tally.balances
    assert log.tally.refused_count == 0
    held_against(studied(log), reference)


def test_one_merged_table_with_blanks_and_equal_times_is_read(tmp_path, whole, reference):
    """Rows of one moment come from different tables and hold different columns."""
    merged = pd.concat(tables(whole).values()).sort_values("t_s", kind="stable")
    path = tmp_path / "merged.csv"
    merged.to_csv(path, index=False)
    log = read_log(path, log_format())
    assert log.tally.balances
    assert log.tally.refused_count == 0
    held_against(studied(log), reference)


def test_a_row_written_twice_is_still_refused(tmp_path, whole):
    twice = pd.concat([whole, whole.iloc[[500]]]).sort_values("t_s", kind="stable")
    twice.to_csv(tmp_path / "twice.csv", index=False)
    log = read_log(tmp_path / "twice.csv", log_format())
    assert log.tally.refused["time repeated"].count == 1


def test_a_slow_battery_gets_longer_cells(tmp_path, whole):
    """A battery at 0.5 Hz beside airspeed at 5 Hz: cells of two seconds, and segments."""
    slow = whole.copy()
    slow.loc[np.arange(len(slow)) % 10 != 0, ["volt", "amp"]] = np.nan
    slow.to_csv(tmp_path / "slow.csv", index=False)
    log = read_log(tmp_path / "slow.csv", log_format())
    assert log.cell_s == pytest.approx(2.0, rel=0.01)
    assert len(studied(log).points) > 10


def test_a_packed_log_reads_as_the_plain_one(tmp_path, whole):
    whole.to_csv(tmp_path / "log.csv", index=False)
    (tmp_path / "log.csv.gz").write_bytes(gzip.compress((tmp_path / "log.csv").read_bytes()))
    plain = read_log(tmp_path / "log.csv", log_format())
    packed = read_log(tmp_path / "log.csv.gz", log_format())
    pd.testing.assert_frame_equal(plain.cells, packed.cells)
    (tmp_path / "bad.csv.gz").write_bytes((tmp_path / "log.csv.gz").read_bytes()[:5000])
    with pytest.raises(InputRefused, match="packed by gzip, but damaged"):
        read_log(tmp_path / "bad.csv.gz", log_format())


def test_a_column_in_two_tables_and_one_in_none_are_refused(tmp_path, whole):
    found = tables(whole)
    for name, table in found.items():
        table.to_csv(tmp_path / f"{name}.csv", index=False)
    paths = [tmp_path / f"{name}.csv" for name in found]
    with pytest.raises(InputRefused, match=r"airspeed.* stands in more than one of the tables"):
        read_log([*paths, tmp_path / "air.csv"], log_format())
    with pytest.raises(InputRefused, match=r'has a column "rpm" \(log.columns.rotor_speed_1\)'):
        read_log([p for p in paths if p.stem != "rotors"], log_format())


def test_rules_of_filling_by_hand():
    """Numbers on a straight line, directions of the nearest, labels held; a long gap stays."""
    time = np.arange(12)
    slow = pd.DataFrame(
        {
            "part": 0, "cell": time, "time": time + 0.5, "rows": 1, "first_line": 1, "last_line": 1,
            "altitude": [0.0, np.nan, 2.0, np.nan, 4.0, *[np.nan] * 6, 9.0],
            "heading": [0.0, np.nan, 1.0, np.nan, 3.0, *[np.nan] * 6, 2.0],
            "mode": ["a", None, None, "b", *[None] * 8],
        }
    )  # fmt: skip
    found = filled(slow, 1.0)
    np.testing.assert_allclose(found["altitude"][:5], [0.0, 1.0, 2.0, 3.0, 4.0])
    assert found["altitude"][5:11].isna().all()
    assert found["heading"][:5].tolist() == [0.0, 0.0, 1.0, 1.0, 3.0]
    assert found["mode"].tolist() == ["a"] * 3 + ["b"] * 9
    grid = ["part", "cell", "time", "rows", "first_line", "last_line"]
    both = joined([slow[[*grid, "altitude"]], slow[[*grid, "mode"]]])
    assert both["rows"].tolist() == [2] * 12
