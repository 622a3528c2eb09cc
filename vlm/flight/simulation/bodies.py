"""The craft as rigid bodies in motion: the fixed part, and tips that turn about their hinges.

With the speeds u = (velocity of the moment point, body rates, folding speeds of port and
starboard), every part k has a velocity of its centre J_k u and a turning rate W_k u, and Kane's
equations (Kane and Levinson, Dynamics: Theory and Applications, chapter 6, from memory) read

    M u' + h = Q                                                                         (1)
    M = sum m J^T J + W^T I W,   h = sum m J^T a_0 + W^T (I w_0' + w x I w)              (2)

with a_0, w_0' the accelerations that are left with u' = 0, and Q the forces' powers per unit speed.
All in body axes (x forward, y starboard, z down), about the moment point, which is fixed in the
craft.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from vlm.constants import Floats
from vlm.flight.craft.mass_properties import MassProperties
from vlm.flight.craft.small_motions import cross_matrix
from vlm.frames import GEOMETRY_TO_BODY, rotation_about
from vlm.lattice.patches import HingeLine
from vlm.sides import Side, wing_and_side

SIDES = tuple(Side)
"""Port, then starboard: the order of the folding speeds."""
SPEEDS = 8
"""Entries of u: three velocities, three rates, two folding speeds."""
FIRST_SIDE = 6


@dataclass(frozen=True)
class HingedTip:
    """One tip: its masses flat, its hinge, and how it follows the fold of its side.

    Attributes
    ----------
    body : "upper_left", ...
    side : 0 port, 1 starboard
    linkage : turn of the tip per unit of its side's fold [1]
    mass : [kg]
    hinge, axis : point of the hinge from the moment point [m] and its direction, body axes
    arm : from the hinge's point to the centre, flat, body axes [m]
    inertia : about its centre, flat, body axes [kg m^2]
    """

    body: str
    side: int
    linkage: float
    mass: float
    hinge: Floats
    axis: Floats
    arm: Floats
    inertia: Floats


@dataclass(frozen=True)
class Placed:
    """A part at given folds: mass, centre from the moment point, inertia, J and W of (2)."""

    mass: float
    centre: Floats
    inertia: Floats
    moving: Floats
    turning: Floats
    tip: HingedTip | None


@dataclass(frozen=True)
class Bodies:
    """The parts of one craft.

    Attributes
    ----------
    mass : of the whole craft [kg]
    fixed_mass, fixed_centre, fixed_inertia : of the fixed part, body axes from the moment point
    tips : the tips
    """

    mass: float
    fixed_mass: float
    fixed_centre: Floats
    fixed_inertia: Floats
    tips: tuple[HingedTip, ...]

    def placed(self, folds: Floats) -> list[Placed]:
        """All parts at folds of port and starboard, shape (2,) [rad]."""
        rigid = np.zeros((3, SPEEDS))
        rigid[:, :3] = np.eye(3)
        turning = np.zeros((3, SPEEDS))
        turning[:, 3:6] = np.eye(3)
        moving = rigid.copy()
        moving[:, 3:6] = -cross_matrix(self.fixed_centre)
        found = [
            Placed(self.fixed_mass, self.fixed_centre, self.fixed_inertia, moving, turning, None)
        ]
        for tip in self.tips:
            turn = rotation_about(tip.axis, tip.linkage * float(folds[tip.side]))
            arm = turn @ tip.arm
            centre = tip.hinge + arm
            moving, own = rigid.copy(), turning.copy()
            moving[:, 3:6] = -cross_matrix(centre)
            moving[:, FIRST_SIDE + tip.side] = tip.linkage * cross(tip.axis, arm)
            own[:, FIRST_SIDE + tip.side] = tip.linkage * tip.axis
            inertia = turn @ tip.inertia @ turn.T
            found.append(Placed(tip.mass, centre, inertia, moving, own, tip))
        return found

    def mass_matrix(self, parts: list[Placed]) -> Floats:
        """M of equation (1), shape (8, 8)."""
        total = np.zeros((SPEEDS, SPEEDS))
        for one in parts:
            total += one.mass * one.moving.T @ one.moving
            total += one.turning.T @ one.inertia @ one.turning
        for place in range(FIRST_SIDE, SPEEDS):
            if total[place, place] == 0.0:
                # A side without tips does not move, whatever its inertia.
                total[place, place] = 1.0
        return total

    def bias(self, parts: list[Placed], speeds: Floats) -> Floats:
        """h of equation (1), shape (8,)."""
        return np.asarray(sum(bias_of(one, speeds) for one in parts))

    def weight(self, parts: list[Placed], gravity: Floats) -> Floats:
        """Generalised forces of gravity given in body axes [m/s^2], shape (8,)."""
        return np.asarray(sum(one.mass * one.moving.T @ gravity for one in parts))

    def centre(self, parts: list[Placed]) -> Floats:
        """Centre of gravity from the moment point, body axes, shape (3,) [m]."""
        return np.asarray(sum(one.mass * one.centre for one in parts)) / self.mass

    def kinetic_energy(self, parts: list[Placed], speeds: Floats) -> float:
        """Kinetic energy [J]."""
        return 0.5 * float(speeds @ self.mass_matrix(parts) @ speeds)

    def momenta(self, parts: list[Placed], speeds: Floats) -> tuple[Floats, Floats]:
        """Momentum [N s], and angular momentum about the centre of gravity [N m s], body axes."""
        centre = self.centre(parts)
        linear, angular = np.zeros(3), np.zeros(3)
        for one in parts:
            own = one.mass * one.moving @ speeds
            linear += own
            angular += one.inertia @ one.turning @ speeds + cross(one.centre - centre, own)
        return linear, angular


def bias_of(one: Placed, speeds: Floats) -> Floats:
    """What one part adds to h of equation (1), shape (8,)."""
    velocity, omega = speeds[:3], speeds[3:6]
    spin = cross(omega, one.centre)
    acceleration = cross(omega, velocity + spin)
    change = np.zeros(3)
    if one.tip is not None:
        relative = one.tip.linkage * float(speeds[FIRST_SIDE + one.tip.side])
        swept = cross(one.tip.axis, one.centre - one.tip.hinge)
        acceleration = acceleration + 2.0 * relative * cross(omega, swept)
        acceleration = acceleration + relative**2 * cross(one.tip.axis, swept)
        change = relative * cross(omega, one.tip.axis)
    rate = one.turning @ speeds
    gyroscopic = one.inertia @ change + cross(rate, one.inertia @ rate)
    return np.asarray(one.mass * one.moving.T @ acceleration + one.turning.T @ gyroscopic)


def hinge_inertia_moment(one: Placed, speeds: Floats, changes: Floats) -> float:
    """Moment about its hinge that moves one tip as it moves, positive raising it [N m].

    Parameters
    ----------
    speeds, changes : u and u' of equation (1), shape (8,)
    """
    assert one.tip is not None
    place = FIRST_SIDE + one.tip.side
    row = one.mass * one.moving[:, place] @ one.moving
    row = row + one.turning[:, place] @ one.inertia @ one.turning
    return float(row @ changes + bias_of(one, speeds)[place]) / one.tip.linkage


def bodies_of(
    masses: MassProperties,
    hinges: Mapping[str, HingeLine],
    linkages: Mapping[str, float],
    moment_point: Floats,
) -> Bodies:
    """The parts from the masses of the flat craft.

    Parameters
    ----------
    masses : with all tips flat
    hinges : by body, geometry axes
    linkages : by body [1]
    moment_point : geometry axes [m]
    """
    turn = GEOMETRY_TO_BODY
    fixed = masses.parts["fixed"]
    tips = []
    for body, line in hinges.items():
        part = masses.parts[body]
        tips.append(
            HingedTip(
                body=body,
                side=SIDES.index(wing_and_side(body)[1]),
                linkage=linkages[body],
                mass=part.mass,
                hinge=turn @ (line.point - moment_point),
                axis=turn @ line.axis,
                arm=turn @ (part.centre - line.point),
                inertia=turn @ part.inertia @ turn,
            )
        )
    return Bodies(
        mass=masses.mass,
        fixed_mass=fixed.mass,
        fixed_centre=turn @ (fixed.centre - moment_point),
        fixed_inertia=turn @ fixed.inertia @ turn,
        tips=tuple(tips),
    )


def cross(a: Floats, b: Floats) -> Floats:
    """Vector product of two vectors; quicker than numpy's, which takes arrays of any shape."""
    return np.array(
        [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]]
    )
