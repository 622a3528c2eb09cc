"""Whether a solved lattice really stops the flow through its panels."""

import numpy as np

from vlm.errors import ComputationFailed
from vlm.flow.influence import velocities_from
from vlm.flow.onset import FIRST_TIP, onset_velocities
from vlm.loads.craft_loads import CraftLoads

SAMPLES = 12
RESIDUAL_LIMIT = 1e-7


def residual(loads: CraftLoads) -> float:
    """Largest normal velocity left at sampled control points in the unit translations [1].

    The velocities are summed anew from the circulations, whichever way these were found.
    """
    lattice = loads.lattice
    worst = 0.0
    share = max(1, SAMPLES // len(lattice.patches))
    strengths = [
        loads.circulation[lattice.panels_of(i), :FIRST_TIP] for i in range(len(lattice.patches))
    ]
    for patch in lattice.patches:
        chosen = np.linspace(0, patch.panels - 1, share).astype(int)
        points = patch.controls.reshape(-1, 3)[chosen]
        normals = patch.normals.reshape(-1, 3)[chosen]
        induced = velocities_from(points, lattice.patches, strengths, loads.direction)
        whole = induced + onset_velocities(lattice, patch, points)[:, :, :FIRST_TIP]
        through = np.einsum("mcq,mc->mq", whole, normals)
        worst = max(worst, float(np.abs(through[:, :3]).max()))
    return worst


def checked_residual(loads: CraftLoads) -> float:
    """The residual, if it is small enough to trust the numbers.

    Raises
    ------
    ComputationFailed : air flows through panels: the solution is not one
    """
    left = residual(loads)
    if not left < RESIDUAL_LIMIT:
        raise ComputationFailed(
            f"the solution leaves {left:.1e} of the onset flowing through panels (limit"
            f" {RESIDUAL_LIMIT:.0e}); condition number {loads.condition:.1e}: surfaces touch, or"
            " panels have almost no area"
        )
    return left
