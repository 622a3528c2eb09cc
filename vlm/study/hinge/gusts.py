"""Sudden gusts: which takes the craft to its limit load factor, and what a given one asks for."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from vlm.constants import GRAVITY, Floats
from vlm.description.actuator import Actuator
from vlm.description.dimensions import wing_dimensions
from vlm.description.folds import FoldAngles
from vlm.description.models import Biplane
from vlm.errors import FoldspanError
from vlm.findings import Finding
from vlm.flight.craft.folded_craft import FoldedCraft
from vlm.flight.craft.folding_craft import FoldingCraft
from vlm.flight.craft.level import STEEPEST_RAD, LevelFlight, level_flight
from vlm.flight.craft.model_spread import corner_spread
from vlm.flight.craft.rotor_rates import RotorRates, rotor_rates
from vlm.flight.craft.stalled import left_open
from vlm.flight.craft.sudden_gust import (
    GustReach,
    eased_gust,
    eased_half_width,
    flight_in_gust,
    gust_alpha,
    gust_load_factors,
    gust_motions,
    gust_reach,
    gust_slope,
    reached_on_the_way,
    steepest_gust,
)
from vlm.flight.motion.roll_authority import TOO_SLOW
from vlm.loads.model_spread import wake_spread
from vlm.loads.state import FlightState
from vlm.study.hinge.moments import LoadedHinges, Loading
from vlm.study.hinge.results import AskedGust, GustRow, MomentRow
from vlm.study.hinge.slipstream import HingeSlipstream
from vlm.study.point.errors import floors_of, half_width, half_widths
from vlm.verdicts import known_sign

NO_AGREEMENT = "strips and sections do not agree in the gust"
MODERATE_GUST = 7.6
"""The smaller gust of airworthiness rules for small aeroplanes, 25 ft/s, eased by the gust
alleviation factor (14 CFR 23.333(c) until 2017, from memory) [m/s]."""
LEAST_WITHIN = 0.01
"""How closely the least gust is found past stall, on the safe side, over the gust [1]."""
OPEN_STEPS = 8
"""Gusts beyond one that are asked whether they surely reach its load factor."""
LIFT_SLOPE = "CL_alpha"
"""Whose allowance of error the change of the lift in a gust has."""


def mean_chord(craft: Biplane) -> float:
    """Planform area of all wings over the sum of their flat spans [m]."""
    sizes = [wing_dimensions(wing) for wing in craft.wings.values()]
    return sum(one.planform_area_m2 for one in sizes) / sum(one.flat_span_m for one in sizes)


@dataclass(frozen=True)
class _Gusting:
    """A craft in level flight at one fold and airspeed, and what its half-widths rest on.

    Attributes
    ----------
    thin : the same lattice without sections and slipstream
    rough : a coarser lattice without them
    blown : None without a slipstream, else craft on coarser strips
    """

    craft: FoldedCraft
    thin: FoldedCraft
    rough: FoldedCraft
    blown: FoldedCraft | None
    flight: LevelFlight
    rotors: RotorRates

    @property
    def weight(self) -> float:
        return self.craft.masses.mass * GRAVITY

    def wings_alone(self, craft: FoldedCraft, speed: float) -> float:
        """Load factor of a craft in a gust, without rotors; NaN where it does not fly level [1]."""
        flight = level_flight(craft, self.flight.airspeed, self.flight.density)
        if flight is None:
            return float("nan")
        return float(gust_load_factors(craft, flight, np.array([speed]))[0])

    def is_stalled(self, speed: float) -> bool:
        """Whether a strip is past its stall in a gust."""
        motion = gust_motions(self.flight, np.array([speed]))[0]
        return self.craft.stall(motion, self.flight.density)[0] < 0.0

    def factor(self, speed: float) -> float:
        """Load factor in a gust [1]."""
        gust = np.array([speed])
        return float(gust_load_factors(self.craft, self.flight, gust, self.rotors)[0])

    def greatest_factor(self, speed: float) -> float:
        """The greatest that the load factor may be in a gust [1]."""
        return self.factor(speed) + self.half_width(speed)

    def least_factor(self, speed: float) -> float:
        """The least that it may be [1]."""
        return self.factor(speed) - self.half_width(speed)

    def half_width(self, speed: float) -> float:
        """Half-width of the load factor in a gust: lattice, wake, corners, stall, rotors [1]."""
        loads, flight = self.craft.loads, self.flight
        thin, own = (self.wings_alone(one, speed) for one in (self.thin, self.craft))
        grid = loads.lattice.grid
        fine, rough = ({LIFT_SLOPE: n - 1.0} for n in (thin, self.wings_alone(self.rough, speed)))
        lattice = half_widths(fine, rough, floors_of(loads, {LIFT_SLOPE: abs(thin - 1.0)}), grid)

        alpha = gust_alpha(flight, speed)
        force = 0.5 * flight.density * (flight.airspeed**2 + speed**2) * loads.reference.area
        wake = float(wake_spread(loads, FlightState(alpha=alpha))["CL"])
        missed = loads.errors.get(LIFT_SLOPE, 0.0) * (alpha - flight.alpha)

        def alone(one: FoldedCraft) -> Floats:
            return np.array([self.wings_alone(one, speed)])

        margin = self.craft.stall(gust_motions(flight, np.array([speed]))[0], flight.density)[0]
        strips = 0.0
        if self.blown is not None:
            plain = self.wings_alone(replace(self.blown, strips=None, thrusts=None), speed)
            changes = own - thin, self.wings_alone(self.blown, speed) - plain
            strips = half_width(*changes, abs(changes[0]), grid)
        return float(
            lattice[LIFT_SLOPE]
            + (wake + missed) * force / self.weight
            + corner_spread(self.thin, alone)[0]
            + left_open(min(margin, flight.stall_margin), own - thin)
            + strips
            + self.rotors.half_width[2, 2] * speed / self.weight
        )


def gust_row(
    folding: FoldingCraft, rough: FoldingCraft, blowing: HingeSlipstream, fold: float,
    airspeed: float, density: float, actuator: Actuator, asked: float | None,
) -> GustRow:  # fmt: skip
    """The sudden gust to a load factor at one fold and airspeed, and what one asked for does.

    Parameters
    ----------
    folding, rough : the craft on the lattice, and on a coarser one without sections
    asked : a gust's speed, or None [m/s]
    """
    load_factor = actuator.load_factor_limit
    row = GustRow(fold, airspeed, load_factor)
    folds = FoldAngles.symmetric(fold)
    try:
        craft = blowing.over(folds, airspeed).at(folds)
        coarse = rough.symmetric(fold)
    except FoldspanError as error:
        return replace(row, reason=str(error))
    flight = level_flight(craft, airspeed, density)
    if flight is None:
        return replace(row, reason=TOO_SLOW)
    rotors = rotor_rates(folding.craft, craft, flight)
    thin = replace(craft, strips=None, thrusts=None)
    one = _Gusting(craft, thin, coarse, blowing.coarser(craft, folds), flight, rotors)
    if asked is not None:
        row = replace(row, asked=_asked(one, asked, actuator, blowing, folds))
    reach = gust_reach(craft, flight, load_factor, rotors)
    if reach is None:
        return replace(row, reason=NO_AGREEMENT)
    if reach.load_factor < load_factor:
        least = _least(one, load_factor, steepest_gust(flight))
        return replace(row, highest_load_factor=reach.load_factor, least_m_s=least)
    width, least = _interval(one, reach)
    eased = eased_gust(flight, reach.speed, reach.load_factor, mean_chord(folding.craft))
    return replace(
        row,
        gust_m_s=reach.speed,
        half_width_m_s=_known(width),
        least_m_s=least,
        eased_m_s=eased,
        eased_half_width_m_s=_known(eased_half_width(eased, width)),
    )


def _interval(one: _Gusting, reach: GustReach) -> tuple[float, float | None]:
    """Half-width of a gust, NaN where that is not known, and past stall the least that may be."""
    slope = gust_slope(one.craft, one.flight, reach.speed, one.rotors)
    if not one.is_stalled(reach.speed) and slope > 0.0:
        return one.half_width(reach.speed) / slope, None
    least = _least(one, reach.load_factor, reach.speed)
    if least is None:
        return float("nan"), None
    beyond = np.linspace(reach.speed, steepest_gust(one.flight), 1 + OPEN_STEPS)[1:]
    sure = (speed for speed in beyond.tolist() if one.least_factor(speed) >= reach.load_factor)
    most = next(sure, float("nan"))
    return max(most - reach.speed, reach.speed - least), least


def _least(one: _Gusting, load_factor: float, speed: float) -> float | None:
    """The least gust that may reach a load factor, the half-width of what it reaches counted in.

    Parameters
    ----------
    speed : a gust that is to reach it so; where it does not, none is found [m/s]
    """
    if not one.greatest_factor(speed) >= load_factor:
        return None
    low, high = 0.0, speed
    while high - low > LEAST_WITHIN * speed:
        middle = 0.5 * (low + high)
        reaches = one.greatest_factor(middle) >= load_factor
        low, high = (low, middle) if reaches else (middle, high)
    return low


def _asked(
    one: _Gusting, speed: float, actuator: Actuator, blowing: HingeSlipstream, folds: FoldAngles
) -> AskedGust:
    """What a gust does: the load factor, and the moments about the hinges in it."""
    alpha = float(np.degrees(gust_alpha(one.flight, speed)))
    way = reached_on_the_way(one.craft, one.flight, speed, one.rotors)
    highest = max(way, key=lambda reach: reach.load_factor, default=None)
    if highest is None:
        return AskedGust(speed, alpha)
    row = MomentRow(folds.left_deg, one.flight.airspeed, highest.load_factor)
    hinges = LoadedHinges(one.craft, one.rough, blowing, folds, actuator)
    return AskedGust(
        speed,
        alpha,
        highest.load_factor,
        _known(one.half_width(highest.speed)),
        hinges.filled(row, [_loading(one, reach) for reach in way]),
    )


def _loading(one: _Gusting, reach: GustReach) -> Loading:
    """The flight in a gust, out of level flight at once."""
    flight = flight_in_gust(one.craft, one.flight, reach)
    met = replace(
        flight,
        airspeed=float(np.hypot(flight.airspeed, reach.speed)),
        alpha=gust_alpha(flight, reach.speed),
    )
    return Loading(flight, met, one.flight)


def _known(width: float) -> float | None:
    return width if np.isfinite(width) else None


def gust_findings(rows: Sequence[GustRow]) -> list[Finding]:
    """A moderate gust that passes the load factor of the file, and one asked for that does, or that
    takes the craft to angles of attack that are not looked at."""
    return [*_moderate(rows), *_beyond(rows), *_too_steep(rows)]


def _moderate(rows: Sequence[GustRow]) -> list[Finding]:
    known = [(row, row.eased_m_s) for row in rows if row.eased_m_s is not None]
    eased = [(row, speed, row.eased_low_end_m_s or 0.0) for row, speed in known]
    below = [one for one in eased if one[2] < MODERATE_GUST]
    if not below:
        return []
    sure = [
        one for one in below if known_sign(MODERATE_GUST - one[1], one[0].eased_half_width_m_s) == 1
    ]
    row, speed, _ = min(sure or below, key=lambda one: one[2])
    return [
        Finding(
            "moderate_gust",
            f"a moderate gust {'passes' if sure else 'may pass'} load factor {row.load_factor:g} at"
            f" {row.fold_deg:.3g} deg and {row.airspeed_m_s:g} m/s; upward gust over 12.5 chords"
            " that reaches it",
            speed,
            MODERATE_GUST,
            "m/s",
            "25 ft/s, common practice for small aeroplanes",
            "fly slower in gusts, or ask for what one does with --gust-speed and build for it",
            half_width=row.eased_half_width_m_s,
        )
    ]


def _beyond(rows: Sequence[GustRow]) -> list[Finding]:
    asked = [(row, row.asked) for row in rows if row.asked is not None]
    beyond = [(row, gust) for row, gust in asked if gust.reach > row.load_factor]
    if not beyond:
        return []
    sure = [
        (row, gust)
        for row, gust in beyond
        if known_sign((gust.load_factor or 0.0) - row.load_factor, gust.load_factor_half_width) == 1
    ]
    row, gust = max(sure or beyond, key=lambda pair: pair[1].reach)
    return [
        Finding(
            "gust_load_factor",
            f"a sudden upward gust of {gust.gust_m_s:g} m/s {'passes' if sure else 'may pass'} the"
            f" load factor of the file at {row.fold_deg:.3g} deg and {row.airspeed_m_s:g} m/s",
            gust.load_factor,
            row.load_factor,
            "1",
            "load_factor_limit",
            "fly slower in gusts, or build for that load factor",
            cases=len(beyond),
            half_width=gust.load_factor_half_width,
        )
    ]


def _too_steep(rows: Sequence[GustRow]) -> list[Finding]:
    limit = float(np.degrees(STEEPEST_RAD))
    asked = [(row, row.asked) for row in rows if row.asked is not None]
    steep = [pair for pair in asked if pair[1].alpha_deg > limit]
    if not steep:
        return []
    row, gust = max(steep, key=lambda pair: pair[1].alpha_deg)
    return [
        Finding(
            "gust_angle",
            f"a sudden upward gust of {gust.gust_m_s:g} m/s takes the craft beyond the angles of"
            f" attack that are looked at, at {row.fold_deg:.3g} deg and {row.airspeed_m_s:g} m/s;"
            " loads are the highest up to there, angle of attack",
            gust.alpha_deg,
            limit,
            "deg",
            "steady flow",
            "ask for a smaller gust or a higher airspeed; what lies beyond is not known",
            cases=len(steep),
        )
    ]
