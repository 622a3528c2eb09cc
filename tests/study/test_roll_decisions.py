"""What ``roll`` names strongest, and where a command reverses: held against direct solves."""

import functools

import numpy as np
import pytest
from thin_craft import naming

from vlm.description import load_biplane
from vlm.description.folds import FoldAngles
from vlm.description.models import Biplane
from vlm.flight.craft.folding_craft import FoldingCraft
from vlm.flight.motion.roll_authority import Air, setting_moment
from vlm.lattice.cellule import Grid
from vlm.plain import spans
from vlm.progress import silent
from vlm.show.sentences import hinge_sentence, roll_sentence
from vlm.show.tables.roll import roll_table
from vlm.show.text.sweep_answer import pairs_not_apart, strongest_pair
from vlm.study.hinge.beyond import _shocks
from vlm.study.hinge.results import HingePlan
from vlm.study.hinge.study import hinge_study
from vlm.study.roll.moments import RollMoments
from vlm.study.roll.results import RollStudy
from vlm.study.roll.study import RollPlan, _Study, roll_study
from vlm.verdicts import not_known_apart

GRID = Grid(2, 8)


@functools.cache
def winged(name: str) -> Biplane:
    """A shipped craft without rotors, which no test here asks about: their trims take long."""
    return load_biplane(name).model_copy(update={"rotors": (), "propulsion": None})


@functools.cache
def study(name: str, base: float) -> RollStudy:
    plan = RollPlan(Air(13.0), base_deg=base, step_deg=30.0, duration=0.1, grid=GRID)
    return roll_study(winged(name), plan)


def moment(name: str, folds: FoldAngles, airspeed: float) -> float:
    """Rolling moment solved directly, by no chart."""
    return setting_moment(FoldingCraft(winged(name), GRID), folds, Air(airspeed))


def test_a_reversal_is_where_the_moment_solved_directly_vanishes() -> None:
    """Its half-width is how far the airspeed moves when the moment is off by its own."""
    found = study("turnstone", 30.0)
    [one] = found.reversals
    assert one.command == "port tip down 20 deg"
    folds = FoldAngles(10.0, 30.0)
    rows = [row for row in found.airspeeds if row.port_down_20_deg is not None]
    size = max(abs(row.port_down_20_deg.rolling_moment_N_m) for row in rows)
    assert abs(moment("turnstone", folds, one.airspeed_m_s)) < 2e-3 * size
    before, after = (
        moment("turnstone", folds, one.airspeed_m_s + sign * one.half_width_m_s)
        for sign in (-1.0, 1.0)
    )
    assert before > 0.0 > after  # to starboard below, to port above
    plan = RollPlan(Air(13.0), base_deg=30.0, grid=GRID)
    moments: RollMoments = _Study(winged("turnstone"), plan, silent).moments
    width = moments.width_at(folds, Air(one.airspeed_m_s))
    assert 0.5 * (before - after) == pytest.approx(width, rel=0.15)
    words = f"{one.airspeed_m_s:.1f} ± {one.half_width_m_s:.1f} m/s"
    assert words in " ".join(roll_table(found).split())


def test_a_command_reverses_where_the_moment_solved_directly_vanishes() -> None:
    """With the port tip alone; at either end of its ± the moment is off by its own half-width."""
    found = study("turnstone", 0.0)
    [command] = [one for one in found.commands if one.name == "port tip alone"]
    [at], [width] = command.reverses_at_deg, command.reverses_half_width_deg
    size = float(np.nanmax(np.abs(command.rolling_moment_N_m)))
    there, before, after = (
        moment("turnstone", FoldAngles(at + step, 0.0), 13.0) for step in (0.0, -width, width)
    )
    assert abs(there) < 1e-3 * size
    assert before * after < 0.0
    plan = RollPlan(Air(13.0), grid=GRID)
    moments: RollMoments = _Study(winged("turnstone"), plan, silent).moments
    own = moments.width_at(FoldAngles(at, 0.0), Air(13.0))
    assert 0.5 * abs(before - after) == pytest.approx(own, rel=0.1)
    assert f"{at:.1f} ± {width:.1f}" in roll_table(found, full=True)


@pytest.mark.parametrize(("name", "base"), [("turnstone", 0.0), ("turnstone", 30.0)])
def test_pairs_not_known_apart_from_the_strongest_are_named(name: str, base: float) -> None:
    """Every pair of the map, each with its own half-width, against those that are named."""
    found = study(name, base)
    best = found.strongest
    assert best is not None
    plan = RollPlan(Air(13.0), base_deg=base, grid=GRID)
    moments: RollMoments = _Study(winged(name), plan, silent).moments
    within = set()
    for left in found.map["left_deg"]:
        for right in found.map["right_deg"]:
            here = moments.of(FoldAngles(left, right), Air(13.0))
            if isinstance(here, str) or (left, right) == (best.left_deg, best.right_deg):
                continue
            rolling = here.rolling
            assert rolling.value <= best.rolling.value * (1.0 + 1e-6)
            if best.rolling.value - rolling.value <= rolling.half_width + best.rolling.half_width:
                within.add((left, right))
    named = {(one.left_deg, one.right_deg) for one in found.strongest_not_known_apart}
    assert named == within
    assert named
    assert "not known apart from" in " ".join(roll_table(found).split())
    assert "not known apart from" in roll_sentence(found)


def test_values_within_both_half_widths_are_not_known_apart() -> None:
    assert not_known_apart([1.0, 1.3, 1.31, np.nan, 0.6], [0.2, 0.1, 0.1, 0.1, 0.2], 0) == [1, 4]
    assert not_known_apart([1.0, 9.0], [0.2, np.nan], 0) == [1]
    assert not_known_apart([1.0], [0.0], 0) == []


def test_a_sweep_names_pairs_not_known_apart_from_its_strongest() -> None:
    folds = [-20.0, 0.0, 20.0]
    roll = np.array([[0.0, -0.1, -0.3], [0.1, 0.0, -0.2], [0.3, 0.28, 0.0]])
    said = strongest_pair(roll, np.full((3, 3), 0.015), folds, folds)
    assert "port 20°, starboard -20° (not known apart from another pair: port 20°," in said
    assert "starboard 0°)" in said
    assert "no more" not in strongest_pair(roll, np.full((3, 3), 0.005), folds, folds)
    assert strongest_pair(roll, np.full((3, 3), 0.4), folds, folds) == ""
    assert pairs_not_apart([], folds, folds) == ""


def test_folds_whose_largest_hinge_moment_is_not_known_to_be_less_are_named() -> None:
    """By the moments and half-widths of the same rows."""
    plan = HingePlan(Air(13.0), (-30.0, 0.0, 10.0, 20.0), airspeeds=(13.0,), grid=GRID)
    found = hinge_study(naming(winged("turnstone")), plan)
    hinges = {(row.fold_deg, row.load_factor): row.hinge() for row in found.known_moments}
    sizes = {key: abs(one.worst_N_m) for key, one in hinges.items()}
    most = max(sizes, key=lambda key: sizes[key] + (hinges[key].half_width_N_m or 0.0))
    alike = {
        fold
        for (fold, factor), size in sizes.items()
        if fold != most[0]
        and abs(sizes[most] - size)
        <= (hinges[most].half_width_N_m or 0.0) + (hinges[fold, factor].half_width_N_m or 0.0)
    }
    said = hinge_sentence(found)
    assert alike
    # The one that reaches farthest with its ± need not be the largest.
    assert said.startswith("Largest hinge moment, ± included: ")
    named = said.split("not known apart from ")[1].split(")")[0]
    assert named == spans(alike, list(plan.folds_deg))


def test_a_stop_passes_the_limit_for_sure_only_beyond_its_half_width() -> None:
    """The steady moment's half-width at the end of the move is that of a row of moments there."""
    craft = load_biplane("turnstone")
    plan = HingePlan(Air(13.0), (-30.0,), airspeeds=(13.0,), load_factors=(1.0,), grid=GRID)
    plain = hinge_study(craft, plan)
    [move] = [one for one in plain.folding if one.name == "spread to drawn"]
    assert move.stop is not None
    stop = move.stop
    assert stop.half_width_N_m is not None
    assert stop.half_width_N_m > 0.0
    assert craft.actuator is not None
    error = plain.known_moments[0].hinges
    assert error is not None
    assert stop.half_width_N_m == pytest.approx(error[stop.hinge].half_width_N_m, rel=0.05)
    for share, said in ((0.5, "may pass"), (-0.5, "may pass"), (-2.0, "passes"), (2.0, "")):
        limit = stop.peak_N_m + share * stop.half_width_N_m
        found = [one.what for one in _shocks([move], limit) if "spread to drawn" in one.what]
        assert bool(found) is bool(said)
        assert all(said in one for one in found)
