"""Moments about the hinges at one fold, airspeed and load factor, and what they ask of a servo."""

from dataclasses import dataclass, replace

import numpy as np

from vlm.description.actuator import Actuator
from vlm.description.folds import FoldAngles
from vlm.errors import FoldspanError
from vlm.flight.craft.folded_craft import FoldedCraft
from vlm.flight.craft.folding_craft import FoldingCraft
from vlm.flight.craft.level import LevelFlight, highest_load_factor
from vlm.flight.mechanism.drive_limits import servo_demand
from vlm.flight.mechanism.hinge_moments import (
    gust_swing,
    hinge_moments,
    servo_loads,
    steady_moment,
    worst_hinge,
    worst_moment,
)
from vlm.flight.motion.roll_authority import TOO_SLOW
from vlm.study.hinge.errors import hinge_half_widths
from vlm.study.hinge.results import HingeParts, MomentRow, ServoTorques
from vlm.study.hinge.slipstream import HingeSlipstream


@dataclass(frozen=True)
class Loading:
    """A flight whose moments are asked for.

    Attributes
    ----------
    met : the same flight by the angle of attack and the speed of the air that it meets
    before : the flight out of which it comes at once, so that tips swing beyond their moments; the
        swing errs as they do. None where the loads build up slowly
    """

    flight: LevelFlight
    met: LevelFlight
    before: LevelFlight | None = None


def moment_row(
    rough: FoldingCraft,
    blowing: HingeSlipstream,
    actuator: Actuator,
    fold: float,
    airspeed: float,
    factor: float,
    density: float,
) -> MomentRow:
    """Moment about each hinge by part, and what the servo needs for it."""
    row = MomentRow(fold, airspeed, factor)
    folds = FoldAngles.symmetric(fold)
    try:
        craft = blowing.over(folds, airspeed).at(folds)
    except FoldspanError as error:
        return replace(row, reason=str(error))
    flight = highest_load_factor(craft, airspeed, density, factor)
    if flight is None:
        return replace(row, reason=TOO_SLOW)
    return loaded_row(
        row, craft, rough.symmetric(fold), blowing, folds, actuator, Loading(flight, flight)
    )


def loaded_row(
    row: MomentRow,
    craft: FoldedCraft,
    rough: FoldedCraft,
    blowing: HingeSlipstream,
    folds: FoldAngles,
    actuator: Actuator,
    loading: Loading,
) -> MomentRow:
    """A row with the moments of a flight and what the servo needs for them.

    Parameters
    ----------
    craft, rough : at the fold, on the lattice and on a coarser one without sections
    """
    flight, before = loading.flight, loading.before
    rate = float(np.radians(actuator.design_roll_rate_deg_s))
    parts = hinge_moments(craft, flight, rate)
    widths = hinge_half_widths(craft, rough, blowing.folding.engine.cellule, loading.met, rate)
    widths = blowing.widened(widths, craft, folds, flight)
    swings = dict.fromkeys(parts, 0.0)
    if before is not None:
        level = hinge_moments(craft, before, 0.0)
        swings = {body: gust_swing(one, level[body]) for body, one in parts.items()}
        widths = {body: 2.0 * width for body, width in widths.items()}
    reached = {body: worst_moment(one, swings[body]) for body, one in parts.items()}
    loads = servo_loads(craft, flight, actuator.serves)
    demand = servo_demand(actuator, [m for each in loads.values() for m in each], actuator.friction)
    limit = actuator.hinge_moment_limit_N_m
    worst = {body: abs(moment) + widths[body] for body, moment in reached.items()}
    known = np.all(np.isfinite(list(worst.values())))
    most = worst_hinge(worst if known else {b: abs(moment) for b, moment in reached.items()})
    return replace(
        row,
        reached_load_factor=flight.load_factor,
        stall_margin_deg=float(np.degrees(flight.stall_margin)),
        most_loaded_hinge=most,
        alpha_deg=float(np.degrees(loading.met.alpha)),
        hinges={
            body: HingeParts(
                **{f"{name}_N_m": value for name, value in one.items()},
                steady_N_m=steady_moment(one),
                swing_N_m=swings[body],
                worst_N_m=reached[body],
                half_width_N_m=widths[body],
            )
            for body, one in parts.items()
        },
        servo=ServoTorques(demand.moment, demand.raising, demand.lowering, demand.holding),
        share_of_stall=max(demand.raising, demand.lowering) / actuator.servo_stall_torque_N_m,
        share_of_hinge_limit=None if limit is None else worst[most] / limit,
    )
