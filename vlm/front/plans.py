"""Power, schedule, mission, comparison and report, asked of a craft."""

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Literal

import numpy as np

from vlm.constants import SEA_LEVEL_DENSITY
from vlm.errors import InputRefused
from vlm.front.answer import Answer
from vlm.front.datasets import comparison_dataset, gridded
from vlm.front.opened import Opened
from vlm.front.values import (
    Folds,
    Numbers,
    air_at,
    lattice,
    listed,
    number,
    one_of,
    whole,
)
from vlm.progress import silent
from vlm.study.asked import MISSION_FOLDS, SCHEDULE_FOLDS

if TYPE_CHECKING:
    from vlm.study.compare.results import Comparison
    from vlm.study.mission.study import MissionStudy
    from vlm.study.power.study import PowerStudy
    from vlm.study.schedule.study import ScheduleStudy


class WithPlans(Opened):
    """Power, schedule, mission, comparison, report.

    Where no airspeed is given it is 12 m/s, or the nearest to it of the craft's schedule.
    """

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
        wake: Literal["stream", "craft"] = "stream",
    ) -> "Answer[PowerStudy]":
        """Electrical power against airspeed; all named like folds of the file where none is given.

        Raises
        ------
        InputRefused : a number or name is not allowed, or the file lacks a block
        """
        from vlm.show.tables.power import power_table
        from vlm.study.power.results import power_dataset, power_document
        from vlm.study.power.study import PowerPlan, level_settings, power_study

        one_of("wake", wake, ("stream", "craft"))
        speeds = listed("airspeeds", airspeeds)
        if speeds and (min(speeds) < 0.0 or max(speeds) > 150.0 or len(speeds) < 2):
            raise InputRefused("airspeeds: give at least two from 0 to 150 m/s")
        asked = isinstance(folds, str | int | float) or len(folds) > 0
        plan = PowerPlan(
            settings=self.fold_settings(folds) if asked else level_settings(self.description),
            speeds=speeds,
            air=air_at(altitude),
            climb_angle_deg=number("climb_angle", climb_angle, -60.0, 80.0),
            grid=lattice(rows, strips, 20, 60),
            intervals=intervals,
            body_angles_deg=listed("body_angles", body_angles),
            wake=wake,
        )
        study = power_study(self.description, plan)
        document = power_document(study)
        table = power_table(document)
        return Answer("power", self.title, study, document, table, power_dataset(study))

    def schedule(
        self,
        *,
        fold_count: int = SCHEDULE_FOLDS,
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
        from vlm.study.schedule.document import schedule_document
        from vlm.study.schedule.study import schedule_study

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
        fold_count: int = MISSION_FOLDS,
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
        from vlm.study.mission.answer import mission_document
        from vlm.study.mission.study import mission_study

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

    def compare(
        self,
        *others: Opened,
        variants: Sequence[Mapping[str, object]] = (),
        folds: Sequence[Folds] | np.ndarray = (),
        alpha: float = 4.0,
        airspeed: float | None = None,
        density: float = SEA_LEVEL_DENSITY,
        power: bool = True,
        mission: bool = False,
        legs: str | Path | None = None,
        rows: int = 8,
        strips: int = 20,
    ) -> "Answer[Comparison]":
        """This craft against others, against variants of itself, or its settings side by side.

        Parameters
        ----------
        others : further craft
        variants : each a table of key paths and values, as for :meth:`changed`
        folds : settings of all; of one craft alone all that its file names if left out
        power, mission : whether power curves are compared; whether a mission is flown
        legs : the mission file, instead of the legs of this craft's file

        Raises
        ------
        InputRefused : nothing to compare, names that are alike, or a number that is not allowed
        """
        from vlm.description.mission_file import load_mission
        from vlm.show.tables.compare import compare_table
        from vlm.study.compare.numbers import entries
        from vlm.study.compare.study import ComparePlan, compare_study

        crafts = {Path(one.description.source_name).stem: one for one in (self, *others)}
        if len(crafts) <= len(others):
            raise InputRefused("two of the craft have the same name; rename one to tell them apart")
        for keys in variants:
            name = ";".join(f"{key}={value}" for key, value in keys.items())
            crafts[name] = self.changed(keys)
        flown = self.description.mission if legs is None else load_mission(str(legs)).mission
        if mission and not flown:
            raise InputRefused("[[mission]] is missing; it, or legs, names the legs")
        plan = ComparePlan(
            alpha_deg=number("alpha", alpha, -180.0, 180.0),
            air=self.level_air(airspeed, density),
            grid=lattice(rows, strips),
            power=power,
            mission=flown if mission or legs is not None else (),
        )
        wanted = np.size(np.asarray(folds, dtype=object)) > 0
        found = compare_study(
            entries(
                {name: one.description for name, one in crafts.items()},
                lambda craft: Opened(craft).fold_settings(folds) if wanted else {},
            ),
            plan,
            silent,
        )
        document, table = found.document(), compare_table(found)
        return Answer("compare", self.title, found, document, table, comparison_dataset(found))

    def report(
        self,
        out: str | Path,
        *,
        alpha: float = 4.0,
        step: float = 15.0,
        airspeed: float | None = None,
        density: float = SEA_LEVEL_DENSITY,
        legs: str | Path | None = None,
        log: str | Path | None = None,
        without: Sequence[str] = (),
        rows: int = 8,
        strips: int = 20,
    ) -> Path:
        """Write everything on one page (.html) that opens offline; returns its path.

        Parameters
        ----------
        legs : a mission file, instead of the legs of this craft's file
        log : a flight log to hold against the prediction
        without : names of studies to leave out

        Raises
        ------
        InputRefused : another ending, an unknown study, no such file, a number that is not allowed
        """
        from vlm.description.files import found_log
        from vlm.description.mission_file import load_mission
        from vlm.disk import write_whole
        from vlm.show.report.page import report_page
        from vlm.study.report.data import ReportPlan, gathered_report
        from vlm.study.report.studies import STUDIES

        if Path(out).suffix != ".html":
            raise InputRefused(f"out = {out}; the ending must be .html")
        if isinstance(without, str):
            raise InputRefused("without: give a list of names of studies")
        for name in without:
            one_of("without", name, [study.name for study in STUDIES])
        if legs is not None:
            load_mission(str(legs))  # refused before the work
        middle, air = number("alpha", alpha, -30.0, 30.0), self.level_air(airspeed, density)
        plan = ReportPlan(
            file=self.description.source_name,
            overrides=self.description.source.overrides,
            airspeed=air.airspeed,
            density=air.density,
            alpha_deg=middle,
            alphas_deg=(middle - 4.0, middle, middle + 4.0),
            step_deg=number("step", step, 2.0, 90.0),
            grid=lattice(rows, strips),
            legs=None if legs is None else str(legs),
            log=None if log is None else found_log(Path(log)),
            without=tuple(without),
        )
        write_whole(Path(out), report_page(gathered_report(self.description, plan)).encode())
        return Path(out)
