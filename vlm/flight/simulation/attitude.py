"""Attitude as a unit quaternion (w, x, y, z) that turns body axes into earth axes.

Earth axes: x north, y east, z down. Angles of pitch, bank and heading follow the usual order
yaw, pitch, roll (Etkin and Reid, Dynamics of Flight, chapter 4).
"""

import numpy as np

from vlm.constants import Floats

PULL = 1.0
"""Rate at which the length of a quaternion is drawn back to one [1/s]."""


def to_earth(attitude: Floats) -> Floats:
    """Matrix that turns components in body axes into those in earth axes, shape (3, 3)."""
    w, x, y, z = attitude / np.linalg.norm(attitude)
    return np.array(
        [
            [1.0 - 2.0 * (y * y + z * z), 2.0 * (x * y - w * z), 2.0 * (x * z + w * y)],
            [2.0 * (x * y + w * z), 1.0 - 2.0 * (x * x + z * z), 2.0 * (y * z - w * x)],
            [2.0 * (x * z - w * y), 2.0 * (y * z + w * x), 1.0 - 2.0 * (x * x + y * y)],
        ]
    )


def attitude_rate(attitude: Floats, rates: Floats) -> Floats:
    """Rate of the quaternion with body rates [rad/s], shape (4,)."""
    w, x, y, z = attitude
    p, q, r = rates
    turned = 0.5 * np.array(
        [
            -x * p - y * q - z * r,
            w * p + y * r - z * q,
            w * q - x * r + z * p,
            w * r + x * q - y * p,
        ]
    )
    return np.asarray(turned + PULL * (1.0 - attitude @ attitude) * attitude)


def attitude_of(bank: float, pitch: float, heading: float = 0.0) -> Floats:
    """Quaternion of bank, pitch and heading [rad], shape (4,)."""
    cr, sr = np.cos(0.5 * bank), np.sin(0.5 * bank)
    cp, sp = np.cos(0.5 * pitch), np.sin(0.5 * pitch)
    cy, sy = np.cos(0.5 * heading), np.sin(0.5 * heading)
    return np.array(
        [
            cr * cp * cy + sr * sp * sy,
            sr * cp * cy - cr * sp * sy,
            cr * sp * cy + sr * cp * sy,
            cr * cp * sy - sr * sp * cy,
        ]
    )


def angles_of(turn: Floats) -> tuple[float, float, float]:
    """Bank, pitch and heading [rad] of a matrix from :func:`to_earth`."""
    return (
        float(np.arctan2(turn[2, 1], turn[2, 2])),
        float(np.arcsin(np.clip(-turn[2, 0], -1.0, 1.0))),
        float(np.arctan2(turn[1, 0], turn[0, 0])),
    )


def continued_angles(turns: Floats) -> Floats:
    """Bank, pitch and heading [rad] of following attitudes without jumps, shape (n, 3).

    (bank, pitch, heading) and (bank + pi, pi - pitch, heading + pi) are one attitude. Where the
    nose passes the vertical the second goes on smoothly: in a loop the pitch attitude passes
    90 degrees and nothing rolls.

    Parameters
    ----------
    turns : shape (n, 3, 3), from :func:`to_earth`
    """
    found = np.array([angles_of(turn) for turn in turns])
    for place in range(1, len(found)):
        before, here = found[place - 1], found[place]
        over = np.array([here[0] + np.pi, np.pi - here[1], here[2] + np.pi])
        near = [
            one + 2.0 * np.pi * np.round((before - one) / (2.0 * np.pi)) for one in (here, over)
        ]
        found[place] = min(near, key=lambda one: float(np.abs(one - before).sum()))
    return found
