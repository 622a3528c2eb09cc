"""Whether the rotors' forces across their axes turn what a setting's signs say of stability.

The numbers of a setting are those of wings and fins. Rotors ahead of the moment point take from
static margin and Cn_beta; where that may turn a sign, it is told.
"""

from vlm.description.models import Biplane
from vlm.findings import Finding
from vlm.flight.craft.rotor_slopes import NOT_SO_FAR, idle_slopes, with_rotors
from vlm.study.point.point import PointReport
from vlm.verdicts import known_sign, verdict

CODE = "rotors_across"
"""Start of the codes of the warnings; the number's name follows."""
WORDS = {
    "static_margin": ("static margin", "chords", "stable", "unstable"),
    "Cl_beta": ("Cl_beta", "1/rad", "unstable", "stable"),
    "Cn_beta": ("Cn_beta", "1/rad", "stable", "unstable"),
}


def rotors_across(craft: Biplane, report: PointReport) -> list[Finding]:
    """Warnings of numbers whose sign is not the same, or not known, with the rotors counted."""
    widths = report.half_widths
    if not widths:
        return []
    state, body = report.state, report.derivatives["body"]
    at = float(state.alpha), float(state.airspeed), float(state.density)
    rotors = idle_slopes(craft, report.loads.reference, *at)
    if rotors is None:
        return [Finding(
            CODE, "what the rotors' forces across their axes take from stability in pitch and yaw"
            f" is {NOT_SO_FAR}", None, None, "1", "", "give them form = \"blades\"",
        )]  # fmt: skip
    found, alone = [], {**body, "static_margin": report.static_margin}
    for name, (value, wide) in with_rotors(body, rotors).items():
        width = widths[name] + wide
        if known_sign(alone[name], widths[name]) == known_sign(value, width):
            continue
        words, unit, positive, negative = WORDS[name]
        said = verdict(value, width, positive, negative)
        found.append(Finding(
            f"{CODE}: {name}", f"{words} is that of wings and fins alone; with rotors that turn"
            f" without thrust {said}", value, None, unit, "blade elements, half of it in the ±",
            "trust the sign with rotors; lateral counts them with their thrust", half_width=width,
        ))  # fmt: skip
    return found


def without_rotors(report: PointReport, name: str) -> str:
    """What to add to the word for a number's sign that rotors may turn; empty elsewhere."""
    name = "static_margin" if name == "Cm_alpha" else name
    turned = any(one.code == f"{CODE}: {name}" for one in report.findings)
    return " without its rotors" if turned else ""
