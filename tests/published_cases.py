"""Cases of the published checks: the only place where the checks meet the package.

A case is a table: wings by shape (or a whole craft in the keys of the geometry file), folds, a
flight state and a lattice. A quantity is a function of a solved case.
"""

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cached_property, lru_cache
from importlib import import_module
from pathlib import Path
from typing import Any

import numpy as np
from published_wings import wing_table

from vlm.description.folds import FoldAngles
from vlm.description.loading import validated
from vlm.description.models import Biplane, Source
from vlm.flow.direction import CRAFT_AXIS
from vlm.lattice.cellule import Grid, build_cellule
from vlm.lattice.lattice import Lattice, folded
from vlm.loads.coefficients import Coefficients, coefficients, derivatives
from vlm.loads.craft_loads import CraftLoads, craft_loads, loads_of_state
from vlm.loads.farfield import WakeTrace, wake_trace
from vlm.loads.parts import StripLoad, strip_loads
from vlm.loads.state import FlightState

DATA = Path(__file__).parent / "published" / "data"
LATTICE = {"rows": 9, "strips": 36}
EXTRAPOLATED = (1.0, 2.0 / 3.0, 4.0 / 9.0)
Table = Mapping[str, Any]
Quantity = Callable[["Solved", Table], float]
QUANTITIES: dict[str, Quantity] = {}


@dataclass(frozen=True)
class Solved:
    """A case on one lattice. Only what a quantity asks for is solved."""

    case: Table
    grid: Grid

    @cached_property
    def craft(self) -> Biplane:
        """The description."""
        return craft_of(self.case)

    @cached_property
    def lattice(self) -> Lattice:
        """The lattice at the case's fold."""
        fold = float(self.case.get("fold_deg", 0.0))
        angles = FoldAngles(
            float(self.case.get("left_deg", fold)), float(self.case.get("right_deg", fold))
        )
        return folded(self.cellule, self.craft, angles)

    @cached_property
    def cellule(self):
        """The flat panels."""
        return build_cellule(self.craft, self.grid)

    @cached_property
    def state(self) -> FlightState:
        """The flight state, angle of attack 0 unless given."""
        return FlightState(
            alpha=np.radians(self.case.get("alpha_deg", 0.0)),
            beta=np.radians(self.case.get("beta_deg", 0.0)),
            airspeed=1.0,
            density=1.0,
        )

    @cached_property
    def loads(self) -> CraftLoads:
        """Load tables."""
        if self.case.get("wake", "craft") == "stream":
            return loads_of_state(self.lattice, self.state, fold_rates=False)
        return craft_loads(self.lattice, fold_rates=False)

    @cached_property
    def coefficients(self) -> Coefficients:
        """Coefficients at the state."""
        return coefficients(self.loads, self.state)

    @cached_property
    def slopes(self) -> dict[str, dict[str, float]]:
        """Derivatives at the state."""
        return derivatives(self.loads, self.state)

    @cached_property
    def strips(self) -> list[StripLoad]:
        """Strips at the state."""
        return strip_loads(self.loads, self.state)

    @cached_property
    def trace(self) -> WakeTrace:
        """The wake in the far-field plane."""
        return wake_trace(self.lattice, CRAFT_AXIS)

    @cached_property
    def trace_points(self) -> np.ndarray:
        """Control stations of the trace, shape (strips, 3)."""
        return np.concatenate([p.trailing_stations() for p in self.lattice.patches])

    def strips_on(self, wing: str) -> np.ndarray:
        """Which strips of the trace belong to a wing."""
        return np.array(
            [self.lattice.patches[i].wing == wing for i in self.trace.patch_of_strip], dtype=bool
        )


def craft_of(case: Table) -> Biplane:
    """The craft a case describes."""
    if "craft" in case:
        tables = dict(case["craft"])
    else:
        tables = {"upper": wing_table(case["upper"])}
        if "lower" in case:
            tables["lower"] = wing_table(case["lower"])
            tables["arrangement"] = {
                "gap_m": float(case["gap_m"]),
                "stagger_m": float(case.get("stagger_m", 0.0)),
            }
        if "reference" in case:
            tables["reference"] = case["reference"]
    tables.setdefault("title", "A case of the published checks")
    return validated(tables, Source("published check", "", DATA))


def grid_of(case: Table, share: float = 1.0) -> Grid:
    """The lattice a case asks for, coarser by ``share`` both ways."""
    return Grid(
        rows=max(1, round(share * case.get("rows", LATTICE["rows"]))),
        strips=max(3, round(share * case.get("strips", LATTICE["strips"]))),
        span_law=case.get("span_law", "cosine"),
        chord_law=case.get("chord_law", "gauss"),
    )


@lru_cache(maxsize=256)
def _solved(text: str, share: float) -> Solved:
    case = json.loads(text)
    return Solved(case, grid_of(case, share))


def solved(case: Table, share: float = 1.0) -> Solved:
    """A case on its lattice; cases already met are kept."""
    return _solved(json.dumps(case, sort_keys=True), share)


def extrapolated(values: tuple[float, float, float], ratio: float = 1.5) -> float:
    """The limit of values on three lattices, finest first, each coarser by ``ratio`` both ways.

    Richardson's extrapolation with the observed order, held between 1 and 4; where the values do
    not approach each other, the finest one is the answer.
    """
    fine, middle, rough = values
    step, before = fine - middle, middle - rough
    if step == 0.0 or before / step <= 1.0:
        return fine
    order = float(np.clip(np.log(before / step) / np.log(ratio), 1.0, 4.0))
    return fine + step / (ratio**order - 1.0)


def quantity(function: Quantity) -> Quantity:
    """Enter a function in the table of quantities under its own name."""
    QUANTITIES[function.__name__] = function
    return function


def value_of(case: Table, quantity: str, arguments: Table) -> float:
    """A quantity of a case, extrapolated from three lattices where the case asks for it."""
    for module in ("published_quantities", "published_traces"):
        import_module(module)  # they enter their quantities in the table
    measure = QUANTITIES[quantity]
    if not case.get("extrapolate", False):
        return measure(solved(case), arguments)
    fine, middle, rough = (measure(solved(case, share), arguments) for share in EXTRAPOLATED)
    return extrapolated((fine, middle, rough))
