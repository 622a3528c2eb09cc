"""Whether a solved lattice really stops the flow through its panels."""

import numpy as np

from vlm.errors import ComputationFailed
from vlm.flow.influence import velocities_from
from vlm.flow.onset import onset_velocities
from vlm.loads.craft_loads import CraftLoads, Loads

SAMPLES = 12
TRANSLATIONS = 3
RESIDUAL_LIMIT = 1e-7


def residual(loads: Loads) -> float:
    """Largest normal velocity left at sampled control points in the unit translations [1].

    The velocities are summed again from the circulations, whichever way these were found.
    """
    return max(_residual(one) for one in loads.solutions)


def _residual(loads: CraftLoads) -> float:
    lattice = loads.lattice
    share = max(1, SAMPLES // len(lattice.patches))
    points, normals, onset, places = [], [], [], []
    for index, patch in enumerate(lattice.patches):
        chosen = np.linspace(0, patch.panels - 1, share).astype(int)
        points.append(patch.controls.reshape(-1, 3)[chosen])
        normals.append(patch.normals.reshape(-1, 3)[chosen])
        onset.append(onset_velocities(lattice, patch, points[-1])[:, :, :TRANSLATIONS])
        places.append(lattice.offsets[index] + chosen)
    circulation = loads.circulation[:, :TRANSLATIONS]
    whole = np.concatenate(onset) + velocities_from(
        np.concatenate(points), loads.wake, loads.wake.strengths(circulation)
    )
    through = np.einsum("mcq,mc->mq", whole, np.concatenate(normals))
    through += loads.wake.corrected(circulation)[np.concatenate(places)]
    return float(np.abs(through).max())


def checked_residual(loads: Loads) -> float:
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
