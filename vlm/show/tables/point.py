"""The text of one setting, for people."""

from typing import Any

import numpy as np

from vlm.quantities import QUANTITIES, Quantity
from vlm.show.text.answer import framed, wrapped
from vlm.show.text.layout import is_known, number, section, table, with_error
from vlm.show.wakes import WAKES
from vlm.show.words import SMALLEST, body_words, sign_words, slipstream_words, tip_words
from vlm.study.point.point import PointReport
from vlm.study.point.rotors_across import turned_in, without_rotors
from vlm.verdicts import SIGN_NOT_KNOWN, known_sign

COEFFICIENTS = ("CL", "CDi", "CDi_surface", "CY", "Cl", "Cm", "Cn")
DRAGS = {"CDi": "induced drag", "CDi_surface": "the same from the surface's forces, as a check"}
SIGNS = (
    "Positive: CY to starboard, Cl starboard wing down, Cm nose up, Cn nose to starboard, beta wind"
    " from starboard; a hinge moment raises the tip."
)


def point_table(title: str, report: PointReport, *, full: bool = False) -> str:
    """A point report as text: the answer and what carries it; all of it with ``full``."""
    blocks = [
        section("Coefficients", _coefficients(report)).rstrip(),
        section("Derivatives, per radian, body axes", _derivatives(report)).rstrip(),
    ]
    if report.hinges:
        blocks.append(section("Hinge moments", _hinges(report)).rstrip())
    if report.fins:
        blocks.append(section("Fins", _fins(report)).rstrip())
    blocks.append(wrapped(SIGNS))
    rests = (
        f"{report.lattice.panels} panels, {WAKES[report.loads.kind]}{_convergence(report.loads)};"
        " ± is the lattice's error and what the wake leaves open together; no friction, no stall"
        + ("" if report.slipstream is None else "; slipstream by momentum theory, thrusts held")
    )
    return framed(
        f"{title}: one setting", _answer(report), blocks, report.findings, rests,
        _full(report) if full else None, "--full, --json",
    )  # fmt: skip


def _answer(report: PointReport) -> list[str]:
    """Setting and loads; what is unstable before what is not; moments of a setting off its mirror
    image."""
    state, errors, found = report.state, report.half_widths, report.coefficients
    folds = report.folds
    tips = (
        ""
        if not report.hinges
        else f"tips at {folds.left_deg:g} deg, "
        if folds.left_deg == folds.right_deg
        else f"tips at {folds.left_deg:g} deg (port) and {folds.right_deg:g} deg (starboard), "
    )
    slip = f", sideslip {np.degrees(state.beta):g} deg" if state.beta else ""
    lines = [
        f"{tips}angle of attack {np.degrees(state.alpha):g} deg{slip}, {state.airspeed:g}"
        f" m/s at {state.density:g} kg/m^3:"
        f" CL {with_error(found.CL, errors.get('CL'))},"
        f" CDi {with_error(found.CDi, errors.get('CDi'))}."
    ]
    lines += slipstream_words(report.slipstream)
    if not errors:
        return [*lines, "Errors are left out, and with them what the signs say."]
    if not any(map(is_known, errors.values())):
        lines.append("The lattice is too coarse for errors, and what the signs say, to be known.")
    margin, dihedral = report.static_margin, report.derivatives["body"]["Cl_beta"]
    wide, wider = errors.get("static_margin"), errors.get("Cl_beta")
    words = _sentence("static_margin", margin, wide, "whether it is stable in pitch", report)
    said = {
        f"{words}static margin {with_error(margin, wide)} chords{_control(margin, wide)}.":
            known_sign(margin, wide),
        f"{_sentence('Cl_beta', dihedral, wider, 'the sign of the dihedral effect', report)}Cl_beta"
        f" {with_error(dihedral, wider)} per radian.": known_sign(-dihedral, wider),
    }  # fmt: skip
    lines += sorted(said, key=lambda one: said[one] or 0)
    turns = report.body_turns
    body = body_words({"in pitch": turns.pitch_m3, "in yaw": turns.yaw_m3})
    lines += [body] if body else []
    for name, axis in (("Cl", "rolling"), ("Cn", "yawing")):
        value = getattr(found, name)
        if abs(value) > SMALLEST:
            way = _sentence(name, value, errors.get(name), f"the sign of the {axis} moment", report)
            lines.append(f"{way}{name} {with_error(value, errors.get(name))}.")
    return [f"{line[:1].upper()}{line[1:]}" for line in lines]


def _sentence(name: str, value: float, width: float | None, of: str, report: PointReport) -> str:
    """What a number's sign says, to open a sentence with; empty where its error is not known."""
    words = sign_words(name, value, width)
    words = f"{of} is not known" if words == SIGN_NOT_KNOWN else words
    words += without_rotors(turned_in(report), name)
    return f"{words}: " if words else ""


def _control(margin: float, width: float | None) -> str:
    return "; control must hold it" if known_sign(margin, width) == -1 else ""


def _full(report: PointReport) -> list[str]:
    reference = report.lattice.reference
    point = ", ".join(number(float(v)) for v in reference.moment_point)
    return [
        f"reference area {number(reference.area)} m^2, span {number(reference.span)} m, chord"
        f" {number(reference.chord)} m,\nmoment point ({point}) m in geometry axes"
        " (x aft, y starboard, z up)",
        section("What the coefficients are", _meanings()).rstrip(),
        section("Derivatives, per radian, stability axes", _stability(report)).rstrip(),
        section("Wings", _wings(report)).rstrip(),
        section("Strips, port to starboard", _strips(report)).rstrip(),
    ]


def _convergence(loads: Any) -> str:
    """How a relaxed wake converged; nothing for a straight one."""
    if loads.kind != "relaxed":
        return ""
    state = "converged" if loads.converged else "NOT converged"
    return (
        f", {state} in {len(loads.changes)} iterations; last change"
        f" {loads.changes[-1]:.1e} of the largest circulation"
    )


def _drag_words(report: PointReport, name: str) -> str:
    """What a drag coefficient is; empty for other numbers.

    In the wake's energy stands what the moments do at the rates, too: of the forces on the surface
    alone CDi - CDi_surface = -2 (Cl p_hat + Cm q_hat + Cn r_hat) is left out.
    """
    found, state = report.coefficients, report.state
    work = -2.0 * (found.Cl * state.p_hat + found.Cm * state.q_hat + found.Cn * state.r_hat)
    if name == "CDi_surface" and abs(work) > SMALLEST:
        return f"its forces alone; {found.CDi_surface + work:.4g} with the rates' work"
    return DRAGS.get(name, "")


def _coefficients(report: PointReport) -> str:
    errors = report.half_widths
    found = report.coefficients
    values = {name: getattr(found, name) for name in COEFFICIENTS}
    rows = [
        [
            name,
            with_error(value, errors.get(name)),
            _drag_words(report, name) or sign_words(name, value, errors.get(name)),
        ]
        for name, value in values.items()
    ]
    margin, width = report.static_margin, errors.get("static_margin")
    rows += [
        ["e", with_error(found.span_efficiency, errors.get("span_efficiency")),
         "span efficiency"],
        ["e best", with_error(found.best_span_efficiency, errors.get("best_span_efficiency")),
         "span efficiency of the best loading here"],
        ["x_n", with_error(report.neutral_point, errors.get("neutral_point_m")),
         "neutral point [m]"],
        ["margin", with_error(margin, width), _said(report, "static_margin", margin)],
    ]  # fmt: skip
    return table(["", "value", ""], rows, left=3)


def _meanings() -> str:
    return "\n".join(
        wrapped(f"{name}: {_meaning(QUANTITIES[name])}", "  ") for name in COEFFICIENTS
    )


def _meaning(quantity: Quantity) -> str:
    sign = f"; positive: {quantity.sign}" if quantity.sign else ""
    return f"{quantity.long_name}{sign}"


def _derivatives(report: PointReport) -> str:
    errors = report.half_widths
    rows = [
        [name, with_error(value, errors.get(name)), _said(report, name, value)]
        for name, value in report.derivatives["body"].items()
    ]
    return table(["", "value", ""], rows, left=3)


def _said(report: PointReport, name: str, value: float) -> str:
    """What a number's sign says, and of what where rotors may turn it."""
    words = sign_words(name, value, report.half_widths.get(name))
    return words and f"{words}{without_rotors(turned_in(report), name)}"


def _stability(report: PointReport) -> str:
    errors = report.half_widths
    rows = [
        [name, with_error(value, errors.get(f"{name}_stability", errors.get(name)))]
        for name, value in report.derivatives["stability"].items()
    ]
    return table(["", "value"], rows, left=2)


def _wings(report: PointReport) -> str:
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


def _fins(report: PointReport) -> str:
    errors = report.half_widths
    rows = [
        [
            name,
            with_error(fin.CL, errors.get(f"CL_fin_{name}")),
            with_error(fin.CY, errors.get(f"CY_fin_{name}")),
            with_error(fin.drag_share, errors.get(f"CDi_share_fin_{name}")),
            number(fin.area),
        ]
        for name, fin in report.fins.items()
    ]
    heads = ["fin", "CL on its area", "CY on its area", "share of CDi", "area [m^2]"]
    return table(heads, rows)


def _hinges(report: PointReport) -> str:
    errors = report.half_widths
    rows = [
        [
            tip_words(name),
            with_error(hinge.moment, errors.get(f"hinge_moment_{name}_N_m")),
            with_error(hinge.coefficient, errors.get(f"hinge_moment_coefficient_{name}")),
            sign_words("hinge", hinge.moment, errors.get(f"hinge_moment_{name}_N_m")),
        ]
        for name, hinge in report.hinges.items()
    ]
    return table(["", "moment [N m]", "coefficient", ""], rows, left=1)


def _strips(report: PointReport) -> str:
    rows = [
        [s.wing if s.part == "fin" else f"{s.wing} {s.part}", number(s.y_m, 4), number(s.z_m, 4),
         number(s.chord_m, 3), number(s.cl, 4), number(s.circulation_m2_s, 4)]
        for s in report.strips
    ]  # fmt: skip
    heads = ["strip", "y [m]", "z [m]", "chord [m]", "cl", "circulation [m^2/s]"]
    return table(heads, rows)
