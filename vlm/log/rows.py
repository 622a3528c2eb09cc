"""Which rows of a log could not be used, and why: counted by reason, reported by line."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import TypedDict

import numpy as np
from numpy.typing import NDArray

Lines = NDArray[np.int64]

SHOWN_RANGES = 6
KEPT_RANGES = 10_000


class NotedLines(TypedDict):
    """Lines of the log that share something; ranges of first and last."""

    what: str
    rows: int
    lines: list[list[int]]
    lines_left_out: int


class TallyDocument(TypedDict):
    """Lines of a log, by what became of them."""

    lines: int
    preamble: int
    comments: int
    blank: int
    used: int
    refused: int
    refused_by_reason: list[NotedLines]
    noted: list[NotedLines]


@dataclass
class LineRanges:
    """Line numbers kept as ranges, so that a million of them in a row take no memory."""

    count: int = 0
    ranges: list[tuple[int, int]] = field(default_factory=list)
    left_out: int = 0
    """Lines counted, but beyond the number of ranges that are kept."""

    def add(self, lines: Iterable[int] | Lines) -> None:
        """Add line numbers."""
        numbers = np.unique(np.asarray(list(lines), dtype=np.int64))
        if numbers.size == 0:
            return
        self.count += int(numbers.size)
        breaks = np.flatnonzero(np.diff(numbers) != 1)
        starts = numbers[np.concatenate(([0], breaks + 1))]
        ends = numbers[np.concatenate((breaks, [numbers.size - 1]))]
        for first, last in zip(starts.tolist(), ends.tolist(), strict=True):
            self._append(first, last)

    def _append(self, first: int, last: int) -> None:
        if self.ranges and self.ranges[-1][1] + 1 == first:
            self.ranges[-1] = (self.ranges[-1][0], last)
        elif len(self.ranges) < KEPT_RANGES:
            self.ranges.append((first, last))
        else:
            self.left_out += last - first + 1

    def sentence(self) -> str:
        """The lines in words, the first few ranges of them."""
        shown = [
            f"{first}" if first == last else f"{first} to {last}"
            for first, last in self.ranges[:SHOWN_RANGES]
        ]
        rest = len(self.ranges) - len(shown)
        more = f" and {rest}{'+' if self.left_out else ''} more places" if rest else ""
        word = "line" if self.count == 1 else "lines"
        return f"{word} {', '.join(shown)}{more}"


@dataclass
class RowTally:
    """The book-keeping of one reading: every line of the file is in exactly one count.

    lines = header and what stands above it + comments + blank + refused + used.
    """

    lines: int = 0
    preamble: int = 0
    """The header and what stands above it."""
    comments: int = 0
    blank: int = 0
    used: int = 0
    refused: dict[str, LineRanges] = field(default_factory=dict)
    """Rows that were not used, by reason."""
    noted: dict[str, LineRanges] = field(default_factory=dict)
    """Rows that were used although something about them was noted, by what."""

    def refuse(self, reason: str, lines: Iterable[int] | Lines) -> None:
        """Count rows that are not used."""
        self._add(self.refused, reason, lines)

    def note(self, what: str, lines: Iterable[int] | Lines) -> None:
        """Count rows that are used, with something to say about them."""
        self._add(self.noted, what, lines)

    @staticmethod
    def _add(table: dict[str, LineRanges], reason: str, lines: Iterable[int] | Lines) -> None:
        numbers = np.asarray(list(lines), dtype=np.int64)
        if numbers.size:
            table.setdefault(reason, LineRanges()).add(numbers)

    @property
    def refused_count(self) -> int:
        """How many rows were not used."""
        return sum(ranges.count for ranges in self.refused.values())

    @property
    def balances(self) -> bool:
        """Whether every line is accounted for."""
        parts = self.preamble + self.comments + self.blank + self.used + self.refused_count
        return parts == self.lines

    def sentences(self) -> list[str]:
        """The counts for people, one line each."""
        text = [f"{self.lines} lines, {self.used} rows used, {self.refused_count} refused"]
        text += [f"refused, {reason}: {r.count}, {r.sentence()}" for reason, r in self._refused()]
        text += [f"noted, {what}: {r.count}, {r.sentence()}" for what, r in self._noted()]
        return text

    def as_dict(self) -> TallyDocument:
        """The counts for JSON; lines as ranges of first and last."""
        return {
            "lines": self.lines,
            "preamble": self.preamble,
            "comments": self.comments,
            "blank": self.blank,
            "used": self.used,
            "refused": self.refused_count,
            "refused_by_reason": [_noted_lines(*item) for item in self._refused()],
            "noted": [_noted_lines(*item) for item in self._noted()],
        }

    def _refused(self) -> list[tuple[str, LineRanges]]:
        return sorted(self.refused.items(), key=lambda item: -item[1].count)

    def _noted(self) -> list[tuple[str, LineRanges]]:
        return sorted(self.noted.items(), key=lambda item: -item[1].count)


def _noted_lines(what: str, lines: LineRanges) -> NotedLines:
    ranges = [[first, last] for first, last in lines.ranges]
    return {"what": what, "rows": lines.count, "lines": ranges, "lines_left_out": lines.left_out}
