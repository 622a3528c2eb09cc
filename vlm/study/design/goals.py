"""What one design is worth: the goal of a search, worked out for one craft.

A design that cannot be built, trimmed or flown within the constraints has no value, but a reason.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from scipy.optimize import brentq

from vlm.air import Air
from vlm.constants import GRAVITY, SEA_LEVEL_DENSITY
from vlm.description.design import Goal
from vlm.description.folds import FoldAngles
from vlm.description.mission import Leg
from vlm.description.models import Biplane
from vlm.description.schedule import Schedule
from vlm.errors import ComputationFailed, InputRefused
from vlm.findings import Finding, gathered
from vlm.flight.plan.constraints import ROLL_MOMENT, Setting
from vlm.flight.plan.fold_search import FoldTable
from vlm.flight.plan.mission import LEVEL_KINDS, MissionFlight, MissionFlyer, speed_held_by
from vlm.flight.plan.mission_rules import flying_schedule, held, scheduled
from vlm.flight.plan.schedule import best_fold
from vlm.flight.trim.power_book import (
    fold_grid,
    power_book,
)
from vlm.flight.trim.power_warnings import flown_doubts
from vlm.flight.trim.powered import check_power_blocks
from vlm.lattice.cellule import Grid
from vlm.lattice.lattice import build_lattice
from vlm.loads.coefficients import coefficients
from vlm.loads.craft_loads import loads_of_state
from vlm.loads.fold_engine import FoldEngine
from vlm.loads.state import FlightState
from vlm.sides import Side
from vlm.study.asked import DESIGN_FOLDS
from vlm.study.fixed_craft import without_mechanism
from vlm.study.mission.study import checked_mission, flight_doubts, mission_speeds

JOULES = 3600.0
UNITS: dict[str, str] = {
    "energy": "Wh", "power": "W", "induced drag": "N", "span efficiency": "1",
    "rolling moment": "N m",
}  # fmt: skip
HIGHEST = ("span efficiency", "rolling moment")
"""Goals of which the highest value is sought."""
OF_THE_LATTICE = ("induced drag", "span efficiency")
"""Goals that ask the wings alone, at one fold: flat unless one is held."""
AT_NO_FOLD = "the craft can be trimmed at no fold; the first says: "
STEEPEST_DEG = 30.0
"""Angles of attack among which the lift of the induced drag is looked for, either way [deg]."""


@dataclass(frozen=True)
class GoalPlan:
    """What is asked of every design.

    Attributes
    ----------
    goal : what is sought
    airspeed : of power, induced drag and rolling moment [m/s]
    alpha_deg : of the span efficiency [deg]
    lift_N : of the induced drag; None for each design's own weight [N]
    fold_deg : fold that is held; None for the best at every airspeed, and for induced drag, span
        efficiency and rolling moment flat [deg]
    legs : of the mission
    fold_count : folds in the table of trims
    """

    goal: Goal
    airspeed: float | None = None
    alpha_deg: float = 4.0
    lift_N: float | None = None
    fold_deg: float | None = None
    legs: tuple[Leg, ...] = ()
    fold_count: int = DESIGN_FOLDS
    air: Air | None = None
    grid: Grid | None = None

    @property
    def sign(self) -> float:
        """1 where the lowest value is sought, -1 where the highest is."""
        return -1.0 if self.goal in HIGHEST else 1.0

    def holding(self, fold_deg: float | None) -> "GoalPlan":
        """The same with a fold held."""
        return replace(self, fold_deg=fold_deg)


@dataclass(frozen=True)
class Worth:
    """What one design is worth.

    Attributes
    ----------
    value : of the goal, in its unit; NaN where the design fails
    reason : why it has none; empty where it has
    active : constraints that hold it back
    mass_kg : of the craft; NaN where the file gives none [kg]
    folds_deg : lowest and highest fold at which it is flown [deg]
    findings : warnings about the trims that the value rests on
    rolls_to : side to which a craft with its starboard side folded up rolls, of the rolling moment
    """

    value: float
    reason: str = ""
    active: tuple[str, ...] = ()
    mass_kg: float = float("nan")
    folds_deg: tuple[float, float] = (float("nan"), float("nan"))
    findings: tuple[Finding, ...] = ()
    rolls_to: str = ""


def check_goal(craft: Biplane, plan: GoalPlan) -> None:
    """Refuse a goal that a craft lacks the blocks for.

    Raises
    ------
    InputRefused : names what is missing
    """
    if plan.goal == "energy":
        checked_mission(craft, plan.legs)
    if plan.goal not in OF_THE_LATTICE:
        check_power_blocks(craft)
    if plan.goal == "induced drag" and plan.lift_N is None and craft.mass is None:
        raise InputRefused(
            f"{craft.source_name}: the goal induced drag needs a lift: design.lift_N, or [mass] so"
            " that each design lifts its weight"
        )
    if plan.goal in ("power", "induced drag", "rolling moment") and plan.airspeed is None:
        raise InputRefused(
            f"{craft.source_name}: the goal {plan.goal} needs an airspeed: --airspeed, or"
            " design.airspeed_m_s"
        )
    reserve = None if craft.schedule is None else craft.schedule.roll_reserve_deg
    if plan.goal == "rolling moment" and not reserve:
        raise InputRefused(
            f"{craft.source_name}: schedule.roll_reserve_deg is missing; the goal rolling moment"
            " folds the sides apart by it"
        )


def worth(craft: Biplane, plan: GoalPlan) -> Worth:
    """What a craft is worth; its tips fold, within all constraints of its [schedule]."""
    return _tried(craft, plan.goal, lambda: WORTHS[plan.goal](craft, plan, as_written))


def bare_craft(craft: Biplane) -> Biplane:
    """The craft without its folding mechanism."""
    return craft if craft.mass is None else without_mechanism(craft)


def fixed_worth(craft: Biplane, plan: GoalPlan, fold_deg: float) -> Worth:
    """What it is worth without the mechanism, at one fold, within what binds fixed wings."""
    bare = bare_craft(craft)
    held_plan = plan.holding(fold_deg)
    return _tried(bare, plan.goal, lambda: WORTHS[plan.goal](bare, held_plan, flying_schedule))


def closed_fold(craft: Biplane) -> float | None:
    """The lowest fold, at which tips close a box or hang; None where there are none [deg]."""
    return craft.fold_range_deg[0] if craft.tips else None


def _tried(craft: Biplane, goal: str, asked: Callable[[], Worth]) -> Worth:
    mass = float("nan") if craft.mass is None else craft.mass.total_kg
    try:
        found = asked()
        if np.isfinite(found.value) or found.reason:
            return found
        return replace(found, reason=f"the {goal} has no value here")
    except (InputRefused, ComputationFailed, np.linalg.LinAlgError) as error:
        said = str(error).removeprefix(AT_NO_FOLD).removeprefix(f"{craft.source_name}: ")
        return Worth(float("nan"), said or "the equations have no solution", mass_kg=mass)


Binding = Callable[[Schedule], Schedule]
"""Which constraints of a schedule bind."""


def as_written(schedule: Schedule) -> Schedule:
    """All of them."""
    return schedule


def mission_flight(craft: Biplane, plan: GoalPlan, binding: Binding = as_written) -> MissionFlight:
    """The mission as flown, along the schedule or at the fold that is held."""
    schedule = checked_mission(craft, plan.legs)
    speeds = mission_speeds(schedule, plan.legs)
    if plan.fold_deg is None:
        book = power_book(
            craft, fold_grid(craft, plan.fold_count), speeds, air=plan.air, grid=plan.grid
        )
        rule = scheduled(book, schedule)
    else:
        book = power_book(craft, [plan.fold_deg], speeds, air=plan.air, grid=plan.grid)
        rule = held("held", FoldTable.of(book, binding(schedule)), plan.fold_deg)
    return MissionFlyer(book).flight(rule, plan.legs)


def _energy(craft: Biplane, plan: GoalPlan, binding: Binding) -> Worth:
    flight = mission_flight(craft, plan, binding)
    rule = flight.rule
    assert craft.mass is not None
    if flight.reason:
        return Worth(float("nan"), flight.reason, mass_kg=craft.mass.total_kg)
    speeds_flown, folds = _level_states(flight)
    active = {name for speed in speeds_flown for name in rule.active_at(speed)}
    active |= {name for leg in flight.legs for name in speed_held_by(rule, leg)}
    at = min(folds), max(folds)
    return Worth(
        flight.energy / JOULES, "", tuple(sorted(active)), craft.mass.total_kg, at,
        tuple(flight_doubts(flight)),
    )  # fmt: skip


def _level_states(flight: MissionFlight) -> tuple[list[float], list[float]]:
    """Airspeeds and folds at which the wings carry the craft; of all pieces if they never do."""
    pieces = [p.piece for leg in flight.legs if leg.leg.kind in LEVEL_KINDS for p in leg.pieces]
    pieces = pieces or [p.piece for leg in flight.legs for p in leg.pieces]
    return [p.speed for p in pieces], [p.fold_deg for p in pieces]


def _power(craft: Biplane, plan: GoalPlan, binding: Binding) -> Worth:
    assert plan.airspeed is not None and craft.mass is not None
    if plan.fold_deg is not None or not craft.tips:
        folds = np.array([plan.fold_deg or 0.0])
    else:
        folds = fold_grid(craft, plan.fold_count)
    book = power_book(craft, folds, [plan.airspeed], air=plan.air, grid=plan.grid)
    table = FoldTable.of(book, binding(_schedule(craft, plan.airspeed)))
    mass = craft.mass.total_kg
    if len(folds) == 1:
        fold = float(folds[0])
        setting = table.setting(fold, plan.airspeed)
        if setting.passed:
            return Worth(float("nan"), setting.reason, mass_kg=mass)
        return Worth(setting.power, "", (), mass, (fold, fold), _trim_doubts(table, setting))
    point = best_fold(table, plan.airspeed)
    if point.setting is None:
        return Worth(float("nan"), point.reason, mass_kg=mass)
    at, warnings = (point.fold_deg, point.fold_deg), _trim_doubts(table, point.setting)
    return Worth(point.power, "", point.active, mass, at, warnings)


def _trim_doubts(table: FoldTable, setting: Setting) -> tuple[Finding, ...]:
    made = table.craft_at(setting.fold_deg)
    return () if made is None else tuple(gathered(flown_doubts([(made, setting.point)])))


def _schedule(craft: Biplane, airspeed: float) -> Schedule:
    """The constraints; none where the file names none."""
    return craft.schedule or Schedule(airspeed_min_m_s=0.0, airspeed_max_m_s=airspeed)


def _rolling(craft: Biplane, plan: GoalPlan, binding: Binding) -> Worth:
    assert craft.schedule is not None and craft.mass is not None
    fold = plan.fold_deg or 0.0
    assert plan.airspeed is not None
    book = power_book(craft, [fold], [plan.airspeed], air=plan.air, grid=plan.grid)
    table = FoldTable.of(book, binding(craft.schedule))
    setting = table.setting(fold, plan.airspeed)
    if setting.passed:
        return Worth(float("nan"), setting.reason, mass_kg=craft.mass.total_kg)
    moment = setting.quantities[ROLL_MOMENT]
    side = (Side.STARBOARD if moment > 0.0 else Side.PORT).words
    warnings = _trim_doubts(table, setting)
    return Worth(abs(moment), "", (), craft.mass.total_kg, (fold, fold), warnings, side)


def _induced(craft: Biplane, plan: GoalPlan, _binding: Binding) -> Worth:
    """Induced drag at the airspeed, at the angle of attack that gives the lift."""
    assert plan.airspeed is not None
    fold = plan.fold_deg or 0.0
    mass = float("nan") if craft.mass is None else craft.mass.total_kg
    lift = mass * GRAVITY if plan.lift_N is None else plan.lift_N
    loads = FoldEngine(craft, plan.grid, fold_rates=False).loads(FoldAngles.symmetric(fold))
    density = SEA_LEVEL_DENSITY if plan.air is None else plan.air.density_kg_m3

    def at(alpha: float) -> tuple[float, float]:
        state = FlightState(alpha=alpha, airspeed=plan.airspeed, density=density)
        found = coefficients(loads, state)
        size = float(state.dynamic_pressure) * loads.reference.area
        return float(found.CL) * size, float(found.CDi) * size

    low, high = (np.radians(sign * STEEPEST_DEG) for sign in (-1.0, 1.0))
    if not at(low)[0] < lift < at(high)[0]:
        reason = f"no angle of attack within {STEEPEST_DEG:g} deg lifts {lift:.4g} N"
        return Worth(float("nan"), reason, mass_kg=mass)
    alpha = float(brentq(lambda a: at(a)[0] - lift, low, high, xtol=1e-10))
    return Worth(at(alpha)[1], "", (), mass, (fold, fold))


def _efficiency(craft: Biplane, plan: GoalPlan, _binding: Binding) -> Worth:
    fold = plan.fold_deg or 0.0
    state = FlightState(alpha=float(np.radians(plan.alpha_deg)))
    lattice = build_lattice(craft, FoldAngles.symmetric(fold), plan.grid or Grid())
    found = coefficients(loads_of_state(lattice, state, fold_rates=False), state)
    mass = float("nan") if craft.mass is None else craft.mass.total_kg
    return Worth(float(found.span_efficiency), "", (), mass, (fold, fold))


WORTHS: dict[str, Callable[[Biplane, GoalPlan, Binding], Worth]] = {
    "energy": _energy,
    "power": _power,
    "induced drag": _induced,
    "span efficiency": _efficiency,
    "rolling moment": _rolling,
}
