"""Sizes that coefficients of parts are made with."""

from vlm.lattice.cellule import Cellule
from vlm.lattice.fins import fin_area
from vlm.loads.parts import FIN_PREFIX


def surface_areas(cellule: Cellule) -> dict[str, float]:
    """Flat planform area of each wing, and the area of each fin's plates as "fin_NAME" [m^2]."""
    fins = {FIN_PREFIX + name: area for name, area in fin_areas(cellule).items()}
    return wing_areas(cellule) | fins


def fin_areas(cellule: Cellule) -> dict[str, float]:
    """Area of each fin, its plates on both sides together, along themselves [m^2]."""
    on_plane = {patch.wing for patch in cellule.patches if patch.on_plane}
    return {
        name: (1.0 if name in on_plane else 2.0) * fin_area(half)
        for name, half in cellule.fins.items()
    }


def wing_areas(cellule: Cellule) -> dict[str, float]:
    """Flat planform area of each wing [m^2]."""
    return {name: 2.0 * half.area for name, half in cellule.halves.items()}


def tip_sizes(cellule: Cellule) -> dict[str, tuple[float, float]]:
    """Flat area [m^2] and span [m] of one tip, by wing."""
    return {
        name: (half.part_area("tip"), float(half.s[-1] - half.s[half.hinge]))
        for name, half in cellule.halves.items()
        if half.hinge is not None
    }
