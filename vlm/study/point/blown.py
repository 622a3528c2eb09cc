"""A point with the rotors' slipstream: the plain report, and what the slipstream changes in it."""

from dataclasses import asdict, fields, replace
from typing import Any

import numpy as np

from vlm.description.models import Biplane
from vlm.errors import FoldspanError
from vlm.findings import Finding
from vlm.flight.trim.condition import FlightConditions, has_trim
from vlm.lattice.cellule import Grid, build_cellule
from vlm.loads.coefficients import Coefficients
from vlm.loads.parts import FinLoad, HingeLoad, StripLoad, WingLoad
from vlm.loads.state import FlightState
from vlm.sides import Side
from vlm.study.point.blown_values import BlownSetting, Values, with_changes
from vlm.study.point.errors import coarser, half_width
from vlm.study.point.point import PointReport, with_value_findings
from vlm.study.point.sizes import surface_areas, tip_sizes
from vlm.study.point.slipstream import Slipstreams, Thrust, left_out_finding


def _setting(
    craft: Biplane, report: PointReport, thrust: Thrust
) -> tuple[BlownSetting, Slipstreams]:
    conditions = FlightConditions(craft, float(report.state.density))
    slipstreams = Slipstreams(craft, thrust, conditions)
    thrusts = slipstreams.thrusts(report.folds, float(report.state.airspeed))
    return BlownSetting(craft, report.folds, report.lattice.grid, thrusts), slipstreams


def blown_report(craft: Biplane, report: PointReport, thrust: Thrust) -> PointReport:
    """The report with the slipstream in every number.

    Raises
    ------
    InputRefused : the file says too little for it
    ComputationFailed : no trim on the wings
    """
    setting, slipstreams = _setting(craft, report, thrust)
    grid, state = report.lattice.grid, report.state
    changes = _changes(craft, setting, state, grid)
    rough = _changes(craft, replace(setting, grid=coarser(grid)), state, coarser(grid))
    strips = setting.strips()
    blown = _with_values(report, changes)
    slope = float(blown.derivatives["body"]["CL_alpha"])
    report = replace(
        blown,
        strips=_blown_strips(report, setting, state),
        error_estimate=_widened(
            report.error_estimate, changes, rough, grid, slope, report.loads.reference.chord
        ),
        slipstream=slipstreams.row(
            strips, report.folds, float(state.airspeed), float(state.alpha), float(state.beta)
        ),
    )
    return with_value_findings(report)


def _changes(craft: Biplane, setting: BlownSetting, state: FlightState, grid: Grid) -> Values:
    cellule = build_cellule(craft, grid)
    found = setting.changes(state, surface_areas(cellule), tip_sizes(cellule))
    return {name: float(value) for name, value in found.items()}


def _with_values(report: PointReport, changes: Values) -> PointReport:
    reference = report.loads.reference
    body, stability = report.derivatives["body"], report.derivatives["stability"]
    values = with_changes(
        asdict(report.coefficients) | body, changes, reference.chord, reference.moment_point[0]
    )
    return replace(
        report,
        coefficients=Coefficients(**{f.name: values[f.name] for f in fields(Coefficients)}),
        derivatives={
            "body": {name: values[name] for name in body},
            "stability": {name: stability[name] + _of(changes, name) for name in stability},
        },
        neutral_point=float(values["neutral_point_m"]),
        static_margin=float(values["static_margin"]),
        wings={
            name: WingLoad(
                wing.CL + changes[f"CL_{name}"],
                wing.drag_share + changes[f"CDi_share_{name}"],
                wing.area,
            )
            for name, wing in report.wings.items()
        },
        fins={
            name: FinLoad(
                fin.CL + changes[f"CL_fin_{name}"],
                fin.CY + changes[f"CY_fin_{name}"],
                fin.drag_share + changes[f"CDi_share_fin_{name}"],
                fin.area,
            )
            for name, fin in report.fins.items()
        },
        hinges={
            body_name: HingeLoad(
                hinge.moment + changes[f"hinge_moment_{body_name}_N_m"],
                hinge.coefficient + changes[f"hinge_moment_coefficient_{body_name}"],
            )
            for body_name, hinge in report.hinges.items()
        },
    )


def _of(changes: Values, name: str) -> Any:
    """Change of a derivative in stability axes."""
    own = f"{name}_stability"
    return changes[own] if own in changes else changes[name]


def _widened(
    widths: dict[str, float] | None,
    changes: Values,
    rough: Values,
    grid: Grid,
    slope: float,
    chord: float,
) -> dict[str, float] | None:
    """Half-widths with the error of the slipstream's part, from a coarser lattice too."""
    if widths is None:
        return None
    found = dict(widths)
    for name, change in changes.items():
        if name in found:
            found[name] += half_width(change, rough[name], abs(change), grid)
    if "static_margin" in found:
        change, other = changes["Cm_alpha"], rough["Cm_alpha"]
        margin = half_width(change, other, abs(change), grid) / abs(slope)
        found["static_margin"] += margin
        found["neutral_point_m"] += margin * chord
    return found


def _blown_strips(
    report: PointReport, setting: BlownSetting, state: FlightState
) -> list[StripLoad]:
    """Strips with the slipstream's lift and circulation; cl stays over the stream's pressure."""
    strips = setting.strips()
    flat = FlightState(**{
        name: np.atleast_1d(getattr(state, name))
        for name in ("alpha", "beta", "p_hat", "q_hat", "r_hat")
    }, airspeed=state.airspeed, density=state.density)  # fmt: skip
    blown, places, lattice = setting.blown(strips, flat), strips.model.strips, report.lattice
    wind = flat.wind()[0]
    upward = np.cross(wind, np.cross(places.normal, wind))
    upward /= np.linalg.norm(upward, axis=1, keepdims=True)
    found: dict[tuple[Any, ...], tuple[float, float]] = {}
    first = 0
    for patch in lattice.patches:
        stations = patch.trailing_stations()
        for strip in range(patch.strips):
            at = first + strip
            lift = float(blown.force[0, at] @ upward[at])
            area = float(patch.share * patch.chord[strip] * patch.width[strip])
            key = (patch.wing, float(stations[strip, 1]), float(stations[strip, 2]))
            change = lift / (state.dynamic_pressure * area)
            if not (patch.on_plane and patch.side is Side.PORT):  # such a fin is listed once
                found[key] = (change, float(blown.circulation[0, at]) / patch.share)
        first += patch.strips
    return [
        replace(
            one,
            cl=one.cl + found[one.wing, one.y_m, one.z_m][0],
            circulation_m2_s=one.circulation_m2_s + found[one.wing, one.y_m, one.z_m][1],
        )
        for one in report.strips
    ]


def slipstream_left_out(craft: Biplane, report: PointReport) -> list[Finding]:
    """The warning that the trim's slipstream would change the lift of this setting."""
    if not has_trim(craft) or craft.propulsion is None or not craft.propulsion.slipstream:
        return []
    try:
        setting, _ = _setting(craft, report, "trim")
        change = _changes(craft, setting, report.state, report.lattice.grid)["CL"]
    except FoldspanError:
        return []
    lift = float(report.coefficients.CL)
    least = abs(report.derivatives["body"]["CL_alpha"]) * np.radians(1.0)
    return left_out_finding("CL", lift, lift + change, max(abs(lift), least))
