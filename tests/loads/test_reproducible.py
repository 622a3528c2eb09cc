"""The same file, options and version give the same numbers, whoever computes which part of them.

No source but the promise itself: within 1e-12 for any number of threads and workers on a machine.
"""

import json
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from sweep_cases import CRAFT, PAIRS

from vlm.study.sweep.cases import solve_cases, solver_of, units_of

LIMIT = 1e-12
MANY = replace(PAIRS, folds_deg=(-60.0, -30.0, 0.0, 20.0, 50.0, 55.0))


def test_a_case_has_the_same_numbers_alone_as_among_many() -> None:
    """Angles in many pairs get tables of their own; the first pair must have them already."""
    order = MANY.work_order()
    whole = dict(zip([c.place for c in order], solve_cases(CRAFT, MANY, order), strict=True))
    for unit in units_of(order)[::-2]:
        solver_of.cache_clear()
        for case, values in zip(unit, solve_cases(CRAFT, MANY, unit), strict=True):
            for name, value in whole[case.place].items():
                if name != "findings":
                    np.testing.assert_array_equal(values[name], value, err_msg=name)


def numbers_in(document: Any, path: str = "") -> Iterator[tuple[str, float]]:
    """Every number of a JSON document with the way to it."""
    if isinstance(document, dict | list):
        keys = document if isinstance(document, dict) else range(len(document))
        for key in keys:
            yield from numbers_in(document[key], f"{path}/{key}")
    elif isinstance(document, float) and not path.endswith(("residual", "condition")):
        yield path, document


FEW = ("--airspeeds", "12", "--load-factors", "2")
LATTICE = (
    "--rows",
    "10",
    "--strips",
    "60",
    "--no-errors",
    "--json",
)  # large enough for the linear algebra's threads
COMMANDS = [
    ("point", "tideline", "--alpha", "4", "--fold-left", "20", "--fold-right", "-40", "--json"),
    pytest.param(
        ("point", "tideline", "--alpha", "4", "--fold-left", "20", *LATTICE),
        marks=pytest.mark.slow,
    ),
    pytest.param(
        ("power", "tideline", "--fold", "0", "--airspeeds", "12,14", "--no-intervals", "--json"),
        marks=pytest.mark.slow,
    ),
    pytest.param(
        ("lateral", "tideline", "--folds", "0,20", "--alphas", "4", "--airspeeds", "12", "--json"),
        marks=pytest.mark.slow,
    ),
    pytest.param(
        ("hinge", "tideline", "--json", "--folds", "0,30", *FEW),
        marks=pytest.mark.slow,
    ),
]


@pytest.mark.parametrize("words", COMMANDS, ids=lambda words: f"{words[0]}, {len(words)} words")
def test_the_same_numbers_with_one_thread_as_with_two(words, run_foldspan) -> None:
    found = []
    for count in ("1", "2"):
        names = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS", "NUMBA_NUM_THREADS")
        done = run_foldspan(*words, **dict.fromkeys(names, count))
        assert done.returncode == 0, done.stderr[-2000:]
        found.append(dict(numbers_in(json.loads(done.stdout))))
    one, two = found
    assert one.keys() == two.keys()
    assert len(one) > 50
    apart = {k: abs(one[k] - two[k]) / max(abs(one[k]), 1e-3) for k in one}
    assert max(apart.values()) <= LIMIT, sorted(apart.items(), key=lambda item: -item[1])[:5]
