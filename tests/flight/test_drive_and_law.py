"""Servo, worm, stops and the stabilising law of a motion, each by its own formula.

No source but the equations that head ``vlm/flight/simulation/drive.py`` and ``law.py``; all numbers
are invented.
"""

from types import SimpleNamespace

import numpy as np
import pytest

from vlm.description.motion import StabilisingLaw
from vlm.errors import InputRefused
from vlm.flight.mechanism.worm import worm_torque
from vlm.flight.simulation.drive import CREEP, SideDrive, side_drive
from vlm.flight.simulation.history import _worm_torques
from vlm.flight.simulation.law import Sensed, Wanted, commanded

LAW = StabilisingLaw(
    roll_angle_N_m_rad=1.0, roll_rate_N_m_s_rad=0.2, pitch_angle_N_m_rad=6.0,
    pitch_rate_N_m_s_rad=0.8, sideslip_N_m_rad=1.5, yaw_rate_N_m_s_rad=0.4, speed_N_s_m=1.2,
    height_rad_m=0.02, sink_rad_s_m=0.05, pitch_change_max_deg=10.0,
)  # fmt: skip


def law(**limits):
    return LAW.model_copy(update=limits)


def sensed(**keys):
    values = {"bank": 0.3, "pitch": 0.2, "sideslip": 0.1, "rates": np.array([0.5, -0.3, 0.2]),
              "airspeed": 11.0, "height": 2.0, "climb": -1.0}  # fmt: skip
    return Sensed(**{**values, **keys})


WANTED = Wanted(bank=0.1, pitch=0.25, airspeed=12.5)


def test_thrust_and_moments_against_what_is_off():
    """Pitch wanted: 0.25 - 0.02 x 2 + 0.05 x 1."""
    pitch = 0.25 - 0.04 + 0.05
    expected = [1.2 * 1.5, -0.2 * 0.5 - 1.0 * 0.2, -6.0 * (0.2 - pitch) + 0.8 * 0.3,
                1.5 * 0.1 - 0.4 * 0.2]  # fmt: skip
    np.testing.assert_allclose(commanded(LAW, sensed(), WANTED), expected)
    free = Wanted(0.1, 0.25, 12.5, holds_bank=False)
    assert commanded(LAW, sensed(), free)[1] == pytest.approx(-0.1)
    assert commanded(None, sensed(), WANTED).tolist() == [0.0] * 4


@pytest.mark.parametrize(("height", "turn"), [(50.0, -1.0), (-50.0, 1.0)])
def test_the_pitch_wanted_changes_by_ten_degrees_at_most(height, turn):
    found = commanded(LAW, sensed(height=height, climb=0.0, rates=np.zeros(3)), WANTED)
    assert found[2] == pytest.approx(-6.0 * (0.2 - 0.25 - turn * np.radians(10.0)))


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_moments_keep_to_the_law_s_limits(sign):
    limited = law(roll_limit_N_m=0.05, pitch_limit_N_m=0.06, yaw_limit_N_m=0.01)
    state = sensed(
        bank=0.1 - sign, pitch=0.25 - sign, sideslip=sign, rates=np.zeros(3), height=0.0, climb=0.0
    )
    found = commanded(limited, state, WANTED)
    np.testing.assert_allclose(found[1:], sign * np.array([0.05, 0.06, 0.01]))


# --- the drive ----------------------------------------------------------------------------------


ACTUATOR = SimpleNamespace(
    servo_no_load_speed_deg_s=360.0, servo_stall_torque_N_m=0.8, servo_time_constant_s=0.05,
    servo_stall_current_A=2.0, servo_no_load_current_A=0.2, servo_voltage_V=6.0, backlash_deg=2.0,
    lead_angle_deg=8.0, pressure_angle_deg=20.0, worm_ratio=20.0, bearing_efficiency=0.9,
    hinge_stiffness_N_m_rad=50.0, serves="side",
)  # fmt: skip


def drive(**keys):
    values = {"actuator": ACTUATOR, "friction": 0.2, "stiffness": 100.0, "damping": 2.0,
              "limits": (-1.5, 0.3), "band": 0.02, "servos": 2}  # fmt: skip
    return SideDrive(**{**values, **keys})


def test_a_servo_s_inertia_gives_its_time_constant():
    """J = tau T_s/Omega_0; at least two milliseconds."""
    assert drive().free_speed == pytest.approx(2.0 * np.pi)
    assert drive().inertia == pytest.approx(0.05 * 0.8 / (2.0 * np.pi))
    quick = SimpleNamespace(**{**vars(ACTUATOR), "servo_time_constant_s": 0.0})
    assert drive(actuator=quick).inertia == pytest.approx(0.002 * 0.8 / (2.0 * np.pi))


PLAY = float(np.radians(1.0))


@pytest.mark.parametrize(
    ("apart", "rate", "moment"),
    [
        (0.9 * PLAY, 0.0, 0.0), (-0.9 * PLAY, 5.0, 0.0), (PLAY + 0.1, 0.0, 10.0),
        (-PLAY - 0.1, 0.0, -10.0), (PLAY + 0.1, 1.0, 12.0), (PLAY + 0.1, -9.0, 0.0),
        (-PLAY - 0.1, -1.0, -12.0), (-PLAY - 0.1, 9.0, 0.0),
    ],
)  # fmt: skip
def test_the_gear_pushes_beyond_its_play_and_never_pulls(apart, rate, moment):
    """100 N m/rad beyond half the play, and 2 N m s/rad."""
    found = drive().gear_moment(0.2 + apart, 0.2, rate + 0.4, 0.4)
    assert found == pytest.approx(moment)


@pytest.mark.parametrize(
    ("fold", "rate", "moment"),
    [(0.0, 3.0, 0.0), (-1.5, 0.0, 0.0), (0.3, 0.0, 0.0), (0.32, 0.0, -2.0), (-1.53, 0.0, 3.0),
     (0.32, 0.5, -3.0), (0.32, -5.0, 0.0), (-1.53, -0.5, 4.0)],
)  # fmt: skip
def test_stops_push_back_and_let_go(fold, rate, moment):
    assert drive().stop_moment(fold, rate) == pytest.approx(moment)


def test_the_worm_s_load_turns_round_near_standstill():
    """Driven ahead, back, and the mean at rest; each servo carries half."""
    made = drive()
    ahead = worm_torque(ACTUATOR, 1.5, 0.2)
    back = -worm_torque(ACTUATOR, -1.5, 0.2)
    assert made.worm_load(3.0, 1.0) == pytest.approx(ahead)
    assert made.worm_load(3.0, -1.0) == pytest.approx(back)
    assert made.worm_load(3.0, 0.0) == pytest.approx(0.5 * (ahead + back))
    half = CREEP * made.free_speed * np.arctanh(0.5)
    assert made.worm_load(3.0, half) == pytest.approx(0.75 * ahead + 0.25 * back)
    assert ahead > 1.2 * abs(back)


@pytest.mark.parametrize(
    ("ahead", "voltage"), [(0.5, 0.9), (-0.5, -0.9), (0.01, 0.45), (-0.005, -0.225), (0.0, 0.0)]
)
def test_the_voltage_falls_in_a_straight_line_before_the_target(ahead, voltage):
    assert drive().voltage(0.1, 0.1 + ahead, 0.9) == pytest.approx(voltage)


def test_a_servo_on_its_motor_line():
    """T = T_s (V - Omega/Omega_0); what the worm takes is off it; currents of both servos."""
    made = drive()
    assert made.servo_torque(0.75, np.pi / 2.0) == pytest.approx(0.8 * 0.5)
    load = worm_torque(ACTUATOR, 1.0, 0.2)
    found = made.speed_change(0.75, np.pi / 2.0, 2.0)
    assert found == pytest.approx((0.4 - load) / made.inertia)
    assert made.current(-0.4) == pytest.approx(2.0 * (0.2 + 0.5 * 1.8))


@pytest.mark.parametrize(
    ("moment", "worm"), [(3.0, 0.1 + 0.03 + PLAY), (-3.0, 0.1 - 0.03 - PLAY), (0.0, 0.1)]
)
def test_where_a_worm_rests_under_a_moment(moment, worm):
    assert drive().resting_worm(0.1, moment) == pytest.approx(worm)
    assert drive().gear_moment(worm, 0.1, 0.0, 0.0) == pytest.approx(moment)


@pytest.mark.parametrize(("serves", "servos"), [("side", 1), ("tip", 2)])
def test_a_side_s_drive_from_the_file(serves, servos):
    """Stiffness by the squares of the linkages; damping a share of the critical one."""
    one = SimpleNamespace(**{**vars(ACTUATOR), "serves": serves})
    found = side_drive(one, "f", np.array([1.0, -0.5]), 0.02, 0.2, (-1.0, 1.0), 0.03, 0.1)
    assert found.stiffness == pytest.approx(50.0 * 1.25)
    assert found.damping == pytest.approx(0.2 * np.sqrt(62.5 * 0.02))
    assert (found.servos, found.band, found.limits) == (servos, 0.03, (-1.0, 1.0))
    soft = SimpleNamespace(**{**vars(ACTUATOR), "hinge_stiffness_N_m_rad": None})
    with pytest.raises(InputRefused, match="hinge_stiffness_N_m_rad is missing"):
        side_drive(soft, "f", np.ones(1), 0.02, 0.2, (-1.0, 1.0), 0.03, 0.1)


@pytest.mark.parametrize("sense", [1.0, -1.0])
def test_the_torque_of_the_servo_with_most_to_give(sense):
    """Tips on servos of their own whose moments cancel on the side's fold: one is helped."""
    made = drive(servos=2)
    tips = [SimpleNamespace(body="upper", side=0, linkage=1.0),
            SimpleNamespace(body="lower", side=0, linkage=-1.0)]  # fmt: skip
    plant = SimpleNamespace(
        drives=(made, made), bodies=SimpleNamespace(tips=tips), thrusts=1, lag=None
    )
    states = np.zeros((1, 30))
    states[0, 19:21] = sense * made.free_speed, 0.0
    hinges = {"upper": np.array([3.0]), "lower": np.array([2.9])}
    run = SimpleNamespace(
        times=[0.0], states=states, instants=[SimpleNamespace(gear=np.array([0.1, 0.0]))]
    )
    found = _worm_torques(plant, run, hinges)
    worst = 3.0 if sense > 0.0 else 2.9
    assert found[0] == pytest.approx([worm_torque(ACTUATOR, worst, 0.2), 0.0])
    free = SimpleNamespace(**{**vars(run), "instants": [SimpleNamespace(gear=np.zeros(2))]})
    assert _worm_torques(plant, free, hinges)[0] == pytest.approx([0.0, 0.0])
