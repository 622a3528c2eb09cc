"""What folding is worth over a mission, as text."""

from typing import Any

from vlm.show.tables.layout import number, section, short, table

GROUPS = (
    ("held", "held"),
    ("without_mechanism", "no mechanism"),
    ("other_tips", "no mechanism"),
)
"""Keys of the document, and how their ways are introduced."""


BREAK_EVEN = (("same_tips", "against fixed tips"), ("span_free", "against any span"))
"""Keys of the break-even, and what is compared."""


def mission_table(document: dict[str, Any]) -> str:
    """The document of ``foldspan mission`` for people."""
    blocks = [
        f"{document['title']}\n{document['mission']}\n",
        section("The answer", _answers(document)),
        section("Along the schedule", _legs(document)),
        section("Every way to fly it", _ways(document)),
        section("Break-even", _break_even(document)),
        "Assumed:\n" + "\n".join(f"- {line}" for line in document["assumed"]) + "\n",
        document["caution"],
    ]
    return "\n".join(blocks)


def _answers(document: dict[str, Any]) -> str:
    if document["best_fixed"] == document["best_purpose_built"]:
        return str(document["answer"])
    return f"{document['answer']}\nWith the span free: {document['purpose_built_answer']}"


def _legs(document: dict[str, Any]) -> str:
    heads = ["leg", "airspeed [m/s]", "fold [deg]", "time [s]", "mean power [W]", "energy [Wh]",
             "of it folding [Wh]", "battery left [Wh]"]  # fmt: skip
    rows = [
        [
            row["leg"],
            number(row["airspeed_m_s"], 3),
            _angle(row["fold_deg"]),
            number(row["time_s"]),
            number(row["mean_power_W"]),
            number(row["energy_Wh"]),
            number(row["folding_Wh"], 2),
            number(row["battery_left_Wh"]),
        ]
        for row in document["schedule"]["legs"]
    ]
    total = document["schedule"]
    rows.append(
        ["all", "", "", number(total["time_s"]), "", number(total["energy_Wh"]),
         number(total["folding_Wh"], 2), ""]
    )  # fmt: skip
    left = document["schedule"]["legs"][-1]["battery_left_Wh"]
    text = table(heads, rows)
    if left is not None and left < 0.0:
        text += f"\nThe battery lacks {-left:.1f} Wh for this mission."
    return text


def _angle(value: float | None) -> str:
    return "-" if value is None else f"{value:.1f}"


def _ways(document: dict[str, Any]) -> str:
    percent = document["interval_percent"]
    span = "interval" if percent is None else f"{percent:g} % interval"
    heads = ["way", "mass [kg]", "time [s]", "energy [Wh]", f"{span} [Wh]",
             "schedule saves [Wh]", f"{span} [Wh]", "[%]"]  # fmt: skip
    rows = [_way("schedule", document["schedule"])]
    for key, word in GROUPS:
        rows += [_way(f"{word}: {way['name']}", way) for way in document[key]]
    return table(heads, rows)


def _way(name: str, way: dict[str, Any]) -> list[str]:
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


def _signed(value: float, digits: int) -> str:
    """A number with a fixed number of digits, never -0.00."""
    return f"{round(value, digits) + 0.0:.{digits}f}"


def _ends(ends: list[float] | None) -> str:
    return "-" if ends is None else f"{_signed(ends[0], 2)} to {_signed(ends[1], 2)}"


def _break_even(document: dict[str, Any]) -> str:
    lines = []
    for key, words in BREAK_EVEN:
        found = document["break_even"][key]
        lines += [f"- {words}: {found['mechanism_mass']}", f"- {words}: {found['loiter']}"]
    return "\n".join(lines)
