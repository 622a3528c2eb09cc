"""Rotors' loads in small motions, against theory written out here; all craft are invented.

Blades of one pitch and ideal twist and the momentum of the air: A. Gessow and G. C. Myers,
Aerodynamics of the Helicopter; H. Glauert, Airplane Propellers, 1935 (both from memory).
Coefficients of a propeller: T = rho n^2 D^4 C_T(J), P = rho n^3 D^5 C_P(J), J = V / (n D), any text
on propellers.
"""

from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from scipy.optimize import brentq

from vlm.description.loading import load_biplane
from vlm.description.models import Biplane
from vlm.flight.craft import rotor_rates as module
from vlm.flight.craft.rotor_rates import AxialSlopes, axial_slopes, rotor_rates
from vlm.flight.craft.rotor_slopes import idle_slopes, slopes_of
from vlm.power.strip_winds import blowing_rotors

DENSITY = 1.225


def in_flight(speed: float, thrust: float, pitching: float = 0.0) -> Any:
    motion, wrench = speed * np.array([1.0, 0.0, 0.0]), np.zeros(6)
    wrench[4] = pitching
    return SimpleNamespace(motion=motion, density=DENSITY, thrust=thrust, wrench=wrench)


def around(centre: tuple[float, float, float]) -> Any:
    return SimpleNamespace(masses=SimpleNamespace(centre=np.array(centre)))


def slopes(craft: Biplane, speed: float, thrusts: list[float]) -> Any:
    wind = np.array([speed, 0.0, 0.0])
    found = axial_slopes(blowing_rotors(craft), wind, DENSITY, np.array(thrusts))
    return found.held_speed, found.held_torque


@pytest.mark.parametrize(("speed", "thrust"), [(8.0, 1.4), (12.0, 0.6), (20.0, 1.1)])
def test_thrust_at_a_held_speed_is_that_of_blades_and_momentum(speed: float, thrust: float) -> None:
    """T = k W (P W / 2 pi - V - v), k = rho A sigma a R / 4, with T = 2 rho A (V + v) v.

    For one speed of rotation W the two equations are solved anew at airspeeds on either side.
    """
    craft = load_biplane("tideline")
    rotor = craft.rotors[0]
    assert rotor.solidity is not None
    assert rotor.pitch_m is not None
    area = np.pi * rotor.radius_m**2
    slope = rotor.value("blade_lift_slope_per_rad")
    k = DENSITY * area * rotor.solidity * slope * rotor.radius_m / 4.0
    pitch = rotor.pitch_m / (2.0 * np.pi)

    def induced(pull: float, air: float) -> float:
        return -0.5 * air + np.sqrt(0.25 * air**2 + pull / (2.0 * DENSITY * area))

    def blades(turning: float, pull: float, air: float) -> float:
        return k * turning * (pitch * turning - air - induced(pull, air))

    turning = brentq(lambda w: blades(w, thrust, speed) - thrust, 50.0, 3000.0)
    ends = [
        brentq(lambda t, air=air: blades(turning, t, air) - t, 1e-6, 20.0)
        for air in (speed - 0.01, speed + 0.01)
    ]
    (by_speed, _), (by_torque, _) = slopes(craft, speed, [thrust] * 4)
    assert by_speed[0] == pytest.approx((ends[1] - ends[0]) / 0.02, rel=1e-4)
    assert by_speed[0] < by_torque[0] < 0.0


def of_table(folder: Path) -> Biplane:
    """A craft whose rotors have the coefficients C_T = 0.10 - 0.08 J, C_P = 0.06 - 0.02 J."""
    rows = ["advance_ratio,thrust_coefficient,power_coefficient"]
    rows += [
        f"{j:.2f},{0.10 - 0.08 * j:.6f},{0.06 - 0.02 * j:.6f}" for j in np.arange(0, 1.21, 0.1)
    ]
    (folder / "rotor.csv").write_text("\n".join(rows) + "\n")
    drop = {"solidity": None, "pitch_m": None}
    plain = load_biplane("tideline")
    rotors = tuple(
        one.model_copy(update={"form": "table", "table": str(folder / "rotor.csv"), **drop})
        for one in plain.rotors
    )
    return plain.model_copy(update={"rotors": rotors})


def test_a_measured_rotor_s_slopes_are_those_of_its_coefficients(tmp_path: Path) -> None:
    """Straight coefficients C_T = 0.10 - 0.08 J, C_P = 0.06 - 0.02 J: by the chain rule

    at held n      T_V = rho n D^3 C_T',   Q_V = rho n D^4 C_P' / 2 pi
    at held torque the same with what n changes, Q_n n_V = -Q_V.
    """
    craft = of_table(tmp_path)
    speed, diameter = 12.0, 2.0 * craft.rotors[0].radius_m
    n = speed / (0.6 * diameter)
    thrust = DENSITY * n**2 * diameter**4 * (0.10 - 0.08 * 0.6)
    (by_speed, turning), (by_torque, none) = slopes(craft, speed, [thrust] * 4)
    pull = -DENSITY * n * diameter**3 * 0.08
    twist = -DENSITY * n * diameter**4 * 0.02 / (2.0 * np.pi)
    assert by_speed == pytest.approx([pull] * 4, rel=1e-4)
    assert turning == pytest.approx([twist] * 4, rel=1e-4)
    # T = rho D^4 n^2 (a - b J), Q = rho D^5 n^2 (c - d J) / 2 pi with J = V / (n D).
    with_n = DENSITY * diameter**4 * n * (2.0 * 0.10 - 0.08 * 0.6)
    torque_n = DENSITY * diameter**5 * n * (2.0 * 0.06 - 0.02 * 0.6) / (2.0 * np.pi)
    assert by_torque == pytest.approx([pull - with_n * twist / torque_n] * 4, rel=1e-4)
    assert none == pytest.approx([0.0] * 4)


def test_the_rates_are_the_levers_of_the_slopes(monkeypatch: pytest.MonkeyPatch) -> None:
    """By hand: X_u is the sum of T', yaw and pitch damping T' times levers squared, and the torques
    of rotors that all turn right roll the craft to port as it speeds up."""
    craft = load_biplane("tideline")
    alike = tuple(one.model_copy(update={"spin": "right"}) for one in craft.rotors)
    craft = craft.model_copy(update={"rotors": alike})
    monkeypatch.setattr(
        module, "axial_slopes",
        lambda *_: AxialSlopes(
            np.array([np.full(4, -0.3), np.full(4, 0.02)]),
            np.array([np.full(4, -0.1), np.zeros(4)]),
        ),
    )  # fmt: skip
    monkeypatch.setattr(module, "side_slopes", lambda *_: np.zeros(4))
    centre = (0.04, 0.0, -0.15)
    found = rotor_rates(craft, around(centre), in_flight(12.0, 2.0))
    places = np.array([one.position_m for one in craft.rotors])
    sideways, height = places[:, 1], places[:, 2] - centre[2]
    assert found.rates[0, 0] == pytest.approx(4.0 * -0.2)
    assert found.to_speed[0, 0] == pytest.approx(4.0 * -0.1)
    assert found.rates[5, 5] == pytest.approx(-0.2 * np.sum(sideways**2))
    assert found.rates[4, 4] == pytest.approx(-0.2 * np.sum(height**2))
    # Thrust above the centre of gravity pitches the nose down; less of it, up.
    assert found.rates[4, 0] == pytest.approx(0.2 * np.sum(height))
    # The shaft turns right, seen from behind; its motor and the craft are pushed left.
    assert found.rates[3, 0] == pytest.approx(-0.5 * 4.0 * 0.02)
    assert found.rates[1:3] == pytest.approx(np.zeros((2, 6)))


def test_rotors_hold_the_trims_pitching_moment(monkeypatch: pytest.MonkeyPatch) -> None:
    """By hand: four thrusts at 0.18 m above and below hold 0.36 N m nose down of the air by 0.5 N
    more each below, 0.5 N less above."""
    seen = []

    def noted(rotors: Any, wind: Any, density: float, thrusts: Any) -> Any:
        seen.append(thrusts)
        return AxialSlopes(np.full((2, 4), -0.3), np.full((2, 4), -0.1))

    monkeypatch.setattr(module, "axial_slopes", noted)
    craft = load_biplane("tideline")
    heights = np.array([one.position_m[2] for one in craft.rotors])
    assert sorted(set(heights)) == [-0.36, 0.0]
    rotor_rates(craft, around((0.04, 0.0, -0.18)), in_flight(12.0, 4.0, pitching=-0.36))
    assert seen[0] == pytest.approx(np.where(heights < -0.1, 1.5, 0.5))


def test_a_held_power_lies_between_a_held_speed_and_a_held_torque() -> None:
    """Trims at one power, sought by a library: a third thing that a control may hold."""
    craft, speed, thrust = load_biplane("tideline"), 12.0, 0.6
    rotors = blowing_rotors(craft)

    def power(pull: float, air: float) -> float:
        wind = np.array([[air, 0.0, 0.0]])
        return float(rotors.at_work(wind, np.full((1, 4), pull), DENSITY)[0].power[0])

    own = power(thrust, speed)
    ends = [
        brentq(lambda t, air=air: power(t, air) - own, 0.1, 3.0)
        for air in (speed - 0.01, speed + 0.01)
    ]
    found = rotor_rates(craft, around((0.0, 0.0, 0.0)), in_flight(speed, 4.0 * thrust))
    held = 4.0 * (ends[1] - ends[0]) / 0.02
    held_speed, held_torque = found.rates + found.to_speed, found.rates - found.to_speed
    assert held_speed[0, 0] < held < held_torque[0, 0]


def test_without_rotors_thrust_stays_as_it_is() -> None:
    found = rotor_rates(load_biplane("turnstone"), around((0.0, 0.0, 0.0)), in_flight(12.0, 2.0))
    assert not found.rates.any()
    assert not found.to_speed.any()


def test_forces_across_the_axes_have_the_levers_of_the_rotors(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """By hand, without axial answers: a sideslip to starboard is opposed by 4 s v; ahead of the
    centre of gravity that turns the nose to port, and w pitches it up; half is left open."""
    craft = load_biplane("tideline")
    none = AxialSlopes(np.zeros((2, 4)), np.zeros((2, 4)))
    monkeypatch.setattr(module, "axial_slopes", lambda *_: none)
    monkeypatch.setattr(module, "side_slopes", lambda *_: np.full(4, 0.05))
    centre = np.array([0.04, 0.0, -0.15])
    found = rotor_rates(craft, around((0.04, 0.0, -0.15)), in_flight(12.0, 2.0))
    places = np.array([one.position_m for one in craft.rotors]) - centre
    ahead, above = -places[:, 0], places[:, 2]
    rates = found.rates
    assert rates[0] == pytest.approx(np.zeros(6))
    assert rates[1, 1] == pytest.approx(-0.2)
    assert rates[2, 2] == pytest.approx(-0.2)
    assert rates[5, 1] == pytest.approx(-0.05 * np.sum(ahead))
    assert rates[4, 2] == pytest.approx(0.05 * np.sum(ahead))
    # Above the centre of gravity a force to port rolls the craft to port.
    assert rates[3, 1] == pytest.approx(-0.05 * np.sum(above))
    # Yaw to starboard moves rotors ahead to starboard; pitch up moves them up.
    assert rates[1, 5] == pytest.approx(-0.05 * np.sum(ahead))
    assert rates[5, 5] == pytest.approx(-0.05 * np.sum(ahead**2))
    assert rates[4, 4] == pytest.approx(-0.05 * np.sum(ahead**2))
    assert rates[3, 3] == pytest.approx(-0.05 * np.sum(places[:, 1] ** 2 + above**2))
    assert found.half_width == pytest.approx(0.5 * np.abs(rates))
    # The roots are worked out with the most and the least of it.
    reached = sorted(1.0 + way[5, 1] / rates[5, 1] for way in found.ways)
    assert reached == pytest.approx([0.5, 0.5, 1.5, 1.5])


def test_tilted_rotors_are_pushed_in_their_own_planes(monkeypatch: pytest.MonkeyPatch) -> None:
    """By hand: axes tilted up by t oppose w with s cos^2 t, u with s sin^2 t."""
    plain, tilt = load_biplane("tideline"), 0.3
    axis = (-float(np.cos(tilt)), 0.0, float(np.sin(tilt)))
    rotors = tuple(one.model_copy(update={"axis": axis}) for one in plain.rotors)
    none = AxialSlopes(np.zeros((2, 4)), np.zeros((2, 4)))
    monkeypatch.setattr(module, "axial_slopes", lambda *_: none)
    monkeypatch.setattr(module, "side_slopes", lambda *_: np.full(4, 0.05))
    craft = plain.model_copy(update={"rotors": rotors})
    rates = rotor_rates(craft, around((0.04, 0.0, -0.15)), in_flight(12.0, 2.0)).rates
    assert rates[2, 2] == pytest.approx(-0.2 * np.cos(tilt) ** 2)
    assert rates[0, 0] == pytest.approx(-0.2 * np.sin(tilt) ** 2)
    assert rates[1, 1] == pytest.approx(-0.2)


def test_stiffness_turns_rates_into_derivatives() -> None:
    """Y_v v = q S CY_beta beta with v = U beta; Z is down, lift up; q is half rho U squared."""
    rates = module.RotorRates(np.arange(36.0).reshape(6, 6), np.ones((6, 6)))
    frame: Any = SimpleNamespace(area=0.5, span=1.2, chord=0.2)
    found = slopes_of(rates, frame, 10.0, DENSITY)
    force = 0.5 * DENSITY * 100.0 * 0.5
    assert found["CY_beta"] == pytest.approx((7.0 * 10.0 / force, 10.0 / force))
    assert found["CL_alpha"] == pytest.approx((-14.0 * 10.0 / force, 10.0 / force))
    assert found["Cn_beta"][0] == pytest.approx(31.0 * 10.0 / (force * 1.2))
    assert found["Cl_beta"][0] == pytest.approx(19.0 * 10.0 / (force * 1.2))
    assert found["Cm_alpha"][0] == pytest.approx(26.0 * 10.0 / (force * 0.2))


def test_without_thrust_the_stiffness_is_nearly_that_of_cruise() -> None:
    """What idle_slopes says: within a tenth of cruise, and the same at all airspeeds."""
    craft = load_biplane("tideline")
    frame: Any = SimpleNamespace(
        area=0.5, span=1.2, chord=0.2, moment_point=np.array([0.05, 0.0, -0.18])
    )
    idle = [idle_slopes(craft, frame, 0.05, speed, DENSITY) for speed in (10.0, 20.0)]
    assert idle[0] is not None
    assert idle[1] is not None
    assert idle[1]["Cn_beta"][0] == pytest.approx(idle[0]["Cn_beta"][0], rel=0.03)
    for speed, thrust in ((10.0, 1.8), (13.0, 1.6), (20.0, 2.4)):
        velocity = speed * np.array([np.cos(0.05), 0.0, np.sin(0.05)])
        rates = module.rates_about(
            craft, frame.moment_point, velocity, DENSITY, np.full(4, thrust / 4.0)
        )
        cruise = slopes_of(rates, frame, speed, DENSITY)
        for name in ("Cn_beta", "Cm_alpha"):
            assert cruise[name][0] == pytest.approx(idle[0][name][0], rel=0.1)


def test_beyond_a_rotor_s_table_nothing_is_known(tmp_path: Path) -> None:
    found = rotor_rates(of_table(tmp_path), around((0.0, 0.0, 0.0)), in_flight(12.0, -3.0))
    assert not found.rates.any()
    assert np.isnan(found.to_speed).all()
