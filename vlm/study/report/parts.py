"""The long computations of a report: its sweep, its map and its studies, over processes if asked.

No part takes anything from another, so that their numbers are those of the commands of the same
names, in whatever order and in however many processes they are made.
"""

from collections.abc import Iterator
from contextlib import nullcontext
from functools import partial
from typing import TYPE_CHECKING, Any

import numpy as np

from vlm.description.models import Biplane
from vlm.errors import FoldspanError
from vlm.loads.fold_engine import every_fold_solved, is_every_fold_solved
from vlm.progress import Progress
from vlm.study.report.studies import STUDIES, Study
from vlm.study.sweep.workers import local_work

if TYPE_CHECKING:
    import xarray as xr

    from vlm.study.point.fold_map import FoldMap
    from vlm.study.report.data import ReportPlan

CURVE_STEP_DEG = 5.0
CHARTED_FROM = 11
"""Folds of a side from which on a map takes fewer solves by a chart."""


def spaced_folds(low: float, high: float, step: float) -> tuple[float, ...]:
    """Multiples of a step within limits, with the limits [deg]."""
    inside = np.arange(np.ceil(low / step), np.floor(high / step) + 1) * step
    return tuple(float(f) + 0.0 for f in np.unique(np.round([low, *inside, high], 6)))


def _swept(craft: Biplane, plan: "ReportPlan") -> "xr.Dataset":
    from vlm.study.sweep.dataset import sweep_dataset
    from vlm.study.sweep.plan import SweepPlan
    from vlm.study.sweep.running import run_plan

    sweep = SweepPlan(
        folds_deg=spaced_folds(*craft.fold_range_deg, CURVE_STEP_DEG),
        alphas_deg=plan.alphas_deg,
        grid=plan.grid,
        airspeed=plan.airspeed,
        density=plan.density,
        errors=True,
        exact=is_every_fold_solved(),
    )
    results, _ = run_plan(craft, sweep)
    return sweep_dataset(craft, sweep, results)


def _mapped(craft: Biplane, plan: "ReportPlan") -> "FoldMap":
    from vlm.study.point.fold_map import approached, fold_map
    from vlm.study.point.session import Session

    folds = spaced_folds(*craft.fold_range_deg, plan.step_deg)
    nodes = approached(Session(craft, plan.grid), folds, CURVE_STEP_DEG)
    session = Session(craft, plan.grid, "all folds" if len(nodes) >= CHARTED_FROM else "none")
    return fold_map(session, nodes, plan.alphas_deg)


def _without_tips(craft: Biplane, _plan: "ReportPlan") -> str:
    return "" if craft.tips else "the craft has no tips"


SWEEP = Study("sweep", "fold sweep", 20, _without_tips, _swept)
MAP = Study("map", "map of folds", 60, _without_tips, _mapped)


def why_not(study: Study, craft: Biplane, plan: "ReportPlan") -> str:
    """Why a report has no such study; empty if it has."""
    if study.name in plan.without:
        return "left out as asked (--without)"
    return study.missing(craft, plan)


def made_parts(
    craft: Biplane, plan: "ReportPlan", progress: Progress, workers: int
) -> Iterator[tuple[str, Any, str]]:
    """Name and result of every part that the report has, or in words why it cannot be made.

    Raises
    ------
    ComputationFailed : something ended a worker
    """
    parts = [part for part in (SWEEP, MAP, *STUDIES) if not why_not(part, craft, plan)]
    # The longest first, so that no process is left alone with it at the end.
    parts.sort(key=lambda part: -part.weight)
    left = {part.name: part for part in parts}
    total = sum(part.weight for part in parts)

    def tell() -> None:
        now = [part.title for part in left.values()][:workers]
        done = total - sum(part.weight for part in left.values())
        progress(" and ".join(now) or "page", done, total)

    task = partial(_made, craft, plan, is_every_fold_solved())
    with local_work(task, list(enumerate(left)), workers) as finished:
        tell()
        for index, (result, why) in finished:
            name = parts[index].name
            del left[name]
            tell()
            yield name, result, why


def _made(craft: Biplane, plan: "ReportPlan", exact: bool, name: str) -> tuple[Any, str]:
    """A part's result, or in words why it cannot be made."""
    part = next(part for part in (SWEEP, MAP, *STUDIES) if part.name == name)
    with every_fold_solved() if exact else nullcontext():
        try:
            return part.made(craft, plan), ""
        except FoldspanError as error:
            return None, str(error)
