"""A craft's loads at one fold setting: tables once, any flight state after."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from vlm.constants import Floats
from vlm.flow.solve import UnitFlows, unit_flows
from vlm.flow.threads import algebra_threads
from vlm.lattice.lattice import Lattice, mirrored_lattice
from vlm.lattice.reference import ReferenceFrame
from vlm.loads.farfield import WakeTrace, bound_totals, drag_tables, wake_trace
from vlm.loads.folding import wake_motion
from vlm.loads.state import FlightState
from vlm.loads.surface import (
    OTHER_SIDE,
    SurfaceTables,
    reflected_columns,
    reflected_tables,
    surface_tables,
)


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

    @property
    def can_be_mirrored(self) -> bool:
        """Whether :meth:`mirrored` is the same craft: moments about a point in its middle plane."""
        return float(self.reference.moment_point[1]) == 0.0

    def mirrored(self) -> "CraftLoads":
        """Loads of the mirror image: port and starboard folds exchanged, nothing solved anew.

        Raises
        ------
        ValueError : the moment point lies off the plane of symmetry
        """
        if not self.can_be_mirrored:
            raise ValueError("a craft with its moment point off the middle has no mirror image")
        lattice = mirrored_lattice(self.lattice)
        surface = SurfaceTables(
            wrench=_swapped_patches(reflected_tables(self.lattice, self.surface.wrench)),
            wrench_rates={
                OTHER_SIDE[side]: _swapped_patches(reflected_tables(self.lattice, rate))
                for side, rate in self.surface.wrench_rates.items()
            },
            circulation_rates={
                OTHER_SIDE[side]: reflected_columns(self.lattice, rate)
                for side, rate in self.surface.circulation_rates.items()
            },
        )
        circulation = reflected_columns(self.lattice, self.circulation)
        trace = wake_trace(lattice, self.direction)
        return replace(
            self,
            lattice=lattice,
            circulation=circulation,
            surface=surface,
            wake=trace,
            drag=drag_tables(lattice, trace, bound_totals(lattice, circulation)),
        )

    @cached_property
    def best_efficiency(self) -> float:
        """Best span efficiency any loading of this wake's shape can reach [1]."""
        return self.wake.best_efficiency(self.reference.span)


def _swapped_patches(tables: Floats) -> Floats:
    half = len(tables) // 2
    return np.concatenate([tables[half:], tables[:half]])


def craft_loads(
    lattice: Lattice, *, fold_rates: bool = True, use_mirror: bool = True
) -> CraftLoads:
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
        drag=drag_tables(flows.lattice, trace, bound_totals(flows.lattice, flows.circulation)),
        direction=flows.direction,
        condition=flows.condition,
        wake_follows_stream=follows,
    )
