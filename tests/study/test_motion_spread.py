"""A motion's half-widths and what they leave open, on a small craft and a coarse lattice."""

from dataclasses import replace

import numpy as np
import pytest
from flying_craft import biplane

from vlm.description.folds import FoldAngles
from vlm.description.loading import load_biplane
from vlm.findings import Finding
from vlm.flight.simulation.building import Modelled
from vlm.flight.simulation.history import history_of
from vlm.flight.simulation.plant import Allowance, Growth
from vlm.flight.simulation.running import run
from vlm.flight.simulation.steady import steady_state
from vlm.flight.simulation.task import task_of
from vlm.lattice.cellule import Grid
from vlm.loads.model_spread import wake_spread
from vlm.loads.state import FlightState
from vlm.study.motion.bands import band_widths
from vlm.study.motion.columns import apart
from vlm.study.motion.judging import (
    BEYOND_ROTORS,
    CUT_OFF_WITHIN,
    limit_rows,
    rotor_findings,
    whether_within,
)
from vlm.study.motion.results import PeakRow
from vlm.study.motion.scenarios import scenario_of
from vlm.study.motion.spread import load_spread, rotor_ends, with_allowance
from vlm.study.motion.study import MotionPlan, _stalled_from, flown, motion_study
from vlm.study.point.errors import half_width

MODELLED = Modelled(Grid(rows=3, strips=8), sections=False, lagged=False, slipstream=False)
KEYS = {"airspeed_m_s": 13.0, "to_left_deg": -6.0, "to_right_deg": 4.0, "duration_s": 0.2}


def test_lift_that_is_off_moves_the_start_as_its_half_width_says() -> None:
    # CL / CL_alpha: what a lift coefficient more takes off the angle of attack of level flight.
    craft = biplane()
    own = flown(craft, task_of(craft, scenario_of(craft, None, KEYS)), MODELLED, None)
    loads = own.folding.at(FoldAngles(0.0, 0.0)).loads
    off = float(wake_spread(loads, FlightState(alpha=own.start.alpha))["CL"])
    shift = np.zeros(own.plant.air.wide)
    shift[2] = -off * loads.reference.area
    plant = with_allowance(own.plant, Allowance(shift, 0.0 * shift))
    moved = steady_state(plant, 13.0, np.zeros(2)).alpha - own.start.alpha
    step = 1e-4
    craft_at = own.folding.at(FoldAngles(0.0, 0.0))
    lifts = [craft_at.wrench(craft_at.motion(13.0, own.start.alpha + sign * step), 1.225)[2]
             for sign in (-1.0, 1.0)]  # fmt: skip
    slope = (lifts[1] - lifts[0]) / (2.0 * step)
    expected = off * 0.5 * 1.225 * 13.0**2 * loads.reference.area / slope
    assert moved == pytest.approx(expected, rel=0.03)


def test_bands_add_lattice_and_model_at_each_instant() -> None:
    """By hand; what differs on the coarser lattice counts by Roache's estimate (1994)."""
    grid = Grid(rows=8, strips=20)
    times = np.array([0.0, 0.1, 0.2])

    def flight(bank: float, hinge: float, until: int = 3) -> dict[str, np.ndarray]:
        found = {"time_s": times, "bank_deg": bank * times, "hinge_upper_left_N_m": hinge + times}
        return {name: values[:until] for name, values in found.items()}

    own, rough = flight(10.0, 1.0), flight(12.0, 1.0)
    off = [flight(13.0, 1.0), flight(9.0, 1.3)]
    found = band_widths(own, rough, off, [], {"upper_left": 0.5}, grid)
    model = [0.0, 0.1 + 0.3, 0.2 + 0.6]
    same = band_widths(own, own, [], [], {"upper_left": 0.0}, grid)
    # Given at the start, so that it has no error there; its size is what it has passed through.
    lattice = half_width(own["bank_deg"], rough["bank_deg"], np.array([0.0, 1.0, 2.0]), grid)
    assert lattice[2] > lattice[1] > lattice[0] == 0.0
    np.testing.assert_allclose(found["bank_deg"], lattice + model)
    # Worked out at the start where the lattices do not agree: then it has a size there.
    assert found["bank_deg"][0] == 0.0
    apart = band_widths(own, flight(12.0, 1.1), [], [], {"upper_left": 0.0}, grid)
    begun = half_width(1.0, 1.1, 1.0, grid)
    assert apart["hinge_upper_left_N_m"][0] == pytest.approx(begun)
    assert begun > 0.1
    hinge = same["hinge_upper_left_N_m"] + 0.5 + 0.3
    np.testing.assert_allclose(found["hinge_upper_left_N_m"], hinge)
    ends = [flight(12.5, 1.0), flight(10.0, 1.0)]
    held = band_widths(own, rough, off, ends, {"upper_left": 0.5}, grid)
    np.testing.assert_allclose(held["bank_deg"] - found["bank_deg"], [0.0, 0.2, 0.4], atol=1e-12)
    cut = band_widths(own, rough, [*off, flight(9.0, 1.3, until=2)], [], {"upper_left": 0.5}, grid)
    assert np.isfinite(cut["bank_deg"]).tolist() == [True, True, False]
    coarsest = Grid(rows=2, strips=6)
    assert not band_widths(own, rough, off, [], {"upper_left": 0.5}, coarsest)  # none is coarser


@pytest.mark.slow
def test_half_widths_hold_a_finer_lattice() -> None:
    craft = biplane()
    study = motion_study(craft, MotionPlan(scenario_of(craft, None, KEYS), MODELLED))
    assert all(np.isfinite(row.half_width) for row in study.peaks)
    wide = {row.name: row.half_width for row in study.peaks}
    assert wide["hinge_upper_left_N_m"] > 0.005
    assert study.widths["height_m"][-1] == pytest.approx(study.height_end_half_width_m)
    finer = replace(MODELLED, grid=Grid(rows=5, strips=14))
    other = motion_study(craft, MotionPlan(scenario_of(craft, None, KEYS), finer, errors=False))
    for row in other.peaks:
        if row.name in ("bank_deg", "alpha_deg", "roll_rate_deg_s") or row.name.startswith("hinge"):
            assert abs(row.value - study.peak(row.name).value) < wide[row.name]


@pytest.mark.slow
def test_half_widths_hold_rotors_that_hold_their_speed_or_their_torque() -> None:
    """Flown on the lattice itself after a side gust, all else alike; and the ends are apart."""
    craft = load_biplane("tideline")
    keys = {"airspeed_m_s": 13.0, "gust": "side", "gust_speed_m_s": 1.0, "duration_s": 1.5}
    scenario = scenario_of(craft, None, keys)
    study = motion_study(craft, MotionPlan(scenario, MODELLED, law=False))
    wide = {row.name: row for row in study.peaks}
    task = task_of(craft, scenario)
    own = flown(craft, task, MODELLED, None)
    plants = rotor_ends(own.plant)
    assert len(plants) == 4
    banks = []
    for plant in plants:
        done = run(plant, task, None, own.start)
        end = replace(own, plant=plant, run=done, history=history_of(plant, done))
        for name in ("bank_deg", "beta_deg", "roll_rate_deg_s", "height_m"):
            row = wide[name]
            assert apart(name, own.columns[name], end.columns[name]) < row.half_width
        banks.append(float(end.columns["bank_deg"][-1]))
        assert abs(banks[-1] - study.bank_end_deg) < study.bank_end_half_width_deg
    # Held speed against held torque, then the most against the least force across.
    assert min(abs(banks[i] - banks[j]) for i, j in ((0, 2), (1, 3), (0, 1), (2, 3))) > 0.05
    assert any("answer the air" in line for line in study.assumptions)


def test_without_rotors_nothing_is_flown_again_for_them() -> None:
    craft = biplane()
    own = flown(craft, task_of(craft, scenario_of(craft, None, KEYS)), MODELLED, None)
    assert rotor_ends(own.plant) == ()


def test_a_motion_that_may_be_cut_off_is_not_called_within_limits() -> None:
    def finding(code: str) -> Finding:
        return Finding(code, "what", 1.0, 2.0, "s", "where from", "remedy")

    assert whether_within((), "", ()) is True
    for code in (CUT_OFF_WITHIN, BEYOND_ROTORS):
        assert whether_within((), "", [finding(code)]) is None
    assert whether_within((), "the sideslip passes 32 deg") is False


def test_the_hinge_that_may_reach_furthest_is_held_against_the_limit() -> None:
    rows = [
        PeakRow("hinge_upper_left_N_m", 5.0, 0.1, "N m", 0.1),
        PeakRow("hinge_upper_right_N_m", -4.9, 1.5, "N m", 0.2),
        PeakRow("load_factor", 1.0, 0.0, "1", 0.0),
    ]
    craft = load_biplane("tideline")
    first = limit_rows(craft, rows)[0]
    assert first.name == "hinge moment, upper right"
    assert first.kept is None


def test_past_stall_it_is_not_known_whether_limits_of_loads_are_kept() -> None:
    """Stall itself is passed as far as the margin's own ± says; what broke before it stays so."""
    rows = [
        PeakRow("hinge_upper_left_N_m", 5.0, 0.1, "N m", 0.5),
        PeakRow("load_factor", 9.0, 0.0, "1", 0.2),
        PeakRow("stall_margin_deg", -2.0, 0.5, "deg", 0.6),
    ]
    craft = load_biplane("tideline")

    def kept(before: list[PeakRow] | None) -> list[bool | None]:
        return [row.kept for row in limit_rows(craft, rows, before)]

    assert kept(None) == [True, False, False]
    assert kept(rows[1:2]) == [None, False, False]
    assert kept([]) == [None, None, False]


def test_the_first_strip_past_its_stall_starts_what_is_not_known() -> None:
    """From the margin of the same history."""
    craft = load_biplane("tideline")
    own = flown(craft, task_of(craft, scenario_of(craft, None, KEYS)), MODELLED, None)
    assert _stalled_from(own) == float("inf")
    margins = np.where(own.history.times < 0.1, 0.02, -0.01)
    stalled = replace(own, history=replace(own.history, stall_margin=margins))
    assert _stalled_from(stalled) == own.history.times[own.history.times >= 0.1][0]


def test_a_rotor_that_gives_more_than_it_can_at_the_airspeed_flown() -> None:
    # Power is thrust times axial speed and more (momentum theory): at twice the airspeed less than
    # half of the thrust of the start is left of 12 W.
    craft = load_biplane("tideline")
    weak = tuple(one.model_copy(update={"power_max_W": 12.0}) for one in craft.rotors)
    slow = craft.model_copy(update={"rotors": weak})
    task = task_of(slow, scenario_of(slow, None, KEYS))
    own = flown(slow, task, MODELLED, None)
    history = own.history
    assert rotor_findings(own.folding, task, history, 1.225) == []
    thrusts = history.thrusts.copy()
    thrusts[1:] = 1.0
    faster = replace(history, airspeed=2.0 * history.airspeed, thrusts=thrusts)
    found = rotor_findings(own.folding, task, faster, 1.225)
    assert [one.code for one in found] == [BEYOND_ROTORS]
    assert found[0].limit < 12.0 / (2.0 * 13.0)


def test_loads_that_are_off_grow_with_fold_or_sideslip_from_those_of_the_start() -> None:
    """By hand: the larger of both shares, at most one; nothing in roll where all is symmetric."""
    growth = Growth(np.radians([5.0, 5.0]), float(np.radians(40.0)), 0.2)
    zero = np.zeros(8)
    begins, more = zero + 1.0, zero + 2.0
    off = Allowance(begins, zero, more, zero + 10.0, growth)
    for folds, folded in (([5.0, 5.0], 0.0), ([5.0, 15.0], 0.25), ([-15.0, 5.0], 0.5),
                          ([5.0, -90.0], 1.0)):  # fmt: skip
        assert growth.folded(np.radians(folds)) == pytest.approx(folded)
    np.testing.assert_allclose(off.at(0.0, 0.0), 1.0)
    np.testing.assert_allclose(off.at(0.25, 0.0), 1.0 + 0.25 * 2.0)
    np.testing.assert_allclose(off.at(0.25, -0.1), 1.0 + 0.5 * (2.0 - 1.0))
    np.testing.assert_allclose(off.at(0.25, 0.4), 1.0 + 1.0 * (2.0 + 4.0))
    still = Growth(np.zeros(2), 0.0, 0.0)
    assert (still.folded(np.ones(2)), still.slipped(0.3)) == (0.0, 0.0)
    np.testing.assert_allclose(Allowance(begins, more).at(1.0, 0.1), 1.0 + 0.2)


def test_a_symmetric_start_has_no_error_in_roll_and_thrusts_of_both_sides_stay_alike() -> None:
    """The mirror image of a symmetric flight is itself, whatever its tips do later."""
    craft = load_biplane("tideline")
    keys = {"airspeed_m_s": 13.0, "to_left_deg": -20.0, "to_right_deg": 0.0, "duration_s": 0.3}
    modelled = replace(MODELLED, grid=Grid(rows=2, strips=8))
    task = task_of(craft, scenario_of(craft, None, keys))
    own = flown(craft, task, modelled, None)
    spread = load_spread(own.folding, own.plant, task, own.history)
    assert len(spread.groups) == 4
    for group in spread.groups[2:]:
        plant = with_allowance(own.plant, group)
        begun, grown = (np.abs(group.at(share, 0.0)[[3, 5]]).max() for share in (0.0, 1.0))
        assert grown > 1e-6
        assert begun < 1e-3 * grown  # not folded apart
        start = steady_state(plant, 13.0, np.zeros(2))
        assert plant.rotors is not None
        sides = dict(zip(plant.rotors.names, start.thrusts, strict=True))
        assert sides["upper starboard"] == pytest.approx(sides["upper port"], abs=1e-6)


def test_a_limit_that_is_broken_before_a_flight_is_cut_off_is_broken() -> None:
    """What comes later is not known, and changes nothing in it; what was kept is open again."""
    craft = biplane()

    def rows(margin: float, half_width: float, at_s: float) -> list[PeakRow]:
        return [PeakRow("stall_margin_deg", margin, half_width, "deg", at_s)]

    whole = rows(-19.4, float("nan"), 2.7)
    (broken,) = limit_rows(craft, whole, None, rows(-5.0, 2.0, 1.9))
    assert (broken.kept, broken.value, broken.at_s) == (False, -5.0, 1.9)
    (open_,) = limit_rows(craft, whole, None, rows(5.0, 2.0, 1.9))
    assert (open_.kept, open_.value) == (None, -19.4)


def test_a_hinge_of_which_nothing_is_known_is_not_hidden_by_one_that_keeps_its_limit() -> None:
    rows = [
        PeakRow("hinge_upper_left_N_m", 0.364, float("nan"), "N m", 1.6),
        PeakRow("hinge_upper_right_N_m", -0.360, 0.1, "N m", 0.7),
    ]
    assert limit_rows(biplane(), rows)[0].name == "hinge moment, upper left"
    assert limit_rows(biplane(), rows)[0].kept is None
