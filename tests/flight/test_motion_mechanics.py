"""Rigid bodies on hinges against textbooks: no air, no drive, by scipy's integrator."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.special import ellipk

from vlm.constants import GRAVITY, Floats
from vlm.flight.simulation.air_table import AirTable
from vlm.flight.simulation.attitude import angles_of, attitude_of, to_earth
from vlm.flight.simulation.bodies import Bodies, HingedTip
from vlm.flight.simulation.equations import Control, Equations
from vlm.flight.simulation.law import Wanted
from vlm.flight.simulation.plant import WEIGHT, Plant


def tip(side: int, **keys: object) -> HingedTip:
    sign = 1.0 if side else -1.0
    given: dict[str, object] = {
        "body": "upper_right" if side else "upper_left", "side": side, "linkage": 1.0,
        "mass": 0.2, "hinge": np.array([0.02, 0.4 * sign, -0.05]),
        "axis": np.array([-sign, 0.1, 0.0]) / np.hypot(1.0, 0.1),
        "arm": np.array([-0.03, 0.15 * sign, 0.01]),
        "inertia": np.diag([2e-3, 5e-4, 2.4e-3]),
    }  # fmt: skip
    return HingedTip(**(given | keys))  # type: ignore[arg-type]


def plant_of(tips: tuple[HingedTip, ...], gravity: Floats, **keys: object) -> Plant:
    given: dict[str, object] = {
        "fixed_mass": 1.5, "fixed_centre": np.array([0.03, 0.01, -0.02]),
        "fixed_inertia": np.array([[0.04, 0.001, 0.002], [0.001, 0.03, 0.0], [0.002, 0.0, 0.06]]),
    }  # fmt: skip
    given |= keys
    mass = float(given["fixed_mass"]) + sum(one.mass for one in tips)  # type: ignore[arg-type]
    motions, loads = 6 + len(tips), 6 + len(tips)
    pairs = np.array(np.triu_indices(motions))
    air = AirTable(
        (np.zeros(1), np.zeros(1)), np.zeros((1, 2 * pairs.shape[1] * loads)), pairs, motions,
        tuple(one.body for one in tips),
    )  # fmt: skip
    return Plant(
        bodies=Bodies(mass=mass, tips=tips, **given),  # type: ignore[arg-type]
        air=air, sections=None, apparent=None, lag=None, drives=None, rotors=None, rotor_lag=0.1,
        density=0.0, drag_areas=None, gravity=gravity,
    )  # fmt: skip


def free(plant: Plant, thrust: float = 0.0) -> Equations:
    control = Control(
        law=None, wanted=lambda t: Wanted(0.0, 0.0, 0.0), targets=lambda t, v: (0.0, 0.0),
        base_thrusts=np.array([thrust]), held_moment=np.zeros(3),
    )  # fmt: skip
    return Equations(plant, control)


def state_of(equations: Equations, speeds: Floats, **keys: Floats) -> Floats:
    layout = equations.layout
    state = np.zeros(layout.size)
    state[layout.speeds] = speeds
    state[layout.attitude] = keys.get("attitude", attitude_of(0.0, 0.0))
    state[layout.folds] = keys.get("folds", np.zeros(2))
    state[layout.thrust] = keys.get("thrust", np.zeros(1))
    return state


def followed(equations: Equations, state: Floats, times: Floats) -> Floats:
    done = solve_ivp(
        equations, (times[0], times[-1]), state, method="DOP853", t_eval=times, rtol=1e-11,
        atol=1e-12,
    )  # fmt: skip
    return np.asarray(done.y.T)


def test_goldstein_torque_free_symmetric_top() -> None:
    # Goldstein, Classical Mechanics, chapter 5 (from memory): the rate turns about the axis of
    # symmetry at (I3 - I1) / I1 times the spin.
    inertia = np.diag([0.05, 0.02, 0.02])
    equations = free(plant_of((), np.zeros(3), fixed_inertia=inertia, fixed_centre=np.zeros(3)))
    spin, off = 6.0, 0.7
    turning = (inertia[0, 0] - inertia[1, 1]) / inertia[1, 1] * spin
    times = np.linspace(0.0, 2.0, 41)
    states = followed(
        equations, state_of(equations, np.array([0, 0, 0, spin, off, 0, 0, 0.0])), times
    )
    assert states[:, 3] == pytest.approx(spin, abs=1e-8)
    assert states[:, 4] == pytest.approx(off * np.cos(turning * times), abs=1e-7)
    assert states[:, 5] == pytest.approx(off * np.sin(turning * times), abs=1e-7)


@pytest.fixture(scope="module")
def tumbling() -> tuple[Plant, Floats, Floats]:
    """A craft thrown with its tips swinging freely."""
    plant = plant_of((tip(0), tip(1)), WEIGHT)
    equations = free(plant)
    speeds = np.array([9.0, 0.5, 0.8, 1.1, -0.7, 0.4, 2.0, -3.0])
    times = np.linspace(0.0, 1.5, 31)
    start = state_of(equations, speeds, folds=np.radians([20.0, -35.0]))
    return plant, times, followed(equations, start, times)


def energy(plant: Plant, state: Floats) -> float:
    parts = plant.bodies.placed(state[8:10])
    height = -(state[14:17] + to_earth(state[10:14]) @ plant.bodies.centre(parts))[2]
    return plant.bodies.kinetic_energy(parts, state[:8]) + plant.bodies.mass * GRAVITY * height


def test_energy_of_a_tumbling_craft_with_free_tips_is_kept(
    tumbling: tuple[Plant, Floats, Floats],
) -> None:
    plant, _, states = tumbling
    found = np.array([energy(plant, state) for state in states])
    assert found == pytest.approx(found[0], rel=1e-8)
    # The tips do swing: their kinetic energy is not kept by itself.
    assert float(np.ptp(states[:, 6])) > 1.0


def test_momenta_of_a_tumbling_craft_with_free_tips(
    tumbling: tuple[Plant, Floats, Floats],
) -> None:
    # Newton: momentum changes by the weight alone; angular momentum about the centre does not.
    plant, times, states = tumbling
    both = []
    for state in states:
        turn = to_earth(state[10:14])
        linear, angular = plant.bodies.momenta(plant.bodies.placed(state[8:10]), state[:8])
        both.append([turn @ linear, turn @ angular])
    found = np.array(both)
    falling = np.outer(times, plant.bodies.mass * WEIGHT)
    assert found[:, 0] - falling == pytest.approx(np.tile(found[0, 0], (len(times), 1)), rel=1e-8)
    assert found[:, 1] == pytest.approx(np.tile(found[0, 1], (len(times), 1)), rel=1e-7, abs=1e-8)


@pytest.mark.parametrize("amplitude", [0.05, 1.2])
def test_period_of_a_free_tip_as_a_physical_pendulum(amplitude: float) -> None:
    # Period 4 sqrt(I / m g l) K(sin^2(amplitude / 2)), any text on mechanics; the craft hangs nose
    # up on a thrust equal to its weight, so heavy that it does not move.
    arm, mass, own = 0.2, 0.3, 4e-3
    hanging = tip(
        1, mass=mass, hinge=np.zeros(3), axis=np.array([0.0, 1.0, 0.0]),
        arm=np.array([-arm, 0.0, 0.0]), inertia=np.diag([1e-3, own, 1e-3]),
    )  # fmt: skip
    heavy = 1e7
    plant = plant_of(
        (hanging,), WEIGHT, fixed_mass=heavy, fixed_inertia=heavy * np.eye(3),
        fixed_centre=np.zeros(3),
    )  # fmt: skip
    weight = plant.bodies.mass * GRAVITY
    equations = free(plant, weight)
    period = 4.0 * np.sqrt((own + mass * arm**2) / (mass * GRAVITY * arm))
    period *= float(ellipk(np.sin(0.5 * amplitude) ** 2))
    start = state_of(
        equations, np.zeros(8), attitude=attitude_of(0.0, 0.5 * np.pi),
        folds=np.array([0.0, amplitude]), thrust=np.array([weight]),
    )  # fmt: skip
    states = followed(equations, start, np.array([0.0, 0.25, 0.5, 1.0]) * period)
    assert states[:, 9] == pytest.approx(amplitude * np.array([1.0, 0.0, -1.0, 1.0]), abs=2e-6)


def test_hinge_moment_of_one_tip_is_its_row_of_the_equations() -> None:
    from vlm.flight.simulation.bodies import hinge_inertia_moment

    plant = plant_of((tip(0), tip(1, linkage=0.5)), np.zeros(3))
    rng = np.random.default_rng(4)
    speeds, changes = rng.normal(size=8), rng.normal(size=8)
    parts = plant.bodies.placed(np.array([0.3, -0.6]))
    whole = plant.bodies.mass_matrix(parts) @ changes + plant.bodies.bias(parts, speeds)
    for part in parts[1:]:
        assert part.tip is not None
        moment = hinge_inertia_moment(part, speeds, changes)
        assert part.tip.linkage * moment == pytest.approx(whole[6 + part.tip.side], rel=1e-12)


def test_moment_of_inertia_matches_the_craft_gathered_as_one_body() -> None:
    plant = plant_of((tip(0), tip(1)), np.zeros(3))
    parts = plant.bodies.placed(np.array([0.4, 0.4]))
    frozen = replace(plant.bodies, tips=())
    matrix = plant.bodies.mass_matrix(parts)
    assert matrix[:3, :3] == pytest.approx(plant.bodies.mass * np.eye(3))
    centre = plant.bodies.centre(parts)
    # Coupling of velocity and rate is the first moment of mass (any text on rigid bodies).
    assert matrix[0, 4] == pytest.approx(plant.bodies.mass * centre[2])
    assert frozen.fixed_mass < plant.bodies.mass


def test_a_raised_nose_points_up_and_reads_as_pitch() -> None:
    """Earth axes have z down: 30 degrees nose up puts sin 30 of the body's x axis upward, and 40
    degrees of bank to starboard lower the starboard wing (by geometry)."""
    pitch, bank = np.radians(30.0), np.radians(40.0)
    nose = to_earth(attitude_of(0.0, pitch)) @ [1.0, 0.0, 0.0]
    assert nose == pytest.approx([np.cos(pitch), 0.0, -np.sin(pitch)])
    starboard = to_earth(attitude_of(bank, 0.0)) @ [0.0, 1.0, 0.0]
    assert starboard == pytest.approx([0.0, np.cos(bank), np.sin(bank)])
    assert angles_of(to_earth(attitude_of(bank, pitch))) == pytest.approx((bank, pitch, 0.0))
