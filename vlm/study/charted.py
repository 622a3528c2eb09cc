"""A sweep over many folds from solves at a few: what is smooth in the folds is interpolated.

As long as no tip touches, or nearly touches, anything, every number is a smooth function of both
folds. So a large sweep is solved at Chebyshev's points between its outermost folds, port and
starboard, and read off the polynomials between them. Folds at which a tip touches, or lies beside
another surface, are solved as they are asked for, each beside all points of the other side.
Settings that were not used are solved to hold the polynomials against; where they miss by more than
:data:`TOLERANCE` of a quantity's largest value more points are taken, and at last every fold.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from vlm.chart.nodes import chebyshev_points, linear_weights, point_weights
from vlm.constants import Floats
from vlm.description.folds import FoldAngles
from vlm.description.models import Biplane
from vlm.errors import InputRefused
from vlm.findings import Finding
from vlm.lattice.cellule import Cellule, build_cellule
from vlm.lattice.lattice import folded
from vlm.study.plan import SweepPlan

TOLERANCE = 1e-4
"""Largest error of the interpolation over a quantity's largest value in the sweep [1]."""
LOOSER = {"_fold_": 1e-3, "share": 1e-3, "efficiency": 1e-3}
"""The same for slopes with a fold and for ratios, whose curves are steeper."""
APPROACH_DEG = 4.0
"""Folds nearer than this to one at which something touches are solved as they are asked for."""
LEAST_POINTS, DEGREES_A_POINT, MORE_POINTS = 5, 12.0, 6
REPAYS = {False: 1.6, True: 1.3}
"""Asked folds over solved ones from which on a chart is made, symmetric and asymmetric."""
TINY = 1e-9
"""Values smaller than this are zero by symmetry [1]."""
HELD_SHARES = (0.27, 0.61)
"""Where in the interval the settings stand that the polynomials are held against [1]."""

Values = dict[str, Any]
Results = dict[tuple[int, ...], Values]
Solve = Callable[[SweepPlan], Results]


@dataclass(frozen=True)
class FoldChart:
    """Folds that are solved for a sweep, and how its own follow from them.

    Attributes
    ----------
    points : Chebyshev's points [deg]
    alone : folds that are solved as they are asked for [deg]
    """

    points: tuple[float, ...]
    alone: tuple[float, ...]

    @property
    def folds(self) -> tuple[float, ...]:
        """All solved folds, rising [deg]."""
        return tuple(sorted({*self.points, *self.alone}))

    def weights(self, asked: Floats, *, straight: bool = False) -> Floats:
        """What each solved fold counts at asked ones, shape (asked, solved) [1]."""
        solved = np.array(self.folds)
        table = np.zeros((len(asked), len(solved)))
        alone = np.isin(asked, self.alone)
        table[alone, np.searchsorted(solved, asked[alone])] = 1.0
        law = linear_weights if straight else point_weights
        points = np.array(self.points)
        columns = np.searchsorted(solved, points)
        rows = np.flatnonzero(~alone)
        table[np.ix_(rows, columns)] = law(points, asked[rows])
        return table


def fold_chart(craft: Biplane, plan: SweepPlan, more: int = 0) -> FoldChart | None:
    """The chart of a plan's folds; None where it would not repay.

    Parameters
    ----------
    more : points beyond the first guess
    """
    if plan.exact:
        return None
    asked = np.array(plan.folds_deg)
    try:
        cellule = build_cellule(craft, plan.grid)
    except InputRefused:
        return None
    touching = np.array([_touches(craft, cellule, float(fold)) for fold in asked])
    if touching.any():
        near = np.abs(asked[:, None] - asked[touching]).min(axis=1)
        touching = near < APPROACH_DEG
    free = asked[~touching]
    if len(free) < LEAST_POINTS:
        return None
    low, high = float(free.min()), float(free.max())
    count = LEAST_POINTS + round((high - low) / DEGREES_A_POINT) + more
    if len(free) < REPAYS[plan.asymmetric] * count:
        return None
    if np.any((asked[touching] > low) & (asked[touching] < high)):
        return None
    points = tuple(round(float(fold), 9) for fold in chebyshev_points(low, high, count))
    return FoldChart(points, tuple(float(fold) for fold in asked[touching]))


def _touches(craft: Biplane, cellule: Cellule, fold: float) -> bool:
    """Whether a tip touches or nearly touches anything at a fold, or can't be there."""
    try:
        lattice = folded(cellule, craft, FoldAngles.symmetric(fold))
    except InputRefused:
        return True
    return bool(lattice.joints)


def charted_results(craft: Biplane, plan: SweepPlan, solve: Solve) -> Results | None:
    """Results of a plan from a chart; None where none repays or holds.

    Parameters
    ----------
    solve : solves all cases of another plan
    """
    for more in (0, MORE_POINTS):
        chart = fold_chart(craft, plan, more)
        if chart is None:
            return None
        solved = solve(replace(plan, folds_deg=chart.folds, exact=True))
        if any("failure" in v for v in solved.values()) and not _fails_alone(chart, plan, solved):
            return None
        low, high = chart.points[0], chart.points[-1]
        held = tuple(round(low + share * (high - low), 9) for share in HELD_SHARES)
        truth = solve(replace(plan, folds_deg=held, exact=True, errors=False))
        guess = _read(chart, plan, solved, held)
        errors = _errors(guess, truth, solved)
        if errors is not None and all(e <= tolerance_of(name) for name, e in errors.items()):
            return _widened(_read(chart, plan, solved, plan.folds_deg), errors, solved)
    return None


def tolerance_of(name: str) -> float:
    """Largest error of a quantity's interpolation over its largest value [1]."""
    return next((value for part, value in LOOSER.items() if part in name), TOLERANCE)


def _fails_alone(chart: FoldChart, plan: SweepPlan, solved: Results) -> bool:
    """Whether only folds that are asked for by themselves failed."""
    sides = 2 if plan.asymmetric else 1
    folds = np.array(chart.folds)
    return all(
        any(folds[i] in chart.alone for i in place[-sides:])
        for place, values in solved.items()
        if "failure" in values
    )


def _read(chart: FoldChart, plan: SweepPlan, solved: Results, folds: tuple[float, ...]) -> Results:
    """Results at other folds of both sides, read off the polynomials."""
    sides = 2 if plan.asymmetric else 1
    weights = {s: chart.weights(np.array(folds), straight=s) for s in (False, True)}
    outer = {place[: len(place) - sides] for place in solved}
    found: Results = {}
    for before in sorted(outer):
        block = {p[len(before) :]: v for p, v in solved.items() if p[: len(before)] == before}
        for place, values in _read_block(block, weights, sides).items():
            found[before + place] = values
    return found


def _read_block(block: Results, weights: dict[bool, Floats], sides: int) -> Results:
    asked, solved = weights[False].shape
    good = next(values for values in block.values() if "failure" not in values)
    names = [name for name in good if name != "findings"]
    tables = {}
    for name in names:
        shape = np.shape(good[name])
        table = np.full((solved,) * sides + shape, np.nan)
        for place, values in block.items():
            if name in values:
                table[place] = values[name]
        straight = name.endswith(("_error", "_spread")) or name in ("condition", "residual")
        tables[name] = _along(weights[straight], table, sides)
    findings = _all_findings(block)
    found: Results = {}
    for place in np.ndindex(*(asked,) * sides):
        alone = [int(np.argmax(weights[False][i])) for i in place]
        source = block[tuple(alone)]
        if "failure" in source and all(weights[False][i].max() == 1.0 for i in place):
            found[place] = {"failure": source["failure"]}
            continue
        read: Values = {name: np.asarray(table[place]) for name, table in tables.items()}
        found[place] = read | {"findings": findings}
    return found


def _along(weights: Floats, table: Floats, sides: int) -> Floats:
    """A table read along its first axis, or its first two, failed settings left out of the rest."""
    known = np.where(np.isfinite(table), table, 0.0)
    lost = np.where(np.isfinite(table), 0.0, 1.0)
    for axis in range(sides):
        known = np.moveaxis(np.tensordot(weights, known, axes=(1, axis)), 0, axis)
        lost = np.moveaxis(np.tensordot(np.abs(weights), lost, axes=(1, axis)), 0, axis)
    return np.where(lost > 0.0, np.nan, known)


def _all_findings(block: Results) -> list[Finding]:
    return [f for values in block.values() for f in values.get("findings", [])]


def _errors(guess: Results, truth: Results, solved: Results) -> dict[str, float] | None:
    """Largest error of each quantity over its largest value; None where a setting failed."""
    if any("failure" in values for values in truth.values()):
        return None
    errors: dict[str, float] = {}
    for name in next(iter(truth.values())):
        if name in ("findings", "condition", "residual"):
            continue
        size = _largest(name, solved)
        apart = max(
            float(np.nanmax(np.abs(guess[place][name] - values[name]), initial=0.0))
            for place, values in truth.items()
        )
        errors[name] = apart / size if size > TINY else 0.0
    return errors


def _largest(name: str, solved: Results) -> float:
    return max(
        float(np.nanmax(np.abs(values[name]), initial=0.0))
        for values in solved.values()
        if name in values
    )


def _widened(results: Results, errors: dict[str, float], solved: Results) -> Results:
    """The results with the interpolation's own error in their half-widths."""
    absolute = {name: share * _largest(name, solved) for name, share in errors.items()}
    for values in results.values():
        for name, error in absolute.items():
            if f"{name}_error" in values:
                values[f"{name}_error"] = values[f"{name}_error"] + error
    return results
