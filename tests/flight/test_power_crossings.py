"""Crossings of power curves: where they are, where they can't be said, and what is none."""

from functools import cache

import numpy as np
import pytest

from vlm.description.folds import FoldAngles
from vlm.description.loading import load_biplane
from vlm.flight.trim.power_book import POWER, direct_trim
from vlm.flight.trim.powered import powered_craft
from vlm.lattice.cellule import Grid
from vlm.show.tables.power import power_table
from vlm.study.power.crossings import crossings, mirror_images, turns_for_good
from vlm.study.power.results import power_document
from vlm.study.power.study import PowerPlan, PowerStudy, power_study

GRID = Grid(rows=2, strips=10)
SPEEDS = tuple(float(u) for u in np.linspace(7.0, 12.5, 7))


@cache
def study() -> PowerStudy:
    """The light craft open and boxed: it crosses once, for pitch trim costs more when open."""
    settings = {"open": FoldAngles(), "box": FoldAngles(-90.0, -90.0)}
    return power_study(load_biplane("thistle"), PowerPlan(settings, SPEEDS, grid=GRID))


def test_the_light_craft_crosses_once_and_direct_trims_agree() -> None:
    [found] = study().crossings
    assert not found.is_jump
    craft = load_biplane("thistle")
    powers = []
    for fold in (0.0, -90.0):
        made = powered_craft(craft, FoldAngles.symmetric(fold), grid=GRID)
        powers.append([direct_trim(made, found.speed + d).value(POWER) for d in (-0.7, 0.0, 0.7)])
    open_, box = np.array(powers)
    assert open_[1] == pytest.approx(box[1], rel=1e-4)
    assert open_[0] < box[0] - found.noise
    assert open_[2] > box[2] + found.noise
    assert found.less_above == "box"
    [row] = power_document(study())["crossings"]
    assert row["less_above"] == "box"


def test_its_interval_holds_it_and_stays_where_both_fly() -> None:
    [row] = power_document(study())["crossings"]
    low, high = row["interval_m_s"]
    assert SPEEDS[0] <= low <= row["airspeed_m_s"] <= high <= SPEEDS[-1]
    assert high - low > 0.05
    assert row["is_jump"] is False


def test_the_crossing_moves_by_less_than_its_interval_on_a_finer_lattice() -> None:
    plan = PowerPlan(study().plan.settings, SPEEDS, grid=Grid(4, 20), intervals=False)
    [finer] = power_study(load_biplane("thistle"), plan).crossings
    [row] = power_document(study())["crossings"]
    low, high = row["interval_m_s"]
    assert low <= finer.speed <= high


def test_mirror_images_have_no_crossing() -> None:
    """They draw the same at every speed, but for rounding."""
    settings = {"right": FoldAngles(0.0, -45.0), "left": FoldAngles(-45.0, 0.0)}
    plan = PowerPlan(settings, (12.0, 14.0, 16.0), grid=Grid(2, 8), intervals=False)
    found = power_study(load_biplane("tideline"), plan)
    assert found.crossings == ()
    right, left = (found.curves[name].values(POWER) for name in settings)
    assert right == pytest.approx(left, rel=1e-6)
    assert mirror_images(FoldAngles(10.0, 20.0), FoldAngles(20.0, 10.0))
    assert not mirror_images(FoldAngles(10.0, 20.0), FoldAngles(10.0, 21.0))


def test_a_difference_within_its_noise_crosses_nowhere() -> None:
    """Folds half a degree apart near the flat optimum change sign by rounding alone."""
    settings = {"a": FoldAngles.symmetric(8.0), "b": FoldAngles.symmetric(8.5)}
    plan = PowerPlan(settings, (11.0, 13.0, 15.0, 17.0), grid=Grid(2, 8), intervals=False)
    found = power_study(load_biplane("tideline"), plan)
    apart = found.curves["a"].values(POWER) - found.curves["b"].values(POWER)
    assert np.abs(apart).max() < 0.05
    assert found.crossings == ()


@pytest.mark.parametrize(
    ("apart", "expected"),
    [
        ([3.0, 2.0, -1.0, -4.0], [1]),
        ([3.0, -0.1, -0.2, 2.0], []),  # dips below zero within its noise
        ([3.0, 0.2, -0.1, 0.1, -0.2, -3.0], [2]),  # one crossing, however it wavers on its way
        ([3.0, -0.1, 0.2, -3.0, -0.1, 0.1], [1]),  # the end within its noise is no second one
        ([-2.0, 3.0, 2.0, -5.0], [0, 2]),
        ([0.2, -0.1, 0.1], []),
        ([4.0], []),
    ],
)
def test_only_turns_beyond_the_noise_on_either_side_count(
    apart: list[float], expected: list[int]
) -> None:
    found = list(turns_for_good(np.array(apart), lambda _: 0.5))
    assert [before for (before, _), _, _ in found] == expected
    assert all(noise == 0.5 for _, noise, _ in found)
    # Every other crossing leads up, the first down where the difference begins above its noise.
    first_up = apart[0] < 0.0
    assert [up for _, _, up in found] == [(i % 2 == 0) is first_up for i in range(len(found))]


def test_a_noise_that_is_not_known_leaves_its_own_turn_open_and_no_other() -> None:
    """Where the coarse lattice has no trim."""
    noises = {(0, 1): 0.5, (2, 3): np.inf}
    found = turns_for_good(np.array([-2.0, 3.0, 2.0, -5.0]), noises.__getitem__)
    # Where it turns back is not known, but that it does: +2 is not above it throughout.
    assert list(found) == [((0, 1), 0.5, None)]
    # The middle is clear of the noise of the first turn, not of that of the second.
    found = turns_for_good(np.array([-2.0, 1.0, 1.0, -5.0]), {(0, 1): 0.5, (2, 3): 2.0}.__getitem__)
    assert list(found) == [((0, 1), 0.5, None)]
    # Where it turns back by less than the noise of the crossing, that says nothing.
    found = turns_for_good(np.array([-2.0, 3.0, -0.4, 0.4]), lambda _: 0.5)
    assert list(found) == [((0, 1), 0.5, True)]


def test_of_many_settings_each_is_held_against_the_first() -> None:
    curve = study().curves
    many = {f"{i}": curve["open" if i else "box"] for i in range(9)}
    assert {(c.first, c.second) for c in crossings(many, {})} == {
        ("0", f"{i}") for i in range(1, 9)
    }


@pytest.mark.parametrize(("spread", "known"), [(0.0, [False, False]), (15.0, [False, True])])
def test_past_stall_a_crossing_has_an_interval_only_where_the_file_states_its_spread(
    spread: float, known: list[bool]
) -> None:
    """Both settings of both crossings have strips past their stall, by trims solved directly.

    Beside the slower one the craft stands at more than 25 degrees to the air: there a stated spread
    of forces past stall does not tell what two settings differ by.
    """
    changes = [f"uncertainty.post_stall_percent={spread}", "uncertainty.samples=40"]
    craft = load_biplane("winnow", changes)
    up = craft.fold_range_deg[1] / 3.0
    settings = {"open": FoldAngles(), "up": FoldAngles.symmetric(up)}
    speeds = tuple(float(u) for u in np.linspace(10.0, 12.0, 7))
    found = power_study(craft, PowerPlan(settings, speeds, grid=Grid(2, 8)))
    document = power_document(found)
    near = [one for one in found.crossings if one.speed < 11.5]
    for one in near:
        made = [powered_craft(craft, folds, grid=Grid(2, 8)) for folds in settings.values()]
        trims = [direct_trim(one_craft, one.speed) for one_craft in made]
        assert min(trim.value("stall_margin_deg") for trim in trims) < 0.0
    below = [curve.points[1] for curve in found.curves.values()]
    assert all(point.speed < near[0].speed and point.value("alpha_deg") > 25.0 for point in below)
    assert [not one.stall_left_open for one in near] == known
    rows = [row for row in document["crossings"] if row["airspeed_m_s"] < 11.5]
    assert [not row["stall_left_open"] for row in rows] == known
    assert all(row["interval_m_s"] is None for row in rows if row["stall_left_open"])
    said = " ".join(power_table(document).split())
    assert said.count("± not known: strips past stall") == known.count(False)
