"""What a craft's own model says of climb, and the most its drives can draw."""

import numpy as np

from vlm.constants import GRAVITY, SEA_LEVEL_DENSITY
from vlm.description.models import Biplane
from vlm.errors import FoldspanError
from vlm.flight.trim.power_curve import power_curve
from vlm.flight.trim.powered import powered_craft
from vlm.lattice.cellule import Grid

COARSE = Grid(2, 6)
CLIMB_RAD = float(np.radians(2.0))
# Airspeeds at which the efficiency is taken, as multiples of that at which the wings' lift
# coefficient is 0.5: where such craft cruise.
PLACES = (0.9, 1.1, 1.3)
CRUISE_LIFT = 0.5


def climb_efficiency(craft: Biplane) -> float | None:
    """Share of electrical power that turns into climb: the weight times the rate of climb, over
    the power it takes beyond level flight at the same airspeed, by the craft's own trims.

    Parameters
    ----------
    craft : the description

    Returns
    -------
    None where the file lacks mass, rotors or propulsion, or the craft cannot be trimmed.
    """
    if craft.mass is None or not craft.rotors or craft.propulsion is None:
        return None
    setting = next(iter(craft.configurations.values()), None)
    if setting is None:
        return None
    weight = craft.mass.total_kg * GRAVITY
    try:
        powered = powered_craft(craft, setting.folds, grid=COARSE)
        area = powered.model.lattice.reference.area
        cruise = np.sqrt(weight / (0.5 * SEA_LEVEL_DENSITY * CRUISE_LIFT * area))
        speeds = cruise * np.array(PLACES)
        level = power_curve(powered, speeds).values("electrical_power_W")
        climbing = power_curve(powered, speeds, climb_angle=CLIMB_RAD).values("electrical_power_W")
    except FoldspanError:
        return None
    share = weight * speeds * np.sin(CLIMB_RAD) / (climbing - level)
    share = share[np.isfinite(share) & (share > 0.05) & (share <= 1.0)]
    return float(np.median(share)) if share.size else None


def power_limit(craft: Biplane) -> float | None:
    """The most electrical power that all rotors and loads can draw together [W]; None without
    limits in the file."""
    if craft.propulsion is None or not craft.rotors:
        return None
    limits = [rotor.power_max_W for rotor in craft.rotors]
    if any(limit is None for limit in limits):
        return craft.propulsion.power_max_W
    efficiency = craft.propulsion.motor_efficiency * craft.propulsion.controller_efficiency
    return sum(limit or 0.0 for limit in limits) / efficiency + craft.propulsion.fixed_load_W
