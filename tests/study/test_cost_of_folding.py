"""What a sweep says that folding costs: at the same lift only where the sweep holds it."""

import re

import numpy as np
import pytest
import xarray as xr
from core_craft import biplane
from scipy.optimize import brentq
from sweep_cases import GRID, dataset_of

from vlm.description.folds import FoldAngles
from vlm.loads.coefficients import coefficients
from vlm.loads.fold_engine import FoldEngine
from vlm.loads.state import FlightState
from vlm.show.tables.sweep import sweep_table
from vlm.show.text.sweep_answer import cost_of_folding
from vlm.study.sweep.plan import SweepPlan

FOLDS = (-40.0, 0.0, 40.0)
FLARED = biplane(gap=0.2, tips={"flare_deg": 20.0, "fold_min_deg": -95.0, "fold_max_deg": 60.0})


def plan(*alphas: float, errors: bool = False) -> SweepPlan:
    return SweepPlan(FOLDS, alphas, grid=GRID, errors=errors)


def drag_at(fold: float, lift: float) -> float:
    """Induced drag at a lift: the angle is found, and solved there by itself."""
    loads = FoldEngine(FLARED, GRID).loads(FoldAngles.symmetric(fold))

    def apart(alpha: float) -> float:
        return coefficients(loads, FlightState(alpha=alpha)).CL - lift

    return coefficients(loads, FlightState(alpha=brentq(apart, -0.3, 0.5, xtol=1e-10))).CDi


def said(text: str) -> tuple[float, float, float, float]:
    """Lift, fold of the least drag, per cent more, and the fold of the most."""
    words = " ".join(text.split())
    found = re.search(
        r"same lift \(CL ([\d.]+)\), induced drag is least at (\S+) deg (?:\(.*?\) )?and ([\d.]+)"
        r"(?: ± [\d.]+)? % more at (\S+) deg",
        words,
    )
    assert found, words
    return tuple(map(float, found.groups()))  # type: ignore[return-value]


def test_drag_at_the_same_lift_is_that_of_solves_at_that_lift() -> None:
    """Flared tips: twist by fold. Held against solves of each fold at the very lift; 0.5 %."""
    swept = dataset_of(FLARED, plan(0.0, 4.0, 8.0))
    lift, best, more, worst = said(sweep_table(swept))
    exact = float(swept["CL"].sel(fold=0.0, alpha=4.0).item())
    assert lift == pytest.approx(exact, abs=6e-4)
    drags = {fold: drag_at(fold, exact) for fold in FOLDS}
    assert (best, worst) == (min(drags, key=drags.__getitem__), max(drags, key=drags.__getitem__))
    assert 1.0 + more / 100.0 == pytest.approx(drags[worst] / drags[best], rel=0.005)
    # The span efficiency at one angle says something else: lifts there are not the same.
    efficiency = swept["span_efficiency"].sel(alpha=4.0).values.ravel()
    assert efficiency.max() / efficiency.min() > 1.2 * drags[worst] / drags[best]


def test_one_angle_of_attack_does_not_speak_of_the_same_lift() -> None:
    """Each fold carries another lift there (its lift is in the table below the sentence)."""
    text = sweep_table(dataset_of(FLARED, plan(4.0)))
    assert "same lift" not in text
    assert "At 4 deg angle of attack induced drag over lift squared is least at 0 deg" in text


def given(efficiency: list[float], error: list[float]) -> xr.Dataset:
    """A sweep at one angle with given span efficiencies and their half-widths."""
    lift = [0.4] * len(efficiency)
    data = {
        "CL": ("fold", lift), "CL_error": ("fold", [0.001] * len(lift)),
        "span_efficiency": ("fold", efficiency), "span_efficiency_error": ("fold", error),
    }  # fmt: skip
    return xr.Dataset(data, {"fold": np.arange(len(lift)) * 10.0, "alpha": 4.0})


def test_the_error_of_a_quotient_is_that_of_both_its_parts() -> None:
    """Held against the quotient with both intervals at their ends (arithmetic of intervals)."""
    text = cost_of_folding(given([1.0, 0.1], [0.001, 0.01]))
    found = re.search(r"and (\d+) ± (\d+) % more", text)
    assert found, text
    more, width = map(float, found.groups())
    highest, lowest = 1.001 / 0.09, 0.999 / 0.11
    assert more == pytest.approx(900.0)
    assert width == pytest.approx(50.0 * (highest - lowest), rel=0.03)


def test_folds_that_are_not_known_apart_from_the_best_are_named() -> None:
    """Intervals that overlap leave the order open."""
    text = cost_of_folding(given([1.0, 0.995, 0.8], [0.004, 0.004, 0.004]))
    assert "is least at 0° (not known apart from 10°) and" in text
    apart = cost_of_folding(given([1.0, 0.95, 0.8], [0.004, 0.004, 0.004]))
    assert "not known apart" not in apart.partition(";")[0]


def test_without_an_error_the_text_says_so() -> None:
    """A half-width that is not a number is none; digits are those of a share then."""
    nan = float("nan")
    text = cost_of_folding(given([1.0, 0.7812], [nan, nan]))
    assert "28 % more at 10°" in text
    assert text.endswith(" The error is not known on this lattice.")
    bare = given([1.0, 0.7812], [nan, nan]).drop_vars("span_efficiency_error")
    assert cost_of_folding(bare).endswith(" No error was estimated.")
    assert "rror" not in cost_of_folding(given([1.0, 0.7812], [0.001, 0.001]))
