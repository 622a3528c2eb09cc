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

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from vlm.constants import Floats
from vlm.description.power import Rotor
from vlm.frames import cross
from vlm.power import kernel
from vlm.power.momentum import DiscFlow

ACROSS, ACROSS_WEIGHTS = np.polynomial.legendre.leggauss(6)
"""Places across a strip, from -1 to 1, at which the tube is looked for."""


@dataclass(frozen=True)
class Wind:
    """What rotors add to the air at some points.

    Attributes
    ----------
    velocity : shape (states, points, 3), geometry axes [m/s]
    inside : shape (states, ..., points), wetted share: 1 within a rotor's tube, 0 outside
    radius : shape (states, ..., points), of the tube at the points [m]
    """

    velocity: Floats
    inside: Floats
    radius: Floats


@dataclass(frozen=True)
class _Places:
    """Points as a rotor stands to them, for any state; shapes as in :func:`kernel.wind_of`."""

    rotor: Floats
    behind: Floats
    growth: Floats
    arm: Floats
    spans: Floats
    products: Floats
    turning: Floats


class Slipstream:
    """The wind of some rotors at given points, or on the strips that they stand for.

    Parameters
    ----------
    points : shape (points, 3) [m]
    spans : shape (points, 3), from end to end of the strip that each point stands in the middle of;
        0 for the point alone [m]
    """

    def __init__(self, rotors: Sequence[Rotor], points: Floats, spans: Floats) -> None:
        self.count = len(points)
        self.places = [_places(rotor, points, spans) for rotor in rotors]

    def winds(
        self,
        flows: Sequence[DiscFlow],
        stream: Floats,
        swirls: Sequence[Floats] | None = None,
    ) -> Wind:
        """Wind of all rotors together.

        Parameters
        ----------
        flows : through the discs, fields of shape (states,)
        stream : shape (states, 3), the free stream, geometry axes [m/s]
        swirls : by rotor, shape (states,), torque over density whose angular momentum the wake
            carries; no swirl if None [m^5/s^2]

        Returns
        -------
        The velocities added up; wetted shares and radii of shape (states, rotors, points)
        """
        velocity = np.zeros((len(stream), self.count, 3))
        shape = (len(self.places), len(stream), self.count)
        inside, radius = np.empty(shape), np.empty(shape)
        for i, (place, flow) in enumerate(zip(self.places, flows, strict=True)):
            kernel.wind_of(
                place.rotor, place.behind, place.growth, place.arm, place.spans, place.products,
                place.turning, np.stack([flow.axial, flow.induced]), np.ascontiguousarray(stream),
                np.zeros(len(stream)) if swirls is None else swirls[i], ACROSS, ACROSS_WEIGHTS,
                velocity, inside[i], radius[i],
            )  # fmt: skip
        return Wind(velocity, np.swapaxes(inside, 0, 1), np.swapaxes(radius, 0, 1))


def _places(rotor: Rotor, points: Floats, spans: Floats) -> _Places:
    axis = np.array(rotor.direction)
    place = points - np.array(rotor.position_m)
    behind = -place @ axis
    arm = place + behind[:, None] * axis
    across = spans - (spans @ axis)[:, None] * axis
    return _Places(
        rotor=np.array([*axis, rotor.radius_m, rotor.sense]),
        behind=behind,
        growth=1.0 + behind / np.hypot(behind, rotor.radius_m),
        arm=arm,
        spans=across,
        products=np.stack([_dot(arm, arm), _dot(arm, across), _dot(across, across)]),
        turning=cross(axis, arm),
    )


def slipstream(
    rotor: Rotor,
    flow: DiscFlow,
    stream: Floats,
    points: Floats,
    spans: Floats,
    swirl: Floats | None = None,
) -> Wind:
    """Wind of one rotor at points; wetted shares and radii of shape (states, points).

    Parameters as in :class:`Slipstream` and :meth:`Slipstream.winds`.
    """
    swirls = None if swirl is None else [swirl]
    wind = Slipstream([rotor], points, spans).winds([flow], stream, swirls)
    return Wind(wind.velocity, wind.inside[:, 0], wind.radius[:, 0])


def _dot(first: Floats, second: Floats) -> Floats:
    return np.asarray(np.einsum("pc,pc->p", first, second))
