"""The house's docstrings, which are plain text, made ready for Sphinx.

- One line a name (``alpha : angle of attack [rad]``) becomes a name and its meaning, as napoleon
  would take what stands after the colon for a type. Names on one line have a line each, and as
  many meanings between semicolons are shared out among them.
- An indented paragraph is an equation or a table and is kept as it stands.
- What a function returns has no name and no type beside it, only a meaning.
- ``|`` and ``*`` mean themselves.

Signatures name arrays in one word.
"""

import re

from sphinx.application import Sphinx

SECTIONS = {"Parameters", "Attributes", "Returns", "Raises", "Yields", "Other Parameters"}
ENTRY = re.compile(r"^(\*{0,2}\w[\w.*, ]*) : (.*)$")
ARRAY = re.compile(r"ndarray\[tuple\[Any, \.\.\.\], dtype\[float64\]\]")
MODULE = re.compile(r"~?\b(?:numpy|typing|collections\.abc)\.(?=\w)")
CODE = re.compile(r"(``.+?``|`.+?`)")


def setup(app: Sphinx) -> dict[str, bool]:
    """Run before napoleon."""
    app.setup_extension("sphinx.ext.autodoc")
    app.connect("autodoc-process-docstring", process, priority=100)
    app.connect("autodoc-process-signature", shortened)
    return {"parallel_read_safe": True, "parallel_write_safe": True}


def process(
    _app: Sphinx, what: str, _name: str, _obj: object, _options: object, lines: list[str]
) -> None:
    """Sphinx's hook: change the lines in place."""
    if what in {"property", "attribute"} and lines:
        lines[0] = lines[0].replace(": ", "; ")  # napoleon would take what stands before for a type
    lines[:] = rewritten(lines)


def shortened(
    _app: Sphinx,
    _what: str,
    _name: str,
    _obj: object,
    _options: object,
    signature: str | None,
    returned: str | None,
) -> tuple[str | None, str | None]:
    """Sphinx's hook: arrays by their short name."""
    texts = (signature, returned)
    short = [ARRAY.sub("Floats", MODULE.sub("", text)) if text else text for text in texts]
    return short[0], short[1]


def rewritten(lines: list[str]) -> list[str]:
    """The docstring in reStructuredText that napoleon can read."""
    lines = _with_returns(_shared_out(lines))
    result: list[str] = []
    in_section = False
    verbatim = False
    for index, line in enumerate(lines):
        following = lines[index + 1] if index + 1 < len(lines) else ""
        if following and set(following.strip()) == {"-"}:
            in_section = line.strip() in SECTIONS
        indented = line.startswith("    ")
        if in_section and _is_prose(lines, index):
            in_section = False
            result.append("")  # a second empty line: the section ends
        if line and not indented:
            verbatim = False
        elif indented and not in_section and not verbatim and index and not lines[index - 1]:
            verbatim = True
            if not _opens_literal(result):
                result += ["::", ""]
        entry = ENTRY.match(line) if in_section else None
        if verbatim:
            result.append(line)
        elif entry:
            result += [entry[1], f"    {escaped(entry[2])}"]
        else:
            result.append(escaped(line))
    return result


def _shared_out(lines: list[str]) -> list[str]:
    """Lines in which every entry has one name, and of several meanings its own."""
    result: list[str] = []
    rest = list(lines)
    while rest:
        line = rest.pop(0)
        entry = ENTRY.match(line)
        if entry is None or ", " not in entry[1]:
            result.append(line)
            continue
        words = [entry[2]]
        while rest and rest[0].startswith("    "):
            words.append(rest.pop(0).strip())
        names, meaning = entry[1].split(", "), " ".join(words)
        meanings = meaning.split("; ")
        own = meanings if len(meanings) == len(names) else [meaning] * len(names)
        result += [f"{name} : {one}" for name, one in zip(names, own, strict=True)]
    return result


def _is_prose(lines: list[str], index: int) -> bool:
    """Whether a plain paragraph begins here, after the entries of a section."""
    line, before = lines[index], lines[index - 1]
    following = lines[index + 1] if index + 1 < len(lines) else ""
    if not line or line.startswith((" ", ":")) or before:
        return False
    return not ENTRY.match(line) and not following.startswith(("    ", "---"))


def _with_returns(lines: list[str]) -> list[str]:
    """The section of what is returned as one field, where it has no names."""
    for start, line in enumerate(lines[:-1]):
        if line.strip() == "Returns" and set(lines[start + 1].strip()) == {"-"}:
            end = next((n for n in range(start + 2, len(lines)) if not lines[n]), len(lines))
            body = lines[start + 2 : end]
            if any(ENTRY.match(text) for text in body):
                return lines
            field = [f":returns: {body[0]}", *(f"    {text.strip()}" for text in body[1:])]
            # Two empty lines end the section before.
            return [*lines[:start], "", "", *field, "", *lines[end:]]
    return lines


def _opens_literal(lines: list[str]) -> bool:
    written = [line for line in lines if line.strip()]
    return bool(written) and (written[-1].endswith("::") or written[-1].startswith(".. "))


def escaped(line: str) -> str:
    """A line in which bars and stars outside code mean themselves."""
    parts = CODE.split(line)
    parts[::2] = [re.sub(r"([|*])", r"\\\1", part) for part in parts[::2]]
    return "".join(parts)
