"""What a finished chunk of a sweep must hold: its cases, their quantities, their shapes."""

from collections.abc import Sequence
from functools import cached_property
from typing import Any

import numpy as np

from vlm.description.folds import FoldAngles
from vlm.description.models import Biplane
from vlm.errors import FoldspanError
from vlm.lattice.cellule import FEWEST_STRIPS, Grid, build_cellule
from vlm.lattice.lattice import build_lattice
from vlm.loads.craft_loads import craft_loads
from vlm.loads.soundness import RESIDUAL_LIMIT
from vlm.study.point.evaluation import evaluated
from vlm.study.point.model_spread import spread_names
from vlm.study.point.sizes import surface_areas, tip_sizes
from vlm.study.sweep.plan import Case, SweepPlan

Values = dict[str, Any]
SINGLE = ("condition", "residual")
"""Quantities that a case has one of, whatever the number of states."""


class SweepContents:
    """What the chunks of a plan hold.

    Parameters
    ----------
    chunks : the cases of each chunk
    """

    def __init__(self, craft: Biplane, plan: SweepPlan, chunks: Sequence[Sequence[Case]]) -> None:
        self._craft, self._plan, self._chunks = craft, plan, chunks
        self._shape = len(plan.alphas_deg), len(plan.betas_deg)

    @cached_property
    def names(self) -> frozenset[str]:
        """Names of quantities that every case has, from the coarsest lattice there is.

        Empty where the craft cannot be computed flat, so that they are not known beforehand.
        """
        try:
            grid = Grid(1, FEWEST_STRIPS)
            cellule = build_cellule(self._craft, grid)
            loads = craft_loads(build_lattice(self._craft, FoldAngles(), grid))
            values = evaluated(
                loads, self._plan.state(), surface_areas(cellule), tip_sizes(cellule)
            )
        except FoldspanError:
            return frozenset()
        if not self._plan.errors:
            return frozenset(values) | set(SINGLE)
        errors = {f"{name}_error" for name in values}
        errors |= {f"{name}_spread" for name in spread_names(values)}
        return frozenset(values) | errors | set(SINGLE)

    def _names_of(self, case: Case) -> frozenset[str]:
        if case.errors:
            return self.names
        return frozenset(name for name in self.names if not name.endswith(("_error", "_spread")))

    def fits(self, index: int, results: list[Values]) -> bool:
        """Whether these can be the results of a chunk."""
        if not 0 <= index < len(self._chunks) or len(results) != len(self._chunks[index]):
            return False
        return all(map(self._case_fits, self._chunks[index], results))

    def _case_fits(self, case: Case, values: Values) -> bool:
        if "failure" in values:
            return set(values) == {"failure"}
        numbers = {name: value for name, value in values.items() if name != "findings"}
        if "findings" not in values or not self._names_of(case) <= set(numbers):
            return False
        for name, value in numbers.items():
            shape = () if name in SINGLE else self._shape
            if isinstance(value, str) or value.dtype.kind != "f" or value.shape != shape:
                return False
        return bool(np.all(np.abs(values["residual"]) <= RESIDUAL_LIMIT))
