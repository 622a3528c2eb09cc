"""Verdicts in flight past stall, and airspeeds at which the wings cannot carry the craft."""

import functools

import pytest

from vlm.constants import GRAVITY
from vlm.description import load_biplane
from vlm.flight.motion.roll_authority import Air
from vlm.lattice.cellule import Grid
from vlm.study.lateral_results import Derivatives, LateralStudy
from vlm.study.lateral_study import LateralPlan, lateral_study
from vlm.verdicts import SIGN_NOT_KNOWN

GRID = Grid(2, 8)


@functools.cache
def study(airspeed: float, fold: float, *changes: str) -> LateralStudy:
    plan = LateralPlan(Air(airspeed, 1.225), (fold,), (13.0,), grid=GRID)
    return lateral_study(load_biplane("tideline", list(changes)), plan)


def past_stall(highest_lift: float) -> Derivatives:
    """At 13 degrees with the tips up, some strips past their stall."""
    return study(13.0, 30.0, f"sections.foil.cl_max={highest_lift}").folds[0].alphas[0]


def test_what_stalled_sections_change_is_left_open() -> None:
    """Highest lift of the section 0.15 less and more: what a polar is known to at low Reynolds
    numbers (common practice). It moves the derivative by more than lattice and wake leave open."""
    middle, lower, higher = (past_stall(lift) for lift in (1.15, 1.0, 1.3))
    values = [one.body["Cl_beta"] for one in (middle, lower, higher)]
    moved = max(abs(value - values[0]) for value in values)
    assert higher.dihedral_effect == "stable"  # not yet stalled there
    attached = higher.errors["Cl_beta"] + higher.spread["Cl_beta"]
    width = middle.errors["Cl_beta"] + middle.spread["Cl_beta"]
    assert 2.0 * attached < moved < width
    assert middle.dihedral_effect == SIGN_NOT_KNOWN


def test_level_flight_past_stall_is_warned_of() -> None:
    """Flared tips take incidence as they fold; the margin stands beside the level flight."""
    stalled = study(13.0, -60.0, "upper.tips.flare_deg=20")
    level = stalled.folds[0].level
    assert level is not None
    assert level.stall_margin_deg is not None
    assert level.stall_margin_deg < 0.0
    said = [one.sentence() for one in stalled.findings if one.code == "level_flight_stalled"]
    assert len(said) == 1
    assert "strips past their stall: -60 deg; the least margin" in said[0]
    clear = study(13.0, 30.0, "sections.foil.cl_max=1.3")
    assert "level_flight_stalled" not in [one.code for one in clear.findings]


def test_an_airspeed_that_is_too_slow_names_one_that_is_not() -> None:
    """The airspeed that the warning names is flown: level flight is found there."""
    slow = [one for one in study(7.0, 30.0).findings if one.code == "too_slow"]
    assert len(slow) == 1
    assert slow[0].value == 7.0
    assert slow[0].remedy == f"ask for --airspeed {slow[0].limit:g}"
    level = study(slow[0].limit, 30.0).folds[0].level
    assert level is not None
    lift = level.CL * 0.5 * 1.225 * slow[0].limit ** 2 * 0.4080
    assert lift == pytest.approx(2.1 * GRAVITY, rel=0.03)  # thrust carries a little of the weight
