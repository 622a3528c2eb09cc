"""The craft in time, with air: steady states, linear modes, mirror images, energy, drive."""

import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from core_craft import monoplane
from flying_craft import biplane, drive_of
from scipy.integrate import solve_ivp
from scipy.linalg import expm

from vlm.constants import Floats
from vlm.description.folds import FoldAngles
from vlm.description.loading import load_biplane
from vlm.description.models import Biplane
from vlm.description.motion import Scenario, StabilisingLaw
from vlm.errors import ComputationFailed
from vlm.flight.craft.folded_craft import FoldedCraft
from vlm.flight.craft.folding_craft import FoldingCraft
from vlm.flight.craft.level import LevelFlight, level_flight, small_motion
from vlm.flight.craft.rotor_rates import rotor_rates
from vlm.flight.craft.small_motions import motion_matrices
from vlm.flight.mechanism.hinge_moments import weight_moment
from vlm.flight.simulation import running
from vlm.flight.simulation.building import Modelled, folding_craft, plant_of
from vlm.flight.simulation.equations import Equations
from vlm.flight.simulation.gusts import gust_of
from vlm.flight.simulation.history import History, carried_moments, history_of
from vlm.flight.simulation.lag import craft_lag
from vlm.flight.simulation.plant import Plant, layout_of
from vlm.flight.simulation.running import Run, control_of, run
from vlm.flight.simulation.steady import SteadyState, steady_state
from vlm.flight.simulation.task import Task, task_of
from vlm.lattice.cellule import Grid

GRID = Grid(rows=2, strips=6)
STILL_AIR = Modelled(GRID, sections=False, lagged=False, apparent=False, slipstream=False)
SPEED = 13.0
LAW = StabilisingLaw(
    roll_angle_N_m_rad=1.0, roll_rate_N_m_s_rad=0.2, pitch_angle_N_m_rad=6.0,
    pitch_rate_N_m_s_rad=0.8, sideslip_N_m_rad=1.0, yaw_rate_N_m_s_rad=0.4, speed_N_s_m=1.0,
)  # fmt: skip


def stiff() -> Biplane:
    """Hinges so stiff that the tips stand still on them."""
    return biplane().model_copy(
        update={"actuator": drive_of(hinge_stiffness_N_m_rad=2e5, backlash_deg=0.0)}
    )


def made(craft: Biplane, **keys: object) -> tuple[FoldingCraft, Task, Plant, SteadyState]:
    scenario = Scenario(name="test", airspeed_m_s=SPEED, **keys)  # type: ignore[arg-type]
    folding, task = folding_craft(craft, STILL_AIR), task_of(craft, scenario)
    plant = plant_of(folding, task, STILL_AIR)
    folds = np.radians([task.start.left_deg, task.start.right_deg])
    return folding, task, plant, steady_state(plant, SPEED, folds)


def flown(
    craft: Biplane, law: StabilisingLaw | None = None, **keys: object
) -> tuple[Plant, Run, History]:
    _, task, plant, start = made(craft, **keys)
    done = run(plant, task, law, start)
    return plant, done, history_of(plant, done)


@pytest.fixture(scope="module")
def at_rest() -> tuple[FoldingCraft, Task, Plant, SteadyState]:
    """Flat, in steady flight, tips stiff."""
    return made(stiff(), to_left_deg=2.0, to_right_deg=2.0, duration_s=1.0)


def test_the_steady_state_is_that_of_level_flight(
    at_rest: tuple[FoldingCraft, Task, Plant, SteadyState],
) -> None:
    folding, task, _, start = at_rest
    level = level_flight(folding.at(task.start), SPEED, STILL_AIR.density)
    assert level is not None
    assert start.alpha == pytest.approx(level.alpha, abs=1e-6)
    assert start.thrust == pytest.approx(level.thrust, rel=1e-6)
    assert start.held_moment == pytest.approx(-level.wrench[3:], abs=1e-6)
    assert start.imbalance < 1e-6


def test_without_steady_flight_an_airspeed_that_has_it_is_named() -> None:
    """Tideline stalls near 9.3 m/s; level flight with the same sections confirms both."""
    modelled = replace(STILL_AIR, sections=True, slipstream=False)
    scenario = Scenario(name="test", airspeed_m_s=12.0, to_left_deg=2.0, to_right_deg=2.0)
    craft = load_biplane(Path(__file__).parents[2] / "geometries" / "tideline.toml")
    folding, task = folding_craft(craft, modelled), task_of(craft, scenario)
    plant = plant_of(folding, task, modelled)
    for slow in (5.0, 7.0, 8.0):  # at 7 m/s a root stands at 41 degrees
        with pytest.raises(ComputationFailed, match="no steady, level flight") as refusal:
            steady_state(plant, slow, np.zeros(2))
        [named] = re.findall(r"such as ([0-9.]+) m/s", str(refusal.value))
        assert abs(steady_state(plant, float(named), np.zeros(2)).alpha) < np.radians(25.0)
        flat = folding.at(task.start)
        assert level_flight(flat, slow, modelled.density) is None
        assert level_flight(flat, float(named), modelled.density) is not None
    cruise = level_flight(flat, 12.0, modelled.density)
    assert cruise is not None
    speeds = np.append(cruise.motion[:6], np.zeros(2))
    air = plant.air_loads(plant.posed(np.zeros(2)), speeds, np.zeros(3), np.zeros(1))
    assert air.margin == pytest.approx(cruise.stall_margin, abs=np.radians(0.1))
    assert air.stalled == pytest.approx(cruise.stalled, abs=1e-3)


def test_at_the_start_the_gear_holds_what_the_hinge_command_says(
    at_rest: tuple[FoldingCraft, Task, Plant, SteadyState],
) -> None:
    # Air and weight about the hinge in level flight (vlm/flight/mechanism/hinge_moments.py).
    folding, task, _, start = at_rest
    craft = folding.at(task.start)
    level = level_flight(craft, SPEED, STILL_AIR.density)
    assert level is not None
    air = craft.hinge_moments(level.motion, STILL_AIR.density)
    for i, side in enumerate(("left", "right")):
        body = f"upper_{side}"
        line = craft.loads.lattice.hinges[body]
        weight = weight_moment(craft.masses.parts[body], line, level.alpha)
        assert start.gear[i] == pytest.approx(-(air[body] + weight), abs=1e-6)
        assert abs(air[body] + weight) > 0.05


def rigid_rates(equations: Equations, state: Floats) -> Floats:
    """Rates of v and omega with v and omega, by differences, shape (6, 6)."""
    columns = []
    for i in range(6):
        step = np.zeros_like(state)
        step[i] = 1e-5
        ahead, behind = equations(0.0, state + step), equations(0.0, state - step)
        columns.append((ahead[:6] - behind[:6]) / 2e-5)
    return np.array(columns).T


def test_small_motions_have_the_frequencies_and_damping_of_the_linear_modes(
    at_rest: tuple[FoldingCraft, Task, Plant, SteadyState],
) -> None:
    folding, task, plant, start = at_rest
    craft = folding.at(task.start)
    level = level_flight(craft, SPEED, STILL_AIR.density)
    assert level is not None
    expected = linear_roots(craft, level, None)
    fast = np.abs(expected) > 0.5
    assert int(fast.sum()) >= 3
    assert roots_in_time(task, plant, start)[fast] == pytest.approx(expected[fast], rel=0.01)


def test_small_motions_on_rotors_that_answer_the_air_are_those_of_the_modes() -> None:
    """Rates of :mod:`vlm.flight.craft.rotor_rates` in Etkin and Reid's equations; without them the
    roots are others."""
    craft = load_biplane("tideline")
    assert craft.actuator is not None
    drive = craft.actuator.model_copy(update={"hinge_stiffness_N_m_rad": 2e5, "backlash_deg": 0.0})
    folding, task, plant, start = made(craft.model_copy(update={"actuator": drive}),
                                       to_left_deg=2.0, to_right_deg=2.0)  # fmt: skip
    flat = folding.at(task.start)
    level = level_flight(flat, SPEED, STILL_AIR.density)
    assert level is not None
    rotors = rotor_rates(craft, flat, level).rates
    expected, still = (linear_roots(flat, level, one) for one in (rotors, None))
    fast = np.abs(expected) > 0.2
    assert int(fast.sum()) >= 5
    found = roots_in_time(task, plant, start)
    assert found[fast] == pytest.approx(expected[fast], rel=0.01)
    assert np.abs(found / still - 1.0).max() > 0.3


def linear_roots(craft: FoldedCraft, level: LevelFlight, rotors: Floats | None) -> Floats:
    """Of Etkin and Reid's equations (vlm/flight/craft/small_motions.py) of v and omega."""
    theirs, _ = motion_matrices(small_motion(craft, level, rotors))
    return np.sort_complex(np.linalg.eigvals(theirs))


def roots_in_time(task: Task, plant: Plant, start: SteadyState) -> Floats:
    """Of the motion's own rates, carried over from the moment point to the centre of gravity."""
    pose = plant.posed(start.state[8:10])
    equations = Equations(plant, control_of(plant, task, None, start))
    # Rates of the rigid craft: the rows of the tips held, as a locked gear holds them.
    held = np.linalg.inv(plant.bodies.mass_matrix(pose.parts)[:6, :6])
    whole = plant.bodies.mass_matrix(pose.parts)
    rates = np.vstack([rigid_rates(equations, start.state), tip_rows(equations, start)])
    own = held @ (whole @ rates)[:6]
    move = np.eye(6)
    move[:3, 3:] = -np.array(
        [
            [0.0, -pose.centre[2], pose.centre[1]],
            [pose.centre[2], 0.0, -pose.centre[0]],
            [-pose.centre[1], pose.centre[0], 0.0],
        ]
    )
    return np.sort_complex(np.linalg.eigvals(move @ own @ np.linalg.inv(move)))


def tip_rows(equations: Equations, start: SteadyState) -> Floats:
    """Rates of the tips' speeds with v and omega, shape (2, 6)."""
    columns = []
    for i in range(6):
        step = np.zeros_like(start.state)
        step[i] = 1e-5
        ahead = equations(0.0, start.state + step)
        behind = equations(0.0, start.state - step)
        columns.append((ahead[6:8] - behind[6:8]) / 2e-5)
    return np.array(columns).T


def test_a_small_disturbance_moves_as_the_linear_equations_say() -> None:
    _, task, plant, start = made(biplane(), to_left_deg=2.0, to_right_deg=2.0)
    control = control_of(plant, task, None, start)
    equations = Equations(plant, replace(control, worms_run=(False, False)))
    size = len(start.state)
    matrix = np.zeros((size, size))
    for i in range(size):
        step = np.zeros(size)
        step[i] = 1e-7
        ahead, behind = equations(-1.0, start.state + step), equations(-1.0, start.state - step)
        matrix[:, i] = (ahead - behind) / 2e-7
    kick = np.zeros(size)
    kick[2], kick[3] = 1e-5, 1e-5
    times = np.linspace(0.0, 0.2, 3)
    done = solve_ivp(
        lambda t, y: equations(-1.0, y), (0.0, 0.2), start.state + kick, t_eval=times,
        method="LSODA", rtol=1e-10, atol=1e-13,
    )  # fmt: skip
    moved = (done.y.T - start.state)[:, 1:6]
    linear = np.array([expm(matrix * t) @ kick for t in times])[:, 1:6]
    assert moved == pytest.approx(linear, abs=1e-7)
    assert float(np.abs(linear[-1] - linear[0]).max()) > 3e-6


def test_the_mirrored_scenario_is_the_mirrored_history() -> None:
    keys = {"duration_s": 0.3}
    plant, _, port = flown(biplane(), LAW, to_left_deg=-12.0, **keys)
    other, _, starboard = flown(biplane(), LAW, to_right_deg=-12.0, **keys)
    assert plant.air.table.shape == other.air.table.shape
    assert float(np.abs(port.bank).max()) > 1e-3
    for own, back in ((port.bank, starboard.bank), (port.beta, starboard.beta)):
        assert own == pytest.approx(-back, abs=1e-6)
    assert port.alpha == pytest.approx(starboard.alpha, abs=1e-6)
    assert port.folds["left"] == pytest.approx(starboard.folds["right"], abs=1e-6)
    assert port.hinges["upper_left"] == pytest.approx(starboard.hinges["upper_right"], abs=1e-4)


def test_rates_for_an_implicit_integrator_are_differences_of_the_equations() -> None:
    """Central differences, with late loads and apparent mass, in rising air."""
    modelled = replace(STILL_AIR, lagged=True, apparent=True)
    craft = stiff()
    task = task_of(craft, Scenario(name="test", airspeed_m_s=SPEED, to_left_deg=2.0))
    plant = plant_of(folding_craft(craft, modelled), task, modelled)
    start = steady_state(plant, SPEED, np.zeros(2))
    gust = gust_of("vertical", "one minus cosine", 2.0, -0.1, 3.0, SPEED)
    equations = Equations(plant, replace(control_of(plant, task, None, start), gust=gust))
    state = start.state.copy()
    state[:6] += [0.1, 0.2, -0.1, 0.3, 0.2, -0.1]
    found, size = equations.jacobian(0.05, state), len(state)
    steps = 1e-6 * np.maximum(1.0, np.abs(state))
    wanted = np.array(
        [
            (equations(0.05, state + step) - equations(0.05, state - step)) / (2.0 * step.max())
            for step in np.diag(steps)
        ]
    ).T
    scale = np.abs(wanted).max(axis=1, keepdims=True)
    assert found.shape == (size, size)
    # A servo's voltage bends where it begins to slow: the two differences lie to its sides.
    assert np.all(np.abs(found - wanted) < 1e-3 * scale + 1e-5)


def test_energy_balance_of_a_tip_let_go_in_the_air() -> None:
    # The work of air, drag, thrust and weight is the change of kinetic energy; the tip flaps up.
    _, task, plant, start = made(biplane(), to_left_deg=15.0, to_right_deg=15.0)
    control = control_of(plant, task, None, start)
    equations = Equations(plant, replace(control, geared=(False, False)))

    def with_work(time: float, state: Floats) -> Floats:
        one = equations.at(time, state[:-1])
        speeds = state[:8]
        pose = plant.posed(state[8:10])
        matrix = plant.bodies.mass_matrix(pose.parts)
        power = speeds @ (matrix @ one.changes + plant.bodies.bias(pose.parts, speeds))
        outside = plant.generalised(one.acting) + plant.drag(pose, speeds, np.zeros(3))
        outside[:6] += plant.thrust_loads(state[equations.layout.thrust], pose.centre)
        outside[3:6] += control.held_moment
        outside += plant.bodies.weight(pose.parts, one.turn.T @ plant.gravity)
        assert power == pytest.approx(speeds @ outside, rel=1e-9, abs=1e-9)
        return np.append(one.rates, speeds @ outside)

    state = np.append(start.state, 0.0)
    done = solve_ivp(with_work, (0.0, 0.15), state, method="DOP853", rtol=1e-9, atol=1e-9)
    end = done.y[:, -1]

    def kinetic(values: Floats) -> float:
        parts = plant.bodies.placed(values[8:10])
        return plant.bodies.kinetic_energy(parts, values[:8])

    assert kinetic(end) - kinetic(state) == pytest.approx(end[-1], rel=1e-6)
    assert end[8] > np.radians(0.5)


def test_air_set_in_motion_is_among_the_loads() -> None:
    # Newton's law for the bodies alone, with what the air does to them; a tip without gear or stop
    # has no moment about its hinge but those.
    scenario = Scenario(name="test", airspeed_m_s=SPEED, to_left_deg=15.0, to_right_deg=15.0)
    folding, task = folding_craft(biplane(), STILL_AIR), task_of(biplane(), scenario)
    heavy = plant_of(folding, task, replace(STILL_AIR, apparent=True))
    plain = replace(heavy, apparent=None, _poses={})
    start = steady_state(heavy, SPEED, np.zeros(2))
    control = replace(control_of(heavy, task, None, start), geared=(False, False))
    control = replace(control, gust=gust_of("vertical", "one minus cosine", 4.0, -0.1, 3.0, SPEED))
    state = start.state.copy()
    state[3:6] += [0.3, 0.2, -0.1]
    one = Equations(heavy, control).at(0.0, state)
    pose, speeds = heavy.posed(state[8:10]), state[:8]
    outside = heavy.generalised(one.acting)
    outside[:6] += heavy.thrust_loads(state[heavy_thrust(heavy)], pose.centre)
    outside[3:6] += control.held_moment
    outside += heavy.bodies.weight(pose.parts, one.turn.T @ heavy.gravity)
    bodies = heavy.bodies.mass_matrix(pose.parts) @ one.changes
    bodies = bodies + heavy.bodies.bias(pose.parts, speeds)
    assert bodies == pytest.approx(outside, abs=1e-9)
    for moment in carried_moments(heavy, speeds, one).values():
        assert moment == pytest.approx(0.0, abs=1e-9)
    # The tips start more slowly than without it: by the inertia of the air about the hinge.
    light = Equations(plain, control).at(0.0, state)
    assert np.abs(one.changes[6:]) == pytest.approx(np.abs(light.changes[6:]), rel=0.3)
    assert (np.abs(one.changes[6:]) < 0.98 * np.abs(light.changes[6:])).all()


def heavy_thrust(plant: Plant) -> slice:
    return layout_of(plant).thrust


def test_a_tip_stops_where_a_joint_closes() -> None:
    craft = load_biplane("tideline")
    tips = craft.upper.tips.model_copy(update={"fold_min_deg": -95.0})  # type: ignore[union-attr]
    deeper = craft.model_copy(update={"upper": craft.upper.model_copy(update={"tips": tips})})
    folding = folding_craft(deeper, STILL_AIR)
    assert folding.range_deg[0] == -95.0
    scenario = Scenario(name="test", airspeed_m_s=SPEED, to="dash")
    plant = plant_of(folding, task_of(deeper, scenario), replace(STILL_AIR, slipstream=False))
    assert plant.drives is not None
    for drive in plant.drives:
        assert np.degrees(drive.limits[0]) == pytest.approx(-90.0)
        assert drive.stop_moment(float(np.radians(-90.5)), 0.0) > 0.1


def test_a_locked_worm_holds_and_a_jammed_side_stays() -> None:
    _, done, history = flown(
        biplane(), LAW, to_left_deg=-20.0, to_right_deg=-20.0, jam="left", jam_deg=-8.0,
        duration_s=0.5,
    )  # fmt: skip
    assert 0.0 < done.jammed_at[0] < 0.5
    assert np.isnan(done.jammed_at[1])
    assert np.degrees(history.worms["left"][-1]) == pytest.approx(-8.0, abs=1e-3)
    assert np.degrees(history.worms["right"][-1]) == pytest.approx(-20.0, abs=0.3)
    # The gear's moment on the tip is what its play and stiffness carry.
    gear = np.array([one.gear[1] for one in done.instants])
    assert history.hinges["upper_right"] == pytest.approx(gear, abs=1e-6)


def test_folding_without_load_takes_the_servos_free_speed() -> None:
    # From standstill, speed v (1 - exp(-t / tau)); at light load the time over the travel is its
    # free speed, worm ratio and time constant (the motor line).
    craft = biplane().model_copy(
        update={"actuator": drive_of(servo_stall_torque_N_m=400.0, backlash_deg=0.0)}
    )
    plant, _, history = flown(craft, LAW, to_left_deg=-15.0, to_right_deg=-15.0, duration_s=0.15)
    assert plant.drives is not None
    free = plant.drives[0].free_speed / 20.0
    times = history.times
    before = times < 0.15
    expected = free * (times - 0.03 * (1.0 - np.exp(-times / 0.03)))
    assert -history.worms["left"][before] == pytest.approx(expected[before], abs=2e-3)


def test_one_minus_cosine_gust() -> None:
    # 14 CFR 25.341(a), from memory.
    gust = gust_of("vertical", "one minus cosine", 4.0, 0.5, 6.0, 12.0)
    assert gust.strength(0.5) == 0.0
    assert gust.strength(0.75) == pytest.approx(2.0)
    assert gust.strength(1.0) == pytest.approx(4.0)
    assert gust.strength(1.5) == 0.0
    assert gust.at(1.0) == pytest.approx([0.0, 0.0, -4.0])
    for time in (0.4, 0.6, 0.9, 1.3, 1.6):
        change = (gust.at(time + 1e-6) - gust.at(time - 1e-6)) / 2e-6
        assert gust.rate_at(time) == pytest.approx(change, abs=1e-6)


def test_lift_follows_incidence_alike_whatever_a_wing_carries_before() -> None:
    """What is linear adds up (H. Wagner, 1925): the share of a step's lift does not ask for the
    lift before it."""
    bare, loaded = (
        craft_lag(monoplane(incidence_deg=incidence), FoldAngles(), 1).law
        for incidence in (0.0, 4.0)
    )
    assert loaded.shares == pytest.approx(bare.shares, rel=0.015)
    assert loaded.rates == pytest.approx(bare.rates, rel=0.015)


def test_a_crafts_lag_is_that_of_jones_elliptic_wing() -> None:
    """1 - 0.361 exp(-0.381 s) at aspect ratio 6, s in half chords of the root (R. T. Jones, NACA
    Report 681, 1940; from memory), here in half mean chords, pi / 4 of it."""
    law = craft_lag(load_biplane("ellipse"), FoldAngles(), 1).law
    way = np.array([0.5, 1.0, 2.0, 4.0, 6.0, 10.0])
    found = law.response(way / (0.25 * np.pi))
    assert found == pytest.approx(1.0 - 0.361 * np.exp(-0.381 * way), abs=0.02)


def test_a_side_gust_from_starboard_is_positive_sideslip() -> None:
    _, _, history = flown(
        biplane(), LAW, gust="side", gust_form="step", gust_speed_m_s=1.3, duration_s=0.05
    )
    assert np.degrees(history.beta[2]) == pytest.approx(np.degrees(np.arctan(0.1)), abs=0.2)


@pytest.mark.slow
def test_a_tight_integrator_changes_nothing() -> None:
    keys = {"to_left_deg": -10.0, "to_right_deg": -6.0, "duration_s": 0.2}
    _, task, plant, start = made(biplane(), **keys)
    loose = history_of(plant, run(plant, task, LAW, start))
    kept = running.RELATIVE, running.ABSOLUTE
    try:
        running.RELATIVE, running.ABSOLUTE = 1e-8, 1e-10
        tight = history_of(plant, run(plant, task, LAW, start))
    finally:
        running.RELATIVE, running.ABSOLUTE = kept
    assert loose.bank == pytest.approx(tight.bank, abs=1e-5)
    assert loose.height == pytest.approx(tight.height, abs=1e-5)
