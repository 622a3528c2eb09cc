"""A craft's loads at one fold setting: tables once, any flight state after.

Three kinds answer alike, through their tables: :class:`CraftLoads` for one direction of the wake,
:class:`StreamLoads` for a wake that follows the stream of every state, and
:class:`StatesLoads`, solved exactly for a few states.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache, cached_property, partial
from typing import Protocol, Self

import numpy as np

from vlm.constants import Floats
from vlm.flow.direction import CRAFT_AXIS, wake_direction, wake_turns
from vlm.flow.solve import Solvers, UnitFlows
from vlm.flow.threads import algebra_threads
from vlm.flow.wake import Wake, WakeShape, trailing_rings
from vlm.lattice.lattice import Lattice, mirrored_lattice
from vlm.lattice.reference import ReferenceFrame
from vlm.loads.angles import ANGLES, AngledTable, WhenAsked
from vlm.loads.farfield import WakeTrace, drag_tables, wake_trace
from vlm.loads.state import FlightState, WakeKind
from vlm.loads.surface import (
    Basis,
    SurfaceTables,
    motion_basis,
    reflected_columns,
    reflected_tables,
    state_basis,
    surface_tables,
    tables_of_wakes,
)
from vlm.sides import Side, across


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
    """What :class:`CraftLoads` and :class:`StreamLoads` have in common."""

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


class AngledLoads:
    """Loads with the wake along the stream of every state, held beyond the limits of the lattice.

    Tables at a few angles of the wake in the plane of symmetry are interpolated by polynomials;
    its turn with sideslip is that of first order.

    Attributes
    ----------
    lattice : the lattice at this setting
    shape : its wake but for the direction
    solutions : the solves that the tables rest on
    wrench : force and moment by patch, shape (patches, columns, columns, 6), over the angles
    drag, circulation, best : far-field drag by patch, the rings' circulation and the best span
        efficiency, likewise
    folds : rates of ``wrench`` with the fold of the "left" and "right" side, where known
    errors : half-widths of an interpolation between folds, see :class:`Loads`
    """

    lattice: Lattice
    shape: WakeShape
    solutions: tuple[CraftLoads, ...]
    wrench: AngledTable
    drag: AngledTable
    circulation: AngledTable
    best: AngledTable
    folds: Mapping[str, AngledTable]
    errors: Mapping[str, float]

    @property
    def reference(self) -> ReferenceFrame:
        """Reference area, span, chord and moment point."""
        return self.lattice.reference

    @property
    def columns(self) -> int:
        """Number of unit flows."""
        return int(self.wrench.nodes.shape[-2])

    @property
    def condition(self) -> float:
        """Largest condition number of the matrices [1]."""
        return max(node.condition for node in self.solutions)

    @property
    def can_be_mirrored(self) -> bool:
        """As :attr:`CraftLoads.can_be_mirrored`."""
        return self.solutions[0].can_be_mirrored

    def tables(self, state: FlightState) -> Tables:
        """Tables interpolated to the wakes of the given states."""
        alpha, beta = np.broadcast_arrays(state.alpha, state.beta)
        rates = WhenAsked(
            {name: partial(self._rate, name, alpha, beta) for name in ("alpha", "beta")}
            | {side: partial(table.at, alpha) for side, table in self.folds.items()}
        )
        circulation = self.circulation.at(alpha, beta)
        return Tables(
            wrench=self.wrench.at(alpha, beta),
            drag=self.drag.at(alpha),
            strips=circulation[..., self.lattice.trailing_panels(), :],
            best_efficiency=self.best.at(alpha),
            basis=Basis(np.eye(self.columns), np.ones(self.columns)),
            rates=rates,
        )

    def _rate(self, name: str, alpha: Floats, beta: Floats) -> Floats:
        return self.wrench.rates(alpha, beta)[name]

    def flow(self, alpha: float, beta: float) -> tuple[Wake, Floats]:
        """The wake of one state and the circulations, shape (panels, columns), with it."""
        wake = Wake(self.shape, wake_direction(alpha, beta))
        return wake, self.circulation.at(alpha, beta)


class StreamLoads(AngledLoads):
    """Loads solved at the wake's angles :data:`vlm.loads.angles.ANGLES`."""

    def __init__(
        self, nodes: tuple[CraftLoads, ...], turned: "Callable[[], StreamLoads] | None" = None
    ) -> None:
        """Join solutions, with their rates with "beta" or with a way to solve for those."""
        self.solutions, self._turned, self.errors = nodes, turned, {}
        self.lattice, self.shape = nodes[0].lattice, nodes[0].wake.shape
        tables = np.array([node.surface.wrench for node in nodes])
        self.wrench = AngledTable(tables, lambda: self._aside[0])
        self.drag = AngledTable(np.array([node.drag for node in nodes]))
        self.circulation = AngledTable(
            np.array([node.circulation for node in nodes]), lambda: self._aside[1]
        )
        self.best = AngledTable(np.array([node.best_efficiency for node in nodes]))
        self.folds = {
            side: AngledTable(np.array([self._padded(n.surface.wrench_rates[side]) for n in nodes]))
            for side in Side
            if side in nodes[0].surface.wrench_rates
        }

    @cached_property
    def _aside(self) -> tuple[Floats, Floats]:
        """Rates of wrench and circulation with the wake's turn with sideslip."""
        if self._turned is not None:
            return self._turned()._aside
        rates = [node.surface for node in self.solutions]
        return (
            np.array([self._padded(one.wrench_rates["beta"]) for one in rates]),
            np.array([self._all_columns(one.circulation_rates["beta"]) for one in rates]),
        )

    def _all_columns(self, flows: Floats) -> Floats:
        whole = np.zeros((len(flows), self.columns))
        whole[:, : flows.shape[1]] = flows
        return whole

    def _padded(self, table: Floats) -> Floats:
        flows = table.shape[-2]
        whole = np.zeros((len(table), self.columns, self.columns, 6))
        whole[:, :flows, :flows, :] = table
        return whole

    def mirrored(self) -> Self:
        """As :meth:`CraftLoads.mirrored`."""
        turned = self._turned
        image = None if turned is None else lambda: turned().mirrored()
        found = type(self)(tuple(node.mirrored() for node in self.solutions), image)
        found.errors = {_of_other_side(name): error for name, error in self.errors.items()}
        return found


def _of_other_side(name: str) -> str:
    """The name of a number of one side's tip, of the other side's."""
    for side in Side:
        if name.endswith(side):
            return name.removesuffix(side) + side.other
    return name


class StatesLoads:
    """Loads solved exactly for each of some states, the wake along the stream of each.

    Attributes
    ----------
    shape : of the states
    solutions : one a state, in C order
    """

    def __init__(self, shape: tuple[int, ...], each: Sequence[CraftLoads]) -> None:
        self.shape, self.solutions = shape, tuple(each)

    @property
    def lattice(self) -> Lattice:
        """The lattice at this setting."""
        return self.solutions[0].lattice

    @property
    def reference(self) -> ReferenceFrame:
        """Reference area, span, chord and moment point."""
        return self.lattice.reference

    @property
    def columns(self) -> int:
        """Number of unit flows."""
        return self.solutions[0].columns

    @property
    def condition(self) -> float:
        """Largest condition number of the matrices [1]."""
        return max(one.condition for one in self.solutions)

    @property
    def errors(self) -> Mapping[str, float]:
        """None: they are solved."""
        return {}

    @property
    def can_be_mirrored(self) -> bool:
        """Whether :meth:`mirrored` is the same craft in the same states."""
        return all(one.can_be_mirrored for one in self.solutions)

    def mirrored(self) -> Self:
        """As :meth:`CraftLoads.mirrored`."""
        return type(self)(self.shape, [one.mirrored() for one in self.solutions])

    def tables(self, state: FlightState) -> Tables:
        """The tables of the states that were solved; no others may be asked for."""
        if state.shape != self.shape:
            raise ValueError("these loads were solved for other states")
        tables = [one.tables(state) for one in self.solutions]
        flows = max(len(one.basis.sign) for one in tables)
        amounts = [_widened(one.basis.amounts, flows, (1,)) for one in tables]
        return Tables(
            wrench=self._stack([one.wrench for one in tables]),
            drag=self._stack([one.drag for one in tables]),
            strips=self._stack([one.strips for one in tables]),
            best_efficiency=self._stack([one.best_efficiency for one in tables]),
            basis=Basis(self._stack(amounts), np.ones(flows)),
            rates={
                name: self._stack([_widened(one.rates[name], flows, (1, 2)) for one in tables])
                for name in tables[0].rates
            },
        )

    def _stack(self, arrays: Sequence[Floats]) -> Floats:
        return np.reshape(np.array(arrays), self.shape + np.shape(arrays[0]))


def _widened(array: Floats, size: int, axes: tuple[int, ...]) -> Floats:
    """An array with zeros behind, so that some of its axes have a size."""
    more = [(0, size - n if axis in axes else 0) for axis, n in enumerate(array.shape)]
    return np.pad(array, more)


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
        return _loads_of(flows, surface_tables(flows, fold_rates=fold_rates), "craft")


def loads_of_state(
    lattice: Lattice,
    state: FlightState,
    *,
    fold_rates: bool = True,
    use_mirror: bool = True,
    solvers: Solvers | None = None,
) -> CraftLoads:
    """Solve a lattice with its wake along the stream of one state, exactly.

    Only that state may be asked of the result; its derivatives hold the turn of the wake.

    Parameters
    ----------
    solvers : the lattice's, where it was solved for another state already
    """
    solvers = solvers or Solvers(lattice, use_mirror=use_mirror)
    alpha, beta = float(state.alpha), float(state.beta)
    columns = 6 + len(lattice.bodies)
    with algebra_threads():
        flows = solvers.unit_flows(wake_direction(alpha, beta))
        tables = surface_tables(
            flows,
            fold_rates=fold_rates,
            turns=wake_turns(alpha, beta),
            basis=state_basis(lattice, state.amounts(lattice.reference, columns)),
        )
        return _loads_of(flows, tables, "stream")


def stream_loads(
    lattice: Lattice,
    *,
    fold_rates: bool = True,
    use_mirror: bool = True,
    sideslip: bool = True,
) -> StreamLoads:
    """Solve a lattice for all states, the wake along the stream of each.

    Parameters
    ----------
    sideslip : whether what sideslip changes is solved for now, at about half of the cost; else all
        is solved again where it is asked for

    Raises
    ------
    ComputationFailed : as :func:`craft_loads`
    """
    solvers = Solvers(lattice, use_mirror=use_mirror)
    with algebra_threads():
        solved = [solvers.unit_flows(direction_of_angle(float(angle))) for angle in ANGLES]
        tables = tables_of_wakes(
            solved,
            fold_rates=fold_rates,
            turns={"beta": np.array([0.0, -1.0, 0.0])} if sideslip else {},
            basis=motion_basis(lattice),
        )
        nodes = tuple(_loads_of(*one, "stream") for one in zip(solved, tables, strict=True))

    @cache
    def turned() -> StreamLoads:
        return stream_loads(lattice, fold_rates=False, use_mirror=use_mirror)

    return StreamLoads(nodes, None if sideslip else turned)


def direction_of_angle(angle: float) -> Floats:
    """Direction of a wake turned up by an angle [rad], shape (3,)."""
    return np.array([np.cos(angle), 0.0, np.sin(angle)])


def _loads_of(flows: UnitFlows, tables: SurfaceTables, kind: WakeKind) -> CraftLoads:
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
