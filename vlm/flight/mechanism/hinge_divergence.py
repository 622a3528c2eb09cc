"""The airspeed at which the air turns a tip further than its hinge can hold it.

With one freedom a side, the commanded fold and what the hinge gives way, the air's moment changes
with both sides' folds by the matrix J; gear and hinge resist with the stiffness K. The fold is
held while every eigenvalue of J stays below K:

    det(J(U) - K) = 0   at the airspeed of divergence                                   (1)

J is exact, from the rates of the load tables, at the angle of attack of level flight.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from vlm.constants import Floats
from vlm.flight.craft.crossing import crossing
from vlm.loads.coefficients import contracted
from vlm.loads.craft_loads import Loads
from vlm.loads.parts import about_hinges
from vlm.loads.state import FlightState
from vlm.sides import Side, on_side, wing_and_side

SIDES = tuple(Side)


def hinge_rates(loads: Loads, alpha: float, airspeed: float, density: float) -> Floats | None:
    """Rate of each side's hinge moment with each side's fold, shape (2, 2) [N m/rad].

    Order left, right; tips of one side together, each by its linkage. None where a fold has no
    derivative (a joined tip).
    """
    state = FlightState(alpha=alpha)
    tables = loads.tables(state)
    if any(side not in tables.rates for side in SIDES):
        return None
    shares = tables.basis.shares(state.amounts(loads.reference, loads.columns))
    lattice = loads.lattice
    rates = np.zeros((2, 2))
    for j, turned in enumerate(SIDES):
        wrench = contracted(tables.rates[turned], shares, shares)
        for body, moment in about_hinges(lattice, wrench).items():
            i = SIDES.index(wing_and_side(body)[1])
            rates[i, j] += lattice.fold_rates[body] * float(moment)
    return density * airspeed**2 * rates


def side_stiffness(loads: Loads, stiffness: float) -> float:
    """Stiffness about one side's commanded fold, of tips in parallel [N m/rad]."""
    linkage = loads.lattice.fold_rates
    return stiffness * sum(linkage[body] ** 2 for body in on_side(linkage, Side.STARBOARD))


@dataclass(frozen=True)
class Divergence:
    """Whether and when the hinges give way.

    Attributes
    ----------
    airspeed : of divergence; None where none was found up to ``searched`` [m/s]
    searched : highest airspeed looked at [m/s]
    symmetric : whether both tips go the same way
    turning : change of a side's moment with the diverging fold at ``searched`` or at divergence,
        negative where the air holds the tip back [N m/rad]
    """

    airspeed: float | None
    searched: float
    symmetric: bool
    turning: float


def divergence(
    rates_at: Callable[[float], Floats | None], stiffness: float, low: float, high: float
) -> Divergence | None:
    """Find equation (1) between two airspeeds.

    Parameters
    ----------
    rates_at : J at an airspeed [m/s]
    stiffness : of one side [N m/rad]

    Returns
    -------
    None where J has no value
    """

    def strongest(airspeed: float) -> tuple[float, Floats]:
        matrix = rates_at(airspeed)
        if matrix is None:
            return float("nan"), np.array([1.0, 1.0])
        values, vectors = np.linalg.eig(matrix)
        worst = int(np.argmax(values.real))
        return float(values[worst].real), vectors[:, worst].real

    def excess(airspeed: float) -> float:
        return strongest(airspeed)[0] - stiffness

    end, shape = strongest(high)
    if np.isnan(end) or np.isnan(excess(low)):
        return None
    if end < stiffness:
        return Divergence(None, high, bool(shape[0] * shape[1] > 0.0), end)
    if excess(low) >= 0.0:
        value, shape = strongest(low)
        return Divergence(low, high, bool(shape[0] * shape[1] > 0.0), value)
    root = crossing(excess, low, high, 1e-4)
    if root is None:
        return None
    value, shape = strongest(root)
    return Divergence(root, high, bool(shape[0] * shape[1] > 0.0), value)
