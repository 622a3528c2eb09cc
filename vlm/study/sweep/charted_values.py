"""Numbers of a sweep read off the polynomials through its solved settings."""

from collections.abc import Sequence
from typing import Any

import numpy as np

from vlm.chart.fold_points import FoldPoints, SideWeights
from vlm.constants import Floats
from vlm.loads.loads_chart import MARGIN
from vlm.sides import Side

TOLERANCE = 1e-4
"""Largest error of the interpolation over a quantity's largest value in the sweep [1]."""
LOOSER = {"_fold_": 1e-3, "share": 1e-3, "efficiency": 1e-3}
"""The same for slopes with a fold and for ratios, whose curves are steeper."""
TINY = 1e-9
"""Values smaller than this are zero by symmetry [1]."""
FOLD = "_fold_"
OVER_DRAG = ("span_efficiency", "CDi_share_")
"""Ratios whose denominator, the induced drag, may all but vanish: numerators are interpolated."""
WIDTHS = ("_error", "_spread")
STRAIGHT = (*WIDTHS, "condition", "residual")
"""Ends of names of what is no smooth function of the folds: straight lines keep its sign."""

Values = dict[str, Any]
Results = dict[tuple[int, ...], Values]


def tolerance_of(name: str) -> float:
    """Largest error of a quantity's interpolation over its largest value [1]."""
    return next((value for part, value in LOOSER.items() if part in name), TOLERANCE)


def blocks(results: Results, sides: int) -> dict[tuple[int, ...], Results]:
    """Results by their place on the axes before the folds, those by the places of the folds."""
    found: dict[tuple[int, ...], Results] = {}
    for place, values in results.items():
        found.setdefault(place[:-sides], {})[place[-sides:]] = values
    return found


def read(chart: FoldPoints, solved: Results, folds: tuple[float, ...]) -> Results:
    """Results at other folds of both sides, read off the polynomials."""
    reading, at_settings = chart.side(np.array(folds)), chart.side(chart.folds)
    return {
        before + place: values
        for before, block in sorted(blocks(solved, chart.sides).items())
        for place, values in _read_block(block, reading, at_settings).items()
    }


def _read_block(block: Results, reading: SideWeights, at_settings: SideWeights) -> Results:
    sides = len(next(iter(block)))
    shapes = {
        name: np.shape(value)
        for values in block.values()
        for name, value in values.items()
        if name not in ("findings", "failure")
    }
    folds = len(at_settings.straight)
    tables = {name: _table(block, name, folds, sides, shape) for name, shape in shapes.items()}
    found = {}
    for name, table in tables.items():
        straight = name.endswith(STRAIGHT)
        nets = [(reading.straight,) * sides] if straight else reading.nets(sides == 2)
        filled = sides == 2 and FOLD in name and not straight
        found[name] = _along(nets, _with_slopes(name, tables, at_settings) if filled else table)
    for name in found:
        found[name] = np.divide(
            found[name], _over(name, found), out=np.full_like(found[name], np.nan),
            where=np.asarray(_over(name, found)) != 0.0,
        )  # fmt: skip
    return _by_place(block, reading, sides, found)


def _table(
    block: Results, name: str, folds: int, sides: int, shape: tuple[int, ...]
) -> tuple[Floats, Floats]:
    """A quantity at all settings, zero where it is not known; and 1 there, else 0."""
    table, lost = np.zeros((2, *(folds,) * sides, *shape))
    lost[:] = 1.0
    for place, values in block.items():
        value = values[name] * _over(name, values) if name in values else np.full(shape, np.nan)
        known = np.isfinite(value)
        table[place], lost[place] = np.where(known, value, 0.0), ~known
    return table, lost


def _with_slopes(
    name: str, tables: dict[str, tuple[Floats, Floats]], at_settings: SideWeights
) -> tuple[Floats, Floats]:
    """A table of rates with a side's fold; the slope of what changes stands where none is solved.

    Not where a fold stands alone: there is no polynomial.
    """
    before, _, side = name.partition(FOLD)
    side, _, axes = side.partition("_")
    base = f"{before}_{axes}" if axes else before
    along = [Side.PORT, Side.STARBOARD].index(Side(side))
    slopes = _along(at_settings.nets(pairs=True, slope_along=along), tables[base])
    table, lost = tables[name]
    free = at_settings.is_free
    between = (free[:, None] & free).reshape(*free.shape * 2, *[1] * (table.ndim - 2))
    fills = between & (lost > 0.0) & np.isfinite(slopes)
    return np.where(fills, slopes, table), np.where(fills, 0.0, lost)


def _over(name: str, values: Values) -> Any:
    """What a ratio is multiplied by before it is interpolated, and divided by after."""
    ratio = name.startswith(OVER_DRAG) and not name.endswith(WIDTHS)
    return values["CDi"] if ratio else np.float64(1.0)


def _along(nets: Sequence[Sequence[Floats]], table: tuple[Floats, Floats]) -> Floats:
    """A table read along its first axis or two; NaN where it hangs on what is not known."""
    value, lost = table
    known = sum(_product(net, value) for net in nets)
    gone = sum(_product([np.abs(part) for part in net], lost) for net in nets)
    return np.where(np.asarray(gone) > 0.0, np.nan, known)


def _product(weights: Sequence[Floats], table: Floats) -> Floats:
    for axis, part in enumerate(weights):
        table = np.moveaxis(np.tensordot(part, table, axes=(1, axis)), 0, axis)
    return table


def _by_place(block: Results, reading: SideWeights, sides: int, tables: Values) -> Results:
    """Values by place; where a fold that stands alone cannot be built, the reason."""
    findings = [f for values in block.values() for f in values.get("findings", [])]
    nearest, alone = reading.values[0].argmax(axis=1), ~reading.is_free
    reasons = [failed_folds(block, side) for side in range(sides)]
    found: Results = {}
    for place in np.ndindex(*(len(nearest),) * sides):
        why = [reasons[side].get(int(nearest[i])) for side, i in enumerate(place) if alone[i]]
        if any(why):
            found[place] = {"failure": next(reason for reason in why if reason)}
            continue
        read: Values = {name: np.asarray(table[place]) for name, table in tables.items()}
        found[place] = read | {"findings": findings}
    return found


def failed_folds(block: Results, side: int) -> dict[int, str]:
    """Folds of a side, by their number, that failed with every fold of the other; and why."""
    rows: dict[int, list[str | None]] = {}
    for place, values in block.items():
        rows.setdefault(place[side], []).append(values.get("failure"))
    return {fold: str(why[0]) for fold, why in rows.items() if all(why)}


def misses(guess: Results, truth: Results, solved: Results) -> dict[str, float] | None:
    """Largest error of each quantity over its largest value; None where a setting failed."""
    if any("failure" in values for values in truth.values()):
        return None
    errors: dict[str, float] = {}
    for name in next(iter(truth.values())):
        if name in ("findings", *STRAIGHT):
            continue
        size = max(_largest(name, solved), _largest(name, truth))
        apart = max(
            float(np.nanmax(np.abs(guess[place][name] - values[name]), initial=0.0))
            for place, values in truth.items()
        )
        errors[name] = apart / size if size > TINY else 0.0
    return errors


def _largest(name: str, solved: Results) -> float:
    return max(
        (
            float(np.nanmax(np.abs(values[name]), initial=0.0))
            for values in solved.values()
            if name in values
        ),
        default=0.0,
    )


def widened(results: Results, errors: dict[str, float], solved: Results) -> Results:
    """The results with the interpolation's own error in their half-widths."""
    absolute = {name: MARGIN * share * _largest(name, solved) for name, share in errors.items()}
    for values in results.values():
        for name, error in absolute.items():
            if f"{name}_error" in values:
                values[f"{name}_error"] = values[f"{name}_error"] + error
    return results
