"""What rotors do at given thrusts, and the wind on strips, from numbers worked out by hand.

Momentum theory: v_h = sqrt(T / (2 rho A)); an inclined stream is split along the axis and across.
The wake's swirl carries the torque: w = 2 (Q / rho) r / (pi R^4 (V_a + v)) at the disc for a tube
that turns as a solid body, half of it there (vortex cylinder; from memory).
"""

from types import SimpleNamespace

import numpy as np
import pytest

from vlm.description.power import Rotor
from vlm.power.momentum import disc_flow
from vlm.power.rotor import rotor_model
from vlm.power.rotor_state import RotorState
from vlm.power.slipstream import Slipstream
from vlm.power.strip_winds import BlowingRotors, strip_places

DENSITY = 1.2


def rotors(swirl: bool) -> BlowingRotors:
    plain = {"form": "blades", "solidity": 0.1, "pitch_m": 0.15}
    both = (
        Rotor(name="a", position_m=(0, 0.3, 0), axis=(-1, 0, 0), spin="right", radius_m=0.1,
              **plain),  # type: ignore[arg-type]
        Rotor(name="b", position_m=(0, -0.3, 0), axis=(-0.6, 0, 0.8), spin="left", radius_m=0.2,
              **plain),  # type: ignore[arg-type]
    )  # fmt: skip
    return BlowingRotors(both, tuple(rotor_model(one) for one in both), swirl)


def test_each_rotor_meets_its_part_of_the_stream() -> None:
    """A stream (10, 0, 5): 10 along the first axis and 5 across; 0.6 10 - 0.8 5 = 2 along the
    second, and sqrt(125 - 4) = 11 across."""
    stream = np.array([[10.0, 0.0, 5.0], [0.0, 2.0, 0.0]])
    thrusts = np.array([[3.0, 6.0], [1.5, 2.0]])
    first, second = rotors(False).at_work(stream, thrusts, DENSITY)
    np.testing.assert_allclose(first.flow.axial, [10.0, 0.0], atol=1e-12)
    np.testing.assert_allclose(first.flow.edgewise, [5.0, 2.0], atol=1e-12)
    np.testing.assert_allclose(second.flow.axial, [2.0, 0.0], atol=1e-12)
    np.testing.assert_allclose(second.flow.edgewise, [11.0, 2.0], atol=1e-12)
    for i, (state, radius) in enumerate([(first, 0.1), (second, 0.2)]):
        np.testing.assert_array_equal(state.flow.thrust, thrusts[:, i])
        hover = np.sqrt(thrusts[:, i] / (2.0 * DENSITY * np.pi * radius**2))
        np.testing.assert_allclose(state.flow.hover, hover, rtol=1e-12)


@pytest.mark.parametrize("swirl", [True, False])
def test_the_wind_turns_with_the_torque_where_swirl_is_asked_for(swirl: bool) -> None:
    """At the discs the wind is v, and across it 2 (Q / rho) r / (pi R^4 (V_a + v)) / 2 of swirl:
    a right-handed rotor turns the air about its thrust, a left-handed one against it."""
    blowing = rotors(swirl)
    thrust = np.array([3.0])
    states = [
        RotorState(
            disc_flow(thrust, speed, 0.0, DENSITY, np.pi * radius**2), np.array([500.0]),
            torque * 500.0, torque, np.array([True]),
        )
        for speed, radius, torque in
        ((6.0, 0.1, np.array([0.05])), (10.0, 0.2, np.array([0.13])))
    ]  # fmt: skip
    points = np.array([[0.0, 0.34, 0.0], [0.0, -0.38, 0.0]])  # 0.04 and -0.08 m beside the hubs
    blown = Slipstream(blowing.rotors, points, np.zeros((2, 3)))
    found = blowing.wind(blown, np.array([[6.0, 0.0, 0.0]]), states, DENSITY)[0]
    v = [float(state.flow.induced[0]) for state in states]
    turn = [2.0 * 0.05 / 1.2 / (np.pi * 0.1**4 * (6.0 + v[0])) / 2.0,
            2.0 * 0.13 / 1.2 / (np.pi * 0.2**4 * (10.0 + v[1])) / 2.0]  # fmt: skip
    turned = np.array([[0.0, 0.0, -0.04], [0.0, 0.0, 0.0]]) * turn[0]
    axis = np.array([-0.6, 0.0, 0.8])
    turned[1] = -turn[1] * np.cross(axis, [0.0, -0.08, 0.0])
    # Solved from the dynamic pressure, the wind of a wholly wetted point is all of it.
    wanted = np.array([[v[0], 0.0, 0.0], -v[1] * axis]) + (turned if swirl else 0.0)
    np.testing.assert_allclose(found, wanted, rtol=1e-9, atol=1e-12)


def test_strips_stand_where_their_points_do() -> None:
    """Three panels on two strips, and two segments, the second half of either strip."""
    model = SimpleNamespace(
        strips=SimpleNamespace(
            span=np.array([0.2, 0.4]), turning=np.array([[0.0, 1.0, 0.0], [0.0, 0.6, 0.8]])
        ),
        controls=np.arange(9.0).reshape(3, 3),
        segments=np.arange(6.0).reshape(2, 3) + 20.0,
        spread=np.array([0, 1, 1]),
        owners=np.array([[0.7, 0.5], [0.0, 0.5]]),
    )
    points, spans = strip_places(model)  # type: ignore[arg-type]
    np.testing.assert_array_equal(points, np.concatenate([model.controls, model.segments]))
    first, second = [0.0, 0.2, 0.0], [0.0, 0.24, 0.32]
    np.testing.assert_allclose(spans, [first, second, second, first, [0.0, 0.22, 0.16]])
