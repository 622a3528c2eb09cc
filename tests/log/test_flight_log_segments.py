"""Air data, steady segments, bins, differences and wind of logs whose truth is known."""

from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from craft_for_logs import MASS, SETTINGS, Truth, log_format, log_text, power_W

from vlm.errors import InputRefused
from vlm.log.air_data import density, true_airspeed
from vlm.log.analysis import Craft, LogPlan, measured
from vlm.log.difference import DifferenceBin, crossings, unknown_stretches
from vlm.log.log_warnings import _segments
from vlm.log.next_flight import half_width_after, proposals
from vlm.log.points import steady_points
from vlm.log.reading import FlightLog, read_log
from vlm.log.rows import RowTally
from vlm.log.stated import climb_cost, stated
from vlm.log.steady import CRITERIA, steady_flight

# --- air -------------------------------------------------------------------------------------


def air_cells(**columns):
    return pd.DataFrame({name: [value, value] for name, value in columns.items()})


@pytest.mark.parametrize(
    ("columns", "source"),
    [
        ({"pressure": 89_876.0, "temperature": 281.65}, "pressure and temperature"),
        ({"pressure": 89_876.0}, "pressure, standard temperature"),
        ({"altitude": 1000.0, "temperature": 281.65}, "altitude and temperature"),
        ({"altitude": 1000.0}, "altitude, standard atmosphere"),
    ],
)
def test_density_at_1000_m_of_the_standard_atmosphere(columns, source):
    """U.S. Standard Atmosphere 1976, table I: 1000 m, 281.651 K, 89876 Pa, 1.1117 kg/m^3 (from
    memory; the table is over geometric altitude, hence 1e-4)."""
    found, said = density(air_cells(**columns), log_format(altitude_zero_m=0.0))
    np.testing.assert_allclose(found, 1.1117, rtol=1.5e-4)
    assert said == source


@pytest.mark.parametrize("further", [{}, {"temperature": 281.65}])
def test_heights_count_from_the_height_of_the_zero(further):
    """400 m above a field at 600 m is 1000 m: the same row of the table."""
    found, _ = density(air_cells(altitude=400.0, **further), log_format(altitude_zero_m=600.0))
    np.testing.assert_allclose(found, 1.1117, rtol=1.5e-4)


def test_density_without_air_data_is_stated_or_assumed():
    stated, said = density(air_cells(airspeed=9.0), log_format(density_kg_m3=1.1))
    assert stated.tolist() == [1.1, 1.1]
    assert said == "log.density_kg_m3"
    assumed, said = density(air_cells(airspeed=9.0), log_format())
    np.testing.assert_allclose(assumed, 1.225, rtol=1e-4)
    assert "assumed" in said


@pytest.mark.parametrize(
    ("columns", "wanted"),
    [
        ({"altitude": 30.0}, 1.19),
        ({"pressure": 101325.0}, 1.19),
        ({"altitude": 1000.0, "temperature": 281.65}, 1.1117),
        ({"pressure": 89875.0, "temperature": 281.65}, 1.1117),
    ],
)
def test_a_stated_density_goes_before_a_standard_temperature(columns, wanted):
    """A measured temperature goes before it (row of 1000 m: US Standard Atmosphere 1976, from
    memory)."""
    how = log_format(density_kg_m3=1.19, altitude_zero_m=0.0)
    found, said = density(air_cells(**columns), how)
    np.testing.assert_allclose(found, wanted, rtol=2e-4)
    assert (said == "log.density_kg_m3") == ("temperature" not in columns)


def test_true_airspeed_at_10000_ft():
    """Density ratio 0.7385 at 10000 ft, so 100 indicated are 116.4 true (handbook rule, from
    memory: 2 % for each 1000 ft is its coarse form)."""
    air, _ = density(air_cells(altitude=3048.0), log_format(altitude_zero_m=0.0))
    np.testing.assert_allclose(air / 1.225, 0.7385, rtol=2e-4)
    found = true_airspeed(np.array([100.0, 102.0]), air, log_format(airspeed_offset_m_s=2.0))
    assert found[1] == pytest.approx(116.4, abs=0.05)


# --- steady segments -------------------------------------------------------------------------


def made_log(airspeed, step=0.5, **columns):
    """A log of cells without a file behind it."""
    count = len(airspeed)
    cells = pd.DataFrame(
        {
            "part": np.zeros(count, dtype=int),
            "cell": np.arange(count),
            "time": (np.arange(count) + 0.5) * step,
            "rows": np.ones(count, dtype=int),
            "first_line": np.arange(count) + 2,
            "last_line": np.arange(count) + 2,
            "airspeed": airspeed,
            "power": np.full(count, 100.0),
            "density": np.full(count, 1.2),
            **columns,
        }
    )
    return FlightLog("log.csv", cells, step, step, RowTally(), "log.density_kg_m3", ())


def named(log, name="loiter"):
    return np.full(len(log.cells), name)


def spans(found):
    return [(s.first, s.last) for s in found.segments]


def test_a_level_stretch_between_two_climbs_is_found():
    """The edge lies where a 4 s line's slope passes 0.5 m/s: half a window within the climb."""
    climb = np.r_[np.full(40, 2.0), np.zeros(60), np.full(40, 2.0)]
    log = made_log(np.full(140, 10.0), climb_rate=climb)
    found = steady_flight(log, log_format(), named(log))
    [(first, last)] = spans(found)
    assert first == pytest.approx(40, abs=4)
    assert last == pytest.approx(99, abs=4)
    assert {CRITERIA[v] for v in found.verdict} == {"steady", "climb"}


def test_climb_is_seen_from_altitude_alone():
    altitude = np.cumsum(np.r_[np.full(40, 1.0), np.zeros(60)])
    log = made_log(np.full(100, 10.0), altitude=altitude)
    found = steady_flight(log, log_format(), named(log))
    assert found.climb_m_s[10] == pytest.approx(2.0)
    assert len(found.segments) == 1


@pytest.mark.parametrize(
    ("columns", "criterion"),
    [
        ({"airspeed": 10.0 + 0.5 * 0.5 * np.arange(100)}, "change of airspeed"),
        ({"yaw_rate": np.full(100, np.radians(15.0))}, "rate of turn"),
        ({"roll": np.full(100, np.radians(30.0))}, "bank"),
        ({"heading": np.radians(15.0 * 0.5 * np.arange(100)) % (2 * np.pi)}, "rate of turn"),
        ({"airspeed": np.full(100, np.nan)}, "no reading"),
    ],
)
def test_each_criterion_ends_a_segment(columns, criterion):
    log = made_log(columns.pop("airspeed", np.full(100, 10.0)), **columns)
    found = steady_flight(log, log_format(), named(log))
    assert found.segments == ()
    assert {CRITERIA[v] for v in found.verdict} == {criterion}
    assert found.shares()[criterion] == 1.0


def test_a_slow_drift_is_cut_into_pieces_that_each_hold():
    """0.1 m/s^2 for 50 s passes the limit on the slope; pieces of 1 m/s are 10 s long."""
    log = made_log(10.0 + 0.1 * 0.5 * np.arange(100))
    found = steady_flight(log, log_format(), named(log))
    assert len(found.segments) == 5
    assert all(s.duration_s == pytest.approx(10.0, abs=1.0) for s in found.segments)


def test_no_segment_spans_a_gap_a_change_of_fold_or_a_new_clock():
    log = made_log(np.full(120, 10.0))
    names = named(log)
    names[40:] = "dash"
    log.cells.loc[80:, "part"] = 1
    found = steady_flight(log, log_format(), names)
    assert spans(found) == [(0, 39), (40, 79), (80, 119)]
    gap = made_log(np.full(120, 10.0))
    gap.cells.loc[60:, ["cell", "time"]] += [40, 20.0]
    assert spans(steady_flight(gap, log_format(), named(gap))) == [(0, 59), (60, 119)]


def test_a_short_drop_out_is_bridged_and_a_long_one_is_not():
    airspeed = np.full(120, 10.0)
    airspeed[30:33] = np.nan
    airspeed[70:85] = np.nan
    log = made_log(airspeed)
    found = steady_flight(log, log_format(), named(log))
    assert spans(found) == [(0, 69), (85, 119)]
    assert found.segments[0].cells == 67


def test_a_stretch_shorter_than_asked_is_left_out():
    log = made_log(np.full(15, 10.0))
    found = steady_flight(log, log_format(), named(log))
    assert found.segments == ()
    assert {CRITERIA[v] for v in found.verdict} == {"too short"}


# --- folds -----------------------------------------------------------------------------------


def craft(how, mass=MASS):
    return Craft("an invented craft", "invented.toml", how, SETTINGS, mass)


def study(tmp_path, text, plan=None, **keys):
    path = tmp_path / "log.csv"
    path.write_text(text)
    how = log_format(**keys)
    return measured(craft(how), read_log(path, how), plan or LogPlan())


def test_labels_that_are_not_named_are_counted(tmp_path):
    text = log_text(Truth({}), 1, seconds=15.0, passes=1).replace(",dash,", ",fast,")
    result = study(tmp_path, text)
    assert set(result.binned) == {"loiter"}
    assert result.differences == ()
    said = " ".join(f.sentence() for f in result.findings)
    assert '"fast"' in said


def test_a_log_of_unknown_labels_is_refused(tmp_path):
    text = log_text(Truth({}), 1, seconds=15.0, passes=1)
    text = text.replace(",dash,", ",a,").replace(",loiter,", ",b,")
    with pytest.raises(InputRefused, match=r"labels a, b; log\.modes knows loiter, dash"):
        study(tmp_path, text)


def test_folds_reported_by_angle_go_to_the_nearest_configuration():
    from vlm.log.fold_settings import configurations_flown

    columns = log_format().columns.model_dump(exclude_none=True)
    columns.pop("mode")
    columns["fold"] = {"name": "fold", "unit": "deg"}
    how = log_format(columns=columns, modes={})
    folds = np.radians([10.0, 12.0, 40.0, -89.0, np.nan])
    found = configurations_flown(pd.DataFrame({"fold": folds}), how, SETTINGS)
    assert found.tolist() == ["loiter", "loiter", "", "dash", ""]
    with pytest.raises(InputRefused, match="folds from 40 to 40 deg"):
        configurations_flown(pd.DataFrame({"fold": folds[2:3]}), how, SETTINGS)


# --- measured power --------------------------------------------------------------------------


def calm_text(**truth):
    """A log without gusts or scatter, and with hardly any noise."""
    from craft_for_logs import invent

    def true_power(airspeed, name, air):
        return power_W(airspeed, SETTINGS[name], {}, air)

    speeds = {"loiter": (9.0, 12.0, 15.0), "dash": (12.0, 15.0, 18.0)}
    random = np.random.default_rng(0)
    still = invent.Weather(wind_change_m_s=0.0, gust_m_s=0.0, rising_m_s=0.0)
    exact = invent.Instruments(
        airspeed_noise_m_s=0.02, power_noise=0.001, trim_scatter=0.0, throttle_scatter=0.0, **truth
    )
    log = invent.invented_log(
        true_power,
        invent.flight_plan(speeds, 25.0, 2, random),
        invent.Craft(MASS, 0.55),
        still,
        exact,
        random,
    )
    return invent.as_csv(log)


def test_a_calm_log_gives_the_true_curve(tmp_path):
    """Climbs at the ends of a leg are corrected for; digits of the logger remain."""
    result = study(tmp_path, calm_text())
    for name, power in result.binned.items():
        for item in power.bins:
            speed = np.array([item.airspeed_m_s])
            true = power_W(speed, SETTINGS[name], {}, result.density_kg_m3)[0]
            assert item.power_W == pytest.approx(true, rel=0.01)
            assert item.spread_W < 0.05 * true


def test_a_known_offset_of_the_pitot_is_taken_away_and_found(tmp_path):
    text = calm_text(airspeed_offset_m_s=0.8)
    raw = study(tmp_path, text)
    assert raw.wind.offset_m_s == pytest.approx(0.8, abs=0.03)
    for known in (0.0, -0.4):
        found = study(tmp_path, text, airspeed_offset_m_s=known).findings
        [advice] = [f.remedy for f in found if f.code == "log-pitot-offset"]
        assert float(advice.split("airspeed_offset_m_s = ")[1]) == pytest.approx(0.8, abs=0.035)
    corrected = study(tmp_path, text, airspeed_offset_m_s=0.8)
    assert corrected.wind.offset_m_s == pytest.approx(0.0, abs=0.03)
    assert not any(f.code == "log-pitot-offset" for f in corrected.findings)


def test_wind_by_heading_and_by_speeds_alone(tmp_path):
    """The wind put into the log: 1.5 m/s toward north, 2 m/s toward west."""
    text = calm_text()
    both = study(tmp_path, text).wind
    columns = log_format().columns.model_dump(exclude_none=True)
    columns.pop("heading")
    speeds = study(tmp_path, text, columns=columns).wind
    for wind, tolerance in ((both, 0.03), (speeds, 0.1)):
        assert wind.north_m_s == pytest.approx(1.5, abs=tolerance)
        assert wind.east_m_s == pytest.approx(-2.0, abs=tolerance)
        assert wind.from_deg == pytest.approx(np.degrees(np.arctan2(2.0, -1.5)) % 360, abs=3.0)
        assert wind.spread_deg > 180.0
    assert both.source == "pitot and heading"
    assert speeds.source == "pitot"


EXACT = dict.fromkeys(
    ("airspeed_offset_m_s", "airspeed_scale", "airspeed_by_configuration_m_s", "power_share",
     "current_zero_A", "density_share", "rising_air_m_s", "climb_efficiency", "heading_deg"), 0.0,
)  # fmt: skip


def test_what_is_stated_goes_into_the_interval(tmp_path):
    """Gain counts with the power, air with the weight, a zero with the voltage (by hand; nothing
    else is stated, and the log tells none of them)."""
    text = log_text(Truth({}), 4)
    stated_ = {"power_share": 0.03, "rising_air_m_s": 0.05, "current_zero_A": 0.1}
    columns = {k: v for k, v in log_format().columns.model_dump(exclude_none=True).items()
               if k not in ("ground_speed", "track", "heading")}  # fmt: skip
    plain = study(tmp_path, text, columns=columns, uncertainty=EXACT)
    full = study(tmp_path, text, columns=columns, uncertainty={**EXACT, **stated_})
    bare = {(n, b.number): b for n, power in plain.binned.items() for b in power.bins}
    for name, power in full.binned.items():
        for item in power.bins:
            gain, air = 0.03 * item.power_W, 0.05 * MASS * 9.80665 / 0.55
            zero = 0.1 * float(full.points.voltage_V.mean())
            expected = np.sqrt(gain**2 + air**2 + zero**2)
            assert item.parts_W["stated"] == pytest.approx(expected, rel=0.05)
            assert bare[name, item.number].parts_W["stated"] < 1e-6
            assert item.half_width_W > bare[name, item.number].half_width_W
    assert not any(f.code == "log-uncertainty-unstated" for f in full.findings)
    unstated = study(tmp_path, text, columns=columns)
    assert any(f.code == "log-uncertainty-unstated" for f in unstated.findings)


def test_the_difference_and_where_its_sign_is_known(tmp_path):
    """Eight passes: the true crossing lies within the stretch where the sign is not known."""
    result = study(tmp_path, log_text(Truth({}), 8, passes=8), LogPlan(compare=("loiter", "dash")))
    [found] = result.differences
    speeds = np.linspace(9.0, 18.0, 1000)
    true = [power_W(speeds, SETTINGS[n], {}, result.density_kg_m3) for n in ("loiter", "dash")]
    crossing = speeds[np.argmin(np.abs(true[0] - true[1]))]
    signs = {b.first_draws for b in found.bins}
    assert "less" in signs
    for item in found.bins:
        truth = np.interp(item.airspeed_m_s, speeds, true[0] - true[1])
        assert item.first_draws != ("more" if truth < 0 else "less")
    assert any(low <= crossing <= high for low, high in found.unknown_m_s)
    assert "loiter draws less than dash" in found.sentences()[0]


def test_the_legs_that_settle_a_sign_are_the_fewest_and_take_the_logs_own_time(tmp_path):
    """Time by the pace at which the log's legs, turns included, follow each other."""
    plan = LogPlan(compare=("loiter", "dash"))
    result = study(tmp_path, log_text(Truth({}), 8, passes=2), plan, uncertainty=EXACT)
    [difference] = result.differences
    found = proposals(result.model, difference, plan.level)
    assert [p.legs_of_each is None for p in found] == [False, True]
    best, hopeless = found
    [bin_] = [b for b in difference.bins if b.airspeed_m_s == best.airspeed_m_s]
    strict = 1.0 - (1.0 - plan.level) / len(difference.bins)
    now, fewer, enough = (
        half_width_after(result.model, difference, bin_, legs, strict)
        for legs in (0, best.legs_of_each - 1, best.legs_of_each)
    )
    assert enough < abs(best.difference_W) <= fewer < now
    assert now == pytest.approx(best.half_width_W, rel=1e-4)
    pace = float(np.median(np.diff(np.sort(result.points.time_s))))
    assert 60.0 * best.minutes == pytest.approx(2 * best.legs_of_each * pace, rel=0.2)
    assert np.isnan(hopeless.minutes)


def test_the_order_of_the_two_only_turns_the_sign(tmp_path):
    text = log_text(Truth({}), 8)
    [one] = study(tmp_path, text, LogPlan(compare=("loiter", "dash"))).differences
    [two] = study(tmp_path, text, LogPlan(compare=("dash", "loiter"))).differences
    for a, b in zip(one.bins, two.bins, strict=True):
        assert a.difference_W == pytest.approx(-b.difference_W)
        np.testing.assert_allclose(a.interval_W, [-b.interval_W[1], -b.interval_W[0]])


def test_one_segment_claims_nothing(tmp_path):
    """Whatever happened in it, nothing tells how another one would differ."""
    text = log_text(Truth({}), 1, seconds=40.0, passes=1)
    kept = [line for line in text.splitlines() if line.startswith(("#", "t_s"))]
    rows = [line for line in text.splitlines() if ",loiter," in line]
    result = study(tmp_path, "\n".join(kept + rows[:220]))
    assert len(result.points) == 1
    assert result.model is None
    assert not result.binned
    assert any("few" in f.sentence() for f in result.findings)


def test_an_unknown_configuration_to_compare_is_refused(tmp_path):
    with pytest.raises(InputRefused, match=r"dahs is not a configuration.*did you mean dash"):
        study(tmp_path, log_text(Truth({}), 1), LogPlan(compare=("loiter", "dahs")))


def test_the_same_log_gives_the_same_document(tmp_path):
    from vlm.log.document import log_document

    text = log_text(Truth({}), 2, seconds=15.0)
    assert log_document(study(tmp_path, text)) == log_document(study(tmp_path, text))


# --- reduction to level flight at one density, by hand ---------------------------------------


def test_energy_height_counts_climb_and_change_of_speed():
    """0.2 m/s up while slowing by 0.1 m/s^2 at a mean of 12.55 m/s: 0.2 - 12.55 x 0.1/g."""
    airspeed = 13.0 - 0.1 * 0.5 * np.arange(19)
    log = made_log(airspeed, climb_rate=np.full(19, 0.2))
    [segment] = steady_flight(log, log_format(), named(log)).segments
    expected = 0.2 - airspeed.mean() * 0.1 / 9.80665
    assert segment.energy_climb_m_s == pytest.approx(expected, rel=1e-3)


def test_power_is_reduced_to_level_flight_and_to_one_density():
    """At 1.0 kg/m^3, reduced to 1.21: V and P times 1.0/1.1, and so the climb of 0.3 m/s."""
    log = made_log(np.full(40, 11.0), climb_rate=np.full(40, 0.3), density=np.full(40, 1.0))
    found = steady_flight(log, log_format(), named(log))
    points = steady_points(log, found, 1.21, np.full(40, 11.0))
    np.testing.assert_allclose(points.airspeed_m_s, 10.0)
    np.testing.assert_allclose(points.power_W, 100.0 / 1.1)
    np.testing.assert_allclose(points.climb_m_s, 0.3 / 1.1)


def test_a_turn_is_reduced_to_straight_flight():
    """A turn of 20 degrees a second at 14 m/s: tan(bank) = 14 x 0.349/9.81, so n = 1.116; at equal
    lift coefficient V falls with n^(1/2) and P with n^(3/2) (a co-ordinated level turn)."""
    heading = np.radians(20.0) * 0.5 * np.arange(60)
    log = made_log(np.full(60, 14.0), heading=heading)
    how = log_format(steady={"rate_max_deg_s": 25.0})
    found = steady_flight(log, how, named(log))
    points = steady_points(log, found, 1.2, np.full(60, 14.0))
    load = np.sqrt(1.0 + (14.0 * np.radians(20.0) / 9.80665) ** 2)
    np.testing.assert_allclose(points.airspeed_m_s, 14.0 / np.sqrt(load))
    np.testing.assert_allclose(points.power_W, 100.0 / load**1.5)


def test_what_climb_costs_before_the_log_is_seen():
    """m g over the efficiency; without a mass it is bounded by the best glide."""
    how = log_format()
    known = climb_cost(how, 2.0, stated(how), (12.0, 80.0))
    assert known.value_W_s_m == pytest.approx(2.0 * 9.80665 / 0.55)
    bounded = climb_cost(how, None, stated(how), (12.0, 80.0))
    assert bounded.value_W_s_m + bounded.spread_W_s_m == pytest.approx(8.0 * 80.0 / 12.0)


def test_body_angle_and_rotor_speed_of_a_segment_are_their_means():
    pitch, turning = np.radians([10.0, 14.0] * 20), np.tile([100.0, 110.0], 20)
    log = made_log(np.full(40, 10.0), pitch=pitch, rotor_speed_1=turning)
    [segment] = steady_flight(log, log_format(), named(log)).segments
    assert segment.pitch_deg == pytest.approx(12.0)
    assert segment.rotor_speed_rpm == pytest.approx((105.0 * 30.0 / np.pi,))


def test_flying_north_is_no_turn():
    """A heading that swings about north passes 360 degrees without turning."""
    swing = np.radians(3.0 * np.sin(0.3 * np.arange(80))) % (2 * np.pi)
    log = made_log(np.full(80, 10.0), heading=swing)
    assert spans(steady_flight(log, log_format(), named(log))) == [(0, 79)]


def told(speed, difference, half, sign):
    """One bin of a difference."""
    interval = (difference - half, difference + half)
    return DifferenceBin(speed, difference, interval, 0.0, (0.0, 0.0), sign, half, np.zeros(1))


def test_crossings_and_unknown_stretches_by_hand():
    """Differences of -20, -1, +2, +30 W at 10 to 13 m/s: known at both ends, a change of sign at
    11 + 1/3 m/s."""
    signs = ("less", "unknown", "unknown", "more")
    bins = tuple(
        told(10.0 + i, d, 3.0, sign)
        for i, (d, sign) in enumerate(zip((-20.0, -1.0, 2.0, 30.0), signs, strict=True))
    )
    assert crossings(bins) == pytest.approx((11.0 + 1.0 / 3.0,))
    assert unknown_stretches(bins) == ((10.0, 13.0),)


def test_a_sign_is_reported_over_all_bins_together(tmp_path):
    """Bonferroni: with n bins the sign rests on the interval at 1 - 0.1/n, not on the bin's own."""
    [found] = study(tmp_path, log_text(Truth({}), 8)).differences
    assert len(found.bins) == 4
    for item in found.bins:
        own = item.interval_W[1] - item.difference_W
        assert item.half_width_of_sign_W > 1.25 * own
        assert (item.first_draws == "unknown") == (
            abs(item.difference_W) <= item.half_width_of_sign_W
        )


def test_a_configuration_that_was_not_flown_is_named(tmp_path):
    text = log_text(Truth({}), 8, passes=1).replace(",dash,", ",loiter,")
    [found] = study(tmp_path, text, LogPlan(compare=("loiter", "dash"))).differences
    assert found.sentences() == ["dash was not flown steadily: there is nothing to compare"]


def test_few_segments_are_named_and_many_are_not() -> None:
    """Of 2, 6 and 9 segments only 2 are fewer than six."""
    flown = {"dash": 2, "loiter": 6, "open": 9}
    segments = [SimpleNamespace(configuration=name) for name, n in flown.items() for _ in range(n)]
    found = _segments(SimpleNamespace(segments=segments))
    assert [(one.code, one.value) for one in found] == [("log-few-segments-dash", 2.0)]
