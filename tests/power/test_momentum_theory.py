"""Rotors against the momentum theory's closed forms and worked numbers.

Sources: J. G. Leishman, Principles of Helicopter Aerodynamics, chapter 2 (hover; climb and inclined
flow from memory); H. Glauert, R&M 1111, 1926 (inclined flow, from memory); E. L. Houghton and
N. B. Carruthers' and later Carpenter's Aerodynamics for Engineering Students, an exercise on a
climbing helicopter (answer from memory).
"""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from vlm.description.power import Rotor
from vlm.description.rotor_table import rotor_curve
from vlm.errors import InputRefused
from vlm.power.momentum import (
    axial_velocity,
    disc_flow,
    hover_velocity,
    induced_velocity,
    wake_is_ordered,
)
from vlm.power.rotor import (
    disc_area,
    figure_of_merit,
    hover_state,
    profile_factor,
    rotor_model,
)

PLAIN = {"name": "a", "position_m": (0.0, 0.0, 0.0), "spin": "right"}


def blades(**keys: object) -> Rotor:
    given_keys = {"radius_m": 0.127, "form": "blades", "solidity": 0.1, "pitch_m": 0.15}
    return Rotor(**(PLAIN | given_keys | keys))  # type: ignore[arg-type]


def test_worked_hover_numbers() -> None:
    """1 kg on four discs of 0.254 m: v_h = 4.4447 m/s, 43.60 W ideal (derived by hand, g 9.81)."""
    area = 4 * np.pi * 0.127**2
    assert hover_velocity(9.81, 1.225, area) == pytest.approx(4.4447, abs=1e-4)
    flow = disc_flow(9.81, 0.0, 0.0, 1.225, area)
    assert flow.ideal_power == pytest.approx(43.60, abs=5e-3)


def test_worked_climb_of_houghton_and_carpenter() -> None:
    """600 kW, 16 m rotor, 170 N/m^2, 53 % of the power in T (V + v): V = 110 m/min at 1.226."""
    area = np.pi * 8.0**2
    thrust, power = 170.0 * area, 0.53 * 600e3
    hover = hover_velocity(thrust, 1.226, area)
    climb = brentq(lambda v: thrust * (v + float(axial_velocity(hover, v))) - power, 0.0, 20.0)
    assert climb * 60.0 == pytest.approx(110.0, abs=2.0)


def test_inclined_flow_in_its_limits() -> None:
    v_h = 4.0
    climb = np.array([0.0, 0.5, 2.0, 10.0])
    np.testing.assert_allclose(
        induced_velocity(v_h, climb, 0.0), axial_velocity(v_h, climb), rtol=1e-13
    )
    # Glauert's high-speed limit: a wing of circular span, v = v_h^2 / V.
    assert induced_velocity(v_h, 0.0, 200.0) == pytest.approx(v_h**2 / 200.0, rel=1e-5)
    # Leishman: edgewise flight has v / v_h = sqrt(sqrt(mu^4 / 4 + 1) - mu^2 / 2), mu = V / v_h.
    mu = np.array([0.3, 1.0, 2.0])
    exact = np.sqrt(np.sqrt(mu**4 / 4 + 1) - mu**2 / 2)
    np.testing.assert_allclose(induced_velocity(1.0, 0.0, mu), exact, rtol=1e-13)


@given(st.floats(0.01, 30.0), st.floats(0.0, 60.0), st.floats(0.0, 60.0))
def test_momentum_balance_holds(v_h: float, axial: float, edgewise: float) -> None:
    """T = 2 rho A v |V'| with V' the air's whole speed through the disc (Glauert's hypothesis)."""
    v = float(induced_velocity(v_h, axial, edgewise))
    assert v * np.hypot(edgewise, axial + v) == pytest.approx(v_h**2, rel=1e-10)


def test_descent_is_reported_where_the_theory_has_no_wake() -> None:
    """Vortex ring and turbulent wake lie between V = -2 v_h and 0 (Leishman, chapter 2)."""
    assert wake_is_ordered(4.0, np.array([1.0, 0.0, -4.0, -7.9, -8.1]), 0.0).tolist() == [
        True, True, False, False, True,
    ]  # fmt: skip
    # Below -2 v_h energy is taken from the air: V + v is negative.
    braking = axial_velocity(4.0, -10.0)
    assert -10.0 + braking < 0.0
    assert braking * (10.0 - braking) == pytest.approx(16.0)


def test_a_braking_rotor_slows_the_air_by_a_fifth_at_most() -> None:
    """As the docs say: a small braking thrust by what the same pull would add, a large one by a
    fifth of the axial speed, half of that where both are the same; where none comes from ahead, by
    nothing."""
    area, density = 0.05, 1.2
    small = disc_flow(-1e-4, 20.0, 0.0, density, area)
    assert small.induced == pytest.approx(-1e-4 / (2.0 * density * area * 20.0), rel=1e-3)
    assert disc_flow(-1e9, 20.0, 0.0, density, area).induced == pytest.approx(-4.0, rel=1e-3)
    # A pull of 2 rho A v (V + v) with v = 4 adds 4 m/s.
    pull = 2.0 * density * area * 4.0 * 24.0
    found = disc_flow(np.array([pull, -pull]), 20.0, 0.0, density, area)
    np.testing.assert_allclose(found.induced, [4.0, -2.0], rtol=1e-12)
    np.testing.assert_allclose(found.hover, np.sqrt(96.0), rtol=1e-12)
    np.testing.assert_allclose(found.ideal_power, [pull * 24.0, -pull * 18.0], rtol=1e-12)
    for axial in (0.0, -3.0):
        assert disc_flow(-2.0, axial, 5.0, density, area).induced == pytest.approx(0.0, abs=1e-250)


def test_no_thrust_moves_no_air() -> None:
    assert hover_velocity(0.0, 1.225, 0.1) == 0.0
    assert induced_velocity(0.0, 3.0, 2.0) == 0.0
    assert axial_velocity(0.0, -3.0) == 0.0


@pytest.mark.parametrize(
    ("axial", "edgewise", "ordered"),
    [
        # With v_h = 4: its own wake from -0.4 down to -8 m/s, unless carried off aside at 4.
        (-0.39, 0.0, True), (-0.41, 0.0, False), (-7.99, 3.9, False), (-7.99, -3.9, False),
        (-7.99, 4.1, True), (-7.99, -4.1, True), (-8.01, 0.0, True), (5.0, 0.0, True),
    ],
)  # fmt: skip
def test_a_rotor_flies_in_its_own_wake_between_these_speeds(
    axial: float, edgewise: float, ordered: bool
) -> None:
    assert bool(wake_is_ordered(4.0, axial, edgewise)) is ordered


def test_profile_power_rises_as_the_known_series() -> None:
    """1 + 4.5 mu^2 with radial flow (W. Johnson, Helicopter Theory, from memory)."""
    mu = np.array([0.01, 0.02, 0.05])
    np.testing.assert_allclose(profile_factor(mu, 0.0) - 1.0, 4.5 * mu**2, rtol=5e-3)
    # Along the axis in closed form: 4 int r ... of (r^2 + l^2)^(3/2), by an independent quadrature.
    through = 0.8
    fine = np.linspace(0.0, 1.0, 20001)
    exact = 4.0 * np.trapezoid((fine**2 + through**2) ** 1.5, fine)
    assert profile_factor(0.0, through) == pytest.approx(exact, rel=1e-6)


def test_hover_power_is_induced_and_profile() -> None:
    """C_P = kappa C_T^1.5 / sqrt 2 + sigma c_d / 8 (Leishman, equation 2.42, from memory)."""
    rotor = blades(blade_drag=0.025, blade_drag_rise=0.0, induced_power_factor=1.2)
    state = hover_state(rotor, 4.0, 1.225)
    tip = float(state.speed) * rotor.radius_m
    area = disc_area(rotor)
    c_t = 4.0 / (1.225 * area * tip**2)
    c_p = float(state.power) / (1.225 * area * tip**3)
    assert c_p == pytest.approx(1.2 * c_t**1.5 / np.sqrt(2.0) + 0.1 * 0.025 / 8.0, rel=1e-12)
    # Ideal twist: C_T = sigma a / 4 (theta_tip - lambda) (Gessow and Myers, from memory).
    theta = 0.15 / (2.0 * np.pi * rotor.radius_m)
    assert c_t == pytest.approx(0.1 * 5.7 / 4.0 * (theta - np.sqrt(c_t / 2.0)), rel=1e-12)


def test_figure_of_merit_is_one_for_ideal_blades_and_low_for_small_ones() -> None:
    ideal = blades(blade_drag=0.0, blade_drag_rise=0.0, induced_power_factor=1.0)
    assert figure_of_merit(hover_state(ideal, 4.0, 1.225)) == pytest.approx(1.0, rel=1e-12)
    # Small rotors reach about 0.4 to 0.65 (Bohorquez; Hein and Chopra, range from memory).
    small = blades(blade_drag=0.04, blade_drag_rise=0.0, induced_power_factor=1.25)
    assert 0.4 < float(figure_of_merit(hover_state(small, 4.0, 1.225))) < 0.7


def test_blades_give_no_thrust_at_their_pitch() -> None:
    rotor = blades()
    flow = disc_flow(0.0, 12.0, 0.0, 1.225, disc_area(rotor))
    state = rotor_model(rotor).state(flow, 1.225)
    assert float(state.speed) / (2.0 * np.pi) * 0.15 == pytest.approx(12.0)


def test_a_table_gives_back_its_own_rows(tmp_path) -> None:
    """T = C_T rho n^2 D^4, P = C_P rho n^3 D^5, J = V / (n D): the definitions."""
    ratios, thrusts, powers = (
        [0.0, 0.3, 0.6, 0.9],
        [0.11, 0.09, 0.05, 0.0],
        [0.05, 0.05, 0.04, 0.01],
    )
    lines = ["advance_ratio,thrust_coefficient,power_coefficient"]
    lines += [f"{j},{t},{p}" for j, t, p in zip(ratios, thrusts, powers, strict=True)]
    (tmp_path / "rotor.csv").write_text("\n".join(lines))
    rotor = Rotor(**PLAIN, radius_m=0.12, form="table", table="rotor.csv")  # type: ignore[arg-type]
    model = rotor_model(rotor, tmp_path)
    turns, diameter = 90.0, 0.24
    for j, c_t, c_p in zip(ratios, thrusts, powers, strict=True):
        speed, thrust = j * turns * diameter, c_t * 1.2 * turns**2 * diameter**4
        flow = disc_flow(np.array([thrust]), speed, 0.0, 1.2, disc_area(rotor))
        state = model.state(flow, 1.2)
        assert state.speed[0] == pytest.approx(2.0 * np.pi * turns, rel=1e-9)
        assert state.power[0] == pytest.approx(c_p * 1.2 * turns**3 * diameter**5, rel=1e-7)
        assert state.in_range[0]
    beyond = disc_flow(np.array([-1.0]), 25.0, 0.0, 1.2, disc_area(rotor))
    assert not model.state(beyond, 1.2).in_range[0]


def test_a_table_that_falls_steeply_is_searched_far_enough(tmp_path) -> None:
    """The same definitions, where the thrust asked for takes far more turns than in calm air."""
    rows = ["0,0.11,0.05", "0.05,0.005,0.02", "0.9,0.0,0.01"]
    table = "\n".join(["advance_ratio,thrust_coefficient,power_coefficient", *rows])
    (tmp_path / "rotor.csv").write_text(table)
    rotor = Rotor(**PLAIN, radius_m=0.12, form="table", table="rotor.csv")  # type: ignore[arg-type]
    turns, diameter = 1000.0, 0.24
    thrust = 0.005 * 1.2 * turns**2 * diameter**4
    flow = disc_flow(np.array([thrust]), 0.05 * turns * diameter, 0.0, 1.2, disc_area(rotor))
    state = rotor_model(rotor, tmp_path).state(flow, 1.2)
    assert state.speed[0] == pytest.approx(2.0 * np.pi * turns, rel=1e-9)
    assert state.power[0] == pytest.approx(0.02 * 1.2 * turns**3 * diameter**5, rel=1e-7)


def test_scaling_with_density_and_size() -> None:
    """Power at equal thrust and speed goes with 1 / sqrt(rho A) in hover (momentum theory)."""
    ideal = blades(blade_drag=0.0, blade_drag_rise=0.0, induced_power_factor=1.0)
    wide = blades(blade_drag=0.0, blade_drag_rise=0.0, induced_power_factor=1.0, radius_m=0.254)
    ratio = hover_state(ideal, 4.0, 1.225).power / hover_state(wide, 4.0, 1.225).power
    assert ratio == pytest.approx(2.0)
    thin = hover_state(ideal, 4.0, 1.225 / 4.0).power / hover_state(ideal, 4.0, 1.225).power
    assert thin == pytest.approx(2.0)


@pytest.mark.parametrize(
    ("rows", "told"),
    [
        (["0,0.1,0.05", "0.5,0.05,0.04"], "at least 3 rows"),
        (["0.1,0.1,0.05", "0.5,0.05,0.04", "1,0,0"], "the least advance_ratio is 0.1"),
        (["0,-0.1,0.05", "0.5,-0.2,0.04", "1,-0.3,0"], "must be positive at advance_ratio = 0"),
        (["0,0.1,0", "0.5,0.05,0.04", "1,0,0"], "power_coefficient must be positive"),
        (["0,0.1,0.05", "0,0.05,0.04", "1,0,0"], "line 3: advance_ratio stands twice"),
        (["0,0.1,0.05", "0.5,0.2,0.04", "1,0,0"], "line 3: thrust_coefficient = 0.2; it must fall"),
        (["0,0.1,0.05", "0.5,0.05,1e300", "1,0,0"], "line 3: power_coefficient = 1e"),
    ],
)
def test_a_bad_rotor_table_is_refused_with_its_line(tmp_path, rows, told) -> None:
    heads = "advance_ratio,thrust_coefficient,power_coefficient"
    (tmp_path / "r.csv").write_text("\n".join([heads, *rows]))
    with pytest.raises(InputRefused, match=r"r\.csv") as refused:
        rotor_curve("r.csv", tmp_path)
    assert told in str(refused.value)
