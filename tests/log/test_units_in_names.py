"""Units that the names of a log's columns tell. No source but the units' own symbols (SI brochure).

A capital within a unit must not split it: hPa read as Pa errs by a factor of a hundred.
"""

import pytest

from vlm.log.proposing import named_quantity


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
    ],
)
def test_a_name_tells_quantity_and_unit(name: str, quantity: str, unit: str) -> None:
    found = named_quantity(name)
    assert found[1] == unit
    if quantity:
        assert found[0] == quantity
