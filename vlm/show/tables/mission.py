"""What folding is worth over a mission, as text."""

from typing import Literal

from vlm.findings import Finding
from vlm.plain import size_words
from vlm.show.text.answer import Footnotes, framed, listed, wrapped
from vlm.show.text.layout import WIDTH, cut, fitted, number, section, table, with_interval
from vlm.study.mission.answer import (
    LEAST_WH,
    CandidateDocument,
    LegDocument,
    MissionDocument,
    holds_zero,
)
from vlm.study.mission.saving_parts import DRAG, SERVOS, WEIGHT

GROUPS: tuple[tuple[Literal["held", "without_mechanism", "other_tips"], str], ...] = (
    ("held", "held"),
    ("without_mechanism", "fixed"),
    ("other_tips", "fixed"),
)
"""Keys of the document, and how their ways are introduced; a fixed craft has no mechanism."""
NO_INTERVAL = " (no interval)"
OPEN = "?"
"""Stands before a saving whose interval holds zero."""
LONGEST_LEG, LONGEST_IN_FULL = 22, 30

BREAK_EVEN: tuple[tuple[Literal["same_tips", "span_free"], str], ...] = (
    ("same_tips", "against fixed tips"),
    ("span_free", "against any span"),
)
"""Keys of the break-even, and what is compared."""


def mission_table(document: MissionDocument, *, full: bool = False) -> str:
    """The document of ``foldspan mission`` for people, within 80 columns.

    Parameters
    ----------
    full : with mass, time and intervals of every way, and what was assumed
    """
    blocks = [
        section("Along the schedule", _legs(document, full=full)),
        _parts(document),
        section("Every way to fly it", _ways(document, full=full)),
        section("Break-even", _break_even(document)),
    ]
    return framed(
        f"{document['title']}\n{document['mission']}",
        mission_answers(document),
        [block.rstrip() for block in blocks if block],
        [Finding(**one) for one in document["findings"]],
        "; ".join(document["assumed"][:2]),
        [listed("Assumed", document["assumed"])] if full else None,
    )


def mission_answers(document: MissionDocument) -> list[str]:
    """The decision, after what forbids it: whether the battery holds it; against the same tips,
    against any span, and what holds the airspeeds."""
    said = [*battery_answer(document), str(document["answer"])]
    if document["best_fixed"] != document["best_purpose_built"]:
        answer = document["purpose_built_answer"]
        said.append(f"With the span free: {answer[:1].lower()}{answer[1:]}")
    said += [document["airspeeds_answer"]] if document["airspeeds_answer"] else []
    return said


def battery_answer(document: MissionDocument) -> list[str]:
    """That the battery does not hold the mission, or that it is not known."""
    codes, usable = {one["code"] for one in document["findings"]}, document["battery_usable_Wh"]
    total = document["schedule"]
    if usable is None or not codes.intersection(("battery", "battery_not_known")):
        return []
    size = f"{_energy(total)} Wh against {number(usable, 3)} Wh that may be used"
    if "battery" in codes:
        return [f"The battery does not hold this mission: {size}."]
    return [f"It is not known whether the battery holds this mission: {size}."]


def _legs(document: MissionDocument, *, full: bool) -> str:
    has_battery = document["battery_usable_Wh"] is not None
    heads = ["leg", "m/s", "fold, deg", "time, s", "mean, W", "Wh"]
    heads += ["left, Wh"] if has_battery else []
    rows = [
        [
            cut(row["leg"], LONGEST_IN_FULL if full else LONGEST_LEG),
            airspeed_words(row),
            _angle(row["fold_deg"]),
            *(number(row[key], 3) for key in ("time_s", "mean_power_W", "energy_Wh")),
            *([number(row["battery_left_Wh"], 3)] if has_battery else []),
        ]
        for row in document["schedule"]["legs"]
    ]
    total = document["schedule"]
    whole = ["all", "", "", number(total["time_s"], 3), "", number(total["energy_Wh"], 3)]
    rows.append(whole + [""] * has_battery)
    text = table(heads, rows)
    moving = total["folding_Wh"]
    percent = document["interval_percent"]
    sure = "" if percent is None else f" at {percent:g} %"
    note = f"In all {_energy(total)} Wh{sure}, of it {size_words(moving) if moving else '0'} Wh for"
    note += " moving the tips."
    if any(row["fast_end_m_s"] is not None for row in document["schedule"]["legs"]):
        note += " A transition runs between hover and its airspeed."
    if has_battery:
        note += " Left: of the usable battery."
    return f"{text}\n{wrapped(note)}"


def airspeed_words(row: LegDocument) -> str:
    """Airspeed of a leg [m/s]; of a transition those between which it runs."""
    fast = row["fast_end_m_s"]
    return number(row["airspeed_m_s"], 3) if fast is None else f"0 to {number(fast, 3)}"


def _parts(document: MissionDocument) -> str:
    """What the schedule saves against the best that does not fold, part by part; may be empty."""
    parts = document["saving_parts"]
    shown = [(key, words) for key, words in BREAK_EVEN if parts[key]]
    if document["best_fixed"] == document["best_purpose_built"]:
        shown = shown[:1]
    if not shown:
        return ""
    names = [one["part"] for one in parts[shown[0][0]]]
    cells = {
        key: {one["part"]: _part(one["saves_Wh"], one["interval_Wh"]) for one in parts[key]}
        for key, _ in shown
    }
    rows = [[name, *(cells[key].get(name, "0") for key, _ in shown)] for name in names]
    rows.append(["all", *(_whole(document, key) for key, _ in shown)])
    open_ = any(OPEN in cell for row in rows for cell in row)
    note = "positive: folding takes less; a kind of leg: all legs of that kind"
    if SERVOS in names:
        note += f"; {SERVOS}: moving the tips, and their current at rest"
    if DRAG in names:
        note += f"; {DRAG}: in all legs, of one that weighs nothing"
    if WEIGHT in names:
        note += f"; {WEIGHT}: in all legs, against the schedule with one that weighs nothing"
    percent = document["interval_percent"]
    if percent is not None:
        note += f"; {percent:g} % interval of the difference, over the same samples"
        note += f"; {OPEN} the sign is not known" if open_ else ""
    text = table(["part", *(words for _, words in shown)], rows)
    return section("What the saving consists of, Wh", f"{text}\n{wrapped(note)}")


def _part(value: float, ends: list[float] | None) -> str:
    if _is_nothing(value, *(ends or ())):
        return size_words(0.0)
    shown = _signed(value, 2)
    return shown if ends is None else _with_sign(f"{shown}, {_ends(ends)}", ends)


def _with_sign(shown: str, ends: list[float]) -> str:
    """A saving, marked where its interval leaves the sign open."""
    return f"{OPEN} {shown}" if holds_zero(ends) else shown


def _whole(document: MissionDocument, key: str) -> str:
    """The whole saving against the best craft of one kind."""
    name = document["best_fixed"] if key == "same_tips" else document["best_purpose_built"]
    ways = (*document["without_mechanism"], *document["other_tips"])
    way = next(one for one in ways if one["name"] == name)
    assert way["schedule_saves_Wh"] is not None
    return _part(way["schedule_saves_Wh"], way["schedule_saves_interval_Wh"])


def _angle(value: float | None) -> str:
    return "-" if value is None else f"{value:z.1f}"


def _ways(document: MissionDocument, *, full: bool) -> str:
    percent = document["interval_percent"]
    span = "" if percent is None else f", {percent:g} % interval"
    ways = [("schedule", document["schedule"])]
    for key, word in GROUPS:
        ways += [(f"{word}: {way['name']}".replace("fixed: fixed", "fixed"), way)
                 for way in document[key]]  # fmt: skip
    notes = Footnotes()
    if full:
        return _all_ways(document, ways, notes)
    heads = ["way", "kg", "Wh", "saved, Wh"]
    cells = []
    for name, way in ways:
        if way["energy_Wh"] is None:
            saved = f"cannot fly it {notes.mark(way['cannot_fly'])}"
        else:
            saved = _saves(name, way, interval=percent is not None)
        cells.append([number(way["mass_kg"]), _energy(way), saved])
    room = WIDTH - len(heads) + 1 - sum(
        max(len(row[i]) for row in [heads[1:], *cells]) for i in range(len(heads) - 1)
    )  # fmt: skip
    rows = [
        [cut(name.replace(", at ", ", "), room), *row]
        for (name, _), row in zip(ways, cells, strict=True)
    ]
    note = f"saved: by the schedule against the way{span}; negative where it takes more"
    if percent is not None:
        note += f"; Wh: its ± reaches the farther end of the {percent:g} % interval"
    if any(OPEN in row[-1] for row in rows):
        note += f"; {OPEN} the sign is not known"
    if any(NO_INTERVAL in row[-1] for row in rows):
        note += "; no interval is worked out for ways that are never the best"
    return notes.below(f"{table(heads, rows)}\n{wrapped(note)}")


def _energy(way: CandidateDocument) -> str:
    """Energy of a way with the ± to the farther end of its interval, where there is one."""
    if way["energy_Wh"] is None or way["energy_interval_Wh"] is None:
        return number(way["energy_Wh"])
    low, high = way["energy_interval_Wh"]
    return with_interval(way["energy_Wh"], (low, high))


def _saves(name: str, way: CandidateDocument, *, interval: bool) -> str:
    """What the schedule saves against a way, with its interval; words where the sign is open."""
    if name == "schedule":
        return ""
    value, ends = way["schedule_saves_Wh"], way["schedule_saves_interval_Wh"]
    if ends is None:
        text = size_words(0.0) if _is_nothing(value) else _signed(value, 2)
        return text + (NO_INTERVAL if interval else "")
    if _is_nothing(value, *ends):
        return size_words(0.0)
    return _with_sign(f"{_signed(value, 2)}, {_ends(ends)}", ends)


def _all_ways(
    document: MissionDocument, ways: list[tuple[str, CandidateDocument]], notes: Footnotes
) -> str:
    """Every way with mass, time and intervals, in as many tables as the page asks for."""
    percent = document["interval_percent"]
    known = percent is not None
    to = f"{percent:g} % interval" if known else ""
    heads = ["way", "kg", "time, s", "Wh", *([to] if known else []),
             "saved, Wh", *([f"saved, {to}"] if known else []), "saved, %"]  # fmt: skip
    rows = [_way(name, way, notes, known=known) for name, way in ways]
    note = "saved: by the schedule against the way; negative where it takes more"
    if any(way["energy_interval_Wh"] is None and way["energy_Wh"] is not None for _, way in ways):
        note += "; no interval is worked out for ways that are never the best" if known else ""
    return notes.below(f"{fitted(heads, rows)}\n{wrapped(note)}")


def _way(name: str, way: CandidateDocument, notes: Footnotes, *, known: bool) -> list[str]:
    """One row of the full table; ``known``: whether there are intervals at all."""
    if way["energy_Wh"] is None:
        refused = f"cannot fly it {notes.mark(way['cannot_fly'])}"
        return [name, number(way["mass_kg"]), "", refused] + [""] * (4 if known else 2)
    saved = ["", "", ""]
    if name != "schedule":
        saved = [
            _signed(way["schedule_saves_Wh"], 2),
            _none_or(way["schedule_saves_interval_Wh"]),
            _signed(way["schedule_saves_percent"], 1),
        ]
    return [
        name,
        number(way["mass_kg"]),
        number(way["time_s"], 3),
        number(way["energy_Wh"]),
        *([_none_or(way["energy_interval_Wh"])] if known else []),
        *(saved if known else saved[::2]),
    ]


def _none_or(ends: list[float] | None) -> str:
    return "none" if ends is None else _ends(ends)


def _signed(value: float | None, digits: int) -> str:
    """A number with a fixed number of digits, never -0.00."""
    return "-" if value is None else f"{value:z.{digits}f}"


def _ends(ends: list[float] | None) -> str:
    if ends is None:
        return "-"
    if _is_nothing(*ends):
        return size_words(0.0)
    return f"{_signed(ends[0], 2)} to {_signed(ends[1], 2)}"


def _is_nothing(*values: float | None) -> bool:
    """Whether all are too small for the digits that are printed."""
    return all(value is None or abs(value) < LEAST_WH for value in values)


def _break_even(document: MissionDocument) -> str:
    lines = []
    for key, words in BREAK_EVEN:
        found = document["break_even"][key]
        lines += [f"- {words}: {found['mechanism_mass']}", f"- {words}: {found['loiter']}"]
    return "\n".join(wrapped(line, "  ") for line in lines)
