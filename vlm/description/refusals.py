"""What the models found wrong, said so that it can be put right."""

from collections.abc import Mapping, Sequence
from typing import Any

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from vlm.description import keys
from vlm.errors import nearest_name

MOST_LINES = 8
LONGEST_VALUE = 60

UNITS = {
    "m": "metres",
    "m2": "square metres",
    "deg": "degrees",
    "kg": "kilograms",
    "s": "seconds",
    "m_s": "metres a second",
}
KINDS = {"m": "a length", "m2": "an area", "kg": "a mass", "s": "a time"}


def refusal_text(error: ValidationError, file_name: str) -> str:
    """All that is wrong with a file, one line for each key, each led by the file's name.

    Parameters
    ----------
    error : what the models raised
    file_name : name of the file
    """
    lines: dict[str, None] = {}
    for detail in error.errors(include_url=False):
        lines.setdefault(f"{file_name}: {_line(detail)}")
    shown = list(lines)[:MOST_LINES]
    if len(lines) > len(shown):
        shown.append(f"{file_name}: and {len(lines) - len(shown)} more")
    return "\n".join(shown)


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


def _line(detail: ErrorDetails) -> str:
    kind = detail["type"]
    path = _real_path(detail["loc"], kind)
    if kind == "extra_forbidden":
        return unknown_key(path)
    if kind == "missing":
        return f"{keys.dotted(path)} is missing; {_expected(path)}"
    said = str(detail.get("ctx", {}).get("error", ""))
    if kind == "value_error" and keys.is_block(path):
        # A block's own check names the key inside the block and what is wrong with it.
        return f"{keys.dotted(path)}.{said}" if path else said
    found = f"{keys.dotted(path)} = {shown(detail['input'])}"
    return f"{found}; {said or _allowed(detail, path)}"


def _real_path(loc: tuple[int | str, ...], kind: str) -> tuple[int | str, ...]:
    """The key path in a location: the names of a union's members are left out."""
    path: tuple[int | str, ...] = ()
    for index, step in enumerate(loc):
        last_of_unknown = kind == "extra_forbidden" and index == len(loc) - 1
        if last_of_unknown or keys.forms_at((*path, step)):
            path = (*path, step)
    return path


def _allowed(detail: ErrorDetails, path: Sequence[str | int]) -> str:
    """What a value must be, from the kind of error."""
    limits: Mapping[str, Any] = detail.get("ctx", {})
    kind = detail["type"]
    if kind == "finite_number":
        return "it must be a finite number"
    if kind == "greater_than" and limits["gt"] == 0:
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
        return f"it must be {words} {limits[key]:g}{_unit_of(path)}"
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


def _suffix(path: Sequence[str | int]) -> str | None:
    """Unit suffix of the last named key of a path."""
    names = [step for step in path if isinstance(step, str)]
    ends = [unit for unit in UNITS if names and names[-1].endswith(f"_{unit}")]
    return max(ends, key=len) if ends else None


def _unit_of(path: Sequence[str | int]) -> str:
    suffix = _suffix(path)
    return f" in {UNITS[suffix]}" if suffix else ""


def _kind_of(path: Sequence[str | int]) -> str:
    return KINDS.get(_suffix(path) or "", "it")


def shown(value: object) -> str:
    """A value as the file would show it, shortened."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, float | int):
        return f"{value:.10g}" if isinstance(value, float) else _cut(str(value))
    if isinstance(value, str):
        return _cut(f'"{value.encode("unicode_escape").decode("ascii")}"')
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, list | tuple):
        return _cut(f"[{', '.join(shown(item) for item in value[:10])}]")
    return _cut(str(value))


def _cut(text: str) -> str:
    return text if len(text) <= LONGEST_VALUE else f"{text[: LONGEST_VALUE - 4]} ..."
