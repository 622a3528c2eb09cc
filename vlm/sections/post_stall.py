"""Loads past stall: relations published for plates and stalled wings, up to 180 degrees.

Angles count from the chord line, in radians, from -pi to pi. Coefficients are those of a whole
stalled wing, with no induced angle taken off: their normal force already knows the aspect ratio.

The force stands on the chord line,

    C_N(a) = C_90 sin a (1 + q cos^2 a)                                                (1)

with C_90 the normal force coefficient across the flow. In two dimensions C_90 = 1.8 and q = 0.35
follow the measured NACA 0012 (R. E. Sheldahl and P. C. Klimas, SAND80-2114, 1981) within 0.1 in
lift and 0.1 in drag from 30 to 90 degrees. A wing of low aspect ratio has C_90 = 1.11 and q = 0,
which is a plate after Viterna and Corrigan; between, both go with C_90.
"""

import numpy as np

from vlm.constants import Floats

TWO_DIMENSIONAL = 1.8
"""C_90 of a section: measured, Sheldahl and Klimas 1981; a sharp plate has 2.0 (Hoerner)."""
LOW_RATIO, RATIO_RISE = 1.11, 0.018
FULLNESS = 0.35
"""q of equation (1) in two dimensions."""
SHARPEST = 1.5


def normal_force_of(aspect_ratio: float) -> float:
    """Normal force coefficient of a wing square to the flow, by its aspect ratio.

    C_90 = 1.11 + 0.018 A (L. A. Viterna and R. D. Corrigan, Fixed Pitch Rotor Performance of Large
    Horizontal Axis Wind Turbines, 1981, from memory), which follows Hoerner's measurements of
    plates, up to the measured 1.8 of a section.
    """
    return min(LOW_RATIO + RATIO_RISE * aspect_ratio, TWO_DIMENSIONAL)


def two_dimensional_share(normal: float) -> float:
    """0 for a wing of low aspect ratio, 1 for a section, by the normal force coefficient."""
    return float(np.clip((normal - LOW_RATIO) / (TWO_DIMENSIONAL - LOW_RATIO), 0.0, 1.0))


def plate_force(alpha: Floats, normal: float) -> Floats:
    """Normal force coefficient of equation (1)."""
    fullness = FULLNESS * two_dimensional_share(normal)
    return np.asarray(normal * np.sin(alpha) * (1.0 + fullness * np.cos(alpha) ** 2))


def plate_lift(alpha: Floats, normal: float) -> Floats:
    """Lift of a plate whose force stands on its surface: C_N cos a."""
    return np.asarray(plate_force(alpha, normal) * np.cos(alpha))


def plate_drag(alpha: Floats, normal: float) -> Floats:
    """Drag of the same plate: C_N sin a."""
    return np.asarray(plate_force(alpha, normal) * np.sin(alpha))


def stalled_lift(alpha: Floats, stall_angle: float, stall_lift: float, normal: float) -> Floats:
    """Lift past stall, after Viterna and Corrigan (1981, from memory).

    C_L = C_N cos a + (C_Ls - C_N(a_s) cos a_s) (cos^2 a / sin a  sin a_s / cos^2 a_s)^n

    which passes through the stall point (a_s, C_Ls). n = 1 is theirs, for wings of low aspect
    ratio; a section loses what it has above the plate sooner, n = 3 (Sheldahl and Klimas 1981).
    Beyond 90 degrees, where the wing flies backwards, only the plate's term is kept; value and
    slope stay continuous there.

    Parameters
    ----------
    alpha : angles of attack, positive where the second term is wanted [rad]
    stall_angle, stall_lift : the point it starts from, both positive [rad], [1]
    normal : normal force coefficient at 90 degrees [1]
    """
    sine, cosine = np.sin(stall_angle), np.cos(stall_angle)
    excess = stall_lift - float(plate_lift(np.array(stall_angle), normal))
    ahead = (alpha > 0.0) & (alpha < 0.5 * np.pi)
    divisor = np.where(ahead, np.maximum(np.sin(alpha), 0.5 * sine), 1.0)
    ratio = np.where(ahead, np.cos(alpha) ** 2 / divisor, 0.0) * sine / cosine**2
    power = 1.0 + 2.0 * two_dimensional_share(normal)
    # Before the stall point the ratio only has to stay moderate.
    return np.asarray(plate_lift(alpha, normal) + excess * np.minimum(ratio, SHARPEST) ** power)


def centre_of_pressure(alpha: Floats) -> Floats:
    """Centre of pressure of a plate behind its leading edge, over the chord.

    x/c = 1/2 - (3/4) cos a / (4 + pi sin a), the free-streamline flow past a plate (Lord Rayleigh,
    On the Resistance of Fluids, 1876; in Lamb's Hydrodynamics, from memory).
    """
    return np.asarray(0.5 - 0.75 * np.cos(alpha) / (4.0 + np.pi * np.abs(np.sin(alpha))))


def plate_moment(alpha: Floats, normal_force: Floats) -> Floats:
    """Moment about the quarter chord of a normal force at the plate's centre of pressure."""
    return np.asarray(-normal_force * (centre_of_pressure(alpha) - 0.25))


def smooth_step(t: Floats) -> Floats:
    """0 below t = 0, 1 above t = 1, 10 t^3 - 15 t^4 + 6 t^5 between: smooth to the curvature."""
    s = np.clip(t, 0.0, 1.0)
    return np.asarray(s**3 * (10.0 + s * (6.0 * s - 15.0)))
