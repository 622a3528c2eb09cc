"""Solving the cases of a sweep, one chunk at a time; the same numbers whatever the split."""

from collections import OrderedDict
from typing import Any

import numpy as np

from vlm.description.folds import FoldAngles
from vlm.description.models import Biplane
from vlm.errors import FoldspanError
from vlm.findings import Finding
from vlm.lattice.cellule import build_cellule
from vlm.lattice.doubts import lattice_doubts
from vlm.lattice.lattice import build_lattice
from vlm.loads.craft_loads import CraftLoads, craft_loads_in_stream
from vlm.loads.fold_engine import FoldEngine
from vlm.loads.state import FlightState
from vlm.study.errors import coarser, half_widths
from vlm.study.evaluation import evaluated
from vlm.study.plan import Case, SweepPlan
from vlm.study.sizes import tip_sizes, wing_areas

KEPT_CRAFT = 2
Areas = dict[str, float]
Sizes = dict[str, tuple[float, float]]


class CaseSolver:
    """Solves cases of one plan; keeps what neighbouring cases share."""

    def __init__(self, craft: Biplane, plan: SweepPlan) -> None:
        self.craft, self.plan = craft, plan
        self._engines: OrderedDict[Any, FoldEngine] = OrderedDict()
        self._last: tuple[Any, FoldAngles, CraftLoads] | None = None
        self._sized: tuple[Biplane, Areas, Sizes] | None = None
        alphas, betas = np.meshgrid(plan.alphas_deg, plan.betas_deg, indexing="ij")
        self.state = FlightState(
            alpha=np.radians(alphas),
            beta=np.radians(betas),
            airspeed=plan.airspeed,
            density=plan.density,
        )

    def solve(self, case: Case) -> dict[str, Any]:
        """All values of a case by name, arrays (alpha, beta), or the reason why there are none.

        A refused or failed case gives {"failure": reason} alone.
        """
        try:
            craft = self.craft.overridden(dict(case.changes)) if case.changes else self.craft
            loads = self._loads(craft, case, self.plan.grid)
            values = self._values(craft, loads)
            if self.plan.errors:
                rough = self._loads(craft, case, coarser(self.plan.grid))
                other = self._values(craft, rough)
                widths = half_widths(values, other, self.plan.grid)
                values |= {f"{name}_error": width for name, width in widths.items()}
        except FoldspanError as error:
            return {"failure": str(error)}
        values["condition"] = np.float64(loads.condition)
        values["findings"] = lattice_doubts(loads.lattice)
        return values

    def _engine(self, craft: Biplane, case: Case, grid: Any) -> FoldEngine:
        key = (case.changes, grid)
        if key not in self._engines:
            while len(self._engines) >= KEPT_CRAFT:
                self._engines.popitem(last=False)
            self._engines[key] = FoldEngine(craft, grid)
        return self._engines[key]

    def _loads(self, craft: Biplane, case: Case, grid: Any) -> CraftLoads:
        if self.plan.wake == "stream":
            state = FlightState(
                alpha=float(self.state.alpha.flat[0]), beta=float(self.state.beta.flat[0])
            )
            return craft_loads_in_stream(build_lattice(craft, case.folds, grid), state)
        key = (case.changes, grid)
        if self._last is not None and self._last[0] == key:
            _, folds, loads = self._last
            twins = folds == case.folds.mirrored() and not folds.is_symmetric
            if twins and loads.can_be_mirrored:
                return loads.mirrored()
        loads = self._engine(craft, case, grid).loads(case.folds)
        if not self.plan.errors:
            self._last = (key, case.folds, loads)
        return loads

    def sizes(self, craft: Biplane) -> tuple[Areas, Sizes]:
        """Areas of the wings and sizes of the tips, kept for the last craft."""
        if self._sized is None or self._sized[0] is not craft:
            cellule = build_cellule(craft, self.plan.grid)
            self._sized = (craft, wing_areas(cellule), tip_sizes(cellule))
        return self._sized[1:]

    def _values(self, craft: Biplane, loads: CraftLoads) -> dict[str, Any]:
        return evaluated(loads, self.state, *self.sizes(craft))


def solve_cases(craft: Biplane, plan: SweepPlan, cases: list[Case]) -> list[dict[str, Any]]:
    """Solve some cases of a plan, in order."""
    solver = CaseSolver(craft, plan)
    return [solver.solve(case) for case in cases]


def findings_of(results: list[dict[str, Any]]) -> list[Finding]:
    """All findings of solved cases."""
    return [finding for result in results for finding in result.get("findings", [])]
