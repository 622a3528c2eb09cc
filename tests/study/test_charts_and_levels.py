"""Sweeps read off charts, lattices that suffice, arrival of tips and thrusts of a slipstream.

No source but the rules stated in the modules; all numbers are invented.
"""

from types import SimpleNamespace

import numpy as np
import pytest

from vlm.chart.fold_points import FoldPoints, Piece
from vlm.description.loading import load_biplane
from vlm.errors import InputRefused
from vlm.lattice.cellule import Grid
from vlm.sides import Side
from vlm.study.asked import default_folds, hinge_speeds, some_of, speeds_around
from vlm.study.convergence import study as convergence
from vlm.study.convergence.extrapolation import Fall, Limit
from vlm.study.convergence.study import Convergence, Levels, Wanted
from vlm.study.export import tables as export_tables
from vlm.study.motion import settling as motion_settling
from vlm.study.motion import study as motion_study
from vlm.study.point import slipstream
from vlm.study.sweep import charted_values
from vlm.study.sweep.forecast import Pace, memory_sentence, spoken_time


def line(low=-60.0, high=20.0, alone=()):
    return FoldPoints((Piece(low, high, 5),), pairs=False, alone=alone)


def test_a_chart_is_exact_for_polynomials_and_folds_by_themselves():
    """Five points: a quartic; a fold solved by itself counts alone."""
    chart = line(alone=(-75.0,))
    assert chart.folds.tolist() == [-75.0, *chart.pieces[0].points]
    found = chart.side(np.array([-75.0, -50.0, 3.0]))
    values = np.array([9e9, *(chart.pieces[0].points / 10.0) ** 4])
    np.testing.assert_allclose(found.values[0] @ values, [9e9, 625.0, 0.0081], rtol=1e-6)
    assert found.values[0][0].tolist() == [1.0, 0, 0, 0, 0, 0]
    assert found.is_free.tolist() == [False, True, True]
    straight = chart.side(np.array([chart.pieces[0].points[1] + 1.0])).straight
    assert np.count_nonzero(straight) == 2
    assert (straight >= 0.0).all()


def test_a_table_is_read_along_one_axis_or_two():
    weights = np.array([[0.5, 0.5, 0.0], [0.0, 0.25, 0.75]])
    table = np.arange(9.0).reshape(3, 3)
    known = np.zeros_like(table)
    np.testing.assert_allclose(charted_values._along([(weights,)], (table, known)), weights @ table)
    both = charted_values._along([(weights, weights)], (table, known))
    np.testing.assert_allclose(both, weights @ table @ weights.T)
    known[0, 0] = 1.0
    found = charted_values._along([(weights, weights)], (table, known))
    assert np.isnan(found[0, 0])
    np.testing.assert_allclose(found[1, 1], both[1, 1])


def test_slopes_stand_where_rates_with_a_fold_are_not_solved():
    """Of 2 a + 3 b^2 with port's fold a: 2 each radian, wherever no rate is solved and there is a
    polynomial; a rate that is solved, and one at a fold that stands alone, stay as they are."""
    chart = FoldPoints((Piece(-60.0, 20.0, 5),), pairs=True, alone=(-75.0,))
    reading, folds = chart.side(chart.folds), np.radians(chart.folds)
    values = 2.0 * folds[:, None] + 3.0 * folds[None, :] ** 2
    known = np.zeros_like(values)
    rates, lost = np.full_like(values, 7.0), np.ones_like(values)
    lost[3, 2] = 0.0
    name = f"CL{charted_values.FOLD}left"
    tables = {"CL": (values, known), name: (rates, lost)}
    found, gone = charted_values._with_slopes(name, tables, reading)
    expected, still = np.full_like(values, 7.0), np.ones_like(values)
    expected[1:, 1:], still[1:, 1:] = 2.0, 0.0
    expected[3, 2] = 7.0
    np.testing.assert_allclose(found, expected, rtol=1e-9)
    np.testing.assert_allclose(gone, still)
    holed = {**tables, "CL": (values, np.where(np.arange(6) == 4, 1.0, known))}
    found, gone = charted_values._with_slopes(name, holed, reading)
    assert np.isnan(found).sum() == 0
    assert (gone[1:, 4] == 1.0).all()


def test_errors_of_a_chart_are_shares_of_the_largest_value_and_widen_it():
    solved = {(0,): {"CL": np.array([4.0]), "zero": np.array([1e-12])}}
    guess = {(0,): {"CL": np.array([1.0, 2.0]), "zero": np.array([1e-12, 0.0])}}
    truth = {(0,): {"CL": np.array([1.1, 1.8]), "zero": np.array([0.0, 0.0]), "condition": 3.0}}
    errors = charted_values.misses(guess, truth, solved)
    assert errors == {"CL": pytest.approx(0.05), "zero": 0.0}
    assert charted_values.misses(guess, {(0,): {"failure": "x"}}, solved) is None
    results = {(0,): {"CL": np.array([2.0]), "CL_error": np.array([0.1])}}
    found = charted_values.widened(
        results, {"CL": 0.05, "other": 0.1}, solved | {(1,): {"other": 1.0}}
    )
    assert found[0,]["CL_error"] == pytest.approx(0.1 + 8.0 * 0.05 * 4.0)


# --- lattices that suffice -----------------------------------------------------------------------


def study(rows_error=0.08, strips_error=0.04, half=0.001):
    """Errors of the second order in rows and of the first in strips at 8 x 20; size 2."""
    limit = Limit(
        np.array([[1.0]]), Fall(8, 2.0, rows_error, 0.0), Fall(20, 1.0, strips_error, half)
    )
    return Convergence(
        None,
        None,
        None,
        Levels((2, 4, 8), (5, 10, 20)),
        "",
        "stream",
        {"CL": limit},
        {"CL": 2.0},
        None,
        None,
        [],
    )


def test_shares_of_a_natural_size():
    """(0.08 (8/4)^2 + 0.04 (20/10) + 0.001)/2; on the finest, limit apart 0.12."""
    assert study().share_at("CL", 4, 10) == pytest.approx((0.32 + 0.08 + 0.001) / 2.0)
    assert study().least_share("CL") == pytest.approx((0.12 + 0.001) / 2.0)
    widths = study().half_widths({"CL": 1.5})
    assert widths["CL"] == pytest.approx(1.5 - 0.88 + 0.001)
    assert widths["CDi"] == 0.0


@pytest.mark.parametrize("share", [0.07, 0.1, 0.2, 0.5])
def test_the_lattice_of_fewest_panels_that_suffices(share):
    """Against every lattice from 2 x 5 to 8 x 20, one by one."""
    made = study()
    good = [(r * s, r, s) for r in range(2, 9) for s in range(5, 21)
            if made.share_at("CL", r, s) <= share]  # fmt: skip
    found = convergence.sufficient_lattice([made], Wanted({"CL": share}), Grid())
    assert found.rows * found.strips == min(good)[0]
    assert made.share_at("CL", found.rows, found.strips) <= share


def test_no_lattice_reaches_less_than_the_limit_s_own_error():
    assert convergence.sufficient_lattice([study()], Wanted({"CL": 0.06}), Grid()) is None
    assert "CL by 6" in convergence._out_of_reach([study()], Wanted({"CL": 0.01}))
    worse = study(rows_error=0.2)
    one, both = (
        convergence.sufficient_lattice(s, Wanted({"CL": 0.13}), Grid())
        for s in ([study()], [study(), worse])
    )
    assert both.rows * both.strips > one.rows * one.strips


@pytest.mark.parametrize(("name", "share"), [("CL", 0.0), ("CL", 1.0), ("CLx", 0.1), ("CL", -0.1)])
def test_errors_that_cannot_be_wanted(name, share):
    with pytest.raises(InputRefused):
        Wanted({name: share})


def test_levels_are_halved_twice():
    assert convergence._halvings(24) == (6, 12, 24)
    assert convergence._halvings(3) == (1, 2, 3)


# --- motions -------------------------------------------------------------------------------------


def history(worm, target=0.5, times=None):
    worm = np.array(worm, dtype=float)
    times = 0.5 * np.arange(worm.size) if times is None else times
    return SimpleNamespace(
        times=times, worms={Side.PORT: worm}, targets={Side.PORT: np.full(worm.size, target)}
    )


NEAR = 0.5 - 0.9 * float(np.radians(1.0))
FAR = 0.5 - 1.1 * float(np.radians(1.0))


@pytest.mark.parametrize(
    ("worm", "time"),
    [([0.0, 0.2, FAR, NEAR, 0.5], 1.5 - 0.25), ([NEAR, 0.5, 0.5], 0.25),
     ([0.5, 0.5, 0.5], 0.0), ([0.0, 0.2, FAR], None),
     ([0.0, NEAR, FAR, 0.5], 1.5 - 0.25), ([0.0, 0.5, 0.5], 0.25)],
)  # fmt: skip
def test_a_tip_arrives_where_its_worm_stays_within_a_degree(worm, time):
    """And within a tenth of the way, so that a move of less than a degree takes time too."""
    task = SimpleNamespace(target=object(), command_at=0.25)
    assert motion_study._arrival(task, history(worm), Side.PORT) == (
        None if time is None else pytest.approx(time)
    )
    idle = SimpleNamespace(target=None, command_at=0.0)
    assert motion_study._arrival(idle, history(worm), Side.PORT) is None


def test_time_in_which_a_rotor_cannot_give_what_is_asked():
    """Asked beyond what is given from 1 to 2 s, by the trapezoidal rule over half seconds."""
    times = 0.5 * np.arange(7)
    asked = np.array([[1.0, 1.0]] * 7)
    given = asked.copy()
    given[2:5, 0] -= 1e-3
    given[:, 1] -= 1e-7
    instants = [SimpleNamespace(commanded=row) for row in given]
    own = SimpleNamespace(
        plant=SimpleNamespace(rotors=object()), history=SimpleNamespace(times=times, asked=asked),
        run=SimpleNamespace(instants=instants),
    )  # fmt: skip
    assert motion_study._limited(SimpleNamespace(lost=None), own) == pytest.approx(1.5)
    assert motion_study._limited(SimpleNamespace(lost=0), own) == 0.0
    own.plant.rotors = None
    assert motion_study._limited(SimpleNamespace(lost=None), own) == 0.0


def test_the_swing_is_about_a_straight_line():
    times = np.linspace(0.0, 4.0, 401)
    values = 3.0 + 2.0 * times + 0.1 * np.cos(2.0 * np.pi * times)
    assert motion_settling._swing(times, values) == pytest.approx(0.2, rel=1e-3)


@pytest.mark.parametrize(
    ("grown", "size", "ends", "named"),
    [
        (1.2, 1.0, 8.0, True),
        (1.05, 1.0, 8.0, False),
        (1.2, 0.2, 8.0, False),
        (1.2, 1.0, 4.9, False),
    ],
)
def test_a_swing_that_grows_by_a_tenth_is_reported(grown, size, ends, named):
    """Two halves after 4 s, each of whole periods; half a degree and half a second at least."""
    times = np.linspace(0.0, ends, 1601)
    half = 0.5 * (ends - 4.0)
    wave = np.sin(2.0 * np.pi * (times - 4.0) / (0.25 * half))
    bank = np.radians(0.5 * size) * wave * np.where(times > 4.0 + half, grown, 1.0)
    quiet = np.zeros_like(times)
    made = SimpleNamespace(
        times=times, bank=bank, pitch=quiet, beta=quiet, worms={Side.PORT: quiet},
        targets={Side.PORT: quiet},
    )  # fmt: skip
    found = motion_settling.growth_findings(SimpleNamespace(instants=(1.0, 4.0)), made)
    assert bool(found) == named
    assert all(f.value == pytest.approx(grown, rel=0.01) for f in found)


# --- export, slipstream, forecasts ---------------------------------------------------------------


def test_half_widths_of_lift_and_drag_turn_into_body_axes():
    """X = -D cos + L sin, Z = -L cos - D sin: sizes add up."""
    spread = {"CL": 0.1, "CDi": 0.01, "Cl": 0.02, "Cm": 0.03, "Cn": 0.04, export_tables.HINGE: 0.5}
    spread = {name: np.full(2, value) for name, value in spread.items()}
    alpha = np.array([0.3, -0.3])
    found = export_tables._of_state(spread, alpha, [2.0, 4.0])
    sine, cosine = np.sin(0.3), np.cos(0.3)
    row = [0.01 * cosine + 0.1 * sine, 0.0, 0.1 * cosine + 0.01 * sine, 0.02, 0.03, 0.04, 1.0, 2.0]
    np.testing.assert_allclose(found, [row, row])
    sizes = export_tables._sizes(np.array([[[1.0, -5.0], [2.0, 3.0]], [[-4.0, 0.0], [0.0, 0.0]]]))
    assert sizes.tolist() == [4.0, 5.0]


@pytest.mark.parametrize(
    ("plain", "blown", "size", "share"),
    [
        (10.0, 11.01, 10.0, 0.101),
        (10.0, 10.99, 10.0, None),
        (10.0, 8.9, -10.0, 0.11),
        (1.0, 2.0, 0.0, None),
    ],
)
def test_a_slipstream_that_changes_a_number_by_a_tenth_is_reported(plain, blown, size, share):
    found = slipstream.left_out_finding("x", plain, blown, size)
    assert [f.value for f in found] == ([pytest.approx(share)] if share else [])


@pytest.mark.parametrize(
    ("thrust", "fits"), [(0.0, True), (-0.1, False), (np.inf, False), (None, True)]
)
def test_thrusts_that_rotors_can_give(thrust, fits):
    craft = load_biplane("tideline")
    if fits:
        slipstream.check_thrust(craft, thrust)
        return
    with pytest.raises(InputRefused):
        slipstream.check_thrust(craft, thrust)


def test_a_thrust_is_shared_alike_and_held_against_each_rotor():
    craft = load_biplane("tideline")
    most = min(r.thrust_max_N for r in craft.rotors if r.thrust_max_N is not None)
    count = len(craft.rotors)
    slipstream.check_thrust(craft, 0.999 * most * count)
    with pytest.raises(InputRefused, match="is the most of"):
        slipstream.check_thrust(craft, 1.001 * most * count)
    made = slipstream.Slipstreams(craft, 6.0, None)
    assert made.thrusts(None, 12.0) == pytest.approx([6.0 / count] * count)


def test_what_is_asked_where_nothing_is_said():
    craft = load_biplane("tideline")
    low, high = craft.fold_range_deg
    found = default_folds(craft, 7)
    assert (found[0], found[-1], 0.0 in found) == (low, high, True)
    assert {round(low + (high - low) * i / 6.0, 3) for i in range(7)} <= set(found)
    assert default_folds(SimpleNamespace(tips={}), 7) == (0.0,)
    assert speeds_around(12.504, (0.8, 1.0, 1.4)) == (10.0, 12.5, 17.51)
    assert some_of(tuple(range(6))) == tuple(range(6))
    assert some_of(tuple(range(7))) == (0, 2, 4, 6)
    assert some_of(tuple(range(13))) == (0, 3, 6, 9, 12)


def test_hinges_are_looked_at_up_to_the_fastest_that_the_file_flies():
    assert hinge_speeds(None, 12.0) == (12.0, 18.0, 24.0)
    assert hinge_speeds(SimpleNamespace(airspeed_max_m_s=21.0), 12.0) == (12.0, 18.0, 24.0)
    assert hinge_speeds(SimpleNamespace(airspeed_max_m_s=40.0), 12.0) == (12.0, 26.0, 40.0)


@pytest.mark.parametrize(
    ("seconds", "words"),
    [(89.4, "89 s"), (90.0, "2 min"), (5399.0, "90 min"), (5400.0, "1.5 h"), (36000.0, "10.0 h")],
)
def test_times_as_one_says_them(seconds, words):
    assert spoken_time(seconds) == words


def test_memory_is_reported_from_a_gibibyte_on():
    assert memory_sentence(2**30 - 1, 2**33) is None
    assert "1 GiB" in memory_sentence(2**30, 2**33)
    with pytest.raises(Exception, match="needs about 9 GiB of memory, 8 GiB may be taken"):
        memory_sentence(9 * 2**30, 2**33)


def test_the_rest_is_reported_once_after_three_seconds_if_it_takes_a_minute():
    """Ten of 400 in 3 s: 390 more take 117 s."""
    said, clock = [], iter([0.0, 2.9, 3.0, 9.0])
    pace = Pace(said.append, "folds", lambda: next(clock))
    for done in (0, 5, 10, 20):
        pace(done, 400)
    assert len(said) == 1
    assert said[0].startswith("about 2 min more: 10 of 400 folds took 3 s")
    quick, ticks = [], iter([0.0, 4.0])
    pace = Pace(quick.append, "folds", lambda: next(ticks))
    pace(0, 400)
    pace(30, 400)
    assert quick == []
