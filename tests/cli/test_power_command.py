"""``foldspan power`` on the command line: tables, JSON, files, pictures, refusals."""

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from vlm.cli.main import main

QUICK = ("--rows", "2", "--strips", "6", "--airspeeds", "0,4,8,10,12,16,20,24,28,32")
POWER = "electrical_power_W"


@pytest.fixture(scope="module")
def answer(run_foldspan, tmp_path_factory) -> tuple[dict[str, Any], str, Path]:
    folder = tmp_path_factory.mktemp("power")
    done = run_foldspan(
        "power", "tideline", "--configuration", "open", "--configuration", "dash", *QUICK,
        "--out", "curves.nc", "--plot", "curves.png", "--json", cwd=folder, timeout=400.0,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout), done.stderr, folder


def test_json_holds_every_quantity_of_every_setting(answer) -> None:
    document, _, _ = answer
    assert list(document["configurations"]) == ["open", "dash"]
    speeds = document["airspeed_m_s"]
    for one in document["configurations"].values():
        for key in (POWER, "body_angle_deg", "wing_share", "thrust_N", "limit", "trims",
                    "pitch_margin_N_m", "limit_margin", "endurance_min"):  # fmt: skip
            assert len(one[key]) == len(speeds)
        assert one["trim_residual"] == pytest.approx([0.0] * len(speeds), abs=1e-8)
    assert document["mass_kg"] == pytest.approx(2.1)
    assert "caution" not in document["air"]
    assert document["assumptions"]


def test_intervals_hold_the_curve(answer) -> None:
    document, _, _ = answer
    for one in document["configurations"].values():
        for low, value, high in zip(
            one[f"{POWER}_low"], one[POWER], one[f"{POWER}_high"], strict=True
        ):
            assert low < value < high
        for key, (low, high) in one["speed_intervals"].items():
            # The least power may stand at the slowest speed of the branch in all samples.
            assert low - 1e-9 <= one["speeds"][key] <= high + 1e-9
    difference = document["differences"][0]
    # Both settings share the samples, so the difference is known far better than either.
    i = document["airspeed_m_s"].index(16.0)
    width = difference["difference_W_high"][i] - difference["difference_W_low"][i]
    own = document["configurations"]["open"]
    assert width < 0.5 * (own[f"{POWER}_high"][i] - own[f"{POWER}_low"][i])


def test_difference_is_second_less_first(answer) -> None:
    document, _, _ = answer
    powers = [one[POWER] for one in document["configurations"].values()]
    difference = document["differences"][0]
    assert (difference["first"], difference["second"]) == ("open", "dash")
    i = document["airspeed_m_s"].index(16.0)
    apart = powers[1][i] - powers[0][i]
    assert difference["difference_W"][i] == pytest.approx(apart)
    assert difference["difference_percent"][i] == pytest.approx(100.0 * apart / powers[0][i])


def test_parts_of_the_power_add_up_in_json_and_dataset(answer) -> None:
    import xarray as xr

    document, _, folder = answer
    dataset = xr.load_dataset(folder / "curves.nc", engine="h5netcdf")
    parts = [name for name in dataset if str(name).startswith("power_")]
    assert len(parts) == 9
    total = sum(dataset[name] for name in parts)
    np.testing.assert_allclose(total, dataset[POWER], rtol=1e-9)
    for one in document["configurations"].values():
        np.testing.assert_allclose(sum(np.array(one[name]) for name in parts), one[POWER])
        shafts = sum(np.array(r["shaft_power_W"]) for r in one["rotors"].values())
        np.testing.assert_allclose(shafts, one["shaft_power_W"])
        assert len(one["nearest_limit"]) == len(one["driven_rotors"]) == len(one[POWER])
    rotor = list(document["configurations"]["dash"]["rotors"].values())[2]
    np.testing.assert_allclose(
        dataset["rotor_3_speed_rpm"].sel(configuration="dash"), rotor["speed_rpm"]
    )


def test_the_table_fits_a_terminal_and_answers_first(run_foldspan, tmp_path) -> None:
    done = run_foldspan(
        "power", "tideline", *QUICK, "--no-intervals", "--body-angle", "5",
        "--plot-parts", "parts.png", cwd=tmp_path, timeout=400.0,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    lines = done.stdout.splitlines()
    assert max(len(line) for line in lines) <= 80
    answer = done.stdout.split("Electrical power")[0]
    assert "least power" in answer
    assert "fastest" in answer
    assert "Airspeed [m/s] at a body angle of 5 deg: open 1" in answer
    assert (tmp_path / "parts.png").stat().st_size > 20_000


def test_endurance_is_usable_energy_over_power(answer) -> None:
    """90 W h, of which 80 % may be used (the file's numbers)."""
    document, _, _ = answer
    one = document["configurations"]["open"]
    minutes = [90.0 * 0.8 / power * 60.0 for power in one[POWER]]
    assert one["endurance_min"] == pytest.approx(minutes)


def test_dataset_reads_back(answer) -> None:
    import xarray as xr

    document, _, folder = answer
    dataset = xr.load_dataset(folder / "curves.nc", engine="h5netcdf")
    assert dataset[POWER].dims == ("configuration", "airspeed_m_s")
    assert dataset[POWER].attrs["units"] == "W"
    np.testing.assert_allclose(
        dataset[POWER].sel(configuration="dash"), document["configurations"]["dash"][POWER]
    )
    assert "An estimate" in dataset.attrs["caution"]
    assert (folder / "curves.png").stat().st_size > 20_000


def test_warnings_stand_apart_from_the_answer(answer) -> None:
    document, told, _ = answer
    codes = {finding["code"] for finding in document["findings"]}
    assert "deep_stall" in codes
    assert told.count("warning: ") == len(codes)


def test_table_and_csv(run_foldspan, tmp_path) -> None:
    done = run_foldspan(
        "power", "tideline", "--fold", "0", "--rows", "2", "--strips", "6", "--airspeeds",
        "10,12,14", "--no-intervals", "--density", "1.1", "--out", "curve.csv", "--full",
        cwd=tmp_path, timeout=200.0,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert "Speeds that matter" in done.stdout
    assert "0 deg" in done.stdout
    assert "1.100 kg/m^3" in done.stdout
    assert "not a flight clearance" in done.stdout
    rows = [r for r in (tmp_path / "curve.csv").read_text().splitlines() if not r.startswith("#")]
    assert rows[0].startswith("configuration,airspeed_m_s,electrical_power_W")
    assert len(rows) == 4


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["plank"], "[mass], [[rotors]], [propulsion] are missing"),
        (["tideline", "--configuration", "dahs"], "did you mean dash?"),
        (["tideline", "--fold", "-120"], "passes upper.tips.fold_min_deg"),
        (["tideline", "--airspeeds", "151"], "0 to 150 m/s is allowed"),
        (["tideline", "--airspeeds", "1:x:3"], "START:STOP:COUNT"),
        (["tideline", "--density", "0"], "--density = 0"),
        (["tideline", "--out", "x.txt"], ".nc (NetCDF), .csv or .parquet"),
        (["tideline", "--plot", "x.bmp"], ".png"),
        (["tideline", "--set", "propulsion.motor_efficiency=1.2"], "at most 1"),
        (["tideline", "--set", "rotors.0.table=x.csv"], "does not belong to form"),
    ],
)
def test_refusals_name_what_is_wrong(run_foldspan, tmp_path, words, told) -> None:
    done = run_foldspan("power", *words, cwd=tmp_path)
    assert done.returncode == 2, done.stderr
    assert told in done.stderr
    assert "Traceback" not in done.stderr
    assert done.stdout == ""


def test_strict_ends_with_status_3_where_a_finding_stands(capsys) -> None:  # type: ignore[no-untyped-def]
    """Few strips are wide against the slipstream; without --strict that is a warning alone."""
    words = ["power", "tideline", "--configuration", "open", "--no-intervals", "--airspeeds",
             "12,14",
             "--rows", "2", "--strips", "8"]  # fmt: skip
    assert main(words) == 0
    said = capsys.readouterr()
    assert "edge of a slipstream" in said.out
    assert said.err.count("edge of a slipstream") == 1  # which is no terminal here
    assert main([*words, "--strict"]) == 3
    assert "slipstream_edge" in capsys.readouterr().err


@pytest.mark.usefixtures("answers_kept")
@pytest.mark.parametrize(
    "limit_W",
    [395, *(pytest.param(limit, marks=pytest.mark.slow) for limit in (300, 360, 450))],
)
def test_hover_is_not_known_where_the_limit_lies_within_the_interval(limit_W, capsys) -> None:
    """The electrical limit of the craft against the interval of the power in hover."""
    words = ["tideline", "--airspeeds", "0,2,10", "--rows", "2", "--strips", "8",
             "--set", f"propulsion.power_max_W={limit_W}"]  # fmt: skip
    assert main(["power", *words, "--json"]) == 0
    one = json.loads(capsys.readouterr().out)["configurations"]["open"]
    low, high = (one[f"electrical_power_W_{end}"][0] for end in ("low", "high"))
    margins = [1.0 - power / limit_W for power in (high, low)]
    found = [one[f"limit_margin_{end}"][0] for end in ("low", "high")]
    assert found == pytest.approx(margins, abs=1e-9)
    assert main(["power", *words]) == 0
    said = next(
        line for line in " ".join(capsys.readouterr().out.split()).split(". ") if "open: " in line
    )
    assert ("not known whether it hovers (electrical power)" in said) is (low < limit_W < high)
    assert ("no hover" in said) is (limit_W <= low)
