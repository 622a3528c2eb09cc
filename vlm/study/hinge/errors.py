"""Half-widths of moments about the hinges and of wing loads, in level flight or a pull-up."""

from collections.abc import Sequence

import numpy as np

from vlm.constants import Floats
from vlm.flight.craft.folded_craft import FoldedCraft
from vlm.flight.craft.level import LevelFlight
from vlm.flight.craft.model_spread import corner_spread
from vlm.flight.craft.stalled import left_open, stalled_hinges
from vlm.flight.mechanism.wing_bending import (
    HalfWing,
    root_loads,
    root_sizes,
    wing_bending,
    with_beside,
)
from vlm.lattice.cellule import Cellule
from vlm.loads.all_sizes import hinge_sizes
from vlm.loads.model_spread import ALONG_WINGS, HINGE, spread_scale, wake_spread
from vlm.loads.state import FlightState
from vlm.sides import wing_and_side
from vlm.study.point.errors import floors_of, half_width, half_widths
from vlm.study.point.sizes import tip_sizes


def hinge_half_widths(
    craft: FoldedCraft, rough: FoldedCraft, cellule: Cellule, flight: LevelFlight,
    roll_rate: float = 0.0,
) -> dict[str, float]:  # fmt: skip
    """Half-width of the air's moment about every hinge, lattice and model together [N m].

    Parameters
    ----------
    craft, rough : at one fold, on the lattice and on a coarser one
    cellule : the craft's wings
    flight : whose angle of attack and airspeed count
    roll_rate : of a steady roll in which strips may be past stall too [rad/s]
    """
    motion, grid = flight.motion, cellule.grid

    def moments(one: FoldedCraft) -> Floats:
        tables = one.hinge_tables.values()
        return np.array([flight.density * motion @ t.at(flight.alpha) @ motion for t in tables])

    sizes, bodies = tip_sizes(cellule), list(craft.hinge_tables)
    of_one = np.array([np.prod(sizes[wing_and_side(body)[0]]) for body in bodies])
    state = FlightState(alpha=flight.alpha, airspeed=flight.airspeed, density=flight.density)
    allowed = float(wake_spread(craft.loads, state)[HINGE])
    missed = np.array([craft.loads.errors.get(f"hinge_moment_{body}", 0.0) for body in bodies])
    names = [f"hinge_moment_{body}_N_m" for body in bodies]
    magnitudes = hinge_sizes(craft.loads, state, sizes)
    lattice = half_widths(
        dict(zip(names, moments(craft), strict=True)),
        dict(zip(names, moments(rough), strict=True)),
        floors_of(craft.loads, {name: magnitudes[name] for name in names}),
        grid,
    )
    width = (
        np.array([lattice[name] for name in names])
        + missed * 2.0 * flight.dynamic_pressure
        + allowed * flight.dynamic_pressure * of_one
        + corner_spread(craft, moments)
        + stalled_hinges(craft, flight, roll_rate)
    )
    return dict(zip(bodies, width.tolist(), strict=True))


def wing_half_widths(
    craft: FoldedCraft, rough: FoldedCraft, flight: LevelFlight,
    halves: Sequence[HalfWing], changes: Sequence[HalfWing],
) -> Floats:  # fmt: skip
    """Half-widths of the wing loads of every half wing, as of ``root_loads``, shape (halves, 3).

    NaN at the hinge of a wing without one.

    Parameters
    ----------
    craft, rough : at one fold, on the lattice and on a coarser one
    halves : loads by the lattice alone
    changes : what sections change in them; none without sections
    """

    def loads(one: FoldedCraft) -> Floats:
        return root_loads(wing_bending(one, flight))

    known, sizes = root_loads(halves), root_sizes(halves)
    state = FlightState(alpha=flight.alpha, airspeed=flight.airspeed, density=flight.density)
    shares = np.array(list(ALONG_WINGS.values()))
    wake = float(spread_scale(craft.loads, state)) * shares * with_beside(sizes)
    stalled = np.zeros_like(known)
    if changes:
        stalled = np.vectorize(left_open)(flight.stall_margin, root_loads(changes))
    lattice = half_width(known, loads(rough), sizes, craft.loads.lattice.grid)
    return np.asarray(lattice + wake + corner_spread(craft, loads) + stalled)
