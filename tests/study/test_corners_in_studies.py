"""A corner that may be open or closed stands in the errors of lateral, roll and hinge.

Two routes to the same numbers: the studies read tables of a fold about the centre of gravity, a
point evaluates one state about the moment point.
"""

from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np
import pytest
from thin_craft import naming

from vlm.description.folds import FoldAngles
from vlm.description.loading import load_biplane
from vlm.description.models import Biplane
from vlm.flight.craft.folding_craft import FoldingCraft
from vlm.flight.craft.level import highest_load_factor, level_flight
from vlm.flight.craft.model_spread import moment_spread
from vlm.flight.craft.rotor_slopes import rotor_slopes
from vlm.flight.mechanism.drive_limits import holding_margin
from vlm.flight.mechanism.hinge_moments import hinge_moments, worst_moment
from vlm.flight.motion.roll_authority import Air
from vlm.lattice.cellule import Grid
from vlm.loads.state import FlightState
from vlm.study.compare.numbers import Entry, folding_craft, lattice_sheet
from vlm.study.hinge.errors import hinge_half_widths
from vlm.study.hinge.results import HingePlan
from vlm.study.hinge.study import hinge_study
from vlm.study.lateral.study import LateralPlan, lateral_study
from vlm.study.point.document import point_document
from vlm.study.point.errors import coarser
from vlm.study.point.point import solve_point

GRID = Grid(4, 10)
AIR = Air(12.0, 1.225)
CONTACT = -90.0


def pointed(fold: float, alpha_deg: float, airspeed: float) -> Any:
    state = FlightState(alpha=np.radians(alpha_deg), airspeed=airspeed)
    craft = load_biplane("tideline")
    return point_document(solve_point(craft, FoldAngles.symmetric(fold), state, grid=GRID))


@cache
def lateral() -> Any:
    plan = LateralPlan(AIR, (CONTACT, -85.0, -60.0), alphas_deg=(4.0,), grid=GRID)
    return lateral_study(load_biplane("tideline"), plan)


def test_the_spread_of_the_dihedral_effect_is_that_of_a_point() -> None:
    """Apart from half of what the rotors' forces across their axes add."""
    row = lateral().folds[0]
    assert row.joined
    craft = load_biplane("tideline")
    folded = FoldingCraft(craft, GRID, sideslip=True).symmetric(CONTACT)
    rotors = rotor_slopes(craft, folded, np.radians(4.0), AIR.airspeed, AIR.density)
    spread = pointed(CONTACT, 4.0, 12.0)["model_spread"]
    for name in ("Cl_beta", "Cn_beta"):
        own = row.alphas[0].spread[name] - rotors[name][1]
        assert own == pytest.approx(spread[name], rel=1e-3)


def test_no_fold_without_dihedral_effect_is_found_across_contact() -> None:
    """Cl_beta jumps where the tip touches: a jump is no root."""
    first, second = lateral().folds[:2]
    assert first.level.body["Cl_beta"] < 0.0 < second.level.body["Cl_beta"]
    assert first.level.dihedral_effect == "sign not known"
    assert lateral().neutral_folds == ()


def test_the_corner_stands_in_the_error_of_a_rolling_moment() -> None:
    craft = FoldingCraft(load_biplane("tideline"), GRID)
    one_closed = craft.at(FoldAngles(CONTACT, 0.0))
    flight = level_flight(one_closed, 12.0, 1.225)
    assert flight is not None
    width = moment_spread(one_closed, flight)[0]
    of_wake = moment_spread(replace(one_closed, other_corners=tuple), flight)[0]
    opened = [
        one.wrenches_without_sections(flight.motion[None, :], 1.225)[0, 3]
        for one in one_closed.other_corners()
    ]
    closed = one_closed.wrenches_without_sections(flight.motion[None, :], 1.225)[0, 3]
    assert len(opened) == 1
    assert width - of_wake == pytest.approx(abs(opened[0] - closed), rel=1e-9)
    assert width - of_wake > 0.01 * abs(closed)


def test_the_corner_stands_in_the_error_of_a_hinge_moment() -> None:
    craft = load_biplane("tideline")
    folding, coarse = (FoldingCraft(craft, grid, sections=False) for grid in (GRID, coarser(GRID)))
    box, rough = folding.symmetric(CONTACT), coarse.symmetric(CONTACT)
    flight = level_flight(box, 12.0, 1.225)
    assert flight is not None
    both, wake = (
        hinge_half_widths(one, rough, folding.engine.cellule, flight)["upper_left"]
        for one in (box, replace(box, other_corners=tuple))
    )
    slit = load_biplane("tideline").overridden({"arrangement.gap_m": 0.36 + 0.003 * 0.17})
    state = FlightState(alpha=flight.alpha, airspeed=12.0)
    moments = [
        point_document(
            solve_point(one, FoldAngles.symmetric(CONTACT), state, grid=GRID, errors=False)
        )["hinges"]["upper_left"]["moment_N_m"]
        for one in (craft, slit)
    ]
    assert both - wake == pytest.approx(abs(moments[1] - moments[0]), rel=0.02)


@cache
def hinge() -> Any:
    plan = HingePlan(AIR, (CONTACT, 0.0), load_factors=(1.0,), grid=GRID)
    return hinge_study(weaker_hinge(), plan).document()


def weaker_hinge() -> Biplane:
    """The demo craft with hinges that fail within the range of airspeeds, and without moves."""
    return naming(load_biplane("tideline").overridden({"actuator.hinge_moment_limit_N_m": 2.0}))


@pytest.mark.parametrize("index", [0, 1])
def test_the_error_of_a_hinge_moment_is_near_that_of_a_point(index: int) -> None:
    row = hinge()["moments"][index]
    width = row["hinges"]["upper_left"]["half_width_N_m"]
    at = pointed(row["fold_deg"], row["alpha_deg"], 12.0)
    spread = at["model_spread"]["hinge_moment_upper_left_N_m"]
    whole = spread + at["error_estimate"]["hinge_moment_upper_left_N_m"]
    assert spread < width < 1.5 * whole


def test_at_the_lower_end_of_a_limit_the_moment_and_its_error_reach_what_is_allowed() -> None:
    craft = weaker_hinge()
    held = hinge()["limits"]["held"]
    folding = FoldingCraft(craft, GRID)
    assert craft.actuator is not None
    margin = holding_margin(folding, craft.actuator, 1.225)
    low = held["airspeed_m_s"] - held["half_width_m_s"]
    left, at = margin(low, held["fold_deg"]), folding.symmetric(held["fold_deg"])
    flight = highest_load_factor(at, low, 1.225, craft.actuator.load_factor_limit)
    assert left is not None
    assert flight is not None
    rough = FoldingCraft(craft, coarser(GRID), sections=False).symmetric(held["fold_deg"])
    widths = hinge_half_widths(at, rough, folding.engine.cellule, flight)
    rate = float(np.radians(craft.actuator.design_roll_rate_deg_s))
    worst = {body: abs(worst_moment(one)) for body, one in hinge_moments(at, flight, rate).items()}
    most = max(worst, key=lambda body: worst[body])
    limit = craft.actuator.hinge_moment_limit_N_m
    assert limit is not None
    assert left == pytest.approx(1.0 - worst[most] / limit, rel=1e-6)
    assert worst[most] + widths[most] == pytest.approx(limit, rel=0.01)


def test_compared_slopes_and_hinges_hold_what_corners_leave_open() -> None:
    """The same level flight by ``lateral`` and ``hinge``: no sign is known to one of them alone."""
    craft = load_biplane("tideline")
    entry = Entry("box", craft, FoldAngles.symmetric(CONTACT))
    state = FlightState(alpha=0.07, airspeed=AIR.airspeed, density=AIR.density)
    sheet = lattice_sheet(entry, state, AIR, GRID, None, folding_craft(craft, GRID))
    level = lateral().folds[0].level
    for name in ("Cl_beta", "Cn_beta"):
        open_to = sheet.wake[name] + sheet.corner[name]
        assert sheet.values[name] == pytest.approx(level.body[name], abs=1e-6)
        assert open_to == pytest.approx(level.spread[name], rel=1e-3)
    folding = folding_craft(craft, GRID)
    assert folding is not None
    box = folding.symmetric(CONTACT)
    flight = level_flight(box, AIR.airspeed, AIR.density)
    assert flight is not None
    with_corners, without = (
        hinge_half_widths(one, one, folding.engine.cellule, flight)["upper_left"]
        for one in (box, replace(box, other_corners=tuple))
    )
    assert sheet.corner["hinge_moment_N_m"] == pytest.approx(with_corners - without, rel=1e-3)
    assert sheet.corner["hinge_moment_N_m"] > 0.0
    apart = Entry("apart", craft, FoldAngles.symmetric(-45.0))
    other = lattice_sheet(apart, state, AIR, GRID, None, folding_craft(craft, GRID))
    assert other.corner["Cn_beta"] == other.corner["hinge_moment_N_m"] == 0.0
