"""Logs that cannot be what their block says: refused with the key, and the unit or sign that fits.

Each starts from a sound log and breaks one thing, as a slip in the block or a bad sensor does.
"""

import numpy as np
import pandas as pd
import pytest
from craft_for_logs import MASS, SETTINGS, Truth, invent, log_format, log_text

from vlm.errors import InputRefused
from vlm.log.analysis import Craft, LogPlan, measured
from vlm.log.lines import LogLines
from vlm.log.plausible import _clock, temperature_warnings
from vlm.log.reading import read_log
from vlm.log.rows import RowTally

PLAN = LogPlan(compare=("loiter", "dash"))


@pytest.fixture(scope="module")
def text():
    return log_text(Truth({}), 6, seconds=20.0, passes=2)


def table_of(text):
    return pd.read_csv(pd.io.common.StringIO(text), comment="#")


def studied(tmp_path, table, how=None, **craft):
    path = tmp_path / "log.csv"
    path.write_text(invent.as_csv(table, "# invented\n"))
    how = how or log_format()
    what = Craft("an invented craft", "invented.toml", how, SETTINGS, MASS, **craft)
    return measured(what, read_log(path, how), PLAN)


@pytest.mark.parametrize(("days", "fits"), [(0.9, True), (1.1, False)])
def test_a_flight_of_more_than_a_day_is_none(tmp_path, text, days, fits):
    path = tmp_path / "log.csv"
    path.write_text(text)
    lines = LogLines(path, log_format(), RowTally())
    cells = pd.DataFrame({"time": np.zeros(100)})
    if fits:
        _clock(lines, cells, log_format(), 1.0, days * 864.0)
        return
    with pytest.raises(InputRefused, match="which is no flight"):
        _clock(lines, cells, log_format(), 1.0, days * 864.0)


def columns(**changes):
    block = log_format().columns.model_dump(exclude_none=True)
    for key, change in changes.items():
        block[key] = {**block[key], **change}
    return log_format(columns=block)


def refused(tmp_path, table, message, how=None, **craft):
    with pytest.raises(InputRefused, match=message):
        studied(tmp_path, table, how, **craft)


def test_milliseconds_declared_as_seconds(tmp_path, text):
    table = table_of(text)
    table["t_s"] = 1000.0 * table["t_s"]
    refused(tmp_path, table, r'time\.unit = "s"; then a row comes each 200 s.*likely "ms"')


def test_a_current_of_the_wrong_sign(tmp_path, text):
    table = table_of(text)
    table["amp"] = -table["amp"]
    refused(tmp_path, table, r"log\.columns\.current\.negated = true")


def test_milliamperes_declared_as_amperes(tmp_path, text):
    table = table_of(text)
    table["amp"] = 1000.0 * table["amp"]
    refused(tmp_path, table, r'amp is typically .* A in flight.*likely "mA"|biased sample')


def test_centiamperes_beyond_what_the_rotors_draw(tmp_path, text):
    """A factor of ten is within a small craft's range, but not within this one's rotors'."""
    table = table_of(text)
    table["amp"] = 10.0 * table["amp"]
    refused(tmp_path, table, "the rotors of the file draw 600 W at most", power_max_W=600.0)


def test_knots_declared_as_metres_a_second(tmp_path, text):
    """1 kt is 1852 m/h by definition; the ground speed shows the ratio."""
    table = table_of(text)
    table["ias_m_s"] = table["ias_m_s"] * 3600.0 / 1852.0
    refused(tmp_path, table, r'reads 1\.9\d times what it is\. The unit is likely "kt"')


def test_hectopascals_declared_as_pascals(tmp_path, text):
    how = columns(pressure={"unit": "Pa"})
    refused(tmp_path, table_of(text), r'static_hPa.*The unit is likely "hPa" or "mbar"', how)


def test_a_temperature_in_the_wrong_unit(tmp_path, text):
    how = columns(temperature={"unit": "K"})
    refused(tmp_path, table_of(text), r'oat_degC.*The unit is likely "degC"', how)


def test_a_current_that_stands_still_is_left_out(tmp_path, text):
    """The sensor freezes for a minute: those cells give no power, and the result hardly moves."""
    table = table_of(text)
    sound = studied(tmp_path, table)
    frozen = table.copy()
    frozen.loc[1000:1300, "amp"] = 3.0
    found = studied(tmp_path, frozen)
    assert any(f.code == "log-power-stuck" for f in found.findings)
    power = found.log.cells["power"].to_numpy()
    time = found.log.cells["time"].to_numpy()
    assert np.isnan(power[(time > 201.0) & (time < 259.0)]).all()
    for name, bins in found.binned.items():
        for item in bins.bins:
            same = [b for b in sound.binned[name].bins if b.number == item.number]
            for bin_ in same:
                assert item.power_W == pytest.approx(bin_.power_W, abs=2.0 * bin_.half_width_W)


def test_a_current_that_never_moves_is_refused(tmp_path, text):
    refused(tmp_path, table_of(text).assign(amp=3.0), "the power stands still all through the log")


def test_an_altitude_that_never_moves_is_named_with_the_time_it_stood(tmp_path, text):
    found = studied(tmp_path, table_of(text).assign(baro_m=120.0))
    [stuck] = [f for f in found.findings if f.code == "log-altitude-stuck"]
    clock = found.log.cells["time"].to_numpy()
    assert stuck.value == pytest.approx(clock[-1] - clock[0], rel=0.01)


def test_a_hot_thermometer_is_named_and_widens_the_density(tmp_path, text):
    table = table_of(text)
    table["oat_degC"] += 35.0
    found = studied(tmp_path, table)
    assert any(f.code == "log-temperature" for f in found.findings)
    assert found.model.around.density_share > 0.1


@pytest.mark.parametrize(("zero", "expected"), [(0.0, 0), (3000.0, 1)])
def test_a_thermometer_is_held_against_the_air_at_its_height(zero, expected):
    """U.S. Standard Atmosphere 1976: 15 C less 6.5 C a kilometre, so at 3000 m 24 C are 28.5 K too
    warm, near the ground 9 K."""
    cells = pd.DataFrame({"temperature": [297.15, 297.15], "altitude": [0.0, 0.0]})
    found = temperature_warnings(cells, log_format(altitude_zero_m=zero))
    assert len(found) == expected
    if found:
        assert found[0].value == pytest.approx(28.5, abs=0.01)


def test_a_battery_that_gave_more_than_it_holds_is_named(tmp_path, text):
    found = studied(tmp_path, table_of(text), battery_Wh=5.0)
    assert any(f.code == "log-energy" for f in found.findings)


def test_no_climb_column_widens_the_difference_and_is_named(tmp_path, text):
    block = {k: v for k, v in log_format().columns.model_dump(exclude_none=True).items()
             if k not in ("altitude", "pressure")}  # fmt: skip
    found = studied(tmp_path, table_of(text), log_format(columns=block))
    assert not found.points.climb_seen
    assert any(f.code == "log-climb-unseen" for f in found.findings)
    cost = found.model.around.cost.value_W_s_m
    for item in found.differences[0].bins:
        # 0.5 m/s in each of two configurations, at 1.645 standard deviations.
        assert item.interval_W[1] - item.difference_W > 1.6 * 0.5 * np.sqrt(2.0) * cost


def test_configurations_flown_one_after_another_are_named(tmp_path):
    random = np.random.default_rng(3)
    from craft_for_logs import SPEEDS, power_W

    legs = sorted(invent.flight_plan(SPEEDS, 20.0, 2, random), key=lambda leg: leg.configuration)
    table = invent.invented_log(
        lambda v, name, air: power_W(v, SETTINGS[name], {}, air), legs, invent.Craft(MASS, 0.55),
        invent.Weather(), invent.Instruments(), random,
    )  # fmt: skip
    found = studied(tmp_path, table)
    assert any(f.code.startswith("log-order") for f in found.findings)
    assert found.differences[0].bins
