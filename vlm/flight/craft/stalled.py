"""What stalled sections leave open in a number: all that the file's sections change in it.

Past its stall a strip's force is that of a model, hardly measured. So where any strip of a state is
past its stall, all that sections change in a number there counts in its ±: what the lattice with
thin sections gives lies within. Short of stall nothing is left open here.
"""

from dataclasses import replace

import numpy as np

from vlm.constants import Floats
from vlm.flight.craft.folded_craft import FoldedCraft
from vlm.flight.craft.level import LevelFlight
from vlm.flight.craft.steady_roll import roll_axis, steady_roll_rate


def left_open(margin: float, change: float) -> float:
    """Half-width that stalled sections add to a number, in its unit.

    Parameters
    ----------
    margin : angle left to stall in the strip nearest to it, infinite without sections [rad]
    change : what sections change in the number
    """
    return abs(change) if margin < 0.0 else 0.0


def stalled_moments(craft: FoldedCraft, flight: LevelFlight) -> Floats:
    """Half-widths of rolling, pitching and yawing moment, body axes, shape (3,) [N m]."""
    changed = craft.changed_wrenches(flight.motion[None, :], flight.density)[0, 3:]
    return np.array([left_open(flight.stall_margin, float(one)) for one in changed])


def stalled_hinges(craft: FoldedCraft, flight: LevelFlight, roll_rate: float = 0.0) -> Floats:
    """Half-widths of the air's moments about the hinges, in the order of the tips [N m].

    Parameters
    ----------
    roll_rate : of a steady roll, whose moments count too [rad/s]
    """
    motions = [flight.motion]
    if roll_rate:
        motions += [in_roll(flight, sense * roll_rate) for sense in (1.0, -1.0)]
    widths = np.zeros((len(motions), len(craft.hinge_tables)))
    for row, motion in zip(widths, motions, strict=True):
        change = craft.section_change(motion[None, :], flight.density)
        if change is not None:
            margin = float(change.margin[0])
            row[:] = [left_open(margin, float(change.hinges[b][0])) for b in craft.hinge_tables]
    return np.asarray(widths.max(axis=0))


def stalled_rates(craft: FoldedCraft, flight: LevelFlight) -> Floats:
    """Half-widths of the loads' rates with all motions, shape (6, motions)."""
    if not flight.stall_margin < 0.0:
        return np.zeros((6, craft.motions))
    return np.abs(craft.section_rates(flight.motion, flight.density))


def stalled_roll_rate(craft: FoldedCraft, flight: LevelFlight, rate: float) -> float:
    """Half-width of a steady roll rate, NaN where the lattice alone has none [rad/s].

    Parameters
    ----------
    rate : with the sections; strips may be past stall in level flight or in the roll [rad/s]
    """
    margins = [flight.stall_margin, craft.stall(in_roll(flight, rate), flight.density)[0]]
    if not min(margins) < 0.0:
        return 0.0
    alone = steady_roll_rate(replace(craft, strips=None), flight)
    return float("nan") if alone is None else left_open(min(margins), rate - alone)


def in_roll(flight: LevelFlight, roll_rate: float) -> Floats:
    """Motion z of a flight that also rolls steadily about its direction [m/s, rad/s].

    Parameters
    ----------
    roll_rate : to starboard [rad/s]
    """
    rolling = flight.motion.copy()
    rolling[3:6] += roll_rate * roll_axis(flight.alpha)
    return rolling
