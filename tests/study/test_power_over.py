"""Power over the values of a key, and at one airspeed: the same numbers as study by study."""

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from vlm.cli.main import main

QUICK = ["--rows", "2", "--strips", "6", "--configuration", "loiter"]


def answered(capsys: pytest.CaptureFixture[str], *words: str) -> Any:
    assert main(["power", "tideline", *QUICK, *words, "--json"]) == 0
    return json.loads(capsys.readouterr().out)


def test_every_value_is_the_study_of_that_craft(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    out = tmp_path / "over.nc"
    over = answered(capsys, "--airspeeds", "12", "--over", "mass.body_kg=1.4,1.7", "-o", str(out))
    assert over["over"] == {"key": "mass.body_kg", "values": [1.4, 1.7]}
    alone = answered(capsys, "--airspeeds", "12", "--set", "mass.body_kg=1.7")
    heavy = over["studies"][1]["configurations"]["loiter"]
    assert heavy == alone["configurations"]["loiter"]
    assert (
        heavy["electrical_power_W"][0]
        > 1.05 * over["studies"][0]["configurations"]["loiter"]["electrical_power_W"][0]
    )
    import xarray as xr

    dataset = xr.load_dataset(out, engine="h5netcdf")
    assert dataset["electrical_power_W"].dims[0] == "mass_body_kg"
    assert dataset.mass_body_kg.attrs["long_name"].endswith("mass.body_kg")
    np.testing.assert_allclose(
        dataset.electrical_power_W.sel(mass_body_kg=1.7, configuration="loiter"),
        heavy["electrical_power_W"],
    )


def test_one_airspeed_has_a_power_and_no_least(capsys: pytest.CaptureFixture[str]) -> None:
    one = answered(capsys, "--airspeeds", "12")["configurations"]["loiter"]
    three = answered(capsys, "--airspeeds", "11,12,13")["configurations"]["loiter"]
    assert one["electrical_power_W"][0] == pytest.approx(three["electrical_power_W"][1], rel=1e-6)
    assert one["speeds"]["least_power_W"] is None
    assert one["speeds"]["fastest_m_s"] is None
    assert "one airspeed" in one["speeds"]["fastest_limit"]
    assert main(["power", "tideline", *QUICK, "--airspeeds", "12"]) == 0
    said = capsys.readouterr().out
    assert "one airspeed shows no least and no fastest" in said
    assert " ± " in said.split("loiter: ")[1].split(" W at")[0]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--over", "mass.body_kg"], "--over mass.body_kg; write KEY=START:STOP:COUNT"),
        (["--over", "mass.bodi_kg=1:2:2"], "mass.bodi_kg is not a known key"),
        (["--over", "mass.body_kg=1:2:2", "--plot", "a.png"], "--plot beside --over"),
        (["--over", "mass.body_kg=1:2:30"], "30 values; at most 20"),
    ],
)
def test_refusals(words: list[str], said: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["power", "tideline", *QUICK, "--airspeeds", "12", *words]) == 2
    assert said in capsys.readouterr().err
