"""Points at which functions of both folds are kept: along a line, or a sparse net over all pairs.

Port and starboard tips stand a span apart, so that what one does to the other's effect is smoother
than either effect. With F, C and T the polynomials through all points of a side, every second and
three of them, a function of both folds is read as

    C x C + (F - C) x T + T x (F - C)

(the combination technique on nested points; Smolyak 1963; Griebel, Schneider and Zenger 1992, from
memory), which needs about half of the settings that F x F does and errs nearly as little.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from vlm.chart.nodes import chebyshev_points, point_weights
from vlm.constants import Floats


@dataclass(frozen=True)
class FoldPoints:
    """Settings between two folds.

    Attributes
    ----------
    low, high : the folds [deg]
    count : points a side; one more than a multiple of four
    pairs : whether any pair of folds is to be read, or those on one line alone
    apart : by how much starboard stands above port on that line [deg]
    """

    low: float
    high: float
    count: int
    pairs: bool
    apart: float = 0.0

    @cached_property
    def points(self) -> Floats:
        """Chebyshev's points of a side, on a line those of port, shape (count,) [deg]."""
        return chebyshev_points(*self._of_port, self.count)

    @property
    def _of_port(self) -> tuple[float, float]:
        """Ends of what port may stand at [deg]."""
        if self.pairs:
            return self.low, self.high
        return self.low - min(self.apart, 0.0), self.high - max(self.apart, 0.0)

    def at_shares(self, port: float, starboard: float) -> Floats:
        """A pair of folds at shares of the way from the lowest to the highest, shape (2,) [deg].

        On a line the starboard share alone counts.
        """
        low, high = self._of_port
        if self.pairs:
            return low + np.array([port, starboard]) * (high - low)
        return low + starboard * (high - low) + np.array([0.0, self.apart])

    @cached_property
    def _used(self) -> NDArray[np.bool_]:
        """Which of all pairs of points are needed, shape (count, count)."""
        every = np.arange(self.count)
        second, third = every % 2 == 0, every % self._third == 0
        return np.asarray(second[:, None] & second | third | third[:, None])

    @property
    def _third(self) -> int:
        return (self.count - 1) // 2

    @cached_property
    def settings(self) -> Floats:
        """The settings to solve, port and starboard, shape (settings, 2) [deg]."""
        if not self.pairs:
            return np.stack([self.points, self.points + self.apart], axis=1)
        left, right = np.nonzero(self._used)
        return np.stack([self.points[left], self.points[right]], axis=1)

    def weights(self, left: float, right: float) -> Floats:
        """What each of :attr:`settings` counts at a pair of folds [deg], shape (settings,) [1]."""
        fine = self._through(1, left, right)
        if not self.pairs:
            return np.asarray(fine[0])
        half, third = self._through(2, left, right), self._through(self._third, left, right)
        rest = fine - half
        table = np.outer(half[0], half[1])
        table += np.outer(rest[0], third[1]) + np.outer(third[0], rest[1])
        return np.asarray(table[self._used])

    def _through(self, step: int, left: float, right: float) -> Floats:
        """Weights of the polynomials through every ``step``-th point, shape (2, count) [1]."""
        table = np.zeros((2, self.count))
        table[:, ::step] = point_weights(self.points[::step], np.array([left, right]))
        return table
