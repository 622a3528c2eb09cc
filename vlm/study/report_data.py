"""Everything a report shows, gathered: sweeps, map, and each study that the file has data for."""

import shlex
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from vlm.constants import SEA_LEVEL_DENSITY
from vlm.description.folds import FoldAngles
from vlm.description.models import Biplane
from vlm.errors import FoldspanError
from vlm.lattice.cellule import Grid
from vlm.loads.fold_engine import shared_charts
from vlm.progress import Progress, silent
from vlm.study.dimensions import dimensions
from vlm.study.fold_map import FoldMap, approached, fold_map, pairs_of
from vlm.study.plan import SweepPlan
from vlm.study.point import PointReport, solve_point
from vlm.study.report_studies import STUDIES, Study
from vlm.study.running import run_plan
from vlm.study.session import Scene, Session, Setting

if TYPE_CHECKING:
    import xarray as xr

    from vlm.study.hinge_results import HingeStudy
    from vlm.study.lateral_results import LateralStudy
    from vlm.study.roll_results import RollStudy

CURVE_STEP_DEG = 5.0
CHARTED_FROM = 11
"""Folds of a side from which on a map takes fewer solves by a chart."""


@dataclass(frozen=True)
class ReportPlan:
    """What a report is asked for.

    Attributes
    ----------
    file : geometry file as the user named it, for the commands shown
    overrides : keys set on the command line, "KEY=VALUE"
    airspeed, density : of the air [m/s, kg/m^3]
    alpha_deg : angle of attack where one is needed [deg]
    alphas_deg : three of them, for curves and the map [deg]
    step_deg : step of the map's folds [deg]
    grid : the lattice
    log : flight log, where there is one
    legs : file of a mission, or its name among the shipped, instead of the craft's own legs
    without : names of studies to leave out, for a quicker report
    """

    file: str
    overrides: tuple[str, ...] = ()
    airspeed: float = 12.0
    density: float = SEA_LEVEL_DENSITY
    alpha_deg: float = 4.0
    alphas_deg: tuple[float, ...] = (0.0, 4.0, 8.0)
    step_deg: float = 15.0
    grid: Grid = field(default_factory=Grid)
    log: Path | None = None
    legs: str | None = None
    without: tuple[str, ...] = ()

    def command(self, name: str, options: str = "", *, air: bool = True) -> str:
        """A command line of this file and lattice."""
        words = ["foldspan", name, shlex.quote(self.file)]
        words += [f"--set {shlex.quote(change)}" for change in self.overrides]
        words += [options] if options else []
        if air:
            words.append(f"--airspeed {self.airspeed:g} --density {self.density:g}")
        return " ".join([*words, f"--rows {self.grid.rows} --strips {self.grid.strips}"])


@dataclass(frozen=True)
class ReportData:
    """What was gathered.

    Attributes
    ----------
    craft, plan : the description and what was asked
    dimensions : the document of ``check``
    flat : the craft as it is drawn, tips flat where they can be
    points : reports of the named configurations, or of the flat craft where none are named
    sweep : symmetric sweep with errors; None for a craft without tips
    map : over port and starboard folds; None for a craft without tips
    studies : typed result, or document, of each study by its command's name
    reasons : why a study is not there, by its command's name
    """

    craft: Biplane
    plan: ReportPlan
    dimensions: Mapping[str, Any]
    flat: Scene
    points: Mapping[str, PointReport]
    sweep: "xr.Dataset | None"
    map: FoldMap | None
    studies: Mapping[str, Any]
    reasons: Mapping[str, str]

    @property
    def lateral(self) -> "LateralStudy | None":
        """Lateral stability, where the report has it."""
        return self.studies.get("lateral")

    @property
    def roll(self) -> "RollStudy | None":
        """Roll by folding, where the report has it."""
        return self.studies.get("roll")

    @property
    def hinge(self) -> "HingeStudy | None":
        """Hinge and drive, where the report has them."""
        return self.studies.get("hinge")


def spaced_folds(low: float, high: float, step: float) -> tuple[float, ...]:
    """Multiples of a step within limits, with the limits [deg]."""
    inside = np.arange(np.ceil(low / step), np.floor(high / step) + 1) * step
    return tuple(float(f) + 0.0 for f in np.unique(np.round([low, *inside, high], 6)))


def gathered_report(craft: Biplane, plan: ReportPlan, progress: Progress = silent) -> ReportData:
    """Compute everything a report shows; a study that cannot be made gives its reason.

    Parameters
    ----------
    progress : hears what is being done, and how many steps are done of how many

    Raises
    ------
    InputRefused : the geometry cannot be built
    """
    with shared_charts():
        return _gathered(craft, plan, progress)


def _gathered(craft: Biplane, plan: ReportPlan, progress: Progress) -> ReportData:
    session = Session(craft, plan.grid)
    low, high = session.craft.fold_range_deg
    curve = spaced_folds(low, high, CURVE_STEP_DEG) if craft.tips else ()
    nodes = spaced_folds(low, high, plan.step_deg) if craft.tips else ()
    nodes = approached(session, nodes, CURVE_STEP_DEG) if nodes else ()
    ways = _chosen(craft, plan)
    total = 1 + len(curve) + len(pairs_of(len(nodes))) + sum(study.weight for study in ways)
    done = 0

    def step(what: str, count: int = 1) -> None:
        nonlocal done
        done += count
        progress(what, min(done, total), total)

    base = min(max(0.0, low), high)
    flat = session.scene(Setting(base, base, plan.alpha_deg, 0.0, plan.airspeed, plan.density))
    points = _points(craft, plan, base)
    step("dimensions")
    sweep = _swept(craft, plan, curve, lambda: step("fold sweep")) if curve else None
    table = _mapped(craft, plan, nodes, lambda: step("map of folds")) if nodes else None
    documents, reasons = {}, {study.name: _why_not(study, craft, plan) for study in STUDIES}
    for study in ways:
        progress(study.title, done, total)
        try:
            documents[study.name] = study.made(craft, plan)
        except FoldspanError as error:
            reasons[study.name] = str(error)
        step(study.title, study.weight)
    return ReportData(
        craft, plan, dimensions(craft), flat, points, sweep, table, documents,
        {name: why for name, why in reasons.items() if why},
    )  # fmt: skip


def _mapped(
    craft: Biplane, plan: ReportPlan, nodes: Sequence[float], step: Callable[[], None]
) -> FoldMap:
    session = Session(craft, plan.grid, "all folds" if len(nodes) >= CHARTED_FROM else "none")
    return fold_map(session, nodes, plan.alphas_deg, step)


def _chosen(craft: Biplane, plan: ReportPlan) -> list[Study]:
    return [study for study in STUDIES if not _why_not(study, craft, plan)]


def _why_not(study: Study, craft: Biplane, plan: ReportPlan) -> str:
    """Why a report has no such study; empty if it has."""
    if study.name in plan.without:
        return "left out as asked (--without)"
    return study.missing(craft, plan)


def _points(craft: Biplane, plan: ReportPlan, base: float) -> dict[str, PointReport]:
    """Reports of the configurations; one that cannot be built is left out."""
    settings = {name: c.folds for name, c in craft.configurations.items()}
    settings = settings or {"as drawn": FoldAngles.symmetric(base) if craft.tips else FoldAngles()}
    setting = Setting(0.0, 0.0, plan.alpha_deg, 0.0, plan.airspeed, plan.density)
    found = {}
    for name, folds in settings.items():
        try:
            found[name] = solve_point(craft, folds, setting.flight_state, grid=plan.grid)
        except FoldspanError:
            continue
    return found


def _swept(
    craft: Biplane, plan: ReportPlan, folds: Sequence[float], step: Callable[[], None]
) -> "xr.Dataset":
    from vlm.study.dataset import sweep_dataset

    sweep = SweepPlan(
        folds_deg=tuple(folds),
        alphas_deg=plan.alphas_deg,
        grid=plan.grid,
        airspeed=plan.airspeed,
        density=plan.density,
        errors=True,
    )
    seen = 0

    def report(done: int, total: int) -> None:
        # A sweep counts its own solves, of which it may need fewer than there are folds.
        nonlocal seen
        while seen * total < done * len(folds):
            seen += 1
            step()

    results, _ = run_plan(craft, sweep, report=report)
    return sweep_dataset(craft, sweep, results)
