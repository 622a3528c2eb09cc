"""What the model itself leaves open in the numbers of one setting: its wake, and its corners.

The wake's allowance is that of :mod:`vlm.loads.model_spread`. Where a tip touches another surface's
end, or nearly does, an aircraft's corner may be another (:mod:`vlm.lattice.corners`): the largest
difference from those is added.
"""

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

import numpy as np

from vlm.loads.craft_loads import Loads
from vlm.loads.model_spread import HINGE, wake_spread
from vlm.loads.state import FlightState

PLAIN = (
    "CL", "CDi", "Cl", "Cm", "Cn", "Cl_beta", "Cn_beta", "span_efficiency", "neutral_point_m",
)  # fmt: skip

Values = Mapping[str, Any]


def model_spread(
    loads: Loads, state: FlightState, values: Values, others: Sequence[Values] = ()
) -> dict[str, Any]:
    """Half-widths of what the model leaves open, by name: :data:`PLAIN`, what is made of
    them, and every hinge moment.

    Parameters
    ----------
    loads : with the wake along the stream
    state : one flight state or many
    values : the numbers, from :func:`vlm.study.point.evaluation.evaluated`
    others : the same numbers of other models that may be the true one: open or closed corners
    """
    allowed = wake_spread(loads, state)
    spread = {name: np.asarray(allowed[name]) for name in PLAIN}
    for name in values:
        if name.startswith(HINGE):
            spread[name] = np.broadcast_to(allowed[HINGE], state.shape)
    for name in values:
        if name.startswith("hinge_moment_") and not name.startswith(HINGE):
            tip = name.removeprefix("hinge_moment_").removesuffix("_N_m")
            spread[name] = spread[f"{HINGE}_{tip}"] * _moment_of_one(values, tip)
    for name, width in spread.items():
        apart = [np.abs(np.asarray(other[name]) - np.asarray(values[name])) for other in others]
        spread[name] = width + np.max(apart, axis=0) if apart else width
    spread |= _made_of_others(loads, state, values, spread)
    return {name: float(w) if np.ndim(w) == 0 else w for name, w in spread.items()}


def _made_of_others(
    loads: Loads, state: FlightState, values: Values, spread: dict[str, Any]
) -> dict[str, Any]:
    """Slopes with sideslip in stability axes, the static margin, and Cm_alpha.

    Cm_alpha is the margin times CL_alpha: what is open in one is open in the other, so that both
    say the same of stability.
    """
    sine, cosine = np.abs(np.sin(state.alpha)), np.abs(np.cos(state.alpha))
    roll, yaw = spread["Cl_beta"], spread["Cn_beta"]
    margin = spread["neutral_point_m"] / loads.reference.chord
    return {
        "Cl_beta_stability": cosine * roll + sine * yaw,
        "Cn_beta_stability": cosine * yaw + sine * roll,
        "static_margin": margin,
        "Cm_alpha": np.abs(np.asarray(values["CL_alpha"])) * margin,
    }


def spread_names(names: Iterable[str]) -> list[str]:
    """Those of the names of all numbers that get a spread."""
    made = ("Cl_beta_stability", "Cn_beta_stability", "static_margin", "Cm_alpha")
    return [name for name in names if name in (*PLAIN, *made) or name.startswith("hinge_moment_")]


def _moment_of_one(values: Values, tip: str) -> Any:
    """Hinge moment for a coefficient of one [N m]."""
    moment = np.asarray(values[f"hinge_moment_{tip}_N_m"], dtype=float)
    coefficient = np.asarray(values[f"{HINGE}_{tip}"], dtype=float)
    known = coefficient != 0.0
    return np.where(known, np.abs(moment / np.where(known, coefficient, 1.0)), 0.0)
