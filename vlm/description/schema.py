"""The JSON Schema of the geometry file, from which editors complete and check it."""

from copy import deepcopy
from typing import Any

from vlm.description.models import Biplane, Configuration, Tips, Wing

DIALECT = "https://json-schema.org/draft/2020-12/schema"


def biplane_json_schema() -> dict[str, Any]:
    """JSON Schema (draft 2020-12) of a geometry file.

    Every key has a description that ends in its unit in brackets. Keys that may be left out are
    those outside ``required``; TOML has no null, so the schema has none either.
    """
    schema: dict[str, Any] = _tidied(Biplane.model_json_schema())
    forms = schema["$defs"]
    for outline in (Wing, Tips):
        form = forms[outline.__name__]
        for key in outline.zero_if_absent:
            form["properties"][key]["default"] = 0.0
        form["oneOf"] = _one_of(outline.needed, ("stations",))
    forms[Configuration.__name__]["oneOf"] = _one_of(("left_deg", "right_deg"), ("fold_deg",))
    head = {"$schema": DIALECT, "title": "Geometry file of foldspan"}
    return head | {key: value for key, value in schema.items() if key != "title"}


def _one_of(*groups: tuple[str, ...]) -> list[dict[str, Any]]:
    """Either all keys of one group and none of the others, or the other way round."""
    return [
        {
            "required": list(group),
            "not": {
                "anyOf": [
                    {"required": [key]} for other in groups if other is not group for key in other
                ]
            },
        }
        for group in groups
    ]


def _tidied(node: Any) -> Any:
    """The models' schema without nulls, without made-up titles, descriptions in one line."""
    if isinstance(node, list):
        return [_tidied(item) for item in node]
    if not isinstance(node, dict):
        return deepcopy(node)
    tidy = {key: _tidied(value) for key, value in node.items() if not _is_noise(key, value)}
    if isinstance(tidy.get("description"), str):
        tidy["description"] = " ".join(tidy["description"].split())
    forms = [form for form in tidy.get("anyOf", []) if form != {"type": "null"}]
    if len(forms) == 1:
        del tidy["anyOf"]
        return {**tidy, **forms[0]} | {k: tidy[k] for k in ("description",) if k in tidy}
    if forms:
        tidy["anyOf"] = forms
    return tidy


def _is_noise(key: str, value: Any) -> bool:
    """Titles and defaults that say nothing: "Span M", null, or a block of nulls."""
    if key == "title":
        return isinstance(value, str)
    return key == "default" and (value is None or isinstance(value, dict))
