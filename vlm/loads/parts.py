"""Loads by part: each wing, each hinge, each strip."""

from dataclasses import dataclass

import numpy as np

from vlm.constants import Floats
from vlm.frames import cross
from vlm.loads.coefficients import contracted
from vlm.loads.craft_loads import CraftLoads
from vlm.loads.farfield import bound_totals
from vlm.loads.state import FlightState


@dataclass(frozen=True)
class WingLoad:
    """One wing's share.

    Attributes
    ----------
    CL : lift of this wing over dynamic pressure and its own flat area [1]
    drag_share : its share in the far-field drag [1]
    area : its planform area with the tips flat [m^2]
    """

    CL: float
    drag_share: float
    area: float


@dataclass(frozen=True)
class HingeLoad:
    """Moment of the air about one hinge, positive where it raises the tip.

    Attributes
    ----------
    moment : [N m]
    coefficient : over dynamic pressure, the tip's flat area and its span [1]
    """

    moment: float
    coefficient: float


@dataclass(frozen=True)
class StripLoad:
    """One strip, from the port end to the starboard end of each wing."""

    wing: str
    side: str
    part: str
    y: float
    z: float
    chord: float
    width: float
    cl: float
    circulation: float


def wing_loads(
    loads: CraftLoads, state: FlightState, areas: dict[str, float]
) -> dict[str, WingLoad]:
    """Each wing's lift coefficient on its own area, and share in the induced drag.

    Parameters
    ----------
    areas : flat planform area of each wing [m^2]
    """
    amounts = state.amounts(loads.reference, loads.columns)
    forces = np.array([contracted(table, amounts, amounts)[:3] for table in loads.surface.wrench])
    drags = np.array([contracted(table, amounts, amounts) for table in loads.drag])
    lifts = forces @ state.lift_direction() * 2.0
    result = {}
    for wing, area in areas.items():
        own = [patch.wing == wing for patch in loads.lattice.patches]
        total = float(drags.sum())
        share = float(drags[own].sum()) / total if abs(total) > 1e-14 else float("nan")
        result[wing] = WingLoad(float(lifts[own].sum()) / area, share, area)
    return result


def hinge_loads(
    loads: CraftLoads, state: FlightState, tip_sizes: dict[str, tuple[float, float]]
) -> dict[str, HingeLoad]:
    """Moment about every hinge from the forces on its tip.

    Parameters
    ----------
    tip_sizes : by wing, the tip's flat area [m^2] and span [m]
    """
    amounts = state.amounts(loads.reference, loads.columns)
    scale = state.density * state.airspeed**2
    result = {}
    for body, line in loads.lattice.hinges.items():
        own = [patch.body == body for patch in loads.lattice.patches]
        wrench = contracted(loads.surface.wrench[own].sum(axis=0), amounts, amounts)
        arm = loads.reference.moment_point - line.point
        about = wrench[3:] + cross(arm, wrench[:3])
        moment = float(line.axis @ about) * scale
        area, span = tip_sizes[body.split("_")[0]]
        pressure = state.dynamic_pressure * area * span
        result[body] = HingeLoad(moment, moment / pressure if pressure > 0.0 else float("nan"))
    return result


def strip_loads(loads: CraftLoads, state: FlightState) -> list[StripLoad]:
    """Circulation and local lift coefficient 2 Gamma / (U c) of every strip."""
    amounts = state.amounts(loads.reference, loads.columns)
    totals = bound_totals(loads.lattice, loads.circulation) @ amounts
    found, offset = [], 0
    for patch in loads.lattice.patches:
        places = patch.trailing_stations()
        for strip in range(patch.strips):
            gamma = float(totals[offset + strip])
            found.append(
                StripLoad(
                    wing=patch.wing,
                    side=patch.side,
                    part=patch.part,
                    y=float(places[strip, 1]),
                    z=float(places[strip, 2]),
                    chord=float(patch.chord[strip]),
                    width=float(patch.width[strip]),
                    cl=2.0 * gamma / float(patch.chord[strip]),
                    circulation=gamma * float(state.airspeed),
                )
            )
        offset += patch.strips
    return _port_to_starboard(found)


def _port_to_starboard(strips: list[StripLoad]) -> list[StripLoad]:
    """Upper wing first; on each wing the port half from its end inward, then starboard."""
    ordered: list[StripLoad] = []
    for wing in ("upper", "lower"):
        port = [s for s in strips if s.wing == wing and s.side == "left"]
        starboard = [s for s in strips if s.wing == wing and s.side == "right"]
        ordered += port[::-1] + starboard
    return ordered


def circulation_lift(loads: CraftLoads, state: FlightState) -> Floats:
    """Force across the legs' direction from strip circulation, rho U^2 units, shape (3,)."""
    amounts = state.amounts(loads.reference, loads.columns)
    totals = bound_totals(loads.lattice, loads.circulation) @ amounts
    return np.asarray(totals @ loads.wake.across)
