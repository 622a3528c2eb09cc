"""The wind a rotor blows over what stands behind it: a contracting streamtube.

At the distance s behind the disc the axial velocity has grown from v to

    v(s) = v (1 + s / sqrt(s^2 + R^2))                                                 (1)

(the flow on the axis of a vortex cylinder; B. W. McCormick, Aerodynamics, Aeronautics and Flight
Mechanics, from memory), which is v at the disc and 2 v far behind, as momentum asks. The tube
narrows so that the same air passes every cut,

    r(s)^2 (V_a + v(s)) = R^2 (V_a + v)                                                (2)

In inclined flow its centre drifts with the part of the stream across the axis. Within the tube the
velocity is taken as even, and its edge as wide as the mixing layer or the strip that lies on it.
"""

from dataclasses import dataclass

import numpy as np

from vlm.constants import Floats
from vlm.description.power import Rotor
from vlm.power.momentum import DiscFlow

MIXING = 0.15
"""Half-width of the edge over the tube's radius (common practice)."""
SLOWEST = 0.05
"""Least speed through the tube over v that the drift of its centre is worked out with."""


@dataclass(frozen=True)
class Wind:
    """What a rotor adds to the air at some points.

    Attributes
    ----------
    velocity : shape (states, points, 3), geometry axes [m/s]
    inside : shape (states, points), 1 within the tube, 0 outside, between them on its edge
    radius : shape (states, points), of the tube at the points [m]
    """

    velocity: Floats
    inside: Floats
    radius: Floats


def slipstream(
    rotor: Rotor,
    flow: DiscFlow,
    stream: Floats,
    points: Floats,
    widths: Floats,
    swirl: Floats | None = None,
) -> Wind:
    """Wind of one rotor at points.

    Parameters
    ----------
    flow : through the disc, fields of shape (states,)
    stream : shape (states, 3), the free stream, geometry axes [m/s]
    points : shape (points, 3) [m]
    widths : shape (points,), what each point stands for across the stream, such as the width of a
        strip: an edge that falls on it is spread over that [m]
    swirl : shape (states,), torque over density whose angular momentum the wake carries; no swirl
        if None [m^5/s^2]
    """
    axis = np.array(rotor.axis) / np.linalg.norm(rotor.axis)
    induced = flow.induced[:, None]
    behind = -(points - np.array(rotor.position_m)) @ axis
    growth = 1.0 + behind / np.hypot(behind, rotor.radius_m)
    axial = np.maximum(flow.axial[:, None], 0.0)
    through = np.maximum(axial + growth * induced, SLOWEST * np.abs(induced) + 1e-12)
    at_disc = np.maximum(axial + induced, 1e-12)
    radius = rotor.radius_m * np.sqrt(np.minimum(at_disc / through, 4.0))
    across = stream - (stream @ axis)[:, None] * axis
    drift = (behind / through)[:, :, None] * across[:, None, :]
    arm = (points - np.array(rotor.position_m)) + behind[:, None] * axis
    arm = arm[None, :, :] - drift
    away = np.linalg.norm(arm, axis=2)
    layer = np.maximum(MIXING * radius, 0.5 * widths)
    inside = _edge((away - radius) / (2.0 * layer) + 0.5) * (induced != 0.0)
    velocity = -(inside * growth * induced)[:, :, None] * axis
    if swirl is not None:
        velocity = velocity + _swirl(rotor, axis, swirl, at_disc, radius, inside, behind, arm)
    return Wind(velocity, inside, radius)


def _edge(t: Floats) -> Floats:
    """1 below t = 0, 0 above t = 1, smooth between."""
    s = np.clip(t, 0.0, 1.0)
    return np.asarray(1.0 - s * s * (3.0 - 2.0 * s))


def _swirl(
    rotor: Rotor,
    axis: Floats,
    swirl: Floats,
    at_disc: Floats,
    radius: Floats,
    inside: Floats,
    behind: Floats,
    arm: Floats,
) -> Floats:
    """Rotation of the wake as one body, which carries the torque's angular momentum.

    rho (V_a + v) k pi R^4 / 2 = Q at the disc; r^2 k is kept where the tube narrows.
    """
    sense = 1.0 if rotor.spin == "right" else -1.0
    rate = 2.0 * swirl[:, None] / (np.pi * rotor.radius_m**4 * at_disc)
    rate = rate * (rotor.radius_m / radius) ** 2
    started = 0.5 * (1.0 + behind / np.hypot(behind, 0.1 * rotor.radius_m))
    return np.asarray((inside * started * rate * sense)[:, :, None] * np.cross(axis, arm))
