"""How the craft moved, smoothed: slopes and means over a sliding window."""

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.signal import savgol_filter

from vlm.constants import Floats
from vlm.description.log import SteadyCriteria
from vlm.log.cells import column, count_column
from vlm.log.reading import FlightLog

RATES = ("roll_rate", "pitch_rate", "yaw_rate")


def stretches(log: FlightLog, gap_max_s: float) -> list[tuple[int, int]]:
    """First and last row of the stretches of cells without a gap or a new clock.

    Parameters
    ----------
    log : a log as read
    gap_max_s : the longest silence that is no gap [s]
    """
    part, time = count_column(log.cells, "part"), column(log.cells, "time")
    breaks = np.flatnonzero((np.diff(part) != 0) | (np.diff(time) > gap_max_s + 1.001 * log.cell_s))
    starts = np.concatenate(([0], breaks + 1))
    ends = np.concatenate((breaks, [part.size - 1]))
    return list(zip(starts.tolist(), ends.tolist(), strict=True))


def smoothed_motion(log: FlightLog, limits: SteadyCriteria) -> dict[str, Floats]:
    """Smoothed airspeed, its slope, climb, rates and bank.

    Parameters
    ----------
    log : a log as read
    limits : the window and the gaps it may bridge

    Returns
    -------
    "airspeed" [m/s], "acceleration" [m/s^2], "climb" [m/s], "bank" [rad], "roll_rate",
    "pitch_rate", "yaw_rate" and "turn" (from the track or the heading, where there is no yaw rate)
    [rad/s], shape (cells) each; NaN where the log does not tell.
    """
    cell = count_column(log.cells, "cell")
    signals = _signals(log.cells)
    names = ("airspeed", "acceleration", "climb", "bank", "turn", *RATES)
    out = {name: np.full(cell.size, np.nan) for name in names}
    width = max(3, 2 * round(0.5 * limits.window_s / log.cell_s) + 1)
    for first, last in stretches(log, limits.gap_max_s):
        rows = slice(first, last + 1)
        smooth = _Smoother(cell[rows], log.cell_s, width)
        for name, values, derivative in signals:
            out[name][rows] = smooth(values[rows], derivative)
    return out


def _signals(cells: pd.DataFrame) -> list[tuple[str, Floats, int]]:
    """What is smoothed: name, values and how often they are differentiated."""
    airspeed = column(cells, "airspeed")
    signals = [("airspeed", airspeed, 0), ("acceleration", airspeed, 1)]
    if "climb_rate" in cells:
        signals.append(("climb", column(cells, "climb_rate"), 0))
    elif "altitude" in cells:
        signals.append(("climb", column(cells, "altitude"), 1))
    signals += [(name, column(cells, name), 0) for name in RATES if name in cells]
    if "roll" in cells:
        signals.append(("bank", column(cells, "roll"), 0))
    direction = next((name for name in ("track", "heading") if name in cells), None)
    if direction is not None and "yaw_rate" not in cells:
        signals.append(("turn", _unwrapped(column(cells, direction)), 1))
    return signals


def _unwrapped(direction: Floats) -> Floats:
    known = np.isfinite(direction)
    result = direction.copy()
    result[known] = np.unwrap(direction[known])
    return result


class _Smoother:
    """Straight lines over a sliding window, on the even grid of one stretch.

    Local least squares by the method of A. Savitzky and M. J. E. Golay, Anal. Chem. 36 (1964)
    1627, order one.
    """

    def __init__(self, cell: NDArray[np.int64], step: float, width: int) -> None:
        self._place = cell - cell[0]
        self._count = int(self._place[-1]) + 1
        self._step, self._width = step, width

    def __call__(self, values: Floats, derivative: int) -> Floats:
        """Smoothed value or slope at each row; NaN where the stretch is shorter than a window."""
        known = np.isfinite(values)
        if self._count < self._width or known.sum() < 2:
            return np.full(values.size, np.nan)
        grid = np.interp(np.arange(self._count), self._place[known], values[known])
        smooth = savgol_filter(
            grid, self._width, polyorder=1, deriv=derivative, delta=self._step, mode="interp"
        )
        return np.asarray(smooth[self._place], dtype=np.float64)
