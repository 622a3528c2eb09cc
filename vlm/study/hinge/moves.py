"""Folding the tips under load, its end at a stop, and the airspeeds at which it is possible."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import cache

import numpy as np

from vlm.air import standard_air
from vlm.description.actuator import Actuator
from vlm.description.models import Biplane
from vlm.errors import FoldspanError
from vlm.flight.craft.folded_craft import FoldedCraft
from vlm.flight.craft.folding_craft import FoldingCraft
from vlm.flight.craft.level import LevelFlight, level_flight
from vlm.flight.mechanism.drive_limits import (
    AirspeedLimit,
    SideFolding,
    fastest,
    fold_loads,
    folding_under,
    holding_margin,
    limit_loads,
    looked_at,
    moving_margin,
    servo_width,
    stalling_airspeeds,
)
from vlm.flight.mechanism.hinge_moments import (
    hinge_moments,
    steady_moment,
    tip_inertia,
    worst_hinge,
)
from vlm.flight.mechanism.servo import (
    greatest_moment,
    starting_torque,
    stopping_shock,
)
from vlm.flight.mechanism.worm import worm_torque
from vlm.flight.motion.roll_authority import TOO_SLOW, Air
from vlm.sides import Side, on_side
from vlm.study.hinge.errors import hinge_half_widths
from vlm.study.hinge.results import (
    TO_LIMIT,
    FoldingRow,
    HingePlan,
    Limits,
    LimitSpeed,
    MoveRow,
    Stop,
)
from vlm.study.point.validity import MACH_LIMIT

Margin = Callable[[float, float], float | None]
Error = Callable[[float, float], float]
"""Of an airspeed [m/s] and a fold [deg]."""


def moves(
    craft: Biplane,
    folding: FoldingCraft,
    rough: FoldingCraft,
    actuator: Actuator,
    plan: HingePlan,
) -> tuple[MoveRow, ...]:
    """Folding from the middle to both limits and between the file's symmetric configurations."""
    named = {
        name: one.folds.left_deg
        for name, one in craft.configurations.items()
        if one.folds.is_symmetric
    }
    ends = folding.range_deg
    rest = min(max(0.0, ends[0]), ends[1])
    pairs = [(f"{rest:g}{TO_LIMIT}", rest, end) for end in ends if end != rest]
    names = list(named)
    pairs += [
        (f"{a} to {b}", named[a], named[b])
        for a in names
        for b in names
        if a != b and named[a] != named[b]
    ]
    return tuple(_move((folding, rough), actuator, plan.air, *pair) for pair in pairs)


def _move(
    crafts: tuple[FoldingCraft, FoldingCraft], actuator: Actuator, air: Air,
    name: str, start: float, end: float,
) -> MoveRow:  # fmt: skip
    """Folding between two folds.

    Parameters
    ----------
    crafts : on the lattice, and on a coarser one
    """
    folding = crafts[0]
    row = MoveRow(name, start, end)
    try:
        loads = fold_loads(folding, actuator, air.airspeed, air.density, start, end)
    except FoldspanError as error:
        return replace(row, reason=str(error))
    if loads is None:
        return replace(row, reason=TOO_SLOW)
    done = folding_under(actuator, loads, start, end)
    ends, sense = np.radians([start, end]), float(np.sign(end - start))
    starts = [
        starting_torque(
            actuator, -sense * float(one.moment(ends[:1])[0]), one.inertia, actuator.friction[1]
        )
        for one in loads
    ]
    slowest = loads[done["greatest_friction"].slowest_place]
    return replace(
        row,
        servos=2 * len(loads),
        inertia_on_servo_kg_m2=slowest.inertia,
        damping_on_servo_N_m_s=tuple(float(v) for v in slowest.resistance(ends)),
        starting_torque_N_m=max((one for one in starts if one is not None), default=None),
        stop=_stop(crafts, actuator, air, end, done["least_friction"]),
        least_friction=_folding(done["least_friction"]),
        greatest_friction=_folding(done["greatest_friction"]),
    )


def _stop(
    crafts: tuple[FoldingCraft, FoldingCraft], actuator: Actuator, air: Air, fold: float,
    done: SideFolding,
) -> Stop | None:  # fmt: skip
    """Moment about the worst hinge when the worm stops the tip.

    None without a stiffness, and where a servo stalls on the way.
    """
    stiffness = actuator.hinge_stiffness_N_m_rad
    if stiffness is None or not np.isfinite(done.time):
        return None
    craft, rough = (one.symmetric(fold) for one in crafts)
    flight = level_flight(craft, air.airspeed, air.density)
    assert flight is not None
    widths = hinge_half_widths(craft, rough, crafts[0].engine.cellule, flight)
    lattice, linkage = craft.loads.lattice, craft.loads.lattice.fold_rates
    steady = {body: steady_moment(one) for body, one in hinge_moments(craft, flight, 0.0).items()}
    speeds = {
        body: linkage[body] * done.servos[min(place, len(done.servos) - 1)].end_speed
        for side in Side
        for place, body in enumerate(on_side(steady, side))
    }
    shocks = {
        body: stopping_shock(speeds[body], stiffness, tip_inertia(craft.masses.parts[body], line))
        for body, line in lattice.hinges.items()
    }
    known = {body: width if np.isfinite(width) else 0.0 for body, width in widths.items()}
    reaches = {body: abs(steady[body]) + shocks[body] + known[body] for body in steady}
    worst = worst_hinge(reaches)
    limit, reach = actuator.hinge_moment_limit_N_m, reaches[worst]
    peak, width = abs(steady[worst]) + shocks[worst], widths[worst]
    return Stop(
        hinge=worst,
        tip_speed_deg_s=float(np.degrees(speeds[worst])),
        steady_N_m=steady[worst],
        shock_N_m=shocks[worst],
        peak_N_m=peak,
        half_width_N_m=width,
        share_of_hinge_limit=None if limit is None else reach / limit,
    )


def _folding(done: SideFolding) -> FoldingRow:
    """Of both sides, which fold alike."""
    slowest = done.slowest
    stalls_at = slowest.stalls_at
    return FoldingRow(
        time_s=done.time,
        energy_all_servos_J=2.0 * done.energy,
        work_on_tips_J=2.0 * done.work,
        peak_torque_N_m=done.peak_torque,
        end_speed_deg_s=float(np.degrees(slowest.end_speed)),
        stalls_at_deg=None if stalls_at is None else float(np.degrees(stalls_at)),
    )


def limits(
    folding: FoldingCraft, rough: FoldingCraft, actuator: Actuator, plan: HingePlan
) -> Limits:
    """Highest airspeeds to move a tip, dry and greased, and to hold it.

    The errors of their margins are those that the half-widths of the moments make.
    """
    high = min(MACH_LIMIT * standard_air().speed_of_sound_m_s, 6.0 * plan.air.airspeed)
    low, density = plan.air.airspeed, plan.air.density

    rate = float(np.radians(actuator.design_roll_rate_deg_s))

    def widths(
        craft: FoldedCraft, fold: float, flight: LevelFlight, roll: float = 0.0
    ) -> dict[str, float]:
        cellule = folding.engine.cellule
        return hinge_half_widths(craft, rough.symmetric(fold), cellule, flight, roll)

    def moving(friction: float) -> Error:
        def error(airspeed: float, fold: float) -> float:
            craft = folding.symmetric(fold)
            flight = level_flight(craft, airspeed, density)
            assert flight is not None
            width = servo_width(craft, widths(craft, fold, flight), actuator.serves)
            torques = [worm_torque(actuator, sign * width, friction) for sign in (-1.0, 1.0)]
            return max(torques) / actuator.servo_stall_torque_N_m

        return error

    hold = holding_margin(folding, actuator, density)

    def holding(airspeed: float, fold: float) -> float:
        loads = limit_loads(folding.symmetric(fold), actuator, airspeed, density)
        off = [widths(one.craft, fold, one.flight, rate) for one in loads]
        most = max(one.share(actuator, width) for one, width in zip(loads, off, strict=True))
        return most - max(one.share(actuator) for one in loads)

    def limit(margin_at: Margin, error: Error, factor: float) -> LimitSpeed:
        margin, folds = cache(margin_at), plan.folds_deg
        between = stalling_airspeeds(folding, folds, low, high, density, factor)
        found = _limit(fastest(margin, folds, low, high, between), margin, error)
        end = high if found.airspeed_m_s is None else found.airspeed_m_s
        known = [speed for speed in looked_at(low, high, between) if speed <= end]
        # Errors take far longer than margins: between, those at the least margins count.
        tried = looked_at(low, high, _least(known, margin, folds))
        return replace(found, not_known_m_s=_not_known(found, margin, error, plan, tried))

    moved = {
        name: limit(
            moving_margin(folding, actuator, friction[1], density), moving(friction[1]), 1.0
        )
        for name, friction in (
            ("dry", actuator.friction_dry),
            ("greased", actuator.friction_greased),
        )
    }
    return Limits(
        moved=moved,
        held=limit(hold, holding, actuator.load_factor_limit),
        moment_at_stall_N_m={
            "dry": greatest_moment(actuator, actuator.friction_dry[1]),
            "greased": greatest_moment(actuator, actuator.friction_greased[1]),
        },
        hinge_moment_limit_N_m=actuator.hinge_moment_limit_N_m,
        folds_deg=plan.folds_deg,
    )


def _least(speeds: Sequence[float], margin: Margin, folds_deg: Sequence[float]) -> list[float]:
    """Airspeeds at which the margin of any fold is less than at those beside it."""
    found = []
    for fold in folds_deg:
        margins = [1.0 if (m := margin(at, fold)) is None else m for at in speeds]
        triples = zip(margins, margins[1:], margins[2:], strict=False)
        found += [speeds[i + 1] for i, (a, b, c) in enumerate(triples) if b < a and b <= c]
    return found


def _not_known(
    found: LimitSpeed, margin: Margin, error: Error, plan: HingePlan, tried: Sequence[float]
) -> tuple[float, float] | None:
    """Airspeeds up to the limit at which the moments' ± leave it open whether one fails."""
    end = found.searched_to_m_s if found.airspeed_m_s is None else found.airspeed_m_s
    low, unsure = plan.air.airspeed, []
    end = max(low, end - (found.half_width_m_s or 0.0))
    for at in [speed for speed in tried if speed <= end]:
        known = [(m, fold) for fold in plan.folds_deg if (m := margin(at, fold)) is not None]
        open_ones = [m for m, fold in known if not abs(m) >= error(at, fold)]
        sure_to_fail = any(m < 0.0 for m, _ in known if m not in open_ones)
        if open_ones and not sure_to_fail:
            unsure.append(at)
    return (unsure[0], unsure[-1]) if unsure else None


def _limit(found: AirspeedLimit, margin: Margin, error: Error) -> LimitSpeed:
    """An airspeed limit and its error: that of the margin over its slope with airspeed."""
    width = None
    if found.airspeed is not None and found.fold_deg is not None and not found.fails_already:
        speed, step = found.airspeed, 0.01 * found.airspeed
        ends = [margin(speed + sign * step, found.fold_deg) for sign in (-1.0, 1.0)]
        if ends[0] is not None and ends[1] is not None and ends[1] < ends[0]:
            off = error(speed, found.fold_deg) * 2.0 * step / (ends[0] - ends[1])
            width = off if np.isfinite(off) else None
    return LimitSpeed(
        airspeed_m_s=found.airspeed,
        half_width_m_s=width,
        searched_to_m_s=found.searched,
        fold_deg=found.fold_deg,
        fails_already=found.fails_already,
    )
