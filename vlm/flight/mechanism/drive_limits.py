"""What the drive of the tips can do: torque needed, fastest airspeed to move and to hold a tip."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq

from vlm.constants import Floats
from vlm.description.actuator import Actuator
from vlm.flight.craft.folded_craft import FoldedCraft, once
from vlm.flight.craft.folding_craft import FoldingCraft
from vlm.flight.craft.level import LevelFlight, level_flight
from vlm.flight.craft.pull_ups import pull_ups
from vlm.flight.mechanism.hinge_moments import (
    by_servo,
    hinge_moments,
    rolled_moments,
    servo_dampings,
    servo_inertias,
    servo_loads,
)
from vlm.flight.mechanism.servo import Folding, fold_speeds, folding
from vlm.flight.mechanism.worm import holding_torque, worm_torque
from vlm.sides import Side

SPEEDS = 13
LOAD_SAMPLES = 13
STALLING_STEP = 0.04
"""Share by which airspeeds stand apart at which wings stall below a load factor, at most [1]."""


@dataclass(frozen=True)
class ServoDemand:
    """Torque that the servos need at one setting, each the most of any [N m].

    Attributes
    ----------
    moment : largest on the tips of one, positive raising them [N m]
    raising, lowering : to move the tips up and down, with the highest friction
    holding : at rest with the least friction, zero where the gear locks
    """

    moment: float
    raising: float
    lowering: float
    holding: float


def servo_demand(
    actuator: Actuator, moments: Sequence[float], friction: tuple[float, float]
) -> ServoDemand:
    """Torque to raise, lower and hold tips against the moments on the servos."""
    return ServoDemand(
        moment=max(moments, key=abs),
        raising=max(worm_torque(actuator, -moment, friction[1]) for moment in moments),
        lowering=max(worm_torque(actuator, moment, friction[1]) for moment in moments),
        holding=max(holding_torque(actuator, moment, friction[0]) for moment in moments),
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
    between: Sequence[float] = (),
) -> AirspeedLimit:
    """First airspeed at which a margin falls below zero at any fold.

    Parameters
    ----------
    margin_at : margin of an airspeed [m/s] and a fold [deg], None where there is none
    between : airspeeds to look at besides those evenly spaced [m/s]
    """

    def margin(at: float, fold: float) -> float:
        found = margin_at(at, fold)
        return 1.0 if found is None else found

    before = low
    for speed in looked_at(low, high, between):
        failing = {fold: m for fold in folds_deg if (m := margin(speed, fold)) < 0.0}
        if failing and speed == low:
            worst = min(failing, key=lambda fold: failing[fold])
            return AirspeedLimit(low, high, worst, fails_already=True)
        if failing:
            # The one that fails worst here need not be the first on the way.
            ends = before, speed
            at = {fold: float(brentq(margin, *ends, args=(fold,), xtol=1e-2)) for fold in failing}
            first = min(at, key=lambda fold: at[fold])
            return AirspeedLimit(at[first], high, first)
        before = speed
    return AirspeedLimit(None, high, None)


def looked_at(low: float, high: float, between: Sequence[float] = ()) -> list[float]:
    """Airspeeds at which a margin is looked at, ascending [m/s]."""
    return [float(speed) for speed in np.unique([*np.linspace(low, high, SPEEDS), *between])]


def stalling_airspeeds(
    craft: FoldingCraft, folds_deg: Sequence[float], low: float, high: float, density: float,
    load_factor: float,
) -> list[float]:  # fmt: skip
    """Airspeeds a few percent apart up to one at which every fold reaches a load factor [m/s].

    Moments grow there with the load factor that the wings reach and may fall beyond it, so that
    the largest may lie between airspeeds farther apart.
    """

    def is_reached(speed: float) -> bool:
        crafts = (craft.symmetric(fold) for fold in folds_deg)
        return all(level_flight(one, speed, density, load_factor) is not None for one in crafts)

    end = next((speed for speed in looked_at(low, high) if is_reached(speed)), high)
    steps = int(np.ceil(np.log(end / low) / np.log(1.0 + STALLING_STEP)))
    return [float(speed) for speed in np.geomspace(low, end, steps + 1)[1:-1]] if steps else []


def moving_margin(
    craft: FoldingCraft, actuator: Actuator, friction: float, density: float
) -> Callable[[float, float], float | None]:
    """Stall torque less the torque needed to move either way in level flight, over the stall's."""

    def margin(airspeed: float, fold: float) -> float | None:
        folded = craft.symmetric(fold)
        flight = level_flight(folded, airspeed, density)
        if flight is None:
            return None
        loads = servo_loads(folded, flight, actuator.serves)
        moments = [sign * one for each in loads.values() for one in each for sign in (-1.0, 1.0)]
        needed = max(worm_torque(actuator, moment, friction) for moment in moments)
        return 1.0 - needed / actuator.servo_stall_torque_N_m

    return margin


def holding_margin(
    craft: FoldingCraft, actuator: Actuator, density: float
) -> Callable[[float, float], float | None]:
    """Share left in the worst rolling pull-up at limit load: of the hinge's moment limit, and of
    the servo's stall torque where the gear with its least friction does not lock.

    Of all load factors from level flight to the limit, or to the highest that the wings reach.
    """

    def margin(airspeed: float, fold: float) -> float | None:
        loads = limit_loads(craft.symmetric(fold), actuator, airspeed, density)
        return min((1.0 - one.share(actuator) for one in loads), default=None)

    return margin


@dataclass(frozen=True)
class LimitLoad:
    """Moments about the hinges in a rolling pull-up: those of :func:`rolled_moments`, by hinge."""

    craft: FoldedCraft
    flight: LevelFlight
    rolled: Mapping[str, Floats]

    def share(self, actuator: Actuator, widths: Mapping[str, float] | None = None) -> float:
        """:func:`drive_share` of the moments, enlarged by half-widths by hinge [N m]."""
        off = dict.fromkeys(self.rolled, 0.0) if widths is None else widths
        most = {body: float(np.abs(one).max()) + off[body] for body, one in self.rolled.items()}
        on_servo = servo_most(self.craft, self.rolled, actuator.serves)
        return drive_share(actuator, most, on_servo + servo_width(self.craft, off, actuator.serves))


def limit_loads(
    craft: FoldedCraft, actuator: Actuator, airspeed: float, density: float
) -> list[LimitLoad]:
    """Rolling at the design rate in level flight and the pull-ups up to the file's load factor."""
    roll_rate = float(np.radians(actuator.design_roll_rate_deg_s))
    limit = actuator.load_factor_limit

    def work_out() -> list[LimitLoad]:
        way = pull_ups(craft, airspeed, density, limit, roll_rate)
        each = [(flight, hinge_moments(craft, flight, roll_rate)) for flight in way]
        return [
            LimitLoad(craft, flight, {body: rolled_moments(one) for body, one in parts.items()})
            for flight, parts in each
        ]

    asked = ("limit loads", airspeed, density, limit, roll_rate)
    return once(craft.kept, asked, work_out)


def drive_share(actuator: Actuator, worst: Mapping[str, float], on_servo: float) -> float:
    """The larger share that moments take: of the hinge's limit, or at rest of the servo's stall.

    Parameters
    ----------
    worst : size of the largest moment about each hinge [N m]
    on_servo : of the largest on one servo [N m]
    """
    held = holding_torque(actuator, on_servo, actuator.friction[0])
    limit = actuator.hinge_moment_limit_N_m
    shares = [held / actuator.servo_stall_torque_N_m]
    if limit is not None:
        shares += [moment / limit for moment in worst.values()]
    return float(np.max(shares))


def servo_most(craft: FoldedCraft, moments: Mapping[str, Floats], serves: str) -> float:
    """Largest moment on one servo [N m].

    Parameters
    ----------
    moments : by hinge, one or several of the same instants, shape (instants,) [N m]

    Tips on one servo are summed instant by instant: the largest of each need not come together.
    """
    linkage = craft.loads.lattice.fold_rates
    own = {body: linkage[body] * np.asarray(moment) for body, moment in moments.items()}
    return float(max(np.abs(m).max() for each in by_servo(own, serves).values() for m in each))


def slowest_fold_speed(actuator: Actuator, moments: Mapping[str, Floats]) -> Floats:
    """Speed of a fold against the largest moment on any servo, either way, most friction [rad/s].

    Parameters
    ----------
    moments : by hinge, about the commanded fold, arrays of one shape [N m]
    """
    servos = by_servo(moments, actuator.serves).values()
    most = np.max([np.abs(m) for each in servos for m in each], axis=0)
    return fold_speeds(actuator, most, max(actuator.friction))


def servo_width(craft: FoldedCraft, widths: Mapping[str, float], serves: str) -> float:
    """Largest half-width of a moment on one servo, those of its tips summed [N m]."""
    linkage = craft.loads.lattice.fold_rates
    own = {body: np.asarray(abs(linkage[body]) * width) for body, width in widths.items()}
    return float(max(m for each in by_servo(own, serves).values() for m in each))


@dataclass(frozen=True)
class SideFolding:
    """Folding the tips of one side, each servo at its own speed."""

    servos: tuple[Folding, ...]

    @property
    def slowest_place(self) -> int:
        """Which servo arrives last, or stalls."""
        found = [(one.time, one.peak_torque) for one in self.servos]
        return found.index(max(found))

    @property
    def slowest(self) -> Folding:
        """The servo that arrives last, or stalls."""
        return self.servos[self.slowest_place]

    @property
    def time(self) -> float:
        """Until the last servo arrives, infinite if one stalls [s]."""
        return self.slowest.time

    @property
    def peak_torque(self) -> float:
        """[N m]"""
        return max(one.peak_torque for one in self.servos)

    @property
    def energy(self) -> float:
        """Of all servos of the side; infinite if one stalls [J]."""
        return sum(one.energy for one in self.servos)

    @property
    def work(self) -> float:
        """On all tips of the side [J]."""
        return sum(one.work for one in self.servos)


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
) -> tuple[FoldLoads, ...] | None:  # fmt: skip
    """Loads on each servo of a side between two symmetric folds in level flight.

    None where the craft does not fly level at one of them.
    """
    folds = np.sort(np.linspace(start_deg, end_deg, LOAD_SAMPLES))
    moments, damping, inertias = [], [], [0.0]
    for fold in folds:
        folded = craft.symmetric(float(fold))
        flight = level_flight(folded, airspeed, density)
        if flight is None:
            return None
        moments.append(servo_loads(folded, flight, actuator.serves)[Side.STARBOARD])
        damping.append(servo_dampings(folded, flight, actuator.serves)[Side.STARBOARD])
        inertias = servo_inertias(folded, actuator.serves)
    return tuple(
        FoldLoads(np.radians(folds), np.array(moment), np.array(resistance), inertia)
        for moment, resistance, inertia in zip(
            zip(*moments, strict=True), zip(*damping, strict=True), inertias, strict=True
        )
    )


def folding_between(
    craft: FoldingCraft, actuator: Actuator, airspeed: float, density: float,
    start_deg: float, end_deg: float,
) -> dict[str, SideFolding] | None:  # fmt: skip
    """Folding a side between two symmetric folds, least and highest friction."""
    loads = fold_loads(craft, actuator, airspeed, density, start_deg, end_deg)
    return None if loads is None else folding_under(actuator, loads, start_deg, end_deg)


def folding_under(
    actuator: Actuator, loads: Sequence[FoldLoads], start_deg: float, end_deg: float
) -> dict[str, SideFolding]:
    """Folding a side under given loads on its servos, least and highest friction."""
    ends = float(np.radians(start_deg)), float(np.radians(end_deg))

    def folded(friction: float) -> SideFolding:
        return SideFolding(
            tuple(folding(actuator, *ends, one.moment, friction, one.resistance) for one in loads)
        )

    low, high = actuator.friction
    return {"least_friction": folded(low), "greatest_friction": folded(high)}
