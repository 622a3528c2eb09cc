"""A sweep over many folds from solves at a few: what is smooth in the folds is interpolated.

As long as no tip touches, or nearly touches, anything, every number is a smooth function of both
folds. So a large sweep is solved at a few settings between its outermost folds, along the line of
like folds or on a sparse net over all pairs (:mod:`vlm.chart.fold_points`), and read off the
polynomials between them. Folds at which a tip touches, or lies beside another surface, are solved
as they are asked for, each beside all points of the other side. Settings that were not used are
solved to hold the polynomials against; where they miss by more than :data:`TOLERANCE` of a
quantity's largest value the points are taken twice as close, and at last every fold is solved.
"""

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from vlm.chart.fold_points import FoldPoints, Piece
from vlm.description.folds import ROUNDING_DEG, FoldAngles
from vlm.description.models import Biplane
from vlm.errors import InputRefused
from vlm.lattice.cellule import Cellule, build_cellule
from vlm.lattice.lattice import folded
from vlm.study.sweep.charted_values import (
    Results,
    Values,
    blocks,
    failed_folds,
    misses,
    read,
    tolerance_of,
    widened,
)
from vlm.study.sweep.plan import Case, SweepPlan

BESIDE_DEG = 4.0
"""Folds nearer than this to one at which something touches are solved as they are asked for."""
APPROACH_DEG, SCAN_DEG, APPROACH_COUNT = 10.0, 2.0, 9
"""How near to a fold at which something touches the polynomials are others, the step in which one
is looked for beyond the ends [deg], and points on that stretch where more folds are asked for."""
NARROW_DEG, COUNTS = 110.0, (9, 13)
"""Points a side elsewhere, on a stretch of folds up to the width named and beyond."""
REPAYS = 1.3
"""Solves asked for over those of a chart from which on a chart is made."""
HELD_SHARES = (0.27, 0.61)
"""Where in the interval the settings stand that the polynomials are held against [1]."""
Solve = Callable[[SweepPlan, Sequence[Case]], Results]
Known = dict[tuple[Any, ...], tuple[Case, Values]]


def fold_chart(craft: Biplane, plan: SweepPlan, closer: int = 0) -> FoldPoints | None:
    """The chart of a plan's folds; None where it would not repay.

    Parameters
    ----------
    closer : how many times the points are taken twice as close
    """
    if plan.exact:
        return None
    try:
        cellule = build_cellule(craft, plan.grid)
    except InputRefused:
        return None
    asked = np.array(plan.folds_deg)
    touching = np.array([_touches(craft, cellule, float(fold)) for fold in asked])
    if touching.any():
        near = np.abs(asked[:, None] - asked[touching]).min(axis=1)
        touching = near < BESIDE_DEG
    free = asked[~touching]
    if len(free) < 2 or np.any((asked[touching] > free.min()) & (asked[touching] < free.max())):
        return None
    alone = set(asked[touching])
    pieces = []
    for piece, is_approach in _pieces(craft, cellule, float(free.min()), float(free.max())):
        own = free[(free >= piece.low) & (free <= piece.high)]
        if is_approach and len(own) <= piece.count:
            alone |= set(own)
        else:
            pieces.append(piece.closer(closer))
    ends = [fold for piece in pieces for fold in (piece.low, piece.high)]
    lone = tuple(sorted(float(fold) for fold in alone if fold not in ends))
    chart = FoldPoints(tuple(pieces), plan.asymmetric, alone=lone)
    solves = _solves(int(chart.used.sum()), len(chart.folds), plan)
    held = len(_held_folds(chart))
    limit = _solves(len(asked) ** 2, len(asked), plan)
    return chart if limit >= REPAYS * (solves + _solves(held**2, held, plan)) else None


def _solves(settings: int, folds: int, plan: SweepPlan) -> int:
    """Solves that some settings of some folds take, mirrored pairs once."""
    return (settings + folds) // 2 if plan.asymmetric else folds


def _pieces(craft: Biplane, cellule: Cellule, low: float, high: float) -> list[tuple[Piece, bool]]:
    """Stretches of folds free of contact, and whether each is the approach to one."""
    ends = [low + _room(craft, cellule, low, -1.0), high - _room(craft, cellule, high, 1.0)]
    if ends[1] <= ends[0]:
        return [(Piece(low, high, COUNTS[0]), False)]
    middle = Piece(ends[0], ends[1], COUNTS[int(ends[1] - ends[0] > NARROW_DEG)])
    below, above = (Piece(*part, APPROACH_COUNT) for part in ((low, ends[0]), (ends[1], high)))
    every = [(below, True), (middle, False), (above, True)]
    return [(piece, near) for piece, near in every if piece.high > piece.low]


def _room(craft: Biplane, cellule: Cellule, end: float, sense: float) -> float:
    """How far from an end of the free folds the approach to what touches beyond it reaches."""
    for step in np.arange(SCAN_DEG, APPROACH_DEG, SCAN_DEG):
        fold = end + sense * float(step)
        low, high = craft.fold_range_deg
        if low - ROUNDING_DEG <= fold <= high + ROUNDING_DEG and _touches(craft, cellule, fold):
            return APPROACH_DEG - float(step)
    return 0.0


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
    solve : solves some cases of another plan
    """
    known: Known = {}
    for closer in (0, 1):
        chart = fold_chart(craft, plan, closer)
        if chart is None:
            return None
        solved = _solved(chart, plan, solve, known)
        if any("failure" in v for v in solved.values()) and not _fails_alone(chart, solved):
            return None
        held = _held_folds(chart)
        between = replace(plan, folds_deg=held, exact=True, errors=False)
        truth = solve(between, between.cases())
        errors = misses(read(chart, solved, held), truth, solved)
        if errors is not None and all(e <= tolerance_of(name) for name, e in errors.items()):
            return widened(read(chart, solved, plan.folds_deg), errors, solved)
    return None


def _held_folds(chart: FoldPoints) -> tuple[float, ...]:
    """Folds of a side at which the polynomials are held against solves [deg]."""
    return tuple(
        round(piece.low + share * (piece.high - piece.low), 9)
        for piece in chart.pieces
        for share in HELD_SHARES
    )


def _solved(chart: FoldPoints, plan: SweepPlan, solve: Solve, known: Known) -> Results:
    """Results at a chart's settings; what an earlier chart of the plan solved is in ``known``."""
    whole = replace(plan, folds_deg=tuple(map(float, chart.folds)), exact=True)
    cases = [_as_needed(chart, plan, case) for case in whole.cases() if _is_used(chart, case)]
    found: Results = {}
    for case in cases:
        before, values = known.get((case.folds, case.changes), (None, {}))
        if before is not None and before.serves(case):
            found[case.place] = values
    new = [case for case in cases if case.place not in found]
    found |= solve(whole, new)
    known |= {(case.folds, case.changes): (case, found[case.place]) for case in new}
    return found


def _is_used(chart: FoldPoints, case: Case) -> bool:
    return bool(chart.used[case.place[-chart.sides :]])


def _as_needed(chart: FoldPoints, plan: SweepPlan, case: Case) -> Case:
    """The case with an error estimate and rates with fold where they are needed.

    Over pairs the slopes of the polynomials serve for the rates, but not where a fold stands alone.
    Along a line there are none with one side's fold.
    """
    errors = plan.errors and bool(chart.rough[case.place[-chart.sides :]])
    folds = {case.folds.left_deg, case.folds.right_deg}
    lone = not folds.isdisjoint(chart.alone)
    rates = errors or not chart.pairs or lone
    return replace(case, errors=errors, fold_rates=rates)


def _fails_alone(chart: FoldPoints, solved: Results) -> bool:
    """Whether only folds failed that stand alone, each with every fold of the other side."""
    for block in blocks(solved, chart.sides).values():
        failed = [failed_folds(block, side) for side in range(chart.sides)]
        for place, values in block.items():
            alone = [
                fold in failed[side] and chart.folds[fold] in chart.alone
                for side, fold in enumerate(place)
            ]
            if "failure" in values and not any(alone):
                return False
    return True
