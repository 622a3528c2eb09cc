"""Axes and rotations.

Geometry axes: x aft, y to starboard, z up. Body axes: x forward, y to starboard, z down.
Stability axes: body axes turned about y by the angle of attack, so that x points along the flow's
projection on the plane of symmetry. Wind axes: x against the flow. Definitions follow
ISO 1151-1:1988 (from memory).
"""

from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from vlm.constants import Floats

GEOMETRY_TO_BODY: Floats = np.diag([-1.0, 1.0, -1.0])
"""Turns components in geometry axes into components in body axes, shape (3, 3)."""
GEOMETRY_TO_BODY.setflags(write=False)


def rotation_about(axis_unit: ArrayLike, angle_rad: float) -> Floats:
    """Matrix that turns vectors about an axis by the right-hand rule.

    Rodrigues' formula, R = I + sin(a) K + (1 - cos(a)) K^2 with K the cross product matrix of
    the axis. Multiples of a quarter turn are exact.

    Parameters
    ----------
    axis_unit : unit vector along the axis, shape (3,) [1]
    angle_rad : angle [rad]

    Returns
    -------
    Shape (3, 3), orthogonal, determinant one.

    Raises
    ------
    ValueError : the axis is not a unit vector of three components
    """
    axis = np.asarray(axis_unit, dtype=float)
    if axis.shape != (3,) or not abs(float(axis @ axis) - 1.0) <= 1e-9:
        raise ValueError(f"the axis of a rotation must be a unit vector, not {axis.tolist()}")
    x, y, z = axis
    cross = np.array([[0.0, -z, y], [z, 0.0, -x], [-y, x, 0.0]])
    sine, versine = _sine_and_versine(angle_rad)
    return np.asarray(np.eye(3) + sine * cross + versine * (cross @ cross))


def _sine_and_versine(angle_rad: float) -> tuple[float, float]:
    """sin(a) and 1 - cos(a); at quarter turns without the rounding of pi.

    A tip folded by 90 degrees must meet the other wing's end to the last digit.
    """
    quarters = angle_rad / (0.5 * np.pi)
    whole = round(quarters)
    if abs(quarters - whole) < 1e-15 * max(1.0, abs(quarters)):
        return ((0.0, 0.0), (1.0, 1.0), (0.0, 2.0), (-1.0, 1.0))[whole % 4]
    return float(np.sin(angle_rad)), float(1.0 - np.cos(angle_rad))


def wind_direction(alpha_rad: ArrayLike, beta_rad: ArrayLike) -> Floats:
    """Unit vector of the flow past the craft, geometry axes.

    (cos a cos b, -sin b, sin a cos b): the wind of positive sideslip comes from starboard.

    Parameters
    ----------
    alpha_rad, beta_rad : angle of attack and sideslip, numbers or arrays of equal shape [rad]

    Returns
    -------
    Shape (..., 3), the angles' shape in front [1].
    """
    ca, sa = np.cos(alpha_rad), np.sin(alpha_rad)
    cb, sb = np.cos(beta_rad), np.sin(beta_rad)
    return np.stack(np.broadcast_arrays(ca * cb, -sb, sa * cb), axis=-1)


def body_to_stability(alpha_rad: float) -> Floats:
    """Turns components in body axes into components in stability axes, shape (3, 3).

    The flight velocity (cos a, 0, sin a) in body axes lies along x in stability axes.
    """
    ca, sa = np.cos(alpha_rad), np.sin(alpha_rad)
    return np.array([[ca, 0.0, sa], [0.0, 1.0, 0.0], [-sa, 0.0, ca]])


def body_to_wind(alpha_rad: float, beta_rad: float) -> Floats:
    """Turns components in body axes into components in wind axes, shape (3, 3).

    The flight velocity (cos a cos b, sin b, sin a cos b) in body axes lies along x in wind axes;
    lift is minus the z component of a force, drag minus its x component.
    """
    cb, sb = np.cos(beta_rad), np.sin(beta_rad)
    turn = np.array([[cb, sb, 0.0], [-sb, cb, 0.0], [0.0, 0.0, 1.0]])
    return np.asarray(turn @ body_to_stability(alpha_rad))


def cross(first: NDArray[Any], second: NDArray[Any]) -> NDArray[Any]:
    """Cross product over the last axis, three components, with broadcasting.

    numpy's own spends most of its time on moving axes, which shows where arrays are small.
    """
    a, b, c = first[..., 0], first[..., 1], first[..., 2]
    x, y, z = second[..., 0], second[..., 1], second[..., 2]
    along = b * z - c * y
    product = np.empty((*np.shape(along), 3), dtype=along.dtype)
    product[..., 0] = along
    product[..., 1] = c * x - a * z
    product[..., 2] = a * y - b * x
    return product
