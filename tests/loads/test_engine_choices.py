"""Which way an engine answers, with made-up solves: a decision told by what was asked of whom.

The rules are those of its docstrings: up to five states, any in sideslip and all of a craft with
fins are solved each by itself; more share tables; the last 64 settings are kept.
"""

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from vlm.description.folds import FoldAngles
from vlm.description.loading import load_biplane
from vlm.lattice.cellule import Grid
from vlm.loads import fold_engine
from vlm.loads.fold_engine import (
    KEPT,
    FoldEngine,
    every_fold_solved,
    is_every_fold_solved,
)
from vlm.loads.state import FlightState

FLAT = FoldAngles()


@pytest.fixture
def asked(monkeypatch: pytest.MonkeyPatch) -> list[Any]:
    """What was asked of the made-up solves, in order."""
    found: list[Any] = []

    def tables(lattice: Any, kept: Any, *, fold_rates: bool, sideslip: bool) -> str:
        found.append(("tables", lattice, fold_rates, sideslip))
        return f"tables {lattice}"

    def states(solvers: Any, each: Any, *, fold_rates: bool) -> list[str]:
        found.append(("states", solvers, len(each), fold_rates))
        return ["solved"] * len(each)

    def relaxed(lattice: Any, one: Any) -> str:
        found.append(("relaxed", lattice, float(one.alpha)))
        return "relaxed"

    def along(lattice: Any, *, fold_rates: bool) -> str:
        found.append(("craft", lattice, fold_rates))
        return "craft"

    place = lambda cellule, craft, folds: (folds.left_deg, folds.right_deg)  # noqa: E731
    made: dict[str, Any] = {
        "stream_tables": tables, "loads_of_states": states, "relaxed_loads": relaxed,
        "craft_loads": along, "resolved": place, "Solvers": lambda lattice: lattice,
        "StatesLoads": lambda *parts: parts,
    }  # fmt: skip
    for name, fake in made.items():
        monkeypatch.setattr(fold_engine, name, fake)
    return found


def engine(**keys: Any) -> FoldEngine:
    return FoldEngine(load_biplane("plank"), Grid(2, 6), **keys)


def alphas(count: int, beta: float = 0.0) -> FlightState:
    return FlightState(alpha=np.linspace(0.0, 0.1, count), beta=np.full(count, beta))


@pytest.mark.parametrize(
    ("count", "beta", "fins", "parts"),
    [(5, 0.0, False, [5]), (6, 0.0, False, None), (6, 0.01, False, [6]), (6, 0.0, True, [6]),
     (20, 0.1, False, [8, 8, 4]), (8, 0.1, False, [8]), (9, 0.1, False, [8, 1])],
)  # fmt: skip
def test_few_states_are_solved_and_many_share_tables(
    count: int, beta: float, fins: bool, parts: list[int] | None, asked: list[Any]
) -> None:
    one = engine(fold_rates=False)
    if fins:
        one.craft = SimpleNamespace(fins=("keel",))  # type: ignore[assignment]
    found: Any = one.loads_for(FLAT, alphas(count, beta))
    if parts is None:
        assert found == "tables (0.0, 0.0)"
        assert asked == [("tables", (0.0, 0.0), False, True)]
    else:
        assert asked == [("states", (0.0, 0.0), part, False) for part in parts]
        assert found == ((count,), ["solved"] * count)


def test_wakes_along_the_craft_or_relaxed(asked: list[Any]) -> None:
    along: Any = engine(wake="craft").loads_for(FLAT, alphas(2, 0.1))
    assert (along, asked) == ("craft", [("craft", (0.0, 0.0), True)])
    relaxed = engine(wake="relaxed")
    found: Any = relaxed.loads_for(FLAT, alphas(2))
    assert found == ((2,), ["relaxed", "relaxed"])
    assert asked[1:] == [("relaxed", (0.0, 0.0), 0.0), ("relaxed", (0.0, 0.0), 0.1)]
    with pytest.raises(ValueError, match="ask loads_for"):
        relaxed.loads(FLAT)


def test_settings_are_kept_and_the_one_unused_longest_goes_first(asked: list[Any]) -> None:
    one = engine()
    settings = [FoldAngles(float(i), 0.0) for i in range(KEPT)]
    for folds in settings:
        one.loads(folds)
    assert (KEPT, len(asked)) == (64, 64)
    one.loads(settings[0])  # used again: the second is the oldest now
    assert len(asked) == 64
    one.loads(FoldAngles(-1.0, 0.0))
    one.loads(settings[0])
    assert len(asked) == 65
    one.loads(settings[1])
    assert len(asked) == 66


def test_sideslip_is_solved_for_as_the_engine_or_the_question_says(asked: list[Any]) -> None:
    engine(sideslip=False).loads(FLAT)
    engine(sideslip=False).loads(FLAT, sideslip=True)
    engine().loads(FLAT)
    engine().loads(FLAT, sideslip=False)
    assert [one[3] for one in asked] == [False, True, True, False]


def test_a_chart_is_read_where_there_is_one(
    asked: list[Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Of a craft with tips, unless every fold is to be solved; what it lacks is solved."""
    made: list[Any] = []

    def chart(*arguments: Any, **keys: Any) -> Any:
        made.append((arguments[2:], keys))
        return SimpleNamespace(read=lambda folds: "read" if folds.left_deg < 10.0 else None)

    monkeypatch.setattr(fold_engine, "LoadsChart", chart)
    craft = load_biplane("tideline")
    keys: dict[str, Any] = {"fold_rates": False, "charted": "all folds", "apart_deg": 3.0}
    one = FoldEngine(craft, Grid(2, 6), **keys)
    assert (one.loads(FLAT), asked) == ("read", [])
    one.loads(FoldAngles(20.0, 20.0))
    assert len(asked) == 1
    assert made == [((Grid(2, 6), craft.fold_range_deg),
                     {"pairs": True, "apart_deg": 3.0, "sideslip": True})]  # fmt: skip
    assert not is_every_fold_solved()
    with every_fold_solved():
        assert is_every_fold_solved()
        FoldEngine(craft, Grid(2, 6), **keys).loads(FLAT)
    assert (len(asked), is_every_fold_solved()) == (2, False)
    like = FoldEngine(craft, Grid(2, 6), fold_rates=False, charted="like folds")
    like.loads(FLAT)
    assert made[1][1]["pairs"] is False
    FoldEngine(load_biplane("plank"), Grid(2, 6), fold_rates=False, charted="like folds").loads(
        FLAT
    )
    assert len(made) == 2
    assert len(asked) == 3
