"""A power or current sensor whose range ends below what was drawn.

Readings that pile up below one value, where others wander freely, are the end of a range: what was
drawn is at least that. A segment that holds them would read too little, so it is left out.
"""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from vlm.constants import Floats
from vlm.findings import Finding
from vlm.log.cells import column
from vlm.log.reading import FlightLog
from vlm.log.steady import CRITERIA, SteadyFlight

# Readings this near the highest one, in usual standard deviations within a segment, are at the end
# of the range if there are so many of them, and more than in the next three such steps: of normal
# noise some per thousand are; of a sine as many as in the next three.
NEAR, FEWEST, LEAST_SHARE, PILE = 0.25, 10, 0.01, 1.5
# Digits so coarse that they make the pile themselves tell nothing.
DIGITS = 3.0
MOST_IN_A_SEGMENT = 0.02


def without_saturated(log: FlightLog, steady: SteadyFlight) -> tuple[SteadyFlight, list[Finding]]:
    """The segments without those that hold readings at the end of a sensor's range.

    Parameters
    ----------
    log, steady : a log and its segments

    Returns
    -------
    The segments that are left, and a warning where some were left out.
    """
    values = column(log.cells, "current" if "current" in log.cells else "power")
    at_end = _at_the_end(values, steady)
    share = [float(at_end[s.first : s.last + 1].mean()) for s in steady.segments]
    kept = [s for s, part in zip(steady.segments, share, strict=True) if part <= MOST_IN_A_SEGMENT]
    if len(kept) == len(steady.segments):
        return steady, []
    number = np.full(len(steady.segments) + 1, -1)  # the last one stands for cells in no segment
    number[:-1][np.array(share) <= MOST_IN_A_SEGMENT] = np.arange(len(kept))
    segment_of = number[steady.segment_of]
    verdict = steady.verdict.copy()
    verdict[(steady.segment_of >= 0) & (segment_of < 0)] = CRITERIA.index("no reading")
    left = replace(steady, segments=tuple(kept), segment_of=segment_of, verdict=verdict)
    return left, [_finding(len(steady.segments) - len(kept), float(np.nanmax(values)), log)]


def _at_the_end(values: Floats, steady: SteadyFlight) -> NDArray[np.bool_]:
    """Readings that pile up at the highest one, shape (cells)."""
    nothing = np.zeros(values.size, dtype=bool)
    flown = (steady.segment_of >= 0) & np.isfinite(values)
    if not flown.any():
        return nothing
    parts = [values[s.first : s.last + 1] for s in steady.segments]
    means = np.maximum([float(np.nanmean(part)) for part in parts], 1e-9)
    usual = float(np.nanmedian([float(np.nanstd(part)) for part in parts] / means))
    top = float(values[flown].max())
    width = NEAR * usual * top
    steps = np.diff(np.unique(values[flown]))
    if steps.size == 0 or width < NEAR * DIGITS * float(np.median(steps)):
        return nothing
    near = flown & (values > top - width)
    below = flown & (values > top - 4.0 * width) & ~near
    enough = max(FEWEST, LEAST_SHARE * flown.sum(), PILE * below.sum())
    return near if near.sum() > enough else nothing


def _finding(segments: int, top: float, log: FlightLog) -> Finding:
    what, unit = ("current", "A") if "current" in log.cells else ("power", "W")
    return Finding(
        "log-saturated", f"the readings of {what} pile up below {top:.4g} {unit}, as at the end of"
        " a sensor's range; segments left out, as they hold such readings",
        float(segments), None, "1", "the log",
        "a sensor of a wider range, or slower flight",
    )  # fmt: skip
