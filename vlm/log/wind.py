"""The wind, and what the pitot reads too much, from the path over ground.

Over ground the craft moves with its velocity through the air plus the wind. Flown on several
headings, the wind shows as the difference between them, and a pitot's offset as what is left of
airspeed against ground speed on all headings alike:

    with heading:     V_ground = (V - offset) (cos heading, sin heading) + wind     (linear)
    without heading:  |V_ground - wind| = V - offset                                (a circle)

V is what the pitot read, turned into true airspeed; north and east are the components. The craft
is taken to fly without sideslip, and the wind to be the same all through a part of the log.
"""

from dataclasses import dataclass

import numpy as np
from scipy.optimize import least_squares
from scipy.stats import t as student

from vlm.constants import Floats
from vlm.description.log import FlightLogFormat
from vlm.findings import Finding
from vlm.log.air_data import true_over_read
from vlm.log.cells import column
from vlm.log.reading import FlightLog
from vlm.log.steady import SteadyFlight

# On headings that all lie within a right angle the wind along them and the offset look alike
# (common practice: fly a triangle or a box).
NARROW_DEG = 90.0
UNKNOWNS = 3


@dataclass(frozen=True)
class Wind:
    """Wind and pitot offset over a log; intervals are at the level asked for.

    Attributes
    ----------
    north_m_s, east_m_s : the air's velocity
    speed_m_s : the wind's speed
    from_deg : the direction it blows from, clockwise from north
    speed_error_m_s : half-width of the interval of each component
    offset_m_s : what the instrument reads too much, as it reads (indicated or true), beside
        ``log.airspeed_offset_m_s``
    offset_interval_m_s : its interval
    segments : how many steady segments it was found from
    spread_deg : the range of directions flown
    used_heading : whether the heading was used, or speeds alone
    findings : doubts
    """

    north_m_s: float
    east_m_s: float
    speed_m_s: float
    from_deg: float
    speed_error_m_s: float
    offset_m_s: float
    offset_interval_m_s: tuple[float, float]
    segments: int
    spread_deg: float
    used_heading: bool
    findings: tuple[Finding, ...]


def wind_and_offset(
    log: FlightLog, how: FlightLogFormat, steady: SteadyFlight, level: float
) -> Wind | None:
    """Least squares over the steady segments; one segment counts as one observation.

    Parameters
    ----------
    log : a log as read
    how : the block ``[log]``
    steady : its segments
    level : of the intervals

    Returns
    -------
    None where the log has no pitot, no ground speed and track, or too few segments.
    """
    on_ground_speed = how.columns.airspeed.kind == "ground"
    if on_ground_speed or "ground_speed" not in log.cells or "track" not in log.cells:
        return None
    means = _segment_velocities(log, steady)
    if means.shape[0] <= UNKNOWNS:
        return None
    used_heading = bool(np.isfinite(means[:, 3:]).all())
    ground, airspeed = means[:, :2], means[:, 2]
    if used_heading:
        found, covariance, freedom = _by_heading(ground, airspeed, means[:, 3:])
    else:
        found, covariance, freedom = _by_speeds(ground, airspeed)
    factor = float(student.ppf(0.5 + 0.5 * level, freedom))
    half = factor * np.sqrt(np.diag(covariance))
    north, east, true_offset = (float(value) for value in found)
    per_reading = float(np.mean(true_over_read(column(log.cells, "density"), how)))
    offset, offset_half = true_offset / per_reading, float(half[2]) / per_reading
    spread = direction_spread_deg(np.arctan2(ground[:, 1], ground[:, 0]))
    return Wind(
        north_m_s=north,
        east_m_s=east,
        speed_m_s=float(np.hypot(north, east)),
        from_deg=float(np.degrees(np.arctan2(-east, -north)) % 360.0),
        speed_error_m_s=float(np.max(half[:2])),
        offset_m_s=offset,
        offset_interval_m_s=(offset - offset_half, offset + offset_half),
        segments=int(means.shape[0]),
        spread_deg=spread,
        used_heading=used_heading,
        findings=tuple(_doubts(spread)),
    )


def _segment_velocities(log: FlightLog, steady: SteadyFlight) -> Floats:
    """Of each segment: ground velocity north and east, airspeed, cosine and sine of heading."""
    cells = log.cells
    track, speed = column(cells, "track"), column(cells, "ground_speed")
    heading = column(cells, "heading") if "heading" in cells else np.full(track.size, np.nan)
    table = np.column_stack(
        (
            speed * np.cos(track),
            speed * np.sin(track),
            column(cells, "airspeed"),
            np.cos(heading),
            np.sin(heading),
        )
    )
    rows = []
    for segment in steady.segments:
        part = table[segment.first : segment.last + 1]
        part = part[np.isfinite(part[:, :3]).all(axis=1)]
        if part.shape[0]:
            rows.append(part.mean(axis=0))
    means = np.array(rows).reshape(-1, table.shape[1])
    length = np.hypot(means[:, 3], means[:, 4])
    means[:, 3:] /= np.where(length > 0.0, length, 1.0)[:, None]
    return means


def _by_heading(ground: Floats, airspeed: Floats, nose: Floats) -> tuple[Floats, Floats, int]:
    """Linear least squares for wind north, wind east and offset."""
    count = airspeed.size
    matrix = np.zeros((2 * count, UNKNOWNS))
    matrix[:count, 0] = matrix[count:, 1] = 1.0
    matrix[:count, 2], matrix[count:, 2] = -nose[:, 0], -nose[:, 1]
    seen = (ground - airspeed[:, None] * nose).T.ravel()
    found, *_ = np.linalg.lstsq(matrix, seen, rcond=None)
    rest = seen - matrix @ found
    freedom = 2 * count - UNKNOWNS
    spread = np.linalg.pinv(matrix.T @ matrix) * float(rest @ rest) / freedom
    return np.asarray(found, dtype=np.float64), spread, freedom


def _by_speeds(ground: Floats, airspeed: Floats) -> tuple[Floats, Floats, int]:
    """The same by speeds alone: ground velocities lie on circles round the wind."""

    def misfit(x: Floats) -> Floats:
        away = np.hypot(ground[:, 0] - x[0], ground[:, 1] - x[1])
        return np.asarray(away - (airspeed - x[2]), dtype=np.float64)

    start = np.array([*ground.mean(axis=0) * 0.1, 0.0])
    answer = least_squares(misfit, start)
    freedom = airspeed.size - UNKNOWNS
    scatter = float(answer.fun @ answer.fun) / freedom
    slopes = np.asarray(answer.jac, dtype=np.float64)
    spread = np.asarray(np.linalg.pinv(slopes.T @ slopes) * scatter, dtype=np.float64)
    return answer.x, spread, freedom


def direction_spread_deg(direction: Floats) -> float:
    """Smallest arc that holds all directions [deg].

    Parameters
    ----------
    direction : shape (any) [rad]
    """
    sorted_ = np.sort(np.degrees(direction) % 360.0)
    gaps = np.diff(np.concatenate((sorted_, [sorted_[0] + 360.0])))
    return float(360.0 - gaps.max())


def _doubts(spread: float) -> list[Finding]:
    if spread >= NARROW_DEG:
        return []
    return [
        Finding(
            "log-wind-narrow",
            "the directions flown span too small an arc to tell the wind from a pitot's offset",
            spread,
            NARROW_DEG,
            "deg",
            "common practice",
            "fly steady legs on three or more headings round the compass",
        )
    ]
