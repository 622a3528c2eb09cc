"""Thin sections in two dimensions: one (Munk 1922, Glauert 1926), or two side by side."""

from collections.abc import Callable
from itertools import pairwise

import numpy as np
from scipy.integrate import quad

Slope = Callable[[float], float]


def four_digit_slope(digits: str) -> Slope:
    """Slope of a NACA four-digit mean line against x/c."""
    m, p = int(digits[0]) / 100.0, int(digits[1]) / 10.0

    def slope(x: float) -> float:
        return 2.0 * m / (p if x < p else 1.0 - p) ** 2 * (p - x)

    return slope


def flap_slope(hinge: float) -> Slope:
    """Slope of a mean line that is bent down by one unit aft of ``hinge`` (x/c)."""
    return lambda x: 0.0 if x < hinge else -1.0


def _coefficient(slope: Slope, order: int, breaks: list[float]) -> float:
    def integrand(theta: float) -> float:
        return slope(0.5 * (1.0 - np.cos(theta))) * np.cos(order * theta)

    points = [float(np.arccos(1.0 - 2.0 * x)) for x in breaks]
    edges = [0.0, *points, np.pi]
    total = sum(quad(integrand, a + 1e-13, b - 1e-13, limit=200)[0] for a, b in pairwise(edges))
    return float(total * (1.0 if order == 0 else 2.0) / np.pi)


def zero_lift_angle(slope: Slope, breaks: list[float]) -> float:
    """Zero-lift incidence [rad]: A0 - A1/2 of the mean line's slope series."""
    return _coefficient(slope, 0, breaks) - 0.5 * _coefficient(slope, 1, breaks)


def quarter_chord_moment(slope: Slope, breaks: list[float]) -> float:
    """cm about the quarter chord: -pi/4 (A1 - A2)."""
    return -0.25 * np.pi * (_coefficient(slope, 1, breaks) - _coefficient(slope, 2, breaks))


def four_digit_zero_lift_deg(digits: str) -> float:
    """Zero-lift incidence of a four-digit mean line [deg]."""
    return float(np.degrees(zero_lift_angle(four_digit_slope(digits), [int(digits[1]) / 10.0])))


def four_digit_moment(digits: str) -> float:
    """cm about the quarter chord of a four-digit mean line."""
    return quarter_chord_moment(four_digit_slope(digits), [int(digits[1]) / 10.0])


def flap_effectiveness(hinge: float) -> float:
    """Lift of a flap's deflection over that of the same incidence."""
    return -zero_lift_angle(flap_slope(hinge), [hinge])


def bent_zero_lift_deg(hinge: float, height: float) -> float:
    """Zero-lift incidence [deg] of straight lines that meet at ``hinge``, ``height`` high."""
    front, rear = height / hinge, height / (1.0 - hinge)
    return float(np.degrees(front - flap_effectiveness(hinge) * (front + rear)))


def two_plates(
    gap: float, stagger: float = 0.0, lower_incidence: float = 1.0, terms: int = 40
) -> tuple[float, float]:
    """Lift of upper and lower plate over 2 pi, per unit incidence of the upper one.

    Linear theory (W. Kutta 1911; M. Munk, NACA TR 151, 1922): each plate carries
    2 U (A0 cot(t/2) + sum A_n sin n t), both chords are 1, gap and stagger (upper plate ahead) are
    in chords.
    """
    points = max(200, int(60 / gap))
    t = (np.arange(points) + 0.5) * np.pi / points
    x = 0.5 * (1.0 - np.cos(t))
    order = np.arange(1, terms + 1)
    own = np.hstack([np.ones((points, 1)), -np.cos(np.outer(t, order))])
    strength = np.hstack(
        [(1.0 + np.cos(t))[:, None], np.sin(np.outer(t, order)) * np.sin(t)[:, None]]
    )

    def cross(offset: float) -> np.ndarray:
        """Downwash at the plate whose leading edge lies ``offset`` aft of the other's."""
        apart = (x + offset)[:, None] - x[None, :]
        return np.asarray((apart / (apart**2 + gap**2)) @ strength / (2.0 * points))

    # Row blocks: upper, lower. The lower plate stands at +stagger.
    matrix = np.block([[own, cross(-stagger)], [cross(stagger), own]])
    incidence = np.concatenate([np.ones(points), np.full(points, lower_incidence)])
    found, *_ = np.linalg.lstsq(matrix, incidence, rcond=None)
    upper, lower = np.split(found, 2)
    return float(upper[0] + 0.5 * upper[1]), float(lower[0] + 0.5 * lower[1])


def upper_plate(gap: float, stagger: float = 0.0, lower_incidence: float = 1.0) -> float:
    """Lift of the upper plate over 2 pi per unit incidence."""
    return two_plates(gap, stagger, lower_incidence)[0]


def lower_plate(gap: float, stagger: float = 0.0, lower_incidence: float = 1.0) -> float:
    """Lift of the lower plate over 2 pi per unit incidence."""
    return two_plates(gap, stagger, lower_incidence)[1]


def plate_ratio(gap: float, stagger: float = 0.0) -> float:
    """Lift of the upper plate over the lower one's."""
    upper, lower = two_plates(gap, stagger)
    return upper / lower
