"""The CSV tables of a craft, carried in a result so that it can be computed again anywhere."""

import json
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from vlm.description.camber import is_table
from vlm.description.files import read_text
from vlm.description.loading import parsed_toml, validated
from vlm.description.models import Biplane, Source
from vlm.description.names import cut
from vlm.description.section_table import one_table
from vlm.disk import inputs_only_from, temporary_folder
from vlm.errors import InputRefused

MOST_BYTES = 50_000_000
TABLE_KEYS = ("table", "blade_table", "section_table")
"""Keys of sections and rotors that name a table."""


def carried_tables(craft: Biplane) -> dict[str, str]:
    """Text of every table that a craft names, by the name that it has there.

    Nothing where they are too large to be carried.
    """
    folder = craft.folder or Path()
    texts = {name: _text(folder / name) for name in sorted(_names(craft))}
    return texts if len(json.dumps(texts)) <= MOST_BYTES else {}


def _text(path: Path) -> str:
    """Text of a table; of a folder of a section's tables, one that holds the same curves."""
    return one_table(path) if path.is_dir() else read_text(path)


def _names(craft: Biplane) -> set[str]:
    """Paths of mean lines, sections and rotors, as the geometry file has them."""
    parts = [part for wing in craft.wings.values() for part in (wing, wing.tips)]
    named = [part.camber for part in parts if part is not None and is_table(part.camber)]
    for block in (*(craft.sections or {}).values(), *(craft.rotors or ())):
        named += [getattr(block, key, None) for key in TABLE_KEYS]
    return {name for name in named if name is not None}


def tables_in(text: object, place: str) -> dict[str, str]:
    """The tables that a result's attribute holds; none where it has none.

    Raises
    ------
    InputRefused : it is not what :func:`carried_tables` made
    """
    try:
        held = json.loads(text) if isinstance(text, str) and text else {}
    except (ValueError, RecursionError):
        held = None
    if not isinstance(held, dict) or not all(isinstance(value, str) for value in held.values()):
        raise InputRefused(f"{place}: its tables are not what a sweep writes")
    return held


@contextmanager
def rebuilt(geometry: str, tables: Mapping[str, str], place: str) -> Iterator[Biplane]:
    """The craft that a result carries; its tables stand in a folder for the time being.

    The names in a result may be anything, so none of them is used as a path: each table gets a
    name of our own, and the craft is made to name that. A table that the result does not carry is
    read from nowhere.

    Parameters
    ----------
    geometry : TOML
    place : the result, for messages

    Raises
    ------
    InputRefused : the geometry is none, or names a table that is not carried
    """
    data = parsed_toml(geometry, place)
    numbered = {name: f"table-{index}.csv" for index, name in enumerate(sorted(tables))}

    def own_name(name: str) -> str:
        if name not in numbered:
            raise InputRefused(
                f'{place}: its geometry names the table "{cut(name)}", which it does not carry'
            )
        return numbered[name]

    _rename(data, own_name)
    with temporary_folder() as folder:
        for name, text in tables.items():
            content = text.encode("utf-8", "surrogatepass")
            (folder / numbered[name]).write_bytes(content)
        try:
            with inputs_only_from(folder):
                craft = validated(data, Source(place, geometry, folder))
        except InputRefused as error:
            raise InputRefused(_with_names(str(error), folder, numbered)) from None
        yield craft


def _with_names(message: str, folder: Path, numbered: Mapping[str, str]) -> str:
    """A message with the names that the result has for its tables."""
    for name, own in numbered.items():
        message = message.replace(f"{folder / own}", cut(name)).replace(own, cut(name))
    return message


def _rename(data: dict[str, Any], own_name: Callable[[str], str]) -> None:
    """Change the names of all tables in parsed geometry; what has another form is left alone."""
    for wing in ("upper", "lower"):
        outline = data.get(wing)
        for part in (outline, outline.get("tips") if isinstance(outline, dict) else None):
            if isinstance(part, dict) and is_table(part.get("camber")):
                part["camber"] = own_name(part["camber"])
    sections, rotors = data.get("sections"), data.get("rotors")
    listed = list(sections.values()) if isinstance(sections, dict) else []
    listed += rotors if isinstance(rotors, list) else []
    for block in listed:
        if isinstance(block, dict):
            for key in TABLE_KEYS:
                if isinstance(block.get(key), str):
                    block[key] = own_name(block[key])
