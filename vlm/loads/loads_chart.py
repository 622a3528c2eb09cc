"""Loads over both folds, read off polynomials through a few solves.

As long as no tip touches, or nearly touches, anything, every table of loads is a smooth function of
both folds. So the tables are solved at a few settings (:mod:`vlm.chart.fold_points`) and
interpolated in between. Folds at which something touches, and those beside one at which it
does, belong to another branch and are not read here. Settings that were not used are solved to hold
the polynomials against; their largest misses go with every reading.
"""

from collections.abc import Callable, Mapping, Sequence
from functools import cached_property, partial
from itertools import pairwise
from typing import Any

import numpy as np

from vlm.chart.fold_points import FoldPoints
from vlm.constants import Floats
from vlm.description.folds import FoldAngles
from vlm.errors import ComputationFailed, InputRefused
from vlm.flow.wake_shape import WakeShape
from vlm.lattice.cellule import Grid
from vlm.lattice.lattice import Lattice
from vlm.loads.angles import AngledTable
from vlm.loads.craft_loads import CraftLoads
from vlm.loads.many_wakes import AngledLoads
from vlm.loads.misses import COEFFICIENTS, compared_numbers, largest_misses
from vlm.loads.sizes import natural_sizes
from vlm.loads.state import FlightState
from vlm.loads.stream_tables import StreamTables

TOLERANCE = 1e-4
"""Largest error of the interpolation over a coefficient's natural size at the points [1]."""
SCAN_DEG, APPROACH_DEG = 2.0, 10.0
"""Step in which folds are looked at for contact, and how near to one nothing is read [deg]."""
LEAST_DEG, NARROW_DEG, COUNTS = 40.0, 110.0, (9, 13, 17)
"""Shortest stretch of folds worth a chart [deg]; points a side, of which the first are tried on a
stretch up to the width named, else the second, and the next ones where those do not hold."""
HELD_SHARES = ((0.31, 0.86), (0.07, 0.72), (0.55, 0.93))
"""Places, port and starboard, of the settings that the polynomials are held against [1]."""
MARGIN = 8.0
"""Largest misses anywhere over those at these few places: over 200 places of ten random craft it is
beyond that for one number in two hundred (``tests/loads/test_charts_exact.py``) [1]."""
SAME_DEG = 1e-9
HELD_ALPHAS: Floats = np.radians([-2.0, 4.0, 10.0])

Solve = Callable[[FoldAngles, bool], StreamTables]
Place = Callable[[FoldAngles], Lattice]


class ChartedLoads(AngledLoads):
    """Loads of a setting as a weighted sum of those at a chart's points.

    Parameters
    ----------
    lattice : of the setting itself
    points : what it is read off
    weights : what each of the points counts, shape (points,) [1]
    turned : solves the setting for what sideslip changes; None where the points hold that too
    image : reads the setting with its folds exchanged
    """

    def __init__(
        self,
        lattice: Lattice,
        points: "_Points",
        weights: Floats,
        turned: Callable[[], AngledLoads] | None,
        image: "Callable[[], ChartedLoads | None]",
    ) -> None:
        self.lattice, self.errors = lattice, points.errors
        self._points, self._weights, self._turned = points, weights, turned
        self._image = image
        self.folds: Mapping[str, AngledTable] = {}

    def _read(self, name: str) -> AngledTable:
        def aside() -> Floats:
            if self._turned is not None:
                found = getattr(self._turned(), name).aside
                assert found is not None
                return np.asarray(found)
            return self._sum(f"{name} aside")

        return AngledTable(self._sum(name), aside)

    def _sum(self, name: str) -> Floats:
        return np.asarray(np.tensordot(self._weights, self._points.stack(name), axes=1))

    @cached_property
    def shape(self) -> WakeShape:  # type: ignore[override]
        """Its wake but for the direction."""
        return WakeShape(self.lattice)

    @property
    def solutions(self) -> tuple[CraftLoads, ...]:  # type: ignore[override]
        """The solves of all points."""
        return tuple(one for setting in self._points.settings for one in setting.solutions)

    @property
    def condition(self) -> float:
        """Largest condition number of the matrices of all points [1]."""
        return max(setting.condition for setting in self._points.settings)

    @property
    def can_be_mirrored(self) -> bool:
        """As :attr:`StreamTables.can_be_mirrored`."""
        return self._points.settings[0].can_be_mirrored

    @cached_property
    def wrench(self) -> AngledTable:  # type: ignore[override]
        """Force and moment by patch."""
        return self._read("wrench")

    @cached_property
    def circulation(self) -> AngledTable:  # type: ignore[override]
        """The rings' circulation."""
        return self._read("circulation")

    @cached_property
    def drag(self) -> AngledTable:  # type: ignore[override]
        """Far-field drag by patch."""
        return AngledTable(self._sum("drag"))

    @cached_property
    def best(self) -> AngledTable:  # type: ignore[override]
        """Best span efficiency."""
        return AngledTable(self._sum("best"))

    def mirrored(self) -> "ChartedLoads":
        """As :meth:`CraftLoads.mirrored`."""
        found = self._image() if self.can_be_mirrored else None
        if found is None:
            raise ValueError("a craft with its moment point off the middle has no mirror image")
        return found


class _Points:
    """Solved settings, their tables stacked as they are asked for."""

    def __init__(self, settings: Sequence[StreamTables]) -> None:
        self.settings = tuple(settings)
        self.errors: Mapping[str, float] = {}
        self._stacks: dict[str, Floats] = {}

    def stack(self, name: str) -> Floats:
        """A table of all settings, or its rate with sideslip, shape (points, angles, ...)."""
        if name not in self._stacks:
            table, _, aside = name.partition(" ")
            found = [getattr(setting, table) for setting in self.settings]
            self._stacks[name] = np.array([t.aside if aside else t.nodes for t in found])
        return self._stacks[name]


class LoadsChart:
    """A craft's loads over its folds: like ones of both sides alone, or any pair.

    Parameters
    ----------
    solve : loads of a setting, with what sideslip changes or without
    place : the lattice of a setting
    grid : of the lattices far from contact
    limits_deg : lowest and highest fold [deg]
    pairs : whether pairs of unlike folds are asked for too
    apart_deg : by how much starboard tips stand above the port ones where pairs are not [deg]
    sideslip : whether settings are solved with what sideslip changes
    """

    def __init__(
        self,
        solve: Solve,
        place: Place,
        grid: Grid,
        limits_deg: tuple[float, float],
        *,
        pairs: bool,
        apart_deg: float = 0.0,
        sideslip: bool,
    ) -> None:
        self._solve, self._place, self.pairs, self.sideslip = solve, place, pairs, sideslip
        self.apart_deg = apart_deg
        self._grid, self._limits_deg = grid, limits_deg

    @cached_property
    def free_deg(self) -> tuple[float, float] | None:
        """The stretch of folds that it is of [deg]; None where it is too short for a chart."""
        free = _free_stretch(self._place, self._grid, *self._limits_deg)
        return None if free is None or np.ptp(free) - abs(self.apart_deg) < LEAST_DEG else free

    def read(self, folds: FoldAngles) -> ChartedLoads | None:
        """Loads at a setting; None where it is not on the chart, or the chart does not hold.

        Raises
        ------
        InputRefused : the setting cannot be built
        """
        if not (self.pairs or self._are_apart(folds)) or self.free_deg is None:
            return None
        low, high = self.free_deg
        if not all(low <= fold <= high for fold in (folds.left_deg, folds.right_deg)):
            return None
        if self._held is None:
            return None
        lattice = self._place(folds)
        if lattice.joints or lattice.grid != self._grid:
            return None
        where, solved = self._held
        turned = None if self.sideslip else partial(self._solve, folds, True)
        image = partial(self.read, folds.mirrored())
        weights = where.weights(folds.left_deg, folds.right_deg)
        return ChartedLoads(lattice, solved, weights, turned, image)

    def _are_apart(self, folds: FoldAngles) -> bool:
        return abs(folds.right_deg - folds.left_deg - self.apart_deg) < SAME_DEG

    @cached_property
    def _held(self) -> "tuple[FoldPoints, _Points] | None":
        """The solved settings; None where the polynomials miss by too much."""
        assert self.free_deg is not None
        low, high = self.free_deg
        first = 0 if high - low <= NARROW_DEG else 1
        for count in COUNTS[first : first + 2]:
            where = FoldPoints.between(low, high, count, pairs=self.pairs, apart=self.apart_deg)
            try:
                solved = _Points(self._solved(where))
                misses = self._misses(where, solved)
            except (InputRefused, ComputationFailed):
                # Tips of the two sides may meet one another; then no chart spans all pairs.
                return None
            sizes = _sizes(solved.settings)
            if all(misses[name] <= TOLERANCE * sizes[name] for name in COEFFICIENTS):
                own = [one.errors for one in solved.settings]
                solved.errors = {
                    name: MARGIN * miss + max(errors.get(name, 0.0) for errors in own)
                    for name, miss in misses.items()
                }
                return where, solved
        return None

    def _solved(self, where: FoldPoints) -> list[StreamTables]:
        """Loads of all settings, a mirrored pair solved once."""
        found: dict[FoldAngles, StreamTables] = {}
        for left, right in where.settings:
            folds = FoldAngles(float(left), float(right))
            image = found.get(folds.mirrored())
            known = image is not None and image.can_be_mirrored
            found[folds] = (
                image.mirrored() if image and known else self._solve(folds, self.sideslip)
            )
        return list(found.values())

    def _misses(self, where: FoldPoints, points: _Points) -> dict[str, float]:
        """Largest misses at settings that were not used, by coefficient and derivative."""
        pairs = []
        for shares in HELD_SHARES:
            folds = FoldAngles(*(float(fold) for fold in where.at_shares(*shares)))
            truth = self._solve(folds, self.sideslip)
            weights = where.weights(folds.left_deg, folds.right_deg)
            read = ChartedLoads(truth.lattice, points, weights, None, lambda: None)
            pairs.append((self._values(read), self._values(truth)))
        return largest_misses(pairs)

    def _values(self, loads: StreamTables | ChartedLoads) -> dict[str, Any]:
        return compared_numbers(loads, FlightState(alpha=HELD_ALPHAS), sideslip=self.sideslip)


def _sizes(settings: Sequence[StreamTables]) -> dict[str, float]:
    """Largest natural size of every coefficient at the points, see :mod:`vlm.loads.sizes`."""
    found = [natural_sizes(one, FlightState(alpha=HELD_ALPHAS)) for one in settings]
    sizes = {name: max(float(np.max(one[name])) for one in found) for name in COEFFICIENTS}
    # Like folds have no lateral loads: there the lift's size stands for theirs.
    return {name: size if size > 1e-9 else sizes["CL"] for name, size in sizes.items()}


def _free_stretch(place: Place, grid: Grid, low: float, high: float) -> tuple[float, float] | None:
    """The widest stretch of folds far from contact [deg]; None where it is too short."""
    count = max(2, round((high - low) / SCAN_DEG) + 1)
    folds = np.linspace(low, high, count)
    touching = [float(fold) for fold in folds if _touches(place, grid, float(fold))]
    ends = sorted({low - APPROACH_DEG, high + APPROACH_DEG, *touching})
    stretches = [(a + APPROACH_DEG, b - APPROACH_DEG) for a, b in pairwise(ends)]
    widest = max(stretches, key=lambda ends: ends[1] - ends[0])
    return widest if widest[1] - widest[0] >= LEAST_DEG else None


def _touches(place: Place, grid: Grid, fold: float) -> bool:
    """Whether a tip touches or nearly touches anything at a fold, or can't be there."""
    try:
        lattice = place(FoldAngles.symmetric(fold))
        # Beside a gap the strips crowd otherwise.
        return bool(lattice.joints) or lattice.grid != grid
    except (InputRefused, ComputationFailed):
        return True
