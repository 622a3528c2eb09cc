"""One draw of all uncertain inputs at once, trimmed directly: the check on tables of samples."""

from collections.abc import Sequence
from dataclasses import replace

from vlm.constants import Floats
from vlm.description.models import Biplane
from vlm.description.overrides import as_overrides
from vlm.flight.trim.power_book import direct_trim
from vlm.flight.trim.power_curve import PowerPoint
from vlm.flight.trim.power_samples import INPUTS
from vlm.flight.trim.powered import PoweredCraft, powered_craft
from vlm.flight.trim.uncertain_keys import UncertainKey, moved
from vlm.lattice.cellule import Grid
from vlm.power.propulsion import electrical_power

AREAS = ("area_m2", "side_area_m2", "normal_area_m2")


def drawn_craft(
    made: PoweredCraft,
    factors: Floats,
    keys: Sequence[UncertainKey],
    shifts: Floats,
    grid: Grid | None,
) -> PoweredCraft:
    """The craft of one draw, at the same fold setting; the power of its rotors left as it is.

    Parameters
    ----------
    factors : shape (inputs,), see :func:`vlm.flight.trim.power_samples.input_samples`
    shifts : shape (keys,), in standard deviations
    grid : of the lattice; None for that of power curves

    Raises
    ------
    InputRefused : the draw cannot be built
    """
    by = dict(zip(INPUTS, factors, strict=True))
    craft = moved(made.craft, keys, shifts)
    craft = craft.overridden(as_overrides(_scaled(craft, by)))
    built = powered_craft(craft, made.folds, air=made.air, grid=grid, wake=made.wake)
    model = built.model.rescaled(
        craft, lift_scale=by["lift_maximum"], normal_scale=by["post_stall"]
    )
    assert made.craft.mass is not None
    # In a turn the craft stands for one of so many times its weight.
    load_factor = made.masses.mass / made.craft.mass.total_kg
    masses = replace(built.masses, mass=built.masses.mass * by["mass"] * load_factor)
    return replace(built, model=model, masses=masses, profile_scale=by["profile_drag"])


def _scaled(craft: Biplane, by: dict[str, float]) -> dict[str, object]:
    """Keys of the file that take drag areas, efficiency and fixed load of a draw."""
    changes: dict[str, object] = {}
    for index, area in enumerate(craft.drag_areas):
        for key in AREAS:
            value = getattr(area, key)
            if value is not None:
                changes[f"drag_areas.{index}.{key}"] = value * by["drag_area"]
    if craft.mass is not None and craft.mass.mechanism_drag_area_m2 > 0.0:
        assert craft.mass.mechanism is not None
        own = craft.mass.mechanism.drag_area_m2
        changes["mass.mechanism.drag_area_m2"] = own * by["drag_area"]
    drive = craft.propulsion
    assert drive is not None
    changes["propulsion.motor_efficiency"] = min(1.0, drive.motor_efficiency * by["efficiency"])
    changes["propulsion.fixed_load_W"] = drive.fixed_load_W * by["fixed_load"]
    return changes


def drawn_power(
    made: PoweredCraft, near: PowerPoint, rotor_power: float, climb_angle: float = 0.0
) -> float:
    """Electrical power of a drawn craft in a trim solved directly [W]; NaN without one.

    Parameters
    ----------
    made : see :func:`drawn_craft`
    near : the trim of the craft as it stands, whose airspeed is flown
    rotor_power : factor on the power that the rotors need [1]
    """
    point = direct_trim(made, near.speed, climb_angle=climb_angle, near=near)
    if point.trim is None:
        return float("nan")
    shafts = point.trim.loads.shaft_powers[0]
    shafts = shafts * (rotor_power * (shafts > 0.0) + (shafts <= 0.0))
    return float(electrical_power(made.propulsion, shafts, idle=made.idle_power))
