"""Typed results of a study of lateral stability; field names are the keys of its JSON."""

from collections.abc import Mapping
from dataclasses import dataclass
from math import nan
from typing import Any, Literal, TypedDict

from vlm.constants import Floats
from vlm.findings import Finding
from vlm.plain import as_document
from vlm.study.level_flights import LevelDocument
from vlm.study.point.document import ReferenceDocument
from vlm.study.point.slipstream import SlipstreamRow


@dataclass(frozen=True)
class Derivatives:
    """Lateral derivatives at one angle of attack, about the moment point [1 per rad].

    Attributes
    ----------
    errors : half-width of the lattice's error, by name
    spread : half-width of what the model leaves open (the wake's direction; at a joined box, a
        slit), by name
    dihedral_effect : "stable", "unstable" or "sign not known"
    weathercock : the same for Cn_beta
    body_turns_yaw_m3 : least volume of a round body, left out here, that may turn a stable Cn_beta
    """

    alpha_deg: float | None = None
    CL: float | None = None
    body: Mapping[str, float] | None = None
    stability: Mapping[str, float] | None = None
    errors: Mapping[str, float] | None = None
    spread: Mapping[str, float] | None = None
    dihedral_effect: str | None = None
    weathercock: str | None = None
    body_turns_yaw_m3: float | None = None
    stall_margin_deg: float | None = None
    modelling: str | None = None
    reason: str | None = None

    def half_width(self, name: str) -> float:
        """Error and spread together [1 per rad]; NaN where no error was worked out."""
        assert self.errors is not None and self.spread is not None
        return self.errors.get(name, nan) + self.spread.get(name, 0.0)


@dataclass(frozen=True)
class FoldRow:
    """Derivatives at one fold: at the angles of attack asked for, and in level flight."""

    fold_deg: float
    joined: bool | None = None
    alphas: tuple[Derivatives, ...] | None = None
    level: Derivatives | None = None
    reason: str | None = None


NOT_KNOWN = "not known"


@dataclass(frozen=True)
class NeutralFoldRow:
    """A fold without dihedral effect in level flight.

    ``half_width_deg`` is the lattice's error and what the model leaves open together; ``stable`` is
    the side, "above" or "below", or :data:`NOT_KNOWN` where the sign beside the root is not known.
    """

    fold_deg: float
    half_width_deg: float
    interval_deg: tuple[float, float]
    lattice_half_width_deg: float
    wake_turn_moves_by_deg: float
    slope_per_rad_per_deg: float
    alpha_deg: float
    stable: str
    warnings: tuple[str, ...]


@dataclass(frozen=True)
class SharesRow:
    """Parts of Cl_beta at one fold in level flight [1 per rad]."""

    fold_deg: float
    alpha_deg: float | None = None
    total: float | None = None
    fixed_wings: float | None = None
    tips: float | None = None
    lift: float | None = None
    height: float | None = None
    sections: float | None = None
    drag_areas: float | None = None
    rotors: float | None = None
    wake_turn: float | None = None
    reason: str | None = None


@dataclass(frozen=True)
class ModeRow:
    """One mode; ``growth`` is "decays", "grows" or "sign not known" by ``real_half_width_1_s``."""

    name: str
    real_1_s: float
    imaginary_1_s: float
    real_half_width_1_s: float
    growth: str
    participation: Mapping[str, float]
    frequency_rad_s: float | None
    damping_ratio: float | None
    period_s: float | None
    half_time_s: float | None
    double_time_s: float | None


@dataclass(frozen=True)
class ModeBlock:
    """State matrix and modes of one block of motions."""

    states: tuple[str, ...]
    matrix: Floats
    modes: tuple[ModeRow, ...]


Motions = Literal["lateral", "longitudinal"]


@dataclass(frozen=True)
class SettingModes:
    """Level flight, matrices and modes at one setting and airspeed, or why there are none."""

    fold_left_deg: float
    fold_right_deg: float
    airspeed_m_s: float
    name: str | None = None
    flight: LevelDocument | None = None
    longitudinal: ModeBlock | None = None
    lateral: ModeBlock | None = None
    coupled: ModeBlock | None = None
    reason: str | None = None

    def modes(self, motions: Motions) -> tuple[ModeRow, ...]:
        """Modes of one kind of motions; of a row that has no reason."""
        block = self.lateral if motions == "lateral" else self.longitudinal
        assert block is not None
        return block.modes


@dataclass(frozen=True)
class Aid:
    """Least damping for each stiffness about one axis, and the least of both in words.

    Attributes
    ----------
    needed : whether a mode does not meet the criteria without control; null where its ± leaves
        that open
    set_by : the modes that do not meet the criteria without control
    grows : slow modes that grow within the criteria, which speed control must hold
    """

    stiffness_N_m_rad: Floats
    damping_N_m_s: Floats
    needed: bool | None
    set_by: tuple[str, ...]
    grows: tuple[str, ...]
    least_stiffness_N_m_rad: float | None
    with_damping_N_m_s: float | None
    moment_at_5_deg_N_m: float | None
    words: str


@dataclass(frozen=True)
class TrimRow:
    """The trimmed state at one level of modelling."""

    modelling: str
    alpha_deg: float
    thrust_N: float
    shaft_power_W: float | None
    pitching_moment_held_N_m: float
    stall_margin_deg: float


@dataclass(frozen=True)
class RotorsCan:
    """Moments that the rotors can add to the full trim, either way, thrust held [N m].

    Attributes
    ----------
    half_widths_N_m : of each, by its name without the unit, by what the file states of the power
        that rotors need; empty where it states nothing
    """

    thrust_N: float
    roll_N_m: float
    pitch_N_m: float
    yaw_N_m: float
    pitch_up_N_m: float
    pitch_down_N_m: float
    stopped_by: Mapping[str, str]
    half_widths_N_m: Mapping[str, float]


@dataclass(frozen=True)
class AidRow:
    """What control must add at one fold, and what the rotors can."""

    fold_deg: float
    own_yaw_stiffness_N_m_rad: float | None = None
    own_yaw_damping_N_m_s: float | None = None
    own_pitch_stiffness_N_m_rad: float | None = None
    own_pitch_damping_N_m_s: float | None = None
    yaw: Aid | None = None
    pitch: Aid | None = None
    pitch_fast_roots: Aid | None = None
    pitching_with_speed_N_m_s_m: float | None = None
    trim_pitching_moment_N_m: float | None = None
    trims: tuple[TrimRow, ...] | None = None
    rotors_can: RotorsCan | None = None
    reason: str | None = None


class LateralState(TypedDict):
    """Airspeed, density, and the angles of attack asked for."""

    airspeed_m_s: float
    density_kg_m3: float
    alphas_deg: list[float]


@dataclass(frozen=True)
class LateralStudy:
    """Everything about lateral stability against fold."""

    title: str
    state: LateralState
    modelling: str
    reference: ReferenceDocument
    folds: tuple[FoldRow, ...]
    neutral_folds: tuple[NeutralFoldRow, ...]
    shares: tuple[SharesRow, ...]
    modes: tuple[SettingModes, ...]
    unlike_folds: tuple[SettingModes, ...]
    rotors_must_add: tuple[AidRow, ...]
    slipstream: SlipstreamRow | None
    assumptions: tuple[str, ...]
    findings: tuple[Finding, ...]

    @property
    def level_flights(self) -> "list[tuple[FoldRow, Derivatives, Mapping[str, float]]]":
        """Rows in which the craft flies level: each with that, and its derivatives in body axes."""
        return [
            (row, row.level, row.level.body)
            for row in self.folds
            if row.level is not None and row.level.body is not None
        ]

    @property
    def known_modes(self) -> "list[SettingModes]":
        """Rows that have modes."""
        return [row for row in self.modes if row.reason is None]

    @property
    def asked_modes(self) -> "list[SettingModes]":
        """Rows that have modes, at the airspeed nearest to the study's of those that have any."""
        known, asked = self.known_modes, float(self.state["airspeed_m_s"])
        near = min((row.airspeed_m_s for row in known), key=lambda v: abs(v - asked), default=asked)
        return [row for row in known if row.airspeed_m_s == near]

    def document(self) -> Any:
        """The study as plain values for JSON."""
        plain = as_document(self)
        for row in plain["rotors_must_add"]:
            # A row that can be flown says so with null where there are no rotors.
            if "reason" not in row:
                row.setdefault("rotors_can", None)
        return plain
