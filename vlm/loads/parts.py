"""Loads by part, for one state or many: each wing, each hinge, each strip."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from vlm.constants import Floats
from vlm.lattice.lattice import Lattice
from vlm.loads.coefficients import contracted
from vlm.loads.craft_loads import GeneralLoads, Loads
from vlm.loads.segment_forces import patch_forces
from vlm.loads.state import FlightState
from vlm.sides import Side, wing_and_side

NO_DRAG = 1e-14
FIN_PREFIX = "fin_"
"""Before the name of a fin, in names of its numbers."""


@dataclass(frozen=True)
class WingLoad:
    """One wing's share; values have the states' shape.

    Attributes
    ----------
    CL : lift of this wing over dynamic pressure and its own flat area [1]
    drag_share : its share in the far-field drag [1]
    area : its planform area with the tips flat [m^2]
    """

    CL: Any
    drag_share: Any
    area: float


@dataclass(frozen=True)
class FinLoad:
    """What the air does to one fin, its plates on both sides together; of the states' shape.

    Attributes
    ----------
    CL, CY : lift and side force over dynamic pressure and the area of its plates [1]
    drag_share : its share in the far-field drag [1]
    area : of its plates, along themselves [m^2]
    """

    CL: Any
    CY: Any
    drag_share: Any
    area: float


@dataclass(frozen=True)
class HingeLoad:
    """Moment of the air about one hinge, positive where it raises the tip.

    Attributes
    ----------
    moment : [N m]
    coefficient : over dynamic pressure, the tip's flat area and its span [1]
    """

    moment: Any
    coefficient: Any


@dataclass(frozen=True)
class StripLoad:
    """One strip, from the port end to the starboard end of each wing.

    Attributes
    ----------
    wing : "upper", "lower", or the name of a fin
    side : of the craft
    part : "main", "tip" or "fin"
    y_m, z_m : of its trailing edge's station [m]
    chord_m : of the strip [m]
    cl : force across the stream and the strip's span over q chord width, that on the chordwise
        vortices included [1]
    circulation_m2_s : 2 circulation / (U chord) leaves the chordwise vortices' share out
    """

    wing: str
    side: Side
    part: str
    y_m: float
    z_m: float
    chord_m: float
    width_m: float
    cl: float
    circulation_m2_s: float


def wing_loads(loads: Loads, state: FlightState, areas: dict[str, float]) -> dict[str, WingLoad]:
    """Each wing's lift coefficient on its own area, and share in the induced drag.

    Parameters
    ----------
    areas : flat planform area of each wing [m^2]
    """
    found = surface_shares(loads, state, tuple(areas))
    return {
        name: WingLoad(_plain(2.0 * lift / areas[name]), _plain(share), areas[name])
        for name, (lift, _, share) in found.items()
    }


def fin_loads(loads: Loads, state: FlightState, areas: dict[str, float]) -> dict[str, FinLoad]:
    """Each fin's lift and side force on its own area, and share in the induced drag.

    Parameters
    ----------
    areas : of each fin's plates [m^2]
    """
    found = surface_shares(loads, state, tuple(areas))
    return {
        name: FinLoad(
            _plain(2.0 * lift / areas[name]), _plain(2.0 * side / areas[name]), _plain(share),
            areas[name],
        )
        for name, (lift, side, share) in found.items()
    }  # fmt: skip


def surface_shares(
    loads: Loads, state: FlightState, names: Sequence[str]
) -> dict[str, tuple[Floats, Floats, Floats]]:
    """Lift and side force of surfaces over density and squared speed [m^2], and their shares in
    the far-field drag; arrays of the state's shape."""
    amounts = state.amounts(loads.reference, loads.columns)
    tables = loads.tables(state)
    whole = _plain(contracted(tables.total_drag[..., None], amounts, amounts)[..., 0])
    usable = np.abs(whole) > NO_DRAG
    result = {}
    for name in names:
        own = np.array([patch.wing == name for patch in loads.lattice.patches])
        wrench = contracted(tables.wrench[..., own, :, :, :].sum(axis=-4), amounts, amounts)
        lift = np.sum(wrench[..., :3] * state.lift_direction(), axis=-1)
        table = tables.drag[..., own, :, :].sum(axis=-3)
        drag = contracted(table[..., None], amounts, amounts)[..., 0]
        share = np.where(usable, drag / np.where(usable, whole, 1.0), np.nan)
        result[name] = (lift, np.asarray(wrench[..., 1]), share)
    return result


def about_hinges(lattice: Lattice, wrench: Floats) -> dict[str, Floats]:
    """Moments about every hinge from the wrenches of the patches, positive raising the tip.

    Parameters
    ----------
    wrench : shape (patches, ..., 6), forces and moments about the moment point, geometry axes

    Returns
    -------
    shape (...), by tip
    """
    result = {}
    for body, line in lattice.hinges.items():
        own = [patch.body == body for patch in lattice.patches]
        total = wrench[own].sum(axis=0)
        about = lattice.reference.moment_point
        result[body] = line.moment(total[..., :3], total[..., 3:], about)
    return result


def hinge_loads(
    loads: Loads, state: FlightState, tip_sizes: dict[str, tuple[float, float]]
) -> dict[str, HingeLoad]:
    """Moment about every hinge from the forces on its tip.

    Parameters
    ----------
    tip_sizes : by wing, the tip's flat area [m^2] and span [m]
    """
    amounts = state.amounts(loads.reference, loads.columns)
    wrench = loads.tables(state).wrench
    each = contracted(wrench, amounts[..., None, :], amounts[..., None, :])
    scale = state.density * np.square(state.airspeed)
    result = {}
    for body, moment in about_hinges(loads.lattice, np.moveaxis(each, -2, 0)).items():
        area, span = tip_sizes[wing_and_side(body)[0]]
        result[body] = HingeLoad(_plain(moment * scale), _plain(2.0 * moment / (area * span)))
    return result


def _plain(value: Any) -> Any:
    return float(value) if np.ndim(value) == 0 else value


def strip_circulations(loads: Loads, state: FlightState) -> Floats:
    """Circulation of every strip over the airspeed, shape (..., strips) [m]."""
    amounts = state.amounts(loads.reference, loads.columns)
    return np.asarray(np.einsum("...sc,...c->...s", loads.tables(state).strips, amounts))


def strip_loads(loads: GeneralLoads, state: FlightState) -> list[StripLoad]:
    """Circulation and local lift coefficient of every strip of one state.

    A fin in the plane of symmetry stands once, with its whole circulation.
    """
    amounts = state.amounts(loads.reference, loads.columns)
    lift = _strip_lift(loads, amounts, state.wind())
    totals = strip_circulations(loads, state)
    found, offset = [], 0
    for patch in loads.lattice.patches:
        places = patch.trailing_stations()
        for strip in range(0 if patch.on_plane and patch.side is Side.PORT else patch.strips):
            gamma = float(totals[offset + strip]) / patch.share
            found.append(
                StripLoad(
                    wing=patch.wing,
                    side=patch.side,
                    part=patch.part,
                    y_m=float(places[strip, 1]),
                    z_m=float(places[strip, 2]),
                    chord_m=float(patch.chord[strip]),
                    width_m=float(patch.width[strip]),
                    cl=float(lift[offset + strip]),
                    circulation_m2_s=gamma * float(state.airspeed),
                )
            )
        offset += patch.strips
    return _port_to_starboard(found)


def _strip_lift(loads: GeneralLoads, amounts: Floats, wind: Floats) -> Floats:
    """Lift coefficient of every strip from the forces on its bound and chordwise vortices.

    Parameters
    ----------
    amounts : of the unit flows, per unit of airspeed, shape (columns,)
    wind : unit vector of the stream, shape (3,)
    """
    found = []
    for piece in patch_forces(loads, amounts, 1.0):
        force, _ = piece.shared_to_strips()
        patch = piece.patch
        span = patch.sense * np.diff(patch.nodes[0], axis=0)
        upward = np.cross(wind, span)
        upward /= np.linalg.norm(upward, axis=1, keepdims=True)
        area = patch.share * patch.chord * patch.width
        found.append(2.0 * np.sum(force * upward, axis=1) / area)
    return np.concatenate(found)


def _port_to_starboard(strips: list[StripLoad]) -> list[StripLoad]:
    """Upper wing first, fins last; on each the port half from its end inward, then starboard."""
    ordered: list[StripLoad] = []
    for wing in dict.fromkeys(["upper", "lower", *(s.wing for s in strips)]):
        port = [s for s in strips if s.wing == wing and s.side is Side.PORT]
        starboard = [s for s in strips if s.wing == wing and s.side is Side.STARBOARD]
        ordered += port[::-1] + starboard
    return ordered
