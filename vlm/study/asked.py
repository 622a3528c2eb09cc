"""What a study is asked where its user leaves something out: folds and airspeeds."""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from vlm.description.models import Biplane
    from vlm.description.schedule import Schedule

LATERAL_FOLDS, HINGE_FOLDS = 9, 7
LATERAL_SPEEDS, HINGE_SPEEDS = (0.8, 1.0, 1.4), 3
"""Folds in all, and airspeeds: over the one given, and in all."""
FASTEST_HINGE = 2.0
"""Highest airspeed of the hinges over the one given, where the schedule has no higher [1]."""
SCHEDULE_FOLDS, MISSION_FOLDS, DESIGN_FOLDS = 11, 7, 5
"""Folds in the table of trims, besides the flat and the named ones."""


LEAST_GUST, GREATEST_GUST = 0.01, 100.0
"""Speeds of a gust that may be asked for [m/s]."""


def default_folds(craft: "Biplane", count: int) -> tuple[float, ...]:
    """Symmetric folds over the limits of the file's tips, 0 among them [deg]."""
    if not craft.tips:
        return (0.0,)
    low, high = craft.fold_range_deg
    even = {round(low + (high - low) * i / (count - 1), 3) for i in range(count)}
    return tuple(sorted(even | ({0.0} if low <= 0.0 <= high else set())))


def speeds_around(airspeed: float, shares: tuple[float, ...]) -> tuple[float, ...]:
    """Airspeeds at some shares of one [m/s]."""
    return tuple(round(airspeed * share, 2) for share in shares)


def mode_speeds(schedule: "Schedule | None", airspeed: float) -> tuple[float, ...]:
    """Airspeeds of the modes around one: no slower and no faster than the file flies [m/s].

    The one asked for is among them, wherever it lies.
    """
    around = speeds_around(airspeed, LATERAL_SPEEDS)
    if schedule is None:
        return around
    low, high = schedule.on_the_wings_m_s
    low, high = min(low, airspeed), max(high, airspeed)
    return tuple(sorted({round(min(max(speed, low), high), 2) for speed in around}))


def hinge_speeds(schedule: "Schedule | None", airspeed: float) -> tuple[float, ...]:
    """Airspeeds from one to twice that, and at least to the fastest that the file flies [m/s]."""
    fastest = FASTEST_HINGE * airspeed
    if schedule is not None:
        fastest = max(fastest, schedule.airspeed_max_m_s)
    step = (fastest - airspeed) / (HINGE_SPEEDS - 1)
    return tuple(round(airspeed + step * i, 2) for i in range(HINGE_SPEEDS))


def some_of(folds: tuple[float, ...]) -> tuple[float, ...]:
    """At most six of some folds, evenly picked [deg]."""
    return folds[:: max(1, -(-len(folds) // 6))]
