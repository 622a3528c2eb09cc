"""Equations of the wind's fit and its rules, each by itself: by hand, or by differences.

No source but the definitions that head ``vlm/log/wind_fit.py`` and what is put in.
"""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from craft_for_logs import log_format

from vlm.errors import InputRefused
from vlm.log import wind_fit
from vlm.log.wind import IN, AirData, Wind
from vlm.log.wind_fit import direction_spread_deg

KINDS = ("pitot and heading", "pitot", "heading")
TRUTH = {"wind north": 1.5, "wind east": -2.0, "offset": 0.7, "scale": 0.04, "compass": 0.1}
OWN = {
    "pitot": {f"offset{IN}dash": 0.2, f"offset{IN}loiter": -0.1},
    "heading": {
        f"wind north{IN}dash": 0.3, f"wind north{IN}loiter": -0.2,
        f"wind east{IN}dash": -0.4, f"wind east{IN}loiter": 0.1,
    },
}  # fmt: skip
SPREADS = {
    "offset": 0.5, "scale": 0.02, "offset in": 0.1, "wind in": 1.0, "compass": 0.05, "wind": 30.0,
}  # fmt: skip


def seen(kind, values, points=12, seconds=400.0):
    """Flights on all headings whose path over ground is that of the values, without scatter."""
    turn = np.arange(points)
    names = np.where(turn % 2 == 0, "dash", "loiter")
    heading = 0.3 + 2.1 * turn
    true = 11.0 + 0.4 * turn

    def whole(what):
        return values[what] + np.array([values.get(what + IN + name, 0.0) for name in names])

    path = heading + values["compass"]
    ground = true[:, None] * np.column_stack((np.cos(path), np.sin(path)))
    ground = ground + np.column_stack((whole("wind north"), whole("wind east")))
    read = true * (1.0 + values["scale"]) + whole("offset")
    time = np.linspace(0.0, seconds, points)
    return wind_fit._Seen(ground, read, heading, time, names, kind)


def truth(kind):
    own = OWN["pitot" if kind.startswith("pitot") else "heading"]
    return TRUTH | own


def rest(problem, values):
    """Misfit at some values: the problem is written for the parameters' whole values."""
    fixed = [c for c in problem.columns if not c.group]
    return problem.y - sum(values[c.name] * c.effect for c in fixed)


@pytest.mark.parametrize("kind", KINDS)
def test_where_all_is_true_nothing_is_left(kind):
    problem = wind_fit._linearised(seen(kind, truth(kind)), truth(kind), SPREADS)
    np.testing.assert_allclose(rest(problem, truth(kind)), 0.0, atol=1e-12)
    assert np.abs(problem.y).max() > 1.0


@pytest.mark.parametrize("kind", KINDS)
def test_effects_are_slopes_of_the_misfit(kind):
    """By central differences, away from the truth, where no term is zero."""
    what = seen(kind, truth(kind))
    at = {name: 0.8 * value + 0.03 for name, value in truth(kind).items()}
    columns = {c.name: c.effect for c in wind_fit._linearised(what, at, SPREADS).columns}
    wanted = {"wind north", "wind east", *what.own}
    wanted |= {"compass"} if "heading" in kind else set()
    wanted |= {"offset", "scale"} if "pitot" in kind else set()
    assert {name for name in columns if "change" not in name} == wanted
    for name in wanted:
        misfits = []
        for step in (-1e-5, 1e-5):
            moved = {**at, name: at[name] + step}
            misfits.append(rest(wind_fit._linearised(what, moved, SPREADS), moved))
        slope = (misfits[1] - misfits[0]) / 2e-5
        np.testing.assert_allclose(columns[name], -slope, atol=1e-6, err_msg=name)


def test_the_misfit_of_a_track_alone_tells_nothing():
    problem = wind_fit._linearised(seen("track", TRUTH), TRUTH, SPREADS)
    assert [c.name for c in problem.columns] == ["wind north", "wind east"]
    assert problem.groups == ()
    np.testing.assert_array_equal(problem.y, 0.0)


@pytest.mark.parametrize(
    ("name", "spread"),
    [
        ("offset", 0.5), ("scale", 0.02), ("compass", 0.05), ("wind north", 30.0),
        ("wind east", 30.0), (f"offset{IN}dash", 0.1), (f"wind north{IN}dash", 1.0),
    ],
)  # fmt: skip
def test_each_parameter_is_held_by_its_own_spread(name, spread):
    assert wind_fit._spread(SPREADS, name) == spread


@pytest.mark.parametrize(("seconds", "knots"), [(400.0, 13), (1200.0, 13), (60.0, 7)])
def test_the_wind_changes_with_a_memory_of_a_quarter_of_the_log(seconds, knots):
    """But of at least 30 s; three knots a memory, on both sides of each."""
    problem = wind_fit._linearised(seen("heading", truth("heading"), 13, seconds),
                                   truth("heading"), SPREADS)  # fmt: skip
    changes = [c for c in problem.columns if c.group == wind_fit.CHANGE]
    north = [c for c in changes if c.name.startswith("wind north")]
    assert len(north) == knots
    assert len(changes) == 2 * knots
    assert [(g.name, g.usual, g.freedom) for g in problem.groups] == [(wind_fit.CHANGE, 0.3, 6.0)]
    whole = next(c.effect for c in problem.columns if c.name == "wind north")
    moved = np.column_stack([c.effect for c in north])
    np.testing.assert_allclose((moved @ moved.T)[0, 0], whole[0] ** 2, rtol=1e-9)


@pytest.mark.parametrize(("points", "changes"), [(5, False), (6, True)])
def test_few_points_tell_no_change_of_the_wind(points, changes):
    what = seen("pitot", truth("pitot"), points)
    assert bool(wind_fit._linearised(what, truth("pitot"), SPREADS).groups) == changes


@pytest.mark.parametrize("kind", KINDS)
def test_the_fit_finds_what_was_put_in(kind):
    """Loosely held, without scatter; sums over a value and its parts are what can be recognised."""
    loose = dict.fromkeys(SPREADS, 30.0) | {"offset in": 1.0, "compass": 1.0, "scale": 1.0}
    solution = wind_fit._fitted(seen(kind, truth(kind), 24), loose)
    found = {name: solution.value(name) for name in solution.names}
    for name in ("wind north", "wind east", "offset", "scale", "compass"):
        if name not in found:
            continue
        for part in [p for p in OWN["pitot"] | OWN["heading"] if p.startswith(name + IN)] or [""]:
            whole = found[name] + found.get(part, 0.0)
            told = truth(kind)[name] + truth(kind).get(part, 0.0)
            assert whole == pytest.approx(told, abs=2e-3), name


@pytest.mark.parametrize(
    ("kind", "own"),
    [
        ("pitot", [f"offset{IN}a", f"offset{IN}b"]),
        ("pitot and heading", [f"offset{IN}a", f"offset{IN}b"]),
        ("heading", [f"{side}{IN}{n}" for side in ("wind north", "wind east") for n in "ab"]),
        ("track", []),
    ],
)
def test_what_each_configuration_has_of_its_own(kind, own):
    none = np.zeros(3)
    what = wind_fit._Seen(none, none, none, none, np.array(["a", "b", ""]), kind)
    assert list(what.own) == own
    assert replace(what, configuration=np.array(["a", "a", ""])).own == ()


def test_a_configuration_s_part_is_added_to_its_own_cells_alone():
    values = {"offset": 1.0, f"offset{IN}a": 0.5, f"offset{IN}b": -0.25, f"other{IN}a": 9.0}
    found = wind_fit._whole("offset", np.array(["a", "b", ""]), values)
    assert found.tolist() == [1.5, 0.75, 1.0]


def in_blocks(points, block):
    """A circle in a wind, read two too much, one more or less by turns of so many rows."""
    turn = 2.0 * np.pi * np.arange(points) / points
    sign = np.where(np.arange(points) // block % 2 == 0, 1.0, -1.0)
    table = np.zeros((points, 6))
    table[:, 0], table[:, 1] = 3.0 + 10.0 * np.cos(turn), 10.0 * np.sin(turn) - 2.0
    table[:, 2] = 12.0 + sign
    return table


@pytest.mark.parametrize(
    ("points", "block", "apart"),
    [(400, 1, 1), (400, 10, 4), (400, 20, 7), (60, 10, 3), (38, 10, 1), (4, 1, 1)],
)
def test_moments_are_so_far_apart_that_misfits_forget_each_other(points, block, apart):
    """The correlation of blocks of n falls as 1 - 2 lag/n, so below 1/e beyond 0.316 n; a
    twentieth of the moments is kept at least."""
    places = wind_fit._moments(in_blocks(points, block), np.ones(points, dtype=bool))
    assert places.tolist() == list(range(0, points, apart))


def test_moments_are_places_in_the_whole_log():
    rows = np.arange(400) >= 100
    table = np.vstack((np.zeros((100, 6)), in_blocks(300, 1)))
    assert wind_fit._moments(table, rows).tolist() == list(range(100, 400))


@pytest.mark.parametrize(
    ("directions", "arc"),
    [([0, 90, 180], 180), ([350, 10], 20), ([-30, 30, 370], 60), ([0, 120, 240], 240),
     ([5, 5], 0), ([200, 20, 110], 180)],
)  # fmt: skip
def test_the_smallest_arc_that_holds_all_directions(directions, arc):
    assert direction_spread_deg(np.radians(directions)) == pytest.approx(arc)


@pytest.mark.parametrize(
    ("spread", "kind", "named"),
    [
        (89.0, "pitot", True),
        (90.0, "pitot", False),
        (89.0, "track", False),
        (10.0, "heading", True),
    ],
)
def test_a_narrow_arc_is_named(spread, kind, named):
    found = wind_fit._warnings(spread, kind)
    assert [(f.code, f.value, f.limit) for f in found] == (
        [("log-wind-narrow", spread, 90.0)] if named else []
    )


def loosely(ratio, error):
    return SimpleNamespace(
        names=("scale",), value=lambda name: {"scale": ratio - 1.0}[name],
        deviation=lambda row: error * abs(float(row[0])),
    )  # fmt: skip


@pytest.mark.parametrize(
    ("unit", "ratio", "error", "likely"),
    [
        ("m/s", 1.0 / 0.514444, 0.01, "kt"), ("kt", 0.514444, 0.01, "m/s"),
        ("m/s", 3.6, 0.01, "km/h"), ("m/s", 1.26, 0.01, None), ("m/s", 0.74, 0.01, None),
        ("m/s", 1.944 * 1.06, 0.01, "kt"), ("m/s", 2.237 * 1.16, 0.01, None),
        ("m/s", 2.237 * 1.16, 0.09, "mph"), ("m/s", 2.237 * 1.16, 0.07, None),
        ("m/s", 3.40, 0.01, "ft/s"), ("m/s", 3.46, 0.01, "km/h"),
    ],
)  # fmt: skip
def test_a_ratio_of_two_units_is_refused(unit, ratio, error, likely):
    """1 kt = 1852/3600 m/s, 1 km/h = 1/3.6 m/s and 1 ft/s = 0.3048 m/s (exact by definition).
    Between two units it is the nearer."""
    columns = log_format().columns.model_dump(exclude_none=True)
    how = log_format(columns={**columns, "airspeed": {**columns["airspeed"], "unit": unit}})
    log = SimpleNamespace(path="x.csv")
    with pytest.raises(InputRefused) as refused:
        wind_fit._refuse_a_unit_slip(log, how, loosely(ratio, error))
    assert f"reads {ratio:.2f} times" in str(refused.value)
    assert ("likely" in str(refused.value)) == (likely is not None)
    assert likely is None or f'likely "{likely}"' in str(refused.value)


@pytest.mark.parametrize(("ratio", "error"), [(1.24, 0.01), (0.76, 0.01), (1.29, 0.1), (0.71, 0.1)])
def test_a_calibration_is_no_unit(ratio, error):
    wind_fit._refuse_a_unit_slip(SimpleNamespace(path="x.csv"), log_format(), loosely(ratio, error))


ERRORS = SimpleNamespace(
    airspeed_scale=0.03, density_share=0.08, airspeed_offset_m_s=0.5,
    airspeed_by_configuration_m_s=0.2, wind_m_s=4.0, heading_deg=2.0,
)  # fmt: skip


@pytest.mark.parametrize(("flown", "own"), [(("a", "b", "a"), ("a", "b")), (("a",), ())])
def test_where_nothing_is_seen_the_stated_uncertainty_is_all(flown, own):
    """Half the density's share joins the scale: airspeed goes with the root of the density."""
    steady = SimpleNamespace(segments=[SimpleNamespace(configuration=name) for name in flown])
    air = wind_fit._unseen(np.array([9.0, 10.0]), steady, ERRORS, on_ground_speed=False)
    assert air.names == ("offset", "scale", *(f"offset{IN}{name}" for name in own))
    assert air.labels == tuple(f"pitot's {name}" for name in air.names)
    np.testing.assert_allclose(
        air.covariance, np.diag([0.5**2, 0.03**2 + 0.04**2, *[0.2**2] * len(own)])
    )
    assert air.airspeed_m_s.tolist() == [9.0, 10.0]
    assert air.wind is None


def test_on_ground_speed_the_unseen_wind_is_each_configuration_s_own():
    steady = SimpleNamespace(segments=[])
    air = wind_fit._unseen(np.array([9.0]), steady, ERRORS, on_ground_speed=True)
    assert (air.names, air.covariance.shape, air.by_configuration_m_s) == ((), (0, 0), 4.0)


@pytest.mark.parametrize(
    ("north", "east", "speed", "from_"),
    [
        (3.0, -4.0, 5.0, 126.87),
        (-1.0, 0.0, 1.0, 0.0),
        (0.0, -2.0, 2.0, 90.0),
        (2.0, 2.0, 8**0.5, 225.0),
    ],
)
def test_wind_is_named_by_where_it_comes_from(north, east, speed, from_):
    """Air that moves toward the south is a wind from north, 0 deg; clockwise from there."""
    wind = Wind(north, east, *[0.0] * 8, points=1, spread_deg=0.0, source="", findings=())
    assert wind.speed_m_s == pytest.approx(speed)
    assert wind.from_deg == pytest.approx(from_, abs=0.01)


class _Points(SimpleNamespace):
    def __len__(self):
        return len(self.airspeed_m_s)


def test_what_errors_of_the_air_data_do_to_the_airspeed():
    """V = (reading - offset)/(1 + scale), |g - w| along the path: minus one, minus V, minus the
    direction's side; a configuration's own on its points alone."""
    names = ("offset", "scale", "wind north", "wind east", f"offset{IN}a", f"wind east{IN}b")
    air = AirData(np.zeros(0), names, names, np.eye(6), None)
    points = _Points(
        airspeed_m_s=np.array([10.0, 12.0]), north=np.array([0.6, np.nan]),
        east=np.array([0.8, -1.0]), configuration=np.array(["a", "b"]),
    )  # fmt: skip
    expected = [[-1, -10, -0.6, -0.8, -1, 0], [-1, -12, 0, 1, 0, 1]]
    np.testing.assert_allclose(air.effects(points), expected)


# --- the whole way from cells to airspeed -------------------------------------------------------


def circled(kind, points=40, offset=0.6, scale=0.05, density=1.225, load=1.0):
    """Cells of a log on all headings in a wind, one segment each; reads by the stated errors."""
    turn = np.arange(points)
    heading = 0.2 + 1.7 * turn
    true = 11.0 + 0.1 * turn
    cells = pd.DataFrame(
        {
            "velocity_north": true * np.cos(heading) + 1.5,
            "velocity_east": true * np.sin(heading) - 2.0,
            "airspeed": true * (1.0 + scale) + offset,
            "time": 10.0 * turn, "density": np.full(points, density),
        }
    )  # fmt: skip
    if "heading" in kind:
        cells["heading"] = heading
    flown = ["a" if i % 2 else "b" for i in turn]
    segments = [
        SimpleNamespace(first=i, last=i, configuration=flown[i], load_factor=load) for i in turn
    ]
    log = SimpleNamespace(path="x.csv", cells=cells)
    return log, SimpleNamespace(segments=segments), np.array(flown), true


def stated_format(kind):
    columns = log_format().columns.model_dump(exclude_none=True)
    return log_format(columns={**columns, "airspeed": {**columns["airspeed"], "kind": kind}})


@pytest.mark.parametrize("kind", ["pitot and heading", "pitot"])
@pytest.mark.parametrize(("scale", "named"), [(0.05, True), (-0.05, True), (0.02, False)])
def test_a_scale_beyond_three_uncertainties_is_freed_and_named(kind, scale, named):
    """Stated 1 %: 2 % is believed to be that, 5 % is not."""
    log, steady, flown, true = circled(kind, scale=scale)
    errors = SimpleNamespace(**{**vars(ERRORS), "airspeed_scale": 0.01, "density_share": 0.0})
    air = wind_fit.air_data(log, stated_format("true"), steady, flown, errors, 0.9)
    assert air.wind.source == kind
    found = [f for f in air.wind.findings if f.code == "log-pitot-scale"]
    assert bool(found) == named
    np.testing.assert_allclose(air.airspeed_m_s, true, atol=0.02 if named else 0.15)
    assert air.wind.north_m_s == pytest.approx(1.5, abs=0.02)
    assert air.wind.east_m_s == pytest.approx(-2.0, abs=0.02)
    assert air.wind.points == 40
    if named:
        assert found[0].value == pytest.approx(100.0 * abs(scale), abs=0.3)
        assert f"reads too {'much' if scale > 0.0 else 'little'};" in found[0].what
        assert found[0].limit == pytest.approx(3.0)


def test_offsets_are_reported_in_the_unit_that_the_pitot_reads():
    """At a quarter of the standard density the true airspeed is twice what is indicated."""
    told = {}
    for kind, density in (("true", 1.225 / 4.0), ("indicated", 1.225 / 4.0)):
        log, steady, flown, _ = circled("pitot", density=density)
        log.cells.loc[flown == "a", "airspeed"] += 0.2
        told[kind] = wind_fit.air_data(log, stated_format(kind), steady, flown, ERRORS, 0.9).wind
    true, read = told["true"], told["indicated"]
    assert true.offset_m_s == pytest.approx(2.0 * read.offset_m_s, rel=1e-3)
    assert true.offset_half_m_s == pytest.approx(2.0 * read.offset_half_m_s, rel=1e-3)
    for name in "ab":
        whole, half = (one.by_configuration_m_s[name] for one in (true, read))
        assert whole == pytest.approx(2.0 * half, rel=1e-3)
        assert abs(whole) > 0.01
        whole, half = (one.by_configuration_half_m_s[name] for one in (true, read))
        assert whole == pytest.approx(2.0 * half, rel=1e-3)
    assert true.by_configuration_m_s["a"] - true.by_configuration_m_s["b"] == pytest.approx(
        0.2, abs=0.02
    )
    assert true.scale == pytest.approx(read.scale)


def test_on_ground_speed_the_airspeed_is_the_path_less_the_wind():
    log, steady, flown, true = circled("heading")
    log.cells["airspeed"] = np.hypot(log.cells["velocity_north"], log.cells["velocity_east"])
    air = wind_fit.air_data(log, stated_format("ground"), steady, flown, ERRORS, 0.9)
    np.testing.assert_allclose(air.airspeed_m_s, true, atol=0.03)
    assert air.wind.source == "heading"
    assert (air.wind.north_m_s, air.wind.east_m_s) == pytest.approx((1.5, -2.0), abs=0.05)
    assert np.isnan([air.wind.offset_m_s, air.wind.scale]).all()
    own = [f"{side}{IN}{name}" for side in ("wind north", "wind east") for name in "ab"]
    assert air.names == ("wind north", "wind east", *own)
    assert air.covariance.shape == (6, 6)
    # What the stated 4 m/s leaves of each side of the wind, and of what configurations add.
    assert 0.0 < air.wind.north_half_m_s < 1.0


@pytest.mark.parametrize(
    ("kind", "points", "load", "ground", "source", "count"),
    [
        ("pitot and heading", 5, 1.0, False, "pitot and heading", 5),
        ("pitot and heading", 40, 1.02, False, "pitot and heading", 40),
        ("pitot and heading", 40, 1.021, False, "pitot", 40),
        ("pitot", 40, 1.0, False, "pitot", 40), ("pitot", 4, 1.0, False, None, 0),
        ("heading", 5, 1.0, True, "heading", 5), ("heading", 4, 1.0, True, "track", 4),
        ("track", 9, 1.0, True, "track", 9), ("heading", 9, 1.5, True, "heading", 9),
        ("heading", 0, 1.0, True, None, 0),
    ],
)  # fmt: skip
def test_what_the_wind_is_found_from(kind, points, load, ground, source, count):
    """Five segments; moments where flight is turns of more than 1.02."""
    log, steady, flown, _ = circled(kind, points, load=load)
    found = wind_fit._seen(log, steady, flown, on_ground_speed=ground)
    assert (found.kind if found else None) == source
    assert (found.airspeed.size if found else 0) == count


def test_without_segments_moments_of_moving_flight_are_used():
    log, _steady, flown, _true = circled("pitot and heading")
    log.cells.loc[:9, "airspeed"] = 0.5
    log.cells.loc[12, "velocity_east"] = np.nan
    found = wind_fit._seen(log, SimpleNamespace(segments=[]), flown, on_ground_speed=False)
    kept = [i for i in range(10, 40) if i != 12]
    assert found.kind == "pitot"
    assert found.time.tolist() == [10.0 * i for i in kept]
    assert found.configuration.tolist() == flown[kept].tolist()


def test_a_segment_counts_by_the_means_of_what_is_known_of_it():
    log, _, flown, true = circled("pitot and heading", 30, offset=0.0, scale=0.0)
    log.cells["heading"] = np.radians(np.tile([350.0, 10.0, 0.0], 10))
    log.cells.loc[2::3, "velocity_north"] = np.nan
    spans = [
        SimpleNamespace(first=3 * i, last=3 * i + 2, configuration="a", load_factor=1.0)
        for i in range(10)
    ]
    found = wind_fit._seen(log, SimpleNamespace(segments=spans), flown, on_ground_speed=False)
    np.testing.assert_allclose(
        found.airspeed, [(true[3 * i] + true[3 * i + 1]) / 2 for i in range(10)]
    )
    np.testing.assert_allclose(found.heading, 0.0, atol=1e-12)
    np.testing.assert_allclose(found.time, 30.0 * np.arange(10) + 5.0)
