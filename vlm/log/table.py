"""From lines of text to numbers in SI units: what cannot be read is refused by line.

The table work is pandas'. It reads a block of good lines in one fast pass; only a block that holds
something unreadable is read a second time as text, cell by cell, to find the rows to blame.
"""

from collections.abc import Iterator
from io import StringIO

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from vlm.constants import Floats
from vlm.description.log import FlightLogFormat
from vlm.description.log_columns import Column
from vlm.log.lines import Block, LogLines, Progress

HALF_A_DAY_S = 43_200.0

# Beyond these a cell is no measurement of a small craft near the ground, whatever the logger says:
# least and greatest value, SI. They catch slips of unit and dead sensors, nothing finer.
POSSIBLE: dict[str, tuple[float, float]] = {
    "airspeed": (-5.0, 150.0),
    "ground_speed": (0.0, 300.0),
    "power": (-1e5, 1e6),
    "voltage": (-1.0, 2000.0),
    "current": (-5e3, 5e3),
    "altitude": (-500.0, 20_000.0),
    **dict.fromkeys(("climb_rate", "velocity_down"), (-100.0, 100.0)),
    **dict.fromkeys(("velocity_north", "velocity_east"), (-300.0, 300.0)),
    "pressure": (5_000.0, 120_000.0),
    "temperature": (180.0, 340.0),
    "rotor_speed": (-1e5, 1e5),
    # Angles may be counted on through any number of turns.
    **dict.fromkeys(("roll", "pitch", "heading", "track"), (-1e6, 1e6)),
    **dict.fromkeys(("fold", "fold_left", "fold_right"), (-1e6, 1e6)),
    **dict.fromkeys(("roll_rate", "pitch_rate", "yaw_rate"), (-1e4, 1e4)),
    # Three thousand years either way of any zero of time.
    "time": (-1e11, 1e11),
}


class LogTable:
    """The columns of a log that ``[log]`` asks for, block by block.

    Each block is a frame with ``line`` (int), ``time`` [s], the quantities asked for in SI units
    and radians (NaN where missing), and ``mode`` (text) where there is such a column.
    """

    def __init__(self, lines: LogLines, how: FlightLogFormat, *, whole: bool = True) -> None:
        """Find the columns in the header; not ``whole`` if others may stand in another file.

        Raises
        ------
        InputRefused
            If the header lacks one of them.
        """
        self._lines = lines
        self._how = how
        self._numbers = {
            key: column
            for key, column in how.columns.numbers.items()
            if whole or column.name in lines.header
        }
        named = {key: column.name for key, column in self._numbers.items()}
        named["time"] = how.columns.time.name
        self._labelled = how.columns.mode is not None and (
            whole or how.columns.mode.name in lines.header
        )
        if self._labelled and how.columns.mode is not None:
            named["mode"] = how.columns.mode.name
        # Two quantities may share a column, so the frame is made by place and then by key.
        self._place = {key: lines.place(name, f"log.columns.{key}") for key, name in named.items()}
        self.wild: dict[str, float] = {}
        """Typical reading beyond what is possible, as written, by column."""
        self._midnights = 0
        self._last_clock = -np.inf

    def blocks(self, progress: Progress | None = None) -> Iterator[pd.DataFrame]:
        """The rows that could be read."""
        for block in self._lines.blocks(progress):
            frame = self._frame(block)
            if len(frame):
                yield frame

    @property
    def keys(self) -> set[str]:
        """What this table holds, the time apart."""
        return set(self._place) - {"time"}

    @property
    def _text_keys(self) -> list[str]:
        stamped = ["time"] if self._how.columns.time.unit == "stamp" else []
        return [*stamped, *(["mode"] if self._labelled else [])]

    def _frame(self, block: Block) -> pd.DataFrame:
        line = np.asarray(block.line, dtype=np.int64)
        cells, good = self._cells(block, line)
        frame = pd.DataFrame({"line": line})
        frame["time"] = self._time(cells["time"], line, good)
        for key, column in self._numbers.items():
            frame[key] = self._in_si(key, column, cells[key], line, good)
        if "mode" in self._place:
            frame["mode"] = cells["mode"].fillna("").astype(str).str.strip()
        return frame[good].reset_index(drop=True)

    def _cells(
        self, block: Block, line: NDArray[np.int64]
    ) -> tuple[dict[str, pd.Series], NDArray[np.bool_]]:
        """Cells by key, as numbers or as text, and which rows are readable."""
        text = "\n".join(block.text)
        good = np.ones(line.size, dtype=bool)
        try:
            table = self._read(text, everything_as_text=False)
        except (ValueError, OverflowError):
            table = self._read(text, everything_as_text=True)
            for key, column in self._numbers_and_time().items():
                place = self._place[key]
                table[place], bad = self._parsed(table[place])
                self._lines.tally.refuse(f"no number in {column.name}", line[bad & good])
                good &= ~bad
        return {key: table[place] for key, place in self._place.items()}, good

    def _numbers_and_time(self) -> dict[str, Column]:
        timed = {} if "time" in self._text_keys else {"time": self._how.columns.time}
        return {**timed, **self._numbers}

    def _read(self, text: str, everything_as_text: bool) -> pd.DataFrame:
        """The asked-for columns of a block, by place in the row."""
        texts = {self._place[key] for key in self._text_keys}
        places = sorted(set(self._place.values()))
        kinds = {p: str if everything_as_text or p in texts else np.float64 for p in places}
        return pd.read_csv(
            StringIO(text),
            sep=self._how.separator,
            header=None,
            names=list(range(len(self._lines.header))),
            usecols=places,
            dtype=kinds,
            decimal=self._how.decimal,
            na_values=[] if everything_as_text else list(self._how.missing),
            keep_default_na=False,
            skipinitialspace=True,
            skip_blank_lines=False,
            index_col=False,
            engine="c",
            low_memory=False,
        )

    def _parsed(self, cells: pd.Series) -> tuple[pd.Series, NDArray[np.bool_]]:
        """Text turned into numbers, and where that failed."""
        if cells.dtype == np.float64:  # two quantities share the column: done before
            return cells, np.zeros(len(cells), dtype=bool)
        text = cells.astype(str).str.strip()
        missing = text.isin(self._how.missing)
        if self._how.decimal == ",":
            # A point is no part of a number here; it must not be taken for the decimal mark.
            text = text.where(~text.str.contains(".", regex=False), "?")
            text = text.str.replace(",", ".", regex=False)
        plain = text.str.fullmatch(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?|[+-]?(?i:inf|infinity)")
        numbers = pd.to_numeric(text.where(plain & ~missing), errors="coerce").astype(float)
        return numbers, ((numbers.isna() | ~plain) & ~missing).to_numpy(dtype=bool)

    def _in_si(
        self,
        key: str,
        column: Column,
        cells: pd.Series,
        line: NDArray[np.int64],
        good: NDArray[np.bool_],
    ) -> Floats:
        """A quantity in SI units; rows with impossible values are marked bad in ``good``."""
        factor, offset = column.scale
        values = factor * cells.to_numpy(dtype=np.float64) + offset
        kind = key if not key.startswith("rotor_speed") else "rotor_speed"
        least, highest = POSSIBLE.get(kind, (-np.inf, np.inf))
        with np.errstate(invalid="ignore"):
            wild = good & (np.isinf(values) | (values < least) | (values > highest))
        self._lines.tally.refuse(f"impossible value in {column.name}", line[wild])
        if wild.any() and key not in self.wild:
            self.wild[key] = float(np.median(cells.to_numpy(dtype=np.float64)[wild]))
        good &= ~wild
        return values

    def _time(self, cells: pd.Series, line: NDArray[np.int64], good: NDArray[np.bool_]) -> Floats:
        """Time [s]; rows without one are marked bad in ``good``."""
        column = self._how.columns.time
        if column.unit == "stamp":
            seconds = self._stamps(cells)
        else:
            factor, offset = column.scale
            seconds = factor * cells.to_numpy(dtype=np.float64) + offset
        known = np.isfinite(seconds)
        self._lines.tally.refuse(f"no time in {column.name}", line[good & ~known])
        good &= known
        possible = known & (np.abs(seconds) <= POSSIBLE["time"][1])
        self._lines.tally.refuse(f"impossible value in {column.name}", line[good & ~possible])
        good &= possible
        return seconds

    def _stamps(self, cells: pd.Series) -> Floats:
        """Time stamps in seconds since 1970; a clock without a date goes on past midnight."""
        pattern = self._how.time_format
        text = cells.astype(str).str.strip()
        stamps = pd.to_datetime(
            text, format="ISO8601" if pattern == "iso" else pattern, errors="coerce", utc=True
        )
        elapsed = (stamps - pd.Timestamp(0, tz="UTC")) / pd.Timedelta(seconds=1)
        seconds: Floats = np.asarray(elapsed.to_numpy(), dtype=np.float64)
        has_date = pattern == "iso" or any(mark in str(pattern) for mark in ("%d", "%j", "%x"))
        return seconds if has_date else self._past_midnight(seconds)

    def _past_midnight(self, seconds: Floats) -> Floats:
        known = np.flatnonzero(np.isfinite(seconds))
        if known.size == 0:
            return seconds
        clock = seconds[known]
        before = np.concatenate(([self._last_clock], clock[:-1]))
        days = self._midnights + np.cumsum(clock - before < -HALF_A_DAY_S)
        self._midnights, self._last_clock = int(days[-1]), float(clock[-1])
        result = seconds.copy()
        result[known] += 86_400.0 * days
        return result
