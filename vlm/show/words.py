"""Numbers with their signs in words, for people who look before they read."""

import math
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from vlm.plain import joined
from vlm.show.text.layout import number, with_error
from vlm.study.point.rotors_across import WITHOUT, without_rotors
from vlm.verdicts import SIGN_NOT_KNOWN

if TYPE_CHECKING:
    from vlm.study.point.slipstream import SlipstreamRow


@dataclass(frozen=True)
class SignWords:
    """What a negative, a vanishing and a positive value of a quantity say."""

    negative: str
    zero: str
    positive: str


SIGN_WORDS: dict[str, SignWords] = {
    "CL": SignWords("lift down", "no lift", "lift up"),
    "CY": SignWords("to port", "no side force", "to starboard"),
    "Cl": SignWords("rolls to port", "no roll", "rolls to starboard"),
    "Cm": SignWords("nose down", "balanced in pitch", "nose up"),
    "Cn": SignWords("nose to port", "no yaw", "nose to starboard"),
    "Cm_alpha": SignWords("statically stable", "statically neutral", "statically unstable"),
    "Cl_beta": SignWords(
        "stable dihedral effect", "no dihedral effect", "unstable dihedral effect"
    ),
    "Cn_beta": SignWords("turns away from the wind", "neutral in yaw", "turns into the wind"),
    "Cl_p": SignWords("roll is damped", "roll is not damped", "roll is driven"),
    "static_margin": SignWords("statically unstable", "statically neutral", "statically stable"),
    "hinge": SignWords("pushes the tip down", "no moment", "raises the tip"),
}
# Below these sizes a value is that of rounding, or of no use to a flyer.
SMALL = {"hinge": 1e-6}
SMALLEST = 2e-5
MARK = " *"
"""Behind what a sign says that rotors may turn."""

ROWS = ("CL", "CDi", "span_efficiency", "best_span_efficiency", "CY", "Cl", "Cm", "Cn",
        "Cm_alpha", "static_margin", "Cl_beta", "Cn_beta", "Cl_p")  # fmt: skip
SHORT_NAMES = {
    "span_efficiency": "e",
    "best_span_efficiency": "e best",
    "static_margin": "static margin",
}


def sign_words(name: str, value: float, error: float | None) -> str:
    """What the sign of a value says; neutral where value and error are too small to be of use.

    An empty text for quantities whose sign says nothing, and where the error is not known.
    """
    words = SIGN_WORDS.get(name)
    if words is None or value != value or error is None or error != error:
        return ""
    small = SMALL.get(name, SMALLEST)
    if abs(value) <= error and error >= small:
        return SIGN_NOT_KNOWN
    if abs(value) < small:
        return words.zero
    return words.negative if value < 0.0 else words.positive


def number_lines(
    numbers: Mapping[str, float],
    half_widths: Mapping[str, float],
    errors: Mapping[str, float] | None = None,
    turned: Collection[str] = (),
) -> list[str]:
    """Aligned lines: short name, value, and what its sign says where it is known.

    Parameters
    ----------
    half_widths : that the signs rest on
    errors : that are printed; none where they are not known
    turned : names of numbers whose signs rotors may turn; they are marked, and a last line says so
    """
    errors = errors or {}
    shown = {
        name: _shown(numbers[name], errors.get(name), SMALLEST) for name in ROWS if name in numbers
    }
    widest = max(map(len, shown.values()), default=0)
    marks = {name: MARK for name in shown if without_rotors(turned, name)}
    lines = [
        f"{SHORT_NAMES.get(name, name):<13} {text.rjust(widest)}"
        f"  {sign_words(name, numbers[name], errors.get(name, half_widths.get(name)))}"
        f"{marks.get(name, '')}".rstrip()
        for name, text in shown.items()
    ]
    return [*lines, f"{MARK.strip()} {WITHOUT}"] if marks else lines


def _shown(value: float, half_width: float | None, small: float) -> str:
    """A value with its ±; 0 where both are too small to be of use, as by symmetry."""
    if abs(value) < small and not (half_width is not None and half_width >= small):
        return "0"
    return with_error(value, half_width)


def tip_words(name: str) -> str:
    """A tip's name as it is said: "upper port" for "upper_left"."""
    wing, _, side = name.partition("_")
    return f"{wing} {({'left': 'port', 'right': 'starboard'}).get(side, side)}".strip()


def hinge_lines(
    moments: Mapping[str, float],
    half_widths: Mapping[str, float],
    errors: Mapping[str, float] | None = None,
) -> list[str]:
    """Aligned lines: hinge, moment, and which way it pushes the tip; see :func:`number_lines`."""
    keys = {name: f"hinge_moment_{name}_N_m" for name in moments}
    known = errors or {}
    shown = {
        name: _shown(moment, known.get(keys[name]), SMALL["hinge"])
        for name, moment in moments.items()
    }
    widest = max(map(len, shown.values()), default=0)
    lines = []
    for name, moment in moments.items():
        words = sign_words("hinge", moment, known.get(keys[name], half_widths.get(keys[name])))
        lines.append(f"{tip_words(name):<15} {shown[name].rjust(widest)} N m  {words}".rstrip())
    return lines


def slipstream_words(row: "SlipstreamRow | None") -> list[str]:
    """One sentence on the slipstream that the numbers hold; none where there is none."""
    if row is None:
        return []
    whose = "of the trim" if row.asked == "trim" else "given"
    return [
        f"Slipstream on: thrust {row.thrust_N:.3g} N ({whose}); the wings meet"
        f" {row.mean_pressure_ratio:.3g} times the stream's dynamic pressure on average,"
        f" {row.highest_pressure_ratio:.3g} times in the strip blown at most."
    ]


def path_words(climb_angle_deg: float) -> str:
    """How a craft flies along its path."""
    if climb_angle_deg == 0.0:
        return "level flight"
    way = "climb" if climb_angle_deg > 0.0 else "descent"
    return f"{way} at {abs(climb_angle_deg):g} deg"


def body_words(volumes: Mapping[str, float | None]) -> str:
    """How large a body turns what is stable, in one sentence; empty where nothing is.

    Parameters
    ----------
    volumes : least ones by what they turn, "in pitch" [m^3]
    """
    said = [f"{of} from {litres(one)} on" for of, one in volumes.items() if one is not None]
    return f"A round body, left out here, may turn stability {joined(said)}." if said else ""


def litres(volume: float) -> str:
    """A least volume [m^3] in litres, two digits, rounded down."""
    size = 1e3 * volume
    places = 1 - math.floor(math.log10(size))
    return f"{number(math.floor(size * 10.0**places) / 10.0**places, 2)} litres"
