"""Keys set from outside the file: ``--set arrangement.gap_m=0.5``."""

import re
import tomllib
from collections.abc import Mapping, Sequence
from copy import deepcopy
from typing import Any

import tomli_w

from vlm.description import keys
from vlm.description.names import cut
from vlm.description.refusals import unknown_key
from vlm.errors import InputRefused

_STEP = re.compile(r'"((?:[^"\\]|\\.)*)"|([^.="\s]+)')


def as_overrides(changes: Mapping[str, object] | Sequence[str]) -> tuple[str, ...]:
    """Values by key path as "KEY=VALUE" texts; texts are passed on.

    Raises
    ------
    InputRefused : a single text was given instead of a list, or a value TOML can't hold
    """
    if isinstance(changes, str):
        raise InputRefused(f"--set {changes}: give a list of KEY=VALUE texts")
    if not isinstance(changes, Mapping):
        return tuple(changes)
    return tuple(f"{key}={_as_toml(key, value)}" for key, value in changes.items())


def _as_toml(key: str, value: object) -> str:
    plain = value.item() if hasattr(value, "item") else value
    try:
        return tomli_w.dumps({"v": plain}).split("=", 1)[1].strip()
    except TypeError:
        raise InputRefused(f"--set {key}: {value!r} can't be written as a TOML value") from None


def apply_overrides(data: Mapping[str, Any], overrides: Sequence[str]) -> dict[str, Any]:
    """A copy of parsed tables with some keys set.

    Parameters
    ----------
    data : tables as TOML gives them
    overrides : "KEY=VALUE"; KEY a dotted path with list places counted from 0
        ("upper.stations.2.chord_m"), VALUE a TOML value. Text needs no quotation marks.

    Raises
    ------
    InputRefused : no "=", a key that is not known, a place beyond a list, a value TOML can't read
    """
    changed = deepcopy(dict(data))
    for text in overrides:
        key, equals, value = text.partition("=")
        if not equals or not key.strip():
            raise InputRefused(f"--set {cut(text)}: write KEY=VALUE, such as arrangement.gap_m=0.5")
        path = _split(key.strip(), text)
        _set(changed, path, _value(path, value.strip(), text), text)
    return changed


def _split(key: str, text: str) -> tuple[str, ...]:
    """Steps of a dotted key; a step with dots in it stands in quotation marks."""
    steps, place = [], 0
    while True:
        match = _STEP.match(key, place)
        if match is None:
            raise InputRefused(f"--set {cut(text)}: {key!r} is not a key such as arrangement.gap_m")
        steps.append(match[1] if match[1] is not None else match[2])
        place = match.end()
        if place == len(key):
            return tuple(steps)
        if key[place] != ".":
            raise InputRefused(f"--set {cut(text)}: {key!r} is not a key such as arrangement.gap_m")
        place += 1


def _value(path: Sequence[str], value: str, text: str) -> Any:
    """The value as TOML; where the key takes only text, the text itself will do."""
    _check_known(path, text)
    kinds = {form.get("type") for form in keys.forms_at(path)}
    if kinds == {"string"} and not value.startswith(('"', "'")):
        return value
    try:
        parsed = tomllib.loads(f"value = {value}")
    except (ValueError, RecursionError):
        parsed = {}
    if set(parsed) == {"value"}:
        return parsed["value"]
    if "string" in kinds:
        return value
    raise InputRefused(
        f"--set {cut(text)}: {cut(repr(value))} is not a value such as 0.5, true or [0, 1]"
    )


def _check_known(path: Sequence[str], text: str) -> None:
    for length in range(1, len(path) + 1):
        if not keys.forms_at(path[:length]):
            raise InputRefused(f"--set {cut(text)}: {unknown_key(path[:length])}")


def _set(data: dict[str, Any], path: Sequence[str], value: Any, text: str) -> None:
    """Set a value in nested tables and lists; tables on the way are made where they lack."""
    holder: Any = data
    for index, step in enumerate(path[:-1]):
        if isinstance(holder, list):
            holder = holder[_place(holder, path[: index + 1], text)]
        elif isinstance(holder, dict):
            _refuse_missing_list(holder, path[: index + 1], text)
            holder = holder.setdefault(step, {})
        if not isinstance(holder, dict | list):
            where = keys.dotted(path[: index + 1])
            raise InputRefused(f"--set {cut(text)}: {where} is not a table in the file")
    if isinstance(holder, list):
        holder[_place(holder, path, text)] = value
    else:
        holder[path[-1]] = value


def _refuse_missing_list(holder: Mapping[str, Any], path: Sequence[str], text: str) -> None:
    kinds = {form.get("type") for form in keys.forms_at(path)}
    if path[-1] not in holder and "object" not in kinds:
        raise InputRefused(
            f"--set {cut(text)}: the file has no list {keys.dotted(path)} to set a place of"
        )


def _place(holder: list[Any], path: Sequence[str], text: str) -> int:
    """Place in a list, counted from 0."""
    where = keys.dotted(path[:-1])
    if not path[-1].isdigit() or int(path[-1]) >= len(holder):
        raise InputRefused(
            f"--set {cut(text)}: {where} holds {len(holder)}, places 0 to {len(holder) - 1};"
            f" there is no {path[-1]}"
        )
    return int(path[-1])
