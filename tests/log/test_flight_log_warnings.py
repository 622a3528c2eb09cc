"""What a log is warned of, by hand.

No source but the rules stated in the modules; all numbers are invented.
"""

from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from craft_for_logs import log_format
from test_flight_log_model import points

from vlm.errors import InputRefused
from vlm.log import log_warnings
from vlm.log.fit_warnings import fit_warnings
from vlm.log.prediction import Unknown


def tallied(refused, used):
    return SimpleNamespace(tally=SimpleNamespace(refused_count=refused, used=used))


@pytest.mark.parametrize(("refused", "named"), [(2, False), (3, True)])
def test_more_than_a_fiftieth_of_the_rows_refused_is_named(refused, named):
    found = log_warnings._rows(tallied(refused, 100 - refused))
    assert [(f.value, f.limit) for f in found] == ([(float(refused), 2.0)] if named else [])
    assert log_warnings._rows(tallied(0, 0)) == []


def test_unknown_labels_are_a_share_of_the_rows_used():
    [found] = log_warnings._labels({"x": 3, "y": 2}, tallied(0, 50))
    assert found.value == pytest.approx(10.0)
    assert '"x" (3), "y" (2); share of' in found.what
    [many] = log_warnings._labels({str(i): 1 for i in range(9)}, tallied(0, 0))
    assert many.value == pytest.approx(900.0)
    assert '"7" (1)' in many.what
    assert '"8" (1)' not in many.what


@pytest.mark.parametrize(("share", "named"), [(0.5, False), (0.51, True)])
def test_a_criterion_that_takes_half_the_log_is_named(share, named):
    shares = {"steady": 0.9, "climb": share}
    found = log_warnings._criteria(SimpleNamespace(shares=lambda: shares))
    assert [f.code for f in found] == (["log-criterion-climb"] if named else [])
    assert [(f.value, f.limit) for f in found] == ([(51.0, 50.0)] if named else [])


@pytest.mark.parametrize(
    ("offset", "half", "named"),
    [
        (0.9, 0.1, False),
        (1.1, 0.1, True),
        (-1.1, 0.1, True),
        (1.1, 1.2, False),
        (np.nan, 0.1, False),
    ],
)
def test_an_offset_beyond_two_uncertainties_and_its_interval_is_named(offset, half, named):
    wind = SimpleNamespace(offset_m_s=offset, offset_half_m_s=half)
    errors = SimpleNamespace(airspeed_offset_m_s=0.5)
    found = log_warnings._offset(wind, log_format(airspeed_offset_m_s=0.25), errors)
    assert [(f.value, f.limit) for f in found] == ([(abs(offset), 1.0)] if named else [])
    assert all(f"too {'much' if offset > 0.0 else 'little'};" in f.what for f in found)
    assert all(f"= {0.25 + offset:.2f}" in f.remedy for f in found)


@pytest.mark.parametrize(("battery", "named"), [(None, False), (46.0, False), (45.0, True)])
def test_energy_beyond_the_battery_s_is_named_part_by_part(battery, named):
    """100 W for 0.5 h and 40 W for 0.5 h under another clock: 50 W h, 1.1 of 45.45 W h."""
    cells = pd.DataFrame({"part": [0] * 3600 + [1] * 3600, "power": [100.0] * 3600 + [40.0] * 3600})
    found = log_warnings._energy(SimpleNamespace(cells=cells, cell_s=0.5), battery)
    assert [(f.value, f.limit) for f in found] == ([(50.0, battery)] if named else [])


@pytest.mark.parametrize(
    ("power", "most", "message"),
    [
        (100.0, 91.0, None),
        (100.0, 90.0, "90 W at most"),
        (100.0, None, None),
        (0.0, None, "negated"),
        (-5.0, 10.0, "negated"),
        (0.1, None, None),
    ],
)
def test_a_power_that_rotors_cannot_draw_is_refused(power, most, message):
    """Beyond 1.1 of the limit, by the median."""
    flown = points(["a"] * 3, [10.0] * 3, [power, power, 1e4])
    log = SimpleNamespace(path="x.csv")
    if message is None:
        log_warnings.refuse_impossible_power(log, flown, most)
        return
    with pytest.raises(InputRefused, match=message):
        log_warnings.refuse_impossible_power(log, flown, most)


@pytest.mark.parametrize(
    ("names", "share"),
    [
        ("aabb", 0.8),
        ("abab", None),
        ("aaabbb", 0.7714),
        ("aab", None),
        ("aabab", None),
        ("aabba", None),
    ],
)
def test_configurations_flown_in_blocks_are_named(names, share):
    """Square of the correlation of 0 0 1 1 with 0 1 2 3: (2/1)^2/(1 x 5) = 0.8."""
    found = log_warnings._order(points(list(names), [10.0] * len(names)))
    assert [round(f.value, 4) for f in found] == ([share] if share else [])
    assert log_warnings._order(points(list("aabb"), [10.0] * 4, time_s=np.zeros(4))) == []


@pytest.mark.parametrize(
    ("turn", "apart"), [(28.0, None), (30.0, 0.5176), (180.0, 2.0), (-90.0, 2.0**0.5)]
)
def test_on_ground_speed_mean_directions_far_apart_are_named(turn, apart):
    """Unit vectors: 2 sin(half the angle)."""
    angle = np.radians([0.0, 0.0, turn, turn])
    flown = points(list("aabb"), [10.0] * 4, north=np.cos(angle), east=np.sin(angle))
    columns = log_format().columns.model_dump(exclude_none=True)
    how = log_format(columns={**columns, "airspeed": {**columns["airspeed"], "kind": "ground"}})
    found = log_warnings._headings(flown, SimpleNamespace(how=how))
    assert [round(f.value, 4) for f in found] == pytest.approx([apart] if apart else [], abs=1e-4)
    assert log_warnings._headings(flown, SimpleNamespace(how=log_format())) == []


@pytest.mark.parametrize(
    ("value", "interval", "codes"),
    [
        (5.0, (3.0, 7.9), []), (5.0, (2.0, 7.0), ["unseen"]), (5.0, (-np.inf, 7.0), ["unseen"]),
        (0.0, (0.0, 1.0), ["bound"]), (10.0, (9.0, 10.0), ["bound"]), (1e-4, (0.0, 1.0), []),
    ],
)  # fmt: skip
def test_unknowns_that_a_log_hardly_tells_are_named(value, interval, codes):
    """Half of the range of ten; within two millionths of an end."""
    unknown = Unknown("x", "x", "W", 1.0, 0.0, 10.0, 0.1)
    estimate = SimpleNamespace(label="x", unit="W", value=value, interval=interval)
    found = fit_warnings([estimate], [unknown], np.eye(1))
    assert [f.code for f in found] == [f"log-fit-{code}-x" for code in codes]
    assert all(
        f.limit == {"unseen": 5.0, "bound": round(value)}[f.code.split("-")[2]] for f in found
    )


@pytest.mark.parametrize(("shared", "named"), [(0.94, 0), (0.96, 1), (-0.96, 1)])
def test_estimates_that_go_together_are_named(shared, named):
    unknown = Unknown("x", "x", "W", 1.0, 0.0, 10.0, 0.1)
    one, other = (SimpleNamespace(label=n, unit="W", value=5.0, interval=(4.0, 6.0)) for n in "pq")
    found = fit_warnings([one, other], [unknown] * 2, np.array([[1.0, shared], [shared, 1.0]]))
    assert [(f.code, f.value) for f in found] == [("log-fit-alike-p-q", shared)] * named
