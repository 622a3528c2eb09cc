"""Least induced drag of wakes, and Prandtl's biplane, by quadrature, series and conformal maps.

All span efficiencies are L^2 / (pi q b^2 D) on the projected span b. For the least drag of a
trace, e = 2 d / s^2 with s = b/2 and d the dipole of the flow about the rigid trace (Munk 1921): a
trace that moves through still fluid with unit speed has the added mass 2 pi rho d.
"""

import numpy as np
from scipy.integrate import quad
from scipy.optimize import brentq, least_squares


def sigma(gap_to_first_span: float, span_ratio: float = 1.0, points: int = 2000) -> float:
    """Prandtl's mutual coefficient of two elliptic loadings (Prandtl, NACA TR 116 and TN 182).

    Parameters
    ----------
    gap_to_first_span : h / b1
    span_ratio : b2 / b1
    """
    theta = (np.arange(points) + 0.5) * np.pi / points
    y1, y2 = 0.5 * np.cos(theta), 0.5 * span_ratio * np.cos(theta)
    apart = y1[:, None] - y2[None, :]
    kernel = apart / (apart**2 + gap_to_first_span**2)
    # Downwash of wing 2, root circulation 1, at wing 1 in the plane of the bound lines.
    wash = -kernel @ np.cos(theta) / (4.0 * points)
    drag = np.sum(np.sin(theta) ** 2 * wash) * 0.5 * np.pi / points
    lift1, lift2 = 0.25 * np.pi, 0.25 * np.pi * span_ratio
    # D12 = sigma L1 L2 / (pi q b1 b2) with density, speed and b1 one.
    return float(drag * 0.5 * np.pi * span_ratio / (lift1 * lift2))


def sigma_at_mean_span(gap_to_mean_span: float, span_ratio: float) -> float:
    """The same, entered with the gap over the mean of the spans as in Prandtl's table."""
    return sigma(gap_to_mean_span * 0.5 * (1.0 + span_ratio), span_ratio)


def elliptic_biplane(gap_to_span: float) -> float:
    """Span efficiency of equal wings with equal elliptic loads: 2 / (1 + sigma)."""
    return 2.0 / (1.0 + sigma(gap_to_span))


def biplane(gap_to_span: float, terms: int = 40) -> float:
    """Best span efficiency of two equal wings, by a sine series on each."""
    points = max(400, int(60 / gap_to_span))
    phi = (np.arange(points) + 0.5) * np.pi / points
    order = 2 * np.arange(terms) + 1
    y = -0.5 * np.cos(phi)
    own = np.sin(np.outer(phi, order)) * order / np.sin(phi)[:, None]
    apart = y[:, None] - y[None, :]
    kernel = apart / (apart**2 + gap_to_span**2)
    other = kernel @ np.cos(np.outer(phi, order)) * order / (2.0 * points)
    weight = np.sin(phi)[:, None]
    series, *_ = np.linalg.lstsq((own + other) * weight, weight[:, 0], rcond=None)
    return float(4.0 / np.pi * 2.0 * series[0] * np.pi / 4.0)


def vee(dihedral_deg: float) -> float:
    """Best span efficiency of a V (J. S. Letcher, J. Aircraft 9, 1972, for the subject)."""
    gamma = np.radians(dihedral_deg)
    ratio = (np.pi - 2.0 * gamma) / (np.pi + 2.0 * gamma)
    return float(ratio ** (2.0 * gamma / np.pi) / np.cos(gamma) ** 2)


def arc(height_to_span: float) -> float:
    """Best span efficiency of a circular arc up to a semicircle (C. D. Cone, NASA TR R-139)."""
    return 1.0 + 2.0 * height_to_span**2


def _box_sides(a: float) -> tuple[float, float]:
    across = 4.0 * quad(lambda t: np.sqrt(np.sin(t) ** 2 - np.sin(a) ** 2), a, 0.5 * np.pi)[0]
    high = 4.0 * quad(lambda t: np.sqrt(np.sin(a) ** 2 - np.sin(t) ** 2), 0.0, a)[0]
    return across, high


def box(height_to_span: float) -> float:
    """Best span efficiency of a rectangular box, by its conformal map on a circle."""

    def misfit(a: float) -> float:
        across, high = _box_sides(a)
        return high / across - height_to_span

    a = brentq(misfit, 1e-4, 0.5 * np.pi - 1e-4, xtol=1e-14)
    return float(16.0 * np.cos(a) ** 2 / _box_sides(a)[0] ** 2)


_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(120)


def _side(corners: np.ndarray, powers: np.ndarray, start: int) -> float:
    """Length of the side between two corners of the map dz/dw = product (w - a_k)^p_k.

    The substitution w = middle - half cos t takes the square-root ends out.
    """
    low, high = corners[start], corners[start + 1]
    middle, half = 0.5 * (low + high), 0.5 * (high - low)
    t = 0.5 * np.pi * (_NODES + 1.0)
    w = middle - half * np.cos(t)
    factor = np.prod(np.abs(w[:, None] - corners) ** powers, axis=1)
    return float(np.sum(_WEIGHTS * factor * half * np.sin(t)) * 0.5 * np.pi)


def winglets(height_to_span: float) -> float:
    """Best span efficiency with plates of this height up from both ends, by a polygon map.

    The starboard half plane without the bent trace is the image of an upper half plane. Its
    boundary runs down the plane of symmetry, along the wing's upper side, up the plate's inner
    side, round its end, down its outer side, back along the wing's lower side and down the plane
    of symmetry, with inner angles of 1/2, 1/2, 2, 3/2 and 1/2 of pi.
    """
    powers = np.array([-0.5, -0.5, 1.0, 0.5, -0.5])

    def corners(logs: np.ndarray) -> np.ndarray:
        return np.concatenate([[0.0], np.cumsum(np.exp(logs))])

    def misfit(logs: np.ndarray) -> np.ndarray:
        a = corners(logs)
        top, inner, outer, bottom = (_side(a, powers, k) for k in range(4))
        wanted = np.log([0.5, 0.5, height_to_span, height_to_span])
        return np.log([top, bottom, inner, outer]) - wanted

    found = least_squares(misfit, np.log([0.3, 0.1, 0.1, 0.5]), xtol=1e-15, ftol=1e-15, gtol=1e-15)
    a = corners(found.x)
    first, second = np.sum(powers * a), np.sum(powers * a**2)
    # prod (1 - a_k/w)^p_k = 1 - first/w + (first^2 - second)/(2 w^2) + ...: closed if first is 0.
    if abs(first) > 1e-9:
        raise ArithmeticError(f"the trace does not close: {first:.1e}")
    return float(4.0 * abs(second))


def bell_drag() -> float:
    """Induced drag of Prandtl's (1 - y^2)^(3/2) loading over the elliptic one's, equal lift and
    equal integral of load times y^2, the bell's span being sqrt(3/2) times as large (Prandtl 1933).
    """
    span_squared = (1.0 / 4.0) / (1.0 / 6.0)
    return (1.0 + 3.0 * (1.0 / 3.0) ** 2) / span_squared


def lift_share(eta: float) -> float:
    """Share of an elliptic loading outboard of ``eta`` on one side in the whole lift."""
    return float((np.arccos(eta) - eta * np.sqrt(1.0 - eta**2)) / np.pi)


def bending(eta: float) -> float:
    """Moment of an elliptic loading beyond ``eta`` about that station over lift x half span."""
    whole = quad(lambda y: np.sqrt(1.0 - y**2), -1.0, 1.0)[0]
    return float(quad(lambda y: (y - eta) * np.sqrt(1.0 - y**2), eta, 1.0)[0] / whole)
