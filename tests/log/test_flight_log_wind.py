"""Compass, directions, and a prediction that ends: logs without scatter.

No source but the wind and the readings that are put into the log.
"""

import io
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from craft_for_logs import log_format, prediction
from test_flight_log_segments import calm_text, study

from vlm.log.document import _wind
from vlm.log.residuals import residuals


@pytest.fixture(scope="module")
def table():
    return pd.read_csv(io.StringIO(calm_text()), comment="#")


def on_ground_speed():
    columns = log_format().columns.model_dump(exclude_none=True)
    return {**columns, "airspeed": {**columns["airspeed"], "name": "gs_m_s", "kind": "ground"}}


@pytest.mark.parametrize("ground", [False, True])
@pytest.mark.parametrize("error", [0.0, 8.0])
def test_a_compass_that_reads_too_much_is_found_and_moves_no_wind(tmp_path, table, ground, error):
    """The wind put into the log: 1.5 m/s toward north, 2 m/s toward west."""
    keys = {"columns": on_ground_speed()} if ground else {}
    text = table.assign(yaw_deg=(table["yaw_deg"] + error) % 360.0).to_csv(index=False)
    wind = study(tmp_path, text, **keys).wind
    assert wind.source == ("heading" if ground else "pitot and heading")
    assert wind.heading_deg == pytest.approx(-error, abs=0.1)
    assert _wind(wind)["heading_error_deg"] == pytest.approx(error, abs=0.1)
    assert wind.north_m_s == pytest.approx(1.5, abs=0.03)
    assert wind.east_m_s == pytest.approx(-2.0, abs=0.03)


def test_on_ground_speed_configurations_flown_one_way_each_are_named(tmp_path, table):
    """Both out and back; then one of them toward the west alone."""

    def named(kept):
        result = study(tmp_path, kept.to_csv(index=False), columns=on_ground_speed())
        return [f for f in result.findings if f.code.startswith("log-headings")]

    east = np.sin(np.radians(table["course_deg"])) > 0.0
    assert not named(table)
    [found] = named(table[~((table["mode"] == "dash") & east)])
    assert "dash and loiter" in found.sentence()


def test_where_a_prediction_ends_points_are_counted_and_nothing_else_changes(tmp_path):
    """The craft's own power, known up to 13.5 m/s: what is left of a calm log is its digits."""
    result = study(tmp_path, calm_text())
    own = prediction(result.density_kg_m3)
    cut = replace(own, power=lambda v, *rest: np.where(v > 13.5, np.nan, own.power(v, *rest)))
    points = result.points
    for found in residuals(result.binned, result.model, cut, None):
        speed = points.airspeed_m_s[points.configuration == found.configuration]
        assert 0 < found.unpredicted == np.sum(speed > 13.5) < speed.size
        assert abs(found.bias_share) < 0.01
