"""Margins of a fold schedule's constraints over fold and airspeed: positive inside."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from vlm.constants import SEA_LEVEL_DENSITY, Floats
from vlm.description.actuator import Actuator
from vlm.description.folds import FoldAngles
from vlm.description.schedule import Schedule
from vlm.errors import InputRefused
from vlm.flight.mechanism.servo import fold_speed
from vlm.flight.trim.power_book import FoldCurve, PowerBook, symmetric_limits
from vlm.flight.trim.powered import POWER_GRID
from vlm.frames import cross
from vlm.loads.coefficients import coefficients, contracted, derivatives
from vlm.loads.craft_loads import CraftLoads
from vlm.loads.fold_engine import FoldEngine
from vlm.loads.state import FlightState

WING_BORNE = 0.5
"""Share of the weight on the wings above which constraints on the wings count [1]."""
FREE = 1e9
"""Margin where a constraint does not count."""


@dataclass(frozen=True)
class ScheduleLimits:
    """Margins of every constraint.

    Attributes
    ----------
    folds_deg : shape (folds,) [deg]
    tables : by constraint, shape (folds, speeds), in the constraint's own unit; NaN where it could
        not be worked out, which counts as outside
    reserve_deg : asymmetric range that must be left on both sides of the schedule [deg]
    limits_deg : lowest and highest symmetric fold [deg]
    forbidden_deg : ranges that must not be held [deg]
    """

    folds_deg: Floats
    tables: Mapping[str, Floats]
    reserve_deg: float
    limits_deg: tuple[float, float]
    forbidden_deg: tuple[tuple[float, float], ...]

    def margins(self, fold_deg: float, speed_index: int) -> dict[str, float]:
        """Margin of every constraint at any fold, at one tabulated speed."""
        found = {
            name: FoldCurve(self.folds_deg, table[:, speed_index])(fold_deg)
            for name, table in self.tables.items()
        }
        return found | self.of_fold(fold_deg)

    def of_fold(self, fold_deg: float) -> dict[str, float]:
        """Margins that hang on the fold alone [deg]."""
        low, high = self.limits_deg
        room = min(fold_deg - low, high - fold_deg) - self.reserve_deg
        found = {"room to roll" if self.reserve_deg else "fold limits": room}
        for start, end in self.forbidden_deg:
            outside = max(start - fold_deg, fold_deg - end)
            found[f"forbidden from {start:g} to {end:g} deg"] = outside
        return found


def schedule_limits(book: PowerBook, schedule: Schedule) -> ScheduleLimits:
    """Work out the margins of a schedule's constraints on a book's trims.

    Stability, rolling moment and hinge moments come from the lattice at each trim's angle of
    attack, in the free stream, without slipstream and stall.

    Raises
    ------
    InputRefused : a constraint needs a block that the file does not have
    """
    craft = book.craft
    engine = FoldEngine(craft, book.grid or POWER_GRID, fold_rates=False)
    borne = book.table("wing_share") > WING_BORNE
    tables: dict[str, Floats] = {}
    if schedule.stall_margin_min_deg is not None:
        margin = book.table("stall_margin_deg") - schedule.stall_margin_min_deg
        tables["stall margin"] = np.where(borne, margin, FREE)
    if schedule.rotor_margin_min is not None:
        tables["thrust left on the rotors"] = book.rotor_margin - schedule.rotor_margin_min
    if schedule.dihedral_effect != "any":
        slopes = _over_book(book, engine, _dihedral)
        sense = -1.0 if schedule.dihedral_effect == "stable" else 1.0
        margin = sense * slopes - schedule.dihedral_effect_min_per_rad
        tables["dihedral effect"] = np.where(borne, margin, FREE)
    if schedule.roll_moment_min_N_m is not None and schedule.roll_reserve_deg is not None:
        moments = roll_moments(book, engine, schedule.roll_reserve_deg)
        tables["rolling moment"] = np.where(borne, moments - schedule.roll_moment_min_N_m, FREE)
    if schedule.folding_rate_min_deg_s is not None:
        if craft.actuator is None:
            raise InputRefused(
                f"{craft.source_name}: [actuator] is missing; schedule.folding_rate_min_deg_s"
                " needs it"
            )
        rates = _folding_rates(book, engine, craft.actuator)
        tables["folding rate"] = rates - schedule.folding_rate_min_deg_s
    if schedule.hinge_moment_max_N_m is not None:
        moments = _over_book(book, engine, _greatest_hinge_moment)
        tables["hinge moment"] = schedule.hinge_moment_max_N_m - moments
    return ScheduleLimits(
        folds_deg=book.folds_deg,
        tables=tables,
        reserve_deg=schedule.roll_reserve_deg or 0.0,
        limits_deg=symmetric_limits(craft),
        forbidden_deg=schedule.forbidden_deg,
    )


def _states(book: PowerBook, fold_index: int) -> FlightState:
    """Flight states of one fold's trims; hover counts as still air at no angle."""
    alpha = np.radians(book.table("alpha_deg")[fold_index])
    density = SEA_LEVEL_DENSITY if book.air is None else book.air.density_kg_m3
    return FlightState(alpha=np.nan_to_num(alpha), airspeed=book.speeds, density=density)


def _over_book(book: PowerBook, engine: FoldEngine, value) -> Floats:  # type: ignore[no-untyped-def]
    """A value of loads and states over (folds, speeds), NaN where there is no trim."""
    table = np.full((len(book.folds_deg), len(book.speeds)), np.nan)
    for i, fold in enumerate(book.folds_deg):
        if book.curves[i] is None:
            continue
        loads = engine.loads(FoldAngles.symmetric(float(fold)))
        known = np.isfinite(book.table("body_angle_deg")[i])
        table[i, known] = value(loads, _states(book, i))[known]
    return table


def _dihedral(loads: CraftLoads, state: FlightState) -> Floats:
    return np.asarray(derivatives(loads, state)["body"]["Cl_beta"])


def roll_moments(book: PowerBook, engine: FoldEngine, reserve: float) -> Floats:
    """Rolling moment with the sides folded apart by the reserve, (folds, speeds) [N m]."""
    low, high = symmetric_limits(book.craft)
    table = np.full((len(book.folds_deg), len(book.speeds)), np.nan)
    for i, fold in enumerate(book.folds_deg):
        # Near the ends less than the reserve is there; that is a constraint of its own.
        apart = (max(low, float(fold) - reserve), min(high, float(fold) + reserve))
        try:
            loads = engine.loads(FoldAngles(*apart))
        except InputRefused:
            continue
        state = _states(book, i)
        size = np.abs(np.asarray(coefficients(loads, state).Cl))
        reference = loads.reference
        table[i] = size * state.dynamic_pressure * reference.area * reference.span
    return table


def _folding_rates(book: PowerBook, engine: FoldEngine, actuator: Actuator) -> Floats:
    """Speed of the slowest tip against the air, either way, (folds, speeds) [deg/s]."""
    friction = max(actuator.friction)

    def slowest(loads: CraftLoads, state: FlightState) -> Floats:
        moments = np.max([np.abs(m) for m in hinge_moments_of(loads, state).values()], axis=0)
        return np.degrees([fold_speed(actuator, float(m), friction) for m in moments])

    return _over_book(book, engine, slowest)


def _greatest_hinge_moment(loads: CraftLoads, state: FlightState) -> Floats:
    """Largest size of the air's moment about any hinge [N m]."""
    sizes = [np.abs(moment) for moment in hinge_moments_of(loads, state).values()]
    return np.asarray(np.max(sizes, axis=0))


def hinge_moments_of(loads: CraftLoads, state: FlightState) -> dict[str, Floats]:
    """Moment of the air about each hinge, positive raising the tip [N m]."""
    amounts = state.amounts(loads.reference, loads.columns)
    scale = np.asarray(state.density * np.square(state.airspeed))
    result = {}
    for body, line in loads.lattice.hinges.items():
        own = [patch.body == body for patch in loads.lattice.patches]
        wrench = contracted(loads.surface.wrench[own].sum(axis=0), amounts, amounts)
        arm = loads.reference.moment_point - line.point
        about = wrench[..., 3:] + cross(
            np.broadcast_to(arm, (*wrench.shape[:-1], 3)), wrench[..., :3]
        )
        result[body] = about @ line.axis * scale
    return result
