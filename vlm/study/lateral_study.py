"""Lateral stability against fold: the answer of ``foldspan lateral``."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from vlm.description.folds import FoldAngles
from vlm.description.models import Biplane
from vlm.errors import FoldspanError
from vlm.findings import gathered
from vlm.flight.craft.folded_craft import FoldingCraft
from vlm.flight.craft.level import level_flight
from vlm.flight.motion.dihedral_effect import (
    DihedralShares,
    dihedral_effect,
    dihedral_shares,
    neutral_folds,
    wake_turn,
)
from vlm.flight.motion.roll_authority import TOO_SLOW, Air
from vlm.lattice.cellule import Grid
from vlm.lattice.doubts import lattice_doubts
from vlm.loads.coefficients import coefficients, derivatives
from vlm.loads.craft_loads import Loads
from vlm.loads.fold_engine import FoldEngine
from vlm.loads.state import FlightState
from vlm.plain import without_nan
from vlm.study.errors import coarser, half_width
from vlm.study.modes_study import mode_rows, setting_modes, yaw_document
from vlm.study.point import reference_document
from vlm.study.roll_study import drag_area, flown
from vlm.study.validity import state_doubts

NAMES = ("CY_beta", "Cl_beta", "Cn_beta", "CY_p", "Cl_p", "Cn_p", "CY_r", "Cl_r", "Cn_r")
Progress = Callable[[str], None]

ASSUMPTIONS = (
    "derivatives per radian about the stated moment point, wake along the craft's x axis",
    "Cl_beta's error is the lattice's alone; what the wake's direction changes stands beside it",
    "modes: level, wing-borne flight; controls and rotors fixed, thrust constant and along the"
    " body's x axis; rotors' own damping, gyroscopic moments and slipstream left out; no lag of"
    " the wake (no derivatives with acceleration)",
)


@dataclass(frozen=True)
class LateralPlan:
    """What ``lateral`` is asked for.

    Attributes
    ----------
    air : airspeed and density
    folds_deg : symmetric folds [deg]
    alphas_deg : angles of attack of the table [deg]
    shares_deg : folds at which Cl_beta is taken apart [deg]
    airspeeds : of the modes [m/s]
    grid : the lattice
    """

    air: Air
    folds_deg: tuple[float, ...]
    alphas_deg: tuple[float, ...] = (0.0, 4.0, 8.0)
    shares_deg: tuple[float, ...] = ()
    airspeeds: tuple[float, ...] = ()
    grid: Grid = field(default_factory=Grid)


def dihedral_words(value: float, error: float) -> str:
    """The sign of the dihedral effect in words."""
    if abs(value) <= error:
        return "neutral within the error"
    return "stable" if value < 0.0 else "unstable"


def lateral_study(craft: Biplane, plan: LateralPlan, progress: Progress = lambda _: None) -> Any:
    """Everything about lateral stability against fold, as a JSON document.

    Raises
    ------
    InputRefused : no [mass], or a fold beyond its limits
    ComputationFailed : the wings cannot carry the craft at this airspeed
    """
    folding = FoldingCraft(craft, plan.grid, drag_area(craft))
    rough = FoldEngine(craft, coarser(plan.grid), fold_rates=False)
    first = folding.symmetric(plan.folds_deg[0])
    progress("derivatives")
    rows = [_row(folding, rough, fold, plan) for fold in plan.folds_deg]
    progress("neutral fold")
    neutral = _neutral(folding, rough, plan)
    progress("shares")
    shares = [_shares(folding, fold, plan.air) for fold in plan.shares_deg]
    progress("modes")
    speeds = plan.airspeeds or (plan.air.airspeed,)
    modes = mode_rows(folding, plan.folds_deg, speeds, plan.air.density)
    yaw = [yaw_document(folding, fold, plan.air) for fold in plan.shares_deg]
    document = {
        "title": craft.title,
        "state": {
            "airspeed_m_s": plan.air.airspeed,
            "density_kg_m3": plan.air.density,
            "alphas_deg": list(plan.alphas_deg),
        },
        "reference": reference_document(first.loads.lattice),
        "folds": rows,
        "neutral_folds": neutral,
        "shares": shares,
        "modes": modes,
        "unlike_folds": [
            {"name": name} | setting_modes(folding, folds, plan.air.airspeed, plan.air.density)
            for name, folds in unlike_folds(craft).items()
        ],
        "rotors_must_add": yaw,
        "assumptions": list(ASSUMPTIONS),
        "findings": _findings(folding, plan, rows),
    }
    return without_nan(document)


def unlike_folds(craft: Biplane) -> dict[str, FoldAngles]:
    """The file's configurations whose sides are folded unlike."""
    named = {name: one.folds for name, one in craft.configurations.items()}
    return {name: folds for name, folds in named.items() if not folds.is_symmetric}


def _alpha_law(folding: FoldingCraft, air: Air) -> Callable[[Loads, float], float | None]:
    """Angle of attack of level flight."""

    def law(_loads: Loads, fold: float) -> float | None:
        flight = level_flight(folding.symmetric(fold), air.airspeed, air.density)
        return None if flight is None else flight.alpha

    return law


def _row(
    folding: FoldingCraft, rough: FoldEngine, fold: float, plan: LateralPlan
) -> dict[str, Any]:
    """Derivatives at one fold: at every angle of attack asked for, and in level flight."""
    try:
        craft = folding.symmetric(fold)
        other = rough.loads(FoldAngles.symmetric(fold))
    except FoldspanError as error:
        return {"fold_deg": fold, "reason": str(error)}
    flight = level_flight(craft, plan.air.airspeed, plan.air.density)
    row: dict[str, Any] = {
        "fold_deg": fold,
        "joined": craft.loads.lattice.is_joined,
        "alphas": [
            _derivatives(craft.loads, other, float(np.radians(alpha)), plan.grid)
            for alpha in plan.alphas_deg
        ],
    }
    row["level"] = (
        {"reason": TOO_SLOW}
        if flight is None
        else _derivatives(craft.loads, other, flight.alpha, plan.grid)
    )
    return row


def _derivatives(loads: Loads, other: Loads, alpha: float, grid: Grid) -> dict[str, Any]:
    state = FlightState(alpha=alpha)
    slopes, rough = derivatives(loads, state), derivatives(other, state)["body"]
    body = slopes["body"]
    errors = {
        name: half_width(body[name], rough[name], abs(body[name]), grid)
        for name in ("Cl_beta", "Cn_beta", "Cl_p")
    }
    return {
        "alpha_deg": float(np.degrees(alpha)),
        "CL": float(coefficients(loads, state).CL),
        "body": {name: float(body[name]) for name in NAMES},
        "stability": {name: float(slopes["stability"][name]) for name in NAMES},
        "errors": errors,
        "dihedral_effect": dihedral_words(body["Cl_beta"], errors["Cl_beta"]),
    }


def _neutral(folding: FoldingCraft, rough: FoldEngine, plan: LateralPlan) -> list[dict[str, Any]]:
    """Folds without dihedral effect in level flight, each with two intervals.

    One from the error of the lattice, one from the wake's turn with sideslip.
    """
    law = _alpha_law(folding, plan.air)
    folds = sorted({*plan.folds_deg, *_dense(plan.folds_deg)})
    found = []
    for neutral in neutral_folds(folding.engine, law, folds):
        loads = folding.engine.loads(FoldAngles.symmetric(neutral.fold_deg))
        alpha = law(loads, neutral.fold_deg)
        assert alpha is not None
        fine, _ = dihedral_effect(loads, alpha)
        coarse, _ = dihedral_effect(rough.loads(FoldAngles.symmetric(neutral.fold_deg)), alpha)
        size = abs(neutral.slope) * 10.0
        width = half_width(fine, coarse, size, plan.grid) / abs(neutral.slope)
        turned = wake_turn(loads, alpha)
        found.append(
            {
                "fold_deg": neutral.fold_deg,
                "half_width_deg": width,
                "interval_deg": [neutral.fold_deg - width, neutral.fold_deg + width],
                "wake_turn_moves_by_deg": turned / neutral.slope,
                "slope_per_rad_per_deg": neutral.slope,
                "alpha_deg": float(np.degrees(alpha)),
                "stable": "above" if neutral.slope < 0.0 else "below",
                "doubts": [doubt.sentence() for doubt in lattice_doubts(loads.lattice)],
            }
        )
    return found


def _dense(folds: Sequence[float]) -> list[float]:
    """Twelve folds over the range, so that no root falls between two asked for."""
    return [float(f) for f in np.linspace(min(folds), max(folds), 13)]


def _shares(folding: FoldingCraft, fold: float, air: Air) -> dict[str, Any]:
    try:
        flight = flown(folding, FoldAngles.symmetric(fold), air)
        shares: DihedralShares = dihedral_shares(folding.engine, fold, flight.alpha)
    except FoldspanError as error:
        return {"fold_deg": fold, "reason": str(error)}
    return {"fold_deg": fold, "alpha_deg": float(np.degrees(flight.alpha)), **vars(shares)}


def _findings(
    folding: FoldingCraft, plan: LateralPlan, rows: list[dict[str, Any]]
) -> list[dict[str, Any]]:
    alphas = [r["level"]["alpha_deg"] for r in rows if "alpha_deg" in r.get("level", {})]
    found = []
    for row in rows:
        if "reason" not in row:
            found += lattice_doubts(folding.symmetric(row["fold_deg"]).loads.lattice)
    if alphas:
        found += state_doubts(FlightState(alpha=np.radians(alphas), airspeed=plan.air.airspeed))
    return [vars(finding) for finding in gathered(found)]
