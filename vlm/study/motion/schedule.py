"""A fold schedule for a motion or an export: worked out from the file, or read from a table."""

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from vlm.air import sea_level_air
from vlm.description.files import read_text
from vlm.description.models import Biplane
from vlm.description.motion import Scenario
from vlm.description.schedule import default_airspeed
from vlm.errors import ComputationFailed, InputRefused
from vlm.findings import Finding
from vlm.progress import Progress, silent

if TYPE_CHECKING:
    from vlm.flight.plan.flown_schedule import FlownSchedule

HEADS = ("airspeed_slowing_m_s", "airspeed_speeding_m_s", "fold_deg")
Pairs = list[tuple[float, float]]


def followed(
    craft: Biplane, scenario: Scenario, density: float, progress: Progress = silent
) -> tuple[Scenario, tuple[Finding, ...]]:
    """The scenario with the breakpoints of the file's schedule, where it follows that.

    An airspeed that rises takes the folds of speeding up, one that falls those of slowing down;
    what the schedule itself warns of comes with it.

    Raises
    ------
    InputRefused : the file has no [schedule], or lacks a block that is needed
    ComputationFailed : no schedule can be flown
    """
    if not scenario.follows_schedule:
        return scenario, ()
    flown, findings = worked_out(craft, density, progress)
    first = scenario.airspeed_m_s or default_airspeed(craft.schedule)
    rises = scenario.speed_to_m_s is not None and scenario.speed_to_m_s > first
    pairs = breakpoints(flown, speeding=rises)
    # A copy, as the scenario asked for one or the other.
    return scenario.model_copy(update={"fold_schedule": tuple(pairs)}), findings


def worked_out(
    craft: Biplane, density: float, progress: Progress = silent
) -> "tuple[FlownSchedule, tuple[Finding, ...]]":
    """The schedule as flown of ``foldspan schedule``, on that command's lattice, and its warnings.

    Parameters
    ----------
    density : of the air [kg/m^3]

    Raises
    ------
    InputRefused, ComputationFailed : as :func:`followed`
    """
    from vlm.study.schedule.study import schedule_study

    progress("the fold schedule")
    air = sea_level_air(density)
    study = schedule_study(craft, air=air)
    if study.flown is None:
        raise ComputationFailed(
            "fewer than two airspeeds of [schedule] allow any fold: there is none to follow"
        )
    return study.flown, study.findings


def breakpoints(flown: "FlownSchedule", *, speeding: bool = False) -> Pairs:
    """Airspeeds [m/s] and folds [deg] of a schedule, slowing down or speeding up."""
    later = flown.hysteresis if speeding else 0.0
    return [
        (float(speed) + later, float(fold))
        for speed, fold in zip(flown.speeds, flown.folds_deg, strict=True)
    ]


def read_breakpoints(path: Path, *, speeding: bool = False) -> Pairs:
    """Breakpoints of a table that ``foldspan schedule --csv`` wrote.

    Raises
    ------
    InputRefused : the file cannot be read, a column is missing, or a cell is no number
    """
    lines = [line for line in read_text(path).splitlines() if line and not line.startswith("#")]
    heads = lines[0].split(",") if lines else []
    for head in HEADS:
        if head not in heads:
            raise InputRefused(f"{path}: the column {head} is missing; write it by schedule --csv")
    speed, fold = heads.index(HEADS[1 if speeding else 0]), heads.index(HEADS[2])
    return [_pair(path, number, line.split(","), speed, fold) for number, line in
            enumerate(lines[1:], start=1)]  # fmt: skip


def _pair(
    path: Path, number: int, cells: Sequence[str], speed: int, fold: int
) -> tuple[float, float]:
    try:
        return float(cells[speed]), float(cells[fold])
    except (ValueError, IndexError):
        raise InputRefused(
            f"{path}: breakpoint {number}: airspeed and fold must be numbers"
        ) from None
