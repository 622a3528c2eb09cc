"""Rolling moment against the size of a command: slope, linear range, where it turns back."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from vlm.constants import Floats
from vlm.description.folds import FoldAngles
from vlm.flight.craft.crossing import sign_changes, zero_between
from vlm.flight.craft.folding_craft import FoldingCraft
from vlm.flight.motion.roll_authority import Air, setting_moment

LINEAR_WITHIN = 0.1
SMALL_COMMAND_DEG = 1.0


@dataclass(frozen=True)
class RollCommand:
    """A way to command roll from a symmetric fold.

    Attributes
    ----------
    name : "both tips apart" (port raised, starboard lowered by the command), "port tip alone" or
        "starboard tip alone" (raised by the command)
    rolling_moment_N_m : shape (n,), NaN where there is none [N m]
    slope_N_m_deg : at a command of zero [N m per degree]
    linear_to_deg : largest command either way with the moment within a tenth of the tangent [deg]
    turns_at_deg : commands at which the moment stops growing [deg]
    reverses_at_deg : commands, not zero, at which the moment changes its sign [deg]
    reverses_half_width_deg : of the errors of these; empty where they were not asked for [deg]
    joined : shape (n,), whether a tip's end is joined to a wing there
    """

    name: str
    command_deg: Floats
    rolling_moment_N_m: Floats
    slope_N_m_deg: float
    linear_to_deg: tuple[float, float]
    turns_at_deg: tuple[float, ...]
    reverses_at_deg: tuple[float, ...]
    joined: tuple[bool, ...] = ()
    reverses_half_width_deg: tuple[float, ...] = ()


WAYS = {
    "both tips apart": (1.0, -1.0),
    "port tip alone": (1.0, 0.0),
    "starboard tip alone": (0.0, 1.0),
}


def roll_commands(
    craft: FoldingCraft,
    air: Air,
    base_deg: float,
    commands_deg: Sequence[float],
) -> list[RollCommand]:
    """Every way's curve over commands either side of zero [deg].

    Settings that are mirror images of solved ones are not solved again.
    """
    solved: dict[FoldAngles, float] = {}
    touching: set[FoldAngles] = set()

    def moment(folds: FoldAngles) -> float:
        image = folds.mirrored()
        if craft.is_symmetric and image in solved:
            touching.update({folds} if image in touching else ())
            return -solved[image]
        if folds not in solved:
            solved[folds] = setting_moment(craft, folds, air)
            # Asked now, while the setting is still kept.
            if np.isfinite(solved[folds]) and craft.at(folds).loads.lattice.is_joined:
                touching.add(folds)
        return solved[folds]

    def with_joined(curve: RollCommand) -> RollCommand:
        folds = [commanded(base_deg, curve.name, float(one)) for one in curve.command_deg]
        return replace(curve, joined=tuple(one in touching for one in folds))

    commands = np.asarray(commands_deg, float)
    return [with_joined(_curve(moment, base_deg, name, commands)) for name in WAYS]


def commanded(base_deg: float, way: str, command_deg: float) -> FoldAngles | None:
    """Folds under a command, or None beyond half a turn."""
    port, starboard = WAYS[way]
    left, right = base_deg + port * command_deg, base_deg + starboard * command_deg
    return FoldAngles(left, right) if max(abs(left), abs(right)) < 180.0 else None


def _curve(
    moment_of: Callable[[FoldAngles], float], base_deg: float, name: str, commands: Floats
) -> RollCommand:
    def moment(command: float) -> float:
        folds = commanded(base_deg, name, command)
        return float("nan") if folds is None else moment_of(folds)

    rolling = np.array([moment(float(c)) for c in commands])
    ends = [moment(sign * SMALL_COMMAND_DEG) for sign in (-1.0, 1.0)]
    slope = (ends[1] - ends[0]) / (2.0 * SMALL_COMMAND_DEG)
    if not np.isfinite(slope):
        # At a limit of the folds only one side can be asked for.
        one_sided = [s * m for s, m in zip((-1.0, 1.0), ends, strict=True) if np.isfinite(m)]
        slope = (one_sided[0] / SMALL_COMMAND_DEG) if one_sided else float("nan")
    return RollCommand(
        name=name,
        command_deg=commands,
        rolling_moment_N_m=rolling,
        slope_N_m_deg=slope,
        linear_to_deg=_linear_range(commands, rolling, slope),
        turns_at_deg=turning_points(commands, rolling),
        reverses_at_deg=reversals(commands, rolling),
    )


def _linear_range(commands: Floats, rolling: Floats, slope: float) -> tuple[float, float]:
    """First departure from the tangent going out from zero, to each side."""
    reached = []
    for sign in (-1.0, 1.0):
        last = 0.0
        for command in sorted(commands[sign * commands > 0.0], key=abs):
            value = float(rolling[commands == command][0])
            tangent = slope * command
            if not abs(value - tangent) <= LINEAR_WITHIN * abs(tangent):
                break
            last = float(command)
        reached.append(last)
    return reached[0], reached[1]


def turning_points(commands: Floats, rolling: Floats) -> tuple[float, ...]:
    """Commands at which a curve has a summit or a trough, by parabolas through three points."""
    found = []
    for before, after in sign_changes(np.diff(rolling)):
        if after - before > 1:  # level in between
            found.append(0.5 * float(commands[before + 1] + commands[after]))
            continue
        around = slice(before, before + 3)
        fit = np.polyfit(commands[around], rolling[around], 2)
        found.append(float(-0.5 * fit[1] / fit[0]))
    return tuple(found)


def reversals(commands: Floats, rolling: Floats) -> tuple[float, ...]:
    """Commands, not near zero, at which a curve changes its sign."""
    return tuple(zero_between(commands, rolling, change) for change in reversing(commands, rolling))


def reversing(commands: Floats, rolling: Floats) -> list[tuple[int, int]]:
    """Places of the commands on either side of each of :func:`reversals`."""
    return [
        change
        for change in sign_changes(rolling)
        if abs(zero_between(commands, rolling, change)) > SMALL_COMMAND_DEG
    ]
