"""A geometry file with every key explained from the models: meaning, unit, range."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from textwrap import wrap
from typing import Any

import tomli_w

from vlm.description import keys
from vlm.description.ranges import RANGES
from vlm.description.reference_page import allowed_values, described

WIDTH = 88
SCHEMA_FILE = "foldspan.schema.json"
SCHEMA_LINE = f"#:schema {SCHEMA_FILE}"
"""First line of a file, from which many editors find the schema beside it."""


@dataclass(frozen=True)
class CommentedBlock:
    """One table of the file.

    Attributes
    ----------
    heading : as it stands in the file, without brackets ("upper.tips"); empty for the top
    values : keys with their values, in the order in which they are written
    rules : how an estimated value was found, by key
    listed : one of a list of tables, written in double brackets
    explained : whether meanings are written; once is enough for the tables of a list
    words : what the table is, where the models' words do not do
    """

    heading: str
    values: Mapping[str, Any]
    rules: Mapping[str, str] = field(default_factory=dict)
    listed: bool = False
    explained: bool = True
    words: str = ""


def commented_toml(head: Sequence[str], blocks: Sequence[CommentedBlock]) -> str:
    """Text of a geometry file: the schema's address, opening remarks, and the tables."""
    lines = [SCHEMA_LINE, *_remark(" ".join(head)), ""]
    for block in blocks:
        lines += [*_block_lines(block), ""]
    return "\n".join(lines).rstrip() + "\n"


def _block_lines(block: CommentedBlock) -> list[str]:
    path = tuple(step for step in block.heading.split(".") if step)
    place = (*path, "0") if block.listed else path
    lines = _remark(f"--- {block.words} ---") if block.words else []
    if block.heading:
        lines.append(f"[[{block.heading}]]" if block.listed else f"[{block.heading}]")
    for key, value in block.values.items():
        if block.explained:
            lines += _remark(explanation((*place, key)))
        if block.explained and key in block.rules:
            lines += _remark(f"ESTIMATE: {block.rules[key]}")
        lines.append(_toml_line(key, value))
    return lines + (_left_out(block, place) if block.explained and path else [])


def _left_out(block: CommentedBlock, place: tuple[str, ...]) -> list[str]:
    """Keys of the table that the file leaves out, one remark each."""
    lines = []
    for key in keys.known_keys(place):
        path = (*place, key)
        if key in block.values or keys.is_block(path):
            continue
        meaning = wrap(f"{key}: {explanation(path)}", WIDTH, subsequent_indent="  ")
        lines += [f"#   {line}" for line in meaning]
    return ["# Left out, may be added:", *lines] if lines else []


def explanation(path: Sequence[str | int]) -> str:
    """Meaning, unit and range of a key in one sentence."""
    node = {"description": keys.description_at(path)}
    meaning, unit = described(node)
    shown = "" if unit in keys.NO_UNITS else f" [{unit}]"
    forms = dict.fromkeys(allowed_values(form) for form in keys.forms_at(path))
    allowed = " or ".join(form for form in forms if form).replace("`", "")
    allowed = "" if allowed in ("text", "number") else allowed.removeprefix("number, ")
    usual = usual_range(path)
    parts = [meaning.rstrip(".").replace("`", "") + shown, allowed, usual]
    return "; ".join(part for part in parts if part)


def usual_range(path: Sequence[str | int]) -> str:
    """What a number usually is, from the table of ranges; empty where it has no row."""
    steps = ["wing" if i == 0 and s in ("upper", "lower") else s for i, s in enumerate(path)]
    if len(steps) > 2 and steps[0] in ("rotors", "sections"):
        steps[1] = "*"
    known = RANGES.get(".".join(str(step) for step in steps))
    return "" if known is None else f"usually {known.usual[0]:g} to {known.usual[1]:g}"


def _remark(text: str) -> list[str]:
    return [f"# {line}" for line in wrap(text, WIDTH)]


def _toml_line(key: str, value: Any) -> str:
    """One key; a table as its value stands in braces on the same line."""
    if isinstance(value, Mapping):
        inner = ", ".join(_toml_line(k, v) for k, v in value.items())
        return f"{key} = {{ {inner} }}"
    if isinstance(value, list | tuple):
        inner = ", ".join(_toml_line("x", item).removeprefix("x = ") for item in value)
        return f"{key} = [{inner}]"
    return tomli_w.dumps({key: value}).strip()
