"""What a small turn of the wake does to unswept folded wings, by the reverse-flow theorem.

The wings are bent sheets of constant chord c, their generators along x (aft), flat sections, any
folds, one wing above another; t is the unit tangent along the span, n = x x t. With phi the jump of
potential on the wings, Gamma(s) that at the trailing edge, and a wake along x, write H phi for the
normal velocity at the wings. Turn the wake alone into the direction x + b e, e across x: its points
move by b (X - c) e, and the wings' jump by b phi_1, such that no air flows through the wings still:

    H phi_1 + W'[Gamma_0] = 0,                                                          (1)

W' the change of the normal velocity by the wake's displacement. Let gamma_r be the load of the same
wings in the stream -x with the normal velocity tau(s) on them. H may be moved over, as in
``yawed_wing.py``: <gamma_r, H phi_1> = int tau Gamma_1 ds. The other term is the change of the
flux of the velocity u = -dv_r/dx of doublets gamma_r through the wake, weighted with Gamma_0. As
div u = 0,

    delta (u . r_x x r_s) = d/dx (u . delta r x r_s) + d/ds (u . r_x x delta r),

and what is left after integrating by parts along x and s (no displacement at the edge, no u at
infinity, Gamma_0 continuous and nothing at free ends) is

    int tau Gamma_1 ds = int Gamma_0'(s) (x x e) . I ds,   I = int_c^inf v_r dx           (2)

at the trailing edge's line, both wings and all tips. tau = t_y asks for the lift, tau = r . t for
the rolling moment. (2) needs no more of the wake than the two solutions with a wake along x, which
any method gives without trouble at the trailing edge; here horseshoes, with legs along x and

    I = (g/4 pi) [ (x x q_b)/(xi + R_b) - (x x q_a)/(xi + R_a) + n int_a^b dl / R ],     (3)

q from the leg to the point across x, xi its distance from the (reverse flow's) leading edge to the
bound part, R^2 = xi^2 + q^2: legs and bound part integrated along x, upstream of the wing.

Bound parts at (1 - cos((2k-1) pi/(2n+1)))/2, control points at (1 - cos(2k pi/(2n+1)))/2. The
first bound part stands off the edge where gamma_r is singular, so that (2) errs as 1/n: it is
extrapolated from n and 2 n rows. For a flat rectangle it must give equation (6) of
``yawed_wing.py``.
"""

from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np

Floats = np.ndarray
X = np.array([1.0, 0.0, 0.0])


@dataclass(frozen=True)
class Sheets:
    """Wings as chains of strips, from the port end to the starboard end of each.

    Attributes
    ----------
    corners : for each wing, the bends and ends of its section across x, shape (points, 2), y and z
    chord : c
    strips : of each straight piece
    """

    corners: tuple[Floats, ...]
    chord: float
    strips: int

    @cached_property
    def edges(self) -> list[Floats]:
        """Edges of the strips of each wing, shape (strips + 1, 3), in the plane x = 0."""
        share = 0.5 * (1.0 - np.cos(np.pi * np.arange(self.strips + 1) / self.strips))
        return [self._spread(corners, share) for corners in self.corners]

    @cached_property
    def stations(self) -> Floats:
        """Control stations of all strips, shape (all strips, 3), in the plane x = 0."""
        middle = (np.arange(self.strips) + 0.5) / self.strips
        share = 0.5 * (1.0 - np.cos(np.pi * middle))
        found = []
        for corners in self.corners:
            for a, b in pairwise(corners):
                points = a + share[:, None] * (b - a)
                found.append(np.column_stack([np.zeros(self.strips), points]))
        return np.concatenate(found)

    def _spread(self, corners: Floats, share: Floats) -> Floats:
        pieces = [(a + share[:, None] * (b - a))[:-1] for a, b in pairwise(corners)]
        points = np.concatenate([*pieces, corners[-1:]])
        return np.column_stack([np.zeros(len(points)), points])

    @cached_property
    def spans(self) -> Floats:
        """From the port to the starboard edge of every strip, shape (all strips, 3)."""
        return np.concatenate([np.diff(edges, axis=0) for edges in self.edges])


def _velocity(points: Floats, a: Floats, b: Floats) -> Floats:
    """Velocity of unit horseshoes at points, (m, n, 3): in along x to a, on to b, and out."""
    ra, rb = points[:, None] - a, points[:, None] - b
    na, nb = np.linalg.norm(ra, axis=2), np.linalg.norm(rb, axis=2)
    bound = (
        np.cross(ra, rb) * ((na + nb) / (na * nb * (na * nb + np.sum(ra * rb, axis=2))))[..., None]
    )
    legs = [
        np.cross(X, r) / (norm * (norm - r[..., 0]))[..., None] for r, norm in ((rb, nb), (ra, na))
    ]
    return (bound + legs[0] - legs[1]) / (4.0 * np.pi)


def _ahead(points: Floats, a: Floats, b: Floats) -> Floats:
    """Equation (3) at points of the plane x = 0, shape (m, n, 3)."""
    xi = a[:, 0]
    qa, qb = points[:, None] - a, points[:, None] - b
    qa[..., 0] = qb[..., 0] = 0.0
    total = np.zeros_like(qa)
    for q, sense in ((qb, 1.0), (qa, -1.0)):
        far = np.sqrt(xi**2 + np.sum(q * q, axis=2))
        total += sense * np.cross(X, q) / (xi + far)[..., None]
    span = b - a
    length = np.linalg.norm(span, axis=1)
    along = span / length[:, None]
    low, high = -np.sum(qa * along, axis=2), -np.sum(qb * along, axis=2)
    aside = np.sqrt(xi**2 + np.sum(qa * qa, axis=2) - low**2)
    logs = np.arcsinh(high / aside) - np.arcsinh(low / aside)
    total += np.cross(X, along) * logs[..., None]
    return total / (4.0 * np.pi)


def _turned(sheets: Sheets, rows: int, aside: Floats, tau: Floats) -> float:
    """Equation (2) with a number of rows, in an air that rises with unit speed."""
    k, n = np.arange(1, rows + 1), 2 * rows + 1
    bound = 0.5 * sheets.chord * (1.0 - np.cos((2 * k - 1) * np.pi / n))
    control = 0.5 * sheets.chord * (1.0 - np.cos(2 * k * np.pi / n))
    ports = np.concatenate([edges[:-1] for edges in sheets.edges])
    a = (ports[None] + bound[:, None, None] * X).reshape(-1, 3)
    b = a + np.tile(sheets.spans, (rows, 1))
    points = (sheets.stations[None] + control[:, None, None] * X).reshape(-1, 3)
    normals = np.cross(X, sheets.spans) / np.linalg.norm(sheets.spans, axis=1)[:, None]
    matrix = np.einsum("mnc,mc->mn", _velocity(points, a, b), np.tile(normals, (rows, 1)))
    right = np.column_stack([np.tile(-normals[:, 2], rows), np.tile(tau, rows)])
    loads = np.linalg.solve(matrix, right)
    gamma_0 = loads[:, 0].reshape(rows, -1).sum(axis=0)
    total, first = 0.0, 0
    for edges in sheets.edges:
        own = gamma_0[first : first + len(edges) - 1]
        first += len(edges) - 1
        steps = np.diff(np.concatenate([[0.0], own, [0.0]]))
        upwash = np.einsum("mnc,n->mc", _ahead(edges, a, b), loads[:, 1])
        total += float(steps @ (upwash @ np.cross(X, aside)))
    return total


def turned_lift(sheets: Sheets, rows: int, aside: Floats) -> float:
    """int Gamma_1 dy per unit turn of the wake toward ``aside``, extrapolated from rows, 2 rows."""
    tau = sheets.spans[:, 1] / np.linalg.norm(sheets.spans, axis=1)
    return _extrapolated(sheets, rows, aside, tau)


def turned_roll(sheets: Sheets, rows: int, aside: Floats) -> float:
    """int Gamma_1 r . dr per unit turn, about the x axis, extrapolated likewise."""
    along = sheets.spans / np.linalg.norm(sheets.spans, axis=1)[:, None]
    return _extrapolated(sheets, rows, aside, np.sum(sheets.stations * along, axis=1))


def _extrapolated(sheets: Sheets, rows: int, aside: Floats, tau: Floats) -> float:
    coarse, fine = (_turned(sheets, n, aside, tau) for n in (rows, 2 * rows))
    return 2.0 * fine - coarse
