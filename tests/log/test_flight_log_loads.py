"""What rotors at rest and in hover say about the current sensor, and wings about the airspeed.

The logs are invented; stretches of rest and hover are put before a sound flight.
"""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from craft_for_logs import MASS, SETTINGS, Truth, invent, log_format, log_text

from vlm.constants import GRAVITY, SEA_LEVEL_DENSITY
from vlm.description import load_biplane
from vlm.log.analysis import Craft, LogPlan, measured
from vlm.log.known_loads import KnownLoads, known_loads
from vlm.log.reading import read_log

PLAN = LogPlan(compare=("loiter", "dash"))
LOADS = KnownLoads(
    fixed_W=12.0, hover_W=400.0, hover_share=0.05, weight_N=MASS * GRAVITY, wing_area_m2=0.6
)


@pytest.fixture(scope="module")
def table():
    text = log_text(Truth({}), 6, seconds=20.0, passes=2)
    return pd.read_csv(pd.io.common.StringIO(text), comment="#")


def before(table, seconds, **columns):
    """The flight with some seconds of something else before it."""
    rate = 5.0
    random = np.random.default_rng(4)
    first = pd.concat([table.iloc[[0]]] * int(seconds * rate), ignore_index=True)
    first["t_s"] = np.arange(len(first)) / rate
    noise = random.normal(size=len(first))
    for name, value in columns.items():
        first[name] = value + (0.02 * noise if value else 0.0)
    later = table.assign(t_s=table["t_s"] + seconds)
    return pd.concat([first, later], ignore_index=True)


def studied(tmp_path, table, loads=LOADS):
    path = tmp_path / "log.csv"
    path.write_text(invent.as_csv(table, "# invented\n"))
    how = log_format(uncertainty={"current_zero_A": 0.2})
    what = Craft("an invented craft", "invented.toml", how, SETTINGS, MASS, loads=loads)
    return measured(what, read_log(path, how), PLAN)


def codes(found):
    return {finding.code for finding in found.findings}


def test_the_resting_current_corrects_a_zero_beyond_what_is_stated(tmp_path, table):
    """A zero of 1.2 A is six stated standard uncertainties: 28 W that no file accounts for."""
    sound = studied(tmp_path, before(table, 20.0, ias_m_s=0.0, rpm=0.0, amp=6.0 / 23.0))
    off = before(table.assign(amp=table["amp"] + 1.2), 20.0, ias_m_s=0.0, rpm=0.0,
                 amp=1.2 + 6.0 / 23.0)  # fmt: skip
    found = studied(tmp_path, off)
    assert "log-current-zero" in codes(found)
    assert "log-current-zero" not in codes(sound)
    for name, power in found.binned.items():
        for mine, theirs in zip(power.bins, sound.binned[name].bins, strict=True):
            assert mine.power_W == pytest.approx(theirs.power_W, abs=1.0)


def test_the_load_at_rest_may_be_anything_up_to_the_fixed_one(tmp_path, table):
    """12 W at 23 V are 0.52 A, uniform: 0.15 A, and with 0.2 A stated 0.12 A are left."""
    found = studied(tmp_path, before(table, 20.0, ias_m_s=0.0, rpm=0.0, amp=6.0 / 23.0))
    left = found.model.around.errors.current_zero_A
    uniform = 12.0 / 23.4 / np.sqrt(12.0)
    assert left == pytest.approx(1.0 / np.hypot(1.0 / 0.2, 1.0 / uniform), rel=0.05)
    without = studied(tmp_path, before(table, 20.0, ias_m_s=0.0, rpm=0.0, amp=0.3), loads=None)
    assert without.model.around.errors.current_zero_A == pytest.approx(0.2)


@pytest.mark.parametrize(("share", "named"), [(1.0, False), (0.6, True), (1.5, True)])
def test_hover_is_held_against_the_rotors(tmp_path, table, share, named):
    """A sensor whose gain is off reads hover off by as much, whatever the wings do."""
    density = float(studied(tmp_path, table).density_kg_m3)
    power = share * LOADS.hover_power_W(density)
    found = studied(
        tmp_path, before(table, 20.0, ias_m_s=0.0, gs_m_s=0.0, rpm=9000.0, amp=power / 23.4)
    )
    assert ("log-hover" in codes(found)) == named
    gain = found.model.around.errors.power_share
    assert (gain > 0.3) == named


def test_segments_at_the_end_of_a_sensor_s_range_are_left_out(tmp_path, table):
    """A sensor that ends at what is drawn at 17 m/s: the faster legs would read too little."""
    sound = studied(tmp_path, table)
    assert "log-saturated" not in codes(sound)
    top = float(table["amp"].quantile(0.8))
    found = studied(tmp_path, table.assign(amp=np.minimum(table["amp"], top)))
    assert "log-saturated" in codes(found)
    for name, power in found.binned.items():
        assert max(b.airspeed_m_s for b in power.bins) < max(
            b.airspeed_m_s for b in sound.binned[name].bins
        )
    # A cell is steady or has a reason why not.
    assert np.array_equal(found.steady.segment_of >= 0, found.steady.verdict == 0)


def test_what_the_folded_tips_do_to_the_pitot_is_found_by_the_path_over_ground(tmp_path, table):
    """The pitot reads 0.5 m/s more in one configuration: a pitot common to both would make it a
    difference of power, and the path over ground tells."""
    shift = np.where(table["mode"] == "dash", 0.5, 0.0)
    plain, off = (studied(tmp_path, table.assign(ias_m_s=table["ias_m_s"] + s * shift))
                  for s in (0.0, 1.0))  # fmt: skip
    both = [w.wind.by_configuration_m_s["dash"] - w.wind.by_configuration_m_s["loiter"]
            for w in (plain, off)]  # fmt: skip
    # Held down at zero by 0.1 m/s each, against some 0.1 m/s that ten legs of each tell.
    assert 0.15 < both[1] - both[0] < 0.5
    assert off.wind.by_configuration_half_m_s["dash"] < 1.645 * 0.1


def test_the_rotors_hover_by_momentum_theory():
    """At equal thrust the ideal power is T^1.5/(2 rho A)^0.5 (W. J. M. Rankine, R. E. Froude);
    figure of merit and drive make 1.3 to 3 of it."""
    craft = load_biplane("tideline")
    found = known_loads(craft)
    area = sum(np.pi * rotor.radius_m**2 for rotor in craft.rotors)
    ideal = found.weight_N**1.5 / np.sqrt(2.0 * SEA_LEVEL_DENSITY * area)
    assert 1.3 * ideal < found.hover_W < 3.0 * ideal
    thin = found.hover_power_W(0.5 * SEA_LEVEL_DENSITY) - found.fixed_W
    assert thin == pytest.approx(found.hover_W * np.sqrt(2.0))


def test_an_airspeed_that_wings_could_not_fly_is_named(tmp_path, table):
    """Kilometres an hour read as metres a second: with no ground speed only the lift tells."""
    block = {k: v for k, v in log_format().columns.model_dump(exclude_none=True).items()
             if k not in ("ground_speed", "track")}  # fmt: skip
    path = tmp_path / "log.csv"
    path.write_text(invent.as_csv(table.assign(ias_m_s=3.6 * table["ias_m_s"]), "# invented\n"))
    how = log_format(
        columns=block, steady={"airspeed_drift_max_m_s": 4.0, "acceleration_max_m_s2": 1.0}
    )
    what = Craft("an invented craft", "invented.toml", how, SETTINGS, MASS, loads=LOADS)
    assert "log-lift" in codes(measured(what, read_log(path, how), PLAN))
    assert "log-lift" not in codes(studied(tmp_path, table))


def test_wings_too_small_for_the_airspeeds_are_named(tmp_path, table):
    """L = W = CL S rho V^2 / 2 at the fastest: more than wings give."""
    found = studied(tmp_path, table, replace(LOADS, wing_area_m2=0.03))
    [named] = [finding for finding in found.findings if finding.code == "log-lift"]
    pressure = 0.5 * found.density_kg_m3 * float(found.points.airspeed_m_s.max()) ** 2
    assert named.value == pytest.approx(MASS * GRAVITY / (0.03 * pressure), rel=1e-6)
    assert named.value > named.limit > 1.0
