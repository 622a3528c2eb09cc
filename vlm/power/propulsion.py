"""From the shafts to the battery: electrical power, and how long it lasts."""

import numpy as np
from numpy.typing import ArrayLike

from vlm.constants import Floats
from vlm.description.power import Propulsion

SECONDS_PER_HOUR = 3600.0


def electrical_power(
    propulsion: Propulsion,
    shaft_powers: ArrayLike,
    *,
    idle: ArrayLike = 0.0,
    efficiency: ArrayLike | None = None,
    fixed_load: ArrayLike | None = None,
) -> Floats:
    """Power drawn from the battery for the powers at the shafts, (...) of (..., rotors) [W].

    A motor draws its shaft's power over the efficiency. Of a shaft that the air drives, motor and
    controller pass the power times the efficiency, where braking is recovered, or nothing. Between
    the two lies no corner: a motor idles near no power at the shaft, which rounds it over ``idle``.

    Parameters
    ----------
    idle : shaft power, about which driving goes over to being driven [W]
    efficiency : of motors and controllers together; the description's if None [1]
    fixed_load : the description's if None [W]
    """
    if efficiency is None:
        efficiency = propulsion.motor_efficiency * propulsion.controller_efficiency
    share = np.asarray(efficiency, dtype=float)[..., None]
    shaft = np.asarray(shaft_powers, dtype=float)
    driving = 0.5 * (shaft + np.hypot(shaft, idle))
    drawn = driving / share
    if propulsion.braking == "recovered":
        drawn = drawn + (shaft - driving) * share
    load = propulsion.fixed_load_W if fixed_load is None else fixed_load
    return np.asarray(drawn.sum(axis=-1) + load)


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
