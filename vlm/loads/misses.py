"""What polynomials miss: numbers of tables against those of a setting that was solved."""

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from vlm.constants import Floats
from vlm.flow.solve import Solvers
from vlm.loads.angles import ANGLES
from vlm.loads.coefficients import coefficients, contracted, derivatives
from vlm.loads.craft_loads import GeneralLoads, Loads, loads_of_state, loads_of_states
from vlm.loads.many_wakes import StreamLoads
from vlm.loads.parts import about_hinges
from vlm.loads.state import FlightState

COEFFICIENTS = ("CL", "CDi", "CY", "Cl", "Cm", "Cn")
BETWEEN: Floats = 0.5 * (ANGLES[1:-2] + ANGLES[2:-1])
"""Angles of the wake half-way between the middle ones of those tabulated [rad]."""


def compared_numbers(loads: Loads, state: FlightState, *, sideslip: bool) -> dict[str, Any]:
    """Coefficients, moments about the hinges over rho U^2 and, if asked for, derivatives."""
    found = coefficients(loads, state)
    known = {name: np.asarray(getattr(found, name)) for name in COEFFICIENTS}
    amounts = state.amounts(loads.reference, loads.columns)[..., None, :]
    each = contracted(loads.tables(state).wrench, amounts, amounts)
    about = about_hinges(loads.lattice, np.moveaxis(each, -2, 0))
    known |= {f"hinge_moment_{body}": moment for body, moment in about.items()}
    if sideslip:
        slopes = derivatives(loads, state)["body"]
        known |= {n: np.asarray(v) for n, v in slopes.items() if np.all(np.isfinite(v))}
    return known


def largest_misses(
    pairs: Sequence[tuple[Mapping[str, Any], Mapping[str, Any]]],
) -> dict[str, float]:
    """Largest difference of every number over pairs of a reading and the truth."""
    worst: dict[str, float] = {}
    for guess, truth in pairs:
        for name in truth.keys() & guess.keys():
            miss = float(np.max(np.abs(guess[name] - truth[name])))
            worst[name] = max(worst.get(name, 0.0), miss)
    return worst


def angle_misses(loads: StreamLoads, *, sideslip: bool) -> dict[str, float]:
    """What the polynomials over the wake's angle miss half-way between the angles, by number.

    Without surfaces behind others that is nothing. A wake that passes a fin at one of the angles,
    or between two, is felt there.
    """
    states = [FlightState(alpha=float(angle)) for angle in BETWEEN]
    pairs = []
    each = loads_of_states(Solvers(loads.lattice), states, fold_rates=False)
    for state, solved in zip(states, each, strict=True):
        read = compared_numbers(loads, state, sideslip=sideslip)
        pairs.append((read, compared_numbers(solved, state, sideslip=sideslip)))
    return largest_misses(pairs)


def sideslip_miss(loads: GeneralLoads, alpha: float, beta: float) -> float:
    """How far tables miss rolling and yawing moment in sideslip, over what is solved there [1].

    The wake's turn with sideslip stands in the tables to first order. That holds for wings alone;
    where a wake comes nearer to a fin behind it, it does not.

    Parameters
    ----------
    alpha, beta : angle of attack and sideslip [rad]
    """
    state = FlightState(alpha=alpha, beta=beta)
    solved = coefficients(loads_of_state(loads.lattice, state, fold_rates=False), state)
    read = coefficients(loads, state)
    both = [np.array([float(one.Cl), float(one.Cn)]) for one in (read, solved)]
    return float(np.abs(both[0] - both[1]).sum() / np.abs(both[1]).sum())
