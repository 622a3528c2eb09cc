"""Hostile input made by grammar: craft and words that no file of the project looks like.

Where mutation changes good input, this writes new input: every block of the geometry file and every
option of every command may stand or be missing, each number is drawn from its usual range, from the
ends of it, or now and then from nowhere. A case has a number and is always the same for it.
"""

import random
from collections.abc import Iterator
from contextlib import contextmanager
from functools import partialmethod
from typing import Any

from grammar_words import command_words, spoil_words
from mutations import (
    NUMBERS,
    HostileCase,
    changed_bytes,
    changed_toml,
    dataset,
    new_cells,
    short_log,
)

from vlm.cli.commands import COMMANDS
from vlm.description.ranges import RANGES

ODD = 0.01
END = 0.08
WEIGHTS = {
    "new": 18, "check": 40, "point": 55, "sweep": 36, "compare": 3, "converge": 6, "roll": 1,
    "lateral": 2, "power": 28, "schedule": 4, "mission": 3, "design": 6, "rerun": 16, "report": 2,
    "explore": 9, "view": 15, "hinge": 3, "log": 20, "schema": 5, "motion": 10, "export": 8,
}  # fmt: skip
"""How often a command is asked for: the more, the less of the processor it takes."""
TAME = 0.7
"""Share of the craft whose numbers all are usual, so that the work begins."""
FLOWN = {"power", "roll", "lateral", "hinge", "schedule", "mission", "design", "motion", "export",
         "log", "report", "compare"}  # fmt: skip
WHOLE = 0.85
"""Share of the craft that have every block which the command asks for."""
SPOILED = 0.5
"""Share of the cases in which one thing, in a file or in the words, is changed after that."""


class Writer:
    """Draws values and writes blocks of TOML."""

    def __init__(self, chance: random.Random) -> None:
        self.chance = chance
        self.tame = chance.random() < TAME
        self.whole = False
        self.lines: list[str] = []

    def maybe(self, share: float) -> bool:
        return self.chance.random() < share

    def number(self, key: str, low: float | None = None, high: float | None = None) -> str:
        """A number for a key: usual, at an end of what is usual, or any."""
        if low is None or high is None:
            low, high = RANGES[key].usual
        if not self.tame and self.maybe(ODD):
            return self.chance.choice((*NUMBERS, f"{1.3 * high:.6g}", f"{0.5 * low:.6g}"))
        if self.maybe(END):
            return f"{self.chance.choice((low, high)):.6g}"
        if low > 0.0 and high / low > 30.0:
            return f"{low * (high / low) ** self.chance.random():.6g}"
        return f"{self.chance.uniform(low, high):.6g}"

    def key(self, name: str, value: str, share: float = 1.0) -> None:
        if self.maybe(share):
            self.lines.append(f"{name} = {value}")

    def block(self, head: str) -> None:
        self.lines.append(f"\n{head}")


def craft_text(chance: random.Random, command: str) -> bytes:
    """A craft by grammar, mostly with the blocks that a command asks for."""
    w = Writer(chance)
    w.whole = command in FLOWN and w.maybe(WHOLE)
    span = chance.choice((0.4, 0.8, 1.2, 2.5))
    two, tips, flies = w.maybe(0.75), w.whole or w.maybe(0.85), w.whole or w.maybe(0.8)
    w.key("title", '"Invented by grammar"')
    for wing in ("upper", "lower")[: 1 + two]:
        _wing(w, wing, span, tips and (wing == "upper" or w.maybe(0.3)), flies)
    if two:
        w.block("[arrangement]")
        w.key("gap_m", w.number("", 0.15 * span, 0.5 * span))
        w.key("stagger_m", w.number("", -0.2 * span, 0.3 * span), 0.7)
    if w.maybe(0.2):
        _fin(w, span, flies)
    if w.maybe(0.3):
        w.block("[reference]")
        w.key("area_m2", w.number("", 0.05, 1.0), 0.5)
        w.key("span_m", w.number("", 0.3, 3.0), 0.5)
    if tips and w.maybe(0.8):
        w.block("[configurations]")
        low, high = (-20.0, 10.0) if w.tame else (-80.0, 50.0)
        w.key("loiter", f"{{ fold_deg = {w.number('', low, high)} }}")
        ends = f"left_deg = {w.number('', low, high)}, right_deg = {w.number('', low, high)}"
        w.key('"=odd name"', f"{{ {ends} }}", 0.3)
    if flies:
        lower_tips = any(line == "\n[lower.tips]" for line in w.lines)
        _flying(w, span, [n for n, t in (("upper", tips), ("lower", lower_tips)) if t])
    return ("\n".join(w.lines) + "\n").encode()


def _fin(w: Writer, span: float, flies: bool) -> None:
    w.block("[[fins]]")
    w.key("name", '"tail"')
    w.key("x_m", w.number("", 0.3 * span, 0.8 * span))
    w.key("y_m", w.number("", 0.0, 0.2 * span), 0.5)
    w.key("z_m", w.number("", -0.2 * span, 0.1 * span))
    w.key("span_m", w.number("", 0.1 * span, 0.3 * span))
    w.key("root_chord_m", w.number("", 0.05 * span, 0.15 * span))
    w.key("end_chord_m", w.number("", 0.03 * span, 0.1 * span))
    w.key("dihedral_deg", w.number("", -30.0, 60.0), 0.4)
    w.key("section", '"foil"', 0.8 * flies)


def _wing(w: Writer, wing: str, span: float, tips: bool, flies: bool) -> None:
    chord = 0.2 * span * w.chance.uniform(0.5, 1.3)
    w.block(f"[{wing}]")
    if w.maybe(0.2):
        steps = sorted(w.chance.uniform(0.05, 0.5) for _ in range(w.chance.choice((1, 2, 3))))
        rows = [(0.0, chord)] + [
            (span * step, chord * w.chance.uniform(0.5, 1.1)) for step in steps
        ]
        listed = ", ".join(f"{{ y_m = {y:.4f}, x_m = 0.0, chord_m = {c:.4f} }}" for y, c in rows)
        w.key("stations", f"[{listed}]")
        end = rows[-1][1]
    else:
        end = chord * w.chance.uniform(0.4, 1.1)
        w.key("span_m", w.number("", 0.7 * span, span))
        w.key("root_chord_m", f"{chord:.4f}")
        w.key("end_chord_m", f"{end:.4f}")
        w.key("sweep_deg", w.number("", -25.0, 35.0), 0.5)
        w.key("dihedral_deg", w.number("", -8.0, 12.0), 0.4)
        w.key("washout_deg", w.number("", -3.0, 5.0), 0.4)
    w.key("incidence_deg", w.number("", -3.0, 4.0), 0.5)
    w.key("camber", w.chance.choice(('"flat"', '"2412"', '"4415"', '"0012"', '"line.csv"')), 0.8)
    w.key("section", '"foil"', 1.0 if w.whole else 0.6 * flies if w.tame else 0.6)
    if tips:
        w.block(f"[{wing}.tips]")
        w.key("span_m", w.number("", 0.1 * span, 0.45 * span))
        w.key("end_chord_m", f"{end * w.chance.uniform(0.4, 1.0):.4f}")
        w.key("flare_deg", w.number("", -20.0, 20.0), 0.4)
        w.key("sweep_deg", w.number("", -10.0, 30.0), 0.3)
        w.key("fold_min_deg", w.number("", -120.0, -20.0))
        w.key("fold_max_deg", w.number("", 10.0, 100.0))
        w.key("linkage", w.number("", -1.0, 1.0), 0.15)


def _flying(w: Writer, span: float, tips: list[str]) -> None:
    area = 0.25 * span**2
    mass = w.chance.uniform(3.0, 10.0) * area
    arm = 0.15 * span
    w.block("[mass]")
    w.key("body_kg", w.number("", 0.7 * mass, 1.1 * mass))
    w.key("body_centre_m", f"[{w.number('', 0.01, 0.06)}, 0.0, {w.number('', -0.2, 0.0)}]")
    inertia = [mass * (share * span) ** 2 for share in (0.12, 0.1, 0.15)]
    w.key("body_inertia_kg_m2", f"[{', '.join(f'{i:.6g}' for i in inertia)}]")
    for wing in tips:
        w.key(f"{wing}_tip", "{ mass_kg = 0.03, centre_m = [0.03, 0.05, 0.0],"
              " inertia_kg_m2 = [0.0001, 0.00005, 0.00012] }")  # fmt: skip
    w.key("mechanism", "{ each_kg = 0.02, centre_m = [0.03, -0.01, 0.0] }", 0.7 * bool(tips))
    w.block("[sections.foil]")
    if w.maybe(0.3):
        w.lines += ['form = "table"', 'table = "section.csv"']
    else:
        w.key("form", '"parametric"')
        for name in ("cl_max", "cl_min", "cd_least"):
            w.key(name, w.number(f"sections.*.{name}"))
        for name in ("cd_rise", "lift_slope_per_rad", "zero_lift_deg", "cm_quarter_chord"):
            w.key(name, w.number(f"sections.*.{name}"), 0.4)
    for index in range(w.chance.choice((1, 2, 4, 4, 4))):
        _rotor(w, index, span, arm)
    w.block("[propulsion]")
    for name, share in (("motor_efficiency", 1.0), ("controller_efficiency", 1.0),
                        ("fixed_load_W", 0.5), ("battery_usable", 0.4)):  # fmt: skip
        w.key(name, w.number(f"propulsion.{name}"), share)
    w.key("battery_energy_Wh", w.number("", 10.0 * mass, 80.0 * mass), 0.8)
    w.key("slipstream", w.chance.choice(("true", "false")), 0.5)
    w.key("swirl", w.chance.choice(("true", "false")), 0.3)
    if w.maybe(0.6):
        w.block("[[drag_areas]]")
        w.key("name", '"body"')
        w.key("area_m2", w.number("", 0.001 * area, 0.05 * area))
    if w.maybe(0.3):
        w.block("[uncertainty]")
        for name in ("mass_percent", "profile_drag_percent", "efficiency_percent"):
            w.key(name, w.number("", 0.5, 15.0), 0.6)
    _asked(w)
    if tips and (w.whole or w.maybe(0.7)):
        _actuator(w)
        if w.maybe(0.8):
            _motion(w)


def _motion(w: Writer) -> None:
    w.block("[motion.law]")
    for name, high in (("roll_angle_N_m_rad", 1.0), ("pitch_angle_N_m_rad", 5.0),
                       ("pitch_rate_N_m_s_rad", 1.0), ("speed_N_s_m", 2.0)):  # fmt: skip
        w.key(name, w.number("", 0.1, high), 0.6)
    w.block("[[motion.scenarios]]")
    w.key("name", '"by grammar"')
    w.key("airspeed_m_s", w.number("", 10.0, 18.0))
    kind = w.chance.choice(("gust", "jam", "let_go", "speed"))
    if kind == "gust":
        w.lines += ['gust = "side"', "gust_speed_m_s = 2.0", "gust_gradient_m = 5.0"]
    elif kind == "speed":
        w.key("speed_to_m_s", w.number("", 10.0, 20.0))
        w.key("speed_change_s", w.number("", 0.1, 1.0))
    else:
        w.lines += [f'{kind} = "left"']
    w.key("duration_s", w.number("", 0.2, 0.5))


def _asked(w: Writer) -> None:
    """Schedule and mission."""
    if w.whole or w.maybe(0.7):
        w.block("[schedule]")
        w.key("airspeed_min_m_s", w.number("", 8.0, 12.0))
        w.key("airspeed_max_m_s", w.number("", 14.0, 25.0))
        w.key("speeds", w.chance.choice(("2", "2", "3")))
        w.key("stall_margin_min_deg", w.number("", 0.0, 5.0), 0.4)
        w.key("dihedral_effect", w.chance.choice(('"stable"', '"any"', '"unstable"')), 0.3)
        w.key("roll_reserve_deg", w.number("", 0.0, 30.0), 0.6)
        w.key("rotor_margin_min", w.number("", 0.0, 0.4), 0.3)
        w.key("breakpoints", w.chance.choice(("2", "5", "40")), 0.4)
    if w.whole or w.maybe(0.6):
        for kind in w.chance.sample(("hover", "loiter", "dash", "climb", "turn"), 2):
            _leg(w, kind)


def _rotor(w: Writer, index: int, span: float, arm: float) -> None:
    w.block("[[rotors]]")
    side = (arm, -arm, arm, -arm)[index]
    w.key("name", f'"rotor {index}"')
    w.key("position_m", f"[-0.05, {side:.4f}, {0.0 if index < 2 else -0.3 * span:.4f}]")
    w.key("radius_m", w.number("", 0.06 * span, 0.18 * span))
    w.key("spin", '"right"' if index in (0, 3) else '"left"')
    if w.maybe(0.25):
        w.lines += ['form = "table"', 'table = "rotor.csv"']
    else:
        w.key("form", '"blades"')
        w.key("solidity", w.number("", 0.05, 0.2))
        w.key("pitch_m", w.number("", 0.08 * span, 0.3 * span))
    w.key("thrust_max_N", w.number("", 2.0 * span**2, 20.0 * span**2), 0.5)
    w.key("thrust_min_N", w.number("", -2.0, 0.0), 0.2)
    w.key("power_max_W", w.number("", 50.0, 500.0), 0.3)


NEEDED = {
    "hover": ("time_s",),
    "loiter": ("time_s",),
    "dash": ("distance_m",),
    "climb": ("height_m", "climb_rate_m_s"),
    "turn": ("turns", "load_factor"),
}
LEGS = {
    "time_s": (10.0, 900.0),
    "distance_m": (100.0, 9000.0),
    "height_m": (10.0, 300.0),
    "climb_rate_m_s": (0.5, 4.0),
    "turns": (1.0, 5.0),
    "load_factor": (1.05, 2.0),
}


def _leg(w: Writer, kind: str) -> None:
    w.block("[[mission]]")
    w.key("kind", f'"{kind}"')
    for name in NEEDED[kind]:
        w.key(name, w.number("", *LEGS[name]))
    w.key("airspeed_m_s", w.number("", 8.0, 25.0), 0.4 * (kind != "hover"))
    w.key("headwind_m_s", w.number("", -5.0, 5.0), 0.4 * (kind == "dash"))


def _actuator(w: Writer) -> None:
    w.block("[actuator]")
    w.key("worm_ratio", w.number("", 20.0, 80.0))
    w.key("lead_angle_deg", w.number("", 2.0, 15.0))
    w.lines += ["friction_dry = [0.15, 0.25]", "friction_greased = [0.08, 0.14]"]
    for name in ("servo_stall_torque_N_m", "servo_no_load_speed_deg_s", "servo_voltage_V"):
        w.key(name, w.number(f"actuator.{name}"))
    w.lines += ["servo_no_load_current_A = 0.1", "servo_stall_current_A = 2.0"]
    w.key("servo_hold_current_A", "0.01")
    w.key("backlash_deg", w.number("actuator.backlash_deg"), 0.4)
    w.key("hinge_stiffness_N_m_rad", w.number("", 5.0, 200.0), 0.95)
    w.key("root_bending_limit_N_m", w.number("", 5.0, 80.0), 0.4)


def grammar_case(number: int) -> HostileCase:
    """The case of a number."""
    from mutated_studies import mean_line, rotor_table, section_table, short_mission

    chance = random.Random(f"grammar {number}")
    weights = [WEIGHTS[name] for name in COMMANDS]
    command = chance.choices(list(COMMANDS), weights)[0]
    words, what = command_words(chance, command), "by grammar"
    files: dict[str, Any] = {"craft.toml": craft_text(chance, command)}
    files |= {"line.csv": mean_line(), "section.csv": section_table(), "rotor.csv": rotor_table()}
    if "legs.toml" in words:
        files["legs.toml"] = short_mission()
    if command in ("log", "report"):
        files["flight.csv"] = short_log()
    if command == "rerun":
        files["in.nc"] = dataset()
    if chance.random() < SPOILED:
        what = f"by grammar; {_spoil(chance, words, files)}"
    return HostileCase(number, tuple(words), files, what)


def _spoil(chance: random.Random, words: list[str], files: dict[str, bytes]) -> str:
    """Change one thing in words or files; returns what."""
    if chance.random() < 0.2:
        return spoil_words(chance, words)
    read = [name for name in files if name in words] or ["craft.toml"]
    tables = [name for name in files if f'"{name}"'.encode() in files["craft.toml"]]
    name = chance.choice([*read, *read, *tables])
    if name.endswith(".toml"):
        files[name], what = changed_toml(chance, files[name])
    elif name.endswith(".csv") and chance.random() < 0.7:
        files[name], what = new_cells(chance, files[name])
    else:
        files[name], what = changed_bytes(chance, files[name])
    return f"{name}: {what}"


@contextmanager
def hands_on_explorer() -> Iterator[None]:
    """Let ``explore`` draw without a window, and use every key and a slider before it ends."""
    import pytest

    from vlm.cli import explore
    from vlm.show.scenes.explorer import Explorer

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(explore, "checked_screen", lambda: None)
        patch.setattr(Explorer, "__init__", partialmethod(Explorer.__init__, off_screen=True))
        patch.setattr(Explorer, "show", _used)
        yield


def _used(window: Any) -> None:
    """What hands do in the explorer's window."""
    try:
        window.lock()
        for step in (window.next_configuration, window.swap, window.next_direction):
            step()
        for name, value in (("left_deg", 35.0), ("right_deg", -170.0), ("alpha_deg", 7.0)):
            window.moved(**{name: value})
        for step in (window.next_colouring, window.tell_command, window.keep_picture):
            step()
        window.pixels()
    finally:
        window.plotter.close()
