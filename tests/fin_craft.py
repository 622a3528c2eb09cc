"""Small invented craft with fins, and loads of single surfaces, for the checks of fins."""

from typing import Any

import numpy as np
from core_craft import wing

from vlm.constants import Floats
from vlm.description.fin import Fin
from vlm.description.folds import FoldAngles
from vlm.description.models import Arrangement, Biplane, Reference
from vlm.description.sections import Section
from vlm.lattice.cellule import Grid
from vlm.lattice.lattice import Lattice, build_lattice
from vlm.loads.coefficients import contracted
from vlm.loads.craft_loads import Loads
from vlm.loads.state import FlightState

FAR = 1e5
"""So far above the wings that they and the fin see nothing of each other [m]."""
COARSE = Grid(rows=4, strips=10)


def plate(**keys: Any) -> Fin:
    """A rectangular fin of 0.2 m chord, changed by further keys."""
    return Fin(**{"name": "plate", "x_m": 0.0, "root_chord_m": 0.2, "end_chord_m": 0.2, **keys})


def two_wings(gap: float = 0.2, **keys: Any) -> Biplane:
    """Two equal rectangular wings of span 1 m and chord 0.2 m; fins as ``fins``."""
    upper = wing(**keys.pop("upper", {}))
    return Biplane(
        title="Invented", upper=upper, lower=wing(), arrangement=Arrangement(gap_m=gap), **keys
    )


def alone(fin: Fin, sections: dict[str, Section] | None = None, **wing_keys: Any) -> Biplane:
    """A wing of span 1 m and chord 0.2 m with a fin that it sees nothing of."""
    return Biplane(
        title="Invented", upper=wing(**wing_keys), fins=(fin,), sections=sections or {},
        reference=Reference(moment_point_m=(0.0, 0.0, 0.0)),
    )  # fmt: skip


def lattice(craft: Biplane, left: float = 0.0, right: float | None = None,
            grid: Grid = COARSE) -> Lattice:  # fmt: skip
    """The lattice of a craft at folds of port and starboard, alike if one is given [deg]."""
    return build_lattice(craft, FoldAngles(left, left if right is None else right), grid)


def force_on(loads: Loads, state: FlightState, surface: str) -> Floats:
    """Force on a surface over dynamic pressure, geometry axes, shape (3,) [m^2]."""
    amounts = state.amounts(loads.reference, loads.columns)
    own = np.array([patch.wing == surface for patch in loads.lattice.patches])
    table = loads.tables(state).wrench[own].sum(axis=0)
    return np.asarray(2.0 * contracted(table, amounts, amounts)[:3])
