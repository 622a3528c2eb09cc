"""The study behind ``foldspan design``: the best design, and what surrounds it."""

import json
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np

from vlm.constants import Floats
from vlm.description.models import Biplane
from vlm.errors import ComputationFailed, InputRefused
from vlm.lattice.cellule import Grid
from vlm.study.design.changes import FOLD, SearchKey, designed, present_value
from vlm.study.design.goals import OF_THE_LATTICE, GoalPlan, Worth, check_goal, closed_fold
from vlm.study.design.goals import fixed_worth as worth_fixed
from vlm.study.design.goals import worth as worth_folding
from vlm.study.design.search import Searched, search, starting_points
from vlm.study.kept_trims import input_digest, numbered
from vlm.study.point.errors import coarser, half_width, refinement
from vlm.study.store import ChunkStore

SIDE_STEP = 0.05
"""Step of the sensitivity, in shares of a key's value [1]."""
LEAST_STEP = 0.01
"""Least step of the sensitivity, in shares of the bounds [1]."""
AT_BOUND = 0.01
"""Distance from a bound at which it counts as active, in shares of the bounds [1]."""
EDGE = 0.02
"""Step over which the best stands at what forbids it, in shares of the bounds [1]."""
GAIN_FLOOR = 1e-4
"""Share of the present goal by which a gain may err though two lattices agree, on the default
lattice: of 48 changes of five craft on 4 x 16 it covers all, and 46 without it [1]."""
COARSER = "folding, coarser"
"""On a coarser lattice, as a way to work a design out."""
OWN = "own "
"""In front of the fold at which the best design is flown, as a way to fix it."""
Report = Callable[[str, int, float], None]
Values = dict[str, float]


@dataclass(frozen=True)
class DesignPlan:
    """A search.

    Attributes
    ----------
    keys : what may change
    goal : what every design is asked
    starts : number of starts
    most : evaluations from each; 30 a key if None
    trade_key : key over which the trade is drawn; None for none
    trade_points : points of it
    """

    keys: tuple[SearchKey, ...]
    goal: GoalPlan
    starts: int = 3
    most: int | None = None
    trade_key: str | None = None
    trade_points: int = 9

    def values(self, shares: Floats) -> Values:
        """Values by key at shares of the bounds."""
        return {k.name: k.value(float(s)) for k, s in zip(self.keys, shares, strict=True)}

    def key(self, name: str) -> SearchKey:
        """A key by its name."""
        return next(key for key in self.keys if key.name == name)


@dataclass(frozen=True)
class Side:
    """The goal a step away from the best design.

    Attributes
    ----------
    key, step : what is changed, and by how much, negative downward
    worth : there; None where the step would pass the bound
    """

    key: str
    step: float
    worth: Worth | None


@dataclass(frozen=True)
class Trade:
    """The goal against one key, all others as in the best design.

    Attributes
    ----------
    key : which
    values : shape (points,)
    folding, open_fixed : worths at every value, with folding tips and fixed ones
    """

    key: str
    values: tuple[float, ...]
    folding: tuple[Worth, ...]
    open_fixed: tuple[Worth, ...]


@dataclass(frozen=True)
class DesignStudy:
    """A search with what surrounds its best.

    Attributes
    ----------
    present : the file's own craft
    best : values by key; None where no design was allowed
    best_worth : there; active are also what forbids a small step of a key that would be better
    gain_half_width : of the lattice, in what the best is better by than the present; NaN where it
        is not known
    fixed : by name, the best design without the mechanism, flat and closed
    sides : a step to either side of every key
    failures : reasons of failed designs with their number
    solved, recalled : designs worked out now, and taken from the store
    stopped : whether it was stopped from the keyboard
    """

    craft: Biplane
    plan: DesignPlan
    present: Worth | None
    searched: Searched | None
    best: Values | None
    best_worth: Worth | None
    fixed: Mapping[str, Worth]
    sides: tuple[Side, ...]
    trade: Trade | None
    failures: tuple[tuple[str, int], ...]
    solved: int
    recalled: int
    stopped: bool
    gain_half_width: float = float("nan")


@dataclass
class Evaluator:
    """Works out designs, each once, and keeps every whole one.

    Attributes
    ----------
    store : keeps finished designs
    """

    craft: Biplane
    plan: DesignPlan
    store: ChunkStore
    solved: int = 0
    recalled: int = 0
    failures: Counter[str] = field(default_factory=Counter)
    seen: dict[int, Worth] = field(default_factory=dict)

    def __call__(self, values: Mapping[str, float], way: str = "folding") -> Worth:
        """The worth of a design: folding, or fixed "open", "closed" or "own FOLD"."""
        named = {name: round(float(value), 12) for name, value in sorted(values.items())}
        number = numbered(json.dumps([named, way]))
        if number in self.seen:
            return self.seen[number]
        kept = self.store.load(number)
        if kept is None:
            found = self._worked_out(named, way)
            self.store.keep(number, [_plain(found)])
            self.solved += 1
        else:
            found = _worth_of(kept[0])
            self.recalled += 1
        self.seen[number] = found
        if found.reason and way == "folding":
            self.failures[found.reason] += 1
        return found

    def _worked_out(self, values: Mapping[str, float], way: str) -> Worth:
        try:
            craft = designed(self.craft, values)
        except InputRefused as error:
            return Worth(float("nan"), str(error).removeprefix(f"{self.craft.source_name}: "))
        if way in ("folding", COARSER):
            fold = values.get(FOLD, self.plan.goal.fold_deg)
            goal = self.plan.goal.holding(fold)
            if way == COARSER and goal.grid is not None:
                goal = replace(goal, grid=coarser(goal.grid))
            return worth_folding(craft, goal)
        fold = {"open": 0.0, "closed": closed_fold(craft)}.get(way)
        if fold is None:
            fold = float(way.removeprefix(OWN))
        return worth_fixed(craft, self.plan.goal, fold)


def _plain(found: Worth) -> dict[str, object]:
    return {
        "value": np.float64(found.value),
        "mass": np.float64(found.mass_kg),
        "folds": np.array(found.folds_deg),
        "reason": found.reason,
        "active": json.dumps(found.active),
        "findings": list(found.findings),
        "rolls_to": found.rolls_to,
    }


def _worth_of(kept: Mapping[str, Any]) -> Worth:
    low, high = np.asarray(kept["folds"], float)
    return Worth(
        float(np.asarray(kept["value"])), str(kept["reason"]),
        tuple(json.loads(str(kept["active"]))), float(np.asarray(kept["mass"])),
        (float(low), float(high)),
        tuple(kept["findings"]), str(kept.get("rolls_to", "")),
    )  # fmt: skip


def digest(craft: Biplane, goal: GoalPlan) -> str:
    """Fingerprint of what a design's worth depends on: craft, its tables, goal, version.

    Bounds and number of starts are not in it, so that a search can be widened.
    """
    wing = 0.0 if craft.design is None else craft.design.square_metre_of_wing_kg
    legs = [leg.model_dump() for leg in goal.legs]
    asked = [goal.goal, goal.airspeed, goal.alpha_deg, goal.lift_N, goal.fold_deg, goal.fold_count]
    return input_digest(craft, goal.air, goal.grid or Grid(), wing, legs, asked)


class NoneAllowed(ComputationFailed):
    """The search is over, and no design that was tried is allowed."""


def design_study(
    craft: Biplane,
    plan: DesignPlan,
    *,
    store: Path | None = None,
    report: Report | None = None,
) -> DesignStudy:
    """Search for the best design, and look around it.

    Parameters
    ----------
    store : folder that keeps every finished design; None keeps nothing
    report : called with the stage, the designs worked out or recalled, and the best goal so far

    Raises
    ------
    InputRefused : the craft lacks what the goal needs, or the store belongs to another search
    NoneAllowed : no design that was tried is allowed
    """
    check_goal(craft, plan.goal)
    ask = Evaluator(craft, plan, ChunkStore(store, digest(craft, plan.goal)))
    sign, said = plan.goal.sign, report or (lambda *_: None)
    found = _Found()
    stopped = False
    try:
        found.present = ask(as_in_the_file(craft, plan))
        found.searched = search(
            lambda shares: sign * ask(plan.values(shares)).value,
            starting_points(_first(craft, plan), plan.starts),
            most=plan.most,
            report=lambda count, cost: said("search", count, sign * cost),
        )
        stopped = found.searched.stopped
        if found.searched.best is not None:
            found.best = plan.values(found.searched.best)
            found.worth = ask(found.best)
            if not stopped:
                _look_around(ask, found, said)
    except KeyboardInterrupt:
        stopped = True
    if found.best is None and not stopped:
        reason, count = ask.failures.most_common(1)[0]
        raise NoneAllowed(f"no design that was tried is allowed; {count} times: {reason}")
    return DesignStudy(
        craft, plan, found.present, found.searched, found.best, found.worth, found.fixed,
        tuple(found.sides), found.trade, tuple(ask.failures.most_common()), ask.solved,
        ask.recalled, stopped, found.gain_half_width,
    )  # fmt: skip


@dataclass
class _Found:
    """What a study has found when it is stopped."""

    present: Worth | None = None
    searched: Searched | None = None
    best: Values | None = None
    worth: Worth | None = None
    fixed: dict[str, Worth] = field(default_factory=dict)
    sides: list[Side] = field(default_factory=list)
    trade: Trade | None = None
    gain_half_width: float = float("nan")


def _first(craft: Biplane, plan: DesignPlan) -> list[float]:
    """Where the first start stands: the file's own values, cut to the bounds."""
    present = [present_value(craft, key.name) for key in plan.keys]
    return [
        0.5 if value is None else key.share(value)
        for key, value in zip(plan.keys, present, strict=True)
    ]


def as_in_the_file(craft: Biplane, plan: DesignPlan) -> Values:
    """The file's own values of the keys that are no keys of the file: the fold that it holds."""
    present = present_value(craft, FOLD) if any(k.name == FOLD for k in plan.keys) else None
    return {} if present is None else {FOLD: present}


def _look_around(ask: Evaluator, found: _Found, said: Report) -> None:
    """Fixed craft, sensitivity and trade at the best design."""
    plan, best = ask.plan, found.best
    assert best is not None and found.worth is not None
    found.gain_half_width = _gain_half_width(ask, found)
    held = {name: value for name, value in best.items() if name != FOLD}
    if plan.goal.goal != "rolling moment" and ask.craft.tips:
        for way in ("open", "closed"):
            found.fixed[way] = ask(held, way)
        own = round(float(np.mean(found.worth.folds_deg)), 2)
        if own != 0.0 and plan.goal.goal not in OF_THE_LATTICE:
            found.fixed["own"] = ask(held, f"{OWN}{own}")
    for done, key in enumerate(plan.keys):
        said("sensitivity", done, found.worth.value)
        found.sides += [_side(ask, best, key, sense) for sense in (1.0, -1.0)]
    active = dict.fromkeys([*found.worth.active, *_forbidding(ask, found)])
    found.worth = replace(found.worth, active=tuple(active))
    if plan.trade_key is None:
        return
    key = plan.key(plan.trade_key)
    values = np.unique(np.append(np.linspace(key.low, key.high, plan.trade_points), best[key.name]))
    folding, fixed = [], []
    for done, value in enumerate(values):
        said("trade", done, found.worth.value)
        folding.append(ask(best | {key.name: float(value)}))
        if found.fixed and key.name != FOLD:
            fixed.append(ask(held | {key.name: float(value)}, "open"))
    found.trade = Trade(key.name, tuple(map(float, values)), tuple(folding), tuple(fixed))


def _gain_half_width(ask: Evaluator, found: _Found) -> float:
    """Half-width of the lattice in the difference to the present craft; NaN if not known."""
    grid, present = ask.plan.goal.grid, found.present
    assert found.best is not None and found.worth is not None
    if grid is None or coarser(grid) == grid or present is None or present.reason:
        return float("nan")
    rough = [ask(v, COARSER).value for v in (found.best, as_in_the_file(ask.craft, ask.plan))]
    shown = half_width(found.worth.value - present.value, rough[0] - rough[1], 0.0, grid)
    return float(shown + GAIN_FLOOR * abs(present.value) * refinement(grid))


def _forbidding(ask: Evaluator, found: _Found) -> list[str]:
    """What forbids a small step of a key to a side that the other side shows to be the better."""
    assert found.best is not None and found.worth is not None
    plan, value, reasons = ask.plan, found.worth.value, []
    for side, other in zip(found.sides, _swapped(found.sides), strict=True):
        if side.worth is None or not side.worth.reason:
            continue
        gain = 0.0 if other.worth is None else plan.goal.sign * (value - other.worth.value)
        if gain > 0.0:  # NaN, where that is not allowed either, is no gain
            continue
        key = plan.key(side.key)
        size = min(abs(side.step), EDGE * (key.high - key.low))
        step = found.best[key.name] + float(np.copysign(size, side.step))
        reasons.append(ask(found.best | {key.name: step}).reason)
    return [reason for reason in reasons if reason]


def _swapped(sides: Sequence[Side]) -> list[Side]:
    """Of every key's two sides the other one."""
    return [sides[i ^ 1] for i in range(len(sides))]


def _side(ask: Evaluator, best: Values, key: SearchKey, sense: float) -> Side:
    """The goal a step to one side of the best design."""
    value = best[key.name]
    size = max(SIDE_STEP * abs(value), LEAST_STEP * (key.high - key.low))
    room = key.high - value if sense > 0.0 else value - key.low
    if room < AT_BOUND * (key.high - key.low):
        return Side(key.name, sense * size, None)
    step = sense * min(size, room)
    return Side(key.name, step, ask(best | {key.name: value + step}))
