"""What is told where no fold is allowed: every number is had again by another way.

Source of the balance: moments about the centre of gravity, by hand; no craft here is real.
"""

import re
from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import brentq

from vlm.constants import GRAVITY
from vlm.description.folds import FoldAngles
from vlm.description.loading import load_biplane
from vlm.description.mission import Leg
from vlm.description.models import Biplane
from vlm.description.schedule import default_airspeed
from vlm.errors import ComputationFailed
from vlm.flight.plan.fold_search import FoldTable
from vlm.flight.plan.mission import MissionFlyer
from vlm.flight.plan.mission_rules import scheduled
from vlm.flight.plan.remedies import balanced, remedy, shortfalls
from vlm.flight.trim.balance import balance
from vlm.flight.trim.power_book import power_book
from vlm.flight.trim.powered import powered_craft
from vlm.flight.trim.trim import trim_problem, trimmed
from vlm.lattice.cellule import Grid
from vlm.study.mission.study import mission_study
from vlm.study.schedule.study import schedule_study

COARSE = Grid(2, 8)
CENTRE = "mass.body_centre_m"
NUMBER = r"-?[\d.]+(?:e-?\d+)?"


def shifted(craft: Biplane, aft: float) -> Biplane:
    """The craft with its body's centre farther aft."""
    assert craft.mass is not None
    x, y, z = craft.mass.body_centre_m
    return craft.overridden({CENTRE: [x + aft, y, z]})


def table_of(craft: Biplane, fold: float, speed: float) -> FoldTable:
    assert craft.schedule is not None
    return FoldTable.of(power_book(craft, [fold], [speed], grid=COARSE), craft.schedule)


@pytest.mark.parametrize("name", ["tideline", "teasel", "thistle", "winnow"])
@pytest.mark.parametrize("aft", [-0.04, 0.0, 0.06])
def test_equal_thrusts_balance_the_craft_where_it_says(name: str, aft: float) -> None:
    """Against a root sought with craft built anew from their files, and moments by hand."""
    craft = shifted(load_biplane(name), aft)
    speed = default_airspeed(craft.schedule) + 2.0
    assert craft.mass is not None
    heavier = craft.mass.total_kg / craft.mass.body_kg

    def moment(further: float) -> float:
        made = powered_craft(shifted(craft, heavier * further), FoldAngles(), grid=COARSE)
        trim = trimmed(trim_problem(made), speed, 0.0, None)
        assert trim is not None
        # Thrust runs along the craft, so that a rotor above the centre pitches the nose down.
        apart = trim.thrusts - trim.thrusts.mean()
        return -float(apart @ (made.positions[:, 2] - made.masses.centre[2]))

    made = powered_craft(craft, FoldAngles(), grid=COARSE)
    assert all(rotor.axis == (-1.0, 0.0, 0.0) for rotor in craft.rotors)
    table = table_of(craft, 0.0, speed)
    point = table.setting(0.0, speed).point
    found = balance(made, point)
    assert found is not None
    assert found.moment == pytest.approx(moment(0.0), abs=1e-4 * GRAVITY * craft.mass.total_kg)
    root = brentq(moment, found.aft - 0.05, found.aft + 0.05, xtol=1e-6)
    assert found.aft == pytest.approx(root, abs=3e-5)
    assert found.aft * found.moment > 0.0


@pytest.mark.parametrize(("name", "aft"), [("tideline", 0.12), ("winnow", 0.15), ("thistle", 0.12)])
def test_a_fold_that_is_named_as_allowed_is(name: str, aft: float) -> None:
    craft = shifted(load_biplane(name), aft)
    speed = default_airspeed(craft.schedule) + 1.0
    table = table_of(craft, 0.0, speed)
    setting = table.setting(0.0, speed)
    assert setting.passed
    text = remedy(table, setting)
    trim = setting.point.trim
    assert trim is not None
    low = float(trim.thrusts.min())
    least = craft.rotors[int(np.argmin(trim.thrusts))].thrust_min_N
    assert low < least
    told_N = re.search(rf"would have to give ({NUMBER}) N, less than rotors.thrust_min_N", text)
    assert told_N is not None
    assert float(told_N[1]) == pytest.approx(low, rel=0.01)
    place = re.search(rf"{CENTRE} = \[({NUMBER}), ({NUMBER}), ({NUMBER})\]", text)
    assert place is not None
    assert "farther forward" in text
    cured = craft.overridden({CENTRE: [float(one) for one in place.groups()]})
    own = table_of(cured, 0.0, speed).setting(0.0, speed)
    assert ("this fold is allowed there" in text) == own.is_allowed
    assert len(own.passed) < len(setting.passed)
    assert own.point.trim is not None
    spread = float(np.ptp(own.point.trim.thrusts))
    assert spread < 0.02 * float(np.ptp(trim.thrusts))


def test_what_the_centre_of_gravity_does_not_cure_is_told_without_it() -> None:
    craft = load_biplane("tideline").overridden({"schedule.stall_margin_min_deg": 20.0})
    table = table_of(craft, 0.0, 12.0)
    setting = table.setting(0.0, 12.0)
    left = setting.point.value("stall_margin_deg")
    text = remedy(table, setting)
    short = re.search(rf"schedule\.stall_margin_min_deg by ({NUMBER}) deg", text)
    assert short is not None
    assert float(short[1]) == pytest.approx(20.0 - left, rel=0.05)
    assert CENTRE not in text
    assert shortfalls(table, setting) in text


def test_a_fold_that_balance_does_not_allow_is_not_called_allowed() -> None:
    craft = shifted(load_biplane("tideline"), 0.12)
    craft = craft.overridden({"schedule.stall_margin_min_deg": 20.0})
    table = table_of(craft, 0.0, 13.0)
    setting = table.setting(0.0, 13.0)
    moved = balanced(table, setting)
    assert moved is not None
    assert not moved.setting.is_allowed
    text = remedy(table, setting)
    assert "allowed there" not in text
    assert "then still stall margin misses schedule.stall_margin_min_deg" in text


def test_schedule_and_mission_say_what_to_change(tmp_path: Path) -> None:
    craft = shifted(load_biplane("tideline"), 0.2).overridden({"schedule.speeds": 3})
    with pytest.raises(ComputationFailed) as caught:
        schedule_study(craft, folds=3, grid=COARSE)
    said = str(caught.value)
    assert said.startswith("no airspeed of the schedule allows any fold; at ")
    assert CENTRE in said
    with pytest.raises(ComputationFailed, match=re.escape(CENTRE)) as other:
        mission_study(craft, [Leg(kind="loiter", time_s=60.0)], folds=3, grid=COARSE)
    assert "the schedule cannot fly the mission: loiter: no airspeed" in str(other.value)


def test_a_leg_that_rotors_cannot_fly_names_their_limit() -> None:
    craft = load_biplane("tideline").overridden(
        {"schedule.speeds": 3, "rotors.0.power_max_W": 20.0, "rotors.1.power_max_W": 20.0}
    )
    legs = [Leg(kind="hover", time_s=10.0)]
    with pytest.raises(ComputationFailed) as caught:
        mission_study(craft, legs, folds=3, grid=COARSE)
    said = str(caught.value)
    told_W = re.search(rf"would take ({NUMBER}) W, more than rotors.power_max_W = 20", said)
    assert told_W is not None
    assert craft.schedule is not None
    book = power_book(craft, [-90.0, 0.0, 120.0], [0.0, 11.0, 21.0], grid=COARSE)
    rule = scheduled(book, craft.schedule)
    point, _ = MissionFlyer(book).trim(rule.fold(0.0), 0.0, 0.0, 1.0)
    assert point.trim is not None
    assert float(told_W[1]) == pytest.approx(float(point.trim.loads.shaft_powers.max()), rel=0.05)
