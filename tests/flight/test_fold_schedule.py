"""Fold schedules: what they promise, decision by decision, against direct solves."""

import csv
import json
from dataclasses import replace

import numpy as np
import pytest
from click.testing import CliRunner

from vlm.cli.main import foldspan, main
from vlm.description.folds import FoldAngles
from vlm.description.loading import load_biplane
from vlm.description.models import Biplane
from vlm.errors import InputRefused
from vlm.flight.plan.barred import barred_between
from vlm.flight.plan.constraints import STALL
from vlm.flight.plan.flown_schedule import FlownSchedule, _confirmed, flown_schedule
from vlm.flight.plan.fold_search import CLOSE_DEG, FoldTable
from vlm.flight.plan.schedule import SchedulePoint, best_fold, ideal_schedule
from vlm.flight.trim.power_book import (
    POWER,
    FoldCurve,
    PowerBook,
    direct_trim,
    fold_grid,
    power_book,
)
from vlm.flight.trim.power_warnings import flown_doubts
from vlm.flight.trim.powered import powered_craft
from vlm.lattice.cellule import Grid
from vlm.loads.state import FlightState
from vlm.study.design.goals import GoalPlan, mission_flight, worth
from vlm.study.mission.answer import mission_findings
from vlm.study.mission.candidate import Candidate
from vlm.study.mission.study import MissionStudy
from vlm.study.point.point import solve_point
from vlm.study.schedule.answer import _fold_words, answer
from vlm.study.schedule.saving import largest_saving
from vlm.study.schedule.study import ScheduleStudy, schedule_study
from vlm.study.schedule.unsure import Unsure

GRID = Grid(rows=3, strips=10)
SPEEDS = np.array([0.0, 11.0, 14.0, 17.0])
SCHEDULE = {
    "airspeed_min_m_s": 0.0, "airspeed_max_m_s": 17.0, "speeds": 4, "breakpoints": 3,
}  # fmt: skip


def craft_with(**keys: object) -> Biplane:
    """The demo craft with a schedule of these constraints."""
    craft = load_biplane("tideline")
    tables = craft.model_dump(exclude_none=True)
    tables["schedule"] = SCHEDULE | keys
    return Biplane.model_validate(tables).from_source(craft.source)


@pytest.fixture(scope="module")
def book() -> PowerBook:
    """Trims of the demo craft at a few folds and speeds."""
    craft = craft_with()
    return power_book(craft, [-90, -60, -30, -10, 0, 15, 40, 70], SPEEDS, grid=GRID)


def table_of(book: PowerBook, **keys: object) -> FoldTable:
    """A table on the book with these constraints."""
    schedule = craft_with(**keys).schedule
    assert schedule is not None
    return FoldTable.of(book, schedule)


def flown_of(table: FoldTable) -> FlownSchedule:
    """The schedule as flown of a table."""
    found = flown_schedule(table, ideal_schedule(table), table.constraints.schedule)
    assert found is not None
    return found


def test_the_best_fold_is_the_least_of_direct_trims(book: PowerBook) -> None:
    """Brute force: a direct trim every 2.5 degrees around the flat optimum; agrees to 0.1 %."""
    table = table_of(book)
    for speed in (11.0, 17.0):
        found = best_fold(table, speed)
        powers = []
        for fold in np.arange(-15.0, 30.1, 2.5):
            made = powered_craft(book.craft, FoldAngles.symmetric(float(fold)), grid=GRID)
            powers.append(direct_trim(made, speed).value(POWER))
        assert found.power == pytest.approx(min(powers), rel=1e-3)
        low, high = found.flat_deg
        assert low <= found.fold_deg <= high


def test_what_is_reported_at_the_best_fold_is_a_trim_at_that_fold(book: PowerBook) -> None:
    for point in ideal_schedule(table_of(book))[1:]:
        made = powered_craft(book.craft, FoldAngles.symmetric(point.fold_deg), grid=GRID)
        assert point.power == pytest.approx(direct_trim(made, point.speed).value(POWER), rel=1e-7)


def test_airspeeds_share_the_folds_that_are_solved(book: PowerBook) -> None:
    """Beside the best folds themselves, those between the book's are round ones."""
    table = table_of(book)
    best = {table.searched(speed).fold_deg for speed in (14.0, 17.0)}  # type: ignore[union-attr]
    rows = [{s.fold_deg for s in table.row(speed)} for speed in (14.0, 17.0)]
    new = [row - set(map(float, book.folds_deg)) for row in rows]
    assert len(new[0] & new[1]) >= 0.4 * min(map(len, new))
    assert best <= rows[0] | rows[1]


def test_the_folds_on_either_side_of_the_best_are_solved(book: PowerBook) -> None:
    """So that a reading does not decide what lies beside it."""
    table = table_of(book)
    for speed in (11.0, 17.0):
        best = table.searched(speed)
        assert best is not None
        apart = np.array([s.fold_deg for s in table.row(speed)]) - best.fold_deg
        assert np.any((apart < 0.0) & (apart >= -CLOSE_DEG))
        assert np.any((apart > 0.0) & (apart <= CLOSE_DEG))


def test_forbidden_folds_are_not_held_and_the_edge_is_reported(book: PowerBook) -> None:
    table = table_of(book, forbidden_deg=[(-20.0, 25.0)])
    for speed in SPEEDS[1:]:
        found = best_fold(table, float(speed))
        assert not -20.0 < found.fold_deg < 25.0
        assert "forbidden from -20 to 25 deg" in found.active


def test_the_sign_of_the_dihedral_effect_is_kept(book: PowerBook) -> None:
    """Tips up stable, tips down unstable: the schedule moves to the side that was asked for."""
    up = table_of(book, dihedral_effect="stable", dihedral_effect_min_per_rad=0.15)
    down = table_of(book, dihedral_effect="unstable", dihedral_effect_min_per_rad=0.05)
    for speed in map(float, SPEEDS[1:]):
        assert best_fold(up, speed).fold_deg > 10.0
        assert best_fold(down, speed).fold_deg < -5.0
        assert best_fold(up, speed).active == ("dihedral effect",)


def rolling(craft: Biplane, fold: float, reserve: float, speed: float) -> float:
    """Rolling moment with the sides apart, by the command ``point``'s own solve [N m]."""
    made = powered_craft(craft, FoldAngles.symmetric(fold), grid=GRID)
    alpha = np.radians(direct_trim(made, speed).value("alpha_deg"))
    state = FlightState(alpha=alpha, airspeed=speed)
    apart = FoldAngles(fold - reserve, fold + reserve)
    solved = solve_point(craft, apart, state, grid=GRID, errors=False)
    size = 0.5 * 1.225 * speed**2 * 0.408 * 1.56  # area and span as ``check`` prints them
    return float(solved.coefficients.Cl) * size


def test_the_rolling_moment_keeps_its_sign_between_the_folds_of_the_table(book: PowerBook) -> None:
    """Its zero lies near 14 to 20 degrees, between two folds of the table; ``point`` confirms."""
    table = table_of(book, roll_reserve_deg=20.0, roll_moment_min_N_m=0.1)
    signs = set()
    for fold in (0.0, 8.0, 14.0, 18.0, 24.0, 40.0):
        for speed in (11.0, 17.0):
            direct = rolling(book.craft, fold, 20.0, speed)
            found = table.setting(fold, speed)
            assert found.quantities["rolling moment"] == pytest.approx(direct, rel=1e-4, abs=1e-5)
            assert found.margins["rolling moment"] == pytest.approx(
                abs(direct) - 0.1, rel=1e-4, abs=1e-5
            )
            signs.add(np.sign(direct))
    assert signs == {-1.0, 1.0}
    for speed in map(float, SPEEDS[1:]):
        fold = best_fold(table, speed).fold_deg
        assert abs(rolling(book.craft, fold, 20.0, speed)) >= 0.1 - 1e-9


def test_a_roll_command_that_reverses_along_the_schedule_is_found(book: PowerBook) -> None:
    """From 5 degrees, below the moment's zero, to 45, above it; ``point`` confirms both signs."""
    table = table_of(book, airspeed_min_m_s=11.0, roll_reserve_deg=20.0)
    ideal = ideal_schedule(table, SPEEDS[1:])
    crossed = _confirmed(table, ideal, np.array([11.0, 17.0]), np.array([5.0, 45.0]), 0.0)
    [(before, after)] = crossed.roll_reversals
    low, high = (rolling(book.craft, crossed.fold(u), 20.0, u) for u in (before, after))
    assert low * high < 0.0
    kept = _confirmed(table, ideal, np.array([11.0, 17.0]), np.array([5.0, 10.0]), 0.5)
    assert kept.roll_reversals == ()
    study = _studied(table, ideal, crossed)
    assert "roll_reversal" in [f.code for f in study.findings]
    assert "roll command reverses" in " ".join(answer(study))


def test_room_to_roll_keeps_away_from_the_ends(book: PowerBook) -> None:
    table = table_of(
        book, roll_reserve_deg=40.0, forbidden_deg=[(-40.0, 75.0)], roll_moment_min_N_m=0.05
    )
    assert -50.0 <= best_fold(table, 14.0).fold_deg <= -40.0


def test_a_drive_too_slow_forbids_every_fold(book: PowerBook) -> None:
    found = best_fold(table_of(book, folding_rate_min_deg_s=1e4), 14.0)
    assert np.isnan(found.fold_deg)
    assert found.reason == "folding rate"


@pytest.mark.parametrize(
    ("keys", "named"),
    [
        # One of them forbids most folds, but each fold that it forbids is forbidden twice.
        ({"forbidden_deg": [(-95.0, 60.0)], "hinge_moment_max_N_m": 1e-4},
         {"hinge_moment_max_N_m"}),
        ({"stall_margin_min_deg": 30.0, "hinge_moment_max_N_m": 1e-4},
         {"stall_margin_min_deg", "hinge_moment_max_N_m"}),
        ({"forbidden_deg": [(-95.0, 20.0)], "dihedral_effect": "unstable"}, {"forbidden_deg"}),
    ],
)  # fmt: skip
def test_what_forbids_every_fold_need_only_be_left_out(
    book: PowerBook, keys: dict[str, object], named: set[str]
) -> None:
    """Without the constraints that are named some fold is allowed; with fewer of them none is."""
    words = {"forbidden_deg": "forbidden from", "hinge_moment_max_N_m": "hinge moment",
             "stall_margin_min_deg": "stall margin", "dihedral_effect": "dihedral"}  # fmt: skip
    found = best_fold(table_of(book, **keys), 14.0)
    assert found.setting is None
    assert {key for key, word in words.items() if word in found.reason} == named

    def allowed(left_out: set[str]) -> bool:
        kept = {key: value for key, value in keys.items() if key not in left_out}
        return best_fold(table_of(book, **kept), 14.0).setting is not None

    assert allowed(named)
    for key in named if len(named) > 1 else ():
        assert not allowed(named - {key})


def test_every_airspeed_without_a_fold_is_reported_with_its_own_reason(book: PowerBook) -> None:
    """A pull on the hinges grows with the airspeed; in hover a reserve of rotors is asked for that
    only fast flight leaves."""
    table = table_of(book, hinge_moment_max_N_m=0.1, rotor_margin_min=0.6)
    ideal = ideal_schedule(table)
    reasons = {point.speed: point.reason for point in ideal if point.setting is None}
    assert len(set(reasons.values())) > 1
    study = _studied(table, ideal, flown_schedule(table, ideal, table.constraints.schedule))
    [said] = [one for one in answer(study) if "No fold is allowed" in one]
    for speed, reason in reasons.items():
        stated = said.partition(f"{speed:.4g}")[2]
        assert stated.partition("(")[2].startswith(reason), said


def three_rotors() -> Biplane:
    """The demo craft with its lower rotors in one: nothing balances the torque of the third."""
    craft = craft_with(airspeed_min_m_s=13.0, airspeed_max_m_s=15.0, speeds=2)
    tables = craft.model_dump(exclude_none=True)
    tables["rotors"] = tables["rotors"][:3]
    tables["rotors"][2]["position_m"] = (-0.08, 0.0, -0.36)
    tables["mission"] = [{"kind": "loiter", "time_s": 60.0, "airspeed_m_s": 14.0}]
    return Biplane.model_validate(tables).from_source(craft.source)


def test_trims_that_do_not_balance_are_reported_by_every_plan() -> None:
    """The torque that is left over is the power of the third rotor over its speed: Q = P / Omega.

    The two above turn against each other and cancel.
    """
    craft, coarse = three_rotors(), Grid(2, 8)
    study = schedule_study(craft, folds=3, grid=coarse)
    setting = study.ideal[0].setting
    assert setting is not None
    rotor = setting.point.trim.loads.rotors[2]  # type: ignore[union-attr]
    torque = float(rotor.power[0] / rotor.speed[0])
    legs = craft.mission
    energy = GoalPlan("energy", legs=legs, fold_deg=0.0, grid=coarse)
    flown = Candidate("schedule", mission_flight(craft, energy), None, 2.1)
    plans = [
        study.findings,
        mission_findings(MissionStudy(craft, "", legs, flown, (), (), (), ())),
        worth(craft, GoalPlan("power", 14.0, fold_deg=0.0, grid=coarse)).findings,
        worth(craft, energy).findings,
    ]
    for findings in plans:
        [told] = [one for one in findings if one.code == "moment_left_over"]
        assert told.value == pytest.approx(torque, rel=0.35)
    [own] = [f for f in flown_doubts([(study.table.craft_at(setting.fold_deg), setting.point)])  # type: ignore[list-item]
             if f.code == "moment_left_over"]  # fmt: skip
    assert own.value == pytest.approx(torque, rel=0.02)


def test_the_hinges_carry_no_more_than_allowed(book: PowerBook) -> None:
    """The moment of the flat tips is held against ``point``; then 10 % less is allowed."""
    free = best_fold(table_of(book), 17.0)
    table = table_of(book, hinge_moment_max_N_m=1e3)
    carried = 1e3 - table.setting(free.fold_deg, 17.0).margins["hinge moment"]
    flat = table.setting(0.0, 17.0)
    made = table.craft_at(0.0)
    assert made is not None
    # Far from the limit it is read off a chart; solved, it is the point's own.
    read = 1e3 - flat.margins["hinge moment"]
    flat = table.constraints.setting(made, 0.0, 17.0, flat.point, solved=True)
    assert 1e3 - flat.margins["hinge moment"] == pytest.approx(read, rel=1e-4)
    alpha = flat.point.value("alpha_deg")
    state = FlightState(alpha=np.radians(alpha), airspeed=17.0)
    solved = solve_point(book.craft, FoldAngles(), state, grid=GRID, errors=False)
    most = max(abs(h.moment) for h in solved.hinges.values())
    assert 1e3 - flat.margins["hinge moment"] == pytest.approx(most, rel=1e-6)
    found = best_fold(table_of(book, hinge_moment_max_N_m=0.9 * carried), 17.0)
    assert "hinge moment" in found.active
    assert found.power > free.power
    assert found.setting is not None
    assert found.setting.is_solved
    assert found.margins["hinge moment"] >= 0.0


def test_stalling_wins_no_exemption() -> None:
    """At 6 m/s every fold is stalled; none is allowed unless the file calls it thrust-borne."""
    book = power_book(craft_with(), [-90, -45, 0, 45], [0.0, 6.0], grid=GRID)
    asked = table_of(book, stall_margin_min_deg=1.0)
    assert best_fold(asked, 6.0).reason == "stall margin"
    for setting in asked.row(6.0):
        assert setting.margins["stall margin"] < -20.0
        parts = [v for k, v in setting.quantities.items() if k.startswith(STALL)]
        assert min(parts) == pytest.approx(setting.point.value("stall_margin_deg"))
    free = table_of(book, stall_margin_min_deg=1.0, thrust_borne_below_m_s=7.0)
    assert np.isfinite(best_fold(free, 6.0).fold_deg)
    again = table_of(book, stall_margin_min_deg=1.0, thrust_borne_below_m_s=6.0)
    assert np.isnan(best_fold(again, 6.0).fold_deg)


def test_the_flown_schedule_keeps_its_slope_and_tells_its_loss(book: PowerBook) -> None:
    table = table_of(book, rate_limit_deg_per_speed=0.2, hysteresis_m_s=0.5)
    flown = flown_of(table)
    slopes = np.diff(flown.folds_deg) / np.diff(flown.speeds)
    assert np.abs(slopes).max() <= 0.2 + 0.01
    assert len(flown.speeds) <= 3
    assert flown.fold(14.5, rising=True) == pytest.approx(flown.fold(14.0), abs=0.01)
    for point in ideal_schedule(table):
        state = flown.state(point.speed)
        power = []
        for rising in (False, True):
            fold = FoldAngles.symmetric(flown.fold(point.speed, rising=rising))
            made = powered_craft(book.craft, fold, grid=GRID)
            power.append(direct_trim(made, point.speed).value(POWER))
        assert state.loss == pytest.approx(np.mean(power) - point.power, abs=1e-4)


def test_the_mean_loss_counts_every_airspeed(book: PowerBook) -> None:
    """Those outside too: straight from 5 to 45 degrees, through folds that are forbidden."""
    table = table_of(book, airspeed_min_m_s=11.0, forbidden_deg=[(18.0, 40.0)])
    ideal = ideal_schedule(table, SPEEDS[1:])
    flown = _confirmed(table, ideal, np.array([11.0, 17.0]), np.array([5.0, 45.0]), 0.0)
    assert 14.0 in [state.speed for state in flown.outside]
    expected = []
    for point in ideal:
        made = powered_craft(book.craft, FoldAngles.symmetric(flown.fold(point.speed)), grid=GRID)
        expected.append(direct_trim(made, point.speed).value(POWER) / point.power - 1.0)
    assert expected[1] > 0.002
    assert flown.losses == pytest.approx(expected, abs=1e-6)


@pytest.mark.parametrize(("late", "seen"), [(0.0, 2), (0.5, 4)])
def test_a_narrow_range_that_must_not_be_held_is_seen_on_the_way(
    book: PowerBook, late: float, seen: int
) -> None:
    """From 5 to 45 degrees over 6 m/s and back: 30.2 is passed at 11 + 25.2/40 3 m/s, and at the
    same before the end, each later where the tips follow late (a straight line)."""
    table = table_of(book, airspeed_min_m_s=11.0, forbidden_deg=[(30.1, 30.3)])
    there = np.array([11.0, 14.0, 17.0]), np.array([5.0, 45.0, 5.0])
    flown = _confirmed(table, ideal_schedule(table, SPEEDS[1:]), *there, late)
    first = 11.0 + 3.0 * 25.2 / 40.0
    wanted = sorted(v + shift for v in (first, 28.0 - first) for shift in {0.0, late})
    found = [s.speed for s in flown.outside if "forbidden from 30.1 to 30.3 deg" in s.passed]
    assert len(found) == seen
    assert found == pytest.approx(wanted, abs=0.01)


def test_a_narrow_window_between_forbidden_ranges_is_found(book: PowerBook) -> None:
    """From 12.31 to 12.37 degrees alone; the best of it by trims at every hundredth."""
    table = table_of(book, airspeed_min_m_s=11.0, forbidden_deg=[(-91.0, 12.31), (12.37, 121.0)])
    for speed in (11.0, 17.0):
        tried = [table.setting(fold, speed) for fold in np.arange(12.31, 12.371, 0.01)]
        wanted = min(one.power for one in tried if not one.passed)
        found = best_fold(table_of(
            book, airspeed_min_m_s=11.0, forbidden_deg=[(-91.0, 12.31), (12.37, 121.0)]
        ), speed)  # fmt: skip
        assert found.power == pytest.approx(wanted, rel=1e-5)


def test_what_lies_between_best_folds_is_found_however_narrow(book: PowerBook) -> None:
    """Of made-up best folds at 5 and 45 degrees; a range beyond them is none, and one airspeed
    with a fold there that keeps the hinge's limit is enough."""
    table = table_of(
        book, airspeed_min_m_s=11.0, forbidden_deg=[(30.11, 30.12), (50.0, 60.0)],
        hinge_moment_max_N_m=0.35,
    )  # fmt: skip
    ideal = [SchedulePoint(v, table.setting(f, v)) for v, f in ((11.0, 5.0), (14.0, 45.0))]
    found = barred_between(table, ideal)
    assert found["forbidden from 30.11 to 30.12 deg"] == [(11.0, 14.0)]
    assert "forbidden from 50 to 60 deg" not in found
    order = list(table.reading(11.0, np.array([5.0])).margins)
    assert list(found) == sorted(found, key=order.index)  # the same in every process
    hinge = {name for name in table.constraints.units if name.startswith("hinge moment")}
    margins = {
        name: [
            [table.setting(fold, speed).margins[name] for fold in np.arange(5.0, 45.1, 2.5)]
            for speed in (11.0, 14.0)
        ]
        for name in hinge
    }
    assert {name for name in hinge if (np.max(margins[name], axis=0) < 0.0).any()} == (
        hinge & found.keys()
    )
    assert hinge & found.keys()


def test_losses_half_way_between_airspeeds_are_over_the_best_fold_there(book: PowerBook) -> None:
    """The hinge's limit forbids the lower airspeed's best fold there; that of the higher one draws
    0.8 % too much. Brute force: a direct trim at every degree."""
    table = table_of(book, airspeed_min_m_s=11.0, hinge_moment_max_N_m=0.3)
    flown = _confirmed(
        table, ideal_schedule(table, SPEEDS[1:]), np.array([11.0, 17.0]), np.full(2, -90.0), 0.0
    )
    losses = []
    for state in flown.states:
        tried = [table.setting(fold, state.speed) for fold in np.arange(-90.0, -50.0)]
        least = min(one.power for one in tried if not one.passed)
        losses.append((state.power / least - 1.0, state.speed))
        assert state.ideal_power == pytest.approx(least, rel=4e-3)
    worst, speed = flown.worst
    assert speed == max(losses)[1]
    assert worst == pytest.approx(max(losses)[0], abs=4e-3)


def test_more_breakpoints_lose_no_more(book: PowerBook) -> None:
    few = flown_of(table_of(book, breakpoints=2, forbidden_deg=[(-5.0, 30.0)]))
    many = flown_of(table_of(book, breakpoints=4, forbidden_deg=[(-5.0, 30.0)]))
    assert many.losses.mean() <= few.losses.mean() + 1e-4


def test_a_curve_over_fold_has_gaps_where_nothing_flies() -> None:
    curve = FoldCurve(np.array([0.0, 1.0, 2.0, 3.0]), np.array([1.0, 2.0, np.nan, 5.0]))
    assert curve(0.5) == pytest.approx(1.5)
    assert np.isnan(curve(1.5))
    assert curve(3.0) == 5.0
    np.testing.assert_allclose(
        curve(np.array([[0.5, 1.5], [3.0, -1.0]])), [[1.5, np.nan], [5, np.nan]]
    )


def test_the_grid_of_folds_holds_limits_flat_and_named_settings() -> None:
    craft = load_biplane("tideline")
    folds = fold_grid(craft, 9)
    for wanted in (-90.0, 0.0, 15.0, 120.0):
        assert np.abs(folds - wanted).min() < 1e-9
    assert np.all(np.diff(folds) > 0.0)


def test_a_file_without_a_schedule_is_refused() -> None:
    assert main(["schedule", "plank"]) == 2


def test_an_actuator_is_asked_for() -> None:
    craft = craft_with(folding_rate_min_deg_s=5.0).model_copy(update={"actuator": None})
    book = power_book(craft, [0.0], [0.0, 12.0], grid=GRID)
    with pytest.raises(InputRefused, match=r"\[actuator\] is missing"):
        FoldTable.of(book, craft.schedule)  # type: ignore[arg-type]


QUICK = ("--fold-count", "4", "--rows", "2", "--strips", "8")


def test_the_command_prints_writes_and_draws(tmp_path) -> None:  # type: ignore[no-untyped-def]
    file = tmp_path / "craft.toml"
    file.write_text(craft_with(stall_margin_min_deg=0.5, airspeed_min_m_s=11.0).to_toml())
    out = ["--csv", str(tmp_path / "s.csv"), "--plot", str(tmp_path / "s.png")]
    done = CliRunner().invoke(foldspan, ["schedule", str(file), *QUICK, *out, "--json"])
    assert done.exit_code == 0, done.output
    document = json.loads(done.stdout)
    assert len(document["ideal"]) == 4
    assert document["ideal"][2]["margins"]["stall margin"] > 0.0
    assert (tmp_path / "s.png").stat().st_size > 10_000
    text = (tmp_path / "s.csv").read_text()
    said = [line for line in text.splitlines() if line.startswith("#")]
    assert any("valid from" in line and "constraints kept" in line for line in said)
    assert any(document["version"] in line and "deg" in line for line in said)
    rows = list(csv.DictReader(line for line in text.splitlines() if not line.startswith("#")))
    assert len(rows) == len(document["flown"]["airspeed_m_s"])
    assert float(rows[-1]["margin stall margin [deg]"]) > 0.0
    assert [float(row["fold_deg"]) for row in rows] == document["flown"]["fold_deg"]


@pytest.mark.usefixtures("answers_kept")
def test_a_passed_constraint_ends_with_status_3_and_writes_nothing(tmp_path, capsys) -> None:  # type: ignore[no-untyped-def]
    """From hover to 17 m/s the schedule runs through stall, which no fold avoids."""
    file = tmp_path / "craft.toml"
    file.write_text(craft_with(stall_margin_min_deg=0.5).to_toml())
    asked = ["schedule", str(file), *QUICK, "--csv", str(tmp_path / "s.csv")]
    assert main(asked) == 3
    shown = capsys.readouterr()
    assert "5.667 m/s stall margin" in shown.err
    assert "Not to be flown as it stands" in shown.out
    assert not (tmp_path / "s.csv").exists()
    assert main([*asked, "--allow-violations"]) == 0
    assert "# violation at 5.667 m/s: stall margin -" in (tmp_path / "s.csv").read_text()
    assert main([*asked, "--allow-violations", "--strict"]) == 3


def test_flat_tips_are_named_where_they_do_as_well(book: PowerBook) -> None:
    """The power of flat tips is solved by itself; where a constraint forbids them it is said."""
    free = table_of(book, airspeed_min_m_s=11.0)
    low = _answer_of(free, SPEEDS[1:])
    near = [direct_trim(powered_craft(book.craft, FoldAngles.symmetric(0.0), grid=GRID), float(u))
            for u in SPEEDS[1:]]  # fmt: skip
    best = [best_fold(free, float(u)).power for u in SPEEDS[1:]]
    most = max(p.value("electrical_power_W") / b - 1.0 for p, b in zip(near, best, strict=True))
    assert most < 0.002
    assert low[0].startswith("Leave the tips flat"), low
    assert low[1].startswith("As a schedule: fold "), low
    forbidden = table_of(book, airspeed_min_m_s=11.0, forbidden_deg=[[-1.0, 1.0]])
    said = " ".join(_answer_of(forbidden, SPEEDS[1:]))
    assert "Leave the tips flat" not in said
    assert "but these do not keep clear of the folds forbidden" in said
    assert "As a schedule" not in said


@pytest.mark.parametrize(
    ("folds", "words"),
    [
        ([15.0, 15.0, -90.0, -80.0],
         "fold 15 deg from 7 to 9 m/s, -90 deg at 10 m/s, -80 deg at 13 m/s, straight between"),
        ([-5.0, -5.0, -5.0, -5.0], "hold -5 deg at every airspeed"),
    ],
)  # fmt: skip
def test_where_the_schedule_turns_is_in_the_answer(folds, words):
    speeds = np.array([7.0, 9.0, 10.0, 13.0])
    flown = FlownSchedule(speeds, np.array(folds), 0.0, (), (7.0, 13.0))
    assert _fold_words(flown) == words


def test_flat_tips_keep_no_constraint_where_no_fold_is_allowed(book: PowerBook) -> None:
    """The margins of flat tips, solved at every airspeed: the sentence speaks of no other."""
    table = table_of(book, airspeed_min_m_s=11.0, stall_margin_min_deg=5.0)
    speeds = np.array([11.0, 14.0, 17.0])
    kept = [not table.setting(0.0, float(u)).passed for u in speeds]
    assert kept == [False, True, True]
    said = " ".join(_answer_of(table, speeds))
    assert "No fold is allowed at 11 m/s (stall margin)" in said
    assert "no less at any airspeed that allows a fold, within 0.2 %, and flat they keep" in said
    assert "at any airspeed, within" not in said


def test_that_flat_tips_keep_every_constraint_is_not_said_where_it_is_not_known(
    book: PowerBook,
) -> None:
    table = table_of(book, stall_margin_min_deg=0.5)
    ideal = ideal_schedule(table, np.array([14.0, 17.0]))
    study = _studied(table, ideal, flown_schedule(table, ideal, table.constraints.schedule))
    assert "Leave the tips flat" in " ".join(answer(study))
    open_ = Unsure("rolling moment", "N m", (14.0, 17.0), 14.0, 8.25, 0.003, 0.018)
    said = " ".join(answer(replace(study, unsure_flat=(open_,))))
    assert "Leave the tips flat" not in said
    assert (
        "but for these it is not known whether rolling moment is kept at fold 8.25 deg and 14 m/s"
        " and at 1 more airspeed, margin 0.003 ± 0.018 N m" in said
    )


def _answer_of(table: FoldTable, speeds: np.ndarray) -> list[str]:
    ideal = ideal_schedule(table, speeds)
    flown = flown_schedule(table, ideal, table.constraints.schedule)
    return answer(_studied(table, ideal, flown))


def _studied(
    table: FoldTable, ideal: list[SchedulePoint], flown: FlownSchedule | None
) -> ScheduleStudy:
    saving = largest_saving(ideal, table)
    return ScheduleStudy(table, ideal, flown, table.constraints.schedule, saving)
