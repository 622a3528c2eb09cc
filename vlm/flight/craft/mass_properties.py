"""Centre of gravity and inertia of a craft whose tips turn.

The craft is a few rigid bodies. Each tip's centre and inertia are given in its own flat frame,
turned by its fold, and gathered by the theorem of parallel axes (Steiner):

    I = sum (R I_k R^T + m_k (|d_k|^2 1 - d_k d_k^T)),   d_k = centre_k - centre         (1)
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from vlm.constants import Floats
from vlm.description.mass import Mass, TipMass
from vlm.description.models import Biplane
from vlm.errors import BlockMissing
from vlm.frames import GEOMETRY_TO_BODY, rotation_about
from vlm.lattice.cellule import Cellule
from vlm.lattice.patches import MIRROR, HingeLine
from vlm.lattice.planform import HalfPlanform
from vlm.sides import Side, tip_body


@dataclass(frozen=True)
class PointedMass:
    """One rigid part where it stands: mass [kg], centre [m] and inertia about it [kg m^2],
    geometry axes."""

    mass: float
    centre: Floats
    inertia: Floats


@dataclass(frozen=True)
class MassProperties:
    """Mass of a craft at one fold setting.

    Attributes
    ----------
    mass : [kg]
    centre : centre of gravity, shape (3,), geometry axes [m]
    inertia : inertia tensor about the centre of gravity, shape (3, 3), body axes
        (x forward, y starboard, z down); off-diagonal entries are minus the products [kg m^2]
    parts : the rigid parts by name ("fixed", "upper_left", ...), geometry axes
    """

    mass: float
    centre: Floats
    inertia: Floats
    parts: Mapping[str, PointedMass]


def inertia_tensor(
    moments: tuple[float, float, float], products: tuple[float, float, float]
) -> Floats:
    """Tensor of moments (xx, yy, zz) and products (xy, xz, yz), shape (3, 3) [kg m^2]."""
    xy, xz, yz = products
    tensor = np.diag(np.asarray(moments, dtype=float))
    tensor[0, 1] = tensor[1, 0] = -xy
    tensor[0, 2] = tensor[2, 0] = -xz
    tensor[1, 2] = tensor[2, 1] = -yz
    return tensor


def moved_inertia(inertia: Floats, mass: float, offset: Floats) -> Floats:
    """Inertia about a point ``offset`` [m] away from the centre: the theorem of parallel axes."""
    return np.asarray(inertia + mass * (offset @ offset * np.eye(3) - np.outer(offset, offset)))


def gathered(parts: Mapping[str, PointedMass]) -> MassProperties:
    """One body of many: mass, centre and inertia about it, equation (1)."""
    mass = sum(part.mass for part in parts.values())
    centre = np.asarray(sum(part.mass * part.centre for part in parts.values())) / mass
    inertia = np.zeros((3, 3))
    for part in parts.values():
        inertia += moved_inertia(part.inertia, part.mass, part.centre - centre)
    turned = GEOMETRY_TO_BODY @ inertia @ GEOMETRY_TO_BODY
    return MassProperties(mass=mass, centre=centre, inertia=turned, parts=dict(parts))


def mass_properties(
    mass: Mass,
    halves: Mapping[str, HalfPlanform],
    hinges: Mapping[str, HingeLine],
    folds: Mapping[str, float],
) -> MassProperties:
    """Mass, centre of gravity and inertia at one fold setting.

    Parameters
    ----------
    mass : the description
    halves : starboard half planforms by wing, which hold the tips' flat frames
    hinges : hinge lines by body, as in a lattice
    folds : angle of every tip by body ("upper_left", ...) [rad]; those left out are flat
    """
    parts = {"fixed": _fixed_part(mass, halves)}
    for wing, tip in mass.tips.items():
        for side in Side:
            body = tip_body(wing, side)
            line = hinges[tip_body(wing, Side.STARBOARD)]
            starboard = _turned_tip(tip, halves[wing], line, folds.get(body, 0.0))
            parts[body] = starboard if side is Side.STARBOARD else _mirrored(starboard)
    return gathered(parts)


def needed_mass(craft: Biplane) -> Mass:
    """The masses of a craft.

    Raises
    ------
    InputRefused : the file has no [mass]
    """
    if craft.mass is None:
        raise BlockMissing(
            f"{craft.source_name}: [mass] is missing; this needs the masses of body and tips"
        )
    return craft.mass


def craft_mass_properties(
    craft: Biplane, cellule: Cellule, folds: Mapping[str, float]
) -> MassProperties:
    """:func:`mass_properties` of a described craft.

    Raises
    ------
    InputRefused : the file has no [mass]
    """
    return mass_properties(needed_mass(craft), cellule.halves, cellule.hinges, folds)


def _fixed_part(mass: Mass, halves: Mapping[str, HalfPlanform]) -> PointedMass:
    """The body with the mechanisms, which sit on the fixed wings."""
    body = PointedMass(
        mass.body_kg,
        np.array(mass.body_centre_m),
        inertia_tensor(mass.body_inertia_kg_m2, mass.body_products_kg_m2),
    )
    if mass.mechanism is None:
        return body
    parts = {"body": body}
    for wing in mass.tips:
        place = _placed(halves[wing], mass.mechanism.centre_m)
        starboard = PointedMass(mass.mechanism.each_kg, place, np.zeros((3, 3)))
        parts[f"{wing}_right"] = starboard
        parts[f"{wing}_left"] = _mirrored(starboard)
    whole = gathered(parts)
    return PointedMass(
        whole.mass, whole.centre, GEOMETRY_TO_BODY @ whole.inertia @ GEOMETRY_TO_BODY
    )


def _placed(half: HalfPlanform, place: tuple[float, float, float]) -> Floats:
    """A place given aft, outboard and up of the hinge's leading edge, geometry axes [m]."""
    origin, axes = half.tip_frame()
    return np.asarray(origin + axes @ np.array(place))


def _turned_tip(tip: TipMass, half: HalfPlanform, hinge: HingeLine, fold: float) -> PointedMass:
    axes = half.tip_frame()[1]
    turn = rotation_about(hinge.axis, fold)
    rotation = turn @ axes
    own = inertia_tensor(tip.inertia_kg_m2, tip.products_kg_m2)
    return PointedMass(
        tip.mass_kg,
        hinge.point + turn @ (_placed(half, tip.centre_m) - hinge.point),
        rotation @ own @ rotation.T,
    )


def _mirrored(part: PointedMass) -> PointedMass:
    reflection = np.diag(MIRROR)
    return PointedMass(part.mass, part.centre * MIRROR, reflection @ part.inertia @ reflection)
