"""Which configuration was flown in each cell: from labels, from fold angles, or as stated."""

from collections.abc import Mapping
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from vlm.description.folds import FoldAngles
from vlm.description.log import FlightLogFormat
from vlm.errors import InputRefused
from vlm.log.cells import MIXED

UNKNOWN = ""
"""Stands for a cell whose configuration has no name, or changes within the cell."""


def configurations_flown(
    cells: pd.DataFrame, how: FlightLogFormat, settings: Mapping[str, FoldAngles]
) -> NDArray[Any]:
    """Name of the configuration of each cell.

    Parameters
    ----------
    cells : the averaged log, (cells)
    how : the block ``[log]``
    settings : the file's configurations

    Returns
    -------
    Names, shape (cells); ``UNKNOWN`` where none fits.

    Raises
    ------
    InputRefused
        If the log's labels or folds fit none of the file's configurations anywhere.
    """
    if how.configuration is not None:
        return np.full(len(cells), how.configuration)
    if "mode" in cells:
        names = cells["mode"].map(how.modes).fillna(UNKNOWN).to_numpy(dtype=str)
        seen = sorted(set(cells["mode"]) - {MIXED, ""})
        said = f"labels {', '.join(seen[:10]) or '(none)'}; log.modes knows {', '.join(how.modes)}"
    else:
        names, said = _by_angle(cells, how.steady.fold_change_max_deg, settings)
    if not np.any(names != UNKNOWN):
        raise InputRefused(
            f"the log fits none of the configurations {', '.join(settings)}: it has {said}."
        )
    return names


def unknown_labels(cells: pd.DataFrame, how: FlightLogFormat) -> dict[str, int]:
    """Labels that ``log.modes`` does not know, and how many rows carry each."""
    if "mode" not in cells:
        return {}
    known = set(how.modes) | {MIXED}
    strange = cells.loc[~cells["mode"].isin(known)]
    return {str(label): int(n) for label, n in strange.groupby("mode")["rows"].sum().items()}


def _by_angle(
    cells: pd.DataFrame, tolerance_deg: float, settings: Mapping[str, FoldAngles]
) -> tuple[NDArray[Any], str]:
    left_key, right_key = ("fold", "fold") if "fold" in cells else ("fold_left", "fold_right")
    left = np.degrees(cells[left_key].to_numpy(dtype=np.float64))
    right = np.degrees(cells[right_key].to_numpy(dtype=np.float64))
    names = np.full(len(cells), UNKNOWN, dtype=f"<U{max(map(len, settings), default=1)}")
    nearest = np.full(len(cells), np.inf)
    for name, folds in settings.items():
        distance = np.maximum(np.abs(left - folds.left_deg), np.abs(right - folds.right_deg))
        closer = (distance <= tolerance_deg) & (distance < nearest)
        names[closer], nearest[closer] = name, distance[closer]
    with np.errstate(invalid="ignore"):
        span = f"folds from {np.nanmin([left, right]):.0f} to {np.nanmax([left, right]):.0f} deg"
    return names, span
