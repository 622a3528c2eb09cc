"""Missions: bookkeeping, turns, folding energy, closed forms of best airspeeds and range."""

import json
import re
from dataclasses import replace
from math import pi
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner
from pydantic import ValidationError
from scipy.optimize import brentq

from vlm.air import standard_air
from vlm.cli.main import foldspan, main
from vlm.constants import Floats
from vlm.description.folds import FoldAngles
from vlm.description.loading import load_biplane
from vlm.description.mission import Leg
from vlm.description.mission_file import load_mission
from vlm.description.models import Biplane
from vlm.errors import ComputationFailed, InputRefused
from vlm.flight.plan.fold_search import FoldTable
from vlm.flight.plan.mission import MissionFlyer, Piece, planned_pieces
from vlm.flight.plan.mission_rules import (
    NO_TRIM,
    FoldRule,
    flying_schedule,
    held,
    held_schedule,
    scheduled,
)
from vlm.flight.plan.mission_samples import sampled_energies
from vlm.flight.plan.schedule import ideal_schedule
from vlm.flight.trim.power_book import direct_trim, power_book
from vlm.flight.trim.power_samples import INPUTS
from vlm.flight.trim.powered import powered_craft
from vlm.lattice.cellule import Grid
from vlm.progress import silent
from vlm.study.design.goals import GoalPlan, worth
from vlm.study.fixed_craft import with_mechanism_mass, with_tip_span, without_mechanism
from vlm.study.mission import single_fold
from vlm.study.mission import study as study_module
from vlm.study.mission.answer import _end_of_range, _named
from vlm.study.mission.break_even import loiter_break_even

GRID = Grid(rows=2, strips=8)
SPEEDS = np.array([0.0, 11.0, 14.0, 17.0])
LEGS = (
    Leg(kind="hover", time_s=20.0),
    Leg(kind="transition", time_s=8.0),
    Leg(kind="climb", height_m=60.0, climb_rate_m_s=1.5),
    Leg(kind="loiter", time_s=600.0),
    Leg(kind="turn", turns=2.0, load_factor=1.2),
    Leg(kind="dash", distance_m=3000.0, airspeed_m_s=17.0, headwind_m_s=3.0),
)


def small_craft(**mechanism: float) -> Biplane:
    """The demo craft with a short schedule."""
    craft = load_biplane("tideline")
    tables = craft.model_dump(exclude_none=True)
    tables["schedule"] = {"airspeed_min_m_s": 11.0, "airspeed_max_m_s": 17.0, "speeds": 3}
    tables["configurations"] = {"open": {"fold_deg": 0.0}, "low": {"fold_deg": -60.0}}
    tables["mass"]["mechanism"] |= mechanism
    del tables["log"]
    return Biplane.model_validate(tables).from_source(craft.source)


@pytest.fixture(scope="module")
def flyer() -> MissionFlyer:
    """Trims of the demo craft at three folds and a few speeds."""
    return MissionFlyer(power_book(small_craft(), [-60, 0, 20], SPEEDS, grid=GRID))


def schedule_of(flyer: MissionFlyer):  # type: ignore[no-untyped-def]
    schedule = flyer.book.craft.schedule
    assert schedule is not None
    return schedule


def held_at(flyer: MissionFlyer, fold: float) -> FoldRule:
    """One fold held."""
    schedule = schedule_of(flyer)
    return held("held", FoldTable.of(flyer.book, flying_schedule(schedule)), fold)


def test_one_leg_at_one_speed_takes_the_schedules_power_times_its_time(flyer: MissionFlyer) -> None:
    schedule = schedule_of(flyer)
    ideal = ideal_schedule(FoldTable.of(flyer.book, schedule))
    point = next(p for p in ideal if p.speed == 14.0)
    leg = Leg(kind="loiter", time_s=600.0, airspeed_m_s=14.0)
    flight = flyer.flight(scheduled(flyer.book, schedule), [leg])
    assert flight.legs[0].flight_energy == pytest.approx(600.0 * point.power, rel=1e-6)


def test_energies_add_up_and_doubled_legs_take_twice(flyer: MissionFlyer) -> None:
    rule = held_at(flyer, 0.0)
    once = flyer.flight(rule, LEGS)
    twice = flyer.flight(rule, [leg.model_copy(update={"repeat": 2}) for leg in LEGS])
    alone = [flyer.flight(rule, [leg]) for leg in LEGS]
    assert not once.reason
    assert once.energy == pytest.approx(sum(f.energy for f in alone), rel=1e-12)
    assert twice.energy == pytest.approx(2.0 * once.energy, rel=1e-12)
    assert twice.seconds == pytest.approx(2.0 * once.seconds, rel=1e-12)
    assert once.legs[5].seconds == pytest.approx(3000.0 / 14.0)
    assert once.legs[2].seconds == pytest.approx(40.0)


def test_the_schedule_takes_no_more_than_any_fold_it_may_hold(flyer: MissionFlyer) -> None:
    """By definition of the least power; the folding itself and interpolation left aside."""
    legs = LEGS[3:4] + LEGS[5:]
    best = flyer.flight(scheduled(flyer.book, schedule_of(flyer)), legs)
    flown = sum(leg.flight_energy for leg in best.legs)
    for fold in (-60.0, 0.0, 20.0):
        other = flyer.flight(held_at(flyer, fold), legs)
        assert flown <= other.energy * 1.002


def test_a_climb_takes_the_potential_energy_and_more(flyer: MissionFlyer) -> None:
    """Work against gravity m g h (mechanics), at an efficiency below one."""
    rule = held_at(flyer, 0.0)
    climb = Leg(kind="climb", height_m=60.0, climb_rate_m_s=1.5, airspeed_m_s=14.0)
    level = Leg(kind="loiter", time_s=40.0, airspeed_m_s=14.0)
    more = flyer.flight(rule, [climb]).energy - flyer.flight(rule, [level]).energy
    assert flyer.book.craft.mass is not None
    lifted = flyer.book.craft.mass.total_kg * 9.80665 * 60.0
    assert lifted < more < 2.5 * lifted


def test_turns_keep_the_balance_of_a_level_bank(flyer: MissionFlyer) -> None:
    """R = U^2 / (g sqrt(n^2 - 1)), n = 1 / cos(bank): textbook mechanics, derived."""
    rule = held_at(flyer, 0.0)
    bank = np.radians(40.0)
    [by_factor] = planned_pieces(
        rule, Leg(kind="turn", turns=1, load_factor=1.0 / np.cos(bank), airspeed_m_s=14.0)
    )
    assert by_factor.seconds == pytest.approx(2.0 * pi * 14.0 / (9.80665 * np.tan(bank)))
    radius = 14.0**2 / (9.80665 * np.tan(bank))
    [by_radius] = planned_pieces(
        rule, Leg(kind="turn", turns=1, radius_m=radius, airspeed_m_s=14.0)
    )
    assert by_radius.load_factor == pytest.approx(1.0 / np.cos(bank))
    assert by_radius.seconds == pytest.approx(by_factor.seconds)


def test_a_transition_speeds_up_evenly() -> None:
    """s = U t / 2 and, in sum, int U^2 dt = U^2 t / 3 from rest: textbook kinematics."""
    leg = Leg(kind="transition", time_s=9.0, airspeed_m_s=18.0)
    pieces = planned_pieces(parabolic(), leg)
    assert sum(p.seconds for p in pieces) == pytest.approx(9.0)
    assert sum(p.speed * p.seconds for p in pieces) == pytest.approx(0.5 * 18.0 * 9.0)
    assert sum(p.speed**2 * p.seconds for p in pieces) == pytest.approx(18.0**2 * 3.0, rel=0.01)


def test_unloaded_folding_takes_the_no_load_current_for_its_time(flyer: MissionFlyer) -> None:
    """In hover: two servos, 90 degrees at 1500/24 degrees a second, 7.4 V and 0.15 A."""
    before, after = Piece(1.0, 0.0, 20.0), Piece(1.0, 0.0, -70.0)
    expected = 2 * 7.4 * 0.15 * 90.0 / (1500.0 / 24.0)
    assert flyer._folding_energy(before, after) == pytest.approx(expected, rel=1e-6)
    loaded = flyer._folding_energy(Piece(1.0, 14.0, 20.0), Piece(1.0, 14.0, -60.0))
    assert 0.3 * expected < loaded < 20.0 * expected


class Synthetic(FoldRule):
    """A rule without a craft: every fold is allowed."""

    def level_fold(self, speed: float) -> tuple[float, str]:
        return 0.0 * speed, ""


def parabolic(best: float = 15.0, drag: float = 2.0, eta: float = 0.6) -> FoldRule:
    """Power of a parabolic polar and ideal drives: D = D0/2 ((U/V)^2 + (V/U)^2), P = D U / eta."""
    speeds = np.linspace(8.0, 30.0, 89)
    power = 0.5 * drag * ((speeds / best) ** 2 + (best / speeds) ** 2) * speeds / eta
    nothing: Any = None
    return Synthetic("synthetic", nothing, speeds, 0.0 * speeds, power, ("",) * 89, nothing)


def test_best_speeds_of_a_parabolic_polar() -> None:
    """V_mp / V_md = 3^(-1/4), P_min / P(V_md) = 2 / 3^(3/4): classic theory, derived."""
    rule = parabolic()
    slow, far = rule.best_speed(), rule.best_speed(0.0)
    assert far == pytest.approx(15.0, rel=1e-3)
    assert slow / far == pytest.approx(3.0**-0.25, rel=1e-3)
    # Power grows in proportion to speed at V_md, so the ratio is no better known than the speed.
    ratio = rule.level_power(slow) / rule.level_power(far)
    assert ratio == pytest.approx(2.0 / 3.0**0.75, rel=1e-3)


def test_the_electric_range_is_energy_times_efficiency_times_glide_ratio_over_weight() -> None:
    """R = E eta (L/D) / W, the electric counterpart of Breguet's range; derived."""
    rule, weight = parabolic(drag=2.0, eta=0.6), 25.0
    leg = Leg(kind="dash", distance_m=1000.0)
    [piece] = planned_pieces(rule, leg)
    energy = 90.0 * 3600.0
    reached = energy / (rule.level_power(piece.speed) * piece.seconds / 1000.0)
    assert reached == pytest.approx(energy * 0.6 * (weight / 2.0) / weight, rel=1e-4)


@pytest.mark.parametrize("wind", [-5.0, 3.0, 7.0])
def test_into_the_wind_the_best_speed_is_the_tangents(wind: float) -> None:
    """Least P / (U - w): the tangent from (w, 0), P' (U - w) = P (classic construction)."""

    def off(u: float) -> float:
        x = u / 15.0
        power, slope = (x**3 + 1.0 / x), (3.0 * x**2 - 1.0 / x**2) / 15.0
        return slope * (u - wind) - power

    assert parabolic().best_speed(wind) == pytest.approx(brentq(off, 12.0, 29.0), rel=2e-3)


def test_a_headwind_no_airspeed_beats_is_reported() -> None:
    leg = Leg(kind="dash", distance_m=1000.0, headwind_m_s=40.0)
    with pytest.raises(ComputationFailed, match="headwind"):
        planned_pieces(parabolic(), leg)


def test_the_best_airspeed_beside_a_constraint_is_its_root_and_no_node_of_the_table(
    flyer: MissionFlyer,
) -> None:
    """The stall margin of 4 degrees is met between 11 and 14 m/s, where direct trims have it."""
    schedule = schedule_of(flyer).model_copy(update={"stall_margin_min_deg": 4.0})
    rule = held("held", FoldTable.of(flyer.book, schedule), 0.0)
    assert np.isnan(rule.power[0])
    made = powered_craft(flyer.book.craft, FoldAngles(), grid=GRID)

    def over(speed: float) -> float:
        return direct_trim(made, speed).value("stall_margin_deg") - 4.0

    root = float(brentq(over, 11.0, 14.0, xtol=1e-4))
    found = rule.best_speed()
    assert root - 1e-3 <= found <= root + (14.0 - 11.0) / 32.0
    assert found < 13.0
    assert rule.level_fold(found) == (0.0, "")
    moving = scheduled(flyer.book, schedule)
    assert moving.best_speed() <= found + (14.0 - 11.0) / 32.0
    assert moving.level_fold(moving.best_speed())[1] == ""


def test_a_turn_is_flown_as_fast_as_its_stall_margin_asks(flyer: MissionFlyer) -> None:
    """Loiter stands at the margin; at the same lift coefficient a turn has a trace less of it."""
    level = flyer.trim(0.0, 11.0, 0.0, 1.0)[0].value("stall_margin_deg")
    least = level - 0.001
    schedule = schedule_of(flyer).model_copy(update={"stall_margin_min_deg": least})
    rule = held("held", FoldTable.of(flyer.book, schedule), 0.0)
    turn = Leg(kind="turn", turns=1.0, load_factor=1.3)
    assert flyer.trim(0.0, 11.0 * np.sqrt(1.3), 0.0, 1.3)[0].value("stall_margin_deg") < least
    flight = flyer.flight(rule, [Leg(kind="loiter", time_s=60.0), turn])
    assert flight.reason == ""
    assert flight.legs[0].pieces[0].piece.speed == pytest.approx(11.0)
    [piece] = flight.legs[1].pieces
    assert 11.0 * np.sqrt(1.3) < piece.piece.speed < 1.03 * 11.0 * np.sqrt(1.3)
    assert piece.point.value("stall_margin_deg") >= least
    seconds = 2.0 * pi * piece.piece.speed / (9.80665 * np.sqrt(1.3**2 - 1.0))
    assert piece.piece.seconds == pytest.approx(seconds)
    asked = flyer.flight(rule, [turn.model_copy(update={"airspeed_m_s": 14.0, "load_factor": 2.2})])
    assert asked.reason.endswith("at 14 m/s: stall margin")


def test_a_mechanism_holds_no_fold_that_must_not_be_held(flyer: MissionFlyer) -> None:
    """Forbidden folds and hinge moments are what is held; no other key asks for that."""
    asked = schedule_of(flyer).model_copy(
        update={
            "forbidden_deg": ((10.0, 30.0),), "hinge_moment_max_N_m": 0.01,
            "roll_reserve_deg": 500.0, "folding_rate_min_deg_s": 1e6,
        }
    )  # fmt: skip
    with_mechanism = held("held", FoldTable.of(flyer.book, held_schedule(asked)), 20.0)
    said = with_mechanism.level_fold(14.0)[1]
    assert said == "hinge moment and forbidden from 10 to 30 deg"
    without_any = held("fixed", FoldTable.of(flyer.book, flying_schedule(asked)), 20.0)
    assert without_any.level_fold(14.0)[1] == ""


def test_a_held_fold_names_all_that_it_passes(flyer: MissionFlyer) -> None:
    """Left out one at a time, the fold is still not allowed; both left out, it is."""
    both = {"stall_margin_min_deg": 60.0, "rotor_margin_min": 0.99}
    found = {}
    for left_out in ((), ("stall_margin_min_deg",), ("rotor_margin_min",), tuple(both)):
        kept = {key: value for key, value in both.items() if key not in left_out}
        schedule = schedule_of(flyer).model_copy(update=kept)
        rule = held("held", FoldTable.of(flyer.book, schedule), 0.0)
        assert rule.level_fold(14.0)[1] == rule.reason(14.0).removeprefix(NO_TRIM)
        found[left_out] = rule.level_fold(14.0)[1]
    assert found[()] == "thrust left on the rotors and stall margin"
    assert found["stall_margin_min_deg",] == "thrust left on the rotors"
    assert found["rotor_margin_min",] == "stall margin"
    assert found[tuple(both)] == ""


@pytest.mark.parametrize(
    "leg",
    [
        Leg(kind="loiter", time_s=60.0),
        Leg(kind="dash", distance_m=1000.0),
        Leg(kind="dash", distance_m=1000.0, headwind_m_s=3.0),
    ],
)
def test_where_no_airspeed_is_allowed_its_own_reason_is_reported(leg: Leg) -> None:
    """What forbids every airspeed is stall margin or power, and no headwind."""
    rule = parabolic()
    count = len(rule.speeds)
    closed = replace(
        rule, power=np.full(count, np.nan), reasons=("stall margin", *["power"] * (count - 1))
    )
    with pytest.raises(ComputationFailed, match=r"allowed: stall margin; elsewhere power$"):
        planned_pieces(closed, leg)


def test_samples_at_the_nominal_inputs_give_the_nominal_energy(flyer: MissionFlyer) -> None:
    flight = flyer.flight(held_at(flyer, 0.0), LEGS)
    factors = np.ones((2, len(INPUTS)))
    factors[1, 4] = 1.03
    energy = sampled_energies(flight, factors).sum(axis=0)
    assert energy[0] == pytest.approx(flight.energy, rel=1e-6)
    # Efficiency divides all but the fixed load of 8 W and the servos' 0.148 W.
    fixed = (8.0 + 2 * 7.4 * 0.01) * flight.seconds
    assert energy[1] == pytest.approx(fixed + (flight.energy - fixed) / 1.03, rel=1e-6)


def test_mechanisms_of_another_mass_are_flown_anew_and_stand_where_they_stood() -> None:
    """What folding takes with one that weighs nothing hangs on no mass that the file names."""
    legs = LEGS[3:4]
    found = []
    for each in (0.02, 0.2):
        craft = small_craft(each_kg=each)
        tools = study_module._Tools(
            craft.schedule, tuple(legs), SPEEDS, None, GRID, silent, None
        )  # fmt: skip
        bare = without_mechanism(craft)
        bare_book = power_book(bare, [-60, 0, 20], SPEEDS, grid=GRID)
        book = power_book(craft, [-60, 0, 20], SPEEDS, grid=GRID)
        own = MissionFlyer(book).flight(scheduled(book, craft.schedule), legs)
        rival = SimpleNamespace(energy=own.energy * (1.02 if each < 0.1 else 0.5))
        study = SimpleNamespace(
            craft=craft, schedule=SimpleNamespace(energy=own.energy), best_fixed=rival,
            best_purpose_built=None,
        )  # fmt: skip
        found.append((craft, own, study_module._reweighed(tools, study, bare_book)))
    (light, own, (none, more)), (heavy, _, [same]) = found
    assert none.mass_kg == pytest.approx(same.mass_kg) == pytest.approx(light.mass.total_kg - 0.04)
    assert none.energy == pytest.approx(same.energy, rel=1e-9)
    assert none.energy < own.energy
    # The heavier one costs about what the other way does, a tenth of the gain more.
    assert more.energy == pytest.approx(1.022 * own.energy, rel=3e-3)
    assert with_mechanism_mass(heavy, 0.1).mass.mechanism_kg == pytest.approx(0.1)
    assert with_mechanism_mass(heavy, 0.1).mass.mechanism.centre_m == heavy.mass.mechanism.centre_m


def flown_of(loiter: float, other: float) -> SimpleNamespace:
    """A mission of 100 s loiter and 300 s dash with these powers."""
    legs = [
        SimpleNamespace(leg=SimpleNamespace(kind=k), seconds=t, energy=p * t + f, folding=f)
        for k, t, p, f in (("loiter", 100.0, loiter, 0.0), ("dash", 300.0, other, 0.0))
    ]
    flight = SimpleNamespace(legs=legs, seconds=400.0, part=lambda kind: (100.0, 0.0))
    energies = np.array([[leg.energy] for leg in legs])
    return SimpleNamespace(
        flight=flight, energy=float(energies.sum()), leg_samples=energies * np.ones(201)
    )


def test_the_share_of_loiter_at_which_folding_starts_to_pay() -> None:
    """Two straight lines over the share: 40 x + 110 (1 - x) = 60 x + 100 (1 - x) at x = 1/3."""
    own, rival = flown_of(40.0, 110.0), flown_of(60.0, 100.0)
    share, ends, told = loiter_break_even(own, [rival], None)  # type: ignore[arg-type,list-item]
    assert share == pytest.approx(1.0 / 3.0, abs=1e-3)
    assert "starts to pay" in told
    share, ends, told = loiter_break_even(rival, [own], None)  # type: ignore[arg-type,list-item]
    assert "ceases to pay" in told
    assert ends is None


def test_the_best_single_fold_is_found_at_the_edge_of_a_constraint() -> None:
    """Energy falls toward lower folds, but below 2.3 degrees the mission cannot be flown."""

    def at(fold: float, name: str) -> SimpleNamespace:
        energy = 100.0 + 0.01 * (fold + 30.0) ** 2 if fold >= 2.3 else float("nan")
        return SimpleNamespace(fold_deg=fold, energy=energy, name=name)

    tabled = [at(fold, "") for fold in (-10.0, 0.0, 10.0, 20.0)]
    edges = single_fold.edges(tabled, at)  # type: ignore[arg-type]
    best = single_fold.best_between([*tabled, *edges], at)  # type: ignore[list-item,arg-type]
    assert best is not None
    assert 2.3 <= (best.fold_deg or 0.0) < 2.3 + 10.0 / 2**5 + 0.01
    # Where the best is not at an edge, none is looked for.
    inner = [at(fold, "") for fold in (3.0, 10.0, 20.0)]
    assert single_fold.edges(inner, at) == []  # type: ignore[arg-type]
    nothing = [at(-10.0, ""), at(0.0, "")]
    assert single_fold.edges(nothing, at) == []  # type: ignore[arg-type]
    assert single_fold.best_between(nothing, at) is None  # type: ignore[arg-type]


def test_the_best_single_fold_is_found_beside_an_edge_at_which_flying_costs_far_more() -> None:
    """Least at -11 degrees; from -9 on only high airspeeds are allowed, from -8 on none."""

    def at(fold: float, name: str) -> SimpleNamespace:
        energy = 44.0 + 0.003 * (fold + 11.0) ** 2 + (110.0 if fold > -9.0 else 0.0)
        return SimpleNamespace(
            fold_deg=fold, energy=energy if fold < -8.0 else float("nan"), name=name
        )

    tabled = [at(fold, "") for fold in (-69.0, -48.0, -27.0, 0.0, 15.0)]
    edges = single_fold.edges(tabled, at)  # type: ignore[arg-type]
    best = single_fold.best_between([*tabled, *edges], at)  # type: ignore[list-item,arg-type]
    assert best is not None
    assert best.energy < 44.03  # 44.77 at -27 degrees


@pytest.mark.parametrize("least", [-9.8, 4.0, 19.8])
def test_the_best_single_fold_is_a_parabolas_vertex_anywhere_between_the_ends(least: float) -> None:
    def at(fold: float, _: str) -> SimpleNamespace:
        return SimpleNamespace(fold_deg=fold, energy=100.0 + 0.01 * (fold - least) ** 2)

    tabled = [at(float(fold), "") for fold in range(-10, 21, 2)]
    best = single_fold.best_between(tabled, at)  # type: ignore[arg-type]
    assert best is not None
    assert best.fold_deg == pytest.approx(least, abs=0.15)


def test_the_end_of_the_spans_that_were_tried_is_reported() -> None:
    words = [
        _end_of_range(SimpleNamespace(tip_span_share=share))  # type: ignore[arg-type]
        for share in (min(study_module.TIP_SPANS), 1.0, max(study_module.TIP_SPANS))
    ]
    assert words == [", the shortest tried", "", ", the longest tried"]


def test_without_the_mechanism_its_mass_is_gone_and_tips_scale() -> None:
    craft = small_craft()
    bare = without_mechanism(craft)
    assert craft.mass is not None
    assert bare.mass is not None
    assert bare.mass.total_kg == pytest.approx(craft.mass.total_kg - 2 * 0.045)
    assert bare.actuator is None
    short = with_tip_span(bare, 0.5)
    assert short is not None
    assert short.mass is not None
    assert short.upper.tips is not None
    assert short.upper.tips.span_m == pytest.approx(0.18)
    assert short.mass.total_kg == pytest.approx(bare.mass.total_kg - 0.075)
    # Of a uniform tip, mass and distance of the centre from the hinge go with its span.
    whole, half = bare.mass.upper_tip, short.mass.upper_tip
    assert whole is not None
    assert half is not None
    aft, out, up = whole.centre_m
    assert out != 0.0
    assert half.centre_m == pytest.approx((aft, 0.5 * out, up))
    assert half.mass_kg == pytest.approx(0.5 * whole.mass_kg)
    assert half.inertia_kg_m2 == pytest.approx(0.5 * np.array(whole.inertia_kg_m2))


@pytest.mark.parametrize(
    ("keys", "said"),
    [
        ({"kind": "hover"}, "time_s is missing"),
        ({"kind": "hover", "time_s": 1e300}, "less than or equal to"),
        ({"kind": "hover", "time_s": 1.0, "turns": 2.0}, "turns does not belong"),
        ({"kind": "turn", "turns": 1.0}, "one of load_factor and radius_m"),
        ({"kind": "turn", "turns": 1.0, "radius_m": 30.0}, "airspeed_m_s is missing"),
        ({"kind": "dash", "distance_m": 1.0, "airspeed_m_s": 9.0, "headwind_m_s": 9.0},
         "it must be less than airspeed_m_s"),
        ({"kind": "climb", "height_m": 1.0, "airspeed_m_s": 9.0, "climb_rate_m_s": 9.5},
         "it must be less than airspeed_m_s"),
    ],
)  # fmt: skip
def test_legs_that_cannot_be(keys: dict[str, object], said: str) -> None:
    with pytest.raises(ValidationError, match=said):
        Leg.model_validate(keys)


def test_shipped_missions_are_invented_and_unlike() -> None:
    shares = {}
    for name in ("long_survey", "long_transit"):
        legs = load_mission(name).mission
        loiter = sum(leg.repeat * leg.time_s for leg in legs if leg.kind == "loiter")
        distance = sum(leg.distance_m for leg in legs if leg.kind == "dash")
        shares[name] = loiter / (loiter + distance / 19.0)
    assert shares["long_survey"] > 0.9
    assert shares["long_transit"] < 0.2


def test_files_are_refused_plainly(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(InputRefused, match="did you mean long_survey"):
        load_mission("long_survy")
    assert main(["mission", "tideline"]) == 2
    assert "[[mission]] is missing" in capsys.readouterr().err
    assert main(["mission", "plank", "--legs", "long_survey"]) == 2
    assert "[schedule] is missing" in capsys.readouterr().err


def test_the_command_answers(tmp_path, monkeypatch) -> None:  # type: ignore[no-untyped-def]
    monkeypatch.setattr(study_module, "TIP_SPANS", (0.5,))
    craft, legs, kept = tmp_path / "craft.toml", tmp_path / "legs.toml", tmp_path / "kept"
    craft.write_text(small_craft(drag_area_m2=2e-4).to_toml())
    legs.write_text(
        'title = "Short"\n[[mission]]\nkind = "loiter"\ntime_s = 600.0\n'
        '[[mission]]\nkind = "dash"\ndistance_m = 4000.0\nairspeed_m_s = 17.0\n'
    )
    done = CliRunner().invoke(
        foldspan,
        ["mission", str(craft), "--legs", str(legs), "--fold-count", "3", "--rows", "2",
         "--strips", "8", "--plot", str(tmp_path / "m.png"), "--keep", str(kept), "--json"],
    )  # fmt: skip
    assert done.exit_code == 0, done.output
    document = json.loads(done.stdout)
    # At least the curves of some folds with the mechanism, without it, and with other tips.
    assert len(list(kept.glob("chunk-*.npz"))) >= 5
    own = document["schedule"]
    assert own["energy_Wh"] == pytest.approx(sum(leg["energy_Wh"] for leg in own["legs"]))
    # A search of the design asks for the same energy by a way of its own.
    plan = GoalPlan(
        "energy", legs=load_mission(legs).mission, fold_count=3, air=standard_air(0.0), grid=GRID
    )
    made = worth(load_biplane(craft), plan)
    assert made.value == pytest.approx(own["energy_Wh"], rel=1e-6)
    assert made.mass_kg == own["mass_kg"]
    left = own["legs"][-1]["battery_left_Wh"]
    assert left == pytest.approx(0.8 * 90.0 - own["energy_Wh"])
    assert [w["name"] for w in document["held"]][:2] == ["open", "low"]
    best = min(w["energy_Wh"] for w in document["without_mechanism"])
    told = re.search(r"against ([\d.]+) ± ([\d.]+) Wh", document["answer"])
    assert told is not None
    assert float(told[1]) == pytest.approx(best, abs=0.06 * float(told[2]))
    assert "90 % interval" in document["answer"]
    low, high = own["energy_interval_Wh"]
    assert low < own["energy_Wh"] < high
    for way in document["without_mechanism"]:
        twin = next((w for w in document["held"] if w["name"] == way["name"]), None)
        assert twin is None or way["energy_Wh"] < twin["energy_Wh"]
    assert "its drag area of 4 cm^2 are gone" in document["assumed"][-1]
    assert (tmp_path / "m.png").stat().st_size > 10_000
    from vlm.show.tables.mission import mission_table

    text = mission_table(document)
    assert document["answer"] in " ".join(text.split())
    assert "not a flight clearance" in text


def test_craft_not_known_to_take_more_than_the_best_are_named_beside_it() -> None:
    """By the interval of their difference over the same draws, from the very samples."""
    draws = np.linspace(90.0, 110.0, 101) * 3600.0

    def craft(name: str, fold: float, more: Floats) -> Any:
        return SimpleNamespace(
            name=name, fold_deg=fold, samples=draws + more, tip_span_share=1.0, energy=1.0
        )

    spread = np.linspace(-1.0, 2.0, 101) * 3600.0
    best = craft("open", 0.0, np.zeros(101))
    clear, near = craft("loiter", 15.0, 0.1 * np.abs(spread) + 1.0), craft("dash", -90.0, spread)
    same = craft("best single fold, 0 deg", 0.0, np.zeros(101))
    study: Any = SimpleNamespace(fixed=(best, clear, near, same), percent=90.0)
    assert _named(study, best) == "open; not known apart from dash"
    alone: Any = SimpleNamespace(**{**vars(study), "fixed": (best, clear)})
    assert _named(alone, best) == "open"
