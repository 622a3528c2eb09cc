"""The wind a rotor blows over what stands behind it: a contracting streamtube.

At the distance s behind the disc the axial velocity has grown from v to

    v(s) = v (1 + s / sqrt(s^2 + R^2))                                                 (1)

(the flow on the axis of a vortex cylinder; B. W. McCormick, Aerodynamics, Aeronautics and Flight
Mechanics, from memory), which is v at the disc and 2 v far behind, as momentum asks. The tube
narrows so that the same air passes every cut,

    r(s)^2 (V_a + v(s)) = R^2 (V_a + v)                                                (2)

In inclined flow its centre drifts with the part of the stream across the axis. Within the tube the
velocity is taken as even, and its edge as wide as a mixing layer.

A strip that the tube wets in part meets the mean of the dynamic pressures along its span: with V
the stream, U the velocity added within the tube and e its share of that, from 0 to 1 through the
mixing layer, the whole strip is given k U so that

    |V + k U|^2 = mean of |V + e U|^2                                                  (3)

A force of given coefficients then does not depend on how strips are cut.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from vlm.constants import Floats
from vlm.description.power import Rotor
from vlm.frames import cross
from vlm.power.momentum import DiscFlow

MIXING = 0.15
"""Half-width of the edge over the tube's radius (common practice)."""
ACROSS, ACROSS_WEIGHTS = np.polynomial.legendre.leggauss(6)
"""Places across a strip, from -1 to 1, at which the tube is looked for."""
SLOWEST = 0.05
"""Least speed through the tube over v that the drift of its centre is worked out with."""


@dataclass(frozen=True)
class Wind:
    """What a rotor adds to the air at some points.

    Attributes
    ----------
    velocity : shape (states, points, 3), geometry axes [m/s]
    inside : shape (states, points), wetted share: 1 within the tube, 0 outside
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
    spans: Floats,
    swirl: Floats | None = None,
) -> Wind:
    """Wind of one rotor at points, or on the strips that they stand for.

    Parameters
    ----------
    flow : through the disc, fields of shape (states,)
    stream : shape (states, 3), the free stream, geometry axes [m/s]
    points : shape (points, 3) [m]
    spans : shape (points, 3), from end to end of the strip that each point stands in the middle of;
        0 for the point alone [m]
    swirl : shape (states,), torque over density whose angular momentum the wake carries; no swirl
        if None [m^5/s^2]
    """
    axis = np.array(rotor.axis) / np.linalg.norm(rotor.axis)
    induced = flow.induced[:, None]
    place = points - np.array(rotor.position_m)
    behind = -place @ axis
    growth = 1.0 + behind / np.hypot(behind, rotor.radius_m)
    axial = np.maximum(flow.axial[:, None], 0.0)
    through = np.maximum(axial + growth * induced, SLOWEST * np.abs(induced) + 1e-12)
    at_disc = np.maximum(axial + induced, 1e-12)
    radius = rotor.radius_m * np.sqrt(np.minimum(at_disc / through, 4.0))
    along = (stream @ axis)[:, None]
    whole = _Tube(
        arm=place + behind[:, None] * axis,
        across=stream - along * axis,
        drift=behind / through,
        radius=radius,
        spans=spans - (spans @ axis)[:, None] * axis,
    )
    # Most points stand in no tube: all else is worked out for the others alone.
    near = whole.near()
    tube, added = whole.part(near), (growth * induced)[:, near]
    inside, squared = tube.wetted()
    inside = inside * (induced != 0.0)
    share = _pressure_share(inside, squared, -added * along, added**2)
    own = (share * added)[:, :, None] * -axis
    if swirl is not None:
        own += tube.turned_about(
            axis, share * _swirl_rate(rotor, swirl, at_disc, tube.radius, behind[near])
        )
    velocity, wetted = np.zeros((*radius.shape, 3)), np.zeros(radius.shape)
    velocity[:, near], wetted[:, near] = own, inside
    return Wind(velocity, wetted, radius)


@dataclass(frozen=True)
class _Tube:
    """Where points stand in a tube: the arm less the drift, across its axis.

    Attributes
    ----------
    arm : shape (points, 3), from the rotor's own axis [m]
    across : shape (states, 3), the stream across the axis [m/s]
    drift : shape (states, points), time that the stream had to carry the tube aside [s]
    radius : shape (states, points) [m]
    spans : shape (points, 3), of the strips that the points stand for, across the axis [m]

    Products are taken of these parts, so that no array has states, points and components at once.
    """

    arm: Floats
    across: Floats
    drift: Floats
    radius: Floats
    spans: Floats

    def near(self) -> NDArray[np.intp]:
        """Points whose strips may reach into the tube or its edge in any of the states."""
        reach = (1.0 + MIXING) * self.radius + 0.5 * np.sqrt(_dot(self.spans, self.spans))
        # Put so that what is no number counts as near, and shows.
        return np.flatnonzero(~np.all(self.squared >= reach**2, axis=0))

    def part(self, points: NDArray[np.intp]) -> "_Tube":
        """The same for some of the points."""
        return _Tube(
            self.arm[points], self.across, self.drift[:, points], self.radius[:, points],
            self.spans[points],
        )  # fmt: skip

    @cached_property
    def squared(self) -> Floats:
        """Square of the points' distance from the tube's middle, shape (states, points) [m^2]."""
        aside = self.across @ self.arm.T
        further = self.drift * _dot(self.across, self.across)[:, None] - 2.0 * aside
        return np.asarray(_dot(self.arm, self.arm) + self.drift * further)

    def wetted(self) -> tuple[Floats, Floats]:
        """Means over every strip of e, its wetted share, and of e squared, (states, points)."""
        mixed = _dot(self.arm, self.spans) - self.drift * (self.across @ self.spans.T)
        longest = _dot(self.spans, self.spans)
        inside, squared = np.zeros(self.radius.shape), np.zeros(self.radius.shape)
        for place, weight in zip(ACROSS, ACROSS_WEIGHTS, strict=True):
            away = np.sqrt(
                np.maximum(self.squared + place * mixed + 0.25 * place**2 * longest, 0.0)
            )
            here = _edge((away / self.radius - 1.0) / (2.0 * MIXING) + 0.5)
            inside += 0.5 * weight * here
            squared += 0.5 * weight * here**2
        return inside, squared

    def turned_about(self, axis: Floats, rate: Floats) -> Floats:
        """Velocity of a turn about the tube's middle, shape (states, points, 3) [m/s].

        Parameters
        ----------
        rate : shape (states, points) [rad/s]
        """
        first, aside = cross(axis, self.arm), cross(axis, self.across)
        moved = (rate * self.drift)[:, :, None] * aside[:, None, :]
        return np.asarray(rate[:, :, None] * first - moved)


def _dot(first: Floats, second: Floats) -> Floats:
    return np.asarray(np.einsum("pc,pc->p", first, second))


def _pressure_share(inside: Floats, squared: Floats, along: Floats, square: Floats) -> Floats:
    """k of equation (3), (states, points); the wetted share where the wind turns the flow round.

    Parameters
    ----------
    along : V . U, shape (states, points)
    square : |U|^2, shape (states, points)
    """
    whole = squared * square + 2.0 * inside * along
    root = np.sqrt(np.maximum(along**2 + square * whole, 0.0))
    sense = np.where(along < 0.0, -1.0, 1.0)
    divisor = along + sense * root
    plain = ((along < 0.0) & (square + along > 0.0)) | (np.abs(divisor) < 1e-30)
    return np.asarray(np.where(plain, inside, whole / np.where(plain, 1.0, divisor)))


def _edge(t: Floats) -> Floats:
    """1 below t = 0, 0 above t = 1, smooth between."""
    s = np.minimum(np.maximum(t, 0.0), 1.0)
    return np.asarray(1.0 - s * s * (3.0 - 2.0 * s))


def _swirl_rate(
    rotor: Rotor, swirl: Floats, at_disc: Floats, radius: Floats, behind: Floats
) -> Floats:
    """Rotation of the wake as one body, which carries the torque's angular momentum [rad/s].

    rho (V_a + v) k pi R^4 / 2 = Q at the disc; r^2 k is kept where the tube narrows.
    """
    sense = 1.0 if rotor.spin == "right" else -1.0
    rate = 2.0 * swirl[:, None] / (np.pi * rotor.radius_m**4 * at_disc)
    started = 0.5 * (1.0 + behind / np.hypot(behind, 0.1 * rotor.radius_m))
    return np.asarray(sense * started * rate * (rotor.radius_m / radius) ** 2)
