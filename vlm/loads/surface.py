"""Forces and moments of every patch in all pairs of unit flows, and their rates with parameters."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from vlm.constants import Floats
from vlm.flow.influence import velocities_from
from vlm.flow.motions import Motion, fold_motion, wake_motion
from vlm.flow.onset import FIRST_TIP, onset_velocities
from vlm.flow.solve import UnitFlows, mirror_parities
from vlm.flow.tables import KeptVelocities
from vlm.frames import cross
from vlm.lattice.lattice import Lattice
from vlm.loads.folding import HeldFlow, normalwash_rates, onset_rates
from vlm.loads.kinks import (
    Bend,
    applied,
    bend_influence,
    bend_influence_rate,
    bends_of,
    bound_strengths,
)
from vlm.loads.segments import (
    Change,
    crossed,
    surface_segments,
    surface_strengths,
    wrench_tables,
)

SIDES = ("right", "left")
OTHER_SIDE = {"right": "left", "left": "right"}
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
    kept: KeptVelocities | None = None,
) -> SurfaceTables:
    """Tables of a solved lattice.

    Parameters
    ----------
    fold_rates : whether to add the rates with fold
    turns : rates of the wake's direction with "alpha" and "beta", shape (3,) each [1/rad]
    basis : flows of the rates; by default all motions of a rigid craft
    kept : velocities of the lattice's rings, where other wakes follow
    """
    lattice = flows.lattice
    basis = basis or motion_basis(lattice)
    wanted = fold_rates and bool(lattice.bodies) and not lattice.is_joined
    motions = {side: fold_motion(lattice, side) for side in SIDES} if wanted else {}
    motions |= {name: wake_motion(lattice, rate) for name, rate in (turns or {}).items()}
    rates = _Rates(flows, motions, basis)
    stacked = np.concatenate([flows.circulation, *rates.circulation.values()], axis=1)
    strengths = flows.wake.strengths(stacked)
    on_segments = surface_strengths(lattice, stacked)
    columns, bends = flows.circulation.shape[1], bends_of(lattice)
    tables, table_rates = [], {name: list[Floats]() for name in motions}
    for index in range(len(lattice.patches) // (2 if flows.mirrored else 1)):
        patch = lattice.patches[index]
        segments = surface_segments(patch)
        if kept is None:
            induced = velocities_from(segments.points, flows.wake, strengths)
        else:
            induced = kept.from_all(index, segments.points, flows.wake, strengths)
        own_bends = [bend for bend in bends if bend.target == index]
        softened = _softening(lattice, own_bends, stacked)
        whole = induced.copy()
        whole[: len(softened)] += softened
        velocity = whole[:, :, :columns] + onset_velocities(lattice, patch, segments.points)
        arms = segments.points - lattice.reference.moment_point
        strength = on_segments[index]
        own_changes = []
        for i, name in enumerate(motions):
            part = slice(columns + i * basis.sign.size, columns + (i + 1) * basis.sign.size)
            change = whole[:, :, part] + rates.velocity(name, index, induced[:, :, :columns])
            own_changes.append(rates.change(name, index, strength[:, part], change))
        table, found = wrench_tables(
            strength[:, :columns], velocity, segments, arms, own_changes, basis.amounts
        )
        tables.append(table)
        for name, rate in zip(motions, found, strict=True):
            table_rates[name].append(rate)
    if flows.mirrored:
        return _completed(lattice, np.array(tables), table_rates, rates)
    arrays = {name: np.array(rate) for name, rate in table_rates.items()}
    return SurfaceTables(np.array(tables), basis, arrays, rates.circulation)


class _Rates:
    """Rates of the circulations and of the velocities in a basis of flows."""

    def __init__(self, flows: UnitFlows, motions: Mapping[str, Motion], basis: Basis) -> None:
        self.flows, self.motions, self.basis = flows, motions, basis
        self.held_circulation = flows.circulation @ basis.amounts
        self.held = {
            name: HeldFlow(flows.wake, motion, self.held_circulation)
            for name, motion in motions.items()
        }
        self.bends = bends_of(flows.lattice)
        self.circulation: dict[str, Floats] = {}
        for name in motions:
            self.circulation[name] = self._circulation_rate(name)

    def parity(self, name: str) -> float:
        """Sign that a turn of the wake takes under reflection."""
        return -1.0 if name == "beta" else 1.0

    def _circulation_rate(self, name: str) -> Floats:
        flows, sign = self.flows, self.basis.sign
        if flows.mirrored and name == "left":
            return _other_half_first(sign * self.circulation["right"])
        if flows.mirrored and name != "right":
            half = normalwash_rates(
                self.held[name], self.basis.amounts, len(flows.lattice.patches) // 2
            )
            whole = np.concatenate([half, self.parity(name) * sign * half])
            return flows.solver(-whole)
        everything = len(flows.lattice.patches)
        return flows.solver(-normalwash_rates(self.held[name], self.basis.amounts, everything))

    def velocity(self, name: str, index: int, induced: Floats) -> Floats:
        """Rate of the whole velocity at a patch's segments, its circulation held, seen from it."""
        lattice, motion = self.flows.lattice, self.motions[name]
        patch = lattice.patches[index]
        points = surface_segments(patch).points
        rate = self.held[name].velocity_rates(patch.body, points)
        rate += onset_rates(lattice, motion, patch, points) @ self.basis.amounts
        softened = self._softening_rate(motion, index)
        rate[: len(softened)] += softened
        if patch.body in motion.spins:
            spin = np.broadcast_to(motion.spin(patch.body), points.shape)
            rate -= crossed(induced @ self.basis.amounts, spin)
        return rate

    def change(self, name: str, index: int, strength: Floats, velocity: Floats) -> Change:
        """A patch's change with one motion."""
        motion, patch = self.motions[name], self.flows.lattice.patches[index]
        if patch.body not in motion.spins:
            return Change(strength, velocity)
        segments = surface_segments(patch)
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


def _other_half_first(circulation: Floats) -> Floats:
    half = len(circulation) // 2
    return np.concatenate([circulation[half:], circulation[:half]])


def reflected_columns(lattice: Lattice, circulation: Floats) -> Floats:
    """Circulations of the mirror image of a flow, in this lattice's panel order."""
    sign, image = mirror_parities(lattice.bodies)
    return np.asarray(sign * _other_half_first(circulation)[:, image])


def _softening(lattice: Lattice, bends: list[Bend], circulation: Floats) -> Floats:
    """Velocity changes of equation (11) at a patch's bound points, (0 or points, 3, columns)."""
    total = np.zeros((0, 3, circulation.shape[1]))
    for bend in bends:
        target, source = lattice.patches[bend.target], lattice.patches[bend.source]
        strength = bound_strengths(source, circulation[lattice.panels_of(bend.source)])
        change = applied(bend_influence(target, source, bend.core), strength)
        total = change + total if len(total) else change
    return total


def _completed(
    lattice: Lattice, starboard: Floats, rates: Mapping[str, list[Floats]], work: _Rates
) -> SurfaceTables:
    """Add the port patches' tables by reflection."""
    full = np.concatenate([starboard, reflected_tables(lattice, starboard)])
    signs = work.basis.sign[:, None, None] * work.basis.sign[:, None] * WRENCH_SIGN
    complete = {}
    for name, rate in rates.items():
        source = rates[OTHER_SIDE.get(name, name)]
        port = work.parity(name) * signs * np.array(source)
        complete[name] = np.concatenate([np.array(rate), port])
    return SurfaceTables(full, work.basis, complete, work.circulation)


def reflected_tables(lattice: Lattice, tables: Floats) -> Floats:
    """Wrench tables of the mirror image of each patch, in the order given."""
    sign, image = mirror_parities(lattice.bodies)
    swapped = tables[:, image][:, :, image]
    return np.asarray(swapped * sign[:, None, None] * sign[:, None] * WRENCH_SIGN)
