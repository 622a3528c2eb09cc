"""The input reference of the docs, made from the models so that it can't drift from them."""

import json
from typing import Any

from vlm.description import keys
from vlm.description.block import LARGEST, SMALLEST

HEAD = """# The geometry file

One craft a file, in TOML. SI units throughout, angles in degrees; every key carries its unit as a
suffix. An unknown key, a wrong type, a value that is not finite or out of range is refused with the
key's full path. Axes and signs are those of the conventions page.

`foldspan schema` writes the same rules as a JSON Schema, from which editors complete the file. This
page is made from the program's own models.
"""


def input_reference_markdown() -> str:
    """The page as Markdown: one section a block, with a table of its keys."""
    sections = [HEAD]
    for places, form in _blocks():
        sections.append(_section(places, form))
    return "\n".join(sections)


def _blocks() -> list[tuple[list[str], keys.Schema]]:
    """Every fixed block once, with the headings under which it may stand, in the models' order."""
    found: list[tuple[list[str], keys.Schema]] = []
    waiting: list[tuple[str, keys.Schema]] = [("", keys.root_schema())]
    while waiting:
        place, node = waiting.pop(0)
        inner: list[tuple[str, keys.Schema]] = []
        for heading, form in _opened(place, node):
            known = next((places for places, other in found if other is form), None)
            if known is None:
                found.append(([heading], form))
            else:
                known.append(heading)
            members = form.get("properties", {}).items()
            inner += [(f"{heading}.{key}".lstrip("."), value) for key, value in members]
        waiting = inner + waiting
    return found


def _opened(place: str, node: keys.Schema) -> list[tuple[str, keys.Schema]]:
    """The fixed blocks a key holds: itself, its members by name, or its list's items."""
    blocks = []
    for form in keys.alternatives(node):
        if "properties" in form:
            blocks.append((place, form))
        elif isinstance(form.get("additionalProperties"), dict):
            blocks += _opened(f"{place}.NAME", form["additionalProperties"])
        elif isinstance(form.get("items"), dict):
            blocks += _opened(f"{place}[]", form["items"])
    return blocks


def _section(places: list[str], form: keys.Schema) -> str:
    lines = [f"## {', '.join(_heading(place) for place in places)}", ""]
    lines += [_markdown(form.get("description", "")), ""]
    lines += ["| key | what it is | unit | default | allowed |", "| --- | --- | --- | --- | --- |"]
    for key, node in form["properties"].items():
        cells = (f"`{key}`", *described(node), _default(key, form), _allowed(node))
        lines.append(f"| {' | '.join(cell.replace('|', chr(92) + '|') for cell in cells)} |")
    return "\n".join([*lines, ""])


def _heading(place: str) -> str:
    """How the block's head is written in the file."""
    if not place:
        return "The top of the file"
    if place.endswith("[]"):
        return f"`[[{place[:-2].replace('[]', '')}]]`"
    return f"`[{place.replace('[]', '')}]`"


def _markdown(text: str) -> str:
    """A docstring as Markdown: double backquotes are reStructuredText's."""
    return text.replace("``", "`")


def described(node: keys.Schema) -> tuple[str, str]:
    """What a key is, and its unit, apart."""
    text = _markdown(node.get("description", ""))
    what, _, unit = text.rstrip(".").rpartition("[")
    return (f"{what.strip()}.", unit.rstrip("]")) if what else (text, "")


def _default(key: str, form: keys.Schema) -> str:
    if key in form.get("required", []):
        return "needed"
    groups = [group["required"] for group in form.get("oneOf", [])]
    if any(key in group for group in groups):
        others = [f"`{name}`" for group in groups if key not in group for name in group]
        return f"needed without {', '.join(others)}"
    node = form["properties"][key]
    return f"`{json.dumps(node['default'], ensure_ascii=False)}`" if "default" in node else ""


def _allowed(node: keys.Schema) -> str:
    return ", or ".join(dict.fromkeys(allowed_values(form) for form in keys.alternatives(node)))


def allowed_values(form: keys.Schema) -> str:
    """What one form of a value may be: its kind and its bounds, in words."""
    if "enum" in form or "const" in form:
        return " or ".join(f'`"{value}"`' for value in form.get("enum", [form.get("const")]))
    kind = form.get("type")
    if kind in ("number", "integer"):
        name = "number" if kind == "number" else "whole number"
        return ", ".join([name, *_bounds(form)])
    if kind == "array":
        return _list(form)
    names = {"string": "text", "boolean": "true or false", "object": "table"}
    return names.get(str(kind), str(kind))


def _list(form: keys.Schema) -> str:
    items: list[Any] = form.get("prefixItems", [])
    if items:
        return f"list of {len(items)}: {allowed_values(items[0])}"
    kinds = [allowed_values(item) for item in keys.alternatives(form.get("items", {}))]
    return f"list: {', or '.join(kinds)}"


def _bounds(form: keys.Schema) -> list[str]:
    signs = {
        "exclusiveMinimum": "> ",
        "minimum": "≥ ",
        "exclusiveMaximum": "< ",
        "maximum": "≤ ",
    }
    bounds = [(sign, form[key]) for key, sign in signs.items() if key in form]
    # Limits that only keep numbers from overflowing would hide those that teach something.
    return [
        "> 0" if 0.0 < bound <= SMALLEST else f"{sign}{bound:g}"
        for sign, bound in bounds
        if abs(bound) < LARGEST
    ]
