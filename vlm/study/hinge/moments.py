"""Moments about the hinges at one fold, airspeed and load factor, and what they ask of a servo."""

from dataclasses import replace

import numpy as np

from vlm.description.actuator import Actuator
from vlm.description.folds import FoldAngles
from vlm.errors import FoldspanError
from vlm.flight.craft.folded_craft import FoldedCraft
from vlm.flight.craft.folding_craft import FoldingCraft
from vlm.flight.craft.level import LevelFlight, highest_load_factor
from vlm.flight.mechanism.drive_limits import servo_demand
from vlm.flight.mechanism.hinge_moments import (
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
    return loaded_row(row, craft, rough.symmetric(fold), blowing, folds, actuator, flight, flight)


def loaded_row(
    row: MomentRow,
    craft: FoldedCraft,
    rough: FoldedCraft,
    blowing: HingeSlipstream,
    folds: FoldAngles,
    actuator: Actuator,
    flight: LevelFlight,
    met: LevelFlight,
) -> MomentRow:
    """A row with the moments of a flight and what the servo needs for them.

    Parameters
    ----------
    craft, rough : at the fold, on the lattice and on a coarser one without sections
    met : the same flight by the angle of attack and the speed of the air that it meets
    """
    rate = float(np.radians(actuator.design_roll_rate_deg_s))
    parts = hinge_moments(craft, flight, rate)
    widths = hinge_half_widths(craft, rough, blowing.folding.engine.cellule, met, rate)
    widths = blowing.widened(widths, craft, folds, flight)
    loads = servo_loads(craft, flight, actuator.serves)
    demand = servo_demand(actuator, [m for each in loads.values() for m in each], actuator.friction)
    limit = actuator.hinge_moment_limit_N_m
    worst = {body: abs(worst_moment(one)) + widths[body] for body, one in parts.items()}
    known = np.all(np.isfinite(list(worst.values())))
    most = worst_hinge(worst if known else {b: abs(worst_moment(parts[b])) for b in parts})
    return replace(
        row,
        reached_load_factor=flight.load_factor,
        stall_margin_deg=float(np.degrees(flight.stall_margin)),
        most_loaded_hinge=most,
        alpha_deg=float(np.degrees(met.alpha)),
        hinges={
            body: HingeParts(
                **{f"{name}_N_m": value for name, value in one.items()},
                steady_N_m=steady_moment(one),
                worst_N_m=worst_moment(one),
                half_width_N_m=widths[body],
            )
            for body, one in parts.items()
        },
        servo=ServoTorques(demand.moment, demand.raising, demand.lowering, demand.holding),
        share_of_stall=max(demand.raising, demand.lowering) / actuator.servo_stall_torque_N_m,
        share_of_hinge_limit=None if limit is None else worst[most] / limit,
    )
