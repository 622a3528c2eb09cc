"""Rotors in a motion: their slipstream against the strips solved directly, and gyroscopics."""

from dataclasses import replace

import numpy as np
import pytest
from flying_craft import round_body
from scipy.integrate import solve_ivp

from vlm.constants import Floats
from vlm.description.folds import FoldAngles
from vlm.description.loading import load_biplane
from vlm.description.models import Biplane
from vlm.description.motion import Scenario, StabilisingLaw
from vlm.flight.craft.blown_craft import BlownCraft
from vlm.flight.craft.folding_craft import FoldingCraft
from vlm.flight.craft.level import level_flight
from vlm.flight.craft.rotor_rates import rotor_rates
from vlm.flight.simulation.air_table import mirrored, packed
from vlm.flight.simulation.attitude import to_earth
from vlm.flight.simulation.building import Modelled, folding_craft, plant_of, rotors_at
from vlm.flight.simulation.equations import Control, Equations
from vlm.flight.simulation.law import Wanted
from vlm.flight.simulation.plant import Plant
from vlm.flight.simulation.running import control_of
from vlm.flight.simulation.section_table import mirrored_rotors
from vlm.flight.simulation.steady import SteadyState, steady_state
from vlm.flight.simulation.task import task_of
from vlm.lattice.cellule import Grid

MODELLED = Modelled(Grid(rows=2, strips=6), lagged=False, apparent=False)
SPEED = 14.0
Blown = tuple[FoldingCraft, Plant, SteadyState]


@pytest.fixture(scope="module")
def blown() -> Blown:
    craft = load_biplane("tideline")
    scenario = Scenario(name="test", airspeed_m_s=SPEED, to_left_deg=1.0, to_right_deg=1.0)
    folding = folding_craft(craft, MODELLED)
    plant = plant_of(folding, task_of(craft, scenario), MODELLED)
    return folding, plant, steady_state(plant, SPEED, np.zeros(2))


def of_the_plant(
    plant: Plant, folds: Floats, alpha: float, speed: float, thrusts: Floats
) -> Floats:
    """Force and moment about the moment point, body axes, of the air [N, N m]."""
    speeds = np.zeros(8)
    speeds[0], speeds[2] = speed * np.cos(alpha), speed * np.sin(alpha)
    return plant.air_loads(plant.posed(folds), speeds, np.zeros(3), thrusts).loads[:6]


def solved(
    folding: FoldingCraft, folds: Floats, alpha: float, speed: float, thrusts: Floats
) -> Floats:
    """The same of the craft in the slipstream, solved at these very thrusts."""
    plain = FoldingCraft(folding.craft, folding.engine.grid, round_body(0.0))
    craft = BlownCraft(plain, thrusts).at(FoldAngles(*np.degrees(folds)))
    wrench = craft.wrench(craft.motion(speed, alpha), 1.225)
    return np.append(wrench[:3], wrench[3:] - np.cross(craft.offset, wrench[:3]))


def test_at_the_thrusts_of_the_table_loads_are_those_of_the_blown_craft(blown: Blown) -> None:
    folding, plant, _ = blown
    assert plant.sections is not None
    folds = np.array([side[0] for side in plant.sections.points])
    for alpha in np.radians([0.0, 6.0]):
        own = of_the_plant(plant, folds, alpha, SPEED, plant.sections.thrusts)
        assert own == pytest.approx(
            solved(folding, folds, alpha, SPEED, plant.sections.thrusts), abs=1e-8
        )
        still = of_the_plant(plant, folds, alpha, SPEED, np.zeros(4))
        assert abs(own[2] - still[2]) > 0.03


def test_a_lost_rotor_blows_no_more(blown: Blown) -> None:
    folding, plant, _ = blown
    assert plant.sections is not None
    folds = np.array([side[0] for side in plant.sections.points])
    thrusts = plant.sections.thrusts.copy()
    thrusts[1] = 0.0
    alpha = float(np.radians(6.0))
    own = of_the_plant(plant, folds, alpha, SPEED, thrusts)
    assert own == pytest.approx(solved(folding, folds, alpha, SPEED, thrusts), abs=1e-8)


def test_slipstream_at_other_airspeeds_and_thrusts(blown: Blown) -> None:
    # Momentum theory: pressure goes with thrust over disc. Straight lines in the thrust miss what
    # the slipstream adds by less than 8 % up to four times the thrust of the table.
    folding, plant, _ = blown
    assert plant.sections is not None
    folds = np.array([side[0] for side in plant.sections.points])
    alpha = float(np.radians(6.0))
    for speed, factor in ((SPEED, 2.0), (SPEED, 4.0), (0.7 * SPEED, 1.0), (1.4 * SPEED, 1.0)):
        thrusts = factor * plant.sections.thrusts
        own = of_the_plant(plant, folds, alpha, speed, thrusts)
        plain = of_the_plant(plant, folds, alpha, speed, 0.0 * thrusts)
        truth = solved(folding, folds, alpha, speed, thrusts)
        assert abs(own[2] - truth[2]) < 0.08 * abs(own[2] - plain[2])


def test_the_steady_state_balances_in_the_slipstream_solved_directly(blown: Blown) -> None:
    folding, plant, start = blown
    pose = plant.posed(np.zeros(2))
    air = solved(folding, np.zeros(2), start.alpha, SPEED, start.thrusts)
    speeds = start.state[:8]
    force = plant.drag(pose, speeds, np.zeros(3))
    turn = to_earth(start.state[10:14])
    force = force + plant.bodies.weight(pose.parts, turn.T @ plant.gravity)
    left = force[:6] + air + plant.thrust_loads(start.thrusts, pose.centre)
    left[3:] += start.held_moment
    weight = plant.bodies.mass * 9.80665
    assert np.abs(left[:3]).max() < 0.005 * weight
    assert np.abs(left[3:]).max() < 0.005 * weight * 0.17


def test_drag_areas_act_in_time_as_in_level_flight(blown: Blown) -> None:
    folding, plant, _ = blown
    pose = plant.posed(np.zeros(2))
    speeds = np.array([12.0, 1.0, 0.5, 0.3, 0.2, -0.4, 0.0, 0.0])
    found = plant.drag(pose, speeds, np.zeros(3))[:6]
    bare = FoldingCraft(folding.craft, folding.engine.grid, round_body(0.0)).symmetric(0.0)
    craft = folding.symmetric(0.0)
    motion = np.zeros(craft.motions)
    motion[:3] = speeds[:3] + np.cross(speeds[3:6], pose.centre)
    motion[3:6] = speeds[3:6]
    own, plain = (one.wrenches_without_sections(motion[None], 1.225)[0] for one in (craft, bare))
    wrench = own - plain
    moment = wrench[3:] + np.cross(pose.centre, wrench[:3])
    assert np.abs(moment).max() > 1e-3
    np.testing.assert_allclose(found, np.append(wrench[:3], moment), rtol=1e-6, atol=1e-9)


def test_mirrored_tables_are_those_that_are_solved() -> None:
    craft = load_biplane("tideline")
    assert mirrored_rotors(craft.rotors) is not None
    own = folding_craft(craft, MODELLED).at(FoldAngles(-30.0, 10.0))
    other = folding_craft(craft, MODELLED).at(FoldAngles(10.0, -30.0))
    assert mirrored(packed(own), own.bodies) == pytest.approx(packed(other), abs=1e-12)


def test_rotors_without_a_mirror_image_are_seen() -> None:
    craft = load_biplane("tideline")
    turned = craft.rotors[0].model_copy(update={"spin": "left"})
    assert mirrored_rotors((turned, *craft.rotors[1:])) is None


LAW = StabilisingLaw(speed_N_s_m=0.5)


def acting(blown: Blown, time: float, faster: float, **keys: object) -> tuple[Floats, Floats]:
    """Thrusts that act, and as commanded, at an airspeed more than the start's [m/s]."""
    folding, plant, start = blown
    scenario = Scenario(name="test", airspeed_m_s=SPEED, **keys)  # type: ignore[arg-type]
    control = control_of(plant, task_of(folding.craft, scenario), LAW, start)
    state = start.state.copy()
    state[:3] *= 1.0 + faster / SPEED
    equations = Equations(plant, control)
    return equations.at(time, state).thrusts, state[equations.layout.thrust]


def test_thrust_falls_with_an_airspeed_that_is_not_wanted_alone(blown: Blown) -> None:
    """At a held speed of rotation T' is as tests/flight/test_rotor_rates.py has it; midway less."""
    rotors, start = blown[1].rotors, blown[2]
    assert rotors is not None
    same, own = acting(blown, 0.0, 0.0)
    assert same == pytest.approx(own, abs=1e-12)
    faster, _ = acting(blown, 0.0, 2.0)
    assert faster - own == pytest.approx(2.0 * np.cos(start.alpha) * rotors.slopes[0])
    assert faster.max() < own.max()
    planned = {"speed_to_m_s": SPEED + 2.0, "speed_change_s": 2.0}
    flown, _ = acting(blown, 5.0, 2.0, **planned)
    assert flown == pytest.approx(own, abs=1e-12)
    halfway, _ = acting(blown, 1.0, 2.0, **planned)
    assert halfway - own == pytest.approx(np.cos(start.alpha) * rotors.slopes[0])


def test_thrust_answers_a_gust_by_what_of_it_is_along_the_axes(blown: Blown) -> None:
    """Air that rises at 2 m/s through axes that point up by the angle of attack pushes along them
    with its sine, so that the rotors meet less of it."""
    rotors, start = blown[1].rotors, blown[2]
    assert rotors is not None
    gust = {"gust": "vertical", "gust_form": "step", "gust_speed_m_s": 2.0, "gust_at_s": 0.1}
    own, commanded = acting(blown, 1.0, 0.0, **gust)
    expected = -2.0 * np.sin(start.alpha) * rotors.slopes[0]
    assert own - commanded == pytest.approx(expected, abs=1e-9)
    assert expected.min() > 0.01


def test_a_turn_takes_thrust_from_the_side_that_comes_forward(blown: Blown) -> None:
    """Nose to starboard brings port forward; a rotor that stands answers nothing."""
    folding, plant, start = blown
    assert plant.rotors is not None
    control = control_of(
        plant, task_of(folding.craft, Scenario(name="test", airspeed_m_s=SPEED)), None, start
    )
    state = start.state.copy()
    state[5] = 1.0
    equations = Equations(plant, control)
    own = state[equations.layout.thrust]
    change = dict(zip(plant.rotors.names, equations.at(0.0, state).thrusts - own, strict=True))
    sideways = {one.name: one.position_m[1] for one in folding.craft.rotors}
    for i, (name, moved) in enumerate(change.items()):
        assert moved == pytest.approx(-sideways[name] * plant.rotors.slopes[0, i])
        assert (moved > 0.0) == ("starboard" in name)
    stopped = Equations(plant, replace(control, powered=(False, True, True, True)))
    found = stopped.at(0.0, state).thrusts - own
    assert (found[0], found[1]) == (0.0, pytest.approx(list(change.values())[1]))


def test_rotors_ahead_are_pushed_along_by_air_from_the_side(blown: Blown) -> None:
    """Like a fin: with the wind, from where it is; by statics and tests/power/test_side_force.py.

    No force along the axis, and none of a rotor that stands.
    """
    folding, plant, start = blown
    rotors = plant.rotors
    assert rotors is not None
    alone = replace(
        rotors, slopes=np.zeros_like(rotors.slopes), momenta=np.zeros_like(rotors.momenta)
    )
    slip = rotors.met(np.array([0.0, 2.0, 0.0]), np.zeros(3))
    none = np.zeros(rotors.count)
    found = alone.loads(none, slip) - alone.loads(none)
    force = -2.0 * rotors.fins
    assert found[:3] == pytest.approx([0.0, force.sum(), 0.0], abs=1e-12)
    x, _, z = rotors.places.T
    assert found[3:] == pytest.approx([-z @ force, 0.0, x @ force], abs=1e-12)
    assert found[5] < -0.01  # nose away from the wind from starboard
    turning = rotors.met(np.zeros(3), np.array([0.0, 0.0, 1.0]))
    assert turning[:, 1] == pytest.approx(x)
    head_on = rotors.met(np.array([2.0, 0.0, 0.0]), np.zeros(3))
    assert alone.loads(none, head_on) == pytest.approx(alone.loads(none), abs=1e-12)
    task = task_of(folding.craft, Scenario(name="test", airspeed_m_s=SPEED))
    control = control_of(plant, task, None, start)
    state = start.state.copy()
    state[1] = 2.0
    others = rotors.fins * np.array([0.0, 1.0, 1.0, 1.0])
    stopped = replace(control, powered=(False, True, True, True))
    fewer, without, every = (
        Equations(replace(plant, rotors=replace(alone, fins=fins)), one).at(0.0, state).changes
        for fins, one in ((others, control), (rotors.fins, stopped), (rotors.fins, control))
    )
    assert fewer == pytest.approx(without, abs=1e-9)
    assert np.abs(every - without).max() > 1e-3


def test_ends_of_the_rotors_answer_are_those_of_the_modes(blown: Blown) -> None:
    folding, plant, _ = blown
    folded = folding.symmetric(0.0)
    flight = level_flight(folded, SPEED, MODELLED.density)
    assert flight is not None
    assert plant.rotors is not None
    rates = rotor_rates(folding.craft, folded, flight)
    about = folded.loads.reference.moment_point
    assert about == pytest.approx(folded.masses.centre)
    moved, none = np.eye(6), np.zeros(plant.rotors.count)
    for rotors, way in zip(plant.rotors.ends(), rates.ways, strict=True):
        found = [
            rotors.loads(none, rotors.met(one[:3], one[3:])) - rotors.loads(none) for one in moved
        ]
        np.testing.assert_allclose(np.array(found).T, rates.rates + way, atol=1e-9)


def test_shared_commands_give_the_moments_that_are_asked_for(blown: Blown) -> None:
    """Thrust along x, roll, pitch and yaw about the centre of gravity, torques counted at their
    rate with thrust (statics); here by loads at thrusts a little more than those of the start."""
    _, plant, start = blown
    rotors, step = plant.rotors, 1e-3
    assert rotors is not None
    each = np.full(rotors.count, start.thrust / rotors.count)
    centre = plant.posed(np.zeros(2)).centre
    for i, wanted in enumerate(step * np.eye(4)):
        found = rotors.loads(rotors.commanded(each, wanted)) - rotors.loads(each)
        moments = found[3:] - np.cross(centre, found[:3])
        given = np.append(found[0], moments)
        assert given[i] == pytest.approx(step, rel=0.03)
        assert np.abs(np.delete(given, i)).max() < 0.03 * step


def spinning(plant: Plant) -> Plant:
    """Rotors whose angular momenta are large, without air and weight."""
    assert plant.rotors is not None
    momenta = 0.05 + 0.02 * plant.rotors.thrusts
    spins = np.ones(plant.rotors.count)
    torques = np.zeros_like(plant.rotors.torques)
    slopes = np.zeros_like(plant.rotors.slopes)
    rotors = replace(
        plant.rotors, momenta=momenta, spins=spins, torques=torques, slopes=slopes, fins=slopes[0]
    )
    return replace(
        plant, rotors=rotors, sections=None, drives=None, density=0.0, drag_areas=None,
        gravity=np.zeros(3),
    )  # fmt: skip


def test_angular_momentum_of_craft_and_rotors_together_is_kept(blown: Blown) -> None:
    # No moment from outside: what the rotors' shafts lose as they turn and slow, the craft takes
    # up (any text on gyroscopes). Thrusts give no moment about the centre where they cancel.
    plant = spinning(blown[1])
    assert plant.rotors is not None
    plant = replace(plant, rotors=replace(plant.rotors, places=0.0 * plant.rotors.places))
    control = Control(
        law=None, wanted=lambda t: Wanted(0.0, 0.0, 0.0), targets=lambda t, v: (0.0, 0.0),
        base_thrusts=np.full(4, 1.0), held_moment=np.zeros(3), powered=(True,) * 4,
    )  # fmt: skip
    equations = Equations(plant, control)
    layout = equations.layout
    state = np.zeros(layout.size)
    state[3:8] = [0.4, 1.1, -0.7, 0.2, -0.1]
    state[layout.attitude] = [1.0, 0.0, 0.0, 0.0]
    state[layout.thrust] = 0.3

    def momentum(values: Floats) -> Floats:
        parts = plant.bodies.placed(values[layout.folds])
        assert plant.rotors is not None
        _, angular = plant.bodies.momenta(parts, values[:8])
        whole = angular + plant.rotors.momentum(values[layout.thrust])
        # The thrusts act at the moment point; their moment about the centre is taken off below.
        return np.asarray(to_earth(values[layout.attitude]) @ whole)

    def with_moment(time: float, values: Floats) -> Floats:
        one = equations.at(time, values[:-3])
        force = plant.thrust_loads(values[layout.thrust], np.zeros(3))[:3]
        centre = plant.bodies.centre(one.parts)
        return np.append(one.rates, one.turn @ np.cross(-centre, force))

    done = solve_ivp(
        with_moment, (0.0, 0.5), np.append(state, np.zeros(3)), method="DOP853", rtol=1e-9,
        atol=1e-10, max_step=0.01,
    )  # fmt: skip
    end = done.y[:, -1]
    before, after = momentum(state), momentum(end[:-3])
    assert after - end[-3:] == pytest.approx(before, abs=1e-6)
    assert plant.rotors is not None
    first, last = (plant.rotors.momentum(one[layout.thrust]) for one in (state, end))
    assert np.abs(last - first).max() > 0.03


def test_a_nose_that_rises_on_right_handed_rotors_yaws_to_starboard(blown: Blown) -> None:
    # -omega x h with omega along y and h along x: along z, nose to starboard (right-handed).
    plant = spinning(blown[1])
    assert plant.rotors is not None
    found = plant.rotors.gyroscopic(np.full(4, 1.0), np.zeros(4), np.array([0.0, 2.0, 0.0]))
    assert found[2] == pytest.approx(2.0 * float(plant.rotors.momentum(np.full(4, 1.0))[0]))
    assert found[2] > 0.0


def test_momentum_of_a_rotor_is_its_inertia_times_its_speed() -> None:
    craft = load_biplane("tideline")
    rotors = tuple(one.model_copy(update={"inertia_kg_m2": 3e-5}) for one in craft.rotors)
    heavy: Biplane = craft.model_copy(update={"rotors": rotors})
    scenario = Scenario(name="test", airspeed_m_s=SPEED, to_left_deg=1.0)
    folding = folding_craft(heavy, replace(MODELLED, slipstream=False, sections=False))
    point = folding.symmetric(0.0).loads.reference.moment_point
    found = rotors_at(folding, task_of(heavy, scenario), MODELLED, point)
    assert found is not None
    assert found.turns
    # pitch_m is the advance in one turn without thrust.
    speed = float(np.interp(0.0, found.thrusts[0], found.momenta[0])) / 3e-5
    assert speed == pytest.approx(2.0 * np.pi * SPEED / craft.rotors[0].pitch_m, rel=0.01)
    # Counter-rotating pairs hold nothing together.
    assert np.abs(found.momentum(np.full(4, 1.0))).max() < 1e-12


def test_the_rotors_answer_to_height_in_the_rates_for_an_implicit_integrator(blown: Blown) -> None:
    """A law that holds height asks the rotors for pitching moment: all three places of the state
    against central differences of the equations."""
    folding, plant, start = blown
    law = StabilisingLaw(pitch_angle_N_m_rad=0.5, height_rad_m=0.05)
    scenario = Scenario(name="test", airspeed_m_s=SPEED)
    control = control_of(plant, task_of(folding.craft, scenario), law, start)
    equations = Equations(plant, control)
    found, places = equations.jacobian(0.0, start.state), equations.layout.place
    for i in range(places.start, places.stop):
        step = 1e-3 * np.eye(len(start.state))[i]
        ends = [equations(0.0, start.state + sign * step) for sign in (1.0, -1.0)]
        assert found[:, i] == pytest.approx((ends[0] - ends[1]) / 2e-3, rel=1e-4, abs=1e-6)
    assert np.abs(found[equations.layout.thrust, places.stop - 1]).min() > 0.01
