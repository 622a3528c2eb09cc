"""The text of a log, block by block: its header, and the lines that have the right fields.

A line of the file is a row of the table, so that a bad row can be reported by its line. The text is
read in blocks of a few megabytes; no more than one block is held at a time.
"""

import codecs
import csv
import gzip
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from io import TextIOWrapper
from itertools import chain, islice
from pathlib import Path
from typing import BinaryIO, cast

from vlm.description.log import FlightLogFormat
from vlm.disk import input_file
from vlm.errors import InputRefused, nearest_name
from vlm.log.rows import RowTally

BLOCK_CHARACTERS = 4_000_000
LONGEST_LINE = 200_000
LINES_SEARCHED_FOR_HEADER = 1000

# Called with the number of bytes read since the last call.
Progress = Callable[[int], None]

GZIP_MARK = b"\x1f\x8b"
MARKS = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF32_LE, "utf-32"),
    (codecs.BOM_UTF32_BE, "utf-32"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)


@dataclass(frozen=True)
class Block:
    """Lines with the right number of fields, and where each stands in the file."""

    text: list[str]
    line: list[int]


class LogLines:
    """A log opened for reading.

    Attributes
    ----------
    path : the file
    header : the names of its columns
    tally : the book-keeping, filled while the blocks are read
    """

    def __init__(self, path: Path, how: FlightLogFormat, tally: RowTally) -> None:
        """Read as far as the header.

        Raises
        ------
        InputRefused
            If the file is empty, no text, or has no header that can be recognised.
        """
        self.path = path
        self.tally = tally
        self._how = how
        self._encoding = _encoding(path, how.encoding)
        self._header_line, self.header = self._read_header()
        self._count = len(self.header)

    def refusal(self, message: str) -> InputRefused:
        """An error about this file."""
        return InputRefused(f"{self.path}: {message}")

    def blocks(self, progress: Progress | None = None) -> Iterator[Block]:
        """The rows, block by block, with what is no row counted in ``tally``.

        Raises
        ------
        InputRefused
            If the text cannot be decoded or a line has no end.
        """
        number = 0
        for lines in self._raw_blocks(progress):
            first = number + 1
            number += len(lines)
            self.tally.lines += len(lines)
            skipped = min(max(self._header_line - first + 1, 0), len(lines))
            self.tally.preamble += skipped
            block = self._rows(lines[skipped:], first + skipped)
            if block.text:
                yield block

    def _rows(self, lines: list[str], first: int) -> Block:
        """The lines that have as many fields as the header."""
        separator, comment = self._how.separator, self._how.comment
        text, numbers, wrong = [], [], []
        for number, line in enumerate(lines, first):
            if not line or line.isspace():
                self.tally.blank += 1
            elif comment and line.startswith(comment):
                self.tally.comments += 1
            elif self._fields(line, separator) != self._count:
                wrong.append(number)
            else:
                text.append(line)
                numbers.append(number)
        self.tally.refuse(f"not {self._count} fields", wrong)
        return Block(text, numbers)

    @staticmethod
    def _fields(line: str, separator: str) -> int:
        """Number of fields; 0 if a quote is left open or the line holds a zero byte."""
        if "\0" in line:
            return 0
        if '"' not in line:
            return line.count(separator) + 1
        try:
            return len(next(csv.reader([line], delimiter=separator, strict=True)))
        except csv.Error:
            return 0

    def _raw_blocks(self, progress: Progress | None) -> Iterator[list[str]]:
        """All lines of the file without their ends."""
        with (
            opened(self.path) as raw,
            TextIOWrapper(raw, encoding=self._encoding, newline=None) as stream,
        ):
            rest, before = "", 0
            while text := self._read(stream):
                rest += text
                lines = rest.split("\n")
                rest = lines.pop()
                if len(rest) > LONGEST_LINE:
                    raise self.refusal(
                        f"a line of more than {LONGEST_LINE} characters; is this a log of rows?"
                    )
                yield lines
                read = raw.tell()
                if progress is not None:
                    progress(read - before)
                before = read
            if rest:
                yield [rest]

    def _read(self, stream: TextIOWrapper) -> str:
        try:
            return stream.read(BLOCK_CHARACTERS)
        except (gzip.BadGzipFile, EOFError) as error:
            raise self.refusal(f"it is packed by gzip, but damaged ({error}).") from error
        except UnicodeError as error:
            raise self.refusal(
                f"the text is not {self._encoding} ({error}); set log.encoding,"
                ' for instance to "latin-1".'
            ) from error

    def _read_header(self) -> tuple[int, list[str]]:
        wanted, comment = self._how.header_line, self._how.comment
        most = max(LINES_SEARCHED_FOR_HEADER, wanted or 0)
        number = 0
        for line in islice(chain.from_iterable(self._raw_blocks(None)), most):
            number += 1
            plain = line.strip() and not (comment and line.startswith(comment))
            if number == wanted or (wanted is None and plain):
                return number, self._split_header(line)
        if number == 0:
            raise self.refusal("the file is empty.")
        line = "a line of column names" if wanted is None else f"line {wanted} (log.header_line)"
        raise self.refusal(f"no header: {line} was not found.")

    def _split_header(self, line: str) -> list[str]:
        if "\0" in line:
            raise self.refusal("this is not a text file: its header holds zero bytes.")
        separator = self._how.separator
        names = [name.strip() for name in next(csv.reader([line], delimiter=separator))]
        if len(names) == 1:
            others = {mark: line.count(mark) for mark in ",;\t|" if mark != separator}
            best = max(others, key=lambda mark: others[mark])
            if others[best]:
                shown = "tab" if best == "\t" else best
                raise self.refusal(
                    f'the header has no "{self._how.delimiter}" but {others[best]} times'
                    f' "{shown}"; set log.delimiter = "{shown}".'
                )
        return names

    def place(self, name: str, key: str) -> int:
        """Where the column ``name`` stands, for the key that asks for it.

        Raises
        ------
        InputRefused
            If the header has no such column, or has it twice.
        """
        count = self.header.count(name)
        if count == 1:
            return self.header.index(name)
        if count > 1:
            raise self.refusal(f'the header has {count} columns "{name}" ({key}); name them apart.')
        near = nearest_name(name, self.header)
        remedy = f'did you mean "{near}"?' if near else f"it has {', '.join(self.header)}."
        raise self.refusal(f'the header has no column "{name}" ({key}); {remedy}')


@contextmanager
def opened(path: Path) -> Iterator[BinaryIO]:
    """A log's bytes, packed by gzip (RFC 1952) or plain."""
    with input_file(path) as raw:
        packed = raw.read(2) == GZIP_MARK
        raw.seek(0)
        if not packed:
            yield raw
            return
        with gzip.GzipFile(fileobj=raw) as unpacked:
            yield cast(BinaryIO, unpacked)


def _encoding(path: Path, wanted: str) -> str:
    """The encoding that a byte-order mark tells, else the wanted one."""
    if not path.is_file():
        raise InputRefused(f"{path}: no such file.")
    try:
        codecs.lookup(wanted)
    except LookupError:
        raise InputRefused(f'log.encoding = "{wanted}"; this encoding is not known.') from None
    try:
        with opened(path) as stream:
            start = stream.read(4)
    except (gzip.BadGzipFile, EOFError) as error:
        raise InputRefused(f"{path}: it is packed by gzip, but damaged ({error}).") from None
    for mark, encoding in sorted(MARKS, key=lambda item: -len(item[0])):
        if start.startswith(mark):
            return encoding
    return wanted
