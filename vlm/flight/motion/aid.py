"""What the rotors' control must add to a craft that does not steady itself.

A craft without fins has little or no stiffness and damping in yaw of its own, and one whose
centre of gravity lies aft of the neutral point has none in pitch. Rotors can give both:

    N = k beta - c r   (yaw),     M = - k (alpha - alpha_0) - c q   (pitch)             (1)

The tool tells the least damping c for each stiffness k that makes the motion acceptable.
Criteria are those of the military specification MIL-F-8785C for level 1, cruise (from memory;
written for crewed aircraft, taken here as common practice): Dutch roll damping ratio at least
0.08, frequency at least 0.4 rad/s, their product at least 0.15 rad/s; spiral doubling in no less
than 20 s; short period damping ratio at least 0.30. Slow
longitudinal roots may grow no faster than the spiral; those that grow at all are named, as pitch
control alone does not damp a phugoid.

In pitch the slow roots often set what is needed, not the fast ones. The rotors balance the air's
pitching moment M0 with a constant moment; as the air's grows with U^2 and the rotors' does not, the
craft has the rate M_u = 2 M0 / U, which turns it away from its speed however stiff its fast motion
is. So both are given: what all roots need, and what the fast ones alone do.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from vlm.constants import Floats
from vlm.flight.craft.small_motions import (
    LATERAL,
    LONGITUDINAL,
    OpenMotion,
    SmallMotion,
    lateral_matrix,
    longitudinal_matrix,
)
from vlm.flight.motion.modes import HALF, REAL_SHARE, Mode, lateral_modes, longitudinal_modes

DUTCH_DAMPING, DUTCH_FREQUENCY, DUTCH_PRODUCT = 0.08, 0.4, 0.15
SPIRAL_GROWTH = float(np.log(2.0)) / 20.0
PITCH_DAMPING = 0.30
STEPS = 40
FASTEST = 12.0
TRIALS = 16
HALVINGS = 8


def with_yaw_aid(motion: SmallMotion, stiffness: float, damping: float) -> SmallMotion:
    """The craft with the rotors' stiffness [N m/rad] and damping [N m s/rad] in yaw."""
    rates = motion.rates.copy()
    rates[5, 1] += stiffness / float(np.linalg.norm(motion.velocity))
    rates[5, 5] -= damping
    return replace(motion, rates=rates)


def with_pitch_aid(motion: SmallMotion, stiffness: float, damping: float) -> SmallMotion:
    """The craft with the rotors' stiffness [N m/rad] and damping [N m s/rad] in pitch."""
    rates = motion.rates.copy()
    rates[4, 2] -= stiffness / float(np.linalg.norm(motion.velocity))
    rates[4, 4] -= damping
    return replace(motion, rates=rates)


def lateral_is_acceptable(motion: SmallMotion) -> bool:
    """Whether the lateral modes meet the criteria."""
    return not failing_in_yaw(motion)


def pitch_is_acceptable(motion: SmallMotion) -> bool:
    """Whether all longitudinal modes meet the criteria."""
    return not failing_in_pitch(motion)


def fast_pitch_is_acceptable(motion: SmallMotion) -> bool:
    """Whether the two fast longitudinal roots settle, well damped where they oscillate."""
    return all(_damped_in_pitch(mode) for mode in _fast_and_slow(longitudinal_matrix(motion))[0])


def failing_in_pitch(motion: SmallMotion) -> list[Mode]:
    """Longitudinal modes that do not meet the criteria."""
    fast, slow = _fast_and_slow(longitudinal_matrix(motion))
    failing = [mode for mode in fast if not _damped_in_pitch(mode)]
    return failing + [mode for mode in slow if not _slow_enough(mode)]


def growing_in_pitch(motion: SmallMotion) -> list[Mode]:
    """Slow longitudinal modes that grow, though slowly enough for the criteria."""
    slow = _fast_and_slow(longitudinal_matrix(motion))[1]
    return [mode for mode in slow if 0.0 < mode.root.real <= SPIRAL_GROWTH]


def failing_in_yaw(motion: SmallMotion) -> list[Mode]:
    """Lateral modes that do not meet the criteria."""
    return [mode for mode in lateral_modes(lateral_matrix(motion)) if not _acceptable(mode)]


Criterion = Callable[[Mode], bool]
"""Whether a mode meets what is asked of it."""


def yaw_is_needed(motion: OpenMotion) -> bool | None:
    """Whether a lateral mode fails the criteria; None where what is open in it leaves that open."""
    modes = lateral_modes(*motion.matrices(lateral_matrix, LATERAL))
    return known_to_fail([(mode, _acceptable) for mode in modes])


def pitch_is_needed(motion: OpenMotion, *, slow: bool = True) -> bool | None:
    """The same of the longitudinal modes; of the fast ones alone without ``slow``."""
    fast, others = _fast_and_slow(*motion.matrices(longitudinal_matrix, LONGITUDINAL))
    judged: list[tuple[Mode, Criterion]] = [(mode, _damped_in_pitch) for mode in fast]
    return known_to_fail(judged + [(mode, _slow_enough) for mode in others if slow])


def known_to_fail(judged: Sequence[tuple[Mode, Criterion]]) -> bool | None:
    """Whether a mode fails, wherever its real part lies within its error; None where that is open.

    A mode whose error is not known leaves it open, but where another fails for sure.
    """
    apart = [
        [kept(replace(mode, root=mode.root + sense * mode.growth_error)) for sense in (-1.0, 1.0)]
        if np.isfinite(mode.growth_error)
        else [True, False]
        for mode, kept in judged
    ]
    if any(not low and not high for low, high in apart):
        return True
    return False if all(low and high for low, high in apart) else None


def _damped_in_pitch(mode: Mode) -> bool:
    return mode.damping >= PITCH_DAMPING


def _slow_enough(mode: Mode) -> bool:
    return mode.root.real <= SPIRAL_GROWTH


def _fast_and_slow(
    matrix: Floats, change: Floats | None = None, ends: Sequence[Floats] = ()
) -> tuple[list[Mode], list[Mode]]:  # fmt: skip
    """The modes of the two largest longitudinal roots, and the others.

    Parameters
    ----------
    change, ends : as in :func:`~vlm.flight.motion.modes.longitudinal_modes`; None leaves the modes
        without errors
    """
    modes = longitudinal_modes(matrix, change, ends)
    fast: list[Mode] = []
    while sum(2 if mode.oscillates else 1 for mode in fast) < 2:
        fast.append(modes[len(fast)])
    return fast, modes[len(fast) :]


def _acceptable(mode: Mode) -> bool:
    if not mode.oscillates:
        return mode.root.real <= (SPIRAL_GROWTH if mode.name == "spiral" else 0.0)
    return (
        mode.damping >= DUTCH_DAMPING
        and mode.frequency >= DUTCH_FREQUENCY
        and -mode.root.real >= DUTCH_PRODUCT
    )


@dataclass(frozen=True)
class AidBoundary:
    """Least damping for each stiffness.

    Attributes
    ----------
    stiffness : shape (n,) [N m/rad]
    damping : shape (n,), NaN where no damping up to the largest tried is enough [N m s/rad]
    """

    stiffness: Floats
    damping: Floats

    @property
    def is_needed(self) -> bool:
        """Whether the craft is not acceptable by itself."""
        return bool(self.damping[0] != 0.0)

    def least(self) -> tuple[float, float] | None:
        """The least stiffness for which some damping is enough, with that damping."""
        known = np.flatnonzero(np.isfinite(self.damping))
        if not len(known):
            return None
        first = int(known[0])
        return float(self.stiffness[first]), float(self.damping[first])


def yaw_boundary(motion: SmallMotion) -> AidBoundary:
    """Least yaw damping against yaw stiffness."""
    inertia = float(motion.inertia[2, 2])
    return _boundary(_Aided.of(motion, with_yaw_aid, lateral_matrix), inertia, _yaw_accepted)


def pitch_boundary(motion: SmallMotion) -> AidBoundary:
    """Least pitch damping against pitch stiffness, for all longitudinal roots."""
    inertia = float(motion.inertia[1, 1])
    aided = _Aided.of(motion, with_pitch_aid, longitudinal_matrix)
    return _boundary(aided, inertia, _pitch_accepted)


def fast_pitch_boundary(motion: SmallMotion) -> AidBoundary:
    """The same for the two fast roots alone."""
    inertia = float(motion.inertia[1, 1])
    aided = _Aided.of(motion, with_pitch_aid, longitudinal_matrix)
    return _boundary(aided, inertia, _fast_pitch_accepted)


@dataclass(frozen=True)
class _Aided:
    """State matrices of an aided craft, which are linear in stiffness and damping.

    Attributes
    ----------
    plain, stiffness, damping : without aid, and by a unit of either, shape (4, 4) each
    """

    plain: Floats
    stiffness: Floats
    damping: Floats

    @classmethod
    def of(
        cls,
        motion: SmallMotion,
        aided: Callable[[SmallMotion, float, float], SmallMotion],
        matrix: Callable[[SmallMotion], Floats],
    ) -> "_Aided":
        plain = matrix(motion)
        return cls(
            plain, matrix(aided(motion, 1.0, 0.0)) - plain, matrix(aided(motion, 0.0, 1.0)) - plain
        )

    def at(self, stiffness: Floats, damping: Floats) -> Floats:
        """Matrices at some of both, shape (n,) each: (n, 4, 4)."""
        added = stiffness[:, None, None] * self.stiffness + damping[:, None, None] * self.damping
        return np.asarray(self.plain + added)


Accepted = Callable[[Floats], NDArray[np.bool_]]
"""Which of some state matrices, shape (n, 4, 4), meet the criteria, shape (n,)."""


def _boundary(aided: _Aided, inertia: float, accepted: Accepted) -> AidBoundary:
    """Stiffness up to that of an oscillation of ``FASTEST`` rad/s, damping up to critical.

    The first of rising dampings that is enough, narrowed down, for all stiffnesses side by side.
    """
    stiffness = inertia * np.linspace(0.0, FASTEST, STEPS + 1) ** 2
    below, above = np.zeros_like(stiffness), np.full_like(stiffness, np.nan)

    def enough(rows: NDArray[np.intp], tried: Floats) -> NDArray[np.bool_]:
        return accepted(aided.at(stiffness[rows], tried))

    rows = np.arange(len(stiffness))
    for tried in (0.0, *(2.0 * inertia * FASTEST * np.geomspace(1e-3, 1.0, TRIALS))):
        yes = enough(rows, np.full(len(rows), tried))
        above[rows[yes]] = tried
        rows = rows[~yes]
        below[rows] = tried
    rows = np.flatnonzero(above > 0.0)
    for _ in range(HALVINGS):
        middle = 0.5 * (below[rows] + above[rows])
        yes = enough(rows, middle)
        above[rows[yes]] = middle[yes]
        below[rows[~yes]] = middle[~yes]
    return AidBoundary(stiffness, above)


@dataclass(frozen=True)
class _Roots:
    """Roots of some matrices as :mod:`vlm.flight.motion.modes` has them; shape (n, 4) each.

    Attributes
    ----------
    real : real parts [1/s]
    frequency : sizes [rad/s]
    damping : damping ratios; 1 or -1 of a real root, 0 of a root of zero [1]
    oscillates : whether it is one of a pair
    """

    real: Floats
    frequency: Floats
    damping: Floats
    oscillates: NDArray[np.bool_]

    @classmethod
    def of(cls, found: ArrayLike) -> "_Roots":
        roots = np.asarray(found, dtype=np.complex128)
        scale = np.abs(roots).max(axis=1, keepdims=True)
        oscillates = np.abs(roots.imag) > REAL_SHARE * scale
        size = np.where(oscillates, np.abs(roots), np.abs(roots.real))
        damping = np.divide(-roots.real, size, out=np.zeros_like(size), where=size > 0.0)
        return cls(roots.real, size, damping, oscillates)


def _yaw_accepted(matrices: Floats) -> NDArray[np.bool_]:
    """As :func:`lateral_is_acceptable`."""
    roots, vectors = np.linalg.eig(matrices)
    shares = np.abs(vectors * np.swapaxes(np.linalg.pinv(vectors), 1, 2))
    shares = shares / shares.sum(axis=1, keepdims=True)
    found = _Roots.of(roots)
    spiral = shares[:, 2] + shares[:, 3] >= HALF
    alone = found.real <= np.where(spiral, SPIRAL_GROWTH, 0.0)
    pair = (found.damping >= DUTCH_DAMPING) & (found.frequency >= DUTCH_FREQUENCY)
    pair &= -found.real >= DUTCH_PRODUCT
    return np.asarray(np.where(found.oscillates, pair, alone).all(axis=1))


def _pitch_accepted(matrices: Floats) -> NDArray[np.bool_]:
    """As :func:`pitch_is_acceptable`."""
    found = _Roots.of(np.linalg.eigvals(matrices))
    kept = np.where(_fast(found), found.damping >= PITCH_DAMPING, found.real <= SPIRAL_GROWTH)
    return np.asarray(kept.all(axis=1))


def _fast_pitch_accepted(matrices: Floats) -> NDArray[np.bool_]:
    """As :func:`fast_pitch_is_acceptable`."""
    found = _Roots.of(np.linalg.eigvals(matrices))
    return np.asarray((~_fast(found) | (found.damping >= PITCH_DAMPING)).all(axis=1))


def _fast(found: _Roots) -> NDArray[np.bool_]:
    """Which roots are the two fastest; a pair of which one is among them counts whole."""
    order = np.argsort(-found.frequency, axis=1, kind="stable")
    pairs = np.take_along_axis(found.oscillates, order, axis=1)
    ranked = np.zeros_like(pairs)
    ranked[:, :2] = True
    # After a single real root the second of the two is the first of a pair.
    ranked[:, 2] = pairs[:, 1] & ~pairs[:, 0]
    fast = np.zeros_like(pairs)
    np.put_along_axis(fast, order, ranked, axis=1)
    return fast
