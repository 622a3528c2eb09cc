"""How a long computation says what it does, the same for all of them."""

from collections.abc import Callable
from typing import Protocol


class Progress(Protocol):
    """Hears what is being worked out and, where that is counted, how much of it is done."""

    def __call__(self, what: str, done: int = 0, total: int = 0, /) -> None:
        """Say it."""


Counted = Callable[[int, int], None]
"""Hears how many are done, of how many."""


def silent(_what: str, _done: int = 0, _total: int = 0, /) -> None:
    """Say nothing."""
