"""The keys of the input file, found by walking the models' schema."""

import re
from collections.abc import Iterator, Sequence
from functools import cache
from typing import Any

from vlm.description.names import cut
from vlm.description.schema import biplane_json_schema

Schema = dict[str, Any]
NO_UNITS = frozenset(
    ("", "1", "text", "texts", "list", "table", "a table", "tables", "true or false", "yes or no")
)
"""What a description may end in besides a unit."""
Path = tuple[str | int, ...]


@cache
def root_schema() -> Schema:
    """JSON Schema of the whole file, definitions included."""
    return biplane_json_schema()


def alternatives(node: Schema) -> list[Schema]:
    """The forms a value may take: references followed, unions opened."""
    if "$ref" in node:
        name = str(node["$ref"]).rsplit("/", 1)[-1]
        return alternatives(root_schema()["$defs"][name])
    if "anyOf" in node:
        return [form for part in node["anyOf"] for form in alternatives(part)]
    return [node]


def forms_at(path: Sequence[str | int]) -> list[Schema]:
    """The forms allowed at a key path; empty where the path leads nowhere."""
    forms = alternatives(root_schema())
    for step in path:
        forms = [form for node in forms for form in _inside(node, step)]
    return forms


def _inside(node: Schema, step: str | int) -> list[Schema]:
    if node.get("type") == "object" or "properties" in node:
        if step in node.get("properties", {}):
            return alternatives(node["properties"][step])
        more = node.get("additionalProperties")
        return alternatives(more) if isinstance(more, dict) else []
    if node.get("type") == "array" and str(step).isdigit():
        items = node.get("prefixItems", [])
        if int(step) < len(items):
            return alternatives(items[int(step)])
        return alternatives(node["items"]) if isinstance(node.get("items"), dict) else []
    return []


def known_keys(path: Sequence[str | int]) -> list[str]:
    """Keys of the block at a path, in the models' order."""
    return [key for form in forms_at(path) for key in form.get("properties", {})]


def is_block(path: Sequence[str | int]) -> bool:
    """Whether a path leads to a table with fixed keys."""
    return any("properties" in form for form in forms_at(path))


def description_at(path: Sequence[str | int]) -> str:
    """What the models say about a key, in one line; empty where they say nothing."""
    if not path:
        return ""
    for form in forms_at(path[:-1]):
        text = form.get("properties", {}).get(path[-1], {}).get("description", "")
        if text:
            return str(text)
    return ""


def unit_at(path: Sequence[str | int]) -> str:
    """What stands in brackets at the end of a key's description: its unit, or its kind."""
    match = re.search(r"\[([^\[\]]*)\]\.?$", description_at(path))
    return match[1] if match else ""


def all_keys() -> Iterator[tuple[str, str]]:
    """Every key of a fixed block with its block's path: ("upper.tips", "span_m"), ..."""
    waiting: list[Path] = [()]
    while waiting:
        path = waiting.pop(0)
        for key in known_keys(path):
            yield dotted(path), key
            deeper = (*path, key)
            if is_block(deeper):
                waiting.append(deeper)


def dotted(path: Sequence[str | int]) -> str:
    """A key path as people write it: "upper.stations.2.chord_m"."""
    return ".".join(cut(str(step)) for step in path)
