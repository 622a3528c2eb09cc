"""The study behind ``foldspan design``: the best design, and what surrounds it."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np

from vlm.description.models import Biplane
from vlm.errors import ComputationFailed
from vlm.findings import Finding
from vlm.study.design.around import Side, forbidding, side_of
from vlm.study.design.changes import FOLD, designed, present_value
from vlm.study.design.evaluator import COARSER, OWN, DesignPlan, Evaluator, Values, digest
from vlm.study.design.goals import OF_THE_LATTICE, Worth, check_goal
from vlm.study.design.search import Searched, search, starting_points
from vlm.study.design.stability import stability_lost
from vlm.study.point.errors import coarser, half_width, refinement
from vlm.study.store import ChunkStore

GAIN_FLOOR = 1e-4
"""Share of the present goal by which a gain may err though two lattices agree, on the default
lattice: of 48 changes of five craft on 4 x 16 it covers all, and 46 without it [1]."""
Report = Callable[[str, int, float], None]


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
    lost : what the best is less stable in than the file's craft
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
    lost: tuple[Finding, ...] = ()


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
                found.lost = _lost(ask, found)
                _look_around(ask, found, said)
    except KeyboardInterrupt:
        stopped = True
    if found.best is None and not stopped:
        reason, count = ask.failures.most_common(1)[0]
        raise NoneAllowed(
            f"no design that was tried is allowed; {count} times: {reason}; foldspan"
            f" {'mission' if plan.goal.goal == 'energy' else 'schedule'} says of one craft what is"
            " short and what to change"
        )
    return DesignStudy(
        craft, plan, found.present, found.searched, found.best, found.worth, found.fixed,
        tuple(found.sides), found.trade, tuple(ask.failures.most_common()), ask.solved,
        ask.recalled, stopped, found.gain_half_width, found.lost,
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
    lost: tuple[Finding, ...] = ()


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
        found.sides += [side_of(ask, best, key, sense) for sense in (1.0, -1.0)]
    noise = float("nan") if found.searched is None else found.searched.noise
    forbids = forbidding(ask, best, found.worth, found.sides, noise)
    active = dict.fromkeys([*found.worth.active, *forbids])
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


def _lost(ask: Evaluator, found: _Found) -> tuple[Finding, ...]:
    """What the best is less stable in than the file's craft, each at the middle of its folds."""
    best, worth, present = found.best, found.worth, found.present
    assert best is not None and worth is not None
    own = float(np.mean(worth.folds_deg))
    was = own if present is None or present.reason else float(np.mean(present.folds_deg))
    return stability_lost(ask.craft, designed(ask.craft, best), (was, own), ask.plan.goal.alpha_deg)


def _gain_half_width(ask: Evaluator, found: _Found) -> float:
    """Half-width of the lattice in the difference to the present craft; NaN if not known."""
    grid, present = ask.plan.goal.grid, found.present
    assert found.best is not None and found.worth is not None
    if grid is None or coarser(grid) == grid or present is None or present.reason:
        return float("nan")
    rough = [ask(v, COARSER).value for v in (found.best, as_in_the_file(ask.craft, ask.plan))]
    shown = half_width(found.worth.value - present.value, rough[0] - rough[1], 0.0, grid)
    return float(shown + GAIN_FLOOR * abs(present.value) * refinement(grid))
