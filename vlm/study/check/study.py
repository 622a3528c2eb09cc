"""What a file describes and what it lacks: the answer of ``foldspan check``."""

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Annotated, Any, TypedDict

import numpy as np

from vlm.constants import GRAVITY, Floats
from vlm.description.folds import FoldAngles
from vlm.description.models import Biplane
from vlm.errors import InputRefused
from vlm.findings import Finding
from vlm.flight.craft.mass_properties import craft_mass_properties
from vlm.lattice.cellule import Cellule, Grid, build_cellule
from vlm.lattice.lattice import folded
from vlm.plain import Shown
from vlm.study.check.balance import PitchBalance, balance_of
from vlm.study.check.command_needs import CommandAnswer, command_answers
from vlm.study.check.dimensions import Dimensions, FoldSizes, dimensions
from vlm.study.check.hover import Hover, hover_of
from vlm.study.check.plausible import plausibility_findings


@dataclass(frozen=True)
class FoldMass:
    """Masses at one fold of both sides.

    Attributes
    ----------
    fold_deg : [deg]
    centre_m : centre of gravity, geometry axes [m]
    inertia_kg_m2 : about it, about the body axes x, y, z [kg m^2]
    product_xz_kg_m2 : product of inertia, body axes [kg m^2]
    wing_loading_N_m2 : weight over the area seen from above [N/m^2]
    """

    fold_deg: float
    centre_m: tuple[float, float, float]
    inertia_kg_m2: tuple[float, float, float]
    product_xz_kg_m2: float
    wing_loading_N_m2: float | None


@dataclass(frozen=True)
class CraftCheck:
    """What a file describes, which commands it can answer, and what is hard to believe.

    Attributes
    ----------
    refused : why no lattice of it can be built, with flat tips; None
        where one can
    balance : in pitch on the wings; None where blocks are missing or no trim is found
    """

    dimensions: Dimensions
    mass_kg: float | None
    wing_loading_N_m2: float | None
    masses: tuple[FoldMass, ...]
    hover: Hover | None
    commands: tuple[CommandAnswer, ...]
    findings: tuple[Finding, ...]
    refused: str | None = None
    balance: PitchBalance | None = None


def craft_check(craft: Biplane, folds: Sequence[float] | None = None) -> CraftCheck:
    """Everything about a file that needs no solve, and one trim for the balance in pitch.

    Parameters
    ----------
    folds : of the tables over fold; every 15 degrees within the limits, these and the named ones
        if left out [deg]

    Raises
    ------
    InputRefused : the wings cannot be built
    """
    found = dimensions(craft, folds)
    cellule = build_cellule(craft, Grid(rows=4, strips=12))
    hover = hover_of(craft, cellule)
    mass = None if craft.mass is None else craft.mass.total_kg
    area, refused = found["reference"]["area_m2"], _refused(craft, cellule)
    return CraftCheck(
        dimensions=found,
        mass_kg=mass,
        wing_loading_N_m2=None if mass is None else mass * GRAVITY / area,
        masses=_masses(craft, cellule, found["folds"]),
        hover=hover,
        commands=command_answers(craft),
        findings=tuple(
            plausibility_findings(craft, cellule, None if hover is None else hover.thrust_N)
        ),
        refused=refused,
        balance=balance_of(craft) if refused is None else None,
    )


def _refused(craft: Biplane, cellule: Cellule) -> str | None:
    """Why surfaces cannot stand so, with the tips as near to flat as they go; None if they can."""
    try:
        folded(cellule, craft, FoldAngles())
    except InputRefused as error:
        return str(error).removeprefix(f"{craft.source_name}: ")
    return None


class HoverDocument(TypedDict):
    """Whether the rotors can carry the craft at rest at sea level.

    Attributes
    ----------
    weight_N : [N]
    thrust_N : highest thrust at rest along the craft, pitch balanced; null where nothing limits
        it [N]
    limit : what ends it; null where nothing does
    disc_loading_N_m2 : weight over the area of all discs [N/m^2]
    possible : whether thrust exceeds weight; null where it is not known, as the thrust has no limit
        or is too near to the weight
    """

    weight_N: float
    thrust_N: float | None
    limit: str | None
    disc_loading_N_m2: float
    possible: bool | None


class CheckDocument(Dimensions):
    """What a file describes, which commands it can answer, and what is hard to believe.

    Attributes
    ----------
    mass_kg, wing_loading_N_m2 : null without [mass]; loading over the reference area
    masses : at every fold of the table
    hover : null without rotors or masses
    balance : in pitch on the wings; null without rotors, masses or propulsion, or without a trim
    commands : each with the blocks that the file lacks for it
    refused : why no command can solve it, as surfaces meet; null where they can
    findings : warnings, each with its number, limit and remedy
    """

    mass_kg: float | None
    wing_loading_N_m2: float | None
    masses: list[Annotated[dict[str, Any], Shown(FoldMass)]]
    hover: HoverDocument | None
    balance: Annotated[dict[str, Any] | None, Shown(PitchBalance | None)]
    commands: list[Annotated[dict[str, Any], Shown(CommandAnswer)]]
    refused: str | None
    findings: list[Annotated[dict[str, Any], Shown(Finding)]]


def check_document(check: CraftCheck) -> CheckDocument:
    """The check as one JSON document."""
    return {
        **check.dimensions,
        "mass_kg": check.mass_kg,
        "wing_loading_N_m2": check.wing_loading_N_m2,
        "masses": [asdict(one) for one in check.masses],
        "hover": None if check.hover is None else _hover(check.hover),
        "balance": None if check.balance is None else asdict(check.balance),
        "commands": [asdict(one) for one in check.commands],
        "refused": check.refused,
        "findings": [asdict(one) for one in check.findings],
    }


def _hover(hover: Hover) -> HoverDocument:
    return {
        "weight_N": hover.weight_N,
        "thrust_N": hover.thrust_N,
        "limit": hover.limit,
        "disc_loading_N_m2": hover.disc_loading_N_m2,
        "possible": hover.possible,
    }


def _masses(craft: Biplane, cellule: Cellule, rows: Sequence[FoldSizes]) -> tuple[FoldMass, ...]:
    if craft.mass is None:
        return ()
    areas = {row["fold_deg"]: row["projected_area_m2"] for row in rows} or {0.0: None}
    found = []
    for angle, area in areas.items():
        folds = FoldAngles.symmetric(angle)
        try:
            turned = folded(cellule, craft, folds).folds if cellule.hinges else {}
        except InputRefused:
            continue
        properties = craft_mass_properties(craft, cellule, turned)
        inertia = properties.inertia
        found.append(
            FoldMass(
                angle,
                _triple(properties.centre),
                _triple(np.diag(inertia)),
                float(-inertia[0, 2]),
                None if area is None else properties.mass * GRAVITY / area,
            )
        )
    return tuple(found)


def _triple(values: Floats) -> tuple[float, float, float]:
    x, y, z = (float(v) + 0.0 for v in values)
    return x, y, z
