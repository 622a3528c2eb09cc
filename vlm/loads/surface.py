"""Forces and moments of every patch in all pairs of unit flows, and their rates with fold."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from vlm.constants import Floats
from vlm.flow.influence import velocities_from
from vlm.flow.onset import onset_velocities
from vlm.flow.solve import UnitFlows, mirror_parities
from vlm.frames import cross
from vlm.lattice.lattice import Lattice
from vlm.lattice.patches import Patch
from vlm.loads.folding import Motion, fold_motion, normalwash_rates, onset_rates, relative_rates
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
    segment_strengths,
    surface_segments,
    wrench_tables,
)

SIDES = ("right", "left")
OTHER_SIDE = {"right": "left", "left": "right"}
WRENCH_SIGN = np.array([1.0, -1.0, 1.0, -1.0, 1.0, -1.0])


@dataclass(frozen=True)
class SurfaceTables:
    """Bilinear tables of the surface forces, unit density, geometry axes.

    Attributes
    ----------
    wrench : shape (patches, columns, columns, 6): strength from the first column's flow, velocity
        from the second's; force, then moment about the moment point
    wrench_rates : by side, the rate of ``wrench`` per radian of that side's commanded fold;
        empty where it was not asked for or has no value (a tip joined to another wing)
    circulation_rates : by side, shape (panels, columns), rate of the circulations
    """

    wrench: Floats
    wrench_rates: Mapping[str, Floats]
    circulation_rates: Mapping[str, Floats]


def surface_tables(
    flows: UnitFlows,
    *,
    fold_rates: bool = True,
    further_motions: Mapping[str, Motion] | None = None,
) -> SurfaceTables:
    """Tables of a solved lattice.

    Parameters
    ----------
    fold_rates : whether to add the rates with fold
    further_motions : other parameters to differentiate by, by name (a lattice solved in
        mirrored halves takes none)
    """
    lattice = flows.lattice
    wanted = fold_rates and bool(lattice.bodies) and not lattice.is_joined
    motions = {side: fold_motion(lattice, side) for side in SIDES} if wanted else {}
    if further_motions:
        if flows.mirrored:
            raise ValueError("further motions need a lattice solved whole")
        motions.update(further_motions)
    changes = _circulation_rates(flows, motions)
    targets = range(len(lattice.patches) // (2 if flows.mirrored else 1))
    columns = flows.circulation.shape[1]
    stacked = np.concatenate([flows.circulation, *changes.values()], axis=1)
    wrench, rates = [], {side: list[Floats]() for side in motions}
    bends = bends_of(lattice)
    for index in targets:
        patch = lattice.patches[index]
        segments = surface_segments(patch)
        velocity = velocities_from(
            segments.points,
            lattice.patches,
            [stacked[lattice.panels_of(i)] for i in range(len(lattice.patches))],
            flows.direction,
        )
        own_bends = [bend for bend in bends if bend.target == index]
        softening = _softening(lattice, own_bends, stacked)
        velocity_of = _split(velocity, softening, columns)
        work = _PatchWork(flows, index, velocity[:, :, :columns])
        rings = lattice.panels_of(index)
        changed = []
        for i, (side, motion) in enumerate(motions.items()):
            rate = velocity_of[i + 1]
            softened = _softening_rate(lattice, own_bends, motion, flows.circulation)
            rate[: len(softened)] += softened
            changed.append(work.change(motion, changes[side][rings], rate))
        table, table_rates = work.tables(velocity_of[0], changed)
        wrench.append(table)
        for side, rate in zip(motions, table_rates, strict=True):
            rates[side].append(rate)
    if flows.mirrored:
        return _completed(lattice, np.array(wrench), rates, changes)
    return SurfaceTables(
        np.array(wrench), {side: np.array(rate) for side, rate in rates.items()}, changes
    )


def _circulation_rates(flows: UnitFlows, motions: Mapping[str, Motion]) -> dict[str, Floats]:
    changes: dict[str, Floats] = {}
    for side, motion in motions.items():
        if flows.mirrored and side == "left":
            changes[side] = reflected_columns(flows.lattice, changes["right"])
            continue
        right = normalwash_rates(flows.lattice, motion, flows.circulation, flows.direction)
        changes[side] = flows.solver(-right)
    return changes


def reflected_columns(lattice: Lattice, circulation: Floats) -> Floats:
    """Circulations of the mirror image of a flow, in this lattice's panel order."""
    sign, twin = mirror_parities(lattice.bodies)
    half = lattice.panels // 2
    swapped = np.concatenate([circulation[half:], circulation[:half]])
    return np.asarray(sign * swapped[:, twin])


def _softening(lattice: Lattice, bends: list[Bend], circulation: Floats) -> Floats:
    """Velocity changes of equation (11) at a patch's bound points, (0 or points, 3, columns)."""
    total = np.zeros((0, 3, circulation.shape[1]))
    for bend in bends:
        target, source = lattice.patches[bend.target], lattice.patches[bend.source]
        strength = bound_strengths(source, circulation[lattice.panels_of(bend.source)])
        change = applied(bend_influence(target, source, bend.core), strength)
        total = change + total if len(total) else change
    return total


def _softening_rate(
    lattice: Lattice, bends: list[Bend], motion: Motion, circulation: Floats
) -> Floats:
    """Rate of :func:`_softening` while tips turn and the circulation is held."""
    total = np.zeros((0, 3, circulation.shape[1]))
    for bend in bends:
        target, source = lattice.patches[bend.target], lattice.patches[bend.source]
        if not {target.body, source.body} & set(motion.spins):
            continue
        strength = bound_strengths(source, circulation[lattice.panels_of(bend.source)])
        table = bend_influence_rate(
            target,
            source,
            bend.core,
            motion.displacement(target.body, target.bound_points()),
            motion.displacement(source.body, source.nodes),
        )
        total = applied(table, strength) + total if len(total) else applied(table, strength)
    return total


def _split(velocity: Floats, softening: Floats, columns: int) -> list[Floats]:
    """Cut stacked velocities into blocks of unit flows, the softening of bends added."""
    total = velocity.copy()
    total[: len(softening)] += softening
    return [total[:, :, i : i + columns] for i in range(0, total.shape[2], columns)]


class _PatchWork:
    """What the tables of one patch need, worked out once."""

    def __init__(self, flows: UnitFlows, index: int, induced: Floats) -> None:
        lattice = flows.lattice
        self.flows = flows
        self.patch: Patch = lattice.patches[index]
        self.segments = surface_segments(self.patch)
        self.arms = self.segments.points - lattice.reference.moment_point
        self.strength = segment_strengths(self.patch, flows.circulation[lattice.panels_of(index)])
        self.induced = induced

    def change(self, motion: Motion, circulation: Floats, induced: Floats) -> Change:
        """Changes with one motion; ``induced`` is the velocity of the changed rings."""
        lattice, body = self.flows.lattice, self.patch.body
        points = self.segments.points
        rate = induced + onset_rates(lattice, motion, self.patch, points)
        rate += relative_rates(
            lattice, motion, body, points, self.flows.circulation, self.flows.direction
        )
        strength = segment_strengths(self.patch, circulation)
        if body not in motion.spins:
            return Change(strength, rate)
        spin = motion.spin(body)
        rate -= crossed(self.induced, np.broadcast_to(spin, points.shape))
        return Change(
            strength,
            rate,
            moved=motion.displacement(body, points),
            turned=cross(spin, self.segments.vectors),
        )

    def tables(self, induced: Floats, changes: list[Change]) -> tuple[Floats, list[Floats]]:
        """The wrench table and its rates; ``induced`` with the softening of bends."""
        onset = onset_velocities(self.flows.lattice, self.patch, self.segments.points)
        return wrench_tables(self.strength, induced + onset, self.segments, self.arms, changes)


def _completed(
    lattice: Lattice,
    starboard: Floats,
    rates: Mapping[str, list[Floats]],
    changes: Mapping[str, Floats],
) -> SurfaceTables:
    """Add the port patches' tables by reflection."""
    full = np.concatenate([starboard, reflected_tables(lattice, starboard)])
    complete = {
        side: np.concatenate(
            [np.array(rate), reflected_tables(lattice, np.array(rates[OTHER_SIDE[side]]))]
        )
        for side, rate in rates.items()
    }
    return SurfaceTables(full, complete, changes)


def reflected_tables(lattice: Lattice, tables: Floats) -> Floats:
    """Wrench tables of the mirror image of each patch, in the order given."""
    sign, twin = mirror_parities(lattice.bodies)
    swapped = tables[:, twin][:, :, twin]
    return np.asarray(swapped * sign[:, None, None] * sign[:, None] * WRENCH_SIGN)
