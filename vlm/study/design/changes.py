"""Craft of other dimensions: keys set again, and what must follow them.

A key of the file is set as ``--set`` does. Two more keys are no keys of the file: ``fold_deg``, a
fold that is held, and ``upper.hinge_place_m`` or ``lower.hinge_place_m``, the lateral place of the
hinge on a wing whose flat span stays.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from vlm.description.dimensions import wing_dimensions
from vlm.description.models import Biplane
from vlm.description.numbers import given_number, number_at
from vlm.description.overrides import as_overrides
from vlm.description.wing import Wing
from vlm.errors import InputRefused

FOLD = "fold_deg"
HINGE = "hinge_place_m"
FOLLOWS = (
    "a tip's mass grows with its area, its centre with its span, its inertias with both",
    "rotors, drag areas and the body's centre move with the wings: a place between the wings keeps"
    " its share of gap and stagger",
    "a mechanism stays at its hinge and keeps its mass",
    "all else is held as in the file: body mass, rotors, motors, battery, sections, drag areas",
)
"""What follows a changed key, and what does not."""


@dataclass(frozen=True)
class SearchKey:
    """A key that may change, with its bounds.

    Attributes
    ----------
    name : path in the file, or one of the further keys
    low, high : bounds, in the key's own unit
    """

    name: str
    low: float
    high: float

    def value(self, share: float) -> float:
        """The value at a share of the way from the low to the high bound."""
        return self.low + share * (self.high - self.low)

    def share(self, value: float) -> float:
        """The share of the way at which a value stands, cut to 0 to 1."""
        return min(1.0, max(0.0, (value - self.low) / (self.high - self.low)))


def checked_key(
    craft: Biplane, name: str, low: float, high: float, *, origin: str = "--key"
) -> SearchKey:
    """A key to search over, refused where the craft has no such number.

    Parameters
    ----------
    origin : where the key was asked for, for messages

    Raises
    ------
    InputRefused : names the key, and what is allowed
    """
    said = f"{origin} {name}"
    if not low < high or not abs(low) + abs(high) < float("inf"):
        raise InputRefused(f"{said}={low:g}:{high:g}; write KEY=FROM:TO, the lower bound first")
    key = SearchKey(name, low, high)
    if name == FOLD:
        if not craft.tips:
            raise InputRefused(f"{said}: neither wing of {craft.source_name} has tips to fold")
        return key
    wing_name, _, last = name.partition(".")
    if last == HINGE:
        _checked_hinge(craft, wing_name, said)
        return key
    besides = f" Besides keys of the file there are {FOLD}, upper.{HINGE} and lower.{HINGE}"
    given_number(craft, name, said, besides)
    return key


def _checked_hinge(craft: Biplane, wing_name: str, said: str) -> None:
    wing = craft.wings.get(wing_name)
    if wing is None or wing.tips is None:
        raise InputRefused(f"{said}: {craft.source_name} has no tips on a wing {wing_name}")
    if wing.span_m is None or wing.tips.span_m is None:
        raise InputRefused(f"{said}: a wing or tip that is given by stations has its hinge fixed")


def present_value(craft: Biplane, name: str) -> float | None:
    """Value of a key in the file; None where the file does not give it."""
    if name == FOLD:
        design = craft.design
        return 0.0 if design is None or design.fold_deg is None else design.fold_deg
    wing_name, _, last = name.partition(".")
    if last == HINGE:
        span = craft.wings[wing_name].span_m
        return None if span is None else 0.5 * span
    return number_at(craft, name)


def designed(craft: Biplane, values: Mapping[str, float]) -> Biplane:
    """A craft of other dimensions, with what follows them.

    Parameters
    ----------
    values : by key; ``fold_deg`` is left to whoever flies the craft

    Raises
    ------
    InputRefused : the changed craft is not allowed
    """
    changes: dict[str, object] = {}
    for name, value in values.items():
        wing_name, _, last = name.partition(".")
        if last == HINGE:
            changes |= _moved_hinge(craft.wings[wing_name], wing_name, value)
        elif name != FOLD:
            changes[name] = value
    changed = craft.overridden(as_overrides(changes)) if changes else craft
    followed = {k: v for k, v in _following(craft, changed).items() if k not in changes}
    return changed.overridden(as_overrides(followed)) if followed else changed


def _moved_hinge(wing: Wing, name: str, place: float) -> dict[str, object]:
    """Spans of wing and tip with the hinge elsewhere, end to end as long as before."""
    assert wing.span_m is not None and wing.tips is not None and wing.tips.span_m is not None
    half = 0.5 * wing.span_m + wing.tips.span_m
    return {f"{name}.span_m": 2.0 * place, f"{name}.tips.span_m": half - place}


def _following(old: Biplane, new: Biplane) -> dict[str, object]:
    """Keys that follow, with their values."""
    if old.mass is None:
        return _moved_places(old, new)
    changes: dict[str, object] = {}
    for name, tip in old.mass.tips.items():
        changes |= _grown_tip(old.wings[name], new.wings[name], f"mass.{name}_tip", tip)
    gained = _fixed_area(new) - _fixed_area(old)
    heavier = 0.0 if old.design is None else old.design.square_metre_of_wing_kg * gained
    if heavier:
        changes["mass.body_kg"] = old.mass.body_kg + heavier
    return changes | _moved_places(old, new)


def _fixed_area(craft: Biplane) -> float:
    """Planform area of all wings without their tips [m^2]."""
    sizes = [wing_dimensions(wing) for wing in craft.wings.values()]
    return sum(size.planform_area_m2 - 2.0 * size.tip_area_m2 for size in sizes)


def _grown_tip(old: Wing, new: Wing, place: str, tip: Any) -> dict[str, object]:
    """Mass, centre and inertia of a tip of another area and span."""
    assert old.tips is not None and new.tips is not None
    area = wing_dimensions(new).tip_area_m2 / wing_dimensions(old).tip_area_m2
    span = new.tips.flat_span_m / old.tips.flat_span_m
    if abs(area - 1.0) < 1e-12 and abs(span - 1.0) < 1e-12:
        return {}
    chord = area / span
    about_aft, about_out, about_up = tip.inertia_kg_m2
    # The integrals of squares of which moments of inertia are sums: each grows in its own way.
    height = 0.5 * (about_aft + about_out - about_up)
    wide, deep = area * span**2 * (about_aft - height), area * chord**2 * (about_out - height)
    height *= area
    products = tip.products_kg_m2
    return {
        f"{place}.mass_kg": area * tip.mass_kg,
        f"{place}.centre_m": [chord * tip.centre_m[0], span * tip.centre_m[1], tip.centre_m[2]],
        f"{place}.inertia_kg_m2": [wide + height, deep + height, wide + deep],
        f"{place}.products_kg_m2": [
            area * chord * span * products[0], area * chord * products[1],
            area * span * products[2],
        ],
    }  # fmt: skip


def _moved_places(old: Biplane, new: Biplane) -> dict[str, object]:
    """Places that move with the lower wing, in proportion to how near they are to it."""
    if old.arrangement is None or new.arrangement is None:
        return {}
    before, after = old.arrangement, new.arrangement
    lower, aft = after.gap_m - before.gap_m, after.stagger_m - before.stagger_m
    if lower == 0.0 and aft == 0.0:
        return {}

    def moved(place: tuple[float, float, float]) -> list[float]:
        share = min(1.0, max(0.0, -place[2] / before.gap_m))
        return [place[0] + share * aft, place[1], place[2] - share * lower]

    changes: dict[str, object] = {}
    for index, rotor in enumerate(old.rotors):
        changes[f"rotors.{index}.position_m"] = moved(rotor.position_m)
    for index, area in enumerate(old.drag_areas):
        if area.position_m is not None:
            changes[f"drag_areas.{index}.position_m"] = moved(area.position_m)
    if old.mass is not None:
        changes["mass.body_centre_m"] = moved(old.mass.body_centre_m)
    return changes
