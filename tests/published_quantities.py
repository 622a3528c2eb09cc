"""Quantities of solved cases: coefficients, derivatives, shares, influences."""

import numpy as np
from published_cases import Solved, Table, quantity, solved
from scipy.interpolate import CubicSpline

from vlm.flow.influence import influence_matrix
from vlm.flow.wake import axis_wake
from vlm.loads.coefficients import coefficients, neutral_point
from vlm.loads.parts import hinge_loads, wing_loads
from vlm.loads.state import FlightState


@quantity
def coefficient(found: Solved, told: Table) -> float:
    """A coefficient by its key."""
    return float(getattr(found.coefficients, told["key"]))


@quantity
def derivative(found: Solved, told: Table) -> float:
    """A derivative by its key, in body axes unless told otherwise."""
    return float(found.slopes[told.get("axes", "body")][told["key"]])


@quantity
def derivative_per_lift(found: Solved, told: Table) -> float:
    """A derivative over the lift coefficient of the state."""
    return derivative(found, told) / found.coefficients.CL


@quantity
def drag_over_lift_squared(found: Solved, told: Table) -> float:
    """CDi / CL^2."""
    return found.coefficients.CDi / found.coefficients.CL**2


@quantity
def drag_excess(found: Solved, told: Table) -> float:
    """1/e - 1."""
    return 1.0 / found.coefficients.span_efficiency - 1.0


@quantity
def drag_over_lift_incidence(found: Solved, told: Table) -> float:
    """CDi / (CL alpha)."""
    state = found.coefficients
    return state.CDi / (state.CL * float(found.state.alpha))


@quantity
def near_over_far_drag(found: Solved, told: Table) -> float:
    """Induced drag from the forces on the wings over that from the far-field plane."""
    return found.coefficients.CDi_surface / found.coefficients.CDi


@quantity
def neutral_point_m(found: Solved, told: Table) -> float:
    """Neutral point aft of the upper wing's leading edge at the centreline [m]."""
    return float(neutral_point(found.loads, found.slopes["body"])[0])


@quantity
def derivative_per_dihedral(found: Solved, told: Table) -> float:
    """A derivative over the dihedral of the upper wing, or over the fold of its tips [rad]."""
    angle = np.radians(found.case.get("fold_deg") or found.case["upper"]["dihedral_deg"])
    return derivative(found, told) / float(angle)


@quantity
def wing_lift_slope(found: Solved, told: Table) -> float:
    """Lift over dynamic pressure, a wing's own area and the angle of attack [1/rad]."""
    areas = {name: 2.0 * half.area for name, half in found.cellule.halves.items()}
    lift = wing_loads(found.loads, found.state, areas)[told["wing"]].CL
    return lift / float(found.state.alpha)


@quantity
def upper_over_lower_lift(found: Solved, told: Table) -> float:
    """Lift coefficient of the upper wing over the lower one's."""
    return wing_lift_slope(found, {"wing": "upper"}) / wing_lift_slope(found, {"wing": "lower"})


@quantity
def zero_lift_deg(found: Solved, told: Table) -> float:
    """Angle of attack at zero lift [deg]: the lift is linear in it but for 1/cos."""
    lift = found.coefficients.CL
    return float(np.degrees(found.state.alpha - np.arctan(lift / found.slopes["body"]["CL_alpha"])))


@quantity
def moment_at_zero_lift(found: Solved, told: Table) -> float:
    """Cm where the lift vanishes."""
    angle = np.radians(zero_lift_deg(found, told))
    return float(coefficients(found.loads, FlightState(alpha=angle)).Cm)


@quantity
def drag_at_zero_lift(found: Solved, told: Table) -> float:
    """CDi where the lift vanishes."""
    angle = np.radians(zero_lift_deg(found, told))
    return float(coefficients(found.loads, FlightState(alpha=angle)).CDi)


@quantity
def centre_lift_slope(found: Solved, told: Table) -> float:
    """cl at the strip nearest to the centreline over 2 pi and the angle of attack."""
    wing = told.get("wing", "upper")
    near = min((s for s in found.strips if s.wing == wing), key=lambda s: abs(s.y_m))
    return near.cl / (2.0 * np.pi * float(found.state.alpha))


@quantity
def centre_upper_over_lower(found: Solved, told: Table) -> float:
    """cl of the upper wing over that of the lower one amidspan."""
    return centre_lift_slope(found, {}) / centre_lift_slope(found, {"wing": "lower"})


@quantity
def centre_lift_per_incidence(found: Solved, told: Table) -> float:
    """cl at the strip nearest to the centreline over 2 pi and a given incidence."""
    near = min((s for s in found.strips if s.wing == told["wing"]), key=lambda s: abs(s.y_m))
    return near.cl / (2.0 * np.pi * float(np.radians(told["incidence_deg"])))


@quantity
def sideslip_change_by_dihedral(found: Solved, told: Table) -> float:
    """Cl_beta less that of the flat wing at the same angle of attack."""
    flat = solved({**told["flat"], "alpha_deg": found.case.get("alpha_deg", 0.0)})
    return found.slopes["body"]["Cl_beta"] - flat.slopes["body"]["Cl_beta"]


@quantity
def loading(found: Solved, told: Table) -> float:
    """cl c / (CL c_mean) of the upper wing at a fraction of the half span, between strips."""
    half = 0.5 * found.lattice.reference.span
    own = [s for s in found.strips if s.wing == "upper" and s.side == "right"]
    angle = np.arccos(np.clip([s.y_m / half for s in own], -1.0, 1.0))[::-1]
    # Gamma is a smooth odd function of this angle: interpolate it as such.
    gamma = np.array([s.cl * s.chord_m for s in own])[::-1]
    wanted = float(np.arccos(told["eta"]))
    full_angle = np.concatenate([[0.0], angle, np.pi - angle[::-1], [np.pi]])
    full = np.concatenate([[0.0], gamma, gamma[::-1], [0.0]])
    mean = found.lattice.reference.area / found.lattice.reference.span
    return float(CubicSpline(full_angle, full)(wanted)) / (found.coefficients.CL * mean)


@quantity
def tip_lift_share(found: Solved, told: Table) -> float:
    """Circulation of the starboard tip over that of the whole craft."""
    tip = sum(
        s.circulation_m2_s * s.width_m
        for s in found.strips
        if s.part == "tip" and s.side == "right"
    )
    return tip / sum(s.circulation_m2_s * s.width_m for s in found.strips)


@quantity
def hinge_moment_share(found: Solved, told: Table) -> float:
    """Moment about the starboard hinge over the craft's lift times half its span."""
    reference = found.lattice.reference
    moment = hinge_loads(found.loads, found.state, {"upper": (1.0, 1.0)})["upper_right"].moment
    lift = found.coefficients.CL * found.state.dynamic_pressure * reference.area
    return moment / (lift * 0.5 * reference.span)


@quantity
def best_span_efficiency(found: Solved, told: Table) -> float:
    """Best span efficiency of the wake's shape, on the span given or the reference span."""
    span = told.get("span_m", found.lattice.reference.span)
    return found.trace.best_efficiency(float(span))


@quantity
def influence(found: Solved, told: Table) -> float:
    """Element of the influence matrix along z times 4 pi b; rows and columns count outward."""
    matrix = influence_matrix(axis_wake(found.lattice))
    half = found.lattice.panels // 2
    column = told["column"] - 1 + (half if told["side"] == "port" else 0)
    return float(matrix[told["row"] - 1, column]) * 4.0 * np.pi * found.lattice.reference.span


@quantity
def strip_strength(found: Solved, told: Table) -> float:
    """Circulation of a starboard strip over 4 pi b U alpha."""
    own = [s for s in found.strips if s.side == "right"]
    scale = 4.0 * np.pi * found.lattice.reference.span * float(found.state.alpha)
    return own[told["strip"] - 1].circulation_m2_s / scale


@quantity
def prandtl_drag_ratio(found: Solved, told: Table) -> float:
    """CDi over Prandtl's formula at the two wings' own lifts, elliptic sigma given."""
    areas = {name: 2.0 * half.area for name, half in found.cellule.halves.items()}
    wings = wing_loads(found.loads, found.state, areas)
    lifts = [wings[name].CL * areas[name] for name in ("upper", "lower")]
    spans = [2.0 * found.cellule.halves[name].half_span for name in ("upper", "lower")]
    loads = [lift / span for lift, span in zip(lifts, spans, strict=True)]
    formula = (loads[0] ** 2 + 2.0 * told["sigma"] * loads[0] * loads[1] + loads[1] ** 2) / np.pi
    return found.coefficients.CDi * found.lattice.reference.area / formula


def tip_normal(found: Solved) -> np.ndarray:
    """Unit normal of the starboard tip."""
    patches = (p for p in found.lattice.patches if p.part == "tip" and p.side == "right")
    return np.asarray(next(patches).normals[0, 0])


@quantity
def tip_normalwash(found: Solved, told: Table) -> float:
    """Free stream along the starboard tip's normal, over the airspeed."""
    return float(tip_normal(found) @ found.state.wind())


@quantity
def tip_slope(found: Solved, told: Table) -> float:
    """Tangent of the angle at which the starboard tip cuts a plane y = constant, nose up."""
    normal = tip_normal(found)
    return float(normal[0] / normal[2])
