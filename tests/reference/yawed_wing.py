"""A flat rectangle in sideslip by pressure modes: dihedral effect, the wake along the stream.

No lattice: the load is a double series, and the turn of the wake enters through the reverse-flow
theorem, so that nothing has to be resolved at the trailing edge. Chord, speed and density are
one; s = A/2 is the half span; x runs aft from the leading edge, y to starboard, z up. Small
angles of attack and of sideslip, each to first order.

**The surface.** With phi the jump of potential across wing and wake (upper less lower) and
H phi = (1/4 pi) fp int int phi / r^3 the upwash it induces in its plane, the load of a wing whose
wake runs along x is gamma = d phi / dx, nothing in the wake, and its upwash is

    K gamma = (1/4 pi) fp int int gamma(xi, eta) / Y^2 (1 + X/R) dxi deta,              (1)

with X = x - xi, Y = y - eta, R^2 = X^2 + Y^2 (the doublet of (0, eta) integrated along x; fp:
Hadamard's finite part). No flow through the wing at unit angle of attack: K gamma_0 = -1.

**Modes.** xi = (1 - cos t)/2, eta = s cos p,

    gamma = sum_n sin(n p) [a_0n cot(t/2) + sum_m a_mn sin(m t)],                       (2)

which have the square-root edges of thin-wing theory and no load at the trailing edge. They are
collocated at t_i = 2 i pi/(2M + 1) and p_j = j pi/(N + 1), where two-dimensional and
lifting-line theory are exact. In (1) the chordwise integral Q(x, |Y|) of a mode is taken less its
value at Y = 0, 2 int_0^x: what is left is logarithmic in Y; the rest is
fp int sin(n p) / (y - eta)^2 deta = -pi n sin(n p) / (s sin p).                        (3)

**Sideslip.** The stream is (1, -b, 0). The wake carries phi along it, so at the trailing edge
and behind d phi/dx = b d phi/dy. Write phi = phi_0 + b phi_1: H phi_1 = 0 on the wing, and

    phi_1 = Gamma_1(y) + (x - 1) Gamma_0'(y)   behind the trailing edge.                (4)

The load is d phi/dx - b d phi/dy. Its moment, positive to starboard wing down, by parts in y:

    Cl_beta / CL = -(2 / A^2) (int y Gamma_1 dy + int int phi_0 dx dy) / CL.            (5)

The second term, the chordwise vortices', is all there is with a wake along the craft's axis.

**Reverse flow.** Let gamma_r = -d phi_r/dx be the load of the wing in the stream (-1, 0, 0)
with the upwash w_r = H phi_r = y on it: the mirror image, x -> 1 - x, of a twisted wing's in the
forward stream. phi_1 and gamma_r both vanish at the side edges as roots of the distance, so that
H may be moved from one to the other:

    0 = <gamma_r, H phi_1> = <H gamma_r, phi_1> = -<d w_r/dx, phi_1> = <w_r, d phi_1/dx>
      = int y Gamma_1 dy + int Gamma_0'(y) I_r(y) dy,  I_r = int_1^inf w_r dx,          (6)

over wing and wake. (At a finite b the same holds with the wake where it is: (6) is not the
derivative of a divergent series.) Ahead of a wing (1) integrates in closed form, with the
forward, mirrored load gamma:

    I(y) = int_-inf^0 w dx = (1/4 pi) int int gamma / (xi + R) dxi deta.                (7)

**The same otherwise.** phi_1 = phi_p + dF/dy with F = int_0^x phi_0 dx. As HF = int_-inf^x w_0,
phi_p is the jump of a wing with the upwash -I_0'(y), constant along the chord. It has to take
out what dF/dy has at the side edges: with F = f(x) sqrt(d), gamma_r = k(x) sqrt(d) at a distance d
from the starboard edge, the exchange of phi_p = (f/2) / sqrt(d) with gamma_r leaves, by the pair
sqrt(1 - y^2), 1/sqrt(1 - y^2) of the one-dimensional operator, -pi/4 f k from each edge:

    int y Gamma_1 dy = int G_r'(y) I_0(y) dy - (pi/4) int f k dx - int int phi_0 dx dy,   (8)

G_r the chordwise integral of gamma_r. It leans on edge values, which converge slower than
moments, and other solutions: where (6) and (8) agree, neither has lost a term.

Sources: equation (1) and the reverse-flow theorem are classic (Multhopp 1950, ARC R&M 2884;
Flax 1952; both from memory); (4) to (8) were derived for this check.
"""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.polynomial.legendre import leggauss

Floats = np.ndarray
INNER_DEPTH, OUTER_DEPTH = 34, 14
"""Panels of the chordwise and spanwise quadratures toward the point of (1): the inner must resolve
the smallest |Y| of the outer."""
RATIO, NODES, STEP = 0.45, 8, 3.0


@dataclass(frozen=True)
class Rectangle:
    """What the series of one size give for a flat rectangle.

    Attributes
    ----------
    aspect_ratio, chordwise, spanwise : A, M, N
    lift_slope : CL_alpha [1/rad]
    aerodynamic_centre : aft of the leading edge [chords]
    roll_damping : Cl_p, per unit of p b / 2U [1/rad]
    straight : Cl_beta/CL, wake along the craft's axis [1/rad]
    along_stream : the same, wake along the stream, by equation (6) [1/rad]
    along_stream_by_edges : the same by equation (8) [1/rad]
    """

    aspect_ratio: float
    chordwise: int
    spanwise: int
    lift_slope: float
    aerodynamic_centre: float
    roll_damping: float
    straight: float
    along_stream: float
    along_stream_by_edges: float


def graded(centre: float, depth: int, longest: float) -> tuple[Floats, Floats]:
    """Gauss's nodes and weights on (0, pi), in panels that shrink toward ``centre``."""
    nodes, weights = leggauss(NODES)
    places, shares = [], []
    for end in (0.0, np.pi):
        length = end - centre
        if length == 0.0:
            continue
        borders = [0.0, *RATIO ** np.arange(depth - 1, -1, -1)]
        for low, high in pairwise(borders):
            pieces = int(np.ceil(abs(length) * (high - low) / longest))
            steps = np.linspace(low, high, pieces + 1)
            half, middle = np.diff(steps) / 2.0, (steps[1:] + steps[:-1]) / 2.0
            places.append((centre + length * (middle[:, None] + half[:, None] * nodes)).ravel())
            shares.append((abs(length) * half[:, None] * weights).ravel())
    return np.concatenate(places), np.concatenate(shares)


def chord_modes(t: Floats, count: int) -> Floats:
    """Chordwise factors of (2) times dxi/dt, shape (points, count)."""
    m = np.arange(1, count)
    first = 0.5 * (1.0 + np.cos(t))
    return np.column_stack([first, 0.5 * np.sin(np.outer(t, m)) * np.sin(t)[:, None]])


def chord_integrals(t: Floats, count: int) -> Floats:
    """The chordwise factors of (2) integrated from the leading edge, shape (points, count)."""
    m = np.arange(2, count)
    first = 0.5 * (t + np.sin(t))
    second = 0.25 * (t - 0.5 * np.sin(2.0 * t))
    rest = 0.25 * (np.sin(np.outer(t, m - 1)) / (m - 1) - np.sin(np.outer(t, m + 1)) / (m + 1))
    return np.column_stack([first, second, rest])[:, :count]


def _lateral(p: Floats, station: float, half_span: float) -> Floats:
    """Y = y - eta between two stations, without loss of digits where they are close."""
    return 2.0 * half_span * np.sin(0.5 * (p + station)) * np.sin(0.5 * (p - station))


def influence(half_span: float, chordwise: int, spanwise: int) -> Floats:
    """Equation (1) at the collocation points, shape (M, N, M, N)."""
    t = 2.0 * np.pi * np.arange(1, chordwise + 1) / (2 * chordwise + 1)
    stations = np.pi * np.arange(1, spanwise + 1) / (spanwise + 1)
    n = np.arange(1, spanwise + 1)
    at_no_distance = 2.0 * chord_integrals(t, chordwise)
    chords = []
    for place in t:
        inner, weights = graded(place, INNER_DEPTH, STEP / chordwise)
        ahead = -np.sin(0.5 * (inner - place)) * np.sin(0.5 * (inner + place))
        chords.append((ahead, chord_modes(inner, chordwise) * weights[:, None]))
    matrix = np.zeros((chordwise, spanwise, chordwise, spanwise))
    for j in range((spanwise + 1) // 2):
        outer, weights = graded(stations[j], OUTER_DEPTH, STEP / spanwise)
        y = _lateral(outer, stations[j], half_span)
        span = np.sin(np.outer(outer, n)) * (np.sin(outer) * weights)[:, None] * half_span
        finite_part = -np.pi * n * np.sin(n * stations[j]) / (half_span * np.sin(stations[j]))
        for i, (x, modes) in enumerate(chords):
            distance = np.hypot(x, y[:, None])
            # (X/R - sgn X) / Y^2, the kernel less its value at Y = 0.
            kernel = -np.sign(x) / (distance * (distance + np.abs(x)))
            smooth = (kernel @ modes).T @ span
            matrix[i, j] = (smooth + np.outer(at_no_distance[i], finite_part)) / (4.0 * np.pi)
            matrix[i, spanwise - 1 - j] = matrix[i, j] * (-1.0) ** (n + 1)
    return matrix


def loads(half_span: float, chordwise: int, spanwise: int) -> tuple[Floats, Floats]:
    """Coefficients of (2) for the upwash -1 and for the upwash y on the wing, (M, N) each."""
    size = chordwise * spanwise
    y = half_span * np.cos(np.pi * np.arange(1, spanwise + 1) / (spanwise + 1))
    upwash = np.column_stack([-np.ones(size), np.tile(y, chordwise)])
    matrix = influence(half_span, chordwise, spanwise).reshape(size, size)
    found = np.linalg.solve(matrix, upwash)
    shape = (chordwise, spanwise)
    return found[:, 0].reshape(shape), found[:, 1].reshape(shape)


def upwash_ahead(load: Floats, half_span: float, stations: Floats) -> Floats:
    """Equation (7) at y = s cos(station)."""
    chordwise, spanwise = load.shape
    n = np.arange(1, spanwise + 1)
    inner, weights = graded(0.0, INNER_DEPTH, STEP / chordwise)
    along = (chord_modes(inner, chordwise) * weights[:, None]) @ load
    x = np.sin(0.5 * inner) ** 2
    found = []
    for station in stations:
        outer, weights = graded(station, OUTER_DEPTH, STEP / spanwise)
        y = _lateral(outer, station, half_span)
        span = np.sin(np.outer(outer, n)) * (np.sin(outer) * weights)[:, None] * half_span
        kernel = 1.0 / (x + np.hypot(x, y[:, None]))
        found.append(np.sum((kernel @ along) * span) / (4.0 * np.pi))
    return np.array(found)


def _edge_term(lift: Floats, roll: Floats, half_span: float) -> float:
    """int f k dx of (8), with sin(n p) = n p at the edge and d = s p^2 / 2."""
    chordwise, spanwise = lift.shape
    n = np.arange(1, spanwise + 1)
    t, weights = leggauss(200)
    t, weights = 0.5 * np.pi * (t + 1.0), 0.5 * np.pi * weights
    x = np.sin(0.5 * t) ** 2
    modes = chord_modes(t, chordwise) * weights[:, None]
    to_edge = np.sqrt(2.0 / half_span) * n
    # f(x) = int_0^x (x - xi) k_0(xi) dxi at the mirrored place x = 1 - x_r of gamma_r.
    lever = np.maximum(1.0 - x[:, None] - x, 0.0)
    return float((modes @ (roll @ to_edge)) @ lever @ (modes @ (lift @ to_edge)))


def rectangle(aspect_ratio: float, chordwise: int, spanwise: int) -> Rectangle:
    """Solve a flat rectangle with M x N modes."""
    s, n = 0.5 * aspect_ratio, np.arange(1, spanwise + 1)
    lift, roll = loads(s, chordwise, spanwise)
    whole = chord_integrals(np.array([np.pi]), chordwise)[0]
    gamma_0, gamma_r = whole @ lift, whole @ roll
    circulation = 0.5 * np.pi * s * gamma_0[0]
    lift_slope = 2.0 * circulation / aspect_ratio
    t, weights = leggauss(100)
    t, weights = 0.5 * np.pi * (t + 1.0), 0.5 * np.pi * weights
    behind = np.cos(0.5 * t) ** 2
    jump = 0.5 * np.pi * s * ((behind * weights) @ chord_modes(t, chordwise) @ lift)[0]

    count = 2 * spanwise + 40
    stations = np.pi * (np.arange(count) + 0.5) / count
    slopes = np.cos(np.outer(stations, n)) * n
    # int G'(y) I dy over the span = -int dG/dp I dp from 0 to pi.
    by_wake = np.sum((slopes @ gamma_0) * upwash_ahead(roll, s, stations)) * np.pi / count
    other = -np.sum((slopes @ gamma_r) * upwash_ahead(lift, s, stations)) * np.pi / count
    by_edges = other - 0.25 * np.pi * _edge_term(lift, roll, s) - jump

    scale = -2.0 / aspect_ratio**2 / lift_slope
    return Rectangle(
        aspect_ratio=aspect_ratio,
        chordwise=chordwise,
        spanwise=spanwise,
        lift_slope=float(lift_slope),
        aerodynamic_centre=float(1.0 - jump / circulation),
        # y s/2: int y Gamma dy; the wing that rolls with p has the upwash of w = -p y from below.
        roll_damping=float(0.5 * np.pi * s**2 * gamma_r[1] / 2.0 * 4.0 / aspect_ratio**3),
        straight=float(scale * jump),
        along_stream=float(scale * (by_wake + jump)),
        along_stream_by_edges=float(scale * (by_edges + jump)),
    )


if __name__ == "__main__":
    for ratio in (2.0, 3.0, 4.0, 6.0, 8.0, 10.0):
        for size in ((4, 8), (6, 12), (8, 16), (12, 24), (16, 32), (16, 64)):
            print(rectangle(ratio, *size), flush=True)
