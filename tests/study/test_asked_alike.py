"""Command, report, front door, comparison and motion ask the same of a study by default."""

import inspect
from collections.abc import Callable
from types import SimpleNamespace
from typing import Any

import pytest
from click.testing import CliRunner

import vlm
from vlm.air import standard_air
from vlm.cli.commands import load_command
from vlm.description.folds import FoldAngles
from vlm.description.loading import load_biplane
from vlm.description.mission_file import load_mission
from vlm.flight.trim.powered import POWER_GRID
from vlm.show.report.flying import power_command
from vlm.study.compare import study as comparing
from vlm.study.motion.schedule import worked_out
from vlm.study.report.data import ReportPlan
from vlm.study.report.studies import STUDIES

LEGS = "long_survey"
HEARD = ("progress", "report", "keep")


class Asked(Exception):
    """Ends a study as it starts, with what it was asked."""


def asked(monkeypatch: pytest.MonkeyPatch, name: str, ask: Callable[[], Any]) -> dict[str, Any]:
    """What the study of a command is asked by a door, what is left to its own default filled in."""
    module = __import__(f"vlm.study.{name}.study", fromlist=["_"])
    signature = inspect.signature(getattr(module, f"{name}_study"))

    def ended(*given: Any, **named: Any) -> None:
        bound = signature.bind(*given, **named)
        bound.apply_defaults()
        found = {key: value for key, value in bound.arguments.items() if key not in HEARD}
        filled = {"grid": POWER_GRID, "air": standard_air()}
        raise Asked({key: filled.get(key) if v is None else v for key, v in found.items()})

    with monkeypatch.context() as patch:
        if name in ("power", "schedule", "mission"):  # imported first, so that it is put back
            patch.setattr(f"vlm.study.{name}.kept.{name}_study", ended)
        patch.setattr(module, f"{name}_study", ended)
        if name == "mission":
            patch.setattr(comparing, "mission_study", ended)
        with pytest.raises(Asked) as caught:
            ask()
    return caught.value.args[0]


def command(name: str, *options: str) -> None:
    """Ask by the command line."""
    legs = ["--legs", LEGS] if name == "mission" else []
    result = CliRunner().invoke(load_command(name), ["tideline", *legs, *options])
    assert result.exception is not None
    raise result.exception


def report(name: str) -> None:
    """Ask by the report."""
    study = next(one for one in STUDIES if one.name == name)
    study.made(load_biplane("tideline"), ReportPlan("tideline", legs=LEGS))


def front(name: str) -> None:
    """Ask by the front door."""
    legs = {"legs": LEGS} if name == "mission" else {}
    getattr(vlm.open_craft("tideline"), name)(**legs)


@pytest.mark.parametrize("door", [report, front])
@pytest.mark.parametrize("name", ["lateral", "roll", "hinge", "power", "schedule", "mission"])
def test_a_study_is_asked_alike(
    monkeypatch: pytest.MonkeyPatch, name: str, door: Callable[[str], None]
) -> None:
    wanted = asked(monkeypatch, name, lambda: command(name))
    assert asked(monkeypatch, name, lambda: door(name)) == wanted


def test_a_comparison_flies_the_mission_of_the_command(monkeypatch: pytest.MonkeyPatch) -> None:
    craft = load_biplane("tideline")
    entries = [comparing.Entry(name, craft, FoldAngles()) for name in ("one", "other")]
    plan = comparing.ComparePlan(mission=load_mission(LEGS).mission)
    flown = comparing._Comparing(entries, plan, lambda *_: None).missions
    wanted = asked(monkeypatch, "mission", lambda: command("mission"))
    del wanted["title"]  # printed by the command alone
    assert wanted.items() <= asked(monkeypatch, "mission", flown).items()


@pytest.mark.parametrize("name", ["power", "schedule", "mission"])
def test_a_report_of_other_air_names_commands_of_that_air(
    monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    plan = ReportPlan("tideline", density=1.1, legs=LEGS)
    study = next(one for one in STUDIES if one.name == name)
    craft = load_biplane("tideline")
    found = asked(monkeypatch, name, lambda: study.made(craft, plan))
    assert found == asked(monkeypatch, name, lambda: command(name, "--density", "1.1"))


def test_commands_of_a_report_name_its_air() -> None:
    data = SimpleNamespace(plan=ReportPlan("tideline", density=1.1))
    assert power_command(data).endswith(" --density 1.1")
    assert "--density" not in power_command(SimpleNamespace(plan=ReportPlan("tideline")))


def test_a_motion_follows_the_schedule_of_the_command(monkeypatch: pytest.MonkeyPatch) -> None:
    wanted = asked(monkeypatch, "schedule", lambda: command("schedule"))
    found = asked(monkeypatch, "schedule", lambda: worked_out(load_biplane("tideline"), 1.225))
    assert found == wanted


def test_commands_of_a_report_name_no_folder() -> None:
    plan = ReportPlan("/home/someone/craft/own.toml", legs="/home/someone/legs.toml")
    assert plan.command("check").startswith("foldspan check own.toml ")
    assert plan.legs_option == "--legs legs.toml"
