"""Whether intervals hold what they promise: many invented logs whose truth is known.

An interval at 90 % must hold the truth in nine logs of ten. Each log is flown with a craft, a
pitot, a power sensor and air of its own, drawn from what ``[log.uncertainty]`` states.
"""

from collections import defaultdict

import numpy as np
import pytest
from craft_for_logs import (
    EFFICIENCY,
    MASS,
    SETTINGS,
    Truth,
    log_format,
    log_text,
    power_W,
    prediction,
)

from vlm.log.analysis import Craft, LogPlan, compared, measured
from vlm.log.reading import read_log

STATED = {"airspeed_offset_m_s": 0.2, "power_share": 0.02, "rising_air_m_s": 0.03}
LEVEL = 0.9


def drawn_truth(seed):
    random = np.random.default_rng(10_000 + seed)
    parameters = {
        "drag_area_m2": random.uniform(0.018, 0.030),
        "efficiency": random.uniform(0.48, 0.62),
    }
    return Truth(
        parameters,
        random.normal(0.0, STATED["airspeed_offset_m_s"]),
        random.normal(0.0, STATED["power_share"]),
        {name: random.normal(0.0, STATED["rising_air_m_s"]) for name in SETTINGS},
    )


def hits_of(path, seed):
    """Whether each interval of one log holds the truth, by kind of interval."""
    truth = drawn_truth(seed)
    path.write_text(log_text(truth, seed, seconds=25.0, passes=3))
    how = log_format(uncertainty=STATED)
    craft = Craft("an invented craft", "invented.toml", how, SETTINGS, MASS)
    plan = LogPlan(LEVEL, ("loiter", "dash"), tuple(truth.parameters))
    result = measured(craft, read_log(path, how), plan)
    against = compared(result, prediction)

    def true_power(name, speed):
        at = np.array([speed])
        return float(power_W(at, SETTINGS[name], truth.parameters, result.density_kg_m3)[0])

    hits = defaultdict(list)
    for name, power in result.binned.items():
        for item in power.bins:
            low, high = item.interval_W
            hits["bins"].append(low <= true_power(name, item.airspeed_m_s) <= high)
    for item in result.differences[0].bins:
        gap = true_power("loiter", item.airspeed_m_s) - true_power("dash", item.airspeed_m_s)
        hits["differences"].append(item.interval_W[0] <= gap <= item.interval_W[1])
        if item.sign != "unknown":
            hits["signs"].append((gap < 0.0) == (item.sign == "less"))
    for estimate in against.fit.estimates:
        low, high = estimate.interval
        hits["unknowns"].append(low <= truth.parameters[estimate.name] <= high)
    low, high = result.wind.offset_interval_m_s
    hits["pitot offset"].append(low <= truth.airspeed_offset <= high)
    return hits


def coverage(tmp_path, seeds):
    pooled = defaultdict(list)
    for seed in seeds:
        for kind, found in hits_of(tmp_path / "log.csv", seed).items():
            pooled[kind] += found
    return {kind: float(np.mean(found)) for kind, found in pooled.items()}


def test_a_dozen_logs_hold_the_truth_about_as_often_as_they_say(tmp_path):
    """Coarse, to be quick: a dozen logs with nine hits of ten in the long run show 0.75 to 1."""
    found = coverage(tmp_path, range(100, 112))
    for kind in ("bins", "differences", "unknowns"):
        assert found[kind] >= 0.75, found
    assert found["signs"] >= 0.95


@pytest.mark.slow
def test_fifty_logs_hold_the_truth_in_85_to_95_of_100(tmp_path):
    """Over 50 logs: 100 unknowns, about 600 bins and 200 differences.

    A sign is told over all bins together, so that it must hold in nine logs of ten at least. The
    pitot's offset may be held too often: opposite legs follow each other, so that slow changes of
    the wind, which its interval counts, largely cancel. Over 300 logs: bins 0.888, differences
    0.911, unknowns 0.898.
    """
    found = coverage(tmp_path, range(50))
    print(found)
    for kind in ("bins", "differences", "unknowns"):
        assert 0.85 <= found[kind] <= 0.95, found
    assert found["signs"] >= 0.97
    assert found["pitot offset"] >= 0.85


def test_cross_validation_tells_a_fit_that_helps_from_one_that_does_not(tmp_path):
    """A craft with twice the drag is predicted better once fitted; the craft of the file is not."""
    how = log_format()
    craft = Craft("an invented craft", "invented.toml", how, SETTINGS, MASS)
    plan = LogPlan(fit=("drag_area_m2", "efficiency", "mass_kg", "fixed_load_W"))
    path = tmp_path / "log.csv"
    for parameters, helps in (({"drag_area_m2": 0.044}, True), ({}, False)):
        path.write_text(log_text(Truth(parameters), 5, passes=2))
        found = compared(measured(craft, read_log(path, how), plan), prediction).cross_validation
        assert found.helps == helps
        assert found.groups == 10
    assert EFFICIENCY == 0.55


def test_four_unknowns_that_a_log_of_this_kind_cannot_tell_apart(tmp_path):
    """Efficiency scales what mass and drag give; with all free the log says so."""
    how = log_format()
    craft = Craft("an invented craft", "invented.toml", how, SETTINGS, MASS)
    plan = LogPlan(fit=("drag_area_m2", "efficiency", "mass_kg", "fixed_load_W"))
    path = tmp_path / "log.csv"
    path.write_text(log_text(Truth({}), 5, passes=2))
    fit = compared(measured(craft, read_log(path, how), plan), prediction).fit
    assert any("cannot tell" in finding.sentence() for finding in fit.findings)
