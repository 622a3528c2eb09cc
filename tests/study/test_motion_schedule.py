"""Schedules that a motion and an export follow: from the file's [schedule], or from a table."""

from pathlib import Path

import numpy as np
import pytest

from vlm.description.loading import load_biplane
from vlm.errors import InputRefused
from vlm.flight.simulation.building import Modelled
from vlm.lattice.cellule import Grid
from vlm.study.export.study import trim_points
from vlm.study.motion.scenarios import scenario_of
from vlm.study.motion.schedule import followed, read_breakpoints
from vlm.study.motion.study import MotionPlan, motion_study
from vlm.study.schedule.study import schedule_study

TABLE = """# a controller's schedule
airspeed_slowing_m_s,airspeed_speeding_m_s,fold_deg,margin power [1]
11.000,11.500,7.08,0.9
21.000,21.500,16.27,0.5
"""
COARSE = Modelled(Grid(rows=2, strips=6))


def test_a_table_of_breakpoints_both_ways(tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    path.write_text(TABLE)
    assert read_breakpoints(path) == [(11.0, 7.08), (21.0, 16.27)]
    assert read_breakpoints(path, speeding=True) == [(11.5, 7.08), (21.5, 16.27)]
    craft = load_biplane("tideline")
    faster = scenario_of(
        craft, None, {"fold_schedule": str(path), "airspeed_m_s": 13.0, "speed_to_m_s": 18.0}
    )
    assert faster.fold_schedule[0] == (11.5, 7.08)
    slower = scenario_of(
        craft, None, {"fold_schedule": str(path), "airspeed_m_s": 18.0, "speed_to_m_s": 13.0}
    )
    assert slower.fold_schedule[0] == (11.0, 7.08)
    assert trim_points(craft, str(path), 1.225) == [(11.0, 7.08), (21.0, 16.27)]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("airspeed_slowing_m_s,fold_deg\n1,2\n", "airspeed_speeding_m_s is missing"),
        (TABLE.replace("16.27", "much"), "breakpoint 2: airspeed and fold must be numbers"),
    ],
)
def test_a_table_that_is_none(tmp_path: Path, text: str, said: str) -> None:
    path = tmp_path / "a.csv"
    path.write_text(text)
    with pytest.raises(InputRefused, match=said):
        read_breakpoints(path)


def test_the_schedule_of_a_file_without_one() -> None:
    craft = load_biplane("turnstone")
    scenario = scenario_of(craft, None, {"fold_schedule": "schedule"})
    with pytest.raises(InputRefused, match=r"\[schedule\] is missing"):
        followed(craft, scenario, 1.225)


def test_a_schedule_and_a_command_do_not_go_together() -> None:
    craft = load_biplane("tideline")
    with pytest.raises(InputRefused, match="tips follow either"):
        scenario_of(craft, None, {"fold_schedule": "schedule", "to": "dash"})


@pytest.mark.slow
def test_the_schedule_of_the_file_is_followed_through_an_acceleration() -> None:
    # The folds that the tips end at are those of `foldspan schedule`, read by hand off its
    # breakpoints at the airspeed flown, hysteresis speeding up.
    craft = load_biplane("tideline")
    keys = {"fold_schedule": "schedule", "airspeed_m_s": 13.0, "speed_to_m_s": 18.0,
            "speed_change_s": 3.0, "duration_s": 5.0}  # fmt: skip
    plan = MotionPlan(scenario_of(craft, None, keys), COARSE, errors=False)
    study = motion_study(craft, plan)
    flown = schedule_study(craft).flown
    assert flown is not None
    speed = float(study.history["airspeed_m_s"][-1])
    expected = flown.fold(speed, rising=True)
    assert speed > 16.0
    assert abs(flown.fold(18.0) - flown.fold(13.0)) > 1.0
    for side in ("left", "right"):
        fold = study.history[f"fold_{side}_deg"]
        assert fold[0] == pytest.approx(
            flown.fold(13.0, rising=True), abs=0.006
        )  # given to 0.01 deg
        assert fold[-1] == pytest.approx(expected, abs=1.0)
    assert np.abs(study.history["bank_deg"]).max() < 1e-3
