"""Titles and names in the input file, and texts of it in messages."""

LONGEST_TITLE = 200
LONGEST_NAME = 60
LONGEST_SHOWN = 60


def checked_title(text: str) -> str:
    """The text itself, if it is one printable line.

    Raises
    ------
    ValueError : it is empty, longer than a line, or holds characters that can't be printed
    """
    problem = _problem(text, LONGEST_TITLE)
    if problem:
        raise ValueError(problem)
    return text


def checked_name(text: str) -> str | None:
    """What is wrong with a name that people type on the command line, or None."""
    return _problem(text, LONGEST_NAME)


def _problem(text: str, longest: int) -> str | None:
    if not text.strip():
        return "it must not be empty"
    if len(text) > longest:
        return f"it has {len(text)} characters; at most {longest} are allowed"
    if not text.isprintable():
        return "it must be one line of characters that can be printed"
    return None


def cut(text: str) -> str:
    """A text for a message: in one line, printable, and not too long."""
    start = text[: LONGEST_SHOWN + 1]
    line = "".join(c if c.isprintable() else c.encode("unicode_escape").decode() for c in start)
    return line if len(line) <= LONGEST_SHOWN else f"{line[: LONGEST_SHOWN - 4]} ..."
