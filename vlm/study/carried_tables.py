"""The CSV tables of a craft, carried in a result so that it can be computed again anywhere."""

import json
import os
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path, PurePath
from tempfile import TemporaryDirectory

from vlm.description.files import read_text
from vlm.description.models import Biplane
from vlm.errors import InputRefused

# HDF5 keeps an attribute in at most 64 KiB.
MOST_BYTES = 60_000
MOST_STEPS_UP = 16


def carried_tables(craft: Biplane) -> dict[str, str]:
    """Text of every table that a craft names by a relative path, by that path.

    Nothing where they are too large to be carried, or named from the root of the disk.
    """
    folder = craft.folder or Path()
    texts = {
        name: read_text(folder / name)
        for name in sorted(_names(craft))
        if not PurePath(name).is_absolute()
    }
    return texts if len(json.dumps(texts)) <= MOST_BYTES else {}


def _names(craft: Biplane) -> set[str]:
    """Paths of mean lines, sections and rotors, as the geometry file has them."""
    parts = [part for wing in craft.wings.values() for part in (wing, wing.tips)]
    named = [part.camber for part in parts if part is not None]
    named += [section.table for section in (craft.sections or {}).values()]
    for rotor in craft.rotors or ():
        named += [rotor.table, rotor.blade_table, rotor.section_table]
    return {name for name in named if name is not None and name.lower().endswith(".csv")}


def tables_in(text: object, place: str) -> dict[str, str]:
    """The tables that a result's attribute holds; none where it has none.

    Raises
    ------
    InputRefused : it is not what :func:`carried_tables` made
    """
    try:
        held = json.loads(text) if isinstance(text, str) else {}
    except (ValueError, RecursionError):
        held = None
    if not isinstance(held, dict) or not all(isinstance(value, str) for value in held.values()):
        raise InputRefused(f"{place}: its tables are not what a sweep writes")
    return held


@contextmanager
def laid_out(tables: Mapping[str, str], place: str) -> Iterator[Path]:
    """A folder for the time being, in which the tables stand under their paths.

    Raises
    ------
    InputRefused : a path that would leave the folder, or that is no CSV file's
    """
    above = max((PurePath(name).parts.count("..") for name in tables), default=0)
    with TemporaryDirectory(prefix="foldspan-") as name:
        root = Path(name)
        folder = root.joinpath(*["level"] * min(above, MOST_STEPS_UP))
        folder.mkdir(parents=True, exist_ok=True)
        for table, text in tables.items():
            target = Path(os.path.normpath(folder / table))
            if not (target.is_relative_to(root) and table.lower().endswith(".csv")):
                raise InputRefused(f"{place}: {table!r:.80} is no relative path of a CSV file")
            target.parent.mkdir(parents=True, exist_ok=True)
            target.write_text(text, encoding="utf-8")
        yield folder
