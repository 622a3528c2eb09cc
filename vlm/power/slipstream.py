"""The rotors' wakes as wind over the wings.

A disc that adds v to the flow V_n through it is followed by a tube in which the added velocity
grows with the distance s behind the disc, and which contracts as it does:

    v(s) = v (1 + s / sqrt(s^2 + R^2)),   R(s)^2 (V_n + v(s)) = R^2 (V_n + v)           (P4)

(the axial velocity of a semi-infinite vortex tube on its axis: e.g. McCormick, Aerodynamics of
V/STOL Flight; from memory. Far behind, v(s) = 2 v as momentum theory asks). It drifts with the
flow through and along the disc. With swirl, the air turns as a rigid core whose moment of
momentum is the shaft's torque Q, omega = 2 Q / (rho (V_n + v) pi R^4) at the disc, and keeps its
moment of momentum as the tube contracts. The edge of a tube is blurred over a share of its
radius, for a real one is; tubes of several rotors add.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vlm.description.power import Rotor
from vlm.power.momentum import Floats
from vlm.power.rotor import RotorState

EDGE = 0.1
REACH = 2.0


@dataclass(frozen=True)
class Jet:
    """One rotor's wake.

    Attributes
    ----------
    centre : of the disc, shape (3,) [m]
    along : unit vector of the added velocity, shape (3,)
    drift : unit vector of the tube's axis, shape (3,)
    radius : of the disc [m]
    through : V_n [m/s]
    induced : v at the disc [m/s]
    swirl : angular velocity behind the disc about ``along``, right-handed [rad/s]
    """

    centre: Floats
    along: Floats
    drift: Floats
    radius: float
    through: float
    induced: float
    swirl: float = 0.0


def jet_of(
    rotor: Rotor, state: RotorState, wind: Floats, density: float, *, with_swirl: bool = False
) -> Jet:
    """The wake of a rotor at work.

    Parameters
    ----------
    wind : velocity of the air past the craft, geometry axes, shape (3,) [m/s]
    """
    axis = np.asarray(rotor.axis, dtype=float)
    along = -axis / np.linalg.norm(axis)
    flow = wind + state.induced * along
    speed = float(np.linalg.norm(flow))
    swirl = 0.0
    inflow = state.through + state.induced
    if with_swirl and inflow > 0.0:
        # "right" turns clockwise seen from behind: right-handed about the direction of thrust.
        sense = -1.0 if rotor.spin == "right" else 1.0
        swirl = sense * 2.0 * state.torque / (density * inflow * np.pi * rotor.radius_m**4)
    return Jet(
        centre=np.asarray(rotor.position_m, dtype=float),
        along=along,
        drift=flow / speed if speed > 1e-9 else along,
        radius=rotor.radius_m,
        through=state.through,
        induced=state.induced,
        swirl=float(swirl),
    )


def added_speed(jet: Jet, behind: Floats) -> Floats:
    """v(s) of (P4) at distances behind the disc [m/s]; ahead of it s is negative."""
    return np.asarray(jet.induced * (1.0 + behind / np.sqrt(behind**2 + jet.radius**2)))


def tube_radius(jet: Jet, behind: Floats) -> Floats:
    """R(s) of (P4) [m], at most ``REACH`` disc radii ahead of a hovering rotor."""
    inflow = jet.through + jet.induced
    local = jet.through + added_speed(jet, behind)
    if inflow <= 0.0:
        return np.full_like(behind, jet.radius)
    ratio = inflow / np.maximum(local, inflow / REACH**2)
    return np.asarray(jet.radius * np.sqrt(ratio))


def _places(jet: Jet, points: Floats) -> tuple[Floats, Floats, Floats]:
    """Distance behind the disc, distance from the tube's axis, and the arm from that axis."""
    arm = points - jet.centre
    behind = arm @ jet.drift
    apart = arm - behind[:, None] * jet.drift
    return behind, np.linalg.norm(apart, axis=1), apart


def jet_velocity(jet: Jet, points: Floats) -> Floats:
    """Velocity that one wake adds at points, shape (m, 3) [m/s]."""
    if jet.induced == 0.0:
        return np.zeros_like(points)
    behind, distance, apart = _places(jet, points)
    radius = tube_radius(jet, behind)
    inside = _blurred((radius - distance) / (EDGE * radius))
    velocity = (inside * added_speed(jet, behind))[:, None] * jet.along
    if jet.swirl != 0.0:
        turning = jet.swirl * (jet.radius / radius) ** 2 * (behind > 0.0) * inside
        velocity = velocity + turning[:, None] * np.cross(jet.along, apart)
    return np.asarray(velocity)


def _blurred(depth: Floats) -> Floats:
    """0 outside, 1 inside, smooth between depths -1/2 and 1/2."""
    t = np.clip(depth + 0.5, 0.0, 1.0)
    return np.asarray(t * t * (3.0 - 2.0 * t))


def slipstream_velocity(jets: Sequence[Jet], points: Floats) -> Floats:
    """Velocity that all wakes add at points, shape (m, 3) [m/s]; zero without thrust."""
    total = np.zeros_like(points)
    for jet in jets:
        total += jet_velocity(jet, points)
    return total


def strips_at_edges(jets: Sequence[Jet], points: Floats, widths: Floats) -> NDArray[np.bool_]:
    """Strips that a tube's edge cuts though they are wider than the blurred edge.

    Parameters
    ----------
    points : shape (m, 3), control stations of the strips [m]
    widths : shape (m,) [m]
    """
    cut = np.zeros(len(points), dtype=bool)
    for jet in jets:
        if jet.induced == 0.0:
            continue
        behind, distance, _ = _places(jet, points)
        radius = tube_radius(jet, behind)
        cut |= (np.abs(distance - radius) < 0.5 * widths) & (widths > 2.0 * EDGE * radius)
    return cut
