"""Whether a motion still swings more and more when its history ends."""

import numpy as np

from vlm.constants import Floats
from vlm.findings import Finding
from vlm.flight.simulation.history import History
from vlm.flight.simulation.task import Task

GROWS_BY = 1.1
"""Ratio of the swings of two following stretches from which they are told to grow [1]."""
LEAST_SWING = float(np.radians(0.5))
"""Swing from end to end that is looked at [rad]."""
SHORTEST = 0.5
"""Shortest stretch that is looked at [s]."""


def growth_findings(task: Task, history: History) -> list[Finding]:
    """The attitude whose swing grows most after all has happened; none where none grows.

    The time from the last thing that happens, or the last worm that stops, is halved; swings are
    those about a straight line through each half.
    """
    begin = max([0.0, *task.instants])
    for side, worm in history.worms.items():
        moving = np.abs(worm - history.targets[side]) > LEAST_SWING
        if moving.any():
            begin = max(begin, float(history.times[np.flatnonzero(moving)[-1]]))
    end = float(history.times[-1])
    middle = 0.5 * (begin + end)
    if end - middle < SHORTEST:
        return []
    first = (history.times >= begin) & (history.times <= middle)
    second = history.times >= middle
    worst: tuple[float, str, float] | None = None
    for name in ("bank", "pitch", "beta"):
        values = getattr(history, name)
        before, after = (
            _swing(history.times[first], values[first]),
            _swing(history.times[second], values[second]),
        )
        grown = after / max(before, 1e-12)
        if after > LEAST_SWING and grown > GROWS_BY and (worst is None or grown > worst[0]):
            worst = grown, name, after
    if worst is None:
        return []
    grown, name, after = worst
    words = {"bank": "bank", "pitch": "pitch attitude", "beta": "sideslip"}[name]
    return [
        Finding(
            "swing-grows", f"the {words} swings more and more at the end, by"
            f" {np.degrees(after):.2g} deg; what comes later is not known; one half of the time"
            " over the half before", grown, GROWS_BY, "1", "common practice",
            "follow it longer (--duration), and see the modes of foldspan lateral",
        )
    ]  # fmt: skip


def _swing(times: Floats, values: Floats) -> float:
    """From end to end, about a straight line through the values."""
    line = np.polynomial.Polynomial.fit(times, values, 1)
    return float(np.ptp(values - line(times)))
