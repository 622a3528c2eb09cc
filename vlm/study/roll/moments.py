"""Rolling and yawing moments of pairs of folds with their errors, and what these leave sure."""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from vlm.constants import Floats
from vlm.description.folds import FoldAngles
from vlm.errors import FoldspanError
from vlm.flight.craft.folded_craft import FoldedCraft
from vlm.flight.craft.folding_craft import FoldingCraft
from vlm.flight.craft.level import LevelFlight, level_flight
from vlm.flight.craft.model_spread import moment_spread
from vlm.flight.craft.stalled import stalled_moments, stalled_roll_rate
from vlm.flight.craft.steady_roll import roll_axis, steady_roll_rate
from vlm.flight.motion.roll_authority import TOO_SLOW, Air, RollMap, roll_point, setting_moment
from vlm.flight.motion.roll_command import RollCommand, commanded, reversing
from vlm.lattice.cellule import Grid
from vlm.study.point.errors import half_width
from vlm.study.roll.results import Authority, FoldPair, Known, PairRow
from vlm.study.roll.reversal import reversal
from vlm.study.roll.verdicts import SENSES
from vlm.verdicts import SIGN_NOT_KNOWN, not_known_apart, verdict

NEAR = 3.0
"""Half-widths of the strongest pair's moment within which others are held against it [1]."""


@dataclass(frozen=True)
class PairMoments:
    """Moments of a pair of folds in level flight.

    Attributes
    ----------
    craft, rough : on the lattice, and on a coarser one
    flight : level flight of ``craft``
    rolling, yawing : moments about and across the direction of flight, with their errors [N m]
    """

    craft: FoldedCraft
    rough: FoldedCraft
    flight: LevelFlight
    rolling: Known
    yawing: Known

    @property
    def sense(self) -> str:
        """The way it rolls, where that is sure."""
        return verdict(self.rolling.value, self.rolling.half_width, *SENSES)

    @property
    def yaw(self) -> str:
        """Proverse, adverse, none, or not known: the yaw that comes with the roll."""
        if self.sense == SIGN_NOT_KNOWN:
            return SIGN_NOT_KNOWN
        value = float(np.sign(self.rolling.value)) * self.yawing.value
        return verdict(value, self.yawing.half_width, "proverse", "adverse", "none")


@dataclass(frozen=True)
class RollMoments:
    """Moments of one craft with its errors.

    Attributes
    ----------
    source_name : of the craft's file
    grid : the lattice
    base : level flight at the setting that commands start from
    base_deg : symmetric fold there [deg]
    fine, rough : the craft at an airspeed [m/s], and on a coarser lattice
    """

    source_name: str
    grid: Grid
    base: LevelFlight
    base_deg: float
    fine: Callable[[float], FoldingCraft]
    rough: Callable[[float], FoldingCraft]

    def of(self, folds: FoldAngles, air: Air) -> PairMoments | str:
        """Moments of a setting with their errors, or why it has none."""
        try:
            craft, rough = (made(air.airspeed).at(folds) for made in (self.fine, self.rough))
        except FoldspanError as error:
            return str(error).removeprefix(f"{self.source_name}: ")
        flight = level_flight(craft, air.airspeed, air.density)
        if flight is None:
            return TOO_SLOW
        ahead = roll_axis(flight.alpha)
        spread = moment_spread(craft, flight) + stalled_moments(craft, flight)
        other = rough.wrench(flight.motion, air.density)[3:]
        found = []
        for axis in (ahead, np.array([-ahead[2], 0.0, ahead[0]])):
            value = float(flight.wrench[3:] @ axis)
            width = half_width(value, float(other @ axis), abs(value), self.grid)
            width += interpolation_error(craft, flight, axis)
            found.append(Known(value, width, float(spread @ np.abs(axis))))
        return PairMoments(craft, rough, flight, *found)

    def values(self, found: PairMoments) -> dict[str, float]:
        """All fields of a pair, with the half-width of its roll rate."""
        return {
            **roll_point(found.craft, found.flight, self.base),
            "roll_rate_half_width_deg_s": self.rate_width(found),
        }

    def pair(self, folds: FoldAngles, air: Air) -> PairRow | None:
        """A pair with the errors of its moments and what they say."""
        found = self.of(folds, air)
        if isinstance(found, str):
            return None
        return PairRow(
            folds.left_deg, folds.right_deg,
            max(abs(folds.left_deg - self.base_deg), abs(folds.right_deg - self.base_deg)),
            found.rolling, found.yawing, found.sense, found.yaw, self.values(found),
        )  # fmt: skip

    def authority(self, folds: FoldAngles, air: Air) -> Authority | str:
        """One command at one airspeed, or why it has none."""
        found = self.of(folds, air)
        if isinstance(found, str):
            return found
        values = self.values(found)
        return Authority(
            rolling_moment_N_m=found.rolling.value,
            half_width_N_m=found.rolling.half_width,
            sense=found.sense,
            yawing_moment_N_m=found.yawing.value,
            yawing_half_width_N_m=found.yawing.half_width,
            yaw=found.yaw,
            Cl=values["Cl"],
            roll_rate_deg_s=values["roll_rate_deg_s"],
            roll_rate_half_width_deg_s=values["roll_rate_half_width_deg_s"],
            stall_margin_deg=values["stall_margin_deg"],
        )

    def moment_at(self, folds: FoldAngles, air: Air) -> float:
        """Rolling moment of a setting at an airspeed; NaN where there is none [N m]."""
        try:
            return setting_moment(self.fine(air.airspeed), folds, air)
        except FoldspanError:
            return float("nan")

    def width_at(self, folds: FoldAngles, air: Air) -> float:
        """Half-width of :meth:`moment_at`; NaN where there is none [N m]."""
        found = self.of(folds, air)
        return float("nan") if isinstance(found, str) else found.rolling.half_width

    def with_errors(self, command: RollCommand, air: Air) -> RollCommand:
        """A command's curve with its reversals solved directly, and their half-widths."""
        at, found = command.command_deg, []

        def folds(size: float) -> FoldAngles:
            made = commanded(self.base_deg, command.name, size)
            assert made is not None
            return made

        for before, after in reversing(at, command.rolling_moment_N_m):
            ends = float(at[before]), float(at[after])
            found.append(
                reversal(
                    *ends,
                    lambda size: self.moment_at(folds(size), air),
                    lambda size: self.width_at(folds(size), air),
                )
            )
        return replace(
            command,
            reverses_at_deg=tuple(place for place, _ in found),
            reverses_half_width_deg=tuple(width for _, width in found),
        )

    def rate_width(self, found: PairMoments) -> float:
        """Half-width of the steady roll rate, NaN where it is not known [deg/s].

        The lattice's error of moment and damping together, the rates that the model's spread of
        the moment leads to, and what stalled sections leave open in both.
        """
        craft, flight = found.craft, found.flight
        rate, other = steady_roll_rate(craft, flight), steady_roll_rate(found.rough, flight)
        spread = float(moment_spread(craft, flight) @ np.abs(roll_axis(flight.alpha)))
        low, high = (steady_roll_rate(craft, flight, sign * spread) for sign in (-1.0, 1.0))
        if rate is None or other is None or low is None or high is None:
            return float("nan")
        width = half_width(rate, other, abs(rate), self.grid) + 0.5 * abs(high - low)
        return float(np.degrees(width + stalled_roll_rate(craft, flight, rate)))

    def alike(self, grid: RollMap, best: PairRow, air: Air) -> tuple[FoldPair, ...]:
        """Pairs of the map that roll to starboard no less, as far as is known, than the strongest.

        Asked of those whose moment is within three half-widths of the best one: a weaker pair
        would need twice its half-width.
        """
        moments, reach = grid.values["rolling_moment_N_m"], NEAR * best.rolling.half_width
        with np.errstate(invalid="ignore"):
            near = np.argwhere(moments >= best.rolling.value - reach)
        pairs = [FoldAngles(float(grid.left_deg[i]), float(grid.right_deg[j])) for i, j in near]
        own = FoldAngles(best.left_deg, best.right_deg)
        others = [folds for folds in pairs if folds != own]
        values = [best.rolling.value]
        widths = [best.rolling.half_width]
        for folds in others:
            values.append(self.moment_at(folds, air))
            widths.append(self.width_at(folds, air))
        places = not_known_apart(values, widths, 0)
        return tuple(FoldPair(others[i - 1].left_deg, others[i - 1].right_deg) for i in places)


def interpolation_error(craft: FoldedCraft, flight: LevelFlight, axis: Floats) -> float:
    """What a chart of the folds may miss of the moment about an axis of the body [N m]."""
    reference, errors = craft.loads.reference, craft.loads.errors
    lengths = (reference.span, reference.chord, reference.span)
    each = [errors.get(name, 0.0) * a for name, a in zip(("Cl", "Cm", "Cn"), lengths, strict=True)]
    return float(np.abs(axis) @ each) * flight.dynamic_pressure * reference.area
