"""The standard atmosphere up to 20 km, and air of a measured pressure and temperature.

U.S. Standard Atmosphere 1976 (NOAA-S/T 76-1562), which up to 32 km is that of ISO 2533:1975.
Altitudes are geopotential; the difference from geometric altitude is below 0.1 % under 6 km.
"""

from dataclasses import dataclass, replace
from math import exp, isfinite, sqrt

from vlm.constants import GRAVITY, SEA_LEVEL_DENSITY
from vlm.errors import InputRefused

# U.S. Standard Atmosphere 1976, section 1.2: constants and the two lowest layers.
MOLAR_GAS_CONSTANT = 8.31432
MOLAR_MASS = 0.0289644
GAS_CONSTANT = MOLAR_GAS_CONSTANT / MOLAR_MASS
"""Specific gas constant of dry air [J/(kg K)]."""
HEAT_RATIO = 1.4
"""Ratio of specific heats of air [1]."""
SEA_LEVEL_TEMPERATURE = 288.15
SEA_LEVEL_PRESSURE = 101325.0
LAPSE_RATE = 0.0065
TROPOPAUSE = 11_000.0
TOP = 20_000.0
BOTTOM = -2_000.0
# The same, equation (51): Sutherland's law.
SUTHERLAND_FACTOR = 1.458e-6
SUTHERLAND_TEMPERATURE = 110.4
# Outside these the ideal gas and Sutherland's law are not what a craft meets.
TEMPERATURES = (150.0, 400.0)
PRESSURES = (1_000.0, 200_000.0)


@dataclass(frozen=True)
class Air:
    """Air at rest.

    Attributes
    ----------
    density_kg_m3 : density [kg/m^3]
    pressure_Pa : static pressure [Pa]
    temperature_K : temperature [K]
    viscosity_Pa_s : dynamic viscosity [Pa s]
    speed_of_sound_m_s : speed of sound [m/s]
    """

    density_kg_m3: float
    pressure_Pa: float
    temperature_K: float
    viscosity_Pa_s: float
    speed_of_sound_m_s: float

    @property
    def kinematic_viscosity_m2_s(self) -> float:
        """Viscosity over density [m^2/s]."""
        return self.viscosity_Pa_s / self.density_kg_m3


def standard_air(altitude_m: float = 0.0, temperature_offset_K: float = 0.0) -> Air:
    """Air of the standard atmosphere.

    Parameters
    ----------
    altitude_m : geopotential altitude, -2000 to 20000 [m]
    temperature_offset_K : how much warmer the air is than standard, at standard pressure [K]

    Raises
    ------
    InputRefused : the altitude lies outside the range, or the temperature does
    """
    if not (isfinite(altitude_m) and BOTTOM <= altitude_m <= TOP):
        raise InputRefused(
            f"altitude_m = {altitude_m:g}; the standard atmosphere here reaches from"
            f" {BOTTOM:g} to {TOP:g} m"
        )
    temperature, pressure = _standard(altitude_m)
    return air_from_pressure_temperature(pressure, temperature + temperature_offset_K)


def sea_level_air(density_kg_m3: float = SEA_LEVEL_DENSITY) -> Air:
    """Air of the standard atmosphere at sea level, but of a density of its own [kg/m^3].

    The 1.225 of the table is the standard's own density, rounded: with it nothing is changed.
    """
    air = standard_air()
    if density_kg_m3 == SEA_LEVEL_DENSITY:
        return air
    return replace(air, density_kg_m3=density_kg_m3)


def _standard(altitude: float) -> tuple[float, float]:
    """Temperature [K] and pressure [Pa], U.S. Standard Atmosphere 1976 (23), (33a), (33b)."""
    below = min(altitude, TROPOPAUSE)
    temperature = SEA_LEVEL_TEMPERATURE - LAPSE_RATE * below
    exponent = GRAVITY / (GAS_CONSTANT * LAPSE_RATE)
    pressure = SEA_LEVEL_PRESSURE * (temperature / SEA_LEVEL_TEMPERATURE) ** exponent
    above = altitude - below
    return temperature, pressure * exp(-GRAVITY * above / (GAS_CONSTANT * temperature))


def air_from_pressure_temperature(pressure_Pa: float, temperature_K: float) -> Air:
    """Dry air of a measured pressure and temperature.

    Density by the ideal gas, viscosity by Sutherland's law, U.S. Standard Atmosphere 1976 (42),
    (50) and (51).

    Parameters
    ----------
    pressure_Pa : static pressure, not reduced to sea level, 1000 to 200000 [Pa]
    temperature_K : temperature, 150 to 400 [K]

    Raises
    ------
    InputRefused : a value lies outside its range (kelvin and pascal are meant)
    """
    for key, value, (low, high), unit in (
        ("pressure_Pa", pressure_Pa, PRESSURES, "Pa"),
        ("temperature_K", temperature_K, TEMPERATURES, "K"),
    ):
        if not (isfinite(value) and low <= value <= high):
            raise InputRefused(f"{key} = {value:g}; it must lie from {low:g} to {high:g} {unit}")
    return Air(
        density_kg_m3=pressure_Pa / (GAS_CONSTANT * temperature_K),
        pressure_Pa=pressure_Pa,
        temperature_K=temperature_K,
        viscosity_Pa_s=SUTHERLAND_FACTOR
        * temperature_K**1.5
        / (temperature_K + SUTHERLAND_TEMPERATURE),
        speed_of_sound_m_s=sqrt(HEAT_RATIO * GAS_CONSTANT * temperature_K),
    )
