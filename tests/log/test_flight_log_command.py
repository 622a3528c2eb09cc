"""``foldspan log`` on good and on hostile logs: a sound result, or one clear message."""

import json
from pathlib import Path

import numpy as np
import pytest
from craft_for_logs import Truth, invent, log_text

from vlm.cli.main import main
from vlm.description.loading import load_biplane_text

CRAFT = """title = "An invented craft for the checks of logs"

[upper]
span_m = 0.9
root_chord_m = 0.18
end_chord_m = 0.18

[upper.tips]
span_m = 0.3
end_chord_m = 0.18

[configurations]
loiter = { fold_deg = 10 }
dash = { fold_deg = -90 }

[mass]
body_kg = 3.0
body_centre_m = [0.04, 0.0, 0.0]
body_inertia_kg_m2 = [0.05, 0.05, 0.09]
upper_tip = { mass_kg = 0.1, centre_m = [0.08, 0.15, 0.0] }
"""
BLOCK = """
[log]
altitude_zero_m = 210.0
climb_efficiency = 0.55
modes = { loiter = "loiter", dash = "dash" }

[log.columns]
time = { name = "t_s", unit = "s" }
airspeed = { name = "ias_m_s", unit = "m/s" }
voltage = { name = "volt", unit = "V" }
current = { name = "amp", unit = "A" }
rotor_speeds = [{ name = "rpm", unit = "rpm" }]
mode = { name = "mode" }
altitude = { name = "baro_m", unit = "m" }
pressure = { name = "static_hPa", unit = "hPa" }
temperature = { name = "oat_degC", unit = "degC" }
roll = { name = "roll_deg", unit = "deg" }
heading = { name = "yaw_deg", unit = "deg" }
yaw_rate = { name = "yaw_rate_deg_s", unit = "deg/s" }
ground_speed = { name = "gs_m_s", unit = "m/s" }
track = { name = "course_deg", unit = "deg" }
"""
SIMPLE = """
[log]
configuration = "loiter"
density_kg_m3 = 1.2
[log.columns]
time = { name = "t", unit = "s" }
airspeed = { name = "v", unit = "m/s", kind = "true" }
power = { name = "p", unit = "W" }
"""


@pytest.fixture
def folder(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    Path("craft.toml").write_text(CRAFT + BLOCK)
    Path("simple.toml").write_text(CRAFT + SIMPLE)
    return tmp_path


@pytest.fixture(scope="module")
def text():
    return log_text(Truth({}), 3, seconds=20.0, passes=2)


def asked(capsys, *arguments):
    status = main(["log", *arguments])
    out, err = capsys.readouterr()
    return status, out, err


def test_a_good_log_with_a_logger_s_faults(folder, capsys, text):
    Path("log.csv").write_text(invent.with_faults(text, np.random.default_rng(1)))
    status, out, err = asked(capsys, "craft.toml", "log.csv", "--compare", "loiter", "dash",
                             "--full", "--plots", "pictures")  # fmt: skip
    assert status == 0
    for words in (
        "Power in level flight", "loiter less dash", "Wind: ", "The pitot reads",
        "refused, time repeated: 3", "noted, no airspeed (a drop-out)", "not a flight clearance",
    ):  # fmt: skip
        assert words in out
    assert "no prediction: craft.toml has no rotors, propulsion" in err
    assert sorted(p.name for p in Path("pictures").iterdir()) == ["log-power.png", "log-time.png"]


def test_json_is_one_document_without_anything_else(folder, capsys, text):
    Path("log.csv").write_text(text)
    status, out, _ = asked(capsys, "craft.toml", "log.csv", "--json")
    document = json.loads(out)
    assert status == 0
    assert document["reading"]["used"] == len(text.splitlines()) - 2
    assert len(document["segments"]) >= 15
    assert set(document["configurations"]) == {"loiter", "dash"}
    assert document["segments"][0]["rotor_speed_rpm"][0] > 1000
    assert document["prediction"] is None
    assert all(
        low < item["power_W"] < high
        for item in document["configurations"]["dash"]["bins"]
        for low, high in [item["interval_W"]]
    )


def test_a_log_of_one_mode_is_measured_but_not_compared(folder, capsys, text):
    Path("log.csv").write_text(text.replace(",dash,", ",loiter,"))
    status, out, _ = asked(capsys, "craft.toml", "log.csv", "--json")
    document = json.loads(out)
    assert status == 0
    assert list(document["configurations"]) == ["loiter"]
    assert document["differences"] == []


def hover_then(power, airspeed):
    rows = [f"{i * 0.5},{a},{p}" for i, (a, p) in enumerate(zip(airspeed, power, strict=True))]
    return "t,v,p\n" + "\n".join(rows) + "\n"


DRAWN = 100.0 + 3.0 * np.sin(np.arange(200) * 0.9)
WAVE = 10.0 + 0.2 * np.sin(np.arange(200) * 1.3)


@pytest.mark.parametrize(
    ("content", "status", "message"),
    [
        ("", 2, "log.csv: the file is empty"),
        ("t,v,p\n", 2, "has a header but no rows"),
        ("t,v,p\n0,10,100\n", 2, "the file has one usable row"),
        ("t,v,p\n0,ten,100\n1,ten,100\n", 2, "none of its 2 rows could be used"),
        ("t;v;p\n0;10;100\n1;10;100\n", 2, 'set log.delimiter = ";"'),
        (hover_then(DRAWN, np.zeros(200)), 2, "the airspeed (v) is zero in every"),
        (hover_then(DRAWN[:6], WAVE[:6]), 3, "no steady, level segment of 8 s was found"),
        (hover_then(DRAWN, np.linspace(0, 60, 200)), 3, "change of airspeed 100 %"),
        ("\ufeff" + hover_then(DRAWN, WAVE), 0, "too few steady segments"),
        (hover_then(-DRAWN, WAVE), 2, "set log.columns.power.negated = true"),
        (hover_then(np.full(200, 100.0), WAVE), 2, "the power stands still all through"),
    ],
    ids=[
        "empty", "header only", "one row", "text", "semicolons", "airspeed zero", "short",
        "never steady", "byte-order mark", "current counted the other way", "dead sensor",
    ],
)  # fmt: skip
def test_hostile_logs(folder, capsys, content, status, message):
    Path("log.csv").write_text(content, encoding="utf-8")
    found, out, err = asked(capsys, "simple.toml", "log.csv")
    assert found == status
    assert message in (out if status == 0 else err)
    assert "Traceback" not in err
    if status:
        assert out == ""


def test_times_that_jump(folder, capsys):
    """Forward by an hour, then back to the start: three stretches, none bridged."""
    times = np.r_[np.arange(100) * 0.5, 3600 + np.arange(100) * 0.5, np.arange(100) * 0.5]
    rows = [f"{t},{10 + 0.1 * (i % 4):.2f},{100 + i % 7}" for i, t in enumerate(times)]
    Path("log.csv").write_text("t,v,p\n" + "\n".join(rows))
    status, out, _ = asked(capsys, "simple.toml", "log.csv", "--json")
    document = json.loads(out)
    assert status == 0
    assert [round(s["end_s"] - s["start_s"]) for s in document["segments"]] == [50, 50, 50]
    assert document["reading"]["noted"][0]["what"] == "clock set back, a new part begins"


def test_no_segment_still_draws_the_time_plot(folder, capsys):
    Path("log.csv").write_text(hover_then(DRAWN, np.linspace(0, 60, 200)))
    status, _, err = asked(capsys, "simple.toml", "log.csv", "--plots", "p")
    assert status == 3
    assert "wrote p/log-time.png" in err
    assert [p.name for p in Path("p").iterdir()] == ["log-time.png"]


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (
            ["craft.toml", "lgo.csv"],
            "lgo.csv: there is no such flight log; did you mean log.csv?",
        ),
        (
            ["craft.toml", "nothing"],
            "nothing: there is no such flight log (shipped: tailsitter-published.csv, tideline-",
        ),
        (["plain.toml", "log.csv"], "plain.toml: log is missing"),
        (["craft.toml", "log.csv", "--compare", "loiter", "dahs"], "did you mean dash?"),
        (["craft.toml", "log.csv", "--fit", "mass_kg"], "--fit needs a prediction: craft.toml"),
        (["craft.toml", "log.csv", "--write-fitted", "a.toml"], "--write-fitted needs --fit"),
        (
            ["craft.toml", "log.csv", "--fit", "mass_kg", "--write-fitted", "b/a.toml"],
            "without a folder",
        ),
        (
            ["craft.toml", "log.csv", "--fit", "mass_kg", "--write-fitted", "plain.toml"],
            "plain.toml exists",
        ),
    ],
)
def test_a_wrong_question_is_refused(folder, capsys, text, arguments, message):
    Path("log.csv").write_text(text)
    Path("plain.toml").write_text(CRAFT)
    status, out, err = asked(capsys, *arguments)
    assert status == 2
    assert out == ""
    assert message in err


# --- the block [log] -------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("change", "message"),
    [
        (('unit = "V"', 'unit = "volt"'), 'log.columns.voltage.unit = "volt"; it must be "V" or'),
        (('dash = "dash" }', 'dash = "dahs" }'), 'log.modes.dash = "dahs" is not one of the'),
        (("mode = { name", "mode_ = { name"), "did you mean mode?"),
        (('current = { name = "amp", unit = "A" }\n', ""), "needs either power, or both voltage"),
        (('time = { name = "t_s", unit = "s" }', 'time = { name = "t_s", unit = "stamp" }'),
         "log.time_format is missing"),
        (("[log]\n", '[log]\ndecimal = ","\n'), "numbers could not be distinguished"),
        (("[log]\n", '[log]\ndelimiter = "ab"\n'), 'one character, or "tab"'),
        (("[log]\n", '[log]\nconfiguration = "dash"\n'), "both tell the configuration"),
        (("[log]\n", "[log]\nsteady = { window_s = 9.0 }\n"), "is longer than shortest_s"),
        (("[log]\n", "[log]\ncell_s = 0.0\n"), "log.cell_s = 0; a time must be positive"),
    ],
)  # fmt: skip
def test_a_wrong_log_block_is_refused_by_its_key(change, message):
    from vlm.errors import InputRefused

    changed = (CRAFT + BLOCK).replace(*change)
    assert changed != CRAFT + BLOCK
    with pytest.raises(InputRefused) as refused:
        load_biplane_text(changed, "craft.toml")
    assert message in str(refused.value)


def test_the_block_comes_back_from_its_own_text():
    craft = load_biplane_text(CRAFT + BLOCK)
    assert load_biplane_text(craft.to_toml()) == craft
    assert craft.log is not None
    assert craft.log.modes == {"loiter": "loiter", "dash": "dash"}
