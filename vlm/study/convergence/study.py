"""Convergence of one setting: rows and strips refined, orders, limits, sufficient lattices."""

import time
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, field, replace
from itertools import pairwise
from typing import Any

import numpy as np

from vlm.constants import Floats
from vlm.description.folds import FoldAngles
from vlm.description.models import Biplane
from vlm.errors import ComputationFailed, InputRefused, nearest_name
from vlm.findings import Finding
from vlm.lattice.cellule import Grid
from vlm.lattice.lattice import build_lattice
from vlm.lattice.lattice_warnings import lattice_warnings
from vlm.loads.coefficients import coefficients
from vlm.loads.craft_loads import CraftLoads
from vlm.loads.sizes import natural_sizes, span_efficiency_size
from vlm.loads.state import FlightState, WakeKind
from vlm.progress import Counted
from vlm.study.convergence.extrapolation import Limit, limit_of
from vlm.study.convergence.wake_variants import wake_variants
from vlm.study.point.errors import ESTIMATED
from vlm.study.point.point import key_numbers, solved

NO_SIZE = 1e-10
"""Quantities smaller than this share of the largest are zero by symmetry."""
ATTEMPTS = 6
TIGHTENED = 0.6
"""What wanted shares are multiplied with after a lattice has missed them."""


@dataclass(frozen=True)
class Levels:
    """The lattices of a study: all pairs of some numbers of rows and of strips, three or more.

    Raises
    ------
    InputRefused : fewer than three, or not growing
    """

    rows: tuple[int, ...] = (4, 8, 16)
    strips: tuple[int, ...] = (10, 20, 40)

    def __post_init__(self) -> None:
        for name, fewest in (("rows", 1), ("strips", 4)):
            counts = getattr(self, name)
            grows = all(a < b for a, b in pairwise(counts))
            if len(counts) < 3 or not grows or min(counts) < fewest:
                raise InputRefused(
                    f"{name} = {', '.join(map(str, counts))}; a convergence study needs three"
                    f" growing numbers or more, from {fewest} on"
                )

    @classmethod
    def up_to(cls, rows: int, strips: int) -> "Levels":
        """Three levels each, halved from the finest.

        Raises
        ------
        InputRefused : the finest is too coarse to be halved twice
        """
        return cls(_halvings(rows), _halvings(strips))


FINER_LEVELS = Levels((6, 12, 24), (15, 30, 60))
"""Levels for errors that the default ones don't reach."""


def _halvings(finest: int) -> tuple[int, ...]:
    return tuple(max(1, round(finest / share)) for share in (4, 2, 1))


@dataclass(frozen=True)
class Convergence:
    """A convergence study of one craft, fold setting and flight state.

    Attributes
    ----------
    levels : numbers of rows and of strips
    law : spacing law of the strips
    wake : along the craft's axis, or along the stream
    limits : by quantity, values on every lattice and their limit; none for what is zero by
        symmetry
    sizes : natural size of each quantity on the finest lattice
    panels, seconds : of every lattice, shape (numbers of rows, numbers of strips)
    wake_variants : key numbers on the middle lattice with a relaxed wake made in other ways, by
        way and name; empty for a straight wake
    """

    craft: Biplane
    folds: FoldAngles
    state: FlightState
    levels: Levels
    law: str
    wake: WakeKind
    limits: Mapping[str, Limit]
    sizes: Mapping[str, float]
    panels: Floats
    seconds: Floats
    findings: list[Finding]
    wake_variants: Mapping[str, Mapping[str, float]] = field(default_factory=dict)

    def share_at(self, name: str, rows: int, strips: int) -> float:
        """Predicted error of a quantity over its natural size on a lattice."""
        return self.limits[name].error_at(rows, strips) / self.sizes[name]

    def least_share(self, name: str) -> float:
        """Half-width of a quantity over its natural size on the finest lattice."""
        limit = self.limits[name]
        apart = abs(float(limit.values[-1, -1]) - limit.extrapolated)
        return (apart + limit.half_width) / self.sizes[name]

    def half_widths(self, values: Mapping[str, Any]) -> dict[str, float]:
        """Half-widths of given values: distance from the limit and the limit's half_width.

        What is zero by symmetry has none; NaN for what was not studied.
        """
        result = {}
        for name in ESTIMATED:
            limit = self.limits.get(name)
            result[name] = 0.0
            if limit is not None:
                result[name] = abs(float(values[name]) - limit.extrapolated) + limit.half_width
        return result


def study_convergence(
    craft: Biplane,
    folds: FoldAngles,
    state: FlightState,
    *,
    levels: Levels | None = None,
    grid: Grid | None = None,
    wake: WakeKind = "stream",
    report: Counted | None = None,
) -> Convergence:
    """Solve one setting on every lattice of a study.

    Parameters
    ----------
    levels : numbers of rows and strips
    grid : gives the spacing laws; its own rows and strips are not used
    report : called with (panels solved, panels in all) as lattices finish

    Raises
    ------
    InputRefused : the geometry or the fold cannot be built
    ComputationFailed : a system cannot be solved
    """
    levels, grid = levels or Levels(), grid or Grid()
    shape = (len(levels.rows), len(levels.strips))
    values = {name: np.zeros(shape) for name in ESTIMATED}
    panels, seconds = np.zeros(shape, dtype=int), np.zeros(shape)
    total = sum(levels.rows) * sum(levels.strips)
    done = 0
    for i, rows in enumerate(levels.rows):
        for j, strips in enumerate(levels.strips):
            start = time.perf_counter()
            lattice = build_lattice(craft, folds, replace(grid, rows=rows, strips=strips))
            loads = solved(lattice, state, wake, fold_rates=False)
            for name, value in key_numbers(loads, state).items():
                values[name][i, j] = value
            panels[i, j], seconds[i, j] = lattice.panels, time.perf_counter() - start
            done += rows * strips
            if report:
                report(done, total)
    sizes = _sizes(loads, state)
    return Convergence(
        craft=craft,
        folds=folds,
        state=state,
        levels=levels,
        law=grid.span_law,
        wake=wake,
        limits={name: limit_of(levels.rows, levels.strips, values[name]) for name in sizes},
        sizes=sizes,
        panels=panels,
        seconds=seconds,
        findings=lattice_warnings(lattice),
        wake_variants=_wake_variants(craft, folds, state, levels, grid, wake),
    )


def _wake_variants(
    craft: Biplane,
    folds: FoldAngles,
    state: FlightState,
    levels: Levels,
    grid: Grid,
    wake: WakeKind,
) -> Mapping[str, Mapping[str, float]]:
    if wake != "relaxed":
        return {}
    rows, strips = (counts[len(counts) // 2] for counts in (levels.rows, levels.strips))
    middle = replace(grid, rows=rows, strips=strips)
    return wake_variants(build_lattice(craft, folds, middle), state)


def _sizes(loads: CraftLoads, state: FlightState) -> dict[str, float]:
    """Natural sizes of the quantities that are not zero by symmetry."""
    sizes = natural_sizes(loads, state)
    values = asdict(coefficients(loads, state))
    sizes["span_efficiency"] = span_efficiency_size(values, sizes)
    found = {name: float(sizes[name]) for name in ESTIMATED}
    largest = max(size for size in found.values() if np.isfinite(size))
    return {name: s for name, s in found.items() if np.isfinite(s) and s > NO_SIZE * largest}


@dataclass(frozen=True)
class Wanted:
    """Errors that are to be reached: shares of each quantity's natural size."""

    shares: Mapping[str, float]

    def __post_init__(self) -> None:
        for name, share in self.shares.items():
            if name not in ESTIMATED:
                near = nearest_name(name, ESTIMATED)
                hint = f"did you mean {near}?" if near else f"known are {', '.join(ESTIMATED)}"
                raise InputRefused(f"--within {name}: no error is estimated for it; {hint}")
            if not 0.0 < share < 1.0:
                raise InputRefused(
                    f"--within {name} = {share:g}; write a share between 0 and 1, or a percentage"
                    " such as 0.1%"
                )


def sufficient_lattice(
    studies: Sequence[Convergence], wanted: Wanted, grid: Grid | None = None
) -> Grid | None:
    """The lattice of fewest panels whose predicted errors reach what is wanted in every study.

    It lies between the coarsest and the finest that was studied: below, errors follow no law, and
    beyond, the limit's own half_width is what remains.

    Returns
    -------
    None where none of these does
    """
    grid, found = grid or Grid(), None
    fewest = max(study.levels.rows[0] for study in studies)
    for rows in range(fewest, min(study.levels.rows[-1] for study in studies) + 1):
        strips = _fewest_strips(studies, wanted, rows)
        if strips is None:
            continue
        if found is None or rows * strips < found.rows * found.strips:
            found = replace(grid, rows=rows, strips=strips)
    return found


def _fewest_strips(studies: Sequence[Convergence], wanted: Wanted, rows: int) -> int | None:
    """Fewest strips that do with so many rows; errors fall with strips, so halving finds it."""

    def does(strips: int) -> bool:
        return all(
            study.share_at(name, rows, strips) <= share
            for study in studies
            for name, share in wanted.shares.items()
            if name in study.limits
        )

    low = max(study.levels.strips[0] for study in studies)
    high = min(study.levels.strips[-1] for study in studies)
    if not does(high):
        return None
    while low < high:
        middle = (low + high) // 2
        low, high = (low, middle) if does(middle) else (middle + 1, high)
    return low


def required_lattice(
    studies: Sequence[Convergence], wanted: Wanted, grid: Grid | None = None
) -> Grid:
    """As :func:`sufficient_lattice`, but solved and held against the limits of every study.

    Where an error is larger than predicted, a finer lattice is taken.

    Raises
    ------
    ComputationFailed : no lattice does, with the least shares that are within reach
    """
    asked = wanted
    for _ in range(ATTEMPTS):
        found = sufficient_lattice(studies, asked, grid)
        if found is None:
            break
        if all(_keeps(study, wanted, found) for study in studies):
            return found
        asked = Wanted({name: TIGHTENED * share for name, share in asked.shares.items()})
    raise ComputationFailed(_out_of_reach(studies, wanted))


def found_shares(study: Convergence, names: Sequence[str], grid: Grid) -> dict[str, float]:
    """Half-widths over the natural sizes, on a lattice solved again."""
    lattice = build_lattice(study.craft, study.folds, grid)
    values = key_numbers(solved(lattice, study.state, study.wake, fold_rates=False), study.state)
    widths = study.half_widths(values)
    return {name: widths[name] / study.sizes[name] for name in names if name in study.limits}


def _keeps(study: Convergence, wanted: Wanted, grid: Grid) -> bool:
    shares = found_shares(study, list(wanted.shares), grid)
    return all(share <= wanted.shares[name] for name, share in shares.items())


def _out_of_reach(studies: Sequence[Convergence], wanted: Wanted) -> str:
    least = {
        name: max(study.least_share(name) for study in studies if name in study.limits)
        for name in wanted.shares
        if any(name in study.limits for study in studies)
    }
    missed = {name: share for name, share in least.items() if share > wanted.shares[name]}
    texts = [f"{name} by {100.0 * share:.2g} %" for name, share in (missed or least).items()]
    rows, strips = studies[0].levels.rows[-1], studies[0].levels.strips[-1]
    return (
        f"--within asks for more than the study reaches: its finest lattice, {rows} rows x"
        f" {strips} strips, may still err in {', '.join(texts)} of its natural size; ask for less,"
        " or study finer lattices with foldspan converge --rows and --strips"
    )
