"""A description as canonical TOML: every key in the order of the models."""

from typing import Any

import tomli_w
from pydantic import BaseModel


def canonical_toml(model: BaseModel) -> str:
    """TOML text of a description; keys that are left out without a default stay out.

    Parameters
    ----------
    model : a frozen description

    Returns
    -------
    Text that reads back to an equal description.
    """
    return tomli_w.dumps(as_tables(model))


def as_tables(model: BaseModel) -> dict[str, Any]:
    """The description as plain tables, lists, numbers and texts, without empty blocks."""
    data = model.model_dump(exclude_none=True)
    return {key: _as_lists(value) for key, value in data.items() if not _is_empty(value)}


def _is_empty(value: object) -> bool:
    return isinstance(value, dict | tuple | list) and len(value) == 0


def _as_lists(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _as_lists(item) for key, item in value.items()}
    if isinstance(value, tuple | list):
        return [_as_lists(item) for item in value]
    return value
