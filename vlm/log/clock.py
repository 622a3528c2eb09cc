"""The order of time in a log: rows that repeat a time, run backward, or start a new clock."""

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from vlm.log.rows import RowTally

# So many rows in a row behind the clock, in order among themselves, are a clock that was set
# back (a restart, two logs joined), not stray rows.
RESTART_ROWS = 20


class Clock:
    """Lets rows through in order of time, block after block.

    A row with the time of the row before is refused as a duplicate, unless it holds only what that
    one left empty (tables of different rates merged into one); one with an earlier time as
    backward. After ``RESTART_ROWS`` backward rows that are in order among themselves, the log is
    taken to go on under a new clock: they start a new part, and no steady segment spans two parts.
    """

    def __init__(self, tally: RowTally) -> None:
        """Start before the first row."""
        self._tally = tally
        self._latest = -np.inf
        self._part = 0
        self._held: pd.DataFrame | None = None
        self._filled: NDArray[np.bool_] | None = None

    def ordered(self, frame: pd.DataFrame) -> pd.DataFrame:
        """The rows of a block that follow in time, with the column ``part``.

        Backward rows at the block's end are held until the next block tells what they are.
        """
        if self._held is not None:
            frame = pd.concat([self._held, frame], ignore_index=True)
            self._held = None
        time = frame["time"].to_numpy()
        before = np.concatenate(([self._latest], time[:-1]))
        if np.all(time > before):
            part = np.full(time.size, self._part)
            self._latest = float(time[-1])
            self._filled = _filled(frame.iloc[-1:])[0]
            return frame.assign(part=part)
        return self._sorted_out(frame, time)

    def end(self) -> None:
        """The log is over: rows still held are backward."""
        if self._held is not None:
            self._tally.refuse("time runs backward", self._held["line"].to_numpy())
            self._held = None

    def _adds(self, filled: NDArray[np.bool_]) -> bool:
        """Whether a row of the latest moment holds only what the rows before it left empty."""
        if self._filled is None or self._filled.shape != filled.shape:
            return False
        if not filled.any() or (self._filled & filled).any():
            return False
        self._filled |= filled
        return True

    def _sorted_out(self, frame: pd.DataFrame, time: NDArray[np.float64]) -> pd.DataFrame:
        part = np.full(time.size, -1)
        duplicate, backward, pending = [], [], list[int]()
        restarts = []
        filled = _filled(frame)
        for row, now in enumerate(time.tolist()):
            if now > self._latest:
                backward += pending
                pending = []
                part[row], self._latest = self._part, now
                self._filled = filled[row].copy()
            elif now == self._latest and self._adds(filled[row]):
                part[row] = self._part
            elif now == self._latest or (pending and now == time[pending[-1]]):
                duplicate.append(row)
            else:
                if pending and now < time[pending[-1]]:
                    backward += pending
                    pending = []
                pending.append(row)
                if len(pending) == RESTART_ROWS:
                    self._part += 1
                    part[pending], self._latest = self._part, now
                    restarts.append(pending[0])
                    pending = []
        line = frame["line"].to_numpy()
        self._tally.refuse("time repeated", line[duplicate])
        self._tally.refuse("time runs backward", line[backward])
        self._tally.note("clock set back, a new part begins", line[restarts])
        self._held = frame.iloc[pending].drop(columns="part", errors="ignore") if pending else None
        return frame.assign(part=part)[part >= 0].reset_index(drop=True)


def _filled(frame: pd.DataFrame) -> NDArray[np.bool_]:
    """Which columns of each row hold something, shape (rows, columns)."""
    filled = frame.select_dtypes("float").drop(columns="time").notna().to_numpy()
    if "mode" not in frame:
        return filled
    return np.column_stack((filled, frame["mode"].to_numpy() != ""))
