"""Words of commands by grammar: every option may stand, with a value that is usual or is not.

What makes a command quick is given mostly: lattices of 2 rows and 4 or 8 strips, few folds, speeds
and steps. See :mod:`grammar`.
"""

import random
from functools import cache

import click
from mutations import NUMBERS
from mutations import OPTIONS as ODD_OPTIONS
from mutations import TEXTS as ODD_TEXTS

from vlm.cli.commands import load_command

ODD = 0.01

TEXTS = {
    "fold": ("0", "-15", "10", "0:10:2", "-60,0"),
    "folds": ("0", "0,10", "-15", "-20:10:3"),
    "alpha": ("4", "0", "-3"),
    "alphas": ("2", "0:4:2"),
    "beta": ("0", "5"),
    "airspeeds": ("13,15", "14", "12:18:3"),
    "shares": ("0", "0,1"),
    "load_factors": ("2", "1,3"),
    "over": ("arrangement.gap_m=0.3:0.4:2", "upper.root_chord_m=0.1,0.2"),
    "overrides": ("arrangement.gap_m=0.4", "mass.body_kg=1.5", "upper.camber=flat", "x=1"),
    "configuration": ("loiter", "loiter", "=odd name", "nothing"),
    "configurations": ("loiter", "=odd name"),
    "bounds": (
        "upper.end_chord_m=0.05:0.2", "upper.tips.span_m=0.1:0.3", "arrangement.gap_m=0.2:0.5",
    ),
    "variants": ("arrangement.gap_m=0.4", "upper.end_chord_m=0.12;mass.body_kg=1.6"),
    "across": ("upper.end_chord_m", "arrangement.gap_m", "upper.tips.span_m"),
    "without": ("power", "schedule", "mission", "hinge", "roll", "lateral"),
    "fits": ("mass_kg", "drag_area_m2"),
    "direction": ("front", "side", "below"),
    "legs_file": ("long_transit", "legs.toml"),
    "write_fitted": ("fitted.toml",),
    "title": ("Invented", "=odd \u202e title", ""),
    "start": ("loiter",),
    "to": ("loiter", "loiter", "=odd name", "nothing"),
    "scenario": ("by grammar", "by grammar", "nothing"),
    "follow": ("11:10,15:0", "10:-20,12:0,14:10", "15:0,11:10"),
    "trims": ("14:0", "15:-10", "12:0,16:5", "10:-20,20:20"),
    "fold_range": ("-15:10", "0:5", "-15:10", "20:-20"),
    "lost_rotor": ("rotor 0", "rotor 9"),
    "blocks": ("none", "mass,rotors", "mass,rotors,actuator,schedule,log", "wings"),
}  # fmt: skip
COARSEST = {"rows": ("4",), "strips": ("16",)}
"""Of converge, which solves a quarter of them too."""
SMALL = {
    "rows": ("2",), "strips": ("4", "4", "4", "8"), "fold_count": ("3",), "most": ("5",),
    "starts": ("1",), "points": ("3",), "step": ("60",), "duration": ("0.2", "0.5"),
}  # fmt: skip
"""What is always given: of 4 strips and of 8, the fewest of which an error is known."""
FEW = {
    "power": ("airspeeds", "folds", "no_intervals"), "roll": ("airspeeds",),
    "lateral": ("folds", "alphas", "shares", "airspeeds"), "export": ("trims", "fold_range"),
    "hinge": ("folds", "airspeeds", "load_factors"), "compare": ("no_power",),
    "motion": ("no_error", "scenario"), "design": ("goal", "airspeed", "lift"),
}  # fmt: skip
"""Options that make a command quick, and are given four times of five."""
SELDOM = {"plot", "plot_parts", "plot_sensitivity", "plots", "scene", "legs_file", "mission"}
"""Options that take longer than all else on such lattices."""
NEVER = {"scheduler", "workers", "within", "keep", "ask"}
"""Options that take other processes, time, folders or a keyboard: they have tests of their own."""


@cache
def _parameters(command: str) -> tuple[click.Option, ...]:
    return tuple(p for p in load_command(command).params if isinstance(p, click.Option))


def _value(chance: random.Random, option: click.Option, command: str) -> str:
    name = str(option.name)
    if command == "converge" and name in COARSEST:
        return chance.choice(COARSEST[name])
    if name in SMALL:
        return chance.choice(SMALL[name])
    if name in TEXTS and (isinstance(option.type, click.types.StringParamType) or name == "over"):
        return chance.choice(TEXTS[name])
    if isinstance(option.type, click.Choice):
        return str(chance.choice(list(option.type.choices)))
    if isinstance(option.type, click.Path):
        ending = {
            "out": ENDINGS.get(command, "csv"),
            "plot": "svg",
            "scene": "html",
            "csv_path": "csv",
            "log": "csv",
        }
        return "flight.csv" if name == "log" else f"{name}.{ending.get(name, 'svg')}"
    if chance.random() < ODD:
        return chance.choice(NUMBERS)
    usual = {
        "airspeed": (8.0, 25.0), "density": (0.7, 1.4), "altitude": (0.0, 3000.0),
        "mass_kg": (0.5, 8.0), "span_m": (0.5, 3.0), "chord_m": (0.1, 0.4), "gap_m": (0.2, 0.6),
        "tip_span_m": (0.0, 0.6), "rotor_radius_m": (0.05, 0.3), "battery_Wh": (20.0, 400.0),
        "thrust": (0.0, 5.0), "p_hat": (-0.2, 0.2), "q_hat": (-0.02, 0.02), "r_hat": (-0.2, 0.2),
        "climb_angle": (-10.0, 20.0), "level": (0.5, 0.99), "lift": (2.0, 40.0),
        "command_at": (0.0, 0.3), "gust_at": (0.0, 0.3), "voltage_at": (0.0, 0.3),
        "lost_at": (0.0, 0.3), "let_go_at": (0.0, 0.3), "speed_time": (0.1, 2.0),
        "speed_to": (8.0, 25.0), "gust_speed": (-4.0, 4.0), "gust_gradient": (1.0, 20.0),
        "voltage": (0.6, 1.0), "jam_at_fold": (-20.0, 10.0), "alpha": (-3.0, 8.0),
        "beta": (-5.0, 5.0), "to_left": (-20.0, 10.0), "to_right": (-20.0, 10.0),
        "base": (-15.0, 10.0), "fold": (-20.0, 10.0), "fold_left": (-20.0, 10.0),
        "fold_right": (-20.0, 10.0),
    }  # fmt: skip
    low, high = usual.get(name, (-30.0, 30.0))
    if isinstance(option.type, click.IntRange | click.types.IntParamType):
        return str(chance.randint(1, 5 if name == "rotors" else 20))
    return f"{chance.uniform(low, high):.3f}"


READS = {"rerun": "in.nc", "new": "new.toml"}
ENDINGS = {"report": "html", "view": "html", "design": "toml", "schema": "json",
           "export": "nc"}  # fmt: skip


def command_words(chance: random.Random, command: str) -> list[str]:
    """A command line, for files of the names that :func:`grammar.grammar_case` gives."""
    words = [command]
    if command == "schema":
        return [*words, *chance.choice(([], ["-o", "out.json"]))]
    words.append(READS.get(command, "craft.toml"))
    if command == "log":
        words.append("flight.csv")
    for option in _parameters(command):
        name = str(option.name)
        if name in NEVER or not option.opts:
            continue
        share = 0.8 if name in FEW.get(command, ()) else 0.05 if name in SELDOM else 0.15
        always = option.required or name in SMALL or (command == "report" and name == "without")
        if not always and chance.random() > share:
            continue
        flag = max(option.opts, key=len)
        if option.is_flag:
            words.append(flag)
            continue
        if command == "report" and name == "without":
            some = chance.sample(TEXTS[name], len(TEXTS[name]) - chance.choice((0, 1)))
            words += [word for one in some for word in (flag, one)]
            continue
        value = _value(chance, option, command)
        words += [flag, *([value, value] if option.nargs == 2 else [value])]
    if command == "design" and "--key" not in words:
        words += ["--key", chance.choice(TEXTS["bounds"])]
    if command == "design" and "--across" in words and chance.random() < 0.8:
        key = words[words.index("--key") + 1].partition("=")[0]
        words[words.index("--across") + 1] = key
    if command == "compare" and not {"--folds", "--variant"} & set(words):
        words += ["--folds", "0,10"]
    if command == "new" and "--mass" not in words:
        words += ["--mass", "1.5", "--span", "1.2"]
    return words


def spoil_words(chance: random.Random, words: list[str]) -> str:
    """Change one of the words; returns what."""
    place = chance.randrange(1, len(words)) if len(words) > 1 else 1
    kind = chance.random() if len(words) > 1 else 0.0
    if kind < 0.4:
        words += [chance.choice(ODD_OPTIONS), chance.choice(ODD_TEXTS)]
    elif kind < 0.8:
        words[place] = chance.choice(ODD_TEXTS)
    elif kind < 0.9:
        del words[place]
    else:
        words.insert(place, chance.choice(ODD_TEXTS))
    return "words"
