"""Blade elements and momentum theory by annuli: thrust, torque and drag of a turning rotor.

All in units of the radius R, the speed of the blade tips and the density. In every annulus of the
radius r the blades' force, averaged over the azimuth, is what the air's momentum takes up:

    B c W^2 c_n / 2  =  4 pi r F v M,     B c W^2 c_t / 2  =  4 pi r F w M
    M = sqrt(mu^2 + (lambda + v)^2)                                                    (1)

with v the induced velocity along the axis and w in the sense of rotation, F the loss at the blades'
tips (L. Prandtl 1919; H. Glauert, Airplane Propellers, 1935, from memory), lambda and mu the speeds
along and across the axis. Along the axis M is lambda + v and (1) is the usual theory; across it M
is Glauert's hypothesis, as in :mod:`vlm.power.momentum`, annulus by annulus. A rotor that is driven
by the air slows it by at most half its speed along the axis.
"""

from dataclasses import dataclass

import numpy as np

from vlm.constants import Floats
from vlm.sections.polar import Polar

RADII = 16
AZIMUTHS = 4
"""Distinct values of the sine of the azimuth; each stands for two azimuths."""
HALVINGS = 26
MOST_INDUCED = 1.0
MOST_SWIRL = 0.5
SLOWEST = 1e-9


@dataclass(frozen=True)
class Blades:
    """Blades of one rotor, at the radii of a quadrature.

    Attributes
    ----------
    radius : shape (radii,), over the tip's [1]
    weight : shape (radii,), of the quadrature over the radius [1]
    chord : shape (radii,), over the tip's radius [1]
    angle : shape (radii,), of the chord line against the plane of the disc [rad]
    count : number of blades
    polar : of the section
    """

    radius: Floats
    weight: Floats
    chord: Floats
    angle: Floats
    count: int
    polar: Polar

    def turned(self, angle: float) -> "Blades":
        """The same blades, all turned by an angle [rad]."""
        return Blades(
            self.radius, self.weight, self.chord, self.angle + angle, self.count, self.polar
        )


def blades_at(
    station: Floats, chord: Floats, angle: Floats, count: int, polar: Polar, radii: int = RADII
) -> Blades:
    """Blades between stations, straight from each to the next; the hub has none.

    Parameters
    ----------
    station, chord, angle : shape (stations,), the radius growing; over the tip's radius, [rad]
    radii : of the quadrature, crowded toward the tip
    """
    points, weights = np.polynomial.legendre.leggauss(radii)
    turn = 0.25 * np.pi * (points + 1.0)
    length = station[-1] - station[0]
    radius = station[0] + length * np.sin(turn)
    return Blades(
        radius=radius,
        weight=0.25 * np.pi * weights * length * np.cos(turn),
        chord=np.interp(radius, station, chord),
        angle=np.interp(radius, station, angle),
        count=count,
        polar=polar,
    )


@dataclass(frozen=True)
class RotorCoefficients:
    """Coefficients of a rotor, all of one shape, on density, tip speed and radius.

    Attributes
    ----------
    thrust : T / (rho (Omega R)^2 R^2) [1]
    torque : Q / (rho (Omega R)^2 R^3) [1]
    drag : force in the plane of the disc, along the wind across the axis, over that of thrust [1]
    """

    thrust: Floats
    torque: Floats
    drag: Floats


def rotor_coefficients(
    blades: Blades, along: Floats, across: Floats, reynolds: Floats
) -> RotorCoefficients:
    """Solve equations (1) in every annulus.

    Parameters
    ----------
    along, across : shape (states,), lambda and mu, over the speed of the tips [1]
    reynolds : shape (states,), of the speed of the tips and the radius [1]
    """
    annuli = _Annuli(blades, along, across, reynolds)
    induced, swirl = annuli.solved()
    normal, forward, drag, _ = annuli.forces(induced, swirl)
    return RotorCoefficients(
        thrust=normal @ blades.weight,
        torque=forward @ (blades.weight * blades.radius),
        drag=drag @ blades.weight,
    )


class _Annuli:
    """The annuli of some states: arrays (states, radii), and azimuths behind where needed."""

    def __init__(self, blades: Blades, along: Floats, across: Floats, reynolds: Floats) -> None:
        self.blades = blades
        self.along, self.across = along[:, None], across[:, None]
        self.reynolds = (reynolds[:, None] * blades.chord)[:, :, None]
        count = AZIMUTHS if np.any(across > 0.0) else 1
        # Gauss and Chebyshev: the mean over the azimuth of a function of its sine.
        self.sine = np.cos(np.pi * (np.arange(count) + 0.5) / count)

    def forces(self, induced: Floats, swirl: Floats) -> tuple[Floats, Floats, Floats, Floats]:
        """Mean forces on all blades per radius, along the axis, against the rotation, along the
        wind across; and the loss F at the tips."""
        blades = self.blades
        ahead = (blades.radius - swirl)[:, :, None] + self.across[:, :, None] * self.sine
        through = np.broadcast_to((self.along + induced)[:, :, None], ahead.shape)
        speed = np.sqrt(ahead**2 + through**2) + SLOWEST
        angle = blades.angle[:, None] - np.arctan2(through, ahead)
        found = blades.polar.at(angle, speed * self.reynolds)
        half = 0.5 * blades.count * blades.chord[:, None] * speed
        normal = half * (found.cl * ahead - found.cd * through)
        forward = half * (found.cl * through + found.cd * ahead)
        cosine = np.sqrt(1.0 - self.sine**2) if len(self.sine) > 1 else 0.0 * self.sine
        rubbing = half * found.cd * self.across[:, :, None] * cosine**2
        drag = forward * self.sine + rubbing
        slope = np.abs(self.along + induced) / np.hypot(blades.radius, self.along + induced)
        gap = 0.5 * blades.count * (1.0 - blades.radius) / (blades.radius * (slope + 1e-6))
        loss = 2.0 / np.pi * np.arccos(np.exp(-gap))
        return normal.mean(axis=2), forward.mean(axis=2), drag.mean(axis=2), loss

    def solved(self) -> tuple[Floats, Floats]:
        """v and w by halving an interval of v, w following it."""
        shape = (len(self.along), len(self.blades.radius))
        low = np.broadcast_to(np.where(self.along > 0.0, -0.5 * self.along, -self.along), shape)
        high = np.full(shape, MOST_INDUCED) + np.maximum(-self.along, 0.0)
        swirl = np.zeros(shape)
        for _ in range(HALVINGS):
            middle = 0.5 * (low + high)
            normal, forward, _, loss = self.forces(middle, swirl)
            taken = 4.0 * np.pi * self.blades.radius * loss
            mass = np.sqrt(self.across**2 + (self.along + middle) ** 2) + SLOWEST
            most = MOST_SWIRL * self.blades.radius
            swirl = np.clip(forward / (taken * mass), -most, most)
            normal, _, _, loss = self.forces(middle, swirl)
            enough = 4.0 * np.pi * self.blades.radius * loss * middle * mass > normal
            low, high = np.where(enough, low, middle), np.where(enough, middle, high)
        return 0.5 * (low + high), swirl
