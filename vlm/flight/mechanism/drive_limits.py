"""What the drive of the tips can do: torque needed, fastest airspeed to move and to hold a tip."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq

from vlm.constants import Floats
from vlm.description.actuator import Actuator
from vlm.flight.craft.folded_craft import FoldedCraft, FoldingCraft
from vlm.flight.craft.level import highest_load_factor, level_flight
from vlm.flight.mechanism.hinge_moments import (
    hinge_moments,
    servo_damping,
    servo_inertia,
    servo_loads,
    worst_moment,
)
from vlm.flight.mechanism.servo import Folding, folding
from vlm.flight.mechanism.worm import holding_torque, worm_torque
from vlm.sides import Side, on_side

SPEEDS = 13
LOAD_SAMPLES = 13


@dataclass(frozen=True)
class ServoDemand:
    """Torque of one servo at one setting [N m].

    Attributes
    ----------
    moment : on its tips, positive raising them [N m]
    raising, lowering : to move the tips up and down, with the greatest friction
    holding : at rest with the least friction, zero where the gear locks
    """

    moment: float
    raising: float
    lowering: float
    holding: float


def servo_demand(actuator: Actuator, moment: float, friction: tuple[float, float]) -> ServoDemand:
    """Torque to raise, lower and hold tips against a moment on the servo."""
    return ServoDemand(
        moment=moment,
        raising=worm_torque(actuator, -moment, friction[1]),
        lowering=worm_torque(actuator, moment, friction[1]),
        holding=holding_torque(actuator, moment, friction[0]),
    )


@dataclass(frozen=True)
class AirspeedLimit:
    """An airspeed beyond which something fails.

    Attributes
    ----------
    airspeed : [m/s]; None where nothing failed up to ``searched``
    searched : highest airspeed looked at [m/s]
    fold_deg : the fold that fails first [deg]
    fails_already : whether it fails at the lowest airspeed looked at
    """

    airspeed: float | None
    searched: float
    fold_deg: float | None
    fails_already: bool = False


def fastest(
    margin_at: Callable[[float, float], float | None],
    folds_deg: Sequence[float],
    low: float,
    high: float,
) -> AirspeedLimit:
    """First airspeed at which a margin falls below zero at any fold.

    Parameters
    ----------
    margin_at : margin of an airspeed [m/s] and a fold [deg], None where there is none
    """

    def worst(speed: float) -> tuple[float, float]:
        known = [(m, fold) for fold in folds_deg if (m := margin_at(speed, fold)) is not None]
        return min(known) if known else (float("inf"), 0.0)

    before = low
    for speed in np.linspace(low, high, SPEEDS):
        margin, fold = worst(float(speed))
        if margin >= 0.0:
            before = float(speed)
            continue
        if speed == low:
            return AirspeedLimit(low, high, fold, fails_already=True)

        def failing(at: float, fold: float = fold) -> float:
            margin = margin_at(at, fold)
            return 1.0 if margin is None else margin

        if failing(before) < 0.0:
            return AirspeedLimit(before, high, fold)
        return AirspeedLimit(float(brentq(failing, before, float(speed), xtol=1e-2)), high, fold)
    return AirspeedLimit(None, high, None)


def moving_margin(
    craft: FoldingCraft, actuator: Actuator, friction: float, density: float
) -> Callable[[float, float], float | None]:
    """Stall torque less the torque needed to move either way in level flight, over the stall's."""

    def margin(airspeed: float, fold: float) -> float | None:
        folded = craft.symmetric(fold)
        flight = level_flight(folded, airspeed, density)
        if flight is None:
            return None
        moment = max(servo_loads(folded, flight, actuator.serves).values(), key=abs)
        needed = max(worm_torque(actuator, sign * moment, friction) for sign in (-1.0, 1.0))
        return 1.0 - needed / actuator.servo_stall_torque_N_m

    return margin


def holding_margin(
    craft: FoldingCraft, actuator: Actuator, density: float
) -> Callable[[float, float], float | None]:
    """Share left in the worst rolling pull-up at limit load: of the hinge's moment limit, and of
    the servo's stall torque where the gear with its least friction does not lock.

    Where the wings stall before the limit load factor, the highest one they reach counts.
    """
    limit = actuator.hinge_moment_limit_N_m
    roll_rate = float(np.radians(actuator.design_roll_rate_deg_s))
    stall = actuator.servo_stall_torque_N_m

    def margin(airspeed: float, fold: float) -> float | None:
        folded = craft.symmetric(fold)
        flight = highest_load_factor(folded, airspeed, density, actuator.load_factor_limit)
        if flight is None:
            return None
        parts = hinge_moments(folded, flight, roll_rate)
        worst = {body: worst_moment(one) for body, one in parts.items()}
        on_servo = servo_sum(folded, worst, actuator.serves)
        held = holding_torque(actuator, on_servo, actuator.friction[0]) / stall
        largest = max(abs(value) for value in worst.values())
        return 1.0 - max(held, 0.0 if limit is None else largest / limit)

    return margin


def servo_sum(craft: FoldedCraft, moments: Mapping[str, float], serves: str) -> float:
    """Largest moment on one servo, the tips of a side together where it serves them [N m]."""
    if serves == "tip":
        return max(abs(value) for value in moments.values())
    linkage = craft.loads.lattice.fold_rates
    sides = {side: sum(linkage[b] * moments[b] for b in on_side(moments, side)) for side in Side}
    return max(abs(value) for value in sides.values())


@dataclass(frozen=True)
class FoldLoads:
    """What tips meet on one servo against a symmetric fold in level flight.

    Attributes
    ----------
    folds : ascending, shape (n,) [rad]
    moments : positive raising the tips, shape (n,) [N m]
    damping : against their speed, not negative, shape (n,) [N m s/rad]
    inertia : of the tips on the servo [kg m^2]
    """

    folds: Floats
    moments: Floats
    damping: Floats
    inertia: float

    def moment(self, folds: Floats) -> Floats:
        """Moment at folds, linear in between [N m]."""
        return np.interp(folds, self.folds, self.moments)

    def resistance(self, folds: Floats) -> Floats:
        """Damping at folds, linear in between [N m s/rad]."""
        return np.interp(folds, self.folds, self.damping)


def fold_loads(
    craft: FoldingCraft, actuator: Actuator, airspeed: float, density: float,
    start_deg: float, end_deg: float,
) -> FoldLoads | None:  # fmt: skip
    """Loads between two symmetric folds in level flight, or None where none is flown."""
    folds = np.linspace(start_deg, end_deg, LOAD_SAMPLES)
    moments, damping, inertia = [], [], 0.0
    for fold in folds:
        folded = craft.symmetric(float(fold))
        flight = level_flight(folded, airspeed, density)
        if flight is None:
            return None
        moments.append(max(servo_loads(folded, flight, actuator.serves).values(), key=abs))
        damping.append(servo_damping(folded, flight, actuator.serves)[Side.STARBOARD])
        inertia = servo_inertia(folded, actuator.serves)
    order = np.argsort(folds)
    return FoldLoads(
        np.radians(folds[order]), np.array(moments)[order], np.array(damping)[order], inertia
    )


def folding_between(
    craft: FoldingCraft, actuator: Actuator, airspeed: float, density: float,
    start_deg: float, end_deg: float,
) -> dict[str, Folding] | None:  # fmt: skip
    """Time and energy of one servo between two symmetric folds, least and greatest friction."""
    loads = fold_loads(craft, actuator, airspeed, density, start_deg, end_deg)
    return None if loads is None else folding_under(actuator, loads, start_deg, end_deg)


def folding_under(
    actuator: Actuator, loads: FoldLoads, start_deg: float, end_deg: float
) -> dict[str, Folding]:
    """Time and energy of one servo under given loads, least and greatest friction."""
    ends = float(np.radians(start_deg)), float(np.radians(end_deg))
    low, high = actuator.friction
    return {
        "least_friction": folding(actuator, *ends, loads.moment, low, loads.resistance),
        "greatest_friction": folding(actuator, *ends, loads.moment, high, loads.resistance),
    }
