"""Error estimates from a second, coarser lattice.

With an error that falls as h^p, h the panel width, a lattice coarser by the ratio r differs from
the fine one by (r^p - 1) times the fine one's error (Richardson 1911; Roache 1994, from memory).
The half-width given is

    SAFETY |f_fine - f_coarse| / (r^p - 1) + FLOOR scale                              (12)

with the lowest order observed on this lattice. The floor covers quantities whose two values
happen to agree: it is a small share of the quantity's natural size.
"""

from dataclasses import replace
from typing import Any

import numpy as np

from vlm.lattice.cellule import Grid

RATIO = 1.5
ORDER = 4.0 / 3.0
SAFETY = 1.25
FLOOR = 2e-4
FEWEST_ROWS = 2
FEWEST_STRIPS = 6

# Quantity: the quantities whose sizes set its scale (their largest magnitude counts).
ESTIMATED: dict[str, tuple[str, ...]] = {
    "CL": ("CL",),
    "CDi": ("CDi",),
    "Cl": ("Cl",),
    "Cm": ("Cm",),
    "Cn": ("Cn",),
    "CL_alpha": ("CL_alpha",),
    "Cl_beta": ("Cl_beta",),
    "Cn_beta": ("Cn_beta",),
    "Cl_p": ("Cl_p",),
    "Cm_alpha": ("Cm_alpha",),
    "span_efficiency": ("span_efficiency",),
}


def coarser(grid: Grid) -> Grid:
    """The grid with rows and strips fewer by :data:`RATIO`; the same where none is coarser."""
    rows = max(FEWEST_ROWS, min(grid.rows - 1, round(grid.rows / RATIO)))
    strips = max(FEWEST_STRIPS, min(grid.strips - 2, round(grid.strips / RATIO)))
    return replace(grid, rows=min(rows, grid.rows), strips=min(strips, grid.strips))


def half_widths(fine: dict[str, Any], rough: dict[str, Any], grid: Grid) -> dict[str, Any]:
    """Half-width of the error of every estimated quantity, equation (12).

    Parameters
    ----------
    fine, rough : the quantities on both lattices, numbers or arrays
    grid : the fine grid
    """
    return {
        name: half_width(
            fine[name], rough[name], np.max([np.abs(fine[s]) for s in sizes], axis=0), grid
        )
        for name, sizes in ESTIMATED.items()
    }


def half_width(fine: Any, rough: Any, size: Any, grid: Grid) -> Any:
    """Half-width of the error of one quantity, equation (12); NaN where no grid is coarser.

    Parameters
    ----------
    fine, rough : its value on both lattices, numbers or arrays
    size : its natural size
    grid : the fine grid
    """
    other = coarser(grid)
    ratio = np.sqrt(grid.rows * grid.strips / (other.rows * other.strips))
    scale = SAFETY / (ratio**ORDER - 1.0) if ratio > 1.0 else np.nan
    width = scale * np.abs(np.asarray(fine) - np.asarray(rough)) + FLOOR * size
    return float(width) if np.ndim(width) == 0 else width
