"""Density of the air flown in, and the true airspeed of what the pitot read."""

from typing import Literal

import numpy as np
import pandas as pd

from vlm.air import BOTTOM, GAS_CONSTANT, TOP, standard_air
from vlm.constants import Floats
from vlm.description.log import FlightLogFormat

DensitySource = Literal[
    "pressure and temperature",
    "pressure, standard temperature",
    "altitude and temperature",
    "altitude, standard atmosphere",
    "log.density_kg_m3",
    "standard sea level, assumed",
]

# The standard atmosphere is tabulated at this step and interpolated.
TABLE_STEP_M = 50.0
# Air of this density is what a pitot is calibrated for.
CALIBRATION_DENSITY = standard_air(0.0).density_kg_m3


def _table() -> tuple[Floats, Floats, Floats]:
    altitude = np.arange(BOTTOM, TOP + TABLE_STEP_M, TABLE_STEP_M)
    air = [standard_air(float(height)) for height in altitude]
    pressure = np.array([state.pressure_Pa for state in air])
    temperature = np.array([state.temperature_K for state in air])
    return altitude, np.log(pressure), temperature


def density(cells: pd.DataFrame, how: FlightLogFormat) -> tuple[Floats, DensitySource]:
    """Density of the air in each cell, from the best that the log holds.

    A cell without a reading gets the one interpolated between its neighbours: air changes slowly.

    Parameters
    ----------
    cells : the averaged log, (cells)
    how : the block ``[log]``

    Returns
    -------
    Density, shape (cells) [kg/m^3], and what it was made from.
    """
    count = len(cells)
    read = {
        key: _bridged(cells[key].to_numpy(dtype=np.float64))
        for key in ("pressure", "temperature", "altitude")
        if key in cells and cells[key].notna().any()
    }
    if "pressure" in read and "temperature" in read:
        return read["pressure"] / (GAS_CONSTANT * read["temperature"]), "pressure and temperature"
    altitude, log_pressure, temperature = _table()
    if "altitude" in read and "pressure" not in read:
        height = read["altitude"] + how.altitude_zero_m
        pressure = np.exp(np.interp(height, altitude, log_pressure))
        if "temperature" in read:
            return pressure / (GAS_CONSTANT * read["temperature"]), "altitude and temperature"
    # What is stated is better than a temperature that nobody measured.
    if how.density_kg_m3 is not None:
        return np.full(count, how.density_kg_m3), "log.density_kg_m3"
    if "pressure" in read:
        standard = np.interp(-np.log(read["pressure"]), -log_pressure, temperature)
        return read["pressure"] / (GAS_CONSTANT * standard), "pressure, standard temperature"
    if "altitude" in read:
        standard = np.interp(height, altitude, temperature)
        return pressure / (GAS_CONSTANT * standard), "altitude, standard atmosphere"
    return np.full(count, CALIBRATION_DENSITY), "standard sea level, assumed"


def pressure_altitude(cells: pd.DataFrame) -> Floats:
    """Height of the cells' static pressure in the standard atmosphere, shape (cells) [m].

    Its change with time is the climb, to the ratio of the air's temperature to the standard one.
    """
    altitude, log_pressure, _ = _table()
    pressure = np.log(cells["pressure"].to_numpy(dtype=np.float64))
    return np.asarray(np.interp(-pressure, -log_pressure, altitude), dtype=np.float64)


def _bridged(values: Floats) -> Floats:
    """Gaps filled between the readings around them."""
    known = np.flatnonzero(np.isfinite(values))
    return np.interp(np.arange(values.size), known, values[known])


def true_over_read(air_density: Floats, how: FlightLogFormat) -> Floats:
    """True airspeed over what the instrument reads, its offset apart.

    An indicated airspeed V_i stands for the dynamic pressure rho_0 V_i^2 / 2 with the standard
    sea-level density rho_0, so that V = V_i (rho_0 / rho)^(1/2) (the definition of equivalent
    airspeed; compressibility is left out).

    Parameters
    ----------
    air_density : shape (cells) [kg/m^3]
    how : the block ``[log]``

    Returns
    -------
    Shape (cells) [1].
    """
    if how.columns.airspeed.kind == "indicated":
        return np.sqrt(CALIBRATION_DENSITY / air_density)
    return np.ones_like(air_density)


def true_airspeed(reading: Floats, air_density: Floats, how: FlightLogFormat) -> Floats:
    """True airspeed of what the instrument read, its stated offset taken away.

    Parameters
    ----------
    reading : shape (cells) [m/s]
    air_density : shape (cells) [kg/m^3]
    how : the block ``[log]``

    Returns
    -------
    Shape (cells) [m/s].
    """
    return (reading - how.airspeed_offset_m_s) * true_over_read(air_density, how)
