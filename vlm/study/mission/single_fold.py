"""The best of all folds that are held throughout a mission, from flights at some folds."""

from collections.abc import Callable, Sequence

import numpy as np
from scipy.optimize import minimize_scalar

from vlm.flight.plan.mission_rules import FORBIDDEN
from vlm.flight.trim.power_book import FoldCurve
from vlm.study.mission.candidate import Candidate, best_of

EDGE_HALVINGS = 5
"""Halvings with which the last fold that costs less is found between two of the table [1]."""
MOST_BETWEEN, GAIN_BETWEEN = 4, 3e-4
"""Flights at most where energies over fold are least, and the gain that asks for one more [1]."""
FAR_DEG = 10.0
"""Folds farther apart than this are not read between [deg]."""
SAME_DEG = 0.05
"""Folds nearer than this are not flown apart [deg]."""


def edges(found: Sequence[Candidate], at: Callable[[float, str], Candidate]) -> list[Candidate]:
    """Flights toward neighbours of the best that cannot be flown, as far as they cost less.

    A constraint that cuts the folds leaves the best one at its edge, or beside it: at the edge
    itself it may allow no more than airspeeds that cost far more.
    """
    best = best_of(found)
    if best is None:
        return []
    place = next(i for i, c in enumerate(found) if c is best)
    allowed = []
    for other in found[max(0, place - 1) : place + 2]:
        if np.isfinite(other.energy):
            continue
        inside, beyond = best, other.fold_deg
        for _ in range(EDGE_HALVINGS):
            assert inside.fold_deg is not None and beyond is not None
            fold = 0.5 * (inside.fold_deg + beyond)
            middle = at(fold, f"held at {fold:.1f} deg")
            if np.isfinite(middle.energy):
                allowed.append(middle)
            if middle.energy < inside.energy:
                inside = middle
            else:
                beyond = fold
    return allowed


def best_between(
    found: Sequence[Candidate], at: Callable[[float, str], Candidate]
) -> Candidate | None:
    """The best of some flights and of more, where their energies over fold are least in turn.

    First half-way to neighbours that are far away, which say little of the folds between.
    """
    known = list(found)
    while folds := _half_way(known):
        known += [at(fold, "") for fold in folds]
    for _ in range(MOST_BETWEEN):
        before = best_of(known)
        if before is None:
            return None
        fold = _least_between(known)
        if min(abs(fold - (c.fold_deg or 0.0)) for c in known) < SAME_DEG:
            break
        known.append(at(fold, ""))
        if abs(known[-1].energy - before.energy) < GAIN_BETWEEN * before.energy:
            break
    return best_of(known)


def _half_way(found: Sequence[Candidate]) -> list[float]:
    """Folds half-way from the best of some flights to far neighbours that can be flown [deg]."""
    known = sorted(found, key=lambda c: c.fold_deg or 0.0)
    best = best_of(known)
    if best is None or best.fold_deg is None:
        return []
    place = next(i for i, c in enumerate(known) if c is best)
    beside = [*known[max(0, place - 1) : place], *known[place + 1 : place + 2]]
    folds = [c.fold_deg for c in beside if np.isfinite(c.energy) and c.fold_deg is not None]
    return [0.5 * (f + best.fold_deg) for f in folds if abs(f - best.fold_deg) > FAR_DEG]


def _least_between(found: Sequence[Candidate]) -> float:
    """The fold at which the energies of some flights, read between them, are least [deg]."""
    known = sorted(found, key=lambda c: c.fold_deg or 0.0)
    folds = np.array([c.fold_deg for c in known], float)
    curve = FoldCurve(folds, np.array([c.energy for c in known]))
    fine = np.unique(np.concatenate([np.arange(folds[0], folds[-1], 0.5), folds]))
    place = float(fine[int(np.nanargmin(curve(fine)))])
    ends = (max(fine[0], place - 0.5), min(fine[-1], place + 0.5))
    inner = minimize_scalar(
        lambda fold: min(float(curve(fold)), FORBIDDEN),
        bounds=ends,
        method="bounded",
        options={"xatol": 0.01},
    )
    return float(inner.x) if inner.success else place
