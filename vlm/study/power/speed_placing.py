"""Airspeeds placed where power curves bend: near stall close together, on the wings far apart."""

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from vlm.constants import Floats
from vlm.flight.trim.power_book import POWER
from vlm.flight.trim.power_curve import PowerCurve

LEAST_GAP = 0.006
"""Least distance of two speeds, in shares of the highest [1]."""


def refined(curves: Mapping[str, PowerCurve], more: int) -> dict[str, PowerCurve]:
    """The same curves with further speeds, one after the other where some curve bends most.

    How far a curve bends between two speeds shows in how far its power there would be from the
    straight line: an eighth of the second difference, the larger of both ends, over the power.

    Parameters
    ----------
    curves : by setting, on the same speeds
    more : speeds that are added at most
    """
    found = dict(curves)
    for _ in range(more):
        speeds = next(iter(found.values())).speeds
        bends = np.max([_bends(speeds, c.values(POWER)) for c in found.values()], axis=0)
        bends[np.diff(speeds) < 2.0 * LEAST_GAP * speeds[-1]] = 0.0
        place = int(np.argmax(bends))
        if not bends[place] > 0.0:
            break
        speed = float(0.5 * (speeds[place] + speeds[place + 1]))
        found = {
            name: replace(
                curve,
                points=(*curve.points[: place + 1], curve.at(speed), *curve.points[place + 1 :]),
            )
            for name, curve in found.items()
        }
    return found


def _bends(speeds: Floats, power: Floats) -> Floats:
    """Departure of every interval's middle from a straight line, over the power, (intervals,)."""
    slopes = np.diff(power) / np.diff(speeds)
    turns = np.abs(np.diff(slopes)) * 2.0 / (speeds[2:] - speeds[:-2])
    ends = np.concatenate([[np.nan], turns, [np.nan]])
    with np.errstate(invalid="ignore"):
        second = np.fmax(ends[:-1], ends[1:])
        level = np.fmin(power[:-1], power[1:])
    bends = 0.125 * second * np.diff(speeds) ** 2 / level
    return np.where(np.isfinite(bends), bends, 0.0)
