"""How the craft moved, smoothed: slopes and means over a sliding window."""

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.signal import savgol_filter

from vlm.constants import GRAVITY, Floats
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


def climb_source(cells: pd.DataFrame) -> tuple[str, int]:
    """Which column tells the climb, and how often it is differentiated; "" where none does."""
    known = (("climb_rate", 0), ("altitude", 1), ("pressure_altitude", 1))
    return next(((name, order) for name, order in known if name in cells), ("", 0))


def smoothed_motion(log: FlightLog, limits: SteadyCriteria) -> dict[str, Floats]:
    """Smoothed airspeed, its slope, climb, rates and bank.

    Parameters
    ----------
    log : a log as read
    limits : the window and the gaps it may bridge

    Returns
    -------
    "airspeed" [m/s], "acceleration" [m/s^2], "climb" [m/s], "bank" [rad], "roll_rate",
    "pitch_rate", "yaw_rate" and "turn" (of the heading, or the track) [rad/s], "load_factor" [1],
    shape (cells) each; NaN where the log does not tell.
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
    out["load_factor"] = _load_factor(out)
    return out


def _load_factor(motion: dict[str, Floats]) -> Floats:
    """Lift over weight in a level turn, 1/cos(bank), shape (cells); 1 where nothing tells it.

    tan(bank) = V (rate of turn)/g by the path over ground or the heading, where that is known;
    else the bank as logged. (Standard: a co-ordinated level turn.)
    """
    turn = motion["airspeed"] * motion["turn"] / GRAVITY
    tangent = np.where(np.isfinite(turn), turn, np.tan(np.clip(motion["bank"], -1.4, 1.4)))
    return np.sqrt(1.0 + np.nan_to_num(tangent) ** 2)


def _signals(cells: pd.DataFrame) -> list[tuple[str, Floats, int]]:
    """What is smoothed: name, values and how often they are differentiated."""
    airspeed = column(cells, "airspeed")
    signals = [("airspeed", airspeed, 0), ("acceleration", airspeed, 1)]
    source, derivative = climb_source(cells)
    if source:
        signals.append(("climb", column(cells, source), derivative))
    signals += [(name, column(cells, name), 0) for name in RATES if name in cells]
    if "roll" in cells:
        signals.append(("bank", column(cells, "roll"), 0))
    direction = next((name for name in ("heading", "track") if name in cells), None)
    if direction is not None:
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
