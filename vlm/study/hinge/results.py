"""Plan and typed results of a study of hinges, gear, servo and wings.

Field names of the results are the keys of its JSON.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from math import isfinite
from typing import Any, TypedDict

import numpy as np

from vlm.constants import Floats
from vlm.findings import Finding
from vlm.flight.craft.level import STEEPEST_RAD
from vlm.flight.craft.sudden_gust import eased_half_width
from vlm.flight.mechanism.wing_bending import HalfWing
from vlm.flight.mechanism.worm import WormState
from vlm.flight.motion.roll_authority import Air
from vlm.lattice.cellule import Grid
from vlm.plain import as_document
from vlm.study.point.document import ReferenceDocument
from vlm.study.point.slipstream import SlipstreamRow, Thrust


@dataclass(frozen=True)
class HingePlan:
    """What ``hinge`` is asked for.

    Attributes
    ----------
    air : airspeed and density of the main tables
    folds_deg : symmetric folds [deg]
    airspeeds : of the moment table [m/s]
    load_factors : of the moment table [1]; 1 and the file's limit where empty
    gust_speed : of a sudden upward gust whose load factor and moments are wanted; None for none
        [m/s]
    grid : the lattice
    thrust : whose slipstream blows over the wings
    """

    air: Air
    folds_deg: tuple[float, ...]
    airspeeds: tuple[float, ...] = ()
    load_factors: tuple[float, ...] = ()
    gust_speed: float | None = None
    grid: Grid = field(default_factory=Grid)
    thrust: Thrust = None


class HingeState(TypedDict):
    """Flight state, and the limits of the file."""

    airspeed_m_s: float
    density_kg_m3: float
    load_factor_limit: float
    design_roll_rate_deg_s: float


@dataclass(frozen=True)
class WormCurve:
    """Both efficiencies over the coefficient of friction [1]."""

    friction: Floats
    forward_efficiency: Floats
    back_efficiency: Floats


@dataclass(frozen=True)
class Worm:
    """The worm gear, dry and greased; ``lubrication`` is that of the file.

    Attributes
    ----------
    ratio : turns of the worm for one of the tip [1]
    """

    ratio: float
    lubrication: str
    dry: WormState
    greased: WormState
    curve: WormCurve
    caution: str

    @property
    def as_flown(self) -> WormState:
        """The gear as the file lubricates it."""
        return self.dry if self.lubrication == "dry" else self.greased


@dataclass(frozen=True)
class HingeParts:
    """Largest moment about one hinge on the way to a load factor, by part, and its half-width.

    Positive raises the tip. The half-width is null where the lattice is too coarse for it to be
    known. Swing: beyond the steady moment where that is there at once, in a sudden gust; undamped.
    The worst has it in it.

    Attributes
    ----------
    load_factor : at which the worst moment is largest [1]
    least_N_m : what the largest is at least, without a swing, which is an upper bound; null where
        that is not known [N m]
    """

    load_factor: float
    air_N_m: float
    weight_N_m: float
    pull_up_N_m: float
    roll_air_N_m: float
    roll_rate_N_m: float
    roll_acceleration_N_m: float
    steady_N_m: float
    swing_N_m: float
    worst_N_m: float
    half_width_N_m: float | None
    least_N_m: float | None = None

    @property
    def reach_N_m(self) -> float:
        """The largest that the worst moment may be: with its half-width where that is known."""
        width = self.half_width_N_m
        return abs(self.worst_N_m) + (width if width is not None and isfinite(width) else 0.0)


@dataclass(frozen=True)
class ServoTorques:
    """Largest moment on one servo, and the most torque that any needs to raise, lower and hold."""

    moment_N_m: float
    raising_N_m: float
    lowering_N_m: float
    holding_N_m: float


@dataclass(frozen=True)
class MomentRow:
    """Moments about the hinges at one fold and airspeed, the largest up to a load factor.

    Attributes
    ----------
    reached_load_factor : less than asked for where the wings stall first [1]
    stall_margin_deg, alpha_deg : at the load factor reached [deg]
    hinges : by name, each where its moment is largest on the way from level flight
    servo : the most of any
    share_of_stall : its torque over its stall torque [1]
    share_of_hinge_limit : largest moment over the limit of the file; null without one [1]
    """

    fold_deg: float
    airspeed_m_s: float
    load_factor: float
    reached_load_factor: float | None = None
    stall_margin_deg: float | None = None
    most_loaded_hinge: str | None = None
    alpha_deg: float | None = None
    hinges: Mapping[str, HingeParts] | None = None
    servo: ServoTorques | None = None
    share_of_stall: float | None = None
    share_of_hinge_limit: float | None = None
    reason: str | None = None

    def hinge(self, name: str | None = None) -> HingeParts:
        """Moment about one hinge, by default the most loaded; of a row that has no reason."""
        assert self.hinges is not None and self.most_loaded_hinge is not None
        return self.hinges[name or self.most_loaded_hinge]


@dataclass(frozen=True)
class AskedGust:
    """What the sudden upward gust asked for does at one fold and airspeed.

    Attributes
    ----------
    alpha_deg : angle of attack in the gust [deg]
    load_factor : the highest on the way to the gust's speed, up to 25 deg of angle of attack [1]
    load_factor_half_width : null where it is not known [1]
    moments : about the hinges where they are largest, on the way to the gust's speed
    """

    gust_m_s: float
    alpha_deg: float
    load_factor: float | None = None
    load_factor_half_width: float | None = None
    moments: MomentRow | None = None

    @property
    def reach(self) -> float:
        """The highest that the load factor may be, its half-width counted where it is known [1]."""
        return (self.load_factor or 0.0) + (self.load_factor_half_width or 0.0)


@dataclass(frozen=True)
class GustRow:
    """The least sudden upward gust, over the whole craft at once, to the load factor of the file.

    Attributes
    ----------
    load_factor : of the file [1]
    gust_m_s : null where no gust reaches it, as the wings stall first, or up to 25 deg of angle of
        attack where the file names no sections [m/s]
    half_width_m_s : of it, and of the eased one; null where it is not known, as where past stall no
        gust surely reaches the load factor [m/s]
    least_m_s : past stall, the least gust that may reach it; null where that is the gust less its
        half-width, and where none may [m/s]
    eased_m_s : the gust that does the same where it builds up over 12.5 chords [m/s]
    highest_load_factor : of any gust, where none reaches it [1]
    asked : null where no gust was asked for
    """

    fold_deg: float
    airspeed_m_s: float
    load_factor: float
    gust_m_s: float | None = None
    half_width_m_s: float | None = None
    eased_m_s: float | None = None
    eased_half_width_m_s: float | None = None
    least_m_s: float | None = None
    highest_load_factor: float | None = None
    asked: AskedGust | None = None
    reason: str | None = None

    @property
    def low_end_m_s(self) -> float | None:
        """The least that the sudden gust may be; None where none may reach it [m/s]."""
        if self.least_m_s is not None or self.gust_m_s is None:
            return self.least_m_s
        return self.gust_m_s - (self.half_width_m_s or 0.0)

    @property
    def eased_low_end_m_s(self) -> float | None:
        """The least that the eased gust may be; None where no gust reaches it [m/s]."""
        if self.eased_m_s is None:
            return None
        if self.least_m_s is None or self.gust_m_s is None:
            return self.eased_m_s - (self.eased_half_width_m_s or 0.0)
        return self.eased_m_s - eased_half_width(self.eased_m_s, self.gust_m_s - self.least_m_s)


def moments_in_gusts(rows: Sequence[GustRow]) -> list[MomentRow]:
    """Moments in the gust asked for; empty where none was."""
    asked = [row.asked.moments for row in rows if row.asked is not None]
    return [row for row in asked if row is not None]


@dataclass(frozen=True)
class MomentError:
    """Error of the air's moment in level flight, about the most loaded hinge."""

    fold_deg: float
    hinge: str
    air_N_m: float
    half_width_N_m: float | None


@dataclass(frozen=True)
class Stop:
    """Moment about the worst hinge when the worm stops the tip.

    Attributes
    ----------
    shock_N_m, peak_N_m : of the stop alone, and with the steady moment
    half_width_N_m : of the steady moment's error; null where it is not known
    share_of_hinge_limit : of the peak with that, where it is known; null without a limit [1]
    """

    hinge: str
    tip_speed_deg_s: float
    steady_N_m: float
    shock_N_m: float
    peak_N_m: float
    half_width_N_m: float | None
    share_of_hinge_limit: float | None


@dataclass(frozen=True)
class FoldingRow:
    """Folding with one friction of the worm.

    Attributes
    ----------
    time_s, end_speed_deg_s : of the servo that arrives last, or stalls
    work_on_tips_J : done on all of them against air and weight [J]
    stalls_at_deg : fold at which the servo stalls; null where it does not [deg]
    """

    time_s: float
    energy_all_servos_J: float
    work_on_tips_J: float
    peak_torque_N_m: float
    end_speed_deg_s: float
    stalls_at_deg: float | None


TO_LIMIT = " deg to the limit"
"""End of the names of moves that are not between configurations."""


@dataclass(frozen=True)
class MoveRow:
    """Folding from one fold to another.

    Attributes
    ----------
    servos : that move the tips
    inertia_on_servo_kg_m2 : of the one that arrives last
    damping_on_servo_N_m_s : of the air, at both ends
    stop : null without a stiffness of the hinge
    """

    name: str
    from_deg: float
    to_deg: float
    servos: int | None = None
    inertia_on_servo_kg_m2: float | None = None
    damping_on_servo_N_m_s: tuple[float, ...] | None = None
    starting_torque_N_m: float | None = None
    stop: Stop | None = None
    least_friction: FoldingRow | None = None
    greatest_friction: FoldingRow | None = None
    reason: str | None = None


@dataclass(frozen=True)
class LimitSpeed:
    """Highest airspeed at which something holds.

    Attributes
    ----------
    airspeed_m_s : null where it holds up to the airspeed searched [m/s]
    half_width_m_s : of its error; null where that is not known [m/s]
    fold_deg : at which it ends [deg]
    fails_already : whether it does not hold at the lowest airspeed searched
    not_known_m_s : lowest and highest airspeed up to there at which the ± of the moment leaves open
        whether it holds; null where none does [m/s]
    """

    airspeed_m_s: float | None
    half_width_m_s: float | None
    searched_to_m_s: float
    fold_deg: float | None
    fails_already: bool
    not_known_m_s: tuple[float, float] | None = None


@dataclass(frozen=True)
class Limits:
    """Highest airspeeds to move a tip, by lubrication, and to hold it.

    Attributes
    ----------
    moment_at_stall_N_m : on the tips of a servo that stalls, by lubrication
    """

    moved: Mapping[str, LimitSpeed]
    held: LimitSpeed
    moment_at_stall_N_m: Mapping[str, float]
    hinge_moment_limit_N_m: float | None
    folds_deg: tuple[float, ...]


@dataclass(frozen=True)
class WingRow:
    """Loads along every half wing at one fold and load factor.

    Attributes
    ----------
    airspeed_m_s : of the study's, from its own on, the one at which a root may bend most, at the
        load factor or the highest reached; a second row has the one at which it surely bends most,
        where that is another [m/s]
    touching : whether tips touch the other wing; closed and open differ
    joined : whether statics leave the loads open: tips touch, or a fin stands on several wings
    fins_left_out : whether fins load the wings too, which is not counted
    share_of_root_limit : of the largest bending moment at a root, its half-width included
    """

    fold_deg: float
    load_factor: float
    airspeed_m_s: float | None = None
    reached_load_factor: float | None = None
    alpha_deg: float | None = None
    touching: bool | None = None
    joined: bool | None = None
    fins_left_out: bool | None = None
    halves: tuple[HalfWing, ...] | None = None
    share_of_root_limit: float | None = None
    reason: str | None = None

    @property
    def most_bent(self) -> HalfWing | None:
        """The half wing whose root may bend most; None without loads."""
        if not self.halves:
            return None
        return max(self.halves, key=lambda half: half.root_bending_reach_N_m)


def stalls_first(row: MomentRow | WingRow) -> bool:
    """Whether the wings stall, or reach 25 deg of angle of attack, below the load factor asked for.

    Which of the two :attr:`HingeStudy.stall_words` says.
    """
    reached = row.reached_load_factor
    return reached is not None and reached < row.load_factor - 1e-9


@dataclass(frozen=True)
class BacklashRow:
    """Roll from free play: port tips at one end of it, starboard tips at the other.

    Attributes
    ----------
    yawing_moment_N_m : that comes with the roll, positive where it is proverse
    """

    fold_deg: float
    rolling_moment_N_m: float | None = None
    yawing_moment_N_m: float | None = None
    roll_rate_deg_s: float | None = None
    Cl: float | None = None
    reason: str | None = None


@dataclass(frozen=True)
class DivergenceRow:
    """Airspeed at which the hinges give way; null where none up to that searched does.

    Attributes
    ----------
    tips_move : "alike" or "apart"
    air_stiffness_N_m_rad : at the airspeed asked for
    """

    fold_deg: float
    airspeed_m_s: float | None = None
    searched_to_m_s: float | None = None
    tips_move: str | None = None
    air_stiffness_N_m_rad: float | None = None
    hinge_stiffness_N_m_rad: float | None = None
    reason: str | None = None


@dataclass(frozen=True)
class HoverRow:
    """Weight of the tips about their hinges, by name, and on one servo, nose straight up."""

    fold_deg: float
    weight_N_m: Mapping[str, float] | None = None
    on_servo_N_m: float | None = None
    reason: str | None = None


HELD, BEYOND = "the rotors hold it", "more than the rotors can"
"""What is said of a moment that rotors surely hold, and of one that they surely do not."""


@dataclass(frozen=True)
class HeldMoment:
    """A moment that must be held, and the most that the rotors can.

    Attributes
    ----------
    rotors_N_m : null where it is not known
    rotors_half_width_N_m : of it, by what the file states of the power that rotors need; null where
        it states nothing
    held : "the rotors hold it", "more than the rotors can", "at limit", "sign not known", or why
        it is not known what they can
    """

    moment_N_m: float
    half_width_N_m: float | None
    rotors_N_m: float | None
    held: str
    rotors_half_width_N_m: float | None = None


@dataclass(frozen=True)
class JammedRow:
    """Port tips jammed at a fold while the starboard ones stand at another.

    Attributes
    ----------
    roll_rate_unheld_deg_s : steady roll rate where nothing holds the roll
    """

    jammed_left_deg: float
    right_deg: float
    alpha_deg: float | None = None
    thrust_N: float | None = None
    stall_margin_deg: float | None = None
    roll_rate_unheld_deg_s: float | None = None
    roll: HeldMoment | None = None
    yaw: HeldMoment | None = None
    reason: str | None = None


@dataclass(frozen=True)
class HingeStudy:
    """What hinge, worm gear, servo and wings must carry."""

    title: str
    state: HingeState
    reference: ReferenceDocument
    worm: Worm
    modelling: str
    moments: tuple[MomentRow, ...]
    moment_errors: tuple[MomentError, ...]
    gusts: tuple[GustRow, ...]
    folding: tuple[MoveRow, ...]
    limits: Limits
    wings: tuple[WingRow, ...]
    backlash: tuple[BacklashRow, ...]
    divergence: tuple[DivergenceRow, ...]
    hover: tuple[HoverRow, ...]
    jammed: tuple[JammedRow, ...]
    slipstream: SlipstreamRow | None
    assumptions: tuple[str, ...]
    findings: tuple[Finding, ...]

    @property
    def stall_words(self) -> str:
        """What ends the load factor: stall; the angle of attack where no stall is known."""
        margins = [row.stall_margin_deg for row in self.known_moments]
        is_known = any(one is not None and isfinite(one) for one in margins)
        return "stall" if is_known else f"{np.degrees(STEEPEST_RAD):.0f} deg"

    @property
    def gust_moments(self) -> list[MomentRow]:
        """Moments in the gust asked for; empty where none was."""
        return moments_in_gusts(self.gusts)

    @property
    def known_moments(self) -> list[MomentRow]:
        """Rows that have moments."""
        return [row for row in self.moments if row.reason is None]

    def document(self) -> dict[str, Any]:
        """The study as plain values for JSON."""
        found: dict[str, Any] = as_document(self)
        return found
