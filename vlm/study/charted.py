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

from vlm.chart.fold_points import FoldPoints, Piece, SideWeights
from vlm.constants import Floats
from vlm.description.folds import FoldAngles
from vlm.description.models import Biplane
from vlm.errors import InputRefused
from vlm.lattice.cellule import Cellule, build_cellule
from vlm.lattice.lattice import folded
from vlm.study.plan import Case, SweepPlan

TOLERANCE = 1e-4
"""Largest error of the interpolation over a quantity's largest value in the sweep [1]."""
LOOSER = {"_fold_": 1e-3, "share": 1e-3, "efficiency": 1e-3}
"""The same for slopes with a fold and for ratios, whose curves are steeper."""
MARGIN = 8.0
"""Largest misses anywhere over those at the held settings, as of :mod:`vlm.loads.loads_chart`."""
BESIDE_DEG = 4.0
"""Folds nearer than this to one at which something touches are solved as they are asked for."""
APPROACH_DEG, SCAN_DEG, APPROACH_COUNT = 10.0, 2.0, 9
"""How near to a fold at which something touches the polynomials are others, the step in which one
is looked for beyond the ends [deg], and points on that stretch where more folds are asked for."""
NARROW_DEG, COUNTS = 110.0, (9, 13)
"""Points a side elsewhere, on a stretch of folds up to the width named and beyond."""
ROUNDING_DEG = 1e-9
REPAYS = 1.3
"""Solves asked for over those of a chart from which on a chart is made."""
TINY = 1e-9
"""Values smaller than this are zero by symmetry [1]."""
HELD_SHARES = (0.27, 0.61)
"""Where in the interval the settings stand that the polynomials are held against [1]."""
OVER_DRAG = ("span_efficiency", "CDi_share_")
"""Ratios whose denominator, the induced drag, may all but vanish: numerators are interpolated."""
WIDTHS = ("_error", "_spread")
STRAIGHT = (*WIDTHS, "condition", "residual")
"""Ends of names of what is no smooth function of the folds: straight lines keep its sign."""

Values = dict[str, Any]
Results = dict[tuple[int, ...], Values]
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
        if any("failure" in v for v in solved.values()) and not _fails_alone(chart, plan, solved):
            return None
        held = _held_folds(chart)
        between = replace(plan, folds_deg=held, exact=True, errors=False)
        truth = solve(between, between.cases())
        guess = _read(chart, plan, solved, held)
        errors = _errors(guess, truth, solved)
        if errors is not None and all(e <= tolerance_of(name) for name, e in errors.items()):
            return _widened(_read(chart, plan, solved, plan.folds_deg), errors, solved)
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
    sides = 2 if plan.asymmetric else 1
    cases = [
        replace(case, errors=bool(chart.rough[case.place[-sides:]]))
        for case in whole.cases()
        if chart.used[case.place[-sides:]]
    ]
    found: Results = {}
    for case in cases:
        before, values = known.get((case.folds, case.changes), (None, {}))
        if before is not None and before.errors >= case.errors:
            found[case.place] = values
    new = [case for case in cases if case.place not in found]
    found |= solve(whole, new)
    known |= {(case.folds, case.changes): (case, found[case.place]) for case in new}
    return found


def tolerance_of(name: str) -> float:
    """Largest error of a quantity's interpolation over its largest value [1]."""
    return next((value for part, value in LOOSER.items() if part in name), TOLERANCE)


def _fails_alone(chart: FoldPoints, plan: SweepPlan, solved: Results) -> bool:
    """Whether only folds that are asked for by themselves failed."""
    sides = 2 if plan.asymmetric else 1
    return all(
        any(chart.folds[i] in chart.alone for i in place[-sides:])
        for place, values in solved.items()
        if "failure" in values
    )


def _read(chart: FoldPoints, plan: SweepPlan, solved: Results, folds: tuple[float, ...]) -> Results:
    """Results at other folds of both sides, read off the polynomials."""
    sides = 2 if plan.asymmetric else 1
    reading = chart.side(np.array(folds))
    outer = {place[: len(place) - sides] for place in solved}
    found: Results = {}
    for before in sorted(outer):
        block = {p[len(before) :]: v for p, v in solved.items() if p[: len(before)] == before}
        for place, values in _read_block(block, reading, sides).items():
            found[before + place] = values
    return found


def _read_block(block: Results, reading: SideWeights, sides: int) -> Results:
    folds = reading.fine.shape[1]
    shapes = {
        name: np.shape(value)
        for values in block.values()
        for name, value in values.items()
        if name not in ("findings", "failure")
    }
    tables = {}
    for name, shape in shapes.items():
        table = np.full((folds,) * sides + shape, np.nan)
        lost = np.zeros_like(table)
        for place, values in block.items():
            table[place] = values[name] * _over(name, values) if name in values else np.nan
            lost[place] = ~np.isfinite(table[place])
        law = _straight if name.endswith(STRAIGHT) else _smooth
        known = law(reading, np.where(np.isfinite(table), table, 0.0), sides, signed=True)
        gone = law(reading, lost, sides, signed=False)
        tables[name] = np.where(gone > 0.0, np.nan, known)
    for name in tables:
        tables[name] = np.divide(
            tables[name], _over(name, tables), out=np.full_like(tables[name], np.nan),
            where=np.asarray(_over(name, tables)) != 0.0,
        )  # fmt: skip
    return _by_place(block, reading, sides, tables)


def _over(name: str, values: Values) -> Any:
    """What a ratio is multiplied by before it is interpolated, and divided by after."""
    ratio = name.startswith(OVER_DRAG) and not name.endswith(WIDTHS)
    return values["CDi"] if ratio else np.float64(1.0)


def _smooth(reading: SideWeights, table: Floats, sides: int, *, signed: bool) -> Floats:
    """A table read off the polynomials along its first axis, or its first two."""
    nets = reading.nets(pairs=sides == 2)
    return np.asarray(sum(_along(net, table, signed) for net in nets))


def _straight(reading: SideWeights, table: Floats, sides: int, *, signed: bool) -> Floats:
    return _along([reading.straight] * sides, table, signed)


def _along(weights: Sequence[Floats], table: Floats, signed: bool) -> Floats:
    for axis, part in enumerate(weights):
        own = part if signed else np.abs(part)
        table = np.moveaxis(np.tensordot(own, table, axes=(1, axis)), 0, axis)
    return table


def _by_place(block: Results, reading: SideWeights, sides: int, tables: Values) -> Results:
    """Values by place; where a setting that was solved failed, its reason."""
    findings = [f for values in block.values() for f in values.get("findings", [])]
    nearest, known = reading.fine.argmax(axis=1), reading.fine.max(axis=1) == 1.0
    found: Results = {}
    for place in np.ndindex(*(len(nearest),) * sides):
        source = block.get(tuple(int(nearest[i]) for i in place), {})
        if "failure" in source and all(known[i] for i in place):
            found[place] = {"failure": source["failure"]}
            continue
        read: Values = {name: np.asarray(table[place]) for name, table in tables.items()}
        found[place] = read | {"findings": findings}
    return found


def _errors(guess: Results, truth: Results, solved: Results) -> dict[str, float] | None:
    """Largest error of each quantity over its largest value; None where a setting failed."""
    if any("failure" in values for values in truth.values()):
        return None
    errors: dict[str, float] = {}
    for name in next(iter(truth.values())):
        if name in ("findings", *STRAIGHT):
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
    absolute = {name: MARGIN * share * _largest(name, solved) for name, share in errors.items()}
    for values in results.values():
        for name, error in absolute.items():
            if f"{name}_error" in values:
                values[f"{name}_error"] = values[f"{name}_error"] + error
    return results
