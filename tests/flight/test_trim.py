"""Trim from hover to top speed: what must balance, in every state."""

from dataclasses import replace

import numpy as np
import pytest
from power_craft import SMALL, glider, powered

from vlm.description.folds import FoldAngles
from vlm.description.loading import load_biplane
from vlm.errors import InputRefused
from vlm.flight.trim.powered import PoweredCraft, flight_loads, powered_craft
from vlm.flight.trim.rotor_patterns import rotor_patterns
from vlm.flight.trim.trim import Trim, TrimProblem, gravity_direction, trim_problem, trimmed
from vlm.flight.trim.trim_measures import measured, pitch_room, wing_share

WEIGHT = 9.80665


def balance(problem: TrimProblem, trim: Trim) -> tuple[np.ndarray, np.ndarray]:
    """Sum of forces and moments, from the parts."""
    loads = trim.loads
    force, moment = loads.wings()
    weight = problem.weight * gravity_direction(np.array([trim.theta]), np.array([trim.lean]))
    return (
        (force + loads.body_force + loads.rotor_force + weight)[0],
        (moment + loads.body_moment + loads.rotor_moment)[0],
    )


def test_hover_without_slipstream_is_weight_on_the_rotors() -> None:
    """At zero speed in still air thrust equals weight, and the body stands upright."""
    problem = trim_problem(powered("tideline", 0.0, None, "propulsion.slipstream=false"))
    trim = trimmed(problem, 0.0)
    assert trim.is_converged
    assert trim.thrusts.sum() == pytest.approx(problem.craft.masses.mass * WEIGHT, rel=1e-9)
    assert np.degrees(trim.theta) == pytest.approx(90.0, abs=1e-6)
    # Small rotors reach figures of merit of 0.4 to 0.65 (Bohorquez; Hein and Chopra, from memory).
    area = problem.craft.areas[0]
    ideal = sum(t * np.sqrt(t / (2.0 * 1.225 * area)) for t in trim.thrusts)
    assert 0.4 < ideal / trim.loads.shaft_powers.sum() < 0.65


def test_hover_in_the_rotors_own_wind_holds_the_wings_too() -> None:
    problem = trim_problem(powered("tideline"))
    trim = trimmed(problem, 0.0)
    force, moment = balance(problem, trim)
    np.testing.assert_allclose(force, 0.0, atol=1e-7)
    np.testing.assert_allclose(moment, 0.0, atol=1e-7)
    assert trim.thrusts.sum() > problem.weight
    assert 80.0 < np.degrees(trim.theta) < 90.0


@pytest.mark.parametrize("fold", [0.0, -90.0])
def test_fast_flight_without_stall_is_lift_and_weight_drag_and_thrust(fold: float) -> None:
    """With a thin section, along and across the flight path, to 1e-8 of the weight."""
    craft = load_biplane("tideline")
    data = craft.model_dump()
    data["sections"] = {"foil": {"form": "thin", "cd_least": 0.015}}
    thin = type(craft).model_validate(data).from_source(craft.source)
    problem = trim_problem(powered_craft(thin, FoldAngles(fold, fold), grid=SMALL))
    trim = trimmed(problem, 25.0)
    force, _ = trim.loads.wings()
    force = force + trim.loads.body_force
    wind = trim.loads.stream[0] / 25.0
    up = np.array([-wind[2], 0.0, wind[0]])
    lift, drag = float(force[0] @ up), float(force[0] @ wind)
    thrust = float(trim.thrusts.sum())
    assert lift + thrust * np.sin(trim.alpha) == pytest.approx(problem.weight, rel=1e-8)
    assert thrust * np.cos(trim.alpha) == pytest.approx(drag, abs=1e-8 * problem.weight)
    assert trim.alpha == pytest.approx(trim.theta)


@pytest.mark.parametrize("speed", [4.0, 12.0])
def test_asymmetric_folds_balance_all_six(speed: float) -> None:
    """Rotors hold roll by their torque and yaw by thrust; the body leans against the side force."""
    problem = trim_problem(powered("tideline", -10.0, 10.0))
    assert problem.patterns.names == ("all", "pitch", "yaw", "roll")
    # Nose up it starts from the hover, as curves do: from level flight it is far.
    trim = trimmed(problem, speed, guess=trimmed(problem, 0.0).unknown if speed < 5.0 else None)
    assert trim.is_converged
    force, moment = balance(problem, trim)
    np.testing.assert_allclose(force / problem.weight, 0.0, atol=1e-8)
    np.testing.assert_allclose(moment / problem.weight, 0.0, atol=1e-8)
    values = measured(problem, trim).values
    assert abs(values["rotor_roll_N_m"]) > 1e-4
    assert trim.lean != 0.0


def test_mirrored_folds_mirror_the_trim() -> None:
    found = []
    for folds in ((-10.0, 10.0), (10.0, -10.0)):
        problem = trim_problem(powered("tideline", *folds))
        found.append(trimmed(problem, 12.0))
    assert found[0].theta == pytest.approx(found[1].theta, rel=1e-7)
    assert found[0].lean == pytest.approx(-found[1].lean, rel=1e-6)
    # Rotors in the file: upper starboard, upper port, lower starboard, lower port.
    np.testing.assert_allclose(found[0].thrusts, found[1].thrusts[[1, 0, 3, 2]], atol=1e-6)


def test_a_symmetric_setting_solved_in_full_is_the_same() -> None:
    """Six balances with all patterns give the answer of the three in the plane of symmetry."""
    craft = powered("tideline")
    problem = trim_problem(craft)
    full = TrimProblem(
        craft,
        rotor_patterns(craft.positions, craft.spins, ("pitch", "yaw", "roll")),
        (0, 1, 2, 3, 4, 5),
        leans=True,
    )
    for speed in (6.0, 14.0):
        plain, other = trimmed(problem, speed), trimmed(full, speed)
        assert other.is_converged
        np.testing.assert_allclose(other.thrusts, plain.thrusts, atol=1e-6)
        assert other.lean == pytest.approx(0.0, abs=1e-9)


def test_a_climb_takes_the_power_of_the_height_gained() -> None:
    """An ideal, large rotor on a light wing: P(climb) - P(level) is about m g times the climb."""
    problem = trim_problem(powered_craft(glider(), FoldAngles(), grid=SMALL))
    speed, angle = 12.0, np.radians(6.0)
    level, climbing = trimmed(problem, speed), trimmed(problem, speed, float(angle))
    assert climbing.is_converged
    gained = problem.weight * speed * np.sin(angle)
    more = climbing.loads.shaft_powers.sum() - level.loads.shaft_powers.sum()
    assert more == pytest.approx(gained, rel=0.02)


def test_thrust_differences_balance_pitch() -> None:
    """Moving the centre of gravity aft asks the lower rotors for less nose-up moment."""
    before = trimmed(trim_problem(powered("tideline")), 15.0)
    after = trimmed(
        trim_problem(powered("tideline", 0.0, None, "mass.body_centre_m=[0.045, 0.0, -0.19]")), 15.0
    )

    def apart(trim: Trim) -> float:
        return float(trim.thrusts[2:].sum() - trim.thrusts[:2].sum())

    # Further forward the lower rotors pull more: their thrust acts below the centre of gravity.
    assert apart(after) > apart(before)


def test_pitch_room_ends_at_the_first_rotor_limit() -> None:
    problem = trim_problem(powered("tideline"))
    trim = trimmed(problem, 15.0)
    down, up = pitch_room(problem, trim)
    craft = problem.craft
    arms = np.cross(craft.positions - craft.masses.centre, craft.axes)[:, 1]
    # Nose up: the lower rotors may pull up to 9 N, the upper ones may brake down to -0.8 N.
    change = np.array([-1.0, -1.0, 1.0, 1.0])
    reach = min(float(np.min(9.0 - trim.thrusts[2:])), float(np.min(trim.thrusts[:2] + 0.8)))
    assert up == pytest.approx(reach * float(arms @ change), rel=1e-9)
    assert down > 0.0


def test_share_of_the_wings_grows_from_nothing_to_all() -> None:
    problem = trim_problem(powered("tideline"))
    shares = [wing_share(problem, trimmed(problem, speed)) for speed in (0.0, 12.0, 20.0)]
    assert abs(shares[0]) < 0.05
    assert 0.95 < shares[1] < shares[2] < 1.02


def test_zero_thrust_leaves_the_plain_lattice() -> None:
    """Rotors that pull nothing blow nothing: the loads are those without a slipstream."""
    blown, still = (
        powered("tideline"),
        powered("tideline", 0.0, None, "propulsion.slipstream=false"),
    )
    speed, alpha = np.array([12.0]), np.radians([5.0])
    loads = [flight_loads(c, speed, alpha, np.zeros((1, 4))) for c in (blown, still)]
    np.testing.assert_allclose(loads[0].wings()[0], loads[1].wings()[0], rtol=1e-13, atol=1e-15)
    more = flight_loads(blown, speed, alpha, np.full((1, 4), 3.0))
    assert more.wings()[0][0, 2] > 1.05 * loads[0].wings()[0][0, 2]


def test_swirl_leaves_a_symmetric_craft_symmetric() -> None:
    problem = trim_problem(powered("tideline", 0.0, None, "propulsion.swirl=true"))
    assert problem.craft.is_symmetric
    trim = trimmed(problem, 14.0)
    _, moment = balance(problem, trim)
    np.testing.assert_allclose(moment, 0.0, atol=1e-7)


def turned_alike(craft: PoweredCraft) -> PoweredCraft:
    rotors = tuple(rotor.model_copy(update={"spin": "right"}) for rotor in craft.rotors)
    return replace(craft, craft=craft.craft.model_copy(update={"rotors": rotors}))


def test_rotors_that_turn_alike_leave_a_rolling_moment_over() -> None:
    """No pattern of thrust rolls the craft then: the reaction to the torque is left, and told."""
    problem = trim_problem(turned_alike(powered("tideline")))
    assert "roll" not in problem.patterns.names
    trim = trimmed(problem, 12.0)
    torque = float(sum(state.torque[0] for state in trim.loads.rotors))
    assert abs(trim.left_over[0]) == pytest.approx(torque, rel=0.2)
    assert torque > 0.0


def test_reaction_turns_the_craft_against_its_rotors() -> None:
    """Rotors that turn clockwise seen from behind press the port wing down: Cl negative."""
    problem = trim_problem(turned_alike(powered("tideline")))
    assert measured(problem, trimmed(problem, 12.0)).values["rotor_roll_N_m"] < 0.0


def test_the_moment_point_changes_no_trim() -> None:
    """Moments are balanced about the centre of gravity, wherever coefficients count from."""
    plain = trimmed(trim_problem(powered("tideline")), 13.0)
    moved = powered("tideline", 0.0, None, "reference.moment_point_m=[0.0, 0.0, 0.1]")
    other = trimmed(trim_problem(moved), 13.0)
    np.testing.assert_allclose(other.thrusts, plain.thrusts, rtol=5e-3, atol=2e-3)
    assert other.theta == pytest.approx(plain.theta, abs=2e-4)


def test_drag_above_the_centre_of_gravity_raises_the_nose() -> None:
    """By statics: the moment is arm times drag, 1/2 rho V^2 times the drag area (by hand)."""
    area, arm, speed = 0.01, 0.3, 20.0
    craft = powered("tideline", 0.0, None)
    x, y, z = craft.masses.centre
    place = f"[{x:.12g}, {y:.12g}, {z + arm:.12g}]"
    block = f'[{{name = "mast", area_m2 = {area}, position_m = {place}}}]'
    masted = powered("tideline", 0.0, None, f"drag_areas={block}", "propulsion.slipstream=false")
    rest = np.zeros((1, len(masted.craft.rotors)))
    loads = flight_loads(masted, np.array([speed]), np.array([0.0]), rest)
    drag = 0.5 * masted.air.density_kg_m3 * speed**2 * area
    assert loads.body_force[0, 0] >= drag  # the mechanism drags too, without a place
    # About the axis to starboard the nose goes up.
    assert loads.body_moment[0] == pytest.approx([0.0, arm * drag, 0.0], abs=1e-9)


def test_the_body_leans_into_the_side_force() -> None:
    """A positive lean lowers the starboard wing: weight pulls to starboard by m g sin lean."""
    problem = trim_problem(powered("tideline", -10.0, 10.0))
    trim = trimmed(problem, 12.0)
    side = float((trim.loads.wings()[0] + trim.loads.body_force)[0, 1])
    assert np.sin(trim.lean) * problem.weight == pytest.approx(-side, rel=1e-6)
    assert measured(problem, trim).values["lean_deg"] * side < 0.0


def test_missing_blocks_are_reported_by_name() -> None:
    with pytest.raises(InputRefused, match=r"\[mass\], \[\[rotors\]\], \[propulsion\] are missing"):
        powered_craft(load_biplane("plank"), FoldAngles())
