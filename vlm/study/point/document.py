"""One setting as a JSON document: the types of its parts, and how they are made."""

from dataclasses import asdict
from typing import Annotated, Any, TypedDict

import numpy as np

from vlm.findings import Finding
from vlm.lattice.lattice import Lattice
from vlm.loads.coefficients import Coefficients
from vlm.loads.craft_loads import CraftLoads
from vlm.loads.parts import StripLoad
from vlm.loads.relaxed_loads import RelaxedLoads
from vlm.loads.soundness import residual
from vlm.plain import Shown, without_nan
from vlm.study.point.point import BodyVolumes, PointReport
from vlm.study.point.slipstream import SlipstreamRow

FindingDocument = Annotated[dict[str, Any], Shown(Finding)]


class StateDocument(TypedDict):
    """The flight state and the folds."""

    alpha_deg: float
    beta_deg: float
    p_hat: float
    q_hat: float
    r_hat: float
    fold_left_deg: float
    fold_right_deg: float
    airspeed_m_s: float
    density_kg_m3: float


class ReferenceDocument(TypedDict):
    """What coefficients are based on."""

    area_m2: float
    span_m: float
    chord_m: float
    moment_point_m: list[float]


class AxesDocument(TypedDict):
    """Derivatives in body and in stability axes, per radian.

    Attributes
    ----------
    body, stability : by name, such as Cl_beta; angles and rates as the conventions say
    """

    body: dict[str, float]
    stability: dict[str, float]


class PointWing(TypedDict):
    """One wing.

    Attributes
    ----------
    CL : lift coefficient on the wing's own flat area [1]
    area_m2 : flat area of the wing [m^2]
    """

    CL: float
    CDi_share: float
    area_m2: float


class PointFin(TypedDict):
    """One fin, or a pair of them; coefficients on the area of its plates.

    Attributes
    ----------
    area_m2 : of all its plates [m^2]
    """

    CL: float
    CY: float
    CDi_share: float
    area_m2: float


class PointHinge(TypedDict):
    """Moment of the air about one hinge."""

    moment_N_m: float
    moment_coefficient: float


class LatticeDocument(TypedDict):
    """Size and soundness of the lattice.

    Attributes
    ----------
    wake : "stream", "craft" or "relaxed"
    condition : estimated condition number of the matrix [1]
    residual : largest flow through a panel over the airspeed [1]
    joined_tips : tips whose ends are joined
    """

    panels: int
    rows: int
    strips: int
    wake: str
    condition: float
    residual: float
    joined_tips: list[str]


class RelaxedWakeDocument(TypedDict):
    """How a relaxed wake was made, and whether it converged.

    Attributes
    ----------
    last_change : of a circulation, in the last iteration, over the largest [1]
    largest_last_change : below which it counts as converged [1]
    nodes : of each wake line
    length_m : of the wake lines [m]
    core_m : radius of the vortex cores [m]
    """

    converged: bool
    iterations: int
    last_change: float
    largest_last_change: float
    nodes: int
    length_m: float
    core_m: float


class PointDocument(TypedDict):
    """One setting: loads, derivatives, hinge moments and strips, with their errors.

    Attributes
    ----------
    wings, fins, hinges : by name
    error_estimate : half-width of the lattice's error, by quantity; null where left out
    model_spread : half-width of what the model leaves open, by quantity; null where left out
    wake : "stream", "craft" or "relaxed"
    slipstream : what the rotors blow; null where none was asked for
    body_turns : least volumes of a round body, left out here, that may turn stability in pitch and
        in yaw; null where that is not known to be stable
    findings : warnings, each with its number, limit and remedy
    """

    state: StateDocument
    reference: ReferenceDocument
    coefficients: Annotated[dict[str, Any], Shown(Coefficients)]
    derivatives: AxesDocument
    neutral_point_m: float
    static_margin: float
    wings: dict[str, PointWing]
    fins: dict[str, PointFin]
    hinges: dict[str, PointHinge]
    strips: list[Annotated[dict[str, Any], Shown(StripLoad)]]
    lattice: LatticeDocument
    relaxed_wake: RelaxedWakeDocument | None
    error_estimate: dict[str, float] | None
    model_spread: dict[str, float] | None
    wake: str
    slipstream: Annotated[dict[str, Any] | None, Shown(SlipstreamRow | None)]
    body_turns: Annotated[dict[str, Any], Shown(BodyVolumes)]
    findings: list[FindingDocument]


def point_document(report: PointReport) -> PointDocument:
    """The report as the JSON document of the contract: plain floats, null for no value."""
    state, lattice = report.state, report.lattice
    document: PointDocument = {
        "state": {
            "alpha_deg": np.degrees(state.alpha),
            "beta_deg": np.degrees(state.beta),
            "p_hat": state.p_hat,
            "q_hat": state.q_hat,
            "r_hat": state.r_hat,
            "fold_left_deg": report.folds.left_deg,
            "fold_right_deg": report.folds.right_deg,
            "airspeed_m_s": state.airspeed,
            "density_kg_m3": state.density,
        },
        "reference": reference_document(lattice),
        "coefficients": asdict(report.coefficients),
        "derivatives": {
            "body": report.derivatives["body"],
            "stability": report.derivatives["stability"],
        },
        "neutral_point_m": report.neutral_point,
        "static_margin": report.static_margin,
        "wings": {
            name: {"CL": wing.CL, "CDi_share": wing.drag_share, "area_m2": wing.area}
            for name, wing in report.wings.items()
        },
        "fins": {
            name: {"CL": fin.CL, "CY": fin.CY, "CDi_share": fin.drag_share, "area_m2": fin.area}
            for name, fin in report.fins.items()
        },
        "hinges": {
            name: {"moment_N_m": hinge.moment, "moment_coefficient": hinge.coefficient}
            for name, hinge in report.hinges.items()
        },
        "strips": [asdict(strip) for strip in report.strips],
        "lattice": lattice_document(report.loads),
        "relaxed_wake": relaxed_wake_document(report.loads),
        "error_estimate": report.error_estimate,
        "model_spread": report.model_spread,
        "wake": report.loads.kind,
        "slipstream": None if report.slipstream is None else asdict(report.slipstream),
        "body_turns": asdict(report.body_turns),
        "findings": [asdict(finding) for finding in report.findings],
    }
    return without_nan(document)


def reference_document(lattice: Lattice) -> ReferenceDocument:
    """References as the contract names them."""
    reference = lattice.reference
    return {
        "area_m2": reference.area,
        "span_m": reference.span,
        "chord_m": reference.chord,
        "moment_point_m": [float(v) for v in reference.moment_point],
    }


def relaxed_wake_document(loads: CraftLoads) -> RelaxedWakeDocument | None:
    """How a relaxed wake was made and whether it converged; None for a straight wake."""
    if not isinstance(loads, RelaxedLoads):
        return None
    span, sizes = loads.reference.span, loads.sizes
    return {
        "converged": loads.converged,
        "iterations": len(loads.changes),
        "last_change": loads.changes[-1],
        "largest_last_change": sizes.tolerance,
        "nodes": sizes.nodes,
        "length_m": sizes.length * span,
        "core_m": sizes.core * span,
    }


def lattice_document(loads: CraftLoads) -> LatticeDocument:
    """Size and soundness of the lattice."""
    lattice = loads.lattice
    return {
        "panels": lattice.panels,
        "rows": lattice.grid.rows,
        "strips": lattice.grid.strips,
        "wake": loads.kind,
        "condition": loads.condition,
        "residual": residual(loads),
        "joined_tips": [joint.tip for joint in lattice.joints if joint.closed],
    }
