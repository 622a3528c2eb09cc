"""Typed results of a study of rolling by folding; field names are the keys of its JSON."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Annotated, Any, TypedDict

from vlm.constants import Floats
from vlm.findings import Finding
from vlm.flight.motion.roll_command import RollCommand
from vlm.flight.motion.roll_contest import Contest
from vlm.plain import Shown, as_document
from vlm.sides import Side
from vlm.study.level_flights import LevelDocument
from vlm.study.point.document import ReferenceDocument
from vlm.study.point.slipstream import SlipstreamRow

OTHER_WAY = {"to port": "to starboard", "to starboard": "to port"}


@dataclass(frozen=True)
class Known:
    """A number with what is known about its error.

    Attributes
    ----------
    value : the number
    error : half-width of the lattice's error; NaN where there is no coarser lattice
    spread : half-width of what the model leaves open (the wake's direction); NaN where not known
    """

    value: float
    error: float
    spread: float

    @property
    def half_width(self) -> float:
        """Both together: the one ± that is printed."""
        return self.error + self.spread


@dataclass(frozen=True)
class PairRow:
    """A pair of folds in level flight; see :data:`vlm.flight.motion.roll_authority.FIELDS`.

    Attributes
    ----------
    travel_deg : furthest swing of a tip from the base
    rolling, yawing : moments about and across the direction of flight, with their errors [N m]
    sense : "to starboard", "to port" or "sign not known", of the rolling moment
    yaw : "adverse" (nose away from the roll), "proverse" or "sign not known"
    """

    left_deg: float
    right_deg: float
    travel_deg: float
    rolling: Known
    yawing: Known
    sense: str
    yaw: str
    values: Mapping[str, float]

    @property
    def roll_rate(self) -> tuple[float, float]:
        """Steady roll rate and the half-width of its error [deg/s]."""
        return self.values["roll_rate_deg_s"], self.values["roll_rate_half_width_deg_s"]


@dataclass(frozen=True)
class FoldPair:
    """Folds of port and starboard."""

    left_deg: float
    right_deg: float


@dataclass(frozen=True)
class Authority:
    """One command at one airspeed, lift held."""

    rolling_moment_N_m: float
    half_width_N_m: float
    sense: str
    yawing_moment_N_m: float
    yawing_half_width_N_m: float
    yaw: str
    Cl: float
    roll_rate_deg_s: float
    roll_rate_half_width_deg_s: float
    stall_margin_deg: float


@dataclass(frozen=True)
class AirspeedRow:
    """Authority at one airspeed; None for a command that cannot be built or flown there.

    Attributes
    ----------
    not_flown : why a command has none, by its key
    """

    airspeed_m_s: float
    alpha_deg: float | None = None
    strongest: Authority | None = None
    both_apart_20_deg: Authority | None = None
    port_down_20_deg: Authority | None = None
    reason: str | None = None
    not_flown: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class Reversal:
    """An airspeed at which a command's rolling moment changes its sign.

    Attributes
    ----------
    half_width_m_s : of its error: that of the moment over its slope, no more than to the airspeeds
        of the table on either side, at which the sign is known
    """

    command: str
    airspeed_m_s: float
    half_width_m_s: float
    below: str
    above: str


@dataclass(frozen=True)
class Equal:
    """An airspeed at which tips and rotors roll alike.

    Attributes
    ----------
    airspeed_m_s : as solved; None where one of them has no value on the way to it
    above_m_s, below_m_s : it is surely above and below these, airspeeds of the table at which the
        stronger is known; None where it is known at none on that side
    """

    airspeed_m_s: float | None
    above_m_s: float | None
    below_m_s: float | None


@dataclass(frozen=True)
class Rotors:
    """Tips against rotors from hover to the fastest airspeed.

    Attributes
    ----------
    words : who is the stronger at which airspeeds, where the tips' error leaves no doubt
    """

    modelling: str
    left_deg: float | None = None
    right_deg: float | None = None
    equal: tuple[Equal, ...] | None = None
    words: str | None = None
    airspeeds: tuple[Contest, ...] | None = None
    reason: str | None = None


@dataclass(frozen=True)
class HistoryRow:
    """Bank against time with one way of holding yaw.

    Attributes
    ----------
    commanded : way of the rolling moment with the tips at their ends, lift held, no sideslip
    ends : way of the bank at the last instant
    reverses : whether it ends the other way than commanded
    reversed_at_s : when the bank last passes zero into the other way
    time_to_s : until the bank reaches 30, 45, 60 degrees the way commanded
    first_the_wrong_way_deg : furthest bank the other way before it goes as commanded
    cut_off : why it ends early, empty where it does not
    departs : whether it ends because the sideslip leaves what the equations hold for; then no
        peak is one
    loads_hold : whether the tables of its loads hold in its sideslip, see
        :func:`vlm.study.point.fin_validity.sideslip_findings`; where they do not, how it ends is
        not known
    rotors_decide : whether it ends otherwise within what is open in the rotors' own answer to the
        air; then how it ends is not known
    """

    name: str
    time_s: Floats
    bank_deg: Floats
    roll_rate_deg_s: Floats
    yaw_rate_deg_s: Floats
    sideslip_deg: Floats
    fold_left_deg: Floats
    fold_right_deg: Floats
    yaw_moment_N_m: Floats
    commanded: str
    ends: str
    reverses: bool
    reversed_at_s: float | None
    time_to_s: Mapping[str, float | None]
    first_the_wrong_way_deg: float
    peak_roll_rate_deg_s: float
    peak_sideslip_deg: float
    peak_stalled_share: float
    cut_off: str
    cut_off_at_s: float | None
    departs: bool
    loads_hold: bool
    rotors_decide: bool

    @property
    def end_is_known(self) -> bool:
        """Whether its end may be reported."""
        return self.loads_hold and not self.rotors_decide


@dataclass(frozen=True)
class YawAidRow:
    """What the rotors add in yaw in the aided history, and what they can at most."""

    stiffness_N_m_rad: float
    damping_N_m_s: float
    lowest_N_m: float | None
    highest_N_m: float | None


@dataclass(frozen=True)
class BankHistory:
    """A command flown, or the reason why there is none."""

    from_deg: float | None = None
    left_deg: float | None = None
    right_deg: float | None = None
    duration_s: float | None = None
    folding_time_s: float | None = None
    stops_s: Mapping[Side, float] | None = None
    mean_fold_speed_deg_s: float | None = None
    steady_roll_rate_deg_s: float | None = None
    yaw_aid: YawAidRow | None = None
    histories: tuple[HistoryRow, ...] | None = None
    reason: str | None = None


class RollState(TypedDict):
    """Flight state and base fold."""

    airspeed_m_s: float
    density_kg_m3: float
    base_fold_deg: float


class MapFailure(TypedDict):
    """A pair of folds without numbers, and why."""

    left_deg: float
    right_deg: float
    reason: str


class RollNumbers(TypedDict):
    """Numbers of one pair of folds, lift held."""

    alpha_deg: float
    rolling_moment_N_m: float
    yawing_moment_N_m: float
    pitching_moment_N_m: float
    Cl: float
    Cn: float
    Cm: float
    rolling_moment_body_N_m: float
    yawing_moment_body_N_m: float
    lift_change_N: float
    roll_rate_deg_s: float
    roll_acceleration_deg_s2: float
    stall_margin_deg: float


class PairDocument(RollNumbers):
    """A pair of folds in level flight: its row with values and errors side by side."""

    left_deg: float
    right_deg: float
    travel_deg: float
    sense: str
    yaw: str
    roll_rate_half_width_deg_s: float
    rolling_moment_error_N_m: float
    rolling_moment_spread_N_m: float
    yawing_moment_error_N_m: float
    yawing_moment_spread_N_m: float


class RollMapDocument(TypedDict):
    """Numbers over folds, and whether a tip's end is joined to a wing: rows are port folds,
    columns starboard folds."""

    left_deg: list[float]
    right_deg: list[float]
    alpha_deg: Floats
    rolling_moment_N_m: Floats
    yawing_moment_N_m: Floats
    pitching_moment_N_m: Floats
    Cl: Floats
    Cn: Floats
    Cm: Floats
    rolling_moment_body_N_m: Floats
    yawing_moment_body_N_m: Floats
    lift_change_N: Floats
    roll_rate_deg_s: Floats
    roll_acceleration_deg_s2: Floats
    stall_margin_deg: Floats
    joined: list[list[bool]]
    failures: list[MapFailure]


@dataclass(frozen=True)
class RollStudy:
    """Everything about rolling by folding.

    Attributes
    ----------
    strongest_not_known_apart : pairs of the map whose rolling moment differs from the strongest
        one's by no more than the half-widths of both
    """

    title: str
    state: RollState
    modelling: str
    reference: ReferenceDocument
    base: LevelDocument
    map: RollMapDocument
    strongest: Annotated[PairRow | None, Shown(PairDocument | None)]
    strongest_not_known_apart: tuple[FoldPair, ...]
    pure_roll_pairs: Annotated[tuple[PairRow, ...], Shown(list[PairDocument])]
    least_yaw_pairs: Annotated[tuple[PairRow, ...], Shown(list[PairDocument])]
    commands: tuple[RollCommand, ...]
    airspeeds: tuple[AirspeedRow, ...]
    reversals: tuple[Reversal, ...]
    rotors: Rotors | None
    bank_history: BankHistory
    slipstream: SlipstreamRow | None
    assumptions: tuple[str, ...]
    findings: tuple[Finding, ...]

    def document(self) -> Any:
        """The study as plain values for JSON."""
        pairs = ("strongest", "pure_roll_pairs", "least_yaw_pairs")
        plain = as_document(self)
        for name in pairs:
            found = plain[name]
            rows = found if isinstance(found, list) else [found]
            flat = [None if row is None else _flat_pair(row) for row in rows]
            plain[name] = flat if isinstance(found, list) else flat[0]
        return plain


def _flat_pair(row: dict[str, Any]) -> dict[str, Any]:
    """A pair with its values and errors side by side."""
    flat = {k: v for k, v in row.items() if k not in ("values", "rolling", "yawing")}
    flat |= row["values"]
    for name in ("rolling", "yawing"):
        flat[f"{name}_moment_error_N_m"] = row[name]["error"]
        flat[f"{name}_moment_spread_N_m"] = row[name]["spread"]
    return flat
