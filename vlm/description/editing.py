"""A geometry file changed in place: what differs is rewritten, all else stays.

Comments, order, spacing and the way numbers are written are the user's own; only keys whose values
differ are touched.
"""

from collections.abc import Mapping
from typing import Any

import tomlkit

from vlm.description.loading import load_biplane_text
from vlm.description.models import Biplane
from vlm.description.writing import as_tables
from vlm.errors import InputRefused


def edited_toml(text: str, was: Biplane, becomes: Biplane) -> str:
    """The text of a file with the values of another description.

    Parameters
    ----------
    text : of the file that ``was`` was read from
    was : as the file says, without overrides
    becomes : what the text is to say
    """
    document = tomlkit.parse(text)
    _edit(document, as_tables(was), as_tables(becomes))
    return tomlkit.dumps(document)


def _edit(place: Any, was: Mapping[str, Any], becomes: Mapping[str, Any]) -> None:
    """Write what differs into one table of the document."""
    for key in was:
        if key not in becomes and key in place:
            del place[key]
    for key, value in becomes.items():
        before = was.get(key)
        if key in was and before == value and type(before) is type(value):
            continue
        if key in place and isinstance(value, Mapping) and isinstance(before, Mapping):
            _edit(place[key], before, value)
        elif key in place and _same_list(place[key], before, value):
            for index, (old, new) in enumerate(zip(before or (), value, strict=True)):
                if isinstance(new, Mapping):
                    _edit(place[key][index], old, new)
                elif old != new:
                    place[key][index] = new
        else:
            place[key] = value


def _same_list(here: Any, before: Any, value: Any) -> bool:
    """Whether a list keeps its length, so that its places can be changed one by one."""
    lists = isinstance(before, list) and isinstance(value, list)
    return lists and len(here) == len(before) == len(value)


def says_the_same(text: str, craft: Biplane) -> bool:
    """Whether a text reads as exactly this description."""
    try:
        read = load_biplane_text(text, craft.source_name, folder=craft.folder)
    except InputRefused:
        return False
    return as_tables(read) == as_tables(craft)
