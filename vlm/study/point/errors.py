"""Error estimates from a second, coarser lattice.

With an error that falls as h^p, h the panel width, a lattice coarser by the ratio r differs from
the fine one by (r^p - 1) times the fine one's error (Richardson 1911; Roache 1994, from memory).
The half-width given is

    SAFETY |f_fine - f_coarse| / (r^p - 1) + FLOOR size bend h^p + FLARED size s^2      (12)

with the order ORDER that was observed, the quantity's natural size (the magnitudes of its parts,
:mod:`vlm.loads.sizes`), h in units of the default lattice's, and s the step of incidence across a
flared hinge that is folded.

Why each number is what it is. They were set on 400 random craft, folds and states (seeds 10000 to
10399 of ``tests/wide_craft.py``, benchmarks/error_coverage.py), and 40 more whose rows do not meet,
so that each quantity's median half-width is least while 97 of 100 numbers are covered; they hold on
others (``tests/loads/test_error_estimates.py``, docs/accuracy.md):

- ORDER: the median errors on lattices of 4 x 10, 6 x 15, 8 x 20 and 12 x 30 fell with orders of 1.5
  to 2.4, most of them near 2. Single cases differ: rows and strips have orders of their own.
- RATIO: with 3/2 the two lattices' errors agreed by chance more often than with 4/3, where parts of
  different order keep their sign, and half-widths had to be wider by a third.
- SAFETY: such chance agreement of errors in rows and in strips, of opposite signs.
- FLOOR: the same where the two lattices agree altogether. It stands for the quantity's size, not
  for its value: near zero lift, where the dihedral effect changes sign, and in a small rolling
  moment of large loads, errors are a share of what cancels. What symmetry cancels has no size and
  no error.
- bend: the largest turn of a vortex row at a hinge, a kink or a joint over 60 degrees, from 1/5 to
  1: unfolded straight wings err by less than a tenth of what wings folded by 90 degrees do. A
  closed joint whose rows do not meet has floors of its own, set on 75 such boxes: up to 80 times
  the others, for what crosses the joint there is not resolved.
- FLARED: strips along a flared hinge are slanted, and the error of the kink where the wake leaves
  them does not fall with finer lattices: CL of a tip with 40 degrees of flare folded by 30 changed
  by the same amount from 8 x 20 to 16 x 40 as from there to 32 x 40. So two lattices do not show
  it, and the term has no h. Set on 110 craft with flares of 8 to 40 degrees and folds of 10 to 60
  and 174 of those above, so that 97 of 100 numbers are
  covered with a step up to 0.3, against a lattice of 20 x 50.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from vlm.lattice.cellule import Grid
from vlm.loads.all_sizes import all_sizes
from vlm.loads.bending import incidence_step, largest_bend
from vlm.loads.craft_loads import Loads
from vlm.loads.state import FlightState

RATIO = 4.0 / 3.0
ORDER = 2.0
FULL_BEND = np.radians(60.0)
LEAST_BEND = 0.2
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
    unmatched : the same at a closed joint whose rows do not meet [1]
    flared : share of the natural size for the square of the step of incidence at a flared hinge [1]
    """

    safety: float
    floor: float
    unmatched: float
    flared: float = 0.0

    def share(self, bend: float) -> float:
        """Share of the natural size at a bend from :func:`bend_of`."""
        return self.unmatched if np.isinf(bend) else bend * self.floor


ESTIMATED: dict[str, Allowance] = {
    "CL": Allowance(2.0, 0.0011, 0.0075, 0.06),
    "CDi": Allowance(2.5, 0.0016, 0.0096, 0.045),
    "Cl": Allowance(1.5, 0.0078, 0.044),
    "Cm": Allowance(2.0, 0.00043, 0.0011, 0.03),
    "Cn": Allowance(2.0, 0.007, 0.23),
    "CL_alpha": Allowance(2.0, 0.0016, 0.018, 0.015),
    "Cl_beta": Allowance(2.0, 0.008, 0.063, 0.024),
    "Cn_beta": Allowance(2.5, 0.0085, 0.33),
    "Cl_p": Allowance(1.5, 0.005, 0.064),
    "Cm_alpha": Allowance(3.0, 0.00042, 0.011, 0.005),
    "span_efficiency": Allowance(2.5, 0.0015, 0.0099, 0.1),
}
"""Quantities that convergence studies follow."""
FURTHER: dict[str, Allowance] = {
    "CDi_surface": Allowance(1.5, 0.0029, 0.025, 0.03),
    "CY": Allowance(4.0, 0.0017, 0.11, 0.02),
    "CL_q": Allowance(2.0, 0.0015, 0.0056, 0.013),
    "Cm_q": Allowance(2.0, 0.00084, 0.002, 0.0045),
    "CY_beta": Allowance(3.0, 0.015, 0.075),
    "CY_p": Allowance(2.0, 0.0048, 0.36),
    "Cn_p": Allowance(1.5, 0.0033, 0.16, 0.0055),
    "CY_r": Allowance(4.0, 0.0018, 0.13, 0.009),
    "Cl_r": Allowance(2.5, 0.0024, 0.039, 0.005),
    "Cn_r": Allowance(1.5, 0.0085, 0.35),
    "Cn_stability": Allowance(1.5, 0.005, 0.17),
    "CY_p_stability": Allowance(2.0, 0.0025, 0.24),
    "Cn_p_stability": Allowance(2.0, 0.0019, 0.09),
    "CY_r_stability": Allowance(2.5, 0.0013, 0.056),
    "Cn_r_stability": Allowance(2.0, 0.0037, 0.18, 0.022),
    "CDi_share": Allowance(2.0, 0.0009, 0.0025),
    "hinge_moment": Allowance(2.5, 0.0037, 0.3),
    "CL_fold": Allowance(4.0, 0.00063, 0.016, 0.0085),
    "Cl_fold": Allowance(2.0, 0.0009, 0.016),
    "Cn_fold": Allowance(4.0, 0.00096, 0.016, 0.03),
    "best_span_efficiency": Allowance(2.0, 0.0009, 0.0056),
}
"""All others, those of stability axes where they differ."""
OTHERS = Allowance(2.0, 0.005, 0.06)
"""For quantities that were not measured one by one."""


def allowance_of(name: str) -> Allowance:
    """The allowance of a quantity of any name, or of one wing, hinge or axis system's."""
    known = ESTIMATED | FURTHER
    if name in known:
        return known[name]
    words = name.split("_")
    longest = (("_".join(words[:count])) for count in range(len(words), 0, -1))
    return next((known[part] for part in longest if part in known), OTHERS)


def coarser(grid: Grid) -> Grid:
    """The grid with rows and strips fewer by :data:`RATIO`, at least by one each.

    One too coarse for that is returned as it is: nothing is known about its error.
    """
    if grid.rows < FEWEST_ROWS or grid.strips < FEWEST_STRIPS:
        return grid
    rows = min(grid.rows - 1, round(grid.rows / RATIO))
    return replace(grid, rows=rows, strips=round(grid.strips / RATIO))


def error_floors(
    loads: Loads,
    state: FlightState,
    values: Mapping[str, Any],
    areas: Mapping[str, float],
    tips: Mapping[str, tuple[float, float]],
) -> dict[str, Any]:
    """Last terms of equation (12) of every value that has a size, in units of h^p.

    Parameters
    ----------
    values, areas, tips : as of :func:`vlm.loads.all_sizes.all_sizes`

    Returns
    -------
    Arrays of the state's shape by name, none negative.
    """
    sizes = all_sizes(loads, state, values, areas, tips)
    return floors_of(loads, {name: size for name, size in sizes.items() if name in values})


def floors_of(loads: Loads, sizes: Mapping[str, Any]) -> dict[str, Any]:
    """The same of values whose natural sizes are known, by name."""
    bend, step = bend_of(loads), incidence_step(loads.lattice)
    lasting = step**2 / refinement(loads.lattice.grid)  # half-widths scale all by the refinement
    shares = {name: allowance_of(name) for name in sizes}
    return {
        name: (shares[name].share(bend) + shares[name].flared * lasting) * size
        for name, size in sizes.items()
    }


def bend_of(loads: Loads) -> float:
    """The factor "bend" of equation (12); infinite at a closed joint whose rows do not meet."""
    if any(joint.closed and not joint.matched for joint in loads.lattice.joints):
        return float("inf")
    return float(np.clip(largest_bend(loads.lattice) / FULL_BEND, LEAST_BEND, 1.0))


def half_widths(
    fine: Mapping[str, Any],
    rough: Mapping[str, Any],
    floors: Mapping[str, Any],
    grid: Grid,
    chord: float | None = None,
) -> dict[str, Any]:
    """Half-width of the error of every quantity that has a floor, equation (12).

    Parameters
    ----------
    fine, rough : the quantities on both lattices, numbers or arrays
    floors : from :func:`error_floors`
    grid : the fine grid
    chord : reference chord; where it is given, static margin and neutral point are added, whose
        errors are those of Cm_alpha and CL_alpha [m]
    """
    widths = {
        name: _half_width(fine[name], rough[name], allowance_of(name).safety, floor, grid)
        for name, floor in floors.items()
    }
    if chord is not None and "Cm_alpha" in widths:
        slope = np.asarray(fine["CL_alpha"])
        share = np.abs(np.asarray(fine["Cm_alpha"]) / slope)
        margin = (widths["Cm_alpha"] + share * widths["CL_alpha"]) / np.abs(slope)
        widths |= {"static_margin": margin, "neutral_point_m": chord * margin}
    return {name: float(width) if np.ndim(width) == 0 else width for name, width in widths.items()}


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
