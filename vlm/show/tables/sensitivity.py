"""What the ± of an answer is made of, as a table of shares."""

from collections.abc import Sequence

from vlm.show.text.answer import wrapped
from vlm.show.text.layout import fitted, number, section, with_error
from vlm.study.sensitivity import AnswerDocument, CheckOfDraws, InputDocument, SensitivityDocument

LONGEST = 34
SMALL = 0.5
"""A share below which a cell says so [%]."""


def sensitivity_table(document: SensitivityDocument) -> str:
    """Shares of the inputs by answer, one table a group, and the check on the draws."""
    groups: dict[str, list[AnswerDocument]] = {}
    for answer in document["answers"]:
        groups.setdefault(answer["group"], []).append(answer)
    blocks = [
        section(f"Share of each uncertain input in the ±, %: {name}", _group(document, answers))
        for name, answers in groups.items()
    ]
    blocks.append(section("Rests on", _rests_on(document)))
    return "\n".join(blocks)


def _group(document: SensitivityDocument, answers: Sequence[AnswerDocument]) -> str:
    heads, rows = _cells(document, answers)
    return fitted(heads, rows)


def _cells(
    document: SensitivityDocument, answers: Sequence[AnswerDocument]
) -> tuple[list[str], list[list[str]]]:
    heads = ["input, its standard deviation", *(_head(answer) for answer in answers)]
    rows = [["value", *(with_error(a["value"], a["half_width"]) for a in answers)]]
    order = sorted(
        document["inputs"],
        key=lambda one: -max(answer["share_percent"][one["name"]] or 0.0 for answer in answers),
    )
    for one in order:
        cells = [_share(answer, one["name"]) for answer in answers]
        rows.append([_input(one), *cells])
    rows.append(["several together", *(_percent(a["together_percent"]) for a in answers)])
    return heads, rows


def _head(answer: AnswerDocument) -> str:
    unit = "" if answer["unit"] == "1" else f", {answer['unit']}"
    return f"{answer['name']}{unit}"


def _input(one: InputDocument) -> str:
    spread = f"{one['standard_deviation']:g}{' ' + one['unit'] if one['unit'] else ''}"
    words = one["words"]
    room = LONGEST - len(spread) - 2
    return f"{words if len(words) <= room else words[: room - 3] + '...'}, {spread}"


def _share(answer: AnswerDocument, name: str) -> str:
    """A share, with the sense in which the answer goes with the input."""
    slope = answer["change_per_standard_deviation"][name]
    share = answer["share_percent"][name]
    if share is None:
        return "not known"
    text = _percent(share)
    return text if share < SMALL else f"{text} {'+' if slope > 0.0 else '-'}"


def _percent(share: float) -> str:
    return f"< {SMALL:g}" if share < SMALL else f"{share:.0f}"


def _rests_on(document: SensitivityDocument) -> str:
    lines = [
        f"±: to the farther end of the {document['interval_percent']:g} % interval of"
        f" {document['draws']} draws; the sign behind a share: whether the answer grows (+) or"
        " falls (-) with the input",
        document["method"],
    ]
    for check in document["checks"]:
        worst = check["worst"]
        if worst is None:
            lines.append(f"{check['what']}: none of {len(check['direct'])} draws could be checked")
            continue
        known = sum(value is not None for value in check["direct"])
        lines.append(
            f"{check['what']}, {known} draws trimmed directly: at most {number(worst, 2)}"
            f" {check['unit']} from the tables, of {_checked_value(check)}"
        )
    for answer in document["answers"]:
        missing = answer["draws_without_value_percent"]
        if missing >= 1.0:
            lines.append(
                f"{answer['group']}, {answer['name']}: {missing:.0f} % of the draws have no value"
            )
    return "\n".join(wrapped(f"- {line}", "  ") for line in lines)


def _checked_value(check: CheckOfDraws) -> str:
    return f"{with_error(check['value'], check['half_width'])} {check['unit']}"
