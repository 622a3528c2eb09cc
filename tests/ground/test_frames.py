"""Rotations and axes against scipy's Rotation, and the signs of the conventions."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from vlm.frames import (
    GEOMETRY_TO_BODY,
    body_to_stability,
    body_to_wind,
    cross,
    rotation_about,
    wind_direction,
)

ANGLES = st.floats(-6.3, 6.3)
AXES = st.tuples(*[st.floats(-1.0, 1.0)] * 3).filter(lambda a: np.linalg.norm(a) > 1e-3)


@given(AXES, ANGLES)
def test_rotation_is_that_of_scipy(axis, angle):
    unit = np.array(axis) / np.linalg.norm(axis)
    expected = Rotation.from_rotvec(angle * unit).as_matrix()
    np.testing.assert_allclose(rotation_about(unit, angle), expected, atol=1e-14)


@pytest.mark.parametrize("quarters", range(-4, 5))
def test_quarter_turns_are_exact(quarters):
    turned = rotation_about([1.0, 0.0, 0.0], quarters * np.pi / 2) @ [0.0, 1.0, 0.0]
    assert turned.tolist() == [0.0, [1, 0, -1, 0][quarters % 4], [0, 1, 0, -1][quarters % 4]]


@pytest.mark.parametrize("axis", [[1.0, 1.0, 0.0], [0.0, 0.0, 0.0], [1.0, 0.0], [np.nan, 0.0, 1.0]])
def test_an_axis_must_be_a_unit_vector(axis):
    with pytest.raises(ValueError, match="unit vector"):
        rotation_about(axis, 0.1)


def test_wind_comes_from_ahead_below_and_starboard():
    """The signs of the conventions: positive angle of attack, positive sideslip."""
    assert wind_direction(0.0, 0.0).tolist() == [1.0, 0.0, 0.0]
    assert wind_direction(0.1, 0.0)[2] > 0.0
    assert wind_direction(0.0, 0.1)[1] < 0.0


@given(ANGLES, ANGLES)
def test_wind_axes_point_against_the_flow(alpha, beta):
    velocity = -GEOMETRY_TO_BODY @ wind_direction(alpha, beta)
    np.testing.assert_allclose(body_to_wind(alpha, beta) @ velocity, [1.0, 0.0, 0.0], atol=1e-14)


@given(ANGLES, ANGLES)
def test_wind_axes_are_two_turns_from_body_axes(alpha, beta):
    """Yaw by beta out of stability axes, pitch by alpha out of body axes (ISO 1151-1)."""
    stability = Rotation.from_euler("y", alpha).as_matrix().T @ np.eye(3)
    np.testing.assert_allclose(body_to_stability(-alpha), stability, atol=1e-14)
    wind = Rotation.from_euler("z", beta).as_matrix().T @ body_to_stability(alpha)
    np.testing.assert_allclose(body_to_wind(alpha, beta), wind, atol=1e-14)


def test_directions_of_many_states_at_once():
    alphas, betas = np.linspace(-0.3, 0.3, 6).reshape(2, 3), 0.05
    many = wind_direction(alphas, betas)
    assert many.shape == (2, 3, 3)
    np.testing.assert_array_equal(many[1, 2], wind_direction(alphas[1, 2], betas))


def test_shared_matrix_cannot_be_changed():
    with pytest.raises(ValueError, match="read-only"):
        GEOMETRY_TO_BODY[0, 0] = 2.0


@pytest.mark.parametrize(("off", "refused"), [(0.9e-9, False), (1.1e-9, True), (-1.1e-9, True)])
def test_an_axis_is_a_unit_vector_within_1e_9_of_its_square(off, refused):
    axis = [0.0, np.sqrt(1.0 + off), 0.0]
    if refused:
        with pytest.raises(ValueError, match="unit vector"):
            rotation_about(axis, 0.1)
    else:
        assert rotation_about(axis, 0.1)[0, 0] == pytest.approx(np.cos(0.1), abs=1e-8)


@pytest.mark.parametrize("off", [1e-9, -1e-9])
def test_a_turn_beside_a_quarter_is_no_quarter(off):
    turned = rotation_about([1.0, 0.0, 0.0], 0.5 * np.pi + off) @ [0.0, 1.0, 0.0]
    np.testing.assert_allclose(turned, [0.0, -off, 1.0], atol=1e-16)


def test_cross_products_are_numpys():
    random = np.random.default_rng(1)
    first, second = random.normal(size=(4, 1, 3)), random.normal(size=(5, 3))
    np.testing.assert_allclose(cross(first, second), np.cross(first, second), atol=1e-15)
    turned = cross(first[0, 0] * 1j, second[0])
    np.testing.assert_allclose(turned.imag, np.cross(first[0, 0], second[0]), atol=1e-15)
