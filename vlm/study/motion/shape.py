"""The craft's outlines for a picture that moves: flat panels of every body, tips flat."""

import numpy as np

from vlm.constants import Floats
from vlm.description.folds import FoldAngles
from vlm.description.models import Biplane
from vlm.lattice.cellule import Grid
from vlm.lattice.lattice import Lattice, build_lattice
from vlm.lattice.patches import Patch
from vlm.sides import wing_and_side
from vlm.study.motion.results import BodyShape

OUTLINE = Grid(rows=2, strips=8)


def craft_shape(craft: Biplane) -> tuple[BodyShape, ...]:
    """Bodies with their panels, geometry axes from the moment point.

    Raises
    ------
    InputRefused : the geometry cannot be built
    """
    lattice = build_lattice(craft, FoldAngles(0.0, 0.0), OUTLINE)
    point = lattice.reference.moment_point
    return tuple(_shape(lattice, name, point) for name in ("fixed", *lattice.bodies))


def _shape(lattice: Lattice, name: str, point: Floats) -> BodyShape:
    panels = [
        panel - point
        for patch in lattice.patches
        if patch.body == name
        for panel in _outlines(patch)
    ]
    line = lattice.hinges.get(name)
    return BodyShape(
        name=name,
        side=None if line is None else wing_and_side(name)[1],
        linkage=1.0 if line is None else lattice.fold_rates[name],
        point=np.zeros(3) if line is None else line.point - point,
        axis=np.zeros(3) if line is None else line.axis,
        panels=tuple(panels),
    )


def _outlines(patch: Patch) -> list[Floats]:
    """One outline a strip, from the leading to the trailing edge."""
    first, last = patch.nodes[0], patch.nodes[-1]
    return [np.array([first[i], first[i + 1], last[i + 1], last[i]]) for i in range(patch.strips)]
