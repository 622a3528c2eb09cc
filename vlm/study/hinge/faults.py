"""Jammed tips, backlash, and hinges that give way: what goes wrong with the mechanism."""

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import numpy as np

from vlm.air import standard_air
from vlm.description.actuator import Actuator
from vlm.description.folds import FoldAngles
from vlm.description.models import Biplane
from vlm.errors import FoldspanError
from vlm.flight.craft.folding_craft import FoldingCraft
from vlm.flight.craft.level import level_flight
from vlm.flight.craft.model_spread import moment_spread
from vlm.flight.craft.modelling import Modelling
from vlm.flight.craft.stalled import stalled_moments
from vlm.flight.craft.steady_roll import roll_axis, steady_roll_rate
from vlm.flight.mechanism.hinge_divergence import divergence, hinge_rates, side_stiffness
from vlm.flight.motion.roll_authority import TOO_SLOW, Air, setting_point
from vlm.flight.trim.condition import FlightCondition, FlightConditions, has_trim
from vlm.loads.fold_engine import FoldEngine
from vlm.study.hinge.results import (
    BEYOND,
    HELD,
    BacklashRow,
    DivergenceRow,
    HeldMoment,
    HingePlan,
    JammedRow,
)
from vlm.study.level_flights import flown
from vlm.study.point.errors import half_width
from vlm.study.point.validity import MACH_LIMIT
from vlm.verdicts import verdict


def jammed(
    craft: Biplane, folding: FoldingCraft, rough: FoldingCraft, plan: HingePlan
) -> tuple[JammedRow, ...]:
    """Port tips jammed at a fold while the starboard ones are flat: what must be held.

    Jams at the ends of the range.
    """
    low, high = folding.range_deg
    conditions = FlightConditions(craft, plan.air.density, plan.grid)
    full = None
    if has_trim(craft):
        full = conditions.at(FoldAngles(), plan.air.airspeed, Modelling.ROTORS)
    spans = {} if full is None else conditions.rotor_half_widths(full)
    ends = [fold for fold in (low, high) if fold != 0.0]
    return tuple(
        _jammed_row(folding, rough, plan, FoldAngles(end, 0.0), full, spans) for end in ends
    )


def _jammed_row(
    folding: FoldingCraft, rough: FoldingCraft, plan: HingePlan, folds: FoldAngles,
    full: FlightCondition | None, spans: Mapping[str, float],
) -> JammedRow:  # fmt: skip
    row = JammedRow(folds.left_deg, folds.right_deg)
    try:
        craft, other = folding.at(folds), rough.at(folds)
    except FoldspanError as error:
        return replace(row, reason=str(error))
    flight = level_flight(craft, plan.air.airspeed, plan.air.density)
    if flight is None:
        return replace(row, reason=TOO_SLOW)
    ahead = roll_axis(flight.alpha)
    axes = {"roll": ahead, "yaw": np.array([-ahead[2], 0.0, ahead[0]])}
    spread = moment_spread(craft, flight) + stalled_moments(craft, flight)
    coarse = other.wrench(flight.motion, plan.air.density)[3:]
    rate = steady_roll_rate(craft, flight)
    held, unknown = {}, _why_unknown(folding.craft)
    for name, axis in axes.items():
        moment = float(flight.wrench[3:] @ axis)
        width = half_width(moment, float(coarse @ axis), abs(moment), plan.grid)
        width += float(spread @ np.abs(axis))
        can = None
        if full is not None and full.rotors is not None:
            can = getattr(full.rotors, name).either_way
        open_ = spans.get(name)
        words = _held(moment, width + (open_ or 0.0), can) if can is not None else unknown
        held[name] = HeldMoment(moment, width, can, words, open_)
    return replace(
        row,
        alpha_deg=float(np.degrees(flight.alpha)),
        thrust_N=flight.thrust,
        stall_margin_deg=float(np.degrees(flight.stall_margin)),
        roll_rate_unheld_deg_s=None if rate is None else float(np.degrees(rate)),
        roll=held["roll"],
        yaw=held["yaw"],
    )


def _why_unknown(craft: Biplane) -> str:
    """Why it is not known what the rotors can hold."""
    if not craft.rotors:
        return "no rotors in the file"
    if not has_trim(craft):
        return "rotors not known without [propulsion]"
    return "rotors find no level flight there"


def _held(moment: float, half_width: float, most: float) -> str:
    """Whether rotors hold a moment, where its half-width leaves that sure."""
    return verdict(most - abs(moment), half_width, HELD, BEYOND, "at limit")


def backlash(folding: FoldingCraft, actuator: Actuator, fold: float, air: Air) -> BacklashRow:
    """Roll from free play: port tips at one end of it, starboard tips at the other."""
    low, high = folding.range_deg
    half = 0.5 * actuator.backlash_deg
    middle = min(max(fold, low + half), high - half)
    row = BacklashRow(fold)
    try:
        base = flown(folding, FoldAngles.symmetric(middle), air)
        points = [
            setting_point(folding, FoldAngles(middle + s * half, middle - s * half), air, base)
            for s in (1.0, -1.0)
        ]
    except FoldspanError as error:
        return replace(row, reason=str(error))
    known = [p for p in points if not isinstance(p, str)]
    if not known:
        return replace(row, reason="the folds within the play cannot be built")
    worst = max(known, key=lambda p: abs(p["rolling_moment_N_m"]))
    return replace(
        row,
        rolling_moment_N_m=abs(worst["rolling_moment_N_m"]),
        yawing_moment_N_m=float(np.sign(worst["rolling_moment_N_m"])) * worst["yawing_moment_N_m"],
        roll_rate_deg_s=abs(worst["roll_rate_deg_s"]),
        Cl=abs(worst["Cl"]),
    )


def divergences(
    craft: Biplane, folding: FoldingCraft, actuator: Actuator, plan: HingePlan
) -> tuple[DivergenceRow, ...]:
    """Airspeed at which the hinges give way, at every fold."""
    if actuator.hinge_stiffness_N_m_rad is None:
        return ()
    engine = FoldEngine(craft, plan.grid, sideslip=False)
    high = MACH_LIMIT * standard_air().speed_of_sound_m_s
    return tuple(
        _divergence_row(engine, folding, fold, plan.air, actuator.hinge_stiffness_N_m_rad, high)
        for fold in plan.folds_deg
    )


def _divergence_row(
    engine: FoldEngine, folding: FoldingCraft, fold: float, air: Air, stiffness: float, high: float
) -> DivergenceRow:
    row = DivergenceRow(fold)
    try:
        loads = engine.loads(FoldAngles.symmetric(fold))
        craft = folding.symmetric(fold)
    except FoldspanError as error:
        return replace(row, reason=str(error))

    def rates_at(airspeed: float) -> Any:
        flight = level_flight(craft, airspeed, air.density)
        alpha = 0.0 if flight is None else flight.alpha
        return hinge_rates(loads, alpha, airspeed, air.density)

    side = side_stiffness(loads, stiffness)
    found = divergence(rates_at, side, air.airspeed, high)
    if found is None:
        return replace(row, reason="a joined tip cannot turn by itself")
    here = rates_at(air.airspeed)
    return replace(
        row,
        airspeed_m_s=found.airspeed,
        searched_to_m_s=found.searched,
        tips_move="alike" if found.symmetric else "apart",
        air_stiffness_N_m_rad=-float(np.max(np.linalg.eigvals(here).real)),
        hinge_stiffness_N_m_rad=side,
    )
