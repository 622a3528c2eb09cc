"""Rotors as actuator discs, against closed forms and worked examples of textbooks."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from vlm.description.power import Propulsion, Rotor
from vlm.power.momentum import (
    figure_of_merit,
    hover_velocity,
    ideal_power,
    induced_velocity,
    is_in_descent,
)
from vlm.power.propulsion import electrical_power, endurance, limits_passed, usable_energy
from vlm.power.rotor import blade_speed, disc_area, hover_merit, rotor_state

AIR = 1.225
AHEAD = np.array([1.0, 0.0, 0.0])


def invented_rotor(**changes: object) -> Rotor:
    values: dict[str, object] = {
        "name": "front", "position_m": (0.0, 0.0, 0.0), "radius_m": 0.127, "spin": "right",
        "form": "blades", "solidity": 0.09, "pitch_m": 0.12,
    }  # fmt: skip
    return Rotor.model_validate(values | changes)


def test_hover_of_a_kilogram_on_four_discs() -> None:
    """1 kg, four discs of 0.254 m: v_h 4.4447 m/s, ideal power 43.60 W (derived)."""
    area = 4 * np.pi * 0.127**2
    v = hover_velocity(9.80665, AIR, area)
    assert float(v) == pytest.approx(4.4447, abs=1e-3)
    assert 9.80665 * float(v) == pytest.approx(43.60, abs=0.02)


@given(st.floats(0.1, 30.0), st.floats(0.0, 60.0))
def test_axial_climb_has_its_closed_form(hover: float, climb: float) -> None:
    """v = - V/2 + sqrt(V^2/4 + v_h^2): Leishman, Principles of Helicopter Aerodynamics."""
    expected = -0.5 * climb + np.sqrt(0.25 * climb**2 + hover**2)
    assert float(induced_velocity(hover, climb)) == pytest.approx(expected, rel=1e-10)


@given(st.floats(0.1, 30.0), st.floats(0.0, 60.0), st.floats(0.0, 60.0))
def test_inclined_flow_satisfies_glauert(hover: float, through: float, across: float) -> None:
    """v = v_h^2 / sqrt(V_t^2 + (V_n + v)^2): Glauert's form, in any text."""
    v = float(induced_velocity(hover, through, across))
    assert v == pytest.approx(hover**2 / np.hypot(across, through + v), rel=1e-9)


def test_fast_edgewise_flow_is_that_of_an_elliptic_wing() -> None:
    """v tends to v_h^2 / V: a wing of the disc's span (Glauert)."""
    assert float(induced_velocity(5.0, 0.0, 500.0)) == pytest.approx(25.0 / 500.0, rel=1e-4)


def test_climb_example_of_houghton_and_carpenter() -> None:
    """600 kW, 16 m rotor, 170 N/m^2, 53 % of the power useful: climbs at 1.85 m/s (exercise in
    Aerodynamics for Engineering Students; the book's answer, 110 m/min, from memory)."""
    density, area = 1.226, np.pi * 64.0
    thrust, power = 170.0 * area, 0.53 * 600e3
    hover = hover_velocity(thrust, density, area)
    low, high = 0.0, 20.0
    for _ in range(60):
        climb = 0.5 * (low + high)
        needed = ideal_power(thrust, climb, induced_velocity(hover, climb))
        low, high = (climb, high) if needed < power else (low, climb)
    assert climb == pytest.approx(1.85, abs=0.01)
    assert climb * 60.0 == pytest.approx(110.0, abs=2.0)


def test_descent_is_told() -> None:
    assert is_in_descent(5.0, -1.0)
    assert not is_in_descent(5.0, 0.5)
    assert np.isfinite(induced_velocity(5.0, -3.0))


def test_blade_power_in_hover_is_the_handbook_sum() -> None:
    """kappa T v_h + rho A (Omega R)^3 sigma Cd / 8: Leishman, sect. 2.5."""
    rotor, thrust = invented_rotor(), 4.0
    state = rotor_state(rotor, thrust, np.zeros(3), AIR)
    area = disc_area(rotor)
    tip = state.speed * rotor.radius_m
    profile = AIR * area * tip**3 * 0.09 * 0.02 / 8.0
    induced = 1.15 * thrust * float(hover_velocity(thrust, AIR, area))
    assert state.shaft_power == pytest.approx(induced + profile, rel=1e-6)
    assert state.torque * state.speed == pytest.approx(state.shaft_power)


def test_a_perfect_rotor_has_merit_one_and_a_small_one_less() -> None:
    """Small rotors: 0.4 to 0.65 (Bohorquez; Hein & Chopra, as quoted by Leishman)."""
    perfect = invented_rotor(blade_drag=0.0, induced_power_factor=1.0)
    assert hover_merit(perfect, 4.0, AIR) == pytest.approx(1.0, rel=1e-9)
    assert 0.4 < hover_merit(invented_rotor(), 4.0, AIR) < 0.8
    assert float(figure_of_merit(4.0, 100.0, AIR, 0.05)) < 1.0


def test_no_thrust_at_the_pitch_speed() -> None:
    """A blade whose advance equals its pitch carries nothing: Omega P / 2 pi = V."""
    rotor = invented_rotor()
    speed = blade_speed(rotor, 0.0, 20.0, AIR)
    assert speed * 0.12 / (2.0 * np.pi) == pytest.approx(20.0)


def test_thrust_grows_with_speed_squared_in_hover() -> None:
    rotor = invented_rotor()
    one, four = (rotor_state(rotor, t, np.zeros(3), AIR) for t in (2.0, 8.0))
    assert four.speed == pytest.approx(2.0 * one.speed, rel=1e-9)
    assert four.shaft_power == pytest.approx(8.0 * one.shaft_power, rel=1e-9)


def test_a_table_made_of_blades_gives_the_blades_back(tmp_path) -> None:  # type: ignore[no-untyped-def]
    rotor = invented_rotor()
    diameter, turns = 0.254, 100.0
    lines = ["advance_ratio,thrust_coefficient,power_coefficient"]
    from scipy.optimize import brentq

    for advance in np.linspace(0.0, 0.45, 40):
        wind = advance * turns * diameter * AHEAD

        def miss(thrust: float, wind=wind) -> float:  # type: ignore[no-untyped-def]
            return rotor_state(rotor, thrust, wind, AIR).speed - 2.0 * np.pi * turns

        thrust = brentq(miss, 0.0, 40.0)
        power = rotor_state(rotor, thrust, wind, AIR).shaft_power
        lines.append(
            f"{advance},{thrust / (AIR * turns**2 * diameter**4)},"
            f"{power / (AIR * turns**3 * diameter**5)}"
        )
    (tmp_path / "rotor.csv").write_text("\n".join(lines))
    table = Rotor.model_validate(
        {"name": "t", "position_m": (0, 0, 0), "radius_m": 0.127, "spin": "left",
         "form": "table", "table": "rotor.csv"}
    )  # fmt: skip
    for thrust, airspeed in ((3.0, 0.0), (3.0, 6.0), (1.0, 9.0)):
        blades = rotor_state(rotor, thrust, airspeed * AHEAD, AIR)
        measured = rotor_state(table, thrust, airspeed * AHEAD, AIR, tmp_path)
        assert measured.speed == pytest.approx(blades.speed, rel=2e-3)
        assert measured.shaft_power == pytest.approx(blades.shaft_power, rel=5e-3)
    outside = rotor_state(table, 0.0, 40.0 * AHEAD, AIR, tmp_path)
    assert any("end of its table" in text for text in outside.beyond)


def test_limits_are_told() -> None:
    rotor = invented_rotor(thrust_max_N=3.0, power_max_W=10.0)
    state = rotor_state(rotor, 4.0, np.zeros(3), AIR)
    assert len(state.beyond) == 2
    drive = Propulsion(motor_efficiency=0.8, controller_efficiency=0.95, power_max_W=20.0)
    power = electrical_power([state], drive)
    assert power == pytest.approx(state.shaft_power / 0.76)
    assert len(limits_passed([state], power, drive)) == 3


def test_battery_time() -> None:
    drive = Propulsion(
        motor_efficiency=0.8, controller_efficiency=0.95, battery_energy_Wh=50.0, battery_usable=0.8
    )
    assert usable_energy(drive) == pytest.approx(144e3)
    assert endurance(100.0, drive) == pytest.approx(1440.0)
