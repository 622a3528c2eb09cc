"""Loads carried over to the centre of gravity: they do not know where the moment point was."""

import numpy as np
import pytest
from flying_craft import biplane, round_body
from numpy.testing import assert_allclose

from vlm.description.folds import FoldAngles
from vlm.description.models import Reference
from vlm.flight.craft.drag_bodies import DragBodies
from vlm.flight.craft.folding_craft import FoldingCraft
from vlm.flow.onset import FIRST_TIP
from vlm.lattice.cellule import Grid
from vlm.loads.coefficients import coefficients
from vlm.loads.state import FlightState

SMALL = Grid(rows=3, strips=10)
FOLDS = FoldAngles(40.0, -25.0)


@pytest.fixture(scope="module")
def craft() -> FoldingCraft:
    return FoldingCraft(biplane(flare_deg=4.0), SMALL)


def random_motion(size: int) -> np.ndarray:
    motion = np.random.default_rng(11).normal(size=size)
    motion[:3] += [14.0, 0.0, 1.0]
    return motion


def test_moment_point_elsewhere_gives_the_same_loads_about_the_centre_of_gravity(
    craft: FoldingCraft,
) -> None:
    """Statics and kinematics: neither the wrench about a point nor the motion of a body depends
    on the point it was worked out with."""
    far = biplane(flare_deg=4.0).model_copy(
        update={"reference": Reference(moment_point_m=(0.7, 0.3, -1.1))}
    )
    here, there = craft.at(FOLDS), FoldingCraft(far, SMALL).at(FOLDS)
    motion = random_motion(here.motions)
    assert_allclose(here.wrench(motion, 1.2), there.wrench(motion, 1.2), rtol=1e-9)
    scale = np.abs(here.rates(motion, 1.2)).max()
    assert_allclose(here.rates(motion, 1.2), there.rates(motion, 1.2), atol=1e-9 * scale)
    first, second = (one.hinge_moments(motion, 1.2) for one in (here, there))
    for body, moment in first.items():
        assert moment == pytest.approx(second[body], rel=1e-8)


def test_forces_are_those_of_the_coefficients(craft: FoldingCraft) -> None:
    here = craft.symmetric(30.0)
    reference = here.loads.reference
    state = FlightState(alpha=0.08, beta=0.05, airspeed=15.0, density=1.1)
    found = coefficients(here.loads, state)
    wrench = here.wrench(here.motion(15.0, 0.08, 0.05), 1.1)
    force = state.dynamic_pressure * reference.area
    lift = -wrench[2] * np.cos(0.08) + wrench[0] * np.sin(0.08)
    assert lift == pytest.approx(found.CL * force, rel=1e-9)
    assert wrench[1] == pytest.approx(found.CY * force, rel=1e-9)
    offset = here.offset
    about = wrench[3:] - np.cross(offset, wrench[:3])
    expected = np.array([found.Cl, found.Cm, found.Cn]) * force
    expected *= [reference.span, reference.chord, reference.span]
    assert_allclose(about, expected, rtol=1e-9)


def test_rates_are_differences_of_the_wrench(craft: FoldingCraft) -> None:
    here = FoldingCraft(biplane(), SMALL, drag=round_body(0.03)).at(FOLDS)
    motion, step = random_motion(here.motions), 1e-5
    exact = here.rates(motion, 1.2)
    for i in range(here.motions):
        change = np.zeros(here.motions)
        change[i] = step
        slope = here.wrench(motion + change, 1.2) - here.wrench(motion - change, 1.2)
        assert_allclose(exact[:, i], slope / (2 * step), rtol=1e-5, atol=1e-6)


def test_rates_of_long_bodies_are_differences_of_the_wrench() -> None:
    """One at a place of its own, one at the centre of gravity; what turns moves the first."""
    bodies = DragBodies(
        np.array([[0.01, 0.08, 0.05], [0.02, 0.03, 0.01]]),
        np.array([[-0.3, 0.1, 0.25], [np.nan, np.nan, np.nan]]),
    )
    here = FoldingCraft(biplane(), SMALL, drag=bodies).at(FOLDS)
    plain = FoldingCraft(biplane(), SMALL).at(FOLDS)
    motion, step = random_motion(here.motions), 1e-5
    exact = here.rates(motion, 1.2) - plain.rates(motion, 1.2)
    steps = step * np.eye(here.motions)
    for i in range(here.motions):
        ends = [
            one.wrench(motion + sign * steps[i], 1.2) for one in (here, plain) for sign in (1, -1)
        ]
        slope = (ends[0] - ends[1] - ends[2] + ends[3]) / (2 * step)
        assert_allclose(exact[:, i], slope, rtol=1e-4, atol=1e-6)
    turning = here.rates_of_turning(motion, 1.2) - plain.rates_of_turning(motion, 1.2)
    assert_allclose(turning, exact[:, 3:6], rtol=1e-9)


def test_a_body_s_side_force_acts_at_its_place() -> None:
    """0.05 m^2 across, 0.3 m aft and 0.2 m below the centre of gravity, in 0.1 rad of sideslip at
    20 m/s (by hand): it pushes to port, turns the nose into the wind and rolls."""
    centre = FoldingCraft(biplane(), SMALL).symmetric(0.0).masses.centre
    place = centre + np.array([0.3, 0.0, -0.2])
    bodies = DragBodies(np.array([[0.0, 0.05, 0.0]]), place[None])
    plain, long = (FoldingCraft(biplane(), SMALL, drag=b).symmetric(0.0) for b in (None, bodies))
    motion = plain.motion(20.0, 0.0, 0.1)
    found = long.wrench(motion, 1.2) - plain.wrench(motion, 1.2)
    side = 0.5 * 1.2 * 20.0**2 * 0.05 * np.sin(0.1)
    assert_allclose(found, [0.0, -side, 0.0, 0.2 * side, 0.0, 0.3 * side], atol=1e-9)


def test_a_turn_moves_a_body_at_its_place_through_the_air() -> None:
    """0.5 m aft of the centre of gravity, turning to starboard with 2 rad/s at 10 m/s (by hand): it
    moves to port with 1 m/s, is pushed to starboard, and its moment damps the turn."""
    centre = FoldingCraft(biplane(), SMALL).symmetric(0.0).masses.centre
    place = centre + np.array([0.5, 0.0, 0.0])
    bodies = DragBodies(np.array([[0.0, 0.04, 0.0]]), place[None])
    plain, long = (FoldingCraft(biplane(), SMALL, drag=b).symmetric(0.0) for b in (None, bodies))
    motion = plain.motion(10.0, 0.0, rates=np.array([0.0, 0.0, 2.0]))
    found = long.wrench(motion, 1.2) - plain.wrench(motion, 1.2)
    side = 0.5 * 1.2 * 101.0**0.5 * 0.04
    assert_allclose(found, [0.0, side, 0.0, 0.0, 0.0, -0.5 * side], atol=1e-9)


def test_turning_tips_move_the_fixed_wings_past_the_centre_of_gravity(craft: FoldingCraft) -> None:
    """The centre of gravity keeps its place: what it moves within the craft, the craft moves the
    other way, and the air past it with the centre."""
    here, step = craft.at(FOLDS), 0.01
    for side, column in (
        ("right", here.bodies.index("upper_right")),
        ("left", here.bodies.index("upper_left")),
    ):
        ends = []
        for sign in (-1.0, 1.0):
            moved = {"left_deg": FOLDS.left_deg, "right_deg": FOLDS.right_deg}
            moved[f"{side}_deg"] += sign * step
            ends.append(craft.at(FoldAngles(**moved)).masses.centre)
        slope = (ends[1] - ends[0]) / np.radians(2.0 * step)
        found = here.amounts_of_motion[:3, FIRST_TIP + column]
        assert_allclose(found, slope, rtol=1e-5, atol=1e-8)


def test_parasite_drag_is_area_times_dynamic_pressure(craft: FoldingCraft) -> None:
    plain, draggy = (
        FoldingCraft(biplane(), SMALL, drag=round_body(a)).symmetric(0.0) for a in (0.0, 0.02)
    )
    motion = plain.motion(16.0, 0.1)
    drag = plain.wrench(motion, 1.225)[:3] - draggy.wrench(motion, 1.225)[:3]
    ahead = motion[:3] / 16.0
    assert_allclose(drag, 0.5 * 1.225 * 16.0**2 * 0.02 * ahead, rtol=1e-9)
