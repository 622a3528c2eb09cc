"""Solving the cases of a sweep, one chunk at a time; the same numbers whatever the split."""

from collections import OrderedDict
from collections.abc import Sequence
from functools import lru_cache
from threading import RLock
from typing import Any

import numpy as np

from vlm.description.models import Biplane
from vlm.errors import FoldspanError
from vlm.findings import Finding
from vlm.flight.trim.condition import FlightConditions
from vlm.flow.threads import side_by_side
from vlm.lattice.cellule import Grid
from vlm.lattice.corners import other_corners
from vlm.loads.bending import incidence_step
from vlm.loads.craft_loads import Loads
from vlm.loads.fold_engine import FoldEngine
from vlm.loads.soundness import checked_residual
from vlm.study.point.blown_values import BlownSetting, with_changes
from vlm.study.point.errors import coarser, error_floors, half_widths
from vlm.study.point.evaluation import evaluated
from vlm.study.point.model_spread import model_spread
from vlm.study.point.sizes import surface_areas, tip_sizes
from vlm.study.point.slipstream import Slipstreams
from vlm.study.point.validity import (
    condition_findings,
    craft_warnings,
    setting_findings,
    value_findings,
)
from vlm.study.sweep.plan import Case, SweepPlan

KEPT_ENGINES = 4
Values = dict[str, Any]
EngineKey = tuple[tuple[tuple[str, float], ...], Grid, bool]


class CaseSolver:
    """Solves cases of one plan; keeps what cases share. May be used by several threads."""

    def __init__(self, craft: Biplane, plan: SweepPlan) -> None:
        self.craft, self.plan = craft, plan
        self._engines: OrderedDict[EngineKey, FoldEngine] = OrderedDict()
        self._lock = RLock()
        self.state = plan.state()
        self._slipstreams: dict[tuple[tuple[str, float], ...], Slipstreams] = {}

    def solve(self, unit: Sequence[Case]) -> list[Values]:
        """All values of each case of a unit by name, arrays (alpha, beta).

        A unit is one case, or two whose folds are mirror images: the second then costs no solve.
        A refused or failed case gives {"failure": reason} alone.
        """
        try:
            return self._solved(unit)
        except FoldspanError as error:
            if len(unit) > 1:  # each says what is wrong on its own side
                return [values for case in unit for values in self.solve([case])]
            # The file's name is none of the result's: the same craft may come from another file.
            return [{"failure": str(error).removeprefix(f"{self.craft.source_name}: ")}]

    def _solved(self, unit: Sequence[Case]) -> list[Values]:
        changes = dict(unit[0].changes)
        craft = self.craft.overridden(changes) if changes else self.craft
        found = self._unit_values(craft, unit, self.plan.grid)
        if self._has_errors(unit):
            rough = self._unit_values(craft, unit, coarser(self.plan.grid))
            for values, other in zip(found, rough, strict=True):
                floors, chord = values.pop("floors"), values.pop("chord")
                widths = half_widths(values, other, floors, self.plan.grid, chord)
                values |= {f"{name}_error": width for name, width in widths.items()}
        for values in found:
            ratio, step = values.pop("aspect_ratio"), values.pop("incidence_step")
            values["findings"] = values["findings"] + value_findings(
                values, _both_widths(values), ratio, step
            )
        return found

    def _has_errors(self, unit: Sequence[Case]) -> bool:
        return self.plan.errors and unit[0].errors

    def _unit_values(self, craft: Biplane, unit: Sequence[Case], grid: Grid) -> list[Values]:
        engine = self._engine(craft, unit[0], grid)
        first = engine.loads_for(unit[0].folds, self.state)
        of_craft = craft_warnings(engine.cellule)
        found = []
        for case in unit:
            loads = first
            if case is not unit[0]:
                mirrors = first.can_be_mirrored
                loads = first.mirrored() if mirrors else engine.loads_for(case.folds, self.state)
            sizes = surface_areas(engine.cellule), tip_sizes(engine.cellule)
            values = evaluated(loads, self.state, *sizes)
            values["condition"] = np.float64(loads.condition)
            values["residual"] = np.float64(checked_residual(loads))
            if grid == self.plan.grid:
                values["findings"] = [
                    *setting_findings(loads.lattice, self.state, self.plan.wake),
                    *of_craft,
                    *condition_findings(loads),
                ]
                values["aspect_ratio"] = loads.reference.aspect_ratio
                values["incidence_step"] = incidence_step(loads.lattice)
            if self._has_errors(unit) and grid == self.plan.grid:
                values["floors"] = error_floors(loads, self.state, values, *sizes)
                values["chord"] = loads.reference.chord
                spread = self._spread(craft, case, loads, values)
                values |= {f"{name}_spread": width for name, width in spread.items()}
            if self.plan.thrust is not None:
                values |= self._blown(craft, case, engine, values)
            found.append(values)
        return found

    def _blown(self, craft: Biplane, case: Case, engine: FoldEngine, values: Values) -> Values:
        """The values with the rotors' slipstream."""
        with self._lock:
            if case.changes not in self._slipstreams:
                conditions = FlightConditions(craft, self.plan.density)
                self._slipstreams[case.changes] = Slipstreams(craft, self.plan.thrust, conditions)
            thrusts = self._slipstreams[case.changes].thrusts(case.folds, self.plan.airspeed)
        setting = BlownSetting(craft, case.folds, engine.grid, thrusts)
        sizes = surface_areas(engine.cellule), tip_sizes(engine.cellule)
        changes = setting.changes(self.state, *sizes)
        reference = engine.cellule.reference
        point = float(reference.moment_point[0])
        known = {name: values[name] for name in changes if name in values}
        found = with_changes(known, changes, reference.chord, point)
        return found | {"slipstream_thrust_N": np.full(self.state.shape, thrusts.sum())}

    def _spread(self, craft: Biplane, case: Case, loads: Loads, values: Values) -> dict[str, Any]:
        """What the model leaves open, open or closed corners included."""
        others = []
        for other in other_corners(craft, loads.lattice):
            engine = FoldEngine(other, loads.lattice.grid, wake=self.plan.wake)
            try:
                apart = engine.loads_for(case.folds, self.state)
            except FoldspanError:
                continue  # its tips would not pass
            sizes = surface_areas(engine.cellule), tip_sizes(engine.cellule)
            others.append(evaluated(apart, self.state, *sizes))
        beside = ("floors", "chord", "aspect_ratio", "incidence_step", "findings")
        plain = {name: value for name, value in values.items() if name not in beside}
        return model_spread(loads, self.state, plain, others)

    def _engine(self, craft: Biplane, case: Case, grid: Grid) -> FoldEngine:
        key = (case.changes, grid, case.fold_rates)
        with self._lock:
            if key not in self._engines:
                while len(self._engines) >= KEPT_ENGINES:
                    self._engines.popitem(last=False)
                self._engines[key] = FoldEngine(
                    craft, grid, fold_rates=case.fold_rates, wake=self.plan.wake
                )
            return self._engines[key]


def _both_widths(values: Values) -> Values:
    """Error of the lattice and spread of the model together, by quantity."""
    return {
        name: values[f"{name}_error"] + values.get(f"{name}_spread", 0.0)
        for name in values
        if f"{name}_error" in values
    }


@lru_cache(maxsize=1)
def solver_of(craft: Biplane, plan: SweepPlan, _digest: str) -> CaseSolver:
    """The solver of a plan: one for all chunks that a process works on.

    Craft that are equal may still name mean lines that are not; the digest tells them apart.
    """
    return CaseSolver(craft, plan)


def units_of(cases: Sequence[Case]) -> list[list[Case]]:
    """Cases in units: neighbours whose folds are mirror images go together."""
    units: list[list[Case]] = []
    for case in cases:
        last = units[-1] if units else []
        images = len(last) == 1 and last[0].changes == case.changes
        if images and not case.folds.is_symmetric and last[0].folds == case.folds.mirrored():
            last.append(case)
        else:
            units.append([case])
    return units


def solve_cases(craft: Biplane, plan: SweepPlan, cases: Sequence[Case]) -> list[Values]:
    """Solve some cases of a plan, in order.

    Units run side by side, one on each kernel thread of the process: that uses the processors
    better than splitting each small case over them.
    """
    solver = solver_of(craft, plan, plan.digest(craft))
    with side_by_side() as run:
        return [values for found in run(solver.solve, units_of(cases)) for values in found]


def findings_of(results: list[Values]) -> list[Finding]:
    """All findings of solved cases."""
    return [finding for result in results for finding in result.get("findings", [])]
