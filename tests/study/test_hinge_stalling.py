"""Airspeed limits of tips are looked for between the airspeeds at which wings stall, too."""

import numpy as np
import pytest

from vlm.description.loading import load_biplane
from vlm.flight.craft.folding_craft import FoldingCraft
from vlm.flight.craft.level import highest_load_factor
from vlm.flight.mechanism.drive_limits import looked_at, stalling_airspeeds
from vlm.flight.motion.roll_authority import Air
from vlm.lattice.cellule import Grid
from vlm.study.hinge.moves import limits
from vlm.study.hinge.results import HingePlan

GRID = Grid(rows=2, strips=6)
LOW, HIGH, DENSITY = 12.0, 72.0, 1.225


def test_airspeeds_stand_close_until_the_load_factor_is_reached() -> None:
    """The load factors of every airspeed, found one by one, say from where on 3.5 g are flown."""
    folding = FoldingCraft(load_biplane("tideline"), GRID)
    craft = folding.symmetric(0.0)
    found = stalling_airspeeds(folding, (0.0,), LOW, HIGH, DENSITY, 3.5)
    steps = np.array([*found[1:], found[-1]]) / found
    assert steps.max() < 1.0401
    assert found[0] < 1.0401 * LOW
    reached = {}
    for speed in np.arange(LOW, 30.0, 0.5):
        flight = highest_load_factor(craft, float(speed), DENSITY, 3.5)
        reached[float(speed)] = flight is not None and flight.load_factor >= 3.5 - 1e-9
    corner = min(speed for speed, is_there in reached.items() if is_there)
    assert 1.0401 * found[-1] >= corner - 0.5
    assert found[-1] < 0.5 * HIGH
    assert set(found) < set(looked_at(LOW, HIGH, found))
    assert stalling_airspeeds(folding, (0.0,), 40.0, HIGH, DENSITY, 3.5) == []


def test_a_tip_that_is_not_held_for_two_metres_a_second_is_found(monkeypatch) -> None:
    """An invented margin is below zero from 13.5 to 15.5 m/s alone; that at 12 and 17 says nothing
    of it."""
    craft = load_biplane("tideline")
    folding, rough = FoldingCraft(craft, GRID), FoldingCraft(craft, GRID, sections=False)
    monkeypatch.setattr(
        "vlm.study.hinge.moves.holding_margin",
        lambda *_: lambda airspeed, fold: abs(airspeed - 14.5) - 1.0,
    )
    plan = HingePlan(Air(LOW, DENSITY), (0.0,), grid=GRID)
    held = limits(folding, rough, craft.actuator, plan).held
    assert held.airspeed_m_s == pytest.approx(13.5, abs=0.02)
