"""A moving-block bootstrap of means, over segments of unequal length.

H. R. Künsch, Annals of Statistics 17 (1989) 1217: blocks of neighbouring readings are drawn with
replacement, so that their correlation stays inside. Blocks run round the end of their segment to
its start (the circular form of D. N. Politis and J. P. Romano, 1992), so that every reading is as
likely as any other; a segment shorter than a block is drawn whole.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.stats import t as student

from vlm.constants import Floats

DRAWS = 1000
DRAWN_AT_ONCE = 2_000_000
MOST_FREEDOM = 1e6


@dataclass(frozen=True)
class Scatter:
    """Standard error of a mean.

    Attributes
    ----------
    standard_error : of the mean
    freedom : degrees of freedom it is known with
    """

    standard_error: float
    freedom: float

    @property
    def is_known(self) -> bool:
        """Whether there was anything to tell it from."""
        return bool(np.isfinite(self.standard_error)) and self.freedom >= 1.0

    def joined(self, other: "Scatter") -> "Scatter":
        """Two independent scatters together.

        Effective degrees of freedom by the Welch-Satterthwaite formula, JCGM 100:2008, (G.2b).
        """
        if not (self.is_known and other.is_known):
            return UNKNOWN_SCATTER
        a, b = self.standard_error**2, other.standard_error**2
        if a + b == 0.0:
            return Scatter(0.0, min(self.freedom, other.freedom))
        freedom = (a + b) ** 2 / (a**2 / self.freedom + b**2 / other.freedom)
        return Scatter(float(np.sqrt(a + b)), freedom)


UNKNOWN_SCATTER = Scatter(float("nan"), 0.0)


def half_width(scatter: Scatter, level: float) -> float:
    """Half of a two-sided interval by Student's t; infinite where nothing tells the scatter."""
    if not scatter.is_known:
        return float("inf")
    freedom = min(scatter.freedom, MOST_FREEDOM)
    return float(student.ppf(0.5 + 0.5 * level, freedom)) * scatter.standard_error


def block_bootstrap(
    values: Floats,
    segment: NDArray[np.int64],
    block: float,
    random: np.random.Generator,
    draws: int = DRAWS,
) -> Scatter:
    """Scatter of the mean of correlated readings, each taken against its own segment's mean.

    Parameters
    ----------
    values : shape (cells)
    segment : number of each reading's segment, readings of one segment side by side, shape (cells)
    block : length of a block [cells]
    random : where the draws come from
    draws : number of resamples

    Returns
    -------
    For k blocks in s segments, the variance over the resamples is multiplied by k/(k - s), as for
    k independent values less s means taken away, and has k - s degrees of freedom.
    """
    starts = np.flatnonzero(np.concatenate(([True], np.diff(segment) != 0)))
    lengths = np.diff(np.concatenate((starts, [values.size])))
    means = np.add.reduceat(values, starts) / lengths
    about = values - np.repeat(means, lengths)
    sums, sizes = _blocks(about, starts, lengths, max(1, round(block)))
    count = values.size
    blocks = max(1, round(count / float(sizes.mean())))
    freedom = blocks - starts.size
    if freedom < 1:
        return UNKNOWN_SCATTER
    resampled = np.empty(draws)
    step = max(1, DRAWN_AT_ONCE // blocks)
    for first in range(0, draws, step):
        chosen = random.integers(count, size=(min(step, draws - first), blocks))
        resampled[first : first + step] = sums[chosen].sum(axis=1) / sizes[chosen].sum(axis=1)
    variance = float(np.var(resampled, ddof=1)) * blocks / freedom
    return Scatter(float(np.sqrt(variance)), float(freedom))


def _blocks(
    values: Floats, starts: NDArray[np.int64], lengths: NDArray[np.int64], block: int
) -> tuple[Floats, NDArray[np.int64]]:
    """Sum and number of readings of the block that starts at each reading."""
    sums, sizes = np.empty(values.size), np.empty(values.size, dtype=np.int64)
    for start, length in zip(starts.tolist(), lengths.tolist(), strict=True):
        size = min(block, length)
        own = values[start : start + length]
        running = np.concatenate(([0.0], np.cumsum(np.concatenate((own, own[: size - 1])))))
        sums[start : start + length] = running[size : size + length] - running[:length]
        sizes[start : start + length] = size
    return sums, sizes
