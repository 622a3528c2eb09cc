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
from vlm.flight.craft.rotor_rates import RotorSlopes, rotor_rates, rotor_slopes
from vlm.power.strip_winds import blowing_rotors

DENSITY = 1.225


def in_flight(speed: float, thrust: float, alpha: float = 0.0) -> Any:
    motion = speed * np.array([np.cos(alpha), 0.0, np.sin(alpha)])
    return SimpleNamespace(motion=motion, density=DENSITY, thrust=thrust)


def around(centre: tuple[float, float, float]) -> Any:
    return SimpleNamespace(masses=SimpleNamespace(centre=np.array(centre)))


def slopes(craft: Biplane, speed: float, thrusts: list[float]) -> Any:
    wind = np.array([speed, 0.0, 0.0])
    found = rotor_slopes(blowing_rotors(craft), wind, DENSITY, np.array(thrusts))
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


def test_a_measured_rotor_s_slopes_are_those_of_its_coefficients(tmp_path: Path) -> None:
    """Straight coefficients C_T = 0.10 - 0.08 J, C_P = 0.06 - 0.02 J: by the chain rule

    at held n      T_V = rho n D^3 C_T',   Q_V = rho n D^4 C_P' / 2 pi
    at held torque the same with what n changes, Q_n n_V = -Q_V.
    """
    rows = ["advance_ratio,thrust_coefficient,power_coefficient"]
    rows += [
        f"{j:.2f},{0.10 - 0.08 * j:.6f},{0.06 - 0.02 * j:.6f}" for j in np.arange(0, 1.21, 0.1)
    ]
    (tmp_path / "rotor.csv").write_text("\n".join(rows) + "\n")
    drop = {"solidity": None, "pitch_m": None}
    plain = load_biplane("tideline")
    rotors = tuple(
        one.model_copy(update={"form": "table", "table": str(tmp_path / "rotor.csv"), **drop})
        for one in plain.rotors
    )
    craft = plain.model_copy(update={"rotors": rotors})
    speed, diameter = 12.0, 2.0 * rotors[0].radius_m
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
        module, "rotor_slopes",
        lambda *_: RotorSlopes(
            np.array([np.full(4, -0.3), np.full(4, 0.02)]),
            np.array([np.full(4, -0.1), np.zeros(4)]),
        ),
    )  # fmt: skip
    centre = (0.04, 0.0, -0.15)
    found = rotor_rates(craft, around(centre), in_flight(12.0, 2.0))
    places = np.array([one.position_m for one in craft.rotors])
    sideways, height = places[:, 1], places[:, 2] - centre[2]
    assert found.rates[0, 0] == pytest.approx(4.0 * -0.2)
    assert found.half_width[0, 0] == pytest.approx(4.0 * 0.1)
    assert found.rates[5, 5] == pytest.approx(-0.2 * np.sum(sideways**2))
    assert found.rates[4, 4] == pytest.approx(-0.2 * np.sum(height**2))
    # Thrust above the centre of gravity pitches the nose down; less of it, up.
    assert found.rates[4, 0] == pytest.approx(0.2 * np.sum(height))
    # The shaft turns right, seen from behind; its motor and the craft are pushed left.
    assert found.rates[3, 0] == pytest.approx(-0.5 * 4.0 * 0.02)
    assert found.rates[1:3] == pytest.approx(np.zeros((2, 6)))


def test_the_half_width_holds_a_held_power() -> None:
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
    assert abs(held - found.rates[0, 0]) < found.half_width[0, 0]


def test_without_rotors_thrust_stays_as_it_is() -> None:
    found = rotor_rates(load_biplane("turnstone"), around((0.0, 0.0, 0.0)), in_flight(12.0, 2.0))
    assert not found.rates.any()
    assert not found.half_width.any()
