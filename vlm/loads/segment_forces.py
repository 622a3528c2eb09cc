"""Forces on every bound and chordwise segment in one motion, for loads along the wings."""

from dataclasses import dataclass

import numpy as np

from vlm.constants import Floats
from vlm.flow.influence import velocities_from
from vlm.flow.onset import onset_velocities
from vlm.lattice.patches import Patch
from vlm.loads.craft_loads import GeneralLoads
from vlm.loads.kinks import applied, bend_influence, bends_of, bound_strengths
from vlm.loads.loose import with_loose_ends
from vlm.loads.segments import surface_segments, surface_strengths


@dataclass(frozen=True)
class PatchForces:
    """Forces on one patch, geometry axes.

    Attributes
    ----------
    patch : the patch
    points : shape (segments, 3): bound segments row by row, then chordwise ones row by row [m]
    forces : shape (segments, 3) [N]
    """

    patch: Patch
    points: Floats
    forces: Floats

    def shared_to_strips(self) -> tuple[Floats, Floats]:
        """Force of each strip and its moment about the origin, shape (strips, 3) each.

        A chordwise segment belongs half to the strip on either side of it, wholly at an end.
        """
        rows, strips = self.patch.rows, self.patch.strips
        moments = np.cross(self.points, self.forces)
        split = rows * strips
        results = []
        for values in (self.forces, moments):
            total = values[:split].reshape(rows, strips, 3).sum(axis=0)
            edges = values[split:].reshape(rows, strips + 1, 3).sum(axis=0)
            total[0] += 0.5 * edges[0]
            total[-1] += 0.5 * edges[-1]
            total += 0.5 * (edges[:-1] + edges[1:])
            results.append(total)
        return results[0], results[1]


def patch_forces(loads: GeneralLoads, amounts: Floats, density: float) -> list[PatchForces]:
    """Forces of every patch.

    Parameters
    ----------
    amounts : amounts of the unit flows, shape (columns,) [m/s, rad/s]
    density : [kg/m^3]

    Their sums are those of the load tables.
    """
    lattice = loads.lattice
    wake, unit_circulation = loads.flow(*_angles(amounts))
    circulation = unit_circulation @ amounts[:, None]
    rings = [circulation[lattice.panels_of(i)] for i in range(len(lattice.patches))]
    strengths = wake.strengths(circulation)
    on_segments = surface_strengths(lattice, circulation)
    bends = bends_of(lattice)
    found = []
    for index, patch in enumerate(lattice.patches):
        segments = surface_segments(patch)
        velocity = velocities_from(segments.points, wake, strengths)
        for bend in bends:
            if bend.target == index:
                source = lattice.patches[bend.source]
                strength = bound_strengths(source, rings[bend.source])
                change = applied(bend_influence(patch, source, bend.core), strength)
                velocity[: len(change)] += change
        loose = with_loose_ends(lattice, index, np.zeros((0, 3, 1)), circulation)
        velocity[: len(loose)] += loose
        whole = velocity[:, :, 0] + onset_velocities(lattice, patch, segments.points) @ amounts
        forces = density * on_segments[index] * np.cross(whole, segments.vectors)
        found.append(PatchForces(patch, segments.points, forces))
    return found


def _angles(amounts: Floats) -> tuple[float, float]:
    """Angle of attack and sideslip of amounts of the unit flows; none without a wind [rad]."""
    x, y, z = amounts[:3]
    speed = float(np.linalg.norm(amounts[:3]))
    return float(np.arctan2(z, x)), float(np.arcsin(-y / speed)) if speed > 0.0 else 0.0
