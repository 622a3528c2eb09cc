"""The frame of a command's text: title, caution, answer, one table, warnings, what it rests on."""

import textwrap
from collections.abc import Sequence

from vlm.findings import Finding
from vlm.verdicts import SIGN_NOT_KNOWN

WIDTH = 80
CAUTION = "Estimate, not a flight clearance; expand the envelope step by step."


def wrapped(text: str, indent: str = "") -> str:
    """Text in lines of at most 80 columns, further lines indented."""
    return textwrap.fill(text, WIDTH, subsequent_indent=indent)


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
    parts = [f"{title}\n{CAUTION}", "\n".join(wrapped(one, "  ") for one in answer), *blocks]
    parts += full or []
    if findings:
        lines = [wrapped(f"- {one.sentence()}", "  ") for one in findings]
        parts.append(f"Warnings ({len(findings)})\n" + "\n".join(lines))
    more = "" if full is not None else f" More: {more}."
    parts.append(wrapped(f"Rests on: {rests_on}.{more}"))
    return "\n\n".join(part for part in parts if part)


def joined(words: Sequence[str]) -> str:
    """Words as a list in a sentence."""
    return " and ".join([", ".join(words[:-1]), words[-1]]) if len(words) > 1 else "".join(words)


def shorter(word: str) -> str:
    """A verdict for a narrow column."""
    return "not known" if word == SIGN_NOT_KNOWN else word
