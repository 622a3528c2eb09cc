"""The frame of a command's text: title, caution, answer, one table, warnings, what it rests on."""

import textwrap
from collections.abc import Sequence

from vlm.findings import Finding
from vlm.show.text.layout import WIDTH
from vlm.verdicts import words_of_alike

CAUTION = "Estimate, not a flight clearance; expand the envelope step by step."


def wrapped(text: str, indent: str = "") -> str:
    """Text in lines of at most 80 columns, further lines indented; a number keeps its ±.

    Line breaks of the text are kept, and so is the indent of each of its lines.
    """
    return "\n".join(_filled(line, indent) for line in text.split("\n"))


def _filled(line: str, indent: str) -> str:
    start = line[: len(line) - len(line.lstrip())]
    glued = line.strip().replace(" ± ", "\u00a0±\u00a0")
    filled = textwrap.fill(
        glued, WIDTH, initial_indent=start, subsequent_indent=start + indent,
        break_on_hyphens=False, break_long_words=False,
    )  # fmt: skip
    return filled.replace("\u00a0", " ")


def framed(
    title: str,
    answer: Sequence[str],
    blocks: Sequence[str],
    findings: Sequence[Finding],
    rests_on: str,
    full: Sequence[str] | None = None,
    more: str = "--full, --json, --plot",
) -> str:
    """The whole text of one command.

    Parameters
    ----------
    answer : sentences, the most costly first
    blocks : the tables that carry the answer
    findings : warnings
    rests_on : what the numbers rest on, short
    full : further tables under --full; None without it
    more : options that show more
    """
    parts = [
        f"{wrapped(title, '  ')}\n{CAUTION}",
        "\n".join(wrapped(one, "  ") for one in answer),
        *blocks,
    ]
    parts += full or []
    if findings:
        parts.append(listed(f"Warnings ({len(findings)})", [one.sentence() for one in findings]))
    more = "" if full is not None else f" More: {more}."
    parts.append(wrapped(f"Rests on: {rests_on}.{more}"))
    return "\n\n".join(part for part in parts if part)


def listed(title: str, texts: Sequence[str]) -> str:
    """A titled list of sentences."""
    return "\n".join([title, *(wrapped(f"- {one}", "  ") for one in texts)])


class Footnotes:
    """Texts too long for a table's cell: a mark in the cell, each text once below the table."""

    def __init__(self) -> None:
        self._texts: list[str] = []

    def mark(self, text: str) -> str:
        """The number under which the text stands, in brackets."""
        if text not in self._texts:
            self._texts.append(text)
        return f"({self._texts.index(text) + 1})"

    def below(self, table: str) -> str:
        """The table with its notes."""
        notes = [wrapped(f"({i + 1}) {text}", "    ") for i, text in enumerate(self._texts)]
        return "\n".join([table, *notes])


def not_apart(others: str) -> str:
    """:func:`vlm.verdicts.words_of_alike` in brackets behind a best one; may be empty."""
    return f" ({words_of_alike(others)})" if others else ""
