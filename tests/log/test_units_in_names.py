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
        ("bat_cA", "current", "cA"),
        ("power_kW", "power", "kW"),
        ("gs_mph", "ground_speed", "mph"),
        ("climb_ft_min", "climb_rate", "ft/min"),
        ("hdg_cdeg", "heading", "cdeg"),
        ("alt_mm", "altitude", "mm"),
        ("fold_port_deg", "fold_left", "deg"),
        ("fold starboard [deg]", "fold_right", "deg"),
        ("bank_deg", "roll", "deg"),
        ("trk_deg", "track", "deg"),
    ],
)
def test_a_name_tells_quantity_and_unit(name: str, quantity: str, unit: str) -> None:
    found = named_quantity(name)
    assert found[1] == unit
    if quantity:
        assert found[0] == quantity


@pytest.mark.parametrize("name", ["current_uA", "voltage_kV"])
def test_a_prefix_that_is_no_unit_here_leaves_no_unit(name: str) -> None:
    """Read without its prefix it would err by a factor of a thousand or more."""
    assert named_quantity(name)[1] == ""


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


def test_one_cell_of_text_leaves_a_column_with_decimal_commas_numbers(tmp_path: Path) -> None:
    log = tmp_path / "log.csv"
    rows = [f"{t},0;{'--' if t == 3 else '23,5'};-4,5" for t in range(10)]
    log.write_text("time_s;IAS_kt;current_A\n" + "\n".join(rows) + "\n")
    found = proposed([log], ("open",))
    assert 'airspeed = { name = "IAS_kt", unit = "kt", kind = "indicated" }' in found.block
    assert found.columns[1].high == pytest.approx(23.5)


def test_a_discharge_written_negative_is_proposed_as_such(tmp_path: Path) -> None:
    log = tmp_path / "log.csv"
    log.write_text("time_s,ias_m_s,voltage_V,current_A\n0,12,23,-5\n1,12,23,-6\n")
    assert 'unit = "A", negated = true' in proposed([log], ("open",)).block
    log.write_text("time_s,ias_m_s,voltage_V,current_A\n0,12,23,5\n1,12,23,-1\n")
    assert "negated" not in proposed([log], ("open",)).block
