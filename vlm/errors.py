"""The errors a user meets: refused input and computations that did not complete."""

from collections.abc import Iterable
from difflib import get_close_matches


class FoldspanError(Exception):
    """An error with a message for people; the command prints it and ends with ``exit_status``."""

    exit_status = 3


class InputRefused(FoldspanError):
    """The input is wrong: the message names file, key, what was found and what is allowed."""

    exit_status = 2


class BlockMissing(InputRefused):
    """A block that the question needs is not in the file."""


class ComputationFailed(FoldspanError):
    """The input is right, but the computation could not be completed."""

    exit_status = 3


ALIKE = 0.7
"""Share of letters that a name must have in common with a misspelt word to be called near.

One slip in a word of four letters leaves 0.75; "nothing" and "hinge" have 0.67 in common.
"""


def nearest_name(word: str, candidates: Iterable[str]) -> str | None:
    """The right name a misspelt word most likely meant.

    A name that is the word with a unit added, or holds the word as one of its parts, counts as
    near, however long the rest of it is.

    Parameters
    ----------
    word : what was written
    candidates : the names that are known

    Returns
    -------
    The nearest name, or None where none is near.
    """
    names = list(candidates)
    lowered = {name.lower(): name for name in reversed(names)}
    asked = word.strip().lower().replace("-", "_").replace(" ", "_")
    if asked in lowered:
        return lowered[asked]
    with_unit = [name for name in names if name.lower().startswith(f"{asked}_")]
    if len(with_unit) == 1:
        return with_unit[0]
    holding = [name for name in lowered if asked and asked in name.split("_")]
    close = get_close_matches(asked, lowered, n=1, cutoff=ALIKE)
    near = close or get_close_matches(asked, holding, n=1, cutoff=0.0)
    return lowered[near[0]] if near else None
