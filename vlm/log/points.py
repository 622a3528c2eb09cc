"""Steady points: one for each segment, reduced to one density and to straight flight.

A measurement at density rho and load factor n stands, at the same lift coefficient, for level
flight at rho_ref with

    V_ref = V (rho/rho_ref)^(1/2) n^(-1/2),      P_ref = P (rho/rho_ref)^(1/2) n^(-3/2):

lift fixes rho V^2/n, and power is drag times speed. (Common practice of flight test. Loads that do
not fly, such as a camera, do not follow it, so the reference is the log's own mean density and
turns are gentle.) Climb is not reduced here: what it costs is estimated with everything else.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from vlm.constants import Floats
from vlm.log.cells import column
from vlm.log.reading import FlightLog
from vlm.log.steady import SteadyFlight


@dataclass(frozen=True)
class SteadyPoints:
    """The segments of all configurations, in order of time; arrays of shape (points).

    Attributes
    ----------
    configuration : names
    airspeed_m_s, power_W : reduced means
    climb_m_s : rate of energy height, reduced as the power; zero where the log does not tell
    time_s : middle, each part of the log following the last [s]
    length_s : duration [s]
    voltage_V : mean, 1 where the log holds power alone
    airspeed_error_m_s : standard error of the mean airspeed, by how it wandered in the segment
    north, east : of the unit vector along the path through the air; NaN where it is not known [1]
    reduction : factor on the power [1]
    number : in the log's list of segments
    run : points that follow each other without a break share a number
    density_kg_m3 : what all is reduced to
    climb_seen : whether the log tells the climb
    """

    configuration: NDArray[Any]
    airspeed_m_s: Floats
    power_W: Floats
    climb_m_s: Floats
    time_s: Floats
    length_s: Floats
    voltage_V: Floats
    airspeed_error_m_s: Floats
    north: Floats
    east: Floats
    reduction: Floats
    number: NDArray[np.int64]
    run: NDArray[np.int64]
    density_kg_m3: float
    climb_seen: bool

    def __len__(self) -> int:
        return int(self.power_W.size)

    @property
    def names(self) -> tuple[str, ...]:
        """The configurations, in order of the alphabet."""
        return tuple(str(name) for name in np.unique(self.configuration))

    def chosen(self, rows: NDArray[np.bool_]) -> "SteadyPoints":
        """Only some of the points."""
        arrays = {
            key: value[rows] for key, value in vars(self).items() if isinstance(value, np.ndarray)
        }
        return SteadyPoints(**arrays, density_kg_m3=self.density_kg_m3, climb_seen=self.climb_seen)


def steady_points(
    log: FlightLog,
    steady: SteadyFlight,
    density: float,
    airspeed: Floats,
    wander_m_s: float = 0.0,
) -> SteadyPoints:
    """The segments as points.

    Parameters
    ----------
    log, steady : a log and its segments, at least one
    density : what all is reduced to [kg/m^3]
    airspeed : best estimate of the true airspeed in each cell, shape (cells) [m/s]
    wander_m_s : standard deviation that the airspeed of a segment has beside its gusts
    """
    segments = steady.segments
    first = np.array([segment.first for segment in segments])
    last = np.array([segment.last for segment in segments])
    thin = np.sqrt(np.array([segment.density_kg_m3 for segment in segments]) / density)
    load = np.array([segment.load_factor for segment in segments])
    power = column(log.cells, "power")
    both = np.isfinite(airspeed) & np.isfinite(power)
    rows = [np.arange(a, b + 1)[both[a : b + 1]] for a, b in zip(first, last, strict=True)]
    speed = np.array([airspeed[part].mean() if part.size else np.nan for part in rows])
    nose = np.array([_direction(log, part) for part in rows]).reshape(-1, 2)
    reduction = thin * load**-1.5
    points = SteadyPoints(
        configuration=np.array([segment.configuration for segment in segments]),
        airspeed_m_s=speed * thin / np.sqrt(load),
        power_W=np.array([segment.power_W for segment in segments]) * reduction,
        climb_m_s=np.array([segment.energy_climb_m_s for segment in segments]) * reduction,
        time_s=_elapsed(log, steady),
        length_s=np.array([segment.duration_s for segment in segments]),
        voltage_V=np.array([segment.voltage_V for segment in segments]),
        airspeed_error_m_s=np.hypot(_mean_errors([airspeed[part] for part in rows]), wander_m_s)
        * thin
        / np.sqrt(load),
        north=nose[:, 0],
        east=nose[:, 1],
        reduction=reduction,
        number=np.arange(len(segments)),
        run=np.concatenate(([0], np.cumsum(first[1:] != last[:-1] + 1))),
        density_kg_m3=density,
        climb_seen=bool(np.isfinite(steady.climb_m_s).any()),
    )
    return points.chosen(np.isfinite(points.airspeed_m_s) & np.isfinite(points.power_W))


def _mean_errors(readings: list[Floats]) -> Floats:
    """Standard error of the mean of each of some stretches, shape (stretches).

    Neighbouring readings share their gust: s sqrt(2 T/L), with the integral time T from the
    correlation of all stretches together, summed up to its first zero (common practice).
    """
    rests = [part - part.mean() for part in readings if part.size > 1]
    if not rests:
        return np.zeros(len(readings))
    variance = float(np.concatenate(rests).var())
    longest = max(1, min(int(np.median([part.size for part in rests])) // 3, 40))
    inflation = 1.0
    for lag in range(1, longest + 1):
        pairs = [part[lag:] * part[:-lag] for part in rests if part.size > lag]
        shared = float(np.concatenate(pairs).mean()) / max(variance, 1e-12)
        if shared <= 0.0:
            break
        inflation += 2.0 * shared
    size = np.array([max(part.size, 1) for part in readings])
    return np.asarray(np.sqrt(variance * inflation / size))


def _elapsed(log: FlightLog, steady: SteadyFlight) -> Floats:
    """Middle of each segment, the log's parts following each other [s]."""
    parts = log.cells.groupby("part")["time"]
    length = (parts.max() - parts.min()).to_numpy() + log.cell_s
    begin = dict(
        zip(parts.min().index, np.concatenate(([0.0], np.cumsum(length)[:-1])), strict=True)
    )
    zero = parts.min().to_dict()
    return np.array(
        [0.5 * (s.start_s + s.end_s) - zero[s.part] + begin[s.part] for s in steady.segments]
    )


def _direction(log: FlightLog, rows: NDArray[np.int64]) -> tuple[float, float]:
    """Mean unit vector along the path: by heading, else by track."""
    for name in ("heading", "track"):
        if name in log.cells and rows.size:
            angle = column(log.cells, name)[rows]
            angle = angle[np.isfinite(angle)]
            if angle.size:
                return float(np.cos(angle).mean()), float(np.sin(angle).mean())
    return float("nan"), float("nan")


def reference_density(log: FlightLog, steady: SteadyFlight) -> float:
    """Mean density of the steady segments by their length; of the whole log if there is none.

    Parameters
    ----------
    log, steady : a log and its segments

    Returns
    -------
    Density [kg/m^3].
    """
    if not steady.segments:
        return float(column(log.cells, "density").mean())
    density = [segment.density_kg_m3 for segment in steady.segments]
    return float(np.average(density, weights=[segment.cells for segment in steady.segments]))
