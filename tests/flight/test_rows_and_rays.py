"""Rows of folds, rays of pairs and bank histories that are known, by hand.

No source but what is put in: straight lines and tables; all invented.
"""

from types import SimpleNamespace

import numpy as np
import pytest

from vlm.flight.motion import roll_pairs, roll_response
from vlm.flight.motion.roll_pairs import _first_crossing, _first_on_rays, _reach, _travel
from vlm.flight.motion.roll_response import RollResponse, YawAid
from vlm.flight.plan import fold_row
from vlm.sides import Side


def setting(fold, values, joined=False):
    return SimpleNamespace(
        fold_deg=fold, values=np.array(values, dtype=float), power=values[0], is_joined=joined,
        speed=12.0,
    )  # fmt: skip


class _Keeps:
    """The second quantity is the margin itself, the third one's size less one another."""

    def power(self, values):
        return values[:, 0]

    def margins(self, folds, values, speed):
        return {"plain": values[:, 1], "size": np.abs(values[:, 2]) - 1.0}


def row(solved, **keys):
    made = [setting(f, (100.0 + 0.5 * f, 2.0 - 0.1 * f, 0.2 * f)) for f in solved]
    return fold_row.read_row(_Keeps(), made, **keys)


def test_between_solved_folds_lines_are_lines_and_quarters_are_read():
    found = row([-10.0, -5.0, 0.0, 5.0, 10.1])
    np.testing.assert_allclose(found.folds, np.r_[np.arange(-10.0, 10.1, 0.25), 10.1])
    np.testing.assert_allclose(found.power, 100.0 + 0.5 * found.folds)
    np.testing.assert_allclose(found.margins["plain"], 2.0 - 0.1 * found.folds, atol=1e-12)
    np.testing.assert_allclose(found.margins["size"], np.abs(0.2 * found.folds) - 1.0, atol=1e-12)
    kept = (np.abs(found.folds) >= 5.0 - 1e-6) & (found.folds <= 20.0)
    np.testing.assert_array_equal(found.inside, kept)


def test_how_far_a_row_may_bend_unseen_grows_with_the_square_of_the_step():
    """0.02 (step/30)^2 of the size in the middle, nothing at the solved folds."""
    x = np.array([0.0, 30.0, 40.0])
    found = fold_row._unseen(x, np.array([0.0, 7.5, 15.0, 30.0, 35.0, 40.0]))
    np.testing.assert_allclose(found, [0, 0.015, 0.02, 0, 0.02 / 9.0, 0], atol=1e-15)
    assert fold_row._unseen(np.array([3.0]), np.array([3.0])).tolist() == [0.0]


def test_room_and_hopes_of_a_row_hold_what_may_bend():
    """Power's size is its median, a quantity's its range."""
    found = row([0.0, 30.0], folds=np.array([0.0, 15.0, 30.0]))
    np.testing.assert_allclose(found.room, [0.0, 0.02 * 107.5, 0.0], atol=1e-12)
    np.testing.assert_allclose(found.hopes["plain"], [2.0, 0.5 + 0.02 * 3.0, -1.0], atol=1e-12)
    np.testing.assert_array_equal(found.perhaps, [False, True, False])


def test_a_margin_of_zero_is_kept_and_one_below_is_not():
    margins = {"a": np.array([0.0, -1e-10, -1e-8, 1.0])}
    power = np.array([1.0, 1.0, 1.0, np.nan])
    none = np.zeros(4)
    found = fold_row.RowReading(none, power, none, none, margins, margins)
    assert found.inside.tolist() == [True, True, False, False]
    assert found.perhaps.tolist() == [True, True, False, False]


def test_nothing_is_read_across_a_fold_without_a_trim_or_with_tips_that_touch():
    nan = np.nan
    made = [setting(0.0, (1.0, 0.0)), setting(5.0, (2.0, 0.0)), setting(10.0, (nan, nan)),
            setting(15.0, (3.0, 0.0)), setting(20.0, (9.0, 0.0), joined=True)]  # fmt: skip
    runs = [[s.fold_deg for s in run] for run in fold_row._runs(made)]
    assert runs == [[0.0, 5.0], [15.0], [20.0]]


def test_five_settings_are_read_by_local_cubics_and_fewer_by_monotone_ones():
    from scipy.interpolate import Akima1DInterpolator, PchipInterpolator

    x, y = np.arange(6.0), np.array([[0.0], [0.1], [0.0], [4.0], [4.1], [3.9]])
    folds = np.linspace(0.0, 5.0, 21)
    for count, first in ((6, Akima1DInterpolator(x, y, axis=0, method="makima")),
                         (5, Akima1DInterpolator(x[:5], y[:5], axis=0, method="makima")),
                         (4, PchipInterpolator(x[:4], y[:4], axis=0))):  # fmt: skip
        inside = folds[folds <= x[count - 1]]
        both = fold_row._cubics(x[:count], y[:count], inside)
        np.testing.assert_allclose(both[0], first(inside))
        np.testing.assert_allclose(both[1], PchipInterpolator(x[:count], y[:count], axis=0)(inside))


def test_a_quantity_that_is_known_at_some_folds_is_read_between_those_alone():
    x = np.arange(5.0)
    y = np.column_stack((x, [np.nan, 2.0, 4.0, np.nan, 8.0], np.full(5, np.nan)))
    folds = np.array([0.5, 1.0, 1.5, 2.0, 2.5, 4.0])
    for found in fold_row._interpolated(x, y, folds):
        np.testing.assert_allclose(found[:, 0], folds)
        np.testing.assert_allclose(found[:, 1], [np.nan, 2.0, 3.0, 4.0, np.nan, 8.0])
        assert np.isnan(found[:, 2]).all()


def roll_map(moment=lambda a, b: 0.1 * (b - a)):
    folds = np.linspace(-20.0, 30.0, 11)
    port, starboard = np.meshgrid(folds, folds, indexing="ij")
    return SimpleNamespace(
        base_deg=0.0, left_deg=folds, right_deg=folds,
        values={"rolling_moment_N_m": moment(port, starboard)},
    )  # fmt: skip


@pytest.mark.parametrize(
    ("direction", "reach"),
    [
        ((1.0, 0.0), 30.0),
        ((-1.0, 0.0), 20.0),
        ((0.6, 0.8), 37.5),
        ((-0.8, 0.6), 25.0),
        ((0.0, -1.0), 20.0),
    ],
)
def test_a_ray_ends_at_the_map_s_edge(direction, reach):
    assert _reach(roll_map(), np.array(direction)) == pytest.approx(reach)


@pytest.mark.parametrize(
    ("values", "place"),
    [
        ([-2.0, -1.0, 1.0, 3.0], 1.5),
        ([-2.0, 0.0, 1.0, -3.0], 1.0),
        ([1.0, 2.0, 3.0, 4.0], None),
        ([-3.0, -2.0, -1.0, -0.5], None),
        ([-1.0, np.nan, 1.0, 2.0], None),
        ([-3.0, -2.0, -1.0, 3.0], 2.25),
    ],
)
def test_where_values_first_rise_to_zero(values, place):
    found = _first_crossing(np.arange(4.0), np.array(values))
    assert found == (None if place is None else pytest.approx(place))


def test_rays_reach_a_moment_where_it_stands(monkeypatch):
    """A moment of 0.1 (starboard - port) N m is 1 N m on the line starboard = port + 10."""
    monkeypatch.setattr(
        roll_pairs, "interpolated", lambda grid, name, port, starboard: 0.1 * (starboard - port)
    )
    found = np.array(_first_on_rays(roll_map(), 1.0))
    assert len(found) > 50
    np.testing.assert_allclose(found[:, 1] - found[:, 0], 10.0, atol=1e-6)
    assert found.min() >= -20.0 - 1e-6
    assert found.max() <= 30.0 + 1e-6
    assert [0.0, 10.0] in found.round(9).tolist()
    assert [-10.0, 0.0] in found.round(9).tolist()


def test_travel_is_the_furthest_swing_of_a_tip():
    grid = SimpleNamespace(base_deg=5.0)
    assert [_travel(grid, 2.0, 6.0), _travel(grid, 4.0, -9.0)] == [3.0, 14.0]


@pytest.mark.parametrize(
    ("slip", "rate", "moment"),
    [(0.1, 0.0, 0.2), (0.0, 0.5, -1.5), (0.1, 0.5, -1.3), (9.0, 0.0, 2.5), (0.0, 9.0, -2.0)],
)
def test_rotors_yaw_with_the_slip_and_against_the_rate_within_their_limits(slip, rate, moment):
    assert YawAid(2.0, 3.0, -2.0, 2.5).moment(slip, rate) == pytest.approx(moment)


def response(bank):
    times = np.arange(len(bank), dtype=float)
    none = np.zeros(len(bank))
    return RollResponse(times, np.array(bank, dtype=float), none, none, none,
                        {Side.PORT: none, Side.STARBOARD: none}, none, none)  # fmt: skip


@pytest.mark.parametrize(
    ("bank", "asked", "time"),
    [([0.0, 0.2, 0.6, 0.4], 0.5, 1.75), ([0.0, -0.2, -0.6], -0.5, 1.75), ([0.0, 0.2], -0.1, None),
     ([0.0, 0.2], 0.3, None), ([0.3, 0.4], 0.2, 0.0), ([0.0, 0.2, 0.6], 0.2, 1.0)],
)  # fmt: skip
def test_when_a_bank_is_first_reached(bank, asked, time):
    assert response(bank).time_to(asked) == (None if time is None else pytest.approx(time))


def test_rows_over_time_keep_their_ends_and_follow_monotone_cubics():
    from scipy.interpolate import PchipInterpolator

    times, rows = [0.0, 1.0, 3.0, 4.0], np.array([[0.0, 1.0], [2.0, 1.0], [3.0, -4.0], [3.0, 0.0]])
    curve = roll_response._Curve(times, list(rows))
    own = PchipInterpolator(times, rows)
    for time in (0.0, 0.3, 1.0, 2.9, 3.5, 4.0):
        np.testing.assert_allclose(curve(time), own(time), atol=1e-14)
    np.testing.assert_allclose(curve(9.0), rows[-1], atol=1e-14)
    still = roll_response._Curve([2.0], [np.array([5.0, 6.0])])
    for time in (0.0, 2.0, 7.0):
        np.testing.assert_allclose(still(time), [5.0, 6.0])
