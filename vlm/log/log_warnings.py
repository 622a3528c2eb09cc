"""Warnings about a log, beside its numbers, and powers that no craft can draw."""

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from vlm.description.log import FlightLogFormat
from vlm.errors import InputRefused
from vlm.findings import Finding
from vlm.log.points import SteadyPoints
from vlm.log.reading import FlightLog
from vlm.log.stated import Stated
from vlm.log.steady import SteadyFlight
from vlm.log.wind import AirData, Wind

COMMON_PRACTICE = "common practice"
MOST_REFUSED = 0.02
MOST_ONE_CRITERION = 0.5
LEAST_SEGMENTS = 6
# Share of the variance of "which configuration" that the time of flight explains, from which on
# configurations count as flown one after another.
IN_BLOCKS = 0.5
# Mean headings of two configurations this far apart, in lengths of a unit vector.
ONE_WAY = 0.5
# A power above the rotors' limit, or an energy above the battery's, by more than this is no
# scatter.
BEYOND = 1.1


@dataclass(frozen=True)
class Checked:
    """What warnings are looked for in.

    Attributes
    ----------
    battery_Wh : energy of the battery; None where it is not known
    how, log, steady, points, air, errors : of the study
    """

    battery_Wh: float | None
    how: FlightLogFormat
    log: FlightLog
    steady: SteadyFlight
    points: SteadyPoints | None
    air: AirData
    errors: Stated


def log_warnings(checked: Checked, unknown_labels: Mapping[str, int]) -> list[Finding]:
    """Warnings about rows, labels, segments, instruments, wind and the order of flying.

    Parameters
    ----------
    checked : the study so far
    unknown_labels : rows by label that ``log.modes`` does not know
    """
    log, wind, points = checked.log, checked.air.wind, checked.points
    return [
        *log.findings,
        *_rows(log),
        *_labels(unknown_labels, log),
        *_criteria(checked.steady),
        *_segments(checked.steady),
        *_unstated(checked),
        *(_offset(wind, checked.how, checked.errors) if wind is not None else ()),
        *(wind.findings if wind is not None else ()),
        *_energy(log, checked.battery_Wh),
        *(_climb(points) if points is not None else ()),
        *(_order(points) if points is not None else ()),
        *(_headings(points, checked) if points is not None else ()),
    ]


def refuse_impossible_power(
    log: FlightLog, points: SteadyPoints, power_max_W: float | None
) -> None:
    """Refuse a steady power that the craft's rotors cannot draw, or that is none.

    Raises
    ------
    InputRefused
        With what was found and what is possible.
    """
    mean = float(np.median(points.power_W))
    if mean <= 0.0:
        raise InputRefused(
            f"{log.path}: the power in steady flight is {mean:.3g} W; a craft in flight draws"
            " power. Does this logger count the current the other way (negated = true)?"
        )
    if power_max_W is not None and mean > BEYOND * power_max_W:
        raise InputRefused(
            f"{log.path}: the power in steady flight is {mean:.4g} W; the rotors of the file draw"
            f" {power_max_W:.4g} W at most. Is the unit of the current, voltage or power right?"
        )


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
            "log-labels-unknown", f"rows carry labels that log.modes does not name: {named}; share"
            " of the rows in use",
            100.0 * share, None, "%", "log.modes", "name them, if they were flown in a known fold",
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


def _unstated(checked: Checked) -> list[Finding]:
    """Which stated uncertainties had to be assumed, of those that matter to this log."""
    ground = checked.how.columns.airspeed.kind == "ground"
    seen_climb = checked.points is None or checked.points.climb_seen
    unused = {"wind_m_s"}
    if ground:
        unused = {"airspeed_offset_m_s", "airspeed_scale", "airspeed_by_configuration_m_s"}
    elif len({segment.configuration for segment in checked.steady.segments}) < 2:
        unused |= {"airspeed_by_configuration_m_s"}
    unused |= {"climb_m_s"} if seen_climb else set()
    if checked.air.wind is None:
        unused.add("heading_deg")
    missing = [key for key in checked.errors.assumed if key not in unused]
    if not missing:
        return []
    said = ", ".join(f"{key} = {getattr(checked.errors, key):g}" for key in missing)
    return [
        Finding(
            "log-uncertainty-unstated",
            f"log.uncertainty does not state all; assumed: {said}",
            None, None, "1", COMMON_PRACTICE,
            "state what you know of your instruments: intervals rest on it",
        )
    ]  # fmt: skip


def _offset(wind: Wind, how: FlightLogFormat, errors: Stated) -> list[Finding]:
    allowed = 2.0 * errors.airspeed_offset_m_s
    if not abs(wind.offset_m_s) > max(allowed, wind.offset_half_m_s):
        return []
    total = how.airspeed_offset_m_s + wind.offset_m_s
    return [
        Finding(
            "log-pitot-offset", "by the path over ground the pitot reads too"
            f" {'much' if wind.offset_m_s > 0.0 else 'little'}; the airspeed is corrected by it",
            abs(wind.offset_m_s), allowed, "m/s",
            "two standard uncertainties of log.uncertainty.airspeed_offset_m_s",
            f"check the pitot, or set log.airspeed_offset_m_s = {total:.2f}",
        )
    ]  # fmt: skip


def _energy(log: FlightLog, battery_Wh: float | None) -> list[Finding]:
    """Whether the battery could have held what was drawn, part by part."""
    if battery_Wh is None:
        return []
    power = log.cells.groupby("part")["power"].sum() * log.cell_s / 3600.0
    used = float(power.max())
    if used <= BEYOND * battery_Wh:
        return []
    return [
        Finding(
            "log-energy", "more energy was drawn than the battery holds", used, battery_Wh, "W h",
            "propulsion.battery_energy_Wh",
            "check scale and unit of the current; or were batteries changed?",
        )
    ]  # fmt: skip


def _climb(points: SteadyPoints) -> list[Finding]:
    if points.climb_seen:
        return []
    return [
        Finding(
            "log-climb-unseen", "the log tells no climb: power is not corrected for it, and"
            " intervals hold what log.uncertainty.climb_m_s allows", None, None, "1", "",
            "map altitude, climb_rate, velocity_down or pressure",
        )
    ]  # fmt: skip


def _order(points: SteadyPoints) -> list[Finding]:
    """Configurations that were flown one after another instead of by turns."""
    found = []
    for first, second in combinations(points.names, 2):
        rows = np.isin(points.configuration, (first, second))
        which = (points.configuration[rows] == first).astype(float)
        time = points.time_s[rows]
        if rows.sum() < 4 or np.ptp(time) == 0.0:
            continue
        share = float(np.corrcoef(which, time)[0, 1] ** 2)
        if share > IN_BLOCKS:
            found.append(
                Finding(
                    f"log-order-{first}-{second}",
                    f"{first} and {second} were flown one after another: a slow change of the air"
                    " or the battery looks like their difference, and widens its interval",
                    share, IN_BLOCKS, "1", COMMON_PRACTICE, "fly them by turns",
                )
            )  # fmt: skip
    return found


def _headings(points: SteadyPoints, checked: Checked) -> list[Finding]:
    """On ground speed, configurations flown in different directions."""
    if checked.how.columns.airspeed.kind != "ground" or not np.isfinite(points.north).all():
        return []
    found = []
    for first, second in combinations(points.names, 2):
        a, b = (
            np.array([side[points.configuration == name].mean() for side in
                      (points.north, points.east)])
            for name in (first, second)
        )  # fmt: skip
        apart = float(np.linalg.norm(a - b))
        if apart > ONE_WAY:
            found.append(
                Finding(
                    f"log-headings-{first}-{second}",
                    f"{first} and {second} were flown in different directions: on ground speed the"
                    " wind looks like their difference, and widens its interval",
                    apart, ONE_WAY, "1", COMMON_PRACTICE,
                    "fly both out and back, or with a pitot",
                )
            )  # fmt: skip
    return found
