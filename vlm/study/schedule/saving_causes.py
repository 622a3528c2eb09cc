"""What a saving comes from: pitch trim, drag by its source, rotors and motors.

With the drawn power P, that with the same thrust shared equally P_eq, and the power D V of a drag D
along the flight path, the parts

    P - P_eq  (pitch trim),  D_i V,  D_p V,  the drag of bodies and of the rotors' wind times V,
    and what is left: the rotors' air, blades, motors and fixed load with equal thrusts

add up to P of any trim, so that their differences add up to what is saved.
"""

from collections.abc import Mapping
from dataclasses import dataclass, fields

from vlm.flight.plan.constraints import Setting
from vlm.flight.plan.fold_search import FoldTable
from vlm.flight.trim.power_parts import equal_thrusts, power_parts
from vlm.flight.trim.trim import trim_problem
from vlm.plain import rounded, second_digit

WORDS = {
    "pitch_trim_W": "pitch trim (rotors that pull more alike)",
    "induced_drag_W": "induced drag",
    "profile_drag_W": "profile drag",
    "bodies_and_slipstream_W": "bodies and slipstream",
    "rotors_and_motors_W": "rotors and motors",
}


@dataclass(frozen=True)
class Causes:
    """Electrical power, or a difference of two, by cause; the fields add up to it [W].

    Attributes
    ----------
    pitch_trim_W : what unlike thrusts cost beyond equal ones of the same sum [W]
    induced_drag_W, profile_drag_W : drag of the wings in the free stream, times airspeed [W]
    bodies_and_slipstream_W : drag of bodies, and what the rotors' wind adds, times airspeed [W]
    rotors_and_motors_W : all else, of equal thrusts: their air, blades, motors, fixed load [W]
    """

    pitch_trim_W: float
    induced_drag_W: float
    profile_drag_W: float
    bodies_and_slipstream_W: float
    rotors_and_motors_W: float

    @property
    def values(self) -> Mapping[str, float]:
        """The parts by name [W]."""
        return {field.name: getattr(self, field.name) for field in fields(self)}

    def less(self, other: "Causes") -> "Causes":
        """What is left of each when another's is taken off."""
        return Causes(*(self.values[name] - other.values[name] for name in self.values))


def causes_of(table: FoldTable, setting: Setting) -> Causes:
    """The power of a setting by cause."""
    made, trim = table.craft_at(setting.fold_deg), setting.point.trim
    assert made is not None and trim is not None
    problem = trim_problem(made)
    parts = power_parts(problem, trim)
    pitch = setting.power - equal_thrusts(problem, trim).power
    bodies = parts.body + parts.slipstream
    rest = setting.power - pitch - parts.induced - parts.profile - bodies
    return Causes(pitch, parts.induced, parts.profile, bodies, rest)


def causes_words(saved: Causes) -> str:
    """What is saved by cause, the largest first, to the second digit of the whole."""
    whole = sum(saved.values.values())
    places = max(0, second_digit(abs(whole)))
    ranked = sorted(saved.values.items(), key=lambda one: -abs(one[1]))
    shown = [(rounded(value, places), WORDS[name]) for name, value in ranked]
    parts = ", ".join(f"{text} W {words}" for text, words in shown if float(text) != 0.0)
    return f"By cause folding saves there: {parts}; {rounded(whole, places)} W in all."
