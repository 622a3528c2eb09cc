"""Constraints, the search of a fold, and flown schedules, by hand.

No source but the rules stated in the modules; all numbers are invented.
"""

from types import SimpleNamespace

import numpy as np
import pytest

from vlm.flight.plan import constraints, flown_schedule, loss_table
from vlm.flight.plan.constraints import (
    FORBIDDEN,
    ROLL_MOMENT,
    Constraint,
    Constraints,
    Setting,
    constraint_words,
    keep_words,
)
from vlm.flight.plan.flown_schedule import (
    FlownSchedule,
    FlownState,
    _chosen,
    commanded,
)
from vlm.flight.plan.fold_search import FoldTable, _edge_of_trims, _finer, _shared, _worth_solving
from vlm.flight.plan.loss_table import LossTable


def limits(reserve=None, forbidden=(), below=6.0, listed=()):
    craft = SimpleNamespace(fold_range_deg=(-90.0, 20.0), rotors=())
    schedule = SimpleNamespace(
        roll_reserve_deg=reserve, forbidden_deg=forbidden, thrust_borne_below_m_s=below
    )
    made = Constraints(craft, schedule, None, (), 0.0)
    made.__dict__["listed"] = tuple(listed)
    return made


def test_margins_that_hang_on_the_fold_alone():
    folds = np.array([-90.0, -85.0, 0.0, 5.0, 12.0, 20.0])
    found = limits().of_fold(folds)
    assert found["fold limits"].tolist() == [0.0, 5.0, 20.0, 15.0, 8.0, 0.0]
    found = limits(10.0, [(-3.0, 8.0)]).of_fold(folds)
    assert found["room to roll"].tolist() == [-10.0, -5.0, 10.0, 5.0, -2.0, -10.0]
    assert found["forbidden from -3 to 8 deg"].tolist() == [87.0, 82.0, -3.0, -3.0, 4.0, 12.0]


@pytest.mark.parametrize(
    ("wings", "speed", "binds"),
    [(True, 6.0, True), (True, 5.9, False), (False, 0.0, True), (True, 0.0, False)],
)
def test_constraints_on_the_wings_count_where_they_carry(wings, speed, binds):
    one = Constraint("c", "1", wings, (), None)
    assert limits().binds(one, speed) == binds
    assert limits(below=0.0).binds(one, 0.0) == (not wings)


def test_a_margin_reads_its_own_quantities():
    made = limits(listed=(
        Constraint("a", "1", False, ("p", "q"), constraints._least_over(2.0)),
        Constraint("b", "1", True, ("q", "r"), constraints._least_over(0.0)),
    ))  # fmt: skip
    assert made.quantities == ("p", "q", "r")
    values = np.array([[99.0, 5.0, 3.0, -1.0], [99.0, 1.0, 4.0, 7.0]])
    found = made.margins(np.zeros(2), values, 9.0)
    assert found["a"].tolist() == [1.0, -1.0]
    assert found["b"].tolist() == [-1.0, 4.0]
    assert "b" not in made.margins(np.zeros(2), values, 3.0)


def setting(fold, power, joined=False, **margins):
    return Setting(fold, 12.0, None, np.array([power]), margins, {}, joined)


def test_what_a_setting_passes():
    assert setting(0.0, 1.0, a=0.0, b=-1e-10).is_allowed
    passed = setting(0.0, 1.0, a=-1e-8, b=np.nan, c=3.0)
    assert (passed.passed, passed.reason) == (("a", "b"), "a and b")
    assert setting(0.0, np.nan, a=3.0).passed == (constraints.NO_TRIM,)


@pytest.mark.parametrize(
    ("fold", "room", "found"),
    [
        (13.3, 5.0, 12.0),
        (14.2, 5.0, 16.0),
        (13.3, 1.5, 13.0),
        (13.3, 0.6, 13.5),
        (13.3, 0.3, 13.25),
    ],
)
def test_folds_are_rounded_so_that_airspeeds_share_them(fold, room, found):
    """To the power of two no larger than the room."""
    assert _shared(fold, room) == pytest.approx(found)


def reading(power, perhaps=None, inside=None, room=0.0):
    folds = np.linspace(0.0, 40.0, len(power))
    power = np.array(power, dtype=float)
    yes = np.ones(len(power), dtype=bool)
    return SimpleNamespace(
        folds=folds, power=power, room=np.full(len(power), room),
        perhaps=yes if perhaps is None else np.array(perhaps),
        inside=yes if inside is None else np.array(inside),
    )  # fmt: skip


def test_the_next_fold_is_where_the_power_could_be_least():
    """Solved at 0, 20 and 40 deg, 100 W at best; 3e-4 less is a gain."""
    row = [setting(0.0, 100.0), setting(20.0, 110.0), setting(40.0, 120.0)]
    assert _worth_solving(reading([100.0, 99.9, 110.0, 118.0, 120.0]), row) == pytest.approx(8.0)
    assert _worth_solving(reading([100.0, 99.98, 110.0, 118.0, 120.0]), row) is None
    assert _worth_solving(reading([100.0, 102.0, 110.0, 118.0, 120.0], room=3.0), row) == 8.0
    barred = reading([100.0, 99.0, 110.0, 98.0, 120.0], perhaps=[True, False, True, True, True])
    assert _worth_solving(barred, row) == pytest.approx(32.0)
    none = [setting(f, 100.0, a=-1.0) for f in (0.0, 20.0, 40.0)]
    assert _worth_solving(reading([100.0, 500.0, 110.0, 600.0, 120.0]), none) == pytest.approx(8.0)


def test_half_way_to_a_neighbour_without_a_trim():
    best = setting(20.0, 90.0)
    assert _edge_of_trims([setting(0.0, np.nan), best, setting(40.0, 99.0)], best) == 10.0
    assert _edge_of_trims([setting(0.0, 99.0), best, setting(41.0, np.nan)], best) == 30.5
    assert _edge_of_trims([setting(0.0, 99.0), best, setting(20.9, np.nan)], best) is None
    assert _edge_of_trims([setting(0.0, np.nan), setting(10.0, 99.0), best], best) is None
    assert _edge_of_trims([best], None) is None


def test_the_best_fold_gets_neighbours_before_its_row_is_trusted():
    best = setting(20.0, 90.0)
    far = [setting(0.0, 99.0), best, setting(40.0, 99.0)]
    flat = reading([99.0, 95.0, 90.0, 95.0, 99.0])
    assert _finer(flat, far, best) == 18.0
    near = [setting(0.0, 99.0), setting(18.5, 91.0), best, setting(40.0, 99.0)]
    assert _finer(flat, near, best) == 22.0
    both = [*near[:3], setting(22.0, 91.0), near[3]]
    assert _finer(flat, both, best) is None
    folds = reading([99.0] * 41)
    folds.power[21] = 89.0
    assert _finer(folds, both, best) == 21.0
    folds.inside[21] = False
    assert _finer(folds, both, best) is None


@pytest.mark.parametrize(
    ("speed", "rising", "fold"),
    [(11.0, False, 5.0), (11.0, True, 2.5), (9.0, True, 0.0), (30.0, False, 10.0)],
)
def test_a_schedule_s_fold_lags_as_the_craft_speeds_up(speed, rising, fold):
    made = FlownSchedule(np.array([10.0, 12.0]), np.array([0.0, 10.0]), 0.5, (), (10.0, 12.0))
    assert made.fold(speed, rising=rising) == pytest.approx(fold)
    assert commanded(np.array([0.0, 3.0]), np.array([0.0, 1.0]), 1.0) == 0.33


def state(speed, slow, fast, ideal=100.0, between=False):
    return FlownState(speed, slow, fast, between, ideal)


def flown_setting(fold, power, moment=np.nan, **margins):
    return Setting(fold, 12.0, None, np.array([power]), margins, {ROLL_MOMENT: moment})


def test_a_state_is_what_it_is_on_both_ways():
    both = state(12.0, flown_setting(1.0, 103.0, a=2.0, b=-1.0), flown_setting(2.0, 107.0, a=-3.0))
    assert both.passed == ("b", "a")
    assert both.margins["a"] == -3.0
    assert (both.power, both.loss) == (105.0, 5.0)
    alike = state(12.0, flown_setting(1.0, 103.0), flown_setting(1.0, 103.0))
    assert len(alike.settings) == 1


def schedule(*states, valid=(10.0, 16.0)):
    return FlownSchedule(np.array([10.0, 16.0]), np.array([0.0, 0.0]), 0.0, states, valid)


def test_losses_states_and_what_lies_outside():
    good, bad = flown_setting(0.0, 104.0), flown_setting(0.0, 110.0, a=-1.0)
    made = schedule(state(9.0, bad, bad), state(10.0, good, good), state(12.0, bad, bad),
                    state(12.5, bad, bad, 88.0, True), state(13.0, good, good, np.nan, True),
                    state(17.0, bad, bad))  # fmt: skip
    assert [s.speed for s in made.outside] == [12.0, 12.5]
    assert made.losses == pytest.approx([0.1, 0.04, 0.1, 0.1])
    assert made.worst == pytest.approx((0.25, 12.5))
    assert made.state(12.9).speed == 13.0
    assert flown_schedule._badness(made) == (2, pytest.approx(0.085))
    assert flown_schedule._badness(schedule()) == (0, np.inf)


@pytest.mark.parametrize(
    ("moments", "reversals"),
    [
        ([(1.0, 1.0), (2.0, 2.0), (-1.0, -1.0)], [(12.0, 14.0)]), ([(1.0, 1.0)] * 3, []),
        ([(1.0, 1.0), (-1.0, 1.0), (1.0, 1.0)], [(10.0, 12.0), (12.0, 14.0)]),
        ([(1.0, 1.0), (np.nan, np.nan), (-1.0, -1.0)], [(10.0, 14.0)]),
        ([(np.nan, np.nan), (-1.0, 1.0), (np.nan, np.nan)], [(12.0, 12.0)]),
    ],
)  # fmt: skip
def test_where_the_roll_command_reverses_along_a_schedule(moments, reversals):
    states = [
        state(v, flown_setting(0.0, 1.0, a), flown_setting(1.0, 1.0, b))
        for v, (a, b) in zip((10.0, 12.0, 14.0), moments, strict=True)
    ]
    outside = state(17.0, flown_setting(0.0, 1.0, -9.0), flown_setting(0.0, 1.0, -9.0))
    found = schedule(*states, outside).roll_reversals
    assert sorted(found) == sorted(reversals)


@pytest.mark.parametrize(
    ("asked", "reach"),
    [((12.0, 0.02), {-73.0, 73.0}), ((12.0, None), set()), ((None, 0.02), set()),
     ((90.0, 0.02), set())],
)  # fmt: skip
def test_a_row_reaches_as_far_as_the_rolling_moment_of_the_reserve_can_be_had(asked, reach):
    """Of 12 degrees within 85 either way; else nothing is read beyond the table's 56 degrees."""
    schedule = SimpleNamespace(
        roll_reserve_deg=asked[0], roll_moment_min_N_m=asked[1], forbidden_deg=()
    )
    craft = SimpleNamespace(fold_range_deg=(-85.0, 85.0))
    book = SimpleNamespace(folds_deg=np.array([-85.0, -56.0, 0.0, 56.0, 85.0]))
    table = FoldTable(book, SimpleNamespace(schedule=schedule, craft=craft))
    solved = []

    def setting(fold, speed):
        solved.append(fold)
        return SimpleNamespace(is_joined=False)

    table.setting = setting
    table.row(10.0)
    assert set(solved) == {*book.folds_deg, *reach}


def losses(shift=0.0, slope=None, room=None):
    """Rows on which the power is 100 W and 1 W for every degree from the airspeed's own fold."""

    def row(speed, folds):
        best = 10.0 * (speed - 10.0)
        return SimpleNamespace(
            power=100.0 + np.abs(folds - best), margins={"a": folds + 5.0}, folds=folds
        )  # fmt: skip

    table = SimpleNamespace(book=SimpleNamespace(folds_deg=np.array([-10.0, 30.0])), reading=row)
    usable = [
        SimpleNamespace(speed=v, setting=True, power=100.0, fold_deg=10.0 * (v - 10.0))
        for v in (10.0, 11.0, 12.0)
    ]
    asked = SimpleNamespace(hysteresis_m_s=shift, rate_limit_deg_per_speed=slope)
    return LossTable(table, usable, asked, room or {})


def test_the_loss_of_straight_pieces_over_the_best_folds():
    """Flat at 0: 0, 10 and 20 %; flown 0.5 m/s late: 5 degrees off at two of three airspeeds, in
    the mean of both ways."""
    assert losses()([0, 2], np.array([0.0, 0.0])) == pytest.approx(0.1)
    assert losses()([0, 2], np.array([0.0, 20.0])) == pytest.approx(0.0, abs=1e-12)
    assert losses(shift=0.5)([0, 2], np.array([0.0, 20.0])) == pytest.approx(0.05 / 3.0)


@pytest.mark.parametrize("step", [1.0, 3.0])
def test_what_is_not_allowed_between_airspeeds_counts_like_an_airspeed(step):
    """Allowed are folds to 3 degrees, from 9 to 11, and from 17 on: from 0 to 20 degrees both ends
    and the middle are, the quarters of the way are not."""

    def row(speed, folds):
        margin = np.max([3.0 - folds, np.minimum(folds - 9.0, 11.0 - folds), folds - 17.0], axis=0)
        return SimpleNamespace(power=np.full(len(folds), 100.0), margins={"a": margin})

    table = SimpleNamespace(book=SimpleNamespace(folds_deg=np.array([-10.0, 30.0])), reading=row)
    usable = [
        SimpleNamespace(speed=v, setting=True, power=100.0, fold_deg=0.0)
        for v in (10.0, 10.0 + step)
    ]
    asked = SimpleNamespace(hysteresis_m_s=0.0, rate_limit_deg_per_speed=None)
    made = LossTable(table, usable, asked, {})
    assert made([0, 1], np.array([0.0, 2.0])) == pytest.approx(0.0, abs=1e-12)
    # Of seven eighths, those at 5, 7.5, 12.5 and 15 degrees: 2, 1.5, 1.5 and 2 from what is.
    wanted = (4 * 0.5 + 0.02 * (2.0 + 1.5 + 1.5 + 2.0)) / 7.0 / 2.0
    assert made([0, 1], np.array([0.0, 20.0])) == pytest.approx(wanted, rel=1e-6)


def test_a_steep_piece_is_solved_on_its_way():
    """From 0 to 20 degrees between 10 and 11 m/s: no step of more than 5 degrees."""
    speeds, folds = np.array([10.0, 11.0, 12.0]), np.array([0.0, 20.0, 21.0])
    assert flown_schedule._where_it_turns(10.0, 11.0, speeds, folds, 0.0) == [10.25, 10.5, 10.75]
    assert flown_schedule._where_it_turns(11.0, 12.0, speeds, folds, 0.0) == []
    late = flown_schedule._where_it_turns(11.0, 12.0, speeds, folds, 0.5)
    assert late == pytest.approx([11.0 + 1 / 3, 11.0 + 2 / 3])


def test_a_fold_that_is_not_allowed_costs_half_and_more_with_its_distance():
    """Below -5 degrees the margin is negative; with room asked for below -3."""
    made = losses()
    place = int(np.argmin(np.abs(made.folds + 7.0)))
    assert made.rows[0, place] == pytest.approx(0.5 + 0.02 * 2.0)
    assert made.rows[0, int(np.argmin(np.abs(made.folds + 5.0)))] == pytest.approx(0.05)
    more = losses(room={"a": 2.0})
    assert more.rows[0, place] == pytest.approx(0.5 + 0.02 * 4.0)


def test_slopes_of_a_schedule_are_limited():
    """8 degrees a metre a second, within the folds of the table."""
    made = losses(slope=8.0)
    np.testing.assert_allclose(
        made.limited([0, 1, 2], np.array([0.0, 20.0, -20.0])), [0.0, 8.0, 0.0]
    )
    np.testing.assert_allclose(made.limited([0, 2], np.array([-40.0, 40.0])), [-10.0, 6.0])
    np.testing.assert_allclose(losses().limited([0, 2], np.array([-40.0, 40.0])), [-10.0, 30.0])


def test_a_schedule_does_not_cross_what_is_not_allowed_where_one_fold_stays_beside_it():
    """Folds from -5 to 30 degrees are forbidden, and from 19 m/s on the best lie beyond them: 35
    degrees are too far to go in 3 m/s, and -5 degrees cost little more everywhere."""

    def best(speed):
        return -5.0 if speed < 18.5 else 30.0

    def row(speed, folds):
        power = 100.0 + 0.01 * np.abs(folds - best(speed))
        return SimpleNamespace(
            power=power, margins={"a": np.maximum(-5.0 - folds, folds - 30.0)}, folds=folds
        )  # fmt: skip

    speeds = np.arange(11.0, 21.5)
    table = SimpleNamespace(book=SimpleNamespace(folds_deg=np.array([-90.0, 120.0])), reading=row)
    usable = [SimpleNamespace(speed=v, setting=True, power=100.0, fold_deg=best(v)) for v in speeds]
    asked = SimpleNamespace(hysteresis_m_s=0.5, rate_limit_deg_per_speed=10.0, breakpoints=3)
    made = LossTable(table, usable, asked, {})
    at, folds = _chosen(made, usable, asked)
    np.testing.assert_allclose(np.interp(speeds, at, folds), -5.0, atol=0.01)


def test_short_gaps_beside_a_contact_are_filled_straight():
    folds = np.linspace(0.0, 4.0, 17)
    values = 2.0 * folds
    values[[0, 5, 6]] = np.nan  # 0; 1.25 and 1.5: half a degree from what is known
    values[10:15] = np.nan  # 2.5 to 3.5: the middle is farther off than half a degree
    found = loss_table._bridged(folds, values)
    assert np.isnan(found[[0, 12]]).all()
    known = [i for i in range(17) if i not in (0, 12)]
    np.testing.assert_allclose(found[known], 2.0 * folds[known])


def test_forbidden_folds_read_as_a_noun_and_behind_keep() -> None:
    """No source but English; the constraint's own name, a key of JSON, stays as it is."""
    name = f"{FORBIDDEN} -5 to 30 deg"
    assert constraint_words(name) == "the folds forbidden from -5 to 30 deg"
    assert f"does not keep {keep_words(name)}" == (
        "does not keep clear of the folds forbidden from -5 to 30 deg"
    )
    assert (constraint_words("stall margin"), keep_words("stall margin")) == ("stall margin",) * 2
