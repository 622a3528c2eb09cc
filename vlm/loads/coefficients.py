"""Force and moment coefficients of a state, and their exact derivatives.

Forces and moments are F = rho U^2 u^T T u with T a bilinear table and u the amounts of the
unit flows per airspeed, so every derivative is that of a product:

    dF/dx = rho U^2 ((du/dx)^T T u + u^T T (du/dx) + u^T (dT/dx) u)                    (9)

where T itself depends on x only for the folds, and for the angles of a wake that follows the
stream.
"""

from dataclasses import dataclass

import numpy as np

from vlm.frames import GEOMETRY_TO_BODY, body_to_stability
from vlm.lattice.reference import ReferenceFrame
from vlm.lattice.spacing import Floats
from vlm.loads.craft_loads import CraftLoads
from vlm.loads.state import FlightState, rate_scales


@dataclass(frozen=True)
class Coefficients:
    """Coefficients of one state on the references of the craft, signs as in the conventions.

    CL, CDi, CDi_surface in wind axes; CY along the body's y axis; Cl, Cm, Cn about the moment
    point in body axes; Cl_stability, Cn_stability in stability axes. All [1].
    """

    CL: float
    CDi: float
    CDi_surface: float
    CY: float
    Cl: float
    Cm: float
    Cn: float
    Cl_stability: float
    Cn_stability: float
    span_efficiency: float
    best_span_efficiency: float


def contracted(table: Floats, left: Floats, right: Floats) -> Floats:
    """``left^T table right`` over the first two axes of a table."""
    return np.asarray(np.einsum("ab...,a,b->...", table, left, right))


def varied(table: Floats, amounts: Floats, change: Floats) -> Floats:
    """Derivative of ``amounts^T table amounts`` along ``change``."""
    return contracted(table, change, amounts) + contracted(table, amounts, change)


def coefficients(loads: CraftLoads, state: FlightState) -> Coefficients:
    """Coefficients of a state."""
    reference = loads.reference
    amounts = state.amounts(reference, loads.columns)
    wrench = contracted(loads.total, amounts, amounts)
    drag = float(contracted(loads.total_drag, amounts, amounts)) * 2.0 / reference.area
    values = _named(wrench, state, reference)
    return Coefficients(
        CDi=drag,
        span_efficiency=span_efficiency(values["CL"], drag, reference),
        best_span_efficiency=loads.best_efficiency,
        **values,
    )


def span_efficiency(lift: float, drag: float, reference: ReferenceFrame) -> float:
    """CL^2 / (pi A CDi) with A on the reference span and area; NaN without lift or drag."""
    scale = np.pi * reference.aspect_ratio * drag
    return lift**2 / scale if scale > 1e-14 else float("nan")


def _named(wrench: Floats, state: FlightState, reference: ReferenceFrame) -> dict[str, float]:
    """Coefficients of a wrench, shape (6,), per rho U^2, by name."""
    force = wrench[:3] * 2.0 / reference.area
    moment = GEOMETRY_TO_BODY @ wrench[3:] * 2.0 / reference.area
    moment = moment / np.array([reference.span, reference.chord, reference.span])
    stability = _to_stability(moment, state.alpha)
    return {
        "CL": float(force @ state.lift_direction()),
        "CDi_surface": float(force @ state.wind()),
        "CY": float(force[1]),
        "Cl": float(moment[0]),
        "Cm": float(moment[1]),
        "Cn": float(moment[2]),
        "Cl_stability": float(stability[0]),
        "Cn_stability": float(stability[1]),
    }


def _to_stability(moment: Floats, alpha: float) -> Floats:
    """Rolling and yawing moment coefficients turned to stability axes, shape (2,)."""
    turned = body_to_stability(alpha) @ np.array([moment[0], 0.0, moment[2]])
    return np.asarray(turned[[0, 2]])


@dataclass(frozen=True)
class _Axes:
    """Roll and yaw rate directions of an axis system, in body components (p, r)."""

    roll: Floats
    yaw: Floats


def derivatives(loads: CraftLoads, state: FlightState) -> dict[str, dict[str, float]]:
    """Derivatives per radian in body and in stability axes.

    Rates p, r are p b / 2U and r b / 2U about the axes of each system; q is q c / 2U. Folds are
    the commanded folds of each side. Fold derivatives are NaN where they have no value (a tip
    joined to another wing).
    """
    sine, cosine = np.sin(state.alpha), np.cos(state.alpha)
    body = _Axes(np.array([1.0, 0.0]), np.array([0.0, 1.0]))
    stability = _Axes(np.array([cosine, sine]), np.array([-sine, cosine]))
    return {
        "body": _derivatives_in(loads, state, body, "body"),
        "stability": _derivatives_in(loads, state, stability, "stability"),
    }


def _derivatives_in(
    loads: CraftLoads, state: FlightState, axes: _Axes, system: str
) -> dict[str, float]:
    reference = loads.reference
    amounts = state.amounts(reference, loads.columns)
    roll, yaw = ("Cl", "Cn") if system == "body" else ("Cl_stability", "Cn_stability")

    def along(change: Floats, turn: str | None = None) -> dict[str, float]:
        wrench = varied(loads.total, amounts, change)
        if turn is not None and loads.wake_follows_stream:
            wrench = wrench + contracted(loads.total_rates[turn], amounts, amounts)
        return _named(wrench, state, reference)

    result = _with_incidence(loads, state, along, amounts, system)
    beta = along(state.beta_rate(loads.columns), "beta")
    result |= {"CY_beta": beta["CY"], "Cl_beta": beta[roll], "Cn_beta": beta[yaw]}
    scales = rate_scales(reference)
    for name, direction in (("p", axes.roll), ("r", axes.yaw)):
        change = np.zeros(loads.columns)
        change[[3, 5]] = direction * scales[0]
        values = along(change)
        result |= {f"CY_{name}": values["CY"], f"Cl_{name}": values[roll], f"Cn_{name}": values[yaw]}
    pitching = np.zeros(loads.columns)
    pitching[4] = scales[1]
    pitch = along(pitching)
    result |= {"CL_q": pitch["CL"], "Cm_q": pitch["Cm"]}
    return result | _with_folds(loads, state, amounts, roll, yaw)


def _with_incidence(loads, state, along, amounts, system):  # type: ignore[no-untyped-def]
    """CL_alpha and Cm_alpha; the direction of lift turns with the angle of attack."""
    values = along(state.alpha_rate(loads.columns), "alpha")
    force = contracted(loads.total, amounts, amounts)[:3] * 2.0 / loads.reference.area
    turning = np.array([-np.cos(state.alpha), 0.0, -np.sin(state.alpha)])
    return {"CL_alpha": values["CL"] + float(force @ turning), "Cm_alpha": values["Cm"]}


def _with_folds(
    loads: CraftLoads, state: FlightState, amounts: Floats, roll: str, yaw: str
) -> dict[str, float]:
    result = {}
    for side in ("left", "right"):
        if side in loads.total_rates:
            wrench = contracted(loads.total_rates[side], amounts, amounts)
            values = _named(wrench, state, loads.reference)
        elif loads.lattice.bodies:
            values = dict.fromkeys(("CL", roll, yaw), float("nan"))
        else:
            values = dict.fromkeys(("CL", roll, yaw), 0.0)
        result |= {
            f"CL_fold_{side}": values["CL"],
            f"Cl_fold_{side}": values[roll],
            f"Cn_fold_{side}": values[yaw],
        }
    return result


def neutral_point(loads: CraftLoads, slopes: dict[str, float]) -> tuple[float, float]:
    """Neutral point's x in geometry axes [m] and static margin in reference chords [1].

    Static margin = - Cm_alpha / CL_alpha; the neutral point stands that much aft of the moment
    point (Etkin & Reid, from memory).
    """
    margin = -slopes["Cm_alpha"] / slopes["CL_alpha"]
    return float(loads.reference.moment_point[0] + margin * loads.reference.chord), margin
