"""Pull-ups on the way from level flight to a load factor: a craft passes through all of them.

Short of stall a moment grows evenly with the load factor and is largest at one end of the way. Past
the first stalls outboard strips lose lift while the craft still gains some: the largest moment need
not be that of the highest load factor. The load factor at an angle of attack is that of

    n = -Z(alpha, q) / (m g cos alpha),   q = (n - 1) g / U                               (1)

(equation (1) of :mod:`vlm.flight.craft.level`), found by repetition.
"""

from dataclasses import replace

import numpy as np

from vlm.constants import GRAVITY, Floats
from vlm.flight.craft.folded_craft import FoldedCraft
from vlm.flight.craft.level import Balance, LevelFlight, highest_load_factor, level_flight
from vlm.flight.craft.stalled import in_roll

STEP_RAD = float(np.radians(1.0))
SMALL = 1e-9
"""Change of a load factor that is rounding [1]."""


def pull_ups(
    craft: FoldedCraft, airspeed: float, density: float, limit: float, roll_rate: float = 0.0
) -> list[LevelFlight]:
    """Level flight, pull-ups with strips past their stall, and the highest load factor to a limit.

    Parameters
    ----------
    limit : load factor wanted, at least 1 [1]
    roll_rate : of a steady roll in which strips may be past stall too [rad/s]

    Returns
    -------
    Empty where the wings do not carry the craft; one flight where the limit is 1
    """
    highest = highest_load_factor(craft, airspeed, density, limit)
    if highest is None:
        return []
    level = level_flight(craft, airspeed, density)
    if level is None or not highest.load_factor > level.load_factor:
        return [highest]
    return [level, *_past_stall(craft, level, highest, roll_rate), highest]


def _past_stall(
    craft: FoldedCraft, level: LevelFlight, highest: LevelFlight, roll_rate: float
) -> list[LevelFlight]:
    """Pull-ups between two flights at which strips are past stall, a degree or less apart."""
    steps = int(np.ceil(abs(highest.alpha - level.alpha) / STEP_RAD))
    alphas = np.linspace(level.alpha, highest.alpha, steps + 1)[1:-1]
    if not len(alphas) or not _is_stalled(craft, highest, roll_rate):
        return []
    balance = Balance(craft, level.airspeed, level.density, level.load_factor)
    factors = _load_factors(balance, alphas)
    between = (factors > level.load_factor) & (factors < highest.load_factor)
    found = [
        replace(balance, load_factor=float(factor)).flight(float(alpha))
        for alpha, factor in zip(alphas[between], factors[between], strict=True)
    ]
    return [flight for flight in found if _is_stalled(craft, flight, roll_rate)]


def _is_stalled(craft: FoldedCraft, flight: LevelFlight, roll_rate: float) -> bool:
    """Whether a strip is past its stall, in the flight or rolling either way."""
    rolling = [in_roll(flight, sense * roll_rate) for sense in (-1.0, 1.0)] if roll_rate else []
    return flight.stall_margin < 0.0 or any(
        craft.stall(motion, flight.density)[0] < 0.0 for motion in rolling
    )


def _load_factors(balance: Balance, alphas: Floats) -> Floats:
    """Equation (1) at angles of attack, shape (n,) [1]."""
    craft, density = balance.craft, balance.density
    weight = craft.masses.mass * GRAVITY * np.cos(alphas)

    def repeated(factors: Floats) -> Floats:
        pairs = zip(alphas, factors, strict=True)
        motions = np.array([replace(balance, load_factor=n).motion(alpha) for alpha, n in pairs])
        return np.asarray(-craft.wrenches(motions, density)[:, 2] / weight)

    start = np.full(len(alphas), balance.load_factor)
    first = repeated(start)
    second = repeated(first)
    # Nearly linear in n, so that its fixed point follows from two repetitions (Aitken).
    bent = second - 2.0 * first + start
    small = np.abs(bent) < SMALL
    return repeated(second - (second - first) ** 2 / np.where(small, np.inf, bent))
