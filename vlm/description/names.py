"""Titles and names in the input file."""

LONGEST_TITLE = 200
LONGEST_NAME = 60


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
