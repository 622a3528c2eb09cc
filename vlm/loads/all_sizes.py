"""Natural sizes of every number that is printed, those made of others included."""

from collections.abc import Mapping
from typing import Any

import numpy as np

from vlm.constants import Floats
from vlm.loads.craft_loads import Loads
from vlm.loads.parts import FIN_PREFIX, about_hinges
from vlm.loads.sizes import (
    STATE_FLOWS,
    natural_sizes,
    span_efficiency_size,
    surface_sizes,
)
from vlm.loads.state import FlightState
from vlm.sides import Side, wing_and_side

TIP_ARM = 0.5
"""Arm of a tip's load in rolling and yawing moments, over the span [1]."""


def all_sizes(
    loads: Loads,
    state: FlightState,
    values: Mapping[str, Any],
    areas: Mapping[str, float],
    tips: Mapping[str, tuple[float, float]],
) -> dict[str, Any]:
    """Sizes of all values of :mod:`vlm.study.point.evaluation` but those made of two others.

    Parameters
    ----------
    values : the values, arrays of the state's shape
    areas : flat planform area of each wing, and of each fin's plates as "fin_NAME" [m^2]
    tips : by wing, flat area [m^2] and span [m] of a tip

    Returns
    -------
    Arrays of the state's shape by name, none negative.
    """
    sizes = natural_sizes(loads, state)
    sizes["span_efficiency"] = span_efficiency_size(values, sizes)
    sizes["CDi_surface"] = sizes["CDi"] + np.abs(np.sin(state.alpha)) * sizes["CL"]
    sizes["best_span_efficiency"] = np.abs(values["best_span_efficiency"])
    sine, cosine = np.abs(np.sin(state.alpha)), np.abs(np.cos(state.alpha))
    for ending in ("", "_beta", "_p", "_r"):
        roll, yaw = sizes[f"Cl{ending}"], sizes[f"Cn{ending}"]
        sizes[f"Cl{ending}_stability"] = cosine * roll + sine * yaw
        sizes[f"Cn{ending}_stability"] = cosine * yaw + sine * roll
    for ending in ("_p", "_r"):
        sizes[f"CY{ending}_stability"] = sizes["CY_p"] + sizes["CY_r"]
    # Forces across the span roll the craft by their lift, and yaw it by their drag and by what of
    # the lift lies along the body's axis.
    roll, yaw = TIP_ARM * sizes["CL"], TIP_ARM * sizes["CDi_surface"]
    for side in Side:
        sizes[f"CL_fold_{side}"] = sizes["CL"]
        sizes[f"Cl_fold_{side}"], sizes[f"Cn_fold_{side}"] = roll, yaw
        sizes[f"Cl_fold_{side}_stability"] = cosine * roll + sine * yaw
        sizes[f"Cn_fold_{side}_stability"] = cosine * yaw + sine * roll
    for wing, area in areas.items():
        scale = loads.reference.area / area
        sizes[f"CL_{wing}"] = sizes["CL"] * scale
        sizes[f"CDi_share_{wing}"] = np.ones(state.shape)
        if wing.startswith(FIN_PREFIX):
            own = surface_sizes(loads, state, wing.removeprefix(FIN_PREFIX))
            sizes |= {f"{name}_{wing}": size * scale for name, size in own.items()}
    return sizes | hinge_sizes(loads, state, tips)


def hinge_sizes(
    loads: Loads, state: FlightState, tips: Mapping[str, tuple[float, float]]
) -> dict[str, Floats]:
    """Magnitudes of a hinge moment's parts in each pair of unit flows, as in :func:`all_sizes`."""
    amounts = state.amounts(loads.reference, loads.columns)[..., :STATE_FLOWS]
    wrench = loads.tables(state).wrench[..., :STATE_FLOWS, :STATE_FLOWS, :]
    result = {}
    for body, table in about_hinges(loads.lattice, np.moveaxis(wrench, -4, 0)).items():
        both = 0.5 * (table + np.swapaxes(table, -1, -2))
        terms = both * amounts[..., :, None] * amounts[..., None, :]
        size = np.abs(terms).sum(axis=(-1, -2))
        area, span = tips[wing_and_side(body)[0]]
        result[f"hinge_moment_{body}_N_m"] = size * state.density * np.square(state.airspeed)
        result[f"hinge_moment_coefficient_{body}"] = 2.0 * size / (area * span)
    return result
