"""What the ± of a design's goal is made of, and that of what it gains.

The best design and those it is held against are kept as they were found, with their folds: near a
best, other folds change the goal only to second order. All share the draws.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from vlm.constants import GRAVITY, Floats
from vlm.description.folds import FoldAngles
from vlm.description.models import Biplane
from vlm.errors import ComputationFailed, InputRefused
from vlm.flight.plan.fold_loads import FoldLoads
from vlm.flight.plan.mission_rules import flying_schedule
from vlm.flight.plan.mission_samples import drawn_energy, sampled_energies
from vlm.flight.trim.drawn_craft import drawn_craft, drawn_power
from vlm.flight.trim.power_book import POWER, direct_trim
from vlm.flight.trim.power_curve import PowerCurve
from vlm.flight.trim.power_samples import INPUTS, sampled_curve
from vlm.flight.trim.powered import powered_craft
from vlm.flight.trim.sampled_speeds import interval
from vlm.flight.trim.trim import trim_problem
from vlm.flight.trim.uncertain_keys import STEP, MovedCraft, moved, response, with_keys
from vlm.study.design.changes import FOLD, designed
from vlm.study.design.evaluator import Values
from vlm.study.design.goals import (
    JOULES,
    UNITS,
    GoalPlan,
    Worth,
    as_written,
    bare_craft,
    closed_fold,
    mission_flight,
    worth,
)
from vlm.study.design.study import DesignStudy, as_in_the_file
from vlm.study.sensitivity import (
    CHECKED,
    GAINED,
    Answer,
    Check,
    Draws,
    Sensitivity,
    check_uncertainty,
    draws_of,
    known_answers,
    taken_apart,
)
from vlm.verdicts import reach

BEST = "best design"
MASS = INPUTS.index("mass")
Direct = Callable[[Floats, Floats], float]
"""The goal of one draw of the factors and of the keys' shifts, worked out directly."""


@dataclass(frozen=True)
class _Sampled:
    """The goal of one craft over the draws, and directly of any draw."""

    value: float
    samples: Floats
    direct: Direct


def design_sensitivity(study: DesignStudy) -> Sensitivity:
    """Shares in the goal of the best design, and in its difference to what it is held against.

    Raises
    ------
    InputRefused : the file states no uncertainty
    ComputationFailed : no design was found
    """
    check_uncertainty(study.craft)
    draws, goal = draws_of(study.craft), study.plan.goal
    if study.best is None or study.best_worth is None:
        raise ComputationFailed("no design was found whose uncertainty could be taken apart")
    unit = UNITS[goal.goal]
    best = _folding(study, study.best, study.best_worth, draws)
    answers: list[Answer | None] = [
        taken_apart(draws, BEST, goal.goal, unit, best.value, best.samples)
    ]
    for name, other in _others(study, draws).items():
        apart, samples = best.value - other.value, best.samples - other.samples
        answers.append(taken_apart(draws, GAINED, f"than {name}", unit, apart, samples))
    direct = [
        best.direct(factors, shifts)
        for factors, shifts in zip(draws.factors[:CHECKED], draws.shifts[:CHECKED], strict=True)
    ]
    half = reach(best.value, interval(best.samples, draws.percent))
    check = Check(
        f"{BEST}, {goal.goal}", unit, best.value, half, best.samples[:CHECKED],
        np.array(direct),
    )  # fmt: skip
    return Sensitivity(draws, known_answers(answers), (check,))


def _others(study: DesignStudy, draws: Draws) -> dict[str, _Sampled]:
    """As in the file, and the best design without the mechanism, where they are allowed."""
    assert study.best is not None and study.best_worth is not None
    found: dict[str, _Sampled] = {}
    if study.present is not None and not study.present.reason:
        own = as_in_the_file(study.craft, study.plan)
        found["as in the file"] = _folding(study, own, study.present, draws)
    bare = bare_craft(designed(study.craft, study.best))
    own_fold = round(float(np.mean(study.best_worth.folds_deg)), 2)
    ways = {
        "open": (0.0, "flat"),
        "closed": (closed_fold(bare), "at its lowest fold"),
        "own": (own_fold, "at its own fold"),
    }
    for way, there in study.fixed.items():
        fold, words = ways[way]
        if fold is not None and not there.reason:
            plan = study.plan.goal.holding(fold)
            name = f"{words}, no mechanism"
            found[name] = _sampled(bare, plan, there, draws, fixed=True)
    return found


def _folding(study: DesignStudy, values: Values, there: Worth, draws: Draws) -> _Sampled:
    goal = study.plan.goal
    plan = goal.holding(values.get(FOLD, goal.fold_deg))
    return _sampled(designed(study.craft, values), plan, there, draws)


def _sampled(
    craft: Biplane, plan: GoalPlan, there: Worth, draws: Draws, *, fixed: bool = False
) -> _Sampled:
    """The goal of a craft over the draws."""
    if plan.goal == "energy":
        return _energy(craft, plan, draws, fixed=fixed)
    if plan.goal == "power":
        return _power(craft, plan, there.folds_deg[0], draws)
    direct = {"rolling moment": _rolling, "induced drag": _induced}.get(plan.goal, _efficiency)
    return _by_steps(draws, there.value, direct(craft, plan, draws))


def _energy(craft: Biplane, plan: GoalPlan, draws: Draws, *, fixed: bool) -> _Sampled:
    flight = mission_flight(craft, plan, flying_schedule if fixed else as_written)

    def direct(factors: Floats, shifts: Floats) -> float:
        return drawn_energy(flight, factors, draws.keys, shifts) / JOULES

    legs = sampled_energies(flight, draws.factors, draws.keys, draws.shifts)
    energy = legs.sum(axis=0) / JOULES
    return _Sampled(flight.energy / JOULES, energy, direct)


def _power(craft: Biplane, plan: GoalPlan, fold_deg: float, draws: Draws) -> _Sampled:
    assert plan.airspeed is not None
    folds = FoldAngles.symmetric(fold_deg)
    made = powered_craft(craft, folds, air=plan.air, grid=plan.grid)
    point = direct_trim(made, plan.airspeed)
    curve = PowerCurve(trim_problem(made), 0.0, (), (point,))
    sampled = sampled_curve(curve, draws.factors)
    craft_moved = MovedCraft(made, draws.keys, plan.grid)
    power = with_keys(sampled, curve, craft_moved, draws.shifts).power[:, 0]

    def direct(factors: Floats, shifts: Floats) -> float:
        drawn = drawn_craft(made, factors, draws.keys, shifts, plan.grid)
        return drawn_power(drawn, point, float(factors[INPUTS.index("rotor_power")]))

    return _Sampled(point.value(POWER), power, direct)


def _rolling(craft: Biplane, plan: GoalPlan, draws: Draws) -> Direct:
    """The rolling moment at the trim's own angle of attack, which every input moves."""
    assert craft.schedule is not None and plan.airspeed is not None
    fold, reserve = plan.fold_deg or 0.0, craft.schedule.roll_reserve_deg or 0.0
    speed = plan.airspeed
    made = powered_craft(craft, FoldAngles.symmetric(fold), air=plan.air, grid=plan.grid)
    near = direct_trim(made, speed)

    def direct(factors: Floats, shifts: Floats) -> float:
        drawn = drawn_craft(made, factors, draws.keys, shifts, plan.grid)
        point = direct_trim(drawn, speed, near=near)
        loads = FoldLoads.of(drawn.craft, plan.air, plan.grid)
        return abs(loads.roll_moment(fold, reserve, point.value("alpha_deg"), speed))

    return direct


def _induced(craft: Biplane, plan: GoalPlan, draws: Draws) -> Direct:
    """The induced drag at a lift that goes with the weight where none is given."""
    lift = plan.lift_N

    def direct(factors: Floats, shifts: Floats) -> float:
        there = moved(craft, draws.keys, shifts)
        if lift is not None:
            return worth(there, plan).value
        assert there.mass is not None
        weight = there.mass.total_kg * GRAVITY * float(factors[MASS])
        return worth(there, replace(plan, lift_N=weight)).value

    return direct


def _efficiency(craft: Biplane, plan: GoalPlan, draws: Draws) -> Direct:
    def direct(_factors: Floats, shifts: Floats) -> float:
        return worth(moved(craft, draws.keys, shifts), plan).value

    return direct


def _by_steps(draws: Draws, value: float, direct: Direct) -> _Sampled:
    """Polynomials of second order in every input, from direct evaluations a step up and down."""
    factors, shifts = np.ones(draws.factors.shape[1]), np.zeros(draws.shifts.shape[1])

    def at(name: str, spread: float, sense: float) -> float:
        one, other = factors.copy(), shifts.copy()
        keys = [key.name for key in draws.keys]
        if name in keys:
            other[keys.index(name)] = sense * STEP
        else:
            one[INPUTS.index(name.removesuffix("_percent"))] += sense * STEP * spread / 100.0
        try:
            return direct(one, other)
        except InputRefused:
            return float("nan")

    up, down = (
        np.array([[at(i.name, i.spread, sense)] for i in draws.inputs]) for sense in (1.0, -1.0)
    )
    change = response(np.array([value]), up, down).at(draws.normal)[:, 0]
    return _Sampled(value, value + change, direct)
