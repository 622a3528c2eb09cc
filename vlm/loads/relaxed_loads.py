"""Loads with a wake that follows the flow, of one state: the yardstick for the straight wake.

Derivatives with angle of attack and sideslip are those of the relaxed wake, from four more states;
those with rates hold it. Derivatives with fold are left out.

The far-field plane of a wake that curls up is no place to count drag on a lattice's strips. The
induced drag is that of the forces on the wings, less what these err by with the straight wake,
where the far-field plane is exact:

    CDi = CDi_surface + (CDi - CDi_surface of the straight wake on the same lattice).        (15)
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from vlm.constants import Floats
from vlm.flow.direction import wake_direction
from vlm.flow.relaxed import ChainSizes, Relaxed, RelaxedWake, relaxed_flows
from vlm.flow.solve import UnitFlows, unit_flows
from vlm.flow.threads import algebra_threads
from vlm.flow.wake import trailing_rings
from vlm.lattice.lattice import Lattice
from vlm.loads.craft_loads import CraftLoads
from vlm.loads.farfield import WakeTrace, drag_tables, wake_trace
from vlm.loads.state import FlightState
from vlm.loads.surface import Basis, SurfaceTables, state_basis, surface_tables

STEP = float(np.radians(0.5))
"""Of the differences in angle of attack and sideslip, half of it to either side [rad]."""


@dataclass(frozen=True)
class RelaxedLoads(CraftLoads):
    """Loads of one state with a relaxed wake.

    Attributes
    ----------
    changes : largest change of a circulation in each iteration, over the largest circulation [1]
    converged : whether the last of them, in this state and in those beside it, is small enough
    sizes : how the wake was made
    """

    changes: tuple[float, ...]
    converged: bool
    sizes: ChainSizes

    @property
    def can_be_mirrored(self) -> bool:
        """No: the wake is that of one state."""
        return False


def relaxed_loads(
    lattice: Lattice,
    state: FlightState,
    *,
    sizes: ChainSizes | None = None,
    with_angles: bool = True,
) -> RelaxedLoads:
    """Solve a lattice with its wake relaxed at one state.

    Parameters
    ----------
    sizes : how the wake is made
    with_angles : whether derivatives with angle of attack and sideslip have the turn of the wake

    Raises
    ------
    ComputationFailed : the matrix is singular, does not fit into memory, or the wake runs away
    """
    sizes = sizes or ChainSizes()
    with algebra_threads():
        middle = _relaxed(lattice, state, sizes, None)
        basis = state_basis(lattice, _amounts(lattice, state))
        tables = surface_tables(middle.flows, fold_rates=False, basis=basis)
        rates, converged = dict[str, Floats](), middle.converged
        if with_angles:
            for name in ("alpha", "beta"):
                rates[name], both = _rate(lattice, state, sizes, middle, basis, name)
                converged = converged and both
        direction = _direction(state)
        trace = wake_trace(lattice, direction)
        return RelaxedLoads(
            lattice=lattice,
            circulation=middle.flows.circulation,
            surface=replace(tables, wrench_rates=rates),
            wake=middle.flows.wake,
            trace=trace,
            drag=_drag(lattice, state, middle.flows, tables, trace),
            condition=middle.flows.condition,
            kind="relaxed",
            changes=middle.changes,
            converged=converged,
            sizes=sizes,
        )


def _direction(state: FlightState) -> Floats:
    return wake_direction(float(state.alpha), float(state.beta))


def _amounts(lattice: Lattice, state: FlightState) -> Floats:
    return state.amounts(lattice.reference, 6 + len(lattice.bodies))


def _relaxed(
    lattice: Lattice, state: FlightState, sizes: ChainSizes, start: RelaxedWake | None
) -> Relaxed:
    amounts = _amounts(lattice, state)
    return relaxed_flows(lattice, _direction(state), amounts, sizes=sizes, start=start)


def _rate(
    lattice: Lattice,
    state: FlightState,
    sizes: ChainSizes,
    middle: Relaxed,
    basis: Basis,
    name: str,
) -> tuple[Floats, bool]:
    """Rate of the wrench table with one angle as the wake follows it, between the basis' flows."""
    found, converged = [], True
    assert isinstance(middle.flows.wake, RelaxedWake)
    for sign in (-0.5, 0.5):
        beside = replace(state, **{name: float(getattr(state, name)) + sign * STEP})
        relaxed = _relaxed(lattice, beside, sizes, middle.flows.wake)
        tables = surface_tables(relaxed.flows, fold_rates=False, basis=basis)
        found.append(tables.wrench)
        converged = converged and relaxed.converged
    rate = (found[1] - found[0]) / STEP
    return np.einsum("pabc,ai,bj->pijc", rate, basis.amounts, basis.amounts), converged


def _drag(
    lattice: Lattice,
    state: FlightState,
    flows: UnitFlows,
    tables: SurfaceTables,
    trace: WakeTrace,
) -> Floats:
    """Drag tables of the straight trace, scaled to equation (15)."""
    straight = unit_flows(lattice, direction=_direction(state))
    near = surface_tables(straight, fold_rates=False)
    amounts, wind = _amounts(lattice, state), state.wind()
    known: Mapping[str, Floats] = {
        "straight": drag_tables(lattice, trace, trailing_rings(lattice, straight.circulation)),
        "relaxed": drag_tables(lattice, trace, trailing_rings(lattice, flows.circulation)),
    }
    far = {name: float(amounts @ table.sum(axis=0) @ amounts) for name, table in known.items()}
    beside = [
        float(np.einsum("pabc,a,b,c->", t.wrench[..., :3], amounts, amounts, wind))
        for t in (tables, near)
    ]
    wanted = beside[0] + far["straight"] - beside[1]
    scale = wanted / far["relaxed"] if far["relaxed"] != 0.0 else 1.0
    return scale * known["relaxed"]
