"""Shear force and bending moment along each folded half wing, from its end to the root.

At a cut, the forces of the air on all that lies outboard are summed, and their moment about the
quarter-chord point of the cut, with the weight and inertia of the tip. Axes of a cut follow the
folded wing: along it outward, across it (the wing's normal), and aft. The mass of the fixed wings
is not known apart from the body's, so that no inertia relieves them: inboard of the hinge the
moment is on the safe side. Where a tip is joined to the other wing the load path is not
determined by statics: the numbers are those of a joint that carries nothing.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vlm.constants import GRAVITY, Floats
from vlm.flight.craft.folded_craft import FoldedCraft
from vlm.flight.craft.level import LevelFlight
from vlm.lattice.cellule import Grid
from vlm.lattice.patches import Patch
from vlm.lattice.spacing import chord_rows
from vlm.loads.segment_forces import patch_forces
from vlm.sides import Side

TURNED = 1e-6
"""Change of direction from one strip to the next from which a wing turns [1]."""


@dataclass(frozen=True)
class HalfWing:
    """Loads along one half wing at cuts, from its end inward to the root.

    Where the wing turns, as at a folded hinge, a cut stands twice: with the axes of the outer part,
    then with those of the inner.

    Attributes
    ----------
    wing : "upper" or "lower"
    distance_m : of the cuts from the root, along the folded wing [m]
    shear_N : across the wing, positive toward its upper side [N]
    bending_N_m : about the aft axis, positive raising the end [N m]
    torsion_N_m : about the outward axis, positive nose up [N m]
    hinge_distance_m : of the hinge; null without one [m]
    root_shear_half_width_N, root_bending_half_width_N_m, hinge_bending_half_width_N_m : null where
        they are not known
    """

    wing: str
    side: Side
    distance_m: Floats
    shear_N: Floats
    bending_N_m: Floats
    torsion_N_m: Floats
    hinge_distance_m: float | None
    root_shear_N: float
    root_bending_N_m: float
    root_shear_half_width_N: float | None = None
    root_bending_half_width_N_m: float | None = None
    hinge_bending_half_width_N_m: float | None = None

    @property
    def root_bending_reach_N_m(self) -> float:
        """How large the bending moment at the root may be, its half-width included."""
        return abs(self.root_bending_N_m) + (self.root_bending_half_width_N_m or 0.0)

    @property
    def root_bending_least_N_m(self) -> float | None:
        """What it is at least; None where its half-width is not known."""
        width = self.root_bending_half_width_N_m
        return None if width is None else abs(self.root_bending_N_m) - width

    @property
    def hinge_bending_N_m(self) -> float | None:
        """Bending moment at the hinge; None without one."""
        place = self.hinge_distance_m
        if place is None:
            return None
        return float(self.bending_N_m[abs(self.distance_m - place).argmin()])


@dataclass(frozen=True)
class StripLoads:
    """What acts on the strips of one patch: shape (strips, 3), moments about the origin."""

    patch: Patch
    force: Floats
    moment: Floats


def wing_bending(craft: FoldedCraft, flight: LevelFlight) -> list[HalfWing]:
    """Loads of every half wing in level flight or at the bottom of a pull-up, by the lattice."""
    amounts = craft.amounts_of_motion @ flight.motion
    found = []
    for piece in patch_forces(craft.loads, amounts, flight.density):
        force, moment = piece.shared_to_strips()
        relief = _relief(craft, flight, piece.patch)
        found.append(StripLoads(piece.patch, force + relief[0], moment + relief[1]))
    return half_wings(found, craft.loads.lattice.grid)


def half_wings(loads: Sequence[StripLoads], grid: Grid) -> list[HalfWing]:
    """Every half wing with what acts on its strips.

    Parameters
    ----------
    loads : of all patches; fins are left out
    grid : of the patches
    """
    wings = [p for p in loads if p.patch.part != "fin"]
    halves = dict.fromkeys((p.patch.wing, p.patch.side) for p in wings)
    return [_half_wing(wings, grid, wing, side) for wing, side in halves]


def root_loads(halves: Sequence[HalfWing]) -> Floats:
    """Shear and bending at the root and bending at the hinge, shape (halves, 3).

    NaN without a hinge [N, N m, N m]
    """
    return np.array([[h.root_shear_N, h.root_bending_N_m, h.hinge_bending_N_m] for h in halves],
                    dtype=float)  # fmt: skip


def root_sizes(halves: Sequence[HalfWing]) -> Floats:
    """Sizes of :func:`root_loads`: the same sums, every strip's load across the wing positive."""
    sizes = []
    for half in halves:
        turned = np.diff(half.distance_m) == 0.0
        load = np.where(turned, 0.0, np.abs(np.diff(half.shear_N)))
        place = 0.5 * (half.distance_m[1:] + half.distance_m[:-1])
        hinge = half.hinge_distance_m
        beyond = np.nan if hinge is None else load @ np.maximum(place - hinge, 0.0)
        sizes.append([load.sum(), load @ place, beyond])
    return np.array(sizes)


def with_beside(sizes: Floats) -> Floats:
    """Sizes of :func:`root_sizes` for what a wake changes: the largest of the craft is added."""
    return np.asarray(sizes + np.max(np.nan_to_num(sizes), axis=0))


def _half_wing(loads: Sequence[StripLoads], grid: Grid, wing: str, side: Side) -> HalfWing:
    own = [p for p in loads if (p.patch.wing, p.patch.side) == (wing, side)]
    # From the root outward: the fixed pieces in order of span, then the tip.
    own.sort(key=lambda p: float(p.patch.span_position[0]))
    quarters = [quarter_points(piece.patch, grid) for piece in own]
    start = np.concatenate([quarter[:-1] for quarter in quarters])
    along = np.concatenate([np.diff(quarter, axis=0) for quarter in quarters])
    force = np.concatenate([piece.force for piece in own])
    moment = np.concatenate([piece.moment for piece in own])
    widths = np.hypot(along[:, 1], along[:, 2])
    beyond = np.cumsum(force[::-1], axis=0)
    about = np.cumsum(moment[::-1], axis=0) - np.cross(start[::-1], beyond)
    sense = side.sense
    axes = along[::-1] * np.array([0.0, 1.0, 1.0])
    axes = axes / np.linalg.norm(axes, axis=1, keepdims=True)
    across = sense * np.cross(np.array([1.0, 0.0, 0.0]), axes)
    edges = np.concatenate([[0.0], np.cumsum(widths)])
    inboard = sum(p.patch.strips for p in own if p.patch.part == "main")
    cut, part = _cuts(axes)
    shear = np.append(0.0, np.sum(beyond[cut] * across[part], axis=1))
    bending = np.append(0.0, sense * about[cut, 0])
    return HalfWing(
        wing=wing,
        side=side,
        distance_m=np.append(edges[-1], edges[:-1][::-1][cut]),
        shear_N=shear,
        bending_N_m=bending,
        torsion_N_m=np.append(0.0, sense * np.sum(about[cut] * axes[part], axis=1)),
        root_shear_N=float(shear[-1]),
        root_bending_N_m=float(bending[-1]),
        hinge_distance_m=float(edges[inboard]) if inboard < len(edges) - 1 else None,
    )


def _cuts(axes: Floats) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Indices of the cuts, and of the strips whose axes they have; twice where the wing turns.

    Parameters
    ----------
    axes : along the strips, from the end inward, shape (strips, 3)
    """
    turns = np.flatnonzero(np.linalg.norm(np.diff(axes, axis=0), axis=1) > TURNED)
    cuts = np.arange(len(axes))
    return np.insert(cuts, turns, turns), np.insert(cuts, turns + 1, turns + 1)


def quarter_points(patch: Patch, grid: Grid) -> Floats:
    """Quarter-chord points of the strips' edges, from the root outward, shape (strips + 1, 3).

    Nodes run from the first vortex row to the trailing edge.
    """
    first = float(chord_rows(grid.rows, grid.chord_law)[0][0])
    share = (0.25 - first) / (1.0 - first)
    return np.asarray(patch.nodes[0] + share * (patch.nodes[-1] - patch.nodes[0]))


def _relief(craft: FoldedCraft, flight: LevelFlight, patch: Patch) -> tuple[Floats, Floats]:
    """Weight and inertia of a tip on its strips: forces and moments about the origin.

    Shared out by area, tilted along the span so that they act at the tip's centre.
    """
    nothing = np.zeros((patch.strips, 3))
    if patch.body not in craft.bodies:
        return nothing, nothing
    part = craft.masses.parts[patch.body]
    pull = flight.load_factor * GRAVITY
    down = pull * np.array([np.sin(flight.alpha), 0.0, -np.cos(flight.alpha)])
    places = patch.trailing_stations()
    outward = places[-1] - places[0]
    outward = outward * np.array([0.0, 1.0, 1.0])
    outward = outward / np.linalg.norm(outward)
    along = (places - part.centre) @ outward
    area = patch.chord * patch.width / float(patch.chord @ patch.width)
    mean, square = float(area @ along), float(area @ along**2)
    share = area * (square - mean * along) / (square - mean**2)
    forces = part.mass * share[:, None] * down
    return forces, np.cross(part.centre + along[:, None] * outward, forces)
