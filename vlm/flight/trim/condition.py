"""One flight condition: the trimmed state at a named level of modelling.

Whoever prints a thrust, an angle or a power of steady flight takes it from here, with its level:

- the inviscid wing and the wing with its sections (:mod:`vlm.flight.craft.level`): thrust along
  the body's x axis through the centre of gravity, moments left over;
- full, with rotors (:mod:`vlm.flight.trim.trim`): rotors with their slipstream, sections, drag
  areas, moments balanced by the rotors, and what the rotors can add about each axis.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np

from vlm.air import sea_level_air
from vlm.constants import SEA_LEVEL_DENSITY, Floats
from vlm.description.folds import FoldAngles
from vlm.description.models import Biplane
from vlm.flight.craft.folding_craft import FoldingCraft
from vlm.flight.craft.level import LevelFlight, level_flight
from vlm.flight.craft.modelling import Modelling
from vlm.flight.trim.powered import PoweredCraft, powered_craft
from vlm.flight.trim.rotor_moments import AXES, RotorMoments, rotor_moments
from vlm.flight.trim.trim import Trim, TrimProblem, trim_problem, trimmed
from vlm.flight.trim.trim_measures import stall_margins
from vlm.frames import GEOMETRY_TO_BODY
from vlm.lattice.cellule import Grid

KEPT = 24
MOST_SHARE = 0.9
"""Rotors need some power, however little is known of it [1]."""

END_FOUND_TO = 1e-3
"""Half-widths of a smaller share of what rotors can are those of the search for it [1]."""


@dataclass(frozen=True)
class FlightCondition:
    """Steady, level flight at one fold and airspeed.

    Attributes
    ----------
    modelling : level of modelling of every number here
    folds : commanded folds
    airspeed : [m/s]
    density : [kg/m^3]
    load_factor : [1]
    alpha : angle of attack [rad]
    thrust : of all rotors, along the body's x axis without rotors [N]
    shaft_power : of all rotors; None without rotors [W]
    moments : what is left over about the centre of gravity and the rotors must hold (without
        rotors), or hold (with them), body axes, shape (3,) [N m]
    stall_margin : angle left to stall in the strip nearest to it, infinite without sections [rad]
    thrusts : by rotor; empty without rotors [N]
    rotors : what the rotors can add about each axis; None without rotors, or where the trim asks
        a rotor for more than it can give
    """

    modelling: Modelling
    folds: FoldAngles
    airspeed: float
    density: float
    load_factor: float
    alpha: float
    thrust: float
    shaft_power: float | None
    moments: Floats
    stall_margin: float
    thrusts: tuple[float, ...] = ()
    rotors: RotorMoments | None = None


def has_trim(craft: Biplane) -> bool:
    """Whether the file says enough to trim the craft with its rotors."""
    return bool(craft.rotors) and craft.propulsion is not None and craft.mass is not None


class FlightConditions:
    """Gives the flight condition of a craft at any fold, airspeed and level of modelling.

    Parameters
    ----------
    craft : the description, with [mass]
    density : [kg/m^3]
    grid : lattice of the wing levels

    Raises
    ------
    InputRefused : the file has no [mass]
    """

    def __init__(
        self, craft: Biplane, density: float = SEA_LEVEL_DENSITY, grid: Grid | None = None
    ) -> None:
        self.craft, self.density = craft, density
        self._wings = {
            Modelling.WING: FoldingCraft(craft, grid, sections=False),
            Modelling.SECTIONS: FoldingCraft(craft, grid),
        }
        self._problems: dict[FoldAngles, TrimProblem] = {}
        self._trims: dict[tuple[FoldAngles, float], Trim | None] = {}

    def at(
        self,
        folds: FoldAngles,
        airspeed: float,
        modelling: Modelling,
        load_factor: float = 1.0,
    ) -> FlightCondition | None:
        """The condition, or None where none is found at this level of modelling.

        Parameters
        ----------
        airspeed : 0 for hover, with rotors only [m/s]
        load_factor : of a pull-up, without rotors only [1]

        Raises
        ------
        InputRefused : the fold cannot be built, or a block that the level needs is missing
        ValueError : a load factor with rotors
        """
        if modelling is not Modelling.ROTORS:
            craft = self._wings[modelling].at(folds)
            flight = level_flight(craft, airspeed, self.density, load_factor)
            return None if flight is None else of_level_flight(folds, flight)
        if load_factor != 1.0:
            raise ValueError("with rotors only level flight is trimmed")
        trim = self.trim(folds, airspeed)
        return None if trim is None else self._of_trim(folds, trim)

    def trim(self, folds: FoldAngles, airspeed: float) -> Trim | None:
        """The full trim, started from the nearest airspeed that has one at this fold.

        Raises
        ------
        InputRefused : the fold cannot be built, or a block is missing
        """
        key = (folds, airspeed)
        if key not in self._trims:
            self._trims[key] = self._trimmed(folds, airspeed)
        return self._trims[key]

    def powered(self, folds: FoldAngles) -> PoweredCraft:
        """The craft with rotors and sections at one fold.

        Raises
        ------
        InputRefused : the fold cannot be built, or a block is missing
        """
        return self._problem(folds).craft

    def _problem(self, folds: FoldAngles) -> TrimProblem:
        if folds not in self._problems:
            if len(self._problems) >= KEPT:
                self._problems.pop(next(iter(self._problems)))
            air = sea_level_air(self.density)
            self._problems[folds] = trim_problem(powered_craft(self.craft, folds, air=air))
        return self._problems[folds]

    def _trimmed(self, folds: FoldAngles, airspeed: float) -> Trim | None:
        problem = self._problem(folds)
        known = [t for (f, _), t in self._trims.items() if f == folds and t is not None]
        near = min(known, key=lambda t: abs(t.speed - airspeed), default=None)
        guesses = [None] if near is None else [near.unknown, None]
        for guess in guesses:
            trim = trimmed(problem, airspeed, guess=guess)
            if trim.is_converged:
                return trim
        return None

    def _of_trim(self, folds: FoldAngles, trim: Trim) -> FlightCondition:
        craft = self.powered(folds)
        loads = trim.loads
        return FlightCondition(
            modelling=Modelling.ROTORS,
            folds=folds,
            airspeed=trim.speed,
            density=self.density,
            load_factor=1.0,
            alpha=trim.alpha,
            thrust=float(trim.thrusts.sum()),
            shaft_power=float(np.maximum(loads.shaft_powers[0], 0.0).sum()),
            moments=np.asarray(GEOMETRY_TO_BODY @ loads.rotor_moment[0]),
            stall_margin=float(stall_margins(loads)[0]),
            thrusts=tuple(float(t) for t in trim.thrusts),
            rotors=self._rotor_moments(craft, trim),
        )

    def _rotor_moments(
        self, craft: PoweredCraft, trim: Trim, power: float = 1.0
    ) -> RotorMoments | None:
        return rotor_moments(
            craft.rotors, trim.thrusts, trim.loads.stream[0], self.density, craft.masses.centre,
            self.craft.folder, power,
        )  # fmt: skip

    def rotor_half_widths(self, condition: FlightCondition) -> Mapping[str, float]:
        """How far what the rotors can add about each axis may lie off [N m].

        To the farther end of the interval that the file's uncertainty of the rotors' power leaves,
        the trim held; empty where the file states none.

        Returns
        -------
        By axis, of what can be had either way; by "AXIS highest" and "AXIS lowest", of each way.
        Zero where a stated thrust ends it, which the power does not move.
        """
        share = _power_share(self.craft)
        trim = self.trim(condition.folds, condition.airspeed)
        if share == 0.0 or trim is None or condition.rotors is None:
            return {}
        craft = self.powered(condition.folds)
        ends = [self._rotor_moments(craft, trim, 1.0 + sign * share) for sign in (-1.0, 1.0)]
        own, others = _reaches(condition.rotors), [_reaches(end) for end in ends]
        widths = {name: max(abs(own[name] - other[name]) for other in others) for name in own}
        # An end is itself found to about this share of it; less is no width.
        return {name: w if w > END_FOUND_TO * abs(own[name]) else 0.0 for name, w in widths.items()}


def _reaches(moments: RotorMoments | None) -> dict[str, float]:
    """Of each axis; nothing where the trim itself asks for more than a rotor gives [N m]."""
    found = {}
    for axis in AXES:
        reach = None if moments is None else getattr(moments, axis)
        found[axis] = 0.0 if reach is None else reach.either_way
        found[f"{axis} highest"] = 0.0 if reach is None else reach.highest
        found[f"{axis} lowest"] = 0.0 if reach is None else reach.lowest
    return found


def _power_share(craft: Biplane) -> float:
    """Half the interval of the power that the rotors need, over it [1]."""
    stated = craft.uncertainty
    if stated is None:
        return 0.0
    factor = NormalDist().inv_cdf(0.5 + 0.005 * stated.interval_percent)
    return min(0.01 * factor * stated.rotor_power_percent, MOST_SHARE)


def of_level_flight(folds: FoldAngles, flight: LevelFlight) -> FlightCondition:
    """Level flight of the wings as a condition; the rotors must make up for its moments."""
    return FlightCondition(
        modelling=flight.modelling,
        folds=folds,
        airspeed=flight.airspeed,
        density=flight.density,
        load_factor=flight.load_factor,
        alpha=flight.alpha,
        thrust=flight.thrust,
        shaft_power=None,
        moments=-flight.wrench[3:],
        stall_margin=flight.stall_margin,
    )
