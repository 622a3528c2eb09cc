"""Folding the tips under load, its end at a stop, and the airspeeds at which it is possible."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from vlm.air import standard_air
from vlm.description.actuator import Actuator
from vlm.description.models import Biplane
from vlm.errors import FoldspanError
from vlm.flight.craft.folded_craft import FoldedCraft, FoldingCraft
from vlm.flight.craft.level import LevelFlight, highest_load_factor, level_flight
from vlm.flight.mechanism.drive_limits import (
    SPEEDS,
    AirspeedLimit,
    fastest,
    fold_loads,
    folding_under,
    holding_margin,
    moving_margin,
    servo_sum,
)
from vlm.flight.mechanism.hinge_moments import (
    hinge_moments,
    servo_loads,
    steady_moment,
    tip_inertia,
    worst_hinge,
    worst_moment,
)
from vlm.flight.mechanism.servo import (
    Folding,
    greatest_moment,
    starting_torque,
    stopping_shock,
)
from vlm.flight.motion.roll_authority import TOO_SLOW, Air
from vlm.study.hinge_errors import hinge_half_widths
from vlm.study.hinge_results import (
    FoldingRow,
    HingePlan,
    Limits,
    LimitSpeed,
    MoveRow,
    Stop,
)
from vlm.study.validity import MACH_LIMIT

Margin = Callable[[float, float], float | None]


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
    pairs = [(f"{rest:g} deg to the limit", rest, end) for end in ends if end != rest]
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
    servos = len(folding.craft.tips) * 2 if actuator.serves == "tip" else 2
    ends = np.radians([start, end])
    opposing = -float(np.sign(end - start)) * float(loads.moment(ends[:1])[0])
    return replace(
        row,
        servos=servos,
        inertia_on_servo_kg_m2=loads.inertia,
        damping_on_servo_N_m_s=tuple(float(v) for v in loads.resistance(ends)),
        starting_torque_N_m=starting_torque(
            actuator, opposing, loads.inertia, actuator.friction[1]
        ),
        stop=_stop(crafts, actuator, air, end, done["least_friction"].end_speed),
        least_friction=_folding(done["least_friction"], servos),
        greatest_friction=_folding(done["greatest_friction"], servos),
    )


def _stop(
    crafts: tuple[FoldingCraft, FoldingCraft], actuator: Actuator, air: Air, fold: float,
    speed: float,
) -> Stop | None:  # fmt: skip
    """Moment about the worst hinge when the worm stops the tip; None without a stiffness."""
    stiffness = actuator.hinge_stiffness_N_m_rad
    if stiffness is None or not np.isfinite(speed):
        return None
    craft, rough = (one.symmetric(fold) for one in crafts)
    flight = level_flight(craft, air.airspeed, air.density)
    assert flight is not None
    widths = hinge_half_widths(craft, rough, crafts[0].engine.cellule, flight)
    lattice, linkage = craft.loads.lattice, craft.loads.lattice.fold_rates
    steady = {body: steady_moment(one) for body, one in hinge_moments(craft, flight, 0.0).items()}
    shocks = {
        body: stopping_shock(
            linkage[body] * speed, stiffness, tip_inertia(craft.masses.parts[body], line)
        )
        for body, line in lattice.hinges.items()
    }
    worst = worst_hinge({body: abs(steady[body]) + shocks[body] for body in steady})
    limit = actuator.hinge_moment_limit_N_m
    peak, width = abs(steady[worst]) + shocks[worst], widths[worst]
    reach = peak + (width if np.isfinite(width) else 0.0)
    return Stop(
        hinge=worst,
        tip_speed_deg_s=float(np.degrees(linkage[worst] * speed)),
        steady_N_m=steady[worst],
        shock_N_m=shocks[worst],
        peak_N_m=peak,
        half_width_N_m=width,
        share_of_hinge_limit=None if limit is None else reach / limit,
    )


def _folding(done: Folding, servos: int) -> FoldingRow:
    return FoldingRow(
        time_s=done.time,
        energy_all_servos_J=done.energy * servos,
        work_on_tips_one_servo_J=done.work,
        peak_torque_N_m=done.peak_torque,
        end_speed_deg_s=float(np.degrees(done.end_speed)),
        stalls_at_deg=None if done.stalls_at is None else float(np.degrees(done.stalls_at)),
    )


def limits(
    folding: FoldingCraft, rough: FoldingCraft, actuator: Actuator, plan: HingePlan
) -> Limits:
    """Highest airspeeds to move a tip, dry and greased, and to hold it."""
    high = min(MACH_LIMIT * standard_air().speed_of_sound_m_s, 6.0 * plan.air.airspeed)
    low, density = plan.air.airspeed, plan.air.density

    rate = float(np.radians(actuator.design_roll_rate_deg_s))

    def widths(
        craft: FoldedCraft, fold: float, flight: LevelFlight, roll: float = 0.0
    ) -> dict[str, float]:
        cellule = folding.engine.cellule
        return hinge_half_widths(craft, rough.symmetric(fold), cellule, flight, roll)

    def moving(airspeed: float, fold: float) -> float:
        """Error of the moment to be moved over that moment."""
        craft = folding.symmetric(fold)
        flight = level_flight(craft, airspeed, density)
        assert flight is not None
        moment = max(abs(m) for m in servo_loads(craft, flight, actuator.serves).values())
        return servo_sum(craft, widths(craft, fold, flight), actuator.serves) / moment

    def holding(airspeed: float, fold: float) -> float:
        """Error of the largest moment about a hinge over that moment."""
        craft = folding.symmetric(fold)
        flight = highest_load_factor(craft, airspeed, density, actuator.load_factor_limit)
        assert flight is not None
        worst = {
            body: abs(worst_moment(one)) for body, one in hinge_moments(craft, flight, rate).items()
        }
        most = worst_hinge(worst)
        return widths(craft, fold, flight, rate)[most] / worst[most]

    def limit(margin: Margin, relative: Margin) -> LimitSpeed:
        found = _limit(fastest(margin, plan.folds_deg, low, high), margin, relative)
        return replace(found, not_known_m_s=_not_known(found, margin, relative, plan))

    moved = {
        name: limit(moving_margin(folding, actuator, friction[1], density), moving)
        for name, friction in (
            ("dry", actuator.friction_dry),
            ("greased", actuator.friction_greased),
        )
    }
    return Limits(
        moved=moved,
        held=limit(holding_margin(folding, actuator, density), holding),
        moment_at_stall_N_m={
            "dry": greatest_moment(actuator, actuator.friction_dry[1]),
            "greased": greatest_moment(actuator, actuator.friction_greased[1]),
        },
        hinge_moment_limit_N_m=actuator.hinge_moment_limit_N_m,
        folds_deg=plan.folds_deg,
    )


def _not_known(
    found: LimitSpeed, margin: Margin, relative: Margin, plan: HingePlan
) -> tuple[float, float] | None:
    """Airspeeds up to the limit at which the moment's ± leaves the sign of the margin open.

    At each the fold with the least margin counts.
    """
    end = found.searched_to_m_s if found.airspeed_m_s is None else found.airspeed_m_s
    low, unsure = plan.air.airspeed, []
    end = max(low, end - (found.half_width_m_s or 0.0))
    tried = np.linspace(low, found.searched_to_m_s, SPEEDS)
    for at in [float(speed) for speed in tried if speed <= end]:
        known = [(m, fold) for fold in plan.folds_deg if (m := margin(at, fold)) is not None]
        if known:
            least, fold = min(known)
            error = relative(at, fold)
            if error is None or not abs(least) >= error * (1.0 - least):
                unsure.append(at)
    return (unsure[0], unsure[-1]) if unsure else None


def _limit(found: AirspeedLimit, margin: Margin, relative: Margin) -> LimitSpeed:
    """An airspeed limit and its error.

    The margin is one less what is needed over what there is; at the limit the latter two are
    alike, and the margin errs by the relative error of the moment.
    """
    width = None
    if found.airspeed is not None and found.fold_deg is not None and not found.fails_already:
        speed, step = found.airspeed, 0.01 * found.airspeed
        ends = [margin(speed + sign * step, found.fold_deg) for sign in (-1.0, 1.0)]
        if ends[0] is not None and ends[1] is not None and ends[1] < ends[0]:
            error = relative(speed, found.fold_deg)
            width = None if error is None else error * 2.0 * step / (ends[0] - ends[1])
    return LimitSpeed(
        airspeed_m_s=found.airspeed,
        half_width_m_s=width,
        searched_to_m_s=found.searched,
        fold_deg=found.fold_deg,
        fails_already=found.fails_already,
    )
