"""From TOML text to a description, with one clear message where it can't be."""

import re
import tomllib
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from vlm.description.blade_table import blade_stations
from vlm.description.camber import camber_of
from vlm.description.files import cut_path, found_geometry, read_text
from vlm.description.models import Biplane, Source
from vlm.description.names import cut
from vlm.description.overrides import apply_overrides, as_overrides
from vlm.description.ranges import refuse_impossible
from vlm.description.refusals import refusal_text
from vlm.description.rotor_table import rotor_curve
from vlm.description.section_table import section_curves
from vlm.description.writing import as_tables
from vlm.errors import InputRefused

DEEPEST = 20


def load_biplane(path_or_name: str | Path, overrides: Sequence[str] = ()) -> Biplane:
    """Read a geometry file.

    Parameters
    ----------
    path_or_name : path of a TOML file, or the name of one in geometries/ (of the current folder,
        then of the shipped ones)
    overrides : "KEY=VALUE" texts, as ``--set`` takes them

    Raises
    ------
    InputRefused : there is no such file, it is not valid TOML, or it does not describe a craft
    """
    path = found_geometry(path_or_name)
    return load_biplane_text(read_text(path), cut_path(path), overrides, path.parent)


def load_biplane_text(
    text: str,
    file_name: str = "(text)",
    overrides: Sequence[str] = (),
    folder: Path | None = None,
) -> Biplane:
    """Read a description from text.

    Parameters
    ----------
    text : TOML
    file_name : name for messages
    overrides : "KEY=VALUE" texts, as ``--set`` takes them
    folder : where CSV paths start; the current folder if None

    Raises
    ------
    InputRefused : the text is not valid TOML, or it does not describe a craft
    """
    data = parsed_toml(text, file_name)
    data = apply_overrides(data, overrides)
    return validated(data, Source(file_name, text, folder, tuple(overrides)))


def overridden(craft: Biplane, changes: Mapping[str, object] | Sequence[str]) -> Biplane:
    """A copy of a description with some keys changed; see :meth:`Biplane.overridden`."""
    texts = as_overrides(changes)
    data = apply_overrides(as_tables(craft), texts)
    source = craft.source
    combined = Source(source.name, source.text, source.folder, source.overrides + tuple(texts))
    return validated(data, combined)


def parsed_toml(text: str, file_name: str) -> dict[str, Any]:
    """Tables of a TOML text.

    Raises
    ------
    InputRefused : not valid TOML, with line and column, or nested too deeply
    """
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise InputRefused(f"{file_name}: {_syntax_message(str(error), text)}") from None
    except RecursionError:
        raise InputRefused(f"{file_name}: tables and lists are nested too deeply") from None
    except ValueError as error:
        # Python's own limit on the digits of whole numbers; its hint at a remedy is not for users.
        raise InputRefused(f"{file_name}: not valid TOML: {str(error).split(';')[0]}") from None
    if _depth(data) > DEEPEST:
        raise InputRefused(f"{file_name}: tables and lists are nested too deeply")
    return data


def _syntax_message(reason: str, text: str) -> str:
    """tomllib's reason, with the place in front and the line itself behind."""
    match = re.fullmatch(r"(.*) \(at (line (\d+), column \d+|end of document)\)", reason, re.S)
    if match is None:
        return f"not valid TOML: {reason}"
    what, place, line = match.groups()
    if line is None:
        return f"end of file: not valid TOML: {what[:1].lower()}{what[1:]}"
    lines = text.splitlines()
    shown = cut(lines[int(line) - 1].strip()) if int(line) <= len(lines) else ""
    said = f"{place}: not valid TOML: {what[:1].lower()}{what[1:]}"
    return f"{said}, in the line: {shown}" if shown else said


def _depth(data: object) -> int:
    """How deep tables and lists are nested; stops counting beyond the limit."""
    depth, level = 0, [data]
    while level and depth <= DEEPEST:
        level = [
            item
            for value in level
            if isinstance(value, dict | list)
            for item in (value.values() if isinstance(value, dict) else value)
        ]
        depth += 1
    return depth


def validated(data: Mapping[str, Any], source: Source) -> Biplane:
    """The description that parsed tables hold.

    Raises
    ------
    InputRefused : one line for each key that is wrong
    """
    try:
        craft = Biplane.model_validate(_as_tuples(dict(data)), strict=True)
    except ValidationError as error:
        raise InputRefused(refusal_text(error, source.name)) from None
    craft = craft.from_source(source)
    _check_mean_lines(craft)
    _check_tables(craft)
    refuse_impossible(craft)
    return craft


def _check_mean_lines(craft: Biplane) -> None:
    """Read the CSV files the wings name, so that a bad one is refused before any work."""
    for name, wing in craft.wings.items():
        places = {f"{name}.camber": wing.camber}
        if wing.tips is not None and wing.tips.camber is not None:
            places[f"{name}.tips.camber"] = wing.tips.camber
        for key, spec in places.items():
            try:
                camber_of(spec, craft.folder)
            except InputRefused as error:
                raise InputRefused(f'{craft.source_name}: {key} = "{spec}"; {error}') from None


def _check_tables(craft: Biplane) -> None:
    """Read the CSV files that sections and rotors name, so that a bad one is refused early."""
    for name, section in craft.sections.items():
        if section.table is not None:
            _tried(section_curves, section.table, craft, f"sections.{name}.table")
    for index, rotor in enumerate(craft.rotors):
        place = f"rotors.{index}"
        if rotor.table is not None:
            _tried(rotor_curve, rotor.table, craft, f"{place}.table")
        if rotor.blade_table is not None:
            _tried(blade_stations, rotor.blade_table, craft, f"{place}.blade_table")
        if rotor.section_table is not None:
            _tried(section_curves, rotor.section_table, craft, f"{place}.section_table")


def _tried(
    read: Callable[[str, Path | None], object], table: str, craft: Biplane, key: str
) -> None:
    try:
        read(table, craft.folder)
    except InputRefused as error:
        raise InputRefused(f'{craft.source_name}: {key} = "{table}"; {error}') from None


def _as_tuples(value: Any) -> Any:
    """Lists as tuples: the models are frozen, and strict about what they take."""
    if isinstance(value, dict):
        return {key: _as_tuples(item) for key, item in value.items()}
    if isinstance(value, list):
        return tuple(_as_tuples(item) for item in value)
    return value
