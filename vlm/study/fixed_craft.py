"""The craft that would be built if it did not fold, or folded with a mechanism of another mass."""

from vlm.description.models import Biplane
from vlm.errors import InputRefused


def without_mechanism(craft: Biplane) -> Biplane:
    """The same craft with its tips fixed: mechanism and actuator taken out.

    Raises
    ------
    InputRefused : the file has no [mass]
    """
    if craft.mass is None:
        raise InputRefused(f"{craft.source_name}: [mass] is missing; a mission needs it")
    update = {"mass": craft.mass.without_mechanism(), "actuator": None}
    return craft.model_copy(update=update).from_source(craft.source)


def with_mechanism_mass(craft: Biplane, mass_kg: float) -> Biplane | None:
    """A copy whose folding mechanisms weigh so much together, each where it stands.

    None where the file names no mechanism.
    """
    assert craft.mass is not None
    mechanism = craft.mass.mechanism
    if mechanism is None:
        return None
    each = mass_kg * mechanism.each_kg / craft.mass.mechanism_kg
    changed = mechanism.model_copy(update={"each_kg": each})
    mass = craft.mass.model_copy(update={"mechanism": changed})
    return craft.model_copy(update={"mass": mass}).from_source(craft.source)


def without_mechanism_drag(craft: Biplane) -> Biplane | None:
    """A copy whose folding mechanisms have no drag; None where they have none."""
    if craft.mass is None or craft.mass.mechanism is None:
        return None
    if craft.mass.mechanism_drag_area_m2 == 0.0:
        return None
    mechanism = craft.mass.mechanism.model_copy(update={"drag_area_m2": 0.0})
    mass = craft.mass.model_copy(update={"mechanism": mechanism})
    return craft.model_copy(update={"mass": mass}).from_source(craft.source)


def with_tip_span(craft: Biplane, share: float) -> Biplane | None:
    """A copy whose tips have a share of their span; None where tips are given by stations.

    The end chord stays. The tips' mass grows with their span and its centre moves out alike. Their
    moments of inertia are scaled like the mass: steady flight does not ask for them.
    """
    tables = craft.model_dump(exclude_none=True)
    for wing, tips in craft.tips.items():
        if tips.span_m is None:
            return None
        tables[wing]["tips"]["span_m"] = share * tips.span_m
        mass = tables["mass"][f"{wing}_tip"]
        mass["mass_kg"] *= share
        aft, out, up = mass["centre_m"]
        mass["centre_m"] = (aft, share * out, up)
        mass["inertia_kg_m2"] = tuple(share * part for part in mass["inertia_kg_m2"])
        mass["products_kg_m2"] = tuple(share * part for part in mass["products_kg_m2"])
    return Biplane.model_validate(tables).from_source(craft.source)
