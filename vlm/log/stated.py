"""What is stated about instruments and air, and what is assumed where nothing is."""

from dataclasses import dataclass

from vlm.constants import GRAVITY
from vlm.description.log import USUAL_UNCERTAINTY, FlightLogFormat

# Largest lift over drag of small craft of this kind, propulsion included: it bounds what climb can
# cost where no mass is known (common practice).
BEST_GLIDE = 8.0


@dataclass(frozen=True)
class ClimbCost:
    """Electrical power for each metre a second of climb.

    Attributes
    ----------
    value_W_s_m : before the log is seen
    spread_W_s_m : its standard uncertainty
    source : where it is from
    """

    value_W_s_m: float
    spread_W_s_m: float
    source: str


@dataclass(frozen=True)
class Stated:
    """Standard uncertainties that all readings of a log or of a configuration share.

    The attributes are those of ``[log.uncertainty]``; ``assumed`` names the keys that the file
    leaves out.
    """

    airspeed_offset_m_s: float
    airspeed_scale: float
    airspeed_by_configuration_m_s: float
    power_share: float
    current_zero_A: float
    density_share: float
    rising_air_m_s: float
    climb_m_s: float
    climb_efficiency: float
    wind_m_s: float
    heading_deg: float
    assumed: tuple[str, ...] = ()


def stated(how: FlightLogFormat) -> Stated:
    """What ``[log.uncertainty]`` states, filled up with what is usual."""
    given = how.uncertainty.model_dump()
    usual = USUAL_UNCERTAINTY.model_dump()
    assumed = tuple(key for key, value in given.items() if value is None)
    return Stated(**{k: usual[k] if v is None else v for k, v in given.items()}, assumed=assumed)


def climb_cost(
    how: FlightLogFormat,
    mass_kg: float | None,
    errors: Stated,
    typical: tuple[float, float],
    model_efficiency: float | None = None,
) -> ClimbCost:
    """What climb costs before the log is seen.

    Parameters
    ----------
    how : the block ``[log]``
    mass_kg : of the craft, None if it is not known
    errors : as stated
    typical : usual airspeed [m/s] and power [W] of the log
    model_efficiency : share of electrical power that turns into climb by the craft's own model;
        None where it has no rotors
    """
    efficiency, source = how.climb_efficiency, "log.climb_efficiency"
    if efficiency is None:
        efficiency, source = model_efficiency, "the craft's own model"
    if mass_kg is None:
        airspeed, power = typical
        most = BEST_GLIDE * power / max(airspeed, 1.0)
        return ClimbCost(0.5 * most, 0.5 * most, "no mass: bounded by the best glide, and the log")
    if efficiency is None:
        efficiency, spread = 0.5, 0.15
        source = "no rotors in the file: an efficiency of 0.5 ± 0.15 (common practice)"
    else:
        spread = errors.climb_efficiency
    value = mass_kg * GRAVITY / efficiency
    return ClimbCost(value, value * spread / efficiency, source)
