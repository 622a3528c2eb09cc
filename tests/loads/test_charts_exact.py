"""Charts against solving every fold, over random craft; and what studies decide on them."""

import json
import re
from collections.abc import Mapping

import numpy as np
import pytest
from random_craft import random_case

from vlm.cli.main import main
from vlm.description import FoldAngles
from vlm.description.models import Biplane
from vlm.lattice.cellule import Grid
from vlm.loads.fold_engine import FoldEngine
from vlm.loads.loads_chart import TOLERANCE, ChartedLoads
from vlm.loads.misses import COEFFICIENTS, compared_numbers
from vlm.loads.sizes import natural_sizes
from vlm.loads.state import FlightState

GRID = Grid(2, 6)
STATES = FlightState(alpha=np.radians([-2.0, 4.0, 10.0]))
CRAFT, PLACES = 10, 20
LEAST_COVERED = 0.95
"""Share of the numbers whose largest miss lies within the error that goes with them."""
GROWN = 5e-3, 0.05
"""Of a bank history that departs, which a small difference grows in: share [1], and degrees."""
ROUNDED = 0.02
"""Numbers within texts are printed with two digits at the least [1]."""
NUMBER = re.compile(r"[+-]?\d+\.?\d*(e[+-]?\d+)?")
Numbers = Mapping[str, np.ndarray]


def limited(seed: int) -> Biplane | None:
    """A random craft whose tips fold through 50 to 200 degrees; None where it has no tips."""
    craft, rng = random_case(seed).craft, np.random.default_rng(1000 + seed)
    low, high = round(float(rng.uniform(-100, -30))), round(float(rng.uniform(20, 100)))
    limits = {"fold_min_deg": low, "fold_max_deg": high}
    keys = {f"{wing}.tips.{key}": v for wing in craft.tips for key, v in limits.items()}
    return craft.overridden(keys) if craft.tips else None


def misses(engine: FoldEngine, exact: FoldEngine, places: np.ndarray) -> tuple[Numbers, ...]:
    """Largest misses at some pairs of folds, the sizes, and the errors that were told.

    Sizes are natural ones (:mod:`vlm.loads.sizes`) of what has one, else the largest values.
    """
    worst: dict[str, float] = {}
    size: dict[str, float] = {}
    told: dict[str, float] = {}
    for left, right in places:
        folds = FoldAngles(float(left), float(right))
        read = engine.loads(folds)
        assert isinstance(read, ChartedLoads)
        guess = compared_numbers(read, STATES, sideslip=True)
        solved = exact.loads(folds)
        natural = natural_sizes(solved, STATES)
        for name, truth in compared_numbers(solved, STATES, sideslip=True).items():
            miss = float(np.max(np.abs(guess[name] - truth)))
            worst[name] = max(worst.get(name, 0.0), miss)
            own = np.max(np.abs(natural.get(name, truth)))
            size[name] = max(size.get(name, 0.0), float(own))
            told[name] = read.errors[name]
    return worst, size, told


@pytest.mark.slow
def test_random_craft_at_two_hundred_places() -> None:
    """Within twice what is allowed at the few places that a chart is held against, of each
    coefficient's size; and within the error that goes with it."""
    found, covered, seed = 0, [], 0
    while found < CRAFT:
        craft, seed = limited(seed), seed + 1
        if craft is None:
            continue
        engine = FoldEngine(craft, GRID, fold_rates=False, charted="all folds")
        chart = engine._chart
        if chart is None or chart.free_deg is None or chart._held is None:
            continue  # every fold of it is solved
        found += 1
        low, high = chart.free_deg
        shares = np.random.default_rng(seed).uniform(size=(PLACES, 2))
        exact = FoldEngine(craft, GRID, fold_rates=False)
        worst, size, told = misses(engine, exact, low + shares * (high - low))
        for name in COEFFICIENTS:
            assert worst[name] <= 2.0 * TOLERANCE * size[name], (seed, name)
        for name, miss in worst.items():
            assert miss <= 5.0 * TOLERANCE * size[name] + 1e-12, (seed, name)
            covered.append(miss <= told[name] + 1e-12)
    assert np.mean(covered) >= LEAST_COVERED


@pytest.mark.slow
@pytest.mark.parametrize("name", ["lateral", "hinge", "roll"])
def test_studies_decide_as_with_every_fold_solved(
    name: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """The same words everywhere, and numbers that differ by less than the chart's tolerance."""
    documents = []
    for more in ((), ("--exact",)):
        capsys.readouterr()
        assert main([name, "thistle", "--rows", "2", "--strips", "6", "--json", *more]) == 0
        documents.append(json.loads(capsys.readouterr().out))
    charted, exact = documents
    known = dict(leaves(exact))
    assert {where for where, _ in leaves(charted)} == known.keys()
    for where, value in leaves(charted):
        if is_number(value):
            room = GROWN if ".histories" in where else (1e-3, 2e-4)
            assert alike(value, known[where], *room), where
        else:
            pairs = zip(parts(value), parts(known[where]), strict=True)
            assert all(alike(one, two, ROUNDED) for one, two in pairs), where


def parts(value: object) -> list[object]:
    """Words and numbers of a text, one by one; anything else by itself."""
    if not isinstance(value, str):
        return [value]
    return [
        float(one) if NUMBER.fullmatch(one) else one for one in re.split(r"([\d.e+-]*\d)", value)
    ]


def alike(one: object, two: object, share: float, least: float = 2e-4) -> bool:
    """Numbers within a share of the second and a least room; anything else the same."""
    if is_number(one) and is_number(two):
        return abs(one - two) <= share * abs(two) + least  # type: ignore[operator, arg-type]
    return one == two


def is_number(value: object) -> bool:
    return isinstance(value, float | int) and not isinstance(value, bool)


def leaves(value: object, where: str = "") -> list[tuple[str, object]]:
    """All values of a document with the way to each."""
    if isinstance(value, dict):
        return [leaf for key, held in value.items() for leaf in leaves(held, f"{where}.{key}")]
    if isinstance(value, list):
        return [leaf for i, held in enumerate(value) for leaf in leaves(held, f"{where}[{i}]")]
    return [(where, value)]
