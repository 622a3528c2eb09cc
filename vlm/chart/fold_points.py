"""Points at which functions of both folds are kept: along a line, or a sparse net over all pairs.

Port and starboard tips stand a span apart, so that what one does to the other's effect is smoother
than either effect. With F, C and T the polynomials through all points of a side, every second and
three of them, a function of both folds is read as

    C x C + (F - C) x T + T x (F - C)

(the combination technique on nested points; Smolyak 1963; Griebel, Schneider and Zenger 1992, from
memory), which needs about half of the settings that F x F does and errs nearly as little. A side
may have several pieces, each with polynomials of its own, and folds that stand for themselves.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from vlm.chart.nodes import chebyshev_points, linear_weights, point_weights, slope_weights
from vlm.constants import Floats

Law = Callable[[Floats, Floats], Floats]
"""Weights of points [deg] at folds [deg], shape (folds, points)."""


@dataclass(frozen=True)
class Piece:
    """A stretch of folds with one polynomial [deg]; ``count`` is one more than a multiple of 4."""

    low: float
    high: float
    count: int

    @cached_property
    def points(self) -> Floats:
        """Chebyshev's points, shape (count,) [deg]."""
        # Rounded, so that what is solved is what a user can ask for.
        return np.round(chebyshev_points(self.low, self.high, self.count), 9)

    @property
    def third(self) -> int:
        """Step from one of three points to the next."""
        return (self.count - 1) // 2

    def closer(self, times: int) -> "Piece":
        """The same stretch, its points ``times`` times twice as close."""
        return Piece(self.low, self.high, (self.count - 1) * 2**times + 1)


@dataclass(frozen=True, eq=False)
class SideWeights:
    """What each solved fold of a side counts at some folds, shape (folds asked, folds solved) [1].

    Attributes
    ----------
    of : the settings
    asked : all within a piece or alone, shape (asked,) [deg]
    """

    of: "FoldPoints"
    asked: Floats

    @cached_property
    def _alone(self) -> NDArray[np.bool_]:
        return np.isin(self.asked, self.of.alone)

    @cached_property
    def values(self) -> tuple[Floats, Floats, Floats]:
        """Of polynomials through all points, every second and three of them."""
        fine, half, third = self._through(point_weights)
        for table in (fine, half):
            self._stand_alone(table, self.asked)
        # What the other side's points between every second add is taken beside the next piece.
        ends = np.array([piece.points[end] for piece in self.of.pieces for end in (0, -1)])
        self._stand_alone(third, ends[np.abs(self.asked[:, None] - ends).argmin(axis=1)])
        return fine, half, third

    @cached_property
    def slopes(self) -> tuple[Floats, Floats, Floats]:
        """Of their slopes, none at folds that stand alone [1/rad]."""
        fine, half, third = (np.degrees(table) for table in self._through(slope_weights))
        return fine, half, third

    @cached_property
    def straight(self) -> Floats:
        """Of straight lines between every second point."""
        table = self._on_pieces([2] * len(self.of.pieces), linear_weights)
        self._stand_alone(table, self.asked)
        return table

    def _through(self, law: Law) -> tuple[Floats, Floats, Floats]:
        """Weights by all points, every second and three of them."""
        pieces = self.of.pieces
        steps = [1] * len(pieces), [2] * len(pieces), [piece.third for piece in pieces]
        fine, half, third = (self._on_pieces(one, law) for one in steps)
        return fine, half, third

    def _on_pieces(self, steps: Sequence[int], law: Law) -> Floats:
        """Weights by every so-manieth point of the piece that a fold lies on; zero elsewhere."""
        table = np.zeros((len(self.asked), len(self.of.folds)))
        rest = ~self._alone
        for piece, step in zip(self.of.pieces, steps, strict=True):
            own = np.flatnonzero(rest & (self.asked <= piece.high))
            rest[own] = False
            points = piece.points[::step]
            columns = np.searchsorted(self.of.folds, points)
            table[np.ix_(own, columns)] = law(points, self.asked[own])
        return table

    def _stand_alone(self, table: Floats, at: Floats) -> None:
        """Let folds that stand alone count by the solved folds named."""
        rows = np.flatnonzero(self._alone)
        table[rows, np.searchsorted(self.of.folds, at[rows])] = 1.0

    @property
    def is_free(self) -> NDArray[np.bool_]:
        """Which of the folds asked for lie on a piece."""
        return ~self._alone

    def nets(self, pairs: bool, slope_along: int | None = None) -> list[tuple[Floats, ...]]:
        """Factors, one a side, of the products whose sum the reading is.

        Parameters
        ----------
        slope_along : the side along whose fold the slope is read, 0 port and 1 starboard
        """
        sides = [self.slopes if side == slope_along else self.values for side in (0, 1)]
        if not pairs:
            return [(sides[0][0],)]
        (fine, half, third), (other_fine, other_half, other_third) = sides
        return [
            (half, other_half),
            (fine - half, other_third),
            (third, other_fine - other_half),
        ]


@dataclass(frozen=True)
class FoldPoints:
    """Settings over a range of folds.

    Attributes
    ----------
    pieces : stretches of folds, one beside the other, rising
    pairs : whether any pair of folds is to be read, or those on one line alone
    apart : by how much starboard stands above port on that line [deg]
    alone : folds outside of the pieces that are solved as they are [deg]
    """

    pieces: tuple[Piece, ...]
    pairs: bool
    apart: float = 0.0
    alone: tuple[float, ...] = ()

    @property
    def sides(self) -> int:
        """Number of folds that a setting is known by: one along a line."""
        return 2 if self.pairs else 1

    @classmethod
    def between(
        cls, low: float, high: float, count: int, *, pairs: bool, apart: float = 0.0
    ) -> "FoldPoints":
        """One piece, within which both sides stay [deg]."""
        if not pairs:
            low, high = low - min(apart, 0.0), high - max(apart, 0.0)
        return cls((Piece(low, high, count),), pairs, apart)

    @cached_property
    def folds(self) -> Floats:
        """All solved folds of a side (on a line, of port), rising [deg]."""
        return np.unique(np.concatenate([self.alone, *(piece.points for piece in self.pieces)]))

    def at_shares(self, port: float, starboard: float) -> Floats:
        """A pair of folds at shares of the way from the lowest to the highest, shape (2,) [deg].

        On a line the starboard share alone counts.
        """
        low, high = self.pieces[0].low, self.pieces[-1].high
        if self.pairs:
            return low + np.array([port, starboard]) * (high - low)
        return low + starboard * (high - low) + np.array([0.0, self.apart])

    def _among(self, steps: Sequence[int]) -> NDArray[np.bool_]:
        """Which of :attr:`folds` are every so-manieth point of their piece."""
        kept = [piece.points[::step] for piece, step in zip(self.pieces, steps, strict=True)]
        return np.isin(self.folds, np.concatenate(kept))

    @cached_property
    def _half(self) -> NDArray[np.bool_]:
        return self._among([2] * len(self.pieces)) | np.isin(self.folds, self.alone)

    @cached_property
    def rough(self) -> NDArray[np.bool_]:
        """Settings of every second point, which do for what changes little, as :attr:`used`."""
        return self._half[:, None] & self._half if self.pairs else self._half

    @cached_property
    def used(self) -> NDArray[np.bool_]:
        """Which settings are needed, shape (folds,) along a line or (folds, folds)."""
        if not self.pairs:
            return np.ones(len(self.folds), dtype=bool)
        third, rest = self._among([piece.third for piece in self.pieces]), ~self._half
        return np.asarray(self.rough | third[:, None] & rest | rest[:, None] & third)

    @cached_property
    def settings(self) -> Floats:
        """The settings to solve, port and starboard, shape (settings, 2) [deg]."""
        if not self.pairs:
            return np.stack([self.folds, self.folds + self.apart], axis=1)
        left, right = np.nonzero(self.used)
        return np.stack([self.folds[left], self.folds[right]], axis=1)

    def side(self, asked: Floats) -> SideWeights:
        """Weights at folds of a side, all within a piece or alone, shape (asked,) [deg]."""
        return SideWeights(self, asked)

    def weights(self, left: float, right: float) -> Floats:
        """What each of :attr:`settings` counts at a pair of folds [deg], shape (settings,) [1]."""
        nets = self.side(np.array([left, right])).nets(self.pairs)
        if not self.pairs:
            return np.asarray(nets[0][0][0])
        table = np.sum([np.outer(port[0], starboard[1]) for port, starboard in nets], axis=0)
        return np.asarray(table[self.used])
