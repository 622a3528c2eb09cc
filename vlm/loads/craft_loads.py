"""A craft's loads at one fold setting: tables once, any flight state after."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from vlm.flow.solve import UnitFlows, unit_flows
from vlm.flow.threads import algebra_threads
from vlm.lattice.lattice import Lattice
from vlm.lattice.reference import ReferenceFrame
from vlm.lattice.spacing import Floats
from vlm.loads.farfield import WakeTrace, drag_tables, strip_circulation, wake_trace
from vlm.loads.folding import wake_motion
from vlm.loads.state import FlightState
from vlm.loads.surface import SurfaceTables, surface_tables


@dataclass(frozen=True)
class CraftLoads:
    """Bilinear load tables of a craft at one fold setting.

    Attributes
    ----------
    lattice : the lattice
    circulation : shape (panels, columns), ring strengths in the unit flows [m^2/s per unit]
    surface : forces and moments of each patch and their rates with fold
    wake : the trace in the far-field plane
    drag : shape (patches, columns, columns), far-field drag, unit density
    direction : unit vector of the trailing legs
    condition : condition number of the matrix [1]
    wake_follows_stream : whether the legs run along the free stream of one state only
    """

    lattice: Lattice
    circulation: Floats
    surface: SurfaceTables
    wake: WakeTrace
    drag: Floats
    direction: Floats
    condition: float
    wake_follows_stream: bool = False

    @property
    def reference(self) -> ReferenceFrame:
        """Reference area, span, chord and moment point."""
        return self.lattice.reference

    @property
    def columns(self) -> int:
        """Number of unit flows."""
        return int(self.circulation.shape[1])

    @cached_property
    def total(self) -> Floats:
        """Wrench table of the whole craft, shape (columns, columns, 6)."""
        return np.asarray(self.surface.wrench.sum(axis=0))

    @cached_property
    def total_rates(self) -> Mapping[str, Floats]:
        """Rates of :attr:`total` by parameter."""
        return {name: rate.sum(axis=0) for name, rate in self.surface.wrench_rates.items()}

    @cached_property
    def total_drag(self) -> Floats:
        """Far-field drag table of the whole craft, shape (columns, columns)."""
        return np.asarray(self.drag.sum(axis=0))

    @cached_property
    def best_efficiency(self) -> float:
        """Best span efficiency any loading of this wake's shape can reach [1]."""
        return self.wake.best_efficiency(self.reference.span)


def craft_loads(lattice: Lattice, *, fold_rates: bool = True, use_mirror: bool = True) -> CraftLoads:
    """Solve a lattice with its wake along the craft's axis: all states from one solve.

    Raises
    ------
    ComputationFailed : the matrix is singular or does not fit into memory
    """
    with algebra_threads():
        flows = unit_flows(lattice, use_mirror=use_mirror)
        return _loads_of(flows, surface_tables(flows, fold_rates=fold_rates), follows=False)


def craft_loads_in_stream(
    lattice: Lattice, state: FlightState, *, fold_rates: bool = True
) -> CraftLoads:
    """Solve a lattice with its wake along the free stream of one state.

    Only that state may be asked of the result; the derivatives with angle of attack and
    sideslip hold the turn of the wake.
    """
    direction = np.array(state.wind())
    turns = {
        "alpha": wake_motion(lattice, state.alpha_rate(3)),
        "beta": wake_motion(lattice, state.beta_rate(3)),
    }
    with algebra_threads():
        flows = unit_flows(lattice, direction=direction, use_mirror=False)
        tables = surface_tables(flows, fold_rates=fold_rates, further_motions=turns)
        return _loads_of(flows, tables, follows=True)


def _loads_of(flows: UnitFlows, tables: SurfaceTables, *, follows: bool) -> CraftLoads:
    trace = wake_trace(flows.lattice, flows.direction)
    return CraftLoads(
        lattice=flows.lattice,
        circulation=flows.circulation,
        surface=tables,
        wake=trace,
        drag=drag_tables(flows.lattice, trace, strip_circulation(flows)),
        direction=flows.direction,
        condition=flows.condition,
        wake_follows_stream=follows,
    )

