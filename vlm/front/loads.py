"""Loads on the wings, asked of a craft."""

from collections.abc import Mapping
from typing import TYPE_CHECKING

import numpy as np

from vlm.constants import DEFAULT_AIRSPEED, SEA_LEVEL_DENSITY
from vlm.errors import ComputationFailed
from vlm.front.answer import Answer, View
from vlm.front.datasets import strip_dataset
from vlm.front.opened import Opened
from vlm.front.values import (
    LARGEST,
    LEAST,
    Folds,
    Numbers,
    Thrust,
    Wake,
    air_of,
    lattice,
    number,
    one_of,
    thrust_of,
)

if TYPE_CHECKING:
    import xarray as xr

    from vlm.study.point.point import PointReport


class WithLoads(Opened):
    """One setting, many settings, a picture."""

    def point(
        self,
        *,
        alpha: float,
        beta: float = 0.0,
        fold: Folds = 0.0,
        airspeed: float = DEFAULT_AIRSPEED,
        density: float = SEA_LEVEL_DENSITY,
        p_hat: float = 0.0,
        q_hat: float = 0.0,
        r_hat: float = 0.0,
        thrust: Thrust = None,
        rows: int = 8,
        strips: int = 20,
        wake: Wake = "stream",
        errors: bool = True,
    ) -> "Answer[PointReport]":
        """Loads, derivatives, hinge moments and strip loads of one setting.

        Parameters
        ----------
        alpha, beta : angle of attack [deg]; sideslip from starboard [deg]
        fold : of both sides [deg], a pair of port and starboard [deg], or a name of the file
        airspeed, density : airspeed [m/s]; air density [kg/m^3]
        p_hat, q_hat, r_hat : reduced rates of roll, pitch and yaw [1]
        thrust : of all rotors, shared alike [N], or "trim", whose slipstream blows over the wings

        Raises
        ------
        InputRefused : a number or name is not allowed, or the fold cannot be built
        ComputationFailed : the system cannot be solved
        """
        from vlm.loads.state import FlightState
        from vlm.show.tables.point import point_table
        from vlm.study.point.document import point_document
        from vlm.study.point.point import solve_point

        one_of("wake", wake, ("stream", "craft", "relaxed"))
        rates = {"p_hat": p_hat, "q_hat": q_hat, "r_hat": r_hat}
        state = FlightState(
            np.radians(number("alpha", alpha, -180.0, 180.0)),
            np.radians(number("beta", beta, -90.0, 90.0)),
            **{name: number(name, value, -100.0, 100.0) for name, value in rates.items()},
            airspeed=number("airspeed", airspeed, LEAST, LARGEST),
            density=number("density", density, LEAST, LARGEST),
        )
        report = solve_point(
            self.description,
            self.fold_angles(fold),
            state,
            grid=lattice(rows, strips),
            wake=wake,
            errors=errors,
            thrust=thrust_of(thrust),
        )
        table = point_table(self.title, report)
        document = point_document(report)
        dataset = strip_dataset(document["strips"])
        return Answer("point", self.title, report, document, table, dataset)

    def sweep(
        self,
        *,
        folds: Numbers,
        alphas: Numbers = 4.0,
        betas: Numbers = 0.0,
        asymmetric: bool = False,
        over: Mapping[str, Numbers] | None = None,
        airspeed: float = DEFAULT_AIRSPEED,
        density: float = SEA_LEVEL_DENSITY,
        thrust: Thrust = None,
        rows: int = 8,
        strips: int = 20,
        wake: Wake = "stream",
        errors: bool = False,
        exact: bool = False,
    ) -> "xr.Dataset":
        """Coefficients and derivatives over folds and angles [deg], as a labelled dataset.

        Parameters
        ----------
        folds, alphas, betas : one number, a list or an array [deg]
        asymmetric : fold port and starboard in all pairs of the folds
        over : further axes, values by key path of the file
        thrust : of all rotors, shared alike [N], or "trim", whose slipstream blows over the wings

        Raises
        ------
        InputRefused : no numbers, values that stand twice, or an unknown key
        ComputationFailed : no case could be computed
        """
        from vlm.study.sweep.dataset import sweep_dataset
        from vlm.study.sweep.plan import KeyAxis, SweepPlan, axis_of
        from vlm.study.sweep.running import run_plan

        one_of("wake", wake, ("stream", "craft", "relaxed"))
        axes = tuple(KeyAxis(key, axis_of(values, key)) for key, values in (over or {}).items())
        for axis in axes:
            for value in (axis.values[0], axis.values[-1]):
                self.description.overridden({axis.key: value})
        plan = SweepPlan(
            folds_deg=axis_of(folds, "folds"),
            alphas_deg=axis_of(alphas, "alphas"),
            betas_deg=axis_of(betas, "betas"),
            asymmetric=asymmetric,
            keys=axes,
            grid=lattice(rows, strips),
            airspeed=number("airspeed", airspeed, LEAST, LARGEST),
            density=number("density", density, LEAST, LARGEST),
            wake=wake,
            errors=errors,
            exact=exact,
            thrust=thrust_of(thrust),
        )
        results, _ = run_plan(self.description, plan)
        dataset = sweep_dataset(self.description, plan, results)
        failures = [str(text) for text in dataset["failure"].values.ravel()]
        if all(failures):
            raise ComputationFailed(f"no case could be computed: {failures[0]}")
        return dataset

    def view(
        self,
        *,
        alpha: float = 4.0,
        beta: float = 0.0,
        fold: Folds = 0.0,
        airspeed: float = DEFAULT_AIRSPEED,
        density: float = SEA_LEVEL_DENSITY,
        rows: int = 8,
        strips: int = 20,
    ) -> View:
        """The craft with its loads, to be seen in a notebook or saved; angles in [deg].

        Raises
        ------
        InputRefused : a number or name is not allowed, or the fold cannot be built
        """
        from vlm.study.point.session import Session, Setting

        folds, air = self.fold_angles(fold), air_of(airspeed, density)
        setting = Setting(
            folds.left_deg,
            folds.right_deg,
            number("alpha", alpha, -180.0, 180.0),
            number("beta", beta, -90.0, 90.0),
            air.airspeed,
            air.density,
        )
        session = Session(self.description, lattice(rows, strips))
        return View(self.title, session.scene_with_errors(setting))
