"""Pages that open offline: templates, looks and scripts, put together into one file."""

import html
import json
import re
from importlib.resources import files
from typing import Any


def part(name: str) -> str:
    """Text of one of the files beside this one."""
    return files(__package__).joinpath(name).read_text(encoding="utf-8")


def embedded_json(document: Any) -> str:
    """A JSON document that may stand in a script element, whatever texts it holds.

    Raises
    ------
    ValueError : a number is not finite
    """
    text = json.dumps(document, allow_nan=False, separators=(",", ":"))
    return text.replace("&", "\\u0026").replace("<", "\\u003c").replace(">", "\\u003e")


def escaped(text: str) -> str:
    """Text from outside, safe to stand in a page."""
    return html.escape(text, quote=True)


def filled(template: str, parts: dict[str, str]) -> str:
    """A template with each ``@name@`` replaced, once, so that a text holding one stays as it is.

    Raises
    ------
    KeyError : the template asks for a part that is not there
    """
    return re.sub(r"@([a-z]+)@", lambda found: parts[found[1]], template)
