"""What is doubtful about a log, beside its numbers."""

from collections.abc import Mapping

from vlm.description.log import FlightLogFormat
from vlm.findings import Finding
from vlm.log.reading import FlightLog
from vlm.log.steady import SteadyFlight
from vlm.log.wind import Wind

COMMON_PRACTICE = "common practice"
MOST_REFUSED = 0.02
MOST_ONE_CRITERION = 0.5
LEAST_SEGMENTS = 6


def log_doubts(
    mass_kg: float | None,
    how: FlightLogFormat,
    log: FlightLog,
    steady: SteadyFlight,
    unknown_labels: Mapping[str, int],
    wind: Wind | None,
) -> list[Finding]:
    """Doubts about rows, labels, segments, instruments and wind.

    Parameters
    ----------
    mass_kg : mass of the craft; None without ``[mass]``
    how : the block ``[log]``
    log, steady : the log and its segments
    unknown_labels : rows by label that ``log.modes`` does not know
    wind : None where the log does not tell
    """
    return [
        *log.findings,
        *_rows(log),
        *_labels(unknown_labels, log),
        *_criteria(steady),
        *_segments(steady),
        *_unstated(how, mass_kg),
        *(_offset(wind, how) if wind is not None else ()),
        *(wind.findings if wind is not None else ()),
    ]


def _rows(log: FlightLog) -> list[Finding]:
    share = log.tally.refused_count / max(log.tally.refused_count + log.tally.used, 1)
    if share <= MOST_REFUSED:
        return []
    return [
        Finding(
            "log-rows-refused", "many rows could not be used", 100.0 * share, 100.0 * MOST_REFUSED,
            "%", COMMON_PRACTICE, "look at the lines named above",
        )
    ]  # fmt: skip


def _labels(unknown: Mapping[str, int], log: FlightLog) -> list[Finding]:
    if not unknown:
        return []
    named = ", ".join(f'"{label}" ({rows})' for label, rows in list(unknown.items())[:8])
    share = sum(unknown.values()) / max(log.tally.used, 1)
    return [
        Finding(
            "log-labels-unknown", f"rows carry labels that log.modes does not name: {named}",
            100.0 * share, 0.0, "%", "log.modes", "name them, if they were flown in a known fold",
        )
    ]  # fmt: skip


def _criteria(steady: SteadyFlight) -> list[Finding]:
    return [
        Finding(
            f"log-criterion-{name}", f"much of the log is left out by the criterion {name}",
            100.0 * share, 100.0 * MOST_ONE_CRITERION, "%", COMMON_PRACTICE,
            "look at the time plot; fly longer steady legs, or widen log.steady",
        )
        for name, share in steady.shares().items()
        if name != "steady" and share > MOST_ONE_CRITERION
    ]  # fmt: skip


def _segments(steady: SteadyFlight) -> list[Finding]:
    count: dict[str, int] = {}
    for segment in steady.segments:
        count[segment.configuration] = count.get(segment.configuration, 0) + 1
    return [
        Finding(
            f"log-few-segments-{name}",
            f"the scatter between segments of {name} rests on few of them",
            float(number), float(LEAST_SEGMENTS), "1", COMMON_PRACTICE,
            "fly each speed twice or more, in mixed order and on different headings",
        )
        for name, number in count.items()
        if number < LEAST_SEGMENTS
    ]  # fmt: skip


def _unstated(how: FlightLogFormat, mass_kg: float | None) -> list[Finding]:
    stated = how.uncertainty
    missing = [
        f"log.uncertainty.{key}"
        for key in ("airspeed_offset_m_s", "power_share", "rising_air_m_s")
        if getattr(stated, key) is None
    ]
    if how.climb_efficiency is None:
        missing.append("log.climb_efficiency")
    elif mass_kg is None:
        missing.append("mass")
    if not missing:
        return []
    return [
        Finding(
            "log-uncertainty-unstated",
            f"not stated, so taken as exact, or not corrected for: {', '.join(missing)}",
            float(len(missing)), 0.0, "1", "the geometry file",
            "state them: without them an interval holds scatter alone and is too narrow",
        )
    ]  # fmt: skip


def _offset(wind: Wind, how: FlightLogFormat) -> list[Finding]:
    low, high = wind.offset_interval_m_s
    allowed = 2.0 * (how.uncertainty.airspeed_offset_m_s or 0.0)
    if low <= 0.0 <= high or abs(wind.offset_m_s) <= allowed:
        return []
    total = how.airspeed_offset_m_s + wind.offset_m_s
    return [
        Finding(
            "log-pitot-offset", "by the path over ground the pitot reads too much (too little if"
            " negative)", wind.offset_m_s, allowed, "m/s",
            "two standard uncertainties of log.uncertainty.airspeed_offset_m_s",
            f"check the pitot, or set log.airspeed_offset_m_s = {total:.2f}",
        )
    ]  # fmt: skip
