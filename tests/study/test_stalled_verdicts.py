"""Verdicts in flight past stall, and airspeeds at which the wings cannot carry the craft."""

import functools
import re
from dataclasses import replace

import numpy as np
import pytest
from thin_craft import naming

from vlm.constants import GRAVITY
from vlm.description import load_biplane
from vlm.description.folds import FoldAngles
from vlm.flight.craft.folded_craft import FoldedCraft
from vlm.flight.craft.folding_craft import FoldingCraft
from vlm.flight.craft.level import LevelFlight, level_flight, small_motion
from vlm.flight.craft.small_motions import LATERAL, lateral_matrix, longitudinal_matrix
from vlm.flight.craft.stalled import (
    in_roll,
    stalled_hinges,
    stalled_moments,
    stalled_rates,
    stalled_roll_rate,
)
from vlm.flight.craft.steady_roll import roll_axis, steady_roll_rate
from vlm.flight.motion.modes import Mode
from vlm.flight.motion.roll_authority import Air
from vlm.flight.motion.roll_response import RollResponse
from vlm.flight.trim.condition import FlightConditions
from vlm.lattice.cellule import Grid, build_cellule
from vlm.loads.state import FlightState
from vlm.progress import silent
from vlm.show.airspeed_limits import HOLDS, MOVES, limited, servo_sentence
from vlm.show.tables.hinge import hinge_table
from vlm.show.tables.lateral import mode_words
from vlm.sides import Side
from vlm.study.compare.numbers import Entry, folding_craft, lattice_sheet
from vlm.study.hinge.errors import hinge_half_widths
from vlm.study.hinge.moves import limits
from vlm.study.hinge.results import HingePlan, Limits, LimitSpeed
from vlm.study.hinge.study import hinge_study
from vlm.study.lateral.modes import Crafts, mode_row, motion_blocks, rates_half_width
from vlm.study.lateral.results import Derivatives, LateralStudy, ModeBlock
from vlm.study.lateral.study import LateralPlan, lateral_study
from vlm.study.point.errors import coarser
from vlm.study.point.slipstream import Slipstreams
from vlm.study.roll import study as roll_study
from vlm.study.roll.results import PairRow
from vlm.study.roll.study import RollPlan
from vlm.study.roll.verdicts import history_row
from vlm.verdicts import SIGN_NOT_KNOWN

GRID = Grid(2, 8)


@functools.cache
def study(airspeed: float, fold: float, *changes: str) -> LateralStudy:
    plan = LateralPlan(Air(airspeed, 1.225), (fold,), (13.0,), grid=GRID)
    return lateral_study(load_biplane("tideline", list(changes)), plan)


def past_stall(highest_lift: float) -> Derivatives:
    """At 13 degrees with the tips up, some strips past their stall."""
    return study(13.0, 30.0, f"sections.foil.cl_max={highest_lift}").folds[0].alphas[0]


def test_what_stalled_sections_change_is_left_open() -> None:
    """Highest lift of the section 0.15 less and more: what a polar is known to at low Reynolds
    numbers (common practice). It moves the derivative by more than lattice and wake leave open."""
    middle, lower, higher = (past_stall(lift) for lift in (1.15, 1.0, 1.3))
    values = [one.body["Cl_beta"] for one in (middle, lower, higher)]
    moved = max(abs(value - values[0]) for value in values)
    assert higher.dihedral_effect == "stable"  # not yet stalled there
    attached = higher.errors["Cl_beta"] + higher.spread["Cl_beta"]
    width = middle.errors["Cl_beta"] + middle.spread["Cl_beta"]
    assert 2.0 * attached < moved < width
    assert middle.dihedral_effect == SIGN_NOT_KNOWN


def test_level_flight_past_stall_is_warned_of() -> None:
    """Flared tips take incidence as they fold; the margin stands beside the level flight."""
    stalled = study(13.0, -60.0, "upper.tips.flare_deg=20")
    level = stalled.folds[0].level
    assert level is not None
    assert level.stall_margin_deg is not None
    assert level.stall_margin_deg < 0.0
    said = [one.sentence() for one in stalled.findings if one.code == "level_flight_stalled"]
    assert len(said) == 1
    past = -level.stall_margin_deg
    assert f"past their stall: -60 deg; the farthest past it: {past:.3g} deg (the file" in said[0]
    clear = study(13.0, 30.0, "sections.foil.cl_max=1.3")
    assert "level_flight_stalled" not in [one.code for one in clear.findings]


def test_an_airspeed_that_is_too_slow_names_one_that_is_not() -> None:
    """The airspeed that the warning names is flown: level flight is found there."""
    slow = [one for one in study(7.0, 30.0).findings if one.code == "too_slow"]
    assert len(slow) == 1
    assert slow[0].value == 7.0
    assert slow[0].remedy == f"ask for --airspeed {slow[0].limit:g}"
    level = study(slow[0].limit, 30.0).folds[0].level
    assert level is not None
    lift = level.CL * 0.5 * 1.225 * slow[0].limit ** 2 * 0.4080
    assert lift == pytest.approx(2.1 * GRAVITY, rel=0.03)  # thrust carries a little of the weight


PAIR = FoldAngles(20.0, -60.0)
SLOW = Air(9.6, 1.225)


def rolling(*changes: str) -> PairRow:
    """The pair at 9.6 m/s, where the tip that is lowered stalls."""
    plan = RollPlan(SLOW, grid=GRID)
    study = roll_study._Study(load_biplane("tideline", list(changes)), plan, silent)
    found = study.moments.pair(PAIR, SLOW)
    assert found is not None
    return found


@functools.cache
def folded(folds: FoldAngles, *changes: str, grid: Grid = GRID) -> FoldedCraft:
    return FoldingCraft(load_biplane("tideline", list(changes)), grid).at(folds)


@functools.cache
def level(folds: FoldAngles, *changes: str) -> LevelFlight:
    flight = level_flight(folded(folds, *changes), SLOW.airspeed, SLOW.density)
    assert flight is not None
    return flight


def test_moments_and_rates_of_roll_hold_what_stalled_sections_change() -> None:
    """Highest lift 0.15 more, trimmed and solved again, where no strip is stalled then."""
    stalled, clear = rolling(), rolling("sections.foil.cl_max=1.3")
    assert stalled.values["stall_margin_deg"] < 0.0 < clear.values["stall_margin_deg"]
    for name in ("rolling", "yawing"):
        ours, theirs = getattr(stalled, name), getattr(clear, name)
        assert abs(ours.value - theirs.value) <= ours.half_width
        assert ours.spread > 2.0 * theirs.spread
    rate, width = stalled.roll_rate
    assert abs(rate - clear.roll_rate[0]) <= width
    assert abs(rate - clear.roll_rate[0]) > clear.roll_rate[1]


def test_the_lattice_alone_lies_within_what_stalled_sections_leave_open() -> None:
    """Moments, roll rate, hinges and roots of the same flight with thin sections."""
    craft, flight = folded(PAIR), level(PAIR)
    assert flight.stall_margin < 0.0
    alone, axis = replace(craft, strips=None), roll_axis(flight.alpha)
    moved = (craft.wrench(flight.motion, 1.225) - alone.wrench(flight.motion, 1.225))[3:]
    assert stalled_moments(craft, flight) == pytest.approx(np.abs(moved))
    assert np.abs(moved @ axis) > 0.05
    with_sections, without = (steady_roll_rate(one, flight) for one in (craft, alone))
    assert with_sections is not None
    assert without is not None
    width = stalled_roll_rate(craft, flight, with_sections)
    assert width == pytest.approx(abs(with_sections - without))
    ours, theirs = (one.hinge_moments(flight.motion, 1.225) for one in (craft, alone))
    apart = [abs(ours[body] - theirs[body]) for body in ours]
    assert stalled_hinges(craft, flight) == pytest.approx(np.array(apart))
    assert stalled_hinges(craft, flight, 4.0).max() > 1.1 * max(apart)  # rolling stalls more


def test_short_of_stall_nothing_more_is_left_open() -> None:
    better = "sections.foil.cl_max=1.5"
    craft, flight = folded(PAIR, better), level(PAIR, better)
    assert flight.stall_margin > 0.0
    assert not stalled_moments(craft, flight).any()
    assert not stalled_hinges(craft, flight).any()
    assert not stalled_rates(craft, flight).any()
    assert stalled_roll_rate(craft, flight, 0.5) == 0.0
    # In a roll fast enough the tip that goes down stalls.
    rate = 6.0
    assert craft.stall(in_roll(flight, rate), 1.225)[0] < 0.0
    assert stalled_roll_rate(craft, flight, rate) > 0.0


def test_hinge_moments_hold_what_stalled_sections_change() -> None:
    plain, better = "sections.foil.cl_max=1.15", "sections.foil.cl_max=1.3"
    moments, widths = [], []
    for change in (plain, better):
        craft, flight = folded(PAIR, change), level(PAIR, change)
        rough = folded(PAIR, change, grid=coarser(GRID))
        cellule = build_cellule(load_biplane("tideline"), GRID)
        moments.append(craft.hinge_moments(flight.motion, 1.225))
        widths.append(hinge_half_widths(craft, rough, cellule, flight))
    for body in moments[0]:
        assert abs(moments[0][body] - moments[1][body]) < widths[0][body]
    assert max(widths[0].values()) > 1.25 * max(widths[1].values())


def test_roots_hold_what_stalled_sections_change() -> None:
    """Roots with the lattice's own rates lie within the half-width of those with sections."""
    craft = load_biplane("tideline", [])
    crafts = Crafts(
        FoldingCraft(craft, GRID, sideslip=True),
        FoldingCraft(craft, coarser(GRID), sections=False, sideslip=True),
        Slipstreams(craft, None, FlightConditions(craft, 1.225, GRID)),
    )
    folds = FoldAngles(-60.0, -60.0)
    flight = level_flight(crafts.fine.at(folds), 10.2, 1.225)
    assert flight is not None
    assert flight.stall_margin < 0.0
    blocks = motion_blocks(crafts, folds, flight)
    motion = small_motion(replace(crafts.fine.at(folds), strips=None), flight)
    own = {"longitudinal": longitudinal_matrix(motion), "lateral": lateral_matrix(motion)}
    for name, matrix in own.items():
        found: ModeBlock = blocks[name]
        worst = max(found.modes, key=lambda mode: mode.real_1_s)
        moved = abs(worst.real_1_s - float(np.linalg.eigvals(matrix).real.max()))
        assert moved <= worst.real_half_width_1_s
    clear = level_flight(crafts.fine.at(folds), 12.0, 1.225)
    assert clear is not None
    assert clear.stall_margin > 0.0
    wide, narrow = (rates_half_width(crafts, folds, one)[3, 3] for one in (flight, clear))
    assert wide > 2.0 * narrow


def test_compared_numbers_hold_what_stalled_sections_change() -> None:
    entry = Entry("slow", load_biplane("tideline", []), FoldAngles(-60.0, -60.0))
    state = FlightState(alpha=0.07, airspeed=10.2, density=1.225)
    folding = folding_craft(entry.craft, GRID)
    sheets = [
        lattice_sheet(entry, state, Air(speed), GRID, PAIR, folding) for speed in (10.2, 13.0)
    ]
    stalled, clear = sheets
    assert stalled.values["stall_margin_deg"] < 0.0 < clear.values["stall_margin_deg"]
    for key in ("level_alpha_deg", "stall_margin_deg", "thrust_N", "pitch_growth_1_s",
                "lateral_growth_1_s", "hinge_moment_N_m", "Cl_beta"):  # fmt: skip
        assert stalled.corner[key] > 0.0, key
        assert clear.corner[key] == 0.0, key


def test_whether_a_hinge_holds_is_not_known_where_stalled_sections_leave_it_open() -> None:
    """Worst moments and half-widths of single rows, each solved by itself, beside the limit."""
    changes = ["actuator.hinge_moment_limit_N_m=0.6"]
    craft = naming(load_biplane("tideline", changes))
    plan = HingePlan(Air(12.0), (-90.0,), grid=GRID)
    folding = FoldingCraft(craft, GRID)
    rough = FoldingCraft(craft, coarser(GRID), sections=False)
    assert craft.actuator is not None
    found = limits(folding, rough, craft.actuator, plan).held
    assert found.not_known_m_s is not None
    low, high = found.not_known_m_s
    study = hinge_study(craft, replace(plan, airspeeds=(low, high), load_factors=(3.5,)))
    for row in study.moments:
        hinge = row.hinge()
        assert hinge.half_width_N_m is not None
        assert abs(abs(hinge.worst_N_m) - 0.6) <= hinge.half_width_N_m
    said = " ".join(hinge_table(study).split())
    assert "not known" in said[said.index("held in a rolling") : said.index("Highest moment")]
    sure = limits(
        folding, rough, craft.actuator.model_copy(update={"hinge_moment_limit_N_m": 9.0}), plan
    )
    assert sure.held.not_known_m_s is None


def test_a_limit_of_airspeed_says_where_it_is_not_known() -> None:
    """Words of a limit by the fields of the same row."""
    whole = LimitSpeed(None, None, 60.0, None, False)
    assert limited(whole, *MOVES) == "the servo moves a tip at every airspeed up to 60 m/s"
    open_to = replace(whole, not_known_m_s=(12.0, 20.0))
    assert limited(open_to, *HOLDS).endswith("up to 60 m/s (not known from 12 to 20 m/s)")
    failing = LimitSpeed(12.0, None, 60.0, 30.0, True)
    said = "the servo does not move a tip even at the airspeed asked for, at fold 30 deg"
    assert limited(failing, *MOVES) == said
    unsure = replace(failing, not_known_m_s=(12.0, 12.0))
    said = limited(unsure, *HOLDS)
    assert said.startswith("it is not known whether a tip is held in a rolling pull-up")
    assert said.endswith("at limit load at the airspeed asked for, at fold 30 deg")


def test_the_servo_is_said_to_move_a_tip_only_where_it_does() -> None:
    """In one sentence, as on the first screen of a report; at 12 m/s it already fails, dry."""

    def said(**moved: LimitSpeed) -> str:
        return servo_sentence(Limits(moved, moved["dry"], {}, None, ()))

    plain = LimitSpeed(24.0, 0.3, 60.0, -85.0, False)
    both = said(dry=plain, greased=LimitSpeed(38.0, None, 60.0, -85.0, False))
    assert both == (
        "The servo moves a tip up to 24.00 ± 0.30 m/s with a dry worm and 38.0 ± not known m/s with"
        " a greased worm."
    )
    failing = said(dry=LimitSpeed(12.0, None, 60.0, 30.0, True), greased=plain)
    assert failing == (
        "With a dry worm the servo does not move a tip even at the airspeed asked for, at fold 30°;"
        " with a greased worm the servo moves a tip up to 24.00 ± 0.30 m/s, failing at fold -85°."
    )
    never = LimitSpeed(None, None, 60.0, None, False)
    assert said(dry=never) == ""
    assert "(not known at 12 m/s)" in said(dry=replace(never, not_known_m_s=(12.0, 12.0)))


def test_a_history_is_reversed_only_where_its_command_is_known() -> None:
    """It ends to port: reversed where the command is known to be to starboard."""
    zero = np.zeros(5)
    bank = np.radians([0.0, 1.0, 0.0, -5.0, -20.0])
    folds = {Side.PORT: zero, Side.STARBOARD: zero}
    times = np.linspace(0.0, 1.0, 5)
    response = RollResponse(times, bank, zero, zero, zero, folds, zero, zero)
    known, open_to = (history_row("free in yaw", response, 0.4, width) for width in (0.1, 0.5))
    assert known.reverses
    assert known.commanded == "to starboard"
    assert not open_to.reverses
    assert open_to.commanded == SIGN_NOT_KNOWN
    assert open_to.reversed_at_s is None


@pytest.mark.parametrize("real", [-2.0, 0.5])
def test_times_of_modes_err_by_the_share_of_their_roots(real: float) -> None:
    """Time to half or to double at both ends of the root's ±: ln 2 over the growth."""
    row = mode_row(Mode("roll subsidence", complex(real), (0.0, 1.0, 0.0, 0.0), 0.04), LATERAL)
    ends = [float(np.log(2.0)) / abs(real + sign * 0.04) for sign in (-1.0, 1.0)]
    time, width = re.findall(r" in ([0-9.]+) ± ([0-9.]+) s", mode_words(row))[0]
    assert float(time) == pytest.approx(np.log(2.0) / abs(real), rel=0.01)
    assert float(width) == pytest.approx(0.5 * abs(ends[0] - ends[1]), rel=0.1)
    word = "half" if real < 0.0 else "double"
    assert f", {word} in " in mode_words(row)
