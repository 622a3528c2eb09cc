"""What is compared: steady cells of every configuration, reduced to one density and level flight.

A measurement at density rho stands, at the same lift coefficient, for one at rho_ref with
V_ref = V (rho/rho_ref)^(1/2) and P_ref = P (rho/rho_ref)^(1/2): weight fixes rho V^2, and power
is drag times speed. (Common practice of flight test, where both are reduced to sea level. Loads
that do not fly, such as a camera, do not follow it, so the reference is the log's own mean
density and the reduction stays small.)

Where the share of electrical power that turns into climb is stated, the power is corrected to
zero change of energy height: P_level = P - m g (dh/dt + V dV/dt / g) / efficiency.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vlm.constants import GRAVITY, Floats
from vlm.description.log import FlightLogFormat
from vlm.log.cells import column, count_column
from vlm.log.reading import FlightLog
from vlm.log.steady import SteadyFlight

Ints = NDArray[np.int64]


@dataclass(frozen=True)
class Samples:
    """Steady cells of one configuration.

    Attributes
    ----------
    configuration : its name
    airspeed_m_s, power_W : reduced, shape (cells)
    segment : number of the segment within this table, ascending from 0, shape (cells)
    place : number of the cell within its segment, gaps left out of the count, shape (cells)
    segment_number : number of each segment in the log's list, shape (segments)
    cell_s : length of a cell [s]
    density_kg_m3 : the density all is reduced to
    """

    configuration: str
    airspeed_m_s: Floats
    power_W: Floats
    segment: Ints
    place: Ints
    segment_number: Ints
    cell_s: float
    density_kg_m3: float

    @property
    def segment_count(self) -> int:
        """How many segments there are."""
        return int(self.segment_number.size)

    def segment_means(self) -> tuple[Floats, Floats, Ints]:
        """Mean airspeed, mean power and number of cells of each segment, shape (segments)."""
        cells = np.bincount(self.segment, minlength=self.segment_count)
        airspeed = np.bincount(self.segment, self.airspeed_m_s, self.segment_count) / cells
        power = np.bincount(self.segment, self.power_W, self.segment_count) / cells
        return airspeed, power, cells

    def about_segment_means(self, values: Floats) -> Floats:
        """Values less the mean of their own segment, shape (cells)."""
        cells = np.bincount(self.segment, minlength=self.segment_count)
        means = np.bincount(self.segment, values, self.segment_count) / cells
        return values - means[self.segment]

    def chosen(self, segments: NDArray[np.bool_]) -> "Samples":
        """Only some of the segments, shape (segments)."""
        rows = segments[self.segment]
        number = np.cumsum(segments) - 1
        return Samples(
            self.configuration,
            self.airspeed_m_s[rows],
            self.power_W[rows],
            number[self.segment[rows]],
            self.place[rows],
            self.segment_number[segments],
            self.cell_s,
            self.density_kg_m3,
        )


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


def climb_cost(how: FlightLogFormat, mass_kg: float | None) -> float | None:
    """Electrical power for each metre a second of climb [W s/m]; None if it is not known."""
    if how.climb_efficiency is None or mass_kg is None:
        return None
    return mass_kg * GRAVITY / how.climb_efficiency


def steady_samples(
    log: FlightLog, steady: SteadyFlight, density: float, climb_cost_W_s_m: float | None
) -> dict[str, Samples]:
    """The steady cells by configuration.

    Parameters
    ----------
    log, steady : a log and its segments
    density : what all is reduced to [kg/m^3]
    climb_cost_W_s_m : electrical power for each metre a second of climb; None for no correction
    """
    airspeed = column(log.cells, "airspeed")
    power = column(log.cells, "power")
    cell = count_column(log.cells, "cell")
    found: dict[str, list[tuple[int, Ints]]] = {}
    for number, segment in enumerate(steady.segments):
        rows = np.arange(segment.first, segment.last + 1)
        rows = rows[np.isfinite(airspeed[rows]) & np.isfinite(power[rows])]
        found.setdefault(segment.configuration, []).append((number, rows))
    result = {}
    for name, pieces in sorted(found.items()):
        rows = np.concatenate([rows for _, rows in pieces])
        numbers = np.array([number for number, _ in pieces])
        counts = [rows.size for _, rows in pieces]
        scale = np.sqrt(column(log.cells, "density")[rows] / density)
        climbs = np.array([steady.segments[n].energy_climb_m_s for n in numbers])
        cost = np.repeat(climbs, counts) * (climb_cost_W_s_m or 0.0)
        result[name] = Samples(
            name,
            airspeed[rows] * scale,
            (power[rows] - cost) * scale,
            np.repeat(np.arange(numbers.size), counts),
            np.concatenate([cell[rows] - cell[rows[0]] for _, rows in pieces]),
            numbers,
            log.cell_s,
            density,
        )
    return result
