"""The rigid craft's equations and their linear model on forces that are known, by hand.

No source but Newton's and Euler's laws as the module states them; all numbers are invented.
"""

from types import SimpleNamespace

import numpy as np
import pytest

from vlm.flight.simulation import linear
from vlm.flight.simulation.linear import rigid_rates


class _Bodies:
    """Two kilograms at the moment point with unlike inertias; h is a known vector."""

    mass = 2.0

    def weight(self, parts, gravity):
        return np.concatenate([2.0 * gravity, np.zeros(5)])

    def bias(self, parts, speeds):
        return 0.1 * np.arange(8.0)

    def mass_matrix(self, parts):
        return np.diag([2.0, 2.0, 2.0, 0.3, 0.4, 0.5, 1.0, 1.0])


def plant_by_hand(rotors=True):
    """Loads of the air grow with speeds and thrusts; the air adds 1 kg and 0.1 kg m^2."""
    pose = SimpleNamespace(
        parts=None,
        centre=None,
        apparent=np.diag([1.0, 1.0, 1.0, 0.1, 0.1, 0.1, 9.0, 9.0]) + 0.01 * np.ones((8, 8)),
    )
    return SimpleNamespace(
        posed=lambda folds: pose,
        bodies=_Bodies(),
        gravity=np.array([0.0, 0.0, 9.80665]),
        thrusts=2,
        air_loads=lambda pose, speeds, wind, thrusts: SimpleNamespace(
            loads=-0.5 * speeds + thrusts.sum()
        ),
        generalised=lambda loads: loads,
        drag=lambda pose, speeds, wind: -0.1 * speeds,
        thrust_loads=lambda thrusts, centre: np.arange(6.0) * thrusts[0],
        rotors=SimpleNamespace(gyroscopic=lambda t, none, rates: 0.2 * rates) if rotors else None,
    )


@pytest.mark.parametrize("rotors", [True, False])
def test_rates_of_the_rigid_craft_are_forces_over_masses_and_turns_of_the_angles(rotors):
    """(M + apparent) u' = Q - h; angles by Etkin and Reid, chapter 4 (from memory)."""
    state = np.array([12.0, 0.5, 1.0, 0.2, -0.3, 0.4, 0.25, 0.15, 0.9])
    thrusts, held = np.array([1.5, 2.0]), np.array([0.3, -0.2, 0.1])
    plant = plant_by_hand(rotors)
    found = rigid_rates(plant, state, np.zeros(2), thrusts, held)
    bank, pitch = state[6], state[7]
    speeds = np.append(state[:6], [0.0, 0.0])
    gravity = 9.80665 * np.array(
        [-np.sin(pitch), np.cos(pitch) * np.sin(bank), np.cos(pitch) * np.cos(bank)]
    )
    force = -0.6 * speeds[:6] + 3.5 + np.arange(6.0) * 1.5 - 0.1 * np.arange(6.0)
    force[:3] += 2.0 * gravity
    force[3:] += held + (0.2 * state[3:6] if rotors else 0.0)
    mass = np.diag([3.0, 3.0, 3.0, 0.4, 0.5, 0.6]) + 0.01
    np.testing.assert_allclose(found[:6], np.linalg.solve(mass, force))
    p, q, r = state[3:6]
    expected = [
        p + (q * np.sin(bank) + r * np.cos(bank)) * np.tan(pitch),
        q * np.cos(bank) - r * np.sin(bank),
        (q * np.sin(bank) + r * np.cos(bank)) / np.cos(pitch),
    ]
    np.testing.assert_allclose(found[6:], expected)


def test_a_linear_model_holds_the_slopes_of_the_rates(monkeypatch):
    """About level flight at 0.1 rad; folds, then thrusts, are inputs; states are outputs."""
    start = SimpleNamespace(
        alpha=0.1,
        bank=0.2,
        state=np.array([12.0, 0.0, 1.2, 0, 0, 0, 9.9]),
        thrusts=np.array([1.5, 2.0]),
        held_moment=np.zeros(3),
    )
    monkeypatch.setattr(linear, "steady_state", lambda plant, airspeed, folds: start)
    plant = plant_by_hand()
    plant.rotors.names = ("left one", "right")
    model = linear.linear_model(plant, 12.0, np.array([0.3, -0.1]))
    assert model.inputs == (
        "fold_left_rad",
        "fold_right_rad",
        "thrust_left_one_N",
        "thrust_right_N",
    )
    pitch = np.arctan(np.tan(0.1) * np.cos(0.2))
    np.testing.assert_allclose(model.state, [12.0, 0, 1.2, 0, 0, 0, 0.2, pitch, 0.0])
    for i in range(9):
        step = 1e-5 * np.eye(9)[i]
        up, down = (
            rigid_rates(plant, model.state + s * step, model.folds, start.thrusts, np.zeros(3))
            for s in (1.0, -1.0)
        )
        np.testing.assert_allclose(model.a[:, i], (up - down) / 2e-5, atol=1e-6)
    assert not model.b[:, :2].any()
    mass = np.diag([3.0, 3.0, 3.0, 0.4, 0.5, 0.6]) + 0.01
    np.testing.assert_allclose(
        model.b[:6, 2], np.linalg.solve(mass, 1.0 + np.arange(6.0)), atol=1e-6
    )
    np.testing.assert_allclose(model.b[:6, 3], np.linalg.solve(mass, np.ones(6)), atol=1e-6)
    np.testing.assert_array_equal(model.c, np.eye(9))
    assert model.d.shape == (9, 4)
    assert not model.d.any()
