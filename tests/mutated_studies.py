"""More hostile input: tables beside a craft, missions, and the studies that take longest.

As in :mod:`mutations`: good files and words with a few things changed, the same for a number.
"""

import random
import re
from collections.abc import Callable
from functools import cache

from mutations import GRID, PROJECT, changed_bytes, changed_toml, new_cells, shipped, short_log

Case = tuple[list[str], dict[str, bytes], str]


@cache
def section_table() -> bytes:
    """An invented table of a section, two Reynolds numbers."""
    lines = ["# invented", "alpha_deg,cl,cd,cm,reynolds"]
    for number in (1e5, 3e5):
        for alpha in range(-12, 17, 2):
            lift = 0.1 * (alpha + 2) if -10 <= alpha <= 10 else (0.9 if alpha > 0 else -0.6)
            drag = 0.02 * (1e5 / number) ** 0.4 + 0.0001 * alpha**2
            lines.append(f"{alpha},{lift:.3f},{drag:.5f},-0.04,{number:g}")
    return ("\n".join(lines) + "\n").encode()


@cache
def rotor_table() -> bytes:
    """An invented table of a rotor."""
    rows = ("0.0,0.11,0.05", "0.3,0.09,0.05", "0.6,0.05,0.04", "0.9,0.0,0.01", "1.2,-0.04,-0.01")
    return "\n".join(["advance_ratio,thrust_coefficient,power_coefficient", *rows, ""]).encode()


@cache
def mean_line() -> bytes:
    """An invented mean line."""
    return b"x_c,z_c\n0.0,0.0\n0.25,0.015\n0.5,0.02\n0.75,0.014\n1.0,0.0\n"


@cache
def tabled_craft() -> bytes:
    """A shipped craft whose section, rotors and mean line stand in tables beside it."""
    text = shipped("tideline").decode()
    section = '[sections.foil]\nform = "table"\ntable = "section.csv"\n\n'
    text, sections = re.subn(r"\[sections\.foil\]\n(?:.+\n)+\n", section, text)
    text, rotors = re.subn(
        r'form = "blades"\nsolidity.*\npitch_m.*\n',
        'form = "table"\ntable = "rotor.csv"\n',
        text,
    )
    text, lines = re.subn(r'camber = "\d+"', 'camber = "line.csv"', text, count=1)
    assert (sections, rotors, lines) == (1, 4, 1)
    return text.encode()


def tables(chance: random.Random) -> Case:
    """One of the tables beside a craft changed."""
    files = {
        "section.csv": section_table(),
        "rotor.csv": rotor_table(),
        "line.csv": mean_line(),
        "craft.toml": tabled_craft(),
    }
    said = []
    for _ in range(chance.choice((1, 1, 2, 4))):
        name = chance.choice(("section.csv", "section.csv", "rotor.csv", "line.csv"))
        change = new_cells if chance.random() < 0.6 else changed_bytes
        files[name], what = change(chance, files[name])
        said.append(f"{name}: {what}")
    if chance.random() < 0.15:
        files["craft.toml"], what = changed_toml(chance, files["craft.toml"])
        said.append(what)
    commands = (
        ["check", "craft.toml", "--json"],
        ["point", "craft.toml", "--alpha", "4", "--no-errors", "--json", *GRID],
        ["power", "craft.toml", "--json", "--fold", "0", "--airspeeds", "12,14", "--no-intervals",
         *GRID],
        ["hinge", "craft.toml", "--json", "--folds", "0", "--airspeeds", "12", "--load-factors",
         "2", *GRID],
    )  # fmt: skip
    return list(chance.choices(commands, (1, 2, 5, 1))[0]), files, "; ".join(said)


@cache
def short_mission() -> bytes:
    """A shipped mission cut to four legs."""
    path = PROJECT / "geometries/missions/long_transit.toml"
    head, *legs = path.read_text(encoding="utf-8").split("[[mission]]")
    return "[[mission]]".join([head, legs[0], legs[2], legs[3], legs[1]]).encode()


@cache
def hurried_craft() -> bytes:
    """A shipped craft with a schedule of two airspeeds."""
    text, found = re.subn(r"speeds = \d+", "speeds = 2", shipped("tideline").decode())
    assert found == 1
    return text.encode()


def mission(chance: random.Random) -> Case:
    """A mission changed, or the craft that flies it, or the words."""
    files = {"legs.toml": short_mission(), "craft.toml": hurried_craft()}
    said = []
    for _ in range(chance.choice((1, 1, 2, 3))):
        name = "legs.toml" if chance.random() < 0.85 else "craft.toml"
        files[name], what = changed_toml(chance, files[name])
        said.append(f"{name}: {what}")
    words = ["mission", "craft.toml", "--legs", "legs.toml", "--fold-count", "3", "--rows", "1"]
    words += ["--strips", "4", *chance.choice(([], ["--json"]))]
    return words, files, "; ".join(said)


def schedule(chance: random.Random) -> Case:
    """A craft with a schedule, its numbers changed."""
    text, what = _changed_block(chance, hurried_craft(), b"[schedule]")
    words = ["schedule", "craft.toml", "--fold-count", "3"]
    words += chance.choice((["--json"], ["--csv", "out.csv"]))
    return words, {"craft.toml": text}, what


def report(chance: random.Random) -> Case:
    """A craft changed, then told of on a page without its slowest studies."""
    craft = chance.choice(("plank", "plank", "ellipse", "winnow"))
    text, said = shipped(craft), []
    for _ in range(chance.choice((1, 2))):
        text, what = changed_toml(chance, text)
        said.append(what)
    title = chance.choice((b"<script>alert(1)</script>", b"</title>&amp;", b"%s${HOME}"))
    text = re.sub(rb'title = "[^"]*"', b'title = "' + title + b'"', text, count=1)
    words = ["report", "craft.toml", "-o", "out.html", "--step", "90", "--no-progress", *GRID]
    for study in ("power", "schedule", "hinge", "mission"):
        words += ["--without", study]
    return words, {"craft.toml": text}, f"{craft}: {'; '.join(said)}"


def prediction(chance: random.Random) -> Case:
    """A flight log held against the prediction, with changed cells or a changed description."""
    text, craft, said = short_log(), shipped("tideline"), []
    for _ in range(chance.choice((1, 2))):
        if chance.random() < 0.6:
            text, what = new_cells(chance, text)
        else:
            craft, what = _changed_block(chance, craft, b"[log]")
        said.append(what)
    words = ["log", "craft.toml", "flight.csv", *GRID, *chance.choice(([], ["--json"]))]
    return words, {"craft.toml": craft, "flight.csv": text}, "; ".join(said)


def _changed_block(chance: random.Random, text: bytes, start: bytes) -> tuple[bytes, str]:
    """A file changed from the head of a block on, or now and then anywhere."""
    place = text.index(b"\n" + start) if chance.random() < 0.8 else 0
    after, what = changed_toml(chance, text[place:])
    return text[:place] + after, what


def kinds() -> tuple[tuple[Callable[[random.Random], Case], int], ...]:
    """The kinds of cases made here with their weights: the longer they take, the fewer."""
    return ((tables, 80), (mission, 5), (schedule, 5), (report, 2), (prediction, 10))
