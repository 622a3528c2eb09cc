"""Text for people on standard error: printable, and no more of a bad value than it takes."""

LONGEST_WORD = 320
LONGEST_LINE = 1000
MOST_LINES = 40


def shown_text(message: str) -> str:
    """A message with its long words and lines cut in the middle, and controls written out.

    Bytes of a name that are no text are shown by their numbers, as not every stream takes them.
    """
    lines = message.encode("utf-8", "backslashreplace").decode().split("\n")
    rest = len(lines) - MOST_LINES
    if rest > 0:
        lines = [*lines[:MOST_LINES], f"and {rest} lines more"]
    return "\n".join(_shown_line(line) for line in lines)


def _shown_line(line: str) -> str:
    start = line[: 4 * LONGEST_LINE]
    plain = "".join(c if c.isprintable() else c.encode("unicode_escape").decode() for c in start)
    words = " ".join(_cut(word, LONGEST_WORD) for word in plain.split(" "))
    return _cut(words, LONGEST_LINE)


def _cut(text: str, longest: int) -> str:
    if len(text) <= longest:
        return text
    half = (longest - 5) // 2
    return f"{text[:half]} ... {text[-half:]}"
