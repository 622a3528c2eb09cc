"""Every number of one fold setting, by name, for an array of flight states."""

from dataclasses import asdict
from typing import Any

import numpy as np

from vlm.loads.coefficients import coefficients, derivatives, neutral_point
from vlm.loads.craft_loads import Loads
from vlm.loads.parts import FIN_PREFIX, fin_loads, hinge_loads, wing_loads
from vlm.loads.state import FlightState

SHARED = ("CL_alpha", "Cm_alpha", "CL_q", "Cm_q", "CL_fold_left", "CL_fold_right")


def evaluated(
    loads: Loads,
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
    areas : flat planform area of each wing, and of each fin's plates as "fin_NAME" [m^2]
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
    wings = {name: area for name, area in areas.items() if not name.startswith(FIN_PREFIX)}
    fins = {name.removeprefix(FIN_PREFIX): areas[name] for name in areas if name not in wings}
    for wing, load in wing_loads(loads, state, wings).items():
        values |= {f"CL_{wing}": load.CL, f"CDi_share_{wing}": load.drag_share}
    for name, fin in fin_loads(loads, state, fins).items():
        key = FIN_PREFIX + name
        values |= {f"CL_{key}": fin.CL, f"CY_{key}": fin.CY, f"CDi_share_{key}": fin.drag_share}
    for body, hinge in hinge_loads(loads, state, tips).items():
        values[f"hinge_moment_{body}_N_m"] = hinge.moment
        values[f"hinge_moment_coefficient_{body}"] = hinge.coefficient
    return {name: np.broadcast_to(value, state.shape) for name, value in values.items()}
