"""The one table of quantities: complete, without doubles, drawable."""

import re

import pytest

from vlm.errors import FoldspanError
from vlm.quantities import DERIVATIVES, QUANTITIES, Quantity, _table, quantity


def test_every_number_of_a_point_has_its_row():
    """The state, coefficients and derivatives that the conventions name."""
    state = {"alpha_deg", "beta_deg", "p_hat", "q_hat", "r_hat", "fold_left_deg", "fold_right_deg"}
    air = {"airspeed_m_s", "density_kg_m3"}
    reference = {"area_m2", "span_m", "chord_m", "moment_point_m"}
    coefficients = {"CL", "CDi", "CDi_surface", "CY", "Cl", "Cm", "Cn", "span_efficiency"}
    others = {"best_span_efficiency", "neutral_point_m", "static_margin"}
    longitudinal = {"CL_alpha", "Cm_alpha", "CL_q", "Cm_q"}
    lateral = {f"{of}_{by}" for of in ("CY", "Cl", "Cn") for by in ("beta", "p", "r")}
    folding = {f"{of}_fold_{side}" for of in ("CL", "Cl", "Cn") for side in ("left", "right")}
    parts = {"moment_N_m", "moment_coefficient", "y_m", "z_m", "cl", "circulation_m2_s"}
    lattice = {"panels", "rows", "strips"}
    assert longitudinal | lateral | folding == set(DERIVATIVES)
    names = state | air | reference | coefficients | others | parts | lattice | set(DERIVATIVES)
    assert names <= set(QUANTITIES)


def test_every_derivative_stands_in_both_axes():
    for key in DERIVATIVES:
        assert quantity(key).unit == quantity(f"{key}_stability").unit
        assert quantity(key).symbol != ""
    assert "body axes" in quantity("Cl_beta").long_name
    assert "stability axes" in quantity("Cl_beta_stability").long_name


@pytest.mark.parametrize("row", QUANTITIES.values(), ids=lambda row: row.key)
def test_the_unit_is_that_of_the_keys_suffix(row):
    suffixes = {
        "_m_s": "m/s", "_m2_s": "m^2/s", "_kg_m3": "kg/m^3", "_deg": "deg", "_m2": "m^2",
        "_N_m": "N m", "_Pa": "Pa", "_m": "m", "_N": "N", "_W": "W", "_Wh_km": "W h/km",
    }  # fmt: skip
    suffix = next((s for s in suffixes if row.key.endswith(s)), None)
    assert row.unit == (suffixes[suffix] if suffix else row.unit)
    if suffix is None:
        assert row.unit in ("1", "1/rad", "W", "J", "s", "A", "V", "%") or "/" in row.unit
    assert row.long_name
    assert row.long_name[-1] not in ".,;"


def test_symbols_can_be_drawn():
    from matplotlib.mathtext import MathTextParser

    parser = MathTextParser("path")
    for row in QUANTITIES.values():
        parser.parse(f"${row.symbol}$")
        assert row.label.count("$") == 2


def test_symbols_of_coefficients_and_derivatives_differ():
    symbols = [row.symbol for key, row in QUANTITIES.items() if re.match(r"C[A-Zlmn]", key)]
    assert len(symbols) > 2 * len(DERIVATIVES)
    assert len(set(symbols)) == len(symbols)


def test_attributes_of_a_dataset():
    assert quantity("Cl_beta").attributes == {
        "long_name": "derivative of rolling moment coefficient with sideslip, body axes",
        "units": "1/rad",
        "positive_means": "unstable dihedral effect: rolls toward the wind",
    }
    assert "positive_means" not in quantity("CDi").attributes
    assert quantity("alpha_deg").label == r"Angle of attack $\alpha$ [deg]"


def test_a_misspelt_key_is_named():
    with pytest.raises(FoldspanError, match=r"CL_alfa is not a known quantity; did you mean CL_al"):
        quantity("CL_alfa")


def test_a_key_cannot_stand_twice():
    row = Quantity("x", "x", "1", "x")
    with pytest.raises(ValueError, match="holds x twice"):
        _table([row, row])
