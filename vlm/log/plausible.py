"""Whether a log can be what its block says: units, clock, signs, and sensors that stand still.

A slip of unit makes a table that looks like any other, and a sensor that stands still looks calm.
What cannot be a small craft in flight is refused, and where another unit would make it one, that
unit is named. The ranges are wide on purpose (common practice for craft of 0.1 to 100 kg).
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from vlm.constants import Floats
from vlm.description.log import FlightLogFormat
from vlm.description.log_columns import Column
from vlm.findings import Finding
from vlm.log.lines import LogLines

# A reading that does not move by the last digit for so long is a blocked pitot, a frozen sensor or
# a logger that repeats its last value (common practice).
STUCK_S = 10.0
STUCK_COLUMNS = ("airspeed", "power")
# A share of readings beyond what is possible from which on the rest is a biased sample.
MOST_IMPOSSIBLE, FEW_IMPOSSIBLE = 0.02, 10
COMMON_PRACTICE = "common practice"
LONGEST_FLIGHT_S = 86_400.0
INTERVALS_S = (2e-4, 30.0)
# A standard atmosphere's temperature is missed by no more than this outdoors (common practice).
WARMEST_K = 25.0


@dataclass(frozen=True)
class Range:
    """Least and highest typical size of a column in flight, SI."""

    low: float
    high: float

    def holds(self, value: float) -> bool:
        """Whether a value lies inside."""
        return self.low <= value <= self.high


# Of the median size over the time in which the craft moves.
IN_FLIGHT = {
    "airspeed": Range(2.0, 70.0),
    "ground_speed": Range(0.5, 100.0),
    "power": Range(1.0, 20_000.0),
    "voltage": Range(2.5, 130.0),
    "current": Range(0.05, 300.0),
    "altitude": Range(0.0, 9000.0),
    "climb_rate": Range(0.0, 20.0),
    "velocity_down": Range(0.0, 20.0),
    "pressure": Range(30_000.0, 110_000.0),
    "temperature": Range(225.0, 328.0),
    "rotor_speed": Range(30.0, 6000.0),
    "roll_rate": Range(0.0, 6.0),
    "pitch_rate": Range(0.0, 6.0),
    "yaw_rate": Range(0.0, 6.0),
    "roll": Range(0.0, 7.0),
    "pitch": Range(0.0, 7.0),
}


def refuse_the_implausible(
    lines: LogLines,
    cells: pd.DataFrame,
    how: FlightLogFormat,
    interval_s: float,
    cell_s: float,
    wild: Mapping[str, float],
) -> None:
    """Refuse a log whose clock, units or signs cannot be those of a flight.

    Parameters
    ----------
    lines : the file, for messages
    cells : averaged over time, SI
    how : the block ``[log]``
    interval_s, cell_s : typical time between two rows, length of a cell [s]
    wild : typical readings beyond what is possible, as written, by column

    Raises
    ------
    InputRefused
        With the key, what was found, and the unit or sign that would fit.
    """
    _clock(lines, cells, how, interval_s, cell_s)
    moving = moving_cells(cells)
    for key, column in how.columns.numbers.items():
        _impossible(lines, key, column, wild)
        if key in cells and cells[key].notna().any():
            _column(lines, key, column, cells[key].to_numpy(dtype=np.float64)[moving])
    power = cells["power"].to_numpy(dtype=np.float64)[moving]
    power = power[np.isfinite(power)]
    if power.size and float(np.median(power)) <= 0.0:
        which = "current" if how.columns.power is None else "power"
        counted = how.columns.current if how.columns.power is None else how.columns.power
        other = "false" if counted is not None and counted.negated else "true"
        raise lines.refusal(
            f"the power is {float(np.median(power)):.3g} W (median of the time in motion); a craft"
            f" in flight draws power. Does this logger count the {which} the other way? Then set"
            f" log.columns.{which}.negated = {other}."
        )


def moving_cells(cells: pd.DataFrame) -> NDArray[np.bool_]:
    """Where the craft moves through the air, shape (cells): above half of its usual airspeed."""
    speed = cells["airspeed"].to_numpy(dtype=np.float64)
    known = speed[np.isfinite(speed)]
    fast = float(np.percentile(known, 80.0)) if known.size else 0.0
    moving = np.nan_to_num(speed, nan=-1.0) > 0.5 * fast
    return moving if moving.any() else np.ones(speed.size, dtype=bool)


def _clock(
    lines: LogLines, cells: pd.DataFrame, how: FlightLogFormat, interval_s: float, cell_s: float
) -> None:
    column = how.columns.time
    # A single wild time makes no long flight: what counts is the time that holds rows.
    duration = len(cells) * cell_s
    low, high = INTERVALS_S
    if (
        column.unit == "stamp"
        or np.isnan(interval_s)
        or (low <= interval_s <= high and duration <= LONGEST_FLIGHT_S)
    ):
        return
    factor = column.SCALES[column.unit][0]
    fitting = [
        unit
        for unit, (other, _) in column.SCALES.items()
        if unit != "stamp"
        and low <= interval_s * other / factor <= high
        and 5.0 <= duration * other / factor <= LONGEST_FLIGHT_S
    ]
    raise lines.refusal(
        f'log.columns.time.unit = "{column.unit}"; then a row comes each {interval_s:.3g} s and the'
        f" log lasts {duration / 60.0:.4g} min, which is no flight.{_likely(fitting)}"
    )


def _likely(units: list[str]) -> str:
    if not units:
        return ""
    return f" The unit is likely {' or '.join(chr(34) + unit + chr(34) for unit in units)}."


def likely_unit(key: str, column: Column, written: float) -> str:
    """The units that would make a reading one of a flight, in words; "" where none does.

    Parameters
    ----------
    key : of the column in ``[log.columns]``
    column : as the file states it
    written : a typical reading, as it stands in the log
    """
    kind = "rotor_speed" if key.startswith("rotor_speed") else key
    if kind not in IN_FLIGHT:
        return ""
    fitting = [
        unit
        for unit, (factor, offset) in column.SCALES.items()
        if unit != column.unit and IN_FLIGHT[kind].holds(abs(factor * written + offset))
    ]
    return _likely(fitting)


def _impossible(lines: LogLines, key: str, column: Column, wild: Mapping[str, float]) -> None:
    """Refuse where readings beyond the possible are so many that the rest is a biased sample."""
    refused = lines.tally.refused.get(f"impossible value in {column.name}")
    rows = lines.tally.used + lines.tally.refused_count
    few = refused is None or refused.count <= max(MOST_IMPOSSIBLE * rows, FEW_IMPOSSIBLE)
    if refused is None or few or lines.tally.used == 0:
        return
    raise lines.refusal(
        f"{refused.count} of {rows} rows hold an impossible value in {column.name}"
        f" ({refused.sentence()}); what is left would be a biased sample. Is"
        f' log.columns.{key}.unit = "{column.unit}" right?'
        f"{likely_unit(key, column, wild.get(key, float('nan')))}"
    )


def _column(lines: LogLines, key: str, column: Column, values: Floats) -> None:
    kind = "rotor_speed" if key.startswith("rotor_speed") else key
    if kind not in IN_FLIGHT:
        return
    values = np.abs(values[np.isfinite(values)])
    if values.size == 0:
        return
    typical = float(np.median(values))
    if IN_FLIGHT[kind].holds(typical):
        return
    if typical == 0.0 and kind not in ("airspeed", "power", "current", "voltage"):
        return  # an unused rotor, a rate that is never logged
    factor, offset = column.SCALES[column.unit]
    fitting = [
        unit
        for unit, (other, shift) in column.SCALES.items()
        if IN_FLIGHT[kind].holds(abs((typical - offset) / factor * other + shift))
    ]
    raise lines.refusal(
        f'log.columns.{key}.unit = "{column.unit}"; then {column.name} is typically'
        f" {typical:.4g} {_SI.get(kind, '')} in flight, which no small craft shows"
        f" ({IN_FLIGHT[kind].low:g} to {IN_FLIGHT[kind].high:g}).{_likely(fitting)}"
    )


_SI = {
    "airspeed": "m/s", "ground_speed": "m/s", "power": "W", "voltage": "V", "current": "A",
    "altitude": "m", "climb_rate": "m/s", "velocity_down": "m/s", "pressure": "Pa",
    "temperature": "K", "rotor_speed": "rad/s", "roll_rate": "rad/s", "pitch_rate": "rad/s",
    "yaw_rate": "rad/s", "roll": "rad", "pitch": "rad",
}  # fmt: skip


def without_stuck_readings(
    cells: pd.DataFrame, cell_s: float
) -> tuple[pd.DataFrame, list[Finding]]:
    """Airspeed and power taken out where they stand still; what never moves at all is dropped.

    Parameters
    ----------
    cells : averaged over time
    cell_s : length of a cell [s]
    """
    findings = []
    changed = {}
    for key in STUCK_COLUMNS:
        values = cells[key].to_numpy(dtype=np.float64).copy()
        sensors = [name for name in ("current",) if key == "power" and name in cells]
        stuck = np.zeros(values.size, dtype=bool)
        for name in (key, *sensors):
            stuck |= _standing(cells[name].to_numpy(dtype=np.float64), STUCK_S / cell_s)
        if stuck.any():
            line = int(cells["first_line"].to_numpy()[stuck][0])
            findings.append(_stuck(key, line, float(stuck.sum()) * cell_s))
            values[stuck] = np.nan
            changed[key] = values
    cells = cells.assign(**changed)
    for key in ("altitude", "climb_rate", "heading", "track", "roll", "ground_speed", "pressure"):
        if key in cells and len(cells) * cell_s > 3.0 * STUCK_S and _never_moves(cells[key]):
            cells = cells.drop(columns=key)
            findings.append(_dead(key, len(cells) * cell_s))
    return cells, findings


def _standing(values: Floats, cells: float) -> NDArray[np.bool_]:
    """Cells of stretches in which a moving reading repeats itself for too long."""
    same = (np.diff(values) == 0.0) & (values[1:] != 0.0)
    edges = np.flatnonzero(np.diff(np.concatenate(([0], same.astype(np.int8), [0]))))
    stuck = np.zeros(values.size, dtype=bool)
    for first, end in zip(edges[0::2], edges[1::2], strict=True):
        if end - first >= cells:
            stuck[first : end + 1] = True
    return stuck


def _never_moves(values: pd.Series) -> bool:
    known = values.dropna()
    return len(known) > 1 and float(known.max() - known.min()) == 0.0


def _stuck(key: str, line: int, seconds: float) -> Finding:
    return Finding(
        f"log-{key}-stuck",
        f"the {key} stands still for a time (from line {line} on) and is left out there",
        seconds,
        STUCK_S,
        "s",
        "common practice: a sensor in flight always moves a little",
        "look at the sensor, and at what the logger writes when a reading is missing",
    )


def _dead(key: str, seconds: float) -> Finding:
    return Finding(
        f"log-{key}-stuck",
        f"the {key} never changes and counts as not logged",
        seconds,
        STUCK_S,
        "s",
        COMMON_PRACTICE,
        "look at the sensor, or take the column out of log.columns",
    )


def temperature_warnings(cells: pd.DataFrame, how: FlightLogFormat) -> list[Finding]:
    """A warning where the temperature is far from the standard atmosphere's."""
    if "temperature" not in cells or not cells["temperature"].notna().any():
        return []
    height = cells["altitude"].mean() + how.altitude_zero_m if "altitude" in cells else 0.0
    away = float(cells["temperature"].median() - (288.15 - 0.0065 * np.nan_to_num(height)))
    if abs(away) <= WARMEST_K:
        return []
    side = "warmer" if away > 0.0 else "colder"
    return [
        Finding(
            "log-temperature", f"the air is far {side} than the standard atmosphere; the density's"
            " uncertainty is widened by the difference", abs(away), WARMEST_K, "K",
            COMMON_PRACTICE, "check that the sensor is not heated by motors or the sun",
        )
    ]  # fmt: skip


def temperature_share(findings: tuple[Finding, ...]) -> float:
    """Standard uncertainty of the density that a questionable temperature adds [1]."""
    away = [abs(f.value or 0.0) for f in findings if f.code == "log-temperature"]
    return max(away) / 288.15 if away else 0.0
