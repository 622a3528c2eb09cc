"""Units that the names of a log's columns tell. No source but the units' own symbols (SI brochure).

A capital within a unit must not split it: hPa read as Pa errs by a factor of a hundred.
"""

from pathlib import Path

import pytest

from vlm.log.proposing import named_quantity, proposed


@pytest.mark.parametrize(
    ("name", "quantity", "unit"),
    [
        ("static_hPa", "pressure", "hPa"),
        ("pressure (Pa)", "pressure", "Pa"),
        ("oat_degC", "temperature", "degC"),
        ("temperature_K", "temperature", "K"),
        ("gs_m_s", "ground_speed", "m/s"),
        ("yawRate_deg_s", "yaw_rate", "deg/s"),
        ("current_mA", "current", "mA"),
        ("voltageV", "", "V"),
        ("IAS_kmh", "airspeed", "km/h"),
        ("IAS (km/h)", "airspeed", "km/h"),
        ("U_V", "voltage", "V"),
        ("Batt V", "voltage", "V"),
        ("I_A", "current", "A"),
        ("Batt Curr A", "current", "A"),
        ("power_W", "power", "W"),
    ],
)
def test_a_name_tells_quantity_and_unit(name: str, quantity: str, unit: str) -> None:
    found = named_quantity(name)
    assert found[1] == unit
    if quantity:
        assert found[0] == quantity


@pytest.mark.parametrize("name", ["u_m_s", "i_term", "batt_pct", "U", "I"])
def test_a_letter_is_a_quantity_only_beside_its_unit(name: str) -> None:
    assert named_quantity(name)[0] == ""


def test_a_label_stands_for_the_configuration_of_its_name(tmp_path: Path) -> None:
    log = tmp_path / "log.csv"
    rows = [f"{t},{'OPEN' if t < 5 else 'BOX'},12,60" for t in range(10)]
    log.write_text("time_s,mode,ias_m_s,power_W\n" + "\n".join(rows) + "\n")
    found = proposed([log], ("open", "dash"))
    assert 'modes = { "OPEN" = "open", "BOX" = "?" }' in found.block
    assert found.missing == ("log.modes: what BOX stands for",)
