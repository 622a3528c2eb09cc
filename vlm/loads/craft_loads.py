"""A craft's loads at one fold setting and one direction of the wake, and what all loads answer.

Three kinds answer alike, through their tables: :class:`CraftLoads` for one direction of the wake,
and of :mod:`vlm.loads.many_wakes` those for a wake that follows the stream of every state and those
solved exactly for a few states.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Protocol, Self

import numpy as np

from vlm.constants import Floats
from vlm.flow.direction import CRAFT_AXIS, wake_direction, wake_turns
from vlm.flow.solve import Solvers, UnitFlows
from vlm.flow.threads import algebra_threads
from vlm.flow.wake import Wake, trailing_rings
from vlm.flow.wake_shape import WakeShape
from vlm.lattice.lattice import Lattice, mirrored_lattice
from vlm.lattice.reference import ReferenceFrame
from vlm.loads.angles import AngledTable
from vlm.loads.farfield import WakeTrace, drag_tables, wake_trace
from vlm.loads.state import FlightState, WakeKind
from vlm.loads.surface import (
    Basis,
    SurfaceTables,
    reflected_columns,
    reflected_tables,
    state_basis,
    surface_tables,
    tables_of_wakes,
)
from vlm.sides import across


@dataclass(frozen=True)
class Tables:
    """Bilinear tables for the wakes of some states; all may have the states' shape in front.

    Attributes
    ----------
    wrench : shape (..., patches, columns, columns, 6), force and moment about the moment point,
        geometry axes, unit density
    drag : shape (..., patches, columns, columns), far-field drag, unit density
    strips : shape (..., strips, columns), circulation at the trailing edge [m^2/s per unit]
    best_efficiency : shape (...), best span efficiency that any loading of this wake can reach [1]
    basis : flows of the rates
    rates : by parameter, rate of ``wrench`` between the flows of the basis: with the fold of the
        "left" and "right" side where it has one, with "alpha" and "beta" where the wake turns
    """

    wrench: Floats
    drag: Floats
    strips: Floats
    best_efficiency: Floats
    basis: Basis
    rates: Mapping[str, Floats]

    @cached_property
    def total(self) -> Floats:
        """Wrench table of the whole craft, shape (..., columns, columns, 6)."""
        return np.asarray(self.wrench.sum(axis=-4))

    @cached_property
    def total_drag(self) -> Floats:
        """Far-field drag table of the whole craft, shape (..., columns, columns)."""
        return np.asarray(self.drag.sum(axis=-3))


class Loads(Protocol):
    """What loads have in common, of one wake or of many."""

    @property
    def lattice(self) -> Lattice:
        """The lattice at this setting."""

    @property
    def reference(self) -> ReferenceFrame:
        """Reference area, span, chord and moment point."""

    @property
    def columns(self) -> int:
        """Number of unit flows."""

    @property
    def solutions(self) -> "tuple[CraftLoads, ...]":
        """The solves that they rest on."""

    @property
    def condition(self) -> float:
        """Largest condition number of the matrices [1]."""

    @property
    def errors(self) -> Mapping[str, float]:
        """Half-widths of an interpolation between folds, or between angles of the wake of a craft
        with fins, by coefficient and derivative; of the
        moment about each tip's hinge per rho U^2 as "hinge_moment_TIP" [m^3]. None where solved."""

    @property
    def can_be_mirrored(self) -> bool:
        """Whether :meth:`mirrored` is the same craft."""

    def mirrored(self) -> "Loads":
        """Loads of the mirror image: port and starboard folds exchanged."""

    def tables(self, state: FlightState) -> Tables:
        """Tables for the wakes of the given states."""


class GeneralLoads(Loads, Protocol):
    """Loads that answer for any state."""

    @property
    def wrench(self) -> AngledTable:
        """Force and moment by patch, shape (patches, columns, columns, 6)."""

    def flow(self, alpha: float, beta: float) -> tuple[Wake, Floats]:
        """The wake of one state, angles in radians, and the circulations with it."""

    def mirrored(self) -> "GeneralLoads":
        """Loads of the mirror image: port and starboard folds exchanged."""


@dataclass(frozen=True)
class CraftLoads:
    """Bilinear load tables of a craft at one fold setting and one direction of the wake.

    Attributes
    ----------
    lattice : the lattice
    circulation : shape (panels, columns), ring strengths in the unit flows [m^2/s per unit]
    surface : forces and moments of each patch and their rates
    wake : the wake
    trace : its trace in the far-field plane
    drag : shape (patches, columns, columns), far-field drag, unit density
    condition : condition number of the matrix [1]
    kind : whether the wake lies along the craft's axis or along the stream of one state
    """

    lattice: Lattice
    circulation: Floats
    surface: SurfaceTables
    wake: Wake
    trace: WakeTrace
    drag: Floats
    condition: float
    kind: WakeKind

    @property
    def reference(self) -> ReferenceFrame:
        """Reference area, span, chord and moment point."""
        return self.lattice.reference

    @property
    def columns(self) -> int:
        """Number of unit flows."""
        return int(self.circulation.shape[1])

    @property
    def solutions(self) -> "tuple[CraftLoads, ...]":
        """This one alone."""
        return (self,)

    @property
    def errors(self) -> Mapping[str, float]:
        """None: it is solved."""
        return {}

    @property
    def direction(self) -> Floats:
        """Unit vector of the wake's straight legs, shape (3,)."""
        return self.wake.direction

    @cached_property
    def _tables(self) -> Tables:
        return Tables(
            wrench=self.surface.wrench,
            drag=self.drag,
            strips=trailing_rings(self.lattice, self.circulation),
            best_efficiency=np.asarray(self.trace.best_efficiency(self.reference.span)),
            basis=self.surface.basis,
            rates=self.surface.wrench_rates,
        )

    def tables(self, state: FlightState) -> Tables:  # noqa: ARG002
        """The tables, whatever the state."""
        return self._tables

    @property
    def wrench(self) -> AngledTable:
        """Force and moment by patch, the same at all angles."""
        return AngledTable(self.surface.wrench[None])

    def flow(self, alpha: float, beta: float) -> tuple[Wake, Floats]:  # noqa: ARG002
        """The wake and the circulations, whatever the state."""
        return self.wake, self.circulation

    @property
    def total(self) -> Floats:
        """Wrench table of the whole craft, shape (columns, columns, 6)."""
        return self._tables.total

    @property
    def total_drag(self) -> Floats:
        """Far-field drag table of the whole craft, shape (columns, columns)."""
        return self._tables.total_drag

    @property
    def best_efficiency(self) -> float:
        """Best span efficiency any loading of this wake's shape can reach [1]."""
        return float(self._tables.best_efficiency)

    @property
    def can_be_mirrored(self) -> bool:
        """Whether :meth:`mirrored` is the same craft: moments about a point in its middle plane."""
        return float(self.reference.moment_point[1]) == 0.0 and float(self.direction[1]) == 0.0

    def mirrored(self) -> Self:
        """Loads of the mirror image: port and starboard folds exchanged, nothing solved again.

        Raises
        ------
        ValueError : the moment point, or the wake, lies off the plane of symmetry
        """
        if not self.can_be_mirrored:
            raise ValueError("a craft with its moment point off the middle has no mirror image")
        lattice = mirrored_lattice(self.lattice)
        basis = self.surface.basis
        signs = {name: -1.0 if name == "beta" else 1.0 for name in self.surface.wrench_rates}
        flows = basis.sign[:, None, None] * basis.sign[:, None]
        wrench_sign = np.array([1.0, -1.0, 1.0, -1.0, 1.0, -1.0])
        surface = SurfaceTables(
            wrench=_swapped_patches(reflected_tables(self.lattice, self.surface.wrench)),
            basis=basis,
            wrench_rates={
                across(name): signs[name] * _swapped_patches(rate * flows * wrench_sign)
                for name, rate in self.surface.wrench_rates.items()
            },
            circulation_rates={
                across(name): signs[name] * basis.sign * _swapped_patches(rate)
                for name, rate in self.surface.circulation_rates.items()
            },
        )
        circulation = reflected_columns(self.lattice, self.circulation)
        wake = Wake(WakeShape(lattice), self.direction)
        trace = wake_trace(lattice, self.direction, wake.leg_starts)
        return replace(
            self,
            lattice=lattice,
            circulation=circulation,
            surface=surface,
            wake=wake,
            trace=trace,
            drag=drag_tables(lattice, trace, trailing_rings(lattice, circulation)),
        )


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
        flows = Solvers(lattice, use_mirror=use_mirror).unit_flows(CRAFT_AXIS)
        return loads_of_flows(flows, surface_tables(flows, fold_rates=fold_rates), "craft")


def loads_of_state(
    lattice: Lattice, state: FlightState, *, fold_rates: bool = True, use_mirror: bool = True
) -> CraftLoads:
    """Solve a lattice with its wake along the stream of one state, exactly.

    Only that state may be asked of the result; its derivatives hold the turn of the wake.

    Raises
    ------
    ComputationFailed : as :func:`craft_loads`
    """
    solvers = Solvers(lattice, use_mirror=use_mirror)
    return loads_of_states(solvers, [state], fold_rates=fold_rates)[0]


def loads_of_states(
    solvers: Solvers, states: Sequence[FlightState], *, fold_rates: bool = True
) -> list[CraftLoads]:
    """:func:`loads_of_state` of some states, with all work shared.

    Parameters
    ----------
    states : of one number each
    """
    lattice = solvers.lattice
    columns = 6 + len(lattice.bodies)
    with algebra_threads():
        angles = [(float(state.alpha), float(state.beta)) for state in states]
        solved = [solvers.unit_flows(wake_direction(*one)) for one in angles]
        turns = [wake_turns(*one) for one in angles]
        bases = [state_basis(lattice, s.amounts(lattice.reference, columns)) for s in states]
        found: dict[int, CraftLoads] = {}
        for mirrored in (True, False):
            own = [i for i, flows in enumerate(solved) if flows.mirrored is mirrored]
            if own:
                tables = tables_of_wakes(
                    [solved[i] for i in own], [turns[i] for i in own], [bases[i] for i in own],
                    fold_rates=fold_rates,
                )  # fmt: skip
                found |= {
                    i: loads_of_flows(solved[i], table, "stream")
                    for i, table in zip(own, tables, strict=True)
                }
        return [found[i] for i in range(len(states))]


def loads_of_flows(flows: UnitFlows, tables: SurfaceTables, kind: WakeKind) -> CraftLoads:
    """Loads of unit flows that are solved, with the tables on the surface."""
    trace = wake_trace(flows.lattice, flows.wake.direction, flows.wake.leg_starts)
    strips = trailing_rings(flows.lattice, flows.circulation)
    return CraftLoads(
        lattice=flows.lattice,
        circulation=flows.circulation,
        surface=tables,
        wake=flows.wake,
        trace=trace,
        drag=drag_tables(flows.lattice, trace, strips),
        condition=flows.condition,
        kind=kind,
    )
