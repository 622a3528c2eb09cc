"""A convergence study as plain values, with the lattices that reach wanted errors."""

from dataclasses import asdict
from typing import Annotated, Any, TypedDict

import numpy as np

from vlm.cautions import SHORT_CAUTION
from vlm.errors import ComputationFailed
from vlm.findings import Finding
from vlm.lattice.cellule import Grid, build_cellule
from vlm.plain import Shown, without_nan
from vlm.study.convergence.extrapolation import Fall
from vlm.study.convergence.study import (
    Convergence,
    Wanted,
    found_shares,
    required_lattice,
    sufficient_lattice,
)


class ConvergenceState(TypedDict):
    """The setting that is refined; wake is "stream", "craft" or "relaxed"."""

    alpha_deg: float
    beta_deg: float
    fold_left_deg: float
    fold_right_deg: float
    wake: str


class LevelsTried(TypedDict):
    """Rows and strips that were tried, each with each."""

    rows: list[int]
    strips: list[int]


class LatticeSize(TypedDict):
    """Rows and strips of a lattice."""

    rows: int
    strips: int


class LatticeWanted(LatticeSize):
    """Rows, strips and panels of a lattice."""

    panels: int


class LatticeTried(LatticeSize):
    """One lattice.

    Attributes
    ----------
    seconds : of the solve [s]
    values : by quantity
    """

    panels: int
    seconds: float
    values: dict[str, float]


class QuantityConvergence(TypedDict):
    """How one quantity converges, in its own unit.

    Attributes
    ----------
    finest : value of the finest lattice
    order_rows, order_strips : observed orders of convergence; null where none is clear [1]
    extrapolated : limit of an infinitely fine lattice
    half_width : of the limit
    natural_size : over which errors are shared
    error_rows, error_strips : of the finest lattice by rows and by strips
    default_error_share : error of the default lattice over the natural size [1]
    """

    finest: float
    order_rows: float | None
    order_strips: float | None
    extrapolated: float
    half_width: float
    natural_size: float
    error_rows: float
    error_strips: float
    default_error_share: float | None


class WithinWanted(TypedDict):
    """Lattices that reach wanted errors; shares are of the natural sizes [1].

    Attributes
    ----------
    wanted : share by quantity
    each : lattice that is enough for one quantity alone; null where none is
    lattice : enough for all; null where none is
    predicted_shares, found_shares : errors expected of it, and found by solving it
    """

    wanted: dict[str, float]
    each: dict[str, LatticeWanted | None]
    lattice: LatticeWanted | None
    predicted_shares: dict[str, float] | None
    found_shares: dict[str, float] | None


class WakeVariants(LatticeSize):
    """Values with the relaxed wake made in other ways, by way and quantity."""

    values: dict[str, dict[str, float]]


class ConvergenceDocument(TypedDict):
    """Lattices refined: values, orders, limits, and what is enough.

    Attributes
    ----------
    law : spacing rule of the strips
    default : the lattice that commands take if none is asked for
    quantities : by name
    within : null where no errors were asked for
    relaxed_wake : null for a straight wake
    """

    title: str
    state: ConvergenceState
    levels: LevelsTried
    law: str
    default: LatticeSize
    lattices: list[LatticeTried]
    quantities: dict[str, QuantityConvergence]
    within: WithinWanted | None
    relaxed_wake: WakeVariants | None
    findings: list[Annotated[dict[str, Any], Shown(Finding)]]
    caution: str


def convergence_document(
    study: Convergence, wanted: Wanted | None = None, grid: Grid | None = None
) -> ConvergenceDocument:
    """Everything about a study: values, orders, limits, and lattices for the wanted errors.

    Parameters
    ----------
    wanted : shares of the natural sizes that errors may have; None asks for no lattice
    grid : gives the spacing laws, and the rows and strips of the default lattice
    """
    grid = grid or Grid()
    state, levels = study.state, study.levels
    document: ConvergenceDocument = {
        "title": study.craft.title,
        "state": {
            "alpha_deg": np.degrees(state.alpha),
            "beta_deg": np.degrees(state.beta),
            "fold_left_deg": study.folds.left_deg,
            "fold_right_deg": study.folds.right_deg,
            "wake": study.wake,
        },
        "levels": {"rows": list(levels.rows), "strips": list(levels.strips)},
        "law": study.law,
        "default": {"rows": grid.rows, "strips": grid.strips},
        "lattices": _lattices(study),
        "quantities": {name: _quantity(study, name, grid) for name in study.limits},
        "within": None if wanted is None else _within(study, wanted, grid),
        "relaxed_wake": _relaxed_wake(study),
        "findings": [asdict(finding) for finding in study.findings],
        "caution": SHORT_CAUTION,
    }
    return without_nan(document)


def _relaxed_wake(study: Convergence) -> WakeVariants | None:
    """Values with the relaxed wake made in other ways; None for a straight wake."""
    if not study.wake_variants:
        return None
    rows, strips = (c[len(c) // 2] for c in (study.levels.rows, study.levels.strips))
    values = {
        way: {name: one[name] for name in study.limits} for way, one in study.wake_variants.items()
    }
    return {"rows": rows, "strips": strips, "values": values}


def _lattices(study: Convergence) -> list[LatticeTried]:
    return [
        {
            "rows": rows,
            "strips": strips,
            "panels": int(study.panels[i, j]),
            "seconds": float(study.seconds[i, j]),
            "values": {name: float(limit.values[i, j]) for name, limit in study.limits.items()},
        }
        for i, rows in enumerate(study.levels.rows)
        for j, strips in enumerate(study.levels.strips)
    ]


def _quantity(study: Convergence, name: str, grid: Grid) -> QuantityConvergence:
    limit = study.limits[name]
    return {
        "finest": float(limit.values[-1, -1]),
        "order_rows": limit.rows.order,
        "order_strips": limit.strips.order,
        "extrapolated": limit.extrapolated,
        "half_width": limit.half_width,
        "natural_size": study.sizes[name],
        "error_rows": _error(limit.rows),
        "error_strips": _error(limit.strips),
        "default_error_share": study.share_at(name, grid.rows, grid.strips),
    }


def _error(fall: Fall) -> float:
    """Error of the finest lattice by rows or by strips, its magnitude where no order is clear."""
    return fall.error if np.isfinite(fall.order) else fall.size_at(fall.finest)


def _within(study: Convergence, wanted: Wanted, grid: Grid) -> WithinWanted:
    each = {
        name: _size(sufficient_lattice([study], Wanted({name: share}), grid), study)
        for name, share in wanted.shares.items()
        if name in study.limits
    }
    found: WithinWanted = {
        "wanted": dict(wanted.shares),
        "each": each,
        "lattice": None,
        "predicted_shares": None,
        "found_shares": None,
    }
    try:
        chosen = required_lattice([study], wanted, grid)
    except ComputationFailed:
        return found
    found["lattice"] = _size(chosen, study)
    found["predicted_shares"] = {
        name: study.share_at(name, chosen.rows, chosen.strips) for name in each
    }
    found["found_shares"] = found_shares(study, list(each), chosen)
    return found


def _size(grid: Grid | None, study: Convergence) -> LatticeWanted | None:
    if grid is None:
        return None
    panels = build_cellule(study.craft, grid).panels
    return {"rows": grid.rows, "strips": grid.strips, "panels": panels}
