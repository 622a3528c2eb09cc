"""Every number of one fold setting, by name, for an array of flight states."""

from dataclasses import asdict
from typing import Any

import numpy as np

from vlm.constants import Floats
from vlm.frames import cross
from vlm.loads.coefficients import coefficients, contracted, derivatives, neutral_point
from vlm.loads.craft_loads import CraftLoads
from vlm.loads.state import FlightState

SHARED = ("CL_alpha", "Cm_alpha", "CL_q", "Cm_q", "CL_fold_left", "CL_fold_right")
SIDE_FORCE = ("CY_beta", "CY_p", "CY_r")


def evaluated(
    loads: CraftLoads,
    state: FlightState,
    areas: dict[str, float],
    tips: dict[str, tuple[float, float]],
) -> dict[str, Any]:
    """Coefficients, derivatives, neutral point, wings' lift and hinge moments.

    Names are those of the quantity table; derivatives in stability axes end in ``_stability``
    where they differ from those in body axes.

    Parameters
    ----------
    state : arrays of any one shape
    areas : flat planform area of each wing [m^2]
    tips : by wing, flat area [m^2] and span [m] of a tip

    Returns
    -------
    Arrays of the state's shape by name.
    """
    values: dict[str, Any] = asdict(coefficients(loads, state))
    slopes = derivatives(loads, state)
    values |= slopes["body"]
    for name, value in slopes["stability"].items():
        if name not in SHARED and not name.startswith("CY_beta"):
            values[f"{name}_stability"] = value
    point, margin = neutral_point(loads, slopes["body"])
    values |= {"neutral_point_m": point, "static_margin": margin}
    values |= _wing_values(loads, state, areas) | _hinge_values(loads, state, tips)
    return {name: np.broadcast_to(value, state.shape) for name, value in values.items()}


def _wing_values(
    loads: CraftLoads, state: FlightState, areas: dict[str, float]
) -> dict[str, Floats]:
    amounts = state.amounts(loads.reference, loads.columns)
    whole = contracted(loads.total_drag, amounts, amounts)
    usable = np.abs(whole) > 1e-14
    result = {}
    for wing, area in areas.items():
        own = [patch.wing == wing for patch in loads.lattice.patches]
        force = contracted(loads.surface.wrench[own].sum(axis=0)[..., :3], amounts, amounts)
        lift = np.sum(force * state.lift_direction(), axis=-1)
        drag = contracted(loads.drag[own].sum(axis=0), amounts, amounts)
        result[f"CL_{wing}"] = 2.0 * lift / area
        result[f"CDi_share_{wing}"] = np.where(usable, drag / np.where(usable, whole, 1.0), np.nan)
    return result


def _hinge_values(
    loads: CraftLoads, state: FlightState, tips: dict[str, tuple[float, float]]
) -> dict[str, Floats]:
    amounts = state.amounts(loads.reference, loads.columns)
    scale = state.density * np.square(state.airspeed)
    result = {}
    for body, line in loads.lattice.hinges.items():
        own = [patch.body == body for patch in loads.lattice.patches]
        wrench = contracted(loads.surface.wrench[own].sum(axis=0), amounts, amounts)
        arm = loads.reference.moment_point - line.point
        about = (wrench[..., 3:] + cross(arm, wrench[..., :3])) @ line.axis
        area, span = tips[body.split("_")[0]]
        result[f"hinge_moment_{body}_N_m"] = about * scale
        result[f"hinge_moment_coefficient_{body}"] = 2.0 * about / (area * span)
    return result
