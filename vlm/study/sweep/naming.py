"""Attributes of a dataset's variables: the quantity table, and names composed from it."""

from typing import Any

from vlm.quantities import QUANTITIES
from vlm.sides import wing_and_side

AXES = {
    "fold": "fold_deg",
    "fold_left": "fold_left_deg",
    "fold_right": "fold_right_deg",
    "alpha": "alpha_deg",
    "beta": "beta_deg",
}
TIPS = ("upper_left", "upper_right", "lower_left", "lower_right")
FIN_NUMBERS = {
    "CL_fin_": ("lift coefficient", " on the area of its plates", "lift up"),
    "CY_fin_": ("side force coefficient", " on the area of its plates", "to starboard"),
    "CDi_share_fin_": ("share of the far-field induced drag", "", "drag"),
}
"""Beginnings of the names of a fin's numbers, and what they are."""
ENDINGS = {
    "_error": "half-width of the lattice's error of",
    "_spread": "half-width of what the model leaves open in",
}
"""Endings of the variables that stand beside a number, and what they say of it."""
COUNTED = "_with_rotors"
"""Ending of a number of wings and fins with the rotors counted."""
STABILITY = ("static_margin", "Cm_alpha", "Cl_beta", "Cn_beta")
"""Numbers of stability, from which rotors take."""


def described(name: str) -> dict[str, str]:
    """long_name, units and sign of a variable or an axis of a dataset."""
    known = QUANTITIES.get(AXES.get(name, name))
    if known is not None:
        return known.attributes
    for ending, words in ENDINGS.items():
        if not name.endswith(ending):
            continue
        base = described(name.removesuffix(ending))
        return {
            "long_name": f"{words}: {base['long_name']}",
            "units": base["units"],
        }
    if name.endswith(COUNTED):
        base = described(name.removesuffix(COUNTED))
        return base | {"long_name": f"{base['long_name']}, with rotors that turn without thrust"}
    return _of_part(name) or {
        "long_name": f"key of the geometry file, {name}",
        "units": _unit(name),
    }


def _of_part(name: str) -> dict[str, str] | None:
    for tip in TIPS:
        wing, side = wing_and_side(tip)
        where = f"{wing} {side.words} hinge"
        if name == f"hinge_moment_{tip}_N_m":
            return _at(where, QUANTITIES["moment_N_m"].attributes)
        if name == f"hinge_moment_coefficient_{tip}":
            return _at(where, QUANTITIES["moment_coefficient"].attributes)
    for wing in ("upper", "lower"):
        if name == f"CL_{wing}":
            return {"long_name": f"lift coefficient of the {wing} wing on its own flat area",
                    "units": "1", "positive_means": "lift up"}  # fmt: skip
        if name == f"CDi_share_{wing}":
            return _at(f"{wing} wing", QUANTITIES["CDi_share"].attributes)
    for start, words in FIN_NUMBERS.items():
        if name.startswith(start):
            fin = name.removeprefix(start)
            return {"long_name": f"{words[0]} of the fin {fin}{words[1]}", "units": "1",
                    "positive_means": words[2]}  # fmt: skip
    if name == "condition":
        return {"long_name": "condition number of the influence matrix", "units": "1"}
    if name == "residual":
        return {"long_name": "largest flow through sampled panels over the onset", "units": "1"}
    return None


def _at(where: str, attributes: dict[str, str]) -> dict[str, str]:
    return attributes | {"long_name": f"{attributes['long_name']}, {where}"}


def _unit(key: str) -> str:
    """Unit of a key of the geometry file, from its suffix."""
    for suffix, unit in (("_deg", "deg"), ("_m2", "m^2"), ("_m", "m"), ("_kg", "kg")):
        if key.endswith(suffix):
            return unit
    return "1"


def printed_width(chosen: Any, name: str) -> Any:
    """What is printed behind ±: the lattice's error and the model's spread; None without them.

    Parameters
    ----------
    chosen : a dataset of a sweep, or a part of one
    name : of the quantity
    """
    if f"{name}_error" not in chosen:
        return None
    width = chosen[f"{name}_error"].values
    return width + chosen[f"{name}_spread"].values if f"{name}_spread" in chosen else width


def is_alone(chosen: Any, name: str) -> bool:
    """Whether a number is of wings and fins alone, and the craft's rotors would change it.

    Parameters
    ----------
    chosen : as of :func:`printed_width`
    """
    return name in STABILITY and f"Cn_beta{COUNTED}" in chosen
