"""Loads of one craft at many folds, the last ones kept."""

from collections import OrderedDict
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from functools import cached_property
from threading import RLock
from typing import Literal

import numpy as np

from vlm.chart.kept_arrays import users_cache
from vlm.description.folds import FoldAngles
from vlm.description.models import Biplane
from vlm.flow.solve import Solvers
from vlm.lattice.cellule import Cellule, Grid, build_cellule
from vlm.lattice.lattice import Lattice, resolved
from vlm.loads.craft_loads import GeneralLoads, Loads, craft_loads, loads_of_states
from vlm.loads.loads_chart import LoadsChart
from vlm.loads.many_wakes import StatesLoads
from vlm.loads.relaxed_loads import relaxed_loads
from vlm.loads.state import FlightState, WakeKind
from vlm.loads.stream_tables import StreamTables, stream_tables

KEPT = 64
Charted = Literal["none", "like folds", "all folds"]
"""What a chart is made of, see :mod:`vlm.loads.loads_chart`."""
MOST_EXACT = 5
MOST_TOGETHER = 8
"""States that are solved with their work shared, which takes memory for each."""


class FoldEngine:
    """Loads of one craft at any fold.

    Parameters
    ----------
    craft : the description
    grid : rows, strips and spacing laws
    fold_rates : whether loads come with their rates with fold
    sideslip : whether what sideslip changes is solved for at once, or where it is asked for
    charted : which folds are read off a chart, where many are asked for; rates with fold are not
        known there
    apart_deg : by how much starboard tips stand above the port ones in a chart of like folds, so
        that it is one of a fixed roll command about any of them [deg]
    wake : whether the wake follows the stream of each state, lies along the craft's axis, or is
        relaxed
    """

    def __init__(
        self,
        craft: Biplane,
        grid: Grid | None = None,
        *,
        fold_rates: bool = True,
        sideslip: bool = True,
        charted: Charted = "none",
        apart_deg: float = 0.0,
        wake: WakeKind = "stream",
    ) -> None:
        self.craft = craft
        self.grid = grid or Grid()
        self.fold_rates, self.sideslip = fold_rates, sideslip
        self.charted: Charted = "none" if _EXACT.get() else charted
        self.wake, self.apart_deg = wake, apart_deg
        self.cellule: Cellule = build_cellule(craft, self.grid)
        self._kept: OrderedDict[FoldAngles, GeneralLoads] = OrderedDict()
        self._lock = RLock()
        self._on_disk = users_cache()

    def loads(self, folds: FoldAngles, *, sideslip: bool | None = None) -> GeneralLoads:
        """Loads at one fold setting.

        Parameters
        ----------
        sideslip : for a setting that is to be solved, what else the engine was made with

        Raises
        ------
        InputRefused : the fold is beyond its limits, or surfaces cross
        ComputationFailed : the system is singular
        """
        with self._lock:
            if folds in self._kept:
                self._kept.move_to_end(folds)
                return self._kept[folds]
        loads = self._solved(folds, self.sideslip if sideslip is None else sideslip)
        with self._lock:
            self._kept[folds] = loads
            while len(self._kept) > KEPT:
                self._kept.popitem(last=False)
        return loads

    def loads_for(self, folds: FoldAngles, state: FlightState) -> Loads:
        """Loads at one fold setting for given states alone.

        A few states, any with sideslip and all of a craft with fins are solved each by itself;
        many share the solutions of :meth:`loads`. With a relaxed wake every state has its own, and
        no rates with fold.
        """
        if self.wake == "relaxed":
            lattice = resolved(self.cellule, self.craft, folds)
            return StatesLoads(state.shape, [relaxed_loads(lattice, one) for one in state.each()])
        # With fins, the wake of one surface may meet another at an angle between those tabulated.
        many = int(np.prod(state.shape)) > MOST_EXACT and not self.craft.fins
        if self.wake == "craft" or (many and not np.any(state.beta)):
            return self.loads(folds)
        solvers, each = Solvers(resolved(self.cellule, self.craft, folds)), list(state.each())
        solved = [
            one
            for first in range(0, len(each), MOST_TOGETHER)
            for one in loads_of_states(
                solvers, each[first : first + MOST_TOGETHER], fold_rates=self.fold_rates
            )
        ]
        return StatesLoads(state.shape, solved)

    def _solved(self, folds: FoldAngles, sideslip: bool) -> GeneralLoads:
        if self.wake == "relaxed":
            raise ValueError("a relaxed wake is that of one state: ask loads_for")
        if self.wake == "craft":
            return craft_loads(self._placed(folds), fold_rates=self.fold_rates)
        read = None if self._chart is None else self._chart.read(folds)
        return read or self._stream(folds, sideslip)

    def _placed(self, folds: FoldAngles) -> Lattice:
        return resolved(self.cellule, self.craft, folds)

    def _stream(self, folds: FoldAngles, sideslip: bool) -> StreamTables:
        lattice = self._placed(folds)
        return stream_tables(lattice, self._on_disk, fold_rates=self.fold_rates, sideslip=sideslip)

    @cached_property
    def _chart(self) -> LoadsChart | None:
        if self.charted == "none" or not self.craft.tips:
            return None
        assert not self.fold_rates
        return LoadsChart(
            self._stream, self._placed, self.grid,
            self.craft.fold_range_deg, pairs=self.charted == "all folds",
            apart_deg=self.apart_deg, sideslip=self.sideslip,
        )  # fmt: skip


_EXACT: ContextVar[bool] = ContextVar("exact", default=False)


@contextmanager
def every_fold_solved() -> Iterator[None]:
    """Engines made within the block read nothing off a chart."""
    token = _EXACT.set(True)
    try:
        yield
    finally:
        _EXACT.reset(token)


def is_every_fold_solved() -> bool:
    """Whether this is within such a block."""
    return _EXACT.get()
