"""Limits of rotors and battery that a trim passes, by how much, with the keys of the file."""

from vlm.flight.trim.power_curve import PowerPoint
from vlm.flight.trim.powered import PoweredCraft
from vlm.flight.trim.trim_measures import OF_ROTOR

KEYS = {
    "lowest thrust": "rotors.thrust_min_N",
    "highest thrust": "rotors.thrust_max_N",
    "power": "rotors.power_max_W",
    "electrical power": "propulsion.power_max_W",
    "driven by the air": "propulsion.braking",
}
"""By the kind of a limit, the key of the file that sets it."""


def passed_limits(craft: PoweredCraft, point: PowerPoint) -> str:
    """What a trim asks beyond the limits, each kind at its worst rotor; empty where nothing."""
    if point.trim is None or point.measures is None:
        return ""
    worst: dict[str, tuple[float, str]] = {}
    for name, margin in point.measures.margins.items():
        kind, _, rotor = name.partition(OF_ROTOR)
        if margin < 0.0 and margin < worst.get(kind, (0.0, ""))[0]:
            worst[kind] = margin, rotor
    return " and ".join(_told(craft, point, kind, rotor) for kind, (_, rotor) in worst.items())


def _told(craft: PoweredCraft, point: PowerPoint, kind: str, name: str) -> str:
    assert point.trim is not None
    if kind == "electrical power":
        drawn, most = point.value("electrical_power_W"), craft.propulsion.power_max_W
        return f"it would draw {drawn:.3g} W, more than {KEYS[kind]} = {most:g}"
    place = [rotor.name for rotor in craft.rotors].index(name)
    rotor, shaft = craft.rotors[place], float(point.trim.loads.shaft_powers[0, place])
    thrust = float(point.trim.thrusts[place])
    return {
        "lowest thrust": f"rotor {name} would have to give {thrust:.3g} N, less than"
        f" {KEYS['lowest thrust']} = {rotor.thrust_min_N:g}",
        "highest thrust": f"rotor {name} would have to give {thrust:.3g} N, more than"
        f" {KEYS['highest thrust']} = {rotor.thrust_max_N or 0.0:g}",
        "power": f"rotor {name} would take {shaft:.3g} W, more than"
        f" {KEYS['power']} = {rotor.power_max_W or 0.0:g}",
        "driven by the air": f"the air would drive rotor {name} ({-shaft:.3g} W), which"
        f' {KEYS["driven by the air"]} = "not allowed" forbids',
    }[kind]
