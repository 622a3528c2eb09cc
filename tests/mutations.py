"""Hostile input, made by changing good input: files of the project and words of its commands.

A case has a number and is always the same for it. Most cases change few things, so that many pass
the first checks and reach the numbers behind them.
"""

import json
import random
import re
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path

PROJECT = Path(__file__).parents[1]
CRAFT = ("tideline", "turnstone", "winnow", "plank", "ellipse")
GRID = ("--rows", "2", "--strips", "4")
LOG_ROWS = 240
QUICK = 140  # cases of the quick run, the first ones

NUMBERS = (
    "0", "-0.0", "1", "-1", "1e-6", "1e6", "1e-300", "1e300", "-1e300", "1.8e308", "1e999", "nan",
    "inf", "-inf", "90", "-90", "180", "-180", "179.999", "89.999", "0.36", "1e-12", "12", "3.7",
    "9223372036854775808", "-5", "0.01", "100",
)  # fmt: skip
VALUES = (
    *NUMBERS, '"text"', '""', "true", "false", "[]", "{}", "[[[[1]]]]", "[1, 2]", "[0, 0, 0]",
    "[nan, 1, 2]", "[1e300, 0, 0]", '"../../../etc/passwd"', '"flat"', '"0012"', '"9999"',
    '"\\u0000"', "2026-01-01", "0x10", "1_000", '"""', '"<script>"', '"right"', '"blades"',
)  # fmt: skip
JUNK = (
    b"\x00", b"\xff\xfe", b"\xef\xbb\xbf", b"\r", b"\r\n", b"\t", b'"', b"'''", b"[", b"]]", b"=",
    b"{", b"#", b",", b";", b"\\u", b"\xc3\x28", b"\xed\xa0\x80", "é".encode(), "٣".encode(),
    b"[" * 3000, b"a." * 2000, b"9" * 5000, b"\x1b[31m", "\u202e".encode(), b"%s%n", b"${HOME}",
    b"__import__('os')", "１２".encode(),
)  # fmt: skip
NUMBER = re.compile(rb"(?<![\w.\"])-?\d+(?:\.\d+)?(?:e-?\d+)?(?![\w.\"])")
KEY = re.compile(rb"\b[a-z][a-zA-Z]*(?:_[a-zA-Z0-9]+)*(?= *=)")


@dataclass(frozen=True)
class HostileCase:
    """Words of a command, and the files (name and content) of the folder that it runs in."""

    number: int
    words: tuple[str, ...]
    files: dict[str, bytes] = field(repr=False)
    what: str


def hostile_case(number: int) -> HostileCase:
    """The case of a number."""
    import mutated_studies

    chance = random.Random(number)
    kinds: tuple[
        tuple[Callable[[random.Random], tuple[list[str], dict[str, bytes], str]], int], ...
    ]
    kinds = ((_geometry, 500), (_settings, 200), (_words, 250), (_log, 150), (_dataset, 100))
    kinds += mutated_studies.kinds()
    make = chance.choices([kind for kind, _ in kinds], [weight for _, weight in kinds])[0]
    words, files, what = make(chance)
    return HostileCase(number, tuple(words), files, what)


# --- the good commands ---

COMMANDS: tuple[tuple[int, tuple[str, ...]], ...] = (
    (30, ("check", "--json")),
    (15, ("check",)),
    (80, ("point", "--alpha", "4", "--no-errors", "--json", *GRID)),
    (20, ("point", "--alpha", "-3", "--beta", "5", "--fold", "20", "--json", *GRID)),
    (15, ("point", "--alpha", "4", "--fold-left", "10", *GRID)),
    (5, ("point", "--alpha", "4", "--wake", "stream", "--json", *GRID)),
    (15, ("sweep", "--fold", "0,20", "--out", "out.csv", "--json", *GRID)),
    (5, ("sweep", "--fold", "0:20:2", "--out", "out.nc", *GRID)),
    (5, ("hinge", "--json", "--folds", "0,20", "--airspeeds", "12", "--load-factors", "2", *GRID)),
    (3, ("lateral", "--json", "--folds", "0", "--alphas", "2", "--shares", "0",
         "--airspeeds", "12", *GRID)),
    (10, ("power", "--json", "--fold", "0", "--airspeeds", "12,14", "--no-intervals", *GRID)),
    (1, ("roll", "--json", "--step", "60", "--airspeeds", "12", *GRID)),
    (5, ("view", "-o", "out.html", *GRID)),
)  # fmt: skip


def _command(chance: random.Random, craft: str) -> list[str]:
    weights, commands = zip(*COMMANDS, strict=True)
    name, *options = chance.choices(commands, weights)[0]
    return [name, craft, *options]


@cache
def shipped(name: str) -> bytes:
    """Bytes of a shipped geometry file."""
    return (PROJECT / "geometries" / f"{name}.toml").read_bytes()


@cache
def short_log() -> bytes:
    """The first rows of the shipped flight log."""
    whole = (PROJECT / "geometries/logs/tideline-invented.csv").read_bytes()
    return b"\n".join(whole.split(b"\n")[:LOG_ROWS]) + b"\n"


@cache
def dataset() -> bytes:
    """A small sweep as ``foldspan sweep`` writes it."""
    from vlm.description.loading import load_biplane
    from vlm.lattice.cellule import Grid
    from vlm.study.sweep.dataset import sweep_dataset
    from vlm.study.sweep.plan import SweepPlan
    from vlm.study.sweep.running import run_plan

    craft = load_biplane("plank")
    plan = SweepPlan(folds_deg=(0.0,), alphas_deg=(0.0, 4.0), grid=Grid(1, 4))
    results, _ = run_plan(craft, plan)
    return bytes(sweep_dataset(craft, plan, results).to_netcdf(engine="h5netcdf"))


# --- changed files ---


def _geometry(chance: random.Random) -> tuple[list[str], dict[str, bytes], str]:
    """A geometry file with a few things changed."""
    craft = chance.choice(CRAFT)
    text, said = shipped(craft), []
    for _ in range(chance.choice((1, 1, 1, 2, 3))):
        text, what = changed_toml(chance, text)
        said.append(what)
    return _command(chance, "craft.toml"), {"craft.toml": text}, f"{craft}: {'; '.join(said)}"


def changed_toml(chance: random.Random, text: bytes) -> tuple[bytes, str]:
    """A TOML file with a number, a value, a key or some bytes changed, and how."""
    change = chance.choices((_new_number, _new_value, _new_key, changed_bytes), (8, 3, 2, 2))[0]
    return change(chance, text)


def _new_number(chance: random.Random, text: bytes) -> tuple[bytes, str]:
    """A number made extreme, or as often the same number times something."""
    if chance.random() < 0.5:
        return _substituted(chance, text, NUMBER, chance.choice(NUMBERS).encode())
    factor = chance.choice((-1.0, 0.01, 0.1, 0.5, 0.9, 0.999999, 1.1, 2.0, 5.0, 30.0, 1e3))
    found = chance.choice(NUMBER.findall(text) or [b"1"])
    return _substituted(chance, text, NUMBER, f"{float(found) * factor:.6g}".encode())


def _new_value(chance: random.Random, text: bytes) -> tuple[bytes, str]:
    return _substituted(chance, text, NUMBER, chance.choice(VALUES).encode())


def _new_key(chance: random.Random, text: bytes) -> tuple[bytes, str]:
    keys = sorted({found[0] for found in KEY.finditer(text)})
    key = chance.choice([*keys, b"span", b"fold_deg", b"", b'"\\u202e"']) if keys else b"a"
    return _substituted(chance, text, KEY, key)


def _substituted(
    chance: random.Random, text: bytes, pattern: re.Pattern[bytes], new: bytes
) -> tuple[bytes, str]:
    # A comment's numbers would change nothing.
    places = [
        found
        for found in pattern.finditer(text)
        if b"#" not in text[text.rfind(b"\n", 0, found.start()) + 1 : found.start()]
    ]
    if not places:
        return changed_bytes(chance, text)
    found = chance.choice(places)
    line = text[text.rfind(b"\n", 0, found.start()) + 1 : found.end()]
    return text[: found.start()] + new + text[found.end() :], f"{line!r} -> {new!r}"


def changed_bytes(chance: random.Random, data: bytes) -> tuple[bytes, str]:
    """Bytes with one place or stretch changed, and how."""
    start = chance.randrange(len(data) + 1)
    end = min(len(data), start + chance.choice((1, 1, 4, 16, 64, 512)))
    kind = chance.choice(("flip", "cut", "junk", "twice", "end", "swap"))
    if kind == "flip" and start < len(data):
        new = bytes([data[start] ^ (1 << chance.randrange(8))])
        return data[:start] + new + data[start + 1 :], f"a bit of byte {start}"
    if kind == "cut":
        return data[:start] + data[end:], f"without bytes {start} to {end}"
    if kind == "twice":
        return data[:end] + data[start:], f"bytes {start} to {end} twice"
    if kind == "end":
        return data[:start], f"cut off at byte {start}"
    if kind == "swap":
        other = chance.randrange(len(data) + 1)
        return data[:start] + data[other : other + 40] + data[end:], f"{other} into {start}:{end}"
    junk = chance.choice(JUNK)
    return data[:start] + junk + data[start:], f"{junk[:12]!r} at byte {start}"


def _log(chance: random.Random) -> tuple[list[str], dict[str, bytes], str]:
    """A flight log with changed cells or bytes; now and then its description too."""
    text, said = short_log(), []
    craft = shipped("tideline")
    for _ in range(chance.choice((1, 2, 8))):
        if chance.random() < 0.6:
            text, what = new_cells(chance, text)
        else:
            text, what = changed_bytes(chance, text)
        said.append(what)
    if chance.random() < 0.25:
        craft, what = changed_toml(chance, craft)
        said.append(what)
    words = ["log", "craft.toml", "flight.csv", "--no-prediction"]
    words += chance.choice(([], ["--json"], ["--json", "--compare", "loiter", "dash"]))
    return words, {"craft.toml": craft, "flight.csv": text}, "; ".join(said)


def new_cells(chance: random.Random, text: bytes) -> tuple[bytes, str]:
    """A CSV file with one cell changed, or a whole column, and how."""
    lines = text.split(b"\n")
    heads = next((i for i, line in enumerate(lines) if line and not line.startswith(b"#")), 0)
    place = chance.randrange(lines[heads].count(b",") + 1)
    rows = range(heads + 1, len(lines)) if chance.random() < 0.4 else [
        chance.randrange(heads, len(lines))
    ]  # fmt: skip
    new = chance.choice((*NUMBERS, "", "text", "NaN", "1,5", '"', "12:30", "loiter", "-")).encode()
    for row in rows:
        cells = lines[row].split(b",")
        if place < len(cells):
            cells[place] = new
            lines[row] = b",".join(cells)
    return b"\n".join(lines), f"cells {place} of {len(rows)} rows -> {new!r}"


def _dataset(chance: random.Random) -> tuple[list[str], dict[str, bytes], str]:
    """A saved sweep with changed bytes, or with changed words inside a sound file."""
    if chance.random() < 0.5:
        data, what = changed_bytes(chance, dataset())
    else:
        data, what = _changed_attribute(chance)
    words = ["rerun", "sweep.nc", *chance.choice(([], ["--json"]))]
    return words, {"sweep.nc": data}, what


def _changed_attribute(chance: random.Random) -> tuple[bytes, str]:
    import io

    import h5py

    stream = io.BytesIO(dataset())
    with h5py.File(stream, "r+") as file:
        name = chance.choice(("plan", "plan", "plan", "geometry", "geometry", "source", "digest"))
        old = file.attrs[name]
        kind = chance.random()
        if kind < 0.1:
            del file.attrs[name]
            what = "removed"
        elif kind < 0.2:
            file.attrs[name] = chance.choice((3.5, [1, 2, 3]))
            what = "not text"
        elif name == "plan" and kind < 0.8:
            text = _changed_plan(chance, str(old))
            file.attrs[name] = what = text
        elif name == "geometry":
            new, what = changed_toml(chance, str(old).encode())
            file.attrs[name] = new.replace(b"\x00", b"").decode("utf-8", "replace")
        else:
            new, what = changed_bytes(chance, str(old).encode())
            file.attrs[name] = new.replace(b"\x00", b"").decode("utf-8", "replace")
    return stream.getvalue(), f"{name}: {what}"


def _changed_plan(chance: random.Random, text: str) -> str:
    """The plan with one value changed: its JSON stays JSON."""
    plan = json.loads(text)
    key = chance.choice(sorted(plan))
    odd = (None, 0, -1, 1e300, 10**9, "text", [], {}, [[]], [None], True, [float("nan")], [4.0])
    if chance.random() < 0.1:
        del plan[key]
    elif isinstance(plan[key], dict) and plan[key] and chance.random() < 0.7:
        plan[key][chance.choice(sorted(plan[key]))] = chance.choice(odd)
    else:
        plan[key] = chance.choice(odd)
    return json.dumps(plan)


# --- changed words ---


def _settings(chance: random.Random) -> tuple[list[str], dict[str, bytes], str]:
    """A good file with keys set on the command line."""
    craft = chance.choice(CRAFT)
    words = _command(chance, craft)
    for _ in range(chance.choice((1, 1, 2))):
        key, value = chance.choice(_all_keys()), chance.choice(VALUES)
        words += ["--set", f"{key}={value}"]
    return words, {}, "settings"


@cache
def _all_keys() -> tuple[str, ...]:
    from vlm.description import keys

    found = [f"{block}.{key}" if block else key for block, key in keys.all_keys()]
    lists = [key.replace("rotors.", "rotors.0.", 1) for key in found if key.startswith("rotors.")]
    odd = ["upper.stations.0.chord_m", "upper.stations.9.y_m", "configurations.x.fold_deg", "a..b"]
    return tuple(sorted({*found, *lists, *odd}))


OPTIONS = (
    "--alpha", "--beta", "--fold", "--fold-left", "--fold-right", "--configuration", "--airspeed",
    "--density", "--p-hat", "--q-hat", "--r-hat", "--rows", "--strips", "--wake", "--folds",
    "--airspeeds", "--alphas", "--shares", "--load-factors", "--step", "--over", "--out", "-o",
    "--climb-angle", "--altitude", "--to-left", "--to-right", "--base", "--duration", "--plot",
    "--set", "--colour", "--from", "--log", "--workers", "--level", "--seed", "--fit",
)  # fmt: skip
TEXTS = (
    *(n for n in NUMBERS if n != "9223372036854775808"), "", "-", "--", "text", "0:20:2", "0:20:0",
    "0:20:-1", "0:20:1e9", "0:20:99999999", "nan:1:3", "0:inf:3", "1:2:3:4", ",,", "1,nan", "5,5,5",
    "é", "../x", "no/such/folder/out.nc", ".", "/", "~", "a\nb", "\x1b[31m", "a" * 5000, "out.nc",
    "out.exe", "dash", "stream", "upper.span_m=0:1:3", "arrangement.gap_m=0.2:0.4:2", "=", "a=",
    "upper.span_m=nan", "\udcff", "craft.toml", "-999999", "1e9",
)  # fmt: skip


def _words(chance: random.Random) -> tuple[list[str], dict[str, bytes], str]:
    """A good command line with odd options, values and names."""
    words = _command(chance, chance.choice((*CRAFT, "craft.toml")))
    for _ in range(chance.choice((1, 1, 2, 3))):
        kind = chance.random()
        if kind < 0.5:
            words += [chance.choice(OPTIONS), chance.choice(TEXTS)]
        elif kind < 0.85:
            words[chance.randrange(len(words))] = chance.choice(TEXTS)
        elif kind < 0.93:
            del words[chance.randrange(len(words))]
        else:
            words.insert(chance.randrange(len(words) + 1), chance.choice(TEXTS))
        if not words:
            break
    return words, {"craft.toml": shipped("tideline")}, "words"
