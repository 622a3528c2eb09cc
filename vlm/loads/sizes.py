"""Natural sizes: how large a quantity's parts are before they cancel.

A rolling moment at a small fold, a lift near zero or the dihedral effect where it changes its sign
is a small difference of large parts. An error of a lattice is a share of the parts, not of what is
left of them. The parts counted here are those of each mirrored pair of patches (port and starboard
together, so that what symmetry cancels has no size) in each pair of unit flows (so that camber and
angle of attack count apart).
"""

from collections.abc import Mapping
from typing import Any

import numpy as np

from vlm.constants import Floats
from vlm.loads.coefficients import named_coefficients
from vlm.loads.craft_loads import Loads, Tables
from vlm.loads.state import FlightState, rate_scales

STATE_FLOWS = 6
PARTS = ("CL", "CY", "Cl", "Cm", "Cn")


def natural_sizes(loads: Loads, state: FlightState) -> dict[str, Any]:
    """Sizes of CL, CDi, CY, Cl, Cm, Cn, span efficiency and derivatives in body axes.

    Pitching moments count the lift at an arm of one reference chord as well: within a patch
    its rows' moments cancel about the aerodynamic centre. Induced drag is a quadratic form K of the
    circulations G that is never negative, so that an error g moves it by 2 g.KG <=
    2 sqrt(g.Kg) sqrt(G.KG) (Cauchy and Schwarz): its size is the geometric mean of its value and
    of its parts' magnitudes.

    Returns
    -------
    Arrays of the state's shape by name, none negative.
    """
    amounts = state.amounts(loads.reference, loads.columns)[..., :STATE_FLOWS]
    tables = loads.tables(state)
    pairs = _pair_tables(tables)
    sizes = _sizes(loads, state, _products(pairs, amounts, amounts) / 2.0)
    total = tables.total_drag[..., None, :STATE_FLOWS, :STATE_FLOWS, None]
    drag = _products(total, amounts, amounts)[..., 0]
    whole, parts = np.abs(drag.sum(axis=(0, 1, 2))), np.abs(drag).sum(axis=(0, 1, 2))
    sizes["CDi"] = np.sqrt(whole * parts) / loads.reference.area
    for name, change in _changes(loads, state).items():
        moved = _sizes(loads, state, _products(pairs, change, amounts))
        sizes |= {f"{key}_{name}": value for key, value in moved.items()}
    return sizes


def surface_sizes(loads: Loads, state: FlightState, surface: str) -> dict[str, Any]:
    """Sizes of CL and CY of one surface alone, on the reference area of the craft."""
    amounts = state.amounts(loads.reference, loads.columns)[..., :STATE_FLOWS]
    patches = loads.lattice.patches
    own = [patch.wing == surface for patch in patches[: len(patches) // 2]]
    pairs = _pair_tables(loads.tables(state))[..., own, :, :, :]
    found = _sizes(loads, state, _products(pairs, amounts, amounts) / 2.0)
    return {name: found[name] for name in ("CL", "CY")}


def span_efficiency_size(values: Mapping[str, Any], sizes: Mapping[str, Any]) -> Any:
    """Size of the span efficiency of lift and drag with the given values and sizes.

    The efficiency goes with the square of the lift, so that it errs by twice the lift's error
    times the lift itself.
    """
    lift = np.abs(np.asarray(values["CL"]))
    known = lift > 0.0
    share = np.asarray(sizes["CL"]) / np.where(known, lift, 1.0)
    drag_share = np.asarray(sizes["CDi"]) / np.where(known, np.abs(values["CDi"]), 1.0)
    return np.where(known, np.abs(values["span_efficiency"]) * np.maximum(share, drag_share), 0.0)


def _pair_tables(tables: Tables) -> Floats:
    """Wrench tables of mirrored pairs of patches, shape (..., pairs, flows, flows, 6)."""
    wrench = tables.wrench[..., :STATE_FLOWS, :STATE_FLOWS, :]
    half = wrench.shape[-4] // 2
    return np.asarray(wrench[..., :half, :, :, :] + wrench[..., half:, :, :, :])


def _products(tables: Floats, left: Floats, right: Floats) -> Floats:
    """Terms of a bilinear form and of its mirror image in the flows, before they are summed.

    Parameters
    ----------
    tables : shape (*states or none, pairs, flows, flows, rest)
    left, right : shape (*states, flows)

    Returns
    -------
    shape (pairs, flows, flows, *states, rest): terms with their mirror images, upper triangle
    """
    outer = np.einsum("...a,...b->ab...", left, right)[None, ..., None]
    states = left.ndim - 1
    middle = (1,) * states
    if tables.ndim == 4:
        tables = tables.reshape(*middle, *tables.shape)
    behind = np.moveaxis(tables, range(states), range(3, 3 + states))
    terms = behind * (outer + np.swapaxes(outer, 1, 2))
    both = terms + np.swapaxes(terms, 1, 2)
    keep = np.triu(np.ones((STATE_FLOWS, STATE_FLOWS)), 1) + 0.5 * np.eye(STATE_FLOWS)
    return np.asarray(both * keep.reshape(1, STATE_FLOWS, STATE_FLOWS, *middle, 1))


def _sizes(loads: Loads, state: FlightState, terms: Floats) -> dict[str, Any]:
    values = named_coefficients(terms, state, loads.reference)
    sizes = {name: np.abs(values[name]).sum(axis=(0, 1, 2)) for name in PARTS}
    sizes["Cm"] = sizes["Cm"] + sizes["CL"]
    return sizes


def _changes(loads: Loads, state: FlightState) -> dict[str, Floats]:
    """Change of the flows' amounts with each variable of the derivatives."""
    scales = rate_scales(loads.reference)
    changes = {
        "alpha": state.alpha_rate(STATE_FLOWS),
        "beta": state.beta_rate(STATE_FLOWS),
    }
    for i, name in enumerate("pqr"):
        change = np.zeros((*state.shape, STATE_FLOWS))
        change[..., 3 + i] = scales[i]
        changes[name] = change
    return changes
