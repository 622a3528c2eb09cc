"""Roots of a state matrix as modes with names, frequency, damping, time to half or double."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from vlm.constants import Floats

REAL_SHARE = 1e-9


@dataclass(frozen=True)
class Mode:
    """One mode of motion: a real root, or a pair of conjugate ones.

    Attributes
    ----------
    name : see :func:`lateral_modes` and :func:`longitudinal_modes`
    root : the root with a positive or no imaginary part [1/s]
    shape : sizes of the states in this mode, largest one 1, in the order of the matrix
    """

    name: str
    root: complex
    shape: tuple[float, ...]

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


def _modes(matrix: Floats) -> list[Mode]:
    """Unnamed modes, fastest first."""
    roots, vectors = np.linalg.eig(matrix)
    scale = float(np.abs(roots).max(initial=1e-300))
    found = []
    for root, vector in zip(roots, vectors.T, strict=True):
        if root.imag < -REAL_SHARE * scale:
            continue
        imaginary = root.imag if root.imag > REAL_SHARE * scale else 0.0
        sizes = np.abs(vector) / np.abs(vector).max()
        shape = tuple(float(size) for size in sizes)
        found.append(Mode("", complex(root.real, imaginary), shape))
    return sorted(found, key=lambda mode: -mode.frequency)


def _named(modes: Sequence[Mode], names: Sequence[str]) -> list[Mode]:
    return [Mode(name, mode.root, mode.shape) for mode, name in zip(modes, names, strict=True)]


def longitudinal_modes(matrix: Floats) -> list[Mode]:
    """Modes of :func:`~vlm.flight.craft.small_motions.longitudinal_matrix`, fastest first.

    Two pairs: "short period" (the faster) and "phugoid". One pair and two real roots: a pair
    slower than both is the "phugoid" with the short period split into "pitch subsidence" or
    "pitch divergence"; any other pair is named "short period" where it is the fastest, "third
    mode" where it lies between the real roots (the oscillation of a craft with relaxed
    stability, neither of the classic pairs). Four real roots are told by their sign alone.
    """
    modes = _modes(matrix)
    pairs = [mode for mode in modes if mode.oscillates]
    if len(pairs) == 2:
        return _named(modes, ["short period", "phugoid"])
    names = []
    place = {0: "short period", 1: "third mode", 2: "phugoid"}
    for index, mode in enumerate(modes):
        if mode.oscillates:
            names.append(place[index])
            continue
        kind = "subsidence" if mode.settles else "divergence"
        slow = len(pairs) == 1 and modes[0].oscillates
        names.append(f"{'speed' if slow else 'pitch'} {kind}")
    return _named(modes, names)


def lateral_modes(matrix: Floats) -> list[Mode]:
    """Modes of :func:`~vlm.flight.craft.small_motions.lateral_matrix`, fastest first.

    One pair and two real roots, the classic case: "Dutch roll", and of the real roots the one
    larger in size "roll subsidence" (or "roll divergence"), the smaller "spiral". A pair slower
    than both is no Dutch roll: "slow lateral oscillation", beside roll and "yaw subsidence" (or
    "yaw divergence"). Two pairs:
    "Dutch roll" (the one with more sideslip for its roll rate) and "roll-spiral oscillation",
    where roll and spiral have met. Four real roots, as without weathercock stability: "roll
    subsidence" the fastest that settles, "spiral" the slowest, and the two between them "yaw
    divergence" or "yaw subsidence".
    """
    modes = _modes(matrix)
    pairs = [mode for mode in modes if mode.oscillates]
    if len(pairs) == 2:
        return _named(modes, _two_pairs(modes))
    if len(pairs) == 1:
        return _named(modes, _classic(modes))
    return _named(modes, _four_real(modes))


def _two_pairs(modes: Sequence[Mode]) -> list[str]:
    """The Dutch roll yaws most for its roll: state 2 is r, state 1 is p."""
    ratio = [mode.shape[2] / max(mode.shape[1], 1e-12) for mode in modes]
    dutch = int(np.argmax(ratio))
    return ["Dutch roll" if i == dutch else "roll-spiral oscillation" for i in range(2)]


def _classic(modes: Sequence[Mode]) -> list[str]:
    if modes[-1].oscillates:
        yaw = "yaw subsidence" if modes[1].settles else "yaw divergence"
        roll = "roll subsidence" if modes[0].settles else "roll divergence"
        return [roll, yaw, "slow lateral oscillation"]
    names, first = [], True
    for mode in modes:
        if mode.oscillates:
            names.append("Dutch roll")
        elif first:
            names.append("roll subsidence" if mode.settles else "roll divergence")
            first = False
        else:
            names.append("spiral")
    return names


def _four_real(modes: Sequence[Mode]) -> list[str]:
    settling = [i for i, mode in enumerate(modes) if mode.settles]
    roll = settling[0] if settling else 0
    names = []
    for i, mode in enumerate(modes):
        if i == roll:
            names.append("roll subsidence" if mode.settles else "roll divergence")
        elif i == len(modes) - 1:
            names.append("spiral")
        else:
            names.append("yaw subsidence" if mode.settles else "yaw divergence")
    return names


def coupled_modes(matrix: Floats) -> list[Mode]:
    """Modes of :func:`~vlm.flight.craft.small_motions.coupled_matrix`, fastest first, numbered.

    The root that heading leaves at zero is taken out.
    """
    modes = _modes(matrix)
    heading = int(np.argmin([mode.frequency for mode in modes]))
    kept = [mode for i, mode in enumerate(modes) if i != heading]
    return _named(kept, [f"mode {i + 1}" for i in range(len(kept))])


def worst_growth(modes: Sequence[Mode]) -> float:
    """Largest real part of any root [1/s]."""
    return max(mode.root.real for mode in modes)
