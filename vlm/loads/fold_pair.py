"""One pair of angles, port and starboard, out of tables made once an angle."""

from collections.abc import Callable
from types import MappingProxyType
from typing import TYPE_CHECKING

import numpy as np

from vlm.constants import Floats
from vlm.description.folds import FoldAngles
from vlm.flow.influence import CRAFT_AXIS
from vlm.flow.solve import factorised, mirror_parities
from vlm.flow.tables import times
from vlm.lattice.lattice import Lattice
from vlm.loads.craft_loads import CraftLoads
from vlm.loads.farfield import bound_totals, drag_tables, wake_trace
from vlm.loads.groups import Group, reflected, swapped
from vlm.loads.segments import Change, segment_strengths, wrench_tables
from vlm.loads.surface import OTHER_SIDE, WRENCH_SIGN, SurfaceTables
from vlm.loads.tip_tables import ReducedTables, TipTables, fixed_velocities

if TYPE_CHECKING:
    from vlm.loads.fold_engine import FoldEngine

Parts = tuple[Floats, Floats, Floats]
PatchTables = tuple[Floats, dict[str, Floats]]


def combined(port: Lattice, starboard: Lattice, folds: FoldAngles) -> Lattice:
    """The port side of one symmetric lattice with the starboard side of another."""
    half = len(port.patches) // 2
    angles = {
        name: (port if name.endswith("left") else starboard).folds[name] for name in port.folds
    }
    return Lattice(
        patches=starboard.patches[:half] + port.patches[half:],
        hinges=port.hinges,
        folds=MappingProxyType(angles),
        fold_rates=port.fold_rates,
        commanded=folds,
        reference=port.reference,
        grid=port.grid,
        joints=tuple(j for j in port.joints if j.tip.endswith("left"))
        + tuple(j for j in starboard.joints if j.tip.endswith("right")),
    )


class FoldPair:
    """One pair of angles. Port tips are treated as starboard tips of the mirrored craft.

    Vectors: circulations of F (starboard then port panels), of R and of L, columns the unit
    flows. ``mirror`` of a table of columns reflects what belongs to the port side.
    """

    def __init__(
        self, engine: "FoldEngine", lattice: Lattice, port: TipTables, starboard: TipTables
    ) -> None:
        self.engine, self.lattice = engine, lattice
        self.fixed, self.port, self.starboard = engine.fixed, port, starboard
        self.with_rates = engine.fold_rates and not lattice.is_joined
        self.sign, self.twin = mirror_parities(lattice.bodies)
        self.right_left = engine.crossed(starboard, port)
        self.left_right = self.right_left if port is starboard else engine.crossed(port, starboard)
        self.reduced = self._reduced_tables()
        self.solve_tips, self.condition = self._tip_solver()

    def _reduced_tables(self) -> tuple[ReducedTables, ReducedTables] | None:
        """Reduced tables of both angles, where both repay."""
        if self.port is self.starboard:
            return None
        right, left = self.engine.reduced(self.starboard), self.engine.reduced(self.port)
        if right is None or left is None:
            return None
        if self.with_rates and not (right.velocity_rate.size and left.velocity_rate.size):
            return None
        return right, left

    def _mirror(self, columns: Floats) -> Floats:
        """Columns of the port side from those worked out for the mirrored craft."""
        return np.asarray(self.sign * columns[..., self.twin])

    def _tip_solver(self) -> tuple[Callable[[Floats, Floats], tuple[Floats, Floats]], float]:
        """Solver of the tips' system (13), for right-hand sides of R and of L."""
        right, left = self.starboard, self.port
        upper = self.right_left.influence - right.from_fixed @ swapped(left.elimination)
        if left is right:
            even, odd = right.schur + upper, right.schur - upper
            solve_even, first = factorised(even)
            solve_odd, second = factorised(odd)

            def solve_halves(a: Floats, b: Floats) -> tuple[Floats, Floats]:
                total, apart = solve_even(0.5 * (a + b)), solve_odd(0.5 * (a - b))
                return total + apart, total - apart

            return solve_halves, max(first, second)
        lower = self.left_right.influence - left.from_fixed @ swapped(right.elimination)
        solve, condition = factorised(np.block([[right.schur, upper], [lower, left.schur]]))
        count = len(right.schur)

        def solve_both(a: Floats, b: Floats) -> tuple[Floats, Floats]:
            both = solve(np.concatenate([a, b]))
            return both[:count], both[count:]

        return solve_both, condition

    def _eliminated(
        self, fixed: Floats, right: Floats, left: Floats
    ) -> tuple[Floats, Floats, Floats]:
        """Circulations from the fixed wings' own solution and right-hand sides of the tips."""
        r, l = self.solve_tips(  # noqa: E741
            right - self.starboard.from_fixed @ fixed, left - self.port.from_fixed @ swapped(fixed)
        )
        f = fixed - self.starboard.elimination @ r - swapped(self.port.elimination @ l)
        return f, r, l

    def loads(self) -> CraftLoads:
        """Loads of the pair."""
        base = self._eliminated(
            self.fixed.base, self.starboard.right_side, self._mirror(self.port.right_side)
        )
        shifts = self._shifts(*base) if self.with_rates else {}
        wrench, rates = self._wrenches(base, shifts)
        circulation = self._ordered(*base)
        trace = wake_trace(self.lattice, CRAFT_AXIS)
        return CraftLoads(
            lattice=self.lattice,
            circulation=circulation,
            surface=SurfaceTables(
                wrench, rates, {side: self._ordered(*shift) for side, shift in shifts.items()}
            ),
            wake=trace,
            drag=drag_tables(self.lattice, trace, bound_totals(self.lattice, circulation)),
            direction=CRAFT_AXIS,
            condition=max(self.condition, self.fixed.condition),
        )

    def _ordered(self, f: Floats, r: Floats, l: Floats) -> Floats:  # noqa: E741
        half = len(f) // 2
        return np.concatenate([f[:half], r, f[half:], l])

    def _shifts(self, f: Floats, r: Floats, l: Floats) -> dict[str, Parts]:  # noqa: E741
        """Rates of the circulations with each side's fold, equation (6) by blocks."""
        right, left = self.starboard, self.port
        on_right = right.own_rate @ r + right.from_fixed_rate @ f + right.onset_rate
        on_right += self.right_left.own_turns @ l
        starboard = self._eliminated(
            -self._fixed_change(right, 0, r),
            -on_right,
            -(self.left_right.other_turns @ r),
        )
        on_left = left.own_rate @ l + left.from_fixed_rate @ swapped(f)
        on_left += self._mirror(left.onset_rate) + self.left_right.own_turns @ r
        if left is right:
            f, r, l = (self._mirror(part) for part in (swapped(starboard[0]), *starboard[:0:-1]))  # noqa: E741
            return {"right": starboard, "left": (f, r, l)}
        port = self._eliminated(
            -swapped(self._fixed_change(left, 1, l)),
            -(self.right_left.other_turns @ l),
            -on_left,
        )
        return {"right": starboard, "left": port}

    def _fixed_change(self, tips: TipTables, place: int, circulation: Floats) -> Floats:
        """A_FF^-1 dA_FR times a tip's circulations."""
        if self.reduced is not None:
            return self.reduced[place].elimination_rate @ circulation
        return self.fixed.solver(tips.on_fixed_rate @ circulation)

    def _near(self, f: Floats, r: Floats, l: Floats) -> Floats:  # noqa: E741
        """Velocity at the starboard segments of the fixed wings, of a symmetric setting."""
        half = len(self.fixed.group.points) // 2
        table = self.starboard.on_fixed_velocity
        own, other = times(table[:half], r), times(table[half:], l)
        return times(self.fixed.velocity, f) + own + reflected(other)

    def _on_fixed(
        self,
        f: Floats,
        r: Floats,
        l: Floats,  # noqa: E741
    ) -> tuple[Floats, Floats]:
        """Velocity at starboard and at port segments of the fixed wings."""
        half = len(self.fixed.group.points) // 2
        if self.reduced is None:
            near, far = fixed_velocities(self.fixed, f)
            right, left = self.starboard.on_fixed_velocity, self.port.on_fixed_velocity
        else:
            right, left = self.reduced[0].velocity, self.reduced[1].velocity
            base = self.fixed.base_velocity
            empty = np.zeros((half, 3, f.shape[1] - base.shape[2]))
            near = np.concatenate([base[:half], empty], axis=2)
            far = np.concatenate([base[half:], empty], axis=2)
        on_right, on_left = times(right, r), times(left, l)
        near = near + on_right[:half] + reflected(on_left[half:])
        return near, far + on_right[half:] + reflected(on_left[:half])

    def _wrenches(self, base: Parts, shifts: dict[str, Parts]) -> tuple[Floats, dict[str, Floats]]:
        """Wrench tables of every patch and their rates, in the lattice's order."""
        columns = base[0].shape[1]
        f, r, l = (  # noqa: E741
            np.concatenate([base[i], *(shift[i] for shift in shifts.values())], axis=1)
            for i in range(3)
        )
        right, left, fixed = self.starboard, self.port, self.fixed
        half = len(fixed.group.points) // 2
        rates = self._velocity_rates(*base) if shifts else None
        near, far = self._on_fixed(f, r, l) if right is not left else (self._near(f, r, l), None)
        on_tips = times(right.from_fixed_velocity, f) + times(right.own_velocity, r)
        on_tips += times(self.right_left.velocity, l)
        starboard = self._group_tables(
            fixed.starboard, near, f[: len(f) // 2], _cut(rates, 0, slice(half)), columns, 0
        ) + self._group_tables(right.group, on_tips, r, _cut(rates, 1), columns, 1)
        if far is None:
            return _arranged(starboard + self._reflected_side(starboard))
        on_other = times(left.from_fixed_velocity, swapped(f)) + times(left.own_velocity, l)
        on_other += times(self.left_right.velocity, r)
        port = self._group_tables(
            fixed.port, far, f[len(f) // 2 :], _cut(rates, 0, slice(half, None)), columns, 0
        ) + self._group_tables(left.group, on_other, l, _cut(rates, 2), columns, -1)
        return _arranged(starboard + port)

    def _reflected_side(self, side: list[PatchTables]) -> list[PatchTables]:
        """The port side of a symmetric setting from its starboard side."""

        def mirror(table: Floats) -> Floats:
            return np.asarray(self._mirror_table(table) * WRENCH_SIGN)

        return [
            (mirror(table), {OTHER_SIDE[name]: mirror(rate) for name, rate in rates.items()})
            for table, rates in side
        ]

    def _mirror_table(self, table: Floats) -> Floats:
        swapped_columns = table[self.twin][:, self.twin]
        return np.asarray(swapped_columns * self.sign[:, None, None] * self.sign[:, None])

    def _velocity_rates(
        self,
        f: Floats,
        r: Floats,
        l: Floats,  # noqa: E741
    ) -> list[dict[str, Floats]]:
        """By group F, R, L: rates of velocity with the circulations held, by side that turns."""
        right, left = self.starboard, self.port
        half = len(self.fixed.group.points) // 2
        tables = (right.on_fixed_velocity_rate, left.on_fixed_velocity_rate)
        if self.reduced is not None:
            tables = (self.reduced[0].velocity_rate, self.reduced[1].velocity_rate)
        from_left = times(tables[1], l)
        on_fixed = {
            "right": times(tables[0], r),
            "left": reflected(np.concatenate([from_left[half:], from_left[:half]])),
        }
        own = times(right.from_fixed_velocity_rate, f) + times(right.own_velocity_rate, r)
        own += times(self.right_left.own_velocity_rate, l)
        on_right = {"right": own, "left": times(self.right_left.other_velocity_rate, l)}
        if right is left:
            return [on_fixed, on_right]
        own = times(left.from_fixed_velocity_rate, swapped(f)) + times(left.own_velocity_rate, l)
        own += times(self.left_right.own_velocity_rate, r)
        on_left = {"right": times(self.left_right.other_velocity_rate, r), "left": own}
        return [on_fixed, on_right, on_left]

    def _group_tables(
        self,
        group: Group,
        velocity: Floats,
        strengths: Floats,
        rates: dict[str, Floats],
        columns: int,
        side: int,
    ) -> list[PatchTables]:
        """Wrench tables of a group's patches; ``side`` is 0 fixed, 1 starboard, -1 port tips.

        Port tips are worked out as starboard tips of the mirrored craft and reflected at the end.
        """
        mirror = self._mirror if side < 0 else np.asarray
        flip = WRENCH_SIGN if side < 0 else 1.0
        turning = {1: "right", -1: "left"}.get(side)
        result: list[PatchTables] = []
        places = zip(group.patches, group.point_slices, group.ring_slices, strict=True)
        for patch, points, rings in places:
            whole = segment_strengths(patch, strengths[rings])
            changes = []
            for i, (name, rate) in enumerate(rates.items()):
                shift = slice(columns * (i + 1), columns * (i + 2))
                changed = velocity[points, :, shift] + rate[points]
                if name == turning:
                    changed += mirror(group.onset_rate[points])
                    turned = (group.moved[points], group.turned[points])
                    changes.append(Change(whole[:, shift], changed, *turned))
                else:
                    changes.append(Change(whole[:, shift], changed))
            table, own_rates = wrench_tables(
                whole[:, :columns],
                velocity[points, :, :columns] + mirror(group.onset[points]),
                group.segments_of(points),
                group.arms[points],
                changes,
            )
            named = zip(rates, own_rates, strict=True)
            result.append((table * flip, {name: rate * flip for name, rate in named}))
        return result


def _cut(
    rates: list[dict[str, Floats]] | None, group: int, points: slice = slice(None)
) -> dict[str, Floats]:
    """Rates of one group at some of its points; none where there are no rates."""
    return {name: rate[points] for name, rate in rates[group].items()} if rates else {}


def _arranged(tables: list[PatchTables]) -> tuple[Floats, dict[str, Floats]]:
    """Tables of all patches stacked in the order given."""
    names = tables[0][1]
    return (
        np.array([table for table, _ in tables]),
        {name: np.array([rates[name] for _, rates in tables]) for name in names},
    )
