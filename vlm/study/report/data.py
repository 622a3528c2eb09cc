"""Everything a report shows, gathered: sweeps, map, and each study that the file has data for."""

import shlex
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from vlm.constants import DEFAULT_AIRSPEED, SEA_LEVEL_DENSITY
from vlm.description.folds import FoldAngles
from vlm.description.models import Biplane
from vlm.errors import FoldspanError
from vlm.lattice.cellule import Grid
from vlm.progress import Progress, silent
from vlm.study.check.dimensions import dimensions
from vlm.study.point.fold_map import FoldMap
from vlm.study.point.point import PointReport, solve_point
from vlm.study.point.session import Scene, Session, Setting
from vlm.study.report.parts import MAP, SWEEP, made_parts, why_not
from vlm.study.report.studies import STUDIES

if TYPE_CHECKING:
    import xarray as xr

    from vlm.study.hinge.results import HingeStudy
    from vlm.study.lateral.results import LateralStudy
    from vlm.study.roll.results import RollStudy


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
    airspeed: float = DEFAULT_AIRSPEED
    density: float = SEA_LEVEL_DENSITY
    alpha_deg: float = 4.0
    alphas_deg: tuple[float, ...] = (0.0, 4.0, 8.0)
    step_deg: float = 15.0
    grid: Grid = field(default_factory=Grid)
    log: Path | None = None
    legs: str | None = None
    without: tuple[str, ...] = ()

    @property
    def legs_option(self) -> str:
        """The option of the legs, without their folder; may be empty."""
        return "" if self.legs is None else f"--legs {shlex.quote(Path(self.legs).name)}"

    def command(self, name: str, options: str = "", *, air: bool = True) -> str:
        """A command line of this file and lattice; a page may be shown where no path is."""
        words = ["foldspan", name, shlex.quote(Path(self.file).name)]
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


def gathered_report(
    craft: Biplane, plan: ReportPlan, progress: Progress = silent, *, workers: int = 1
) -> ReportData:
    """Compute everything a report shows; a study that cannot be made gives its reason.

    Parameters
    ----------
    progress : hears what is being done, and how many steps are done of how many
    workers : local processes; the numbers are the same for any number of them

    Raises
    ------
    InputRefused : the geometry cannot be built
    ComputationFailed : something ended a worker
    """
    flat = Session(craft, plan.grid).scene(
        Setting(0.0, 0.0, plan.alpha_deg, 0.0, plan.airspeed, plan.density)
    )
    points = _points(craft, plan)
    reasons = {study.name: why_not(study, craft, plan) for study in STUDIES}
    found = {}
    for name, result, why in made_parts(craft, plan, progress, workers):
        found[name] = result
        reasons[name] = why
    sweep, table = (found.pop(part.name, None) for part in (SWEEP, MAP))
    return ReportData(
        craft, plan, dimensions(craft), flat, points, sweep, table,
        {study.name: found[study.name] for study in STUDIES if not reasons[study.name]},
        {name: why for name, why in reasons.items() if why},
    )  # fmt: skip


def _points(craft: Biplane, plan: ReportPlan) -> dict[str, PointReport]:
    """Reports of the configurations; one that cannot be built is left out."""
    settings = {name: c.folds for name, c in craft.configurations.items()}
    settings = settings or {"as drawn": FoldAngles()}
    setting = Setting(0.0, 0.0, plan.alpha_deg, 0.0, plan.airspeed, plan.density)
    found = {}
    for name, folds in settings.items():
        try:
            found[name] = solve_point(craft, folds, setting.flight_state, grid=plan.grid)
        except FoldspanError:
            continue
    return found
