"""The table of one setting, for people."""

from typing import Any

import numpy as np

from vlm.cautions import SHORT_CAUTION
from vlm.quantities import QUANTITIES
from vlm.show.tables.layout import number, section, table, with_error
from vlm.show.wakes import WAKES
from vlm.show.words import sign_words, tip_words

COEFFICIENTS = ("CL", "CDi", "CDi_surface", "CY", "Cl", "Cm", "Cn")


def point_table(title: str, report: Any) -> str:
    """All of a point report as text."""
    blocks = [
        _head(title, report),
        section("Coefficients", _coefficients(report)),
        section("Derivatives, per radian", _derivatives(report)),
        section("Wings", _wings(report)),
    ]
    if report.hinges:
        blocks.append(section("Hinges (positive raises the tip)", _hinges(report)))
    blocks.append(section("Strips, port to starboard", _strips(report)))
    return "\n".join([*blocks, SHORT_CAUTION])


def _head(title: str, report: Any) -> str:
    state, reference = report.state, report.lattice.reference
    point = ", ".join(number(float(v)) for v in reference.moment_point)
    return (
        f"{title}\n"
        f"fold port {report.folds.left_deg:g} deg, starboard {report.folds.right_deg:g} deg;"
        f" angle of attack {np.degrees(state.alpha):g} deg,"
        f" sideslip {np.degrees(state.beta):g} deg;"
        f" {state.airspeed:g} m/s at {state.density:g} kg/m^3\n"
        f"reference area {number(reference.area)} m^2, span {number(reference.span)} m,"
        f" chord {number(reference.chord)} m, moment point ({point}) m"
        " in geometry axes (x aft, y starboard, z up)\n"
        f"{report.lattice.panels} panels, {WAKES[report.loads.kind]}"
        f"{_settling(report)}\n"
    )


def _settling(report: Any) -> str:
    """How a relaxed wake settled; nothing for a straight one."""
    if report.loads.kind != "relaxed":
        return ""
    loads = report.loads
    state = "converged" if loads.converged else "NOT converged"
    return (
        f", {state} in {len(loads.changes)} iterations; last change"
        f" {loads.changes[-1]:.1e} of the largest circulation"
    )


def _coefficients(report: Any) -> str:
    errors = report.half_widths
    rows = []
    for name in COEFFICIENTS:
        quantity = QUANTITIES[name]
        value = getattr(report.coefficients, name)
        rows.append([name, with_error(value, errors.get(name)), _meaning(quantity)])
    efficiency = report.coefficients.span_efficiency
    rows.append(["e", with_error(efficiency, errors.get("span_efficiency")), "span efficiency"])
    rows.append(
        ["e best", with_error(report.coefficients.best_span_efficiency,
                              errors.get("best_span_efficiency")),
         "span efficiency of the best loading of this wake's shape"]
    )  # fmt: skip
    rows.append(
        ["x_n", with_error(report.neutral_point, errors.get("neutral_point_m")),
         f"neutral point [m]; static margin"
         f" {with_error(report.static_margin, errors.get('static_margin'))} chords"]
    )  # fmt: skip
    return table(["", "value", "meaning"], rows, left=3)


def _meaning(quantity: Any) -> str:
    sign = f"; positive: {quantity.sign}" if quantity.sign else ""
    return f"{quantity.long_name}{sign}"


def _derivatives(report: Any) -> str:
    errors = report.half_widths
    body, stability = report.derivatives["body"], report.derivatives["stability"]
    rows = []

    def beside(name: str) -> str:
        width = errors.get(f"{name}_stability", errors.get(name))
        return with_error(stability[name], width)

    for name, value in body.items():
        words = sign_words(name, value, errors.get(name)) if name == "Cl_beta" else ""
        rows.append([name, with_error(value, errors.get(name)), beside(name), words])
    return table(["", "body axes", "stability axes", ""], rows, left=1)


def _wings(report: Any) -> str:
    errors = report.half_widths
    rows = [
        [
            name,
            with_error(wing.CL, errors.get(f"CL_{name}")),
            with_error(wing.drag_share, errors.get(f"CDi_share_{name}")),
            number(wing.area),
        ]
        for name, wing in report.wings.items()
    ]
    return table(["wing", "CL on its own area", "share of CDi", "flat area [m^2]"], rows)


def _hinges(report: Any) -> str:
    errors = report.half_widths
    rows = [
        [
            tip_words(name),
            with_error(hinge.moment, errors.get(f"hinge_moment_{name}_N_m")),
            with_error(hinge.coefficient, errors.get(f"hinge_moment_coefficient_{name}")),
        ]
        for name, hinge in report.hinges.items()
    ]
    return table(["hinge", "moment [N m]", "coefficient"], rows)


def _strips(report: Any) -> str:
    rows = [
        [f"{s.wing} {s.part}", number(s.y, 4), number(s.z, 4), number(s.chord, 3),
         number(s.cl, 4), number(s.circulation, 4)]
        for s in report.strips
    ]  # fmt: skip
    heads = ["strip", "y [m]", "z [m]", "chord [m]", "cl", "circulation [m^2/s]"]
    return table(heads, rows)
