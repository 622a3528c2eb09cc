"""The standard atmosphere against the tables of the U.S. Standard Atmosphere 1976 (from memory)."""

import pytest

from vlm.air import air_from_pressure_temperature, sea_level_air, standard_air
from vlm.errors import InputRefused

# Geopotential altitude [m], temperature [K], pressure [Pa], density [kg/m^3]: U.S. Standard
# Atmosphere 1976, table I, five digits as printed (from memory).
TABLE = (
    (0.0, 288.15, 101325.0, 1.2250),
    (1000.0, 281.65, 89874.6, 1.1116),
    (2000.0, 275.15, 79495.2, 1.0065),
    (5000.0, 255.65, 54019.9, 0.73612),
    (11000.0, 216.65, 22632.1, 0.36392),
    (20000.0, 216.65, 5474.89, 0.088035),
)


@pytest.mark.parametrize(("altitude", "temperature", "pressure", "density"), TABLE)
def test_us_standard_atmosphere_1976_table(altitude, temperature, pressure, density):
    air = standard_air(altitude)
    assert air.temperature_K == pytest.approx(temperature, rel=1e-9)
    assert air.pressure_Pa == pytest.approx(pressure, rel=1e-5)
    assert air.density_kg_m3 == pytest.approx(density, rel=5e-5)


def test_us_standard_atmosphere_1976_sea_level_sound_and_viscosity():
    """340.294 m/s and 1.7894e-5 Pa s (U.S. Standard Atmosphere 1976, from memory)."""
    air = standard_air()
    assert air.speed_of_sound_m_s == pytest.approx(340.294, abs=6e-4)
    assert air.viscosity_Pa_s == pytest.approx(1.7894e-5, rel=3e-5)
    assert air.kinematic_viscosity_m2_s == pytest.approx(1.4607e-5, rel=5e-5)


def test_hydrostatic_balance_in_both_layers():
    """dp/dh = -rho g, differenced: the two closed forms belong to one atmosphere."""
    for altitude in (500.0, 6000.0, 10999.0, 11001.0, 15000.0):
        slope = standard_air(altitude + 0.5).pressure_Pa - standard_air(altitude - 0.5).pressure_Pa
        assert slope == pytest.approx(-9.80665 * standard_air(altitude).density_kg_m3, rel=2e-6)


def test_a_warm_day_thins_the_air_at_the_same_pressure():
    cool, warm = standard_air(500.0), standard_air(500.0, 20.0)
    assert warm.pressure_Pa == cool.pressure_Pa
    assert warm.density_kg_m3 / cool.density_kg_m3 == pytest.approx(
        cool.temperature_K / (cool.temperature_K + 20.0)
    )


def test_measured_air_is_that_of_the_standard_at_its_pressure():
    air = standard_air(1500.0)
    assert air_from_pressure_temperature(air.pressure_Pa, air.temperature_K) == air


@pytest.mark.parametrize(
    ("altitude", "said"),
    [(20001.0, "20000 m"), (-2001.0, "-2000"), (float("nan"), "altitude_m = nan")],
)
def test_altitudes_outside_are_refused(altitude, said):
    with pytest.raises(InputRefused, match=said):
        standard_air(altitude)


@pytest.mark.parametrize(
    ("pressure", "temperature", "said"),
    [
        (1013.25, 15.0, "temperature_K = 15; it must lie from 150 to 400 K"),
        (1013.25e6, 288.0, "pressure_Pa"),
        (float("inf"), 288.0, "pressure_Pa = inf"),
        (101325.0, float("nan"), "temperature_K = nan"),
    ],
)
def test_other_units_are_refused(pressure, temperature, said):
    """Celsius and hectopascal are the likely slips."""
    with pytest.raises(InputRefused, match=said):
        air_from_pressure_temperature(pressure, temperature)


def test_air_of_another_density_is_that_of_sea_level_but_for_it():
    """The standard's 1.225 is its own density, rounded: with it nothing is changed."""
    assert sea_level_air() == sea_level_air(1.225) == standard_air()
    thin = sea_level_air(1.1)
    assert thin.density_kg_m3 == 1.1
    assert thin.kinematic_viscosity_m2_s == pytest.approx(1.7894e-5 / 1.1, rel=3e-5)
    assert thin.speed_of_sound_m_s == standard_air().speed_of_sound_m_s


@pytest.mark.parametrize("altitude", [-2000.0, 20000.0])
def test_the_ends_of_the_standard_are_in_it(altitude):
    assert standard_air(altitude).pressure_Pa > 0.0


@pytest.mark.parametrize("pressure", [1000.0, 200_000.0])
@pytest.mark.parametrize("temperature", [150.0, 400.0])
def test_the_ends_of_measured_air_are_allowed_and_what_lies_beyond_is_not(pressure, temperature):
    """Density by the ideal gas, p M / (R T), with M = 28.9644 g/mol and R = 8.31432 J/(mol K)."""
    air = air_from_pressure_temperature(pressure, temperature)
    assert air.density_kg_m3 == pytest.approx(pressure * 0.0289644 / (8.31432 * temperature))
    beyond = 1.001 if pressure > 1e4 else 0.999
    with pytest.raises(InputRefused, match="pressure_Pa = "):
        air_from_pressure_temperature(beyond * pressure, temperature)
    beyond = 1.001 if temperature > 200.0 else 0.999
    with pytest.raises(InputRefused, match="temperature_K = "):
        air_from_pressure_temperature(pressure, beyond * temperature)
