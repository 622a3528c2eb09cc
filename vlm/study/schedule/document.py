"""What a schedule's study says, as a document."""

from dataclasses import asdict
from typing import Annotated, Any, TypedDict

import numpy as np

from vlm import __version__
from vlm.cautions import SHORT_CAUTION
from vlm.constants import Floats
from vlm.findings import Finding
from vlm.flight.plan.constraints import TOUCH
from vlm.flight.plan.flown_schedule import FlownSchedule, FlownState
from vlm.flight.plan.schedule import SchedulePoint
from vlm.plain import Shown, without_nan
from vlm.study.schedule.answer import answer
from vlm.study.schedule.saving import Saving
from vlm.study.schedule.saving_causes import Causes
from vlm.study.schedule.study import ScheduleStudy

ASSUMED = (
    "steady, level, straight flight; both sides folded alike; stability, rolling moment and folding"
    " rate from the lattice in the free stream at each trim's angle of attack, stability with the"
    " drag areas"
)
MAP_STEP_DEG = 2.5
NO_TRIM = "no trim"


class FlownCells(TypedDict):
    """The schedule as flown at one airspeed; null where there is none.

    Attributes
    ----------
    flown_fold_deg, flown_fold_speeding_deg : slowing down and speeding up [deg]
    flown_loss_W : power above the best fold's; between airspeeds, above the best of those tried
        there, which are the best on either side and those commanded [W]
    flown_outside : whether a constraint is passed
    flown_passes : those
    flown_margins : by constraint, in the units of margin_units
    """

    flown_fold_deg: float | None
    flown_fold_speeding_deg: float | None
    flown_power_W: float | None
    flown_loss_W: float | None
    flown_outside: bool | None
    flown_passes: list[str]
    flown_margins: dict[str, float]


class ScheduleRow(FlownCells):
    """The fold of least power at one airspeed.

    Attributes
    ----------
    fold_deg : best fold; null where none is allowed [deg]
    flat_from_deg, flat_to_deg : folds that draw the same within what the search leaves open [deg]
    ties_deg : other folds that draw the same [deg]
    active : active constraints
    margins : by constraint, in the units of margin_units
    forbidden_by : what forbids every fold; empty where one is allowed
    """

    airspeed_m_s: float
    fold_deg: float | None
    electrical_power_W: float | None
    flat_from_deg: float | None
    flat_to_deg: float | None
    ties_deg: list[float]
    active: list[str]
    margins: dict[str, float]
    forbidden_by: str


class FlownBetween(FlownCells):
    """The schedule as flown between two breakpoints."""

    airspeed_m_s: float


class FlownDocument(TypedDict):
    """The schedule that can be flown.

    Attributes
    ----------
    airspeed_m_s, fold_deg : breakpoints, straight lines between [m/s], [deg]
    hysteresis_m_s : by which the airspeed leads when speeding up [m/s]
    mean_loss_percent : above the best fold, over all airspeeds of the table [%]
    worst_loss_percent, worst_loss_m_s : the greatest loss, half-way between airspeeds too, and
        where it is [%], [m/s]
    outside_m_s : airspeeds at which a constraint is passed [m/s]
    roll_reversals_m_s : stretches of airspeed in which the roll command reverses [m/s]
    """

    airspeed_m_s: Floats
    fold_deg: Floats
    hysteresis_m_s: float
    valid_from_m_s: float
    valid_to_m_s: float
    mean_loss_percent: float | None
    worst_loss_percent: float | None
    worst_loss_m_s: float | None
    outside_m_s: list[float]
    roll_reversals_m_s: list[list[float]]
    between: list[FlownBetween]


class SavingDocument(TypedDict):
    """The largest saving against flat tips.

    Attributes
    ----------
    saving_percent : of the power of flat tips [%]
    interval_W : null without [uncertainty] in the file
    interval_percent : its probability [%]
    flat_passes : constraints that flat tips pass there
    causes : what is saved by cause; null where nothing is
    """

    airspeed_m_s: float
    fold_deg: float
    saving_W: float
    saving_percent: float
    interval_W: list[float] | None
    interval_percent: float
    flat_passes: list[str]
    causes: Annotated[dict[str, float] | None, Shown(Causes | None)]


class ScheduleMap(TypedDict):
    """Power over airspeed (rows) and fold (columns), and what forbids a fold, empty if nothing.

    Attributes
    ----------
    joined : whether a tip's end is joined to a wing at each fold
    """

    fold_deg: Floats
    airspeed_m_s: Floats
    electrical_power_W: list[Floats]
    forbidden_by: list[list[str]]
    joined: list[bool]


class ScheduleDocument(TypedDict):
    """Best fold at every airspeed, and a schedule that can be flown.

    Attributes
    ----------
    answer : the decision in sentences
    folds_deg : of the trim table [deg]
    margin_units : by constraint
    flown : null where a single airspeed allows a fold
    saving : null where flat tips fly at no airspeed
    """

    title: str
    answer: list[str]
    assumed: str
    caution: str
    version: str
    folds_deg: Floats
    thrust_borne_below_m_s: float | None
    margin_units: dict[str, str]
    ideal: list[ScheduleRow]
    flown: FlownDocument | None
    saving: SavingDocument | None
    map: ScheduleMap
    findings: list[Annotated[dict[str, Any], Shown(Finding)]]


def schedule_document(study: ScheduleStudy) -> ScheduleDocument:
    """The study as plain values: the answer, the ideal, the schedule as flown, the map."""
    flown = study.flown
    document: ScheduleDocument = {
        "title": study.book.craft.title,
        "answer": answer(study),
        "assumed": ASSUMED,
        "caution": SHORT_CAUTION,
        "version": __version__,
        "folds_deg": study.book.folds_deg,
        "thrust_borne_below_m_s": study.schedule.thrust_borne_below_m_s,
        "margin_units": study.table.constraints.units,
        "ideal": [_row(study, point) for point in study.ideal],
        "flown": None if flown is None else _flown(flown),
        "saving": None if study.saving is None else _saving(study.saving),
        "map": schedule_map(study),
        "findings": [asdict(finding) for finding in study.findings],
    }
    return without_nan(document)


def _row(study: ScheduleStudy, point: SchedulePoint) -> ScheduleRow:
    flown = study.flown
    row: ScheduleRow = {
        "airspeed_m_s": point.speed,
        "fold_deg": point.fold_deg,
        "electrical_power_W": point.power,
        "flat_from_deg": point.flat_deg[0],
        "flat_to_deg": point.flat_deg[1],
        "ties_deg": list(point.ties),
        "active": list(point.active),
        "margins": dict(point.margins),
        "forbidden_by": point.reason,
        "flown_fold_deg": None,
        "flown_fold_speeding_deg": None,
        "flown_power_W": None,
        "flown_loss_W": None,
        "flown_outside": None,
        "flown_passes": [],
        "flown_margins": {},
    }
    return row if flown is None else {**row, **_flown_cells(flown.state(point.speed))}


def _flown_cells(state: FlownState) -> FlownCells:
    return {
        "flown_fold_deg": state.slowing.fold_deg,
        "flown_fold_speeding_deg": state.speeding.fold_deg,
        "flown_power_W": state.power,
        "flown_loss_W": state.loss,
        "flown_outside": bool(state.passed),
        "flown_passes": list(state.passed),
        "flown_margins": dict(state.margins),
    }


def _saving(saving: Saving) -> SavingDocument:
    return {
        "airspeed_m_s": saving.point.speed,
        "fold_deg": saving.point.fold_deg,
        "saving_W": saving.flat.power - saving.point.power,
        "saving_percent": 100.0 * saving.share,
        "interval_W": None if saving.interval is None else list(saving.interval),
        "interval_percent": saving.percent,
        "flat_passes": list(saving.flat.passed),
        "causes": None if saving.causes is None else dict(saving.causes.values),
    }


def _flown(flown: FlownSchedule) -> FlownDocument:
    losses = 100.0 * flown.losses
    return {
        "airspeed_m_s": flown.speeds,
        "fold_deg": flown.folds_deg,
        "hysteresis_m_s": flown.hysteresis,
        "valid_from_m_s": flown.valid[0],
        "valid_to_m_s": flown.valid[1],
        "mean_loss_percent": float(np.mean(losses)) if len(losses) else None,
        "worst_loss_percent": 100.0 * flown.worst[0] if len(losses) else None,
        "worst_loss_m_s": flown.worst[1] if len(losses) else None,
        "outside_m_s": [state.speed for state in flown.outside],
        "roll_reversals_m_s": [list(pair) for pair in flown.roll_reversals],
        "between": [
            {"airspeed_m_s": s.speed, **_flown_cells(s)} for s in flown.states if s.is_between
        ],
    }


def schedule_map(study: ScheduleStudy) -> ScheduleMap:
    """Power over fold and airspeed, and what forbids a fold, for a picture."""
    low, high = (float(study.book.folds_deg[i]) for i in (0, -1))
    folds = np.unique(np.append(np.arange(low, high, MAP_STEP_DEG), high))
    powers, reasons = [], []
    for speed in study.book.speeds:
        read = study.table.reading(float(speed), folds)
        powers.append(read.power)
        passed = [NO_TRIM if not np.isfinite(p) else "" for p in read.power]
        for name, margin in read.margins.items():
            passed = [
                p or ("" if m >= -TOUCH else name) for p, m in zip(passed, margin, strict=True)
            ]
        reasons.append(passed)
    speed = float(study.book.speeds[0])
    closed = [
        fold for fold in study.book.folds_deg if study.table.setting(float(fold), speed).is_joined
    ]
    return {
        "fold_deg": folds,
        "airspeed_m_s": study.book.speeds,
        "electrical_power_W": powers,
        "forbidden_by": reasons,
        "joined": np.isin(folds, closed).tolist(),
    }
