"""How thrust is shared among the rotors: all alike, and differences that make moments.

Thrust of rotor i is the sum over patterns k of P_ik u_k, with u_0 the mean thrust. Differences
between upper and lower rotors pitch the craft, between port and starboard yaw it, and between the
senses of rotation roll it, by the reaction to their torque.
"""

from dataclasses import dataclass

import numpy as np

from vlm.constants import Floats

INDEPENDENT = 1e-6


@dataclass(frozen=True)
class RotorPatterns:
    """Patterns of thrust.

    Attributes
    ----------
    table : shape (rotors, patterns), thrust of each rotor per unit of each pattern [1]
    names : "all", then those of "pitch", "yaw", "roll" that the rotors can make
    """

    table: Floats
    names: tuple[str, ...]

    def thrusts(self, amounts: Floats) -> Floats:
        """Thrusts (..., rotors) of pattern amounts (..., patterns) [N]."""
        return np.asarray(amounts @ self.table.T)


def rotor_patterns(positions: Floats, spins: Floats, wanted: tuple[str, ...]) -> RotorPatterns:
    """Patterns of some rotors; those that only repeat others are left out.

    Parameters
    ----------
    positions : shape (rotors, 3) [m]
    spins : shape (rotors,), +1 right-handed about the thrust, -1 left-handed
    wanted : which of "pitch", "yaw" and "roll" are asked for
    """
    shapes = {
        "pitch": -(positions[:, 2] - positions[:, 2].mean()),
        "yaw": positions[:, 1] - positions[:, 1].mean(),
        "roll": spins - spins.mean(),
    }
    columns, names = [np.ones(len(spins))], ["all"]
    for name in wanted:
        shape = shapes[name]
        rest = shape - _fitted(np.array(columns).T, shape)
        if np.abs(rest).max(initial=0.0) > INDEPENDENT:
            columns.append(shape / np.abs(shape).max())
            names.append(name)
    return RotorPatterns(np.array(columns).T, tuple(names))


def _fitted(table: Floats, shape: Floats) -> Floats:
    """The part of a pattern that others can make."""
    amounts, *_ = np.linalg.lstsq(table, shape, rcond=None)
    return np.asarray(table @ amounts)
