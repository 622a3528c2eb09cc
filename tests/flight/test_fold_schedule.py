"""Fold schedules against brute force of direct trims, and against what they promise."""

import json

import numpy as np
import pytest
from click.testing import CliRunner

from vlm.cli.main import foldspan, main
from vlm.description.folds import FoldAngles
from vlm.description.loading import load_biplane
from vlm.description.models import Biplane
from vlm.errors import InputRefused
from vlm.flight.plan.schedule import best_fold, flown_schedule, ideal_schedule
from vlm.flight.plan.schedule_limits import schedule_limits
from vlm.flight.trim.power_book import (
    POWER,
    FoldCurve,
    PowerBook,
    direct_trim,
    fold_grid,
    power_book,
)
from vlm.flight.trim.powered import powered_craft
from vlm.lattice.cellule import Grid
from vlm.loads.state import FlightState
from vlm.study.point import solve_point

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


def constrained(book: PowerBook, **keys: object):  # type: ignore[no-untyped-def]
    """Limits of a schedule with these constraints on the book."""
    schedule = craft_with(**keys).schedule
    assert schedule is not None
    return schedule_limits(book, schedule), schedule


def test_the_best_fold_is_the_least_of_direct_trims(book: PowerBook) -> None:
    """Brute force: a direct trim every 2.5 degrees around the flat optimum; agrees to 0.2 %."""
    limits, _ = constrained(book)
    for index in (1, 3):
        found = best_fold(book, limits, index)
        powers = []
        for fold in np.arange(-15.0, 30.1, 2.5):
            made = powered_craft(book.craft, FoldAngles.symmetric(float(fold)), grid=GRID)
            powers.append(direct_trim(made, float(SPEEDS[index])).value(POWER))
        assert found.power == pytest.approx(min(powers), rel=2e-3)
        low, high = found.flat_deg
        assert low <= found.fold_deg <= high


def test_interpolated_power_is_confirmed_by_direct_trims(book: PowerBook) -> None:
    limits, _ = constrained(book)
    for point in ideal_schedule(book, limits)[1:]:
        assert point.direct_power == pytest.approx(point.power, rel=3e-3)


def test_forbidden_folds_are_not_held_and_the_edge_is_told(book: PowerBook) -> None:
    limits, _ = constrained(book, forbidden_deg=[(-20.0, 25.0)])
    for index in (1, 2, 3):
        found = best_fold(book, limits, index)
        assert not -20.0 < found.fold_deg < 25.0
        assert "forbidden from -20 to 25 deg" in found.active


def test_the_sign_of_the_dihedral_effect_is_kept(book: PowerBook) -> None:
    """Tips up stable, tips down unstable: the schedule moves to the side that was asked for."""
    up, _ = constrained(book, dihedral_effect="stable", dihedral_effect_min_per_rad=0.15)
    down, _ = constrained(book, dihedral_effect="unstable", dihedral_effect_min_per_rad=0.05)
    for index in (1, 2, 3):
        assert best_fold(book, up, index).fold_deg > 10.0
        assert best_fold(book, down, index).fold_deg < -10.0
        assert best_fold(book, up, index).active == ("dihedral effect",)


def test_room_to_roll_keeps_away_from_the_ends(book: PowerBook) -> None:
    limits, _ = constrained(
        book, roll_reserve_deg=40.0, forbidden_deg=[(-40.0, 75.0)], roll_moment_min_N_m=0.05
    )
    found = best_fold(book, limits, 2)
    assert -50.0 <= found.fold_deg <= -40.0


def test_a_drive_too_slow_forbids_every_fold(book: PowerBook) -> None:
    limits, _ = constrained(book, folding_rate_min_deg_s=1e4)
    found = best_fold(book, limits, 2)
    assert np.isnan(found.fold_deg)
    assert found.reason == "folding rate"


def test_the_hinges_carry_no_more_than_allowed(book: PowerBook) -> None:
    """The moment of the flat tips is held against ``point``; then 10 % less."""
    free, _ = constrained(book)
    best = best_fold(book, free, 3)
    limits, _ = constrained(book, hinge_moment_max_N_m=1e3)
    carried = 1e3 - limits.margins(best.fold_deg, 3)["hinge moment"]
    curve = book.curves[4]
    assert curve is not None
    alpha = curve.points[3].value("alpha_deg")
    state = FlightState(alpha=np.radians(alpha), airspeed=17.0)
    solved = solve_point(book.craft, FoldAngles(), state, grid=GRID, errors=False)
    flat = max(abs(h.moment) for h in solved.hinges.values())
    assert 1e3 - limits.tables["hinge moment"][4, 3] == pytest.approx(flat, rel=1e-6)
    bound, _ = constrained(book, hinge_moment_max_N_m=0.9 * carried)
    found = best_fold(book, bound, 3)
    assert "hinge moment" in found.active
    assert found.power > best.power
    assert bound.margins(found.fold_deg, 3)["hinge moment"] >= 0.0


def test_the_flown_schedule_keeps_its_slope_and_tells_its_loss(book: PowerBook) -> None:
    limits, schedule = constrained(book, rate_limit_deg_per_speed=0.2, hysteresis_m_s=0.5)
    ideal = ideal_schedule(book, limits, confirm=False)
    flown = flown_schedule(book, limits, ideal, schedule)
    assert flown is not None
    slopes = np.diff(flown.folds_deg) / np.diff(flown.speeds)
    assert np.abs(slopes).max() <= 0.2 + 1e-9
    assert len(flown.speeds) <= 3
    assert flown.fold(14.5, rising=True) == pytest.approx(flown.fold(14.0))
    for index, point in enumerate(ideal):
        if flown.outside[index]:
            continue
        power = [
            book.over_fold(book.power, index)(flown.fold(point.speed, rising=rising))
            for rising in (False, True)
        ]
        assert flown.losses[index] == pytest.approx(np.mean(power) - point.power, abs=0.05)


def test_more_breakpoints_lose_no_more(book: PowerBook) -> None:
    limits, few = constrained(book, breakpoints=2, forbidden_deg=[(-5.0, 30.0)])
    _, many = constrained(book, breakpoints=4, forbidden_deg=[(-5.0, 30.0)])
    ideal = ideal_schedule(book, limits, confirm=False)
    one, two = (flown_schedule(book, limits, ideal, s) for s in (few, many))
    assert one is not None
    assert two is not None
    assert two.mean_loss <= one.mean_loss + 1e-9


def test_a_curve_over_fold_has_gaps_where_nothing_flies() -> None:
    curve = FoldCurve(np.array([0.0, 1.0, 2.0, 3.0]), np.array([1.0, 2.0, np.nan, 5.0]))
    assert curve(0.5) == pytest.approx(1.5)
    assert np.isnan(curve(1.5))
    assert curve(3.0) == 5.0


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
        schedule_limits(book, craft.schedule)  # type: ignore[arg-type]


def test_the_command_prints_writes_and_draws(tmp_path) -> None:  # type: ignore[no-untyped-def]
    file = tmp_path / "craft.toml"
    file.write_text(craft_with().to_toml())
    arguments = [
        "schedule",
        str(file),
        "--fold-count",
        "4",
        "--rows",
        "2",
        "--strips",
        "8",
        "--csv",
        str(tmp_path / "s.csv"),
    ]
    done = CliRunner().invoke(foldspan, [*arguments, "--plot", str(tmp_path / "s.png"), "--json"])
    assert done.exit_code == 0, done.output
    document = json.loads(done.stdout)
    assert len(document["ideal"]) == 4
    assert (tmp_path / "s.png").stat().st_size > 10_000
    rows = (tmp_path / "s.csv").read_text().splitlines()
    assert rows[1] == "airspeed_slowing_m_s,airspeed_speeding_m_s,fold_deg"
    assert len(rows) == 2 + len(document["flown"]["airspeed_m_s"])
