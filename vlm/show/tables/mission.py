"""What folding is worth over a mission, as text."""

from typing import Literal

from vlm.findings import Finding
from vlm.plain import size_words
from vlm.show.text.answer import Footnotes, framed, listed, wrapped
from vlm.show.text.layout import WIDTH, cut, number, section, short, table, with_interval
from vlm.study.mission.answer import LEAST_WH, CandidateDocument, MissionDocument

GROUPS: tuple[tuple[Literal["held", "without_mechanism", "other_tips"], str], ...] = (
    ("held", "held"),
    ("without_mechanism", "fixed"),
    ("other_tips", "fixed"),
)
"""Keys of the document, and how their ways are introduced; a fixed craft has no mechanism."""
NO_INTERVAL = " (no interval)"
OPEN = "?"
"""Stands before a saving whose interval holds zero."""
LONGEST_LEG = 24

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
        section("Every way to fly it", _ways(document, full=full)),
        section("Break-even", _break_even(document)),
    ]
    return framed(
        f"{document['title']}\n{document['mission']}",
        mission_answers(document),
        [block.rstrip() for block in blocks],
        [Finding(**one) for one in document["findings"]],
        "; ".join(document["assumed"][:2]),
        [listed("Assumed", document["assumed"])] if full else None,
    )


def mission_answers(document: MissionDocument) -> list[str]:
    """The decision: against the same tips, against any span, and what holds the airspeeds."""
    said = [str(document["answer"])]
    if document["best_fixed"] != document["best_purpose_built"]:
        said.append(f"With the span free: {document['purpose_built_answer']}")
    said += [document["airspeeds_answer"]] if document["airspeeds_answer"] else []
    return said


def _legs(document: MissionDocument, *, full: bool) -> str:
    heads = ["leg", "m/s", "fold, deg", "time, s", "mean, W", "Wh", "left, Wh"]
    rows = [
        [
            row["leg"] if full else cut(row["leg"], LONGEST_LEG),
            number(row["airspeed_m_s"], 3),
            _angle(row["fold_deg"]),
            number(row["time_s"]),
            number(row["mean_power_W"]),
            number(row["energy_Wh"]),
            number(row["battery_left_Wh"]),
        ]
        for row in document["schedule"]["legs"]
    ]
    total = document["schedule"]
    rows.append(["all", "", "", number(total["time_s"]), "", number(total["energy_Wh"]), ""])
    text = table(heads, rows)
    moving = total["folding_Wh"]
    percent = document["interval_percent"]
    sure = "" if percent is None else f" at {percent:g} %"
    text += (
        f"\nIn all {_energy(total)} Wh{sure}, of it {size_words(moving) if moving else '0'} Wh for"
    )
    text += " moving the tips."
    left = document["schedule"]["legs"][-1]["battery_left_Wh"]
    if left is not None and left < 0.0:
        text += f" The battery lacks {-left:.1f} Wh for this mission."
    return text


def _angle(value: float | None) -> str:
    return "-" if value is None else f"{value:z.1f}"


def _ways(document: MissionDocument, *, full: bool) -> str:
    percent = document["interval_percent"]
    span = "" if percent is None else f", {percent:g} % interval"
    ways = [("schedule", document["schedule"])]
    for key, word in GROUPS:
        ways += [(f"{word}: {way['name']}".replace("fixed: fixed", "fixed"), way)
                 for way in document[key]]  # fmt: skip
    if full:
        heads = ["way", "kg", "s", "Wh", f"Wh{span}", "schedule saves, Wh", f"Wh{span}", "%"]
        return table(heads, [_way(name, way) for name, way in ways])
    heads = ["way", "kg", "Wh", "saved, Wh"]
    notes = Footnotes()
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
    rows = [[cut(name, room), *row] for (name, _), row in zip(ways, cells, strict=True)]
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
        return "-"
    value, ends = way["schedule_saves_Wh"], way["schedule_saves_interval_Wh"]
    if ends is None:
        text = size_words(0.0) if _is_nothing(value) else _signed(value, 2)
        return text + (NO_INTERVAL if interval else "")
    if _is_nothing(value, *ends):
        return size_words(0.0)
    shown = f"{_signed(value, 2)}, {_ends(ends)}"
    return f"{OPEN} {shown}" if ends[0] <= 0.0 <= ends[1] else shown


def _way(name: str, way: CandidateDocument) -> list[str]:
    if way["energy_Wh"] is None:
        reason = short(way["cannot_fly"])
        return [name, number(way["mass_kg"]), "-", f"none ({reason})", "-", "-", "-", "-"]
    return [
        name,
        number(way["mass_kg"]),
        number(way["time_s"]),
        number(way["energy_Wh"]),
        _ends(way["energy_interval_Wh"]),
        _signed(way["schedule_saves_Wh"], 2),
        _ends(way["schedule_saves_interval_Wh"]),
        _signed(way["schedule_saves_percent"], 1),
    ]


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
