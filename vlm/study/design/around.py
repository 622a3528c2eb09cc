"""What surrounds a best design: the goal a step of each key away, and what forbids a better one."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from vlm.study.design.changes import SearchKey
from vlm.study.design.evaluator import FREE, Evaluator, Values
from vlm.study.design.goals import Worth
from vlm.study.design.search import LEAST_CHANGE

SIDE_STEP = 0.05
"""Step of the sensitivity, in shares of a key's value [1]."""
LEAST_STEP = 0.01
"""Least step of the sensitivity, in shares of the bounds [1]."""
AT_BOUND = 0.01
"""Distance from a bound at which it counts as active, in shares of the bounds [1]."""
EDGE = 0.02
"""Step over which the best stands at what forbids it, in shares of the bounds [1]."""


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


def side_of(ask: Evaluator, best: Values, key: SearchKey, sense: float) -> Side:
    """The goal a step to one side of the best design."""
    value = best[key.name]
    size = max(SIDE_STEP * abs(value), LEAST_STEP * (key.high - key.low))
    room = key.high - value if sense > 0.0 else value - key.low
    if room < AT_BOUND * (key.high - key.low):
        return Side(key.name, sense * size, None)
    step = sense * min(size, room)
    return Side(key.name, step, ask(best | {key.name: value + step}))


def forbidding(
    ask: Evaluator, best: Values, worth: Worth, sides: Sequence[Side], noise: float
) -> list[str]:
    """What forbids a step of a key that would be better: no fold within it, or only a worse one.

    Parameters
    ----------
    worth, sides : of the best design, and a step to either side of every key
    noise : standard deviation of the goal's, NaN where it is not known
    """
    least = max(LEAST_CHANGE * abs(worth.value), 0.0 if np.isnan(noise) else 2.0 * noise)
    found: list[str] = []
    for side, other in zip(sides, _swapped(sides), strict=True):
        # NaN, where that is not allowed either, is no gain.
        if side.worth is None or (other.worth is not None and _gain(ask, worth, other.worth) > 0.0):
            continue
        named = [name for name in side.worth.active if name not in worth.active]
        if not side.worth.reason and (not named or _gain(ask, worth, side.worth) > 0.0):
            continue
        near = ask(_stepped(ask, best, side))
        if near.reason:
            found.append(near.reason)
        elif not side.worth.reason and _gain(ask, worth, near) < -least:
            way = FREE + ", ".join(named)
            freed = ask(best, way), ask(best | {side.key: best[side.key] + side.step}, way)
            found += named if _gain(ask, *freed) > least else []
    return list(dict.fromkeys(found))


def _gain(ask: Evaluator, here: Worth, there: Worth) -> float:
    """By how much a design is better than another; NaN where one of them is not allowed."""
    return ask.plan.goal.sign * (here.value - there.value)


def _stepped(ask: Evaluator, best: Values, side: Side) -> Values:
    """The best design with a small step to a side."""
    key = ask.plan.key(side.key)
    size = min(abs(side.step), EDGE * (key.high - key.low))
    return best | {side.key: best[side.key] + float(np.copysign(size, side.step))}


def _swapped(sides: Sequence[Side]) -> list[Side]:
    """Of every key's two sides the other one."""
    return [sides[i ^ 1] for i in range(len(sides))]
