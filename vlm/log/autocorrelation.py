"""How long a log remembers: autocovariance of the power, and the block length it asks for.

Two readings half a second apart are not two measurements: a gust, or a pilot's correction, is in
both. The length of a bootstrap's blocks follows from the autocovariance R(k) by the automatic rule
of D. N. Politis and H. White, Econometric Reviews 23 (2004) 53, with the correction of A. Patton,
D. N. Politis and H. White, Econometric Reviews 28 (2009) 372:

    b = (2 G^2 / D)^(1/3) N^(1/3),  G = sum |k| R(k),  D = (4/3) (sum R(k))^2

with a flat-top window on the sums.
"""

import numpy as np

from vlm.constants import Floats
from vlm.log.samples import Samples

LONGEST_LAG = 2000
# Politis and White (2004), section 3.2 and its footnote c: when a correlation counts as zero.
INSIGNIFICANT = 2.0
FEWEST_LAGS = 5


def autocovariance(misfit: Floats, samples: Samples) -> Floats:
    """Autocovariance of a misfit within segments, pooled over all of them.

    Each segment's own mean is taken away; what differs from one segment to the next is counted by
    itself (``bins.py``).

    Parameters
    ----------
    misfit : power of each cell less its curve, shape (cells) [W]
    samples : steady cells of one configuration

    Returns
    -------
    R(k) for lags of 0, 1, ... cells [W^2]; the sums are divided by the number of all cells, so
    that long lags fade.
    """
    residual = samples.about_segment_means(misfit)
    longest = int(samples.place.max()) if samples.place.size else 0
    lags = min(longest, LONGEST_LAG)
    # Segments in a row, each on its own grid, with silence of the longest lag between them.
    spans = np.zeros(samples.segment_count, dtype=np.int64)
    np.maximum.at(spans, samples.segment, samples.place)
    starts = np.concatenate(([0], np.cumsum(spans + 1 + lags)))
    row = np.zeros(int(starts[-1]))
    row[starts[samples.segment] + samples.place] = residual
    count = max(residual.size, 1)
    return np.array([row[: row.size - k] @ row[k:] for k in range(lags + 1)]) / count


def block_length(covariance: Floats, count: int) -> float:
    """Length of a moving block that suits an autocovariance [cells], at least 1.

    Parameters
    ----------
    covariance : R(k), shape (lags)
    count : number of cells N
    """
    if count < 2 or covariance[0] <= 0.0:
        return 1.0
    reach = min(2 * _last_significant(covariance / covariance[0], count), covariance.size - 1)
    if reach == 0:
        return 1.0
    lag = np.arange(1, reach + 1)
    window = np.clip(2.0 * (1.0 - lag / reach), 0.0, 1.0)
    weighted = window * covariance[1 : reach + 1]
    total = covariance[0] + 2.0 * weighted.sum()
    if total <= 0.0:  # readings that alternate: single cells are the safe choice
        return 1.0
    slope = 2.0 * (lag * weighted).sum()
    best = (1.5 * slope**2 / total**2 * count) ** (1.0 / 3.0)
    return float(np.clip(best, 1.0, count))


def _last_significant(correlation: Floats, count: int) -> int:
    """The lag after which so many correlations in a row are as good as zero."""
    limit = INSIGNIFICANT * np.sqrt(np.log10(max(count, 2)) / count)
    needed = max(FEWEST_LAGS, int(np.ceil(np.sqrt(np.log10(max(count, 2))))))
    small = np.abs(correlation[1:]) < limit
    for lag in range(small.size + 1):
        ahead = small[lag : lag + needed]
        if ahead.all():
            return lag
    return int(small.size)
