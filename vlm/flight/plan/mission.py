"""A mission flown leg by leg: time and energy under one rule of folding.

Every leg is one or several steady states, each trimmed directly at its fold, airspeed, climb angle
and load factor; its energy is their power times their time. Starting and stopping take nothing:
a transition is the mean of level trims from hover to its airspeed. A turn of load factor n has the
radius R = U^2 / (g sqrt(n^2 - 1)), from the balance of a level, banked turn (derived).
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import asin, isfinite, pi, sqrt

import numpy as np

from vlm.constants import GRAVITY, SEA_LEVEL_DENSITY
from vlm.description.mission import Leg
from vlm.errors import ComputationFailed, InputRefused
from vlm.flight.craft.folding_craft import FoldingCraft
from vlm.flight.mechanism.drive_limits import folding_between
from vlm.flight.mechanism.servo import folding
from vlm.flight.plan.mission_rules import NO_TRIM, FoldRule
from vlm.flight.trim.power_book import POWER, PowerBook, direct_trim, nearest_curve
from vlm.flight.trim.power_curve import PowerCurve, PowerPoint
from vlm.flight.trim.powered import POWER_GRID
from vlm.flight.trim.trim import TrimProblem, trim_problem

LEVEL_KINDS = ("loiter", "dash", "climb", "turn")
"""Kinds of legs that the wings carry throughout."""
TRANSITION_STATES = 6
SAME_FOLD = 1e-9
MOVED_DEG = 0.05
"""Change of fold that counts as none [deg]."""


FASTER, FASTEST = 0.01, 1.1
"""Steps by which a turn or a climb is flown faster to keep its stall margin, and the most [1]."""


class _WithinStall(ComputationFailed):
    """A climb or a turn has less than the stall margin."""


@dataclass(frozen=True)
class Piece:
    """One steady state that is held for a time."""

    seconds: float
    speed: float
    fold_deg: float
    climb_angle: float = 0.0
    load_factor: float = 1.0


@dataclass(frozen=True)
class FlownPiece:
    """A piece with its trim."""

    piece: Piece
    point: PowerPoint
    problem: TrimProblem

    @property
    def energy(self) -> float:
        """Electrical energy [J]."""
        return self.piece.seconds * self.point.value(POWER)


@dataclass(frozen=True)
class FlownLeg:
    """A leg as flown.

    Attributes
    ----------
    leg : what was asked for
    pieces : its steady states; empty where it cannot be flown
    folding : energy of moving the tips to the folds of this leg [J]
    holding : energy of the drive at rest [J]
    reason : why it cannot be flown; empty where it can
    """

    leg: Leg
    pieces: tuple[FlownPiece, ...]
    folding: float
    holding: float
    reason: str = ""

    @property
    def seconds(self) -> float:
        """Time of the leg [s]; NaN where it cannot be flown."""
        return float("nan") if self.reason else sum(p.piece.seconds for p in self.pieces)

    @property
    def flight_energy(self) -> float:
        """Energy of rotors and fixed load [J]; NaN where it cannot be flown."""
        return float("nan") if self.reason else sum(p.energy for p in self.pieces)

    @property
    def energy(self) -> float:
        """All of it [J]."""
        return self.flight_energy + self.folding + self.holding


@dataclass(frozen=True)
class MissionFlight:
    """A mission under one rule of folding."""

    rule: FoldRule
    legs: tuple[FlownLeg, ...]

    @property
    def reason(self) -> str:
        """The first leg that cannot be flown, and why; empty where all can."""
        stuck = next((leg for leg in self.legs if leg.reason), None)
        return "" if stuck is None else f"{stuck.leg.label}: {stuck.reason}"

    @property
    def seconds(self) -> float:
        """Time of all legs [s]."""
        return sum(leg.seconds for leg in self.legs)

    @property
    def energy(self) -> float:
        """Energy of all legs [J]; NaN where one cannot be flown."""
        return sum(leg.energy for leg in self.legs)

    def part(self, *kinds: str) -> tuple[float, float]:
        """Time [s] and energy [J] of the legs of some kinds."""
        chosen = [leg for leg in self.legs if leg.leg.kind in kinds]
        return sum(leg.seconds for leg in chosen), sum(leg.energy for leg in chosen)


def planned_pieces(rule: FoldRule, leg: Leg, faster: float = 1.0) -> list[Piece]:
    """The steady states of a leg.

    Parameters
    ----------
    faster : factor of the airspeed, where the leg names none [1]

    Raises
    ------
    ComputationFailed : the rule does not allow it, with the reason
    """
    if leg.kind == "hover":
        assert leg.time_s is not None
        return [Piece(leg.repeat * leg.time_s, 0.0, rule.fold(0.0))]
    speed = _speed(rule, leg)
    if leg.airspeed_m_s is None:
        speed = min(speed * faster, float(rule.speeds[-1]))
    fold, why = rule.level_fold(speed)
    if why:
        raise ComputationFailed(f"at {speed:g} m/s: {why}")
    if leg.kind == "transition":
        assert leg.time_s is not None
        share = leg.repeat * leg.time_s / TRANSITION_STATES
        between = (np.arange(TRANSITION_STATES) + 0.5) / TRANSITION_STATES * speed
        return [Piece(share, float(u), rule.fold(float(u))) for u in between]
    if leg.kind == "turn":
        factor = turn_load_factor(leg, speed)
        radius = speed**2 / (GRAVITY * sqrt(factor**2 - 1.0))
        assert leg.turns is not None
        seconds = leg.repeat * leg.turns * 2.0 * pi * radius / speed
        return [Piece(seconds, speed, fold, load_factor=factor)]
    if leg.kind == "climb":
        assert leg.height_m is not None and leg.climb_rate_m_s is not None
        if leg.climb_rate_m_s >= speed:
            raise ComputationFailed(f"the climb rate is no less than the airspeed {speed:.3g} m/s")
        angle = asin(leg.climb_rate_m_s / speed)
        return [Piece(leg.repeat * leg.height_m / leg.climb_rate_m_s, speed, fold, angle)]
    if leg.kind == "dash":
        assert leg.distance_m is not None
        over_ground = speed - (leg.headwind_m_s or 0.0)
        return [Piece(leg.repeat * leg.distance_m / over_ground, speed, fold)]
    assert leg.time_s is not None
    return [Piece(leg.repeat * leg.time_s, speed, fold)]


def _speed(rule: FoldRule, leg: Leg) -> float:
    """Airspeed of a leg: its own, or the best of the rule."""
    if leg.airspeed_m_s is not None:
        if not isfinite(rule.level_power(leg.airspeed_m_s)):
            raise ComputationFailed(
                f"at {leg.airspeed_m_s:.4g} m/s: {rule.reason(leg.airspeed_m_s)}"
            )
        return leg.airspeed_m_s
    headwind = _headwind(leg)
    speed = rule.best_speed(headwind)
    if not isfinite(speed):
        beyond = headwind is not None and headwind >= rule.speeds[-1]
        each = "; elsewhere ".join(dict.fromkeys(reason for reason in rule.reasons if reason))
        why = "the headwind is no less than any airspeed" if beyond else each
        raise ComputationFailed(f"no airspeed is allowed: {why or NO_TRIM}")
    if leg.load_factor is not None:
        # The same angle of attack as in straight flight: lift grows with the speed squared.
        return min(speed * sqrt(leg.load_factor), float(rule.speeds[-1]))
    return speed


def _headwind(leg: Leg) -> float | None:
    """The wind against which a dash goes for distance; None where a leg takes its time."""
    return (leg.headwind_m_s or 0.0) if leg.kind == "dash" else None


def speed_held_by(rule: FoldRule, flown: FlownLeg) -> tuple[str, ...]:
    """What forbids a better airspeed of a leg on the wings that names none."""
    leg = flown.leg
    if flown.reason or leg.airspeed_m_s is not None or leg.kind not in LEVEL_KINDS:
        return ()
    return rule.speed_held_by(_headwind(leg))


def fast_end(flown: FlownLeg) -> float | None:
    """Airspeed at the fast end of a transition, that of its law of equal steps [m/s]."""
    if flown.leg.kind != "transition" or not flown.pieces:
        return None
    return flown.pieces[-1].piece.speed * TRANSITION_STATES / (TRANSITION_STATES - 0.5)


def turn_load_factor(leg: Leg, speed: float) -> float:
    """Load factor of a turn leg at an airspeed [1]."""
    if leg.load_factor is not None:
        return leg.load_factor
    assert leg.radius_m is not None
    return sqrt(1.0 + (speed**2 / (GRAVITY * leg.radius_m)) ** 2)


class MissionFlyer:
    """Flies missions with one craft; trims and built folds are kept.

    Parameters
    ----------
    book : trims of the craft over folds and airspeeds
    """

    def __init__(self, book: PowerBook) -> None:
        self.book = book
        self._trims: dict[tuple[float, float, float, float], tuple[PowerPoint, TrimProblem]] = {}
        self._foldings: dict[tuple[float, float, float], float] = {}
        self._folding_craft: FoldingCraft | None = None

    def flight(self, rule: FoldRule, legs: Sequence[Leg]) -> MissionFlight:
        """Fly every leg under a rule."""
        flown: list[FlownLeg] = []
        last: FlownPiece | None = None
        for leg in legs:
            found = self._leg(rule, leg, last)
            flown.append(found)
            last = found.pieces[-1] if found.pieces else last
        return MissionFlight(rule, tuple(flown))

    def _leg(self, rule: FoldRule, leg: Leg, last: FlownPiece | None) -> FlownLeg:
        try:
            pieces = self._pieces(rule, leg)
            folding = 0.0
            for piece in pieces:
                folding += 0.0 if last is None else self._folding_energy(last.piece, piece.piece)
                last = piece
        except (ComputationFailed, InputRefused) as error:
            return FlownLeg(leg, (), float("nan"), float("nan"), str(error))
        seconds = sum(piece.piece.seconds for piece in pieces)
        return FlownLeg(leg, tuple(pieces), folding, self.holding_power * seconds)

    def _pieces(self, rule: FoldRule, leg: Leg) -> list[FlownPiece]:
        """The steady states of a leg, trimmed; turns and climbs as fast as their stall margin asks.

        Straight and level the best airspeed may stand at the margin itself.
        """
        faster = 1.0
        while True:
            try:
                return [self._piece(rule, piece) for piece in planned_pieces(rule, leg, faster)]
            except _WithinStall:
                faster += FASTER
                if leg.airspeed_m_s is not None or faster > FASTEST:
                    raise

    @property
    def servos(self) -> int:
        """Servos that move the tips."""
        actuator = self.book.craft.actuator
        if actuator is None:
            return 0
        return 2 if actuator.serves == "side" else 2 * len(self.book.craft.tips)

    @property
    def holding_power(self) -> float:
        """What the servos draw at rest [W]."""
        actuator = self.book.craft.actuator
        if actuator is None:
            return 0.0
        return self.servos * actuator.servo_voltage_V * actuator.servo_hold_current_A

    def _piece(self, rule: FoldRule, piece: Piece) -> FlownPiece:
        if not isfinite(piece.fold_deg):
            raise ComputationFailed("no fold is allowed at any airspeed")
        point, problem = self.trim(
            piece.fold_deg, piece.speed, piece.climb_angle, piece.load_factor
        )
        if not point.is_allowed:
            raise ComputationFailed(f"at {piece.speed:.3g} m/s: {point.limit or NO_TRIM}")
        schedule = rule.table.constraints.schedule
        least = schedule.stall_margin_min_deg
        steady = piece.climb_angle != 0.0 or piece.load_factor != 1.0
        on_wings = piece.speed >= schedule.thrust_borne_below_m_s
        if steady and on_wings and least is not None and point.value("stall_margin_deg") < least:
            raise _WithinStall(f"at {piece.speed:.3g} m/s: stall margin")
        return FlownPiece(piece, point, problem)

    def trim(
        self, fold: float, speed: float, climb_angle: float, load_factor: float
    ) -> tuple[PowerPoint, TrimProblem]:
        """One trim and its balances, kept.

        Raises
        ------
        InputRefused : the fold cannot be built
        """
        key = (fold, speed, climb_angle, load_factor)
        if key not in self._trims:
            self._trims[key] = self._trimmed(*key)
        return self._trims[key]

    def _trimmed(
        self, fold: float, speed: float, climb_angle: float, load_factor: float
    ) -> tuple[PowerPoint, TrimProblem]:
        own = self._own_curve(fold)
        nearest = own or nearest_curve(self.book, fold)
        assert nearest is not None
        level = nearest.at(speed)
        if own is not None and climb_angle == 0.0 and load_factor == 1.0:
            return level, own.problem
        made = own.problem.craft if own is not None else self.book.built(fold)
        if load_factor != 1.0:
            made = replace(made, masses=replace(made.masses, mass=made.masses.mass * load_factor))
        return direct_trim(made, speed, climb_angle=climb_angle, near=level), trim_problem(made)

    def _own_curve(self, fold: float) -> PowerCurve | None:
        """The curve of a tabulated fold."""
        index = int(np.argmin(np.abs(self.book.folds_deg - fold)))
        same = abs(self.book.folds_deg[index] - fold) < SAME_FOLD
        return self.book.curves[index] if same else None

    def _folding_energy(self, before: Piece, after: Piece) -> float:
        """Energy of all servos between two states, at the lower airspeed of both [J]."""
        actuator = self.book.craft.actuator
        start, end = before.fold_deg, after.fold_deg
        if actuator is None or abs(start - end) < MOVED_DEG:
            return 0.0
        speed = min(before.speed, after.speed)
        key = (start, end, speed)
        if key not in self._foldings:
            self._foldings[key] = self._all_servos(start, end, speed)
        if not isfinite(self._foldings[key]):
            raise ComputationFailed(f"the servo stalls between {start:.3g} and {end:.3g} deg")
        return self._foldings[key]

    def _all_servos(self, start: float, end: float, speed: float) -> float:
        craft, actuator = self.book.craft, self.book.craft.actuator
        assert actuator is not None
        air = self.book.air
        density = SEA_LEVEL_DENSITY if air is None else air.density_kg_m3
        if self._folding_craft is None:
            self._folding_craft = FoldingCraft(craft, self.book.grid or POWER_GRID, sections=False)
        loaded = None
        if speed > 0.0:
            loaded = folding_between(self._folding_craft, actuator, speed, density, start, end)
        if loaded is not None:
            return 2.0 * loaded["greatest_friction"].energy
        # Below the speeds at which the wings carry the craft the air's moment is left out.
        ends = float(np.radians(start)), float(np.radians(end))
        return self.servos * folding(actuator, *ends, np.zeros_like, max(actuator.friction)).energy
