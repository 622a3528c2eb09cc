"""Whether the rotors' forces across their axes turn what signs say of stability.

The numbers of a setting, of a sweep and of a map are those of wings and fins. Rotors ahead of the
moment point take from static margin and Cn_beta; where that may turn a sign, it is reported.
"""

from collections.abc import Collection, Mapping

from vlm.description.models import Biplane
from vlm.findings import Finding
from vlm.flight.craft.rotor_slopes import NOT_SO_FAR, Slopes, idle_slopes, with_rotors
from vlm.study.point.point import PointReport
from vlm.verdicts import known_sign, verdict

CODE = "rotors_across"
"""Start of the codes of the warnings; the number's name follows."""
WORDS = {
    "static_margin": ("static margin", "chords", "stable", "unstable"),
    "Cl_beta": ("Cl_beta", "1/rad", "unstable", "stable"),
    "Cn_beta": ("Cn_beta", "1/rad", "stable", "unstable"),
}
ALONE, WITHOUT = "wings and fins alone", "without its rotors"
"""What a number is of, and what is added to what its sign says where rotors may turn it."""
SOURCE = "blade elements, half of it in the ±"
REMEDY = "trust the sign with rotors; lateral counts them with their thrust"


def may_turn(value: float, half_width: float | None, with_them: float, wide: float | None) -> bool:
    """Whether the sign of a number is not the same, or not known, with the rotors counted.

    Parameters
    ----------
    value, half_width : of wings and fins
    with_them, wide : the same with rotors; NaN where that is not known
    """
    return known_sign(value, half_width) != known_sign(with_them, wide)


def turned_signs(
    values: Mapping[str, float], widths: Mapping[str, float], rotors: Slopes | None
) -> Slopes:
    """Numbers with rotors, with half-widths, of those whose sign they may turn.

    Parameters
    ----------
    values : of wings and fins: those of :func:`with_rotors`, and "static_margin"
    widths : their half-widths; a number without one says nothing by its sign
    rotors : of :func:`idle_slopes`; None where that is not known: then every known sign may turn
    """
    nothing = dict.fromkeys(WORDS, (float("nan"), float("nan")))
    counted = nothing if rotors is None else with_rotors(values, rotors)
    known = {
        name: (value, widths[name] + wide)
        for name, (value, wide) in counted.items()
        if name in widths
    }
    return {
        name: found for name, found in known.items() if may_turn(values[name], widths[name], *found)
    }


def idle_rotors(craft: Biplane, report: PointReport) -> Slopes | None:
    """What rotors without thrust add at a setting, as :func:`idle_slopes` has it."""
    state = report.state
    at = float(state.alpha), float(state.airspeed), float(state.density)
    return idle_slopes(craft, report.loads.reference, *at)


def rotors_across(report: PointReport, rotors: Slopes | None) -> list[Finding]:
    """Warnings of numbers whose sign is not the same, or not known, with the rotors counted.

    Parameters
    ----------
    rotors : of :func:`idle_rotors`
    """
    widths, body = report.half_widths, report.derivatives["body"]
    if not widths:
        return []
    if rotors is None:
        return [not_so_far()]
    values = {**body, "static_margin": report.static_margin}
    found = []
    for name, (value, width) in turned_signs(values, widths, rotors).items():
        words, unit, positive, negative = WORDS[name]
        said = verdict(value, width, positive, negative)
        found.append(Finding(
            f"{CODE}: {name}", f"{words} is that of {ALONE}; with rotors that turn without thrust"
            f" {said}", value, None, unit, SOURCE, REMEDY, half_width=width,
        ))  # fmt: skip
    return found


def not_so_far() -> Finding:
    """The warning where the rotors' model does not reach to no thrust."""
    return Finding(
        CODE, "what the rotors' forces across their axes take from stability in pitch and yaw is"
        f" {NOT_SO_FAR}", None, None, "1", "", "give them form = \"blades\"",
    )  # fmt: skip


def without_rotors(turned: Collection[str], name: str) -> str:
    """What to add to the word for a number's sign that rotors may turn; empty elsewhere.

    Parameters
    ----------
    turned : names of the numbers whose signs they may turn
    """
    name = "static_margin" if name == "Cm_alpha" else name
    return f" {WITHOUT}" if name in turned else ""


def turned_in(report: PointReport) -> list[str]:
    """Names of the numbers of a report whose signs rotors may turn."""
    codes = {one.code for one in report.findings}
    return [name for name in WORDS if CODE in codes or f"{CODE}: {name}" in codes]
