"""Forces and moments of every patch in all pairs of unit flows, and their rates with parameters."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from vlm.constants import Floats
from vlm.flow.influence import velocities_behind, velocities_from
from vlm.flow.motions import Motion, fold_motion, wake_motion
from vlm.flow.onset import FIRST_TIP, onset_velocities
from vlm.flow.solve import UnitFlows, mirror_parities
from vlm.flow.tables import wing_velocities
from vlm.frames import cross
from vlm.lattice.lattice import Lattice
from vlm.lattice.patches import Patch
from vlm.loads.folding import HeldFlow, normalwash_rates, onset_rates, velocity_rates
from vlm.loads.kinks import (
    applied,
    bend_influence,
    bend_influence_rate,
    bends_of,
    bound_strengths,
)
from vlm.loads.loose import with_loose_ends
from vlm.loads.segments import (
    Change,
    Segments,
    crossed,
    surface_segments,
    surface_strengths,
    wrench_tables,
)
from vlm.sides import Side, across

WRENCH_SIGN = np.array([1.0, -1.0, 1.0, -1.0, 1.0, -1.0])


@dataclass(frozen=True)
class Basis:
    """Flows that rates are worked out for, each even or odd under reflection.

    Attributes
    ----------
    amounts : shape (columns, flows), amounts of the unit flows in each; with the states' shape in
        front where it is one basis a state
    sign : shape (flows,), +1 where the mirror image of the flow is itself, -1 its opposite
    """

    amounts: Floats
    sign: Floats

    def shares(self, amounts: Floats) -> Floats:
        """How much of each flow there is in given amounts of the unit flows, (..., flows)."""
        return np.asarray(np.einsum("...fc,...c->...f", np.linalg.pinv(self.amounts), amounts))


def motion_basis(lattice: Lattice) -> Basis:
    """All translations and rotations of a rigid craft."""
    sign, _ = mirror_parities(lattice.bodies)
    return Basis(np.eye(len(sign))[:, :FIRST_TIP], sign[:FIRST_TIP])


def state_basis(lattice: Lattice, amounts: Floats) -> Basis:
    """The flow of one state (no tip turns), in its even and its odd part."""
    sign, _ = mirror_parities(lattice.bodies)
    parts = [(s, np.where(sign == s, amounts, 0.0)) for s in (1.0, -1.0)]
    kept = [(s, part) for s, part in parts if part.any()]
    return Basis(np.stack([part for _, part in kept], axis=1), np.array([s for s, _ in kept]))


@dataclass(frozen=True)
class SurfaceTables:
    """Bilinear tables of the surface forces, unit density, geometry axes.

    Attributes
    ----------
    wrench : shape (patches, columns, columns, 6): strength from the first column's flow, velocity
        from the second's; force, then moment about the moment point
    basis : flows of the rates
    wrench_rates : by parameter, the rate of ``wrench`` between the flows of the basis, shape
        (patches, flows, flows, 6): per radian of the commanded fold of the "right" or "left" side
        (left out where a tip is joined to another wing), or of the wake's turn with "alpha" or
        "beta"
    circulation_rates : by parameter, shape (panels, flows), rate of the circulations
    """

    wrench: Floats
    basis: Basis
    wrench_rates: Mapping[str, Floats]
    circulation_rates: Mapping[str, Floats]


def surface_tables(
    flows: UnitFlows,
    *,
    fold_rates: bool = True,
    turns: Mapping[str, Floats] | None = None,
    basis: Basis | None = None,
) -> SurfaceTables:
    """Tables of a solved lattice.

    Parameters
    ----------
    fold_rates : whether to add the rates with fold
    turns : rates of the wake's direction with "alpha" and "beta", shape (3,) each [1/rad]
    basis : flows of the rates; by default all motions of a rigid craft
    """
    basis = basis or motion_basis(flows.lattice)
    return tables_of_wakes([flows], [turns or {}], [basis], fold_rates=fold_rates)[0]


def tables_of_wakes(
    solved: Sequence[UnitFlows],
    turns: Sequence[Mapping[str, Floats]],
    bases: Sequence[Basis],
    *,
    fold_rates: bool = True,
) -> list[SurfaceTables]:
    """:func:`surface_tables` of one lattice solved for several wakes, with all work shared.

    Parameters
    ----------
    solved : all of them mirror-symmetric, or none
    turns, bases : of each; the turns' names are the same
    """
    lattice, mirrored = solved[0].lattice, solved[0].mirrored
    wanted = fold_rates and bool(lattice.bodies) and not lattice.is_joined
    folds: dict[str, Motion] = {}
    if wanted:
        # Starboard first: where the craft is mirrored, port is found from it.
        folds |= {side: fold_motion(lattice, side) for side in (Side.STARBOARD, Side.PORT)}
    where = _places(lattice, len(lattice.patches) // (2 if mirrored else 1))
    rates = []
    for flows, own, basis in zip(solved, turns, bases, strict=True):
        motions = folds | {name: wake_motion(lattice, rate) for name, rate in own.items()}
        rates.append(_Rates(flows, motions, basis, where))
    names = list(rates[0].motions)
    for name in names:
        _solve_circulation_rates(rates, name)
    stacked = [
        np.concatenate([flows.circulation, *rate.circulation.values()], axis=1)
        for flows, rate in zip(solved, rates, strict=True)
    ]
    induced = _induced(where, solved, stacked)
    softened = _softened(lattice, where, np.concatenate(stacked, axis=1))
    parts = np.cumsum([0, *(columns.shape[1] for columns in stacked)])
    moved = {name: _velocity_changes(rates, name, induced) for name in names}
    found = []
    for i, flows in enumerate(solved):
        soft = [change[..., parts[i] : parts[i + 1]] for change in softened]
        changes = {name: rate[i] for name, rate in moved.items()}
        tables = _tables(where, rates[i], stacked[i], induced[i], soft, changes)
        complete = _completed if flows.mirrored else _as_they_are
        found.append(complete(*tables, rates[i]))
    return found


@dataclass(frozen=True)
class _Place:
    """A patch with its segments, the onset flows there and their arms from the moment point."""

    index: int
    patch: Patch
    segments: Segments
    onset: Floats
    arms: Floats


def _places(lattice: Lattice, patches: int) -> list[_Place]:
    found = []
    for index, patch in enumerate(lattice.patches[:patches]):
        segments = surface_segments(patch)
        onset = onset_velocities(lattice, patch, segments.points)
        arms = segments.points - lattice.reference.moment_point
        found.append(_Place(index, patch, segments, onset, arms))
    return found


def _induced(
    where: Sequence[_Place], solved: Sequence[UnitFlows], stacked: Sequence[Floats]
) -> list[list[Floats]]:
    """Induced velocities at the segments, by wake and by place, shape (s, 3, columns) each."""
    points = np.concatenate([place.segments.points for place in where])
    ends = np.cumsum([len(place.arms) for place in where])[:-1]
    strengths = [f.wake.strengths(c) for f, c in zip(solved, stacked, strict=True)]
    if len(solved) == 1:
        whole = [velocities_from(points, solved[0].wake, strengths[0])]
    else:
        columns = np.cumsum([c.shape[1] for c in stacked])[:-1]
        rings = wing_velocities(points, solved[0].wake, np.concatenate(stacked, axis=1))
        whole = np.split(rings, columns, axis=2)
        patches = solved[0].lattice.patches
        for velocity, flows, strength in zip(whole, solved, strengths, strict=True):
            behind = [s[patch.panels :] for patch, s in zip(patches, strength, strict=True)]
            velocity += velocities_behind(points, flows.wake, behind)
    return [np.split(velocity, ends) for velocity in whole]


def _tables(
    where: Sequence[_Place],
    rates: "_Rates",
    stacked: Floats,
    induced: Sequence[Floats],
    softened: Sequence[Floats],
    changes: Mapping[str, Sequence[Floats]],
) -> tuple[Floats, dict[str, Floats]]:
    """Wrench tables of the places and their rates, for one wake.

    Parameters
    ----------
    changes : by motion and place, rates of the velocities with the circulation held
    """
    lattice, basis = rates.flows.lattice, rates.basis
    on_segments = surface_strengths(lattice, stacked)
    columns = rates.flows.circulation.shape[1]
    tables, table_rates = [], {name: list[Floats]() for name in rates.motions}
    for k, place in enumerate(where):
        whole = induced[k].copy()
        whole[: len(softened[k])] += softened[k]
        velocity = whole[:, :, :columns] + place.onset
        strength = on_segments[place.index]
        own_changes = []
        for i, name in enumerate(rates.motions):
            part = slice(columns + i * basis.sign.size, columns + (i + 1) * basis.sign.size)
            change = whole[:, :, part] + changes[name][k]
            own_changes.append(rates.change(name, place, strength[:, part], change))
        table, found = wrench_tables(
            strength[:, :columns], velocity, place.segments, place.arms, own_changes, basis.amounts
        )
        tables.append(table)
        for name, rate in zip(rates.motions, found, strict=True):
            table_rates[name].append(rate)
    return np.array(tables), {name: np.array(rate) for name, rate in table_rates.items()}


class _Rates:
    """Rates of the circulations and of the velocities in a basis of flows."""

    def __init__(
        self,
        flows: UnitFlows,
        motions: Mapping[str, Motion],
        basis: Basis,
        where: Sequence[_Place],
    ) -> None:
        self.flows, self.motions, self.basis, self.where = flows, motions, basis, where
        self.held_circulation = flows.circulation @ basis.amounts
        self.held = {
            name: HeldFlow(flows.wake, motion, self.held_circulation)
            for name, motion in motions.items()
        }
        self.bends = bends_of(flows.lattice)
        self.circulation: dict[str, Floats] = {}

    def parity(self, name: str) -> float:
        """Sign that a turn of the wake takes under reflection."""
        return -1.0 if name == "beta" else 1.0

    def complete(
        self, name: str, rates: Sequence[Floats], induced: Sequence[Floats]
    ) -> Sequence[Floats]:
        """Rates of the whole velocity at every place's segments, seen from it, circulation held.

        Parameters
        ----------
        rates : those of the rings' velocities, changed in place
        induced : the rings' velocities in the unit flows
        """
        lattice, motion = self.flows.lattice, self.motions[name]
        for place, rate, velocity in zip(self.where, rates, induced, strict=True):
            patch, points = place.patch, place.segments.points
            if not motion.spins:
                continue
            softened = self._softening_rate(motion, place.index)
            rate[: len(softened)] += softened
            if patch.body in motion.spins:
                rate += onset_rates(lattice, motion, patch, points) @ self.basis.amounts
                spin = np.broadcast_to(motion.spin(patch.body), points.shape)
                rate -= crossed(velocity @ self.basis.amounts, spin)
        return rates

    def change(self, name: str, place: _Place, strength: Floats, velocity: Floats) -> Change:
        """A patch's change with one motion."""
        motion, patch, segments = self.motions[name], place.patch, place.segments
        if patch.body not in motion.spins:
            return Change(strength, velocity)
        return Change(
            strength,
            velocity,
            moved=motion.displacement(patch.body, segments.points),
            turned=cross(motion.spin(patch.body), segments.vectors),
        )

    def _softening_rate(self, motion: Motion, index: int) -> Floats:
        """Rate of :func:`_softening` while tips turn and the circulation is held."""
        lattice = self.flows.lattice
        total = np.zeros((0, 3, self.basis.sign.size))
        for bend in self.bends:
            target, source = lattice.patches[bend.target], lattice.patches[bend.source]
            if bend.target != index or not {target.body, source.body} & set(motion.spins):
                continue
            rings = self.held_circulation[lattice.panels_of(bend.source)]
            table = bend_influence_rate(
                target,
                source,
                bend.core,
                motion.displacement(target.body, target.bound_points()),
                motion.displacement(source.body, source.nodes),
            )
            change = applied(table, bound_strengths(source, rings))
            total = change + total if len(total) else change
        return total


def _solve_circulation_rates(rates: Sequence[_Rates], name: str) -> None:
    """Rates of the circulations with one motion, for every wake."""
    flows = rates[0].flows
    if flows.mirrored and name == "left":
        for one in rates:
            one.circulation[name] = _other_half_first(one.basis.sign * one.circulation["right"])
        return
    half = flows.mirrored and name != "right"
    patches = len(flows.lattice.patches) // (2 if half else 1)
    bases = [one.basis.amounts for one in rates]
    found = normalwash_rates([one.held[name] for one in rates], bases, patches)
    for one, rate in zip(rates, found, strict=True):
        sign = one.parity(name) * one.basis.sign
        whole = np.concatenate([rate, sign * rate]) if half else rate
        one.circulation[name] = one.flows.solver(-whole)


def _velocity_changes(
    rates: Sequence[_Rates], name: str, induced: Sequence[Sequence[Floats]]
) -> list[Sequence[Floats]]:
    """By wake and place: rates of the velocities with one motion, the circulation held."""
    where = rates[0].where
    found = velocity_rates(
        [one.held[name] for one in rates],
        [place.patch for place in where],
        [place.segments.points for place in where],
    )
    columns = rates[0].flows.circulation.shape[1]
    return [
        one.complete(name, rate, [velocity[:, :, :columns] for velocity in own])
        for one, rate, own in zip(rates, found, induced, strict=True)
    ]


def _other_half_first(circulation: Floats) -> Floats:
    half = len(circulation) // 2
    return np.concatenate([circulation[half:], circulation[:half]])


def reflected_columns(lattice: Lattice, circulation: Floats) -> Floats:
    """Circulations of the mirror image of a flow, in this lattice's panel order."""
    sign, image = mirror_parities(lattice.bodies)
    return np.asarray(sign * _other_half_first(circulation)[:, image])


def _softened(lattice: Lattice, where: Sequence[_Place], circulation: Floats) -> list[Floats]:
    """Velocity changes of equation (11) at the bound points of every place, at all segments where
    rows of other patches end beside it.

    shape (0 or points, 3, columns) each
    """
    bends, found = bends_of(lattice), []
    for place in where:
        total = np.zeros((0, 3, circulation.shape[1]))
        for bend in bends:
            if bend.target != place.index:
                continue
            source = lattice.patches[bend.source]
            strength = bound_strengths(source, circulation[lattice.panels_of(bend.source)])
            change = applied(bend_influence(place.patch, source, bend.core), strength)
            total = change + total if len(total) else change
        found.append(with_loose_ends(lattice, place.index, total, circulation))
    return found


def _as_they_are(tables: Floats, rates: Mapping[str, Floats], work: _Rates) -> SurfaceTables:
    return SurfaceTables(tables, work.basis, rates, work.circulation)


def _completed(starboard: Floats, rates: Mapping[str, Floats], work: _Rates) -> SurfaceTables:
    """Add the port patches' tables by reflection."""
    full = np.concatenate([starboard, reflected_tables(work.flows.lattice, starboard)])
    signs = work.basis.sign[:, None, None] * work.basis.sign[:, None] * WRENCH_SIGN
    complete = {}
    for name, rate in rates.items():
        source = rates[across(name)]
        port = work.parity(name) * signs * source
        complete[name] = np.concatenate([rate, port])
    return SurfaceTables(full, work.basis, complete, work.circulation)


def reflected_tables(lattice: Lattice, tables: Floats) -> Floats:
    """Wrench tables of the mirror image of each patch, in the order given."""
    sign, image = mirror_parities(lattice.bodies)
    swapped = tables[:, image][:, :, image]
    return np.asarray(swapped * sign[:, None, None] * sign[:, None] * WRENCH_SIGN)
