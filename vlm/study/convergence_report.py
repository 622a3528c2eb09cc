"""A convergence study as plain values, with the lattices that reach wanted errors."""

from dataclasses import asdict
from typing import Any

import numpy as np

from vlm.cautions import SHORT_CAUTION
from vlm.errors import ComputationFailed
from vlm.lattice.cellule import Grid, build_cellule
from vlm.plain import without_nan
from vlm.study.convergence import (
    Convergence,
    Wanted,
    found_shares,
    required_lattice,
    sufficient_lattice,
)
from vlm.study.extrapolation import Fall


def convergence_document(
    study: Convergence, wanted: Wanted | None = None, grid: Grid | None = None
) -> dict[str, Any]:
    """Everything about a study: values, orders, limits, and lattices for the wanted errors.

    Parameters
    ----------
    wanted : shares of the natural sizes that errors may have; None asks for no lattice
    grid : gives the spacing laws, and the rows and strips of the default lattice
    """
    grid = grid or Grid()
    state, levels = study.state, study.levels
    document = {
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
    return without_nan(document)  # type: ignore[no-any-return]


def _relaxed_wake(study: Convergence) -> dict[str, Any] | None:
    """Values with the relaxed wake made in other ways; None for a straight wake."""
    if not study.wake_variants:
        return None
    rows, strips = (c[len(c) // 2] for c in (study.levels.rows, study.levels.strips))
    values = {
        way: {name: one[name] for name in study.limits} for way, one in study.wake_variants.items()
    }
    return {"rows": rows, "strips": strips, "values": values}


def _lattices(study: Convergence) -> list[dict[str, Any]]:
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


def _quantity(study: Convergence, name: str, grid: Grid) -> dict[str, Any]:
    limit = study.limits[name]
    return {
        "finest": float(limit.values[-1, -1]),
        "order_rows": limit.rows.order,
        "order_strips": limit.strips.order,
        "extrapolated": limit.extrapolated,
        "half_width": limit.doubt,
        "natural_size": study.sizes[name],
        "error_rows": _error(limit.rows),
        "error_strips": _error(limit.strips),
        "default_error_share": study.share_at(name, grid.rows, grid.strips),
    }


def _error(fall: Fall) -> float:
    """Error of the finest lattice by rows or by strips, its magnitude where no order is clear."""
    return fall.error if np.isfinite(fall.order) else fall.size_at(fall.finest)


def _within(study: Convergence, wanted: Wanted, grid: Grid) -> dict[str, Any]:
    each = {
        name: _size(sufficient_lattice([study], Wanted({name: share}), grid), study)
        for name, share in wanted.shares.items()
        if name in study.limits
    }
    found: dict[str, Any] = {
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


def _size(grid: Grid | None, study: Convergence) -> dict[str, int] | None:
    if grid is None:
        return None
    panels = build_cellule(study.craft, grid).panels
    return {"rows": grid.rows, "strips": grid.strips, "panels": panels}
