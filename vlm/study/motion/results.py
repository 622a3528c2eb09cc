"""Typed results of a motion in time; field names are the keys of its JSON."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, TypedDict

from vlm.constants import Floats
from vlm.findings import Finding
from vlm.plain import as_document
from vlm.sides import Side


@dataclass(frozen=True)
class SideRow:
    """What one side's tips did.

    Attributes
    ----------
    side : of the craft
    commanded_by : "command", "schedule" or "nothing"
    start_deg, commanded_deg, end_deg : fold at the start, last commanded, and at the end [deg]
    time_s, time_half_width_s : from the command until the worm stays within a degree of its target
        and a tenth of the way there, and the half-width of its error; None where it does not, or
        no error was worked out [s]
    jammed_at_s, let_go_at_s : when; None where it did not happen [s]
    peak_rate_deg_s : largest folding speed [deg/s]
    """

    side: Side
    commanded_by: str
    start_deg: float
    commanded_deg: float
    end_deg: float
    time_s: float | None
    time_half_width_s: float | None
    jammed_at_s: float | None
    let_go_at_s: float | None
    peak_rate_deg_s: float


@dataclass(frozen=True)
class PeakRow:
    """An extreme of a history.

    Attributes
    ----------
    name : of the quantity, a key of the history
    value : with its sign
    half_width : of the extreme on its side, and of its size, by lattice and model, from the same
        scenario flown again; NaN without, and where one of those flights, or this, is cut off
        before the extreme or goes quite another way
    unit : of both
    at_s : when [s]
    """

    name: str
    value: float
    half_width: float
    unit: str
    at_s: float


@dataclass(frozen=True)
class LimitRow:
    """A limit and how near the motion comes to it.

    Attributes
    ----------
    name : what is limited
    value, half_width : the worst value, and the half-width of its error
    limit : [unit]
    unit : of all three
    at_s : when it is worst [s]
    kept : True or False where the error leaves it sure, None where it does not or is not known
    """

    name: str
    value: float
    half_width: float
    limit: float
    unit: str
    at_s: float
    kept: bool | None


@dataclass(frozen=True)
class StartRow:
    """The steady flight it starts from.

    Attributes
    ----------
    alpha_deg, bank_deg : angle of attack, lean [deg]
    thrust_N : of all rotors [N]
    thrusts_N : by rotor; empty without rotors [N]
    held_moment_N_m : what the rotors' layout cannot hold and is held by other means, body axes
    stall_margin_deg : in the strip nearest to stall; infinite without sections [deg]
    """

    alpha_deg: float
    bank_deg: float
    thrust_N: float
    thrusts_N: Mapping[str, float]
    held_moment_N_m: tuple[float, float, float]
    stall_margin_deg: float


@dataclass(frozen=True)
class BodyShape:
    """One body for a picture, geometry axes from the moment point, tips flat.

    Attributes
    ----------
    name : "fixed", "upper_left", ...
    side : None for the fixed body
    linkage : turn per unit of its side's fold [1]
    point, axis : of its hinge; zero for the fixed body
    panels : outlines, shape (4, 3) each [m]
    """

    name: str
    side: Side | None
    linkage: float
    point: Floats
    axis: Floats
    panels: tuple[Floats, ...]


class MotionState(TypedDict):
    """What is flown.

    Attributes
    ----------
    fold_left_deg, fold_right_deg : at the start [deg]
    command_at_s : when the tips are commanded [s]
    happens : keys of the scenario, as in the block [motion]
    """

    airspeed_m_s: float
    density_kg_m3: float
    duration_s: float
    fold_left_deg: float
    fold_right_deg: float
    command_at_s: float
    happens: dict[str, Any]


class LagDocument(TypedDict):
    """The lag of lift: shares that come late, and how fast they come.

    Attributes
    ----------
    shares : of the lift [1]
    rates_per_half_chord : for each half chord flown [1]
    misfit : of the law to the unsteady lattice [1]
    """

    shares: list[float]
    rates_per_half_chord: list[float]
    misfit: float
    mean_lag_s: float


class MotionModelling(TypedDict):
    """How the motion is modelled.

    Attributes
    ----------
    sections : whether the file's sections are used
    slipstream : whether the rotors blow over the wings
    apparent_mass : whether the air that the craft sets in motion counts
    rotors_answer : whether thrust answers the air along the rotors' axes
    gyroscopic : whether any rotor's inertia is known, so that its gyroscopic moments act
    lag : null where the loads do not lag
    friction : "highest" or "lowest" of the worm
    friction_coefficient : that [1]
    law : whether the law flies the craft
    solved_folds_deg : folds of the air's table, port and starboard [deg]
    """

    sections: bool
    slipstream: bool
    apparent_mass: bool
    rotors_answer: bool
    gyroscopic: bool
    lag: LagDocument | None
    friction: str
    friction_coefficient: float | None
    law: bool
    rows: int
    strips: int
    solved_folds_deg: list[list[float]]


@dataclass(frozen=True)
class MotionStudy:
    """What ``motion`` answers.

    Attributes
    ----------
    within_limits : True or False where it is sure, None where a limit's error leaves it open
    cut_off, cut_off_at_s : why and when the history ends early; empty and None where it does not
    known_until_s : when the first of the flights is cut off, this one or one within its errors;
        no ± holds beyond; None where all run through [s]
    bank_end_deg, height_end_m : at the end of the history, with the half-widths of their errors;
        these are NaN where none was worked out [deg], [m]
    table_miss : of the air's table at a setting between its points: force over force, moments
        over force times chord [1]
    history : arrays by name, "time_s" among them
    """

    title: str
    scenario: str
    state: MotionState
    modelling: MotionModelling
    start: StartRow
    sides: tuple[SideRow, ...]
    peaks: tuple[PeakRow, ...]
    limits: tuple[LimitRow, ...]
    within_limits: bool | None
    bank_end_deg: float
    bank_end_half_width_deg: float
    height_end_m: float
    height_end_half_width_m: float
    rotors_limited_s: float
    cut_off: str
    cut_off_at_s: float | None
    known_until_s: float | None
    table_miss: Mapping[str, float]
    history: Mapping[str, Floats]
    assumptions: tuple[str, ...]
    findings: tuple[Finding, ...]
    _shape: tuple[BodyShape, ...] = field(default=(), repr=False)
    _widths: Mapping[str, Floats] = field(default_factory=dict, repr=False)

    @property
    def shape(self) -> tuple[BodyShape, ...]:
        """The craft's bodies, tips flat, for a picture."""
        return self._shape

    @property
    def widths(self) -> Mapping[str, Floats]:
        """Half-widths of the histories at each instant, by name; empty where none was worked out.

        NaN from where the scenario, flown again within its errors, is cut off.
        """
        return self._widths

    def document(self) -> dict[str, Any]:
        """As JSON takes it."""
        found: dict[str, Any] = as_document(self)
        return found

    def peak(self, name: str) -> PeakRow:
        """A row of :attr:`peaks` by its name.

        Raises
        ------
        KeyError : there is none
        """
        for row in self.peaks:
            if row.name == name:
                return row
        raise KeyError(name)
