"""Loads past stall: relations published for plates and stalled wings, up to 180 degrees.

Angles count from the chord line, in radians, from -pi to pi. Coefficients are those of a whole
stalled wing, with no induced angle taken off: their normal force already knows the aspect ratio.
"""

import numpy as np

from vlm.constants import Floats

TWO_DIMENSIONAL = 2.01
HIGHEST_RATIO = 50.0


def normal_force_of(aspect_ratio: float) -> float:
    """Normal force coefficient of a plate square to the flow, by its aspect ratio.

    C_N = 1.11 + 0.018 A up to A = 50, 2.01 beyond (L. A. Viterna and R. D. Corrigan, Fixed Pitch
    Rotor Performance of Large Horizontal Axis Wind Turbines, 1981, from memory); it follows
    Hoerner's measurements of plates.
    """
    if aspect_ratio > HIGHEST_RATIO:
        return TWO_DIMENSIONAL
    return min(1.11 + 0.018 * aspect_ratio, TWO_DIMENSIONAL)


def plate_lift(alpha: Floats, normal: float) -> Floats:
    """Lift of a plate whose force stands on its surface: C_N sin a cos a.

    With C_N = 2 this is the flat-plate law C_L = 2 sin a cos a (Hoerner, from memory).
    """
    return np.asarray(normal * np.sin(alpha) * np.cos(alpha))


def plate_drag(alpha: Floats, normal: float) -> Floats:
    """Drag of the same plate: C_N sin^2 a."""
    return np.asarray(normal * np.sin(alpha) ** 2)


def stalled_lift(alpha: Floats, stall_angle: float, stall_lift: float, normal: float) -> Floats:
    """Lift past stall (Viterna and Corrigan 1981, from memory).

    C_L = (C_N / 2) sin 2a + A2 cos^2 a / sin a,
    A2 = (C_Ls - C_N sin a_s cos a_s) sin a_s / cos^2 a_s

    which passes through the stall point (a_s, C_Ls). Beyond 90 degrees, where the wing flies
    backwards, only the plate's term is kept; value and slope stay continuous there.

    Parameters
    ----------
    alpha : angles of attack, positive where the second term is wanted [rad]
    stall_angle, stall_lift : the point it starts from, both positive [rad], [1]
    normal : normal force coefficient at 90 degrees [1]
    """
    sine, cosine = np.sin(stall_angle), np.cos(stall_angle)
    excess = (stall_lift - normal * sine * cosine) * sine / cosine**2
    ahead = (alpha > 0.0) & (alpha < 0.5 * np.pi)
    divisor = np.where(ahead, np.maximum(np.sin(alpha), 0.5 * sine), 1.0)
    more = np.where(ahead, excess * np.cos(alpha) ** 2 / divisor, 0.0)
    return np.asarray(plate_lift(alpha, normal) + more)


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
