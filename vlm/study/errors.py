"""Error estimates from a second, coarser lattice.

With an error that falls as h^p, h the panel width, a lattice coarser by the ratio r differs from
the fine one by (r^p - 1) times the fine one's error (Richardson 1911; Roache 1994, from memory).
The half-width given is

    SAFETY |f_fine - f_coarse| / (r^p - 1) + FLOOR size bend h^p                        (12)

with the order ORDER that was observed, the quantity's natural size (the magnitudes of its parts,
:mod:`vlm.loads.sizes`), and h in units of the default lattice's.

Why each number is what it is. They were set on 160 random craft, folds and states (seeds 0 to 159
of ``tests/random_craft.py``) and hold on others (``tests/loads/test_error_estimates.py``):

- ORDER: the median errors on lattices of 4 x 10, 6 x 15, 8 x 20 and 12 x 30 fell with orders of 1.5
  to 2.4, most of them near 2. Single cases differ: rows and strips have orders of their own.
- RATIO: with 3/2 the two lattices' errors agreed by chance more often than with 4/3, where parts of
  different order keep their sign, and half-widths had to be wider by a third.
- SAFETY: such chance agreement of errors in rows and in strips, of opposite signs.
- FLOOR: the same where the two lattices agree altogether. It stands for the quantity's size, not
  for its value: near zero lift, where the dihedral effect changes sign, and in a small rolling
  moment of large loads, errors are a share of what cancels. What symmetry cancels has no size and
  no error.
- bend: the largest turn of a vortex row at a hinge, a kink or a joint over 60 degrees, from 1/20 to
  1: unfolded straight wings err by less than a tenth of what wings folded by 90 degrees do.
"""

from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from typing import Any

import numpy as np

from vlm.lattice.cellule import Grid
from vlm.loads.bending import largest_bend
from vlm.loads.coefficients import coefficients
from vlm.loads.craft_loads import Loads
from vlm.loads.sizes import natural_sizes, span_efficiency_size
from vlm.loads.state import FlightState

RATIO = 4.0 / 3.0
ORDER = 2.0
FULL_BEND = np.radians(60.0)
LEAST_BEND = 0.05
FEWEST_ROWS = 2
FEWEST_STRIPS = 8
STANDARD_PANELS = 160
"""Rows times strips of the default lattice, on which the floors were measured."""


@dataclass(frozen=True)
class Allowance:
    """How far the error of a quantity is trusted to two lattices.

    Attributes
    ----------
    safety : factor on the error that two lattices show [1]
    floor : share of the natural size that is allowed besides, on the default lattice, bent [1]
    """

    safety: float
    floor: float


ESTIMATED: dict[str, Allowance] = {
    "CL": Allowance(2.0, 0.002),
    "CDi": Allowance(2.0, 0.003),
    "Cl": Allowance(1.5, 0.005),
    "Cm": Allowance(2.0, 0.001),
    "Cn": Allowance(2.5, 0.008),
    "CL_alpha": Allowance(2.0, 0.002),
    "Cl_beta": Allowance(1.75, 0.005),
    "Cn_beta": Allowance(2.5, 0.008),
    "Cl_p": Allowance(1.5, 0.006),
    "Cm_alpha": Allowance(2.0, 0.0007),
    "span_efficiency": Allowance(2.5, 0.003),
}
OTHERS = Allowance(2.0, 0.005)
"""For quantities that were not measured one by one: hinge moments, slopes of other names."""


def coarser(grid: Grid) -> Grid:
    """The grid with rows and strips fewer by :data:`RATIO`, at least by one each.

    One too coarse for that is returned as it is: nothing is known about its error.
    """
    if grid.rows < FEWEST_ROWS or grid.strips < FEWEST_STRIPS:
        return grid
    rows = min(grid.rows - 1, round(grid.rows / RATIO))
    return replace(grid, rows=rows, strips=round(grid.strips / RATIO))


def error_floors(loads: Loads, state: FlightState) -> dict[str, Any]:
    """Last term of equation (12) of every estimated quantity, on the default lattice.

    Returns
    -------
    Arrays of the state's shape by name, none negative.
    """
    sizes = natural_sizes(loads, state)
    sizes["span_efficiency"] = span_efficiency_size(asdict(coefficients(loads, state)), sizes)
    bend = bend_share(loads)
    return {name: bend * one.floor * sizes[name] for name, one in ESTIMATED.items()}


def bend_share(loads: Loads) -> float:
    """The factor "bend" of equation (12)."""
    return float(np.clip(largest_bend(loads.lattice) / FULL_BEND, LEAST_BEND, 1.0))


def half_widths(
    fine: Mapping[str, Any], rough: Mapping[str, Any], floors: Mapping[str, Any], grid: Grid
) -> dict[str, Any]:
    """Half-width of the error of every estimated quantity, equation (12).

    Parameters
    ----------
    fine, rough : the quantities on both lattices, numbers or arrays
    floors : from :func:`error_floors`
    grid : the fine grid
    """
    return {
        name: _half_width(fine[name], rough[name], one.safety, floors[name], grid)
        for name, one in ESTIMATED.items()
    }


def half_width(fine: Any, rough: Any, size: Any, grid: Grid) -> Any:
    """Half-width of the error of a quantity of any other name; NaN where no grid is coarser.

    Parameters
    ----------
    fine, rough : its value on both lattices, numbers or arrays
    size : its natural size
    grid : the fine grid
    """
    return _half_width(fine, rough, OTHERS.safety, OTHERS.floor * np.asarray(size), grid)


def refinement(grid: Grid) -> float:
    """How much an error of order :data:`ORDER` is larger than on the default lattice [1]."""
    return float((STANDARD_PANELS / (grid.rows * grid.strips)) ** (0.5 * ORDER))


def _half_width(fine: Any, rough: Any, safety: float, floor: Any, grid: Grid) -> Any:
    other = coarser(grid)
    ratio = np.sqrt(grid.rows * grid.strips / (other.rows * other.strips))
    scale = safety / (ratio**ORDER - 1.0) if ratio > 1.0 else np.nan
    change = np.abs(np.asarray(fine) - np.asarray(rough))
    width = scale * change + np.asarray(floor) * refinement(grid)
    return float(width) if np.ndim(width) == 0 else width
