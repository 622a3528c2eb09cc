"""The airspeed of a study where none is asked for: one rule, within the craft's own range.

What is expected is written out by hand beside each range; that it lies in the range is what a
user's file says of the craft.
"""

from typing import Any

import pytest
from click.testing import CliRunner

import vlm
from vlm.cli.commands import load_command
from vlm.description.loading import load_biplane
from vlm.description.schedule import default_airspeed
from vlm.flight.simulation.task import task_of
from vlm.study.motion.scenarios import scenario_of

STUDIES = {
    "roll": "vlm.study.roll.study.roll_study",
    "lateral": "vlm.study.lateral.study.lateral_study",
    "hinge": "vlm.study.hinge.study.hinge_study",
    "compare": "vlm.study.compare.study.compare_study",
    "report": "vlm.study.report.data.gathered_report",
    "motion": "vlm.study.motion.study.motion_study",
}
WORDS = {
    "compare": ["--fold", "0", "--fold", "10"],
    "report": ["--out", "page.html"],
    "motion": ["--to-left", "10"],
}
CASES = [((11.0, 21.0, 0.0), 12.0), ((14.0, 27.0, 0.0), 14.0), ((4.0, 9.0, 0.0), 9.0),
         ((0.0, 20.0, 0.0), 12.0), ((2.0, 27.0, 15.0), 15.0), ((2.0, 9.0, 15.0), 9.0)]  # fmt: skip
"""Lowest and highest airspeed, the one up to which rotors carry the craft; what is expected."""


class Asked(Exception):
    """Ends a study as it starts."""


def craft(low: float, high: float, borne: float) -> Any:
    """A shipped craft with another range."""
    keys = {"airspeed_min_m_s": low, "airspeed_max_m_s": high, "thrust_borne_below_m_s": borne}
    return load_biplane("tideline").overridden({f"schedule.{key}": v for key, v in keys.items()})


@pytest.mark.parametrize(("limits", "expected"), CASES)
def test_it_lies_in_the_range_of_the_file(
    limits: tuple[float, float, float], expected: float
) -> None:
    found = craft(*limits)
    assert default_airspeed(found.schedule) == expected
    assert limits[0] <= expected <= limits[1]
    scenario = scenario_of(found, None, {"to_left_deg": 10.0})
    assert task_of(found, scenario).airspeed == expected


def test_it_is_twelve_without_a_schedule() -> None:
    assert default_airspeed(None) == 12.0


@pytest.mark.parametrize("name", list(STUDIES))
@pytest.mark.parametrize("door", ["command", "front"])
def test_every_study_in_level_flight_takes_it(
    monkeypatch: pytest.MonkeyPatch, name: str, door: str
) -> None:
    heard: list[float] = []

    def ended(given: Any, plan: Any, *_: Any, **__: Any) -> None:
        if name == "motion":
            heard.append(task_of(given, plan.scenario).airspeed)
        else:
            heard.append(plan.airspeed if name == "report" else plan.air.airspeed)
        raise Asked

    monkeypatch.setattr(STUDIES[name], ended)
    asked = {"report": ("page.html",)}.get(name, ())
    keys: dict[str, Any] = {"compare": {"folds": [0, 10]}, "motion": {"to_left_deg": 10.0}}
    for file, expected in (("tideline", 12.0), ("winnow", 13.0)):
        if door == "command":
            words = [file, *WORDS.get(name, [])]
            result = CliRunner().invoke(load_command(name), words)
            assert isinstance(result.exception, Asked), result.output
        else:
            with pytest.raises(Asked):
                getattr(vlm.open_craft(file), name)(*asked, **keys.get(name, {}))
        assert heard[-1] == expected, file
    CliRunner().invoke(load_command(name), ["winnow", "--airspeed", "20", *WORDS.get(name, [])])
    assert heard[-1] == 20.0
