"""Tables over both folds, and derivatives in the slipstream, by hand.

No source but the rules stated in the modules; all numbers are invented.
"""

import numpy as np
import pytest

from vlm.loads.state import FlightState
from vlm.study.point import blown_values, fold_map


@pytest.mark.parametrize(("most", "degree"), [(4, 3), (2, 1), (3, 2)])
def test_polynomials_through_the_nodes_around_a_place_are_exact(most, degree):
    nodes = np.array([-9.0, -4.0, 0.0, 1.0, 5.0, 12.0])
    for place in (-9.0, -7.0, -1.0, 0.0, 0.3, 3.0, 8.0, 12.0):
        first, weights = fold_map.line_weights(nodes, place, most)
        near = nodes[first : first + most]
        for power in range(degree + 1):
            assert weights @ near**power == pytest.approx(place**power, abs=1e-9)
        if most == 4 and 1.0 <= place < 5.0:
            assert first == 2
    assert fold_map.line_weights(nodes, 3.0, 2)[0] == 3
    assert len(fold_map.line_weights(nodes[:2], -5.0)[1]) == 2


def test_a_table_is_read_between_its_nodes_up_to_contact():
    """A cubic in either fold; linear beside a hole; nothing between contact and its neighbour."""
    nodes = np.array([-20.0, -10.0, 0.0, 10.0, 20.0, 30.0])
    x, y = np.meshgrid(nodes, nodes, indexing="ij")
    table = x**3 - 2.0 * x * y + y**2
    assert fold_map.interpolated(nodes, table, 4.0, -13.0) == pytest.approx(64 + 104 + 169)
    holed = table.copy()
    holed[3, 3] = np.nan
    low = fold_map.interpolated(nodes, holed, -13.0, -13.0)
    assert low == pytest.approx(
        0.3 * (0.3 * table[0, 0] + 0.7 * table[0, 1])
        + 0.7 * (0.3 * table[1, 0] + 0.7 * table[1, 1])
    )
    assert np.isnan(fold_map.interpolated(nodes, holed, 4.0, 4.0))
    touching = np.array([False] * 5 + [True])
    none = np.zeros(6, dtype=bool)
    sides = (touching, none)
    assert np.isnan(fold_map.interpolated(nodes, table, 25.0, 4.0, sides))
    assert fold_map.interpolated(nodes, table, 30.0, 4.0, sides) == pytest.approx(27000 - 240 + 16)
    assert fold_map.interpolated(nodes, table, 20.0, 4.0, sides) == pytest.approx(8000 - 160 + 16)
    odd = table.copy()
    odd[5] = 1e9  # what touches is never drawn in
    assert fold_map.interpolated(nodes, odd, 19.0, 4.0, sides) == pytest.approx(6859 - 152 + 16)
    middle = (np.array([False, False, True, False, False, False]), none)
    assert np.isnan(fold_map.interpolated(nodes, table, 4.0, 4.0, middle))
    found = fold_map.interpolated(nodes, table, 14.0, 4.0, middle)
    line = np.polyval(np.polyfit(nodes[3:], nodes[3:] ** 3, 2), 14.0)
    assert found == pytest.approx(line - 112 + 16)


def test_pairs_of_a_map_are_solved_once_with_their_mirror_image():
    assert fold_map.pairs_of(3) == [(0, 0), (1, 0), (1, 1), (2, 0), (2, 1), (2, 2)]


def test_slopes_with_the_slipstream_are_central_differences():
    """States in order: as they are, then one step up and down of each of five motions."""
    state = FlightState(
        alpha=np.array([0.1, 0.2]),
        beta=np.array([0.0, 0.05]),
        p_hat=np.zeros(2),
        q_hat=np.zeros(2),
        r_hat=np.array([0.0, 0.01]),
        airspeed=12.0,
        density=1.2,
    )
    around = blown_values._around(state)
    assert (around.alpha.size, around.airspeed, around.density) == (22, 12.0, 1.2)
    rates = {
        "CL": (4, 0.1, 0.2, 3, 0.4),
        "Cm": (-1, 0.2, 0.3, -9, 0.1),
        "CY": (0.3, -0.5, 0.2, 0.1, 0.6),
        "Cl": (0.1, -0.2, -0.4, 0.2, 0.3),
        "Cn": (0.2, 0.1, -0.05, 0.3, -0.2),
    }
    motions = np.column_stack([getattr(around, name) for name in blown_values.STEPPED])
    values = {name: motions @ np.array(rate) for name, rate in rates.items()}
    values |= {f"{n}_stability": 2.0 * values[n] for n in ("Cl", "Cn")}
    found = blown_values._slopes(values, 2)
    wanted = {
        "CL_alpha": 4,
        "Cm_alpha": -1,
        "CL_q": 3,
        "Cm_q": -9,
        "CY_beta": -0.5,
        "Cl_beta": -0.2,
        "Cn_beta": 0.1,
        "CY_p": 0.2,
        "Cl_p": -0.4,
        "Cn_p": -0.05,
        "CY_r": 0.6,
        "Cl_r": 0.3,
        "Cn_r": -0.2,
        "Cl_beta_stability": -0.4,
        "Cn_beta_stability": 0.2,
        "Cl_p_stability": -0.8,
        "Cn_p_stability": -0.1,
        "Cl_r_stability": 0.6,
        "Cn_r_stability": -0.4,
    }
    assert set(found) == set(wanted)
    for name, slope in wanted.items():
        np.testing.assert_allclose(found[name], slope, rtol=1e-8, err_msg=name)


def test_rates_about_stability_axes_are_turned():
    """p_s = p cos + r sin and r_s = r cos - p sin, with the angle of attack."""
    plain = {
        "Cl_p_stability": -0.4,
        "Cl_r_stability": 0.3,
        "Cn_p_stability": -0.05,
        "Cn_r_stability": -0.2,
        "CY_p": 0.2,
        "CY_r": 0.6,
    }
    sine, cosine = np.sin(0.3), np.cos(0.3)
    found = blown_values._turned_rates(plain, np.array(0.3))
    for force, (p, r) in {"Cl": (-0.4, 0.3), "Cn": (-0.05, -0.2), "CY": (0.2, 0.6)}.items():
        assert found[f"{force}_p_stability"] == pytest.approx(p * cosine + r * sine)
        assert found[f"{force}_r_stability"] == pytest.approx(r * cosine - p * sine)


def test_changes_move_the_neutral_point_too():
    values = {
        "CL_alpha": 4.0,
        "Cm_alpha": -0.8,
        "CL": 0.5,
        "static_margin": 0.2,
        "neutral_point_m": 9.0,
    }
    found = blown_values.with_changes(
        values, {"CL_alpha": 1.0, "Cm_alpha": -0.2, "other": 3.0}, 0.25, 0.1
    )
    assert found["CL_alpha"] == 5.0
    assert "other" not in found
    assert found["static_margin"] == pytest.approx(0.2)
    assert found["neutral_point_m"] == pytest.approx(0.15)
