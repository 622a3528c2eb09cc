"""Tables of different rates as one log, joined on their time.

Each table is read by itself and averaged over the same cells of time; what a cell then lacks is
filled by the kind of its column, across no more than a few of the column's own intervals:

    labels                       held until the next one
    numbers                      interpolated on a straight line
    directions                   that of the nearest reading

A cell is at least as long as the slowest of airspeed, current and power takes for a reading. The
same rules hold for one table into which several were merged row by row.
"""

from typing import Any

import numpy as np
import pandas as pd

from vlm.constants import Floats
from vlm.log.cells import DIRECTIONS, MIXED, column_interval

# A gap is bridged over so many of the column's own intervals.
BRIDGED_INTERVALS = 2.5


def joined(tables: list[pd.DataFrame]) -> pd.DataFrame:
    """Cells of several tables side by side, shape (cells of all).

    Parameters
    ----------
    tables : cells of each, on the same grid of time
    """
    whole = tables[0]
    for other in tables[1:]:
        new = other.drop(columns=["time", "first_line", "last_line"])
        new = new.rename(columns={"rows": "more_rows"})
        new = new.drop(columns=[c for c in new if c in whole and c not in ("part", "cell")])
        whole = whole.merge(new, on=["part", "cell"], how="outer", sort=True)
        whole["rows"] = whole["rows"].fillna(0) + whole.pop("more_rows").fillna(0)
    for key in ("first_line", "last_line"):
        whole[key] = whole[key].ffill().bfill().astype(np.int64)
    return whole.assign(rows=whole["rows"].astype(np.int64))


def filled(cells: pd.DataFrame, cell_s: float) -> pd.DataFrame:
    """Cells with what slow columns leave empty filled in.

    Parameters
    ----------
    cells : of all tables
    cell_s : length of a cell [s]
    """
    cells = cells.assign(time=(cells["cell"] + 0.5) * cell_s)
    changed: dict[str, Any] = {}
    time = cells["time"].to_numpy(dtype=np.float64)
    known_keys = ("part", "cell", "time", "rows", "first_line", "last_line")
    for key in [c for c in cells.columns if c not in known_keys]:
        if key == "mode":
            changed[key] = cells[key].groupby(cells["part"]).ffill().fillna(MIXED)
            continue
        values = cells[key].to_numpy(dtype=np.float64)
        interval = column_interval(time, values)
        if not interval > 1.5 * cell_s:
            continue
        reach = BRIDGED_INTERVALS * interval
        changed[key] = _bridged(cells["part"].to_numpy(), time, values, reach, key in DIRECTIONS)
    return cells.assign(**changed)


def _bridged(part: Floats, time: Floats, values: Floats, reach_s: float, nearest: bool) -> Floats:
    """Values with gaps no longer than ``reach_s`` filled, part by part."""
    result = values.copy()
    for number in np.unique(part):
        rows = np.flatnonzero(part == number)
        known = rows[np.isfinite(values[rows])]
        if known.size < 2:
            continue
        after = np.clip(np.searchsorted(time[known], time[rows]), 1, known.size - 1)
        left, right = known[after - 1], known[after]
        inside = (time[rows] >= time[known[0]]) & (time[rows] <= time[known[-1]])
        short = inside & (time[right] - time[left] <= reach_s)
        fill = rows[short & ~np.isfinite(values[rows])]
        if nearest:
            closer = np.where(
                time[rows] - time[left] <= time[right] - time[rows], values[left], values[right]
            )
            result[fill] = closer[np.isin(rows, fill)]
        else:
            result[fill] = np.interp(time[fill], time[known], values[known])
    return result
