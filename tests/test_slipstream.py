"""Rotor wakes against momentum theory: twice the velocity far behind, mass and swirl kept."""

import numpy as np
import pytest

from vlm.description.power import Rotor
from vlm.power.rotor import rotor_state
from vlm.power.slipstream import (
    added_speed,
    jet_of,
    jet_velocity,
    slipstream_velocity,
    strips_at_edges,
    tube_radius,
)

AIR = 1.225
ROTOR = Rotor(
    name="front", position_m=(-0.1, 0.2, 0.0), radius_m=0.127, spin="right",
    form="blades", solidity=0.09, pitch_m=0.12,
)  # fmt: skip


def jet(thrust: float, airspeed: float, *, with_swirl: bool = False):  # type: ignore[no-untyped-def]
    wind = airspeed * np.array([1.0, 0.0, 0.0])
    state = rotor_state(ROTOR, thrust, wind, AIR)
    return jet_of(ROTOR, state, wind, AIR, with_swirl=with_swirl), state


def test_speed_and_radius_behind_the_disc() -> None:
    """v at the disc, 2 v far behind; mass is kept (actuator-disc theory, any text)."""
    tube, state = jet(4.0, 6.0)
    behind = np.array([0.0, 0.05, 0.2, 100.0])
    speed = added_speed(tube, behind)
    assert speed[0] == pytest.approx(state.induced)
    assert speed[-1] == pytest.approx(2.0 * state.induced, rel=1e-5)
    flux = tube_radius(tube, behind) ** 2 * (state.through + speed)
    assert flux == pytest.approx(flux[0])


def test_thrust_is_the_momentum_far_behind() -> None:
    """T = mass flow times 2 v (Rankine, Froude)."""
    tube, _state = jet(4.0, 6.0)
    far = np.array([50.0])
    flow = AIR * np.pi * tube_radius(tube, far)[0] ** 2 * (6.0 + added_speed(tube, far)[0])
    assert flow * added_speed(tube, far)[0] == pytest.approx(4.0, rel=1e-4)


def test_air_moves_inside_and_rests_outside() -> None:
    tube, _ = jet(4.0, 6.0)
    points = np.array([[0.3, 0.2, 0.0], [0.3, 0.2, 0.3], [0.3, 0.2, 0.05]])
    velocity = jet_velocity(tube, points)
    assert velocity[0, 0] > 1.0
    assert velocity[2, 0] == pytest.approx(velocity[0, 0])
    assert np.all(velocity[1] == 0.0)


def test_swirl_carries_the_torque() -> None:
    """Moment of momentum behind the disc is the shaft's torque; it turns with the blades."""
    tube, state = jet(4.0, 6.0, with_swirl=True)
    flow = AIR * (state.through + state.induced) * np.pi * 0.127**2
    assert flow * abs(tube.swirl) * 0.127**2 / 2.0 == pytest.approx(state.torque)
    # Clockwise seen from behind: on the starboard side of the axis the air goes down.
    starboard = jet_velocity(tube, np.array([[0.2, 0.25, 0.0]]))
    assert starboard[0, 2] < 0.0


def test_no_thrust_no_wind() -> None:
    tube, _ = jet(0.0, 6.0)
    points = np.random.default_rng(3).normal(size=(20, 3))
    assert np.all(slipstream_velocity([tube, tube], points) == 0.0)
    assert not strips_at_edges([tube], points, np.ones(20)).any()


def test_coarse_strips_at_an_edge_are_told() -> None:
    tube, _ = jet(4.0, 6.0)
    radius = float(tube_radius(tube, np.array([0.3]))[0])
    points = np.array([[0.2, 0.2 + radius, 0.0], [0.2, 0.2, 0.0]])
    assert list(strips_at_edges([tube], points, np.array([0.06, 0.06]))) == [True, False]
    assert not strips_at_edges([tube], points, np.array([0.004, 0.004])).any()
