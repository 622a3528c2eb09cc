"""Warnings about folds that a log reads: beyond the hinges, and sides that stand apart."""

from collections.abc import Iterator

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from vlm.constants import Floats
from vlm.description.log import FlightLogFormat
from vlm.findings import Finding
from vlm.log.fold_settings import UNKNOWN

MOST_BEYOND = 0.01
"""Share of the readings beyond the hinges' limits from which on they are no strays [1]."""


def fold_warnings(
    cells: pd.DataFrame,
    configuration: NDArray[np.str_],
    how: FlightLogFormat,
    allowed_deg: tuple[float, float] | None,
) -> list[Finding]:
    """Folds that the hinges do not allow, and tips that stand apart in no configuration.

    Parameters
    ----------
    cells : the averaged log, (cells), angles in radians
    configuration : of each cell, shape (cells)
    how : the block ``[log]``
    allowed_deg : lowest and highest fold of the hinges; None for a craft without
    """
    sides = {key: _degrees(cells[key]) for key in ("fold", "fold_left", "fold_right")
             if key in cells}  # fmt: skip
    found: list[Finding] = []
    if allowed_deg is not None:
        for key, folds in sides.items():
            found += _beyond(key, folds, allowed_deg, how.steady.fold_change_max_deg)
    # A side with the wrong sign stands apart from the other all the time.
    if not found and {"fold_left", "fold_right"} <= set(sides):
        found += _apart(cells, sides["fold_left"], sides["fold_right"], configuration, how)
    return found


def _degrees(column: pd.Series) -> Floats:
    folds: Floats = np.degrees(column.to_numpy(dtype=np.float64))
    return folds


def _beyond(
    key: str, folds: Floats, allowed: tuple[float, float], tolerance: float
) -> list[Finding]:
    """Folds beyond the limits by more than a configuration's may be off, the farthest named."""
    low, high = allowed
    past = np.maximum(low - folds, folds - high)
    known = past[np.isfinite(past)]
    if known.size == 0 or np.mean(known > tolerance) <= MOST_BEYOND:
        return []
    farthest = float(folds[int(np.nanargmax(past))])
    return [
        Finding(
            f"log-{key.replace('_', '-')}-beyond-limits",
            f"log.columns.{key} reads folds that the hinges do not allow ({low:g} to {high:g} deg)",
            farthest, low if farthest < low else high, "deg", "the tips' limits",
            f"check its sign, unit and zero; log.columns.{key}.negated turns the sign",
        )
    ]  # fmt: skip


def _apart(
    cells: pd.DataFrame,
    left: Floats,
    right: Floats,
    configuration: NDArray[np.str_],
    how: FlightLogFormat,
) -> list[Finding]:
    """The longest time in which port and starboard stood apart in no configuration."""
    tolerance, time = how.steady.fold_change_max_deg, cells["time"].to_numpy(dtype=np.float64)
    apart = (np.abs(left - right) > tolerance) & (configuration == UNKNOWN)
    longest = max(
        _stretches(apart, time, how.steady.gap_max_s), key=lambda at: np.ptp(time[at]), default=None
    )
    if longest is None or np.ptp(time[longest]) < how.steady.shortest_s:
        return []
    port, starboard = float(np.median(left[longest])), float(np.median(right[longest]))
    return [
        Finding(
            "log-tips-apart",
            f"from {time[longest][0]:.0f} to {time[longest][-1]:.0f} s the port tips stood at"
            f" {port:.0f} and the starboard ones at {starboard:.0f} deg, which is no configuration"
            " (a tip that jams stands so); apart by",
            abs(port - starboard), tolerance, "deg", "log.steady.fold_change_max_deg",
            "look at the tips; if it was meant, name it in [configurations] by left_deg and"
            " right_deg, and its power is reported",
        )
    ]  # fmt: skip


def _stretches(chosen: NDArray[np.bool_], time: Floats, gap: float) -> Iterator[NDArray[np.intp]]:
    """Indices of every run of chosen cells without a longer silence."""
    places = np.flatnonzero(chosen)
    breaks = (np.diff(places) > 1) | (np.diff(time[places]) > gap)
    for run in np.split(places, np.flatnonzero(breaks) + 1):
        if run.size:
            yield run
