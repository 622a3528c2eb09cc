"""From the shafts to the battery: electrical power, and how long it lasts."""

import numpy as np
from numpy.typing import ArrayLike

from vlm.constants import Floats
from vlm.description.power import Propulsion

SECONDS_PER_HOUR = 3600.0


def electrical_power(propulsion: Propulsion, shaft_power: ArrayLike) -> Floats:
    """Power drawn from the battery for a power at all shafts together [W]."""
    efficiency = propulsion.motor_efficiency * propulsion.controller_efficiency
    return np.asarray(np.asarray(shaft_power) / efficiency + propulsion.fixed_load_W)


def usable_energy(propulsion: Propulsion) -> float | None:
    """Energy of the battery that may be used [J]; None where its energy is not given."""
    if propulsion.battery_energy_Wh is None:
        return None
    return propulsion.battery_energy_Wh * propulsion.battery_usable * SECONDS_PER_HOUR


def endurance(propulsion: Propulsion, power: ArrayLike) -> Floats:
    """Time the usable energy lasts at a steady electrical power [s]; NaN without a battery."""
    energy = usable_energy(propulsion)
    drawn = np.asarray(power, dtype=float)
    return np.full(drawn.shape, np.nan) if energy is None else np.asarray(energy / drawn)
