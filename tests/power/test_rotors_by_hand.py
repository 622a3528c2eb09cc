"""Rotors of solidity and pitch, and of a table, at numbers worked out by hand.

Equations (1) and (2) of the form "blades" as its docstring states them (A. Gessow and G. C. Myers,
Aerodynamics of the Helicopter, from memory), put in with numbers; scipy's splines for tables.
"""

from types import SimpleNamespace

import numpy as np
import pytest
from scipy.interpolate import PchipInterpolator

from vlm.description.power import Propulsion, Rotor
from vlm.power.momentum import disc_flow
from vlm.power.propulsion import electrical_power, endurance, usable_energy
from vlm.power.rotor import BladeModel, TableModel, disc_area, profile_factor, rotor_model

DENSITY = 1.1
PLAIN = {"name": "a", "position_m": (0.0, 0.0, 0.0), "spin": "right"}


def blades(**keys: object) -> Rotor:
    own = {"radius_m": 0.12, "form": "blades", "solidity": 0.09, "pitch_m": 0.14,
           "blade_lift_slope_per_rad": 5.2, "blade_drag": 0.02, "blade_drag_rise": 0.004,
           "induced_power_factor": 1.15}  # fmt: skip
    return Rotor(**(PLAIN | own | keys))  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("thrust", "axial", "edgewise"), [(3.0, 0.0, 0.0), (2.0, 9.0, 4.0), (6.0, -2.0, 7.0)]
)
def test_a_rotor_of_pitch_and_solidity(thrust: float, axial: float, edgewise: float) -> None:
    """T = rho A s a / 4 W R (P W / 2 pi - V - v) at the speed found, and P = T (V + k v) + rho A s
    (cd + k cl^4) / 8 (W R)^3 F with cl = 6 T / (rho A s (W R)^2)."""
    rotor = blades()
    area = np.pi * 0.12**2
    assert disc_area(rotor) == pytest.approx(area)
    flow = disc_flow(np.array([thrust]), axial, edgewise, DENSITY, area)
    state = rotor_model(rotor).state(flow, DENSITY)
    v, speed = float(flow.induced[0]), float(state.speed[0])
    tip = 0.12 * speed
    given = DENSITY * area * 0.09 * 5.2 / 4.0 * tip * (0.14 * speed / (2 * np.pi) - axial - v)
    assert given == pytest.approx(thrust, rel=1e-10)
    cl = 6.0 * thrust / (DENSITY * area * 0.09 * tip**2)
    factor = float(profile_factor(edgewise / tip, axial / tip))
    profile = DENSITY * area * 0.09 * (0.02 + 0.004 * cl**4) / 8.0 * tip**3 * factor
    assert state.power[0] == pytest.approx(thrust * (axial + 1.15 * v) + profile, rel=1e-10)
    assert state.torque[0] == pytest.approx(state.power[0] / speed)
    assert state.in_range[0]


def test_the_blades_drag_rises_no_more_beyond_full_stall() -> None:
    """At a mean lift coefficient of 3; a braking rotor's is taken for none."""
    rotor = blades(solidity=0.01, pitch_m=0.5)
    flow = disc_flow(np.array([8.0, -0.5]), np.array([0.0, 30.0]), 0.0, DENSITY, np.pi * 0.12**2)
    state = BladeModel(rotor).state(flow, DENSITY)
    tip, scale = 0.12 * state.speed, DENSITY * np.pi * 0.12**2 * 0.01
    assert 6.0 * 8.0 / (scale * tip[0] ** 2) > 3.0
    through = flow.axial + 1.15 * flow.induced
    drag = np.array([0.02 + 0.004 * 3.0**4, 0.02])
    profile = scale * drag / 8.0 * tip**3 * profile_factor(0.0, flow.axial / tip)
    np.testing.assert_allclose(state.power, flow.thrust * through + profile, rtol=1e-10)


def test_a_brake_that_pitch_cannot_give_is_reported() -> None:
    """(V + v)^2 + 16 theta T / (rho A s a) < 0: no speed of rotation brakes so hard."""
    rotor = blades()
    area, theta = np.pi * 0.12**2, 0.14 / (2 * np.pi * 0.12)
    limit = 20.0**2 * DENSITY * area * 0.09 * 5.2 / (16.0 * theta)
    flow = SimpleNamespace(
        thrust=-limit * np.array([0.999, 1.001]), axial=np.full(2, 22.0),
        induced=np.full(2, -2.0), edgewise=np.zeros(2),
    )  # fmt: skip
    state = BladeModel(rotor).state(flow, DENSITY)  # type: ignore[arg-type]
    assert state.in_range.tolist() == [True, False]
    np.testing.assert_allclose(0.12 * state.speed, 20.0 / (2.0 * theta), rtol=0.04)


@pytest.mark.parametrize(("mu", "through"), [(0.3, 0.2), (0.0, 0.0), (0.1, 0.7)])
def test_the_profile_factor_by_a_fine_quadrature(mu: float, through: float) -> None:
    r = (np.arange(400) + 0.5) / 400
    psi = (np.arange(360) + 0.5) * np.pi / 180.0
    ahead = r[:, None] + mu * np.sin(psi)
    squared = ahead**2 + (mu * np.cos(psi)) ** 2 + through**2
    assert profile_factor(mu, through) == pytest.approx(4.0 * np.mean(squared**1.5), rel=2e-4)


def table(tmp_path, last_thrust: float) -> TableModel:  # type: ignore[no-untyped-def]
    rows = ["advance_ratio,thrust_coefficient,power_coefficient", "0,0.11,0.05", "0.3,0.09,0.05",
            "0.6,0.05,0.04", f"0.9,{last_thrust},0.01"]  # fmt: skip
    (tmp_path / "rotor.csv").write_text("\n".join(rows))
    rotor = Rotor(**PLAIN, radius_m=0.12, form="table", table="rotor.csv")  # type: ignore[arg-type]
    found = rotor_model(rotor, tmp_path)
    assert isinstance(found, TableModel)
    return found


def test_between_the_rows_of_a_table_scipys_monotone_cubics_count(tmp_path) -> None:
    model, ratios = table(tmp_path, 0.0), [0.0, 0.3, 0.6, 0.9]
    thrust = PchipInterpolator(ratios, [0.11, 0.09, 0.05, 0.0])
    power = PchipInterpolator(ratios, [0.05, 0.05, 0.04, 0.01])
    for ratio in (0.1, 0.45, 0.8):
        turns = 70.0
        asked = float(thrust(ratio)) * DENSITY * turns**2 * 0.24**4
        flow = disc_flow(np.array([asked]), ratio * turns * 0.24, 3.0, DENSITY, np.pi * 0.12**2)
        state = model.state(flow, DENSITY)
        assert state.speed[0] == pytest.approx(2.0 * np.pi * turns, rel=1e-9)
        wanted = float(power(ratio)) * DENSITY * turns**3 * 0.24**5
        assert state.power[0] == pytest.approx(wanted, rel=1e-8)
        assert state.torque[0] == pytest.approx(wanted / (2.0 * np.pi * turns), rel=1e-8)
        assert state.in_range[0]


def test_beyond_its_last_row_a_table_goes_on_straight_and_says_so(tmp_path) -> None:
    """A last row of 0.02: its slope there, from which a thrust below follows; the power
    coefficient is that of the last row. No thrust at all is that of where the line meets zero."""
    model = table(tmp_path, 0.02)
    slope = float(PchipInterpolator([0, 0.3, 0.6, 0.9], [0.11, 0.09, 0.05, 0.02]).derivative()(0.9))
    ratio = 0.9 + 0.01 / -slope  # where the coefficient is 0.01
    turns = 50.0
    asked = 0.01 * DENSITY * turns**2 * 0.24**4
    axial = np.array([ratio * turns * 0.24, 10.0, 10.0])
    thrust = np.array([asked, 0.0, -1.0])
    state = model.state(disc_flow(thrust, axial, 0.0, DENSITY, np.pi * 0.12**2), DENSITY)
    assert state.speed[0] == pytest.approx(2.0 * np.pi * turns, rel=1e-9)
    assert state.power[0] == pytest.approx(0.01 * DENSITY * turns**3 * 0.24**5, rel=1e-8)
    idle = 2.0 * np.pi * 10.0 / 0.24 / (0.9 + 0.02 / -slope)
    np.testing.assert_allclose(state.speed[1:], idle, rtol=1e-6)
    assert state.in_range.tolist() == [False, False, False]


def test_a_table_that_ends_level_goes_on_by_its_last_two_rows(tmp_path) -> None:
    """0.012 and 0.009 at 0.6 and 0.9, after a steep fall: the monotone cubic ends level there, and
    the straight line between the two goes on, to 0.006 at 1.2."""
    rows = ["advance_ratio,thrust_coefficient,power_coefficient", "0,0.11,0.05", "0.3,0.1,0.05",
            "0.6,0.012,0.04", "0.9,0.009,0.01"]  # fmt: skip
    (tmp_path / "rotor.csv").write_text("\n".join(rows))
    rotor = Rotor(**PLAIN, radius_m=0.12, form="table", table="rotor.csv")  # type: ignore[arg-type]
    model = rotor_model(rotor, tmp_path)
    assert isinstance(model, TableModel)
    assert float(model.thrust.derivative()(0.9)) == 0.0
    assert model.end_slope == pytest.approx(-0.01)
    asked = 0.006 * DENSITY * 60.0**2 * 0.24**4
    flow = disc_flow(np.array([asked]), 1.2 * 60.0 * 0.24, 0.0, DENSITY, np.pi * 0.12**2)
    assert model.state(flow, DENSITY).speed[0] == pytest.approx(2.0 * np.pi * 60.0, rel=1e-9)
    np.testing.assert_allclose(model.thrust_coefficient(np.array([-0.5, 1.2])), [0.11, 0.006])


def supply(**keys: object) -> Propulsion:
    plain = {"motor_efficiency": 0.8, "controller_efficiency": 0.9, "fixed_load_W": 7.0,
             "battery_energy_Wh": 50.0, "battery_usable": 0.85}  # fmt: skip
    return Propulsion(**(plain | keys))  # type: ignore[arg-type]


def test_power_of_the_battery_and_how_long_it_lasts() -> None:
    """100 + 44 W over 0.72 and 7 W; 50 Wh at 85 % are 153 000 J, at 207 W 739.13 s."""
    drawn = electrical_power(supply(), np.array([[100.0, 44.0], [0.0, 0.0]]))
    np.testing.assert_allclose(drawn, [207.0, 7.0])
    np.testing.assert_allclose(
        electrical_power(supply(), [36.0], efficiency=0.5, fixed_load=1.0), 73
    )
    # A shaft that the air drives by 36 W: nothing, or its power times 0.72.
    assert electrical_power(supply(braking="spent"), [-36.0, 72.0]) == pytest.approx(107.0)
    assert electrical_power(supply(braking="recovered"), [-36.0, 72.0]) == pytest.approx(81.08)
    # About an idle power of 8 W a shaft of 6 W counts (6 + 10) / 2, the rest is recovered.
    idle = electrical_power(supply(braking="recovered"), [6.0], idle=8.0)
    assert idle == pytest.approx(8.0 / 0.72 - 2.0 * 0.72 + 7.0)
    assert usable_energy(supply()) == pytest.approx(153_000.0)
    np.testing.assert_allclose(endurance(supply(), [207.0, 153.0]), [153_000.0 / 207.0, 1000.0])
    bare = supply(battery_energy_Wh=None)
    assert usable_energy(bare) is None
    assert np.isnan(endurance(bare, [100.0, 50.0])).all()
