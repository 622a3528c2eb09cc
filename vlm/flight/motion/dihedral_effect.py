"""Where the dihedral effect comes from, and the fold at which it vanishes.

Cl_beta in body axes about the moment point is taken apart exactly:

    Cl_beta = fixed wings + tips + lift + height + sections + drag areas + rotors        (1)

"fixed wings": all tips flat, no lift, about the wings' mean height; "tips": what their fold adds
to that; "lift": what the lift adds (the ends' and the wake's part, as of a flat wing in sideslip);
"height": the side force at the distance of the moment point from the wings' mean height;
"sections": what the file's sections change in all that; "drag areas": the side force of bodies,
struts and gear at their places; "rotors": the forces across their axes. What the wake's turn with
sideslip adds is known by itself.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq

from vlm.description.folds import FoldAngles
from vlm.errors import ComputationFailed
from vlm.flight.craft.crossing import brackets_zero, crossing, sign_changes
from vlm.lattice.cellule import Cellule
from vlm.loads.coefficients import coefficients, contracted, derivatives, named_coefficients
from vlm.loads.craft_loads import GeneralLoads
from vlm.loads.fold_engine import FoldEngine
from vlm.loads.state import FlightState

WIDEST = 0.6  # [rad]


@dataclass(frozen=True)
class DihedralShares:
    """Parts of Cl_beta at one fold and angle of attack, equation (1) [1 per rad].

    Attributes
    ----------
    total : their sum
    fixed_wings, tips, lift, height, sections, drag_areas, rotors : the parts
    wake_turn : what the wake's turn with sideslip has in ``total``
    """

    total: float
    fixed_wings: float
    tips: float
    lift: float
    height: float
    sections: float
    drag_areas: float
    rotors: float
    wake_turn: float


def mean_height(cellule: Cellule) -> float:
    """Height of the wings' quarter-chord lines, tips flat, weighted by area [m]."""
    halves = cellule.halves.values()
    weighted = sum(half.area * float(half.quarter_chord_centroid()[2]) for half in halves)
    return weighted / sum(half.area for half in halves)


def no_lift_alpha(loads: GeneralLoads) -> float:
    """Angle of attack without lift [rad].

    Raises
    ------
    ComputationFailed : there is none within 0.6 rad either way
    """

    def lift(alpha: float) -> float:
        return float(coefficients(loads, FlightState(alpha=alpha)).CL)

    if not brackets_zero(lift(-WIDEST), lift(WIDEST)):
        raise ComputationFailed(
            f"no angle of attack from {np.degrees(-WIDEST):.0f} to {np.degrees(WIDEST):.0f} degrees"
            " is without lift: the dihedral effect cannot be split into shares"
        )
    return float(brentq(lift, -WIDEST, WIDEST, xtol=1e-12))


def dihedral_effect(loads: GeneralLoads, alpha: float) -> tuple[float, float]:
    """Cl_beta and CY_beta in body axes about the moment point [1 per rad]."""
    slopes = derivatives(loads, FlightState(alpha=alpha))["body"]
    return float(slopes["Cl_beta"]), float(slopes["CY_beta"])


def wake_turn(loads: GeneralLoads, alpha: float) -> float:
    """Part of Cl_beta that the turn of the wake with sideslip brings [1 per rad]."""
    state = FlightState(alpha=alpha)
    tables = loads.tables(state)
    if "beta" not in tables.rates:
        return 0.0
    shares = tables.basis.shares(state.amounts(loads.reference, loads.columns))
    wrench = contracted(tables.rates["beta"].sum(axis=-4), shares, shares)
    return float(named_coefficients(wrench, state, loads.reference)["Cl"])


def dihedral_shares(
    engine: FoldEngine,
    fold_deg: float,
    alpha: float,
    sections: float = 0.0,
    drag_areas: float = 0.0,
    rotors: float = 0.0,
) -> DihedralShares:
    """Take Cl_beta apart at a symmetric fold.

    Parameters
    ----------
    alpha : angle of attack [rad]
    sections : what the file's sections change in Cl_beta [1 per rad]
    drag_areas, rotors : what these bring to it [1 per rad]

    Raises
    ------
    InputRefused : the fold is beyond its limits, or surfaces cross
    """
    folds = FoldAngles.symmetric(fold_deg)
    loads, flat = engine.loads(folds), engine.loads(FoldAngles())
    reference = loads.reference
    lever = (float(reference.moment_point[2]) - mean_height(engine.cellule)) / reference.span

    def centred(at: GeneralLoads, angle: float) -> float:
        roll, side = dihedral_effect(at, angle)
        return roll + lever * side

    total, side = dihedral_effect(loads, alpha)
    unlifted = centred(loads, no_lift_alpha(loads))
    fixed = centred(flat, no_lift_alpha(flat))
    return DihedralShares(
        total=total + sections + drag_areas + rotors,
        fixed_wings=fixed,
        tips=unlifted - fixed,
        lift=centred(loads, alpha) - unlifted,
        height=-lever * side,
        sections=sections,
        drag_areas=drag_areas,
        rotors=rotors,
        wake_turn=wake_turn(loads, alpha),
    )


@dataclass(frozen=True)
class NeutralFold:
    """A symmetric fold at which Cl_beta vanishes.

    Attributes
    ----------
    fold_deg : [deg]
    slope : Cl_beta's rate with fold there [1 per rad per deg]
    """

    fold_deg: float
    slope: float


def neutral_folds(
    effect: Callable[[float], float], folds_deg: Sequence[float]
) -> list[NeutralFold]:
    """Folds at which Cl_beta changes its sign, as roots by direct solves.

    Parameters
    ----------
    effect : Cl_beta of a symmetric fold [deg], NaN where it has none [1 per rad]
    folds_deg : ascending folds between which the sign is looked for [deg]
    """
    found = []
    for before, after in sign_changes(effect(fold) for fold in folds_deg):
        root = crossing(effect, folds_deg[before], folds_deg[after], 1e-3)
        if root is None:
            continue
        step = 0.25
        low, high = max(folds_deg[0], root - step), min(folds_deg[-1], root + step)
        found.append(NeutralFold(root, (effect(high) - effect(low)) / (high - low)))
    return found
