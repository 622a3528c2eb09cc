"""Prandtl's lifting line by Fourier series (H. Glauert, The Elements of Aerofoil and Airscrew
Theory, 1926, chapters X and XI, from memory).

The circulation is 2 b V sum A_n sin n theta with y = (b/2) cos theta. Unless a count of terms is
given, enough are taken for six digits.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

Function = Callable[[np.ndarray], np.ndarray]
TERMS = 400


@dataclass(frozen=True)
class Line:
    """A straight unswept wing: aspect ratio, chord over span as a function of |2y/b|, slope."""

    aspect: float
    chord: Function
    slope: float = 2.0 * np.pi


def trapezoid(aspect: float, taper: float = 1.0) -> Line:
    """A wing with straight edges."""
    root = 2.0 / (aspect * (1.0 + taper))
    return Line(aspect, lambda eta: root * (1.0 - (1.0 - taper) * eta))


def ellipse(aspect: float) -> Line:
    """A wing with elliptic chords."""
    return Line(aspect, lambda eta: 4.0 / (np.pi * aspect) * np.sqrt(1.0 - eta**2))


def series(
    line: Line, incidence: Function, terms: int = TERMS, symmetry: str = "even"
) -> np.ndarray:
    """Coefficients A_1, A_2, ... for an incidence given over 2y/b from -1 to 1.

    ``symmetry`` is that of the incidence about the centreline, "even" or "odd"; only the series'
    terms of the same symmetry are taken, and only half the span is collocated. With few terms
    the stations are Glauert's: evenly spaced in theta, the centre among them, the tips left out.
    """
    orders = 2 * np.arange(1, terms + 1) - (1 if symmetry == "even" else 0)
    theta = 0.5 * np.pi * np.arange(1, terms + 1) / (terms if symmetry == "even" else terms + 1)
    y = np.cos(theta)
    mu = 0.25 * line.slope * line.chord(np.abs(y))
    matrix = np.sin(np.outer(theta, orders)) * (np.outer(mu, orders) + np.sin(theta)[:, None])
    found = np.linalg.solve(matrix, mu * np.sin(theta) * incidence(y))
    full = np.zeros(orders[-1])
    full[orders - 1] = found
    return full


def _one(y: np.ndarray) -> np.ndarray:
    return np.ones_like(y)


def lift_slope(line: Line, terms: int = TERMS) -> float:
    """CL_alpha [1/rad]."""
    return float(np.pi * line.aspect * series(line, _one, terms)[0])


def drag_excess(line: Line, terms: int = TERMS) -> float:
    """Glauert's delta: CDi = CL^2 (1 + delta) / (pi A)."""
    a = series(line, _one, terms)
    return float(np.sum(np.arange(1, len(a) + 1) * (a / a[0]) ** 2) - 1.0)


def slope_excess(line: Line, terms: int = TERMS) -> float:
    """Glauert's tau: CL_alpha = a0 / (1 + a0 (1 + tau) / (pi A))."""
    ratio = line.slope / lift_slope(line, terms) - 1.0
    return ratio * np.pi * line.aspect / line.slope - 1.0


def _rolling(line: Line, incidence: Function) -> float:
    return float(-0.25 * np.pi * line.aspect * series(line, incidence, symmetry="odd")[1])


def roll_damping(line: Line) -> float:
    """Cl_p; the starboard tip's incidence rises by p_hat."""
    return _rolling(line, lambda y: y)


def dihedral_effect(line: Line, inboard: float = 0.0) -> float:
    """Cl_beta per radian of dihedral of the wing outboard of ``inboard`` (fraction, half span)."""
    if inboard == 0.0:
        return _rolling(line, np.sign)
    # A step in incidence is resolved to O(1/terms) only if the stations fall anywhere; the mean of
    # two runs with the step on either side of a station is exact to O(1/terms^2). It is smoothed
    # over the station spacing instead, which has the same order.
    width = 1.5 / TERMS

    def stepped(y: np.ndarray) -> np.ndarray:
        angle, edge = np.arccos(np.abs(y)), np.arccos(inboard)
        return np.sign(y) * np.clip(0.5 + (edge - angle) / (2.0 * width), 0.0, 1.0)

    return _rolling(line, stepped)


def tip_factor(line: Line, inboard: float) -> float:
    """Dihedral effect of tips from ``inboard`` outward over that of the whole wing's dihedral."""
    return dihedral_effect(line, inboard) / dihedral_effect(line)


def vee_side_force(line: Line, dihedral_deg: float) -> float:
    """CY_beta of a V over the flat wing's CL_alpha: -K sin^2 G (Purser and Campbell 1945).

    K is the ratio of one half's load in antisymmetric incidence to that in symmetric incidence.
    """
    even, odd = series(line, _one), series(line, np.sign, symmetry="odd")
    # Load of the half wing: integral of sin(n t) sin(t) from 0 to pi/2.
    order = np.arange(1, len(odd) + 1)
    with np.errstate(divide="ignore", invalid="ignore"):
        half = np.where(
            order == 1, 0.25 * np.pi, -order * np.cos(0.5 * np.pi * order) / (order**2 - 1.0)
        )
    share = np.sum(odd * half) / np.sum(even * half[: len(even)])
    return float(-share * np.sin(np.radians(dihedral_deg)) ** 2)


def twist_zero_lift(line: Line) -> float:
    """Root incidence at zero lift over the washout of the end, for linear washout."""
    root, twist = series(line, _one), series(line, np.abs)
    return float(twist[0] / root[0])


def twist_drag(line: Line) -> float:
    """CDi at zero lift over (pi A washout^2 [rad^2]), for linear washout."""
    root, twist = series(line, _one), series(line, np.abs)
    a = twist - root * twist[0] / root[0]
    return float(np.sum(np.arange(1, len(a) + 1) * a**2))


def twist_drag_coefficient(aspect: float, washout_rad: float) -> float:
    """CDi at zero lift of an elliptic wing with linear washout."""
    return twist_drag(ellipse(aspect)) * np.pi * aspect * washout_rad**2


def roll_with_yaw(line: Line) -> float:
    """Cl_r / CL at small incidence: local airspeed V (1 - r_hat 2y/b).

    To first order in r the line's equation is that of the incidence alpha (1 - r_hat y), as the
    section's circulation is proportional to the local speed, and the force is rho V(y) Gamma.
    """
    even = series(line, _one)
    odd = series(line, lambda y: -y, symmetry="odd")
    # Wind from dead ahead on a wing that yaws nose right: the port half is faster (y > 0 slower).
    # Rolling moment (starboard down positive) = - rho integral V(y) Gamma(y) y dy.
    theta = (np.arange(4000) + 0.5) * np.pi / 4000
    y = np.cos(theta)
    n_even, n_odd = np.arange(1, len(even) + 1), np.arange(1, len(odd) + 1)
    few = 60
    gamma0 = np.sin(np.outer(theta, n_even[:few])) @ even[:few]
    gamma1 = np.sin(np.outer(theta, n_odd[:few])) @ odd[:few]
    weight = np.sin(theta) * np.pi / 4000
    # Cl = L / (q S b) with Gamma = 2 b V G: integral over y of 2 b V G rho V y (b/2)^2 dy...
    moment = -np.sum((gamma1 - y * gamma0) * y * weight)
    lift = np.sum(gamma0 * weight)
    return float(0.5 * moment / lift)


def yaw_with_roll(line: Line) -> float:
    """Cn_p / CL at small incidence, stability axes, from the tilt of the lift vectors.

    With incidence alpha and roll p_hat the local drag force is lift times (w_i / V - p_hat y) per
    strip, w_i being the induced downwash: the rolled section's lift leans forward on the
    descending side.
    """
    even = series(line, _one)[:120]
    odd = series(line, lambda y: y, symmetry="odd")[:120]
    n = np.arange(1, 121)
    theta = (np.arange(4000) + 0.5) * np.pi / 4000
    sine = np.sin(theta)
    y = np.cos(theta)
    waves = np.sin(np.outer(theta, n))
    g0, g1 = waves @ even, waves @ odd
    w0, w1 = waves @ (n * even) / sine, waves @ (n * odd) / sine
    weight = sine * np.pi / 4000
    # Nose to starboard positive: drag on the starboard side turns the nose to starboard.
    drag = g1 * w0 + g0 * (w1 - y)
    return float(0.5 * np.sum(drag * y * weight) / np.sum(g0 * weight))
