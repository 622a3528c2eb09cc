"""Reading a flight log: rows to cells, with every row accounted for."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd

from vlm.description.log import FlightLogFormat
from vlm.errors import InputRefused
from vlm.findings import Finding
from vlm.log.air_data import DensitySource, density, pressure_altitude, true_airspeed
from vlm.log.cells import (
    FAST,
    FEWEST_ROWS_A_CELL,
    CellAverager,
    cell_length,
    column,
    typical_interval,
)
from vlm.log.clock import Clock
from vlm.log.joining import filled, joined
from vlm.log.lines import LogLines, Progress
from vlm.log.plausible import (
    likely_unit,
    refuse_the_implausible,
    temperature_warnings,
    without_stuck_readings,
)
from vlm.log.rows import RowTally
from vlm.log.table import LogTable

# A column that most rows leave empty is written more slowly than the rows.
MOST_DROPPED_OUT = 0.4


@dataclass(frozen=True)
class FlightLog:
    """A log as read: averaged over cells, in SI units and radians.

    Attributes
    ----------
    path : the file
    cells : one row a cell, in order of time: ``part``, ``cell``, ``time`` [s], ``rows``,
        ``first_line``, ``last_line``, ``airspeed`` (true) [m/s], ``power`` [W], ``density``
        [kg/m^3], ``mode`` or ``fold_left`` and ``fold_right`` [rad] as the log has them, and the
        other quantities of ``[log.columns]``
    cell_s : length of a cell [s]
    interval_s : typical time between two rows [s]
    tally : the book-keeping of the rows
    density_source : what the density was made from
    findings : what is questionable about the log as a whole
    """

    path: Path
    cells: pd.DataFrame
    cell_s: float
    interval_s: float
    tally: RowTally
    density_source: DensitySource
    findings: tuple[Finding, ...]

    @property
    def duration_s(self) -> float:
        """Time covered by cells [s]."""
        return self.cell_s * len(self.cells)


def read_log(
    path: Path | Sequence[Path], how: FlightLogFormat, progress: Progress | None = None
) -> FlightLog:
    """Read a log in blocks of bounded size.

    Parameters
    ----------
    path : the CSV file; or several, of different rates, that share a clock
    how : the block ``[log]`` of the geometry file
    progress : called with the number of bytes read since the last call

    Raises
    ------
    InputRefused
        If a file is missing, empty, no table with the stated columns, holds no row or only one,
        or what it holds cannot be a flight.
    """
    paths = [path] if isinstance(path, Path) else list(path)
    tally = RowTally()
    whole = len(paths) == 1
    wanted = how.cell_s if whole else max(_length_of_cells(one, how) for one in paths)
    pieces, held, wild, intervals = [], set[str](), dict[str, float](), list[float]()
    for one in paths:
        lines = LogLines(one, how, tally)
        table = LogTable(lines, how, whole=whole)
        if held & table.keys - {"mode"}:
            twice = ", ".join(sorted(held & table.keys))
            raise lines.refusal(f"{twice} stands in more than one of the tables; leave one out.")
        held |= table.keys
        averager = CellAverager(wanted, fixed=not whole)
        pieces.append(averager.averaged(_ordered(table, how, tally, progress)))
        wild |= table.wild
        intervals.append(averager.interval_s)
        if not whole and len(pieces[-1]) and int(pieces[-1]["part"].max()):
            raise lines.refusal("its clock is set back; tables to be joined need one clock.")
    _refuse_what_is_missing(paths, how, held)
    interval, cell_s = float(np.nanmin([*intervals, np.inf])), averager.length_s
    interval = interval if np.isfinite(interval) else float("nan")
    cells = filled(joined(pieces), cell_s) if all(map(len, pieces)) else pieces[0]
    _refuse_the_useless(lines, cells, how, wild)
    cells = _completed(cells)
    for key, name in (("airspeed", how.columns.airspeed.name), ("power", "power")):
        if not cells[key].notna().any():
            raise lines.refusal(f"the log holds no {key} at all (column {name}).")
    refuse_the_implausible(lines, cells, how, interval, cell_s, wild)
    cells, stuck = without_stuck_readings(cells, cell_s)
    for key in ("airspeed", "power"):
        if not cells[key].notna().any():
            raise lines.refusal(
                f"the {key} stands still all through the log: the sensor is dead, or another column"
                " is meant."
            )
    air, source = density(cells, how)
    findings = [*_density_warnings(source), *stuck, *temperature_warnings(cells, how)]
    reading = cells["airspeed"].to_numpy(dtype=np.float64)
    cells = cells.assign(density=air, airspeed=true_airspeed(reading, air, how))
    if "pressure" in cells:
        cells = cells.assign(pressure_altitude=pressure_altitude(cells))
    return FlightLog(paths[0], cells, cell_s, interval, tally, source, tuple(findings))


def _length_of_cells(path: Path, how: FlightLogFormat) -> float:
    """Cells that a table's own rate asks for [s], from its first block."""
    table = LogTable(LogLines(path, how, RowTally()), how, whole=False)
    first = next(table.blocks(), None)
    if first is None or len(first) < 2:
        return how.cell_s
    interval = typical_interval(column(first, "time"))
    fast = any(key in first for key in FAST)
    return max(cell_length(first, how.cell_s), FEWEST_ROWS_A_CELL * interval if fast else 0.0)


def _refuse_what_is_missing(paths: Sequence[Path], how: FlightLogFormat, held: set[str]) -> None:
    """Every column of the block stands in one of the tables."""
    wanted = {key: column.name for key, column in how.columns.numbers.items()}
    if how.columns.mode is not None:
        wanted["mode"] = how.columns.mode.name
    for key, name in wanted.items():
        if key not in held:
            files = ", ".join(path.name for path in paths)
            raise InputRefused(f'none of {files} has a column "{name}" (log.columns.{key}).')


def _ordered(
    table: LogTable, how: FlightLogFormat, tally: RowTally, progress: Progress | None
) -> Iterator[pd.DataFrame]:
    """Rows in order of time, each with its power and its velocity over ground."""
    clock = Clock(tally)
    label = ""
    for frame in table.blocks(progress):
        rows = clock.ordered(frame)
        if len(rows) == 0:
            continue
        tally.used += len(rows)
        if "voltage" in rows and "current" in rows:
            rows = rows.assign(power=rows["voltage"] * rows["current"])
        if "mode" in rows:
            # A label stands until the next one: many recorders write it on change alone.
            held = rows["mode"].replace("", np.nan).ffill().fillna(label)
            label = str(held.iloc[-1])
            rows = rows.assign(mode=held)
        line = rows["line"].to_numpy()
        if "power" in rows:
            tally.note("power negative (charging in flight)", line[rows["power"].to_numpy() < 0.0])
        for key in ("airspeed", "power"):
            if key not in rows:
                continue
            missing = rows[key].isna().to_numpy()
            # A column that is written more slowly than the rows has no drop-outs for that.
            if missing.mean() < MOST_DROPPED_OUT:
                tally.note(f"no {key} (a drop-out)", line[missing])
        yield _with_velocity(rows, how)
    clock.end()


def _with_velocity(rows: pd.DataFrame, how: FlightLogFormat) -> pd.DataFrame:
    """Velocity over ground by its parts, which average as speed and direction do not."""
    speed = "airspeed" if how.columns.airspeed.kind == "ground" else "ground_speed"
    if "velocity_north" in rows or speed not in rows or "track" not in rows:
        return rows
    over_ground, track = rows[speed], rows["track"]
    return rows.assign(
        velocity_north=over_ground * np.cos(track), velocity_east=over_ground * np.sin(track)
    )


def _completed(cells: pd.DataFrame) -> pd.DataFrame:
    """Cells with what follows from their columns: power, climb, ground speed and track."""
    if "voltage" in cells and "current" in cells:
        if "power" not in cells:
            cells = cells.assign(power=np.nan)
        # Voltage and current may stand in different rows of one cell.
        product = cells["voltage"] * cells["current"]
        cells = cells.assign(power=cells["power"].fillna(product))
    if "velocity_north" in cells:
        north, east = cells["velocity_north"], cells["velocity_east"]
        if "ground_speed" not in cells:
            cells = cells.assign(ground_speed=np.hypot(north, east))
        if "track" not in cells:
            cells = cells.assign(track=np.arctan2(east, north))
    if "velocity_down" in cells and "climb_rate" not in cells:
        cells = cells.assign(climb_rate=-cells["velocity_down"])
    return cells


def _refuse_the_useless(
    lines: LogLines, cells: pd.DataFrame, how: FlightLogFormat, wild: Mapping[str, float]
) -> None:
    tally = lines.tally
    rows = tally.lines - tally.preamble - tally.comments - tally.blank
    if rows == 0:
        raise lines.refusal("the file has a header but no rows.")
    if tally.used == 0:
        reasons = "; ".join(f"{why}: {r.count}, {r.sentence()}" for why, r in tally.refused.items())
        no_number = any("no number" in why for why in tally.refused)
        remedy = _decimal_mark_remedy(how) if no_number else ""
        for key, column in how.columns.numbers.items():
            if key in wild:
                remedy += likely_unit(key, column, wild[key])
        raise lines.refusal(f"none of its {rows} rows could be used ({reasons}).{remedy}")
    if tally.used == 1:
        raise lines.refusal("the file has one usable row; a flight needs many.")
    if cells["airspeed"].notna().any() and not (cells["airspeed"].abs() > 0.0).any():
        raise lines.refusal(
            f"the airspeed ({how.columns.airspeed.name}) is zero in every row: a dead pitot, or"
            " another column is meant (log.columns.airspeed)."
        )


def _decimal_mark_remedy(how: FlightLogFormat) -> str:
    other = "." if how.decimal == "," else ","
    return f' Is the decimal mark "{other}"? Then set log.decimal = "{other}".'


def _density_warnings(source: DensitySource) -> list[Finding]:
    if source != "standard sea level, assumed":
        return []
    return [
        Finding(
            "log-density-assumed",
            "the log holds neither pressure nor altitude; density is taken as at sea level",
            None,
            None,
            "1",
            "",
            "map pressure and temperature, or altitude, or set log.density_kg_m3",
        )
    ]
