"""The studies a report may hold: what each needs, and how it is made.

A study stands in the report where its file has the blocks it needs. Each is imported when it is
made.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from vlm.description.models import Biplane
from vlm.study.asked import (
    HINGE_FOLDS,
    LATERAL_FOLDS,
    MISSION_FOLDS,
    SCHEDULE_FOLDS,
    default_folds,
    hinge_speeds,
    mode_speeds,
)

if TYPE_CHECKING:
    from vlm.study.hinge.results import HingeStudy
    from vlm.study.lateral.results import LateralStudy
    from vlm.study.report.data import ReportPlan
    from vlm.study.roll.results import RollStudy


@dataclass(frozen=True)
class Study:
    """One study.

    Attributes
    ----------
    name : of its command
    title : what is being done, for the progress bar
    weight : its cost, in steps of the progress bar
    missing : why a craft has no such study; empty if it has
    made : its result
    """

    name: str
    title: str
    weight: int
    missing: Callable[[Biplane, "ReportPlan"], str]
    made: Callable[[Biplane, "ReportPlan"], Any]


def _without(craft: Biplane, *blocks: str) -> str:
    """Which blocks of the file are missing, in words."""
    if not craft.tips:
        return "the craft has no tips"
    absent = [f"[{name}]" for name in blocks if not getattr(craft, name)]
    return f"the file has no {' and no '.join(absent)}" if absent else ""


def _lateral(craft: Biplane, plan: "ReportPlan") -> "LateralStudy":
    from vlm.flight.motion.roll_authority import Air
    from vlm.study.lateral.study import LateralPlan, lateral_study

    folds = default_folds(craft, LATERAL_FOLDS)
    speeds = mode_speeds(craft.schedule, plan.airspeed)
    wanted = LateralPlan(
        air=Air(plan.airspeed, plan.density),
        folds_deg=folds,
        alphas_deg=plan.alphas_deg,
        shares_deg=folds[::2],
        airspeeds=speeds,
        grid=plan.grid,
    )
    return lateral_study(craft, wanted)


def _roll(craft: Biplane, plan: "ReportPlan") -> "RollStudy":
    from vlm.flight.motion.roll_authority import Air
    from vlm.study.roll.study import RollPlan, roll_study

    return roll_study(
        craft,
        RollPlan(
            air=Air(plan.airspeed, plan.density),
            step_deg=plan.step_deg,
            grid=plan.grid,
        ),
    )


def _hinge(craft: Biplane, plan: "ReportPlan") -> "HingeStudy":
    from vlm.flight.motion.roll_authority import Air
    from vlm.study.hinge.results import HingePlan
    from vlm.study.hinge.study import hinge_study

    speeds = hinge_speeds(craft.schedule, plan.airspeed)
    wanted = HingePlan(
        air=Air(plan.airspeed, plan.density),
        folds_deg=default_folds(craft, HINGE_FOLDS),
        airspeeds=speeds,
        grid=plan.grid,
    )
    return hinge_study(craft, wanted)


def _power_missing(craft: Biplane, _plan: "ReportPlan") -> str:
    names = {"mass": "[mass]", "rotors": "[[rotors]]", "propulsion": "[propulsion]"}
    absent = [words for name, words in names.items() if not getattr(craft, name)]
    return f"the file has no {' and no '.join(absent)}" if absent else ""


def _power(craft: Biplane, plan: "ReportPlan") -> Any:
    from vlm.air import sea_level_air
    from vlm.study.power.kept import power_answer
    from vlm.study.power.study import PowerPlan, level_settings

    air = sea_level_air(plan.density)
    return power_answer(craft, PowerPlan(settings=level_settings(craft), air=air))


def _schedule_missing(craft: Biplane, plan: "ReportPlan") -> str:
    if why := _without(craft, "schedule"):
        return why
    return _power_missing(craft, plan)


def _schedule(craft: Biplane, plan: "ReportPlan") -> Any:
    from vlm.air import sea_level_air
    from vlm.study.kept_answers import TrimTable
    from vlm.study.schedule.kept import schedule_answer

    return schedule_answer(craft, TrimTable(SCHEDULE_FOLDS, sea_level_air(plan.density))).document


def _mission_missing(craft: Biplane, plan: "ReportPlan") -> str:
    named = craft.mission or plan.legs is not None
    return _schedule_missing(craft, plan) or (
        "" if named else "the file has no [[mission]], and no --legs was given"
    )


def _mission(craft: Biplane, plan: "ReportPlan") -> Any:
    from vlm.air import sea_level_air
    from vlm.description.mission_file import load_mission
    from vlm.study.kept_answers import TrimTable
    from vlm.study.mission.kept import mission_answer

    read = None if plan.legs is None else load_mission(plan.legs)
    legs, title = (craft.mission, "") if read is None else (read.mission, read.title)
    table = TrimTable(MISSION_FOLDS, sea_level_air(plan.density))
    return mission_answer(craft, legs, table, title=title)


def _log_missing(craft: Biplane, plan: "ReportPlan") -> str:
    if plan.log is None:
        return "no log was given (--log)"
    return "" if craft.log is not None else "the file has no [log]"


def _log(craft: Biplane, plan: "ReportPlan") -> Any:
    """What a log says, and how it stands to the prediction where there is one."""
    from vlm.log.analysis import log_craft, measured
    from vlm.log.craft_study import compared_with_craft
    from vlm.log.reading import read_log

    assert plan.log is not None and craft.log is not None
    result = measured(log_craft(craft), read_log(plan.log, craft.log))
    known = result.model is not None and not _power_missing(craft, plan)
    return result, compared_with_craft(craft, result) if known else None


STUDIES: tuple[Study, ...] = (
    Study("lateral", "lateral stability", 45, lambda c, _: _without(c, "mass"), _lateral),
    Study("roll", "roll by folding", 165, lambda c, _: _without(c, "mass"), _roll),
    Study("power", "power against airspeed", 60, _power_missing, _power),
    Study("schedule", "fold schedule", 70, _schedule_missing, _schedule),
    Study("mission", "mission", 90, _mission_missing, _mission),
    Study("hinge", "hinge and drive", 130, lambda c, _: _without(c, "mass", "actuator"), _hinge),
    Study("log", "flight log", 20, _log_missing, _log),
)
"""In the order of the page."""
