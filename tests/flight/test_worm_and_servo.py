"""The worm gear against machine-design textbooks, the servo against closed forms."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from vlm.description.actuator import Actuator
from vlm.flight.mechanism.servo import fold_speed, fold_speeds, folding, greatest_moment
from vlm.flight.mechanism.worm import (
    back_efficiency,
    efficiency_curves,
    forward_efficiency,
    holding_torque,
    locking_friction,
    worm_state,
    worm_torque,
)
from vlm.flight.simulation.drive import side_drive

ACTUATOR = Actuator(
    worm_ratio=30.0,
    lead_angle_deg=4.0,
    friction_dry=(0.12, 0.25),
    friction_greased=(0.04, 0.09),
    bearing_efficiency=0.9,
    servo_stall_torque_N_m=0.9,
    servo_no_load_speed_deg_s=900.0,
    servo_voltage_V=7.4,
    servo_no_load_current_A=0.2,
    servo_stall_current_A=2.6,
    servo_hold_current_A=0.02,
    hinge_stiffness_N_m_rad=20.0,
)
SHIGLEY_PRESSURE = np.radians(14.5)


def test_curves_start_where_nothing_is_lost() -> None:
    """A mesh without friction passes all work on, either way; with more of it, less and less."""
    friction, forward, back = efficiency_curves(ACTUATOR, 0.25)
    assert (friction[0], friction[-1]) == (0.0, 0.25)
    assert forward[0] == pytest.approx(1.0)
    assert back[0] == pytest.approx(1.0)
    assert np.all(np.diff(forward) < 0.0)
    assert np.all(np.diff(back) < 0.0)


@pytest.mark.parametrize(
    ("lead_deg", "per_cent"),
    [(1.0, 25.2), (2.5, 45.7), (5.0, 62.6), (7.5, 71.3), (10.0, 76.6), (15.0, 82.7)],
)
def test_shigley_table_of_worm_efficiency(lead_deg: float, per_cent: float) -> None:
    """Shigley, Mechanical Engineering Design, table of worm-gear efficiency for friction 0.05
    (from memory); half a unit of its last digit."""
    found = forward_efficiency(0.05, np.radians(lead_deg), SHIGLEY_PRESSURE)
    assert 100.0 * found == pytest.approx(per_cent, abs=0.05)


def test_mott_worm_of_14_degrees_does_not_lock() -> None:
    """Mott, Machine Elements in Mechanical Design, 4th ed., p. 343: lead 1.5708 in on a pitch
    diameter of 2.000 in is a lead angle of 14.04 degrees; self-locking asks for no more than
    about 5 degrees. His friction of bronze on steel at rest is 0.150 (from memory)."""
    lead = np.arctan2(1.5708, np.pi * 2.000)
    assert np.degrees(lead) == pytest.approx(14.04, abs=0.005)
    assert worm_state((0.15, 0.15), float(lead), SHIGLEY_PRESSURE).verdict == "does not lock"
    at_five = worm_state((0.15, 0.15), float(np.radians(5.0)), SHIGLEY_PRESSURE)
    assert at_five.verdict == "locks"


def test_locks_just_where_the_wheel_gives_nothing_back() -> None:
    """Norton and Shigley state the limit as f = cos(phi) tan(lambda) (from memory)."""
    lead, pressure = np.radians(6.0), np.radians(20.0)
    limit = locking_friction(lead, pressure)
    assert back_efficiency(limit, lead, pressure) == pytest.approx(0.0, abs=1e-15)
    assert worm_state((0.9 * limit, 1.1 * limit), lead, pressure).verdict == "uncertain"


@pytest.mark.parametrize("friction", [0.02, 0.05, 0.1, 0.2])
def test_worm_torque_is_that_of_a_force_balance(friction: float) -> None:
    """Axial force on a thread by resolving normal force and friction, solved numerically."""
    lead, pressure = np.radians(ACTUATOR.lead_angle_deg), np.radians(20.0)
    radius, moment = 0.004, 1.3
    wheel_radius = ACTUATOR.worm_ratio * radius * np.tan(lead)

    def tangential(sign: float) -> float:
        # Normal force 1 on the thread; friction along the thread against the sliding.
        axial = np.cos(pressure) * np.cos(lead) - sign * friction * np.sin(lead)
        around = np.cos(pressure) * np.sin(lead) + sign * friction * np.cos(lead)
        return around / axial

    force = moment / wheel_radius
    bearings = ACTUATOR.bearing_efficiency
    raising = worm_torque(ACTUATOR, moment, friction)
    assert raising == pytest.approx(force * radius * tangential(1.0) / bearings, rel=1e-12)
    lowering = -force * radius * tangential(-1.0)
    expected = lowering / bearings if lowering >= 0.0 else lowering * bearings
    assert worm_torque(ACTUATOR, -moment, friction) == pytest.approx(expected, rel=1e-12)


def test_a_locked_gear_needs_no_holding_and_a_free_one_does() -> None:
    assert holding_torque(ACTUATOR, 2.0, 0.2) == 0.0
    assert holding_torque(ACTUATOR, 2.0, 0.02) > 0.0


def test_folding_under_a_steady_load_has_a_closed_form() -> None:
    """Constant torque T: time = angle x ratio / (free speed (1 - T / stall)); energy =
    voltage x current x time; work = moment x angle."""
    moment, angle, friction = 1.5, 1.2, 0.07
    torque = worm_torque(ACTUATOR, moment, friction)
    share = torque / ACTUATOR.servo_stall_torque_N_m
    speed = np.radians(900.0) * (1.0 - share) / 30.0
    done = folding(ACTUATOR, 0.0, angle, lambda folds: np.full_like(folds, -moment), friction)
    assert done.time == pytest.approx(angle / speed, rel=1e-12)
    assert done.energy == pytest.approx(7.4 * (0.2 + 2.4 * share) * angle / speed, rel=1e-12)
    assert done.work == pytest.approx(moment * angle, rel=1e-12)
    assert fold_speed(ACTUATOR, moment, friction) == pytest.approx(speed, rel=1e-12)


def test_speeds_of_many_moments_are_those_of_each_and_lie_on_the_motor_line() -> None:
    """The motor line (theory of direct-current motors): half the free speed at half the stall
    torque, none beyond it; a helping moment of a free gear turns the servo faster."""
    friction = 0.02
    half = 0.5 * greatest_moment(ACTUATOR, friction)
    moments = np.array([half, 0.0, -half, 4.0 * half])
    found = fold_speeds(ACTUATOR, moments, friction)
    free = np.radians(900.0) / 30.0
    assert found[:2] == pytest.approx([0.5 * free, free], rel=1e-9)
    assert found[2] > free
    assert found[3] == 0.0
    one_by_one = [fold_speed(ACTUATOR, float(moment), friction) for moment in moments]
    assert_allclose(found, one_by_one, rtol=1e-12)


def test_folding_stalls_where_the_load_outgrows_the_servo() -> None:
    limit = greatest_moment(ACTUATOR, 0.07)
    done = folding(ACTUATOR, 0.0, 1.0, lambda folds: -2.0 * limit * folds, 0.07)
    assert done.time == np.inf
    assert done.stalls_at == pytest.approx(0.5, abs=0.005)


def test_folding_down_with_the_load_is_quicker_than_up_against_it() -> None:
    def load(folds: np.ndarray) -> np.ndarray:
        return np.full_like(folds, 2.0)

    up = folding(ACTUATOR, -0.5, 0.5, load, 0.05)
    down = folding(ACTUATOR, 0.5, -0.5, load, 0.05)
    assert up.time < down.time
    assert up.energy < down.energy
    assert_allclose(up.work, -down.work)


def test_energy_given_is_at_least_the_work_done() -> None:
    done = folding(ACTUATOR, 0.0, 1.0, lambda folds: -3.0 * np.cos(folds), 0.1)
    assert done.energy > done.work > 0.0


def test_friction_is_given_least_first() -> None:
    entry = ACTUATOR.model_dump() | {"friction_dry": (0.3, 0.1)}
    with pytest.raises(ValueError, match="least value first"):
        Actuator.model_validate(entry)


@pytest.mark.parametrize("friction", [0.0, 0.05, 0.2])
@pytest.mark.parametrize("moment", [-3.0, 3.0])
@pytest.mark.parametrize("speed", [-6.0, 6.0])
def test_a_turning_worm_takes_no_less_work_than_it_hands_on(
    moment: float, speed: float, friction: float
) -> None:
    """Friction gives no work (second law), and a gear that turns back is the gear turned round."""
    drive = side_drive(ACTUATOR, "test", np.ones(1), 0.01, friction, (-1.0, 1.0), 0.05, 0.1)
    torque = drive.worm_load(moment, speed)
    taken, given = torque * speed, moment * speed / ACTUATOR.worm_ratio
    assert taken >= given - 1e-12
    assert drive.worm_load(-moment, -speed) == pytest.approx(-torque, rel=1e-12)
