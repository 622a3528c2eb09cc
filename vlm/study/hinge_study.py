"""Hinge, worm gear, servo and wing loads: the answer of ``foldspan hinge``."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from vlm.air import standard_air
from vlm.description.actuator import Actuator
from vlm.description.folds import FoldAngles
from vlm.description.models import Biplane
from vlm.errors import FoldspanError, InputRefused
from vlm.findings import Finding, gathered
from vlm.flight.craft.folded_craft import FoldedCraft, FoldingCraft
from vlm.flight.craft.level import LevelFlight, highest_load_factor, level_flight
from vlm.flight.craft.model_spread import moment_spread
from vlm.flight.craft.modelling import Modelling
from vlm.flight.craft.steady_roll import roll_axis, steady_roll_rate
from vlm.flight.mechanism.drive_limits import (
    AirspeedLimit,
    fastest,
    fold_loads,
    folding_under,
    holding_margin,
    moving_margin,
    servo_demand,
    servo_sum,
)
from vlm.flight.mechanism.hinge_divergence import divergence, hinge_rates, side_stiffness
from vlm.flight.mechanism.hinge_moments import (
    hinge_moments,
    hover_weight_moment,
    servo_loads,
    steady_moment,
    tip_inertia,
    worst_moment,
)
from vlm.flight.mechanism.servo import (
    Folding,
    greatest_moment,
    starting_torque,
    stopping_shock,
)
from vlm.flight.mechanism.wing_bending import HalfWingLoads, wing_bending
from vlm.flight.mechanism.worm import WormState, efficiency_curves, worm_states
from vlm.flight.motion.roll_authority import TOO_SLOW, Air, setting_point
from vlm.flight.trim.condition import FlightCondition, FlightConditions, has_trim
from vlm.lattice.cellule import Grid
from vlm.lattice.doubts import lattice_doubts
from vlm.loads.fold_engine import FoldEngine
from vlm.loads.state import FlightState
from vlm.plain import without_nan
from vlm.study.errors import coarser, half_width
from vlm.study.hinge_errors import hinge_half_widths
from vlm.study.hinge_slipstream import HingeSlipstream
from vlm.study.point import reference_document
from vlm.study.roll_study import drag_area, flown
from vlm.study.slipstream import SLIPSTREAM, Slipstreams, Thrust
from vlm.study.validity import MACH_LIMIT, state_doubts
from vlm.verdicts import verdict

Progress = Callable[[str], None]
Margin = Callable[[float, float], float | None]

ASSUMPTIONS = (
    "tips rigid, folded alike on both sides; level flight or the bottom of a pull-up, angle of"
    " attack re-trimmed",
    "no gusts; limit loads by load factor and the file's design roll rate only; where the wings"
    " stall first, at the highest load factor they reach",
    "wing loads by the lattice's strips at the trimmed angle of attack, without what sections"
    " change",
    "wing loads inboard of the hinge without relief by the wing's own mass (on the safe side)",
    "servo on its straight motor line; folding against load and the air's damping; the start by the"
    " servo's time constant and the tips' inertia; the stop in an instant, undamped",
)
NO_SLIPSTREAM = "slipstream left out"
WITH_SECTIONS = "air's moment with profile drag, lift slope and stall of the file's sections"
WITHOUT_SECTIONS = "no section in the file: neither stall nor profile drag is known"
LOCKING_CAUTION = (
    "self-locking by these formulas is no brake certificate: vibration releases a gear that locks"
    " at rest, grease and wear lower its friction"
)


@dataclass(frozen=True)
class HingePlan:
    """What ``hinge`` is asked for.

    Attributes
    ----------
    air : airspeed and density of the main tables
    folds_deg : symmetric folds [deg]
    airspeeds : of the moment table [m/s]
    load_factors : of the moment table [1]; 1 and the file's limit where empty
    grid : the lattice
    thrust : whose slipstream blows over the wings
    """

    air: Air
    folds_deg: tuple[float, ...]
    airspeeds: tuple[float, ...] = ()
    load_factors: tuple[float, ...] = ()
    grid: Grid = field(default_factory=Grid)
    thrust: Thrust = None


def hinge_study(craft: Biplane, plan: HingePlan, progress: Progress = lambda _: None) -> Any:
    """Everything about the mechanism, as a JSON document.

    Raises
    ------
    InputRefused : no [mass], no [actuator], no tips, or a fold beyond its limits
    """
    actuator = craft.actuator
    if actuator is None:
        raise InputRefused(f"{craft.source_name}: [actuator] is missing; hinge needs the drive")
    folding = FoldingCraft(craft, plan.grid, drag_area(craft), charted="like folds")
    low, high = folding.range_deg
    at_first = FoldAngles.symmetric(plan.folds_deg[0])
    conditions = FlightConditions(craft, plan.air.density, plan.grid)
    blowing = HingeSlipstream(folding, Slipstreams(craft, plan.thrust, conditions))
    blown = blowing.over(at_first, plan.air.airspeed)
    flown(blown, at_first, plan.air)
    progress("hinge moments")
    speeds = plan.airspeeds or (plan.air.airspeed,)
    factors = plan.load_factors or (1.0, actuator.load_factor_limit)
    rough = FoldingCraft(craft, coarser(plan.grid), sections=False)
    rows = [
        _moment_row(folding, rough, blowing, actuator, fold, speed, factor, plan.air.density)
        for fold in plan.folds_deg
        for speed in speeds
        for factor in factors
    ]
    errors = _moment_errors(folding, rough, blowing, plan)
    progress("folding")
    moves = _moves(craft, folding, actuator, plan, (max(low, -179.0), min(high, 179.0)))
    progress("airspeed limits")
    limits = _limits(folding, rough, actuator, plan)
    progress("wing loads")
    wings = [
        _wing_row(folding, actuator, fold, plan.air, factor)
        for fold in plan.folds_deg
        for factor in (1.0, actuator.load_factor_limit)
    ]
    progress("backlash and stiffness")
    document = {
        "title": craft.title,
        "state": {
            "airspeed_m_s": plan.air.airspeed,
            "density_kg_m3": plan.air.density,
            "load_factor_limit": actuator.load_factor_limit,
            "design_roll_rate_deg_s": actuator.design_roll_rate_deg_s,
        },
        "reference": reference_document(folding.symmetric(plan.folds_deg[0]).loads.lattice),
        "worm": {
            "ratio": actuator.worm_ratio,
            "lubrication": actuator.lubrication,
            **{name: _worm(state) for name, state in worm_states(actuator).items()},
            "curve": _worm_curve(actuator),
            "caution": LOCKING_CAUTION,
        },
        "modelling": str(blown.at(at_first).modelling),
        "moments": rows,
        "moment_errors": errors,
        "folding": moves,
        "limits": limits,
        "wings": wings,
        "backlash": [_backlash(folding, actuator, fold, plan.air) for fold in plan.folds_deg],
        "divergence": _divergence(craft, folding, actuator, plan),
        "hover": [_hover_row(folding, actuator, fold) for fold in plan.folds_deg],
        "jammed": _jammed(craft, folding, rough, plan),
        "slipstream": blowing.row(plan.folds_deg, plan.air),
        "assumptions": [
            *ASSUMPTIONS,
            f"{SLIPSTREAM}; in the hinge moments and their errors alone"
            if blowing.slipstreams.is_on
            else NO_SLIPSTREAM,
            WITH_SECTIONS if folding.has_sections else WITHOUT_SECTIONS,
        ],
        "findings": _findings(folding, actuator, plan, rows, moves)
        + blowing.left_out(errors, plan.air),
    }
    return without_nan(document)


def _worm(state: WormState) -> dict[str, Any]:
    return {
        "friction": list(state.friction),
        "forward_efficiency": list(state.forward),
        "back_efficiency": list(state.back),
        "locking_friction": state.locking_friction,
        "margin": state.margin,
        "verdict": state.verdict,
    }


def _worm_curve(actuator: Actuator) -> dict[str, list[float]]:
    """Both efficiencies over friction, well past where the gear locks."""
    states = worm_states(actuator)
    top = max(states["dry"].friction[1], 1.3 * states["dry"].locking_friction)
    friction, forward, back = efficiency_curves(actuator, top)
    return {
        "friction": friction.tolist(),
        "forward_efficiency": forward.tolist(),
        "back_efficiency": back.tolist(),
    }


def _hover_row(folding: FoldingCraft, actuator: Actuator, fold: float) -> dict[str, Any]:
    """Weight of the tips about their hinges, and on one servo, with the nose straight up."""
    row: dict[str, Any] = {"fold_deg": fold}
    try:
        craft = folding.symmetric(fold)
    except FoldspanError as error:
        return row | {"reason": str(error)}
    lattice = craft.loads.lattice
    moments = {
        body: hover_weight_moment(craft.masses.parts[body], line)
        for body, line in lattice.hinges.items()
    }
    return row | {
        "weight_N_m": moments,
        "on_servo_N_m": servo_sum(craft, moments, actuator.serves),
    }


def _jammed(
    craft: Biplane, folding: FoldingCraft, rough: FoldingCraft, plan: HingePlan
) -> list[dict[str, Any]]:
    """Port tips jammed at a fold while the starboard ones stand at another: what must be held.

    Jams at the ends of the range, with starboard tips at 0 or the nearest fold to it.
    """
    low, high = folding.range_deg
    other = min(max(0.0, low), high)
    conditions = FlightConditions(craft, plan.air.density, plan.grid)
    full = None
    if has_trim(craft):
        full = conditions.at(FoldAngles.symmetric(other), plan.air.airspeed, Modelling.ROTORS)
    ends = [fold for fold in (max(low, -179.0), min(high, 179.0)) if fold != other]
    return [_jammed_row(folding, rough, plan, FoldAngles(end, other), full) for end in ends]


def _jammed_row(
    folding: FoldingCraft, rough: FoldingCraft, plan: HingePlan, folds: FoldAngles,
    full: FlightCondition | None,
) -> dict[str, Any]:  # fmt: skip
    row: dict[str, Any] = {"jammed_left_deg": folds.left_deg, "right_deg": folds.right_deg}
    try:
        craft, other = folding.at(folds), rough.at(folds)
    except FoldspanError as error:
        return row | {"reason": str(error)}
    flight = level_flight(craft, plan.air.airspeed, plan.air.density)
    if flight is None:
        return row | {"reason": TOO_SLOW}
    ahead = roll_axis(flight.alpha)
    axes = {"roll": ahead, "yaw": np.array([-ahead[2], 0.0, ahead[0]])}
    spread = moment_spread(craft, flight)
    coarse = other.wrench(flight.motion, plan.air.density)[3:]
    rate = steady_roll_rate(craft, flight)
    row |= {
        "alpha_deg": float(np.degrees(flight.alpha)),
        "thrust_N": flight.thrust,
        "stall_margin_deg": float(np.degrees(flight.stall_margin)),
        "roll_rate_unheld_deg_s": None if rate is None else float(np.degrees(rate)),
    }
    for name, axis in axes.items():
        moment = float(flight.wrench[3:] @ axis)
        width = half_width(moment, float(coarse @ axis), abs(moment), plan.grid)
        width += float(spread @ np.abs(axis))
        can = None
        if full is not None and full.rotors is not None:
            can = getattr(full.rotors, name).either_way
        held = (
            "no rotors"
            if can is None
            else verdict(
                can - abs(moment),
                width,
                "the rotors hold it",
                "more than the rotors can",
                "at limit",
            )
        )
        row[name] = {"moment_N_m": moment, "half_width_N_m": width, "rotors_N_m": can, "held": held}
    return row


def _moment_row(
    folding: FoldingCraft,
    rough: FoldingCraft,
    blowing: HingeSlipstream,
    actuator: Actuator,
    fold: float,
    airspeed: float,
    factor: float,
    density: float,
) -> dict[str, Any]:
    """Moment about each hinge by part, and what the servo needs for it."""
    row: dict[str, Any] = {"fold_deg": fold, "airspeed_m_s": airspeed, "load_factor": factor}
    folds = FoldAngles.symmetric(fold)
    try:
        craft = blowing.over(folds, airspeed).at(folds)
    except FoldspanError as error:
        return row | {"reason": str(error)}
    flight = highest_load_factor(craft, airspeed, density, factor)
    if flight is None:
        return row | {"reason": TOO_SLOW}
    parts = hinge_moments(craft, flight, float(np.radians(actuator.design_roll_rate_deg_s)))
    widths = hinge_half_widths(craft, rough.symmetric(fold), folding.engine.cellule, flight)
    widths = blowing.widened(widths, craft, folds, flight)
    moment = max(servo_loads(craft, flight, actuator.serves).values(), key=abs)
    demand = servo_demand(actuator, moment, actuator.friction)
    limit = actuator.hinge_moment_limit_N_m
    worst = {body: abs(worst_moment(one)) + widths[body] for body, one in parts.items()}
    most = max(worst, key=lambda body: worst[body])
    return row | {
        "reached_load_factor": flight.load_factor,
        "stall_margin_deg": float(np.degrees(flight.stall_margin)),
        "most_loaded_hinge": most,
        "alpha_deg": float(np.degrees(flight.alpha)),
        "hinges": {
            body: {
                **{f"{name}_N_m": value for name, value in one.items()},
                "steady_N_m": steady_moment(one),
                "worst_N_m": worst_moment(one),
                "half_width_N_m": widths[body],
            }
            for body, one in parts.items()
        },
        "servo": {f"{name}_N_m": value for name, value in vars(demand).items()},
        "share_of_stall": max(demand.raising, demand.lowering) / actuator.servo_stall_torque_N_m,
        "share_of_hinge_limit": None if limit is None else worst[most] / limit,
    }


def _moment_errors(
    folding: FoldingCraft, rough: FoldingCraft, blowing: HingeSlipstream, plan: HingePlan
) -> list[dict[str, Any]]:
    """Half-width of the air's largest moment in level flight at every fold."""
    found = []
    for fold in plan.folds_deg:
        folds = FoldAngles.symmetric(fold)
        try:
            fine = blowing.over(folds, plan.air.airspeed).at(folds)
            other = rough.at(folds)
        except FoldspanError:
            continue
        flight = level_flight(fine, plan.air.airspeed, plan.air.density)
        if flight is None:
            continue
        moments = fine.hinge_moments(flight.motion, plan.air.density)
        widths = hinge_half_widths(fine, other, folding.engine.cellule, flight)
        widths = blowing.widened(widths, fine, folds, flight)
        body = max(moments, key=lambda name: abs(moments[name]))
        found.append(
            {
                "fold_deg": fold,
                "hinge": body,
                "air_N_m": moments[body],
                "half_width_N_m": widths[body],
            }
        )
    return found


def _moves(
    craft: Biplane,
    folding: FoldingCraft,
    actuator: Actuator,
    plan: HingePlan,
    ends: tuple[float, float],
) -> list[dict[str, Any]]:
    """Folding from the middle to both limits and between the file's symmetric configurations."""
    named = {
        name: one.folds.left_deg
        for name, one in craft.configurations.items()
        if one.folds.is_symmetric
    }
    rest = min(max(0.0, ends[0]), ends[1])
    pairs = [(f"{rest:g} deg to the limit", rest, end) for end in ends if end != rest]
    names = list(named)
    pairs += [
        (f"{a} to {b}", named[a], named[b])
        for a in names
        for b in names
        if a != b and named[a] != named[b]
    ]
    return [_move(folding, actuator, plan.air, *pair) for pair in pairs]


def _move(
    folding: FoldingCraft, actuator: Actuator, air: Air, name: str, start: float, end: float
) -> dict[str, Any]:
    row: dict[str, Any] = {"name": name, "from_deg": start, "to_deg": end}
    try:
        loads = fold_loads(folding, actuator, air.airspeed, air.density, start, end)
    except FoldspanError as error:
        return row | {"reason": str(error)}
    if loads is None:
        return row | {"reason": TOO_SLOW}
    done = folding_under(actuator, loads, start, end)
    servos = len(folding.craft.tips) * 2 if actuator.serves == "tip" else 2
    ends = np.radians([start, end])
    opposing = -float(np.sign(end - start)) * float(loads.moment(ends[:1])[0])
    return (
        row
        | {
            "servos": servos,
            "inertia_on_servo_kg_m2": loads.inertia,
            "damping_on_servo_N_m_s": [float(v) for v in loads.resistance(ends)],
            "starting_torque_N_m": starting_torque(
                actuator, opposing, loads.inertia, actuator.friction[1]
            ),
            "stop": _stop(folding, actuator, air, end, done["least_friction"].end_speed),
        }
        | {k: _folding(v, servos) for k, v in done.items()}
    )


def _stop(
    folding: FoldingCraft, actuator: Actuator, air: Air, fold: float, speed: float
) -> dict[str, Any] | None:
    """Moment about the worst hinge when the worm stops the tip; None without a stiffness."""
    stiffness = actuator.hinge_stiffness_N_m_rad
    if stiffness is None or not np.isfinite(speed):
        return None
    craft = folding.symmetric(fold)
    flight = level_flight(craft, air.airspeed, air.density)
    assert flight is not None
    lattice, linkage = craft.loads.lattice, craft.loads.lattice.fold_rates
    steady = {body: steady_moment(one) for body, one in hinge_moments(craft, flight, 0.0).items()}
    shocks = {
        body: stopping_shock(
            linkage[body] * speed, stiffness, tip_inertia(craft.masses.parts[body], line)
        )
        for body, line in lattice.hinges.items()
    }
    worst = max(steady, key=lambda body: abs(steady[body]) + shocks[body])
    limit = actuator.hinge_moment_limit_N_m
    peak = abs(steady[worst]) + shocks[worst]
    return {
        "hinge": worst,
        "tip_speed_deg_s": float(np.degrees(linkage[worst] * speed)),
        "steady_N_m": steady[worst],
        "shock_N_m": shocks[worst],
        "peak_N_m": peak,
        "share_of_hinge_limit": None if limit is None else peak / limit,
    }


def _folding(done: Folding, servos: int) -> dict[str, Any]:
    return {
        "time_s": done.time,
        "energy_all_servos_J": done.energy * servos,
        "work_on_tips_one_servo_J": done.work,
        "peak_torque_N_m": done.peak_torque,
        "end_speed_deg_s": float(np.degrees(done.end_speed)),
        "stalls_at_deg": None if done.stalls_at is None else float(np.degrees(done.stalls_at)),
    }


def _limits(
    folding: FoldingCraft, rough: FoldingCraft, actuator: Actuator, plan: HingePlan
) -> dict[str, Any]:
    """Fastest airspeeds to move a tip, dry and greased, and to hold it."""
    high = min(MACH_LIMIT * standard_air().speed_of_sound_m_s, 6.0 * plan.air.airspeed)
    low, density = plan.air.airspeed, plan.air.density

    def widths(craft: FoldedCraft, fold: float, flight: LevelFlight) -> dict[str, float]:
        return hinge_half_widths(craft, rough.symmetric(fold), folding.engine.cellule, flight)

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
        rate = float(np.radians(actuator.design_roll_rate_deg_s))
        worst = {
            body: abs(worst_moment(one)) for body, one in hinge_moments(craft, flight, rate).items()
        }
        most = max(worst, key=lambda body: worst[body])
        return widths(craft, fold, flight)[most] / worst[most]

    def limit(margin: Margin, relative: Callable[[float, float], float]) -> dict[str, Any]:
        return _limit(fastest(margin, plan.folds_deg, low, high), margin, relative)

    moved = {
        name: limit(moving_margin(folding, actuator, friction[1], density), moving)
        for name, friction in (
            ("dry", actuator.friction_dry),
            ("greased", actuator.friction_greased),
        )
    }
    return {
        "moved": moved,
        "held": limit(holding_margin(folding, actuator, density), holding),
        "moment_at_stall_N_m": {
            "dry": greatest_moment(actuator, actuator.friction_dry[1]),
            "greased": greatest_moment(actuator, actuator.friction_greased[1]),
        },
        "hinge_moment_limit_N_m": actuator.hinge_moment_limit_N_m,
        "folds_deg": list(plan.folds_deg),
    }


def _limit(
    found: AirspeedLimit, margin: Margin, relative: Callable[[float, float], float]
) -> dict[str, Any]:
    """An airspeed limit and its error.

    The margin is one less what is needed over what there is; at the limit the latter two are
    alike, and the margin errs by the relative error of the moment.
    """
    width = None
    if found.airspeed is not None and found.fold_deg is not None and not found.fails_already:
        speed, step = found.airspeed, 0.01 * found.airspeed
        ends = [margin(speed + sign * step, found.fold_deg) for sign in (-1.0, 1.0)]
        if ends[0] is not None and ends[1] is not None and ends[1] < ends[0]:
            width = relative(speed, found.fold_deg) * 2.0 * step / (ends[0] - ends[1])
    return {
        "airspeed_m_s": found.airspeed,
        "half_width_m_s": width,
        "searched_to_m_s": found.searched,
        "fold_deg": found.fold_deg,
        "fails_already": found.fails_already,
    }


def _wing_row(
    folding: FoldingCraft, actuator: Actuator, fold: float, air: Air, factor: float
) -> dict[str, Any]:
    """Shear and bending of every half wing at one load factor."""
    row: dict[str, Any] = {"fold_deg": fold, "load_factor": factor}
    try:
        craft = folding.symmetric(fold)
    except FoldspanError as error:
        return row | {"reason": str(error)}
    flight = highest_load_factor(craft, air.airspeed, air.density, factor)
    if flight is None:
        return row | {"reason": TOO_SLOW}
    limit = actuator.root_bending_limit_N_m
    halves, lattice = wing_bending(craft, flight), craft.loads.lattice
    return row | {
        "reached_load_factor": flight.load_factor,
        "alpha_deg": float(np.degrees(flight.alpha)),
        "joined": lattice.is_joined or any(len(p.stands_on) > 1 for p in lattice.patches),
        "fins_left_out": any(patch.part == "fin" for patch in lattice.patches),
        "halves": [_half(one) for one in halves],
        "share_of_root_limit": None
        if limit is None
        else max(abs(one.root_bending) for one in halves) / limit,
    }


def _half(one: HalfWingLoads) -> dict[str, Any]:
    return {
        "wing": one.wing,
        "side": one.side,
        "distance_m": one.distance.tolist(),
        "shear_N": one.shear.tolist(),
        "bending_N_m": one.bending.tolist(),
        "torsion_N_m": one.torsion.tolist(),
        "hinge_distance_m": one.hinge_distance,
        "root_shear_N": one.root_shear,
        "root_bending_N_m": one.root_bending,
    }


def _backlash(folding: FoldingCraft, actuator: Actuator, fold: float, air: Air) -> dict[str, Any]:
    """Roll from free play: port tips at one end of it, starboard tips at the other."""
    low, high = folding.range_deg
    half = 0.5 * actuator.backlash_deg
    middle = min(max(fold, low + half), high - half)
    row: dict[str, Any] = {"fold_deg": fold}
    try:
        base = flown(folding, FoldAngles.symmetric(middle), air)
        points = [
            setting_point(folding, FoldAngles(middle + s * half, middle - s * half), air, base)
            for s in (1.0, -1.0)
        ]
    except FoldspanError as error:
        return row | {"reason": str(error)}
    known = [p for p in points if not isinstance(p, str)]
    if not known:
        return row | {"reason": "the folds within the play cannot be built"}
    worst = max(known, key=lambda p: abs(p["rolling_moment_N_m"]))
    return row | {
        "rolling_moment_N_m": abs(worst["rolling_moment_N_m"]),
        "roll_rate_deg_s": abs(worst["roll_rate_deg_s"]),
        "Cl": abs(worst["Cl"]),
    }


def _divergence(
    craft: Biplane, folding: FoldingCraft, actuator: Actuator, plan: HingePlan
) -> list[dict[str, Any]]:
    """Airspeed at which the hinges give way, at every fold."""
    if actuator.hinge_stiffness_N_m_rad is None:
        return []
    engine = FoldEngine(craft, plan.grid)
    high = MACH_LIMIT * standard_air().speed_of_sound_m_s
    return [
        _divergence_row(engine, folding, fold, plan.air, actuator.hinge_stiffness_N_m_rad, high)
        for fold in plan.folds_deg
    ]


def _divergence_row(
    engine: FoldEngine, folding: FoldingCraft, fold: float, air: Air, stiffness: float, high: float
) -> dict[str, Any]:
    row: dict[str, Any] = {"fold_deg": fold}
    try:
        loads = engine.loads(FoldAngles.symmetric(fold))
        craft = folding.symmetric(fold)
    except FoldspanError as error:
        return row | {"reason": str(error)}

    def rates_at(airspeed: float) -> Any:
        flight = level_flight(craft, airspeed, air.density)
        alpha = 0.0 if flight is None else flight.alpha
        return hinge_rates(loads, alpha, airspeed, air.density)

    side = side_stiffness(loads, stiffness)
    found = divergence(rates_at, side, air.airspeed, high)
    if found is None:
        return row | {"reason": "a joined tip cannot turn by itself"}
    here = rates_at(air.airspeed)
    return row | {
        "airspeed_m_s": found.airspeed,
        "searched_to_m_s": found.searched,
        "tips_move": "alike" if found.symmetric else "apart",
        "air_stiffness_N_m_rad": -float(np.max(np.linalg.eigvals(here).real)),
        "hinge_stiffness_N_m_rad": side,
    }


def _findings(
    folding: FoldingCraft,
    actuator: Actuator,
    plan: HingePlan,
    rows: Sequence[dict[str, Any]],
    moves: Sequence[dict[str, Any]],
) -> list[dict[str, Any]]:
    found = []
    for fold in plan.folds_deg:
        try:
            found += lattice_doubts(folding.symmetric(fold).loads.lattice)
        except FoldspanError:
            continue
    alphas = [row["alpha_deg"] for row in rows if "alpha_deg" in row]
    if alphas:
        speed = max(row["airspeed_m_s"] for row in rows)
        found += state_doubts(FlightState(alpha=np.radians(alphas), airspeed=speed))
    for row in rows:
        if row.get("reached_load_factor", row["load_factor"]) < row["load_factor"] - 1e-9:
            found.append(
                Finding(
                    "load_factor_not_reached",
                    "the wings stall below the load factor asked for",
                    row["reached_load_factor"],
                    row["load_factor"],
                    "1",
                    "the file's sections",
                    "loads there are those at the load factor reached; a gust can exceed it",
                )
            )
    limit = actuator.hinge_moment_limit_N_m
    for move in moves:
        stop = move.get("stop")
        if stop is not None and limit is not None and stop["peak_N_m"] > limit:
            found.append(
                Finding(
                    "stopping_shock",
                    f"stopping the tip ({move['name']}) passes the hinge's limit",
                    stop["peak_N_m"],
                    limit,
                    "N m",
                    "hinge_moment_limit_N_m",
                    "fold more slowly, or let the servo slow down before the end",
                )
            )
    return [vars(finding) for finding in gathered(found)]
