"""What a log may correct in a geometry file, and the file with it corrected."""

from collections.abc import Mapping

from vlm.description.models import Biplane
from vlm.description.power import DragArea
from vlm.errors import InputRefused
from vlm.log.prediction import Unknown

DRAG_AREA = "drag_area_m2"
EFFICIENCY = "efficiency"
FIXED_LOAD = "fixed_load_W"
MASS = "mass_kg"
LIFT_MAXIMUM = "lift_maximum"
ADDED = "added to fit a flight log"

# The fit looks no further than these, as multiples of what the file says.
MASS_RANGE = (0.5, 2.0)
LIFT_RANGE = (0.4, 1.8)
LEAST_EFFICIENCY = 0.15
# Largest drag area looked for, beside ten times the file's own, as a share of the wings' area.
LARGEST_DRAG_SHARE = 0.2


def craft_unknowns(craft: Biplane, wing_area_m2: float) -> dict[str, Unknown]:
    """The unknowns of a craft by name, with what the file says of each.

    Parameters
    ----------
    craft : with [propulsion] and [mass]
    wing_area_m2 : planform area, as a measure of its drag area
    """
    if craft.propulsion is None or craft.mass is None:
        raise InputRefused(f"{craft.source_name}: a fit needs [propulsion] and [mass]")
    area = drag_area(craft)
    efficiency = craft.propulsion.motor_efficiency * craft.propulsion.controller_efficiency
    load, mass = craft.propulsion.fixed_load_W, craft.mass.total_kg
    widest = max(10.0 * area, LARGEST_DRAG_SHARE * wing_area_m2)
    most = craft.propulsion.controller_efficiency
    fixed = mass - craft.mass.body_kg
    rows = [
        Unknown(
            DRAG_AREA, "parasite drag area", "m^2", area, 0.0, widest, 0.1 * widest,
            "drag_area",
        ),
        Unknown(
            EFFICIENCY, "efficiency of motors and controllers", "1", efficiency,
            LEAST_EFFICIENCY, most, 0.05, "efficiency",
        ),
        Unknown(
            FIXED_LOAD, "fixed load", "W", load, 0.0, max(10.0 * load, 200.0), 5.0,
            "fixed_load",
        ),
        Unknown(
            MASS, "mass", "kg", mass, max(MASS_RANGE[0] * mass, 1.01 * fixed),
            MASS_RANGE[1] * mass, 0.1 * mass, "mass",
        ),
    ]  # fmt: skip
    if any(section.form == "parametric" for section in craft.sections.values()):
        rows.append(
            Unknown(
                LIFT_MAXIMUM,
                "lift maximum over the file's",
                "1",
                1.0,
                *LIFT_RANGE,
                0.1,
                "lift_maximum",
            )
        )
    return {unknown.name: unknown for unknown in rows}


def drag_area(craft: Biplane) -> float:
    """Drag area of all that drags besides wings and rotors, along x [m^2]."""
    return sum(item.area_m2 for item in craft.drag_areas)


def corrected(craft: Biplane, values: Mapping[str, float]) -> Biplane:
    """The craft with its unknowns set.

    Drag areas are scaled alike, or one is added where there is none; mass goes into the body;
    efficiency into the motors; lift maxima and minima of parametric sections are scaled alike.

    Parameters
    ----------
    craft : the description
    values : unknowns by name; what is left out stays

    Raises
    ------
    InputRefused
        If a value is not possible.
    """
    changes: dict[str, object] = {}
    if DRAG_AREA in values:
        changes["drag_areas"] = _dragging(craft, values[DRAG_AREA])
    if craft.propulsion is not None:
        propulsion: dict[str, float] = {}
        if EFFICIENCY in values:
            motors = values[EFFICIENCY] / craft.propulsion.controller_efficiency
            propulsion["motor_efficiency"] = min(motors, 1.0)
        if FIXED_LOAD in values:
            propulsion["fixed_load_W"] = values[FIXED_LOAD]
        changes["propulsion"] = craft.propulsion.model_copy(update=propulsion)
    if MASS in values and craft.mass is not None:
        body = craft.mass.body_kg + values[MASS] - craft.mass.total_kg
        if body <= 0.0:
            raise InputRefused(f"a mass of {values[MASS]:g} kg leaves nothing for the body")
        share = body / craft.mass.body_kg
        inertia = tuple(share * moment for moment in craft.mass.body_inertia_kg_m2)
        products = tuple(share * product for product in craft.mass.body_products_kg_m2)
        changes["mass"] = craft.mass.model_copy(
            update={
                "body_kg": body, "body_inertia_kg_m2": inertia, "body_products_kg_m2": products,
            }
        )  # fmt: skip
    if LIFT_MAXIMUM in values:
        changes["sections"] = {
            name: section.model_copy(
                update={
                    key: values[LIFT_MAXIMUM] * limit
                    for key in ("cl_max", "cl_min")
                    if (limit := getattr(section, key)) is not None
                }
            )
            for name, section in craft.sections.items()
        }
    return craft.model_copy(update=changes).from_source(craft.source)


def _dragging(craft: Biplane, total: float) -> tuple[DragArea, ...]:
    before = drag_area(craft)
    if before <= 0.0:
        return (*craft.drag_areas, DragArea(name=ADDED, area_m2=total))
    share = total / before

    def scaled(area: DragArea) -> DragArea:
        sides = {
            key: share * value
            for key in ("area_m2", "side_area_m2", "normal_area_m2")
            if (value := getattr(area, key)) is not None
        }
        return area.model_copy(update=sides)

    return tuple(scaled(area) for area in craft.drag_areas)
