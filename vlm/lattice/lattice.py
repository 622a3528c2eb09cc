"""The lattice of a craft at one fold setting."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from vlm.constants import Floats
from vlm.description.folds import FoldAngles
from vlm.description.models import Biplane
from vlm.frames import rotation_about
from vlm.lattice.cellule import Cellule, Grid, build_cellule
from vlm.lattice.collisions import refuse_collisions
from vlm.lattice.contact import Joint, joined_patches
from vlm.lattice.edges import SharedEdge, shared_edges
from vlm.lattice.fins import Junction
from vlm.lattice.patches import HingeLine, Patch
from vlm.lattice.reference import ReferenceFrame
from vlm.sides import Side, other_body, tip_body, wing_and_side


@dataclass(frozen=True)
class Lattice:
    """Panels of a whole craft in geometry axes: starboard patches, then their port images.

    Attributes
    ----------
    patches : see :class:`~vlm.lattice.patches.Patch`
    hinges : hinge lines by body ("upper_right", ...)
    fold_rates : by body, the turn of the tip per unit of commanded fold (the linkage ratio)
    folds : the tips' angles by body [rad]
    commanded : the commanded fold of each side
    reference : reference area, span, chord and moment point
    joints : tip ends joined to another wing
    grid : the grid it was made with
    junctions : where fins stand on wings
    """

    patches: tuple[Patch, ...]
    hinges: Mapping[str, HingeLine]
    folds: Mapping[str, float]
    fold_rates: Mapping[str, float]
    commanded: FoldAngles
    reference: ReferenceFrame
    grid: Grid
    joints: tuple[Joint, ...] = ()
    junctions: tuple[Junction, ...] = ()
    offsets: tuple[int, ...] = field(init=False)

    def __post_init__(self) -> None:
        counts = [patch.panels for patch in self.patches]
        object.__setattr__(self, "offsets", tuple(int(n) for n in np.cumsum([0, *counts])))
        for patch in self.patches:
            for name in ("nodes", "controls", "normals"):
                array = getattr(patch, name)
                if not np.all(np.isfinite(array)):
                    raise ValueError(f"{name} of {patch.wing} {patch.part} are not all finite")
                array.setflags(write=False)

    @property
    def panels(self) -> int:
        """Number of panels."""
        return self.offsets[-1]

    @property
    def is_mirror_symmetric(self) -> bool:
        """Whether the port side is the mirror image of the starboard side."""
        return all(
            self.folds[tip_body(wing, Side.PORT)] == self.folds[tip_body(wing, Side.STARBOARD)]
            for wing in {wing_and_side(name)[0] for name in self.folds}
        )

    @property
    def bodies(self) -> tuple[str, ...]:
        """Names of the tips, each a rigid body."""
        return tuple(self.hinges)

    @property
    def is_joined(self) -> bool:
        """Whether any tip's end is joined to another wing."""
        return any(joint.closed for joint in self.joints)

    @property
    def has_fins(self) -> bool:
        """Whether any patch is a fin's."""
        return any(patch.part == "fin" for patch in self.patches)

    @property
    def plane_panels(self) -> NDArray[np.intp]:
        """Starboard panels of fins in the plane of symmetry, shape (n,)."""
        half = len(self.patches) // 2
        own = [
            np.arange(self.offsets[i], self.offsets[i + 1])
            for i, patch in enumerate(self.patches[:half])
            if patch.on_plane
        ]
        return np.concatenate([np.zeros(0, dtype=np.intp), *own])

    @cached_property
    def shared_edges(self) -> list[SharedEdge]:
        """All ordered pairs of patch ends whose nodes coincide."""
        return shared_edges(self.patches)

    def panels_of(self, patch_index: int) -> slice:
        """Where a patch's panels stand in panel order."""
        return slice(self.offsets[patch_index], self.offsets[patch_index + 1])

    def trailing_panels(self) -> NDArray[np.intp]:
        """Panels at the trailing edge, strip by strip, shape (strips,)."""
        ends = [
            np.arange(self.offsets[i + 1] - patch.strips, self.offsets[i + 1])
            for i, patch in enumerate(self.patches)
        ]
        return np.concatenate(ends)

    def controls(self) -> Floats:
        """Control points of all panels, shape (panels, 3) [m]."""
        return np.concatenate([patch.controls.reshape(-1, 3) for patch in self.patches])

    def normals(self) -> Floats:
        """Unit normals of all panels, shape (panels, 3) [1]."""
        return np.concatenate([patch.normals.reshape(-1, 3) for patch in self.patches])


def folded(cellule: Cellule, craft: Biplane, commanded: FoldAngles) -> Lattice:
    """Turn the tips of a cellule about their hinges.

    Raises
    ------
    InputRefused : a fold beyond the tips' limits, or surfaces that cross
    """
    folds = {name: float(np.radians(deg)) for name, deg in craft.tip_folds(commanded).items()}
    placed = turned_patches(cellule, folds)
    refuse_collisions(
        lambda angles: placed if angles is folds else turned_patches(cellule, angles),
        folds, cellule.stop_of, cellule.first_row,
    )  # fmt: skip
    patches, joints = joined_patches(placed, cellule.first_row)
    return Lattice(
        patches=patches,
        hinges=MappingProxyType(dict(cellule.hinges)),
        folds=MappingProxyType(folds),
        fold_rates=MappingProxyType(
            {name: _linkage(craft, wing_and_side(name)[0]) for name in cellule.hinges}
        ),
        commanded=commanded,
        reference=cellule.reference,
        grid=cellule.grid,
        joints=joints,
        junctions=cellule.junctions,
    )


def mirrored_lattice(lattice: Lattice) -> Lattice:
    """The mirror image of a lattice, in the same order of patches."""
    half = len(lattice.patches) // 2
    swapped = lattice.patches[half:] + lattice.patches[:half]
    folds = {name: lattice.folds[other_body(name)] for name in lattice.folds}
    joints = tuple(replace(j, tip=other_body(j.tip)) for j in lattice.joints)
    return Lattice(
        patches=tuple(patch.mirrored() for patch in swapped),
        hinges=lattice.hinges,
        folds=MappingProxyType(folds),
        fold_rates=lattice.fold_rates,
        commanded=lattice.commanded.mirrored(),
        reference=lattice.reference,
        grid=lattice.grid,
        joints=joints,
        junctions=lattice.junctions,
    )


def _linkage(craft: Biplane, wing: str) -> float:
    tips = getattr(craft, wing).tips
    return float(tips.linkage)


def turned_patches(cellule: Cellule, folds: Mapping[str, float]) -> tuple[Patch, ...]:
    """All patches, each tip's turned by its angle [rad]; untouched ones are shared.

    Port tips are made as mirror images, so that equal folds give exact mirror symmetry.
    """
    half = len(cellule.patches) // 2
    turned = []
    for index, patch in enumerate(cellule.patches):
        angle = folds.get(patch.body, 0.0)
        if angle == 0.0:
            turned.append(patch)
            continue
        image = cellule.patches[index % half]
        line = cellule.hinges[image.body]
        moved = image.turned(line.point, rotation_about(line.axis, angle))
        turned.append(moved if index < half else moved.mirrored())
    return tuple(turned)


def build_lattice(craft: Biplane, folds: FoldAngles, grid: Grid | None = None) -> Lattice:
    """Panel a craft at one fold setting.

    Parameters
    ----------
    craft : the description
    folds : commanded fold of each side
    grid : rows, strips and spacing laws

    Raises
    ------
    InputRefused : the geometry or the fold cannot be built
    """
    return resolved(build_cellule(craft, grid or Grid()), craft, folds)


def resolved(cellule: Cellule, craft: Biplane, folds: FoldAngles) -> Lattice:
    """As :func:`folded`; where a joint is nearly closed, strips crowd harder toward its gap.

    Raises
    ------
    InputRefused : as :func:`folded`
    """
    lattice = folded(cellule, craft, folds)
    grid = cellule.grid
    if (
        lattice.joints
        and grid.span_law in ("cosine", "matched")
        and any(not j.closed for j in lattice.joints)
    ):
        finer = replace(grid, span_law="graded")
        return folded(build_cellule(craft, finer), craft, folds)
    return lattice
