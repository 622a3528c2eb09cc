"""A published flight of a small tail-sitter, read as it is.

Data: E. Ntouros, P. Kelley, E. Smeur, 2025, Data and Code for Unmanned Aerial Vehicles airspeed
estimation using propeller feedback, 4TU.ResearchData,
doi 10.4121/8bcecbac-5478-4595-b629-4378feac6dcb, licence CC BY 4.0; every 25th sample, columns
renamed (geometries/logs/tailsitter-published.csv says so in its first lines).
"""

import json
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from scipy.optimize import least_squares

from vlm.cli.main import main

DATA = Path(__file__).parents[2] / "geometries/logs/tailsitter-published.csv"
# The craft's dimensions are not in the data; nothing that is tested rests on these.
STAND_IN = """title = "A published tail-sitter, stand-in dimensions"

[upper]
span_m = 1.0
root_chord_m = 0.2
end_chord_m = 0.2

[configurations]
wings = { fold_deg = 0 }
"""


@pytest.fixture
def document(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    Path("craft.toml").write_text(STAND_IN)
    assert main(["log", "craft.toml", str(DATA), "--check", "--write-block", "flown.toml"]) == 0
    assert 'velocity_north = { name = "v_north_m_s", unit = "m/s" }' in capsys.readouterr().out
    assert main(["log", "flown.toml", str(DATA), "--json"]) == 0
    return json.loads(capsys.readouterr().out)


def plain_fit():
    """|velocity over ground - wind| (1 + scale) = reading, over all wing-borne samples."""
    flight = pd.read_csv(DATA, comment="#")
    flown = flight[flight["theta_rad"] < -0.9]

    def misfit(x):
        away = np.hypot(flown["v_north_m_s"] - x[0], flown["v_east_m_s"] - x[1])
        return away * (1.0 + x[2]) - flown["airspeed_m_s"]

    return least_squares(misfit, np.zeros(3)).x


def test_every_row_is_read_and_turning_flight_is_used(document):
    assert document["reading"]["used"] == 1740
    assert document["reading"]["refused"] == 0
    assert len(document["segments"]) >= 5
    assert max(s["load_factor"] for s in document["segments"]) > 1.05


def test_the_wind_comes_out_with_its_sign_by_component(document):
    """Against a plain least-squares fit by scipy: about 1.6 m/s toward south, 0.5 toward east."""
    north, east, _ = plain_fit()
    wind = document["wind"]
    assert wind["north_m_s"] == pytest.approx(north, abs=wind["north_half_width_m_s"])
    assert wind["east_m_s"] == pytest.approx(east, abs=wind["east_half_width_m_s"])
    assert wind["north_m_s"] + wind["north_half_width_m_s"] < 0.0
    assert wind["east_m_s"] - wind["east_half_width_m_s"] > 0.0
    assert wind["found_by"] == "pitot"


def test_the_pitot_s_scale_is_seen(document):
    """It reads some 3 per cent too little, by the plain fit and by the tool."""
    scale = plain_fit()[2]
    wind = document["wind"]
    assert -0.05 < scale < -0.02
    assert wind["airspeed_scale"] == pytest.approx(scale, abs=wind["airspeed_scale_half_width"])
    assert wind["airspeed_scale"] + wind["airspeed_scale_half_width"] < 0.0


def test_power_against_airspeed_has_intervals(document):
    bins = document["configurations"]["wings"]["bins"]
    assert all(low < item["power_W"] < high for item in bins for low, high in [item["interval_W"]])
    # Volts times amperes of wing-borne flight, by hand: 2.5 to 6 A at 14.6 V.
    assert all(0.0 < item["power_W"] < 90.0 for item in bins)
