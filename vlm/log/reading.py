"""Reading a flight log: rows to cells, with every row accounted for."""

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd

from vlm.description.log import FlightLogFormat
from vlm.findings import Finding
from vlm.log.air_data import DensitySource, density, true_airspeed
from vlm.log.cells import CellAverager
from vlm.log.clock import Clock
from vlm.log.lines import LogLines, Progress
from vlm.log.rows import RowTally
from vlm.log.table import LogTable

# An airspeed that does not move by the last digit for so long is a blocked pitot or a logger that
# repeats its last value (common practice).
STUCK_S = 10.0


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
    findings : what is doubtful about the log as a whole
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


def read_log(path: Path, how: FlightLogFormat, progress: Progress | None = None) -> FlightLog:
    """Read a log in blocks of bounded size.

    Parameters
    ----------
    path : the CSV file
    how : the block ``[log]`` of the geometry file
    progress : called with the number of bytes read since the last call

    Raises
    ------
    InputRefused
        If the file is missing, empty, no table with the stated columns, holds no row or only one,
        or has an airspeed that never leaves zero.
    """
    tally = RowTally()
    lines = LogLines(path, how, tally)
    table = LogTable(lines, how)
    averager = CellAverager(how.cell_s)
    cells = averager.averaged(_ordered(table, tally, progress))
    _refuse_the_useless(lines, cells, how)
    air, source = density(cells, how)
    findings = [*_density_doubts(source), *_stuck_airspeed(cells, averager.length_s)]
    reading = cells["airspeed"].to_numpy(dtype=np.float64)
    cells = cells.assign(density=air, airspeed=true_airspeed(reading, air, how))
    return FlightLog(
        path, cells, averager.length_s, averager.interval_s, tally, source, tuple(findings)
    )


def _ordered(table: LogTable, tally: RowTally, progress: Progress | None) -> Iterator[pd.DataFrame]:
    """Rows in order of time, each with its power."""
    clock = Clock(tally)
    for frame in table.blocks(progress):
        rows = clock.ordered(frame)
        if len(rows) == 0:
            continue
        tally.used += len(rows)
        if "voltage" in rows and "current" in rows:
            rows = rows.assign(power=rows["voltage"] * rows["current"])
        line = rows["line"].to_numpy()
        tally.note("power negative (charging in flight)", line[rows["power"].to_numpy() < 0.0])
        for key in ("airspeed", "power"):
            tally.note(f"no {key} (a drop-out)", line[rows[key].isna().to_numpy()])
        yield rows
    clock.end()


def _refuse_the_useless(lines: LogLines, cells: pd.DataFrame, how: FlightLogFormat) -> None:
    tally = lines.tally
    rows = tally.lines - tally.preamble - tally.comments - tally.blank
    if rows == 0:
        raise lines.refusal("the file has a header but no rows.")
    if tally.used == 0:
        reasons = "; ".join(f"{why}: {r.count}, {r.sentence()}" for why, r in tally.refused.items())
        cure = _decimal_mark_cure(how) if any("no number" in why for why in tally.refused) else ""
        raise lines.refusal(f"none of its {rows} rows could be used ({reasons}).{cure}")
    if tally.used == 1:
        raise lines.refusal("the file has one usable row; a flight needs many.")
    for key, column in (("airspeed", how.columns.airspeed.name), ("power", "power")):
        if not cells[key].notna().any():
            raise lines.refusal(f"the log holds no {key} at all (column {column}).")
    if not (cells["airspeed"].abs() > 0.0).any():
        raise lines.refusal(
            f"the airspeed ({how.columns.airspeed.name}) is zero in every row: a dead pitot, or"
            " another column is meant (log.columns.airspeed)."
        )


def _decimal_mark_cure(how: FlightLogFormat) -> str:
    other = "." if how.decimal == "," else ","
    return f' Is the decimal mark "{other}"? Then set log.decimal = "{other}".'


def _density_doubts(source: DensitySource) -> list[Finding]:
    if source != "standard sea level, assumed":
        return []
    return [
        Finding(
            "log-density-assumed",
            "the log holds neither pressure nor altitude; density is taken as at sea level",
            0.0,
            1.0,
            "1",
            "number of air data columns needed",
            "map pressure and temperature, or altitude, or set log.density_kg_m3",
        )
    ]


def _stuck_airspeed(cells: pd.DataFrame, cell_s: float) -> list[Finding]:
    """A doubt about the longest stretch in which a moving craft's airspeed never changes."""
    airspeed = cells["airspeed"].to_numpy()
    same = (np.diff(airspeed) == 0.0) & (airspeed[1:] != 0.0)
    edges = np.flatnonzero(np.diff(np.concatenate(([0], same.astype(np.int8), [0]))))
    lengths = edges[1::2] - edges[0::2]
    longest = float(lengths.max()) * cell_s if lengths.size else 0.0
    if longest < STUCK_S:
        return []
    line = int(cells["first_line"].iloc[edges[0::2][np.argmax(lengths)]])
    return [
        Finding(
            "log-airspeed-stuck",
            f"the airspeed does not change at all for a time (from line {line} on)",
            longest,
            STUCK_S,
            "s",
            "common practice: a pitot's reading always moves a little",
            "look at the pitot, and at what the logger writes when a reading is missing",
        )
    ]
