"""How far the numbers of a relaxed wake depend on the way it is made: its own convergence."""

from dataclasses import replace

from vlm.flow.relaxed import ChainSizes
from vlm.lattice.lattice import Lattice
from vlm.loads.relaxed_loads import relaxed_loads
from vlm.loads.state import FlightState
from vlm.study.point.point import key_numbers

STANDARD = ChainSizes()
VARIANTS: dict[str, ChainSizes] = {
    "as it is": STANDARD,
    "half the core": replace(STANDARD, core=0.5 * STANDARD.core),
    "twice the core": replace(STANDARD, core=2.0 * STANDARD.core),
    "twice the nodes": replace(
        STANDARD, nodes=2 * STANDARD.nodes, first_step=0.5 * STANDARD.first_step
    ),
    "twice the length": replace(STANDARD, nodes=STANDARD.nodes + 4, length=2.0 * STANDARD.length),
    "converged ten times closer": replace(STANDARD, tolerance=0.1 * STANDARD.tolerance),
}


def wake_variants(lattice: Lattice, state: FlightState) -> dict[str, dict[str, float]]:
    """Key numbers of one lattice with the relaxed wake made in each way, by way and name.

    Raises
    ------
    ComputationFailed : a system cannot be solved
    """
    found = {}
    for way, sizes in VARIANTS.items():
        values = key_numbers(relaxed_loads(lattice, state, sizes=sizes), state)
        found[way] = {name: float(value) for name, value in values.items()}
    return found
