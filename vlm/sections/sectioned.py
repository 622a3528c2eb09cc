"""A lattice whose strips have sections: everything that is made once for one fold setting.

The lattice answers to normal velocities at its control points. A section that departs from the thin
one of the lattice enters as an offset w of the normal velocity, one a strip:

    Gamma = P (V . n + E w)                                                            (2)

with P the lattice's response and E spreading an offset over the rows of its strip. So one
factorisation serves every state, section and iteration. The wake's turn with the stream of each
state is added through the strips' circulations (:mod:`vlm.sections.turning`).
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from vlm.constants import Floats
from vlm.description.models import Biplane
from vlm.description.sections import Section
from vlm.errors import InputRefused
from vlm.flow.plane_sheets import hold_sums, without_sums
from vlm.flow.solve import factorised
from vlm.flow.tables import ring_table, wake_velocities
from vlm.flow.threads import algebra_threads
from vlm.flow.wake import Wake, axis_wake
from vlm.lattice.lattice import Lattice
from vlm.loads.kinks import bend_influence, bends_of
from vlm.loads.loose import loose_ends_of, loose_influence
from vlm.loads.segments import surface_segments, surface_strengths
from vlm.sections.packed import THIN_KEYS, packed_polars, shape_of, thin_drag_of
from vlm.sections.polar import Polar
from vlm.sections.post_stall import normal_force_of
from vlm.sections.section_polars import section_polar
from vlm.sections.strips import Strips, smoothing_of, strips_of
from vlm.sections.turning import StripWake, TurningWake
from vlm.sides import Side

MOST_PANELS = 2500
"""Beyond this the stored velocity table would take more than about 400 MB."""
THIN = Section(form="thin")


@dataclass(frozen=True)
class SectionGroup:
    """Strips that share a section.

    Attributes
    ----------
    name : name of the section; empty where the file names none
    section : its description
    polar : its curves; None for the thin section
    strips : indices of its strips
    """

    name: str
    section: Section
    polar: Polar | None
    strips: NDArray[np.intp]


@dataclass(frozen=True)
class SectionedLattice:
    """A lattice, its response to any onset flow, and the sections of its strips.

    Attributes
    ----------
    lattice : the lattice
    strips : geometry of the strips
    groups : the strips by section
    response : shape (panels, panels), P of equation (2), the wake along the craft's axis [m]
    spread : shape (panels,), the strip of each panel
    segments, vectors : shape (s, 3), places and vectors of the segments that carry forces [m]
    owners : shape (strips, s), share of each segment's force that belongs to a strip [1]
    induced : shape (3 s, panels), velocity at the segments from each panel's ring, its wake along
        the craft's axis, the three components of a segment together [1/m]
    wake : what changes where the wake turns
    smoothing : shape (strips, strips), see :func:`vlm.sections.strips.smoothing_of`
    """

    lattice: Lattice
    strips: Strips
    groups: tuple[SectionGroup, ...]
    response: Floats
    spread: NDArray[np.intp]
    segments: Floats
    vectors: Floats
    owners: Floats
    induced: Floats
    wake: TurningWake
    smoothing: Floats

    @cached_property
    def tells_stall(self) -> bool:
        """Whether the file names a section for every part of the wings; fins are not asked."""
        bare = [group.strips for group in self.groups if not group.name]
        patches = self.lattice.patches
        return all(
            patches[patch].part == "fin"
            for strips in bare
            for patch in np.unique(self.strips.patch[strips])
        )

    @cached_property
    def controls(self) -> Floats:
        """Control points, shape (panels, 3) [m]."""
        return self.lattice.controls()

    @cached_property
    def normals(self) -> Floats:
        """Normals at the control points, shape (panels, 3)."""
        return self.lattice.normals()

    @cached_property
    def _offset_responses(self) -> dict[int, Floats]:
        """Circulation of the strips per offset of each, by the number of the wake's directions."""
        return {}

    @cached_property
    def spreading(self) -> Floats:
        """E of equation (2), shape (panels, strips)."""
        spread = np.zeros((len(self.spread), self.strips.count))
        spread[np.arange(len(self.spread)), self.spread] = 1.0
        return spread

    @cached_property
    def row_weights(self) -> Floats:
        """Weights of the panels in their strip's mean velocity, shape (panels,) [1]."""
        parts = [np.repeat(self.strips.rows, patch.strips) for patch in self.lattice.patches]
        return np.concatenate(parts)

    @cached_property
    def segment_owners(self) -> tuple[Any, ...]:
        """The strips of each segment, for :func:`vlm.sections.kernel_forces.segment_wrenches`."""
        table = sparse.csc_array(self.owners)
        return table.indptr, table.indices, table.data

    @cached_property
    def strengths(self) -> sparse.csr_array:
        """Strength of every segment from circulations of the rings, shape (s, panels) [1]."""
        unit = np.eye(self.lattice.panels)
        return sparse.csr_array(np.concatenate(surface_strengths(self.lattice, unit)))

    @cached_property
    def strip_sizes(self) -> Floats:
        """Area, chord and moment of the thin section, shape (3, strips)."""
        return np.stack([self.strips.area, self.strips.chord, self.strips.thin_moment])

    @cached_property
    def strip_axes(self) -> Floats:
        """Along the chord, along the normal, and of a nose-up moment, shape (3, strips, 3)."""
        return np.stack([self.strips.along, self.strips.normal, self.strips.turning])

    @cached_property
    def panel_axes(self) -> Floats:
        """Normals of the panels, and three axes of their strips, shape (4, panels, 3)."""
        strips, spread = self.strips, self.spread
        return np.stack(
            [self.normals, strips.along[spread], strips.normal[spread], strips.turning[spread]]
        )

    @cached_property
    def packed_sections(self) -> tuple[Any, ...]:
        """Strips and sections for the compiled functions of :mod:`vlm.sections.kernel`."""
        kinds = np.full(self.strips.count, -1)
        thin = np.zeros((len(THIN_KEYS), self.strips.count))
        polars: list[Polar] = []
        for group in self.groups:
            thin[:, group.strips] = thin_drag_of(group.section, group.polar)[:, None]
            if group.polar is not None:
                kinds[group.strips] = len(polars)
                polars.append(group.polar)
        return shape_of(self.strips), kinds, thin, packed_polars(polars)

    def packed_lattice(self, shares: Floats) -> tuple[Floats, Floats, Floats, Floats]:
        """The response to offsets for the same; see :func:`vlm.sections.kernel.agreed`.

        Parameters
        ----------
        shares : shape (states, directions), from :meth:`TurningWake.shares`
        """
        depth = np.pi * self.strips.chord * self.strips.share
        kept = self._offset_responses
        if shares.shape[1] not in kept:
            tables = self.wake.tables(shares)
            response = tables.closed_loop @ (tables.trailing @ self.spreading)
            kept[shares.shape[1]] = np.ascontiguousarray(response + self._held_in_plane(depth))
        return kept[shares.shape[1]], np.ascontiguousarray(shares), self.smoothing, depth

    def _held_in_plane(self, depth: Floats) -> Floats:
        """A response of both copies of a fin in the plane of symmetry to offsets they have in
        common, shape (strips, strips) [m].

        The lattice has none to them, and nothing asks for any: they are zero wherever strips agree
        with sections. Without one Newton's matrix is singular, or as far from it as rounding.
        """
        own = np.unique(self.spread[self.lattice.plane_panels])
        image = np.unique(self.spread[self.lattice.plane_panels + self.lattice.panels // 2])
        held = np.zeros((self.strips.count, self.strips.count))
        for rows in (own, image):
            for columns in (own, image):
                held[rows, columns] = 0.5 * depth[own]
        return held

    def circulation(self, shares: Floats, normalwash: Floats) -> Floats:
        """Circulation of the strips, (states, strips) [m^2/s]; see :class:`WakeTables`."""
        return self.wake.tables(shares).circulation(shares, normalwash)

    def rings(self, shares: Floats, normalwash: Floats, strips: Floats) -> tuple[Floats, Floats]:
        """Circulations of all rings, and the velocities that they make at the segments.

        Parameters
        ----------
        shares : shape (states, directions), what each direction of the wake counts [1]
        normalwash : shape (states, panels) [m/s]
        strips : shape (states, strips), circulation of the strips in it [m^2/s]

        Returns
        -------
        shape (panels, states) [m^2/s], and (3 s, states) [m/s]
        """
        across, velocity = self.wake.tables(shares).acting(shares, strips)
        found = self.response @ (normalwash.T + across)
        velocity += self.induced @ found
        return found, velocity

    def mean_velocity(self, velocity: Floats) -> Floats:
        """Mean over the wings of velocities at the panels, (states, panels, 3): (states, 3)."""
        area = self.strips.area
        weight = self.row_weights * (area / area.sum())[self.spread]
        return np.asarray(weight @ velocity)

    def strip_means(self, component: Floats) -> Floats:
        """Mean over the rows of a velocity component at the panels: (..., strips)."""
        return np.asarray((component * self.row_weights) @ self.spreading)

    def thin(self) -> "SectionedLattice":
        """The same with thin sections everywhere."""
        everywhere = SectionGroup("", THIN, None, np.arange(self.strips.count))
        return replace(self, groups=(everywhere,))

    def rescaled(
        self, craft: Biplane, *, lift_scale: float = 1.0, normal_scale: float = 1.0
    ) -> "SectionedLattice":
        """The same with the sections' highest lift, or their force past stall, scaled."""
        groups = section_groups(craft, self.lattice, self.strips, lift_scale, normal_scale)
        return replace(self, groups=groups)


def sectioned_lattice(
    craft: Biplane, lattice: Lattice, *, wake: StripWake = "stream"
) -> SectionedLattice:
    """Solve a lattice and give its strips the craft's sections.

    Parameters
    ----------
    wake : whether it follows the stream of each state or lies along the craft's axis

    Raises
    ------
    InputRefused : the lattice has more panels than the stored tables allow
    ComputationFailed : the lattice's matrix is singular
    """
    if lattice.panels > MOST_PANELS:
        raise InputRefused(
            f"{lattice.panels} panels; with sections at most {MOST_PANELS} are allowed: take fewer"
            " rows or strips"
        )
    strips = strips_of(lattice)
    places, vectors, owners = _segments(lattice, strips.count)
    panels, points = lattice.panels, np.concatenate([lattice.controls(), places])
    axis = axis_wake(lattice)
    behind = wake_velocities(points, axis)
    table = ring_table(points, axis)
    table[:, :, lattice.trailing_panels()] += behind[:, :, 0]
    with algebra_threads(panels):
        response = _response(axis, table[:panels])
    return SectionedLattice(
        lattice=lattice,
        strips=strips,
        groups=section_groups(craft, lattice, strips),
        response=response,
        spread=_strip_of_panel(lattice),
        segments=places,
        vectors=vectors,
        owners=owners,
        induced=_softened(lattice, table[panels:]),
        wake=TurningWake(axis, points, behind, response, wake),
        smoothing=smoothing_of(lattice, strips),
    )


def _response(wake: Wake, velocities: Floats) -> Floats:
    """P of equation (2) from the velocities of all rings at the control points, (panels, panels).

    Raises
    ------
    ComputationFailed : the lattice's matrix is singular
    """
    lattice = wake.shape.lattice
    matrix = np.einsum("mcp,mc->mp", velocities, lattice.normals())
    matrix[:, lattice.trailing_panels()] += wake.correction_columns
    hold_sums(matrix, lattice)
    solve, _ = factorised(matrix)
    return solve(-without_sums(np.eye(lattice.panels), lattice))


def section_groups(
    craft: Biplane,
    lattice: Lattice,
    strips: Strips,
    lift_scale: float = 1.0,
    normal_scale: float = 1.0,
) -> tuple[SectionGroup, ...]:
    """Strips by the section that their wing or tip names, thin where it names none."""
    ratios = _aspect_ratios(lattice, strips)
    members: dict[tuple[str, str], list[int]] = {}
    for strip in range(strips.count):
        patch = lattice.patches[strips.patch[strip]]
        name = craft.named_sections[patch.place] or ""
        members.setdefault((name, patch.wing), []).append(strip)
    groups = []
    for (name, wing), indices in members.items():
        section = craft.sections[name] if name else THIN
        polar = None
        if section.form != "thin":
            normal = normal_force_of(ratios[wing])
            polar = section_polar(section, normal, craft.folder, lift_scale, normal_scale)
        groups.append(SectionGroup(name, section, polar, np.array(indices)))
    return tuple(groups)


def _aspect_ratios(lattice: Lattice, strips: Strips) -> Mapping[str, float]:
    """Aspect ratio of each wing with its tips flat, and of each fin: of one plate of it, where the
    plates of both sides do not meet."""
    ratios = {}
    for patch in lattice.patches:
        sides = tuple(Side) if patch.meets_image else (Side.STARBOARD,)
        own = [
            (lattice.patches[i].wing == patch.wing and lattice.patches[i].side in sides)
            for i in strips.patch
        ]
        area = (strips.chord * strips.span)[own].sum()
        ratios[patch.wing] = float(strips.span[own].sum() ** 2 / area)
    return ratios


def _strip_of_panel(lattice: Lattice) -> NDArray[np.intp]:
    parts, first = [], 0
    for patch in lattice.patches:
        parts.append(np.tile(first + np.arange(patch.strips), patch.rows))
        first += patch.strips
    return np.concatenate(parts)


def _segments(lattice: Lattice, strips: int) -> tuple[Floats, Floats, Floats]:
    """Places, vectors and owners of all segments; a segment between two strips is halved."""
    places, vectors, owners, first = [], [], [], 0
    for patch in lattice.patches:
        found = surface_segments(patch)
        places.append(found.points)
        vectors.append(found.vectors)
        own = np.eye(patch.strips)
        edges = np.zeros((patch.strips, patch.strips + 1))
        edges[:, :-1] += 0.5 * own
        edges[:, 1:] += 0.5 * own
        edges[0, 0] = edges[-1, -1] = 1.0
        block = np.zeros((strips, len(found.points)))
        rows = slice(first, first + patch.strips)
        block[rows] = np.concatenate([np.tile(own, patch.rows), np.tile(edges, patch.rows)], axis=1)
        owners.append(block)
        first += patch.strips
    return np.concatenate(places), np.concatenate(vectors), np.concatenate(owners, axis=1)


def _softened(lattice: Lattice, table: Floats) -> Floats:
    """Velocities of all rings at the segments, bends and loose ends softened, (3 s, panels)."""
    starts = np.cumsum([0, *(len(surface_segments(patch).points) for patch in lattice.patches)])
    for bend in bends_of(lattice):
        target, source = lattice.patches[bend.target], lattice.patches[bend.source]
        change = bend_influence(target, source, bend.core)
        first = lattice.offsets[bend.source]
        for row in range(target.rows):
            at = starts[bend.target] + row * target.strips + np.arange(target.strips)
            rings = first + row * source.strips + np.arange(source.strips)
            table[at[:, None], :, rings[None, :]] += change[row]
            if row > 0:
                # A bound segment's strength is its ring's less that of the ring ahead.
                table[at[:, None], :, (rings - source.strips)[None, :]] -= change[row]
    for loose in loose_ends_of(lattice):
        target, source = lattice.patches[loose.target], lattice.patches[loose.source]
        change = loose_influence(target, source, loose.core).transpose(0, 3, 1, 2)
        change[..., :-1, :] -= change[..., 1:, :]  # a ring's own segment less the one behind it
        own = slice(starts[loose.target], starts[loose.target + 1])
        table[own, :, lattice.panels_of(loose.source)] += change.reshape(*change.shape[:2], -1)
    return table.reshape(-1, lattice.panels)
