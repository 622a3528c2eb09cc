"""What a fold schedule must keep to: smooth signed quantities, and margins made of them.

Every constraint reads quantities that are smooth over fold and airspeed and keep their sign: the
rolling moment, Cl_beta, each hinge's moment, each limit's own distance, the least angle to stall of
each part of the wings. Those are what is interpolated; a margin is made of them at the very end, so
that a size, a least or a largest never hides a zero between two folds.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from vlm.constants import Floats
from vlm.description.models import Biplane
from vlm.description.schedule import Schedule
from vlm.errors import InputRefused
from vlm.flight.plan.fold_loads import FoldLoads
from vlm.flight.plan.tip_drive import hinge_bodies, slowest_rate, tip_weights
from vlm.flight.trim.power_book import POWER, PowerBook
from vlm.flight.trim.power_curve import PowerPoint
from vlm.flight.trim.powered import PoweredCraft
from vlm.flight.trim.trim_measures import BLOWN, OF_ROTOR
from vlm.power.propulsion import electrical_power

HIGHEST_THRUST = "highest thrust"
ROLL_MOMENT = "rolling moment"
NO_TRIM = "no trim"
CHART_ROOM = 2.0
"""Errors of a chart, as held against solves, that a verdict is kept clear of [1]."""
TOUCH = 1e-9
"""A margin so far below zero still counts as kept, in its own unit: folds are rounded to it."""
HINGE = "hinge moment of "
DRIVE = "moment on the drive of "
"""The air's about the hinge and the weight of the tip together."""
STALL = "stall margin of "
SHAFT = "shaft power of "


FORBIDDEN = "forbidden from"
"""How the name of a range of folds that must not be held begins."""


def constraint_words(name: str) -> str:
    """A constraint's name as a noun in a sentence."""
    return f"the folds {name}" if name.startswith(FORBIDDEN) else name


def keep_words(name: str) -> str:
    """A constraint's name behind "keep" or "does not keep"."""
    clear = "clear of " if name.startswith(FORBIDDEN) else ""
    return f"{clear}{constraint_words(name)}"


@dataclass(frozen=True)
class Constraint:
    """One thing to keep to.

    Attributes
    ----------
    name, unit : of the constraint and its margin
    of_wings : whether it asks something of the wings, so that it counts only where they carry
    reads : names of the quantities it is made of
    margin : from their values, shape (..., quantities), to the margin, shape (...)
    """

    name: str
    unit: str
    of_wings: bool
    reads: tuple[str, ...]
    margin: Callable[[Floats], Floats]


def _least_over(bound: float) -> Callable[[Floats], Floats]:
    return lambda values: np.asarray(np.min(values, axis=-1) - bound)


@dataclass(frozen=True)
class Setting:
    """A trim at one fold and airspeed with all that the constraints read, solved directly.

    Attributes
    ----------
    fold_deg, speed : [deg], [m/s]
    point : the trim
    values : shape (1 + quantities,), electrical power [W] and the quantities; NaN without a trim
    margins : by constraint, in its own unit; negative beyond it
    quantities : the values by name, the power left out
    is_joined : whether tips touch the other wing there; then nothing is smooth to either side
    is_solved : whether loads of the lattice were solved at this very fold, not read off a chart
    """

    fold_deg: float
    speed: float
    point: PowerPoint
    values: Floats
    margins: Mapping[str, float]
    quantities: Mapping[str, float]
    is_joined: bool = False
    is_solved: bool = True

    @property
    def power(self) -> float:
        """Electrical power [W]; NaN without a trim."""
        return float(self.values[0])

    @property
    def passed(self) -> tuple[str, ...]:
        """Constraints that are passed, the worst by its own unit in no order."""
        if not np.isfinite(self.power):
            return (NO_TRIM,)
        return tuple(name for name, margin in self.margins.items() if not margin >= -TOUCH)

    @property
    def reason(self) -> str:
        """All that is passed, in words; empty where nothing is."""
        return " and ".join(self.passed)

    @property
    def is_allowed(self) -> bool:
        """Whether there is a trim within every constraint."""
        return not self.passed


@dataclass(frozen=True)
class Constraints:
    """The constraints of a schedule on one craft.

    Stability, rolling moment and hinge moments come from the lattice at a trim's angle of attack,
    in the free stream, without slipstream and stall; the dihedral effect with the drag areas.

    Attributes
    ----------
    craft, schedule : the descriptions
    loads : of the lattice
    limit_names : of rotors and battery, as trims name their margins
    idle_power : shaft power about which a rotor goes over to being driven by the air [W]
    """

    craft: Biplane
    schedule: Schedule
    loads: FoldLoads
    limit_names: tuple[str, ...]
    idle_power: float

    @classmethod
    def of(cls, book: PowerBook, schedule: Schedule) -> "Constraints":
        """Constraints of a schedule on the craft of a book.

        Raises
        ------
        InputRefused : a constraint needs a block that the file does not have
        """
        craft = book.craft
        if schedule.folding_rate_min_deg_s is not None and craft.actuator is None:
            raise InputRefused(
                f"{craft.source_name}: [actuator] is missing; schedule.folding_rate_min_deg_s"
                " needs it"
            )
        places = craft.named_sections.items()
        bare = [place for place, name in places if not name and not place.startswith("fins.")]
        if schedule.stall_margin_min_deg is not None and bare:
            raise InputRefused(
                f"{craft.source_name}: {', '.join(bare)} without a section;"
                " schedule.stall_margin_min_deg needs one on every part of the wings"
            )
        curves = [curve for curve in book.curves if curve is not None]
        points = [point for curve in curves for point in curve.points]
        names = next((p.measures.margins for p in points if p.measures is not None), {})
        # Schedules on one book share its loads, and so their charts; one fold needs none.
        reserve = schedule.roll_reserve_deg or 0.0
        name = f"loads, {reserve:g} deg"
        many = len(book.folds_deg) > 1
        loads = book.kept.get(name) or FoldLoads.of(
            craft, book.air, book.grid, charted=many, reserve_deg=reserve
        )
        book.kept[name] = loads
        idle = curves[0].problem.craft.idle_power if curves else 0.0
        return cls(craft, schedule, loads, tuple(names), idle)

    @cached_property
    def listed(self) -> tuple[Constraint, ...]:
        """The constraints that read quantities of a trim."""
        return tuple(self._limits_of_rotors() + self._of_the_wings() + self._of_the_hinges())

    @cached_property
    def quantities(self) -> tuple[str, ...]:
        """Names of the quantities, in the order of :attr:`Setting.values` after the power."""
        names = [SHAFT + rotor.name for rotor in self.craft.rotors]
        names += [name for one in self.listed for name in one.reads]
        if self.schedule.roll_reserve_deg:
            names.append(ROLL_MOMENT)
        return tuple(dict.fromkeys(names))

    @cached_property
    def _places(self) -> dict[str, list[int]]:
        return {
            one.name: [1 + self.quantities.index(name) for name in one.reads] for one in self.listed
        }

    def power(self, values: Floats) -> Floats:
        """Electrical power from the shafts' own powers, which are smooth where it has a kink [W].

        Power against fold bends sharply where the air begins to drive a rotor.

        Parameters
        ----------
        values : shape (folds, 1 + quantities)
        """
        assert self.craft.propulsion is not None
        shafts = values[:, 1 : 1 + len(self.craft.rotors)]
        return electrical_power(self.craft.propulsion, shafts, idle=self.idle_power)

    def binds(self, constraint: Constraint, speed: float) -> bool:
        """Whether a constraint counts at an airspeed.

        Those on the wings do from the airspeed on at which the file says that the wings carry the
        craft, at every fold and in every state, stalled or not; never in still air.
        """
        return not constraint.of_wings or (
            speed > 0.0 and speed >= self.schedule.thrust_borne_below_m_s
        )

    def margins(self, folds: Floats, values: Floats, speed: float) -> dict[str, Floats]:
        """Margin of every constraint that counts.

        Parameters
        ----------
        folds : shape (folds,) [deg]
        values : shape (folds, 1 + quantities), solved or interpolated
        speed : [m/s]
        """
        found = {
            one.name: one.margin(values[:, self._places[one.name]])
            for one in self.listed
            if self.binds(one, speed)
        }
        return found | self.of_fold(folds)

    def of_fold(self, folds: Floats) -> dict[str, Floats]:
        """Margins that hang on the fold alone, shape (folds,) each [deg]."""
        low, high = self.craft.fold_range_deg
        reserve = self.schedule.roll_reserve_deg or 0.0
        name = "room to roll" if reserve else "fold limits"
        found = {name: np.minimum(folds - low, high - folds) - reserve}
        for start, end in self.schedule.forbidden_deg:
            outside = np.maximum(start - folds, folds - end)
            found[f"{FORBIDDEN} {start:g} to {end:g} deg"] = outside
        return found

    @cached_property
    def units(self) -> dict[str, str]:
        """Unit of every margin by the constraint's name."""
        units = {one.name: one.unit for one in self.listed}
        return units | dict.fromkeys(self.of_fold(np.zeros(1)), "deg")

    def setting(
        self,
        made: PoweredCraft,
        fold_deg: float,
        speed: float,
        point: PowerPoint,
        *,
        solved: bool = False,
    ) -> Setting:
        """All quantities of a trim, and the margins made of them.

        Where a chart's error leaves open whether a constraint is kept, the fold is solved.

        Parameters
        ----------
        made : the craft at the fold
        solved : whether it is solved in any case
        """
        values = np.full(1 + len(self.quantities), np.nan)
        margins: dict[str, float] = {}
        known: dict[str, float] = {}
        if point.trim is not None:
            loads = self.loads.exact if solved else self.loads
            known = self._quantities_of(made, fold_deg, speed, point, loads)
            values[0] = point.value(POWER)
            values[1:] = [known[name] for name in self.quantities]
            many = self.margins(np.array([fold_deg]), values[None, :], speed)
            margins = {name: float(margin[0]) for name, margin in many.items()}
            misses = np.zeros(len(values))
            if not solved:
                misses[1:] = [self._miss(name, fold_deg, speed) for name in self.quantities]
            solved = not misses.any()
            if not solved and self._is_open(fold_deg, values, misses, speed):
                return self.setting(made, fold_deg, speed, point, solved=True)
        joined = made.model.lattice.is_joined
        return Setting(fold_deg, speed, point, values, margins, known, joined, solved)

    def _is_open(self, fold: float, values: Floats, misses: Floats, speed: float) -> bool:
        """Whether some constraint is kept or not within the error of what is read off a chart."""
        around = values + CHART_ROOM * misses * np.array([[-1.0], [0.0], [1.0]])
        many = self.margins(np.full(3, fold), around, speed)
        return any(len(np.unique(margin >= -TOUCH)) > 1 for margin in many.values())

    def _miss(self, name: str, fold: float, speed: float) -> float:
        """How far a quantity may be off where it is read off a chart."""
        if name == "Cl_beta":
            return self.loads.dihedral_miss(fold)
        if name == ROLL_MOMENT:
            return self.loads.roll_miss(fold, self.schedule.roll_reserve_deg or 0.0, speed)
        if name.startswith((HINGE, DRIVE)):
            body = name.removeprefix(HINGE).removeprefix(DRIVE)
            return self.loads.hinge_misses(fold, speed)[body]
        return 0.0

    def _quantities_of(
        self, made: PoweredCraft, fold: float, speed: float, point: PowerPoint, loads: FoldLoads
    ) -> dict[str, float]:
        assert point.measures is not None
        assert point.trim is not None
        found = dict(point.measures.margins) | stall_margins_by_part(made, point)
        powers = point.trim.loads.shaft_powers[0]
        for rotor, power in zip(made.rotors, powers, strict=True):
            found[SHAFT + rotor.name] = float(power)
        alpha = 0.0 if speed == 0.0 else point.value("alpha_deg")
        wanted = set(self.quantities)
        if "Cl_beta" in wanted:
            found["Cl_beta"] = loads.dihedral_effect(fold, alpha, speed)
        if ROLL_MOMENT in wanted:
            reserve = self.schedule.roll_reserve_deg or 0.0
            found[ROLL_MOMENT] = loads.roll_moment(fold, reserve, alpha, speed)
        if any(name.startswith((HINGE, DRIVE)) for name in wanted):
            weights = tip_weights(made, point.trim.theta)
            for body, moment in loads.hinge_moments(fold, alpha, speed).items():
                found |= {HINGE + body: moment, DRIVE + body: moment + weights[body]}
        return {name: found[name] for name in wanted}

    def _limits_of_rotors(self) -> list[Constraint]:
        """Limits of rotors and battery, those of one kind together, and the rotors' reserve."""
        kinds: dict[str, list[str]] = {}
        for name in self.limit_names:
            kinds.setdefault(name.partition(OF_ROTOR)[0], []).append(name)
        found = [
            Constraint(kind, "1", False, tuple(names), _least_over(0.0))
            for kind, names in kinds.items()
        ]
        least = self.schedule.rotor_margin_min
        if least is not None and HIGHEST_THRUST in kinds:
            reads = tuple(kinds[HIGHEST_THRUST])
            name = "thrust left on the rotors"
            found.append(Constraint(name, "1", False, reads, _least_over(least)))
        return found

    def _of_the_wings(self) -> list[Constraint]:
        schedule, found = self.schedule, []
        parts = stall_parts(self.craft)
        if schedule.stall_margin_min_deg is not None and parts:
            least = _least_over(schedule.stall_margin_min_deg)
            found.append(Constraint("stall margin", "deg", True, parts, least))
        if schedule.dihedral_effect != "any":
            sense = -1.0 if schedule.dihedral_effect == "stable" else 1.0
            size = schedule.dihedral_effect_min_per_rad
            found.append(
                Constraint("dihedral effect", "1/rad", True, ("Cl_beta",),
                           lambda v: np.asarray(sense * v[..., 0] - size))
            )  # fmt: skip
        if schedule.roll_moment_min_N_m is not None and schedule.roll_reserve_deg:
            needed = schedule.roll_moment_min_N_m
            found.append(
                Constraint(ROLL_MOMENT, "N m", True, (ROLL_MOMENT,),
                           lambda v: np.asarray(np.abs(v[..., 0]) - needed))
            )  # fmt: skip
        return found

    def _of_the_hinges(self) -> list[Constraint]:
        schedule, actuator = self.schedule, self.craft.actuator
        reads = tuple(HINGE + body for body in hinge_bodies(self.craft))
        drives = tuple(DRIVE + body for body in hinge_bodies(self.craft))
        found = []
        if schedule.folding_rate_min_deg_s is not None and reads and actuator is not None:
            slowest, least = slowest_rate(self.craft, actuator), schedule.folding_rate_min_deg_s
            found.append(
                Constraint("folding rate", "deg/s", False, drives, lambda v: slowest(v) - least)
            )
        if schedule.hinge_moment_max_N_m is not None and reads:
            most = schedule.hinge_moment_max_N_m
            found.append(
                Constraint("hinge moment", "N m", False, reads,
                           lambda v: np.asarray(most - np.max(np.abs(v), axis=-1)))
            )  # fmt: skip
        return found


def stall_parts(craft: Biplane) -> tuple[str, ...]:
    """The parts of the wings that have a section and so can stall."""
    return tuple(STALL + place for place, name in craft.named_sections.items() if name)


def stall_margins_by_part(made: PoweredCraft, point: PowerPoint) -> dict[str, float]:
    """Least angle left to stall of each part of the wings, negative where it is stalled [deg].

    It goes on to 90 degrees from the wind and beyond. Strips that meet no wind have no angle and
    are left out; NaN where none meets any.
    """
    assert point.trim is not None
    coupled, model = point.trim.loads.coupled, made.model
    moving = coupled.state.speed[0] > BLOWN * coupled.onset.scale[0]
    found: dict[str, float] = {}
    for place in (name.removeprefix(STALL) for name in stall_parts(made.craft)):
        own = np.array([p.place == place for p in model.lattice.patches])[model.strips.patch]
        margins = coupled.state.margin[0][own & moving]
        found[STALL + place] = float(np.degrees(margins.min())) if margins.size else float("nan")
    return found
