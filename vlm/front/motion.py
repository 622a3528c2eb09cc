"""Rolling, stability, hinges and motion in time, asked of a craft."""

from typing import TYPE_CHECKING

from vlm.constants import SEA_LEVEL_DENSITY
from vlm.front.answer import Answer
from vlm.front.datasets import fold_map_dataset, hinge_dataset, lateral_dataset
from vlm.front.opened import Opened
from vlm.front.values import (
    LARGEST,
    LEAST,
    Numbers,
    Thrust,
    lattice,
    listed,
    number,
    plain,
    thrust_of,
)
from vlm.progress import silent

if TYPE_CHECKING:
    from vlm.study.hinge.results import HingeStudy
    from vlm.study.lateral.results import LateralStudy
    from vlm.study.motion.results import MotionStudy
    from vlm.study.roll.results import RollStudy


class WithMotion(Opened):
    """Roll, lateral stability, hinges, motion in time.

    Where no airspeed is given it is 12 m/s, or the nearest to it of the craft's schedule.
    """

    def roll(
        self,
        *,
        base: float = 0.0,
        airspeed: float | None = None,
        density: float = SEA_LEVEL_DENSITY,
        airspeeds: Numbers | None = None,
        step: float = 15.0,
        to: tuple[float, float] | None = None,
        duration: float = 4.0,
        thrust: Thrust = None,
        rows: int = 8,
        strips: int = 20,
    ) -> "Answer[RollStudy]":
        """Roll authority over port and starboard folds; bank after a command to ``to`` [deg].

        ``thrust`` of all rotors, shared alike [N], or "trim": their slipstream blows on the wings.

        Raises
        ------
        InputRefused : a number is not allowed, or the file lacks a block
        """
        from vlm.show.tables.roll import roll_table
        from vlm.study.roll.study import RollPlan, roll_study

        plan = RollPlan(
            air=self.level_air(airspeed, density),
            base_deg=number("base", base, -180.0, 180.0),
            step_deg=number("step", step, 2.0, 60.0),
            airspeeds=listed("airspeeds", airspeeds, positive=True),
            target=None if to is None else self.fold_angles(to),
            duration=number("duration", duration, 0.1, 60.0),
            grid=lattice(rows, strips),
            thrust=thrust_of(thrust),
        )
        study = roll_study(self.description, plan, silent)
        document = study.document()
        dataset = fold_map_dataset(document["map"])
        return Answer("roll", self.title, study, document, roll_table(study), dataset)

    def lateral(
        self,
        *,
        folds: Numbers | None = None,
        alphas: Numbers = (0.0, 4.0, 8.0),
        shares: Numbers | None = None,
        airspeed: float | None = None,
        density: float = SEA_LEVEL_DENSITY,
        airspeeds: Numbers | None = None,
        thrust: Thrust = None,
        rows: int = 8,
        strips: int = 20,
    ) -> "Answer[LateralStudy]":
        """Lateral derivatives and modes of motion against symmetric fold [deg].

        ``thrust`` of all rotors, shared alike [N], or "trim": their slipstream blows on the wings.

        Raises
        ------
        InputRefused : a number is not allowed, or the file lacks a block
        """
        from vlm.show.tables.lateral import lateral_table
        from vlm.study import asked
        from vlm.study.lateral.study import LateralPlan, lateral_study

        air = self.level_air(airspeed, density)
        wanted = listed("folds", folds)
        wanted = wanted or asked.default_folds(self.description, asked.LATERAL_FOLDS)
        around = asked.mode_speeds(self.description.schedule, air.airspeed)
        plan = LateralPlan(
            air=air,
            folds_deg=wanted,
            alphas_deg=listed("alphas", alphas),
            shares_deg=listed("shares", shares) or asked.some_of(wanted),
            airspeeds=listed("airspeeds", airspeeds, positive=True) or around,
            grid=lattice(rows, strips),
            thrust=thrust_of(thrust),
        )
        study = lateral_study(self.description, plan, silent)
        document = study.document()
        dataset = lateral_dataset(document["folds"])
        return Answer("lateral", self.title, study, document, lateral_table(study), dataset)

    def hinge(
        self,
        *,
        folds: Numbers | None = None,
        airspeed: float | None = None,
        density: float = SEA_LEVEL_DENSITY,
        airspeeds: Numbers | None = None,
        load_factors: Numbers | None = None,
        gust_speed: float | None = None,
        thrust: Thrust = None,
        rows: int = 8,
        strips: int = 20,
    ) -> "Answer[HingeStudy]":
        """Moments about the hinges, worm and servo, loads along the wings; folds in [deg].

        ``gust_speed`` of a sudden upward gust whose load factor and moments are wanted [m/s].
        ``thrust`` of all rotors, shared alike [N], or "trim": their slipstream blows on the wings.

        Raises
        ------
        InputRefused : a number is not allowed, or the file lacks a block
        """
        from vlm.show.tables.hinge import hinge_table
        from vlm.study import asked
        from vlm.study.hinge.results import HingePlan
        from vlm.study.hinge.study import hinge_study

        air = self.level_air(airspeed, density)
        wanted = listed("folds", folds)
        around = asked.hinge_speeds(self.description.schedule, air.airspeed)
        plan = HingePlan(
            air=air,
            folds_deg=wanted or asked.default_folds(self.description, asked.HINGE_FOLDS),
            airspeeds=listed("airspeeds", airspeeds, positive=True) or around,
            load_factors=listed("load_factors", load_factors, positive=True),
            gust_speed=None
            if gust_speed is None
            else number("gust_speed", gust_speed, asked.LEAST_GUST, asked.GREATEST_GUST),
            grid=lattice(rows, strips),
            thrust=thrust_of(thrust),
        )
        study = hinge_study(self.description, plan, silent)
        document = study.document()
        dataset = hinge_dataset(document["moments"])
        return Answer("hinge", self.title, study, document, hinge_table(study), dataset)

    def motion(
        self,
        scenario: str | None = None,
        *,
        density: float = SEA_LEVEL_DENSITY,
        law: bool = True,
        lag: bool = True,
        slipstream: bool = True,
        least_friction: bool = False,
        errors: bool = True,
        rows: int = 8,
        strips: int = 20,
        **keys: object,
    ) -> "Answer[MotionStudy]":
        """The craft in time: tips that fold, jam or come loose; gusts, failures.

        Parameters
        ----------
        scenario : of the file's [motion]; None starts from an empty one
        law, lag : whether the file's stabilising law acts; whether loads follow late and air that
            the craft sets in motion counts
        slipstream : whether the rotors blow over the wings, where the file has it so
        errors : whether the scenario is run on a coarser lattice too
        keys : of a scenario, as in [motion], which override it: ``to="dash"``, ``gust="side"``

        Raises
        ------
        InputRefused : nothing happens, a key is unknown, or the file lacks a block
        """
        from vlm.flight.simulation.building import Modelled
        from vlm.show.tables.motion import motion_table
        from vlm.study.motion.dataset import motion_dataset
        from vlm.study.motion.scenarios import scenario_of
        from vlm.study.motion.study import MotionPlan, motion_study

        plan = MotionPlan(
            scenario=scenario_of(self.description, scenario, plain(keys)),
            modelled=Modelled(
                grid=lattice(rows, strips),
                density=number("density", density, LEAST, LARGEST),
                lagged=lag,
                apparent=lag,
                slipstream=slipstream,
                friction=0 if least_friction else 1,
            ),
            law=law,
            errors=errors,
        )
        study = motion_study(self.description, plan, silent)
        document, table = study.document(), motion_table(study)
        return Answer("motion", self.title, study, document, table, motion_dataset(study))
