"""Steady, level segments of a log, by criteria that are stated and can be looked at.

Slopes are those of straight lines fitted over a sliding window, so that gusts and sensor noise
do not break a segment but a manoeuvre does. Every cell that is not steady carries the first
criterion it fails, for the time plot and for the table of reasons.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from vlm.constants import GRAVITY, Floats
from vlm.description.log import FlightLogFormat, SteadyCriteria
from vlm.log.cells import column, count_column
from vlm.log.fold_settings import UNKNOWN
from vlm.log.motion import RATES, climb_source, smoothed_motion, stretches
from vlm.log.reading import FlightLog

Flags = NDArray[np.bool_]

# In the order in which they are tested; 0 is steady.
CRITERIA = (
    "steady",
    "no reading",
    "configuration",
    "climb",
    "change of airspeed",
    "rate of turn",
    "bank",
    "not on the wings",
    "too short",
)

# Slower than this share of the airspeed exceeded for a fifth of the time, a craft stands or hovers
# (common practice).
ON_THE_WINGS = 0.25
# Share of a segment's time that must hold both airspeed and power.
LEAST_SHARE_READ = 0.5


@dataclass(frozen=True)
class Segment:
    """One stretch of steady, level flight in one configuration.

    Attributes
    ----------
    configuration : its name
    part : number of the log's part (clock)
    first, last : its first and last row in the table of cells
    start_s, end_s : time [s]
    first_line, last_line : its lines in the file
    cells : cells with both airspeed and power
    airspeed_m_s : mean true airspeed [m/s]
    power_W : mean electrical power [W]
    density_kg_m3 : mean density [kg/m^3]
    energy_climb_m_s : mean rate of energy height, climb and change of speed together [m/s]
    rotor_speed_rpm : mean speed of each rotor, empty where the log has none [1/min]
    pitch_deg : mean body angle, NaN where the log has none [deg]
    voltage_V : mean battery voltage; 1 where the log holds power alone
    load_factor : lift over weight in the turn flown, 1 where nothing tells it [1]
    """

    configuration: str
    part: int
    first: int
    last: int
    start_s: float
    end_s: float
    first_line: int
    last_line: int
    cells: int
    airspeed_m_s: float
    power_W: float
    density_kg_m3: float
    energy_climb_m_s: float
    rotor_speed_rpm: tuple[float, ...] = ()
    pitch_deg: float = float("nan")
    voltage_V: float = 1.0
    load_factor: float = 1.0

    @property
    def duration_s(self) -> float:
        """Length in time [s]."""
        return self.end_s - self.start_s


@dataclass(frozen=True)
class SteadyFlight:
    """The segments of a log, and for every cell why it is in none.

    Attributes
    ----------
    segments : in order of time
    verdict : index into ``CRITERIA``, shape (cells)
    segment_of : number of the segment a cell lies in, -1 for none, shape (cells)
    climb_m_s : smoothed rate of climb, shape (cells); NaN where the log does not tell [m/s]
    acceleration_m_s2 : smoothed rate of change of airspeed, shape (cells) [m/s^2]
    """

    segments: tuple[Segment, ...]
    verdict: NDArray[np.int64]
    segment_of: NDArray[np.int64]
    climb_m_s: Floats
    acceleration_m_s2: Floats

    def shares(self) -> dict[str, float]:
        """Share of the flight's time that ends at each criterion [1]."""
        counts = np.bincount(self.verdict, minlength=len(CRITERIA))
        return {
            name: float(count) / max(self.verdict.size, 1)
            for name, count in zip(CRITERIA, counts, strict=True)
        }


def steady_flight(
    log: FlightLog, how: FlightLogFormat, configuration: NDArray[Any]
) -> SteadyFlight:
    """Find the segments.

    Parameters
    ----------
    log : a log as read
    how : the block ``[log]``
    configuration : name of each cell's configuration, shape (cells)
    """
    limits = how.steady
    motion = smoothed_motion(log, limits)
    verdict = _verdicts(log, limits, configuration, motion)
    segment_of = np.full(verdict.size, -1)
    time = column(log.cells, "time")
    read = np.isfinite(column(log.cells, "airspeed")) & np.isfinite(column(log.cells, "power"))
    segments: list[Segment] = []
    for first, last in _runs(log, verdict, configuration, limits.gap_max_s):
        for start, end in _even_pieces(motion["airspeed"], first, last, limits):
            rows = slice(start, end + 1)
            span = time[end] - time[start] + log.cell_s
            if span < limits.shortest_s:
                verdict[rows] = CRITERIA.index("too short")
            elif read[rows].sum() * log.cell_s < LEAST_SHARE_READ * span:
                verdict[rows] = CRITERIA.index("no reading")
            else:
                segment_of[rows] = len(segments)
                segments.append(_segment(log, motion, read, str(configuration[start]), rows))
    return SteadyFlight(
        tuple(segments), verdict, segment_of, motion["climb"], motion["acceleration"]
    )


def _silent(log: FlightLog, gap_max_s: float) -> Flags:
    """Cells in which something that decides has been silent for longer than a gap may be."""
    decides = ["airspeed", climb_source(log.cells)[0], "roll"]
    decides += RATES
    longest = max(1, round(gap_max_s / log.cell_s))
    silent = np.zeros(len(log.cells), dtype=bool)
    for name in decides:
        if name not in log.cells:
            continue
        missing = np.isnan(column(log.cells, name))
        if missing.all():
            continue
        edges = np.flatnonzero(np.diff(np.concatenate(([0], missing.astype(np.int8), [0]))))
        for first, end in zip(edges[0::2], edges[1::2], strict=True):
            silent[first:end] |= end - first > longest
    return silent


def _slow(airspeed: Floats) -> Flags:
    """Cells at rest or in hover: hardly any airspeed, compared with that of fast flight."""
    known = airspeed[np.isfinite(airspeed)]
    fast = float(np.percentile(known, 80.0)) if known.size else 0.0
    return np.asarray(airspeed < ON_THE_WINGS * fast)


def _verdicts(
    log: FlightLog,
    limits: SteadyCriteria,
    configuration: NDArray[Any],
    motion: dict[str, Floats],
) -> NDArray[np.int64]:
    """The first criterion each cell fails; what the log does not hold fails nothing."""
    rate = np.radians(limits.rate_max_deg_s)
    silent = _silent(log, limits.gap_max_s)
    with np.errstate(invalid="ignore"):
        turning = np.zeros(silent.size, dtype=bool)
        for name in (*RATES, "turn"):
            turning |= np.abs(motion[name]) > rate
        fails: dict[str, Flags] = {
            "no reading": silent | ~np.isfinite(motion["acceleration"]),
            "configuration": configuration == UNKNOWN,
            "climb": np.abs(motion["climb"]) > limits.climb_max_m_s,
            "change of airspeed": np.abs(motion["acceleration"]) > limits.acceleration_max_m_s2,
            "rate of turn": turning,
            "bank": np.abs(motion["bank"]) > np.radians(limits.bank_max_deg),
            "not on the wings": _slow(column(log.cells, "airspeed")),
        }
    verdict = np.zeros(silent.size, dtype=np.int64)
    for name in reversed(fails):
        verdict[fails[name]] = CRITERIA.index(name)
    return verdict


def _runs(
    log: FlightLog,
    verdict: NDArray[np.int64],
    configuration: NDArray[Any],
    gap_max_s: float,
) -> list[tuple[int, int]]:
    """First and last row of the unbroken runs of steady cells in one configuration."""
    found: list[tuple[int, int]] = []
    for first, last in stretches(log, gap_max_s):
        steady = verdict[first : last + 1] == 0
        names = configuration[first : last + 1]
        new = np.concatenate(([True], (steady[1:] != steady[:-1]) | (names[1:] != names[:-1])))
        starts = np.flatnonzero(new)
        ends = np.concatenate((starts[1:] - 1, [steady.size - 1]))
        found += [
            (first + int(a), first + int(b)) for a, b in zip(starts, ends, strict=True) if steady[a]
        ]
    return found


def _even_pieces(
    smooth: Floats, first: int, last: int, limits: SteadyCriteria
) -> list[tuple[int, int]]:
    """A run cut where its smoothed airspeed has wandered too far from where a piece began."""
    pieces = []
    start = first
    low = high = smooth[first]
    for row in range(first + 1, last + 1):
        low, high = min(low, smooth[row]), max(high, smooth[row])
        if high - low > limits.airspeed_drift_max_m_s:
            pieces.append((start, row - 1))
            start, low, high = row, smooth[row], smooth[row]
    return [*pieces, (start, last)]


def _segment(
    log: FlightLog, motion: dict[str, Floats], read: Flags, configuration: str, rows: slice
) -> Segment:
    """The means of one segment; ``read`` says which cells hold both airspeed and power."""
    first, last = rows.start, rows.stop - 1
    both = np.arange(first, rows.stop)[read[rows]]
    time = column(log.cells, "time")
    speed_change = float(np.nanmean(motion["airspeed"][rows] * motion["acceleration"][rows]))
    climb = motion["climb"][rows]
    level = float(np.nanmean(climb)) if np.isfinite(climb).any() else 0.0
    return Segment(
        configuration=configuration,
        part=int(count_column(log.cells, "part")[first]),
        first=first,
        last=last,
        start_s=float(time[first]) - 0.5 * log.cell_s,
        end_s=float(time[last]) + 0.5 * log.cell_s,
        first_line=int(count_column(log.cells, "first_line")[first]),
        last_line=int(count_column(log.cells, "last_line")[last]),
        cells=both.size,
        airspeed_m_s=float(column(log.cells, "airspeed")[both].mean()),
        power_W=float(column(log.cells, "power")[both].mean()),
        density_kg_m3=float(column(log.cells, "density")[rows].mean()),
        energy_climb_m_s=level + speed_change / GRAVITY,
        rotor_speed_rpm=tuple(
            float(column(log.cells, name)[both].mean()) * 30.0 / np.pi
            for name in log.cells.columns
            if name.startswith("rotor_speed_")
        ),
        pitch_deg=float(np.degrees(column(log.cells, "pitch")[both].mean()))
        if "pitch" in log.cells
        else float("nan"),
        voltage_V=float(np.nanmean(column(log.cells, "voltage")[both]))
        if "voltage" in log.cells
        else 1.0,
        load_factor=float(np.nanmean(motion["load_factor"][both])),
    )
