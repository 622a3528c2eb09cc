"""Power, schedule, mission and report, asked of a craft."""

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from vlm.constants import SEA_LEVEL_DENSITY
from vlm.errors import InputRefused
from vlm.front.answer import Answer
from vlm.front.datasets import gridded
from vlm.front.opened import Opened
from vlm.front.values import (
    Folds,
    Numbers,
    air_at,
    air_of,
    lattice,
    listed,
    number,
    one_of,
    whole,
)

if TYPE_CHECKING:
    from vlm.study.mission_study import MissionStudy
    from vlm.study.power_study import PowerStudy
    from vlm.study.schedule_study import ScheduleStudy


class WithPlans(Opened):
    """Power, schedule, mission, report."""

    def power(
        self,
        *,
        folds: Sequence[Folds] | np.ndarray = (),
        airspeeds: Numbers | None = None,
        climb_angle: float = 0.0,
        altitude: float = 0.0,
        body_angles: Numbers | None = None,
        intervals: bool = True,
        rows: int = 4,
        strips: int = 16,
    ) -> "Answer[PowerStudy]":
        """Electrical power against airspeed; all named folds of the file where none is given.

        Raises
        ------
        InputRefused : a number or name is not allowed, or the file lacks a block
        """
        from vlm.show.tables.power import power_table
        from vlm.study.power_results import power_dataset, power_document
        from vlm.study.power_study import PowerPlan, power_study

        speeds = listed("airspeeds", airspeeds)
        if speeds and (min(speeds) < 0.0 or max(speeds) > 150.0 or len(speeds) < 2):
            raise InputRefused("airspeeds: give at least two from 0 to 150 m/s")
        plan = PowerPlan(
            settings=self.fold_settings(folds),
            speeds=speeds,
            air=air_at(altitude),
            climb_angle_deg=number("climb_angle", climb_angle, -60.0, 80.0),
            grid=lattice(rows, strips, 20, 60),
            intervals=intervals,
            body_angles_deg=listed("body_angles", body_angles),
        )
        study = power_study(self.description, plan)
        document = power_document(study)
        table = power_table(document)
        return Answer("power", self.title, study, document, table, power_dataset(study))

    def schedule(
        self,
        *,
        fold_count: int = 11,
        altitude: float = 0.0,
        rows: int = 4,
        strips: int = 16,
        keep: str | Path | None = None,
    ) -> "Answer[ScheduleStudy]":
        """Fold of least electrical power at every airspeed.

        Raises
        ------
        InputRefused : a number is not allowed, or the file lacks a block
        """
        from vlm.show.tables.schedule import schedule_table
        from vlm.study.schedule_document import schedule_document
        from vlm.study.schedule_study import schedule_study

        study = schedule_study(
            self.description,
            folds=whole("fold_count", fold_count, 3, 60),
            air=air_at(altitude),
            grid=lattice(rows, strips, 40, 100),
            keep=None if keep is None else Path(keep),
        )
        document = schedule_document(study)
        dataset = gridded(document["ideal"], ["airspeed_m_s"])
        text = schedule_table(document)
        return Answer("schedule", self.title, study, document, text, dataset)

    def mission(
        self,
        *,
        legs: str | Path | None = None,
        fold_count: int = 7,
        altitude: float = 0.0,
        rows: int = 4,
        strips: int = 16,
        keep: str | Path | None = None,
    ) -> "Answer[MissionStudy]":
        """Time, energy and battery over the file's legs, or those of the mission file ``legs``.

        Raises
        ------
        InputRefused : a number or file is not allowed, or the file lacks a block
        """
        from vlm.description.mission_file import load_mission
        from vlm.show.tables.mission import mission_table
        from vlm.study.mission_answer import mission_document
        from vlm.study.mission_study import mission_study

        flown, title = self.description.mission, ""
        if legs is not None:
            read = load_mission(str(legs))
            flown, title = read.mission, read.title
        study = mission_study(
            self.description,
            flown,
            title=title,
            folds=whole("fold_count", fold_count, 3, 60),
            air=air_at(altitude),
            grid=lattice(rows, strips, 40, 100),
            keep=None if keep is None else Path(keep),
        )
        document = mission_document(study)
        return Answer("mission", self.title, study, document, mission_table(document))

    def report(
        self,
        out: str | Path,
        *,
        alpha: float = 4.0,
        step: float = 15.0,
        airspeed: float = 12.0,
        density: float = SEA_LEVEL_DENSITY,
        without: Sequence[str] = (),
        rows: int = 8,
        strips: int = 20,
    ) -> Path:
        """Write everything on one page (.html) that opens offline; returns its path.

        Raises
        ------
        InputRefused : another ending, an unknown study, or a number that is not allowed
        """
        from vlm.disk import write_whole
        from vlm.show.report.page import report_page
        from vlm.study.report_data import ReportPlan, gathered_report
        from vlm.study.report_studies import STUDIES

        if Path(out).suffix != ".html":
            raise InputRefused(f"out = {out}; the ending must be .html")
        if isinstance(without, str):
            raise InputRefused("without: give a list of names of studies")
        for name in without:
            one_of("without", name, [study.name for study in STUDIES])
        middle, air = number("alpha", alpha, -30.0, 30.0), air_of(airspeed, density)
        plan = ReportPlan(
            file=self.description.source_name,
            overrides=self.description.source.overrides,
            airspeed=air.airspeed,
            density=air.density,
            alpha_deg=middle,
            alphas_deg=(middle - 4.0, middle, middle + 4.0),
            step_deg=number("step", step, 2.0, 90.0),
            grid=lattice(rows, strips),
            without=tuple(without),
        )
        write_whole(Path(out), report_page(gathered_report(self.description, plan)).encode())
        return Path(out)
