"""Designs worked out each once: the file's craft with keys at some values, in one of some ways."""

import json
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from vlm.constants import Floats
from vlm.description.models import Biplane
from vlm.errors import InputRefused
from vlm.flight.plan.lifted import without
from vlm.lattice.cellule import Grid
from vlm.study.design.changes import FOLD, SearchKey, designed
from vlm.study.design.goals import GoalPlan, Worth, closed_fold
from vlm.study.design.goals import fixed_worth as worth_fixed
from vlm.study.design.goals import worth as worth_folding
from vlm.study.kept_trims import input_digest, numbered
from vlm.study.point.errors import coarser
from vlm.study.store import ChunkStore

COARSER = "folding, coarser"
"""On a coarser lattice, as a way to work a design out."""
OWN = "own "
"""In front of the fold at which the best design is flown, as a way to fix it."""
FREE = "without "
"""In front of the constraints, parted by commas, that are not asked for."""
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
        """The worth of a design: folding, "without" some constraints, or fixed "open", "closed" or
        "own FOLD"."""
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
        if way.startswith(FREE) and craft.schedule is not None:
            lifted = without(craft.schedule, way.removeprefix(FREE).split(", "))
            craft, way = craft.model_copy(update={"schedule": lifted}), "folding"
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
