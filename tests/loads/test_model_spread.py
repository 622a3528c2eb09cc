"""The model's allowance for the wake, held on random craft that it was not fitted to.

It was fitted on seeds 0 to 159 and 1000 to 1119 of ``random_craft``, see
``benchmarks/model_spread.py``. Truth here is a wake that follows the flow.
"""

import sys
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from random_craft import random_case

sys.path.insert(0, str(Path(__file__).parents[2] / "benchmarks"))
from model_spread import Moved, all_moved, stretched

from vlm.lattice.cellule import Grid
from vlm.lattice.lattice import build_lattice
from vlm.loads.craft_loads import craft_loads
from vlm.loads.many_wakes import stream_loads
from vlm.loads.model_spread import ALONG_WINGS, SHARE, wake_spread
from vlm.loads.state import FlightState

COARSE = Grid(6, 14)
SHARES = SHARE | ALONG_WINGS
WANTED = 0.95


@pytest.fixture(scope="module")
def dozen() -> list[Moved]:
    return list(all_moved(range(3000, 3012), Grid(4, 12)))


@pytest.fixture(scope="module")
def hundred() -> Iterator[list[Moved]]:
    return list(all_moved(range(2000, 2100), COARSE))


def covered(cases: list[Moved], name: str) -> np.ndarray:
    """Whether each number lies within its allowance."""
    return np.array([one.ratio <= SHARES[name] for one in cases if one.name == name])


@pytest.mark.parametrize("name", SHARES)
def test_a_dozen_random_craft_lie_within(name: str, dozen: list[Moved]) -> None:
    assert np.mean(covered(dozen, name)) >= 0.8


@pytest.mark.slow
@pytest.mark.parametrize("name", SHARES)
def test_95_of_100_random_craft_and_folds_lie_within(name: str, hundred: list[Moved]) -> None:
    found = covered(hundred, name)
    ratios = [SHARES[name] / one.ratio for one in hundred if one.name == name and one.change != 0.0]
    print(f"{name}: {100.0 * found.mean():.1f} %, median over-wide {np.median(ratios):.1f}")
    assert found.mean() >= WANTED
    assert np.median(ratios) < 12.0


def test_it_is_a_function_of_states_of_any_shape() -> None:
    case = stretched(random_case(2))
    lattice = build_lattice(case.craft, case.folds, Grid(3, 10))
    alphas = np.radians([[0.0, 4.0, 8.0], [1.0, 2.0, 3.0]])
    for loads in (craft_loads(lattice, fold_rates=False), stream_loads(lattice, fold_rates=False)):
        many = wake_spread(loads, FlightState(alpha=alphas, beta=np.zeros_like(alphas)))
        one = wake_spread(loads, FlightState(alpha=float(alphas[0, 2])))
        for name in SHARE:
            assert many[name].shape == alphas.shape
            assert many[name][0, 2] == pytest.approx(float(one[name]), rel=1e-9)
            assert np.all(many[name] >= 0.0)
