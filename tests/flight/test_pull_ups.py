"""Pull-ups on the way to a load factor: Newton's law, single load factors, and a scan of them."""

import numpy as np
import pytest
from thin_craft import thin

from vlm.description import load_biplane
from vlm.flight.craft.drag_bodies import DragBodies
from vlm.flight.craft.folding_craft import FoldingCraft
from vlm.flight.craft.level import highest_load_factor, level_flight
from vlm.flight.craft.pull_ups import pull_ups
from vlm.flight.mechanism.drive_limits import holding_margin, limit_loads
from vlm.flight.mechanism.hinge_moments import hinge_moments, worst_moment
from vlm.lattice.cellule import Grid

GRID, DENSITY, GRAVITY = Grid(2, 8), 1.225, 9.80665
NO_BODIES = DragBodies(np.zeros((0, 3)), np.zeros((0, 3)))
CASES = [("tideline", 0.0, 12.0), ("winnow", -40.0, 20.0), ("teasel", 15.0, 20.0)]


def folded(craft, fold: float, *, sections: bool = True):
    craft = craft.model_copy(update={"fins": ()})
    return FoldingCraft(craft, GRID, NO_BODIES, sections=sections).symmetric(fold)


@pytest.mark.parametrize(("name", "fold", "airspeed"), CASES)
def test_each_is_a_pull_up_by_newtons_law(name, fold, airspeed):
    """At the lowest point of an arc: lift across the body carries n times the weight's part there,
    and the craft pitches with (n - 1) g / U (any text on flight mechanics)."""
    craft = folded(load_biplane(name), fold)
    way = pull_ups(craft, airspeed, DENSITY, 6.0, np.radians(40.0))
    factors = [flight.load_factor for flight in way]
    assert len(way) > 2
    assert factors == sorted(factors)
    assert np.diff([flight.alpha for flight in way[1:]]).max() <= np.radians(1.0) + 1e-9
    weight = craft.masses.mass * GRAVITY
    for flight in way:
        n, alpha = flight.load_factor, flight.alpha
        rates = np.array([0.0, (n - 1.0) * GRAVITY / airspeed, 0.0])
        force = craft.wrench(craft.motion(airspeed, alpha, rates=rates), DENSITY)[:3]
        assert -force[2] == pytest.approx(n * weight * np.cos(alpha), rel=1e-5)
        assert flight.thrust == pytest.approx(n * weight * np.sin(alpha) - force[0], rel=1e-4)
    alone = level_flight(craft, airspeed, DENSITY, factors[1])
    assert alone.alpha == pytest.approx(way[1].alpha, abs=2e-4)


def test_ends_are_level_flight_and_the_highest_load_factor():
    craft = folded(load_biplane("winnow"), 0.0)
    way = pull_ups(craft, 20.0, DENSITY, 6.0)
    assert way[0] is level_flight(craft, 20.0, DENSITY)
    assert way[-1].load_factor == highest_load_factor(craft, 20.0, DENSITY, 6.0).load_factor < 6.0
    assert all(flight.stall_margin < 0.0 for flight in way[1:])
    assert pull_ups(craft, 20.0, DENSITY, 1.0) == [level_flight(craft, 20.0, DENSITY)]
    assert pull_ups(craft, 2.0, DENSITY, 3.0) == []


def test_without_stall_the_ends_are_all_of_the_way():
    """There every part of a moment is linear or square in the motion, and hardly bent between."""
    craft = folded(thin("tideline"), 0.0, sections=False)
    way = pull_ups(craft, 20.0, DENSITY, 3.0)
    assert [flight.load_factor for flight in way] == [1.0, 3.0]


def sizes(craft, flight, rate):
    """Largest moments about the hinges in a flight [N m], in the order of the tips."""
    parts = hinge_moments(craft, flight, rate)
    return np.array([abs(worst_moment(parts[body])) for body in craft.bodies])


@pytest.mark.parametrize(("name", "fold", "airspeed"), [*CASES, ("winnow", 75.0, 20.0)])
def test_no_load_factor_on_the_way_has_a_larger_moment(name, fold, airspeed):
    """About either hinge, against single level flights at load factors 0.02 apart."""
    craft, rate = folded(load_biplane(name), fold), np.radians(40.0)
    way = pull_ups(craft, airspeed, DENSITY, 6.0, rate)
    largest = np.max([sizes(craft, flight, rate) for flight in way], axis=0)
    scan = np.arange(1.0, way[-1].load_factor, 0.02)
    each = [level_flight(craft, airspeed, DENSITY, float(n)) for n in scan]
    most = np.max([sizes(craft, one, rate) for one in each if one is not None], axis=0)
    np.testing.assert_allclose(largest, most, rtol=0.012)
    assert (sizes(craft, way[-1], rate) < 0.985 * most).any()


def test_a_hinge_is_held_where_it_holds_all_of_the_way():
    """Winnow's raised tips are pushed down in level flight by more than a pull-up lifts them."""
    description = load_biplane("winnow")
    craft = FoldingCraft(description.model_copy(update={"fins": ()}), GRID, NO_BODIES)
    drive = description.actuator
    loads = limit_loads(craft.symmetric(75.0), drive, 20.0, DENSITY)
    most = [max(np.abs(one).max() for one in load.rolled.values()) for load in loads]
    assert most[0] > 1.2 * most[-1]
    for limit, held in ((0.99 * most[0], False), (1.01 * most[0], True)):
        asked = drive.model_copy(update={"hinge_moment_limit_N_m": float(limit)})
        assert (holding_margin(craft, asked, DENSITY)(20.0, 75.0) >= 0.0) is held
