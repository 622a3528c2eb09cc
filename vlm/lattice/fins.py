"""Fins on a craft: their planforms, the strip edges that they ask of wings, and their junctions.

A fin that stands on a wing continues the wing's vorticity: the jump of circulation from one side of
its root to the other runs on into the fin. So the wing has a strip edge along the root, and the
vortices of both lie on one line there, where only their sum is a vortex.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from vlm.constants import Floats
from vlm.description.fin import Fin
from vlm.errors import InputRefused
from vlm.lattice.contact import CONTACT
from vlm.lattice.edges import INNER, OUTER
from vlm.lattice.patches import Patch
from vlm.lattice.planform import HalfPlanform

SAME_PLACE = 1e-9
"""Places along a wing nearer than this share of its span are the same [1]."""


@dataclass(frozen=True)
class Junction:
    """Ends of patches along one line where a fin stands on a wing.

    Attributes
    ----------
    members : index of a patch and its end, :data:`~vlm.lattice.edges.INNER` or ``OUTER``
    matched : whether all their nodes coincide row by row
    """

    members: tuple[tuple[int, int], ...]
    matched: bool


def with_fin_edges(
    halves: Mapping[str, HalfPlanform], fins: Sequence[Fin]
) -> dict[str, HalfPlanform]:
    """Half wings with a strip edge wherever a fin is joined to them.

    Ahead of a fin in the plane of symmetry strips crowd at the centreline as well, see
    :func:`crowded_ahead`.

    Raises
    ------
    InputRefused : a fin is joined to a wing beyond its fixed part
    """
    result = dict(halves)
    for index, fin in enumerate(fins):
        for wing in fin.stands_on:
            result[wing] = _with_edge(result[wing], fin.y_m, f"fins.{index}", wing)
    return result


def _place_on(half: HalfPlanform, lateral: float) -> float:
    """Span coordinate of a lateral place of the flat wing [m]."""
    return float(np.interp(lateral, half.leading_edge[:, 1], half.s))


def _with_edge(half: HalfPlanform, lateral: float, where: str, wing: str) -> HalfPlanform:
    last = len(half.s) - 1 if half.hinge is None else half.hinge
    limit = float(half.leading_edge[last, 1])
    tolerance = SAME_PLACE * float(half.s[-1])
    if lateral > limit + tolerance:
        beyond = "its end" if half.hinge is None else "its hinge: fins stand on the fixed wing"
        raise InputRefused(
            f"{where}.y_m = {lateral:g}; the {wing} wing reaches to {limit:g} m, {beyond}"
        )
    place = _place_on(half, lateral)
    nearest = int(np.argmin(np.abs(half.s - place)))
    if abs(half.s[nearest] - place) <= tolerance:
        if nearest == 0:
            return replace(half, centre_is_kinked=True)
        if nearest in (half.hinge, len(half.s) - 1):
            return half
        return replace(half, corners=tuple(sorted({*half.corners, nearest})))
    new = int(np.searchsorted(half.s, place))
    moved = [i + 1 if i >= new else i for i in half.corners]
    at = np.array(place)
    chord = half.points(at, np.array(1.0)) - half.points(at, np.array(0.0))
    return replace(
        half,
        s=np.insert(half.s, new, place),
        leading_edge=np.insert(half.leading_edge, new, half.points(at, np.array(0.0)), axis=0),
        chord_vector=np.insert(half.chord_vector, new, chord, axis=0),
        corners=tuple(sorted({*moved, new})),
        hinge=None if half.hinge is None else half.hinge + (1 if half.hinge >= new else 0),
    )


def fin_planforms(
    fins: Sequence[Fin], halves: Mapping[str, HalfPlanform]
) -> dict[str, HalfPlanform]:
    """The starboard plate of every fin by its name; raises as :func:`fin_planform` does."""
    return {fin.name: fin_planform(fin, halves, f"fins.{i}") for i, fin in enumerate(fins)}


def crowded_ahead(
    surfaces: Mapping[str, HalfPlanform], fins: Sequence[Fin], plates: Mapping[str, HalfPlanform]
) -> dict[str, HalfPlanform]:
    """Surfaces with strips that crowd at the centreline where a fin in its plane stands behind it.

    The leg at the centreline lies in the plane of that fin, and its strength goes with the width of
    the strips beside it.
    """
    aftmost = max(
        (float(_trailing(plates[fin.name]).max()) for fin in fins if fin.is_on_plane),
        default=-np.inf,
    )
    return {
        name: replace(half, centre_is_kinked=True)
        if half.leading_edge[0, 1] == 0.0 and _trailing(half)[0] < aftmost
        else half
        for name, half in surfaces.items()
    }


def _trailing(half: HalfPlanform) -> Floats:
    """Places aft of the trailing edge's ends, shape (stations,) [m]."""
    return np.asarray((half.leading_edge + half.chord_vector)[:, 0])


def fin_planform(fin: Fin, halves: Mapping[str, HalfPlanform], where: str) -> HalfPlanform:
    """The starboard plate of a fin, from its root to its end, as a half planform.

    Raises
    ------
    InputRefused : it crosses the plane of symmetry, or has no span
    """
    direction = float(np.radians(fin.direction_deg))
    root, chord = _root(fin, halves, direction)
    quarter = root + 0.25 * chord
    if fin.end_joined_to is not None:
        offset = fin.x_m if fin.end_x_m is None else fin.end_x_m
        end, end_chord = _on_wing(halves[fin.end_joined_to], fin.y_m, offset, fin.end_chord_m)
    else:
        assert fin.span_m is not None
        if fin.joined_to is not None:
            end_chord = chord * (fin.end_chord_m / fin.root_chord_m)
        else:
            end_chord = _chord_along(fin.end_chord_m, fin.incidence_deg, direction)
        way = [np.tan(np.radians(fin.sweep_deg or 0.0)), np.cos(direction), np.sin(direction)]
        end = quarter + fin.span_m * np.array(way) - 0.25 * end_chord
    leading, chords = np.array([root, end]), np.array([chord, end_chord])
    if fin.is_on_plane:
        leading[:, 1] = chords[:, 1] = 0.0
    length = float(np.hypot(*(np.diff(leading + 0.25 * chords, axis=0)[0, 1:])))
    _refuse_impossible(fin, leading + chords, leading, length, where)
    meets = fin.y_m == 0.0 and not fin.is_on_plane
    straight = meets and direction == 0.0 and not fin.sweep_deg
    return HalfPlanform(
        s=np.array([0.0, length]),
        leading_edge=leading,
        chord_vector=chords,
        corners=(),
        hinge=None,
        centre_is_kinked=not straight or fin.joined_to is not None,
    )


def _refuse_impossible(
    fin: Fin, trailing: Floats, leading: Floats, length: float, where: str
) -> None:
    inward = min(float(trailing[:, 1].min()), float(leading[:, 1].min()))
    if inward < -SAME_PLACE * max(length, fin.root_chord_m):
        raise InputRefused(
            f"{where}: the fin {fin.name} reaches {-inward:.3g} m beyond the plane of symmetry,"
            " into its mirror image; move it outboard or turn it"
        )
    if length <= SAME_PLACE * fin.root_chord_m:
        raise InputRefused(f"{where}: the fin {fin.name} has its end where its root is")


def _root(fin: Fin, halves: Mapping[str, HalfPlanform], direction: float) -> tuple[Floats, Floats]:
    """Leading edge and chord of the root."""
    if fin.joined_to is not None:
        return _on_wing(halves[fin.joined_to], fin.y_m, fin.x_m, fin.root_chord_m)
    # The chord of a root on the centreline lies in the plane of symmetry, or the two plates would
    # leave a slit between them.
    roll = direction if fin.y_m > 0.0 or fin.is_on_plane else 0.0
    chord = _chord_along(fin.root_chord_m, fin.incidence_deg, roll)
    return np.array([fin.x_m, fin.y_m, fin.z_m or 0.0]), chord


def _on_wing(
    half: HalfPlanform, lateral: float, offset: float, chord: float
) -> tuple[Floats, Floats]:
    """Leading edge and chord along a wing's chord; the wing's own where they hardly differ, so
    that their rows meet."""
    place = np.array(_place_on(half, lateral))
    along, own = half.chord_directions(place), float(half.chords(place))
    if max(abs(offset), abs(chord - own)) <= CONTACT * own:
        offset, chord = 0.0, own
    return half.points(place, np.array(0.0)) + offset * along, chord * along


def _chord_along(chord: float, incidence_deg: float, direction: float) -> Floats:
    """Chord of a plate turned about its span, its leading edge toward its upper side [m]."""
    twist = np.radians(incidence_deg)
    up = np.array([0.0, -np.sin(direction), np.cos(direction)])
    return np.asarray(chord * (np.cos(twist) * np.array([1.0, 0.0, 0.0]) - np.sin(twist) * up))


def fin_area(half: HalfPlanform) -> float:
    """Area of one plate, chord times span along itself [m^2]."""
    chords = np.linalg.norm(half.chord_vector, axis=1)
    return float(0.5 * chords.sum() * half.s[-1])


def junctions(
    patches: Sequence[Patch], halves: Mapping[str, HalfPlanform], fins: Sequence[Fin]
) -> tuple[Junction, ...]:
    """Where fins stand on wings, on both sides.

    Parameters
    ----------
    patches : starboard patches, then their mirror images in the same order
    """
    half = len(patches) // 2
    found: dict[tuple[str, float], set[tuple[int, int]]] = {}
    for index, patch in enumerate(patches[:half]):
        for fin in fins:
            if fin.name != patch.wing or patch.part != "fin":
                continue
            for wing, end in zip(fin.stands_on, (INNER, OUTER), strict=False):
                ends = found.setdefault((wing, fin.y_m), set())
                ends.add((index, end))
                ends.update(_wing_ends(patches[:half], halves[wing], wing, fin.y_m))
    return tuple(
        joined for (_, lateral), ends in found.items()
        for joined in _both_sides(patches, ends, half, lateral)
    )  # fmt: skip


def _wing_ends(
    starboard: Sequence[Patch], half: HalfPlanform, wing: str, lateral: float
) -> Iterable[tuple[int, int]]:
    trail = half.points(np.array(_place_on(half, lateral)), np.array(1.0))
    near = 1e3 * SAME_PLACE * float(half.s[-1])
    for index, patch in enumerate(starboard):
        for end in (INNER, OUTER):
            if patch.wing == wing and np.abs(patch.nodes[-1, end] - trail).max() < near:
                yield index, end


def _both_sides(
    patches: Sequence[Patch], ends: set[tuple[int, int]], half: int, lateral: float
) -> Iterable[Junction]:
    port = {(index + half, end) for index, end in ends}
    for members in [ends | port] if lateral == 0.0 else [ends, port]:
        ordered = tuple(sorted(members, reverse=True))
        nodes = np.array([patches[index].nodes[:, end] for index, end in ordered])
        length = float(np.linalg.norm(nodes[0, -1] - nodes[0, 0]))
        apart = float(np.abs(nodes - nodes[0]).max())
        yield Junction(ordered, bool(apart < SAME_PLACE * length))
