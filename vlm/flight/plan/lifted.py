"""A schedule that does not ask for some of its constraints."""

from collections.abc import Iterable

from vlm.description.schedule import Schedule

ASKED_BY: dict[str, tuple[str, object]] = {
    "thrust left on the rotors": ("rotor_margin_min", None),
    "stall margin": ("stall_margin_min_deg", None),
    "dihedral effect": ("dihedral_effect", "any"),
    "rolling moment": ("roll_moment_min_N_m", None),
    "folding rate": ("folding_rate_min_deg_s", None),
    "hinge moment": ("hinge_moment_max_N_m", None),
    "room to roll": ("roll_reserve_deg", None),
    "forbidden": ("forbidden_deg", ()),
}
"""By constraint: the schedule's key that asks for it, and its value where nothing is asked."""
OF_MOVING = ("room to roll", "rolling moment", "folding rate")
"""Constraints that do not bind a craft whose mechanism holds one fold throughout."""
OF_FOLDING = (*OF_MOVING, "hinge moment", "forbidden")
"""Constraints that do not bind a craft without a mechanism."""


def without(schedule: Schedule, names: Iterable[str]) -> Schedule:
    """The schedule without some constraints; limits of the craft itself stay."""
    asked = [ASKED_BY.get(name.partition(" from ")[0]) for name in names]
    return schedule.model_copy(update=dict(key for key in asked if key is not None))
