"""Numbers of a description by the path of their key."""

from typing import Any

from vlm.description import keys
from vlm.description.models import Biplane
from vlm.description.refusals import unknown_key
from vlm.errors import InputRefused


def number_at(craft: Biplane, name: str) -> float | None:
    """Number at a key path, such as "upper.stations.2.chord_m"; None where the file gives none."""
    found: Any = craft.model_dump(exclude_none=True)
    for step in name.split("."):
        if isinstance(found, tuple | list):
            found = found[int(step)] if step.isdigit() and int(step) < len(found) else None
        else:
            found = found.get(step) if isinstance(found, dict) else None
    is_number = isinstance(found, int | float) and not isinstance(found, bool)
    return float(found) if is_number else None


def given_number(craft: Biplane, name: str, said: str, besides: str = "") -> float:
    """Number at a key path that must lead to one.

    Parameters
    ----------
    said : where the key was named, for messages
    besides : what is known besides keys of the file, for messages

    Raises
    ------
    InputRefused : no such key, no number, or one that the file does not give
    """
    path = name.split(".")
    for length in range(1, len(path) + 1):
        if not keys.forms_at(path[:length]):
            unknown = unknown_key(path[:length])
            stop = "" if not besides or unknown.endswith("?") else "."
            raise InputRefused(f"{said}: {unknown}{stop}{besides}")
    if not any(form.get("type") == "number" for form in keys.forms_at(path)):
        raise InputRefused(f"{said}: {name} is not a number that can grow and shrink")
    value = number_at(craft, name)
    if value is None:
        raise InputRefused(
            f"{said}: {craft.source_name} does not give {name}; write it into the file first"
        )
    return value
