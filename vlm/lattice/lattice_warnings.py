"""Warnings about a lattice, found before it is solved."""

import numpy as np

from vlm.constants import Floats
from vlm.findings import Finding
from vlm.lattice.contact import leading_points
from vlm.lattice.distances import box_gaps, point_triangle_distances
from vlm.lattice.edges import INNER, OUTER
from vlm.lattice.lattice import Lattice
from vlm.lattice.patches import Patch
from vlm.lattice.spacing import chord_rows, row_extents
from vlm.sides import Side

SLENDER_LIMIT = 60.0
LEG_SHARE = 0.25
"""Nearer, the lift of a wing in another's wake errs by 1 % and more, measured on 8 x 20."""
FOLDED_BACK_DEG = 160.0
"""Where the hinge moment of an 8 x 20 lattice of a folded-back tip errs by 5 % (12 x 60)."""
CRAFT_AXIS = np.array([[1.0, 0.0, 0.0]])


def lattice_warnings(lattice: Lattice, wakes: Floats = CRAFT_AXIS) -> list[Finding]:
    """Panels too slender, surfaces nearer than a panel is wide, legs through control points.

    Parameters
    ----------
    wakes : unit vectors along the trailing legs of each wake, geometry axes, shape (wakes, 3)
    """
    checks = (
        _slender(lattice),
        _folded_back(lattice),
        _near_surfaces(lattice),
        _near_fins(lattice),
        _near_legs(lattice, wakes),
        _unmatched(lattice),
    )
    return [finding for finding in checks if finding is not None]


def _slender(lattice: Lattice) -> Finding | None:
    extent = row_extents(lattice.grid.rows, lattice.grid.chord_law)
    worst = 0.0
    for patch in lattice.patches:
        inner = patch.chord > 0.05 * patch.chord.max()
        shape = patch.width[inner] / (patch.chord[inner] * extent.max())
        worst = max(worst, float(shape.max()))
    if worst <= SLENDER_LIMIT:
        return None
    return Finding(
        "slender_panels", "panels wider than long", worst, SLENDER_LIMIT, "1", "common practice",
        "take more strips or fewer rows",
    )  # fmt: skip


def _folded_back(lattice: Lattice) -> Finding | None:
    """A tip that lies over or under its own wing."""
    worst = max((abs(float(np.degrees(angle))) for angle in lattice.folds.values()), default=0.0)
    if worst <= FOLDED_BACK_DEG:
        return None
    return Finding(
        "folded_back", "a tip folded back over its own wing: fold", worst, FOLDED_BACK_DEG, "deg",
        "measured: the hinge moment errs by 5 % there",
        "fold less, or set narrower fold limits",
    )  # fmt: skip


def _near_surfaces(lattice: Lattice) -> Finding | None:
    """The least gap, in panel widths, between a tip and a surface it is not joined to."""
    first = float(chord_rows(lattice.grid.rows, lattice.grid.chord_law)[0][0])
    joined = {joint.tip for joint in lattice.joints if joint.closed}
    worst = np.inf
    for patch in _one_of_each(lattice):
        if patch.part != "tip" or patch.body in joined:
            continue
        for other in lattice.patches:
            if other.wing == patch.wing and other.side == patch.side:
                continue
            ahead = first * (patch.chord.max() + other.chord.max())  # of the nodes, both edges
            if _boxes_apart(patch.nodes[:, -1], other.nodes) > patch.width[-1] + ahead:
                continue
            worst = min(worst, _gap_in_widths(patch, other, first))
    if worst >= 1.0:
        return None
    return Finding(
        "near_surfaces", "a tip nearer to another surface than a panel is wide (gap over width)",
        worst, 1.0, "1", "gaps below a panel's width are not resolved (docs, theory)",
        "take more strips, or close the gap so that the ends are joined",
    )  # fmt: skip


def _one_of_each(lattice: Lattice) -> list[Patch]:
    """The patches whose surroundings are not a mirror image of another's."""
    mirrored = lattice.is_mirror_symmetric
    return [patch for patch in lattice.patches if not mirrored or patch.side is Side.STARBOARD]


def _near_fins(lattice: Lattice) -> Finding | None:
    """The least gap, in panel widths, between a free edge of a fin and a surface beside it."""
    first = float(chord_rows(lattice.grid.rows, lattice.grid.chord_law)[0][0])
    worst = np.inf
    for patch in _one_of_each(lattice):
        if patch.part != "fin":
            continue
        free = [INNER, OUTER][len(patch.stands_on) :]
        for other in lattice.patches:
            if other.wing == patch.wing or other.wing in patch.stands_on:
                continue
            if patch.wing in other.stands_on or set(patch.stands_on) & set(other.stands_on):
                continue
            worst = min([worst, *(_gap_in_widths(patch, other, first, end) for end in free)])
    if worst >= 1.0:
        return None
    return Finding(
        "near_fin", "a fin's edge nearer to another surface than a panel is wide (gap over width)",
        worst, 1.0, "1", "gaps below a panel's width are not resolved (docs, theory)",
        "take more strips, or let the fin stand on the wing (joined_to, end_joined_to)",
    )  # fmt: skip


def _gap_in_widths(patch: Patch, other: Patch, first: float, end: int = OUTER) -> float:
    ends = np.stack([leading_points(patch, np.array([end]), first)[0], patch.nodes[-1, end]])
    columns = np.arange(other.strips + 1)
    lead, trail = leading_points(other, columns, first), other.nodes[-1]
    faces = np.concatenate(
        [
            np.stack([lead[:-1], lead[1:], trail[:-1]], axis=1),
            np.stack([lead[1:], trail[1:], trail[:-1]], axis=1),
        ]
    )
    points = ends[0] + np.linspace(0.0, 1.0, 5)[:, None] * (ends[1] - ends[0])
    distance = point_triangle_distances(points, faces)
    width = np.minimum(np.tile(other.width, 2), patch.width[end])
    return float((distance / width).min())


def _near_legs(lattice: Lattice, wakes: Floats) -> Finding | None:
    """Trailing legs that pass control points of a surface behind them."""
    worst = min((_clearance_of(lattice, wake) for wake in wakes), default=np.inf)
    if worst >= LEG_SHARE:
        return None
    return Finding(
        "leg_near_control_point",
        "a trailing leg passes a control point of another surface (distance over strip width)",
        worst, LEG_SHARE, "1", "measured: a wing's lift errs by 1 % there, by 4 % at 0.15",
        "change stagger, gap or the number of strips a little",
    )  # fmt: skip


def _clearance_of(lattice: Lattice, wake: Floats) -> float:
    """Least distance of legs along ``wake``, shape (3,), from others' control points, in strips."""
    mirrored = lattice.is_mirror_symmetric and float(wake[1]) == 0.0
    across = np.linalg.svd(wake[None, :])[2][1:].T  # two axes across the legs, shape (3, 2)
    worst = np.inf
    for target in lattice.patches:
        if mirrored and target.side is Side.PORT:
            continue
        for source in lattice.patches:
            if target.wing == source.wing:
                continue
            legs = source.nodes[-1]
            if target.on_plane and not source.on_plane and legs[0, 1] == 0.0:
                legs = legs[1:]  # that in the fin's plane is as weak as its strips are narrow
            ways = _boxes_apart(legs @ across, target.controls @ across)
            if ways <= LEG_SHARE * target.width.max():
                worst = min(worst, _leg_clearance(legs, target, wake))
    return worst


def _boxes_apart(one: Floats, other: Floats) -> float:
    """Least distance between the boxes around two sets of points, each shape (..., axes)."""
    return float(np.linalg.norm(np.maximum(box_gaps(one, other), 0.0)))


def _leg_clearance(trailing: Floats, target: Patch, wake: Floats) -> float:
    controls = target.controls.reshape(-1, 3)
    width = np.tile(target.width, target.rows)
    apart = controls[:, None, :] - trailing[None, :, :]
    along = apart @ wake
    distance = np.linalg.norm(apart - along[..., None] * wake, axis=-1) / width[:, None]
    return float(np.where(along > 0.0, distance, np.inf).min())


def _unmatched(lattice: Lattice) -> Finding | None:
    loose = [joint for joint in lattice.joints if joint.closed and not joint.matched]
    if not loose:
        return None
    return Finding(
        "unmatched_joint", "a tip joined to an end of another chord or stagger: rows do not meet;"
        " number of such joints",
        float(len(loose)), None, "1", "rows that do not meet leave an error of about"
        " log(strips)/rows in forces at the corner (docs, theory)",
        "take more rows; trust the error estimate",
    )  # fmt: skip
