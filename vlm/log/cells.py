"""A log averaged over cells of equal time: a table as long as the flight, not as the file.

A logger writes fifty rows a second; nothing that decides about power changes so fast. Rows are
averaged over cells of half a second as they are read, so that memory grows with the time flown
(some 200 bytes a cell) and not with the rows. What is faster than a cell shows in no result.
"""

from collections.abc import Iterator

import numpy as np
import pandas as pd
from numpy.typing import NDArray

# What must be read in a cell, not guessed between two readings.
FAST = ("airspeed", "current", "power", "velocity_north", "ground_speed")
LONGEST_CELL_S = 4.0
# Angles that wrap are averaged as directions.
DIRECTIONS = ("heading", "track", "roll")
MIXED = "(mixed)"
FEWEST_ROWS_A_CELL = 2


def column(cells: pd.DataFrame, name: str) -> NDArray[np.float64]:
    """A column of numbers as an array, shape (rows)."""
    return np.asarray(cells[name].to_numpy(), dtype=np.float64)


def count_column(cells: pd.DataFrame, name: str) -> NDArray[np.int64]:
    """A column of whole numbers as an array, shape (rows)."""
    return np.asarray(cells[name].to_numpy(), dtype=np.int64)


def typical_interval(time: NDArray[np.float64]) -> float:
    """Median time between two rows [s]; NaN for fewer than two."""
    steps = np.diff(time)
    steps = steps[steps > 0.0]
    return float(np.median(steps)) if steps.size else float("nan")


def column_interval(time: NDArray[np.float64], values: NDArray[np.float64]) -> float:
    """Typical time between two readings of a column [s]; NaN for fewer than two."""
    return typical_interval(time[np.isfinite(values)])


def cell_length(rows: pd.DataFrame, wanted_s: float) -> float:
    """Length of the cells for the rows of a first block [s].

    At least the slowest interval of airspeed, current and power, so that a cell has a reading.

    Parameters
    ----------
    rows : with ``time`` and the quantities
    wanted_s : as the file asks for
    """
    time = column(rows, "time")
    slowest = [column_interval(time, column(rows, key)) for key in FAST if key in rows]
    known = [interval for interval in slowest if np.isfinite(interval)]
    return max([wanted_s, *(min(1.001 * interval, LONGEST_CELL_S) for interval in known)])


class CellAverager:
    """Averages ordered rows over cells, block after block.

    Attributes
    ----------
    length_s : the cell's length: the one asked for, or two typical intervals of the log where it
        is written more slowly [s]; 0 before the first block
    interval_s : typical time between two rows [s]
    """

    def __init__(self, wanted_s: float, *, fixed: bool = False) -> None:
        """Start before the first row; cells of a ``fixed`` length are as long as is wanted."""
        self._wanted = wanted_s
        self._fixed = fixed
        self._held: pd.DataFrame | None = None
        self.length_s = 0.0
        self.interval_s = float("nan")

    def averaged(self, frames: Iterator[pd.DataFrame]) -> pd.DataFrame:
        """The cells of a whole log.

        Returns
        -------
        One row a cell that holds at least one row: ``part``, ``cell`` (its number),
        ``time`` (the cell's middle) [s], ``rows``, ``first_line``, ``last_line``, every quantity
        averaged over the cell's rows that have it (NaN if none has), ``mode`` ("(mixed)" where it
        changes within the cell).
        """
        pieces = [piece for frame in frames if (piece := self._block(frame)) is not None]
        if self._held is not None:
            pieces.append(self._means(self._held))
            self._held = None
        if not pieces:
            return pd.DataFrame()
        return pd.concat(pieces, ignore_index=True)

    def _block(self, frame: pd.DataFrame) -> pd.DataFrame | None:
        """Cells of a block; the last one waits for the rows of the next block."""
        if self.length_s == 0.0:
            self.interval_s = typical_interval(frame["time"].to_numpy())
            slowest = np.nan_to_num(FEWEST_ROWS_A_CELL * self.interval_s)
            longer = max(cell_length(frame, self._wanted), float(slowest))
            self.length_s = self._wanted if self._fixed else longer
        cell = np.floor(frame["time"].to_numpy() / self.length_s).astype(np.int64)
        frame = frame.assign(cell=cell)
        if self._held is not None:
            frame = pd.concat([self._held, frame], ignore_index=True)
        last = (frame["part"] == frame["part"].iloc[-1]) & (frame["cell"] == frame["cell"].iloc[-1])
        self._held = frame[last]
        done = frame[~last]
        return self._means(done) if len(done) else None

    def _means(self, frame: pd.DataFrame) -> pd.DataFrame:
        """One row for each cell of the frame."""
        work = frame.drop(columns=["line", "time"])
        mode = work.pop("mode") if "mode" in work else None
        turned = {}
        for name in DIRECTIONS:
            if name in work:
                turned[f"{name}_cos"] = np.cos(work[name])
                turned[f"{name}_sin"] = np.sin(work[name])
                work = work.drop(columns=name)
        work = work.assign(**turned)
        keys = [frame["part"], frame["cell"]]
        grouped = work.drop(columns=["part", "cell"]).groupby(keys, sort=True)
        means = grouped.mean()
        lines = frame.groupby(["part", "cell"], sort=True)["line"]
        means.insert(0, "rows", lines.size())
        means.insert(1, "first_line", lines.min())
        means.insert(2, "last_line", lines.max())
        for name in DIRECTIONS:
            if f"{name}_cos" in means:
                means[name] = np.arctan2(means.pop(f"{name}_sin"), means.pop(f"{name}_cos"))
        if mode is not None:
            modes = mode.groupby(keys, sort=True)
            first = modes.first()
            means["mode"] = first.where(modes.nunique() == 1, MIXED)
        means = means.reset_index()
        means.insert(2, "time", (means["cell"] + 0.5) * self.length_s)
        return means
