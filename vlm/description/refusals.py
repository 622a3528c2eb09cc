"""What the models found wrong, said so that it can be put right."""

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from pydantic import ValidationError

from vlm.description import keys
from vlm.description.block import SMALLEST
from vlm.description.names import cut
from vlm.errors import nearest_name

Detail = Mapping[str, Any]
Path = tuple[int | str, ...]
MOST_LINES = 8

UNITS = {
    "m": "metres",
    "m^2": "square metres",
    "deg": "degrees",
    "kg": "kilograms",
    "s": "seconds",
}
KINDS = {"m": "a length", "m^2": "an area", "kg": "a mass", "s": "a time"}


def refusal_text(error: ValidationError, file_name: str) -> str:
    """All that is wrong with a file, one line for each key, each led by the file's name.

    Parameters
    ----------
    error : what the models raised
    file_name : name of the file
    """
    found: dict[Path, str] = {}
    # A misspelt key comes first: it explains why another is missing.
    details = error.errors(include_url=False)
    for detail in sorted(details, key=lambda d: d["type"] != "extra_forbidden"):
        path = _real_path(detail["loc"], detail["type"])
        found.setdefault(path, f"{file_name}: {_line(detail, path)}")
    # Where one form of a value is wrong in one place, the other forms' complaints add nothing.
    lines = [line for path, line in found.items() if not _is_inside(path, found)]
    rest = len(lines) - MOST_LINES
    if rest > 0:
        lines = [*lines[:MOST_LINES], f"{file_name}: and {rest} more"]
    return "\n".join(lines)


def _is_inside(path: Path, others: Iterable[Path]) -> bool:
    """Whether one of the others leads deeper into the same key."""
    return any(len(other) > len(path) and other[: len(path)] == path for other in others)


def unknown_key(path: Sequence[str | int]) -> str:
    """Message for a key that is not known, with the nearest right one."""
    block, key = path[:-1], str(path[-1])
    known = keys.known_keys(block)
    said = f"{keys.dotted(path)} is not a known key"
    near = nearest_name(key, known)
    if near is not None:
        return f"{said}; did you mean {near}?"
    elsewhere = [place or "the top of the file" for place, name in keys.all_keys() if name == key]
    if elsewhere:
        return f"{said}; {key} belongs in {elsewhere[0]}"
    if not known:
        return f"{said}; {keys.dotted(block) or 'the file'} has no keys of its own"
    return f"{said}; known here: {', '.join(known)}"


def _line(detail: Detail, path: Path) -> str:
    kind = detail["type"]
    if kind == "extra_forbidden":
        return unknown_key(path)
    if kind == "missing":
        return f"{keys.dotted(path)} is missing; {_expected(path)}"
    said = str(detail.get("ctx", {}).get("error", ""))
    if kind == "value_error" and keys.is_block(path):
        # A block's own check names the key inside the block and what is wrong with it.
        return f"{keys.dotted(path)}.{said}" if path else said
    found = f"{keys.dotted(path)} = {shown(detail['input'])}"
    return f"{found}; {said or allowed(detail, path)}"


def _real_path(loc: Path, kind: str) -> Path:
    """The key path in a location: the names of a union's members are left out."""
    path: Path = ()
    for index, step in enumerate(loc):
        last_of_unknown = kind == "extra_forbidden" and index == len(loc) - 1
        if last_of_unknown or keys.forms_at((*path, step)):
            path = (*path, step)
    return path


def allowed(detail: Detail, path: Sequence[str | int]) -> str:
    """What a value must be, from the kind of error.

    Parameters
    ----------
    detail : one of the errors that the models raised
    path : the value's key in a geometry file
    """
    limits: Mapping[str, Any] = detail.get("ctx", {})
    kind = detail["type"]
    if kind == "finite_number":
        return "it must be a finite number"
    if kind == "greater_than" and limits["gt"] == 0:
        return f"{_kind_of(path)} must be positive"
    if kind == "greater_than_equal" and detail["input"] <= 0 < limits["ge"] <= SMALLEST:
        return f"{_kind_of(path)} must be positive"
    if kind == "greater_than_equal" and limits["ge"] == 0:
        return f"{_kind_of(path)} can't be negative"
    bounds = {
        "greater_than": ("gt", "more than"),
        "greater_than_equal": ("ge", "at least"),
        "less_than": ("lt", "less than"),
        "less_than_equal": ("le", "at most"),
    }
    if kind in bounds:
        key, words = bounds[kind]
        return f"it must be {words} {limits[key]:g}{_unit_of(path, ' ')}"
    return _expected(path)


def _expected(path: Sequence[str | int]) -> str:
    """What stands at a key, in words."""
    forms = list(dict.fromkeys(_form(form, path) for form in keys.forms_at(path)))
    return f"it must be {', or '.join(forms)}" if forms else "it is not allowed here"


def _form(form: keys.Schema, path: Sequence[str | int]) -> str:
    if "enum" in form or "const" in form:
        values = form.get("enum", [form.get("const")])
        return " or ".join(f'"{value}"' for value in values)
    kind = form.get("type")
    if kind in ("number", "integer"):
        return f"a {'whole ' if kind == 'integer' else ''}number{_unit_of(path)}"
    if kind == "array":
        count = form.get("minItems") if form.get("minItems") == form.get("maxItems") else None
        if count is None:
            return "a list"
        return f"a list of {count} numbers{_unit_of(path)}"
    if kind == "object":
        return f"a table [{keys.dotted(path)}]"
    return {"string": 'a text in "quotation marks"', "boolean": "true or false"}.get(
        str(kind), "another kind of value"
    )


def _unit(path: Sequence[str | int]) -> str:
    """Unit of a key, from the end of its description; empty for keys without one."""
    named = list(path)
    while named and not isinstance(named[-1], str):
        named.pop()
    unit = keys.unit_at(named)
    return "" if unit in keys.NO_UNITS else unit


def _unit_of(path: Sequence[str | int], joined: str = " in ") -> str:
    unit = _unit(path)
    return f"{joined}{UNITS.get(unit, unit)}" if unit else ""


def _kind_of(path: Sequence[str | int]) -> str:
    return KINDS.get(_unit(path), "it")


def shown(value: object) -> str:
    """A value as the file would show it, shortened."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, float | int):
        return f"{value:.10g}" if isinstance(value, float) else cut(str(value))
    if isinstance(value, str):
        return f'"{cut(value)}"'
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, list | tuple):
        return cut(f"[{', '.join(shown(item) for item in value[:10])}]")
    return cut(str(value))
