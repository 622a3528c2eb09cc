"""Sizes that coefficients of parts are made with."""

from vlm.lattice.cellule import Cellule


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
