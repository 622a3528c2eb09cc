"""Loads of a craft at one fold setting for many directions of the wake.

:class:`StreamLoads` answer for any state, the wake along its stream; :class:`StatesLoads` are
solved exactly for a few states.
"""

from collections.abc import Callable, Mapping, Sequence
from functools import cache, cached_property, partial
from typing import Self

import numpy as np

from vlm.constants import Floats
from vlm.flow.direction import wake_direction
from vlm.flow.solve import Solvers
from vlm.flow.threads import algebra_threads
from vlm.flow.wake import Wake
from vlm.flow.wake_shape import WakeShape
from vlm.lattice.lattice import Lattice
from vlm.lattice.reference import ReferenceFrame
from vlm.loads.angles import ANGLES, AngledTable, WhenAsked
from vlm.loads.craft_loads import CraftLoads, Tables, loads_of_flows
from vlm.loads.state import FlightState
from vlm.loads.surface import (
    Basis,
    motion_basis,
    tables_of_wakes,
)
from vlm.sides import Side, across


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
        found.errors = {across(name): error for name, error in self.errors.items()}
        return found


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
        turns = {"beta": np.array([0.0, -1.0, 0.0])} if sideslip else {}
        tables = tables_of_wakes(
            solved,
            [turns] * len(solved),
            [motion_basis(lattice)] * len(solved),
            fold_rates=fold_rates,
        )
        nodes = tuple(loads_of_flows(*one, "stream") for one in zip(solved, tables, strict=True))

    @cache
    def turned() -> StreamLoads:
        return stream_loads(lattice, fold_rates=False, use_mirror=use_mirror)

    return StreamLoads(nodes, None if sideslip else turned)


def direction_of_angle(angle: float) -> Floats:
    """Direction of a wake turned up by an angle [rad], shape (3,)."""
    return np.array([np.cos(angle), 0.0, np.sin(angle)])
