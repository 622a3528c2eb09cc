"""From shafts to battery: electrical power, and how long the battery lasts."""

from collections.abc import Sequence

from vlm.description.power import Propulsion
from vlm.power.rotor import RotorState

SECONDS_PER_HOUR = 3600.0


def electrical_power(states: Sequence[RotorState], propulsion: Propulsion) -> float:
    """Power out of the battery [W].

    A rotor that the air drives (negative shaft power) gives nothing back: speed controllers of
    small craft seldom regenerate (common practice).
    """
    chain = propulsion.motor_efficiency * propulsion.controller_efficiency
    shafts = sum(max(0.0, state.shaft_power) for state in states)
    return shafts / chain + propulsion.fixed_load_W


def usable_energy(propulsion: Propulsion) -> float | None:
    """Energy that may be taken from the battery [J]; None where the file gives no battery."""
    if propulsion.battery_energy_Wh is None:
        return None
    return propulsion.battery_energy_Wh * SECONDS_PER_HOUR * propulsion.battery_usable


def endurance(power: float, propulsion: Propulsion) -> float | None:
    """Time until the usable energy is spent at a power [s]; None without a battery."""
    energy = usable_energy(propulsion)
    return None if energy is None or power <= 0.0 else energy / power


def limits_passed(
    states: Sequence[RotorState], power: float, propulsion: Propulsion
) -> tuple[str, ...]:
    """Every limit of rotors and battery that a setting passes, in words."""
    found = [reason for state in states for reason in state.beyond]
    if propulsion.power_max_W is not None and power > propulsion.power_max_W:
        found.append(f"electrical power {power:.3g} W above {propulsion.power_max_W:g} W")
    return tuple(found)
