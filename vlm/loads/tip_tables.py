"""Tables that belong to the fixed wings, to one tip angle, or to a pair of them."""

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace

import numpy as np

from vlm.constants import Floats
from vlm.flow.onset import onset_velocities
from vlm.flow.solve import Solver, factorised
from vlm.flow.tables import Targets, along, times, velocity_rate_table, velocity_table
from vlm.frames import cross
from vlm.lattice.lattice import Lattice
from vlm.lattice.patches import Patch
from vlm.loads.folding import Motion, fold_motion, onset_rates
from vlm.loads.groups import Group, add_bends, controls_of, group_of, reflected, swapped


@dataclass(frozen=True)
class FixedTables:
    """What the fixed wings have to themselves.

    Attributes
    ----------
    group : their patches, starboard then port
    starboard, port : each half on its own
    controls, normals : shape (n, 3)
    solver : solves A_FF x = b
    base : shape (n, columns), the fixed wings alone in the unit flows
    base_velocity : shape (segments, 3, columns), what their rings then induce at themselves
    velocity : shape (starboard segments, 3, n), from all fixed rings
    condition : of A_FF
    """

    group: Group
    starboard: Group
    port: Group
    controls: Floats
    normals: Floats
    solver: Solver
    base: Floats
    base_velocity: Floats
    velocity: Floats
    condition: float


def fixed_tables(lattice: Lattice) -> FixedTables:
    """Tables of the fixed wings of a mirror-symmetric lattice."""
    patches = [patch for patch in lattice.patches if patch.part == "main"]
    still = Motion(spins={}, hinges=lattice.hinges)
    group = group_of(lattice, patches, still)
    controls, normals = controls_of(patches)
    half, count = len(group.points) // 2, len(controls)
    influence = along(velocity_table(controls[: count // 2], patches), normals[: count // 2])
    own, other = influence[:, : count // 2], influence[:, count // 2 :]
    solve_even, first = factorised(own + other)
    solve_odd, second = factorised(own - other)

    def solver(right: Floats) -> Floats:
        starboard, port = right[: count // 2], right[count // 2 :]
        total = solve_even(0.5 * (starboard + port))
        apart = solve_odd(0.5 * (starboard - port))
        return np.concatenate([total + apart, total - apart])

    velocity = velocity_table(group.points[:half], patches)
    add_bends(velocity, lattice, (group, group), None)
    tables = FixedTables(
        group=group,
        starboard=group_of(lattice, patches[: len(patches) // 2], still),
        port=group_of(lattice, patches[len(patches) // 2 :], still),
        controls=controls,
        normals=normals,
        solver=solver,
        base=solver(-normal_onset_of(lattice, patches)),
        base_velocity=np.zeros((0, 3, 0)),
        velocity=velocity,
        condition=max(first, second),
    )
    return replace(tables, base_velocity=_from_fixed_wings(tables, tables.base))


def normal_onset_of(lattice: Lattice, patches: Sequence[Patch]) -> Floats:
    """V_q . n at the control points of some patches, shape (panels, columns)."""
    parts = []
    for patch in patches:
        onset = onset_velocities(lattice, patch, patch.controls.reshape(-1, 3))
        parts.append(along(onset, patch.normals.reshape(-1, 3)))
    return np.concatenate(parts)


@dataclass(frozen=True)
class TipTables:
    """Starboard tips at one angle, with the fixed wings. Port tips are their mirror image.

    Names: "from_fixed" acts on the tips, "on_fixed" comes from the tips, "own" stays among them;
    "rate" is with the commanded fold. Influence tables are along the normals at control points,
    velocity tables at segments.
    """

    angle: float
    lattice: Lattice
    group: Group
    controls: Targets
    normals: Floats
    normal_rates: Floats
    from_fixed: Floats
    elimination: Floats
    schur: Floats
    right_side: Floats
    on_fixed_velocity: Floats
    from_fixed_velocity: Floats
    own_velocity: Floats
    from_fixed_rate: Floats
    on_fixed_rate: Floats
    own_rate: Floats
    onset_rate: Floats
    on_fixed_velocity_rate: Floats
    from_fixed_velocity_rate: Floats
    own_velocity_rate: Floats

    @property
    def bytes(self) -> int:
        """Memory of the tables."""
        arrays = (getattr(self, field.name) for field in fields(self))
        return sum(array.nbytes for array in arrays if isinstance(array, np.ndarray))


def tip_tables(lattice: Lattice, fixed: FixedTables, *, rates: bool) -> TipTables:
    """Tables of the starboard tips of a mirror-symmetric lattice."""
    motion = fold_motion(lattice, "right")
    patches = [p for p in lattice.patches if p.part == "tip" and p.side == "right"]
    group = group_of(lattice, patches, motion)
    points, normals = controls_of(patches)
    bodies = [(patch.body, patch.controls.reshape(-1, 3)) for patch in patches]
    controls = Targets(points, np.concatenate([motion.displacement(b, x) for b, x in bodies]))
    spins = [cross(motion.spin(p.body), p.normals.reshape(-1, 3)) for p in patches]
    seen = velocity_table(points, fixed.group.patches)
    own = velocity_table(points, patches)
    from_fixed = along(seen, normals)
    elimination = fixed.solver(along(velocity_table(fixed.controls, patches), fixed.normals))
    on_fixed_velocity = velocity_table(fixed.group.points, patches)
    from_fixed_velocity = velocity_table(group.points, fixed.group.patches)
    add_bends(on_fixed_velocity, lattice, (fixed.group, group), None)
    add_bends(from_fixed_velocity, lattice, (group, fixed.group), None)
    own_velocity = velocity_table(group.points, patches)
    add_bends(own_velocity, lattice, (group, group), None)
    turn = np.concatenate(spins)
    changes = (
        _tip_rates(lattice, fixed, group, controls, normals, turn, seen, own, motion)
        if rates
        else dict.fromkeys(_RATE_FIELDS, np.zeros((0, 0)))
    )
    return TipTables(
        angle=lattice.commanded.right_deg,
        lattice=lattice,
        group=group,
        controls=controls,
        normals=normals,
        normal_rates=turn,
        from_fixed=from_fixed,
        elimination=elimination,
        schur=along(own, normals) - from_fixed @ elimination,
        right_side=-normal_onset_of(lattice, patches),
        on_fixed_velocity=on_fixed_velocity,
        from_fixed_velocity=from_fixed_velocity,
        own_velocity=own_velocity,
        **changes,
    )


_RATE_FIELDS = (
    "from_fixed_rate",
    "on_fixed_rate",
    "own_rate",
    "onset_rate",
    "on_fixed_velocity_rate",
    "from_fixed_velocity_rate",
    "own_velocity_rate",
)


def _tip_rates(  # noqa: PLR0913
    lattice: Lattice,
    fixed: FixedTables,
    group: Group,
    controls: Targets,
    normals: Floats,
    normal_rates: Floats,
    seen: Floats,
    own: Floats,
    motion: Motion,
) -> dict[str, Floats]:
    """Rates with the fold of everything in :class:`TipTables`."""
    moving = [motion.displacement(patch.body, patch.nodes) for patch in group.patches]
    resting = [np.zeros_like(patch.nodes) for patch in fixed.group.patches]
    at_fixed = Targets(fixed.controls, np.zeros_like(fixed.controls))
    fixed_points = Targets(fixed.group.points, np.zeros_like(fixed.group.points))
    tip_points = Targets(group.points, group.moved)
    on_fixed = velocity_rate_table(fixed_points, group.patches, moving)
    from_fixed = velocity_rate_table(tip_points, fixed.group.patches, resting)
    among = velocity_rate_table(tip_points, group.patches, moving)
    for table, pair in (
        (on_fixed, (fixed.group, group)),
        (from_fixed, (group, fixed.group)),
        (among, (group, group)),
    ):
        add_bends(table, lattice, pair, motion)
    seen_rate = velocity_rate_table(controls, fixed.group.patches, resting)
    own_rate = velocity_rate_table(controls, group.patches, moving)
    return {
        "from_fixed_rate": along(seen_rate, normals) + along(seen, normal_rates),
        "on_fixed_rate": along(velocity_rate_table(at_fixed, group.patches, moving), fixed.normals),
        "own_rate": along(own_rate, normals) + along(own, normal_rates),
        "onset_rate": _normal_onset_rate(lattice, group.patches, motion),
        "on_fixed_velocity_rate": on_fixed,
        "from_fixed_velocity_rate": from_fixed,
        "own_velocity_rate": among,
    }


def _normal_onset_rate(lattice: Lattice, patches: Sequence[Patch], motion: Motion) -> Floats:
    """Rate of V_q . n at the control points of turning patches, shape (panels, columns)."""
    parts = []
    for patch in patches:
        points, normals = patch.controls.reshape(-1, 3), patch.normals.reshape(-1, 3)
        rate = along(onset_rates(lattice, motion, patch, points), normals)
        turned = cross(motion.spin(patch.body), normals)
        parts.append(rate + along(onset_velocities(lattice, patch, points), turned))
    return np.concatenate(parts)


@dataclass(frozen=True)
class ReducedTables:
    """Tables of one tip angle with the fixed wings' circulations put in, for many pairs of it.

    By (13) the fixed wings' circulations follow from the tips', so the velocity at the fixed
    wings from starboard tips of circulation r, and its rate, become V_FR - V_FF X and
    dV_FR - V_FF Z with Z = A_FF^-1 dA_FR.

    Attributes
    ----------
    velocity, velocity_rate : shape (fixed segments, 3, rings of the tips)
    elimination_rate : Z, shape (fixed rings, rings of the tips)
    """

    velocity: Floats
    velocity_rate: Floats
    elimination_rate: Floats


def reduced_tables(tables: TipTables, fixed: FixedTables) -> ReducedTables:
    """Put the fixed wings' circulations into the tables of one tip angle."""
    velocity = tables.on_fixed_velocity - _from_fixed_wings(fixed, tables.elimination)
    if not tables.on_fixed_rate.size:
        return ReducedTables(velocity, tables.on_fixed_velocity_rate, tables.on_fixed_rate)
    change = fixed.solver(tables.on_fixed_rate)
    rate = tables.on_fixed_velocity_rate - _from_fixed_wings(fixed, change)
    return ReducedTables(velocity, rate, change)


def _from_fixed_wings(fixed: FixedTables, circulation: Floats) -> Floats:
    """Velocity at all fixed segments from the fixed wings' rings."""
    return np.concatenate(fixed_velocities(fixed, circulation))


def fixed_velocities(fixed: FixedTables, circulation: Floats) -> tuple[Floats, Floats]:
    """Velocity at starboard and at port segments of the fixed wings from their own rings."""
    columns = circulation.shape[1]
    both = times(fixed.velocity, np.concatenate([circulation, swapped(circulation)], axis=1))
    return both[:, :, :columns], reflected(both[:, :, columns:])


@dataclass(frozen=True)
class CrossTables:
    """Port tips at one angle acting on starboard tips at another.

    "own" rates turn the starboard tips, "other" rates the port tips, each with its commanded
    fold.
    """

    influence: Floats
    velocity: Floats
    own_turns: Floats
    other_turns: Floats
    own_velocity_rate: Floats
    other_velocity_rate: Floats


def cross_tables(own: TipTables, other: TipTables, *, rates: bool) -> CrossTables:
    """Tables of the port tips of ``other`` (mirrored) at the starboard tips of ``own``."""
    half = len(other.lattice.patches) // 2
    sources = [patch for patch in other.lattice.patches[half:] if patch.part == "tip"]
    seen = velocity_table(own.controls.points, sources)
    velocity = velocity_table(own.group.points, sources)
    influence = along(seen, own.normals)
    if not rates:
        nothing = np.zeros((0, 0))
        return CrossTables(influence, velocity, nothing, nothing, nothing, nothing)
    motion = fold_motion(other.lattice, "left")
    moving = [motion.displacement(patch.body, patch.nodes) for patch in sources]
    resting = [np.zeros_like(nodes) for nodes in moving]
    points = Targets(own.group.points, own.group.moved)
    at_rest = Targets(own.group.points, np.zeros_like(own.group.points))
    controls_at_rest = Targets(own.controls.points, np.zeros_like(own.controls.points))
    return CrossTables(
        influence=influence,
        velocity=velocity,
        own_turns=along(velocity_rate_table(own.controls, sources, resting), own.normals)
        + along(seen, own.normal_rates),
        other_turns=along(velocity_rate_table(controls_at_rest, sources, moving), own.normals),
        own_velocity_rate=velocity_rate_table(points, sources, resting),
        other_velocity_rate=velocity_rate_table(at_rest, sources, moving),
    )
