"""Where a folded tip meets another wing: joined, kept apart, or refused.

A tip's end that lies along another wing's end within ``CONTACT`` chords is joined to it: its
nodes are put on the other's line, so that legs on the common line see nothing of each other.
A gap wider than that is kept. Surfaces that cross, or touch anywhere else, are refused.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

import numpy as np

from vlm.errors import InputRefused
from vlm.lattice.patches import Patch
from vlm.lattice.spacing import Floats

Placement = Callable[[Mapping[str, float]], tuple[Patch, ...]]
CONTACT = 1e-3
COLUMNS = 5


@dataclass(frozen=True)
class Joint:
    """A tip's end near the end of another wing.

    Attributes
    ----------
    tip : body of the tip
    other : "wing side" of the surface it meets
    gap : largest distance between the two ends where they overlap [m]
    closed : whether they were joined
    matched : whether their nodes coincide row by row, so that no row's force is bent
    """

    tip: str
    other: str
    gap: float
    closed: bool
    matched: bool


@dataclass(frozen=True)
class Edge:
    """A chordwise edge from leading to trailing edge: its two ends and nodes."""

    patch: int
    lead: Floats
    trail: Floats
    nodes: Floats


def leading_points(patch: Patch, columns: np.ndarray, first: float) -> Floats:
    """Points of the leading edge at node columns; ``first`` is the first row's chord fraction."""
    row, trail = patch.nodes[0, columns], patch.nodes[-1, columns]
    return np.asarray(row - (trail - row) * first / (1.0 - first))


def outer_edge(patches: tuple[Patch, ...], index: int, first: float) -> Edge:
    """The outboard edge of a patch."""
    patch = patches[index]
    lead = leading_points(patch, np.array([-1]), first)[0]
    return Edge(index, lead, patch.nodes[-1, -1], patch.nodes[:, -1])


def tip_ends(patches: tuple[Patch, ...]) -> dict[str, int]:
    """Index of the outermost patch of each tip, by body."""
    return {patch.body: i for i, patch in enumerate(patches) if patch.part == "tip"}


def overlap_gap(end: Edge, other: Edge) -> float | None:
    """Largest distance of a tip's end from another edge's line where the two overlap [m].

    None where they do not overlap, or run at more than 20 degrees to each other.
    """
    along = other.trail - other.lead
    length = float(np.linalg.norm(along))
    if length == 0.0:
        return None
    along = along / length
    own = end.trail - end.lead
    if abs(float(own @ along)) < np.cos(np.radians(20.0)) * float(np.linalg.norm(own)):
        return None
    first, last = sorted([float((end.lead - other.lead) @ along), float((end.trail - other.lead) @ along)])
    start, stop = max(first, 0.0), min(last, length)
    if stop - start < 0.05 * float(np.linalg.norm(own)):
        return None
    samples = other.lead + np.linspace(start, stop, 5)[:, None] * along
    return float(max(_distance_to_line(sample, end) for sample in samples))


def _distance_to_line(point: Floats, edge: Edge) -> float:
    along = edge.trail - edge.lead
    along = along / np.linalg.norm(along)
    arm = point - edge.lead
    return float(np.linalg.norm(arm - (arm @ along) * along))


def found_joints(patches: tuple[Patch, ...], first: float) -> list[tuple[Joint, int, Edge]]:
    """Tip ends closer to another wing's end than an end strip is wide.

    Returns the joint, the index of the tip's end patch, and the edge it meets.
    """
    found = []
    for body, index in tip_ends(patches).items():
        end = outer_edge(patches, index, first)
        candidates = [
            outer_edge(patches, i, first)
            for i, patch in enumerate(patches)
            if patch.wing != patches[index].wing
        ]
        gaps = [(overlap_gap(end, edge), edge) for edge in candidates]
        near = [(gap, edge) for gap, edge in gaps if gap is not None]
        if not near:
            continue
        gap, edge = min(near, key=lambda pair: pair[0])
        width = min(float(patches[i].width[-1]) for i in (index, edge.patch))
        chord = float(np.linalg.norm(end.trail - end.lead))
        if gap > max(width, CONTACT * chord):
            continue
        closed = gap <= CONTACT * chord
        apart = float(np.abs(end.nodes - edge.nodes).max())
        other = patches[edge.patch]
        joint = Joint(body, f"{other.wing} {other.side}", gap, closed, apart <= 2.0 * gap + 1e-12)
        found.append((joint, index, edge))
    return found


def joined_patches(
    patches: tuple[Patch, ...], row_fraction: float
) -> tuple[tuple[Patch, ...], tuple[Joint, ...]]:
    """Put the ends of tips in contact on the line they touch; list every near end."""
    result, joints = list(patches), []
    for joint, index, edge in found_joints(patches, row_fraction):
        joints.append(joint)
        if joint.closed:
            nodes = result[index].nodes.copy()
            nodes[:, -1] = edge.nodes if joint.matched else _on_line(nodes[:, -1], edge)
            result[index] = replace(result[index], nodes=nodes)
    return tuple(result), tuple(joints)


def _on_line(points: Floats, edge: Edge) -> Floats:
    along = (edge.trail - edge.lead) / np.linalg.norm(edge.trail - edge.lead)
    return np.asarray(edge.lead + ((points - edge.lead) @ along)[:, None] * along)


def refuse_collisions(
    placed: Placement, folds: Mapping[str, float], row_fraction: float
) -> None:
    """Refuse surfaces that cross or lie on one another.

    Parameters
    ----------
    placed : makes all patches for given tip angles
    row_fraction : chord fraction of the first vortex row

    Raises
    ------
    InputRefused : names the surfaces and the fold angle at which they first meet
    """
    meeting = collision(placed(folds), row_fraction)
    if meeting is None:
        return
    largest = max(abs(angle) for angle in folds.values()) if folds else 0.0
    steps = max(2, int(np.ceil(np.degrees(largest))) + 1)
    shares = np.linspace(0.0, 1.0, steps)
    hit = next(
        i
        for i, share in enumerate(shares)
        if share == 1.0 or collision(placed(_scaled(folds, share)), row_fraction) is not None
    )
    share = 0.0 if hit == 0 else _bisected(placed, folds, shares[hit - 1], shares[hit], row_fraction)
    body, other = meeting
    angle = np.degrees(share * folds.get(body, 0.0))
    if hit == 0:
        raise InputRefused(
            f"the {body.replace('_', ' ')} surface meets the {other} surface with the tips flat;"
            " set a larger gap or another stagger"
        )
    raise InputRefused(
        f"the {body.replace('_', ' ')} tip meets the {other} wing: on the way to a fold of"
        f" {np.degrees(folds[body]):.4g} degrees they touch at {angle:.4g} degrees;"
        " stay inside that angle, or shorten the tip or widen the gap"
    )


def _scaled(folds: Mapping[str, float], share: float) -> dict[str, float]:
    return {body: share * angle for body, angle in folds.items()}


def _bisected(
    placed: Placement, folds: Mapping[str, float], low: float, high: float, first: float
) -> float:
    for _ in range(20):
        middle = 0.5 * (low + high)
        if collision(placed(_scaled(folds, middle)), first) is None:
            low = middle
        else:
            high = middle
    return high


def collision(patches: tuple[Patch, ...], first: float) -> tuple[str, str] | None:
    """A moving body and the surface it crosses or lies on, or None."""
    joints = {index: edge.patch for joint, index, edge in found_joints(patches, first) if joint.closed}
    tables = [_table(patch, first) for patch in patches]
    boxes = [(t.reshape(-1, 3).min(axis=0), t.reshape(-1, 3).max(axis=0)) for t in tables]
    for i, j in _candidate_pairs(patches):
        chord = float(patches[i].chord.max())
        tolerance = CONTACT * chord
        apart = np.maximum(boxes[i][0] - boxes[j][1], boxes[j][0] - boxes[i][1]).max()
        if apart > tolerance:
            continue
        own = _shrunk(tables[i], 3.0 * tolerance, joined=i in joints)
        if _tables_touch(own, tables[j], tolerance):
            other = patches[j]
            return patches[i].body, f"{other.wing} {other.side} {other.part}"
    return None


def _candidate_pairs(patches: tuple[Patch, ...]) -> list[tuple[int, int]]:
    """Pairs that can meet: every tip with every surface of another body that is not beside it."""
    pairs = []
    for i, a in enumerate(patches):
        for j, b in enumerate(patches):
            beside = a.wing == b.wing and a.side == b.side
            if a.body == b.body == "fixed":
                if i < j and a.wing != b.wing:
                    pairs.append((i, j))
                continue
            if a.part != "tip" or a.body == b.body or beside:
                continue
            if b.part == "tip" and j < i:
                continue
            pairs.append((i, j))
    return pairs


def _table(patch: Patch, first: float) -> Floats:
    """Outline points of a patch: (2, columns, 3), leading and trailing edge."""
    columns = np.unique(np.linspace(0, patch.strips, COLUMNS).round().astype(int))
    return np.stack([leading_points(patch, columns, first), patch.nodes[-1, columns]])


def _shrunk(table: Floats, amount: float, *, joined: bool) -> Floats:
    """Pull the inboard edge, and the outboard edge of a joined tip, inward by ``amount`` [m]."""
    shrunk = table.copy()
    for edge, inner in ((0, 1), (-1, -2)):
        if edge == -1 and not joined:
            continue
        step = table[:, inner] - table[:, edge]
        width = np.linalg.norm(step, axis=-1, keepdims=True)
        shrunk[:, edge] += step / np.maximum(width, 1e-30) * np.minimum(amount, 0.5 * width)
    return shrunk


def _triangles(table: Floats) -> Floats:
    """Two triangles for each cell, shape (cells * 2, 3 corners, 3)."""
    a, b = table[0, :-1], table[0, 1:]
    c, d = table[1, :-1], table[1, 1:]
    return np.concatenate([np.stack([a, b, c], axis=1), np.stack([b, d, c], axis=1)])


def _tables_touch(one: Floats, two: Floats, tolerance: float) -> bool:
    """Whether two surfaces cross, or come closer than ``tolerance``."""
    first, second = _triangles(one), _triangles(two)
    for edges_of, faces in ((first, second), (second, first)):
        starts = edges_of
        ends = np.roll(edges_of, -1, axis=1)
        if _segments_cross(starts.reshape(-1, 3), ends.reshape(-1, 3), faces):
            return True
    return _nearest(one, second) < tolerance or _nearest(two, first) < tolerance


def _segments_cross(starts: Floats, ends: Floats, faces: Floats) -> bool:
    """Whether any segment passes through any triangle (Moeller and Trumbore 1997)."""
    step = (ends - starts)[:, None, :]
    one, two = faces[None, :, 1] - faces[None, :, 0], faces[None, :, 2] - faces[None, :, 0]
    across = np.cross(step, two)
    determinant = np.sum(one * across, axis=-1)
    scale = np.linalg.norm(step, axis=-1) * np.linalg.norm(one, axis=-1)
    usable = np.abs(determinant) > 1e-9 * scale * np.linalg.norm(two, axis=-1)
    safe = np.where(usable, determinant, 1.0)
    arm = starts[:, None, :] - faces[None, :, 0]
    u = np.sum(arm * across, axis=-1) / safe
    turned = np.cross(arm, one)
    v = np.sum(step * turned, axis=-1) / safe
    t = np.sum(two * turned, axis=-1) / safe
    inside = (u >= 0.0) & (v >= 0.0) & (u + v <= 1.0) & (t >= 0.0) & (t <= 1.0)
    return bool(np.any(usable & inside))


def _nearest(table: Floats, faces: Floats) -> float:
    """Least distance from a grid of points of a surface to triangles [m]."""
    shares = np.linspace(0.0, 1.0, 5)[:, None, None]
    points = ((1.0 - shares) * table[0] + shares * table[1]).reshape(-1, 3)
    return float(point_triangle_distances(points, faces).min())


def point_triangle_distances(points: Floats, faces: Floats) -> Floats:
    """Distance from points to triangles, shape (points, faces) [m]."""
    a, b, c = (faces[None, :, k] for k in range(3))
    p = points[:, None, :]
    normal = np.cross(b - a, c - a)
    area = np.sum(normal * normal, axis=-1)
    safe = np.where(area > 0.0, area, 1.0)
    u = np.sum(np.cross(b - p, c - p) * normal, axis=-1) / safe
    v = np.sum(np.cross(c - p, a - p) * normal, axis=-1) / safe
    inside = (u >= 0.0) & (v >= 0.0) & (u + v <= 1.0) & (area > 0.0)
    height = np.abs(np.sum((p - a) * normal, axis=-1)) / np.sqrt(safe)
    sides = [_point_segment(p, a, b), _point_segment(p, b, c), _point_segment(p, c, a)]
    return np.asarray(np.where(inside, height, np.minimum.reduce(sides)))


def _point_segment(p: Floats, a: Floats, b: Floats) -> Floats:
    step = b - a
    length = np.sum(step * step, axis=-1)
    t = np.clip(np.sum((p - a) * step, axis=-1) / np.where(length > 0.0, length, 1.0), 0.0, 1.0)
    return np.asarray(np.linalg.norm(p - a - t[..., None] * step, axis=-1))


def tips_apart(patches: tuple[Patch, ...]) -> bool:
    """Whether the boxes around port and starboard tips stay clear of each other."""
    tips = [patch for patch in patches if patch.part == "tip"]
    for one in tips:
        for two in tips:
            if one.side == "right" and two.side == "left":
                low, high = one.nodes.reshape(-1, 3), two.nodes.reshape(-1, 3)
                gap = np.maximum(low.min(0) - high.max(0), high.min(0) - low.max(0)).max()
                if gap <= CONTACT * float(one.chord.max()):
                    return False
    return True
