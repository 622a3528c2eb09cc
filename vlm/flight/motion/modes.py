"""Roots of a state matrix as modes with names, frequency, damping, time to half or double.

A mode is named by its own participation, not by its place among the others. With v the right and w
the left eigenvector of a root, w . v = 1, state k takes part in it by

    |v_k w_k|, the sum over the states brought to 1                                     (1)

(Perez-Arriaga, Verghese and Schweppe, IEEE Trans. PAS-101, 1982, from memory), which does not
depend on the units of the states. Names may repeat, as when two roots are both mostly roll.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from vlm.constants import Floats

Complexes = NDArray[np.complex128]

REAL_SHARE = 1e-9
HALF = 0.5
CLEAR_SHARE = 0.6


@dataclass(frozen=True)
class Mode:
    """One mode of motion: a real root, or a pair of conjugate ones.

    Attributes
    ----------
    name : see :func:`lateral_modes` and :func:`longitudinal_modes`
    root : the root with a positive or no imaginary part [1/s]
    participation : share of each state in this mode, equation (1), in the order of the matrix [1]
    growth_error : half-width of the root's real part, NaN where not known [1/s]
    """

    name: str
    root: complex
    participation: tuple[float, ...]
    growth_error: float = float("nan")

    @property
    def oscillates(self) -> bool:
        """Whether it is a pair."""
        return self.root.imag > 0.0

    @property
    def frequency(self) -> float:
        """Undamped natural frequency of a pair, size of a real root [rad/s]."""
        return abs(self.root)

    @property
    def damping(self) -> float:
        """Damping ratio of a pair; 1 or -1 for a real root, 0 for a root of zero [1]."""
        size = abs(self.root)
        return -self.root.real / size if size > 0.0 else 0.0

    @property
    def period(self) -> float | None:
        """Period of a pair [s]."""
        return 2.0 * np.pi / self.root.imag if self.oscillates else None

    @property
    def half_time(self) -> float | None:
        """Time to half amplitude of what decays [s]."""
        return float(np.log(2.0) / -self.root.real) if self.root.real < 0.0 else None

    @property
    def double_time(self) -> float | None:
        """Time to double amplitude of what grows [s]."""
        return float(np.log(2.0) / self.root.real) if self.root.real > 0.0 else None

    @property
    def settles(self) -> bool:
        """Whether it dies out."""
        return self.root.real < 0.0


def _roots(matrix: Floats, change: Floats | None) -> tuple[Complexes, Floats, Floats]:
    """Roots, the shares of the states in each (states, roots), and half-widths of real parts.

    ``change`` is the half-width of every entry of the matrix; to first order the real part of a
    root then errs by no more than the sum of |Re(w_k v_l)| change_kl.
    """
    roots, vectors = np.linalg.eig(matrix)
    # Where roots coincide there is no full set of eigenvectors; a least-squares inverse still gives
    # shares.
    left = np.linalg.pinv(vectors)
    errors = np.full(len(roots), np.nan)
    if change is not None:
        slopes = np.einsum("ik,li->ikl", left, vectors)
        errors = np.einsum("ikl,kl->i", np.abs(slopes.real), change)
    shares = np.abs(vectors * left.T)
    return roots, shares / shares.sum(axis=0), errors


def _modes(matrix: Floats, change: Floats | None = None, ends: Sequence[Floats] = ()) -> list[Mode]:
    """Unnamed modes, fastest first.

    Parameters
    ----------
    change : half-widths of the matrix's entries, each by itself
    ends : matrices at the ends of what moves many entries together, and may move them far: the
        roots there are worked out, and the interval of each real part holds theirs
    """
    roots, shares, errors = _roots(matrix, change)
    if not all(np.isfinite(end).all() for end in ends):
        errors, ends = np.full(len(roots), np.nan), ()
    for end in ends:
        others, _, further = _roots(end, change)
        nearest = _matched(roots, others)
        moved = np.abs(others[nearest].real - roots.real) + further[nearest]
        errors = np.maximum(errors, moved)
    scale = float(np.abs(roots).max(initial=1e-300))
    found = []
    for i, root in enumerate(roots):
        if root.imag < -REAL_SHARE * scale:
            continue
        imaginary, error = 0.0, errors[i]
        if root.imag > REAL_SHARE * scale:
            imaginary = root.imag
            # Its two roots may part into real ones.
            error = max(error, errors[int(np.argmin(np.abs(roots - np.conj(root))))])
        parts = tuple(float(part) for part in shares[:, i])
        found.append(Mode("", complex(root.real, imaginary), parts, float(error)))
    return sorted(found, key=lambda mode: -mode.frequency)


def _matched(roots: Complexes, others: Complexes) -> NDArray[np.intp]:
    """Of each root its partner among others, each taken once, the least distances in all."""
    from scipy.optimize import linear_sum_assignment

    return np.asarray(linear_sum_assignment(np.abs(roots[:, None] - others[None, :]))[1])


def _named(modes: Sequence[Mode], names: Sequence[str]) -> list[Mode]:
    return [replace(mode, name=name) for mode, name in zip(modes, names, strict=True)]


def longitudinal_modes(
    matrix: Floats, change: Floats | None = None, ends: Sequence[Floats] = ()
) -> list[Mode]:
    """Modes of :func:`~vlm.flight.craft.small_motions.longitudinal_matrix`, fastest first.

    By the share of w and q against that of u and theta: a pair with at least 60 % of the former is
    a "short period", with at least 60 % of the latter a "phugoid", in between a "speed-and-pitch
    oscillation", the third mode of a craft with relaxed stability. A real root with most of its
    share in w and q is "pitch subsidence" or "pitch divergence", the others "speed subsidence" or
    "speed divergence".
    """
    modes = _modes(matrix, change, ends)
    return _named(modes, [_longitudinal_name(mode) for mode in modes])


def _longitudinal_name(mode: Mode) -> str:
    _, w, q, _ = mode.participation
    if mode.oscillates:
        if w + q >= CLEAR_SHARE:
            return "short period"
        return "phugoid" if 1.0 - w - q >= CLEAR_SHARE else "speed-and-pitch oscillation"
    kind = "subsidence" if mode.settles else "divergence"
    return f"{'pitch' if w + q >= HALF else 'speed'} {kind}"


def lateral_modes(
    matrix: Floats, change: Floats | None = None, ends: Sequence[Floats] = ()
) -> list[Mode]:
    """Modes of :func:`~vlm.flight.craft.small_motions.lateral_matrix`, fastest first.

    A pair with at least half its share in v and r, with p not above both and more in v than in
    phi, is a "Dutch roll"; of the others one with most of p is a "rolling oscillation", else a
    "spiral oscillation" (slow, in bank and heading). A real root with at least half its share in
    r and phi is a "spiral"; of the others one with more of p than of v is "roll subsidence" or
    "roll divergence", else "sideslip subsidence" or "sideslip divergence".
    """
    modes = _modes(matrix, change, ends)
    return _named(modes, [_lateral_name(mode) for mode in modes])


def _lateral_name(mode: Mode) -> str:
    v, p, r, phi = mode.participation
    if mode.oscillates:
        if v + r >= HALF and v > phi and max(v, r) >= p:
            return "Dutch roll"
        return "rolling oscillation" if p >= max(r, phi) - REAL_SHARE else "spiral oscillation"
    if r + phi >= HALF:
        return "spiral"
    return f"{'roll' if p >= v else 'sideslip'} {'subsidence' if mode.settles else 'divergence'}"


def coupled_modes(
    matrix: Floats, change: Floats | None = None, ends: Sequence[Floats] = ()
) -> list[Mode]:
    """Modes of :func:`~vlm.flight.craft.small_motions.coupled_matrix`, fastest first, numbered.

    The root that heading leaves at zero is taken out.
    """
    modes = _modes(matrix, change, ends)
    heading = int(np.argmin([mode.frequency for mode in modes]))
    kept = [mode for i, mode in enumerate(modes) if i != heading]
    return _named(kept, [f"mode {i + 1}" for i in range(len(kept))])
