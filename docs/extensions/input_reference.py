"""The reference of the input file, written from the models' JSON Schema."""

import re
from collections.abc import Iterator
from typing import Any

Schema = dict[str, Any]

BOUNDS = {
    "exclusiveMinimum": "> {:g}",
    "minimum": "≥ {:g}",
    "exclusiveMaximum": "< {:g}",
    "maximum": "≤ {:g}",
}
BOUNDLESS, TINY = 1e9, 1e-9
WORDS = {"number": "number", "integer": "whole number", "string": "text", "boolean": "true, false"}


def input_reference(schema: Schema) -> str:
    """Markdown: one section a table of the file, one row a key.

    Raises
    ------
    ValueError : a key has no meaning written beside it
    """
    models = schema.get("$defs", {})
    sections = [_section("The file", "file", schema)]
    sections += [_section(place, name, models[name]) for name, place in _places(schema, models)]
    return "\n".join(sections)


def _places(schema: Schema, models: dict[str, Schema]) -> Iterator[tuple[str, str]]:
    """Each model's name with the headings under which it stands in the file, in file order."""
    found: dict[str, list[str]] = {}
    _walk(schema, "", models, found)
    for name, headings in found.items():
        yield name, ", ".join(f"`{heading}`" for heading in headings)


def _walk(
    schema: Schema, path: str, models: dict[str, Schema], found: dict[str, list[str]]
) -> None:
    for key, field in schema.get("properties", {}).items():
        for name, form in _references(field):
            inner = f"{path}.{key}" if path else key
            if form == "dict":
                inner += ".NAME"
            heading = f"[[{inner}]]" if form == "list" else f"[{inner}]"
            headings = found.setdefault(name, [])
            if heading not in headings:
                headings.append(heading)
                _walk(models[name], inner, models, found)


def _references(field: Schema, form: str = "table") -> Iterator[tuple[str, str]]:
    """Models that a field holds, each with its form: table, list of tables, or dict of them."""
    if "$ref" in field:
        yield field["$ref"].rsplit("/", 1)[-1], form
    for choice in field.get("anyOf", []) + field.get("allOf", []) + field.get("oneOf", []):
        yield from _references(choice, form)
    if isinstance(field.get("items"), dict):
        yield from _references(field["items"], "list")
    if isinstance(field.get("additionalProperties"), dict):
        yield from _references(field["additionalProperties"], "dict")


def _section(title: str, name: str, schema: Schema) -> str:
    needed = set(schema.get("required", []))
    rows = []
    for key, field in schema.get("properties", {}).items():
        if not field.get("description"):
            raise ValueError(f"{title}: {key} has no meaning written beside it")
        meaning, unit = _meaning_and_unit(field["description"])
        rows.append(
            f"| `{key}` | {unit} | {_kind(field)} | {_default(key, field, needed)} | {meaning} |"
        )
    head = ["| key | unit | allowed | if left out | meaning |", "| --- | --- | --- | --- | --- |"]
    words = _sentences(schema.get("description", ""))
    count = "1 key" if len(rows) == 1 else f"{len(rows)} keys"
    return "\n".join(
        [f"(input-{name.lower()})=", f"## {title}", "", words, "",
         f"<details><summary>{count}</summary>", "", *head, *rows, "", "</details>", ""]
    )  # fmt: skip


NO_UNITS = {"text", "table", "tables", "list", "a table", "true or false", "1"}


def _meaning_and_unit(text: str) -> tuple[str, str]:
    """A description without the unit in brackets that it ends in, and that unit."""
    line = " ".join(text.split()).replace("|", "\\|")
    found = re.fullmatch(r"(.*?) ?\[([^\[\]]*)\]\.?", line)
    if found is None:
        return _sentences(line), ""
    unit = "" if found[2] in NO_UNITS else found[2]
    return _sentences(found[1].rstrip(".") + "."), unit


def _default(key: str, field: Schema, needed: set[str]) -> str:
    if key in needed:
        return "needed"
    default = field.get("default")
    if default is None or default in ({}, []) or isinstance(default, dict):
        return "-"
    return f"`{_value(default)}`"


def _value(value: Any) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    return f'"{value}"' if isinstance(value, str) else f"{value}"


def _kind(field: Schema) -> str:
    """What a key may hold, in words."""
    if "anyOf" in field or "oneOf" in field:
        choices = field.get("anyOf", field.get("oneOf", []))
        kinds = [_kind(choice) for choice in choices if choice.get("type") != "null"]
        return " or ".join(dict.fromkeys(kinds))
    references = list(_references(field))
    if references:
        name, form = references[0]
        words = {"table": "table", "list": "tables", "dict": "tables by name"}[form]
        return f"[{words}](#input-{name.lower()})"
    if "const" in field:
        return f"`{_value(field['const'])}`"
    if "enum" in field:
        return ", ".join(f"`{_value(value)}`" for value in field["enum"])
    if field.get("type") == "array":
        return _array_kind(field)
    if field.get("type") == "object":
        inner = field.get("additionalProperties")
        return f"{_kind(inner)} by name" if isinstance(inner, dict) else "table"
    return WORDS.get(field.get("type", ""), "anything") + _range(field)


def _range(field: Schema) -> str:
    """The bounds of a number, in words."""
    if "minimum" in field and "maximum" in field:
        low, high = field["minimum"], field["maximum"]
        if high >= BOUNDLESS:  # no limit of a craft: it only keeps numbers finite
            return "" if low <= -BOUNDLESS else " > 0" if 0.0 < low <= TINY else f" ≥ {low:g}"
        return f", {low:g} to {high:g}"
    bounds = [text.format(field[key]) for key, text in BOUNDS.items() if key in field]
    return f" {' and '.join(bounds)}" if bounds else ""


def _array_kind(field: Schema) -> str:
    if "prefixItems" in field:
        return f"list of {len(field['prefixItems'])}: {_kind(field['prefixItems'][0])}"
    inner = field.get("items")
    return f"list of: {_kind(inner)}" if isinstance(inner, dict) else "list"


def _sentences(text: str) -> str:
    """One line; reStructuredText's double quotes become Markdown's; section names become code."""
    line = re.sub(r"``([^`]+)``", r"`\1`", " ".join(text.split()))
    return re.sub(r"(?<!`)(\[\[?[a-z_]+(?:\.\w+)*\]?\])(?=[ ,.;:)])(?!`)", r"`\1`", line)
