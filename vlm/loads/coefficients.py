"""Force and moment coefficients of states, and their exact derivatives.

Forces and moments are F = rho U^2 u^T T u with T a bilinear table and u the amounts of the
unit flows per airspeed, so every derivative is that of a product:

    dF/dx = rho U^2 ((du/dx)^T (T + T^T) u + u^T (dT/dx) u)                            (9)

where T itself depends on x only for the folds, and for the angles of a wake that follows the
stream. The functions take one state or many at once and return values of the states' shape.
"""

from dataclasses import dataclass
from typing import Annotated, Any

import numpy as np

from vlm.constants import Floats
from vlm.lattice.reference import ReferenceFrame
from vlm.loads.craft_loads import Loads
from vlm.loads.state import FlightState, rate_scales
from vlm.plain import Shown
from vlm.sides import Side

Values = dict[str, Any]
Number = Annotated[Any, Shown(float)]
"""A number of one state, or an array of many."""


@dataclass(frozen=True)
class Coefficients:
    """Coefficients on the references of the craft, signs as in the conventions.

    CL, CDi, CDi_surface in wind axes; CY along the body's y axis; Cl, Cm, Cn about the moment
    point in body axes; Cl_stability, Cn_stability in stability axes. All [1].
    """

    CL: Number
    CDi: Number
    CDi_surface: Number
    CY: Number
    Cl: Number
    Cm: Number
    Cn: Number
    Cl_stability: Number
    Cn_stability: Number
    span_efficiency: Number
    best_span_efficiency: Number


def contracted(table: Floats, left: Floats, right: Floats) -> Floats:
    """``left^T table right``, state by state.

    Parameters
    ----------
    table : shape (*states or none, columns, columns, rest)
    left, right : shape (*states, columns)

    Returns
    -------
    shape (*states, rest)
    """
    half = np.einsum("...abr,...b->...ar", table, right)
    return np.asarray(np.einsum("...a,...ar->...r", left, half))


def coefficients(loads: Loads, state: FlightState) -> Coefficients:
    """Coefficients of a state, or of many."""
    reference = loads.reference
    amounts = state.amounts(reference, loads.columns)
    tables = loads.tables(state)
    values = named_coefficients(contracted(tables.total, amounts, amounts), state, reference)
    whole = contracted(tables.total_drag[..., None], amounts, amounts)[..., 0]
    drag = _plain(whole * 2.0 / reference.area)
    return Coefficients(
        CDi=drag,
        span_efficiency=span_efficiency(values["CL"], drag, reference),
        best_span_efficiency=_plain(np.asarray(tables.best_efficiency)),
        **values,
    )


def span_efficiency(lift: Any, drag: Any, reference: ReferenceFrame) -> Any:
    """CL^2 / (pi A CDi) with A on the reference span and area; NaN without lift or drag."""
    scale = np.pi * reference.aspect_ratio * np.asarray(drag)
    usable = scale > 1e-14
    value = np.where(usable, np.asarray(lift) ** 2 / np.where(usable, scale, 1.0), np.nan)
    return _plain(value)


def _plain(value: Floats) -> Any:
    return float(value) if np.ndim(value) == 0 else value


def named_coefficients(wrench: Floats, state: FlightState, reference: ReferenceFrame) -> Values:
    """Coefficients of forces and moments, linear in them, by name.

    Parameters
    ----------
    wrench : shape (..., 6) per rho U^2, geometry axes, about the moment point; its axes before
        the last end in those of the state
    """
    scaled = wrench * (2.0 / reference.area)
    force = scaled[..., :3]
    roll = -scaled[..., 3] / reference.span
    yaw = -scaled[..., 5] / reference.span
    sine, cosine = np.sin(state.alpha), np.cos(state.alpha)
    values = {
        "CL": np.sum(force * state.lift_direction(), axis=-1),
        "CDi_surface": np.sum(force * state.wind(), axis=-1),
        "CY": force[..., 1],
        "Cl": roll,
        "Cm": scaled[..., 4] / reference.chord,
        "Cn": yaw,
        "Cl_stability": cosine * roll + sine * yaw,
        "Cn_stability": cosine * yaw - sine * roll,
    }
    return {name: _plain(np.asarray(value)) for name, value in values.items()}


class _Slopes:
    """Derivatives of the coefficients of given states along changes of the unit flows."""

    def __init__(self, loads: Loads, state: FlightState) -> None:
        self.loads, self.state = loads, state
        self.amounts = state.amounts(loads.reference, loads.columns)
        self.tables = loads.tables(state)
        total = self.tables.total
        self.gradient = np.einsum("...abc,...b->...ac", total, self.amounts)
        self.gradient += np.einsum("...abc,...a->...bc", total, self.amounts)
        self.shares = self.tables.basis.shares(self.amounts)

    def along(self, change: Floats, turn: str | None = None) -> Values:
        """Along ``change``, shape (columns,) or (..., columns); ``turn`` names a wake's turn."""
        wrench = np.einsum("...ac,...a->...c", self.gradient, change)
        if turn is not None and turn in self.tables.rates:
            wrench = wrench + self._rate(turn)
        return named_coefficients(wrench, self.state, self.loads.reference)

    def _rate(self, name: str) -> Floats:
        return contracted(self.tables.rates[name].sum(axis=-4), self.shares, self.shares)

    def with_fold(self, side: Side) -> Values:
        """With the commanded fold of a side; NaN where a tip is joined, 0 without tips."""
        if side in self.tables.rates:
            wrench = self._rate(side)
        else:
            fill = np.nan if self.loads.lattice.bodies else 0.0
            wrench = np.full((*self.state.shape, 6), fill)
        return named_coefficients(wrench, self.state, self.loads.reference)


def derivatives(loads: Loads, state: FlightState) -> dict[str, Values]:
    """Derivatives per radian in "body" and in "stability" axes.

    Rates p, r are p b / 2U and r b / 2U about the axes of each system; q is q c / 2U. Folds are
    the commanded folds of each side. Fold derivatives are NaN where they have no value (a tip
    joined to another wing).
    """
    slopes = _Slopes(loads, state)
    columns, scales = loads.columns, rate_scales(loads.reference)
    alpha = slopes.along(state.alpha_rate(columns), "alpha")
    force = contracted(slopes.tables.total, slopes.amounts, slopes.amounts)[..., :3]
    turning = np.sum(force * state.lift_turning(), axis=-1) * 2.0 / loads.reference.area
    beta = slopes.along(state.beta_rate(columns), "beta")
    roll = slopes.along(_unit(columns, 3, scales[0]))
    yaw = slopes.along(_unit(columns, 5, scales[2]))
    pitch = slopes.along(_unit(columns, 4, scales[1]))
    folds = {side: slopes.with_fold(side) for side in Side}
    common = {
        "CL_alpha": _plain(np.asarray(alpha["CL"] + turning)),
        "Cm_alpha": alpha["Cm"],
        "CL_q": pitch["CL"],
        "Cm_q": pitch["Cm"],
    }
    sine, cosine = np.sin(state.alpha), np.cos(state.alpha)
    stability_roll = {k: _plain(np.asarray(cosine * roll[k] + sine * yaw[k])) for k in roll}
    stability_yaw = {k: _plain(np.asarray(cosine * yaw[k] - sine * roll[k])) for k in roll}
    return {
        "body": _in_axes(common, beta, roll, yaw, folds, ""),
        "stability": _in_axes(common, beta, stability_roll, stability_yaw, folds, "_stability"),
    }


def _unit(columns: int, index: int, scale: float) -> Floats:
    change = np.zeros(columns)
    change[index] = scale
    return change


def _in_axes(
    common: Values, beta: Values, roll: Values, yaw: Values, folds: dict[Side, Values], suffix: str
) -> Values:
    """Pick the derivatives of one axis system; ``suffix`` names its rolling and yawing moment."""
    result = dict(common)
    for name, values in (("beta", beta), ("p", roll), ("r", yaw)):
        result[f"CY_{name}"] = values["CY"]
        result[f"Cl_{name}"] = values[f"Cl{suffix}"]
        result[f"Cn_{name}"] = values[f"Cn{suffix}"]
    for side, values in folds.items():
        result[f"CL_fold_{side}"] = values["CL"]
        result[f"Cl_fold_{side}"] = values[f"Cl{suffix}"]
        result[f"Cn_fold_{side}"] = values[f"Cn{suffix}"]
    return result


def neutral_point(loads: Loads, slopes: Values) -> tuple[Any, Any]:
    """Neutral point's x in geometry axes [m] and static margin in reference chords [1].

    Static margin = - Cm_alpha / CL_alpha; the neutral point stands that much aft of the moment
    point (Etkin & Reid, from memory).
    """
    margin = -slopes["Cm_alpha"] / slopes["CL_alpha"]
    return loads.reference.moment_point[0] + margin * loads.reference.chord, margin
