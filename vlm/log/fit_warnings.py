"""Warnings about fitted unknowns."""

from collections.abc import Sequence
from itertools import combinations

import numpy as np

from vlm.constants import Floats
from vlm.findings import Finding
from vlm.log.fit import Estimate
from vlm.log.prediction import Unknown

# Two unknowns whose estimates are so correlated cannot be distinguished (common practice).
ALIKE = 0.95


def fit_warnings(
    estimates: Sequence[Estimate], free: Sequence[Unknown], correlation: Floats
) -> list[Finding]:
    """Unknowns that the log hardly tells, that lie at a bound, or that it cannot tell apart.

    Parameters
    ----------
    free : the unknowns of the estimates
    correlation : of the estimates, shape (estimates, estimates)
    """
    found = []
    for estimate, unknown in zip(estimates, free, strict=True):
        width = estimate.interval[1] - estimate.interval[0]
        range_ = unknown.high - unknown.low
        if not np.isfinite(width) or width >= 0.5 * range_:
            found.append(_unseen(estimate, width, 0.5 * range_))
        edge = min(estimate.value - unknown.low, unknown.high - estimate.value)
        if edge <= 2e-6 * range_:
            found.append(_at_bound(estimate, unknown))
    pairs = combinations(range(len(estimates)), 2)
    found += [
        _alike(estimates[i].label, estimates[j].label, float(correlation[i, j]))
        for i, j in pairs
        if abs(float(correlation[i, j])) > ALIKE
    ]
    return found


def _unseen(estimate: Estimate, width: float, limit: float) -> Finding:
    return Finding(
        f"log-fit-unseen-{estimate.label}",
        f"the log hardly tells {estimate.label}: its interval is nearly as wide as what is"
        " possible",
        width,
        limit,
        estimate.unit,
        "half the possible range",
        "fly speeds at which it matters, or leave it out of the fit",
    )


def _at_bound(estimate: Estimate, unknown: Unknown) -> Finding:
    low_is_near = estimate.value - unknown.low < unknown.high - estimate.value
    return Finding(
        f"log-fit-bound-{estimate.label}",
        f"the best {estimate.label} lies at the end of what is possible",
        estimate.value,
        unknown.low if low_is_near else unknown.high,
        unknown.unit,
        "bounds of the fit",
        "something else is wrong: mass, sensor calibration, or a part that the file leaves out",
    )


def _alike(first: str, second: str, correlation: float) -> Finding:
    return Finding(
        f"log-fit-alike-{first}-{second}",
        f"the log cannot tell {first} from {second}: their estimates are correlated",
        correlation,
        ALIKE,
        "1",
        "common practice",
        "fly a wider range of airspeed or measure one of the two by itself; only their joint"
        " effect is known",
    )
