"""Moments that rotors can add: one bounded problem, against scans and closed forms."""

import numpy as np
import pytest

from vlm.description.folds import FoldAngles
from vlm.description.loading import load_biplane
from vlm.description.models import Biplane
from vlm.description.power import Rotor
from vlm.flight.craft.modelling import Modelling
from vlm.flight.trim.condition import FlightConditions
from vlm.flight.trim.rotor_moments import RotorMoments, rotor_moments, thrust_range
from vlm.power.momentum import disc_flow
from vlm.power.rotor import disc_area, hover_state, rotor_model
from vlm.show.tables import lateral as lateral_table
from vlm.show.text.layout import with_error
from vlm.study.lateral.modes import _rotors_can

HOVER = np.zeros(3)
CENTRE = np.array([0.05, 0.0, -0.18])


def tideline_with(**keys: float | None) -> tuple[Rotor, ...]:
    rotors = load_biplane("tideline").rotors
    return tuple(rotor.model_copy(update=keys) for rotor in rotors)


CRUISE = np.array([12.0, 0.0, 0.0])


def torque(rotor: Rotor, thrust: float) -> float:
    """Shaft torque with the wind of CRUISE along the axis: power over speed of rotation."""
    flow = disc_flow(thrust, 12.0, 0.0, 1.225, disc_area(rotor))
    state = rotor_model(rotor).state(flow, 1.225)
    return float(state.power / state.speed)


def found(rotors: tuple[Rotor, ...], thrusts: list[float]) -> RotorMoments:
    moments = rotor_moments(rotors, np.array(thrusts), HOVER, 1.225, CENTRE)
    assert moments is not None
    return moments


@pytest.mark.parametrize("least", [-0.8, 0.0, 0.3])
def test_roll_of_four_like_rotors_is_the_torque_of_a_full_transfer(least: float) -> None:
    """Two of each sense on the diagonals: with thrust and the other moments held only
    (+d, -d, -d, +d) is free, and d ends at the least thrust (closed form)."""
    rotors = tideline_with(thrust_min_N=least, thrust_max_N=50.0, power_max_W=None)
    each = 2.0
    # Left-handed rotors (upper port, lower starboard) push the craft to starboard.
    expected = 2.0 * (torque(rotors[0], 2.0 * each - least) - torque(rotors[0], least))
    moments = rotor_moments(rotors, np.full(4, each), CRUISE, 1.225, CENTRE)
    assert moments is not None
    assert moments.roll.alone
    assert moments.roll.highest == pytest.approx(expected, rel=2e-3)
    assert moments.roll.lowest == pytest.approx(-expected, rel=2e-3)
    assert "lowest thrust" in moments.roll.stopped_by[0]


@pytest.mark.parametrize("power", [0.8, 1.3])
def test_rotors_that_need_more_power_roll_more_and_end_sooner(power: float) -> None:
    """A full transfer's roll is torque alone, in proportion to the power. In hover the highest
    thrust within a limit of power is found by bisection on the rotor's own curve."""
    rotors = tideline_with(thrust_min_N=0.0, thrust_max_N=50.0, power_max_W=None)
    trim = np.full(4, 2.0)
    own, other = (rotor_moments(rotors, trim, CRUISE, 1.225, CENTRE, power=f) for f in (1.0, power))
    assert own is not None
    assert other is not None
    assert other.roll.either_way == pytest.approx(power * own.roll.either_way, rel=1e-6)

    (rotor, *_), most = tideline_with(thrust_min_N=0.0, thrust_max_N=None, power_max_W=60.0), 60.0
    low, high = 0.1, 40.0
    for _ in range(60):
        middle = 0.5 * (low + high)
        needed = power * float(hover_state(rotor, middle, 1.225).power)
        low, high = (middle, high) if needed < most else (low, middle)
    there = thrust_range(rotor, 2.0, 40.0, HOVER, 1.225, None, power)
    assert there.high_by == "power"
    assert there.high == pytest.approx(low, rel=1e-5)


@pytest.mark.parametrize("above", [0.003, 0.02, 0.1, 0.5])
def test_a_rotor_ends_where_its_model_does_however_near_the_trim(above: float) -> None:
    """Statement of the docstring: a model's last value, searched for here by a scan."""
    (rotor, *_), wind = tideline_with(thrust_min_N=-40.0, thrust_max_N=40.0), (20.0, 0.0, 0.0)
    model, area = rotor_model(rotor, None), disc_area(rotor)

    def known(thrust: float) -> bool:
        flow = disc_flow(np.array([thrust]), 20.0, 0.0, 1.225, area)
        return bool(model.state(flow, 1.225).in_range[0])

    scanned = [thrust for thrust in np.linspace(5.0, -20.0, 25001) if not known(thrust)]
    there = thrust_range(rotor, scanned[0] + above, 10.0, np.array(wind), 1.225, None)
    assert there.low_by == "model"
    assert there.low == pytest.approx(scanned[0], abs=2e-3)


def test_the_half_width_of_what_rotors_can_is_that_of_their_power() -> None:
    """Where no rotor comes near its limit of power, roll is torque: half the 90 % interval of a
    normal distribution is 1.645 standard deviations (handbook tables)."""
    craft = load_biplane("tideline")
    conditions = FlightConditions(craft)
    trim = conditions.at(FoldAngles(), 15.0, Modelling.ROTORS)
    assert trim is not None
    assert trim.rotors is not None
    assert craft.uncertainty is not None
    share = 1.645 * 0.01 * craft.uncertainty.rotor_power_percent
    widths = conditions.rotor_half_widths(trim)
    assert widths["roll"] == pytest.approx(share * trim.rotors.roll.either_way, rel=1e-3)
    assert widths["roll highest"] == pytest.approx(share * trim.rotors.roll.highest, rel=1e-3)
    assert widths["roll lowest"] == pytest.approx(-share * trim.rotors.roll.lowest, rel=1e-3)
    # Pitch is thrust at an arm, and the file states the thrusts.
    assert widths["pitch lowest"] == pytest.approx(0.0, abs=1e-9)
    can = _rotors_can(conditions, trim)
    assert can is not None
    assert can.half_widths_N_m["roll"] == widths["roll"]
    said = lateral_table._rotors_can(can)
    assert said.endswith(f"roll {with_error(can.roll_N_m, widths['roll'])} N m")
    known = craft.uncertainty.model_copy(update={"rotor_power_percent": 0.0})
    sure = FlightConditions(craft.model_copy(update={"uncertainty": known}))
    assert sure.rotor_half_widths(trim) == {}
    unknown = _rotors_can(sure, trim)
    assert unknown is not None
    assert lateral_table._rotors_can(unknown).endswith(" N m, ± not known")


def test_pitch_and_yaw_are_thrust_differences_at_their_arms() -> None:
    """Statics: 1.7 N moved from two rotors to two others, 0.36 m and 0.54 m away."""
    rotors = tideline_with(thrust_min_N=0.3, thrust_max_N=50.0, power_max_W=None)
    moments = found(rotors, [2.0] * 4)
    assert moments.pitch.highest == pytest.approx(2.0 * 1.7 * 0.36, rel=1e-4)
    assert moments.pitch.lowest == pytest.approx(-2.0 * 1.7 * 0.36, rel=1e-4)
    # In yaw the reaction torque about the thrust's axis has no part; the arms are 0.27 m.
    assert moments.yaw.highest == pytest.approx(2.0 * 1.7 * 0.54, rel=2e-2)


def test_held_moments_and_thrust_stay_and_limits_are_kept() -> None:
    rotors = tideline_with(thrust_min_N=0.1, thrust_max_N=3.0)
    trim = np.array([1.0, 1.2, 1.5, 0.9])
    moments = rotor_moments(rotors, trim, HOVER, 1.225, CENTRE)
    assert moments is not None
    for axis, reach in enumerate((moments.roll, moments.pitch, moments.yaw)):
        for thrusts, change in zip(reach.thrusts, reach.others, strict=True):
            assert thrusts.sum() == pytest.approx(trim.sum(), abs=1e-6)
            assert np.all(thrusts >= 0.1 - 1e-9)
            assert np.all(thrusts <= 3.0 + 1e-9)
            others = [i for i in range(3) if i != axis]
            assert np.abs(change[others]).max() < 1e-5
        assert reach.highest > 0.0 > reach.lowest


def test_no_feasible_thrusts_do_better_than_the_ends() -> None:
    """Random thrusts along the one direction left free, found by the null space of the held
    rows at the trim and corrected by Newton's method: none beats the ends."""
    from scipy.optimize import fsolve

    from vlm.flight.trim.rotor_moments import _Problem, thrust_ranges

    rotors = tideline_with(thrust_min_N=0.1, thrust_max_N=3.0)
    trim = np.array([1.0, 1.2, 1.5, 0.9])
    problem = _Problem(rotors, thrust_ranges(rotors, trim, HOVER, 1.225), trim, CENTRE)
    for axis in range(3):
        reach = problem.reach(axis)
        _, rates = problem.held(trim, axis, alone=True)
        free = np.linalg.svd(rates)[2][-1]
        for step in np.linspace(-3.0, 3.0, 61):

            def off(
                t: np.ndarray, step: float = step, axis: int = axis, free: np.ndarray = free
            ) -> np.ndarray:
                return np.append(problem.held(t, axis, True)[0], (t - trim) @ free - step)

            thrusts, _, worked, _ = fsolve(off, trim + step * free, full_output=True)
            inside = np.all((thrusts >= 0.1) & (thrusts <= 3.0))
            if worked != 1 or not inside:
                continue
            change = problem.moments(thrusts)[axis] - problem.start[axis]
            assert reach.lowest - 1e-6 <= change <= reach.highest + 1e-6


def test_power_limits_end_the_transfer() -> None:
    rotors = tideline_with(thrust_min_N=0.0, thrust_max_N=None, power_max_W=20.0)
    moments = found(rotors, [2.0] * 4)
    for thrusts in moments.roll.thrusts:
        for rotor, thrust in zip(rotors, thrusts, strict=True):
            assert float(hover_state(rotor, thrust, 1.225).power) <= 20.0 * (1.0 + 1e-4)
    assert "highest power" in moments.pitch.stopped_by[0]
    free = found(tideline_with(thrust_min_N=0.0, thrust_max_N=None, power_max_W=None), [2.0] * 4)
    assert moments.pitch.highest < 0.95 * free.pitch.highest


def test_two_rotors_roll_and_yaw_together_and_say_so() -> None:
    rotors = tideline_with(thrust_min_N=0.0, thrust_max_N=9.0, power_max_W=None)[:2]
    moments = found(rotors, [3.0, 3.0])
    assert not moments.yaw.alone
    assert moments.yaw.highest == pytest.approx(6.0 * 0.27, rel=1e-2)
    assert abs(moments.yaw.others[0][0]) > 0.0
    assert moments.pitch.highest == pytest.approx(0.0, abs=1e-6)


def test_a_trim_beyond_a_limit_has_no_reach() -> None:
    rotors = tideline_with(thrust_min_N=0.5, thrust_max_N=3.0)
    assert rotor_moments(rotors, np.array([0.4, 1, 1, 1]), HOVER, 1.225, CENTRE) is None
    assert rotor_moments((), np.zeros(0), HOVER, 1.225, CENTRE) is None


# --- one flight condition ----------------------------------------------------------------------


@pytest.fixture(scope="module")
def still() -> Biplane:
    """The demo craft without slipstream, so that its wings meet the free stream alone."""
    return load_biplane("tideline", ["propulsion.slipstream=false"])


@pytest.mark.parametrize("fold", [0.0, -45.0])
def test_levels_of_modelling_meet_where_they_model_the_same(still: Biplane, fold: float) -> None:
    """Without slipstream the full trim and the wing with its sections differ by the lattice and by
    the pitching moment's share of thrust alone; the inviscid wing lacks the profile drag."""
    conditions = FlightConditions(still)
    folds = FoldAngles.symmetric(fold)
    levels = [Modelling.WING, Modelling.SECTIONS, Modelling.ROTORS]
    wing, sections, full = (conditions.at(folds, 13.0, level) for level in levels)
    assert wing is not None
    assert sections is not None
    assert full is not None
    assert [one.modelling for one in (wing, sections, full)] == levels
    assert sections.thrust == pytest.approx(full.thrust, rel=0.01)
    assert sections.alpha == pytest.approx(full.alpha, abs=np.radians(0.15))
    assert sections.stall_margin == pytest.approx(full.stall_margin, abs=np.radians(0.2))
    assert wing.thrust < 0.75 * sections.thrust
    assert wing.stall_margin == np.inf
    assert full.shaft_power is not None
    assert full.shaft_power > full.thrust * 13.0
    assert full.rotors is not None
    assert full.rotors.thrust == pytest.approx(full.thrust)
    assert wing.rotors is None


def test_a_load_factor_with_rotors_is_refused(still: Biplane) -> None:
    with pytest.raises(ValueError, match="only level flight"):
        FlightConditions(still).at(FoldAngles(), 13.0, Modelling.ROTORS, 2.0)


def test_an_end_that_a_stated_thrust_sets_has_no_half_width() -> None:
    """Thistle yaws by thrust at an arm (statics), ended by the thrusts of its file; how far the
    search of both ends differs is no uncertainty, and never printed as one."""
    conditions = FlightConditions(load_biplane("thistle"))
    trim = conditions.at(FoldAngles(), 12.0, Modelling.ROTORS)
    assert trim is not None
    assert trim.rotors is not None
    assert trim.rotors.yaw.either_way > 0.01
    assert conditions.rotor_half_widths(trim)["yaw"] == 0.0
    can = _rotors_can(conditions, trim)
    assert can is not None
    said = lateral_table._rotors_can(can)
    assert f"yaw {with_error(can.yaw_N_m, 0.0)}," in said
    assert "±" not in said.partition("pitch")[0]
